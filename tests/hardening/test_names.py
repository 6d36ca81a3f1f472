"""Names and texts from outside on their way out: to a terminal, a shell, a table, XML, a setup file."""

from __future__ import annotations

import csv
import io
import json
import os
import shlex
import shutil
import subprocess
import sys
import tomllib
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from xml.dom.minidom import parseString

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from huemend.base.text import csv_cell, json_text, printable, shell_word, toml_comment, toml_string, xml_text
from huemend.sample import draft
from huemend.sample.setupfile import load_setup
from tests.conftest import Run
from tests.day.days import make_setup
from tests.hardening.conftest import Trial

pytestmark = [pytest.mark.slow, pytest.mark.corpus]

#: Escape sequences, a line break, marks of reading direction, bytes that are no text: all may stand in a name.
ODD = ["\x1b[2J\x1b[31m", "a\nhuemend: all is well", "\u202egnp.", "\u2066x", "\x07", "\x9b31m", "a\rb", "b\udcff"]
EXAMPLES = settings(max_examples=150, deadline=None, derandomize=True)


@pytest.mark.parametrize("name", ODD, ids=ascii)
def test_a_folder_s_name_reaches_no_terminal_as_it_is(name: str, tmp_path: Path, run: Run) -> None:
    """Named by hand, written into, and not there: every line that tells of it shows it."""
    # Made under a plain name: the library that writes pictures takes none that is no text.
    folder = make_setup(tmp_path / "plain").parent.rename(tmp_path / name)
    file = folder / "setup.toml"
    told: list[tuple[object, ...]] = [
        ("match", file, "--dry-run"),
        ("match", file, "--dry-run", "--json"),
        ("match", folder / "none.toml"),
        ("match", file, "--edl", folder / "cut.edl"),
        ("bake", file, "B", "--match", folder / "none"),
        ("bake", file, name),
        ("day", folder, "--dry-run"),
        ("day", folder / "none"),
        ("new", folder),
        ("farm-template", folder, "--out", folder / "job.json"),
        ("match", file, "--fail-on", name),
        (name,),
    ]
    for args in told:
        code, out, err = run(*args)
        assert code in (0, 2, 3), err
        assert (out + err).replace("\n", "").isprintable(), ascii(out + err)
        assert "Traceback" not in err and "fault in huemend" not in err, err
        assert "\nhuemend: all is well" not in err + out
        if "--json" in args:
            said = json.loads(out)
            assert os.fsencode(said["out"]) == os.fsencode(folder / "match")


@pytest.mark.parametrize("name", [*ODD[:6], "it's", "a b;c", "-x", "$(touch x)", "*"], ids=ascii)
def test_what_to_run_next_can_be_pasted_into_a_shell(name: str, tmp_path: Path, run: Run) -> None:
    folder = tmp_path / name
    make_setup(folder)
    (folder / "setup.toml").unlink()
    code, _, err = run("new", folder, "--encoding", "ACEScct")
    assert code == 0
    line = err.rstrip("\n").splitlines()[-1].strip()
    assert line.startswith("huemend match ")
    # A shell splits it into the words that it came from (bash has $'...', as POSIX.1-2024 has it).
    script = f"printf '%s\\0' {line.removeprefix('huemend match ')}"
    done = subprocess.run(["bash", "-c", script], capture_output=True, cwd=tmp_path, check=True)
    assert done.stdout == os.fsencode(folder / "setup.toml") + b"\0"


@EXAMPLES
@given(st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), min_size=1))
def test_any_text_is_one_word_of_a_shell(text: str) -> None:
    word = shell_word(text)
    assert word.isprintable()
    if not word.startswith("$'"):
        assert shlex.split(word) == [text if not text.startswith("-") else os.path.join(".", text)]


# --------------------------------------------------------------------------------------------------- tables


FORMULAS = ("=", "+", "-", "@", "\t", "\r", "\uff1d", " =")


def test_no_cell_of_a_clip_list_is_a_formula(setup: Path, trial: Trial) -> None:
    """Clip names come from anywhere; a spreadsheet runs what begins so (OWASP, CSV Injection)."""
    events = [
        f"00{n}  AX V C 01:00:0{n}:00 01:00:0{n + 1}:00 10:00:0{n}:00 10:00:0{n + 1}:00\n"
        f"* FROM CLIP NAME: {begin}cmd|' /C calc'!A0\n"
        for n, begin in enumerate(FORMULAS, 1)
    ]
    (setup / "cut.edl").write_text("TITLE: X\n" + "".join(events), newline="")
    out = setup / "new"
    told = ["match", setup / "setup.toml", "--edl", setup / "cut.edl", "--out", out, "--no-pictures", "--quiet"]
    trial.done(*told)
    (table,) = out.glob("*_clips.csv")
    rows = list(csv.reader(io.StringIO(table.read_text(encoding="utf-8"))))
    assert sum("cmd|' /C calc'!A0" in "".join(row) for row in rows) == len(FORMULAS)
    for row in rows:
        assert not [cell for cell in row if cell.strip(" ")[:1] in tuple("=+-@\t\r\uff1d")], row


def test_no_cell_of_a_day_is_a_formula_and_numbers_stay(day: Path, trial: Trial) -> None:
    shutil.copytree(day / "01", day / "=1+1")
    shutil.copytree(day / "01", day / "@SUM(A1)")
    shutil.copytree(day / "match/01", day / "match/@SUM(A1)")
    trial.done("day", day, "--index-only", "--quiet", code=3)
    rows = list(csv.reader(io.StringIO((day / "match/day.csv").read_text(encoding="utf-8"))))
    cells = [cell for row in rows for cell in row]
    assert "'=1+1" in cells and "'@SUM(A1)" in cells
    assert any(cell.startswith("-0.") or cell == "0.500" for cell in cells)
    assert not [cell for cell in cells if cell[:1] in "=@" and cell]


@EXAMPLES
@given(st.text(max_size=12))
def test_any_cell_is_a_number_or_a_text(text: str) -> None:
    cell = csv_cell(text)
    if cell[:1] in ("=", "@", "\t", "\r", "+", "-") and cell:
        assert float(cell) is not None
    cell.encode("utf-8")


# ------------------------------------------------------------------------------------------------------ XML


@pytest.mark.parametrize("name", ["a\x0bb", "\x1b[2J", "\ufffe", 'q"<&>', "\u202e"], ids=ascii)
def test_the_name_of_an_encoding_leaves_clf_and_cdl_valid(name: str, setup: Path, trial: Trial) -> None:
    """XML 1.0 has no place for most control characters, escaped or not (2.2, production Char)."""
    text = (setup / "setup.toml").read_text().replace('"ACEScct"', toml_string(name))
    text += f'[encoding.{toml_string(name)}]\ncurve = "S-Log3"\ngamut = "AP1"\n'
    (setup / "setup.toml").write_text(text, encoding="utf-8")
    out = setup / "new"
    trial.done("match", setup / "setup.toml", "--out", out, "--quiet", "--no-pictures", "--fail-on", "never")
    files = [*out.glob("luts/*.clf"), *out.glob("*.ccc")]
    assert len(files) >= 2
    for file in files:
        parseString(file.read_bytes())


@EXAMPLES
@given(st.text())
def test_any_text_can_stand_in_xml(text: str) -> None:
    from html import escape

    parseString(f"<a>{escape(xml_text(text))}</a>".encode())


# ----------------------------------------------------------------------------------------------- setup files


@EXAMPLES
@given(st.text())
def test_a_comment_is_a_comment(text: str) -> None:
    assert tomllib.loads(f"a = 1  {toml_comment(text)}\nb = 2") == {"a": 1, "b": 2}


def clip_info(metadata: dict[str, str], words: str) -> Any:
    """A clip that says these things of itself."""
    signal = SimpleNamespace(assumed=(f"matrix {words}",), range="full", matrix="bt709")
    return SimpleNamespace(
        **{name: words for name in ("codec", "pix_fmt", "transfer", "timecode")},
        metadata=metadata,
        signal=signal,
        fps=Fraction(24),
        frames=10,
    )


INJECTED = 'x"\nencoding = "V-Log/V-Gamut"\n[angle.evil]\nmedia = "/etc/passwd"\n#'


@EXAMPLES
@given(
    st.one_of(st.just(INJECTED), st.text()),
    st.one_of(st.just("encoding_S-Log3/S-Gamut3.Cine\nrange = 'legal'\n"), st.text()),
    st.one_of(st.just(f"S-Log3 {INJECTED}"), st.text()),
)
def test_what_a_clip_says_of_itself_is_no_line_of_the_draft(words: str, key: str, value: str) -> None:
    look: Any = SimpleNamespace(info=clip_info({key: value}, words), wrong=words)
    lines = draft._notes(look, 2, None, ["S-Log3/S-Gamut3.Cine", "V-Log/V-Gamut"])
    drafted = draft._write(
        "day", "wide", words, {"wide": ("a.mov",), "B": ("b.mov", "c.mov")}, {"wide": lines, "B": ()}
    )
    said = tomllib.loads(drafted)
    encoding = said["angle"]["wide"].pop("encoding")
    assert encoding in ("S-Log3/S-Gamut3.Cine", "V-Log/V-Gamut", draft.ENCODING_TO_FILL_IN)
    assert said == {
        "setup": {"name": "day", "hero": "wide"},
        "angle": {"wide": {"media": ["a.mov"]}, "B": {"media": ["b.mov", "c.mov"]}},
    }
    assert drafted.replace("\n", "").isprintable()


def test_a_clip_whose_tags_hold_lines_drafts_what_is_there(tmp_path: Path, trial: Trial) -> None:
    """A real clip with the lines in its title and its reel name."""
    import av
    import numpy as np

    for name in ("wide", "left"):
        with av.open(str(tmp_path / f"{name}.mkv"), "w") as file:
            file.metadata["title"] = f"S-Log3 {INJECTED}"
            file.metadata[f"comment\nencoding = 'PQ/BT.2020' {name}"] = "S-Log3"
            stream = file.add_stream("mpeg4", rate=24)
            stream.width, stream.height, stream.pix_fmt = 320, 180, "yuv420p"
            for number in range(6):
                rgb = np.random.default_rng(number).integers(0, 255, (180, 320, 3), np.uint8)
                file.mux(stream.encode(av.VideoFrame.from_ndarray(rgb, "rgb24")))
            file.mux(stream.encode(None))
    trial.done("new", tmp_path)
    said = tomllib.loads((tmp_path / "setup.toml").read_text(encoding="utf-8"))
    assert set(said) == {"setup", "angle"} and set(said["angle"]) == {"wide", "left"}
    for name, angle in said["angle"].items():
        assert set(angle) == {"media", "encoding"} and angle["media"] == [f"{name}.mkv"]
        assert angle["encoding"].startswith("S-Log3/")
    assert [angle.name for angle in load_setup(tmp_path / "setup.toml").angles] == ["wide", "left"]


# ------------------------------------------------------------------------------------------ odd and no text


def test_media_whose_names_are_no_text_are_told(tmp_path: Path, trial: Trial) -> None:
    file = make_setup(tmp_path / "setup")
    folder = tmp_path / "caf\udce9"
    shutil.copytree(file.parent, folder)
    trial.refused("match", folder / "setup.toml", "--quiet", said="caf\\xe9, or".split(",")[0])
    (folder / "B.png").rename(folder / "B\udcff.png")
    (folder / "setup.toml").unlink()
    code, _, err = trial.run("new", folder)
    assert code == 3 and "B\\xff.png: is left out: its name is not UTF-8; rename it" in err


def test_a_setup_called_like_the_index(tmp_path: Path, trial: Trial) -> None:
    for name in ("index.html", "day.csv", "INDEX.HTML"):
        make_setup(tmp_path / "day" / name)
    out, _ = trial.done("day", tmp_path / "day", "--dry-run", "--json")
    assert not {name.casefold() for name in json.loads(out)["setups"]} & {"index.html", "day.csv"}


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("match", "{setup}", "--out", ""), "--out"),
        (("match", "", "--out", "x"), "SETUP"),
        (("bake", "{setup}", "B", "--match", ""), "--match"),
        (("bake", "{setup}", "B", "--out", ""), "--out"),
        (("verify", "{setup}", "--match", ""), "--match"),
        (("day", ""), "FOLDER"),
        (("day", "x", "--out", ""), "--out"),
        (("new", ""), "FOLDER"),
        (("demo", ""), "DIR"),
        (("farm-template", "x", "--out", ""), "--out"),
        (("match", "{setup}", "--edl", ""), "--edl"),
        (("match", "{setup}", "--threads", "9" * 5000), "--threads"),
        (("match", "{setup}", "--threads", "9" * 4000), "--threads"),
        (("day", "x", "--jobs", "9" * 4000), "--jobs"),
        (("match", "{setup}", "--lut-size", "9" * 4000), "--lut-size"),
    ],
)
def test_empty_paths_and_endless_numbers_are_usage(
    args: tuple[str, ...], said: str, setup: Path, run: Run
) -> None:
    code, out, err = run(*(arg.replace("{setup}", str(setup / "setup.toml")) for arg in args))
    assert code == 2 and out == "" and said in err and "Traceback" not in err


@pytest.mark.parametrize("out", [".", "..", "results/.."])
def test_segments_of_a_folder_without_a_name(out: str, setup: Path, trial: Trial, monkeypatch: Any) -> None:
    (setup / "inner").mkdir()
    monkeypatch.chdir(setup / "inner")
    told = ["match", setup / "setup.toml", "--segments", "--dry-run", "--out", out]
    trial.done(*told)


@pytest.mark.parametrize(("width", "height"), [(20_000, 32), (4_000, 40)])
def test_a_narrow_strip_is_told(width: int, height: int, setup: Path, trial: Trial) -> None:
    import numpy as np

    from huemend.media.pictures import write_picture

    tiles = np.random.default_rng(1).random((height // 8 + 1, width // 8 + 1, 3)).repeat(8, 0).repeat(8, 1)
    for name in ("A", "B"):
        write_picture(setup / f"{name}.png", 0.2 + 0.5 * tiles[:height, :width], 16)
    trial.refused("match", setup / "setup.toml", "--out", setup / "new", "--quiet", said="too narrow")


@EXAMPLES
@given(st.text())
def test_anything_shown_is_one_printable_line_and_json_stays_json(text: str) -> None:
    assert printable(text).isprintable()
    assert json.loads(json_text({"a": text})) == {"a": text}


if sys.platform == "win32":  # names there are text
    pytest.skip("odd bytes in names need a POSIX file system", allow_module_level=True)
