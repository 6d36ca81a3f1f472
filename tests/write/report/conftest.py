"""What the report's tests share.

The browser tests need Chromium (found on the PATH, or named by HUEMEND_CHROMIUM), node, and a folder with two
packages from npm, named by HUEMEND_NODE_MODULES::

    npm install --prefix DIR playwright-core axe-core    # then HUEMEND_NODE_MODULES=DIR/node_modules

They are skipped, with the reason, where one of these is missing. playwright-core drives the browser that is
installed; it downloads none.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from huemend.model import Match, Verdict
from huemend.options import MatchOptions
from huemend.write.record import make_record
from huemend.write.report import DayRow, render_day_index
from huemend.write.report.look import find_look

from .factory import gallery_of, make_luts, make_result, moving, render


@pytest.fixture(scope="session")
def result():
    """A hero, a matched angle and one to review."""
    return make_result(width=480, samples=150)


@pytest.fixture(scope="session")
def files(result):
    """The files of that result's report."""
    return render(result, luts=make_luts(result))


@pytest.fixture(scope="session")
def unsolved():
    """A hero, a matched angle and one that could not be solved."""
    return make_result(verdicts=(Verdict.MATCHED, Verdict.UNSOLVED), width=320, samples=60)


def record_of(result):
    """Return the record of a result."""
    return make_record(result, luts=make_luts(result), cdls={}, options=MatchOptions())


@pytest.fixture(scope="session")
def browsed(tmp_path_factory, result, files, unsolved):
    """Everything that the browser saw and did, from one run of browse.mjs."""
    node, chromium = shutil.which("node"), os.environ.get("HUEMEND_CHROMIUM") or shutil.which("chromium")
    modules = os.environ.get("HUEMEND_NODE_MODULES", "")
    if node is None:
        pytest.skip("node is not installed")
    if chromium is None:
        pytest.skip("Chromium is not installed (HUEMEND_CHROMIUM can name it)")
    for package in ("playwright-core", "axe-core"):
        if not modules or not (Path(modules) / package).is_dir():
            pytest.skip(f"HUEMEND_NODE_MODULES names no folder with {package}")
    folder = tmp_path_factory.mktemp("browser")
    awkward = make_result(
        width=320,
        samples=40,
        name='<i>kiln</i> & "wheel"',
        angle_names=('top "A"', "right"),
        crop=(0.1, 0.0, 0.1, 0.2),
        tall=True,
    )
    # A look that darkens: two nodes a side, red fastest.
    nodes = "\n".join(f"{red} {green} {blue}" for blue in (0, 0.8) for green in (0, 0.8) for red in (0, 0.9))
    (folder / "evening.cube").write_text(f"LUT_3D_SIZE 2\n{nodes}\n")
    # A match that is a quarter of a stop off, which the top of the page leads to.
    far = Match.from_matrix(2**0.25 * result["right"].match.combined)
    off = replace(result, angles=(result["left"], replace(result["right"], match=far)))
    look = find_look(folder / "evening.cube", "hero", unsolved.setup)
    under_look = gallery_of(unsolved, look=look, motion=moving(unsolved, 6))
    pages = {
        "report": files["report.html"],
        "look": render(unsolved, gallery=under_look)["report.html"],
        "off": render(off)["report.html"],
        "summary": files["summary.html"],
        "unsolved": render(unsolved, luts=make_luts(unsolved))["report.html"],
        "awkward": render(awkward)["report.html"],
        "three": render(make_result(angle_names=("left", "right", "high"), width=480))["report.html"],
        "plain": render(result, pictures=False)["report.html"],
        "day": render_day_index(
            [
                DayRow.of("a", record_of(result), report="report.html", contact=files["contact.png"]),
                DayRow.of("b", record_of(unsolved), report="unsolved.html"),
                DayRow(name="c", error="setup.toml: no such file"),
            ]
        ),
    }
    for name, data in pages.items():
        (folder / f"{name}.html").write_bytes(data)
    script = Path(__file__).with_name("browse.mjs")
    env = {**os.environ, "HUEMEND_NODE_MODULES": modules, "HUEMEND_CHROMIUM": chromium}
    done = subprocess.run(
        [node, str(script), str(folder)], capture_output=True, text=True, env=env, timeout=900, check=False
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout) | {"folder": folder}
