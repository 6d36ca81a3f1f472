"""Pairs of colours with a known answer, for the calibration trials.

A trial invents a set (measured surfaces under one or two measured lights that fall off across it) and two
cameras (measured sensors, input transforms of their makers, white balance that is somewhat off), and takes
from it what a correspondence stage hands over: some surfaces seen by both, spread unevenly, with shading
between the views, gloss, sensor noise, patches that show a little of the neighbouring surface, and wrong
matches. The truth is the best fit to every clean pixel of the set, not only to those that were paired.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from demo.generator.camera import Camera, develop
from demo.generator.sensors import sensor_names
from demo.generator.spectra import light, reflectance, surface_names
from huemend.model import PairedColours
from tests.bench.accuracy.cases import SKIN, Case, Truth

Array = NDArray[np.float64]

#: Lights on set, and the colour temperature that a camera assistant would dial in for each.
_LIGHTS = {
    "D55": 5500, "D65": 6500, "A": 2856, "3200K": 3200, "LED-B3": 4100, "LED-B4": 5100, "LED-V1": 2720,
    "FL3.15": 6500, "5000K daylight": 5000,
}  # fmt: skip
#: Standard deviation of the white balance that is dialled in, in mired.
_BALANCE_MIRED = 12.0
#: Pixels of the set that the truth is fitted on.
_POPULATION = 1500
#: Frame that places are made up in.
_WIDTH, _HEIGHT = 960.0, 540.0
#: Side of the squares whose pairs share a group, in pixels.
_GROUP_SIDE = 120.0


#: Stands two cameras up for a key light of so many kelvin, hero first.
Cameras = Callable[[np.random.Generator, float], tuple[Camera, Camera]]


@dataclass(frozen=True, kw_only=True, eq=False)
class Trial:
    """Pairs, and all the clean pixels that they stand for (as a one-line picture)."""

    pairs: PairedColours
    clean: Truth
    kind: str


def invent(seed: int, *, kind: str | None = None, cameras: Cameras | None = None) -> Trial:
    """Make the trial of this seed.

    Parameters
    ----------
    seed : int
    kind : str, optional
        ``full set``, ``few colours``, ``sparse`` or ``rough``; by the seed if not given.
    cameras : callable, optional
        Stands the two cameras up for a key light of so many kelvin, hero first; two of any make if not given.
    """
    random = np.random.default_rng([20, seed])
    kind = kind or ("full set", "few colours", "sparse", "rough")[seed % 4]
    surfaces = _surfaces(random, kind)
    key, fill = random.choice(list(_LIGHTS), 2)
    hero, angle = (cameras or two_cameras)(random, _LIGHTS[key])
    place = random.uniform((0, 0), (_WIDTH, _HEIGHT), (_POPULATION, 2))
    cube, which, owner = _set(random, surfaces, place, key, key if random.random() < 0.6 else fill)
    clean_hero, clean_angle = _seen(cube, hero), _seen(cube, angle)
    skin = np.array([name.startswith("skin") for name in surfaces])[which]
    truth = Truth(
        shot=clean_angle[None],
        truth=clean_hero[None],
        cls=np.where(skin, SKIN, 0).astype(np.uint8)[None],
        person=np.zeros((1, len(which)), np.uint8),
    )
    count = {"sparse": (25, 60), "few colours": (40, 250)}.get(kind, (60, 500))
    shown = _shown(random, which, place, int(random.integers(*count)))
    pairs = spoil(
        random,
        clean_hero[shown],
        clean_angle[shown],
        place[shown],
        np.where(skin[shown], "skin", ""),
        light_colour=_seen(owner[shown], hero),
        light_colour_angle=_seen(owner[shown], angle),
        wrong=float(random.uniform(0, 0.25 if kind == "rough" else 0.12)),
        shading=float(random.uniform(0.02, 0.15 if kind == "rough" else 0.08)),
    )
    return Trial(pairs=pairs, clean=truth, kind=kind)


def from_truth(truth: Truth, seed: int) -> Trial:
    """Pairs taken from an angle's truth: real surfaces in their real places, spoilt as real pairs are."""
    random = np.random.default_rng([21, seed])
    height, width = truth.cls.shape
    y, x = np.mgrid[:height, :width]
    place = np.stack([x.ravel(), y.ravel()], axis=1) * (_WIDTH / width)
    shot, want = truth.shot.reshape(-1, 3), truth.truth.reshape(-1, 3)
    usable = np.flatnonzero((shot.min(axis=1) > 0.002) & (want.min(axis=1) > 0.002) & (shot.max(axis=1) < 4))
    shown = _clusters(random, usable, place)
    pairs = spoil(
        random,
        want[shown],
        shot[shown],
        place[shown],
        np.where(truth.cls.ravel()[shown] == SKIN, "skin", ""),
        light_colour=np.broadcast_to(np.median(want[usable], axis=0) * 3, (len(shown), 3)),
        light_colour_angle=np.broadcast_to(np.median(shot[usable], axis=0) * 3, (len(shown), 3)),
        wrong=float(random.uniform(0, 0.15)),
        shading=float(random.uniform(0.02, 0.10)),
    )
    return Trial(pairs=pairs, clean=truth, kind="rendered")


def from_pictures(case: Case, angle: str, seed: int) -> Trial:
    """Pairs of patches that truly show the same surfaces, measured in the noisy pictures themselves.

    Shading, gloss, vignette and flare are those of the render; only the choice of patches, uneven as matches
    are, and some wrong ones are made up.
    """
    random = np.random.default_rng([22, seed])
    with np.load(case.surfaces(angle)) as data:
        hero_xy, angle_xy, scale = data["hero_xy"].astype(int), data["angle_xy"].astype(int), float(data["scale"])
    radius = np.array([3.0, max(1.0, 3.0 * scale)])
    hero = _patches(case[case.hero].linear(largest=1 << 20), radius[0])[hero_xy[:, 1], hero_xy[:, 0]]
    shot = _patches(case[angle].linear(largest=1 << 20), radius[1])[angle_xy[:, 1], angle_xy[:, 0]]
    usable = np.flatnonzero((hero.min(axis=1) > 0.002) & (shot.min(axis=1) > 0.002) & (hero.max(axis=1) < 2))
    shown = _clusters(random, usable, angle_xy.astype(float))
    hero, shot, n = hero[shown], shot[shown], len(shown)
    lost = random.random(n) < random.uniform(0, 0.12)
    shot[lost] = shot[random.integers(0, n, int(lost.sum()))]
    electrons = np.array([case.electrons[case.hero], case.electrons[angle]])
    light = np.maximum(np.stack([hero.mean(axis=1), shot.mean(axis=1)], axis=1), 1e-3)
    noise = np.sqrt(0.18 / light / electrons) / np.sqrt(np.pi) / radius
    truth = case.truth(angle)
    height, width = truth.cls.shape
    place = np.minimum(angle_xy[shown] // 3, [width - 1, height - 1])
    skin = truth.cls[place[:, 1], place[:, 0]] == SKIN
    pairs = _paired(
        hero, shot, hero_xy[shown].astype(float), angle_xy[shown].astype(float),
        radius=np.broadcast_to(radius, (n, 2)), noise=noise, label=np.where(skin, "skin", ""),
    )  # fmt: skip
    return Trial(pairs=pairs, clean=truth, kind="pictures")


def _patches(picture: Array, radius: float) -> Array:
    """The picture averaged over a disc about every pixel."""
    size = 2 * int(np.ceil(radius)) + 1
    y, x = np.mgrid[:size, :size] - size // 2
    disc = np.clip(radius + 0.5 - np.hypot(x, y), 0.0, 1.0)
    return np.asarray(cv2.filter2D(picture, -1, disc / disc.sum(), borderType=cv2.BORDER_REFLECT), float)


def _clusters(random: np.random.Generator, usable: NDArray[np.int64], place: Array) -> NDArray[np.int64]:
    """Choose pixels as matches come: some spots of the frame are rich, others bare."""
    spots = place[random.choice(usable, int(random.integers(6, 40)))]
    nearest = np.min(np.linalg.norm(place[usable, None] - spots[None], axis=2), axis=1)
    pool = usable[nearest < random.uniform(40, 160)]
    return random.choice(pool, min(len(pool), int(random.integers(40, 500))), replace=False)


def spoil(
    random: np.random.Generator,
    hero: Array,
    angle: Array,
    place: Array,
    label: NDArray[np.str_],
    *,
    light_colour: Array,
    light_colour_angle: Array,
    wrong: float,
    shading: float,
) -> PairedColours:
    """Make clean pairs, all (n, 3), look like those that a correspondence stage finds.

    Parameters
    ----------
    light_colour, light_colour_angle : (n, 3)
        What a mirror of the light looks like to either camera: gloss adds some of it.
    wrong : float
        Share of pairs whose angle side shows some other surface.
    shading : float
        Standard deviation of the ratio of shading between the views, in natural log units.
    """
    n = len(hero)
    # Shading differs from surface to surface (its slant) far more than from patch to patch.
    slant = random.normal(0, shading, 64)[_cells(place, 60.0) % 64]
    ratio = np.exp(slant + random.normal(0, 0.3 * shading, n))
    gloss = 0.01 * random.exponential(1.0, (n, 2)) * (random.random((n, 2)) < 0.3)
    hero = hero * ratio[:, None] + gloss[:, :1] * light_colour
    angle = angle + gloss[:, 1:] * light_colour_angle
    # The patch of one view takes in a little of what lies beside it.
    beside = random.permutation(n)
    share = np.abs(random.normal(0, 0.01, (n, 1)))
    angle = (1 - share) * angle + share * angle[beside]
    lost = random.random(n) < wrong
    angle[lost] = angle[random.integers(0, n, int(lost.sum()))] * np.exp(
        random.normal(0, 0.2, (int(lost.sum()), 1))
    )
    radius = np.stack([random.uniform(2.5, 6, n), random.uniform(2.5, 16, n)], axis=1)
    level = random.uniform(0.012, 0.04, 2)
    # A patch of radius r averages pi r^2 pixels; photon noise grows with the root of the light.
    noise = level * np.sqrt(0.18 / np.maximum(np.stack([hero.mean(1), angle.mean(1)], 1), 1e-3))
    noise = noise / np.sqrt(np.pi) / radius
    hero = hero * (1 + noise[:, :1] * random.standard_normal((n, 3)))
    angle = angle * (1 + noise[:, 1:] * random.standard_normal((n, 3)))
    return _paired(
        hero, angle, place, place + random.normal(0, 3, place.shape), radius=radius, noise=noise, label=label
    )


def _paired(
    hero: Array,
    angle: Array,
    hero_xy: Array,
    angle_xy: Array,
    *,
    radius: Array,
    noise: Array,
    label: NDArray[np.str_],
) -> PairedColours:
    n = len(hero)
    return PairedColours(
        reference="hero",
        angle="angle",
        source="features",
        reference_rgb=hero,
        angle_rgb=angle,
        weight=np.ones(n),
        reference_xy=hero_xy,
        angle_xy=angle_xy,
        radius=radius,
        noise=noise,
        moment=np.zeros(n, int),
        group=np.unique(_cells(hero_xy, _GROUP_SIDE), return_inverse=True)[1],
        label=label,
        found=5 * n,
        matched=n,
    )


def _cells(place: Array, side: float) -> NDArray[np.int64]:
    column, row = (place // side).astype(np.int64).T
    return np.asarray(row * 1000 + column, np.int64)


def _surfaces(random: np.random.Generator, kind: str) -> list[str]:
    names = surface_names()
    skins = [name for name in names if name.startswith("skin")]
    greys = [name for name in names if name.startswith("paint ") and ("neutral" in name or "white" in name)]
    rest = [name for name in names if name not in skins]
    if kind == "few colours":
        return [*random.choice(skins, 2, replace=False), random.choice(greys), *random.choice(rest, 2)]
    return [*random.choice(skins, 2, replace=False), random.choice(greys), *random.choice(rest, 22, replace=False)]


def two_cameras(random: np.random.Generator, kelvin: float) -> tuple[Camera, Camera]:
    """Two cameras on different sensors, both balanced for the key light as well as people do it."""
    # The first nine, an ordinary mix: the rest were chosen because they disagree.
    sensors = random.choice(sensor_names()[:9], 2, replace=False)
    hero, angle = (balanced(str(sensor), kelvin, random.normal(0, _BALANCE_MIRED)) for sensor in sensors)
    return hero, replace(angle, exposure_stops=float(random.normal(0, 0.5)))


def balanced(sensor: str, kelvin: float, off: float) -> Camera:
    """A camera balanced for a light of so many kelvin, off by so many mired."""
    dialled = round(1e6 / (1e6 / kelvin + off), -1)
    white = f"{dialled:.0f}K daylight" if dialled >= 4000 else f"{dialled:.0f}K"
    nominal = "D55" if dialled >= 4300 else "3200K"
    return Camera(sensor=sensor, encoding="", white=white, nominal=nominal)


def _set(
    random: np.random.Generator, surfaces: list[str], place: Array, key_name: str, fill_name: str
) -> tuple[Array, NDArray[np.int64], Array]:
    """Spectral light from the population's pixels, which surface each shows, and the light that falls there."""
    key, fill = light(str(key_name)), light(str(fill_name))
    centre = random.uniform((0, 0), (_WIDTH, _HEIGHT))
    reach = random.uniform(300, 900)
    falloff = 1.0 / (1.0 + (np.linalg.norm(place - centre, axis=1) / reach) ** 2)
    side = random.uniform(0.05, 0.5) * place[:, 0] / _WIDTH
    arriving = random.uniform(0.4, 1.2) * (falloff[:, None] * key + side[:, None] * fill)
    # Surfaces lie in areas: the nearest of some seeds says which one a place shows.
    seeds = random.uniform((0, 0), (_WIDTH, _HEIGHT), (4 * len(surfaces), 2))
    nearest = np.argmin(np.linalg.norm(place[:, None] - seeds[None], axis=2), axis=1)
    which = nearest % len(surfaces)
    table = np.stack([reflectance(name) for name in surfaces])
    return table[which] * arriving, which, arriving


def _seen(cube: Array, camera: Camera) -> Array:
    return np.asarray(develop(cube[None], camera)[0])


def _shown(random: np.random.Generator, which: NDArray[np.int64], place: Array, count: int) -> NDArray[np.int64]:
    """Which pixels got paired: textured surfaces often, plain ones rarely, and nothing in some corners."""
    rich = random.gamma(0.7, 1.0, which.max() + 1)[which]
    dark_corner = random.uniform((0, 0), (_WIDTH, _HEIGHT))
    hidden = np.linalg.norm(place - dark_corner, axis=1) < 200
    chance = np.where(hidden, 0.0, rich + 0.02)
    return random.choice(len(which), min(count, int((chance > 0).sum())), replace=False, p=chance / chance.sum())
