"""What every test shares: no test may be skipped where HUEMEND_FORBID_SKIPS is set."""

from __future__ import annotations

import compileall
import os
import signal
import threading
from collections.abc import Callable, Generator, Iterator
from pathlib import Path

import pytest

import huemend

Run = Callable[..., tuple[int, str, str]]


def pytest_configure(config: pytest.Config) -> None:
    """Give Ctrl-C its meaning back, and let the commands that tests start find the package compiled.

    A shell's background jobs, and the commands that they start, ignore Ctrl-C. Where PYTHONDONTWRITEBYTECODE is
    set, as in many container images, each of some hundred commands would compile the package anew: 0.3 s each.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    if not hasattr(config, "workerinput"):
        compileall.compile_dir(Path(huemend.__file__).parent, quiet=2)


@pytest.fixture
def run(capfd: pytest.CaptureFixture[str]) -> Iterator[Run]:
    """Run a command line in this process: (exit code, stdout, stderr), as a terminal would see them."""
    from huemend.cli import huemend
    from huemend.cli.boundary import run as run_group

    before = signal.getsignal(signal.SIGTERM)

    def call(*args: object) -> tuple[int, str, str]:
        capfd.readouterr()
        code = run_group(huemend, [str(arg) for arg in args])
        out, err = capfd.readouterr()
        return code, out, err

    yield call
    signal.signal(signal.SIGTERM, before)


#: No test may take longer than that many seconds: what waits for other processes may wait for ever.
LONGEST = float(os.environ.get("HUEMEND_TEST_SECONDS", "600"))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    """Let a test that hangs fail, with what it waited for, instead of the whole run."""
    if not hasattr(signal, "setitimer") or threading.current_thread() is not threading.main_thread():
        return (yield)

    def late(*_: object) -> None:
        raise TimeoutError(f"{item.nodeid} took more than {LONGEST:g} s (HUEMEND_TEST_SECONDS)")

    before = signal.signal(signal.SIGALRM, late)
    signal.setitimer(signal.ITIMER_REAL, LONGEST)
    try:
        return (yield)
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def _forbid(report: pytest.TestReport | pytest.CollectReport) -> None:
    if report.skipped and not hasattr(report, "wasxfail") and os.environ.get("HUEMEND_FORBID_SKIPS") == "1":
        report.outcome = "failed"
        report.longrepr = f"skipped where HUEMEND_FORBID_SKIPS=1 forbids it: {report.longrepr}"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Turn a skip into a failure where the machine is meant to have everything."""
    report = yield
    _forbid(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """A whole module can be skipped, too (``pytest.importorskip`` at its top)."""
    report = yield
    _forbid(report)
    return report


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """List modules past 400 lines: each deserves a hard look."""
    package = Path(huemend.__file__).parent
    for path in sorted(package.rglob("*.py")):
        lines = len(path.read_text(encoding="utf-8").splitlines())
        if lines > 400:
            terminalreporter.write_line(f"look hard: {path.relative_to(package)} has {lines} lines")
