"""What an angle shows that the pairs say nothing about."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from huemend.base.arrays import Bool, Float, Float64
from huemend.base.units import AP1_LUMINANCE, FROM_MAD
from huemend.model import Fit, HeldOut, LinearStill, PairedColours, Reason
from huemend.model.reasons import Code
from huemend.options import ValidateOptions
from huemend.view import delta_e2000, measurement_lab

# Every so many pixels of the working picture: shares of a frame do not ask for more.
_STRIDE = 12
# A colour counts as shown by the pairs if at least that many agreeing pairs lie near it. An area that somebody
# marked is many patches, and witness enough.
_WITNESSES = 2
# So many pairs say what a colour of the picture is off by, the more the nearer they are (CIELAB); what one is off
# by beyond that (CIEDE2000) is not the match.
_NEAREST, _ALIKE, _WRONG = 8, 3.0, 12.0
# So many places say what a point of the picture is off by in colour; nearly half of them may be wrong. Two patches
# that still differ by so many stops are hardly one surface.
_AROUND, _ONE_SURFACE = 13, 1.5
# The standard error of a median over that of a mean, where errors are normal.
_OF_MEDIAN = float(np.sqrt(np.pi / 2))


def uncovered_share(still: LinearStill, pairs: PairedColours, fitted: Fit, options: ValidateOptions) -> float:
    """Return the share of an angle's picture whose colours no agreeing pair comes near.

    A match is proven for the colours that both views show. Under a coloured lamp that the hero hardly sees, or on
    a saturated surface that only the angle shows, it is a guess, however good the proof elsewhere.
    """
    rgb, _ = _of_picture(still)
    return float(uncovered_colours(rgb, pairs, fitted, options).sum() / max(len(rgb), 1))


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
    shown, paired = (
        measurement_lab(rgb, view_stops)
        for rgb in (_of_picture(still)[0], np.asarray(pairs.angle_rgb, float)[told])
    )
    distance, near = cKDTree(paired).query(shown, k=_NEAREST)
    weight = np.asarray(pairs.weight, float)[told][near] * np.exp(-0.5 * np.square(distance / _ALIKE)) + 1e-9
    before, after = (
        float((np.average(np.minimum(error[told], _WRONG)[near], axis=1, weights=weight)).mean())
        for error in (held_out.error_before, held_out.error_after)
    )
    return (Code.NO_GAIN.because("picture", after=after, before=before),) if after > before else ()


def turned_by(still: LinearStill, pairs: PairedColours, fitted: Fit, *, view_stops: float) -> float:
    """Return the mean CIEDE2000 by which colours turn over an angle's picture, by all pairs, agreeing or not.

    Where a knee, a lamp or a veil turns a part of the picture, the pairs there are off alike. A match drops them
    as wrong, and what is held out agrees; but pairs that show two surfaces are off by this and that. So a point of
    the picture is off by the median of the places next to it, each the median of its own pairs, over their own
    light, as far as that is beyond twice its error (docs/maths.md, section 7).
    """
    matched, hero = (np.asarray(rgb, float) for rgb in (fitted.match.apply(pairs.angle_rgb), pairs.reference_rgb))
    light, other = (np.maximum(rgb @ AP1_LUMINANCE, 1e-4)[:, None] for rgb in (matched, hero))
    alike = (np.abs(np.log2(light / other))[:, 0] < _ONE_SURFACE) & ~pairs.by_hand
    places = [np.flatnonzero(alike & (pairs.group == group)) for group in np.unique(pairs.group[alike])]
    if len(places) < _AROUND:
        return 0.0
    off = np.clip(hero / other - matched / light, -1, 1)
    rgb, at = _of_picture(still)
    near = cKDTree([pairs.angle_xy[place].mean(0) for place in places]).query(at, k=_AROUND)[1]
    around = np.array([np.median(off[place], axis=0) for place in places])[near]
    turned = np.median(around, axis=1)
    error = _OF_MEDIAN * FROM_MAD * np.median(np.abs(around - turned[:, None]), axis=1) / np.sqrt(_AROUND)
    turned = np.sign(turned) * np.sqrt(np.maximum(np.square(turned) - np.square(2 * error), 0))
    shown = np.asarray(fitted.match.apply(rgb), float)
    meant = np.maximum(shown + (shown @ AP1_LUMINANCE)[:, None] * turned, 0)
    return float(delta_e2000(measurement_lab(shown, view_stops), measurement_lab(meant, view_stops)).mean())


def uncovered_colours(rgb: Float, pairs: PairedColours, fitted: Fit, options: ValidateOptions) -> Bool:
    """Return which colours as shot no agreeing pair comes near, (n, 3) to (n,)."""
    used = np.repeat(np.arange(len(pairs)), np.where(fitted.agrees, np.where(pairs.by_hand, _WITNESSES, 1), 0))
    if len(used) < _WITNESSES:
        return np.ones(len(rgb), bool)
    tree = cKDTree(_chroma(np.asarray(pairs.angle_rgb, float)[used]))
    distance = tree.query(_chroma(rgb), k=_WITNESSES)[0][:, -1]
    return np.asarray(distance > options.covered_within)


def _of_picture(still: LinearStill) -> tuple[Float64, Float64]:
    """Return some pixels of a picture that are not next to black, (n, 3), and where pairs say they lie, (n, 2)."""
    down, across = np.mgrid[
        _STRIDE // 2 : still.rgb.shape[0] : _STRIDE, _STRIDE // 2 : still.rgb.shape[1] : _STRIDE
    ]
    rgb = np.asarray(still.rgb[down, across], float)
    lit = rgb @ AP1_LUMINANCE > 0.01
    return rgb[lit], still.reduced * np.column_stack([across[lit], down[lit]])


def _chroma(rgb: Float) -> Float64:
    """Red over green and blue over green in stops, (n, 2); held short of the noise of dark channels."""
    floor = 0.05 * np.maximum(rgb @ AP1_LUMINANCE, 1e-4)
    log = np.log2(np.maximum(rgb, floor[:, None]))
    out: Float64 = log[:, [0, 2]] - log[:, 1:2]
    return out
