"""Bad inputs, each with the exit code that docs/cli.md promises and what its one line must say."""

from __future__ import annotations

import os
import struct
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import OpenImageIO as oiio

__all__ = ["CASES", "Case"]

Spoil = Callable[[Path], object]


@dataclass(frozen=True)
class Case:
    """One bad input: how a good setup in a folder is spoilt, and how the command must end.

    Parameters
    ----------
    spoil : callable
        Is given the folder that holds setup.toml, A.png (the hero) and B.png.
    code : int
        The exit code.
    said : str
        Part of the line on stderr.
    setup : str
        The setup file, from the folder.
    env : mapping
        Variables to set.
    file_size : int
        Bytes that a file may have (RLIMIT_FSIZE), 0 for any.
    command : str
        ``match``; ``new``, for which there is no setup file; or ``bake``, which finds a good match in ``results``.
    """

    spoil: Spoil
    code: int = 3
    said: str = ""
    setup: str = "setup.toml"
    out: str = "results"
    env: Mapping[str, str] = field(default_factory=dict)
    file_size: int = 0
    command: str = "match"


def nothing(folder: Path) -> None:
    """Leave a good setup as it is."""


def swap(old: str, new: str) -> Spoil:
    """Change the setup file's text."""

    def spoil(folder: Path) -> None:
        path = folder / "setup.toml"
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new), encoding="utf-8")

    return spoil


def add(text: str) -> Spoil:
    """Add a text to the setup file's end."""

    def spoil(folder: Path) -> None:
        with (folder / "setup.toml").open("a", encoding="utf-8") as file:
            file.write(text)

    return spoil


def setup_bytes(data: bytes) -> Spoil:
    """Write these bytes as the setup file."""
    return lambda folder: (folder / "setup.toml").write_bytes(data)


# ------------------------------------------------------------------------------------------------- pictures


def still(ending: str, harm: Callable[[bytes], bytes]) -> Spoil:
    """Write a good picture of this format and harm its bytes; it takes the angle's place."""

    def spoil(folder: Path) -> None:
        path = folder / f"B.{ending}"
        values = np.random.default_rng(1).random((180, 320, 3)).astype(np.float32)
        spec = oiio.ImageSpec(320, 180, 3, {"exr": oiio.HALF, "jpg": oiio.UINT8}.get(ending, oiio.UINT16))
        output = oiio.ImageOutput.create(str(path))
        assert output.open(str(path), spec) and output.write_image(values)
        output.close()
        path.write_bytes(harm(path.read_bytes()))
        if ending != "png":
            swap("B.png", path.name)(folder)

    return spoil


def half(data: bytes) -> bytes:
    """Keep the first half."""
    return data[: len(data) // 2]


def head(data: bytes) -> bytes:
    """Keep the first 20 bytes: a magic number and little else."""
    return data[:20]


def noise(data: bytes) -> bytes:
    """Keep the magic number alone; all else is noise."""
    return data[:8] + np.random.default_rng(2).bytes(4000)


def patched(place: int, value: bytes) -> Callable[[bytes], bytes]:
    """Put other bytes in a place."""
    return lambda data: data[:place] + value + data[place + len(value) :]


def huge_png(side: int) -> Callable[[bytes], bytes]:
    """A PNG whose header (ISO/IEC 15948, 11.2.2) declares a huge square, with a checksum that holds."""

    def harm(data: bytes) -> bytes:
        header = b"IHDR" + struct.pack(">II", side, side) + data[24:29]
        return data[:12] + header + struct.pack(">I", zlib.crc32(header)) + data[33:]

    return harm


def huge_jpeg(data: bytes) -> bytes:
    """A JPEG whose frame header (ITU-T T.81, B.2.2) declares 65,500 x 65,500."""
    place = data.index(b"\xff\xc0") + 5
    return patched(place, struct.pack(">HH", 65500, 65500))(data)


def huge_tiff(data: bytes) -> bytes:
    """A TIFF whose tags 256 and 257 (TIFF 6.0, section 8) declare 500,000 x 500,000."""
    order = "<" if data[:2] == b"II" else ">"
    (place,) = struct.unpack(order + "I", data[4:8])
    (count,) = struct.unpack(order + "H", data[place : place + 2])
    for entry in range(place + 2, place + 2 + 12 * count, 12):
        if struct.unpack(order + "H", data[entry : entry + 2])[0] in (256, 257):
            data = patched(entry + 2, struct.pack(order + "HII", 4, 1, 500_000))(data)
    return data


def huge_dpx(data: bytes) -> bytes:
    """A DPX whose image header (SMPTE ST 268-1, offsets 772 and 776) declares 2 to the 31st a side."""
    order = ">" if data[:4] == b"SDPX" else "<"
    return patched(772, struct.pack(order + "II", 2**31 - 1, 2**31 - 1))(data)


def huge_exr(data: bytes) -> bytes:
    """An OpenEXR whose data window (box2i, OpenEXR file layout) ends at 2 to the 30th."""
    place = data.index(b"dataWindow\0box2i\0") + len(b"dataWindow\0box2i\0") + 4
    return patched(place + 8, struct.pack("<ii", 2**30, 2**30))(data)


HUGE = {"png": huge_png(2**31 - 1), "tif": huge_tiff, "dpx": huge_dpx, "exr": huge_exr, "jpg": huge_jpeg}


def other(name: str, data: bytes) -> Spoil:
    """Name another file with these bytes as the angle."""

    def spoil(folder: Path) -> None:
        (folder / name).write_bytes(data)
        swap("B.png", name)(folder)

    return spoil


def instead(name: str, make: Callable[[Path], object]) -> Spoil:
    """Put something else in a file's place."""

    def spoil(folder: Path) -> None:
        (folder / name).unlink()
        make(folder / name)

    return spoil


def clip(harm: Callable[[bytes], bytes]) -> Spoil:
    """Name a harmed clip as the angle."""

    def spoil(folder: Path) -> None:
        import av

        path = folder / "B.mov"
        with av.open(str(path), "w") as file:
            stream = file.add_stream("mpeg4", rate=24)
            stream.width, stream.height, stream.pix_fmt = 320, 180, "yuv420p"
            rng = np.random.default_rng(3)
            for _ in range(12):
                frame = av.VideoFrame.from_ndarray(rng.integers(0, 255, (180, 320, 3), np.uint8), "rgb24")
                file.mux(stream.encode(frame))
            file.mux(stream.encode(None))
        path.write_bytes(harm(path.read_bytes()))
        swap("B.png", "B.mov")(folder)

    return spoil


# ---------------------------------------------------------------------------------------------------- paths


def loop(path: Path) -> None:
    """Make a link to itself."""
    path.symlink_to(path.name)


def closed(name: str, mode: int = 0) -> Spoil:
    """Take permissions away; the launcher makes them count for root, too."""
    return lambda folder: (folder / name).chmod(mode)


def read_only(folder: Path) -> None:
    """Make the folder and all in it read-only; results go beside it."""
    for path in [*folder.iterdir(), folder]:
        path.chmod(0o555 if path.is_dir() else 0o444)


def closed_out(folder: Path) -> None:
    """Make an output folder that cannot be written."""
    (folder / "results").mkdir(mode=0o555)


def renamed(name: str) -> Spoil:
    """Cut the angle's picture short under an odd name."""

    def spoil(folder: Path) -> None:
        data = (folder / "B.png").read_bytes()
        (folder / name).write_bytes(half(data))
        escaped = name.replace("\n", "\\n").replace("\x1b", "\\u001b")
        swap('"B.png"', f'"{escaped}"')(folder)

    return spoil


def odd_everywhere(folder: Path) -> None:
    """Give picture and setup file names that are as odd as a disk allows."""
    name = " \u202eb \u05d0 \U0001f3a5 'quoted' %20 $HOME .png"
    (folder / "B.png").rename(folder / name)
    swap("B.png", name)(folder)
    (folder / "setup.toml").rename(folder / ODD_SETUP)


ODD_SETUP = "  a day's \u202e\U0001f3ac setup;.toml"


def harmed(pattern: str, harm: Callable[[bytes], bytes | None]) -> Spoil:
    """Harm the one file of that pattern; None takes it away."""

    def spoil(folder: Path) -> None:
        (path,) = folder.glob(pattern)
        data = harm(path.read_bytes())
        path.unlink() if data is None else path.write_bytes(data)

    return spoil


def ring(folder: Path) -> None:
    """Link a folder into itself."""
    (folder / "again").symlink_to(folder, target_is_directory=True)


def named(key: str, name: str) -> Spoil:
    """Give the setup, or the angle, another name; a TOML text."""
    return swap('name = "wall"', f"name = {name}") if key == "setup" else swap("[angle.B]", f"[angle.{name}]")


CASES: dict[str, Case] = {}
for _ending in HUGE:
    CASES[f"{_ending}, cut in half"] = Case(still(_ending, half), said=f"B.{_ending}")
    CASES[f"{_ending}, 20 bytes of it"] = Case(still(_ending, head), said=f"B.{_ending}")
    CASES[f"{_ending}, noise after the magic number"] = Case(still(_ending, noise), said=f"B.{_ending}")
    CASES[f"{_ending}, huge declared size"] = Case(still(_ending, HUGE[_ending]), said=f"B.{_ending}")
_NOWHERE = {name: "/nowhere/at/all" for name in ("HOME", "TMPDIR", "XDG_CACHE_HOME", "XDG_CONFIG_HOME")}
CASES |= {
    "png, 50,000 a side of a few bytes": Case(still("png", huge_png(50_000)), said="B.png"),
    "still of 0 bytes": Case(other("B0.png", b""), said="B0.png: is an empty file"),
    "clip, cut in half": Case(clip(half), said="B.mov"),
    "clip, 20 bytes of it": Case(clip(head), said="B.mov"),
    "clip, noise after the magic number": Case(clip(noise), said="B.mov"),
    "clip of 0 bytes": Case(other("B.mov", b""), said="B.mov"),
    "still is a pipe that nobody writes to": Case(instead("B.png", os.mkfifo), said="B.png"),
    "still is an endless device": Case(swap("B.png", "/dev/zero"), said="/dev/zero"),
    "still is a link to itself": Case(instead("B.png", loop), said="B.png"),
    "setup file of 0 bytes": Case(setup_bytes(b""), said="setup.toml"),
    "setup file is a pipe": Case(instead("setup.toml", os.mkfifo), said="setup.toml"),
    "setup file is a link to itself": Case(instead("setup.toml", loop), said="setup.toml"),
    "setup file is an endless device": Case(nothing, said="/dev/zero", setup="/dev/zero"),
    "setup file of noise": Case(setup_bytes(np.random.default_rng(4).bytes(4000)), said="UTF-8"),
    "setup file in UTF-16": Case(setup_bytes("[setup]\n".encode("utf-16")), said="UTF-8"),
    "TOML: 100,000 brackets deep": Case(add("\nx = " + "[" * 100_000), said="setup.toml"),
    "TOML: a key of 100,000 parts": Case(add("\n" + "a." * 100_000 + "b = 1"), said="nested too deeply"),
    "TOML: 100 MB": Case(lambda folder: os.truncate(folder / "setup.toml", 100_000_000), said="too large"),
    "TOML: a number of 5,000 digits": Case(add("\nx = " + "9" * 5000), said="too many digits"),
    "TOML: 5,000 hexadecimal digits": Case(add("\nexposure_index = 0x" + "f" * 5000), said="too many digits"),
    "TOML: such a number for a name": Case(named("setup", "0x" + "f" * 5000), said="too many digits"),
    "setup name climbs out": Case(named("setup", '"../../out"'), said="holds '/'"),
    "setup name is absolute": Case(named("setup", '"/etc/out"'), said="holds '/'"),
    "angle name climbs out": Case(named("angle", '"../B"'), said="holds '/'"),
    "angle name with a backslash": Case(named("angle", r"'..\B'"), said="holds"),
    "angle name is a device": Case(named("angle", "CON"), said="Windows keeps"),
    "angle name is two dots": Case(named("angle", '".."'), said="begins with a dot"),
    "angle name holds a null": Case(named("angle", r'"B\u0000"'), said="invisible character U+0000"),
    "angle name of 5,000 letters": Case(named("angle", '"' + "B" * 5000 + '"'), said="longer than"),
    "media name holds a null": Case(swap("B.png", r"B\u0000.png"), said="B"),
    "media name of 5,000 letters": Case(swap("B.png", "B" * 5000 + ".png"), said="B"),
    "odd path: spaces": Case(renamed("  my  B .png"), said="B .png"),
    "odd path: a line break": Case(renamed("B\nhuemend: all is well.png"), said="cut short"),
    "odd path: an escape sequence": Case(renamed("B\x1b[2J.png"), said="B\\x1b[2J.png: is cut short"),
    "odd path: right-to-left and emoji": Case(
        renamed("\u202egnp.\u05d0\U0001f3a5.png"), said="\\u202egnp.\u05d0\U0001f3a5.png: is cut short"
    ),
    "no permission: still": Case(closed("B.png"), said="B.png"),
    "no permission: setup file": Case(closed("setup.toml"), said="setup.toml"),
    "no permission: output folder": Case(closed_out, said="results"),
    "file size limit, first file": Case(nothing, 3, "results", file_size=4_000),
    "file size limit, later file": Case(nothing, 3, "results", file_size=200_000),
    "good: read-only inputs": Case(read_only, 0, out="../results"),
    "good: no home, no temp folder": Case(nothing, 0, env=_NOWHERE),
    "good: odd names everywhere": Case(odd_everywhere, 0, setup=ODD_SETUP, out=" r\u00e9sults \u202e\U0001f3ac;"),
    "new: png, cut in half": Case(still("png", half), 0, said="B.png: is cut short", command="new"),
    "new: png, huge declared size": Case(still("png", HUGE["png"]), 0, said="claims to be", command="new"),
    "new: still of 0 bytes": Case(other("B.png", b""), 0, said="B.png: is an empty file", command="new"),
    "new: clip, cut in half": Case(clip(half), 0, said="B.mov: ", command="new"),
    "new: still is a pipe": Case(instead("B.png", os.mkfifo), said="holds one angle only", command="new"),
    "new: still is a link to itself": Case(instead("B.png", loop), said="holds one angle only", command="new"),
    "new: no permission: still": Case(closed("B.png"), 0, said="B.png: ", command="new"),
    "new: no permission: folder": Case(closed(".", 0o555), said="setup.toml", command="new"),
    "new: a folder linked into itself": Case(ring, 0, said="Next: ", command="new"),
    "bake: png, cut in half": Case(still("png", half), said="B.png", command="bake"),
    "bake: results without their record": Case(
        harmed("results/report.json", lambda data: None), said="results", command="bake"
    ),
    "bake: record cut in half": Case(harmed("results/report.json", half), said="is damaged", command="bake"),
    "bake: LUT cut in half": Case(harmed("results/luts/*B_match.cube", half), said="B_match.cube", command="bake"),
    "bake: no LUT": Case(harmed("results/luts/*B_match.cube", lambda data: None), said="B_match", command="bake"),
    "bake: file size limit": Case(nothing, said="B.tif", file_size=4_000, command="bake"),
}
