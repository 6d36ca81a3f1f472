"""A setup of two small pictures."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from huemend.media.pictures import write_picture
from tests.spotted import spotted


def picture(seed: int, gain: float | np.ndarray = 1.0) -> np.ndarray:
    """Invent a picture with something to find in it: 160 soft spots of many colours, as ACEScct codes."""
    rng = np.random.default_rng(seed)
    linear = spotted(rng)
    linear = linear * gain + rng.normal(0, 0.002, linear.shape)
    return (np.log2(np.maximum(linear, 0.008)) + 9.72) / 17.52  # ACEScct above its toe (S-2016-001)


@pytest.fixture(scope="session")
def made_setup(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a setup that can be matched: the angle is the hero's picture, half a stop down."""
    folder = tmp_path_factory.mktemp("made") / "setup"
    folder.mkdir()
    write_picture(folder / "wide.png", picture(1), 16)
    write_picture(folder / "left.png", picture(1, 2**-0.5), 16)
    (folder / "setup.toml").write_text(
        '[setup]\nname = "bench"\nhero = "wide"\n'
        '[angle.wide]\nmedia = ["wide.png"]\nencoding = "ACEScct"\n'
        '[angle.left]\nmedia = ["left.png"]\nencoding = "ACEScct"\n'
    )
    return folder


@pytest.fixture
def setup_file(made_setup: Path, tmp_path: Path) -> Path:
    """The setup file of a copy of it, to be changed at will."""
    return Path(shutil.copytree(made_setup, tmp_path / "setup")) / "setup.toml"
