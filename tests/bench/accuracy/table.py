"""Rows of the bench, the table they make, and what in it should worry us."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, field
from typing import Any

from tests.bench.accuracy.score import Score

#: Bounds that the flags use, in CIEDE2000.
WORSE_BY, FALSE_CONFIDENCE, GOOD = 0.1, 1.8, 1.5
#: What an angle should reach: this many times the best possible, plus this.
BEST_FACTOR, BEST_PLUS = 2.0, 0.3
#: What an angle that matches as shot must stay within: CIEDE2000, and stops of exposure.
SETTLED_ERROR, SETTLED_STOPS = 0.3, 0.03

METHODS = ("Reinhard", "M-K", "histogram", "least squares")


@dataclass(frozen=True, kw_only=True)
class Row:
    """One angle: every method's score, and what huemend said.

    ``kind`` is ``solvable``, ``blind`` (shares nothing with the hero) or ``settled`` (matches as shot).
    ``stops_off`` is the distance of the exposure from that of the best possible match; ``proof`` is the mean
    held-out error that huemend stated.
    """

    case: str
    angle: str
    kind: str
    as_shot: Score
    best: Score
    baselines: dict[str, Score] = field(default_factory=dict)
    huemend: Score | None = None
    verdict: str = ""
    reasons: tuple[str, ...] = ()
    rung: str = ""
    proof: float | None = None
    upper: float | None = None
    stops_off: float | None = None
    pairs: int = 0
    seconds: float | None = None
    megabytes: float | None = None
    error: str = ""

    @property
    def label(self) -> str:
        return f"{self.case}/{self.angle}"

    @property
    def bound(self) -> float:
        """The error that a solvable angle should stay within."""
        return BEST_FACTOR * self.best.mean + BEST_PLUS


def markdown(rows: list[Row]) -> str:
    """The table as markdown, one row an angle; all figures but the last columns are CIEDE2000."""
    head = [
        "angle", "as shot", *METHODS, "**huemend**", "p95", "skin", "neutrals", "saturated",
        "best possible", "stops off", "said", "rung", "verdict", "s", "MB",
    ]  # fmt: skip
    lines = ["| " + " | ".join(head) + " |", "|" + "|".join([":--"] + ["--:"] * (len(head) - 1)) + "|"]
    for row in rows:
        got = row.huemend
        cells = [row.label if row.kind == "solvable" else f"{row.label} ({row.kind})", _two(row.as_shot.mean)]
        cells += [_two(row.baselines[name].mean) if name in row.baselines else "-" for name in METHODS]
        if got is None:
            cells += ["-"] * 5
        else:
            skin = [_two(value) for value in got.skin.values()] or [_two(got.parts.get("skin"))]
            cells += [f"**{_two(got.mean)}**", _two(got.p95), "/".join(skin)]
            cells += [_two(got.parts.get("neutrals")), _two(got.parts.get("saturated"))]
        cells += [_two(row.best.mean), _signed(row.stops_off), _two(row.proof), row.rung or "-"]
        cells += [row.verdict or row.error or "-", _one(row.seconds), _whole(row.megabytes)]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


def flags(rows: list[Row]) -> list[str]:
    """What is wrong, a sentence each; empty if nothing is."""
    found = []
    for row in rows:
        if row.error:
            found.append(f"{row.label}: no answer ({row.error})")
            continue
        got = row.huemend
        if got is None:
            continue
        if row.kind == "blind":
            if row.verdict != "unsolved":
                found.append(f"{row.label}: shares nothing with the hero, yet the verdict is {row.verdict}")
            continue
        if got.mean > row.as_shot.mean + WORSE_BY:
            found.append(f"{row.label}: worse than as shot ({got.mean:.2f} after, {row.as_shot.mean:.2f} before)")
        if row.verdict == "matched" and got.mean > FALSE_CONFIDENCE:
            found.append(f"{row.label}: false confidence, matched at {got.mean:.2f}")
        if row.kind == "settled":
            if got.mean > row.as_shot.mean + SETTLED_ERROR or abs(row.stops_off or 0.0) > SETTLED_STOPS:
                found.append(f"{row.label}: matched as shot, and was moved to {got.mean:.2f}")
        elif got.mean > row.bound:
            found.append(f"{row.label}: {got.mean:.2f}, best possible {row.best.mean:.2f} (bound {row.bound:.2f})")
    return found


def summary(rows: list[Row]) -> list[str]:
    """The bench in a few lines."""
    solvable = [row for row in rows if row.kind != "blind"]
    judged = [(row, row.huemend) for row in solvable if row.huemend is not None]
    lines = [f"{len(rows)} angles in {len({row.case for row in rows})} setups, {len(solvable)} of them solvable"]
    if not judged:
        return lines
    mean = sum(got.mean for _, got in judged) / len(judged)
    shot = sum(row.as_shot.mean for row, _ in judged) / len(judged)
    best = sum(row.best.mean for row, _ in judged) / len(judged)
    worst_row, worst = max(judged, key=lambda item: item[1].mean)
    lines.append(
        f"huemend: mean {mean:.2f} over solvable angles (as shot {shot:.2f}, best possible {best:.2f}), "
        f"worst {worst.mean:.2f} ({worst_row.label})"
    )
    for name in METHODS:
        scores = [(row.baselines[name].mean, row.as_shot.mean) for row in solvable if name in row.baselines]
        if scores:
            worsened = sum(after > before + WORSE_BY for after, before in scores)
            mean = sum(after for after, _ in scores) / len(scores)
            lines.append(f"{name}: mean {mean:.2f}, worse than as shot on {worsened} of {len(scores)}")
    skin = [value for _, got in judged for value in (got.skin.values() or _present(got.parts.get("skin")))]
    if skin:
        lines.append(f"skin: mean {sum(skin) / len(skin):.2f}, worst {max(skin):.2f}")
    within = sum(got.mean <= row.bound for row, got in judged)
    lines.append(f"within {BEST_FACTOR:g} times the best possible plus {BEST_PLUS:g}: {within} of {len(judged)}")
    good = [row for row, got in judged if got.mean < GOOD]
    for verdict in ("review", "unsolved"):
        held_back = [row.label for row in good if row.verdict == verdict]
        lines.append(
            f"good angles (under {GOOD:g}) that got `{verdict}`: {len(held_back)} of {len(good)}"
            + (f" ({', '.join(held_back)})" if held_back else "")
        )
    confident = [got.mean for row, got in judged if row.verdict == "matched"]
    if confident:
        lines.append(f"`matched`: {len(confident)} angles, worst truth {max(confident):.2f}")
    return lines


def record(rows: list[Row]) -> dict[str, Any]:
    """Everything the table holds and more, for ``--json``."""
    return {"angles": [asdict(row) for row in rows], "flags": flags(rows), "summary": summary(rows)}


def _present(value: float | None) -> list[float]:
    return [] if value is None else [value]


def _two(value: float | None) -> str:
    return "-" if value is None or math.isnan(value) else f"{value:.2f}"


def _one(value: float | None) -> str:
    return "-" if value is None or math.isnan(value) else f"{value:.1f}"


def _signed(value: float | None) -> str:
    return "-" if value is None else f"{value:+.3f}"


def _whole(value: float | None) -> str:
    return "-" if value is None or math.isnan(value) else f"{value:.0f}"
