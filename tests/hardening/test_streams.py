"""The two streams: closed, full, unread; libraries that talk; Ctrl-C at any moment; terminals that obey."""

from __future__ import annotations

import errno
import io
import json
import os
import signal
import struct
import subprocess
import sys
import time
import zlib
from pathlib import Path
from typing import Any

import pytest

from huemend.cli.streams import Fence
from huemend.write.record_reading import is_whole
from tests.hardening.conftest import Trial
from tests.hardening.run import run_limited
from tests.hardening.test_readers import END, SIGNATURE, chunk, header

pytestmark = pytest.mark.slow

HUEMEND = str(Path(sys.executable).with_name("huemend"))


def shell(line: str, *, code: int, **options: Any) -> subprocess.CompletedProcess[str]:
    """Run a line of shell in which ``$H`` is the command; hold it to its exit code."""
    script = f'H="{HUEMEND}"; {line}'
    done = subprocess.run(["bash", "-c", script], capture_output=True, text=True, timeout=120, **options)
    assert done.returncode == code, (done.returncode, done.stderr)
    assert "Traceback" not in done.stderr and "fault in huemend" not in done.stderr, done.stderr
    return done


# ------------------------------------------------------------------------------------- closed, full, unread


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("$H encodings >&-", 0),
        ("$H encodings >/dev/full", 1),
        ("$H encodings 2>&- >/dev/full", 1),
        ("$H encodings <&- >&- 2>&-", 0),
        ("$H match nowhere.toml >&-", 3),
        ("$H match nowhere.toml 2>&-", 3),
        ("$H match nowhere.toml 2>/dev/full", 3),
        ("$H match nowhere.toml <&- >&- 2>&-", 3),
        ("$H match 2>/dev/full", 2),
        ("set -o pipefail; $H encodings | true", 141),
    ],
)
def test_streams_that_are_closed_or_full(line: str, code: int, tmp_path: Path) -> None:
    """What stdout was asked for is lost: 1, or 141 where its reader left. A word on stderr may always be lost."""
    if code == 141:
        # The reader must be gone before the first word: `true` may take its time.
        line = line.replace("| true", "| (exec <&-; sleep 0)").replace("$H", "sleep 0.3; $H")
        line = line.replace("sleep 0.3; $H", "(sleep 0.3; $H", 1).replace(" | (exec", ") | (exec", 1)
    done = shell(line, code=code, cwd=tmp_path)
    assert len(done.stderr.splitlines()) <= 1 or code == 2
    if "/dev/full" in line and code == 1 and "2>" not in line:
        assert done.stderr == "huemend: stdout: no space left on device; what was to be shown is lost\n"


class Broken(io.TextIOWrapper):
    """A stream that refuses every word."""

    def __init__(self, number: int) -> None:
        super().__init__(io.BytesIO(), encoding="utf-8")
        self.number = number

    def write(self, text: str) -> int:
        raise OSError(self.number, os.strerror(self.number))


@pytest.mark.parametrize(
    ("which", "number"), [("stdout", errno.ENOSPC), ("stderr", errno.ENOSPC), ("both", errno.EPIPE)]
)
def test_a_match_goes_on_to_its_end(
    which: str, number: int, setup: Path, trial: Trial, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it hands over is a folder; its exit code is that of the verdicts."""
    for name in ("stdout", "stderr"):
        if which in (name, "both"):
            monkeypatch.setattr(sys, name, Broken(number))
    code, _, err = trial.run("match", setup / "setup.toml", "--out", setup / "new", "--no-pictures")
    assert (code, err if which == "stderr" else "") == (0, "")
    assert is_whole(setup / "new")


@pytest.mark.parametrize(("number", "code"), [(errno.ENOSPC, 1), (errno.EPIPE, 141)])
def test_a_record_that_was_asked_for_and_lost_is_told(
    number: int, code: int, setup: Path, trial: Trial, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdout", Broken(number))
    ended, _, err = trial.run("match", setup / "setup.toml", "--out", setup / "new", "--json", "--no-pictures")
    assert ended == code
    assert err == ("huemend: stdout: no space left on device; what was to be shown is lost\n" if code == 1 else "")
    assert is_whole(setup / "new")


def test_a_closed_stream_is_not_taken_over_by_a_file(setup: Path) -> None:
    """With 1 and 2 free, the next files to be opened are stdout and stderr, and get what libraries write there."""
    before = (setup / "A.png").read_bytes()
    line = f'$H match "{setup}/setup.toml" --out "{setup}/new" --no-pictures <&- >&- 2>&-'
    shell(line, code=0)
    assert is_whole(setup / "new") and (setup / "A.png").read_bytes() == before


# ---------------------------------------------------------------------------------------- libraries that talk


@pytest.mark.parametrize(
    "data",
    [
        SIGNATURE + header() + chunk(b"IDAT", b"no stream of zlib") + END,
        SIGNATURE + chunk(b"IHDR", struct.pack(">IIBBBBB", 64, 64, 3, 2, 0, 0, 0)) + chunk(b"IDAT", b"") + END,
        SIGNATURE + header() + chunk(b"IDAT", zlib.compress(b"\x09" * 193 * 64)) + END,
        SIGNATURE + header() + chunk(b"ABCD", b"") + END,
        SIGNATURE + header() + END,
    ],
    ids=["no zlib", "3 bits", "no such filter", "unknown and critical", "no pixels"],
)
@pytest.mark.parametrize("command", ["match", "new"])
def test_libpng_says_nothing(command: str, data: bytes, setup: Path) -> None:
    """It writes "libpng error" to stderr by itself, beside what it returns (libpng 1.6 manual, section III)."""
    (setup / "B.png").write_bytes(data)
    if command == "new":
        (setup / "setup.toml").unlink()
        done = run_limited("new", setup, "--encoding", "ACEScct")
        assert (
            done.code == 0
            and done.stderr.count("\n") == 3
            and "B.png" in done.stderr
            and "libpng error" not in done.stderr
        )
        return
    done = run_limited("match", setup / "setup.toml", "--out", setup / "new", "--quiet")
    assert done.code == 3 and done.stderr.count("\n") == 1 and done.stderr.startswith(f"huemend: {setup}/B.png: ")


SITE = """
import logging, os, sys, threading, warnings
import click
def talk(*args, **kwargs):
    warnings.warn("a library is worried", RuntimeWarning)
    logging.getLogger("distributed.core").error("a library is lost")
    logging.getLogger("asyncio").error("Task exception was never retrieved")
    os.write(2, b"[ WARN:0@0.1] global loadsave.cpp\\n")
    thread = threading.Thread(target=lambda: 1 / 0)
    thread.start(); thread.join()
from huemend.sample import setupfile
true = setupfile.load_setup
setupfile.load_setup = lambda *args, **kwargs: (talk(), true(*args, **kwargs))[1]
from huemend.cli import main
main()
"""


@pytest.mark.parametrize("debug", [False, True], ids=["", "--debug"])
def test_libraries_say_nothing_unless_asked(debug: bool, setup: Path) -> None:
    """Warnings of numpy, logs of a cluster, lines from C, a thread that dies: none of it is ours to show."""
    told = ["match", str(setup / "setup.toml"), "--dry-run", *(["--debug"] if debug else [])]
    done = subprocess.run([sys.executable, "-c", SITE, *told], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0 and "Would write to" in done.stdout
    said = ["a library is worried", "a library is lost", "never retrieved", "loadsave", "ZeroDivisionError"]
    assert [word in done.stderr for word in said] == [debug] * 5, done.stderr


# ------------------------------------------------------------------------------------------------- Ctrl-C


@pytest.mark.parametrize("seconds", [0.15, 0.3, 0.6, 1.0, 2.0])
def test_ctrl_c_at_any_moment_is_one_line(seconds: float, setup: Path) -> None:
    """From the moment that our own code runs; before, it is Python that answers (about 0.04 s here)."""
    out = setup / "new"
    process = subprocess.Popen(
        [HUEMEND, "match", str(setup / "setup.toml"), "--out", str(out), "--quiet"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    time.sleep(seconds)
    process.send_signal(signal.SIGINT)
    said = process.communicate(timeout=60)
    if process.returncode == 0:
        assert said[1] == ""  # it was quicker
        return
    assert (process.returncode, *said) == (130, "", "huemend: interrupted\n")
    left = [path.name for path in out.rglob("*")] if out.exists() else []
    assert [name for name in left if "part" in name or "lock" in name] == []


_KILLS = "import os, signal, time\nos.kill(os.getpid(), signal.SIGINT)\ntime.sleep(9)\n"


def test_ctrl_c_in_the_loading_of_the_command_line(tmp_path: Path) -> None:
    """Sent by the first module that is loaded after the entry point took over."""
    fake = tmp_path / "click"
    fake.mkdir()
    (fake / "__init__.py").write_text(
        "import os, signal, time\nos.kill(os.getpid(), signal.SIGINT)\ntime.sleep(9)\n"
    )
    env = {**os.environ, "PYTHONPATH": str(tmp_path)}
    done = subprocess.run([HUEMEND, "encodings"], capture_output=True, text=True, env=env, timeout=60)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "huemend: interrupted\n")


def test_ctrl_c_that_a_destructor_swallows_comes_again(tmp_path: Path) -> None:
    script = """
import os, signal, time
from huemend.sample import setupfile
class Swallows:
    def __del__(self):
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(0.01)
def load(*args, **kwargs):
    Swallows()
    time.sleep(30)
setupfile.load_setup = load
from huemend.cli import main
main()
"""
    began = time.monotonic()
    done = subprocess.run(
        [sys.executable, "-c", script, "match", "a.toml"], capture_output=True, text=True, timeout=60
    )
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "huemend: interrupted\n")
    assert time.monotonic() - began < 25


# ---------------------------------------------------------------------------------------------- optimised


@pytest.mark.parametrize(
    "command", ["", "match", "day", "new", "bake", "verify", "demo", "encodings", "farm-template"]
)
def test_help_is_there_without_docstrings(command: str) -> None:
    """PYTHONOPTIMIZE=2 takes every docstring away."""
    texts = []
    for level in ("0", "2"):
        env = {**os.environ, "PYTHONOPTIMIZE": level}
        told = [sys.executable, "-m", "huemend", *command.split(), "--help"]
        done = subprocess.run(told, capture_output=True, text=True, env=env, timeout=60)
        assert (done.returncode, done.stderr) == (0, "")
        texts.append(done.stdout)
    assert texts[0] == texts[1] and len(texts[0].splitlines()) > 4


# ------------------------------------------------------------------------------------------------ the fence


@pytest.mark.parametrize(
    "text",
    ["\x1b[2J", "\u202eabc", "\u2066x", "\x07", "\x9b31m", "a\rb", "\udcff", "\U000e0041", "\x00", "\u200b"],
)
@pytest.mark.parametrize("encoding", ["utf-8", "ascii", "latin-1"])
def test_what_moves_a_cursor_is_shown_and_not_done(text: str, encoding: str) -> None:
    """And inside JSON it stays the same JSON (RFC 8259, section 7)."""
    inner = io.TextIOWrapper(io.BytesIO(), encoding=encoding, errors="strict", newline="")
    fence = Fence(inner)
    fence.write(json.dumps(["é", text], ensure_ascii=False) + "\n")
    fence.flush()
    shown = inner.buffer.getvalue().decode(encoding)  # type: ignore[attr-defined]
    assert shown.rstrip("\n").isprintable() and json.loads(shown) == ["é", text]


def test_progress_may_go_back_to_the_line_s_beginning() -> None:
    inner = io.StringIO()
    fence = Fence(inner)
    for text in ("\rreading A", "\r   \r", "one\n", "\r"):
        fence.write(text)
    assert inner.getvalue() == "\rreading A\r   \rone\n\r"
