"""Options of finding pairs: features, charts, faces, and surfaces of the hero itself."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, kw_only=True)
class ChartOptions:
    """A colour chart in frame."""

    #: Longer side of the picture that is searched, pixels, at scale 1.
    width: int = 960
    #: Times that size, tried until a chart is found: small charts want large pictures, and some only one of them.
    scales: tuple[int, ...] = (1, 2, 3, 4)
    #: Charts looked for in one picture.
    most: int = 2
    #: At most that many moments are looked at.
    moments: int = 4
    #: Share of a patch's width and height that is measured, about its middle.
    inside: float = 0.5
    #: Least number of pixels of a patch.
    fewest_pixels: int = 4
    #: Least scene-linear luminance of a patch.
    darkest: float = 0.004
    #: Relative standard error that no patch mean goes below.
    least_noise: float = 0.004
    #: Mean CIEDE2000 from the published colours, after the best 3x3, up to which a chart is one. A stop of light
    #: from end to end comes to 4.7, a veil of 0.05 to 2.7, 2,000 wrong orders of the same patches to 19 and more,
    #: pieces of photographs to 18 and more.
    largest_residual: float = 8.0
    #: CIEDE2000 of a single patch from its published colour, after the same 3x3, beyond which it is left out.
    largest_difference: float = 12.0
    #: At most that many patches are left out so.
    most_covered: int = 4
    #: Effective number of independent pairs that a patch is worth.
    weight: float = 2.0
    #: Standard deviation of the natural logarithm of how differently two views see a patch lit.
    light_spread: float = 0.04


@dataclass(frozen=True, kw_only=True)
class FramingOptions:
    """Finding out whether a camera stood still between two moments.

    Lengths are in pixels of the matching picture unless they say otherwise.
    """

    #: Corners that are followed at most.
    corners: int = 400
    #: Least distance of two of them, as a share of the picture's longer side.
    apart: float = 0.015
    #: Side of what is followed around a corner.
    window: int = 15
    #: How far a corner may be off: after being followed there and back, and from what most of them do.
    scatter: float = 0.7
    #: So many corners must move alike, and that share of those that can be followed.
    fewest: int = 16
    share: float = 0.35
    #: No corner of the picture moves by more: the camera stood still.
    still: float = 0.5
    #: Up to this a change of framing is followed; beyond, the moments are matched apart.
    followed: float = 4.0


#: How wide matching pictures are unless told otherwise.
MATCHING_WIDTH = 960


@dataclass(frozen=True, kw_only=True)
class CorrespondOptions:
    """Finding surfaces that two angles share.

    Lengths are in pixels of the matching pictures, which are ``width`` wide; features are looked for on the
    reference enlarged or reduced to ``reference_width``, since what it shows is small there.
    """

    #: The width of the matching. Lengths that are in no option, since nobody would choose them otherwise, are in
    #: pixels of a picture `MATCHING_WIDTH` wide and follow this one.
    width: int = MATCHING_WIDTH
    reference_width: int = 1280
    #: At most that many features.
    reference_features: int = 12_000
    angle_features: int = 6_000
    #: The angle is also seen squeezed (below 1) and stretched sideways, for surfaces seen from the side.
    squeezes: tuple[float, ...] = (0.7, 1.4)
    #: How many candidates of each feature are kept as possible counterparts.
    neighbours: int = 2
    #: Largest turn between the two views, degrees.
    upright: float = 25.0
    #: A candidate must be nearer than ``ratio`` times the first one beyond the kept neighbours, and no farther
    #: than ``slack`` times the nearest that the reference feature has.
    ratio: float = 0.95
    slack: float = 1.15
    #: Largest difference of a candidate's red/green and blue/green between the views, stops.
    chroma_gate: float = 1.2
    #: Least number of neighbouring candidates that agree on scale and place.
    support: int = 3
    #: Least sum of distinctiveness of a cluster of candidates that agree.
    cluster_evidence: float = 4.0
    #: (red over green, blue over green). Stops by which cameras differ whose white balance was set alike, 1.6
    #: standard deviations of the prior of two cameras: evidence counts half at either.
    tint: tuple[float, float] = (0.2, 0.35)
    #: Least evidence for a cluster whose colours differ between the views as those of the believed clusters do.
    echo_evidence: float = 2.0
    #: (red over green, blue over green). Stops within which they do: the middle of its colours, and their scatter.
    echo_tint: tuple[float, float] = (0.12, 0.2)
    #: Spacing of the grid on the reference that is grown from the features.
    step: int = 4
    #: How far from a feature the grid may start to grow.
    reach: float = 45.0
    #: Radius of a colour patch on the reference.
    patch_radius: float = 2.5
    #: Growth keeps a patch whose difference is explained by noise and this share of its own structure.
    mismatch: float = 0.25
    #: A patch is plain below this many times the variance of noise in the flattest patches of its brightness.
    plain: float = 3.0
    #: So many pixels beside a plain surface, and within so many stops of it, a patch still belongs to it.
    plain_rim: int = 4
    plain_alike: float = 0.12
    #: Standard deviation of the natural logarithm of how differently two views see one patch lit.
    plain_shading: float = 0.12
    #: Neighbours whose maps continue one another within this belong to one piece.
    piece_slack: float = 4.0
    #: A piece needs so many patches with structure to be looked for elsewhere; so many speak for it at most.
    piece_fewest: int = 3
    piece_patches: int = 24
    #: It may lie wherever at least this share of them would be accepted: less is what a striped shirt keeps of
    #: itself under a small shift.
    piece_share: float = 0.8
    #: How far to either side a piece is looked for; half as far up and down.
    repeat_reach: int = 200
    #: Patches below this scene-linear luminance are left out.
    darkest: float = 0.004
    #: Side of the cells that group pairs for a proof.
    cell: float = 24.0
    #: Correlation of errors within a cell: many pairs of one cell count little more than a few.
    correlation: float = 0.3
    #: How far the ratio of two views may be off its middle over the moments, beyond noise, for a moment to be
    #: averaged with the others; natural logarithm.
    steady: float = 0.15
    #: Upper bound of the number of pairs handed on.
    most_pairs: int = 6_000
    #: Look for shared surfaces; without, only what the setup file names is used.
    features: bool = True
    #: Effective number of independent pairs that an area marked by hand is worth at a weight of 1, where there are
    #: no others: somebody looked.
    area_weight: float = 8.0
    #: Beside found pairs, what one area is worth saturates at so many of them.
    area_most: float = 10.0
    #: Standard deviations of what two areas drawn by hand show of one surface, beyond what can be measured in
    #: them: of the colour of each, relative, and of their light, natural logarithm.
    area_agrees: float = 0.012
    area_light: float = 0.2
    #: Effective number of found pairs below which there is nothing for areas to be held to.
    area_least_found: float = 5.0
    #: Least number of usable working pixels in an area.
    area_pixels: int = 24
    #: Least share of an area that must be neither clipped nor ignored.
    area_usable: float = 0.5
    #: An area is measured in about that many cells, whose median stands for it.
    area_cells: int = 36
    #: Standard deviation of the chroma of a grey that only the angle shows, relative: how grey greys are.
    grey_spread: float = 0.03
    chart: ChartOptions = field(default_factory=ChartOptions)
    framing: FramingOptions = field(default_factory=FramingOptions)


@dataclass(frozen=True, kw_only=True)
class FaceOptions:
    """Skin samples from faces.

    Lengths are in face lengths (eyes to mouth) unless they say otherwise.
    """

    #: Look for faces.
    look: bool = True
    #: Longer sides of the pictures that a detector sees, pixels, ascending.
    sides: tuple[int, ...] = (512, 960)
    #: The same of a picture that it sees around small faces only, or where it found none; 0 for no such picture.
    closer: int = 1440
    #: No larger picture is looked at once every face found is this tall in the present one, pixels.
    tall_enough: float = 48.0
    #: A small picture is enlarged at most so much: a face that then is less than ``tall_enough`` has too few
    #: pixels of its own for a patch of skin.
    enlarged: float = 2.4
    #: Least confidence of a detection.
    least_sure: float = 0.55
    #: Detections with more than this in common (over their union) are one face.
    overlap: float = 0.3
    #: At most that many moments are looked at.
    moments: int = 4
    #: Radius of a skin patch.
    patch: float = 0.22
    #: Least number of pixels of a patch.
    fewest_pixels: int = 9
    #: Pixels brighter or darker than this times the patch's median are left out, and ``greyest`` is the share of
    #: the pixels with the least red that is left out: shine is white.
    shine: float = 1.35
    shade: float = 0.6
    greyest: float = 0.1
    #: Noise of a pixel, as a share of what it shows in that channel, beyond which a patch is not measured: it is
    #: 0.43 at most on 390 patches of rendered faces that were not underexposed.
    noisiest: float = 0.5
    #: Least scene-linear luminance of a patch.
    darkest: float = 0.008
    #: (low, high), high. Stops of red over green, and of blue over green, that skin may have.
    skin_red_green: tuple[float, float] = (0.12, 1.4)
    skin_blue_green: float = 0.15
    #: Largest difference of a part of a face from the others, stops.
    one_skin: float = 0.35
    #: Largest difference of a part's change between the views from that of the others, stops.
    one_light: float = 0.5
    #: A face that lies farther from where features put it than this is as good as anywhere.
    near: float = 4.0
    #: Largest difference of the clothes, against the skin, stops.
    alike: float = 0.7
    #: The best choice of who is who must cost less than this times the second best.
    clearly: float = 0.6
    #: Features within that distance place a face, if there are so many; the nearest so many are used.
    around: float = 8.0
    fewest_around: int = 8
    most_around: int = 40
    #: Effective number of independent pairs that one part of a face is worth.
    weight: float = 3.0
    #: Standard deviation of the natural logarithm of how differently two views see a part of a face lit.
    light_spread: float = 0.2


@dataclass(frozen=True, kw_only=True)
class HeroOptions:
    """Suggesting exposure and balance for the hero itself."""

    #: Suggest them at all.
    balance: bool = False
    #: At most that many moments are searched for greys, faces and a chart.
    moments: int = 4
    #: Standard deviation, in stops of red or blue over green, of what all samples of a kind share: how grey marked
    #: greys are (3 %; common practice, no source), a chart's patches after years of light (1 %; common practice,
    #: no source), greys that were found (2.9 degrees between true and found light, the mean on the NUS 8-camera
    #: set in Qian et al. 2019, from memory: 0.13 stop), and people against two patches (common practice, no
    #: source).
    area_error: float = 0.043
    chart_error: float = 0.014
    pixel_error: float = 0.13
    skin_error: float = 0.2
    #: Standard deviation, in stops, of how evenly a surface of known reflectance is lit (common practice, no
    #: source).
    light_error: float = 0.1
    #: Width of the picture that is searched for greys.
    pixel_width: int = 480
    #: Share of the pixels that are taken, the greyest first, and how many at least.
    pixel_share: float = 0.001
    fewest_pixels: int = 20
    #: How much the detail of the last one may differ between the channels, relative to the detail itself.
    pixel_index: float = 0.15
    #: Least detail (natural logarithm) and least scene-linear light of such a pixel.
    pixel_contrast: float = 0.03
    pixel_floor: float = 0.004
    #: Largest spread of the ratios of what was found, and largest distance from three equal channels, stops.
    pixel_spread: float = 0.2
    pixel_cast: float = 0.6
    #: The picture is cut into squares, so many across; greys must lie in that many of them, and differ in light by
    #: that many stops between the darkest and the brightest tenth.
    pixel_places: int = 12
    fewest_places: int = 3
    pixel_range: float = 0.7
