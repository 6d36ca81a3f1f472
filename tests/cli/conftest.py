"""A setup of two small pictures, and ways to run the command line on it."""

from __future__ import annotations

import shutil
import signal
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from huemend.media.pictures import write_picture
from tests.spotted import spotted

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capfd: pytest.CaptureFixture[str]) -> Iterator[Run]:
    """Run a command line in this process: (exit code, stdout, stderr), as a terminal would see them."""
    from huemend.cli import huemend
    from huemend.cli.boundary import run as run_group

    before = signal.getsignal(signal.SIGTERM)

    def call(*args: object) -> tuple[int, str, str]:
        capfd.readouterr()
        code = run_group(huemend, [str(arg) for arg in args])
        out, err = capfd.readouterr()
        return code, out, err

    yield call
    signal.signal(signal.SIGTERM, before)


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
