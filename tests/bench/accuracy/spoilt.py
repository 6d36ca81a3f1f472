"""Cases spoilt by what happens to footage: faults of exposure, lens, sensor, light, file and setup file.

``python -m tests.bench.accuracy.spoilt --cases FOLDER --into OTHER`` writes each case again with one fault in all
its angles; ``python -m tests.bench.accuracy --cases OTHER`` then matches and scores them. The truth's ``shot`` is
spoilt like the picture, so that what is scored is what a colorist would see. Nothing is rendered.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.bench.accuracy import codes
from tests.bench.accuracy.cases import Camera, Case, find_cases

Array = NDArray[np.float64]
#: Of a picture (height, width, 3), scene-linear ACEScg or codes, another one.
Spoil = Callable[[Array], Array]


@dataclass(frozen=True, kw_only=True)
class Fault:
    """What is done to an angle: to its light, to its codes, and to what the setup file says of it."""

    light: Spoil | None = None
    #: Of the picture alone: its light, and then its codes. The truth stays as it is.
    grid: Spoil | None = None
    code: Spoil | None = None
    encoding: str = ""
    range: str = ""
    #: Of the hero's light, what is done to it, and to what it would have recorded from the angle's place.
    hero: Callable[[Array], Spoil] | None = None


def _place(shape: tuple[int, ...]) -> tuple[Array, Array]:
    """Across and down a picture, each from -1 to 1: (1, width, 1) and (height, 1, 1)."""
    return np.linspace(-1, 1, shape[1])[None, :, None], np.linspace(-1, 1, shape[0])[:, None, None]


def _gains(red: float, green: float, blue: float) -> Spoil:
    return lambda light: np.asarray(light * np.array([red, green, blue]), float)


def _haze(share: float) -> Spoil:
    """A veil of a share of the picture's mean light, all over it."""
    return lambda light: (1 - share) * light + share * light.mean((0, 1))


def _veil(light: Array) -> Array:
    """Flare from the left, a third of the mean light there and a fiftieth of it on the right."""
    across, _ = _place(light.shape)
    return np.asarray(light + 0.35 * light.mean((0, 1)) * np.exp(-1.5 * (across + 1)), float)


def _vignetting(light: Array) -> Array:
    """A fall-off of 1.3 stops in the corners."""
    across, down = _place(light.shape)
    return np.asarray(light * (1 - 0.3 * (across**2 + down**2)), float)


def _tint(light: Array) -> Array:
    """From the left edge to the right 0.7 stop of red gained and as much of blue lost."""
    across, _ = _place(light.shape)
    return np.asarray(light * np.exp2(0.35 * across * np.array([1.0, 0.0, -1.0])), float)


def _graduated(light: Array) -> Array:
    """A graduated filter that takes 1.3 stops off at the top and nothing at the bottom."""
    _, down = _place(light.shape)
    return np.asarray(light * np.exp2(-0.65 * (1 - down)), float)


def _flash(light: Array) -> Array:
    """A photographer's flash that a rolling shutter caught in the upper part: 1.5 stops more there."""
    out = light.copy()
    out[: int(0.45 * len(out))] *= 2**1.5
    return out


def _infrared(light: Array) -> Array:
    """What a sensor without a good infrared filter adds behind strong grey ones: dark surfaces turn magenta."""
    return np.asarray(light + 0.03 * light.mean((0, 1)) * np.array([1.3, 0.25, 0.6]), float)


def _two_lamps(light: Array) -> Array:
    """A warm lamp on the left half that the hero does not see."""
    across, _ = _place(light.shape)
    share = 1 / (1 + np.exp(-10 * across))
    return np.asarray(light * (share + (1 - share) * np.array([1.3, 1.0, 0.6])), float)


def _bands(light: Array) -> Array:
    """Bands of 0.3 stop either way, as of lamps that pulse under a rolling shutter."""
    _, down = _place(light.shape)
    return light * np.exp2(0.3 * np.sin(3 * np.pi * down))


def _noise(light: Array) -> Array:
    """Shot noise of 250 electrons at mid-grey, and a read noise of 0.7 % of full white."""
    rng = np.random.default_rng(1)
    return light + rng.normal(size=light.shape) * np.sqrt(np.maximum(light, 0) * 4e-3 + 5e-5)


def _blurred(light: Array, pixels: float) -> Array:
    return np.asarray(cv2.GaussianBlur(light.astype(np.float32), (0, 0), pixels), float)


def _sharpened(light: Array) -> Array:
    return np.maximum(light + 1.5 * (light - _blurred(light, 2.5)), 0)


def _smaller(light: Array) -> Array:
    return np.asarray(cv2.resize(light.astype(np.float32), None, fx=1 / 3, fy=1 / 3, interpolation=cv2.INTER_AREA))


def _middle(light: Array) -> Array:
    height, width = light.shape[:2]
    return light[height // 4 : -(height // 4), width // 4 : -(width // 4)]


def _crowd(light: Array) -> Array:
    """Everything has moved by its own 18 pixels or so, as in a crowd that walks."""
    rng, (height, width) = np.random.default_rng(1), light.shape[:2]
    y, x = np.mgrid[:height, :width].astype(np.float32)
    moves = (cv2.GaussianBlur(rng.normal(size=(height, width)), (0, 0), width / 16) for _ in "xy")
    across, down = (np.asarray(18 * move / move.std(), np.float32) for move in moves)
    return np.asarray(cv2.remap(light.astype(np.float32), x + across, y + down, cv2.INTER_LINEAR), float)


def _fisheye(light: Array) -> Array:
    """The barrel distortion of an action camera, and its sharpening."""
    height, width = light.shape[:2]
    y, x = np.mgrid[:height, :width].astype(np.float32)
    u, v = 2 * x / width - 1, (2 * y - height) / width
    bent = (1 + 0.35 * (u**2 + v**2)) / 1.21
    across, down = (np.asarray(width * bent * axis, np.float32) for axis in (u, v))
    seen = cv2.remap(light.astype(np.float32), (across + width) / 2, (down + height) / 2, cv2.INTER_LINEAR)
    return _sharpened(np.asarray(seen, float))


def _grain(code: Array) -> Array:
    """Grain of film, coarser than a pixel: 3 % of the code."""
    rng = np.random.default_rng(1)
    grain = _blurred(rng.normal(size=code.shape), 1.1)
    return np.asarray(code + 0.03 * grain / grain.std(), float)


def _jpeg(code: Array) -> Array:
    picture = np.ascontiguousarray(np.rint(255 * code[..., ::-1]), np.uint8)
    _, packed = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 45])
    out = cv2.imdecode(packed, cv2.IMREAD_COLOR)
    assert out is not None
    return np.asarray(out[..., ::-1] / 255)


def _bars(code: Array) -> Array:
    """Black bars above and below, an eighth of the picture each."""
    out, edge = code.copy(), len(code) // 8
    out[:edge] = out[-edge:] = 0.0625
    return out


def _overlay(code: Array) -> Array:
    """A word all over the picture, as on a viewing copy."""
    out = np.ascontiguousarray(np.rint(255 * code), np.uint8)
    height, width = out.shape[:2]
    for row in range(3):
        for column in range(4):
            at = (column * width // 4, height // 6 + row * height // 3)
            cv2.putText(out, "PREVIEW", at, cv2.FONT_HERSHEY_SIMPLEX, width / 640, (230, 230, 230), 3)
    return out / 255.0


def _burnt_in(light: Array) -> Array:
    """A picture made for a monitor in place of the log: what it holds is then read as log."""
    display = np.clip(1.5 * light @ codes.gamut_matrix("ACEScg", "ITU-R BT.709").T, 0, 1)
    return np.asarray(display ** (1 / 2.4), float)


_MIX = np.array([[0.75, 0.30, -0.05], [-0.05, 1.05, 0.0], [0.10, -0.15, 1.05]])

FAULTS: Mapping[str, Fault] = {
    **{f"{stops:+d}stops": Fault(light=_gains(*[2.0**stops] * 3)) for stops in (-3, -2, 2, 3)},
    "pale": Fault(light=lambda light: 0.7 * light + 0.3 * light.mean(-1, keepdims=True)),
    "mix": Fault(light=lambda light: light @ _MIX.T),
    "soft-curve": Fault(light=lambda light: 0.18 * np.maximum(light / 0.18, 0) ** 0.88),
    "hard-curve": Fault(light=lambda light: 0.18 * np.maximum(light / 0.18, 0) ** 1.12),
    "tungsten-preset": Fault(light=_gains(0.72, 1.0, 1.93)),
    "daylight-preset": Fault(light=_gains(1.40, 1.0, 0.52)),
    "red-filter": Fault(light=_gains(2.2, 0.8, 0.9)),
    "clipped": Fault(light=lambda light: np.minimum(light, 0.45)),
    "haze": Fault(light=_haze(0.08)),
    "thick-haze": Fault(light=_haze(0.25)),
    "veil": Fault(light=_veil),
    "vignetting": Fault(light=_vignetting),
    "tint": Fault(light=_tint),
    "two-lamps": Fault(light=_two_lamps),
    "bands": Fault(light=_bands),
    "noise": Fault(grid=_noise),
    "soft": Fault(grid=lambda light: _blurred(light, 4)),
    "very-soft": Fault(grid=lambda light: _blurred(light, 9)),
    "sharpened": Fault(grid=_sharpened),
    "mirrored": Fault(grid=lambda light: light[:, ::-1]),
    "upright": Fault(grid=lambda light: np.rot90(light)),
    "small": Fault(grid=_smaller),
    "close": Fault(grid=_middle),
    "jpeg": Fault(code=_jpeg),
    "eight-bits": Fault(code=lambda code: np.rint(255 * code) / 255),
    "bars": Fault(code=_bars),
    "overlay": Fault(code=_overlay),
    "wrong-encoding": Fault(encoding="V-Log/V-Gamut"),
    "wrong-range": Fault(range="other"),
    "burnt-in": Fault(encoding="as shown"),
    "graduated": Fault(light=_graduated),
    "flash": Fault(light=_flash),
    "infrared": Fault(light=_infrared),
    "crowd": Fault(grid=_crowd),
    "fisheye": Fault(grid=_fisheye, code=_jpeg),
    "grain": Fault(code=_grain),
    "haze-stop-soft": Fault(
        light=lambda light: 2 * _haze(0.12)(light), grid=lambda light: _blurred(light, 2.5)
    ),
    "preset-haze": Fault(light=lambda light: _haze(0.15)(light * np.array([0.72, 1.0, 1.93]))),
    "vignetting-tint": Fault(light=lambda light: _tint(_vignetting(light))),
    "dark-noise-eight-bits": Fault(
        light=_gains(0.25, 0.25, 0.25), grid=_noise, code=lambda code: np.rint(255 * code) / 255
    ),
    "hero-hazy": Fault(hero=lambda light: lambda seen: 0.85 * seen + 0.15 * light.mean((0, 1))),
    "hero-clipped": Fault(hero=lambda _: lambda seen: np.minimum(seen, 0.4)),
}  # fmt: skip


def spoil(case: Case, fault: Fault, folder: Path) -> None:
    """Write a case folder of its own, with a fault in each angle of a case, and in its hero where it has one."""
    folder.mkdir(parents=True)
    spec = json.loads((case.folder / "case.json").read_text("utf-8"))
    spec["range"] = {camera.name: camera.range for camera in case.cameras}
    spec["file"] = {camera.name: str(camera.picture) for camera in case.cameras}

    def write(camera: Camera, picture: Array) -> None:
        spec["file"][camera.name] = f"{camera.name}.png"
        value = np.rint(65535 * np.clip(picture[..., ::-1], 0, 1)).astype(np.uint16)
        cv2.imwrite(str(folder / f"{camera.name}.png"), np.ascontiguousarray(value))

    wanted: Spoil | None = None
    if fault.hero is not None:
        hero = case[case.hero]
        light = codes.decode(_stored(hero), hero.encoding, legal=hero.range == "legal")
        wanted = fault.hero(light)
        write(hero, codes.encode(wanted(light), hero.encoding, legal=hero.range == "legal"))
    for camera in case.angles:
        picture, encoding, span, shot = _spoilt(case, camera, fault)
        spec["encoding"][camera.name], spec["range"][camera.name] = encoding, span
        write(camera, picture)
        with np.load(case.truth_file(camera.name)) as data:
            truth = {**data, "shot": shot.astype(np.float32)}
        if wanted is not None:
            truth["truth"] = wanted(np.asarray(truth["truth"], float)).astype(np.float32)
        np.savez(folder / f"truth_{camera.name}.npz", **truth)
    (folder / "case.json").write_text(json.dumps(spec, indent=1) + "\n", "utf-8")


def _stored(camera: Camera) -> Array:
    """Return the codes of a camera's picture, 1 being the largest of the file."""
    stored = cv2.imread(str(camera.picture), cv2.IMREAD_UNCHANGED)
    if stored is None:
        raise SystemExit(f"{camera.picture}: cannot be read")
    return np.asarray(stored[..., ::-1], float) / np.iinfo(stored.dtype).max


def _spoilt(case: Case, camera: Camera, fault: Fault) -> tuple[Array, str, str, Array]:
    """Return an angle's codes, its encoding and range as a setup file then says, and the truth's ``shot``."""
    legal, encoding, span = camera.range == "legal", camera.encoding, camera.range
    code, shot = _stored(camera), case.truth(camera.name).shot
    if fault.light is not None or fault.grid is not None:
        light = codes.decode(code, encoding, legal=legal)
        if fault.light is not None:
            light, shot = fault.light(light), fault.light(shot)
        if fault.grid is not None:
            light = fault.grid(light)
        code = codes.encode(light, encoding, legal=legal)
    if fault.code is not None:
        code = fault.code(code)
    recorded = codes.encode(shot, encoding, legal=legal)
    if fault.encoding == "as shown":
        code, recorded = _burnt_in(codes.decode(code, encoding, legal=legal)), _burnt_in(shot)
        shot = codes.decode(recorded, encoding, legal=legal)
    elif fault.encoding:
        encoding = fault.encoding if fault.encoding != encoding else "S-Log3/S-Gamut3.Cine"
        shot = codes.decode(recorded, encoding, legal=legal)
    elif fault.range:
        span = "full" if legal else "legal"
        shot = codes.decode(recorded, encoding, legal=not legal)
    return code, encoding, span, shot


def main() -> int:
    parser = argparse.ArgumentParser(description="write cases again, each with a fault in its angles")
    parser.add_argument("--cases", type=Path, nargs="+", required=True, help="case folders, or folders of them")
    parser.add_argument("--into", type=Path, required=True, help="a folder that is made")
    parser.add_argument("--only", nargs="*", default=["*"], help="cases of these names only (globs)")
    parser.add_argument(
        "--faults", nargs="*", default=["*"], help=f"these faults only (globs): {', '.join(FAULTS)}"
    )
    options = parser.parse_args()
    if options.into.exists():
        print(f"{options.into} exists; name a folder that does not", file=sys.stderr)
        return 2
    written = 0
    for case in find_cases(options.cases):
        if case.settled or not any(fnmatch(case.name, name) for name in options.only):
            continue
        for name, fault in FAULTS.items():
            if any(fnmatch(name, wanted) for wanted in options.faults):
                spoil(case, fault, options.into / f"{case.name}-{name}")
                written += 1
    print(f"{written} cases in {options.into}", file=sys.stderr)
    return 0 if written else 2


if __name__ == "__main__":
    sys.exit(main())
