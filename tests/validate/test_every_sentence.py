"""Every sentence that a reason can say, with the figures that make it say so, at their limits.

A sentence must be true there: what is more than a limit prints as more, one thing is not "1 colours", and what is
said of a match is what made the reason. The figures come out of the code that gives the reason.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import pytest

from huemend.base.text import percent
from huemend.flow.wishes import _FADED, heed_wishes, wishes_for
from huemend.model import (
    Area,
    HeldOut,
    LeastErrorTrade,
    LinearStill,
    Marks,
    Match,
    NamedPair,
    NoFit,
    PairedColours,
    Reason,
    Rung,
    Verdict,
)
from huemend.model.drift import Track
from huemend.model.fit import ColourFit, Fit
from huemend.model.learnt import Carried
from huemend.model.match import Interval
from huemend.model.reason_texts import TEXTS
from huemend.model.reasons import Code
from huemend.options import CarryOptions, DriftOptions, SolveOptions, ValidateOptions
from huemend.solve import colours as colour_fit
from huemend.solve.fit import _contrast_doubt, _met, fit
from huemend.solve.fit_doubts import against, beyond_presets, by_hand_alone, preset_doubt, strange_mix, too_little
from huemend.solve.lend import still_true
from huemend.solve.marks import Contradiction, marks_beside
from huemend.solve.parameters import PARAMETER_COUNT
from huemend.solve.robust import Estimate
from huemend.solve.uneven_flare import uneven_flare
from huemend.validate.decide import Evidence, decide, decide_delivered
from huemend.validate.drift import compare_cameras, drift_reasons
from huemend.validate.encoding_doubt import slope_reasons
from huemend.validate.limits import burn_in_notes, chart_notes, clipping_notes, rendered_doubts
from huemend.validate.moment_agreement import moment_reasons
from huemend.validate.second_exposure import second_exposure
from huemend.validate.shading import banding, shading_doubts
from huemend.write.report.words import sentence
from tests.solve.made_pairs import MIX, make_pairs, surfaces
from tests.validate.made_fits import a_fit, a_proof, evidence, proving
from tests.validate.test_coverage import lost
from tests.validate.test_second_exposure import one_sided

SOLVE, VALIDATE = SolveOptions(), ValidateOptions()
PAIRS = make_pairs(surfaces(40), surfaces(40))
NONE = PairedColours.empty("wide", "left", "none")
LIFT = Match(exposure_stops=0.504)
#: A hair above, or below, whatever limit.
HAIR = 1e-7


def told(code: Code, known: Evidence) -> Reason:
    """Return the one reason of a code that a verdict is given with."""
    (found,) = [reason for reason in decide(known, VALIDATE).reasons if reason.code == code]
    return found


def proven(proof: HeldOut | None = None, match: Match = LIFT, **more: object) -> Evidence:
    return evidence(PAIRS, a_fit(40, match), proof, **more)


def unsure(**errors: float) -> Evidence:
    return proving(proven(), a_fit(40, LIFT, **errors))


def unseen_from(picture: int) -> Reason:
    """Two cameras that are followed, one of which says nothing any more."""
    track = Track(stops=np.zeros((3, 12)), banding=np.zeros(12))
    gone = replace(track, stops=np.where(np.arange(12) < picture, track.stops, np.nan))
    (reason,) = drift_reasons(
        compare_cameras({"left": gone, "wide": track}, range(12), DriftOptions()), "left", "wide", DriftOptions()
    )
    return reason


def agreeing(share: float) -> Evidence:
    weight = np.where(np.arange(40) < 20, share, 1 - share)
    fitted = a_fit(40, LIFT, used=np.arange(40) < 20)
    return evidence(replace(PAIRS, weight=weight), fitted)


def estimated(*, agree: float = 1.0, red: float = 0.0, blue: float = 0.0) -> Estimate:
    theta = np.zeros(PARAMETER_COUNT)
    theta[1:3] = red, blue
    return Estimate(
        theta=theta, covariance=np.zeros((22, 22)), agree=np.array([agree, 0.0]), shading=0.1, misfit_ratio=1.0
    )


def presets(**balance: float) -> tuple[float, float]:
    return beyond_presets(estimated(**balance), SOLVE)


def met_within_noise() -> Fit:
    """A fit of pairs beside which two areas are marked as they come out."""
    rgb = surfaces(60)
    label = np.array([""] * 58 + ["skin", "cup"])
    pairs = marks_beside(replace(make_pairs(rgb, rgb, label=label), by_hand=label != ""), SOLVE)
    found = fit(pairs, view_stops=0.0)
    assert found
    return found


def shaded(*, corners: float = 0.0, across: float = 0.0, down: float = 0.0) -> tuple[Reason, ...]:
    """Pairs all over an angle that loses so many stops to its corners, or gains so many of red to an edge."""
    place = np.random.default_rng(2).uniform(0, [50, 40], (200, 2))
    away = np.square(place - [25, 20]).sum(1) / (25**2 + 20**2)
    light = surfaces(200)
    shot = light * np.exp2(-corners * away)[:, None]
    shot[:, 0] *= np.exp2(across * place[:, 0] / 50 + down * place[:, 1] / 40)
    pairs = replace(make_pairs(light, shot, group=np.arange(200)), angle_xy=place)
    return shading_doubts(still().extent, pairs, a_fit(200, Match()), VALIDATE)


def flashed(stops: float) -> tuple[Reason, ...]:
    """Pairs all over an angle of which three in ten, at its top, are lit by so many stops more."""
    place = np.column_stack([np.tile(np.linspace(0, 50, 20), 10), np.repeat(np.linspace(0, 40, 10), 20)])
    light = surfaces(200)
    shot = light * np.where(np.arange(200) < 60, 2.0**stops, 1.0)[:, None]
    pairs = replace(make_pairs(light, shot, group=np.arange(200)), angle_xy=place)
    return second_exposure(still().extent, pairs, a_fit(200, Match()), VALIDATE)


def banded(stops: float) -> tuple[Reason, ...]:
    """Pairs all over an angle with three bands of so many stops."""
    place = np.random.default_rng(2).uniform(0, [50, 40], (200, 2))
    light = surfaces(200)
    shot = light * np.exp2(stops * np.sin(6 * np.pi * place[:, 1:] / 40))
    pairs = replace(make_pairs(light, shot, group=np.arange(200)), angle_xy=place)
    return banding(still().extent, pairs, a_fit(200, Match()), VALIDATE)


def uneven() -> tuple[Reason, ...]:
    """Pairs all over an angle under flare from its left edge, a third of its mean light there."""
    place = np.random.default_rng(2).uniform(0, [50, 40], (200, 2))
    light = surfaces(200)
    shot = light + 0.3 * np.exp(-3 * place[:, :1] / 50)
    pairs = replace(make_pairs(light, shot, group=np.arange(200)), angle_xy=place)
    return uneven_flare(pairs, still(), SOLVE)


def marked(count: int, found: int = 0, weight: float = 1.0) -> PairedColours:
    rgb = surfaces(count + found)
    pairs = make_pairs(rgb, rgb, group=np.arange(count + found), weight=np.full(count + found, weight))
    return marks_beside(replace(pairs, by_hand=np.arange(count + found) < count), SOLVE)


def chained(through: Verdict, upper: float | None) -> Evidence:
    from huemend.model import Angle, AngleResult
    from tests.solve.certain import NO_UNCERTAINTY

    before = AngleResult.without_match(Angle(name="left", media=(), encoding="ACEScct"), PAIRS, ())
    if through is not Verdict.UNSOLVED:
        proof = None if upper is None else a_proof(upper=upper)
        before = replace(before, verdict=through, match=LIFT, held_out=proof, uncertainty=NO_UNCERTAINTY)
    return proven(a_proof(upper=0.9), through=before)


def lent(mix: int, balance: int) -> Evidence:
    names = tuple(f"setup {number}" for number in range(1, mix + 1))
    carried = Carried(mean=np.zeros(9), covariance=np.eye(9), balance=names[mix - balance :], mix=names)
    return proven(lent=carried)


def refused() -> Reason:
    """Two cameras that the day knows as quite others than they show here."""
    rgb = surfaces(160, seed=3)
    pairs = make_pairs(Match.from_matrix(MIX).apply(rgb), rgb)
    mean = np.zeros(9)
    mean[3:] = 0.4
    carried = Carried(mean=mean, covariance=1e-4 * np.eye(9), balance=(), mix=("kitchen",))
    assert still_true(pairs, carried, SOLVE, CarryOptions()) is None
    return told(Code.CAMERAS_CHANGED, proven(refused=(Code.CAMERAS_CHANGED.because(names=carried.named),)))


def contradicting(pictures: bool, exposure: float = 0.5, marks: Marks | None = None) -> Reason:
    found = Contradiction(
        label="skin",
        moment=0,
        reference_xy=np.zeros(2),
        angle_xy=np.zeros(2),
        radius=np.ones(2),
        pictures=pictures,
        alone=np.array([exposure, -0.004, 0.2]),
        others=np.array([-0.25, 0.0, 0.0]),
        off=1.0 + HAIR,
    )
    return found.reason(still(), still(), wishes=wishes_for("skin", NONE, marks or Marks()))


def still(clipped: float = 0.0) -> LinearStill:
    rgb = np.full((40, 50, 3), 0.2, np.float32)
    mask = (np.arange(2000) < round(2000 * clipped)).reshape(40, 50)
    rgb[mask] = 0.9
    bright = np.where(mask[..., None], rgb, 0.95) if not clipped else rgb
    return LinearStill(
        rgb=bright.astype(np.float32),
        valid=~mask,
        clipped=mask,
        angle="left",
        moment=0,
        source="left.png",
        full_size=(40, 50),
    )


def wished(*, alone: bool = False, **wish: object) -> Reason:
    """What comes of a wish about cups, of 40 pairs of them among 200 others, or of nothing else."""
    rgb = surfaces(240, seed=1)
    mix = Match.from_matrix(np.array([[1.12, -0.10, -0.02], [0.03, 0.92, 0.05], [-0.02, -0.08, 1.10]]))
    apart = np.where(np.arange(240)[:, None] < 40, [1.04, 1.0, 0.97], 1.0)
    group = np.random.default_rng(2).permutation(240) // 4
    label = np.where(np.arange(240) < 40, "cup", "")
    pairs = make_pairs(mix.apply(rgb) * apart, rgb, group=group, label=label)
    fitted = a_fit(240, mix, fold=group % 5)
    if alone:
        pairs, fitted = pairs.take(np.arange(40)), a_fit(40, mix, fold=group[:40] % 5)
    area = Area(points=((0, 0), (1, 0), (1, 1)))
    cup = NamedPair(name="cup", areas={"wide": area, "left": area})
    found = heed_wishes(pairs, fitted, Marks(pairs=(cup,), **wish), SOLVE, VALIDATE, view_stops=0.0)  # type: ignore[arg-type]
    (reason,) = (*found.doubts, *found.notes)
    return reason


def slope(of: float, *suspects: tuple[str, Callable[[np.ndarray], np.ndarray]]) -> Reason:
    grey = np.repeat(np.exp(np.linspace(-5.0 if of > 1 else -9.0, 0.0, 120))[:, None], 3, axis=1)
    pairs = make_pairs(0.18 * (grey / 0.18) ** of, grey)
    (reason,) = slope_reasons(pairs, np.ones(120, bool), "V-Log/V-Gamut", suspects, VALIDATE)
    return reason


def by_moment(*stops: float) -> Reason:
    rgb = np.concatenate([surfaces(40, seed=5)] * len(stops))
    moment = np.repeat(np.arange(len(stops)), 40)
    pairs = replace(make_pairs(rgb * np.exp2(np.array(stops))[moment][:, None], rgb), moment=moment)
    (reason,) = moment_reasons(pairs, Match(), DriftOptions())
    return reason


def only(reasons: tuple[Reason, ...]) -> Reason:
    (reason,) = reasons
    return reason


def only_colours(found: object) -> Reason:
    assert isinstance(found, NoFit)
    return only(found.reasons)


def few_colours() -> Reason:
    from huemend.model.stills import Regions
    from huemend.options import ColourOptions

    one = Regions(rgb=np.full((30, 3), 0.2), area=np.full(30, 1 / 30), angle="left")
    return only_colours(colour_fit.fit_colours(one, one, ColourOptions(), SOLVE))


LOOSE, AREA, THIN = a_proof, a_proof, a_proof(n=3)
RENDERED = "display/Rec.709"

#: What makes each case of each reason be given, and what must stand in it.
TABLE: dict[tuple[Code, str], list[tuple[Callable[[], Reason], str]]] = {
    (Code.NO_LUT, ""): [
        (lambda: only(decide_delivered(None, NONE, VALIDATE).reasons), "no match LUT was delivered")
    ],
    (Code.NOTHING_SHARED, "nothing"): [(lambda: only(too_little(NONE, SOLVE)), "no surface was found")],
    (Code.NOTHING_SHARED, "little"): [
        (lambda: only(too_little(marked(0, 3), SOLVE)), "share only 3 places, too few"),
        (lambda: only(too_little(marked(0, 1), SOLVE)), "share only 1 place, too few"),
    ],
    (Code.NOTHING_SHARED, "unsure"): [
        (
            lambda: only(too_little(marked(0, 12, 4.96 / 12), SOLVE)),
            "share 12 places, too small or too unsure to pin a match: all of them together count for 4.9 sure "
            "ones, and 5 are needed",
        )
    ],
    (Code.NOTHING_SHARED, "by hand"): [
        (lambda: only(too_little(marked(1), SOLVE)), "1 area named by hand is all that"),
        (lambda: only(too_little(marked(2), SOLVE)), "2 areas named by hand are all that"),
    ],
    (Code.BROKEN_CHAIN, ""): [
        (
            lambda: told(Code.BROKEN_CHAIN, chained(Verdict.UNSOLVED, None)),
            "to be matched through left, which was not matched",
        )
    ],
    (Code.RULED_OUT, ""): [
        (
            lambda: told(Code.RULED_OUT, proven(THIN, whole=Interval(low=-0.1, high=0.2))),
            "ask for +0.50 stop, and the colours of the whole pictures allow only -0.10 to +0.20",
        ),
        (
            lambda: told(Code.RULED_OUT, proven(THIN, whole=Interval(low=-0.1, high=0.502))),
            "ask for just over +0.50 stop, and the colours of the whole pictures allow only -0.10 to +0.50",
        ),
    ],
    (Code.CONTRADICTORY, ""): [
        (
            lambda: only(against(estimated(), np.array([0.3 - 1e-3, 0.7 + 1e-3]), 0.0, SOLVE)),
            "only 30% of what the two views seem to share agrees on one match",
        )
    ],
    (Code.DIVIDED, ""): [(lambda: told(Code.DIVIDED, agreeing(0.51 - 1e-3)), "only 51% of what the two views")],
    (Code.IMPLAUSIBLE, ""): [
        (
            lambda: only(against(estimated(red=0.9), np.array([1.0, 0.1]), presets(red=0.9)[0], SOLVE)),
            "need a balance that no",
        )
    ],
    (Code.IMPLAUSIBLE, "slope"): [
        (lambda: slope(4.05), "would be 4.0 stops in the hero, further off than haze, a look or another curve"),
        (lambda: slope(0.24), "would be 0.2 stops in the hero"),
    ],
    (Code.IMPLAUSIBLE, "suspects"): [
        (
            lambda: slope(5.0, ("HLG/BT.2020", lambda rgb: 0.18 * (rgb / 0.18) ** 5)),
            "its encoding or range is not V-Log",
        ),
    ],
    (Code.STRANGE_MIX, ""): [
        (lambda: only(strange_mix({Rung.MATRIX}, Rung.MATRIX)), "have between them, and prove it")
    ],
    (Code.STRANGE_MIX, "not taken"): [
        (lambda: only(strange_mix({Rung.MATRIX}, Rung.NONE)), "so that nothing was matched"),
        (lambda: only(strange_mix({Rung.MATRIX}, Rung.EXPOSURE)), "so that only exposure was matched"),
        (lambda: only(strange_mix({Rung.MATRIX}, Rung.BALANCE)), "so that only exposure and balance were matched"),
    ],
    (Code.WHITE_BALANCE, "bluer"): [
        (
            lambda: only(preset_doubt(presets(red=0.47, blue=-0.95)[1])),
            "this angle is about 134 mired bluer than the hero",
        )
    ],
    (Code.WHITE_BALANCE, "redder"): [
        (
            lambda: only(preset_doubt(presets(red=-0.47, blue=0.95)[1])),
            "this angle is about 134 mired redder than the hero",
        )
    ],
    (Code.NO_GAIN, ""): [
        (
            lambda: told(Code.NO_GAIN, proven(a_proof(before=0.8, after=0.8 + HAIR))),
            "no better than the camera as shot",
        )
    ],
    (Code.NO_GAIN, "unsure"): [
        (
            lambda: told(Code.NO_GAIN, proven(replace(a_proof(before=2.0, after=1.8), least_gain=-HAIR))),
            "is off by 1.8 where the camera as shot is off by 2.0, on samples that it did not use, and so few",
        ),
        (
            lambda: told(Code.NO_GAIN, proven(replace(a_proof(before=2.0, after=2.0 - HAIR), least_gain=-HAIR))),
            "is off by 2.0 where the camera as shot is off by 2.0, on samples",
        ),
    ],
    (Code.NO_GAIN, "picture"): [
        (lambda: only(lost()), "further off after the best match (3.4 CIEDE2000) than as shot (")
    ],
    (Code.TOO_THIN, ""): [
        (
            lambda: told(Code.TOO_THIN, proving(agreeing(0.3), _all_thin(), THIN)),
            "is little, at odds with itself, and leaves room for error",
        )
    ],
    (Code.TOO_THIN, "flare"): [
        (
            lambda: told(
                Code.TOO_THIN, proving(replace(agreeing(0.5), limits=uneven()), held_out=a_proof(after=2.0))
            ),
            "which half is right cannot be told",
        )
    ],
    (Code.TOO_THIN, "balance"): [
        (
            lambda: told(
                Code.TOO_THIN,
                evidence(
                    PAIRS,
                    replace(a_fit(40, LIFT), doubts=preset_doubt(presets(red=0.47, blue=-0.95)[1])),
                    THIN,
                ),
            ),
            "too few surfaces to believe that these cameras were balanced for different lamps",
        )
    ],
    (Code.TOO_THIN, "may harm"): [
        (
            lambda: told(
                Code.TOO_THIN,
                proving(
                    unsure(skin_error=4.2 + HAIR, neutral_error=4.0),
                    held_out=replace(a_proof(before=4.2, after=3.1, upper=4.1), least_gain=0.83),
                ),
            ),
            "may be off by just over 4.2 CIEDE2000 on skin or neutrals, more than the 4.2 by which the camera",
        )
    ],
    (Code.SLOPE, ""): [
        (lambda: slope(1.0801), "is 1.08 stops in the hero, which no other encoding or range is proven")
    ],
    (Code.SLOPE, "suspects"): [
        (
            lambda: slope(1.2, ("LogC4/AWG4", lambda rgb: 0.18 * (rgb / 0.18) ** 1.2)),
            "is 1.20 stops in the hero: its encoding or range may not be V-Log/V-Gamut",
        )
    ],
    (Code.CONTRAST, ""): [
        (lambda: _contrast_doubt(Match(contrast=1.12)), "a contrast of 1.12 about mid-grey"),
        (lambda: _contrast_doubt(Match(contrast=0.998)), "a contrast of 0.9980 about mid-grey"),
    ],
    (Code.DRIFT, ""): [
        (
            lambda: Code.DRIFT.because(
                ranges="00:00.00 to 00:04.00", what="left and wide part by up to 0.16 stop"
            ),
            "one match does not fit 00:00.00 to 00:04.00: left and wide part by up to 0.16 stop",
        )
    ],
    (Code.DRIFT, "stills"): [
        (
            lambda: by_moment(0.0, 0.0, 0.0, 0.2),
            "does not fit still 4 of left: against wide it is left with exposure +0.00 stop in still 1, "
            "+0.20 in still 4",
        )
    ],
    (Code.DRIFT, "all stills"): [
        (
            lambda: by_moment(0.0, 0.4),
            "no one match fits all stills of left: against wide it is left with exposure",
        )
    ],
    (Code.LOOSE, ""): [
        (
            lambda: told(Code.LOOSE, proven(a_proof(after=1.5 + HAIR, upper=1.9))),
            "still differ by just over 1.5 CIEDE2000 on average (1.9 at most, with 95 % confidence), more than",
        )
    ],
    (Code.LOOSE, "perhaps"): [
        (
            lambda: told(Code.LOOSE, proven(a_proof(after=1.3, upper=1.5 + HAIR))),
            "agree to 1.3 CIEDE2000, but too few places say so to rule out just over 1.5, more than the 1.5",
        )
    ],
    (Code.LOOSE, "delivered"): [
        (
            lambda: only(decide_delivered(a_proof(after=1.2, upper=1.5 + HAIR), NONE, VALIDATE).reasons),
            "differ by 1.2 CIEDE2000 (up to just over 1.5), as shot by 6.0; 1.5 passes",
        )
    ],
    (Code.AREA, ""): [
        (
            lambda: told(Code.AREA, proven(a_proof(areas={"skin": 3.6 + HAIR}))),
            "skin still differs by just over 3.6 CIEDE2000 after the match, more than the 3.6",
        )
    ],
    (Code.AREA, "delivered"): [
        (
            lambda: only(decide_delivered(a_proof(areas={"skin": 2.0 + HAIR}), NONE, VALIDATE).reasons),
            "through the LUT skin differs by just over 2.0 CIEDE2000, where 2.0 passes",
        )
    ],
    (Code.FEW_COLOURS, ""): [(few_colours, "the angle shows too few colours to be told by them")],
    (Code.COLOURS_APART, ""): [
        (
            lambda: Code.COLOURS_APART.because(why="the hero shows only 38% of this angle's colours"),
            "the hero shows only 38% of this angle's colours",
        )
    ],
    (Code.MARK_CONTRADICTED, ""): [
        (
            lambda: contradicting(False),
            "the other marks contradict it: alone it would give +0.50 stop (red +0.00, blue +0.20), "
            "the rest gives -0.25",
        )
    ],
    (Code.MARK_CONTRADICTED, "by pictures"): [
        (lambda: contradicting(True), "'skin' was left out because everything found without help contradicts it"),
        # A grey says nothing of exposure.
        (
            lambda: contradicting(True, np.nan),
            "alone it would give red +0.00, blue +0.20, the rest gives red +0.00",
        ),
        (
            lambda: contradicting(True, marks=Marks(keep_as_shot=("skin",))),
            "'skin' was left out, and with it what keep_as_shot asks, because everything",
        ),
    ],
    (Code.UNCOVERED, ""): [
        (lambda: told(Code.UNCOVERED, proven(uncovered=0.1 + HAIR)), "10% of this angle shows")
    ],
    (Code.UNCERTAIN, ""): [
        (
            lambda: told(Code.UNCERTAIN, unsure(skin_error=1.8 + HAIR)),
            "skin by just over 1.8 where 1.8 passes",
        ),
        (
            lambda: told(Code.UNCERTAIN, unsure(neutral_error=2.41, saturated_error=3.7)),
            "neutrals by just over 2.4 where 2.4 passes, saturated colours by 3.7 where 3.6 passes",
        ),
    ],
    (Code.FEW_SURFACES, ""): [
        (lambda: told(Code.FEW_SURFACES, proven(a_proof(n=7))), "rests on only 7 surfaces that both views show"),
        (lambda: told(Code.FEW_SURFACES, proven(a_proof(n=1))), "rests on only 1 surface that both views show"),
    ],
    (Code.FEW_SURFACES, "delivered"): [
        (
            lambda: only(decide_delivered(a_proof(n=1), NONE, VALIDATE).reasons),
            "show only 1 surface that both views share",
        )
    ],
    (Code.SATURATED_LIGHT, ""): [
        (
            lambda: Code.SATURATED_LIGHT.because(share=percent(0.0005), hue="red", what="nothing vouches for it"),
            "0.05% of this angle is red light",
        )
    ],
    (Code.NOTHING_TO_KEEP, ""): [
        (
            lambda: wished(keep_as_shot=("skin",)),
            "skin is to stay as shot, and this angle shows none that is known",
        )
    ],
    (Code.RENDERED, ""): [
        (lambda: only(rendered_doubts(RENDERED, True, still())), "made for a display (display/Rec.")
    ],
    (Code.CLIPPED, ""): [
        (
            lambda: only(clipping_notes(still(), still(0.05), Match(), VALIDATE, view_stops=0.0)),
            "5.0% of this angle is clipped at",
        )
    ],
    (Code.CLIPPED, "hero"): [
        (
            lambda: only(clipping_notes(still(0.05), still(), Match(), VALIDATE, view_stops=0.0)),
            "5.0% of the hero is clipped at",
        )
    ],
    (Code.VIGNETTING, "loses"): [
        (lambda: only(shaded(corners=0.5 + HAIR)), "which comes to 0.5 in the corners, as by a lens")
    ],
    (Code.VIGNETTING, "gains"): [
        (lambda: only(shaded(corners=-0.5 - HAIR)), "which comes to 0.5 in the corners, as by light")
    ],
    (Code.COLOUR_SHADING, "across"): [
        (
            lambda: only(shaded(across=0.24 + HAIR)),
            "from the leftmost to the rightmost that both show, this angle turns by +0.2",
        )
    ],
    (Code.COLOUR_SHADING, "down"): [
        (
            lambda: only(shaded(down=-0.24 - HAIR)),
            "from the topmost to the lowest that both show, this angle turns by -0.2",
        )
    ],
    (Code.SECOND_EXPOSURE, ""): [
        (
            lambda: only(flashed(1.5)),
            "30% of what both views share, mostly in the upper part of this angle, is",
        ),
        (lambda: only(flashed(-1.5)), "1.5 stop darker against the hero than the rest is"),
    ],
    (Code.SECOND_EXPOSURE, "gradual"): [
        (
            lambda: only(second_exposure(still().extent, one_sided(1.2), a_fit(400, Match()), VALIDATE)),
            "against the hero light runs over this angle by 1.0 stop (most of it mostly",
        )
    ],
    (Code.UNEVEN_FLARE, ""): [
        (
            lambda: only(uneven()),
            "flare that comes from the left of this angle's picture and dies out across it explains the shared",
        )
    ],
    (Code.HERO_CLIPS, ""): [
        (
            lambda: only(
                clipping_notes(still(0.05), still(), Match(exposure_stops=-0.06), VALIDATE, view_stops=0.0)
            ),
            "5.0% of the hero is clipped at",
        )
    ],
    (Code.CLIPS_EARLY, ""): [
        (
            lambda: only(clipping_notes(still(), still(0.002), Match(), VALIDATE, view_stops=0.0)),
            "0.2% of this angle is clipped at",
        )
    ],
    (Code.NOT_FOLLOWED, ""): [
        (lambda: unseen_from(9), "whether left changes in exposure or balance is unknown for 00:09.00 to 00:11.00")
    ],
    (Code.BANDING, ""): [
        (lambda: Code.BANDING.because(what="left flickers by 0.2 stop"), "light that pulses: left")
    ],
    (Code.BANDING, "still"): [
        (
            lambda: only(banded(0.2)),
            "bands across this angle are 0.20 stop brighter and darker than the hero, about 3",
        )
    ],
    (Code.BY_COLOURS, ""): [(lambda: told(Code.BY_COLOURS, _guessed(0.38)), "38% of this angle's colours are in")],
    (Code.BY_HAND, ""): [
        (lambda: only(by_hand_alone(marked(3, 3), SOLVE)), "the match rests on 3 areas named by hand"),
        (lambda: only(by_hand_alone(marked(1, 3), SOLVE)), "the match rests on 1 area named by hand"),
    ],
    (Code.CARRIED, ""): [
        (
            lambda: told(Code.CARRIED, lent(1, 1)),
            "between these two cameras white balance and channel mix lean on 1 earlier setup of the day (setup 1)",
        ),
        (
            lambda: told(Code.CARRIED, lent(4, 0)),
            "the channel mix leans on 4 earlier setups of the day (the last are setup 2, setup 3, setup 4)",
        ),
        (
            lambda: told(Code.CARRIED, lent(3, 1)),
            "white balance leans on the last 1 and the channel mix on 3 earlier setups of the day",
        ),
    ],
    (Code.CAMERAS_CHANGED, ""): [
        (refused, "what earlier setups of the day (kitchen) learnt of these two cameras does")
    ],
    (Code.CHAINED, ""): [
        (
            lambda: told(Code.CHAINED, chained(Verdict.MATCHED, 1.2)),
            "its own error of up to 0.9 CIEDE2000 and that of left, up to 1.2, come to 1.5",
        )
    ],
    (Code.CHAINED, "unproven"): [
        (
            lambda: told(Code.CHAINED, chained(Verdict.REVIEW, None)),
            "through left, whose own match nothing has proven",
        )
    ],
    (Code.KEPT_AS_SHOT, ""): [
        (
            lambda: wished(keep_as_shot=("cup",), keep_limit=0.3),
            "cup by 1.0 CIEDE2000, where 0.3 is allowed: it was held to that, and the rest is left with",
        ),
        (
            lambda: Code.KEPT_AS_SHOT.because(
                name="skin", moved="2.04", limit="2.00", how=_FADED, rest=", and the rest is left with nothing"
            ),
            "would move skin by 2.04 CIEDE2000, where 2.00 is allowed: all of it was faded to that, and the rest ",
        ),
    ],
    (Code.STAYS_AS_SHOT, ""): [
        (
            lambda: wished(keep_as_shot=("cup",), keep_limit=1.0),
            "cup stays within 1.0 CIEDE2000 of how it was shot, as the setup file asks, where the match would "
            "move it by just over 1.0, and the rest is left with 0.",
        )
    ],
    (Code.LEAST_ERROR, ""): [
        (lambda: wished(least_error_on=("cup",)), "cup came first, as the setup file asks: "),
    ],
    (Code.LEAST_ERROR, "held"): [
        (
            lambda: _traded(LeastErrorTrade(names=("skin",), there=(0.3, 3.3), elsewhere=(np.nan, np.nan))),
            "skin was to come first, as the setup file asks, and what is to stay as shot stood against that: 0.3",
        )
    ],
    (Code.LEAST_ERROR, "as close"): [
        (
            lambda: _traded(LeastErrorTrade(names=("cup", "skin"), there=(0.84, 0.84), elsewhere=(0.5, 0.5))),
            "cup and skin came first, as the setup file asks, and nothing that the rest allows brings it nearer "
            "than 0.8 CIEDE2000 by 0.15 or more",
        )
    ],
    (Code.MARK_MET, ""): [
        (
            lambda: only(met_within_noise().notes),
            "the match meets 'cup' and 'skin' as nearly as two areas drawn by hand agree: marks there ask",
        )
    ],
    (Code.MARK_MET, "in part"): [
        (
            lambda: only(_met("in part", {"skin", "cup"}, 0.2)),
            "marks on 'cup' and 'skin' were followed only as far as that moves what was found elsewhere by 0.2 ",
        )
    ],
    (Code.NOT_SEEN, ""): [
        (
            lambda: wished(least_error_on=("skin",)),
            "skin is to match best, and this angle shows none that is known",
        )
    ],
    (Code.BURN_INS, ""): [
        (lambda: only(burn_in_notes(replace(NONE, rejected={"burnt in": 31}))), "31 details stand at one place of")
    ],
    (Code.BURN_INS, "screen"): [
        (
            lambda: only(burn_in_notes(replace(NONE, rejected={"on a screen": 90}))),
            "90 details of one view lie in a small",
        )
    ],
    (Code.NO_CHART, ""): [
        (
            lambda: only(chart_notes(replace(NONE, rejected={"no chart": 1}))),
            "no colour chart was found in the two views",
        )
    ],
    (Code.NO_CHART, "alone"): [
        (
            lambda: only(chart_notes(replace(NONE, rejected={"chart on wide alone": 1}))),
            "a colour chart was found on wide alone",
        )
    ],
    (Code.PROVEN, ""): [
        (
            lambda: told(Code.PROVEN, proven(a_proof(n=8, after=1.5, upper=1.5))),
            "8 surfaces that the match did not use",
        )
    ],
    (Code.PROVEN, "as shot"): [
        (
            lambda: told(Code.PROVEN, proven(a_proof(0.6, 0.6), match=Match())),
            "already agrees with the hero to 0.6",
        )
    ],
    (Code.HOLDS, ""): [
        (
            lambda: only(decide_delivered(a_proof(n=8, after=1.5, upper=1.5), NONE, VALIDATE).reasons),
            "on these frames 8 surfaces agree through the LUT to 1.5 CIEDE2000, as shot to 6.0",
        )
    ],
}


def _traded(what: LeastErrorTrade) -> Reason:
    from huemend.flow.wishes import _traded as traded

    return traded(what, SOLVE.least_error_gain)


def _all_thin() -> Fit:
    return a_fit(40, LIFT, used=np.arange(40) < 20, skin_error=9.0)


def _guessed(share: float) -> Evidence:
    from tests.solve.certain import NO_UNCERTAINTY

    guess = ColourFit(match=LIFT, uncertainty=NO_UNCERTAINTY, found=share)
    return evidence(NONE, NoFit(reasons=too_little(NONE, SOLVE)), guess=guess)


def test_the_table_holds_every_case_of_every_reason() -> None:
    every = {(code, case) for code in Code for case in code.said}
    assert set(TABLE) == every
    assert set(TEXTS) == {str(code) for code in Code}


@pytest.mark.parametrize("key", ["keep_as_shot", "least_error_on"])
def test_a_wish_tells_of_no_rest_where_there_is_none(key: str) -> None:
    said = wished(alone=True, keep_limit=0.3, **{key: ("cup",)}).text
    assert "cup" in said and "rest" not in said and "elsewhere" not in said


@pytest.mark.parametrize(("code", "case"), TABLE, ids=[f"{code}-{case}".strip("-") for code, case in TABLE])
def test_a_sentence_is_true_where_it_begins_to_be_said(code: Code, case: str) -> None:
    for make, said in TABLE[code, case]:
        reason = make()
        assert reason.code == code
        assert said in reason.text, reason.text
        text, todo = code.said[case]
        assert _matches(text, reason.text) and _matches(todo, reason.todo), "another case was meant"
        for words in (sentence(reason.text), sentence(reason.todo)):
            assert not any(stray in words for stray in ("{", "}", "nan", "None", "  ", "-0.00", " 1 places"))


def _matches(template: str, text: str) -> bool:
    """Say whether a text is a template with its braces filled in."""
    parts = re.split(r"\{[^}]*\}", template)
    return re.fullmatch(".*".join(re.escape(part) for part in parts), text) is not None


def test_a_limit_that_we_chose_is_called_our_judgement() -> None:
    """No standard says what may pass as matched: who reads a limit shall know whose it is."""
    said = [
        text for parts in TEXTS.values() for text, _ in (parts.values() if isinstance(parts, Mapping) else [parts])
    ]
    passing = [text for text in said if "{limit}" in text and "passes" in text]
    assert len(passing) == 5 and all("our judgement" in text for text in passing)
