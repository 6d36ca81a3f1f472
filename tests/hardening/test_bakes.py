"""Bakes of pictures that hold no numbers, and bakes that go on where another was killed."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import av
import numpy as np
import pytest

from huemend.base.files import new_part
from huemend.base.kept import LEDGER
from huemend.base.lock import LOCK
from huemend.media.pictures import read_picture, write_picture
from tests.hardening.places import Said, command, fresh, made, match, snapshot

pytestmark = pytest.mark.slow

#: The largest half float (IEEE 754-2019, binary16).
LARGEST = 65504.0


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory.mktemp("made"))


def with_media(folder: Path, name: str) -> None:
    """Let the setup file name another medium for B."""
    said = (folder / "setup.toml").read_text()
    (folder / "setup.toml").write_text(said.replace('"B.png"', f'"{name}"'))
    shutil.rmtree(folder / "baked", ignore_errors=True)


def bake(folder: Path, *more: object) -> Said:
    return command("bake", folder / "setup.toml", "B", "--quiet", *more)


# ------------------------------------------------------------------------------------------- what is no number


ODD = {"nan": np.nan, "inf": np.inf, "minus inf": -np.inf, "3e38": 3e38, "minus 3e38": -3e38}


def odd_picture(folder: Path, bad: dict[tuple[int, int], float]) -> np.ndarray:
    """Write B as an OpenEXR of 32-bit floats with some samples that are no numbers; return the sound picture."""
    import OpenImageIO as oiio

    codes = read_picture(folder / "B.png").codes.copy()
    sound = codes.copy()
    for (y, x), value in bad.items():
        codes[y, x] = value
    output = oiio.ImageOutput.create(str(folder / "B.exr"))
    spec = oiio.ImageSpec(codes.shape[1], codes.shape[0], 3, oiio.FLOAT)
    assert output.open(str(folder / "B.exr"), spec) and output.write_image(codes)
    output.close()
    with_media(folder, "B.exr")
    return sound


@pytest.mark.parametrize("format_", ["exr", "tiff"])
@pytest.mark.parametrize("what", ODD)
def test_a_still_with_samples_that_are_no_numbers(template: Path, tmp_path: Path, what: str, format_: str) -> None:
    folder = fresh(tmp_path, template)
    odd_picture(folder, {})
    assert bake(folder, "--format", format_, "--out", folder / "sound").code == 0
    odd_picture(folder, {(5, 7): ODD[what], (6, 8): ODD[what]})
    said = bake(folder, "--format", format_, "--out", folder / "odd")
    assert said.code == 0, said
    (note,) = said.stderr.splitlines()
    assert note.startswith("huemend: 6 samples were NaN, infinite or beyond 65504"), note
    (one,), (other,) = (list((folder / name).glob("B.*")) for name in ("sound", "odd"))
    sound, odd = read_picture(one).codes, read_picture(other).codes
    touched = np.zeros(sound.shape[:2], bool)
    touched[[5, 6], [7, 8]] = True
    # Neighbours are as they would have been, to the last bit.
    assert np.array_equal(sound[~touched], odd[~touched])
    values = odd[touched]
    if "minus" in what:
        assert (values == (-LARGEST if format_ == "exr" else 0.0)).all()
    elif what == "nan":
        black = read_picture(other).codes[touched]
        assert np.isfinite(black).all() and (black < 0.2).all()
    else:
        assert (values >= 0.9 * (LARGEST if format_ == "exr" else 1.0)).all()


def float_clip(path: Path, frames: int = 3, bad: float | None = None) -> None:
    """Write a QuickTime clip of 32-bit float pictures (OpenEXR inside)."""
    with av.open(str(path), "w") as file:
        stream = file.add_stream("exr", rate=24)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "gbrpf32le"
        for number in range(frames):
            frame = av.VideoFrame(64, 48, "gbrpf32le")
            for index, plane in enumerate(frame.planes):
                rows = np.frombuffer(plane, np.float32).reshape(48, -1)
                rows[:] = np.linspace(0.1 + 0.01 * number, 0.6, rows.shape[1]) + 0.02 * index
                if bad is not None and number == 1:
                    rows[9, 9] = bad
            frame.pts = number
            for packet in stream.encode(frame):
                file.mux(packet)
        for packet in stream.encode(None):
            file.mux(packet)


@pytest.mark.parametrize("format_", ["tiff", "exr", "ffv1", "prores-4444"])
@pytest.mark.parametrize("what", ODD)
def test_a_clip_with_samples_that_are_no_numbers(template: Path, tmp_path: Path, what: str, format_: str) -> None:
    """A NaN that reaches the look-up table's filter ends the whole process with a memory fault."""
    folder = fresh(tmp_path, template)
    with_media(folder, "B.mov")
    float_clip(folder / "B.mov", bad=ODD[what])
    said = bake(folder, "--format", format_)
    assert said.code == 0, said
    notes = [line for line in said.stderr.splitlines() if "NaN" in line]
    assert len(notes) == 1 and notes[0].startswith("huemend: 3 samples were NaN"), said.stderr
    assert all(line.startswith("huemend: ") for line in said.stderr.splitlines()), said.stderr


# --------------------------------------------------------------------------------------- what a killed run left


def sequence(folder: Path, count: int = 5) -> None:
    """Let both angles be so many pictures."""
    said = (folder / "setup.toml").read_text()
    for name in ("A", "B"):
        codes = read_picture(folder / f"{name}.png").codes
        for number in range(count):
            write_picture(folder / f"{name}.{number:04}.png", codes * (1 - 0.02 * number), 16)
        said = said.replace(f'"{name}.png"', f'"{name}.*.png"')
        (folder / f"{name}.png").unlink()
    (folder / "setup.toml").write_text(said)
    shutil.rmtree(folder / "baked")


def leave(out: Path, name: str) -> Path:
    """Leave what runs that were killed while they wrote a picture, or the ledger, leave."""
    new_part(out / LEDGER).write_bytes(b"half a ledger")
    part = new_part(out / name)
    part.write_bytes(b"half a picture")
    (out / LOCK).write_text("somewhere 123\n")
    return part


def bake_some(folder: Path, keep: int) -> dict[str, bytes]:
    """Bake the sequence, and then take away what a run that was killed after some pictures would not have made."""
    assert bake(folder).code == 0
    (out,) = (folder / "baked").iterdir()
    pictures = sorted(out.glob("B.*.tif"))
    whole = {path.name: path.read_bytes() for path in pictures}
    for path in pictures[keep:]:
        path.unlink()
    lines = (out / LEDGER).read_text().splitlines(keepends=True)
    (out / LEDGER).write_text("".join(lines[: keep + 2])[:-9])  # a note, and a note that was cut short
    leave(out, pictures[keep].name)
    return whole


def tree(out: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in out.iterdir() if path.name != LEDGER}


@pytest.mark.parametrize("keep", [0, 1, 3, 4])
def test_a_killed_sequence_goes_on_and_leaves_nothing_behind(template: Path, tmp_path: Path, keep: int) -> None:
    folder = fresh(tmp_path, template, sequence)
    whole = bake_some(folder, keep)
    (out,) = (folder / "baked").iterdir()
    said = bake(folder)
    assert said.code == 0 and f"{5 - keep} frame" in said.stdout, said
    assert tree(out) == whole


@pytest.mark.parametrize("keep", [0, 1, 3, 4])
def test_a_killed_overwrite_passes_nothing_old_off_as_new(template: Path, tmp_path: Path, keep: int) -> None:
    """The first pictures are the second match's, the rest the first's: what the run that was killed left."""
    folder = fresh(tmp_path, template, sequence)
    assert bake(folder).code == 0
    (out,) = (folder / "baked").iterdir()
    old = tree(out)
    notes = (out / LEDGER).read_text()
    assert match(folder / "setup.toml", folder / "match", "--lut-size", 9).code == 0
    assert bake(folder, "--overwrite").code == 0
    new = tree(out)
    assert not set(new.values()) & set(old.values())
    names = sorted(old)
    for name in names[keep:]:
        (out / name).write_bytes(old[name])
    (out / LEDGER).write_text(notes + "".join((out / LEDGER).read_text().splitlines(keepends=True)[1 : keep + 2]))
    leave(out, names[keep])
    said = bake(folder, "--overwrite")
    assert said.code == 0 and f"{5 - keep} frame" in said.stdout, said
    assert tree(out) == new
    refused = match(folder / "setup.toml", folder / "match", "--lut-size", 5)
    assert refused.code == 0
    assert bake(folder).code == 3, "the first match again is another job"


def test_what_another_run_is_writing_stays(template: Path, tmp_path: Path) -> None:
    """Leftovers are those of the files that this run writes; another's parts may be alive."""
    folder = fresh(tmp_path, template)
    out = folder / "out"
    out.mkdir()
    part = new_part(out / "other.mov")
    assert bake(folder, "--out", out).code == 0
    assert part.exists()


@pytest.mark.parametrize("kind", ["a hard link", "a link", "a folder", "another name"])
def test_what_only_looks_like_a_leftover_stays(template: Path, tmp_path: Path, kind: str) -> None:
    folder = fresh(tmp_path, template)
    out = folder / "out"
    out.mkdir()
    part = new_part(out / "B.tif")
    part.unlink()
    if kind == "a hard link":
        os.link(folder / "A.png", part)
    elif kind == "a link":
        part.symlink_to(folder / "A.png")
    elif kind == "a folder":
        part.mkdir()
    else:
        part = part.with_name(f"{part.name}.mine")
        part.write_bytes(b"mine")
    before = snapshot(tmp_path)
    assert bake(folder, "--out", out).code == 0
    after = snapshot(tmp_path)
    assert {name: after.get(name) for name in before} == before


def test_two_bakes_into_one_folder(template: Path, tmp_path: Path) -> None:
    """Each keeps its own: the second neither takes the first's pictures for its own nor forgets them."""
    folder = fresh(tmp_path, template, sequence)
    out = folder / "out"
    assert bake(folder, "--out", out).code == 0
    first = tree(out)
    said = (folder / "setup.toml").read_text()
    for number in range(5):
        shutil.copy(folder / f"A.{number:04}.png", folder / f"C{number}.png")
    (folder / "setup.toml").write_text(said.replace("B.*.png", "C*.png"))
    assert bake(folder, "--out", out).code == 0
    assert {name: data for name, data in tree(out).items() if name[0] != "C"} == first
    (folder / "setup.toml").write_text(said)
    assert "5 were there" in bake(folder, "--out", out).stdout
    notes = (out / LEDGER).read_text().splitlines()[1:]
    assert sorted(json.loads(line)[2] for line in notes) == sorted([*first, *(f"C{n}.tif" for n in range(5))])


# ---------------------------------------------------------------------------------- what changes while it is read


@pytest.mark.parametrize("how", ["another file in its place", "other bytes in it", "a link in its place"])
def test_a_still_that_changes_while_it_is_read(
    template: Path, tmp_path: Path, how: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is hashed must be what was decoded: the record says on which bytes a match rests."""
    from huemend.media import pictures

    folder = fresh(tmp_path, template)
    real = pictures._read_codes

    def swap(path: Path) -> None:
        if how == "other bytes in it":
            data = path.read_bytes()
            path.write_bytes(data[:-1] + bytes([data[-1] ^ 1]))
            return
        path.rename(path.with_name("was.png"))
        if how == "a link in its place":
            path.symlink_to(folder / "A.png")
        else:
            shutil.copy(folder / "A.png", path)

    def read_then_swap(path: Path, *more: object) -> object:
        found = real(path, *more)  # type: ignore[arg-type]
        if path.name == "B.png":
            swap(path)
        return found

    monkeypatch.setattr(pictures, "_read_codes", read_then_swap)
    before = {name: seen for name, seen in snapshot(folder).items() if name.startswith("match")}
    said = match(folder / "setup.toml", folder / "match")
    assert said.code == 3 and "B.png: changed while it was read" in said.stderr, said
    assert {name: seen for name, seen in snapshot(folder).items() if name.startswith("match")} == before


def test_a_lut_that_changes_while_it_is_read(
    template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The filter reads the file by its name, after it was looked at."""
    from huemend.apply import lut as lut_module

    folder = fresh(tmp_path, template)
    real = lut_module.hash_regular
    lut = folder / "match" / "luts" / "wall_B_match.cube"

    def change_then_hash(path: Path) -> str | None:
        if path == lut:
            lut.write_text(lut.read_text() + "\n")
        return real(path)

    monkeypatch.setattr(lut_module, "hash_regular", change_then_hash)
    said = bake(folder, "--out", folder / "out")
    assert said.code == 3 and "wall_B_match.cube: changed while it was read" in said.stderr, said
    assert not (folder / "out").exists()
