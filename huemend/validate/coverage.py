"""What an angle shows that the pairs say nothing about."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from huemend.base.arrays import Bool, Float, Float64
from huemend.base.units import AP1_LUMINANCE
from huemend.model import Fit, HeldOut, LinearStill, PairedColours, Reason
from huemend.model.reasons import Code
from huemend.options import ValidateOptions
from huemend.view import measurement_lab

# Every so many pixels of the working picture: shares of a frame do not ask for more.
_STRIDE = 12
# A colour counts as shown by the pairs if at least that many agreeing pairs lie near it. An area that somebody
# marked is many patches, and witness enough.
_WITNESSES = 2
# So many pairs say what a colour of the picture is off by, the more the nearer they are (CIELAB); what one is off
# by beyond that (CIEDE2000) is not the match.
_NEAREST, _ALIKE, _WRONG = 8, 3.0, 12.0


def uncovered_share(still: LinearStill, pairs: PairedColours, fitted: Fit, options: ValidateOptions) -> float:
    """Return the share of an angle's picture whose colours no agreeing pair comes near.

    A match is proven for the colours that both views show. Under a coloured lamp that the hero hardly sees, or on
    a saturated surface that only the angle shows, it is a guess, however good the proof elsewhere.
    """
    rgb = np.asarray(still.rgb[_STRIDE // 2 :: _STRIDE, _STRIDE // 2 :: _STRIDE], float)
    lit = rgb @ AP1_LUMINANCE > 0.01
    uncovered = lit & uncovered_colours(rgb.reshape(-1, 3), pairs, fitted, options).reshape(lit.shape)
    return float(uncovered.sum() / max(lit.sum(), 1))


def picture_lost(
    still: LinearStill, pairs: PairedColours, held_out: HeldOut, *, view_stops: float
) -> tuple[Reason, ...]:
    """Return that an angle's picture ends further off than as shot, by all pairs, whether they agree or not.

    Where a part of the picture is veiled, what agrees lies in the other one. Each colour of the picture is off by
    what pairs of colours next to it are, held out (docs/maths.md, section 7).
    """
    told = np.isfinite(held_out.error_after) & ~pairs.by_hand
    if told.sum() < _NEAREST:
        return ()
    rgb = np.asarray(still.rgb[_STRIDE // 2 :: _STRIDE, _STRIDE // 2 :: _STRIDE], float).reshape(-1, 3)
    shown, paired = (
        measurement_lab(each, view_stops)
        for each in (rgb[rgb @ AP1_LUMINANCE > 0.01], np.asarray(pairs.angle_rgb, float)[told])
    )
    distance, near = cKDTree(paired).query(shown, k=_NEAREST)
    weight = np.asarray(pairs.weight, float)[told][near] * np.exp(-0.5 * np.square(distance / _ALIKE)) + 1e-9
    before, after = (
        float((np.average(np.minimum(error[told], _WRONG)[near], axis=1, weights=weight)).mean())
        for error in (held_out.error_before, held_out.error_after)
    )
    return (Code.NO_GAIN.because("picture", after=after, before=before),) if after > before else ()


def uncovered_colours(rgb: Float, pairs: PairedColours, fitted: Fit, options: ValidateOptions) -> Bool:
    """Return which colours as shot no agreeing pair comes near, (n, 3) to (n,)."""
    used = np.repeat(np.arange(len(pairs)), np.where(fitted.agrees, np.where(pairs.by_hand, _WITNESSES, 1), 0))
    if len(used) < _WITNESSES:
        return np.ones(len(rgb), bool)
    tree = cKDTree(_chroma(np.asarray(pairs.angle_rgb, float)[used]))
    distance = tree.query(_chroma(rgb), k=_WITNESSES)[0][:, -1]
    return np.asarray(distance > options.covered_within)


def _chroma(rgb: Float) -> Float64:
    """Red over green and blue over green in stops, (n, 2); held short of the noise of dark channels."""
    floor = 0.05 * np.maximum(rgb @ AP1_LUMINANCE, 1e-4)
    log = np.log2(np.maximum(rgb, floor[:, None]))
    out: Float64 = log[:, [0, 2]] - log[:, 1:2]
    return out
