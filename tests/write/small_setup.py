"""A small invented setup, its result put together by hand: one angle matched, one to review, one unsolved."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from huemend.base.originals import Guard
from huemend.model import (
    Angle,
    AngleResult,
    ErrorSummary,
    HeldOut,
    InputFile,
    Interval,
    LinearStill,
    Match,
    PairedColours,
    Reason,
    Rung,
    Setup,
    SetupResult,
    Uncertainty,
    Verdict,
)
from huemend.options import MatchOptions, WriteOptions
from huemend.write.folder import OutputFolder
from huemend.write.results import finish_result, write_luts

MATCH = Match.from_matrix(1.3 * np.array([[1.05, -0.05, 0.01], [0.02, 0.95, 0.03], [-0.01, 0.04, 1.08]]))
ENCODINGS = {
    "wide": "LogC4/AWG4",
    "left": "S-Log3/S-Gamut3.Cine",
    "right": "V-Log/V-Gamut",
    "top": "F-Log2/F-Gamut",
}
VERDICTS = {"left": Verdict.MATCHED, "right": Verdict.REVIEW, "top": Verdict.UNSOLVED}


def a_still(name: str, seed: int) -> LinearStill:
    rng = np.random.default_rng(seed)
    rgb = (0.01 * 60 ** rng.random((24, 32, 3))).astype(np.float32)
    valid = np.ones((24, 32), bool)
    valid[:2] = False
    return LinearStill(
        rgb=rgb, valid=valid, clipped=~valid, angle=name, moment=0, source=f"{name}.png", full_size=(24, 32)
    )


def some_pairs(name: str, rgb: np.ndarray, match: Match) -> PairedColours:
    n = len(rgb)
    return PairedColours(
        reference="wide",
        angle=name,
        source="features",
        reference_rgb=match.apply(rgb),
        angle_rgb=rgb,
        weight=np.ones(n),
        reference_xy=np.zeros((n, 2)),
        angle_xy=np.zeros((n, 2)),
        radius=np.ones((n, 2)),
        noise=np.zeros((n, 2)),
        moment=np.zeros(n, int),
        group=np.arange(n),
        label=np.full(n, ""),
        found=100,
        matched=60,
        rejected={"colour": 3, "angle": 1},
    )


def an_angle(angle: Angle, still: LinearStill, verdict: Verdict) -> AngleResult:
    rgb = still.rgb[still.valid][::20].astype(float)
    pairs = some_pairs(angle.name, rgb, MATCH)
    solved = verdict is not Verdict.UNSOLVED
    some = Interval(low=-0.1, high=0.1)
    summary = ErrorSummary(mean=1.0, p95=2.0, n=len(rgb))
    return AngleResult(
        angle=angle,
        verdict=verdict,
        reasons=() if verdict is Verdict.MATCHED else (Reason(code="few-samples", text="Too few.", todo="Look."),),
        match=MATCH if solved else None,
        candidate=None if solved else MATCH,
        rung=Rung.MATRIX,
        explained="The evidence asks for a channel mix.",
        uncertainty=Uncertainty(
            exposure_stops=some,
            red_green_stops=some,
            blue_green_stops=some,
            skin_error=0.5,
            neutral_error=0.4,
            saturated_error=float("nan"),
        )
        if solved
        else None,
        held_out=HeldOut(
            before=ErrorSummary(mean=6.0, p95=9.0, n=len(rgb)),
            after=summary,
            upper=float("inf") if verdict is Verdict.REVIEW else 1.2,
            error_before=np.full(len(rgb), 6.0),
            error_after=np.full(len(rgb), 1.0),
            fold=np.zeros(len(rgb), int),
            areas={"skin": (summary, summary)},
        )
        if solved
        else None,
        pairs=pairs,
        agrees=np.ones(len(rgb), bool),
    )


def a_result(
    folder: Path, *, name: str = "glaze-table", range: str = "full", names: dict[str, str] | None = None
) -> SetupResult:
    """Return the result; ``names`` renames angles, ``range`` is that of all media."""
    names = names or {}
    angles = tuple(
        Angle(name=names.get(key, key), media=(folder / f"{key}.png",), encoding=encoding, range=range)
        for key, encoding in ENCODINGS.items()
    )
    stills = {angle.name: (a_still(angle.name, seed),) for seed, angle in enumerate(angles)}
    verdicts = {names.get(key, key): verdict for key, verdict in VERDICTS.items()}
    return SetupResult(
        setup=Setup(name=name, hero=angles[0].name, angles=angles, source=folder / "setup.toml"),
        view_stops=-0.5,
        angles=tuple(an_angle(angle, stills[angle.name][0], verdicts[angle.name]) for angle in angles[1:]),
        stills=stills,
        inputs=tuple(
            InputFile(
                angle=angle.name,
                moment=0,
                source=str(angle.media[0]),
                sha256="0" * 64,
                bit_depth=16,
                size=(24, 32),
                range=range,
            )
            for angle in angles
        ),
    )


def hand_over(
    result: SetupResult, out: Path, options: WriteOptions, pages: Mapping[str, bytes] | None = None
) -> dict[str, Any]:
    """Write a result's LUTs and its record, and whatever stands in for the pages; return the record."""
    with OutputFolder(out, Guard()) as folder:
        handed = write_luts(result, folder, options)
        return finish_result(result, folder, handed, pages or {}, MatchOptions(write=options))
