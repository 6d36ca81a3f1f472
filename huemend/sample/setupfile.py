"""The setup file: TOML in, a checked Setup out."""

from __future__ import annotations

import glob
import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from huemend.errors import MediaError
from huemend.media.sequences import is_sequence
from huemend.model import Angle, Nudge, Setup
from huemend.options import SampleOptions
from huemend.sample.areas import MARK_KEYS, parse_marks
from huemend.sample.day_defaults import ENCODING_TO_FILL_IN, with_defaults
from huemend.sample.encoding_table import parse_encoding_spec
from huemend.sample.names import collision, natural_key, normal_name, unsafe
from huemend.sample.stills import is_media, is_still
from huemend.sample.tables import Table, meant
from huemend.sample.tomlfile import parse_toml, read_toml

_TOP_KEYS = ("setup", "angle", "encoding", *MARK_KEYS)
_SETUP_KEYS = (
    "name",
    "hero",
    "least_error_on",
    "keep_as_shot",
    "keep_limit",
    "protect",  # an older word for keep_as_shot, as protect_limit is for keep_limit
    "protect_limit",
    "chart",
)
#: What the table of an angle may say.
ANGLE_KEYS = (
    "media",
    "encoding",
    "range",
    "rotate",
    "flip",
    "pixel_aspect",
    "crop",
    "exposure_index",
    "matrix",
    "offset",
    "through",
    "nudge",
)
# `narrow` is what BT.2100 calls the range that cameras and editors call legal.
_NUDGE_KEYS = ("exposure", "red", "blue")
_RANGES = {"full": "full", "legal": "legal", "narrow": "legal"}
_ROTATIONS = {0: 0, 90: 90, 180: 180, 270: 270}
_MATRICES = {name: name for name in ("bt601", "bt709", "bt2020")}
_SWITCH = {True: True, False: False}
_FLIPS = {"none": "none", "horizontal": "horizontal", "vertical": "vertical"}

_MEDIA_HINT = 'write media = ["wide.png"], or a glob such as "wide/*.png"'
_ENCODING_HINT = 'write encoding = "curve/gamut" as the camera recorded; `huemend encodings` lists them'
_THROUGH_HINT = 'write through = "..." with the name of the angle that this one shares most with'
_CHAIN_HINT = "name the angle that this one shares most with, and let the chain end at the hero"
_NUDGE_HINT = "write nudge = {exposure = 0.05, red = 0.0, blue = -0.02}, in stops, red and blue against green"
_CROP_HINT = "write crop = [left, top, right, bottom], each the share of the frame to leave out"


def load_setup(
    path: str | os.PathLike[str],
    options: SampleOptions | None = None,
    *,
    defaults: Mapping[str, Any] | None = None,
    content: bytes | None = None,
) -> Setup:
    """Read and check a setup file.

    Names of encodings stay as written; the pipeline resolves them. Media are looked for, not opened.

    Parameters
    ----------
    path : path
        The setup file; paths in it are relative to its folder.
    options : SampleOptions, optional
        Bounds.
    defaults : mapping, optional
        Tables that stand in for what the file does not say; with them the file itself may be missing.
    content : bytes, optional
        What stands in the file, where that is known already; ``path`` then only says whence it came.

    Raises
    ------
    SetupFileError
        The file cannot be read, or says something that makes no sense.
    MediaError
        A still or a clip that it names is missing.
    """
    options = options or SampleOptions()
    path = Path(path)
    if content is not None:
        said = parse_toml(content, path, options)
    else:
        said = {} if defaults and not path.exists() else read_toml(path, options)
    top = Table(with_defaults(said, defaults) if defaults else said, path, known=_TOP_KEYS)
    setup = top.table("setup", _SETUP_KEYS)
    name = _safe(setup, "name", setup.text("name", hint='write name = "..." under [setup]'))
    tables = top.table("angle")
    if len(tables.values) > options.most_angles:
        raise tables.problem(f"holds {len(tables.values)} angles", todo=f"at most {options.most_angles} are read")
    for key in tables.values:
        _safe(tables, key, key)
    twins = collision(tables.values)
    if twins:
        raise tables.problem(f"{twins[0]} and {twins[1]} would write the same files", todo="rename one of them")

    hero = normal_name(setup.text("hero", hint="name the angle that the others are to agree with"))
    known = [normal_name(key) for key in tables.values]
    if hero not in known:
        todo = meant(hero, known, f"angles: {', '.join(known)}")
        raise setup.problem(f"{hero!r} is not among the angles", "hero", todo=todo)
    if len(known) < 2:
        raise tables.problem("holds the hero alone", todo="add an [angle.<name>] that is to agree with it")
    own = {normal_name(key): tables.table(key, ANGLE_KEYS) for key in tables.values}
    own_encodings = top.table("encoding").values if "encoding" in top else {}
    if "nudge" in own[hero]:
        raise own[hero].problem("nudges the hero, which no LUT changes", "nudge", todo="nudge the other angles")
    angles = _checked_chains([_angle(table, key, options) for key, table in own.items()], own, hero)
    loaded = Setup(
        name=name,
        hero=hero,
        angles=angles,
        source=path.absolute(),
        encodings=tuple(parse_encoding_spec(key, values, path) for key, values in own_encodings.items()),
        marks=parse_marks(top, setup, angles, hero, options),
        chart=setup.choice("chart", _SWITCH, False),
    )
    _check_media(loaded, tables, options)
    return loaded


def _checked_chains(angles: Sequence[Angle], tables: Mapping[str, Table], hero: str) -> tuple[Angle, ...]:
    """Return the angles, those matched through the hero being matched to it; every chain must end there."""
    through = {angle.name: angle.through for angle in angles}
    for name, at in through.items():
        if at is None:
            continue
        if name == hero:
            raise tables[name].problem("stands on the hero, which is not matched", "through", todo="leave it out")
        seen = [name]
        while at is not None and at != hero:
            if at not in through:
                todo = meant(at, list(through), _CHAIN_HINT)
                raise tables[seen[-1]].problem(f"{at!r} is not among the angles", "through", todo=todo)
            if at in seen:
                circle = " -> ".join([*seen[seen.index(at) :], at])
                raise tables[name].problem(f"goes in a circle: {circle}", "through", todo=_CHAIN_HINT)
            seen.append(at)
            at = through[at]
    return tuple(replace(angle, through=None) if angle.through == hero else angle for angle in angles)


def _safe(table: Table, key: str, name: str) -> str:
    name = normal_name(name)
    why = unsafe(name)
    if why:
        escaped = ascii(name)[1:-1]
        raise table.problem(f"the name {why}", key if key != name else escaped, todo="choose a plain name")
    return name


def _angle(table: Table, name: str, options: SampleOptions) -> Angle:
    encoding = table.text("encoding", hint=_ENCODING_HINT)
    if encoding.strip() == ENCODING_TO_FILL_IN:
        raise table.problem("is still to be filled in", "encoding", todo=_ENCODING_HINT)
    left, top, right, bottom = table.numbers("crop", (0.0, 0.0, 0.0, 0.0), (0.0, 1.0), hint=_CROP_HINT)
    if max(left + right, top + bottom) > 1 - options.crop_leaves:
        raise table.problem("leaves nothing of the picture", "crop", todo=_CROP_HINT)
    return Angle(
        name=name,
        media=_media(table, options),
        encoding=encoding,
        range=table.choice("range", _RANGES, "full"),
        rotate=table.choice("rotate", _ROTATIONS, 0),
        flip=table.choice("flip", _FLIPS, "none"),
        pixel_aspect=table.number("pixel_aspect", 1.0, options.pixel_aspect),
        crop=(left, top, right, bottom),
        exposure_index=table.whole("exposure_index", 800, options.exposure_index),
        range_stated="range" in table.values,
        matrix=table.choice("matrix", _MATRICES, None),
        offset=table.number("offset", 0.0, options.offset) if "offset" in table.values else None,
        through=normal_name(table.text("through", hint=_THROUGH_HINT)) if "through" in table.values else None,
        nudge=_nudge(table, options),
    )


def _nudge(table: Table, options: SampleOptions) -> Nudge:
    """Read what somebody wants of an angle beyond its match, in stops."""
    if "nudge" not in table:
        return Nudge()
    if not isinstance(table.values["nudge"], Mapping):
        raise table.problem("must be stops by name", "nudge", todo=_NUDGE_HINT)
    own = table.table("nudge", _NUDGE_KEYS)
    return Nudge(**{key: own.number(key, 0.0, (-options.nudge, options.nudge)) for key in _NUDGE_KEYS})


def _media(table: Table, options: SampleOptions) -> tuple[Path, ...]:
    """Find the files that ``media`` names, a glob's in natural order."""
    folder = table.source.absolute().parent
    found: list[Path] = []
    for item in table.texts("media", hint=_MEDIA_HINT):
        if "\0" in item:
            raise table.problem("holds a NUL character", "media", todo=_MEDIA_HINT)
        path = folder / item
        # A file that is there wins over the glob that its name would be: "take[2].png".
        if not glob.has_magic(item) or os.path.lexists(path):
            if not os.path.exists(path):
                raise MediaError("there is no such file", where=path, todo=f"correct media of {table.key}")
            if path.is_dir():
                raise MediaError("is a folder", where=path, todo=f'name its files, such as "{item}/*.png"')
            found.append(path)
            continue
        names = [name for name in glob.glob(item, root_dir=folder) if is_media(Path(name))]
        if not names:
            raise MediaError("no still or clip matches", where=path, todo=f"correct media of {table.key}")
        found += (folder / name for name in sorted(names, key=natural_key))
    if len(found) > options.most_stills and not is_sequence(found, options.clips.sequence_length):
        raise table.problem(f"names {len(found)} files", "media", todo=f"at most {options.most_stills} are read")
    return tuple(found)


def _check_media(setup: Setup, tables: Table, options: SampleOptions) -> None:
    """No two angles are one picture; several stills show the same moments as the hero's, in the same order."""
    first: dict[object, str] = {}
    for angle in setup.angles:
        # Cameras that were recorded into one picture differ in crop, takes of one camera in one clip in offset.
        other = first.setdefault((angle.media, angle.crop, angle.offset), angle.name)
        if other != angle.name:
            raise tables.problem(
                f"names the same as {other}", f"{angle.name}.media", todo="name what this camera recorded"
            )
    wanted = setup[setup.hero].media
    shortest = options.clips.sequence_length
    if not all(is_still(path) for path in wanted) or is_sequence(wanted, shortest):
        return
    for angle in setup.others:
        if is_sequence(angle.media, shortest):
            continue
        if all(is_still(path) for path in angle.media) and len(angle.media) != len(wanted):
            raise tables.problem(
                f"has {len(angle.media)} stills where the hero has {len(wanted)}",
                f"{angle.name}.media",
                todo="give every angle a still of each moment, in the same order",
            )
