"""How well colours alone match views 60 to 110 degrees apart: one command, one table.

``python -m tests.bench.wide --cache FOLDER --render`` makes the setups in FOLDER (once; a cache of the accuracy
bench saves the heroes' renders) and matches every one with features switched off and ``--by-colours``, or as usual
(``--features``).
See tests/bench/README.md.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from huemend import load_setup, match_setup
from huemend.model import AngleResult, Verdict
from huemend.options import ColourOptions, CorrespondOptions, MatchOptions
from tests.bench.accuracy.best import best_matrix
from tests.bench.accuracy.cases import Case
from tests.bench.accuracy.making import Recipe, make
from tests.bench.accuracy.score import as_shot, by_matrix, score
from tests.bench.wide.setups import MEASURING, TUNING

#: Acceptance: the share of angles that must come closer to the truth than they were as shot.
WANTED = 0.8
#: An angle that ends so much further from the truth than as shot is spoilt: 2 is seen in a cut (README).
SPOILT = 2.0
BY_COLOURS = MatchOptions(correspond=CorrespondOptions(features=False), colours=ColourOptions(ask=True))


@dataclass(frozen=True, kw_only=True)
class Row:
    """One angle: mean CIEDE2000 as shot, matched (as shot again where it is refused), and at best."""

    name: str
    degrees: float
    stranger: bool
    shot: float
    got: float
    best: float
    stops_off: float
    answer: AngleResult

    @property
    def answered(self) -> bool:
        return self.answer.match is not None

    def __str__(self) -> str:
        turn = "another set" if self.stranger else f"{self.degrees:.0f}"
        off = f"{self.stops_off:+.2f}" if self.answered else ""
        codes = " ".join(reason.code for reason in self.answer.reasons)
        got = f"{self.got:.2f}" if self.answered else "refused"
        figures = f"{self.shot:.2f} | {got} | {self.best:.2f} | {off}"
        return f"| {self.name} | {turn} | {figures} | {self.answer.verdict} | {codes} |"


def rows(case: Case, recipe: Recipe, scratch: Path, options: MatchOptions) -> Iterator[Row]:
    """Match one setup and score its angles."""
    result = match_setup(load_setup(case.setup_file(scratch / case.name)), options)
    for camera in case.angles:
        answer, truth = result[camera.name], case.truth(camera.name)
        best = best_matrix(truth, polish=False)
        shot = score(truth, as_shot).mean
        stops = np.log2(np.linalg.norm(best.sum(1)) / np.sqrt(3))
        match = answer.match
        yield Row(
            name=f"{case.name}/{camera.name}",
            degrees=_degrees(recipe, camera.name),
            stranger=camera.name in case.blind,
            shot=shot,
            got=shot if match is None else score(truth, match.apply).mean,
            best=score(truth, by_matrix(best)).mean,
            stops_off=0.0 if match is None else match.exposure_stops - float(stops),
            answer=answer,
        )


def _degrees(recipe: Recipe, name: str) -> float:
    """Return the angle between a camera's optical axis and the hero's, seen from above."""
    headings = []
    for shot in (recipe.shots["wide"], recipe.shots[name]):
        scene, _ = shot.stage.build()
        view = scene.views[shot.view]
        across, along, _ = np.subtract(view.target, view.position)
        headings.append(np.degrees(np.arctan2(across, along)))
    return float(abs((headings[1] - headings[0] + 180) % 360 - 180))


def summary(found: list[Row]) -> list[str]:
    """Sum up in lines for people."""
    own = [row for row in found if not row.stranger]
    better = sum(row.got < row.shot for row in own)
    shot, got, best = (np.mean([getattr(row, name) for row in own]) for name in ("shot", "got", "best"))
    strangers = [row for row in found if row.stranger]
    return [
        f"{better} of {len(own)} angles better than as shot; {sum(not row.answered for row in own)} refused",
        f"mean CIEDE2000: as shot {shot:.2f}, matched {got:.2f}, best possible {best:.2f}; "
        f"worst {max(row.got for row in own):.2f} (as shot {max(row.shot for row in own):.2f})",
        f"another set: {sum(not row.answered for row in strangers)} of {len(strangers)} refused, "
        f"{sum(row.got < row.shot for row in strangers)} better than as shot",
    ]


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.wide", description=__doc__)
    parser.add_argument("--cache", type=Path, required=True, metavar="FOLDER", help="keeps renders and cases")
    parser.add_argument("--render", action="store_true", help="make the setups that the cache lacks")
    parser.add_argument("--tuning", action="store_true", help="the setups that it was developed on, instead")
    parser.add_argument("--features", action="store_true", help="match as usual: by features, no guess by colours")
    options = parser.parse_args()
    recipes = TUNING if options.tuning else MEASURING
    if options.render:
        make(recipes, options.cache)
    how, found = MatchOptions() if options.features else BY_COLOURS, []
    print("| angle | degrees | as shot | matched | best | stops off | said | reasons |")
    print("|:--|--:|--:|--:|--:|--:|:--|:--|")
    for name, recipe in recipes.items():
        for row in rows(Case.read(options.cache / "cases" / name), recipe, options.cache / "runs", how):
            found.append(row)
            print(row, flush=True)
    print("", *(f"- {line}" for line in summary(found)), sep="\n")
    own = [row for row in found if not row.stranger]
    if options.features:
        answered = any(row.answered for row in found if row.stranger)
        return int(answered or any(row.got > row.shot + SPOILT for row in own))
    fine = sum(row.got < row.shot for row in own) >= WANTED * len(own)
    return 0 if fine and not any(row.answer.verdict is Verdict.MATCHED for row in found) else 1


if __name__ == "__main__":
    sys.exit(main())
