"""What the documents say is what the program does."""

from __future__ import annotations

import re
import runpy
import subprocess
import sys
import tomllib
from pathlib import Path

import click
import pytest

from huemend.options import SolveOptions

ROOT = Path(__file__).parent.parent
DOCUMENTS = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md"), *(ROOT / "tests").rglob("*.md")])


def test_the_command_line_reference_is_up_to_date() -> None:
    # In a process of its own: click keeps the help option of a command as the first context that asks names it.
    code = "import runpy, sys; sys.stdout.write(runpy.run_path('docs/make_cli.py')['cli_markdown']())"
    made = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    ).stdout
    assert (ROOT / "docs" / "cli.md").read_text(encoding="utf-8") == made, "run: python docs/make_cli.py"


def test_the_reasons_are_those_of_the_code() -> None:
    made = runpy.run_path(str(ROOT / "docs" / "make_reasons.py"))["text"]()
    assert (ROOT / "docs" / "reasons.md").read_text(encoding="utf-8") == made, "run: python docs/make_reasons.py"


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_links_lead_somewhere(path: Path) -> None:
    for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", path.read_text(encoding="utf-8")):
        if "://" not in target:
            assert (path.parent / target).exists(), target


def test_the_map_for_contributors_names_files_that_are_there() -> None:
    words = re.findall(r"`([\w/.]+\.py)`", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"))
    assert len(words) > 20
    assert [word for word in words if not ((ROOT / word).exists() or (ROOT / "huemend" / word).exists())] == []


@pytest.mark.parametrize("name", ["demo", "tests"])
def test_readme_gives_one_line_a_job(name: str) -> None:
    blocks = re.findall(rf"```sh {name}\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    assert len(blocks) == 1 and blocks[0].count("\n") == 1


def test_readme_shows_a_setup_file_that_loads(tmp_path: Path) -> None:
    from huemend import load_setup

    (block,) = re.findall(r"```toml\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    tables = tomllib.loads(block)
    for angle in tables["angle"].values():
        for name in angle["media"]:
            (tmp_path / name).write_bytes(b"-")
    (tmp_path / "setup.toml").write_text(block, encoding="utf-8")
    setup = load_setup(tmp_path / "setup.toml")
    assert setup.hero == "wide" and setup["left"].range == "legal"
    from huemend.encodings.registry import encodings_of

    assert set(encodings_of(setup)) == {"wide", "left"}


def test_readme_lists_every_exit_code() -> None:
    from huemend.cli import boundary

    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for code in re.findall(r"^(\d+)  ", boundary.__doc__ or "", re.MULTILINE):
        assert re.search(rf"^\| .*\b{code}\b", readme, re.MULTILINE), code


def test_the_references_of_the_maths_are_numbered_once_and_all_cited() -> None:
    text, _, listed = (ROOT / "docs" / "maths.md").read_text(encoding="utf-8").partition("\n## References\n")
    numbers = [int(number) for number in re.findall(r"^(\d+)\. ", listed, re.MULTILINE)]
    assert numbers == list(range(1, len(numbers) + 1))
    assert {int(number) for number in re.findall(r"\[(\d+)\]", text)} == set(numbers)


def test_the_maths_gives_the_values_that_the_solve_begins_with() -> None:
    text = " ".join((ROOT / "docs" / "maths.md").read_text(encoding="utf-8").split())
    options = SolveOptions()
    low, high = options.shading_bounds
    for said in (
        f"weights are scaled down to a sum of at most {options.most_effective:g},",
        f"(1 - a) · {options.shading_start:g}²",
        f"a = places / (places + {options.scale_places:g})",
        f"Shading is held within {low:g} and {high:g},",
        f"misfit² · ({options.misfit:g}² + 2 n)",
        f"({options.read_noise:g} / Y)²",
        f"moves the shared colours by less than {options.unseen:g} CIEDE2000",
        f"moves them by less than {options.barely_seen:g} must",
        f"must gain {options.gain_strange:g}:",
        f"At most {options.fold_pairs:,} pairs,",
    ):
        assert said in text, said


def test_commands_that_the_documents_name_exist() -> None:
    from huemend.cli import huemend as group

    known = {*group.list_commands(click.Context(group))}
    for path in DOCUMENTS:
        for block in re.findall(r"```sh\n(.*?)```", path.read_text(encoding="utf-8"), re.DOTALL):
            for name in re.findall(r"^huemend ([a-z-]+)", block, re.MULTILINE):
                assert name in known, f"{path.name}: huemend {name}"


def test_what_runs_at_a_time_is_listed() -> None:
    package = ROOT / "huemend"
    calls = {
        path.relative_to(package).as_posix()
        for path in package.rglob("*.py")
        if re.search(
            r"^from huemend\.base\.tasks import .*\bover\b", path.read_text(encoding="utf-8"), re.MULTILINE
        )
    }
    rows = re.findall(
        r"^\| `([\w/]+\.py)` \|", (ROOT / "docs" / "flow.md").read_text(encoding="utf-8"), re.MULTILINE
    )
    assert set(rows) == calls
