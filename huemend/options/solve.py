"""Options of the solve: one angle, several together, what is lent, and colours alone."""

from __future__ import annotations

from dataclasses import dataclass


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
    gain_strange : float
        And a rung whose channel mix is implausible this much at least.
    strange_slack : float
        Standard errors by which a rung without a strange mix may explain less than the one with it, and still is
        the likelier of the two.
    roots : bool
        Offer root terms, which bend hues, beyond a 3x3 that was taken.
    gain_roots, roots_slack : float
        They must lower the held-out error by that much CIEDE2000, and by that many standard errors: more than
        another rung, since they are many.
    roots_colours : int
        And that many hues and saturations, a quarter of a stop apart, must have been seen.
    contrast_sd : float
        Standard deviation of the natural logarithm of a contrast that a look or a wrong curve may have left,
        before any footage is seen (a judgement, no source).
    barely_seen : float
        A match that moves the shared colours by less than this must bring them nearer, held out, by a fifth
        of what it moves them: what differs anyway must not be nearly all (a judgement, no source).
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
    keep_limit : float
        How far a match may move what the setup file keeps as shot (mean CIEDE2000), unless it says so itself.
    least_error_cost : float
        By how much a match may be off all other colours (mean CIEDE2000, held out), where it was right on them, so
        that some match best; what it is off them anyway adds to that as squares do.
    least_error_gain : float
        And what it must gain there (mean CIEDE2000, held out): less may be noise, for which the rest would pay.
    systematic : (exposure, red_green, blue_green)
        Standard deviations, in stops, of errors that all pairs of a setup share, so that their scatter does not
        tell. Found by the calibration trials of tests/bench/accuracy (synthetic pairs of measured cameras, true
        correspondences of rendered sets) so that the 90 % intervals hold what they claim.
    hint_light : float
        By how much the light (natural logarithm) of an area marked by hand is believed to differ between the
        views, at most, when it is held against what else is known.
    hint_at_odds : float
        Squared distance beyond which a marked area contradicts that. Of areas that a bench of rendered sets marks
        rightly, none goes beyond two thirds of it.
    kind_share : float
        How far a kind of surface (skin, a dye) may lie off the match, as a share of the scatter of single pairs
        about it. On the bench's tuning setups the predicted error of skin then bounds the true one on nine of ten.
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
    gain_strange: float = 0.3
    strange_slack: float = 2.0
    roots: bool = True
    gain_roots: float = 0.1
    roots_slack: float = 2.0
    roots_colours: int = 12
    contrast_sd: float = 0.15
    barely_seen: float = 1.2
    unseen: float = 0.8
    fewest_groups: int = 4
    fewest_named: int = 3
    fewest_effective: float = 5.0
    least_agreeing: float = 0.3
    most_effective: float = 80.0
    keep_limit: float = 2.0
    least_error_cost: float = 0.5
    least_error_gain: float = 0.15
    systematic: tuple[float, float, float] = (0.018, 0.008, 0.014)
    kind_share: float = 0.8
    implausible_mix: float = 120.0
    implausible_balance: float = 40.0
    hint_light: float = 0.3
    hint_at_odds: float = 6.5
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
class ColourOptions:
    """The fall-back for views that share no surface: matching by colours alone.

    Lengths of colour are in stops: of light, and of red over green and blue over green.

    Attributes
    ----------
    ask : bool
        Use it where an angle would stay unsolved; never without being asked.
    width, regions, compactness : int, int, float
        Pictures are cut into about that many superpixels at that width; more compact ones follow colour less.
    moments : int
        At most that many moments are looked at.
    usable : float
        Least share of a region that must be neither clipped nor ignored.
    darkest : float
        Regions below this scene-linear luminance are left out.
    same : (light, ratios)
        Standard deviation within which regions show one colour.
    saturated : float
        Regions that far from neutral count half: a 3x3 moves them by more than exposure and balance do.
    alike : (light, ratios)
        Standard deviation by which a surface differs between regions.
    loose : (share, light, ratios)
        And of the share of them that differ by more: mixed light, gloss.
    odd_colour, odd_light : float
        Floors under the densities of colours, and of light given the colour: how much a region that the hero does
        not show may cost.
    most_effective : float
        Independent surfaces that all regions together count for at most.
    common : (light, red over green, blue over green)
        Standard deviation of how differently two views far apart are lit on the whole.
    darker : float
        By how much the mean of that lies below the hero, for which a set is lit: of the setups that
        ``tests/bench/wide`` calls tuning (mean 0.15, standard deviation 0.15).
    reach : (light, red over green, blue over green)
        Matches looked at lie within that of nothing.
    fewest_colours : float
        Effective number of colours that an angle must show.
    thin_places : float
        A thin match is ruled out beyond an interval of exposure that is wider by itself for every so many places
        that agree with the match.
    least_found : float
        Least share of an angle's colours that must be found in the hero.
    shrinkage : float
        Factor by which the estimate is shrunk towards no match at all: chosen on the tuning setups of
        ``tests/bench/wide`` (docs/maths.md, section 11).
    """

    ask: bool = False
    width: int = 480
    regions: int = 600
    compactness: float = 0.25
    moments: int = 4
    usable: float = 0.5
    darkest: float = 0.004
    same: tuple[float, float] = (0.3, 0.1)
    saturated: float = 0.6
    alike: tuple[float, float] = (0.2, 0.05)
    loose: tuple[float, float, float] = (0.15, 0.5, 0.15)
    odd_colour: float = 0.4
    odd_light: float = 0.2
    most_effective: float = 12.0
    common: tuple[float, float, float] = (0.25, 0.02, 0.04)
    darker: float = 0.15
    reach: tuple[float, float, float] = (3.5, 0.6, 0.8)
    fewest_colours: float = 4.0
    thin_places: float = 12.0
    least_found: float = 0.38
    shrinkage: float = 0.7
