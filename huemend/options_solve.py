"""Options of the solve, its proof and its verdict; ``huemend.options`` hands them on with all others."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["CarryOptions", "DriftOptions", "JointOptions", "SolveOptions", "ValidateOptions"]


@dataclass(frozen=True, kw_only=True)
class SolveOptions:
    """Fitting a match to pairs.

    Attributes
    ----------
    tails : float
        Degrees of freedom of the Student-t loss on pairs: small trusts no single pair. With 1 (Cauchy) the third
        of wrong pairs that a busy set gives hardly pulls at all.
    agreeing : float
        Squared residual, in the learnt scales, up to which a pair counts as agreeing with the match.
    shading_start : float
        First guess of the standard deviation of shading between the views, natural logarithm of luminance.
    shading_bounds : (low, high)
        What re-estimation may make of it.
    scale_places, scale_places_by_hand : float
        The first guesses of shading and misfit count like that many separate places; like more where a match rests
        on areas named by hand alone, which are hardly more than the parameters that they decide.
    misfit : float
        Standard deviation of chroma (channel over luminance) that no 3x3 explains, before re-estimation.
    read_noise : float
        Scene-linear noise of a patch mean that does not fall with the light.
    folds : int
        Parts that a proof holds out in turn.
    fold_pairs : int
        Pairs used while proving; the fit itself uses all.
    rung_slack : float
        A richer rung must lower the held-out error by this many standard errors of the difference (the
        one-standard-error rule of Breiman et al. 1984, on paired differences).
    gain_exposure, gain_balance, gain_matrix, gain_flare, gain_contrast : float
        And by this much CIEDE2000: less cannot be seen, and light that one view gets and the other does not can
        feign that much. Flare and contrast, which stray light feigns best, must prove most.
    contrast_sd : float
        Standard deviation of the natural logarithm of a contrast that a look or a wrong curve may have left,
        before any footage is seen (a judgement, no source).
    unseen : float
        A match that moves the shared colours by less than this (mean CIEDE2000) is not worth having: the angle
        already matches.
    fewest_groups : int
        Least number of separate places on the picture that can pin a match.
    fewest_named : int
        Least number of areas named by hand that can pin a match without anything else.
    fewest_effective : float
        Least effective number of independent pairs.
    least_agreeing : float
        Least share of pairs (by weight) that agree with the best match; below, the evidence contradicts itself.
    most_effective : float
        The effective number of pairs is bounded: what no 3x3 explains (metamerism, gloss) is common to many pairs
        and does not average out however many there are.
    protect_limit : float
        How far a match may move what the setup file protects (mean CIEDE2000), unless it says so itself.
    systematic : (exposure, red_green, blue_green)
        Standard deviations, in stops, of errors that all pairs of a setup share, so that their scatter does not
        tell. Found by the calibration trials of tests/bench/accuracy (synthetic pairs of measured cameras, true
        correspondences of rendered sets) so that the 90 % intervals hold what they claim.
    implausible_mix, implausible_balance : float
        Squared distance from the camera-pair prior beyond which a channel mix, or even a balance, is not believed
        to be the work of two cameras under one light.
    seed : int
    """

    tails: float = 1.0
    agreeing: float = 4.0
    shading_start: float = 0.12
    shading_bounds: tuple[float, float] = (0.02, 0.35)
    scale_places: float = 3.0
    scale_places_by_hand: float = 12.0
    misfit: float = 0.02
    read_noise: float = 0.0015
    folds: int = 5
    fold_pairs: int = 2_000
    rung_slack: float = 1.0
    gain_exposure: float = 0.1
    gain_balance: float = 0.16
    gain_matrix: float = 0.02
    gain_flare: float = 0.3
    gain_contrast: float = 0.3
    contrast_sd: float = 0.15
    unseen: float = 0.8
    fewest_groups: int = 4
    fewest_named: int = 3
    fewest_effective: float = 5.0
    least_agreeing: float = 0.3
    most_effective: float = 80.0
    protect_limit: float = 2.0
    systematic: tuple[float, float, float] = (0.018, 0.008, 0.014)
    implausible_mix: float = 120.0
    implausible_balance: float = 40.0
    seed: int = 0


@dataclass(frozen=True, kw_only=True)
class JointOptions:
    """Solving all angles of a setup together.

    Attributes
    ----------
    link : bool
        Pair the angles with one another too, not with the hero alone.
    step : int
        Grid of the patches that two angles are paired by, pixels of the wider one: coarser than with the hero,
        since they tie two matches and prove none.
    least_agreeing : float
        Least share (by weight) of two angles' pairs that must agree with both matches; below, the link is cut.
        More than against the hero: a link that is wrong can spoil what was right without it.
    at_odds : float
        Squared distance from what both angles learnt of the hero beyond which a link contradicts it and is cut:
        the 99.9th percentile of chi squared with 18 degrees of freedom.
    systematic, systematic_mix : (exposure, red_green, blue_green), float
        Standard deviations of errors that all pairs of a link share: in stops, and of each element of the channel
        mix. Two tight angles stand farther apart than either from the hero, and see each surface in another gloss.
    """

    link: bool = True
    step: int = 5
    least_agreeing: float = 0.5
    at_odds: float = 42.3
    systematic: tuple[float, float, float] = (0.03, 0.012, 0.016)
    systematic_mix: float = 0.01


@dataclass(frozen=True, kw_only=True)
class CarryOptions:
    """Lending what earlier setups of a day learnt of two cameras.

    Attributes
    ----------
    scatter : eight float
        Standard deviation, over the setups of a day, of the colour parameters between the same two cameras:
        balance in stops, then the channel mix. Of 25 pairs of measured sensors under nine lights
        (``tests/bench/carry.py``).
    balance_change, mix_change : float
        Squared distance beyond which white balance, or the channel mix (a lens, a look, another camera), was
        changed: 99 % of a chi-squared distribution with two and with six degrees of freedom.
    fewest_groups : int
        Separate places that pin a match where the cameras are known.
    fewest_effective : float
        Effective number of independent pairs that do.
    """

    scatter: tuple[float, ...] = (0.042, 0.070, 0.019, 0.012, 0.014, 0.024, 0.010, 0.014)
    balance_change: float = 9.21
    mix_change: float = 16.81
    fewest_groups: int = 2
    fewest_effective: float = 2.0


@dataclass(frozen=True, kw_only=True)
class ValidateOptions:
    """Proving a match on samples that it did not use.

    Attributes
    ----------
    matched_mean : float
        Largest held-out error, and largest upper end of its interval, of a match that is trusted (CIEDE2000). An
        image-wide mean of 1 is about just noticeable side by side.
    matched_area : float
        The same for every labelled area such as skin (faces: 1.8 was found acceptable).
    matched_neutral : float
        The most that neutrals may be off by, as the uncertainty of the match predicts (95th percentile): greys are
        told apart finest, so that the limit of faces would send nearly every setup to review.
    unchanged_gain : float
        A match must lower the held-out error by this much to be worth anything.
    fewest_surfaces : int
        Colours below which a proof says too little to trust.
    covered_within : float
        A colour of the angle is covered if a pair that agrees lies within that many stops of red over green and
        blue over green.
    most_uncovered : float
        Largest share of the angle's picture whose colours no pair covers.
    least_agreeing : float
        Share of the surfaces that must agree with the match for it to be trusted.
    clipped_share : float
        Share of the frame from which clipped highlights are worth a word.
    lamp_share : float
        Share of the frame from which an area of saturated light is told: a square of a fiftieth of the picture's
        width is well seen (a judgement, no source).
    lamp_level : float
        Least brightness of the largest channel of light out of gamut, under the setup's view gain: a stop above
        mid-grey. Below it a wrong hue hides among shadows.
    lamp_white : float
        The same for light in gamut: diffuse white, above which no paint shines in any channel.
    lamp_reach : (red, green, blue)
        Distance from neutral, (largest - channel) / largest, beyond which a colour is more saturated than any
        patch of the 24-patch chart: the thresholds of the ACES 1.3 reference gamut compression, chosen so that it
        leaves that chart alone.
    lamp_outside : float
        The same distance from which a colour lies outside ACEScg: 1, and a little for noise.
    slope_limit : float
        How far the slope of log luminance against the hero may lie from 1 (beyond twice its own error) before the
        encoding is suspected.
    slope_pairs, slope_span, slope_resamples, slope_suspects : int, float, int, int
        Pairs and stops of brightness that a slope needs, resamples behind its error, suspects named.
    resamples : int
        Bootstrap resamples behind the upper end.
    seed : int
    """

    matched_mean: float = 1.5
    matched_area: float = 1.8
    matched_neutral: float = 2.4
    unchanged_gain: float = 0.0
    fewest_surfaces: int = 8
    covered_within: float = 0.5
    most_uncovered: float = 0.1
    least_agreeing: float = 0.4
    clipped_share: float = 0.002
    lamp_share: float = 0.0005
    lamp_level: float = 0.36
    lamp_white: float = 1.0
    lamp_reach: tuple[float, float, float] = (0.815, 0.803, 0.880)
    lamp_outside: float = 1.02
    slope_limit: float = 0.08
    slope_pairs: int = 60
    slope_span: float = 2.0
    slope_resamples: int = 40
    slope_suspects: int = 3
    resamples: int = 100
    seed: int = 0


@dataclass(frozen=True, kw_only=True)
class DriftOptions:
    """Following exposure and balance over time.

    Attributes
    ----------
    pictures : int
        Pictures of each angle, spread over the common range.
    exposure_limit, balance_limit : float
        Stops that a camera may move against its own first pictures before its match needs a review.
    grid : tuple of int
        Rows and columns of the areas that are followed.
    first_share : float
        Share of the pictures, from the first on, that the others are compared with.
    shortest_segment : float
        Seconds that a range must last to be matched apart.
    """

    pictures: int = 24
    exposure_limit: float = 0.15
    balance_limit: float = 0.1
    grid: tuple[int, int] = (18, 32)
    first_share: float = 0.15
    shortest_segment: float = 0.5
