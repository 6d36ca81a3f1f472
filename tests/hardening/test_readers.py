"""Whatever stands where a file is read: a pipe, a device, a file without end, a folder, a link to itself.

Every file that huemend reads and that is not media is tried with each; media too must be regular files.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import os
import shutil
import struct
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest

from huemend.day.state import STATE
from tests.hardening.conftest import Trial

pytestmark = [pytest.mark.slow, pytest.mark.corpus]

GIGABYTE = 1 << 30


def sparse(path: Path) -> None:
    """400 GB that take no room on the disk."""
    path.touch()
    os.truncate(path, 400 * GIGABYTE)


def mkfifo(path: Path) -> None:
    """A pipe that nobody writes to."""
    os.mkfifo(path)


def device(path: Path) -> None:
    """A device that never ends."""
    path.symlink_to("/dev/zero")


def folder(path: Path) -> None:
    """A folder."""
    path.mkdir()


def loop(path: Path) -> None:
    """A link to itself."""
    path.symlink_to(path.name)


OBSTACLES: dict[str, tuple[Callable[[Path], None], str]] = {
    "a pipe": (mkfifo, "is not a file"),
    "a device": (device, "is not a file"),
    "400 GB": (sparse, ""),
    "a folder": (folder, "is a folder"),
    "a link to itself": (loop, ""),
}


def instead(path: Path, obstacle: str) -> None:
    """Put an obstacle in a file's place."""
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    path.unlink(missing_ok=True)
    OBSTACLES[obstacle][0](path)


def add(setup: Path, text: str) -> None:
    with (setup / "setup.toml").open("a", encoding="utf-8") as file:
        file.write(text)


def swap(setup: Path, old: str, new: str) -> None:
    path = setup / "setup.toml"
    path.write_text(path.read_text().replace(old, new))


def read_setup(setup: Path) -> tuple[Path, list[object]]:
    return setup / "setup.toml", ["match", setup / "setup.toml", "--out", setup / "new"]


def read_edl(setup: Path) -> tuple[Path, list[object]]:
    return setup / "cut.edl", ["match", setup / "setup.toml", "--edl", setup / "cut.edl", "--out", setup / "new"]


def read_otio(setup: Path) -> tuple[Path, list[object]]:
    return setup / "cut.otio", ["match", setup / "setup.toml", "--edl", setup / "cut.otio", "--out", setup / "new"]


def read_bundle(setup: Path) -> tuple[Path, list[object]]:
    return setup / "c.otioz", ["match", setup / "setup.toml", "--edl", setup / "c.otioz", "--out", setup / "new"]


def read_table(setup: Path) -> tuple[Path, list[object]]:
    add(setup, '[encoding.own]\ntable = "own.txt"\ngamut = "ACEScg"\n')
    return setup / "own.txt", ["match", setup / "setup.toml", "--out", setup / "new"]


def read_still(setup: Path) -> tuple[Path, list[object]]:
    return setup / "B.png", ["match", setup / "setup.toml", "--out", setup / "new", "--quiet"]


def read_tiff(setup: Path) -> tuple[Path, list[object]]:
    swap(setup, "B.png", "B.tif")
    return setup / "B.tif", ["match", setup / "setup.toml", "--out", setup / "new", "--quiet"]


def read_clip(setup: Path) -> tuple[Path, list[object]]:
    swap(setup, "B.png", "B.mov")
    return setup / "B.mov", ["match", setup / "setup.toml", "--out", setup / "new", "--quiet"]


def bake_still(setup: Path) -> tuple[Path, list[object]]:
    told = ["bake", setup / "setup.toml", "B", "--match", setup / "results", "--out", setup / "baked", "--quiet"]
    return setup / "B.png", told


def bake_record(setup: Path) -> tuple[Path, list[object]]:
    return setup / "results/report.json", bake_still(setup)[1]


def bake_lut(setup: Path) -> tuple[Path, list[object]]:
    return setup / "results/luts/wall_B_match.cube", bake_still(setup)[1]


def verify_record(setup: Path) -> tuple[Path, list[object]]:
    told = ["verify", setup / "setup.toml", "--match", setup / "results", "--quiet"]
    return setup / "results/report.json", told


def verify_lut(setup: Path) -> tuple[Path, list[object]]:
    return setup / "results/luts/wall_B_match.cube", verify_record(setup)[1]


def read_day(setup: Path) -> tuple[Path, list[object]]:
    return setup / "day.toml", ["day", setup, "--out", setup / "new", "--quiet"]


READERS = [
    read_setup,
    read_edl,
    read_otio,
    read_bundle,
    read_table,
    read_still,
    read_tiff,
    read_clip,
    bake_record,
    bake_lut,
    verify_record,
    verify_lut,
    read_day,
]


@pytest.mark.parametrize("obstacle", OBSTACLES)
@pytest.mark.parametrize("reader", READERS, ids=lambda reader: reader.__name__)
def test_what_is_no_file_is_refused_at_once(
    reader: Callable[[Path], tuple[Path, list[object]]], obstacle: str, setup: Path, trial: Trial
) -> None:
    path, told = reader(setup)
    instead(path, obstacle)
    line = trial.refused(*told, said=path.name)
    # What huemend wrote itself is no longer what it was, whatever stands there now.
    assert OBSTACLES[obstacle][1] in line or (path.suffix == ".cube" and "is gone, or is no file" in line)


@pytest.mark.parametrize("obstacle", OBSTACLES)
def test_a_state_that_is_no_file_is_as_good_as_none(obstacle: str, day: Path, trial: Trial) -> None:
    """What an earlier run of a day left for the next one, and the contact sheet that its index shows."""
    out = day / "match" / "01"
    for name in (STATE, "contact.png"):
        instead(out / name, obstacle)
    told, _ = trial.done("day", day, "--index-only", "--json", "--quiet")
    assert json.loads(told)["setups"]["01"]["angles"] == {"B": "matched"}
    assert "Contact sheet" not in (day / "match/index.html").read_text(encoding="utf-8")


def chunk(kind: bytes, data: bytes) -> bytes:
    """A PNG chunk (ISO/IEC 15948, 5.3)."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def header(width: int = 64, height: int = 64) -> bytes:
    return chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))


SIGNATURE = b"\x89PNG\r\n\x1a\n"
ROWS = chunk(b"IDAT", zlib.compress(b"\0" * (64 * 3 + 1) * 64))
END = chunk(b"IEND", b"")


@pytest.mark.parametrize("command", ["match", "bake", "new"])
@pytest.mark.parametrize(
    ("data", "said"),
    [
        (SIGNATURE + header() + header() + ROWS + END, "is damaged (it has no header, or two)"),
        (SIGNATURE + header() + ROWS + header() + END, "is damaged (it has no header, or two)"),
        (SIGNATURE + ROWS + header() + END, "is damaged (it has no header, or two)"),
        (SIGNATURE + chunk(b"IHDR", b"") + ROWS + END, ""),
        (SIGNATURE + END, "is damaged (it has no header, or two)"),
    ],
    ids=["twice", "twice, apart", "late", "empty", "none"],
)
def test_a_png_of_odd_headers_ends(command: str, data: bytes, said: str, setup: Path, trial: Trial) -> None:
    """The header is the first chunk and no other (ISO/IEC 15948, 5.6); a walk that went back to it never ended."""
    (setup / "B.png").write_bytes(data)
    if command == "new":
        (setup / "setup.toml").unlink()
        _, err = trial.done("new", setup, "--encoding", "ACEScct")
        assert "B.png: " in err and said in err
        return
    trial.refused(*(read_still if command == "match" else bake_still)(setup)[1], said=f"B.png: {said}")


def test_a_png_of_a_million_chunks_ends(setup: Path, trial: Trial) -> None:
    small = chunk(b"tEXt", b"")
    (setup / "B.png").write_bytes(SIGNATURE + header() + small * 1_000_001 + ROWS + END)
    trial.refused(*read_still(setup)[1], said="B.png: is damaged (it has more than 1000000 parts)")


@pytest.mark.parametrize(
    "text",
    [
        "#EXTM3U\n#EXTINF:1,\nsecret.ts\n#EXT-X-ENDLIST\n",
        "#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\nhttp://127.0.0.1:9/x.ts\n#EXT-X-ENDLIST\n",
        "ffconcat version 1.0\nfile A.png\n",
        "v=0\no=- 0 0 IN IP4 127.0.0.1\nc=IN IP4 127.0.0.1\nt=0 0\nm=video 9 RTP/AVP 96\n",
    ],
    ids=["playlist", "playlist of addresses", "concatenation", "session description"],
)
def test_a_clip_that_is_a_list_of_others_is_refused(text: str, setup: Path, trial: Trial) -> None:
    """FFmpeg goes by what a file holds, and would open what it names: other files, or a network."""
    path, told = read_clip(setup)
    path.write_text(text)
    trial.refused(*told, said="B.mov: is not a clip that can be read")


@pytest.mark.parametrize("depth", [2_000, 200_000])
def test_a_timeline_nested_without_end(depth: int, setup: Path, trial: Trial) -> None:
    path, told = read_otio(setup)
    path.write_text('{"OTIO_SCHEMA": "Timeline.1", "metadata": {"a":' + "[" * depth + "]" * depth + "}}")
    trial.refused(*told, said="cut.otio: is not a timeline that can be read")


def test_a_bundle_that_unpacks_to_gigabytes(setup: Path, trial: Trial) -> None:
    import zipfile

    path, told = read_bundle(setup)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as bundle:
        with bundle.open("content.otio", "w") as inner:
            for _ in itertools.repeat(None, 65):
                inner.write(b" " * 1_000_000)
    trial.refused(*told, said="c.otioz: holds too large a timeline")


@pytest.mark.parametrize(
    "text",
    ["LUT_3D_SIZE 2\n" + "\n" * 40_000_000, "LUT_3D_SIZE 2\n" + "0 " * 5_000_000, f"LUT_3D_SIZE {'2' * 200}\n"],
    ids=["lines", "words", "digits"],
)
def test_a_lut_of_millions(text: str, setup: Path, trial: Trial) -> None:
    path, told = bake_lut(setup)
    path.write_text(text)
    record = setup / "results/report.json"
    whole = json.loads(record.read_text())
    for file in whole["files"]:
        if file["path"].endswith("B_match.cube"):
            file["sha256"] = hashlib.sha256(text.encode()).hexdigest()
    record.write_text(json.dumps(whole))
    trial.refused(*told, said="is no LUT that huemend wrote")
