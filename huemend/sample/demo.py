"""The demo setup that travels with the package."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

import huemend
from huemend.base.files import writing_problem
from huemend.errors import HuemendError, OutputError

__all__ = ["copy_demo", "find_demo"]


def find_demo() -> Path:
    """Return the folder of the demo setup: inside an installed package, or beside it in the repository.

    Raises
    ------
    HuemendError
        It is in neither place.
    """
    package = Path(huemend.__file__).parent
    for parent in (package / "_demo", package.parent / "demo"):
        found = sorted(parent.glob("*/setup.toml"))
        if found:
            return found[0].parent
    raise HuemendError("the demo setup is missing from this installation", todo="install huemend again")


def copy_demo(folder: Path) -> Path:
    """Copy the demo setup into a new or empty folder, whole or not at all; return its setup file.

    Raises
    ------
    OutputError
        The folder holds something already, or cannot be written.
    """
    source = find_demo()
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise OutputError("is there already", where=folder, todo="name a folder that is new or empty")
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".huemend-demo.tmp-", dir=folder.parent) as staging:
            copied = Path(staging) / source.name
            shutil.copytree(
                source, copied, copy_function=shutil.copyfile, ignore=shutil.ignore_patterns("__pycache__")
            )
            if folder.exists():
                folder.rmdir()
            os.rename(copied, folder)
    except OSError as error:
        raise writing_problem(error, folder) from error
    return folder / "setup.toml"
