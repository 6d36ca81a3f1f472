"""Nothing in the package writes, renames or removes a file but the few modules that ask the guard."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import huemend

PACKAGE = Path(huemend.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))

#: Where files are made, replaced and removed, each time after the guard was asked.
WRITERS = ("base/files.py", "base/folders.py", "base/kept.py", "base/ledger.py", "base/lock.py")
#: Encoders: they write to the name of a temporary file that they are given.
ENCODERS = ("media/encode.py", "media/pictures.py")
#: Who calls an encoder, each time with what `Kept.writing` yields.
CALLERS = ("apply/clips.py", "apply/stills.py")

#: Calls that only look like it: an `OutputFolder` writes by the names that a `Path` has for it, the one reader
#: opens for reading alone, a stream that is closed or lost is led to nowhere, and arrays are packed in memory.
NONE = frozenset(
    [
        ("write/folder.py", "self.write_bytes"),
        ("write/results.py", "out.write_bytes"),
        ("write/results.py", "out.write_text"),
        ("write/solved.py", "np.savez"),
        ("__main__.py", "os.write"),
        ("base/reading.py", "os.open"),
        ("cli/streams.py", "open"),
        ("cli/streams.py", "os.open"),
    ]
)

_METHODS = frozenset(
    ("write_text", "write_bytes", "unlink", "rename", "rmdir", "mkdir", "touch", "symlink_to", "hardlink_to")
)
_FUNCTIONS = {
    "os": (
        *("remove", "unlink", "rename", "replace", "renames", "rmdir", "removedirs", "mkdir", "makedirs", "link"),
        *("symlink", "truncate", "ftruncate", "write", "open", "mkfifo", "chmod", "utime"),
    ),
    "np": ("save", "savez", "savetxt", "memmap"),
    "cv2": ("imwrite",),
    "ImageOutput": ("create",),
}
_MODULES = frozenset(("shutil", "tempfile"))
_ENCODE = frozenset(("write_picture", "write_clip"))


def writes(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Yield (line, what) of every call that writes, makes, renames or removes a file."""
    for node in ast.walk(tree):
        if isinstance(node, (ast.Import, ast.ImportFrom)):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else [each.name for each in node.names]
            yield from ((node.lineno, name) for name in names if name.split(".")[0] in _MODULES)
        if not isinstance(node, ast.Call):
            continue
        called = ast.unparse(node.func)
        owner, _, name = called.rpartition(".")
        if owner and name in _METHODS:
            yield node.lineno, called
        for module, functions in _FUNCTIONS.items():
            if owner.rpartition(".")[2] == module and name in functions:
                yield node.lineno, called
        if name == "open" and any(mode in "".join(_texts(node)) for mode in "wax+"):
            yield node.lineno, called


def _texts(call: ast.Call) -> Iterator[str]:
    """Yield the modes of a call of ``open``: short texts that are given as such."""
    given = [*call.args[:2], *(each.value for each in call.keywords if each.arg == "mode")]
    for node in given:
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and len(node.value) <= 3:
            yield node.value


def name_of(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def found_in(text: str) -> list[str]:
    return [what for _, what in writes(ast.parse(text))]


def test_files_are_written_in_few_modules() -> None:
    wrong = [
        f"{name_of(path)}:{line}: {what}"
        for path in MODULES
        if name_of(path) not in (*WRITERS, *ENCODERS)
        for line, what in writes(ast.parse(path.read_text(encoding="utf-8")))
        if (name_of(path), what) not in NONE
    ]
    assert wrong == []


def test_encoders_are_called_in_few_modules_and_with_temporary_names_alone() -> None:
    for path in MODULES:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        parts = {
            item.optional_vars.id
            for node in ast.walk(tree)
            if isinstance(node, ast.With)
            for item in node.items
            if isinstance(item.optional_vars, ast.Name) and ".writing(" in ast.unparse(item.context_expr)
        }
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and ast.unparse(node.func).rpartition(".")[2] in _ENCODE:
                assert name_of(path) in CALLERS, f"{name_of(path)}:{node.lineno}"
                assert ast.unparse(node.args[0]) in parts, f"{name_of(path)}:{node.lineno}"


@pytest.mark.parametrize(
    "text",
    [
        "path.write_text('x')",
        "(folder / 'a').unlink()",
        "os.replace(a, b)",
        "import shutil",
        "from tempfile import mkstemp",
        "open(path, 'w')",
        "open(path, mode='r+b')",
        "path.open('a')",
        "av.open(str(path), 'w')",
        "numpy.x(); np.save(path, a)",
        "oiio.ImageOutput.create(name)",
    ],
)
def test_the_search_finds(text: str) -> None:
    assert found_in(text)


@pytest.mark.parametrize("text", ["open(path, 'rb')", "av.open(str(path))", "text.replace('a', 'b')", "open(p)"])
def test_the_search_leaves_alone(text: str) -> None:
    assert not found_in(text)
