"""Pairs of simulated cameras before one scene: measured spectra, input transforms, and the best 3x3 between them.

Used by ``derive_prior.py``, which tells where the measured tables come from.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import colour
import numpy as np
from numpy.typing import NDArray

from huemend.base.units import AP1_LUMINANCE
from huemend.solve.prior import matrix_to_theta

Array = NDArray[np.float64]

SHAPE = colour.SpectralShape(380, 780, 5)
NM = SHAPE.wavelengths
ACES_WHITE = np.array([0.32168, 0.33767])
TO_XYZ = np.asarray(colour.RGB_COLOURSPACES["ACEScg"].matrix_RGB_to_XYZ)
FROM_XYZ = np.linalg.inv(TO_XYZ)
CATS = ("CAT02", "Bradford")
METRICS = ("linear", "lab", "oklab")

#: How often each light is drawn. Judgement: near half daylight, a fifth tungsten, most of the rest white LED.
LIGHTS = {
    **dict.fromkeys(("D50", "D55", "D60", "D65", "D75"), 0.09),
    "A": 0.20,
    **dict.fromkeys(("LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5"), 0.045),
    **dict.fromkeys(("LED-V1", "LED-V2", "LED-BH1"), 0.015),
    "LED-RGB1": 0.02,
    **dict.fromkeys(("FL2", "FL7", "FL8", "FL11"), 0.015),
}


# ---------------------------------------------------------------------------------------------- spectra


def load_cameras(folder: Path) -> Array:
    """Return the measured cameras, (52, 81, 3)."""
    with open(folder / "camera_sensitivities.csv", newline="") as file:
        rows = np.array([[float(v) for v in row] for row in list(csv.reader(file))[1:]])
    tables = [rows[rows[:, 0] == i] for i in np.unique(rows[:, 0])]
    cameras = [np.column_stack([np.interp(NM, t[:, 1], t[:, c]) for c in (2, 3, 4)]) for t in tables]
    return np.array(cameras)


def aligned(spectra: Any) -> Array:
    """Bring spectra of colour-science onto our wavelengths: nothing outside what was measured."""
    grid = np.asarray(spectra.wavelengths, float)
    values = np.asarray(spectra.values, float).reshape(len(grid), -1)
    return np.column_stack([np.interp(NM, grid, column, left=0, right=0) for column in values.T])


def load_objects(folder: Path) -> tuple[Array, list[str]]:
    """Return the measured objects, (170, 81), and their labels; the ends are held beyond 390 and 730 nm."""
    with open(folder / "object_reflectances.csv", newline="") as file:
        head, *rows = list(csv.reader(file))
    table = np.array([[float(v) for v in row] for row in rows])
    return np.array([np.interp(NM, table[:, 0], column) for column in table[:, 1:].T]), head[1:]


def load_training() -> Array:
    """Return the 190 ACES training reflectances, (190, 81)."""
    table = colour.characterisation.read_training_data_rawtoaces_v1()
    return np.maximum(aligned(table).T, 0)


def load_chart() -> Array:
    """Return a 24-patch chart, (24, 81)."""
    patches = colour.SDS_COLOURCHECKERS["BabelColor Average"].values()
    return np.array([np.interp(NM, sd.wavelengths, sd.values) for sd in patches])


@dataclass(frozen=True)
class Light:
    """A spectrum with unit luminance, and its correlated colour temperature in kelvin."""

    spectrum: Array
    kelvin: float


def observer() -> Array:
    """Return the CIE 1931 2 degree observer, (81, 3)."""
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    return aligned(cmfs)


def light(spectrum: Array) -> Light:
    """Normalise a spectrum and find its colour temperature."""
    xyz = spectrum @ observer()
    return Light(spectrum / xyz[1], float(colour.uv_to_CCT(colour.xy_to_UCS_uv(xyz[:2] / xyz.sum()))[0]))


def load_lights() -> dict[str, Light]:
    """Return the CIE illuminants that are drawn from."""
    return {name: light(aligned(colour.SDS_ILLUMINANTS[name])[:, 0]) for name in LIGHTS}


def planck(kelvin: float) -> Array:
    """Return a black body's relative spectrum."""
    metres = NM * 1e-9
    return np.asarray(metres**-5 / np.expm1(1.438776877e-2 / (metres * kelvin))) * 1e-30


def nominal(kelvin: float) -> Array:
    """Return what a camera's kelvin dial stands for: CIE daylight from 4000 K up, a black body below."""
    if kelvin < 4000:
        return planck(kelvin)
    xy = colour.temperature.CCT_to_xy_CIE_D(min(kelvin, 25000.0))
    return aligned(colour.sd_CIE_illuminant_D_series(xy))[:, 0]


def shifted(spectrum: Array, kelvin: float, mired: float, duv: float) -> Array:
    """Move a light along and across the Planckian locus, smoothly over wavelength."""
    warm = spectrum * planck(1e6 / (1e6 / kelvin + mired)) / planck(kelvin)
    # A broad green bump, scaled by what a small amount of it does to the chromaticity.
    bump = np.exp(-0.5 * ((NM - 545) / 40) ** 2)
    uv = [
        np.asarray(colour.xy_to_UCS_uv(v[:2] / v.sum()))
        for v in (warm @ observer(), (warm * (1 + 0.1 * bump)) @ observer())
    ]
    return np.asarray(warm * (1 + 0.1 * bump * duv / np.linalg.norm(uv[1] - uv[0])))


# ------------------------------------------------------------------------------------------------- fits


def adaptation(white: Array, cat: str) -> Array:
    """Return the (3, 3) that takes XYZ under a white to ACEScg."""
    target = colour.xy_to_XYZ(ACES_WHITE)
    adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(white, target, transform=cat)
    return np.asarray(FROM_XYZ @ np.asarray(adapt))


def _spaces() -> dict[str, tuple[Array, Array]]:
    """Return two matrices for each space: ACEScg to the signals that are cube-rooted, and those to opponents."""
    white = colour.xy_to_XYZ(ACES_WHITE)
    d65 = colour.xy_to_XYZ(colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"])
    to_d65 = np.asarray(colour.adaptation.matrix_chromatic_adaptation_VonKries(white, d65, transform="CAT02"))
    lab = np.array([[0, 116, 0], [500, -500, 0], [0, 200, -200]]) / 100
    return {
        "lab": (np.diag(1 / white) @ TO_XYZ, lab),
        "oklab": (
            np.asarray(colour.models.oklab.MATRIX_1_XYZ_TO_LMS) @ to_d65 @ TO_XYZ,
            np.asarray(colour.models.oklab.MATRIX_2_LMS_TO_LAB),
        ),
    }


SPACES = _spaces()
_TOE = 216 / 24389  # CIE 15: below this the cube root goes over into its tangent


def root(x: Array) -> tuple[Array, Array]:
    """Return the cube root with CIELAB's straight toe, and its derivative."""
    big = np.maximum(x, _TOE)
    slope = np.where(x > _TOE, big ** (-2 / 3) / 3, _TOE ** (-2 / 3) / 3)
    return np.cbrt(big) + np.minimum(x - _TOE, 0) * slope, slope


def best_matrix(source: Array, target: Array, metric: str, *, white: bool = False, ridge: float = 0.0) -> Array:
    """Fit the 3x3 that takes source to target.

    Parameters
    ----------
    source, target : (batch, n, 3)
        The target is scene-linear ACEScg.
    metric : str
        ``linear``: least squares in XYZ. ``lab``, ``oklab``: least squares in that space, by Gauss-Newton.
    white : bool
        Keep (1, 1, 1) exactly.
    ridge : float
        Shrinks each row towards the mean of the three signals: what a maker does who fears noise.

    Returns
    -------
    (batch, 3, 3)
    """
    batch = len(source)
    # Columns of `free` span the rows that are fitted; with `white` the sum of each row is held at one.
    free = np.array([[1.0, 0, 0], [0, 1, 0], [0, 0, 1]]) if not white else np.array([[1.0, 0], [0, 1], [-1, -1]])
    count = free.shape[1]
    grey = np.full((3, 3), 1 / 3)
    start = np.broadcast_to(np.eye(3) if ridge == 0 else grey, (batch, 3, 3))
    signals = source @ free  # (batch, n, count)

    def solve(jacobian: Array, residual: Array) -> Array:
        normal = np.einsum("bnk,bnl->bkl", jacobian, jacobian)
        normal += (
            ridge * np.trace(normal, axis1=1, axis2=2)[:, None, None] / normal.shape[-1] * np.eye(normal.shape[-1])
        )
        right = np.einsum("bnk,bn->bk", jacobian, residual)
        return np.asarray(np.linalg.solve(normal, right[..., None])[..., 0].reshape(batch, 3, count) @ free.T)

    if metric == "linear":
        weight = TO_XYZ / (TO_XYZ.sum(1)[:, None])
        jacobian = np.einsum("ij,bnk->bnijk", weight, signals).reshape(batch, -1, 3 * count)
        residual = np.einsum("ij,bnj->bni", weight, target - source @ start.transpose(0, 2, 1))
        return start + solve(jacobian, residual.reshape(batch, -1))

    inner, outer = SPACES[metric]
    goal = root(target @ inner.T)[0] @ outer.T
    if ridge == 0:
        start = best_matrix(source, target, "linear", white=white)
    matrix = start
    for _ in range(5):
        value, slope = root(source @ matrix.transpose(0, 2, 1) @ inner.T)
        residual = goal - value @ outer.T
        chain = np.einsum("oi,bni,ij->bnoj", outer, slope, inner)
        jacobian = np.einsum("bnoj,bnk->bnojk", chain, signals).reshape(batch, -1, 3 * count)
        # With a ridge the step is taken from the start, so that the pull stays towards grey.
        back = np.einsum("bnoj,bnj->bno", chain, source @ (matrix - start).transpose(0, 2, 1)) if ridge else 0.0
        step = solve(jacobian, (residual + back).reshape(batch, -1))
        matrix = (start if ridge else matrix) + step
    return matrix


@dataclass(frozen=True)
class World:
    """All that was measured."""

    cameras: Array
    lights: dict[str, Light]
    surfaces: Array
    labels: list[str]
    training: dict[str, Array]

    def raw(self, camera: int, spectrum: Array, surfaces: Array, balance: Array) -> Array:
        """Return white-balanced camera signals, (n, 3)."""
        sensitivity = self.cameras[camera]
        return np.asarray((surfaces * spectrum) @ sensitivity / (balance @ sensitivity))


def load(folder: Path) -> World:
    """Read everything."""
    objects, labels = load_objects(folder)
    training = load_training()
    return World(
        cameras=load_cameras(folder),
        lights=load_lights(),
        surfaces=np.vstack([objects, training]),
        labels=labels + ["training"] * len(training),
        training={"training": training, "chart": load_chart()},
    )


@dataclass(frozen=True)
class Recipe:
    """How a maker made an input transform."""

    metric: str
    white: bool
    training: str
    cat: str
    ridge: float


RECIPES = [
    Recipe(metric, white, training, cat, ridge)
    for metric in METRICS
    for white in (True, False)
    for training in ("training", "chart")
    for cat in CATS
    for ridge in ((0.0, 0.003) if white else (0.0,))
]


Transforms = dict[tuple[str, Recipe], Array]


def input_transforms(world: World) -> Transforms:
    """Fit every camera's input transform, (cameras, 3, 3), for every light and recipe."""
    table = {}
    for name, lit in world.lights.items():
        white = lit.spectrum @ observer()
        for recipe in RECIPES:
            patches = world.training[recipe.training]
            truth = (patches * lit.spectrum) @ observer() @ adaptation(white, recipe.cat).T
            raw = np.array([world.raw(c, lit.spectrum, patches, lit.spectrum) for c in range(len(world.cameras))])
            table[name, recipe] = best_matrix(
                raw, np.broadcast_to(truth, raw.shape), recipe.metric, white=recipe.white, ridge=recipe.ridge
            )
    return table


# --------------------------------------------------------------------------------------------- simulation


@dataclass(frozen=True)
class Habits:
    """How a pair of cameras is set up. Judgement, not measurement: see docs/prior.md."""

    #: Shares of setups with a kelvin preset, a balance on the light itself, and automatic or careless balance.
    balance: tuple[float, float, float] = (0.45, 0.35, 0.20)
    #: Standard deviation per camera in mired and duv, for each of the three.
    mired: tuple[float, float, float] = (10.0, 4.0, 30.0)
    duv: tuple[float, float, float] = (0.004, 0.0015, 0.007)
    #: By how much the preset of both cameras misses the light, mired.
    shared_mired: float = 20.0
    #: Shares of transforms made for one daylight, for the nearer of daylight and tungsten, blended between those
    #: two, and for the very light.
    policy: tuple[float, float, float, float] = (0.20, 0.35, 0.35, 0.10)
    #: Share of input transforms that keep white; and of those, the share shrunk against noise.
    white: float = 0.7
    ridge: float = 0.25
    same_camera: bool = False


GENERAL = Habits()
VARIANTS = {
    "general": GENERAL,
    "well set": Habits(
        balance=(0, 1, 0), mired=(0, 2, 0), duv=(0, 0.001, 0), policy=(0, 0, 0.7, 0.3), white=1.0, ridge=0.0
    ),
    "same camera": Habits(same_camera=True),
}
#: One judgement changed at a time, to see how much hangs on it.
SENSITIVITY = {
    "white balance twice as far off": replace(GENERAL, mired=(20, 8, 60), duv=(0.008, 0.003, 0.014)),
    "white balance half as far off": replace(GENERAL, mired=(5, 2, 15), duv=(0.002, 0.00075, 0.0035)),
    "every transform for one daylight": replace(GENERAL, policy=(1, 0, 0, 0)),
    "every transform for the very light": replace(GENERAL, policy=(0, 0, 0, 1)),
    "every transform keeps white": replace(GENERAL, white=1.0),
    "a balance on the light only": replace(GENERAL, balance=(0, 1, 0)),
}


def draw_recipe(habits: Habits, rng: np.random.Generator) -> Recipe:
    """Draw how a maker made the input transform."""
    white = bool(rng.random() < habits.white)
    return Recipe(
        metric=str(rng.choice(METRICS)),
        white=white,
        training=str(rng.choice(["training", "chart"])),
        cat=str(rng.choice(CATS)),
        ridge=0.003 if white and rng.random() < habits.ridge else 0.0,
    )


def choose_transform(
    table: Transforms, recipe: Recipe, policy: int, name: str, mired: float, day: str
) -> NDArray[np.float64]:
    """Return the input transforms of all cameras, (cameras, 3, 3), that this maker's firmware would apply."""
    low, high = 1e6 / (5500 if day == "D55" else 6500), 1e6 / 2856
    if policy == 0:
        return table[day, recipe]
    if policy == 3:
        return table[name, recipe]
    blend = float(np.clip((mired - low) / (high - low), 0, 1))
    if policy == 1:
        blend = round(blend)
    return (1 - blend) * table[day, recipe] + blend * table["A", recipe]


def shoot(
    world: World, table: Transforms, habits: Habits, cameras: NDArray[Any], rng: np.random.Generator
) -> tuple[Array, Array]:
    """Let two cameras see the same surfaces under the same light; return both in ACEScg, (n, 3) each."""
    name = str(rng.choice(list(LIGHTS), p=np.array(list(LIGHTS.values())) / sum(LIGHTS.values())))
    lit = world.lights[name]
    mode = rng.choice(3, p=habits.balance)
    shared = rng.normal(0, habits.shared_mired) if mode == 0 else 0.0
    pair = rng.choice(cameras, 2, replace=False)
    recipes = [draw_recipe(habits, rng) for _ in range(2)]
    policies = rng.choice(4, 2, p=habits.policy)
    days = rng.choice(["D55", "D65"], 2)
    if habits.same_camera:
        pair, recipes, policies, days = pair[[0, 0]], [recipes[0]] * 2, policies[[0, 0]], days[[0, 0]]
    views = []
    for camera, recipe, policy, day in zip(pair, recipes, policies, days, strict=True):
        mired = shared + rng.normal(0, habits.mired[mode])
        base = nominal(lit.kelvin) if mode == 0 else lit.spectrum
        balance = shifted(base, lit.kelvin, mired, rng.normal(0, habits.duv[mode]))
        matrix = choose_transform(table, recipe, int(policy), name, 1e6 / lit.kelvin + mired, str(day))[camera]
        surfaces = np.vstack([world.surfaces, np.ones(len(NM))])
        view = world.raw(camera, lit.spectrum, surfaces, balance) @ matrix.T
        # Exposure is set apart: a perfect diffuser has the same luminance in both.
        views.append(view[:-1] / (AP1_LUMINANCE @ view[-1]))
    return views[0], views[1]


@dataclass(frozen=True)
class Simulation:
    """What n pairs, fitted both ways, say: theta (2n, 9), target and fitted colours (2n, surfaces, 3)."""

    theta: Array
    target: NDArray[np.float32]
    fitted: NDArray[np.float32]

    @property
    def colour(self) -> Array:
        """The eight colour parameters, (2n, 8)."""
        return self.theta[:, 1:]

    @property
    def moment(self) -> Array:
        """Second moment of the eight colour parameters about zero: the covariance of exchangeable pairs."""
        return self.colour.T @ self.colour / len(self.colour)

    @property
    def deviation(self) -> Array:
        """Standard deviations of the eight colour parameters."""
        return np.sqrt(np.diag(self.moment))


def simulate(
    world: World,
    table: Transforms,
    habits: Habits,
    pairs: int,
    seed: int,
    *,
    cameras: NDArray[Any] | None = None,
    scene: int | None = None,
) -> Simulation:
    """Draw pairs of cameras, fit the best 3x3 both ways.

    ``cameras`` restricts which ones are drawn; ``scene`` fits over that many surfaces only, drawn anew each time.
    """
    rng = np.random.default_rng(seed)
    chosen = np.arange(len(world.cameras)) if cameras is None else cameras
    theta, targets, fits = [], [], []
    for start in range(0, pairs, 250):
        views = [shoot(world, table, habits, chosen, rng) for _ in range(min(250, pairs - start))]
        first, second = (np.array(side) for side in zip(*views, strict=True))
        if scene is not None:
            which = np.argsort(rng.random(first.shape[:2]), axis=1)[:, :scene, None]
            first, second = np.take_along_axis(first, which, 1), np.take_along_axis(second, which, 1)
        for source, target in ((first, second), (second, first)):
            matrix = best_matrix(source, target, "oklab")
            theta.append(matrix_to_theta(matrix))
            targets.append(target.astype(np.float32))
            fits.append((source @ matrix.transpose(0, 2, 1)).astype(np.float32))
    return Simulation(np.concatenate(theta), np.concatenate(targets), np.concatenate(fits))
