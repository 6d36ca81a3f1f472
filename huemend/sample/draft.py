"""Draft a setup file from a folder of stills; what is a guess is marked as one."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from huemend.errors import MediaError
from huemend.sample.names import collision, natural_key, normal_name, unsafe
from huemend.sample.setupfile import ENCODING_TO_FILL_IN
from huemend.sample.stills import is_media

__all__ = ["Draft", "draft_setup", "group_by_name"]

# Words that people give to the picture which holds all the others (common practice, no source).
_HERO_WORDS = ("hero", "master", "wide", "totale", "total", "main")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")  # TOML 1.0.0, section Keys
_NUMBERED = re.compile(r"[\s._-]*\d+$")


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A drafted setup file.

    Attributes
    ----------
    text : str
        TOML, with comments that say what was guessed.
    hero : str
    angles : mapping of angle name to its media, as written in the file
    """

    text: str
    hero: str
    angles: Mapping[str, tuple[str, ...]]


def draft_setup(folder: Path, encoding: str | None = None) -> Draft:
    """Draft a setup from the media in a folder.

    One angle per sub-folder that holds media; without such sub-folders, one per beginning of a file name.

    Parameters
    ----------
    folder : Path
    encoding : str, optional
        What to write for every angle; a placeholder that ``load_setup`` explains if None.

    Raises
    ------
    MediaError
        The folder cannot be read, or holds media of fewer than two angles.
    """
    try:
        angles = _group_by_folder(folder) or group_by_name(_media_in(folder))
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise MediaError(f"cannot be read ({reason})", where=folder, todo="name a folder with stills") from error
    if len(angles) < 2:
        found = "one angle only" if angles else "no stills"
        raise MediaError(
            f"holds {found}",
            where=folder,
            todo="put the stills of each angle into a sub-folder, or name them wide_01.png, left_01.png",
        )
    named = _safe_names(angles)
    hero, why = _guess_hero(named)
    return Draft(text=_write(_setup_name(folder), hero, why, named, encoding), hero=hero, angles=named)


def group_by_name(names: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Group file names into angles by what stands before the last number.

    Where that would make a single angle, every file is an angle of its own.

    >>> group_by_name(["wide_02.png", "wide_01.png", "left_01.png", "left_02.png"])
    {'left': ('left_01.png', 'left_02.png'), 'wide': ('wide_01.png', 'wide_02.png')}
    >>> group_by_name(["cam1.png", "cam2.png"])
    {'cam1': ('cam1.png',), 'cam2': ('cam2.png',)}
    """
    ordered = sorted(names, key=natural_key)
    groups: dict[str, list[str]] = {}
    for name in ordered:
        stem = Path(name).stem
        groups.setdefault(_NUMBERED.sub("", stem) or stem, []).append(name)
    if len(groups) == 1:
        groups = {}
        for name in ordered:
            groups.setdefault(Path(name).stem, []).append(name)
    return {angle: tuple(files) for angle, files in groups.items()}


def _group_by_folder(folder: Path) -> dict[str, tuple[str, ...]]:
    groups = {}
    for sub in sorted((path for path in folder.iterdir() if path.is_dir()), key=lambda p: natural_key(p.name)):
        names = [] if sub.name.startswith(".") else _media_in(sub)
        if names:
            groups[sub.name] = tuple(f"{sub.name}/{name}" for name in sorted(names, key=natural_key))
    return groups if len(groups) > 1 else {}


def _media_in(folder: Path) -> list[str]:
    return [
        path.name
        for path in folder.iterdir()
        if is_media(path) and not path.name.startswith(".") and path.is_file()
    ]


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


def _guess_hero(angles: Mapping[str, tuple[str, ...]]) -> tuple[str, str]:
    for word in _HERO_WORDS:
        for name in angles:
            if word in re.split(r"[\W\d_]+", name.casefold()):
                return name, "a guess from its name"
    return next(iter(angles)), "a guess: the first by name"


def _write(name: str, hero: str, why: str, angles: Mapping[str, tuple[str, ...]], encoding: str | None) -> str:
    lines = [
        "# Drafted by `huemend new`. Look over every line that says guess, then run: huemend match setup.toml",
        "",
        "[setup]",
        f"name = {_quoted(name)}",
        f"hero = {_quoted(hero)}  # {why}; the angle that the others are to agree with",
    ]
    wanted = len(angles[hero])
    for angle in sorted(angles, key=lambda angle: angle != hero):
        files = angles[angle]
        key = angle if _BARE_KEY.fullmatch(angle) else _quoted(angle)
        lines += ["", f"[angle.{key}]", f"media = {_listed(files)}"]
        if len(files) != wanted:
            lines.append(f"# {len(files)} here, {wanted} at the hero: keep those that show the same moments")
        if encoding is None:
            lines.append(f'encoding = "{ENCODING_TO_FILL_IN}"  # fill in "curve/gamut"; see: huemend encodings')
        else:
            lines.append(f"encoding = {_quoted(encoding)}")
        lines.append('range = "full"  # a guess; "legal" where black is at code 64 of 10 bits')
    return "\n".join(lines) + "\n"


def _listed(files: tuple[str, ...]) -> str:
    if len(files) == 1:
        return f"[{_quoted(files[0])}]"
    return "[\n" + "".join(f"  {_quoted(file)},\n" for file in files) + "]"


def _quoted(text: str) -> str:
    """Write a TOML basic string (TOML 1.0.0, section String)."""
    out = []
    for character in text:
        if character in '"\\':
            out.append("\\" + character)
        elif ord(character) < 0x20 or ord(character) == 0x7F:
            out.append(f"\\u{ord(character):04X}")
        else:
            out.append(character)
    return '"' + "".join(out) + '"'
