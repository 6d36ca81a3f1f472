"""Options of the solve: one angle, what is lent, and colours alone."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class SolveOptions:
    """Fitting a match to pairs."""

    #: Degrees of freedom of the Student-t loss on pairs: small trusts no single pair. With 1 (Cauchy) the third of
    #: wrong pairs that a busy set gives hardly pulls at all.
    tails: float = 1.0
    #: Squared residual, in the learnt scales, up to which a pair counts as agreeing with the match.
    agreeing: float = 4.0
    #: First guess of the standard deviation of shading between the views, natural logarithm of luminance.
    shading_start: float = 0.12
    #: (low, high). What re-estimation may make of it.
    shading_bounds: tuple[float, float] = (0.02, 0.35)
    #: The first guesses of shading and misfit count like that many separate places; like more where a match rests
    #: on areas named by hand alone, which are hardly more than the parameters that they decide.
    scale_places: float = 3.0
    scale_places_by_hand: float = 12.0
    #: Standard deviation of chroma (channel over luminance) that no 3x3 explains, before re-estimation.
    misfit: float = 0.02
    #: Scene-linear noise of a patch mean that does not fall with the light.
    read_noise: float = 0.0015
    #: Parts that a proof holds out in turn.
    folds: int = 5
    #: Pairs used while proving; the fit itself uses all.
    fold_pairs: int = 2_000
    #: A richer rung must lower the held-out error by this many standard errors of the difference (the
    #: one-standard-error rule of Breiman et al. 1984, on paired differences).
    rung_slack: float = 1.0
    #: And by this much CIEDE2000: less cannot be seen, and light that one view gets and the other does not can
    #: feign that much. Flare and contrast, which stray light feigns best, must prove most.
    gain_exposure: float = 0.1
    gain_balance: float = 0.16
    gain_matrix: float = 0.02
    gain_flare: float = 0.3
    gain_contrast: float = 0.3
    #: Or flare must explain the pairs better than what has none by so much log likelihood a pair (nats): on
    #: rendered sets without haze it does by 0.13 at most, and where it does by more, it is the better match.
    haze_evidence: float = 0.15
    #: Flare from one side of the picture is told where it explains the pairs better than even flare by so much.
    uneven_evidence: float = 0.1
    #: And a rung whose channel mix is implausible this much at least.
    gain_strange: float = 0.3
    #: Standard errors by which a rung without a strange mix may explain less than the one with it, and still is
    #: the likelier of the two.
    strange_slack: float = 2.0
    #: Offer root terms, which bend hues, beyond a 3x3 that was taken.
    roots: bool = True
    #: They must lower the held-out error by that much CIEDE2000, and by that many standard errors: more than
    #: another rung, since they are many.
    gain_roots: float = 0.1
    roots_slack: float = 2.0
    #: And that many hues and saturations, a quarter of a stop apart, must have been seen.
    roots_colours: int = 12
    #: Standard deviation of the natural logarithm of a contrast that a look or a wrong curve may have left, before
    #: any footage is seen (a judgement, no source).
    contrast_sd: float = 0.15
    #: A match that moves the shared colours by less than this must bring them nearer, held out, by a fifth of what
    #: it moves them: what differs anyway must not be nearly all (a judgement, no source).
    barely_seen: float = 1.2
    #: A match that moves the shared colours by less than this (mean CIEDE2000) is not worth having: the angle
    #: already matches.
    unseen: float = 0.8
    #: Least number of separate places on the picture that can pin a match.
    fewest_groups: int = 4
    #: Least number of areas named by hand that can pin a match without anything else.
    fewest_named: int = 3
    #: Least effective number of independent pairs.
    fewest_effective: float = 5.0
    #: Least share of pairs (by weight) that agree with the best match; below, the evidence contradicts itself.
    least_agreeing: float = 0.3
    #: The effective number of pairs is bounded: what no 3x3 explains (metamerism, gloss) is common to many pairs
    #: and does not average out however many there are.
    most_effective: float = 80.0
    #: How far a match may move what the setup file keeps as shot (mean CIEDE2000), unless it says so itself.
    keep_limit: float = 2.0
    #: By how much a match may be off all other colours (mean CIEDE2000, held out), where it was right on them, so
    #: that some match best; what it is off them anyway adds to that as squares do.
    least_error_cost: float = 0.5
    #: And what it must gain there (mean CIEDE2000, held out): less may be noise, for which the rest would pay.
    least_error_gain: float = 0.15
    #: (exposure, red_green, blue_green). Standard deviations, in stops, of errors that all pairs of a setup share,
    #: so that their scatter does not tell. Found by the calibration trials of tests/bench/accuracy (synthetic
    #: pairs of measured cameras, true correspondences of rendered sets) so that the 90 % intervals hold what they
    #: claim.
    systematic: tuple[float, float, float] = (0.018, 0.008, 0.014)
    #: How far a kind of surface (skin, a dye) may lie off the match, as a share of the scatter of single pairs
    #: about it. On the bench's tuning setups the predicted error of skin then bounds the true one on nine of ten.
    kind_share: float = 0.8
    #: Squared distance from the camera-pair prior beyond which a channel mix, or even a balance, is not believed
    #: to be the work of two cameras under one light.
    implausible_mix: float = 120.0
    implausible_balance: float = 40.0
    #: Unless it lies along the daylight locus, up to so many mired: from a lamp of 2700 K to light of 5900 K.
    preset_mired: float = 200.0
    #: By how much the light (natural logarithm) of an area marked by hand is believed to differ between the views,
    #: at most, when it is held against what else is known.
    hint_light: float = 0.3
    #: Squared distance beyond which a marked area contradicts what was found; or other areas, where these are all.
    #: Of 359 areas that rendered sets mark rightly, seven go beyond the first.
    hint_at_odds: float = 4.5
    hint_at_odds_by_hand: float = 5.0
    #: (light, colour). Up to that squared distance an area that is marked beside enough that was found asks for
    #: nothing: 68 % of a chi-squared distribution with one and with two degrees of freedom.
    hint_noise: tuple[float, float] = (1.0, 2.3)
    #: By how much (mean CIEDE2000) such areas may move what was found elsewhere: right ones ask for 0.1 at most on
    #: rendered sets, and one of other light or material that passes as right would cost 0.8.
    hint_moves: float = 0.2
    seed: int = 0


@dataclass(frozen=True, kw_only=True)
class CarryOptions:
    """Lending what earlier setups of a day learnt of two cameras."""

    #: Eight float. Standard deviation, over the setups of a day, of the colour parameters between the same two
    #: cameras: balance in stops, then the channel mix. Of 25 pairs of measured sensors under nine lights
    #: (``tests/bench/carry.py``).
    scatter: tuple[float, ...] = (0.042, 0.070, 0.019, 0.012, 0.014, 0.024, 0.010, 0.014)
    #: Squared distance beyond which white balance, or the channel mix (a lens, a look, another camera), was
    #: changed: 99 % of a chi-squared distribution with two and with six degrees of freedom.
    balance_change: float = 9.21
    mix_change: float = 16.81
    #: Separate places that pin a match where the cameras are known.
    fewest_groups: int = 2
    #: Effective number of independent pairs that do.
    fewest_effective: float = 2.0


@dataclass(frozen=True, kw_only=True)
class ColourOptions:
    """The fall-back for views that share no surface: matching by colours alone.

    Lengths of colour are in stops: of light, and of red over green and blue over green.
    """

    #: Use it where an angle would stay unsolved; never without being asked.
    ask: bool = False
    #: Pictures are cut into about that many superpixels at that width; more compact ones follow colour less.
    width: int = 480
    regions: int = 600
    compactness: float = 0.25
    #: At most that many moments are looked at.
    moments: int = 4
    #: Least share of a region that must be neither clipped nor ignored.
    usable: float = 0.5
    #: Regions below this scene-linear luminance are left out.
    darkest: float = 0.004
    #: (light, ratios). Standard deviation within which regions show one colour.
    same: tuple[float, float] = (0.3, 0.1)
    #: Regions that far from neutral count half: a 3x3 moves them by more than exposure and balance do.
    saturated: float = 0.6
    #: (light, ratios). Standard deviation by which a surface differs between regions.
    alike: tuple[float, float] = (0.2, 0.05)
    #: (share, light, ratios). And of the share of them that differ by more: mixed light, gloss.
    loose: tuple[float, float, float] = (0.15, 0.5, 0.15)
    #: Floors under the densities of colours, and of light given the colour: how much a region that the hero does
    #: not show may cost.
    odd_colour: float = 0.4
    odd_light: float = 0.2
    #: Independent surfaces that all regions together count for at most.
    most_effective: float = 12.0
    #: (light, red over green, blue over green). Standard deviation of how differently two views far apart are lit
    #: on the whole.
    common: tuple[float, float, float] = (0.25, 0.02, 0.04)
    #: By how much the mean of that lies below the hero, for which a set is lit: of the setups that
    #: ``tests/bench/wide`` calls tuning (mean 0.15, standard deviation 0.15).
    darker: float = 0.15
    #: (light, red over green, blue over green). Matches looked at lie within that of nothing.
    reach: tuple[float, float, float] = (3.5, 0.6, 0.8)
    #: Effective number of colours that an angle must show.
    fewest_colours: float = 4.0
    #: A thin match is ruled out beyond an interval of exposure that is wider by itself for every so many places
    #: that agree with the match.
    thin_places: float = 12.0
    #: Least share of an angle's colours that must be found in the hero.
    least_found: float = 0.38
    #: Factor by which the estimate is shrunk towards no match at all: chosen on the tuning setups of
    #: ``tests/bench/wide`` (docs/maths.md, section 11).
    shrinkage: float = 0.7
