"""Doubts about a match, gathered: by figures of its proof, and by what its pictures show that no match can mend.

Where each kind of reason is found out:

- by a figure of the proof: `doubts_of`, here;
- by the pictures of an angle and its hero: `doubts_of_pictures`, here, each measured in a module of this package;
- by the pairs, that no match can be believed (``NoFit.reasons``: too few, at odds, a balance that no two cameras
  have): `huemend.solve.fit_doubts`, and by light and dark `slope_reasons` of `huemend.validate.encoding_doubt`;
- by the fit itself (a strange mix, areas by hand, a contrast, a camera left on another lamp's white balance):
  ``Fit.doubts``, in `huemend.solve.fit`;
- by what somebody wished: `huemend.flow.wishes`;
- by the encoding, a picture made for a display, marks, drift, a loan, a missing chart, flare from one side, the
  colours of whole pictures: `huemend.flow.angles`, each measured in a module that it calls;
- by what is known of all of these together (no gain, too thin, a chain): `huemend.validate.decide`;
- by a LUT on other frames: `doubts_delivered`, here.

A new one is measured, called in one of these places, and given a `Code` with its effect on a verdict
(`huemend.model.reasons`) and a sentence (`huemend.model.reason_texts`). DEVELOPERS.md names the tests.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from huemend.base.arrays import picked
from huemend.base.text import counted
from huemend.base.units import NINETY
from huemend.model import Fit, HeldOut, LinearStill, PairedColours, Reason, Uncertainty
from huemend.model.people import is_skin
from huemend.model.reasons import Code
from huemend.options import ValidateOptions
from huemend.validate.lamps import lamp_notes
from huemend.validate.limits import burn_in_notes, clipping_notes
from huemend.validate.proof import Proven
from huemend.validate.second_exposure import second_exposure
from huemend.validate.shading import banding, shading_doubts


def doubts_of(proven: Proven, pairs: PairedColours, uncovered: float, options: ValidateOptions) -> list[Reason]:
    """Return what speaks against a match: what the fit itself doubts, its proof, and what is not covered.

    ``uncovered`` is the share of the angle's picture whose colours no pair covers.
    """
    fitted, held_out = proven.fit, proven.held_out
    doubts, after = list(fitted.doubts), held_out.after
    if after.n < options.fewest_surfaces and all(doubt.code != Code.BY_HAND for doubt in doubts):
        doubts.append(Code.FEW_SURFACES.because(surfaces=counted(after.n, "surface")))
    if max(after.mean, held_out.upper) > options.matched_mean:
        doubts.append(_loose(after.mean, held_out.upper, options.matched_mean))
    areas = _areas("", held_out, pairs, fitted.uncertainty.skin_error, options)
    # That what stays as shot differs from the hero is what was asked for.
    kept = {
        each.label for each in (*doubts, *fitted.notes) if each.code in (Code.KEPT_AS_SHOT, Code.STAYS_AS_SHOT)
    }
    doubts += [each for each in areas if each.label not in kept and not ("skin" in kept and is_skin(each.label))]
    judging = ~pairs.marked_beside
    agreeing = float(np.average(fitted.agrees[judging], weights=pairs.weight[judging]))
    if agreeing < options.least_agreeing:
        doubts.append(Code.DIVIDED.because(share=agreeing))
    if uncovered > options.most_uncovered:
        doubts.append(Code.UNCOVERED.because(share=uncovered))
    return doubts + _uncertain(fitted.uncertainty, options)


def doubts_of_pictures(
    hero: LinearStill,
    shots: Sequence[LinearStill],
    pairs: PairedColours,
    fitted: Fit,
    options: ValidateOptions,
    *,
    view_stops: float,
) -> tuple[Reason, ...]:
    """Return what the pictures of an angle and its hero show that no match can mend."""
    lit = picked(shots, options.lamp_moments)
    extent = shots[0].extent
    second = second_exposure(extent, pairs, fitted, options)
    return (
        *burn_in_notes(pairs),
        *clipping_notes(hero, shots[0], fitted.match, options, view_stops=view_stops),
        *shading_doubts(extent, pairs, fitted, options),
        # A part that is lit otherwise is half a wave, too.
        *(second or banding(extent, pairs, fitted, options)),
        *lamp_notes(lit, pairs, fitted, options, view_stops=view_stops),
    )


def doubts_delivered(
    held_out: HeldOut, pairs: PairedColours, skin_error: float, options: ValidateOptions
) -> list[Reason]:
    """Return what speaks against a delivered LUT on other frames, by their pairs.

    ``skin_error`` is what its match was known to on skin when it was made.
    """
    doubts, before, after = [], held_out.before.mean, held_out.after
    if after.n < options.fewest_surfaces:
        doubts.append(Code.FEW_SURFACES.because("delivered", surfaces=counted(after.n, "surface")))
    if max(after.mean, held_out.upper) > options.matched_mean:
        upper, limit = above(max(after.mean, held_out.upper), options.matched_mean)
        doubts.append(Code.LOOSE.because("delivered", after=after.mean, upper=upper, before=before, limit=limit))
    return doubts + _areas("delivered", held_out, pairs, skin_error, options)


def _areas(
    case: str, held_out: HeldOut, pairs: PairedColours, skin_error: float, options: ValidateOptions
) -> list[Reason]:
    """Say which areas are shown to be off by more than passes."""
    limits = dict.fromkeys(pairs.label[pairs.by_hand].tolist(), options.shown_area)
    marked_with_light = pairs.marked_beside & pairs.says_light
    limits |= dict.fromkeys(pairs.label[marked_with_light].tolist(), options.shown_mark)
    of_faces, over = _passes_on_a_face(skin_error, options), []
    for label, error in held_out.areas_off.items():
        if error > (passes := limits.get(label, of_faces)):
            figure, limit = above(error, passes)
            over.append(Code.AREA.because(case, label=label, error=figure, limit=limit))
    return over


def _loose(mean: float, upper: float, limit: float) -> Reason:
    """Say by how much colours differ that were held out: too much, or perhaps too much."""
    if mean > limit:
        figure, passes = above(mean, limit)
        return Code.LOOSE.because(after=figure, upper=upper, limit=passes)
    figure, passes = above(upper, limit)
    return Code.LOOSE.because("perhaps", after=mean, upper=figure, limit=passes)


def above(value: float, limit: float) -> tuple[str, str]:
    """Write a value and the limit that it is above; where both read the same, say so in words.

    >>> above(2.31, 1.5), above(1.52, 1.5)
    (('2.3', '1.5'), ('just over 1.5', '1.5'))
    """
    figure, passes = f"{value:.1f}", f"{limit:.1f}"
    return (f"just over {passes}" if figure == passes else figure), passes


def _passes_on_a_face(skin_error: float, options: ValidateOptions) -> float:
    """Return what a face that was found may be shown to be off by.

    What it shows is the match's error and its own light in each view. The surer a match is of skin, the more of it
    is light; at most half is put down to that (docs/maths.md, section 8).
    """
    light = options.face_light * NINETY / max(skin_error, 1e-6)
    return max(options.shown_area, options.matched_area * (1 + min(light**2, 1.0)))


def _uncertain(uncertainty: Uncertainty, options: ValidateOptions) -> list[Reason]:
    kinds = (
        ("skin", uncertainty.skin_error, options.matched_area),
        ("neutrals", uncertainty.neutral_error, options.matched_neutral),
        ("saturated colours", uncertainty.saturated_error, 2 * options.matched_area),
    )
    over = [(name, *above(error, limit)) for name, error, limit in kinds if error > limit]
    unsure = [f"{name} by {error} where {limit} passes" for name, error, limit in over]
    return [Code.UNCERTAIN.because(kinds=", ".join(unsure))] if unsure else []
