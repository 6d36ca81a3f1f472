"""Derive ``ROOTS_COVARIANCE`` of ``huemend.solve.prior``: how far root terms differ between measured cameras.

    python -m tests.bench.derive_roots FOLDER [--pairs 4000] [--seed 1]

FOLDER holds the two tables that ``derive_prior.py`` names; pairs of cameras are drawn as there. It prints the
covariance in the form in which the module holds it, and what a 3x3 and root terms leave. About ten minutes.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from huemend.model.roots import root_terms
from huemend.view import delta_e2000, measurement_lab
from tests.bench.camera_pairs import GENERAL, SPACES, Array, input_transforms, load, root, shoot
from tests.bench.derive_prior import coverage, tail

# Draws the coefficients of terms that a few surfaces hardly tell apart together, and moves none that they do tell.
_RIDGE = 1e-4
_ROUNDS = 6


def best(features: Array, target: Array) -> Array:
    """Fit target from features, (n, k) to (n, 3), by least squares in Oklab; return (3, k)."""
    inner, outer = SPACES["oklab"]
    count = features.shape[1]
    goal = root(target @ inner.T)[0] @ outer.T
    found = np.linalg.lstsq(features, target, rcond=None)[0].T
    ridge = np.tile(np.where(np.arange(count) < 3, 0.0, _RIDGE), 3)
    for _ in range(_ROUNDS):
        value, slope = root(features @ found.T @ inner.T)
        chain = np.einsum("oi,ni,ij->noj", outer, slope, inner)
        jacobian = np.einsum("noj,nk->nojk", chain, features).reshape(-1, 3 * count)
        pull = jacobian.T @ (goal - value @ outer.T).ravel() - ridge * found.ravel()
        found = found + np.linalg.solve(jacobian.T @ jacobian + np.diag(ridge), pull).reshape(3, count)
    return np.asarray(found)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--pairs", type=int, default=4000)
    parser.add_argument("--seed", type=int, default=1)
    told = parser.parse_args()
    world = load(told.folder)
    table = input_transforms(world)
    rng = np.random.default_rng(told.seed)
    skin = np.array(["skin" in label.lower() for label in world.labels])
    roots, left = [], []
    for number in range(told.pairs):
        views = shoot(world, table, GENERAL, np.arange(len(world.cameras)), rng)
        for source, target in (views, views[::-1]):
            features = np.concatenate([source, root_terms(source)], axis=1)
            found = best(features, target)
            roots.append((found[:, 3:] / found[:, :3].sum(1, keepdims=True)).ravel())
            if number % 20 == 0:
                wanted = measurement_lab(target)
                fits = (source @ best(source, target).T, features @ found.T)
                errors = [delta_e2000(measurement_lab(fit), wanted) for fit in fits]
                left.append([value for error in errors for value in (error.mean(), error[skin].mean())])
    values = np.array(roots)
    moment = values.T @ values / len(values)
    deviation = np.sqrt(np.diag(moment))
    correlation = moment / np.outer(deviation, deviation)
    print("mean", values.mean(0).round(4))
    print("standard deviations", deviation.round(4))
    print("correlations below the diagonal:")
    for row in range(1, 9):
        print("    ", tuple(round(float(value), 2) for value in correlation[row, :row]))
    components = np.linalg.eigvalsh(correlation)[::-1]
    print("explained by components", (components.cumsum() / components.sum()).round(2))
    half = len(values) // 4 * 2
    print("one half over the other", np.sqrt((values[:half] ** 2).mean(0) / (values[half:] ** 2).mean(0)).round(3))
    dof = tail(values, moment)
    print("dof", dof, "coverage", coverage(values, moment, dof))
    print("CIEDE2000 of 3x3, its skin, root terms, their skin:", np.mean(left, axis=0).round(3))


if __name__ == "__main__":
    main()
