"""The closest ASC CDL to a match, for places that take no LUT.

Formula and XML after the ASC Color Decision List, release 1.2 (2009): slope, offset and power for each
channel, clamped to 0..1, then saturation about the Rec. 709 luma, clamped again. A CDL has no channel mix, so
it cannot carry the 3x3; what it loses is measured in CIEDE2000 over the setup's own colours.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

from huemend.base.arrays import Float, Float64, three
from huemend.base.text import xml_text
from huemend.base.units import BT709_LUMA
from huemend.encodings.registry import find_working_encoding
from huemend.model import Match, Verdict
from huemend.view import delta_e2000, measurement_lab
from huemend.write.luts.kinds import LutBasis, colours_held
from huemend.write.luts.notes import mean_and_p95

_DECIMALS = 6


@dataclass(frozen=True, kw_only=True)
class Cdl:
    """Ten numbers; those of the identity by default."""

    slope: tuple[float, float, float] = (1.0, 1.0, 1.0)
    offset: tuple[float, float, float] = (0.0, 0.0, 0.0)
    power: tuple[float, float, float] = (1.0, 1.0, 1.0)
    saturation: float = 1.0


@dataclass(frozen=True, kw_only=True)
class CdlEntry:
    """One angle's CDL, as files carry it."""

    #: Names the correction in a collection.
    id: str
    cdl: Cdl
    #: The space and range that the CDL works in.
    input: str
    description: str
    #: CIEDE2000 between the CDL and the match, over the setup's own colours.
    mean: float
    p95: float


def cdl_entry(basis: LutBasis, match: Match, stem: str) -> CdlEntry:
    """Fit the closest CDL in the working space to what the match does to this angle's own colours."""
    name, result = basis.name, basis.result
    found = result[name]
    working = find_working_encoding(basis.options.working_encoding)
    half = basis.options.cdl_colours // 2
    shared = found.pairs.angle_rgb[found.agrees]
    held = np.concatenate(
        [colours_held(result.stills.get(name, ()), half), shared[:: max(1, -(-len(shared) // half))]]
    )
    before, after = working.encode(held, range="full"), working.encode(match.apply(held), range="full")

    def difference(one: Float, other: Float) -> Float:
        light = (working.decode(codes, range="full") for codes in (one, other))
        return delta_e2000(*(measurement_lab(rgb, result.view_stops) for rgb in light))

    cdl = closest_cdl(before, after, difference)
    mean, p95 = mean_and_p95(difference(apply_cdl(cdl, before), after))
    mark = "REVIEW before use: " if found.verdict is Verdict.REVIEW else ""
    lacks = "" if basis.shoulder is None else "; no neutral highlights"
    return CdlEntry(
        id=stem,
        cdl=cdl,
        input=f"{working.name}, full range",
        description=(
            f"{mark}closest CDL to the match of {name} to {result.setup.hero}; a CDL has no channel mix and "
            f"misses the match by {mean:.2f} CIEDE2000 (p95 {p95:.2f}){lacks}; "
            "the CDL or the match LUT, never both"
        ),
        mean=mean,
        p95=p95,
    )


def apply_cdl(cdl: Cdl, codes: Float) -> Float64:
    """Apply a CDL to (..., 3) codes of its log space, with the clamps that the release asks for.

    >>> apply_cdl(Cdl(slope=(2, 2, 2), offset=(0.1, 0, 0)), np.array([0.2, 0.3, 0.9])).round(6).tolist()
    [0.5, 0.6, 1.0]
    """
    out = np.clip(np.asarray(codes, float) * np.array(cdl.slope) + np.array(cdl.offset), 0.0, 1.0)
    out = out ** np.array(cdl.power)
    # Its saturation is defined with these weights, whatever space it works in.
    luma = (out @ BT709_LUMA)[..., None]
    return np.asarray(np.clip(luma + cdl.saturation * (out - luma), 0.0, 1.0))


def closest_cdl(before: Float, after: Float, difference: Callable[[Float, Float], Float]) -> Cdl:
    """Find the CDL that comes closest to what a match does, rounded as files write it.

    ``before`` and ``after`` are (n, 3) code values of one log space, without and with the match; ``difference``
    gives the colour differences, (n,), of two such, whose squares are made least.
    """
    before, after = np.asarray(before, float), np.asarray(after, float)
    if len(before) == 0 or np.array_equal(before, after):
        return Cdl()
    metric = _metric(after, difference)

    def residual(numbers: Float) -> Float:
        out: Float = np.einsum("nij,nj->ni", metric, apply_cdl(_cdl(numbers), before) - after).ravel()
        return out

    fitted = _cdl(_least_squares(residual, np.zeros(10)))
    return Cdl(
        slope=_rounded(fitted.slope),
        offset=_rounded(fitted.offset),
        power=_rounded(fitted.power),
        saturation=round(fitted.saturation, _DECIMALS),
    )


def _least_squares(residual: Callable[[Float], Float], start: Float) -> Float:
    """Return the numbers that make the sum of a residual's squares least, by Levenberg and Marquardt (1963).

    SciPy finds none that leave less, which a test holds it to; but to load its optimizers takes five times as long
    as all else that a CDL needs, and a fifth of the time in which a nudged match is written again.
    """
    numbers, off, damping, nudge = start, residual(start), 1e-3, 1e-5
    while damping < 1e9:
        slopes = [residual(numbers + each) - residual(numbers - each) for each in nudge * np.eye(len(start))]
        slope = np.stack(slopes, axis=1) / (2 * nudge)
        normal, pull = slope.T @ slope, slope.T @ off
        # Where the clamps leave a number without any say, it stays.
        scale = np.diag(np.maximum(np.diag(normal), 1e-12))
        while damping < 1e9:
            step = np.linalg.solve(normal + damping * scale, pull)
            tried = residual(numbers - step)
            if tried @ tried < off @ off:
                numbers, off, damping = numbers - step, tried, damping / 10
                break
            damping *= 10
        if np.abs(step).max() < 1e-9:
            break
    return numbers


def _metric(codes: Float, difference: Callable[[Float, Float], Float]) -> Float64:
    """Return for each colour W, (3, 3), with ``difference(codes, codes + d) ~ |W @ d|`` for small d.

    The square of a colour difference is a quadratic form in a small change; six differences at each colour give
    its six numbers. So the fit needs six evaluations of CIEDE2000 instead of thousands, and a smooth residual.
    """
    step = 2e-3
    form = np.zeros((len(codes), 3, 3))

    def squared(change: Float64) -> Float64:
        # Colours that the view clips have no difference to tell; they do not pull then.
        return np.asarray(np.nan_to_num(difference(codes, codes + change)) ** 2)

    for i in range(3):
        form[:, i, i] = squared(step * np.eye(3)[i]) / step**2
    for i, j in ((0, 1), (0, 2), (1, 2)):
        both = squared(step * (np.eye(3)[i] + np.eye(3)[j])) / step**2
        form[:, i, j] = form[:, j, i] = (both - form[:, i, i] - form[:, j, j]) / 2
    strength, axes = np.linalg.eigh(form)
    root = np.sqrt(np.maximum(strength, 0.0))
    return np.asarray(root[:, :, None] * np.swapaxes(axes, 1, 2))


def _cdl(numbers: Float) -> Cdl:
    """Return the CDL of ten free numbers: logarithms of what must be positive, and the offsets as they are."""
    positive = np.exp(np.clip(numbers, -4.0, 4.0))
    return Cdl(
        slope=three(positive[:3]),
        offset=three(numbers[3:6]),
        power=three(positive[6:9]),
        saturation=float(positive[9]),
    )


def _rounded(values: tuple[float, float, float]) -> tuple[float, float, float]:
    # Adding zero turns -0.0 into 0.0.
    return three(np.round(values, _DECIMALS) + 0.0)


def ccc_text(entries: Sequence[CdlEntry]) -> str:
    """Return a Color Correction Collection, one correction an angle."""
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', '<ColorCorrectionCollection xmlns="urn:ASC:CDL:v1.01">']
    for entry in entries:
        lines += [
            f'  <ColorCorrection id="{escape(xml_text(entry.id))}">',
            f"    <Description>{escape(xml_text(entry.description))}</Description>",
            f"    <InputDescription>{escape(xml_text(entry.input))}</InputDescription>",
            "    <SOPNode>",
            f"      <Slope>{_numbers(entry.cdl.slope)}</Slope>",
            f"      <Offset>{_numbers(entry.cdl.offset)}</Offset>",
            f"      <Power>{_numbers(entry.cdl.power)}</Power>",
            "    </SOPNode>",
            "    <SatNode>",
            f"      <Saturation>{_numbers([entry.cdl.saturation])}</Saturation>",
            "    </SatNode>",
            "  </ColorCorrection>",
        ]
    return "\n".join([*lines, "</ColorCorrectionCollection>", ""])


def edl_comments(cdl: Cdl) -> tuple[str, str]:
    """Return the two comment lines that carry a CDL in a CMX3600 EDL.

    >>> edl_comments(Cdl())[1]
    '*ASC_SAT 1.000000'
    """
    sop = "".join(f"({_numbers(part)})" for part in (cdl.slope, cdl.offset, cdl.power))
    return f"*ASC_SOP {sop}", f"*ASC_SAT {_numbers([cdl.saturation])}"


def _numbers(values: Sequence[float]) -> str:
    return " ".join(f"{value:.{_DECIMALS}f}" for value in values)
