"""Does it help to carry over what earlier setups of a day learnt of two cameras, and does it ever harm?

``python -m tests.bench.carry --days 40`` invents days: two measured sensors that keep their white balance settings
(unless ``--changes``: then one camera is balanced anew in the middle of the day), and eight setups under various
lights, half of them poor (few pairs, one colour, many wrong ones). Every setup is first solved and judged alone;
those that are not trusted are then lent what the setups before them learnt, as ``huemend day --carry`` does.
Printed is the mean CIEDE2000 on the clean pixels, which no solve saw.

``--scatter`` prints instead how much the parameters between two cameras scatter over lights: the numbers of
``huemend.options.CarryOptions.scatter``.
"""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from demo.generator.camera import Camera
from demo.generator.sensors import sensor_names
from demo.generator.spectra import light, reflectance, surface_names
from huemend.model import Fit, Match, NoFit, Verdict
from huemend.model.learnt import Learnt
from huemend.options import MatchOptions
from huemend.solve.fit import fit
from huemend.solve.lend import fit_carried, pool, still_true
from huemend.solve.prior import PARAMETERS, matrix_to_theta
from huemend.validate import proof
from huemend.validate.decide import Evidence, decide, is_better
from tests.bench.accuracy.best import best_matrix
from tests.bench.accuracy.cases import Truth
from tests.bench.accuracy.pairs import _LIGHTS, Trial, _seen, balanced, invent
from tests.bench.accuracy.score import score

Array = NDArray[np.float64]

SETUPS = 8
_MIRED = 12.0
_POOR = ("handful", "one colour", "mostly wrong")
_SEEN = 0.2


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """One setup: its verdict and true error, alone and with what was lent (the same, where nothing was)."""

    kind: str
    alone: str
    lent: str
    error_alone: float
    error_lent: float
    shot: float
    carried: bool


def invent_day(seed: int, *, changes: bool) -> list[Trial]:
    """Make the setups of a day, shot with the same two cameras."""
    random = np.random.default_rng([30, seed])
    sensors = [str(name) for name in random.choice(sensor_names(), 2, replace=False)]
    off = random.normal(0, _MIRED, 2)
    trials = []
    for number in range(SETUPS):
        if changes and number == SETUPS // 2:
            # Somebody balances one camera anew, and gets it wrong by 20 to 40 mired.
            off[1] += random.choice([-1, 1]) * random.uniform(20, 40)
        own = off + random.normal(0, 2.0, 2)

        def cameras(rng: np.random.Generator, kelvin: float, own: Array = own) -> tuple[Camera, Camera]:
            hero, angle = (balanced(sensor, kelvin, mired) for sensor, mired in zip(sensors, own, strict=True))
            return hero, replace(angle, exposure_stops=float(rng.normal(0, 0.5)))

        trial = invent(1000 * seed + number, kind="full set", cameras=cameras)
        trials.append(trial if number % 2 == 0 else impoverish(trial, str(random.choice(_POOR)), random))
    return trials


def impoverish(trial: Trial, kind: str, random: np.random.Generator) -> Trial:
    """Leave of a trial's pairs what a poor setup would give: next to none, one colour, or many wrong ones."""
    pairs, n = trial.pairs, len(trial.pairs)
    kept, angle = np.arange(n), np.array(pairs.angle_rgb)
    if kind == "handful":
        kept = random.choice(n, int(random.integers(3, 13)), replace=False)
    elif kind == "one colour":
        chroma = np.log(pairs.angle_rgb[:, [0, 2]] / pairs.angle_rgb[:, 1:2])
        near = np.linalg.norm(chroma - chroma[random.integers(n)], axis=1)
        kept = np.argsort(near)[: int(random.integers(8, 30))]
    else:
        wrong = random.random(n) < random.uniform(0.35, 0.6)
        angle[wrong] = angle[random.permutation(n)[wrong]] * np.exp(random.normal(0, 0.3, (int(wrong.sum()), 1)))
        kept = random.choice(n, min(n, int(random.integers(20, 60))), replace=False)
    rows = {item.name: getattr(pairs, item.name) for item in fields(pairs)}
    rows |= {"angle_rgb": angle}
    part: dict[str, Any] = {
        name: value[kept] for name, value in rows.items() if isinstance(value, np.ndarray) and len(value) == n
    }
    return Trial(pairs=replace(pairs, **part), clean=trial.clean, kind=kind)


def proven(trial: Trial, fitted: Fit | NoFit, options: MatchOptions) -> Evidence:
    """Prove a fit, as a run does; only what the choice between two of them needs."""
    if isinstance(fitted, NoFit):
        return Evidence(pairs=trial.pairs, proven=fitted)
    return Evidence(pairs=trial.pairs, proven=proof.proven(trial.pairs, fitted, options.validate, view_stops=0.0))


def verdict(known: Evidence, options: MatchOptions) -> Verdict:
    return decide(known, options.validate).verdict


def match_of(known: Evidence, options: MatchOptions) -> Match:
    if isinstance(known.proven, proof.Proven) and verdict(known, options) is not Verdict.UNSOLVED:
        return known.proven.fit.match
    return Match()


def try_day(seed: int, *, changes: bool) -> list[Outcome]:
    """Solve a day with and without carrying over."""
    options = MatchOptions()
    earlier: list[tuple[str, Learnt]] = []
    outcomes = []
    for number, trial in enumerate(invent_day(seed, changes=changes)):
        own = proven(trial, fit(trial.pairs, options.solve, view_stops=0.0), options)
        best = own
        carried = pool(earlier, options.carry)
        if carried is not None and verdict(own, options) is not Verdict.MATCHED:
            lent = still_true(trial.pairs, carried, options.solve, options.carry)
            fitted = (
                None
                if lent is None
                else fit_carried(trial.pairs, lent, options.solve, options.carry, view_stops=0.0)
            )
            if fitted:
                other = proven(trial, fitted, options)
                best = other if is_better(other, own, options.validate) else own
        learnt = own.proven.fit.learnt if isinstance(own.proven, proof.Proven) else None
        if verdict(own, options) is Verdict.MATCHED and learnt is not None:
            earlier.append((str(number), learnt))
        errors = [score(trial.clean, match_of(found, options).apply).mean for found in (own, best)]
        outcomes.append(
            Outcome(
                kind=trial.kind,
                alone=str(verdict(own, options)),
                lent=str(verdict(best, options)),
                error_alone=errors[0],
                error_lent=errors[1],
                shot=score(trial.clean, Match().apply).mean,
                carried=best is not own,
            )
        )
    return outcomes


def report(outcomes: list[Outcome]) -> str:
    """Say, by verdict alone, what carrying over changed."""
    lines = [
        "| verdict alone | setups | lent to | verdicts after | as shot | alone | with carry | helped > 0.2 "
        "| harmed > 0.2 | worst harm |",
        "|:--|--:|--:|:--|--:|--:|--:|--:|--:|--:|",
    ]
    groups: list[tuple[str, str | None, str | None]] = [(v, v, None) for v in ("matched", "review", "unsolved")]
    groups += [(f"not matched, {kind}", None, kind) for kind in _POOR]
    for title, verdict, kind in groups:
        chosen = [
            outcome
            for outcome in outcomes
            if (outcome.alone == verdict if verdict else outcome.alone != "matched" and outcome.kind == kind)
        ]
        if not chosen:
            continue
        moved = np.array([outcome.error_lent - outcome.error_alone for outcome in chosen])
        after = dict(sorted(Counter(outcome.lent for outcome in chosen).items()))
        means = [
            float(np.mean([getattr(o, name) for o in chosen])) for name in ("shot", "error_alone", "error_lent")
        ]
        lines.append(
            f"| {title} | {len(chosen)} | {sum(o.carried for o in chosen)} | {after} | "
            + " | ".join(f"{mean:.2f}" for mean in means)
            + f" | {(moved < -_SEEN).sum()} | {(moved > _SEEN).sum()} | {max(0.0, float(moved.max())):.2f} |"
        )
    return "\n".join(lines)


def scatter(pairs: int) -> str:
    """Return the scatter of the parameters over lights, for cameras that keep their settings."""
    random = np.random.default_rng(0)
    names = list(surface_names())
    table = np.stack([reflectance(name) for name in names])
    theta = np.zeros((pairs, len(_LIGHTS), 8))
    for pair in range(pairs):
        sensors, off = random.choice(sensor_names(), 2, replace=False), random.normal(0, _MIRED, 2)
        for number, (key, kelvin) in enumerate(_LIGHTS.items()):
            cube = table[random.choice(len(names), 60, replace=False)] * light(key)
            seen = [_seen(cube, balanced(str(s), kelvin, o)) for s, o in zip(sensors, off, strict=True)]
            nobody = np.zeros((1, len(cube)), np.uint8)
            truth = Truth(shot=seen[1][None], truth=seen[0][None], cls=nobody, person=nobody)
            theta[pair, number] = matrix_to_theta(best_matrix(truth, polish=False))[1:]
    within = np.sqrt(theta.var(axis=1, ddof=1).mean(axis=0))
    return "\n".join(f"{name}: {value:.4f}" for name, value in zip(PARAMETERS[1:], within, strict=True))


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.carry", description=__doc__)
    parser.add_argument("--days", type=int, default=40)
    parser.add_argument("--first", type=int, default=0, metavar="SEED")
    parser.add_argument("--changes", action="store_true", help="balance one camera anew in the middle of each day")
    parser.add_argument("--scatter", action="store_true", help="print the scatter over lights instead")
    options = parser.parse_args()
    if options.scatter:
        print(scatter(25))
        return
    outcomes: list[Outcome] = []
    for seed in range(options.first, options.first + options.days):
        outcomes += try_day(seed, changes=options.changes)
    print(report(outcomes))


if __name__ == "__main__":
    main()
