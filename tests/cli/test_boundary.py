"""The one error boundary: every way to end has its code and its one line, and no traceback gets out."""

from __future__ import annotations

import contextlib
import errno
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import click
import pytest

from huemend.cli import boundary
from huemend.cli.progress import progress
from huemend.errors import (
    EncodingError,
    HuemendError,
    LutError,
    MediaError,
    MissingLibraryError,
    OutputError,
    SetupFileError,
)
from huemend.model import Event


def run_raising(error: BaseException | type[BaseException], *args: str) -> int:
    """Run a group whose one command raises an error."""
    from huemend.cli import _debug_option

    @click.group(params=[_debug_option()])
    def group() -> None:
        pass

    @group.command(params=[_debug_option()])
    def fail() -> None:
        raise error

    before = signal.getsignal(signal.SIGTERM)
    try:
        return boundary.run(group, [*args, "fail"])
    finally:
        signal.signal(signal.SIGTERM, before)


@pytest.mark.parametrize(
    ("error", "code", "said"),
    [
        (HuemendError("no room"), 1, "no room"),
        (HuemendError("odd", where="a\x1b[2J\n\u202eb.png"), 1, "a\\x1b[2J \\u202eb.png: odd"),
        (
            MissingLibraryError("OpenCV cannot load", todo="install libgl1"),
            1,
            "OpenCV cannot load; install libgl1",
        ),
        (SetupFileError("is a folder", where="a.toml"), 3, "a.toml: is a folder"),
        (EncodingError("is not known"), 3, "is not known"),
        (MediaError("is\nbroken"), 3, "is broken"),
        (LutError("has a comma"), 3, "has a comma"),
        (OutputError("is full"), 3, "is full"),
        (KeyboardInterrupt(), 130, "interrupted"),
        (click.Abort(), 130, "interrupted"),
        (MemoryError(), 1, "not enough memory"),
        (OSError(errno.ENOSPC, "No space left on device", "out/a.cube"), 1, "out/a.cube: no space left on device"),
        (OSError(errno.EACCES, "Permission denied", "out"), 3, "out: permission denied"),
        (OSError(errno.EIO, "Input/output error"), 1, "input/output error"),
        (ValueError("two\nlines"), 1, "a fault in huemend, not in your footage (ValueError: two lines)"),
        (AssertionError(), 1, "a fault in huemend"),
        (RecursionError("too deep"), 1, "a fault in huemend"),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, BaseException) else None,
)
def test_code_and_line(error: BaseException, code: int, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run_raising(error) == code
    out, err = capsys.readouterr()
    assert out == ""
    err = err.removeprefix("\n")  # click ends the line that a terminal shows ^C on
    assert err.startswith(f"huemend: {said}")
    assert err.count("\n") == 1 and "Traceback" not in err


def test_a_name_that_the_locale_cannot_write(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    # As under LC_ALL=C where Python was told not to take UTF-8 for it (PEP 538, PEP 540).
    error = UnicodeEncodeError("ascii", "K\xfcche", 1, 2, "ordinal not in range(128)")
    monkeypatch.setattr(sys, "getfilesystemencoding", lambda: "ascii")
    assert run_raising(error) == 3
    said = "no file can have '\\xfc' in its name under this locale (ascii); set LC_ALL=C.UTF-8"
    assert capsys.readouterr().err == f"huemend: {said}\n"


def test_a_fault_of_ours_says_what_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    run_raising(ZeroDivisionError("division by zero"))
    assert "run again with --debug" in capsys.readouterr().err


def test_debug_shows_the_traceback_and_keeps_the_code(capsys: pytest.CaptureFixture[str]) -> None:
    assert run_raising(MediaError("is broken"), "--debug") == 3
    err = capsys.readouterr().err
    assert "Traceback" in err and err.splitlines()[-1] == "huemend: is broken"


def test_debug_is_taken_before_and_after_the_command(run: Any, tmp_path: Path) -> None:
    for args in (["--debug", "new", tmp_path], ["new", "--debug", tmp_path], ["new", tmp_path, "--debug"]):
        code, _, err = run(*args)
        assert code == 3 and "Traceback" in err
    code, _, err = run("new", tmp_path)
    assert code == 3 and "Traceback" not in err


def test_debug_by_variable(run: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HUEMEND_DEBUG", "1")
    assert "Traceback" in run("new", tmp_path)[2]


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["mtach"], "no such command 'mtach'; did you mean match?"),
        (["frobnicate"], "no such command 'frobnicate'; there are"),
        (["match"], "Missing argument"),
        (["match", "a.toml", "--fail-on", "sometimes"], "--fail-on"),
        (["new", "a", "--nonsense"], "nonsense"),
        ([], "Usage:"),
    ],
)
def test_usage_is_2(run: Any, args: list[str], said: str) -> None:
    code, out, err = run(*args)
    assert code == 2 and said in err + out and "Traceback" not in err


def test_help_and_version(run: Any) -> None:
    from huemend import __version__

    assert run("--version") == (0, f"huemend {__version__}\n", "")
    code, out, err = run("--help")
    assert code == 0 and err == ""
    assert run("-h")[1] == out


def test_the_list_of_commands_says_what_they_say_themselves(run: Any) -> None:
    """The lazy list carries its own short lines; they must not drift away from the commands' first lines."""
    from huemend.cli import _COMMANDS
    from huemend.cli import huemend as group

    for name, line in _COMMANDS.items():
        command = group.get_command(click.Context(group), name)
        assert command is not None and command.name == name and command.help
        assert run(name, "--help")[0] == 0
        assert line.endswith(".") and len(line) <= 60


def spawn(*args: object, **options: Any) -> subprocess.Popen[str]:
    script = Path(sys.executable).parent / "huemend"
    return subprocess.Popen(
        [str(script), *map(str, args)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **options
    )


@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
@pytest.mark.slow
def test_interrupted_for_real(setup_file: Path, number: signal.Signals, code: int) -> None:
    """A signal in mid-run ends it at once, with its code, and leaves no half file."""
    out = setup_file.parent / "out"
    process = spawn("match", setup_file, "--out", out)
    assert process.stderr is not None
    process.stderr.readline()  # the first line of progress: it is at work
    process.send_signal(number)
    started = time.monotonic()
    _, err = process.communicate(timeout=60)
    assert process.returncode == code, err
    assert time.monotonic() - started < 30
    assert "Traceback" not in err
    assert err.splitlines()[-1].startswith("huemend: ")
    left = [path.name for path in out.rglob("*") if path.is_file()] if out.exists() else []
    assert [name for name in left if "part" in name or "tmp" in name or "lock" in name] == []


@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_a_signal_that_a_library_swallows_ends_the_next_step(number: signal.Signals, code: int) -> None:
    """What is raised while a library loads or calls back may be caught there, and nobody would know."""
    steps = []

    @click.group()
    def group() -> None:
        pass

    @group.command()
    def work() -> None:
        with progress(quiet=True) as on_event:
            for step in range(3):
                on_event(Event(stage="match", text=str(step)))
                steps.append(step)
                with contextlib.suppress(BaseException):
                    os.kill(os.getpid(), number)
                    time.sleep(5)

    before = signal.getsignal(signal.SIGTERM)
    assert (boundary.run(group, ["work"]), steps) == (code, [0])
    signal.signal(signal.SIGTERM, before)


def test_a_signal_that_a_library_turns_into_its_own_error_is_still_one() -> None:
    @click.command()
    def work() -> None:
        try:
            os.kill(os.getpid(), signal.SIGINT)
            time.sleep(5)
        except KeyboardInterrupt:
            raise ImportError("could not load") from None

    before = signal.getsignal(signal.SIGTERM)
    assert boundary.run(click.Group("group", [work]), ["work"]) == 130
    signal.signal(signal.SIGTERM, before)


def test_a_closed_pipe_is_quiet() -> None:
    process = spawn("encodings")
    assert process.stdout is not None and process.stderr is not None
    process.stdout.close()
    err = process.stderr.read()
    process.stderr.close()
    assert process.wait(timeout=60) == 141
    assert err == ""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full (Linux)")
def test_a_full_disk_behind_stdout_is_told() -> None:
    with open("/dev/full", "w") as full:
        script = Path(sys.executable).parent / "huemend"
        done = subprocess.run([str(script), "encodings"], stdout=full, stderr=subprocess.PIPE, text=True)
    assert done.returncode == 1
    assert done.stderr.splitlines()[0].startswith("huemend: stdout: no space left on device")
    assert "Traceback" not in done.stderr


@pytest.mark.slow
def test_a_quiet_run_in_a_process_of_its_own_leaves_stderr_empty(setup_file: Path, tmp_path: Path) -> None:
    """To its end: libraries with a word to say about an odd way out say it last."""
    done = subprocess.run(
        [sys.executable, "-m", "huemend", "match", str(setup_file), "--out", str(tmp_path / "out"), "--quiet"],
        capture_output=True,
        text=True,
    )
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_as_the_manual_has_it(shell: str) -> None:
    script = Path(sys.executable).parent / "huemend"
    env = {**os.environ, "_HUEMEND_COMPLETE": f"{shell}_source"}
    done = subprocess.run([str(script)], env=env, capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "") and f"_HUEMEND_COMPLETE={shell}_complete" in done.stdout
    words = {"COMP_WORDS": "huemend encod", "COMP_CWORD": "encod" if shell == "fish" else "1"}
    env |= {"_HUEMEND_COMPLETE": f"{shell}_complete", **words}
    done = subprocess.run([str(script)], env=env, capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "") and "encodings" in done.stdout


def test_module_and_script_are_one() -> None:
    done = subprocess.run([sys.executable, "-m", "huemend", "--version"], capture_output=True, text=True)
    assert done.returncode == 0 and done.stdout.startswith("huemend ")


def test_opencv_that_cannot_load(setup_file: Path, tmp_path: Path) -> None:
    """A Linux without libGL: the loader's ImportError becomes what to install."""
    fake = tmp_path / "fake" / "cv2"
    fake.mkdir(parents=True)
    (fake / "__init__.py").write_text(
        "raise ImportError('libGL.so.1: cannot open shared object file: No such file or directory')\n"
    )
    done = subprocess.run(
        [sys.executable, "-m", "huemend", "match", str(setup_file), "--out", str(tmp_path / "out"), "--quiet"],
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(fake.parent)},
    )
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert "libGL.so.1" in done.stderr and "apt install libgl1" in done.stderr
    assert "opencv-python-headless" in done.stderr
