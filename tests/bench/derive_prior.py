"""Derive the prior of ``huemend.solve.prior`` from measured spectra.

    python tests/bench/derive_prior.py FOLDER [--pairs 20000] [--seed 1] [--plot FILE.png]

FOLDER holds two tables that are not shipped with this project:

``camera_sensitivities.csv``
    52 measured cameras, columns ``camera, wavelength_nm, r, g, b``, 380-780 nm in steps of 5. From rawtoaces-data
    (Academy Software Foundation, Apache-2.0), folder data/camera.
``object_reflectances.csv``
    170 measured objects, a ``wavelength`` column (390-730 nm, steps of 2) and one labelled column an object. Vrhel,
    Gershon & Iwan, "Measurement and analysis of object reflectance spectra", Color Research & Application 19(1), 1994.

The 190 ACES training reflectances, a 24-patch chart and the CIE illuminants come with colour-science; the two
cameras that it also carries are left out here, for the test of the prior. What is simulated, and which of its numbers are judgement rather than measurement, is told in
docs/prior.md. The figures are printed as Python literals, ready for ``huemend/solve/prior.py``.
"""

from __future__ import annotations

import argparse
import csv
import sys
from dataclasses import dataclass
from pathlib import Path

import colour
import numpy as np
from numpy.typing import NDArray

from huemend.solve.prior import PARAMETERS, matrix_to_theta
from huemend.units import AP1_LUMINANCE

Array = NDArray[np.float64]

SHAPE = colour.SpectralShape(380, 780, 5)
NM = SHAPE.wavelengths
ACES_WHITE = np.array([0.32168, 0.33767])
TO_XYZ = np.asarray(colour.RGB_COLOURSPACES["ACEScg"].matrix_RGB_to_XYZ)
FROM_XYZ = np.linalg.inv(TO_XYZ)
CATS = ("CAT02", "Bradford")
METRICS = ("linear", "lab", "oklab")

#: How often each light is drawn. Judgement: half daylight, a fifth tungsten, most of the rest white LED.
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


def aligned(spectra: object) -> Array:
    """Bring spectra of colour-science onto our wavelengths: nothing outside what was measured."""
    grid = np.asarray(spectra.wavelengths, float)  # type: ignore[attr-defined]
    values = np.asarray(spectra.values, float).reshape(len(grid), -1)  # type: ignore[attr-defined]
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
    return warm * (1 + 0.1 * bump * duv / np.linalg.norm(uv[1] - uv[0]))


# ------------------------------------------------------------------------------------------------- fits


def adaptation(white: Array, cat: str) -> Array:
    """Return the (3, 3) that takes XYZ under a white to ACEScg."""
    target = colour.xy_to_XYZ(ACES_WHITE)
    return FROM_XYZ @ np.asarray(
        colour.adaptation.matrix_chromatic_adaptation_VonKries(white, target, transform=cat)
    )


def _spaces() -> dict[str, tuple[Array, Array]]:
    """Return the two matrices of each perceptual space: ACEScg to the cube-rooted signals, and those to opponents."""
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
        return np.linalg.solve(normal, right[..., None])[..., 0].reshape(batch, 3, count) @ free.T

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
        return (surfaces * spectrum) @ sensitivity / (balance @ sensitivity)


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


def input_transforms(world: World) -> dict[tuple[str, Recipe], Array]:
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
    balance: tuple[float, float, float] = (0.50, 0.35, 0.15)
    #: Standard deviation per camera in mired and duv, for each of the three.
    mired: tuple[float, float, float] = (8.0, 4.0, 20.0)
    duv: tuple[float, float, float] = (0.003, 0.0015, 0.005)
    #: What both cameras' preset is off the light by, mired.
    shared_mired: float = 20.0
    #: Shares of transforms made for one daylight, for the nearer of daylight and tungsten, blended between those
    #: two, and for the very light.
    policy: tuple[float, float, float, float] = (0.20, 0.35, 0.35, 0.10)
    #: Share of input transforms that keep white; that were shrunk against noise.
    white: float = 0.7
    ridge: float = 0.25
    same_camera: bool = False


GENERAL = Habits()
WELL_SET = Habits(
    balance=(0, 1, 0), mired=(8, 2, 20), duv=(0.003, 0.001, 0.005), policy=(0, 0, 0.7, 0.3), white=1.0, ridge=0.0
)
SAME_MAKE = Habits(same_camera=True)


def shoot(world: World, table: dict, habits: Habits, rng: np.random.Generator) -> tuple[Array, Array]:
    """Let two cameras see the same surfaces under the same light; return both in ACEScg, (n, 3) each."""
    name = str(rng.choice(list(LIGHTS), p=np.array(list(LIGHTS.values())) / sum(LIGHTS.values())))
    lit = world.lights[name]
    mode = rng.choice(3, p=habits.balance)
    shared = rng.normal(0, habits.shared_mired) if mode == 0 else 0.0
    cameras = rng.choice(len(world.cameras), 2, replace=False)
    recipes = [draw_recipe(habits, rng) for _ in range(2)]
    policies = rng.choice(4, 2, p=habits.policy)
    if habits.same_camera:
        cameras, recipes, policies = cameras[[0, 0]], [recipes[0]] * 2, policies[[0, 0]]
    views = []
    for camera, recipe, policy in zip(cameras, recipes, policies, strict=True):
        mired = shared + rng.normal(0, habits.mired[mode])
        base = nominal(lit.kelvin) if mode == 0 else lit.spectrum
        balance = shifted(base, lit.kelvin, mired, rng.normal(0, habits.duv[mode]))
        matrix = choose_transform(table, recipe, int(policy), name, 1e6 / lit.kelvin + mired, rng)[camera]
        view = world.raw(camera, lit.spectrum, world.surfaces, balance) @ matrix.T
        neutral = world.raw(camera, lit.spectrum, np.ones((1, len(NM))), balance)[0] @ matrix.T
        views.append(view / (AP1_LUMINANCE @ neutral))
    return views[0], views[1]


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
    table: dict, recipe: Recipe, policy: int, name: str, mired: float, rng: np.random.Generator
) -> Array:
    """Return the input transforms of all cameras, (cameras, 3, 3), that this maker's firmware would apply."""
    day, tungsten = ("D55", "D65")[rng.integers(2)], "A"
    low, high = 1e6 / (5500 if day == "D55" else 6500), 1e6 / 2856
    if policy == 0:
        return table[day, recipe]
    blend = float(np.clip((mired - low) / (high - low), 0, 1))
    if policy == 1:
        blend = round(blend)
    if policy <= 2:
        return (1 - blend) * table[day, recipe] + blend * table[tungsten, recipe]
    return table[name, recipe]


@dataclass(frozen=True)
class Simulation:
    """What was learnt: theta (2n, 9) of both directions, residuals by sample, and the target colours."""

    theta: Array
    target: Array
    fitted: Array


def simulate(world: World, table: dict, habits: Habits, pairs: int, seed: int) -> Simulation:
    """Draw pairs, fit the best 3x3 both ways."""
    rng = np.random.default_rng(seed)
    theta, targets, fits = [], [], []
    for start in range(0, pairs, 250):
        views = [shoot(world, table, habits, rng) for _ in range(min(250, pairs - start))]
        first, second = (np.array(side) for side in zip(*views, strict=True))
        for source, target in ((first, second), (second, first)):
            matrix = best_matrix(source, target, "oklab")
            theta += [matrix_to_theta(m) for m in matrix]
            targets.append(target.astype(np.float32))
            fits.append((source @ matrix.transpose(0, 2, 1)).astype(np.float32))
    return Simulation(np.array(theta), np.concatenate(targets), np.concatenate(fits))


def student(theta: Array) -> tuple[float, Array]:
    """Fit a zero-mean multivariate Student t by expectation-maximisation over a grid of degrees of freedom."""
    from scipy.special import gammaln

    n, d = theta.shape
    best = (-np.inf, np.inf, np.eye(d))
    for dof in (3, 4, 5, 6, 7, 8, 10, 12, 15, 20, 30, 60, 200):
        scale = np.cov(theta.T)
        for _ in range(60):
            distance = np.einsum("ni,ij,nj->n", theta, np.linalg.inv(scale), theta)
            weight = (dof + d) / (dof + distance)
            scale = (theta * weight[:, None]).T @ theta / n
        distance = np.einsum("ni,ij,nj->n", theta, np.linalg.inv(scale), theta)
        log = n * (gammaln((dof + d) / 2) - gammaln(dof / 2) - d / 2 * np.log(dof * np.pi))
        log -= n / 2 * np.linalg.slogdet(scale)[1] + (dof + d) / 2 * np.log1p(distance / dof).sum()
        if log > best[0]:
            best = (log, dof, scale)
    return float(best[1]), best[2]


# ------------------------------------------------------------------------------------------------ report


def show(name: str, world: World, result: Simulation) -> None:
    """Print what goes into the module, and what docs/prior.md tells."""
    np.set_printoptions(precision=4, suppress=True, linewidth=140)
    theta = result.theta[:, 1:]
    names = PARAMETERS[1:]
    moment = theta.T @ theta / len(theta)
    deviation = np.sqrt(np.diag(moment))
    dof, scale = student(theta)
    core = np.sqrt(np.diag(scale))
    print(f"\n== {name}: {len(theta)} matrices")
    print("mean      ", dict(zip(names, theta.mean(0).round(4).tolist(), strict=True)))
    print("sd        ", dict(zip(names, deviation.round(4).tolist(), strict=True)))
    print("t dof     ", dof, " scale ", dict(zip(names, core.round(4).tolist(), strict=True)))
    kurtosis = (theta**4).mean(0) / deviation**4 - 3
    print("kurtosis  ", kurtosis.round(1))
    print("t correlation\n", np.round(scale / np.outer(core, core), 2))
    values = np.linalg.eigvalsh(moment[2:, 2:])[::-1]
    print("explained by the components of k:", (np.cumsum(values) / values.sum()).round(3))
    values = np.linalg.eigvalsh(moment / np.outer(deviation, deviation))[::-1]
    print("explained by the components of all eight, standardised:", (np.cumsum(values) / values.sum()).round(3))
    half = len(theta) // 2
    halves = [np.sqrt((part**2).mean(0)) for part in (theta[:half], theta[half:])]
    print("split halves, ratio of sd:", (halves[0] / halves[1]).round(3))
    element = [np.abs(m) for m in theta[:, 2:]]
    print("median |k|:", np.median(element, 0).round(4))
    misfit(world, result)


def misfit(world: World, result: Simulation) -> None:
    """Print what the best 3x3 leaves."""
    objects = np.array([label != "training" for label in world.labels])
    skin = np.array(["skin" in label.lower() for label in world.labels])
    relative = np.sqrt(((result.target - result.fitted)[:, objects] ** 2).mean(1)) / result.target[
        :, objects
    ].mean(1)
    print(
        "floor, RMS over the mean signal: median",
        np.median(relative, 0).round(4),
        "p90",
        np.quantile(relative, 0.9, 0).round(4),
        "all channels",
        np.median(relative).round(4),
        np.quantile(relative, 0.9).round(4),
    )
    inner, outer = SPACES["oklab"]
    ok = root(result.target.mean(0) @ inner.T)[0] @ outer.T
    chroma = np.hypot(ok[:, 1], ok[:, 2])
    classes = {
        "natural": objects,
        "skin": skin,
        "neutral": chroma < 0.03,
        "saturated": chroma > np.quantile(chroma, 0.8),
    }
    luminance = result.target @ AP1_LUMINANCE.astype(np.float32)
    for name, chosen in classes.items():
        a, b = result.target[:, chosen], result.fitted[:, chosen]
        floor = 0.05 * luminance[:, chosen, None]
        good = ((a > floor) & (b > floor)).all(-1)
        log = np.log(np.where(good[..., None], a / np.where(good[..., None], b, 1), 1))
        flat = log[good]
        cov = flat.T @ flat / len(flat)
        sd = np.sqrt(np.diag(cov))
        shared = log.mean(1).var(0) / (log**2).mean((0, 1))
        per = (a - b) / luminance[:, chosen, None]
        rel = np.sqrt((per**2).mean((0, 1)))
        print(
            f"{name:10s} n {chosen.sum():3d}  log sd {sd.round(4)}  corr rg rb gb "
            f"{(cov / np.outer(sd, sd))[[0, 0, 1], [1, 2, 2]].round(2)} left out {1 - good.mean():.3f}; "
            f"median |log| {np.median(np.abs(flat), 0).round(4)} shared {shared.round(2)} over luminance {rel.round(4)}"
        )


def main() -> None:
    """Run it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="where the two tables lie")
    parser.add_argument("--pairs", type=int, default=20000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--plot", type=Path)
    arguments = parser.parse_args()
    world = load(arguments.folder)
    table = input_transforms(world)
    for name, habits in (("general", GENERAL), ("well set", WELL_SET), ("same make", SAME_MAKE)):
        result = simulate(world, table, habits, arguments.pairs, arguments.seed)
        show(name, world, result)


if __name__ == "__main__":
    sys.exit(main())
