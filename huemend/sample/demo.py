"""The demo setup that travels with the package."""

from __future__ import annotations

from pathlib import Path

import huemend
from huemend.base.folders import place_folder
from huemend.errors import HuemendError


def find_demo() -> Path:
    """Return the folder of the demo setup, installed or in the repository; raises HuemendError without."""
    package = Path(huemend.__file__).parent
    for parent in (package / "_demo", package.parent / "demo"):
        found = sorted(parent.glob("*/setup.toml"))
        if found:
            return found[0].parent
    raise HuemendError("the demo setup is missing from this installation", todo="install huemend again")


def copy_demo(folder: Path) -> Path:
    """Copy the demo setup into a new or empty folder, whole or not at all; return its setup file.

    Raises OutputError if the folder holds something already, or cannot be written.
    """
    source = find_demo()
    place_folder(source, folder)
    return folder / "setup.toml"
