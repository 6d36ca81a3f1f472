"""A radio studio: two hosts at microphones before foam panels, with coloured practical light on the wall."""

from __future__ import annotations

import numpy as np

from demo.generator.mesh import MATTE, METAL, SATIN, Part, box, lathe, placed, tube
from demo.generator.people import Look, Pose
from demo.generator.rooms.common import key_and_fill, shell, stand
from demo.generator.scene import Scene, View
from demo.generator.texture import Paint, fbm, label_word
from demo.generator.things.furniture import leafy_plant, poster, shelf, table
from demo.generator.things.lamps import softbox
from demo.generator.things.materials import canvas_poster, wood
from demo.generator.things.wares import pot
from tests.bench.accuracy.rooms.props import book_row, brick_wall

__all__ = ["build"]

SLEEVES = (
    "paint orange",
    "paint cyan",
    "paint moderate red",
    "paint yellow",
    "paint purple",
    "fabric green",
    "raincoat yellow",
    "paint white 9.5",
    "paint black 2",
    "towel red",
)

LOOKS = (
    Look(
        skin=("skin light 1", 0.85),
        hair=("hair brown", 1.0),
        style="bob",
        top="knit",
        colours=("fabric brown", "fabric dark brown", "yarn yellow"),
        sleeves=0.9,
        lips=0.9,
        eyes=0.8,
        jaw=0.9,
        iris="paint blue",
        height=1.68,
    ),
    Look(
        skin=("skin dark 2", 1.25),
        hair=("hair black", 1.2),
        style="curly",
        top="dots",
        colours=("bandana dark blue", "fabric white", "towel red"),
        sleeves=0.4,
        beard=True,
        height=1.78,
    ),
)


def _microphone(reach: float) -> list[Part]:
    head = np.array([0.0, 0.0, 0.34])
    body = lathe(
        [(0, 0), (0.024, 0), (0.026, 0.05), (0.032, 0.06), (0.033, 0.13), (0.020, 0.155), (0, 0.158)],
        "asphalt",
        finish=METAL,
    )
    ring = lathe([(0.034, 0.055), (0.036, 0.055), (0.036, 0.066), (0.034, 0.066)], "paint red", finish=SATIN)
    parts = placed([body, ring], head, tilt=-70)
    parts.append(
        tube(
            [(reach, 0.1, 0.0), (reach, 0.1, 0.28), (reach * 0.5, 0.05, 0.44), (0, 0.03, 0.36)],
            0.008,
            "paint neutral 3.5",
            finish=METAL,
        )
    )
    parts.append(lathe([(0, 0), (0.06, 0), (0.06, 0.02), (0, 0.02)], "paint black 2"))
    parts[-1] = placed([parts[-1]], (reach, 0.1, 0))[0]
    return parts


def build(
    *,
    seed: int = 0,
    moment: int = 0,
    key: str = "4300K",
    window_light: str = "LED-B3",
    window_power: float = 1.0,
    practical: str = "band 455+0.25*band 640",
    practical_power: float = 9.0,
    rim: str = "3200K",
    looks: tuple[Look, Look] = LOOKS,
    people: bool = True,
    detail: float = 1.0,
) -> Scene:
    """Build the studio; ``practical`` washes part of the brick wall, ``window_light`` is the fill."""
    rng = np.random.default_rng([seed, 3])
    parts: list[Part] = []
    carpet = Paint((512, 512), "suede grey", 0.5).shade(1 + 0.3 * fbm((512, 512), (200, 200), rng, 1))
    parts += shell(brick_wall(rng), carpet, side="paint neutral 3.5")
    # Foam panels: rows of wedges.
    for px, colour, gain in (
        (-2.1, "asphalt", 1.3),
        (-1.5, "fabric dark brown", 0.8),
        (1.35, "asphalt", 1.3),
        (1.95, "paint moderate red", 0.55),
    ):
        for row in range(2):
            for col in range(8):
                x = px - 0.26 + 0.0743 * col
                wedge = box(
                    (0.052, 0.052, 0.58),
                    (0, 0, 0),
                    Paint((64, 64), colour, gain).shade(1 + 0.25 * fbm((64, 64), (40, 40), rng, 1)),
                    texture_size=0.3,
                )
                parts += placed([wedge], (x, 1.69, 1.42 + 0.62 * row), turn=45)
    lit = "LIVE " + label_word(rng)
    sign = Paint((96, 288), "paint moderate red", 0.5).text("paint white 9.5", lit, 0.08, 0.22, 0.84, 0.56, font=0)
    parts.append(box((0.44, 0.05, 0.15), (0.0, 1.67, 2.22), sign, texture_size=None, finish=SATIN))
    walnut = wood(rng, "wood walnut", "wood oak", 1.1)
    heights = (1.18, 1.52, 1.86)
    parts += placed(shelf(1.5, heights, 0.30, walnut, walnut), (-0.05, 1.69, 0))
    for row, z in enumerate(heights[:2]):
        parts += placed(book_row(rng, SLEEVES, 0.62), (-0.42, 1.60, z + 0.012))
        parts += placed(pot(rng, SLEEVES, 0.20, ("vase", "moon")[row]), (0.02, 1.54, z + 0.012))
        parts += placed(book_row(rng, SLEEVES, 0.42), (0.42, 1.60, z + 0.012))
    parts += placed(leafy_plant(rng, SLEEVES, 0.34), (0.52, 1.54, 1.87))
    for k, x in enumerate((-0.55, -0.22, 0.14)):
        sleeve = canvas_poster(rng, SLEEVES[k:], (label_word(rng), f"{label_word(rng)} {label_word(rng)}"))
        parts += placed(
            [box((0.30, 0.008, 0.30), (0, 0, 0.15), sleeve, texture_size=None)], (x, 1.60, 1.875), tilt=-8
        )
    parts += poster(
        canvas_poster(rng, SLEEVES, ("RADIO VESTA", "NIGHTS OF KLIMA")), 0.40, (0.98, 1.68, 1.70), "paint black 2"
    )
    # Desk.
    parts += placed(table(rng, (2.3, 0.80, 0.82), wood(rng, "wood oak", "wood walnut", 0.9)), (0, -0.42, 0))
    z = 0.82
    parts += placed(_microphone(-0.30), (-0.42, -0.34, z + 0.02), turn=8)
    parts += placed(_microphone(0.30), (0.44, -0.34, z + 0.02), turn=-8)
    mixer = Paint((256, 512), "asphalt", 1.2)
    for col in range(16):
        mixer.rectangle("paint neutral 3.5", 0.03 + 0.06 * col, 0.35, 0.008, 0.55)
        mixer.rectangle(SLEEVES[col % 8], 0.02 + 0.06 * col, 0.40 + 0.4 * float(rng.random()), 0.028, 0.06)
        for row in range(3):
            mixer.disc(
                str(rng.choice(["paint red", "paint green", "paint neutral 8", "paint cyan"])),
                0.034 + 0.06 * col,
                0.08 + 0.09 * row,
                0.011,
            )
    parts += placed(
        [box((0.56, 0.30, 0.05), (0, 0, 0.03), mixer, texture_size=None, finish=SATIN)], (0, -0.58, z), tilt=6
    )
    for x, style in ((-0.86, "bands"), (0.80, "dip")):
        parts += placed(pot(rng, SLEEVES, 0.10, "cup", style), (x, -0.58, z))
    for x in (-0.55, 0.60):
        page = Paint((256, 192), "paint white 9.5", 0.85)
        for k in range(12):
            page.text(
                "paint black 2",
                f"{label_word(rng)} {label_word(rng)} {label_word(rng)}",
                0.1,
                0.08 + 0.07 * k,
                float(rng.uniform(0.5, 0.8)),
                0.035,
            )
        parts += placed(
            [box((0.20, 0.27, 0.006), (0, 0, 0.003), page, texture_size=None, finish=MATTE)],
            (x, -0.62, z),
            turn=float(rng.uniform(-15, 15)),
        )
    parts += softbox((0.5, 0.12), (2.3, 1.35, 0.35), (1.7, 1.7, 1.6), practical, practical_power)
    parts += softbox((0.5, 0.12), (-2.4, 1.35, 0.35), (-1.9, 1.7, 1.6), practical, practical_power * 0.5)
    parts += key_and_fill(key, window_light, rim, key_power=17.0, fill_power=1.8 * window_power, rim_power=12.0)
    if people:
        first = Pose(
            right=(-0.18, -0.32, 0.99),
            left=(0.16, -0.36, 1.10),
            curl=(0.3, 0.3),
            palm=(0, 30),
            yaw=2,
            nod=3,
            lean=6,
        )
        second = Pose(
            right=(-0.14, -0.38, 1.14),
            left=(0.18, -0.32, 0.99),
            curl=(0.2, 0.4),
            palm=(40, 0),
            yaw=-2,
            nod=2,
            lean=6,
        )
        parts += stand(
            looks,
            (first, second),
            (((-0.60, 0.10), 34.0), ((0.62, 0.10), -34.0)),
            seed=seed,
            moment=moment,
            detail=detail,
        )
    views = {
        "wide": View(position=(0.1, -3.5, 1.60), target=(0.0, 0.2, 1.28), fov=42.0),
        "left": View(position=(1.10, -2.5, 1.58), target=(-0.60, 0.10, 1.42), fov=19.0),
        "right": View(position=(-1.05, -2.6, 1.60), target=(0.62, 0.10, 1.50), fov=18.0),
    }
    return Scene(name="radio", parts=tuple(parts), ambient=(window_light, 0.06), views=views)
