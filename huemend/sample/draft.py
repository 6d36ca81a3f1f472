"""Draft a setup file from a folder of stills or clips; what is a guess is marked as one."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from huemend.base.arrays import Float
from huemend.base.text import is_unicode, toml_comment, toml_key, toml_string
from huemend.errors import EncodingError, HuemendError, MediaError, said_by_system
from huemend.media.clipinfo import ClipInfo
from huemend.media.clips import open_clip
from huemend.media.pictures import read_picture
from huemend.sample.day_defaults import ENCODING_TO_FILL_IN
from huemend.sample.footage import is_clip_file
from huemend.sample.hero import propose_hero
from huemend.sample.names import collision, natural_key, normal_name, unsafe
from huemend.sample.stills import is_media
from huemend.sample.tables import meant

#: In place of a name: choose the hero by the pictures.
AUTO = "auto"

# Words that people give to the picture which holds all the others (common practice, no source).
_HERO_WORDS = ("hero", "master", "wide", "totale", "total", "main")
# Curves that a stream may be tagged with, and that no log clip is tagged with by mistake (ITU-T H.273).
_TAGGED = {"pq": "PQ/BT.2020", "hlg": "HLG/BT.2020"}
_NUMBERED = re.compile(r"[\s._-]*\d+$")
# Letter of the camera, its reel, and the clip, as many cameras name their files (common practice, no source).
_REEL_AND_CLIP = re.compile(r"([A-Z])\d{3}[\s._-]*C\d{3}(?!\d).*")


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A drafted setup file."""

    #: TOML, with comments that say what was guessed.
    text: str
    hero: str
    #: Why that angle is the hero.
    why: str
    #: Mapping of angle name to its media, as written in the file.
    angles: Mapping[str, tuple[str, ...]]
    #: What is wrong with media that could not be read, a line each.
    unread: tuple[str, ...] = ()


def draft_setup(
    folder: Path, encoding: str | None = None, known: Sequence[str] = (), hero: str | None = None
) -> Draft:
    """Draft a setup from the media in a folder.

    One angle per sub-folder that holds media; without such sub-folders, one per beginning of a file name. The
    hero is the angle of that name, or the one whose picture holds the others; ``auto`` goes by the pictures
    alone, whatever names say. Of clips, tags and text tell what they can of the encoding, by the ``known``
    names; ``encoding`` is written for every angle, or a placeholder that ``load_setup`` explains.

    Raises EncodingError if the encoding is a name that cannot be written; MediaError if the folder cannot be
    read, or holds media of fewer than two angles, or no angle of the hero's name.
    """
    if encoding is not None and not is_unicode(encoding):
        raise EncodingError("this name is not UTF-8", where=encoding, todo="huemend encodings lists the names")
    try:
        angles = _group_by_folder(folder) or group_by_name(_media_in(folder))
    except OSError as error:
        raise MediaError(
            f"cannot be read ({said_by_system(error)})", where=folder, todo="name a folder with stills"
        ) from error
    left_out = tuple(_unwritable(folder))
    if len(angles) < 2:
        if left_out:
            raise left_out[0]
        found = "one angle only" if angles else "no stills or clips"
        raise MediaError(
            f"holds {found}",
            where=folder,
            todo="put the stills of each angle into a sub-folder, or name them wide_01.png, left_01.png",
        )
    named = _safe_names(angles)
    spare = {name: len(files) for name, files in named.items() if len(files) > 1 and is_clip_file(Path(files[0]))}
    named = {name: files[:1] if name in spare else files for name, files in named.items()}
    stated = None if hero in (None, AUTO) else _stated_hero(hero or "", named, folder)
    samples = {name: _sample(folder / files[0]) for name, files in named.items()}
    pictures = {name: sample.luma for name, sample in samples.items() if sample.luma is not None}
    hero, why = (stated, "as told") if stated else _guess_hero(named, pictures, by_name=hero != AUTO)
    notes = {name: _notes(sample, spare.get(name, 1), encoding, known) for name, sample in samples.items()}
    return Draft(
        text=_write(_setup_name(folder), hero, why, named, notes),
        hero=hero,
        why=why,
        angles=named,
        unread=(*map(str, left_out), *(sample.wrong for sample in samples.values() if sample.wrong)),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Sample:
    """What a first look at an angle's media gave, or what is wrong with them."""

    luma: Float | None = None
    info: ClipInfo | None = None
    wrong: str = ""


def _sample(path: Path) -> _Sample:
    try:
        if is_clip_file(path):
            with open_clip(path) as clip:
                (middle,) = clip.glances([clip.info.frames // 2], 1)
                return _Sample(luma=middle.luma, info=clip.info)
        return _Sample(luma=read_picture(path).codes[..., 1])
    except HuemendError as error:
        return _Sample(wrong=str(error))


def _notes(sample: _Sample, clips: int, encoding: str | None, known: Sequence[str]) -> tuple[str, ...]:
    """The lines of one angle below its media."""
    lines = [toml_comment(f"cannot be read yet: {sample.wrong}")] if sample.wrong else []
    info = sample.info
    if clips > 1:
        lines.append(f"# a guess: the first of {clips} clips here; one clip an angle is read")
    guess = None if encoding is not None or info is None else _guess_encoding(info, known)
    if encoding is not None:
        lines.append(f"encoding = {toml_string(encoding)}")
    elif guess is not None:
        lines.append(f"encoding = {toml_string(guess[0])}  {toml_comment(f'a guess: {guess[1]}')}")
    else:
        hint = 'fill in "curve/gamut"; see: huemend encodings'
        if info is not None and info.transfer not in ("untagged", "other"):
            hint += f" (the clip is tagged {info.transfer}, which says little: log clips often are)"
        lines.append(f"encoding = {toml_string(ENCODING_TO_FILL_IN)}  {toml_comment(hint)}")
    if info is None:
        lines.append('range = "full"  # a guess; "legal" where black is at code 64 of 10 bits')
        return tuple(lines)
    signal = info.signal
    assumed = f"; assumed: {', '.join(signal.assumed)}" if signal.assumed else ""
    lines.append(toml_comment(f"{info.codec} {info.pix_fmt}, {signal.range} range, {signal.matrix}{assumed}"))
    if any(each.startswith(("matrix", "range")) for each in signal.assumed):
        lines.append(toml_comment(f'state range or matrix = "{signal.matrix}" where these are wrong'))
    start = f"starts at {info.timecode}" if info.timecode else "has no start timecode"
    lines.append(toml_comment(f"{float(info.fps):.6g} frames a second, {info.frames} frames, {start}"))
    return tuple(lines)


def _guess_encoding(info: ClipInfo, known: Sequence[str]) -> tuple[str, str] | None:
    """An encoding that the clip's tags or text name."""
    if info.transfer in _TAGGED:
        return _TAGGED[info.transfer], f"tagged {info.transfer}"
    for key, value in info.metadata.items():
        text = _plain(value)
        curves = [name for name in known if "/" in name and _plain(name.partition("/")[0]) in text]
        if not curves:
            continue
        # The longest name wins: S-Log3 is in no text that says S-Log only.
        longest = max(len(name.partition("/")[0]) for name in curves)
        curves = [name for name in curves if len(name.partition("/")[0]) == longest]
        both = [name for name in curves if _plain(name.partition("/")[2]) in text]
        if both:
            return max(both, key=len), f"its {key} says so"
        return curves[0], f"its {key} names the curve, the gamut is the usual one"
    return None


def _plain(text: str) -> str:
    return re.sub(r"[^a-z0-9]", "", text.casefold())


def group_by_name(names: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Group file names into angles by what stands before the last number, or by the letter of a camera's reel.

    Where that would make a single angle, every file is an angle of its own.

    >>> group_by_name(["wide_02.png", "wide_01.png", "left_01.png", "left_02.png"])
    {'left': ('left_01.png', 'left_02.png'), 'wide': ('wide_01.png', 'wide_02.png')}
    >>> group_by_name(["cam1.png", "cam2.png"])
    {'cam1': ('cam1.png',), 'cam2': ('cam2.png',)}
    >>> group_by_name(["A001_C003.png", "B002_C004_1201XY.png"])
    {'A': ('A001_C003.png',), 'B': ('B002_C004_1201XY.png',)}
    """
    ordered = sorted(names, key=natural_key)
    groups: dict[str, list[str]] = {}
    for name in ordered:
        stem = Path(name).stem
        reel = _REEL_AND_CLIP.fullmatch(stem)
        groups.setdefault(reel[1] if reel else _NUMBERED.sub("", stem) or stem, []).append(name)
    if len(groups) == 1:
        groups = {}
        for name in ordered:
            groups.setdefault(Path(name).stem, []).append(name)
    return {angle: tuple(files) for angle, files in groups.items()}


def _group_by_folder(folder: Path) -> dict[str, tuple[str, ...]]:
    groups = {}
    for sub in sorted((path for path in folder.iterdir() if path.is_dir()), key=lambda p: natural_key(p.name)):
        names = [] if sub.name.startswith(".") or not is_unicode(sub.name) else _media_in(sub)
        if names:
            groups[sub.name] = tuple(f"{sub.name}/{name}" for name in sorted(names, key=natural_key))
    return groups if len(groups) > 1 else {}


def _media_in(folder: Path) -> list[str]:
    return [
        path.name
        for path in folder.iterdir()
        if is_media(path) and not path.name.startswith(".") and path.is_file() and is_unicode(path.name)
    ]


def _unwritable(folder: Path) -> Iterator[MediaError]:
    """Yield what is wrong with all media and folders of media that a setup file cannot name."""
    for path in sorted(folder.iterdir()):
        inner = sorted(path.iterdir()) if path.is_dir() and not path.name.startswith(".") else [path]
        for each in inner:
            if is_media(each) and not (is_unicode(each.name) and is_unicode(path.name)):
                yield MediaError("is left out: its name is not UTF-8", where=each, todo="rename it")


def _safe_names(angles: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    """Give every angle a name that may become part of a file name, and a different one each."""
    named: dict[str, tuple[str, ...]] = {}
    for number, (name, files) in enumerate(angles.items(), start=1):
        name = normal_name(name).strip(" .-_")
        if unsafe(name) or collision([*named, name]):
            name = f"angle{number}"
        named[name] = files
    return named


def _setup_name(folder: Path) -> str:
    name = normal_name(folder.resolve().name)
    return "setup" if unsafe(name) else name


def _stated_hero(hero: str, angles: Mapping[str, tuple[str, ...]], folder: Path) -> str:
    name = normal_name(hero)
    if name in angles:
        return name
    todo = meant(name, list(angles), f"angles: {', '.join(angles)}, or {AUTO}")
    raise MediaError(f"holds no angle {name!r} to be the hero", where=folder, todo=todo)


def _guess_hero(
    angles: Mapping[str, tuple[str, ...]], pictures: Mapping[str, Float], *, by_name: bool
) -> tuple[str, str]:
    named = _hero_by_name(angles)
    if by_name and named is not None:
        return named, "a guess from its name"
    proposed = propose_hero(pictures)
    if proposed.name is not None:
        return proposed.name, f"a guess from the pictures: {proposed.why}"
    if named is not None:
        return named, f"a guess from its name, since {proposed.why}"
    return next(iter(angles)), f"a guess, the first by name, since {proposed.why}"


def _hero_by_name(angles: Mapping[str, tuple[str, ...]]) -> str | None:
    for word in _HERO_WORDS:
        for name in angles:
            if word in re.split(r"[\W\d_]+", name.casefold()):
                return name
    return None


def _write(
    name: str,
    hero: str,
    why: str,
    angles: Mapping[str, tuple[str, ...]],
    notes: Mapping[str, tuple[str, ...]],
) -> str:
    lines = [
        '# Drafted by `huemend new`. Fill in each "?", look over every guess, then run: huemend match setup.toml',
        "",
        "[setup]",
        f"name = {toml_string(name)}",
        f"hero = {toml_string(hero)}  {toml_comment(f'{why}; the angle that the others are to agree with')}",
    ]
    wanted = len(angles[hero])
    for angle in sorted(angles, key=lambda angle: angle != hero):
        files = angles[angle]
        lines += ["", f"[angle.{toml_key(angle)}]", f"media = {_listed(files)}"]
        if len(files) != wanted:
            lines.append(f"# {len(files)} here, {wanted} at the hero: keep those that show the same moments")
        lines += notes[angle]
    return "\n".join(lines) + "\n"


def _listed(files: tuple[str, ...]) -> str:
    if len(files) == 1:
        return f"[{toml_string(files[0])}]"
    return "[\n" + "".join(f"  {toml_string(file)},\n" for file in files) + "]"
