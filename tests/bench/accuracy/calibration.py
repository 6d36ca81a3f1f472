"""Does a 90 % interval hold the truth nine times out of ten?

``python -m tests.bench.accuracy.calibration --trials 200`` makes seeded trials (see ``pairs``), lets the solve
stage fit each, and counts how often its intervals of exposure and balance hold the best fit to the clean
pixels. ``--cases FOLDER`` takes the pairs from rendered cases instead: from patches of their pictures that are
known to show the same surfaces, or, where a case does not say which those are, from its truth.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from scipy.stats import beta

from huemend.model import Fit, Match, NoFit, PairedColours
from tests.bench.accuracy.best import best_matrix
from tests.bench.accuracy.cases import find_cases
from tests.bench.accuracy.pairs import Trial, from_pictures, from_truth, invent
from tests.bench.accuracy.score import by_matrix, score

PARAMETERS = ("exposure_stops", "red_green_stops", "blue_green_stops")
#: Share of the trials whose 90 % interval should hold the truth.
WANTED = (0.85, 0.95)


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """One trial: for each parameter how far the estimate is off, and the interval about the estimate."""

    seed: int
    kind: str
    pairs: int
    rung: str
    off: dict[str, float]
    low: dict[str, float]
    high: dict[str, float]
    error: float
    best: float

    def holds(self, name: str) -> bool:
        return self.low[name] <= -self.off[name] <= self.high[name]


def try_one(trial: Trial, seed: int, fit: Callable[[PairedColours], Fit | NoFit]) -> Outcome | None:
    """Fit one trial; None where the solver would not say."""
    answer = fit(trial.pairs)
    if not isinstance(answer, Fit):
        return None
    best = best_matrix(trial.clean, polish=False)
    want, got = _parameters(Match.from_matrix(best)), _parameters(answer.match)
    bounds = answer.uncertainty
    return Outcome(
        seed=seed,
        kind=trial.kind,
        pairs=len(trial.pairs),
        rung=str(answer.rung),
        off={name: got[name] - want[name] for name in PARAMETERS},
        low={name: getattr(bounds, name).low - got[name] for name in PARAMETERS},
        high={name: getattr(bounds, name).high - got[name] for name in PARAMETERS},
        error=score(trial.clean, answer.match.apply).mean,
        best=score(trial.clean, by_matrix(best)).mean,
    )


def report(outcomes: list[Outcome], refused: int) -> str:
    """Coverage by parameter and by kind of trial, as markdown."""
    lines = [
        "| parameter | kind | n | 90 % interval holds the truth | of 95 % sure | median half width | median off |",
        "|:--|:--|--:|--:|--:|--:|--:|",
    ]
    kinds = ["all", *sorted({outcome.kind for outcome in outcomes})]
    for name in PARAMETERS:
        for kind in kinds if len(kinds) > 2 else kinds[:1]:
            chosen = [outcome for outcome in outcomes if kind in ("all", outcome.kind)]
            held, n = sum(outcome.holds(name) for outcome in chosen), len(chosen)
            low, high = _sure(held, n)
            width = np.median([(o.high[name] - o.low[name]) / 2 for o in chosen])
            off = np.median([abs(o.off[name]) for o in chosen])
            lines.append(
                f"| {name} | {kind} | {n} | {held / n:.1%} | {low:.0%} to {high:.0%} | {width:.4f} | {off:.4f} |"
            )
    error = np.array([outcome.error for outcome in outcomes])
    best = np.array([outcome.best for outcome in outcomes])
    rungs = dict(sorted(Counter(outcome.rung for outcome in outcomes).items()))
    lines += [
        "",
        f"- fitted {len(outcomes)}, refused {refused}; rungs: {rungs}",
        f"- CIEDE2000 on the clean pixels: mean {error.mean():.2f}, median {np.median(error):.2f}, "
        f"p95 {np.percentile(error, 95):.2f} (best possible: mean {best.mean():.2f})",
    ]
    return "\n".join(lines)


def coverage(outcomes: list[Outcome]) -> dict[str, float]:
    """Share of the trials whose interval holds the truth, by parameter."""
    return {name: float(np.mean([outcome.holds(name) for outcome in outcomes])) for name in PARAMETERS}


def _sure(held: int, n: int) -> tuple[float, float]:
    """Clopper-Pearson interval of a share."""
    low = 0.0 if held == 0 else float(beta.ppf(0.025, held, n - held + 1))
    high = 1.0 if held == n else float(beta.ppf(0.975, held + 1, n - held))
    return low, high


def _parameters(match: Match) -> dict[str, float]:
    red, blue = match.balance
    return dict(zip(PARAMETERS, (match.exposure_stops, red, blue), strict=True))


def _trials(options: argparse.Namespace) -> Iterable[tuple[int, Trial]]:
    seeds = range(options.first, options.first + options.trials)
    if not options.cases:
        yield from ((seed, invent(seed)) for seed in seeds)
        return
    angles = [
        (case, angle.name)
        for case in find_cases(options.cases)
        for angle in case.angles
        if angle.name not in case.blind | case.settled
    ]
    if not angles:
        raise SystemExit("no truth in the given folders")
    for seed in seeds:
        case, angle = angles[seed % len(angles)]
        known = case.surfaces(angle).exists()
        yield seed, from_pictures(case, angle, seed) if known else from_truth(case.truth(angle), seed)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.accuracy.calibration", description=__doc__)
    parser.add_argument("--trials", type=int, default=200)
    parser.add_argument("--first", type=int, default=0, metavar="SEED", help="seed of the first trial")
    parser.add_argument(
        "--cases", nargs="+", type=Path, default=[], metavar="FOLDER", help="take pairs from these cases"
    )
    parser.add_argument("--json", action="store_true", help="print every trial instead of the table")
    options = parser.parse_args()
    from huemend.solve.fit import fit

    outcomes, refused = [], 0
    for seed, trial in _trials(options):
        outcome = try_one(trial, seed, partial(fit, view_stops=0.0))
        if outcome is None:
            refused += 1
        else:
            outcomes.append(outcome)
    if not outcomes:
        print("the solver refused every trial", file=sys.stderr)
        return 1
    if options.json:
        print(json.dumps([_plain(outcome) for outcome in outcomes], indent=1))
    else:
        print(report(outcomes, refused))
    shares = coverage(outcomes).values()
    return 0 if all(WANTED[0] <= share <= WANTED[1] for share in shares) else 1


def _plain(outcome: Outcome) -> dict[str, Any]:
    return {**vars(outcome), "holds": {name: outcome.holds(name) for name in PARAMETERS}}


if __name__ == "__main__":
    sys.exit(main())
