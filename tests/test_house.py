"""The house: which way imports point, which names are public, what loads when, how long a module is."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from enum import EnumType
from importlib import import_module
from pathlib import Path
from pkgutil import resolve_name

import click

import huemend

PACKAGE = Path(huemend.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))

# From the top of the house to its ground; a module may import from its own part and from any floor below. The
# stages stand beside one another on one floor and do not import one another. A part that is not named is an error.
STAGES = ("sample", "linearise", "correspond", "solve", "validate", "write", "apply")
FLOORS = (
    ("__main__",),
    ("cli",),
    ("day",),
    ("flow",),
    STAGES,
    ("encodings", "media", "view"),
    ("model",),
    ("options",),
    ("base",),
    ("errors",),
)
HEAVY = ("colour", "cv2", "scipy", "OpenImageIO", "PyOpenColorIO", "av", "skimage")


def part_of(path: Path) -> str:
    """Return the part of the house that a module belongs to: ``sample``, ``cli``, ``view`` ..."""
    return path.relative_to(PACKAGE).with_suffix("").parts[0]


def floor_of(part: str) -> int:
    """Return how far down a part stands; ``__main__`` is 0."""
    for level, parts in enumerate(FLOORS):
        if part in parts:
            return level
    raise AssertionError(f"{part} has no floor: name one in FLOORS")


def house_imports(tree: ast.AST) -> list[tuple[int, str]]:
    """Return (line, part) of every import from this package, those inside functions and for typing too."""
    found = []
    for node in ast.walk(tree):
        names = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"line {node.lineno}: imports are absolute"
            names = [node.module or ""]
            if node.module == "huemend":
                names = [f"huemend.{alias.name}" for alias in node.names]
        found += [(node.lineno, name.split(".")[1]) for name in names if name.startswith("huemend.")]
    return found


def parse(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def name_of(path: Path) -> str:
    return str(path.relative_to(PACKAGE))


def test_every_module_says_what_it_is_for() -> None:
    for path in MODULES:
        tree = parse(path)
        assert not tree.body or ast.get_docstring(tree), name_of(path)


def test_the_house_has_few_doors() -> None:
    doors = {part_of(path) for path in MODULES} - {"__init__"}
    assert len(doors) <= 20
    assert doors == {part for parts in FLOORS for part in parts}, "FLOORS names every part, and no other"


def test_imports_point_downwards() -> None:
    for path in MODULES:
        own = part_of(path)
        if own == "__init__":
            continue
        for line, part in house_imports(parse(path)):
            # Names such as `huemend.__version__` are everybody's.
            if part == own or part.startswith("__"):
                continue
            assert floor_of(part) > floor_of(own), f"{name_of(path)}:{line}: {own} must not import {part}"


def test_no_function_takes_more_than_seven_parameters() -> None:
    """Those of a command are its options."""
    for path in MODULES:
        for node in ast.walk(parse(path)):
            if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
                given = [arg.arg for arg in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)]
                count = len([arg for arg in given if arg not in ("self", "cls")])
                command = any("click" in ast.unparse(each) for each in node.decorator_list)
                assert count <= 7 or command, f"{name_of(path)}:{node.lineno}: {node.name} has {count}"


def test_only_the_command_line_talks_to_the_terminal() -> None:
    for path in MODULES:
        if part_of(path) in ("cli", "__main__"):
            continue
        for node in ast.walk(parse(path)):
            if isinstance(node, (ast.Import, ast.ImportFrom)):
                module = node.module if isinstance(node, ast.ImportFrom) else None
                names = [module or ""] if module else [alias.name for alias in node.names]
                assert not any(name.split(".")[0] == "click" for name in names), f"{name_of(path)}:{node.lineno}"
            if isinstance(node, ast.Call):
                called = ast.unparse(node.func)
                assert called not in ("print", "sys.exit", "exit", "quit", "os._exit", "input"), (
                    f"{name_of(path)}:{node.lineno}: {called}"
                )


def test_one_module_knows_threads() -> None:
    """What runs at a time is found there; one timer of the command line sends a swallowed Ctrl-C again."""
    starters = {"Thread", "Timer", "ThreadPoolExecutor", "ThreadPool", "start_new_thread", "to_thread"}
    found = set()
    for path in MODULES:
        for node in ast.walk(parse(path)):
            name = getattr(node, "attr", None) or getattr(node, "id", None) or getattr(node, "name", None)
            if isinstance(node, ast.Attribute | ast.Name | ast.alias) and name in starters:
                found.add((path.relative_to(PACKAGE).as_posix(), name))
    assert found == {
        ("base/tasks.py", "Thread"),
        ("base/tasks.py", "ThreadPoolExecutor"),
        ("cli/boundary.py", "Timer"),
    }


def test_no_assert_judges_input() -> None:
    """`python -O` drops asserts, and an AssertionError is no clear line; a public function raises.

    An assert that only tells the type checker what is so (``is not None``, ``isinstance``) may stay.
    """
    found = [
        f"{name_of(path)}:{node.lineno}"
        for path in MODULES
        for node in ast.walk(parse(path))
        if isinstance(node, ast.Assert)
        and not re.fullmatch(r"[\w.\[\]]+ is not None|isinstance\(.*\)", ast.unparse(node.test))
    ]
    assert not found


def test_public_names_exist_and_are_listed() -> None:
    assert huemend.__all__ == sorted(huemend.__all__)
    for name in huemend.__all__:
        assert getattr(huemend, name) is not None
    assert set(huemend.__all__) - {"__version__"} == set(huemend._WHERE)


def test_only_public_doors_list_their_names() -> None:
    """The package itself, what a subpackage hands on, errors, views; each lists only what is there, once."""
    for path in MODULES:
        if path.name == "__main__.py":
            continue
        dotted = ".".join(["huemend", *path.relative_to(PACKAGE).with_suffix("").parts]).removesuffix(".__init__")
        module = import_module(dotted)
        listed = getattr(module, "__all__", None)
        if path.name != "__init__.py" and part_of(path) not in ("errors", "view"):
            assert listed is None, f"{dotted}: in an inner module an underscore says what is private"
            continue
        assert len(set(listed or [])) == len(listed or []), dotted
        assert [name for name in listed or [] if not hasattr(module, name)] == [], dotted


def test_an_underscore_means_private() -> None:
    """No module takes a name with an underscore from another; what two need has none."""
    for path in MODULES:
        for node in ast.walk(parse(path)):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("huemend."):
                private = [each.name for each in node.names if re.match("_[^_]", each.name)]
                assert not private, f"{name_of(path)}:{node.lineno}: {private}"


def test_tests_import_names_that_are_there() -> None:
    """Those inside functions too, and what is asked of them: nothing else looks at them until a slow test runs."""
    gone = []
    for path in sorted(Path(__file__).parent.rglob("*.py")):
        known: dict[str, str] = {}
        nodes = list(ast.walk(parse(path)))
        for node in nodes:
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("huemend"):
                known |= {alias.asname or alias.name: f"{node.module}.{alias.name}" for alias in node.names}
                names = [f"{node.module}.{alias.name}" for alias in node.names]
                gone += [f"{path.name}:{node.lineno} {name}" for name in names if not is_there(name)]
        for node in nodes:
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in known:
                kind = resolve_name(known[node.value.id])
                # Members of enums, and methods; of other classes also fields, which the class has not.
                asked = isinstance(kind, EnumType) or (isinstance(kind, type) and node.attr not in annotated(kind))
                if asked and not hasattr(kind, node.attr):
                    gone.append(f"{path.name}:{node.lineno} {known[node.value.id]}.{node.attr}")
    assert gone == []


def annotated(kind: type) -> set[str]:
    """Return the fields that a class and its bases name."""
    return {name for each in kind.__mro__ for name in vars(each).get("__annotations__", ())}


def is_there(name: str) -> bool:
    """Say whether a module of the package, or something in one, is called so."""
    try:
        resolve_name(name)
    except (ImportError, AttributeError):
        return False
    return True


def loaded_after(code: str) -> set[str]:
    script = f"import sys\n{code}\nprint(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    # The last line; what stands above it is help text, which may well name a library.
    return {name.split(".")[0] for name in done.stdout.splitlines()[-1].split()}


def test_import_huemend_is_light() -> None:
    loaded = loaded_after("import huemend")
    assert loaded.isdisjoint(HEAVY) and "numpy" not in loaded


def test_what_writes_a_match_again_needs_nothing_that_makes_one() -> None:
    loaded = loaded_after("import huemend.flow.again, huemend.flow.deliver, huemend.write.results")
    assert loaded.isdisjoint({"scipy", "colour", "av", "skimage"})


def test_help_is_light() -> None:
    code = "from huemend.cli import huemend\nfrom huemend.cli.boundary import run\n"
    loaded = loaded_after(code + "assert run(huemend, ['--help']) == 0")
    assert loaded.isdisjoint(HEAVY) and "numpy" not in loaded


def test_help_of_every_command_is_light() -> None:
    """Reading about a command is as quick as reading about all of them."""
    from huemend.cli import huemend as group

    names = group.list_commands(click.Context(group))
    runs = "\n".join(f"assert run(huemend, ['{name}', '--help']) == 0" for name in names)
    loaded = loaded_after(f"from huemend.cli import huemend\nfrom huemend.cli.boundary import run\n{runs}")
    assert loaded.isdisjoint(HEAVY)


def test_no_module_is_a_book() -> None:
    """70 to 300 lines is the measure; the end of a test run lists modules past 400 for a hard look."""
    for path in MODULES:
        assert len(path.read_text(encoding="utf-8").splitlines()) <= 800, name_of(path)
