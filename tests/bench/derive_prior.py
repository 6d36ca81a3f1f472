"""Derive the prior of ``huemend.solve.prior`` from measured spectra.

    python -m tests.bench.derive_prior FOLDER [--pairs 4000] [--seed 1] [--plot FILE.png]

FOLDER holds two tables that are not shipped with this project:

``camera_sensitivities.csv``
    52 measured cameras, columns ``camera, wavelength_nm, r, g, b``, 380-780 nm in steps of 5. From rawtoaces-data
    (Academy Software Foundation, Apache-2.0), folder data/camera.
``object_reflectances.csv``
    170 measured objects, a ``wavelength`` column (390-730 nm, steps of 2) and one labelled column an object.
    Vrhel, Gershon & Iwan, "Measurement and analysis of object reflectance spectra", Color Research & Application
    19(1), 1994.

The 190 ACES training reflectances, a 24-patch chart and the CIE illuminants come with colour-science; the two
cameras that it also carries are left out here, for the test of the prior. What is simulated, and which of its
numbers are judgement rather than measurement, is told in docs/prior.md. The figures are printed in the form in
which ``huemend/solve/prior.py`` and docs/prior.md hold them; it takes about ten minutes on one core.
"""

from __future__ import annotations

import argparse
import math
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import f as f_distribution
from scipy.stats import t as t_distribution

from huemend.base.units import AP1_LUMINANCE
from huemend.solve.prior import PARAMETERS
from tests.bench.camera_pairs import (
    GENERAL,
    SENSITIVITY,
    SPACES,
    VARIANTS,
    Array,
    Simulation,
    Transforms,
    World,
    input_transforms,
    load,
    root,
    simulate,
)


def tail(theta: Array, covariance: Array) -> float:
    """Return the degrees of freedom of the Student t that has this covariance and suits theta best."""
    d = theta.shape[1]
    distance = np.einsum("ni,ij,nj->n", theta, np.linalg.inv(covariance), theta)

    def likelihood(dof: float) -> float:
        constant = math.lgamma((dof + d) / 2) - math.lgamma(dof / 2) - d / 2 * math.log((dof - 2) * math.pi)
        return float(constant - (dof + d) / 2 * np.log1p(distance / (dof - 2)).mean())

    return max([2.5, 3, 3.5, 4, 4.5, 5, 6, 7, 8, 10, 12, 15, 20, 30, 60], key=likelihood)


def coverage(theta: Array, covariance: Array, dof: float) -> dict[str, float]:
    """Return which share of theta lies within the 50, 90 and 99 % regions of the Student t."""
    d = theta.shape[1]
    distance = np.einsum("ni,ij,nj->n", theta, np.linalg.inv(covariance), theta)
    inside = f_distribution.cdf(distance / d * dof / (dof - 2), d, dof)
    return {f"{level:.0%}": round(float((inside < level).mean()), 3) for level in (0.5, 0.9, 0.99)}


# ------------------------------------------------------------------------------------------------ report


def show(name: str, result: Simulation) -> None:
    """Print the distribution as prior.py holds it."""
    moment, deviation = result.moment, result.deviation
    print(f"\n== {name}: {len(result.theta)} matrices")
    print("mean ", dict(zip(PARAMETERS[1:], result.colour.mean(0).round(4).tolist(), strict=True)))
    print("sd   ", dict(zip(PARAMETERS[1:], deviation.round(4).tolist(), strict=True)))
    print("excess kurtosis", ((result.colour**4).mean(0) / deviation**4 - 3).round(1))
    print("dof  ", tail(result.colour, moment))
    correlation = moment / np.outer(deviation, deviation)
    print("correlations below the diagonal:")
    for row in range(1, 8):
        print("    ", tuple(round(float(value), 2) for value in correlation[row, :row]))
    for label, block in (
        ("the six k", moment[2:, 2:]),
        ("the six k, each over its sd", correlation[2:, 2:]),
        ("all eight, each over its sd", correlation),
    ):
        values = np.linalg.eigvalsh(block)[::-1]
        print(f"explained by the components of {label}:", (np.cumsum(values) / values.sum()).round(3))
    half = len(result.theta) // 4 * 2
    first, second = (np.sqrt((part**2).mean(0)) for part in (result.colour[:half], result.colour[half:]))
    print("sd of one half of the pairs over the other:", (first / second).round(3))


def misfit(world: World, result: Simulation) -> None:
    """Print what the best 3x3 leaves."""
    objects = np.array([label != "training" for label in world.labels])
    thin = slice(None, None, max(1, len(result.theta) // 2000))
    target, fitted = result.target[thin].astype(float), result.fitted[thin].astype(float)
    relative = np.sqrt(((target - fitted)[:, objects] ** 2).mean(1)) / target[:, objects].mean(1)
    print("\nRMS of what is left over the mean signal: median", np.median(relative, 0).round(4), end=" ")
    print("p90", np.quantile(relative, 0.9, 0).round(4))
    luminance = target @ AP1_LUMINANCE
    # A logarithm says nothing of a channel that is all but empty.
    good = np.asarray(((target > 0.05 * luminance[..., None]) & (fitted > 0.05 * luminance[..., None])).all(-1))
    safe = good[..., None]
    log = np.log(np.where(safe, target, 1)) - np.log(np.where(safe, fitted, 1))
    inner, outer = SPACES["oklab"]
    chroma = np.hypot(*(root(target.mean(0) @ inner.T)[0] @ outer.T).T[1:])
    classes = {
        "natural": objects,
        "skin": np.array(["skin" in label.lower() for label in world.labels]),
        "neutral": chroma < 0.03,
        "saturated": chroma > np.quantile(chroma, 0.8),
    }
    for name, chosen in classes.items():
        flat = log[:, chosen][good[:, chosen]]
        moment = flat.T @ flat / len(flat)
        deviation = np.sqrt(np.diag(moment))
        correlation = (moment / np.outer(deviation, deviation))[[1, 2, 2], [0, 0, 1]]
        shared = log[:, chosen].mean(1).var(0) / (log[:, chosen] ** 2).mean((0, 1))
        print(f"{name}: {chosen.sum()} surfaces, left out {1 - good[:, chosen].mean():.3f}")
        print("     sd", deviation.round(4), "correlations gr br bg", correlation.round(2), end=" ")
        print("typical", (1.4826 * np.median(np.abs(flat), 0)).round(4), "shared", shared.round(2))
    law(log[good], np.log(np.where(safe, fitted, 1))[good])


def law(error: Array, colour_log: Array) -> None:
    """Print how the typical misfit grows with the distance of the colour from neutral."""
    distance = np.hypot(colour_log[:, 0] - colour_log[:, 1], colour_log[:, 2] - colour_log[:, 1])
    edges = np.quantile(distance, np.linspace(0, 1, 13))
    bins = [(distance >= low) & (distance < high) for low, high in pairwise(edges)]
    centre = np.array([distance[b].mean() for b in bins])
    typical = np.array([1.4826 * np.median(np.abs(error[b]), 0) for b in bins])
    floor, slope = np.empty(3), np.empty(3)
    for channel in range(3):
        # In logarithms, so that the small misfits near neutral count like the large ones.
        seen = np.log(typical[:, channel])
        fit = least_squares(lambda p, seen=seen: np.log(np.hypot(p[0], p[1] * centre)) - seen, [0.005, 0.01])
        floor[channel], slope[channel] = np.abs(fit.x)
    print("misfit by distance from neutral: base", floor.round(4), "slope", slope.round(4))
    predicted = np.sqrt(floor**2 + (slope * centre[:, None]) ** 2)
    for at, seen, said in zip(centre, typical, predicted, strict=True):
        print(f"     at {at:.2f} typical {seen.round(4)} law {said.round(4)}")
    ratio = error / np.sqrt(floor**2 + (slope * distance[:, None]) ** 2)
    kept = ratio[(np.abs(ratio) < 3).all(1)]
    print("correlations of the bulk gr br bg", np.asarray(np.corrcoef(kept.T))[[1, 2, 2], [0, 0, 1]].round(2))


def check(world: World, table: Transforms, pairs: int, seed: int) -> None:
    """Print how well half of the cameras foretell the other half, and how much hangs on each judgement."""
    order = np.random.default_rng(seed).permutation(len(world.cameras))
    half = len(order) // 2
    print("\n== learnt on one half of the cameras, tried on the other")
    for learn, trial in ((order[:half], order[half:]), (order[half:], order[:half])):
        known = simulate(world, table, GENERAL, pairs, seed, cameras=learn)
        new = simulate(world, table, GENERAL, pairs, seed + 1, cameras=trial)
        dof = tail(known.colour, known.moment)
        print(
            "coverage",
            coverage(new.colour, known.moment, dof),
            "sd over sd",
            (new.deviation / known.deviation).round(2),
        )
    print("\n== over the colours of one scene only (40 surfaces)")
    print("sd   ", simulate(world, table, GENERAL, pairs, seed, scene=40).deviation.round(4))
    print("\n== one judgement changed")
    for name, habits in SENSITIVITY.items():
        print(f"{name:36s}", simulate(world, table, habits, pairs, seed).deviation.round(3))


def plot(path: Path, result: Simulation) -> None:
    """Draw each parameter's histogram beside the Student t, and the pairs of parameters."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    dof = tail(result.colour, result.moment)
    figure, axes = pyplot.subplots(8, 8, figsize=(16, 16))
    for row in range(8):
        for column in range(8):
            axis = axes[row, column]
            axis.tick_params(labelsize=5)
            if column > row:
                axis.axis("off")
            elif column < row:
                axis.plot(result.colour[:2000, column], result.colour[:2000, row], ".", ms=1)
            else:
                spread = 4 * result.deviation[row]
                grid = np.linspace(-spread, spread, 200)
                axis.hist(result.colour[:, row], 60, range=(-spread, spread), density=True, alpha=0.5)
                scale = result.deviation[row] * math.sqrt((dof - 2) / dof)
                axis.plot(grid, t_distribution.pdf(grid / scale, dof) / scale)
                axis.set_title(PARAMETERS[row + 1], fontsize=8)
    figure.tight_layout()
    figure.savefig(path, dpi=80)


def main() -> None:
    """Run it."""
    assert __doc__
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="where the two tables lie")
    parser.add_argument("--pairs", type=int, default=4000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--plot", type=Path, help="also draw the general prior (needs matplotlib)")
    arguments = parser.parse_args()
    np.set_printoptions(suppress=True, linewidth=140)
    world = load(arguments.folder)
    table = input_transforms(world)
    for name, habits in VARIANTS.items():
        result = simulate(world, table, habits, arguments.pairs, arguments.seed)
        show(name, result)
        print(
            "coverage of its own pairs", coverage(result.colour, result.moment, tail(result.colour, result.moment))
        )
        if name == "general":
            misfit(world, result)
            if arguments.plot:
                plot(arguments.plot, result)
    check(world, table, arguments.pairs // 4, arguments.seed)


if __name__ == "__main__":
    main()
