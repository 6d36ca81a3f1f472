"""What a setup file says: the cameras of a setup, and what people marked on their pictures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

_Value = TypeVar("_Value")

#: Labels of surfaces that may be found without anybody marking them.
KNOWN_SURFACES = frozenset(("skin", "neutral"))


@dataclass(frozen=True, kw_only=True)
class Area:
    """A polygon on one picture, in fractions of the upright frame's width and height, before any crop.

    Attributes
    ----------
    points : tuple of (x, y)
        At least three corners, each coordinate in 0..1; (0, 0) is the top left corner.
    """

    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, kw_only=True)
class NamedPair:
    """One surface that somebody marked on the hero and on one or more angles.

    Attributes
    ----------
    name : str
        What the surface is; several pairs may share a name.
    areas : mapping of angle name to Area
        The hero's among them.
    weight : float
        How much it counts against other areas marked by hand.
    frames : (first, last) or None
        Of the hero's clip, the frames in which it holds, counted from 0; None means all.
    """

    name: str
    areas: Mapping[str, Area]
    weight: float = 1.0
    frames: tuple[int, int] | None = None


@dataclass(frozen=True, kw_only=True)
class MarkedArea:
    """An area of one angle, with the frames of that angle's clip in which it holds (None: all).

    ``reflectance`` is that of a grey whose reflectance is known, such as a card.
    """

    angle: str
    area: Area
    frames: tuple[int, int] | None = None
    reflectance: float | None = None


@dataclass(frozen=True, kw_only=True)
class Marks:
    """What the setup file knows that pixels do not say (docs/areas.md).

    Attributes
    ----------
    pairs : tuple of NamedPair
    ignore, neutral : tuple of MarkedArea
        Never used; grey.
    least_error_on : tuple of str
        Names of pairs, or ``skin`` or ``neutral``: there the match is to be closest, within what the rest allows.
    keep_as_shot : tuple of str
        Names of the same kinds: the match must hardly move them.
    keep_limit : float or None
        By how much it may, CIEDE2000 in the measurement view; None means the default.
    """

    pairs: tuple[NamedPair, ...] = ()
    ignore: tuple[MarkedArea, ...] = ()
    neutral: tuple[MarkedArea, ...] = ()
    least_error_on: tuple[str, ...] = ()
    keep_as_shot: tuple[str, ...] = ()
    keep_limit: float | None = None


@dataclass(frozen=True, kw_only=True)
class Nudge:
    """What somebody wants of an angle beyond its match, in stops: the solve knows nothing of it.

    Attributes
    ----------
    exposure : float
        More light on the matched picture.
    red, blue : float
        More red, or blue, against green; a matched neutral keeps its luminance. Less green is both.
    """

    exposure: float = 0.0
    red: float = 0.0
    blue: float = 0.0

    def __bool__(self) -> bool:
        return any((self.exposure, self.red, self.blue))


@dataclass(frozen=True, kw_only=True)
class Angle:
    """One camera of a setup, as the setup file describes it.

    Attributes
    ----------
    media : tuple of Path
        Absolute paths, in the order of the moments they show.
    encoding : str
        Name of a known encoding, ``curve/gamut``, spelt as published.
    range : str
        ``full``: values are code / (2**bits - 1). ``legal``: 0 and 1 stand for codes 64 and 940 (10 bit).
    rotate : int
        Clockwise turn that makes the picture upright: 0, 90, 180 or 270 degrees.
    flip : str
        ``none``, ``horizontal`` or ``vertical``, applied after the turn.
    pixel_aspect : float
        Width of a pixel over its height (2 for 2x anamorphic).
    crop : (left, top, right, bottom)
        Share of the upright frame to leave out on each side.
    exposure_index : int
        Needed by curves that depend on it (LogC3).
    range_stated : bool
        The setup file says ``range``: a clip then follows it, not its own tag.
    matrix : str or None
        Y'CbCr matrix of a clip whose tag is wrong or missing: ``bt601``, ``bt709``, ``bt2020``.
    offset : float or None
        Seconds from the hero's first frame to this clip's first frame, as the setup file states them.
    through : str or None
        The angle that this one is matched to in the hero's place, because the two share more.
    nudge : Nudge
        Applied to the solved match in everything that is written.
    """

    name: str
    media: tuple[Path, ...]
    encoding: str
    range: str = "full"
    rotate: int = 0
    flip: str = "none"
    pixel_aspect: float = 1.0
    crop: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    exposure_index: int = 800
    range_stated: bool = False
    matrix: str | None = None
    offset: float | None = None
    through: str | None = None
    nudge: Nudge = field(default_factory=Nudge)


@dataclass(frozen=True, kw_only=True)
class EncodingSpec:
    """An encoding that a setup file defines in ``[encoding.<name>]`` (docs/encodings.md).

    Exactly one of ``curve``, ``form`` and ``table`` says how light becomes code; exactly one of ``gamut`` and
    ``primaries`` says which light the three channels stand for.

    Attributes
    ----------
    curve : str
        Name of a published curve.
    form : str
        Name of a parametric form; ``parameters`` holds its numbers by name.
    table : tuple of float
        Scene-linear values at evenly spaced codes from 0 to 1, strictly rising.
    gamut : str
        Name of a published gamut.
    primaries : three (x, y) or empty
        CIE 1931 chromaticities of red, green and blue.
    white : (x, y)
        Chromaticity of the white that ``primaries`` are balanced to.
    adaptation : str
        ``cat02`` or ``bradford``: how that white is carried to the white of ACEScg.
    defined_in : str
        ``codes``: the curve is published in full-range code values. ``signal``: its 0 and 1 are black and white,
        whatever codes they travel in.
    mid_grey_code : float or None
        Published 10-bit code of an 18 % grey, against which the definition is checked.
    file : Path or None
        Where ``table`` was read from, if it is a file of its own.
    """

    name: str
    curve: str = ""
    form: str = ""
    parameters: Mapping[str, float] = field(default_factory=dict)
    table: tuple[float, ...] = ()
    gamut: str = ""
    primaries: tuple[tuple[float, float], ...] = ()
    white: tuple[float, float] = (0.3127, 0.3290)
    adaptation: str = "bradford"
    defined_in: str = "codes"
    mid_grey_code: float | None = None
    file: Path | None = None


@dataclass(frozen=True, kw_only=True)
class Setup:
    """One setup: the hero and the angles that are to agree with it.

    ``angles`` keeps the order of the setup file and includes the hero; ``encodings`` are those that the setup
    file defines itself, ``marks`` the areas that it names, ``chart`` whether a colour chart is to be looked for.
    """

    name: str
    hero: str
    angles: tuple[Angle, ...]
    source: Path
    encodings: tuple[EncodingSpec, ...] = ()
    marks: Marks = field(default_factory=Marks)
    chart: bool = False

    def __repr__(self) -> str:
        """Return the setup's name, its hero and the names of the angles."""
        return f"<{self.name}, hero {self.hero}: {', '.join(angle.name for angle in self.others)}>"

    def __getitem__(self, name: str) -> Angle:
        return by_name(name, {angle.name: angle for angle in self.angles})

    @property
    def files(self) -> tuple[Path, ...]:
        """Every file that the setup rests on: the setup file, all media, and tables of its encodings."""
        media = [path for angle in self.angles for path in angle.media]
        tables = [spec.file for spec in self.encodings if spec.file is not None]
        return (self.source, *media, *tables)

    @property
    def others(self) -> tuple[Angle, ...]:
        """The angles without the hero."""
        return tuple(angle for angle in self.angles if angle.name != self.hero)


def by_name(name: str, values: Mapping[str, _Value]) -> _Value:
    """Return the value of an angle; raises KeyError, which names those that there are."""
    try:
        return values[name]
    except KeyError:
        raise KeyError(f"no angle {name!r}; there are {', '.join(values)}") from None
