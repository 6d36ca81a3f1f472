"""Areas that somebody marked, held against the pictures and against one another.

A mark may be on the wrong thing: a blouse here, a wall there. Averaged in, it would pull the match off everything
else; so each is tested against what all else says before it may say anything (docs/maths.md, section 8).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from huemend.base.arrays import Bool, Float, Float64, FrozenArrays
from huemend.base.units import AP1_LUMINANCE
from huemend.model import KNOWN_SURFACES, NO_LIGHT, LinearStill, PairedColours, Place, Reason, Rung
from huemend.model.reasons import Code
from huemend.options import SolveOptions
from huemend.solve.fit_doubts import too_little
from huemend.solve.ladder import veil_gain
from huemend.solve.parameters import FREE
from huemend.solve.prior import CAMERA_PAIR
from huemend.solve.residuals import Samples
from huemend.solve.robust import Estimate, estimate, variances

#: What to mark instead; a grey is marked on one view alone.
_SAME = "mark the same surface under the same light on both"
_GREY = "mark what is grey in the light of the set"
#: All that a match which marks are held against may have; its covariance is zero where it has less.
_FREE = FREE[Rung.FLARE]


@dataclass(frozen=True, kw_only=True, eq=False)
class Contradiction(FrozenArrays):
    """A marked area that does not show on the angle what it shows on the hero, whatever the match."""

    #: The name that the area was given.
    label: str
    moment: int
    #: (2,) float64. Its middle, in pixels of each view's LinearStill.
    reference_xy: Float
    angle_xy: Float
    #: (2,) float64. Of a circle of its size, pixels of the reference's still and of the angle's.
    radius: Float
    #: True if found pairs contradict it, False if other marks do.
    pictures: bool
    #: (3,) float64. Exposure, and red and blue against green, in stops: what the area asks for, and what all else
    #: does. Of an area that speaks of balance alone exposure is NaN.
    alone: Float
    others: Float
    #: Squared distance of the two, 1 being the most that is believed.
    off: float

    def reason(self, hero: LinearStill, angle: LinearStill, *, wishes: Sequence[str] = ()) -> Reason:
        """Say what was left out, and which wishes with it, with where it lies on the pictures of both."""
        lit = np.isfinite(self.alone[0])
        return Code.MARK_CONTRADICTED.because(
            "by pictures" if self.pictures else "",
            label=self.label,
            wish=f", and with it what {' and '.join(wishes)} asks," if wishes else "",
            remark=_SAME if lit else _GREY,
            alone=_stops(self.alone, lit=lit),
            others=_stops(self.others, lit=lit),
            place=_place(self.angle_xy, self.radius[1], self.moment, angle),
            reference_place=_place(self.reference_xy, self.radius[0], self.moment, hero),
        )


def _stops(change: Float, *, lit: bool) -> str:
    exposure, red, blue = (round(float(value), 2) + 0.0 for value in change)
    balance = f"red {red:+.2f}, blue {blue:+.2f}"
    return f"{exposure:+.2f} stop ({balance})" if lit else balance


def _place(xy: Float, radius: float, moment: int, still: LinearStill) -> Place:
    height, width = still.rgb.shape[:2]
    x, y = (xy + 0.5) / [width, height]
    return Place(moment=moment, x=float(x), y=float(y), radius=float(radius / width))


def marks_beside(pairs: PairedColours, options: SolveOptions) -> PairedColours:
    """Say that marked areas stand beside what was found, where that pins a match without them.

    It is said once of all pairs of an angle, so that solve and proof do not differ on which are to be believed.
    """
    enough = not too_little(pairs.take(~pairs.by_hand), options)
    return replace(pairs, marked_beside=pairs.by_hand & enough)


def without_contradictions(
    pairs: PairedColours, options: SolveOptions
) -> tuple[PairedColours, tuple[Contradiction, ...]]:
    """Leave out marked areas that contradict what was found, or, where little was found, the other areas.

    Returned are the pairs, with `marks_beside`, and what was left out, worst first. Found pairs lose a name that
    nothing but such areas gave them: they may show one thing here and another there.
    """
    marked = np.asarray(pairs.by_hand, bool)
    if not marked.any():
        return pairs, ()
    pairs = marks_beside(pairs, options)
    by_pictures = bool(pairs.marked_beside.any())
    keep = np.ones(len(pairs), bool)
    out: list[Contradiction] = []
    found = _fitted(pairs, ~marked, options, veil=True) if by_pictures else None
    while True:
        tested = []
        for group in np.unique(pairs.group[marked & keep]).tolist():
            own = marked & (pairs.group == group)
            others = keep & ~own
            if found is None and len(np.unique(pairs.group[others & pairs.says_light])) < 2:
                continue
            rest = found or _fitted(pairs, others, options)
            tested.append((_held_against(pairs, own, rest, options, pictures=by_pictures), own))
        worst, own = max(tested, key=lambda test: test[0].off, default=(None, keep))
        if worst is None or worst.off <= 1:
            return (_without_names(pairs.take(keep), out), tuple(out)) if out else (pairs, ())
        keep &= ~own
        out.append(worst)


def _without_names(pairs: PairedColours, out: Sequence[Contradiction]) -> PairedColours:
    gone = {mark.label for mark in out} - KNOWN_SURFACES - {*pairs.label[pairs.by_hand].tolist()}
    return replace(pairs, label=np.where(np.isin(pairs.label, list(gone)), "", pairs.label))


def _fitted(pairs: PairedColours, which: Bool, options: SolveOptions, *, veil: bool = False) -> Estimate:
    """Fit a 3x3 to some pairs; with ``veil``, and with flare where that explains them better."""
    samples = Samples.of(pairs.take(which), options)
    plain = estimate(samples, Rung.MATRIX, CAMERA_PAIR, options)
    if not veil:
        return plain
    veiled = estimate(samples, Rung.FLARE, CAMERA_PAIR, options, flare_start=0.0)
    return veiled if veil_gain(samples, [plain], veiled, options) else plain


def _held_against(
    pairs: PairedColours, own: Bool, rest: Estimate, options: SolveOptions, *, pictures: bool
) -> Contradiction:
    """Test one area, over all its moments, against a match that did not see it."""
    area = _by_itself(pairs, own, options)
    share = area.weight / area.weight.sum()
    others = rest.theta[:3]
    return Contradiction(
        label=str(pairs.label[own][0]),
        moment=int(pairs.moment[own][0]),
        reference_xy=pairs.reference_xy[own][0],
        angle_xy=pairs.angle_xy[own][0],
        radius=pairs.radius[own][0],
        pictures=pictures,
        alone=others + _asked(area, rest.theta, share),
        others=others.copy(),
        off=sum(_distances(area, rest, options))
        / (options.hint_at_odds if pictures else options.hint_at_odds_by_hand),
    )


def _by_itself(pairs: PairedColours, own: Bool, options: SolveOptions) -> Samples:
    """Return an area's pairs, which say of light what they say whatever was found or marked beside them."""
    return Samples.of(replace(pairs.take(own), marked_beside=np.zeros(int(own.sum()), bool)), options)


def _distances(area: Samples, rest: Estimate, options: SolveOptions) -> tuple[float, float]:
    """Return the squares by which an area is off a match, in light and in colour; 1 is what both may be off by."""
    share = area.weight / area.weight.sum()
    residual = share @ area.residual(rest.theta)
    slope = np.einsum("n,fcn->cf", share, area.jacobian(rest.theta, _FREE))
    unsure = slope @ rest.covariance[np.ix_(_FREE, _FREE)] @ slope.T
    of_parts = variances(area, rest.shading, rest.misfit_ratio, options)
    luminance, chroma = (float(share @ part) for part in of_parts.T[:2])
    # That found pairs agree well makes what was measured of an area by hand no surer.
    chroma += max(1 - rest.misfit_ratio**2, 0.0) * float(share @ area.chroma_noise)
    # However unevenly an area is lit, the middles of two areas of one surface are not stops apart.
    uneven = float(share @ np.square(area.light_spread))
    luminance -= max(uneven - options.hint_light**2, 0.0)
    spread = unsure + np.diag([luminance, chroma, chroma])
    # An area that speaks of balance alone has no light to be wrong about.
    in_light = residual[0] ** 2 / spread[0, 0] if (area.light_spread < NO_LIGHT).any() else 0.0
    return float(in_light), float(residual[1:] @ np.linalg.solve(spread[1:, 1:], residual[1:]))


def beyond_noise(pairs: PairedColours, rest: Estimate, options: SolveOptions) -> Float64:
    """Return what areas marked beside found pairs ask for beyond what they are known to, (n, 3) of the residual.

    Two areas drawn by hand differ by several times what a match of found pairs, ``rest``, is off by on such a
    surface. Where one meets it within that, it asks for nothing (docs/maths.md, equation 23).
    """
    asked = np.zeros((len(pairs), 3))
    for group in np.unique(pairs.group[pairs.marked_beside]).tolist():
        own = pairs.marked_beside & (pairs.group == group)
        area = _by_itself(pairs, own, options)
        squares = zip(options.hint_noise, _distances(area, rest, options), strict=True)
        light, colour = (max(1 - np.sqrt(noise / max(square, 1e-9)), 0.0) for noise, square in squares)
        asked[own] = area.residual(rest.theta) * np.array([light, colour, colour])
    return asked


def _asked(area: Samples, theta: Float, share: Float) -> Float64:
    """Return what an area asks for beyond a match whose mix is kept: exposure, red and blue, in stops.

    Exposure is NaN of one that speaks of balance alone.
    """
    light, red, blue = np.exp(area.target[:, 0]), area.target[:, 1], area.target[:, 2]
    green = (1 - AP1_LUMINANCE[0] * red - AP1_LUMINANCE[2] * blue) / AP1_LUMINANCE[1]
    wanted = light[:, None] * np.column_stack([red, green, blue])
    ratio = share @ np.log2(np.maximum(wanted, 1e-4) / np.maximum(area.predict(theta), 1e-4))
    lit = (area.light_spread < NO_LIGHT).any()
    stops = float(share @ area.residual(theta)[:, 0]) / np.log(2) if lit else np.nan
    return np.array([stops, ratio[0] - ratio[1], ratio[2] - ratio[1]])
