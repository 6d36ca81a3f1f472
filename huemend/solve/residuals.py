"""What a match leaves unexplained, pair by pair, and how much of it noise and shading allow.

The residual of a pair has three parts (docs/maths.md, equations 5 to 7): the natural logarithm of the
luminance ratio, which shading between the two viewpoints moves, and red and blue over luminance, which it does
not. Treating them apart is what makes the 3x3 insensitive to shading.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from huemend.base.arrays import Bool, Float, Float64, Int, Rows
from huemend.base.units import AP1_LUMINANCE, MID_GREY, acescct_decode, acescct_encode, acescct_slope
from huemend.model import PairedColours, pivot_contrast
from huemend.model.roots import root_slopes, root_terms
from huemend.options import SolveOptions
from huemend.solve.parameters import CONTRAST, FLARE, MATRIX, ROOTS, roots_of
from huemend.solve.prior import theta_jacobian, theta_to_matrix

_DARK = 1e-4
_RED, _, _BLUE = np.eye(3)
# What the four moments of `Samples.normal_equations` are multiplied with (docs/maths.md, equation 12a).
_MOMENTS = np.stack(
    [
        np.outer(AP1_LUMINANCE, AP1_LUMINANCE),
        -np.outer(_RED, AP1_LUMINANCE) - np.outer(AP1_LUMINANCE, _RED),
        -np.outer(_BLUE, AP1_LUMINANCE) - np.outer(AP1_LUMINANCE, _BLUE),
        np.diag(_RED + _BLUE),
    ]
).reshape(4, 9)


def opponent(rgb: Float) -> Float64:
    """Return ln(luminance), red/luminance, blue/luminance of scene-linear ACEScg, (n, 3)."""
    luminance = np.maximum(rgb @ AP1_LUMINANCE, _DARK)
    out = np.empty((len(rgb), 3))
    np.log(luminance, out=out[:, 0])
    np.divide(rgb[:, ::2], luminance[:, None], out=out[:, 1:])
    return out


def _repeats(pairs: PairedColours, count: Float) -> Float:
    """Return how often each pair says the same of light, (n,).

    Two views see marked areas under lights that differ in one direction: beside what was found without help, all
    areas together say as much of light as one does, however many there are and however much they count.
    """
    beside, out = pairs.marked_beside, np.ones(len(pairs))
    out[beside] = max(float(count[beside].sum()), 1.0)
    return out


@dataclass(frozen=True, kw_only=True, eq=False)
class Samples(Rows):
    """Pairs made ready for a fit."""

    #: (n, 3) float64. ``opponent`` of the reference.
    target: Float
    #: (n, 3) float64. Scene-linear ACEScg of the angle.
    rgb: Float
    #: (n,) float64. Effective count of each pair times how much its brightness matters to the eye.
    weight: Float
    #: (n,) float64. Variances that noise alone gives, in the units of the residual.
    luminance_noise: Float
    chroma_noise: Float
    #: (n,) float64. What the pair itself says that light may differ by, as `PairedColours` has it; part of
    #: ``luminance_noise``.
    light_spread: Float
    #: (n,) int.
    group: Int
    #: (n,) bool. Marked areas beside enough that was found, which tell nothing of how well pairs agree.
    beside: Bool

    @classmethod
    def of(cls, pairs: PairedColours, options: SolveOptions) -> Samples:
        reference = np.asarray(pairs.reference_rgb, float)
        angle = np.asarray(pairs.angle_rgb, float)
        bright = np.maximum(reference @ AP1_LUMINANCE, 1e-3)
        dim = np.maximum(angle @ AP1_LUMINANCE, 1e-3)
        # What was found counts what it does without marks, whatever is marked beside it.
        effective = float(pairs.weight[~pairs.marked_beside].sum())
        count = pairs.weight * min(1.0, options.most_effective / max(effective, 1e-9))
        noise = (pairs.noise**2).sum(1) + (options.read_noise / bright) ** 2 + (options.read_noise / dim) ** 2
        return cls(
            target=opponent(reference),
            rgb=angle,
            # A given relative error shows as the cube root of the light (CIE lightness): deep shadows, where it
            # cannot be seen, must not decide the matrix.
            weight=np.asarray(count, float) * np.clip(np.cbrt(bright / MID_GREY), 0.3, 1.5),
            luminance_noise=noise + pairs.light_spread**2 * _repeats(pairs, count),
            # Red or blue over luminance carries the noise of both; two is a fair round number for that.
            chroma_noise=2 * noise,
            light_spread=np.asarray(pairs.light_spread, float),
            group=np.asarray(pairs.group),
            beside=pairs.marked_beside,
        )

    def __len__(self) -> int:
        return len(self.weight)

    def predict(self, theta: Float) -> Float64:
        """Return the matched colours of the angle, (n, 3) scene-linear ACEScg."""
        out: Float64 = (self.rgb - theta[FLARE]) @ theta_to_matrix(theta[MATRIX]).T
        if theta[ROOTS].any():
            out += self._terms(theta) @ roots_of(theta).T
        return out if theta[CONTRAST] == 0.0 else pivot_contrast(out, float(np.exp(theta[CONTRAST])))

    def residual(self, theta: Float) -> Float64:
        """Return (n, 3): target minus prediction."""
        return self.target - opponent(self.predict(theta))

    def jacobian(self, theta: Float, free: Int) -> Float64:
        """Return the derivative of the prediction's ``opponent`` by the free parameters, (free, 3, n).

        ``free`` is ascending. What belongs to one parameter lies together in memory, as products want it.
        """
        matrix = theta_to_matrix(theta[MATRIX])
        lit = (self.rgb - theta[FLARE]).T
        predicted: Float = matrix @ lit
        linear = free[free < CONTRAST]
        of_match = linear[linear < FLARE.start]
        out = np.empty((len(free), 3, lit.shape[1]))
        slope = theta_jacobian(theta[MATRIX])[of_match]
        out[: len(of_match)] = (slope.reshape(-1, 3) @ lit).reshape(len(of_match), 3, -1)
        out[len(of_match) : len(linear)] = -matrix.T[linear[len(of_match) :] - FLARE.start, :, None]
        of_roots = np.flatnonzero(free >= ROOTS.start)
        if len(of_roots) or theta[ROOTS].any():
            terms, gains, roots = self._terms(theta).T, matrix.sum(1), roots_of(theta)
            predicted = predicted + roots @ terms
            # Exposure and balance scale each channel, whatever is in it.
            for row in range(int((free < 3).sum())):
                out[row] = (slope[row].sum(1) / gains)[:, None] * predicted
            if len(linear) > len(of_match):
                by_flare = (roots @ root_slopes(lit.T)).transpose(2, 1, 0)
                out[len(of_match) : len(linear)] -= by_flare[linear[len(of_match) :] - FLARE.start]
            out[of_roots] = 0.0
            for place in of_roots.tolist():
                channel, term = divmod(int(free[place]) - ROOTS.start, 3)
                out[place, channel] = gains[channel] * terms[term]
        if CONTRAST in free or theta[CONTRAST] != 0.0:
            predicted, by_light, by_contrast = _bend(predicted, float(np.exp(theta[CONTRAST])))
            # But for that of the contrast itself, in which nothing stands yet.
            out[free != CONTRAST] *= by_light
            out[free == CONTRAST] = by_contrast
        luminance = np.maximum(AP1_LUMINANCE @ predicted, _DARK)
        red, blue = predicted[::2] / luminance
        out /= luminance
        relative = AP1_LUMINANCE[0] * out[:, 0] + AP1_LUMINANCE[1] * out[:, 1] + AP1_LUMINANCE[2] * out[:, 2]
        out[:, 1] = out[:, 0] - red * relative
        out[:, 2] -= blue * relative
        out[:, 0] = relative
        return out

    def normal_equations(
        self, theta: Float, free: Int, residual: Float, of_luminance: Float, of_chroma: Float
    ) -> tuple[Float64, Float64]:
        """Return JᵀWJ and JᵀWr of docs/maths.md, equation 12: (free, free) and (free,).

        Without a contrast they are sums of four moments of the angle's colours (equation 12a), so that the
        nine or twelve slopes of every pair need not be written down. ``free`` is ascending, the residual
        (n, 3) that at ``theta``; weights, (n,), are those of its first part and of either other.
        """
        if (len(free) and free[-1] >= CONTRAST) or theta[CONTRAST] != 0.0 or theta[ROOTS].any():
            jacobian = self.jacobian(theta, free)
            rows = (jacobian * np.stack([of_luminance, of_chroma, of_chroma])).reshape(len(free), -1)
            return rows @ jacobian.reshape(len(free), -1).T, rows @ residual.T.reshape(-1)
        log_luminance, red, blue = (self.target - residual).T
        per_light = np.exp(-log_luminance)
        chroma = of_chroma * per_light**2
        scale = np.empty((4, len(self)))
        np.multiply(chroma, red, out=scale[1])
        np.multiply(chroma, blue, out=scale[2])
        scale[0] = of_luminance * per_light**2 + red * scale[1] + blue * scale[2]
        scale[3] = chroma
        curvature = (_MOMENTS.T @ (scale @ self._products)).reshape(3, 3, 4, 4).swapaxes(1, 2).reshape(12, 12)
        in_red, in_blue = of_chroma * per_light * residual[:, 1:].T
        pull = np.multiply.outer(
            AP1_LUMINANCE, of_luminance * per_light * residual[:, 0] - red * in_red - blue * in_blue
        )
        pull[0] += in_red
        pull[2] += in_blue
        slopes = _slopes(theta, free)
        return slopes @ curvature @ slopes.T, slopes @ (pull @ self._places).reshape(-1)

    def _terms(self, theta: Float) -> Float64:
        """Root terms of the angle's light, (n, 3); the same in every round where there is no flare."""
        return root_terms(self.rgb - theta[FLARE]) if theta[FLARE].any() else self._root_terms

    @property
    def mean_light(self) -> float:
        """Mean luminance of the angle, scene-linear: the unit that flare is counted in."""
        return float(np.average(self.rgb @ AP1_LUMINANCE, weights=self.weight))

    @cached_property
    def _root_terms(self) -> Float64:
        return root_terms(self.rgb)

    @cached_property
    def _places(self) -> Float64:
        """The angle's colours with a 1 beside them, (n, 4): a match without a contrast is one (3, 4) matrix."""
        return np.column_stack([self.rgb, np.ones(len(self))])

    @cached_property
    def _products(self) -> Float64:
        """The (n, 16) products of these with one another."""
        return (self._places[:, :, None] * self._places[:, None]).reshape(len(self), 16)


def _slopes(theta: Float, free: Int) -> Float64:
    """Return the derivative of the (3, 4) matrix of a match by the free parameters, (free, 12)."""
    of_match = free[free < FLARE.start]
    slopes = np.zeros((len(free), 3, 4))
    slopes[: len(of_match), :, :3] = theta_jacobian(theta[MATRIX])[of_match]
    if len(of_match) < len(free):
        slopes[: len(of_match), :, 3] = slopes[: len(of_match), :, :3] @ -theta[FLARE]
        slopes[len(of_match) :, :, 3] = -theta_to_matrix(theta[MATRIX]).T[free[len(of_match) :] - FLARE.start]
    return slopes.reshape(len(free), 12)


def _bend(light: Float, contrast: float) -> tuple[Float, Float, Float]:
    """Return ``pivot_contrast`` of light, its derivative by the light, and by the logarithm of the contrast."""
    code, pivot = acescct_encode(light), acescct_encode(np.asarray(MID_GREY))
    out = acescct_decode(pivot + contrast * (code - pivot))
    per_code = 1 / acescct_slope(out)
    return out, per_code * contrast * acescct_slope(light), per_code * contrast * (code - pivot)
