"""The versions that a result rests on."""

from __future__ import annotations

import platform
from functools import cache
from importlib import metadata
from typing import Any

_LIBRARIES = ("numpy", "scipy", "scikit-image", "opencv-python-headless", "opencolorio", "openimageio", "av")
# Builds of OpenCV; which of them gave the one that is imported cannot be told, so that all are named.
_OTHER_OPENCV = ("opencv-python", "opencv-contrib-python", "opencv-contrib-python-headless")


def versions() -> dict[str, Any]:
    """Return the versions that a result rests on: huemend's own, and those of the libraries below it."""
    libraries = {name: _version(name) for name in _LIBRARIES} | {"python": platform.python_version()}
    libraries |= {name: found for name in _OTHER_OPENCV if (found := _version(name))}
    return {"huemend": _version("huemend"), "libraries": libraries}


@cache  # a day of setups asks for each many times, and looking one up reads a file
def _version(library: str) -> str | None:
    try:
        return metadata.version(library)
    except metadata.PackageNotFoundError:
        return None
