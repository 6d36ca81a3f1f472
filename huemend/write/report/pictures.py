"""Pictures of a report: rendered once, held once, shown in as many places as needed.

A page holds every picture as one SVG ``<image>`` in a hidden sheet; places refer to it with ``<use>``, and a
crop is nothing but another ``viewBox``. That keeps a report small, and lets samples be drawn in the
coordinates of the picture.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from huemend.base.arrays import Float, Float32
from huemend.base.cv import import_cv2
from huemend.base.tasks import over
from huemend.model import AngleResult, LinearStill, Match, Setup, SetupResult
from huemend.options import ReportOptions
from huemend.view import rendered_picture
from huemend.write.luts.shoulder import NeutralShoulder
from huemend.write.report.encoded import Pixels, jpeg_uri, webp_uri
from huemend.write.report.look import Look
from huemend.write.report.markup import Markup, element, fragment, number, plain_id, svg

if TYPE_CHECKING:
    from huemend.write.report.crops import CloseUp, Side
    from huemend.write.report.left_over import LeftOver
    from huemend.write.report.motion import Motion
    from huemend.write.report.surfaces import Surface

# Bounds of one picture, and of all pictures of a report together.
_WIDTH, _MEGAPIXELS = 1280, 3.6
# Pixels of one of the small pictures of all moments.
_OVERVIEW = 256 * 144

#: Shows any picture as the grey of its own luminance: the weights are those of BT.709 (Filter Effects Module 1,
#: feColorMatrix of type saturate), on linear light.
_LUMINANCE = Markup(
    '<filter id="luminance" x="0" y="0" width="1" height="1" color-interpolation-filters="linearRGB">'
    '<feColorMatrix type="saturate" values="0"></feColorMatrix></filter>'
)


def still_at(stills: tuple[LinearStill, ...], moment: int) -> LinearStill:
    """Return the still that shows a moment's samples, or the first one where that moment was not recorded.

    A moment that is there in small only has its samples where they lay on the last large one before it.
    """
    own = next((still for still in stills if still.moment == moment and _is_large(still, stills)), None)
    large = [still for still in stills if still.moment <= moment and still.reduced == 1]
    return own or max(large, key=lambda still: still.moment, default=stills[0])


def _is_large(still: LinearStill, stills: tuple[LinearStill, ...]) -> bool:
    return still.rgb.shape == stills[0].rgb.shape


def with_moments_shown(result: SetupResult) -> SetupResult:
    """Return a result whose stills are large at the moments that a report shows, be they no sharper for it.

    Of clips most moments are kept small. Where those that are large hold few of an angle's samples, as where an
    iris is pulled, or nobody's face, the moment that holds most is enlarged.
    """
    wanted: dict[str, set[int]] = {name: set() for name in result.stills}
    for found in result:
        pairs, names = found.pairs, (result.setup.hero, found.pairs.reference, found.angle.name)
        people = [pairs.moment[pairs.label == label] for label in np.unique(pairs.label[pairs.skin])]
        for moments in (pairs.moment, *people):
            if len(moments):
                most = int(np.bincount(moments).argmax())
                for name in names:
                    wanted[name].add(most)
    stills = {
        name: tuple(_enlarged(still, own) if still.moment in wanted[name] else still for still in own)
        for name, own in result.stills.items()
    }
    return replace(result, stills=stills)


def _enlarged(still: LinearStill, stills: tuple[LinearStill, ...]) -> LinearStill:
    if _is_large(still, stills):
        return still
    cv2, size = import_cv2(), stills[0].rgb.shape[1::-1]
    rgb = cv2.resize(still.rgb.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    masks = (
        cv2.resize(m.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) for m in (still.valid, still.clipped)
    )
    valid, clipped = (mask.astype(bool) for mask in masks)
    return replace(still, rgb=rgb, valid=valid, clipped=clipped)


def overview_at(stills: tuple[LinearStill, ...], moment: int) -> LinearStill:
    """Return the still of a moment, in small if need be, or the first one where it was not recorded."""
    return next((still for still in stills if still.moment == moment), stills[0])


def moment_shown(found: AngleResult, stills: Mapping[str, tuple[LinearStill, ...]], hero: str) -> int:
    """Return the moment that shows most of what the match rests on."""
    # Later moments may be there in small only, for an overview; one that was enlarged must be worth it.
    own = [
        {still.moment: still.reduced for still in stills[name] if _is_large(still, stills[name])}
        for name in (hero, found.angle.name)
    ]
    shared = own[0].keys() & own[1].keys()
    sharp = {moment: own[0][moment] == own[1][moment] == 1 for moment in shared}
    counts = {
        moment: int((found.pairs.moment == moment).sum()) * (2 if sharp[moment] else 1)
        for moment in sorted(shared)
    }
    return max(counts, key=lambda moment: counts[moment]) if counts else stills[found.angle.name][0].moment


@dataclass(frozen=True)
class Picture:
    """One picture of the sheet: its id, and its size in its own pixels."""

    id: str
    width: int
    height: int
    #: Pixels of the picture over pixels of the still that it shows.
    scale: float
    #: The same under the show's look is on the sheet too; the page shows one of them.
    under_look: bool = False

    def use(self) -> Markup:
        """Refer to the picture inside an SVG."""
        if not self.under_look:
            return element("use", href=f"#{self.id}")
        plain = element("use", href=f"#{self.id}", class_="plain")
        return fragment(plain, element("use", href=f"#{self.id}-look", class_="look"))


class Drawn(NamedTuple):
    """A picture in pixels, and as the page holds it."""

    pixels: Pixels
    uri: str


@dataclass
class Gallery:
    """Renders and collects the pictures of one report."""

    setup: Setup
    stills: Mapping[str, tuple[LinearStill, ...]]
    options: ReportOptions
    #: The show's look, if somebody named it: every picture is then drawn under it as well.
    look: Look | None = None
    #: What strips show, by angle; and by angle, number and side what was read closer.
    surfaces: Mapping[str, Sequence[Surface]] = field(default_factory=dict)
    close: Mapping[tuple[str, int, Side], CloseUp] = field(default_factory=dict)
    #: By angle, what is left on each of its surfaces, as shot and as delivered, where an earlier run measured it.
    measured: Mapping[str, tuple[tuple[LeftOver, LeftOver], ...]] = field(default_factory=dict)
    #: A few seconds of clips, if they were asked for.
    motion: Motion | None = None
    #: By the names of the angles whose LUTs have one.
    shoulders: Mapping[str, NeutralShoulder] = field(default_factory=dict)
    sheet: dict[str, Markup] = field(default_factory=dict)
    pixels: dict[str, Pixels] = field(default_factory=dict)
    _shown: dict[str, Picture] = field(default_factory=dict)

    @cached_property
    def ids(self) -> dict[str, str]:
        """An id for every angle's name."""
        used: set[str] = set()
        return {angle.name: plain_id(angle.name, used) for angle in self.setup.angles}

    @property
    def width(self) -> int:
        """Width of one picture, so that all of them stay within the report's size."""
        hero = self.stills[self.setup.hero][0]
        count = (1 + 2 * len(self.setup.others)) * (1 if self.look is None else 2)
        per_picture = _MEGAPIXELS * 1e6 / count
        height, width = hero.rgb.shape[:2]
        fitting = int((per_picture * width / height) ** 0.5)
        return max(320, min(_WIDTH, fitting))

    def show(self, still: LinearStill, result: AngleResult | None = None) -> Picture:
        """Return a still as the page shows it, matched if a result is given."""
        key = self._key(still, result)
        if key not in self._shown:
            self.draw([(still, result)])
        return self._shown[key]

    def draw(self, views: Iterable[tuple[LinearStill, AngleResult | None]]) -> None:
        """Draw what `show` will be asked for, several pictures at a time."""
        new = {self._key(*view): view for view in views}
        new = {key: view for key, view in new.items() if key not in self._shown}
        width = self.width
        # What all renderings share is made before they begin, by all threads.
        rendered_picture(np.zeros((1, 1, 3)))
        for key, drawn in zip(
            new, over(new.values(), lambda view: self.drawn(self._light(*view, width))), strict=True
        ):
            scale = drawn[""].pixels.shape[1] / new[key][0].rgb.shape[1]
            self._shown[key] = self.add(key, drawn, scale)

    def _key(self, still: LinearStill, result: AngleResult | None) -> str:
        matched = result is not None and result.delivered is not None
        return f"{self.ids[still.angle]}-{still.moment}{'-matched' if matched else ''}"

    def drawn(self, light: Float) -> dict[str, Drawn]:
        """Draw scene-linear ACEScg; return it by what its id ends with: as such, and under the show's look."""
        return {end: Drawn(pixels, jpeg_uri(pixels)) for end, pixels in self._looks(light).items()}

    def _looks(self, light: Float) -> dict[str, Pixels]:
        # As exposed, like the view LUT: the rendering rolls highlights off, and the gain of the measurement view,
        # which only keeps bright samples from clipping, would darken it for nothing.
        renderings = {"": rendered_picture(light)}
        if self.look is not None:
            renderings["-look"] = self.look.picture(light)
        return renderings

    def frames(self, key: str, lights: Iterable[Float]) -> Picture:
        """Put pictures of scene-linear ACEScg on the sheet as one, below one another; once for each key."""
        if key not in self._shown:
            looks = self._looks(np.vstack(list(lights))).items()
            drawn = {end: Drawn(pixels, webp_uri(pixels)) for end, pixels in looks}
            self._shown[key] = self.add(key, drawn)
        return self._shown[key]

    def overviews(self, stills: Sequence[LinearStill], result: AngleResult | None = None) -> Picture:
        """Return small pictures of several moments below one another, matched if a result is given."""
        # A tall picture is no larger than a wide one; whole blocks of the encoder, so that none bleeds over.
        high, wide = stills[-1].rgb.shape[:2]
        height = max(16, 16 * round((_OVERVIEW * high / wide) ** 0.5 / 16))
        width = round(height * wide / high)
        size = width, height
        matched = "-matched" if result is not None and result.delivered is not None else ""
        own = "-".join(str(still.moment) for still in stills)
        lights = (self._light(still, result, width) for still in stills)
        resize = import_cv2().resize
        # Later moments may be there in another size, and round differently.
        return self.frames(
            f"{self.ids[stills[0].angle]}-at-{own}{matched}", (resize(light, size) for light in lights)
        )

    @property
    def crop_pixels(self) -> int:
        """Side of one square of a strip; under a look too, there are twice as many.

        Whole numbers of JPEG blocks, so that none bleeds into its neighbour.
        """
        return self.options.crop_pixels if self.look is None else 16 * round(self.options.crop_pixels / 16 / 1.4)

    def _light(self, still: LinearStill, result: AngleResult | None, width: int) -> Float:
        rgb = resized(still.rgb, width)
        match = result.delivered if result is not None else None
        if match is None:
            return rgb
        return matched_light(match, rgb, self.shoulders.get(still.angle))

    def add(self, key: str, drawn: Mapping[str, Drawn], scale: float = 1.0) -> Picture:
        """Put what was drawn on the sheet; ``scale`` is its pixels over those of the still that it shows."""
        name = f"p-{key}"
        height, width = drawn[""].pixels.shape[:2]
        for end, (pixels, uri) in drawn.items():
            self.sheet[name + end] = element("image", id=name + end, href=uri, width=width, height=height)
            self.pixels[name + end] = pixels
        return Picture(name, width, height, scale, under_look=self.look is not None)

    def markup(self) -> Markup:
        """Return the hidden sheet that holds every picture once."""
        held = [self.sheet[name] for name in sorted(self.sheet)]
        return element("svg", _LUMINANCE, held, class_="sheet", aria_hidden="true", width=0, height=0)


def matched_light(match: Match, rgb: Float, shoulder: NeutralShoulder | None) -> Float:
    """Return light as an angle's LUTs make it, scene-linear ACEScg: highlights run to neutral where theirs do."""
    matched = match.apply(rgb)
    return matched if shoulder is None else shoulder.over_light(rgb, matched)


def resized(rgb: Float, width: int) -> Float32:
    """Average a scene-linear picture down to a width; a narrower one is left as it is."""
    height, old = rgb.shape[:2]
    picture: Float32 = np.ascontiguousarray(rgb, np.float32)
    if old <= width:
        return picture
    cv2 = import_cv2()
    size = (width, max(1, round(height * width / old)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.float32)


def viewport(
    picture: Picture, *drawn: Markup, label: str, kind: str = "", box: str = "", **attributes: str
) -> Markup:
    """Return an SVG that shows a picture, or a part of it, with whatever is drawn on it."""
    box, kind = box or f"0 0 {number(picture.width)} {number(picture.height)}", f"picture {kind}".strip()
    used = picture.use() if picture.id else None
    return svg(used, *drawn, box=box, kind=kind, label=label, **attributes)
