"""Chains of angles in the setup file: each must end at the hero."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from huemend.errors import SetupFileError
from huemend.sample.setupfile import load_setup


def setup_with(folder: Path, **through: str) -> Path:
    said = ['[setup]\nname = "class"\nhero = "wide"\n']
    for name in ("wide", "left", "right", "close"):
        (folder / f"{name}.png").touch()
        said.append(f'[angle.{name}]\nmedia = ["{name}.png"]\nencoding = "ACEScct"\n')
        if name in through:
            said.append(f'through = "{through[name]}"\n')
    path = folder / "setup.toml"
    path.write_text("".join(said))
    return path


def test_chains_of_any_length(tmp_path: Path) -> None:
    setup = load_setup(setup_with(tmp_path, right="left", close="right"))
    assert [angle.through for angle in setup.angles] == [None, None, "left", "right"]


def test_through_the_hero_is_no_chain(tmp_path: Path) -> None:
    assert load_setup(setup_with(tmp_path, left="wide"))["left"].through is None


@pytest.mark.parametrize(
    ("through", "said"),
    [
        ({"left": "lefft"}, r"angle\.left.*through.*'lefft' is not among the angles.*did you mean left"),
        ({"left": "left"}, r"angle\.left.*goes in a circle: left -> left"),
        ({"left": "right", "right": "close", "close": "right"}, r"circle: right -> close -> right"),
        ({"wide": "left"}, r"angle\.wide.*stands on the hero"),
    ],
)
def test_a_chain_that_leads_nowhere_is_refused(tmp_path: Path, through: dict[str, str], said: str) -> None:
    with pytest.raises(SetupFileError) as caught:
        load_setup(setup_with(tmp_path, **through))
    assert re.search(said, str(caught.value)), str(caught.value)
