"""Which cubes an angle gets, and what each one says of itself; its CLF and CDL are made in modules of their name.

Three kinds of cube: ``match`` (camera log in and out, so that every later conversion still holds),
``working`` (camera log in, a published log space out, with the match in it) and ``view`` (camera log in, a
monitor's code values out, with the match in it). An angle without a match gets the two conversions alone, and
their titles say so. A match that bends hues can be had as two cubes as well, ``matrix`` and ``hues``. Another kind
needs a name in `CUBES`, a place in ``_PLACES`` and a recipe in ``_recipes``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from huemend import view
from huemend.base.arrays import Bool, Float, Float64
from huemend.encodings.registry import Encoding, encodings_of, find_working_encoding
from huemend.model import LinearStill, Match, SetupResult, Verdict
from huemend.options import WriteOptions
from huemend.write.luts.cube import CodeFunction, Cube, CubeMiss, size_by_error
from huemend.write.luts.hues import apply_hues
from huemend.write.luts.notes import LINEAR, coarse, joined, shoulder_words, target_note
from huemend.write.luts.shoulder import NeutralShoulder

#: The cubes that an angle may get, and those of a match in two parts.
CUBES = ("match", "working", "view")
PARTS = ("matrix", "hues")

#: Where each belongs, for its title.
_PLACES = {
    "match": "on ungraded camera log, first operation on the clip; this LUT or the CDL, never both",
    "working": "on ungraded camera log, in place of the input conversion",
    "view": "on ungraded camera log, for a monitor only",
    "matrix": "on ungraded camera log, first operation on the clip, then the hues LUT; both or the match LUT",
    "hues": "after the matrix LUT, and before every grade: what the match does beyond the matrix, alone",
}


@dataclass(frozen=True, kw_only=True)
class LutFile:
    """One LUT of an angle, as the record and the report tell it."""

    #: ``match``, ``working``, ``view``, ``clf``, or ``matrix`` and ``hues``: the match as two LUTs.
    kind: str
    #: Inside the output folder, with ``/``.
    path: str
    #: True if the match is in it, False for a plain conversion.
    matched: bool
    #: Encodings on either side by their published names, and ranges: ``full`` or ``legal``.
    input: str
    input_range: str
    output: str
    output_range: str
    #: Nodes a side; 0 for an exact chain, which has none.
    size: int = 0
    #: What interpolation costs, or what an exact chain loses to 32-bit floats and to curves that had to become 1D
    #: LUTs.
    error: CubeMiss | None = None
    #: What the user should know before using it; may be empty.
    note: str = ""

    @property
    def is_coarse(self) -> bool:
        """Whether interpolation misses colours of the setup by more than passes unseen."""
        return bool(coarse(self.error))


@dataclass(frozen=True, kw_only=True)
class _Recipe:
    """A LUT before it is sampled."""

    #: What is known of it by then.
    file: LutFile
    function: CodeFunction
    #: Says which codes stand for real light, where that bounds the size.
    real: Callable[[Float], Bool] | None = None


@dataclass(frozen=True, kw_only=True)
class LutBasis:
    """What all LUTs of one angle are made of."""

    name: str
    result: SetupResult
    options: WriteOptions
    #: None for the hero and for an unsolved angle.
    match: Match | None
    #: Of the codes that go in: the camera's.
    shot: Encoding
    shot_range: str
    #: Of those that come out of the match LUT: the camera's again, or the hero's.
    target: Encoding
    target_range: str
    #: None where nobody asked for neutral highlights, or the match tints none.
    shoulder: NeutralShoulder | None

    @classmethod
    def of(cls, name: str, result: SetupResult, options: WriteOptions) -> LutBasis:
        encodings, leads_to = encodings_of(result.setup), result.setup.hero if options.target == "hero" else name
        return cls(
            name=name,
            result=result,
            options=options,
            match=_match_of(name, result),
            shot=encodings[name],
            shot_range=_range_of(name, result, options),
            target=encodings[leads_to],
            target_range=_range_of(leads_to, result, options),
            shoulder=shoulder_of(name, result, options),
        )

    def file(self, kind: str, output: str, output_range: str, note: str = "") -> LutFile:
        """Return what is known of a LUT of this angle before it is made."""
        return LutFile(
            kind=kind,
            path="",
            matched=self.match is not None,
            input=self.shot.name,
            input_range=self.shot_range,
            output=output,
            output_range=output_range,
            note=note,
        )


def _range_of(name: str, result: SetupResult, options: WriteOptions) -> str:
    """Return the range of the codes on the camera side of an angle's LUTs: ``full`` or ``legal``."""
    chosen = options.lut_range
    if chosen == "media":
        # A clip may say its own range; what it was decoded with counts.
        decoded = (file.range for file in result.inputs if file.angle == name and file.range)
        chosen = next(decoded, result.setup[name].range)
    return "legal" if chosen == "narrow" else chosen


def _match_of(name: str, result: SetupResult) -> Match | None:
    """Return the match that an angle's LUTs carry: None for the hero and for an unsolved angle."""
    found = None if name == result.setup.hero else result[name]
    return None if found is None or found.verdict is Verdict.UNSOLVED else found.delivered


def shoulder_of(name: str, result: SetupResult, options: WriteOptions) -> NeutralShoulder | None:
    """Return the shoulder of an angle's matched LUTs: None where nobody asked, or the match tints no neutral."""
    match = _match_of(name, result)
    if not options.neutral_highlights or match is None or bool((match.matrix == np.eye(3)).all()):
        return None
    return NeutralShoulder.of(
        result.stills.get(name, ()),
        encodings_of(result.setup)[name],
        range=_range_of(name, result, options),
        stops=options.neutral_stops,
    )


def colours_held(stills: tuple[LinearStill, ...], count: int, *, clipped: bool = False) -> Float64:
    """Return at most ``count`` colours of an angle's stills, (n, 3) ACEScg, evenly picked, always the same ones.

    Clipped ones too if asked for.
    """
    share = max(1, count // max(1, len(stills)))
    picked = []
    for still in stills:
        held = np.flatnonzero(still.valid | still.clipped if clipped else still.valid)
        pick = np.linspace(0, len(held) - 1, min(share, len(held))).astype(np.intp)
        picked.append(still.rgb.reshape(-1, 3)[held[pick]])
    return np.concatenate(picked).astype(float) if picked else np.zeros((0, 3))


def lut_makers(basis: LutBasis) -> list[Callable[[], tuple[Cube, LutFile]]]:
    """Return what makes the LUTs of one angle, the hero included; they can be made in any order, and at one time.

    ``LutFile.path`` is still empty; whoever writes the file knows it.
    """
    shot, options = basis.shot, basis.options
    stills = basis.result.stills.get(basis.name, ())
    held = colours_held(stills, options.colours, clipped=basis.shoulder is not None)
    codes = shot.encode(held, range=basis.shot_range)

    def make(recipe: _Recipe) -> tuple[Cube, LutFile]:
        file = recipe.file
        sizes = options.view_sizes if file.kind == "view" else options.lut_sizes
        cube, error = size_by_error(
            recipe.function,
            codes,
            lut_title(basis, file),
            sizes=sizes if options.lut_size is None else (options.lut_size,),
            p99=options.lut_p99,
            real_p99=options.lut_real_p99,
            real=recipe.real,
        )
        # A cube for a monitor is looked at, not graded through; who forces a size knows what so many nodes do.
        told = coarse(error) if file.kind == "match" and options.lut_size is None else ""
        note = joined(file.note, LINEAR if shot.is_linear else "", told)
        return cube, replace(file, size=cube.size, error=error, note=note)

    return [partial(make, recipe) for recipe in _recipes(basis)]


def _recipes(basis: LutBasis) -> list[_Recipe]:
    match, shot, camera_range, shoulder = basis.match, basis.shot, basis.shot_range, basis.shoulder
    target, target_range, options = basis.target, basis.target_range, basis.options
    working = find_working_encoding(options.working_encoding)
    rendering, rendering_name = view_rendering(options.view, basis.result.view_stops)

    def linear(codes: Float) -> Float:
        light = shot.decode(codes, range=camera_range)
        after = light if match is None else match.apply(light)
        return after if shoulder is None else shoulder.apply(codes, after)

    def real(codes: Float) -> Bool:
        # Half of a log cube or more is colours that no light has: negative in a space as wide as ACEScg.
        light = shot.decode(codes, range=camera_range)
        after = light if match is None else match.apply(light)
        return np.asarray((light > 0).all(axis=1) & (after > 0).all(axis=1))

    rolled = "" if shoulder is None else shoulder_words(shoulder, options.neutral_stops)
    recipes = []
    if match is not None:
        own = basis.file("match", target.name, target_range, joined(target_note(shot, target), rolled))
        recipes.append(
            _Recipe(file=own, function=lambda codes: target.encode(linear(codes), range=target_range), real=real)
        )
        if options.hue_luts and match.roots.any():
            recipes += _in_two_parts(match, basis)
    return [
        *recipes,
        _Recipe(
            file=basis.file("working", working.name, "full", rolled),
            function=lambda codes: working.encode(linear(codes), range="full"),
        ),
        _Recipe(
            file=basis.file("view", rendering_name, "full", rolled),
            function=lambda codes: rendering(linear(codes)),
        ),
    ]


def _in_two_parts(match: Match, basis: LutBasis) -> list[_Recipe]:
    """Return a match that bends hues as two LUTs, so that the second can be dialled down or left out."""
    matrix = match.without_roots
    shot, target, target_range = basis.shot, basis.target, basis.target_range

    def first(codes: Float) -> Float:
        return target.encode(matrix.apply(shot.decode(codes, range=basis.shot_range)), range=target_range)

    def second(codes: Float) -> Float:
        return target.encode(apply_hues(match, target.decode(codes, range=target_range)), range=target_range)

    note = target_note(shot, target)
    return [
        _Recipe(file=basis.file(kind, target.name, target_range, note), function=function)
        for kind, function in zip(PARTS, (first, second), strict=True)
    ]


def view_rendering(name: str, view_stops: float) -> tuple[Callable[[Float], Float], str]:
    """Return a rendering for a monitor, and what titles and the record call it.

    ``aces`` rolls off for the eye; ``plain`` is the measurement view, with the setup's gain in it, in which every
    colour difference is told; ``hdr`` is for a PQ monitor of 1,000 cd/m2.
    """
    if name == "aces":
        return view.rendered_signal, "Rec.709 BT.1886 (ACES 2.0 SDR 100 nit)"
    if name == "hdr":
        return view.rendered_hdr_signal, "Rec.2100 PQ (ACES 2.0 HDR 1000 nit)"
    if name != "plain":
        raise ValueError(f"view must be aces, plain or hdr, not {name!r}")
    gain = f", {view_stops:+.1f} stops" if view_stops else ""
    return (
        lambda rgb: view.measurement_signal(rgb, view_stops),
        f"Rec.709 BT.1886 (measurement view, not rendered{gain})",
    )


def lut_title(basis: LutBasis, file: LutFile, *, exact: bool = False) -> str:
    """Say what a LUT is and where it belongs, what matters most first: a title may be cut off.

    ``exact`` is a chain of formulas in the place of a cube, which holds no shoulder.
    """
    found = None if basis.name == basis.result.setup.hero else basis.result[basis.name]
    doubtful = found is not None and found.verdict is Verdict.REVIEW and file.matched
    mark = "REVIEW before use, " if doubtful else ""
    what = "match" if file.matched else "plain conversion, no match"
    if basis.shoulder is not None and file.kind in CUBES:
        what += ", without neutral highlights" if exact else ", neutral highlights"
    whose = f"{_short(basis.result.setup.name)} {_short(basis.name)}"
    return (
        f"{mark}{whose} {file.kind} ({what}): {file.input} {file.input_range} range in, "
        f"{file.output} {file.output_range} range out; {_PLACES[file.kind]}"
    )


def _short(name: str) -> str:
    """Keep a long name from pushing encoding and range out of a title."""
    return name if len(name) <= 32 else f"{name[:29]}..."
