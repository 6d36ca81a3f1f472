"""Options of every stage: the only place where a default or a bound is written."""

from __future__ import annotations

from dataclasses import dataclass, field

from huemend.options_colours import ColourOptions

__all__ = [
    "BakeOptions",
    "CarryOptions",
    "ChartOptions",
    "ClipOptions",
    "ColourOptions",
    "CorrespondOptions",
    "DayOptions",
    "DriftOptions",
    "FaceOptions",
    "HeroOptions",
    "JointOptions",
    "LineariseOptions",
    "MatchOptions",
    "ReportOptions",
    "SampleOptions",
    "SolveOptions",
    "ValidateOptions",
    "WriteOptions",
]


@dataclass(frozen=True, kw_only=True)
class ClipOptions:
    """Clips: which moments, and how angles are brought to one clock.

    Attributes
    ----------
    moments : int
        Moments to sample over the range that all angles share.
    candidates : int
        Moments looked at for each one that is taken.
    proxy_side : int
        Longer side of the small pictures that moments are judged on.
    edge_share : float
        Share of the common range left out at each end, where slates, run-ups and run-outs are.
    flash : float
        A mean level (codes, 0..1) this far off both neighbours is a flash; a stop of log is 0.07 to 0.09.
    blur_share : float
        Sharpness below this share of the angle's median means focus hunting or a swish.
    flat_share : float
        Contrast below this share of the angle's median means a fade, black, or a lens cap.
    other_share : float
        A picture of which this share differs from the angle's median picture shows something else: a slate.
    frozen_share : float
        Motion and noise below this share of the angle's median mean a frozen or repeated frame.
    neighbours : int
        Frames before and after a moment that may be averaged with it.
    audio_rate : int
        Samples a second that sound is compared at.
    audio_seconds : float
        Sound listened to at most.
    audio_confidence : float
        Least confidence (0..1) at which sound decides.
    sequence_rate : int
        Frames a second assumed for numbered pictures.
    sequence_length : int
        Numbered pictures from this many on are sampled like a clip.
    """

    moments: int = 8
    candidates: int = 4
    proxy_side: int = 192
    edge_share: float = 0.03
    flash: float = 0.02
    blur_share: float = 0.6
    flat_share: float = 0.6
    other_share: float = 0.35
    frozen_share: float = 0.05
    neighbours: int = 2
    audio_rate: int = 8000
    audio_seconds: float = 1800.0
    audio_confidence: float = 0.4
    sequence_rate: int = 24
    sequence_length: int = 24


@dataclass(frozen=True, kw_only=True)
class SampleOptions:
    """Reading pictures and clips.

    ``largest_side`` and ``largest_megapixels`` bound what a hostile header can make us allocate. The setup file
    is bounded in bytes, angles and stills an angle for the same reason. ``pixel_aspect``, ``exposure_index`` and
    ``offset`` (seconds) are (lowest, highest) of what a setup file may say, as are ``area_weight``,
    ``protect_limit`` (CIEDE2000) and ``reflectance``; ``crop_leaves`` is the least share of width and of height
    that a crop must leave, ``smallest_area`` the least share of the frame that a marked area must have.
    """

    largest_side: int = 20_000
    largest_megapixels: int = 120
    smallest_side: int = 32
    largest_setup_file: int = 1_000_000
    most_angles: int = 64
    most_stills: int = 1_000
    pixel_aspect: tuple[float, float] = (0.25, 4.0)
    exposure_index: tuple[int, int] = (25, 409_600)
    crop_leaves: float = 0.05
    offset: tuple[float, float] = (-86_400.0, 86_400.0)
    most_areas: int = 500
    smallest_area: float = 1e-6
    area_weight: tuple[float, float] = (0.01, 100.0)
    protect_limit: tuple[float, float] = (0.1, 100.0)
    reflectance: tuple[float, float] = (0.01, 1.0)
    clips: ClipOptions = field(default_factory=ClipOptions)


@dataclass(frozen=True, kw_only=True)
class LineariseOptions:
    """Decoding to scene-linear light.

    ``working_width`` is the width that pictures are averaged down to before surfaces are looked for: patches
    average many pixels anyway, and a colour match does not ask for more.

    ``floor_stops`` below mid-grey a channel is taken for black, and sooner where its noise is more than
    ``floor_noise`` of it. A camera may clip below its largest code: what piles up at the top of a channel is taken
    for clipped from ``clip_from`` up (scene-linear; the brightest paper at nominal exposure is 1) if it holds
    ``clip_share`` of the picture. A picture with less than ``least_valid`` of its pixels usable is refused.
    """

    working_width: int = 1920
    floor_stops: float = -8.0
    floor_noise: float = 0.5
    clip_from: float = 3.0
    clip_share: float = 2e-4
    least_valid: float = 1e-3


@dataclass(frozen=True, kw_only=True)
class ChartOptions:
    """A colour chart in frame.

    Attributes
    ----------
    width : int
        Longer side of the picture that is searched, pixels, at scale 1.
    scales : tuple of int
        Times that size, tried until a chart is found: small charts want large pictures, and some only one of them.
    most : int
        Charts looked for in one picture.
    moments : int
        At most that many moments are looked at.
    inside : float
        Share of a patch's width and height that is measured, about its middle.
    fewest_pixels : int
        Least number of pixels of a patch.
    darkest : float
        Least scene-linear luminance of a patch.
    least_noise : float
        Relative standard error that no patch mean goes below.
    largest_residual : float
        Mean CIEDE2000 from the published colours, after the best 3x3, up to which a chart is one. A stop of light
        from end to end comes to 4.7, a veil of 0.05 to 2.7, 2,000 wrong orders of the same patches to 19 and more,
        pieces of photographs to 18 and more.
    largest_difference : float
        CIEDE2000 of a single patch from its published colour, after the same 3x3, beyond which it is left out.
    most_covered : int
        At most that many patches are left out so.
    weight : float
        Effective number of independent pairs that a patch is worth.
    light_spread : float
        Standard deviation of the natural logarithm of how differently two views see a patch lit.
    """

    width: int = 960
    scales: tuple[int, ...] = (1, 2, 3, 4)
    most: int = 2
    moments: int = 4
    inside: float = 0.5
    fewest_pixels: int = 4
    darkest: float = 0.004
    least_noise: float = 0.004
    largest_residual: float = 8.0
    largest_difference: float = 12.0
    most_covered: int = 4
    weight: float = 2.0
    light_spread: float = 0.04


@dataclass(frozen=True, kw_only=True)
class CorrespondOptions:
    """Finding surfaces that two angles share.

    Lengths are in pixels of the matching pictures, which are ``width`` wide; features are looked for on the
    reference enlarged or reduced to ``reference_width``, since what it shows is small there.

    Attributes
    ----------
    width, reference_width : int
    reference_features, angle_features : int
        At most that many features.
    squeezes : tuple of float
        The angle is also seen squeezed (below 1) and stretched sideways, for surfaces seen from the side.
    neighbours : int
        How many candidates of each feature are kept as possible counterparts.
    upright : float
        Largest turn between the two views, degrees.
    ratio, slack : float
        A candidate must be nearer than ``ratio`` times the first one beyond the kept neighbours, and no farther
        than ``slack`` times the nearest that the reference feature has.
    chroma_gate : float
        Largest difference of a candidate's red/green and blue/green between the views, stops.
    support : int
        Least number of neighbouring candidates that agree on scale and place.
    cluster_evidence : float
        Least sum of distinctiveness of a cluster of candidates that agree.
    step : int
        Spacing of the grid on the reference that is grown from the features.
    reach : float
        How far from a feature the grid may start to grow.
    patch_radius : float
        Radius of a colour patch on the reference.
    mismatch : float
        Growth keeps a patch whose difference is explained by noise and this share of its own structure.
    darkest : float
        Patches below this scene-linear luminance are left out.
    cell : float
        Side of the cells that group pairs for a proof.
    correlation : float
        Correlation of errors within a cell: many pairs of one cell count little more than a few.
    most_pairs : int
        Upper bound of the number of pairs handed on.
    features : bool
        Look for shared surfaces; without, only what the setup file names is used.
    area_weight : float
        Effective number of independent pairs that an area marked by hand is worth: somebody looked.
    area_pixels : int
        Least number of usable working pixels in an area.
    area_usable : float
        Least share of an area that must be neither clipped nor ignored.
    area_cells : int
        An area is measured in about that many cells, whose median stands for it.
    grey_spread : float
        Standard deviation of the chroma of a grey that only the angle shows, relative: how grey greys are.
    chart : ChartOptions
    """

    width: int = 960
    reference_width: int = 1920
    reference_features: int = 12_000
    angle_features: int = 6_000
    squeezes: tuple[float, ...] = (0.7, 1.4)
    neighbours: int = 2
    upright: float = 25.0
    ratio: float = 0.95
    slack: float = 1.15
    chroma_gate: float = 1.2
    support: int = 3
    cluster_evidence: float = 4.0
    step: int = 3
    reach: float = 45.0
    patch_radius: float = 2.5
    mismatch: float = 0.25
    darkest: float = 0.004
    cell: float = 24.0
    correlation: float = 0.3
    most_pairs: int = 6_000
    features: bool = True
    area_weight: float = 8.0
    area_pixels: int = 24
    area_usable: float = 0.5
    area_cells: int = 36
    grey_spread: float = 0.03
    chart: ChartOptions = field(default_factory=ChartOptions)


@dataclass(frozen=True, kw_only=True)
class FaceOptions:
    """Skin samples from faces.

    Lengths are in face lengths (eyes to mouth) unless they say otherwise.

    Attributes
    ----------
    look : bool
        Look for faces, where the extra ``faces`` is installed.
    sides : tuple of int
        Longer sides of the pictures that a detector sees, pixels, ascending.
    tall_enough : float
        No larger picture is looked at once every face found is this tall in the present one, pixels.
    least_sure : float
        Least confidence of a detection.
    overlap : float
        Detections with more than this in common (over their union) are one face.
    moments : int
        At most that many moments are looked at.
    patch : float
        Radius of a skin patch.
    fewest_pixels : int
        Least number of pixels of a patch.
    shine, shade : float
        Pixels brighter or darker than this times the patch's median are left out, and ``greyest`` is the share of
        the pixels with the least red that is left out: shine is white.
    darkest : float
        Least scene-linear luminance of a patch.
    skin_red_green, skin_blue_green : (low, high), high
        Stops of red over green, and of blue over green, that skin may have.
    one_skin : float
        Largest difference of a part of a face from the others, stops.
    one_light : float
        Largest difference of a part's change between the views from that of the others, stops.
    near : float
        A face that lies farther from where features put it than this is as good as anywhere.
    alike : float
        Largest difference of the clothes, against the skin, stops.
    clearly : float
        The best choice of who is who must cost less than this times the second best.
    around, fewest_around, most_around : float, int, int
        Features within that distance place a face, if there are so many; the nearest so many are used.
    weight : float
        Effective number of independent pairs that one part of a face is worth.
    light_spread : float
        Standard deviation of the natural logarithm of how differently two views see a part of a face lit.
    """

    look: bool = True
    sides: tuple[int, ...] = (512, 960, 1440)
    tall_enough: float = 48.0
    least_sure: float = 0.55
    overlap: float = 0.3
    moments: int = 4
    patch: float = 0.22
    fewest_pixels: int = 9
    shine: float = 1.35
    shade: float = 0.6
    greyest: float = 0.1
    darkest: float = 0.008
    skin_red_green: tuple[float, float] = (0.12, 1.4)
    skin_blue_green: float = 0.15
    one_skin: float = 0.35
    one_light: float = 0.5
    near: float = 4.0
    alike: float = 0.7
    clearly: float = 0.6
    around: float = 8.0
    fewest_around: int = 8
    most_around: int = 40
    weight: float = 3.0
    light_spread: float = 0.2


@dataclass(frozen=True, kw_only=True)
class HeroOptions:
    """Suggesting exposure and balance for the hero itself.

    Attributes
    ----------
    balance : bool
        Suggest them at all.
    moments : int
        At most that many moments are searched for greys, faces and a chart.
    area_error, chart_error, pixel_error, skin_error : float
        Standard deviation, in stops of red or blue over green, of what all samples of a kind share: how grey
        marked greys are (3 %; common practice, no source), a chart's patches after years of light (1 %; common
        practice, no source), greys that were found (2.9 degrees between true and found light, the mean on the NUS
        8-camera set in Qian et al. 2019, from memory: 0.13 stop), and people against two patches (common practice,
        no source).
    light_error : float
        Standard deviation, in stops, of how evenly a surface of known reflectance is lit (common practice, no
        source).
    pixel_width : int
        Width of the picture that is searched for greys.
    pixel_share, fewest_pixels : float, int
        Share of the pixels that are taken, the greyest first, and how many at least.
    pixel_index : float
        How much the detail of the last one may differ between the channels, relative to the detail itself.
    pixel_contrast, pixel_floor : float
        Least detail (natural logarithm) and least scene-linear light of such a pixel.
    pixel_spread, pixel_cast : float
        Largest spread of the ratios of what was found, and largest distance from three equal channels, stops.
    pixel_places, fewest_places, pixel_range : int, int, float
        The picture is cut into squares, so many across; greys must lie in that many of them, and differ in light
        by that many stops between the darkest and the brightest tenth.
    """

    balance: bool = False
    moments: int = 4
    area_error: float = 0.043
    chart_error: float = 0.014
    pixel_error: float = 0.13
    skin_error: float = 0.2
    light_error: float = 0.1
    pixel_width: int = 480
    pixel_share: float = 0.001
    fewest_pixels: int = 20
    pixel_index: float = 0.15
    pixel_contrast: float = 0.03
    pixel_floor: float = 0.004
    pixel_spread: float = 0.2
    pixel_cast: float = 0.6
    pixel_places: int = 12
    fewest_places: int = 3
    pixel_range: float = 0.7


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
    systematic: tuple[float, float, float] = (0.018, 0.008, 0.011)
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
class ReportOptions:
    """How much the report shows, and how large.

    ``pictures`` set to False leaves out every image of the set and its people. ``picture_width`` and
    ``picture_megapixels`` bound one picture and all pictures of a report together; ``samples_drawn`` is the
    most samples drawn on one picture (the numbers cover all of them), ``worst`` how many of the worst are
    shown as crops.
    """

    pictures: bool = True
    picture_width: int = 1280
    picture_megapixels: float = 7.0
    jpeg_quality: int = 88
    samples_drawn: int = 300
    worst: int = 6


@dataclass(frozen=True, kw_only=True)
class WriteOptions:
    """LUTs and record.

    ``target`` says into which camera encoding the match LUT writes: the angle's own (``angle``) or the hero's
    (``hero``). ``lut_range`` is the range of the codes that go into and come out of the camera side of a LUT:
    ``full``, ``legal``, or ``media`` for that of the angle's own media. ``lut_size`` forces a size; None chooses
    from ``lut_sizes`` (``view_sizes`` for a monitor: LUT boxes take 33 nodes as a rule; common practice, no
    source) by the interpolation error, in 10-bit codes: its 99th percentile over the setup's own colours
    (``lut_p99``), and for a match over every code of the cube that stands for real light (``lut_real_p99``).
    ``working_encoding`` is a published log space, ``view`` the rendering of the view LUT. ``colours`` bounds how
    many of the setup's own colours these measurements use, ``cdl_colours`` how many the closest CDL is fitted to.
    ``neutral_highlights`` lets what the camera clips run to neutral, from ``neutral_stops`` under the clip (a stop
    is common practice for a highlight roll-off, no source).
    """

    target: str = "angle"
    lut_range: str = "media"
    lut_size: int | None = None
    lut_sizes: tuple[int, ...] = (17, 33, 65)
    view_sizes: tuple[int, ...] = (17, 33)
    lut_p99: float = 1.0
    lut_real_p99: float = 4.0
    working_encoding: str = "ACEScct"
    view: str = "aces"
    clf: bool = True
    cdl: bool = True
    colours: int = 20_000
    cdl_colours: int = 600
    neutral_highlights: bool = False
    neutral_stops: float = 1.0


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


@dataclass(frozen=True, kw_only=True)
class BakeOptions:
    """Running a match over media.

    Attributes
    ----------
    clip_format, picture_format : str
        What is written unless told otherwise: a key of ``huemend.media.encode.FORMATS``.
    queue : int
        Frames held between reading, the LUT and writing, which bounds the memory.
    report_every : float
        Seconds between two words on progress.
    """

    clip_format: str = "prores-4444"
    picture_format: str = "tiff"
    queue: int = 2
    report_every: float = 0.5


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
class DayOptions:
    """Many setups.

    Attributes
    ----------
    depth : int
        How many folders deep setups are looked for.
    most_folders : int
        Folders looked into at most.
    tries : int
        How often a setup is begun whose worker died, the last times with nothing else running.
    queue : int
        Setups that a cluster is given ahead of its workers.
    grace_seconds : float
        Time that a worker has to end cleanly when it is told to.
    connect_seconds : float
        Time to reach a scheduler.
    thumbnails : int
        Setups up to which the index shows a thumbnail of each.
    most_setups_a_step : int
        Tasks in one step of a farm template (Open Job Description 2023-09 allows 1024 values of a parameter).
    """

    depth: int = 8
    most_folders: int = 1_000_000
    tries: int = 3
    queue: int = 5_000
    grace_seconds: float = 10.0
    connect_seconds: float = 10.0
    thumbnails: int = 300
    most_setups_a_step: int = 1024


@dataclass(frozen=True, kw_only=True)
class MatchOptions:
    """Everything that ``match_setup`` can be told."""

    sample: SampleOptions = field(default_factory=SampleOptions)
    linearise: LineariseOptions = field(default_factory=LineariseOptions)
    correspond: CorrespondOptions = field(default_factory=CorrespondOptions)
    faces: FaceOptions = field(default_factory=FaceOptions)
    hero: HeroOptions = field(default_factory=HeroOptions)
    solve: SolveOptions = field(default_factory=SolveOptions)
    joint: JointOptions = field(default_factory=JointOptions)
    carry: CarryOptions = field(default_factory=CarryOptions)
    colours: ColourOptions = field(default_factory=ColourOptions)
    validate: ValidateOptions = field(default_factory=ValidateOptions)
    drift: DriftOptions = field(default_factory=DriftOptions)
    write: WriteOptions = field(default_factory=WriteOptions)
    report: ReportOptions = field(default_factory=ReportOptions)
