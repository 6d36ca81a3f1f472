"""From cases to rows: run huemend and the baselines and score them all alike."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.model import Match
from tests.bench.accuracy import baselines
from tests.bench.accuracy.best import best_matrix
from tests.bench.accuracy.cases import Camera, Case
from tests.bench.accuracy.run import Run, Solved, run
from tests.bench.accuracy.score import Apply, as_shot, by_cube, by_matrix, score
from tests.bench.accuracy.table import Row


def bench(cases: list[Case], scratch: Path, *, luts: Path | None = None, solve: bool = True) -> Iterator[Row]:
    """Yield a row an angle.

    Parameters
    ----------
    scratch : Path
        Takes setup files, the runs' logs, and the best possible matches, which are kept from run to run.
    luts : Path, optional
        Score the cubes in ``luts/<case>/luts`` (or ``luts/luts``) instead of running huemend.
    solve : bool
        False leaves huemend out and scores the baselines only.
    """
    for case in cases:
        folder = scratch / case.name
        answer = run(case.setup_file(folder), folder) if solve and luts is None else None
        hero = case[case.hero].linear()
        for camera in case.angles:
            yield _row(case, camera, hero, answer, folder, luts)


def _row(
    case: Case, camera: Camera, hero: NDArray[np.float64], answer: Run | None, scratch: Path, luts: Path | None
) -> Row:
    truth = case.truth(camera.name)
    people = case.people
    best = _kept_best(case, camera.name, scratch)
    picture = camera.linear()
    others = {name: method(hero, picture) for name, method in baselines.WHOLE_FRAME.items()}
    said: dict[str, Any] = {}
    solved = answer.angles.get(camera.name) if answer else None
    apply: Apply | None = None
    if luts is not None:
        found = sorted(luts.glob(f"{case.name}/luts/*_{camera.name}_match.cube"))
        found = found or sorted(luts.glob(f"luts/{case.name}_{camera.name}_match.cube"))
        apply = by_cube(found[0], camera.encoding, legal=camera.range == "legal") if found else as_shot
    elif answer is not None and answer.error:
        said["error"] = answer.error
    elif solved is not None:
        match = _match(solved)
        apply = match.apply
        if len(solved.angle_rgb) >= 3:
            others["least squares"] = baselines.least_squares(solved.reference_rgb, solved.angle_rgb)
        stops = Match.from_matrix(best).exposure_stops
        said.update(
            verdict=solved.verdict,
            reasons=solved.reasons,
            rung=solved.rung,
            stops_off=match.exposure_stops - stops,
            pairs=len(solved.angle_rgb),
        )
        if solved.held_out:
            said.update(proof=solved.held_out["after"], upper=solved.held_out["upper"])
    if answer is not None:
        said.update(seconds=answer.seconds, megabytes=answer.megabytes)
    return Row(
        case=case.name,
        angle=camera.name,
        kind="blind" if camera.name in case.blind else "settled" if camera.name in case.settled else "solvable",
        as_shot=score(truth, as_shot, people),
        best=score(truth, by_matrix(best), people),
        baselines={name: score(truth, method, people) for name, method in others.items()},
        huemend=score(truth, apply, people) if apply else None,
        **said,
    )


def _match(solved: Solved) -> Match:
    """The match that would be applied: an angle without one is left as shot."""
    if solved.match is None:
        return Match()
    return Match(
        exposure_stops=solved.match["exposure_stops"],
        matrix=np.array(solved.match["matrix"]),
        flare=np.array(solved.match["flare"]),
        contrast=solved.match["contrast"],
        roots=np.array(solved.match["roots"]),
    )


def _kept_best(case: Case, angle: str, scratch: Path) -> NDArray[np.float64]:
    """The best possible match; it depends on the truth alone, so it is kept beside that file's hash."""
    digest = hashlib.sha256(case.truth_file(angle).read_bytes()).hexdigest()[:16]
    kept = scratch / f"best_{angle}_{digest}.npy"
    if kept.exists():
        return np.asarray(np.load(kept), float)
    matrix = best_matrix(case.truth(angle))
    scratch.mkdir(parents=True, exist_ok=True)
    np.save(kept, matrix)
    return matrix
