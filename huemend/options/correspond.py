"""Options of finding pairs: features, charts, faces, and surfaces of the hero itself."""

from __future__ import annotations

from dataclasses import dataclass, field


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
class FramingOptions:
    """Finding out whether a camera stood still between two moments.

    Lengths are in pixels of the matching picture unless they say otherwise.

    Attributes
    ----------
    corners : int
        Corners that are followed at most.
    apart : float
        Least distance of two of them, as a share of the picture's longer side.
    window : int
        Side of what is followed around a corner.
    scatter : float
        How far a corner may be off: after being followed there and back, and from what most of them do.
    fewest, share : int, float
        So many corners must move alike, and that share of those that can be followed.
    still : float
        No corner of the picture moves by more: the camera stood still.
    followed : float
        Up to this a change of framing is followed; beyond, the moments are matched apart.
    """

    corners: int = 400
    apart: float = 0.015
    window: int = 15
    scatter: float = 0.7
    fewest: int = 16
    share: float = 0.35
    still: float = 0.5
    followed: float = 4.0


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
    tint : (red over green, blue over green)
        Stops by which cameras differ whose white balance was set alike, 1.6 standard deviations of the prior of
        two cameras: evidence counts half at either.
    echo_evidence : float
        Least evidence for a cluster whose colours differ between the views as those of the believed clusters do.
    echo_tint : (red over green, blue over green)
        Stops within which they do: the middle of its colours, and their scatter.
    step : int
        Spacing of the grid on the reference that is grown from the features.
    reach : float
        How far from a feature the grid may start to grow.
    patch_radius : float
        Radius of a colour patch on the reference.
    mismatch : float
        Growth keeps a patch whose difference is explained by noise and this share of its own structure.
    plain : float
        A patch is plain below this many times the variance of noise in the flattest patches of its brightness.
    plain_rim, plain_alike : int, float
        So many pixels beside a plain surface, and within so many stops of it, a patch still belongs to it.
    plain_shading : float
        Standard deviation of the natural logarithm of how differently two views see one patch lit.
    darkest : float
        Patches below this scene-linear luminance are left out.
    cell : float
        Side of the cells that group pairs for a proof.
    correlation : float
        Correlation of errors within a cell: many pairs of one cell count little more than a few.
    steady : float
        How far the ratio of two views may be off its middle over the moments, beyond noise, for a moment to be
        averaged with the others; natural logarithm.
    most_pairs : int
        Upper bound of the number of pairs handed on.
    features : bool
        Look for shared surfaces; without, only what the setup file names is used.
    area_weight : float
        Effective number of independent pairs that an area marked by hand is worth at a weight of 1, where there
        are no others: somebody looked.
    area_most : float
        Beside found pairs, what one area is worth saturates at so many of them.
    area_agrees, area_light : float
        Standard deviations of what two areas drawn by hand show of one surface, beyond what can be measured in
        them: of the colour of each, relative, and of their light, natural logarithm.
    area_least_found : float
        Effective number of found pairs below which there is nothing for areas to be held to.
    area_pixels : int
        Least number of usable working pixels in an area.
    area_usable : float
        Least share of an area that must be neither clipped nor ignored.
    area_cells : int
        An area is measured in about that many cells, whose median stands for it.
    grey_spread : float
        Standard deviation of the chroma of a grey that only the angle shows, relative: how grey greys are.
    chart : ChartOptions
    framing : FramingOptions
    """

    width: int = 960
    reference_width: int = 1280
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
    tint: tuple[float, float] = (0.2, 0.35)
    echo_evidence: float = 2.0
    echo_tint: tuple[float, float] = (0.12, 0.2)
    step: int = 4
    reach: float = 45.0
    patch_radius: float = 2.5
    mismatch: float = 0.25
    plain: float = 3.0
    plain_rim: int = 4
    plain_alike: float = 0.12
    plain_shading: float = 0.12
    darkest: float = 0.004
    cell: float = 24.0
    correlation: float = 0.3
    steady: float = 0.15
    most_pairs: int = 6_000
    features: bool = True
    area_weight: float = 8.0
    area_most: float = 4.0
    area_agrees: float = 0.012
    area_light: float = 0.2
    area_least_found: float = 5.0
    area_pixels: int = 24
    area_usable: float = 0.5
    area_cells: int = 36
    grey_spread: float = 0.03
    chart: ChartOptions = field(default_factory=ChartOptions)
    framing: FramingOptions = field(default_factory=FramingOptions)


@dataclass(frozen=True, kw_only=True)
class FaceOptions:
    """Skin samples from faces.

    Lengths are in face lengths (eyes to mouth) unless they say otherwise.

    Attributes
    ----------
    look : bool
        Look for faces.
    sides : tuple of int
        Longer sides of the pictures that a detector sees, pixels, ascending.
    closer : int
        The same of a picture that it sees around small faces only, or where it found none; 0 for no such picture.
    tall_enough : float
        No larger picture is looked at once every face found is this tall in the present one, pixels.
    enlarged : float
        A small picture is enlarged at most so much: a face that then is less than ``tall_enough`` has too few
        pixels of its own for a patch of skin.
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
    sides: tuple[int, ...] = (512, 960)
    closer: int = 1440
    tall_enough: float = 48.0
    enlarged: float = 2.4
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
