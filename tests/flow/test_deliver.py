"""What a setup hands over is the same with any number of threads."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from huemend.base.cv import import_cv2
from huemend.base.originals import Guard
from huemend.base.units import acescct_encode
from huemend.flow.deliver import match_and_write
from huemend.media.pictures import write_picture
from huemend.model import Verdict
from huemend.options import MatchOptions
from huemend.sample.setupfile import load_setup
from huemend.write.folder import OutputFolder
from tests.correspond.made_views import QUICK, noisy, wide_and_close

pytestmark = pytest.mark.slow

OPTIONS = MatchOptions(correspond=QUICK)


@pytest.fixture
def threads() -> Iterator[None]:
    """Let a test say how many there may be."""
    before = import_cv2().getNumThreads()
    yield
    import_cv2().setNumThreads(before)


@pytest.fixture(scope="module")
def setup_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A hero, a close view of it, and one that shows nothing at all."""
    folder = tmp_path_factory.mktemp("setup")
    wide, close = (np.asarray(still.rgb) for still in wide_and_close())
    blank = noisy(np.full_like(close, 0.05), 3)
    for name, rgb in {"wide": wide, "close": close, "blank": blank}.items():
        write_picture(folder / f"{name}.png", acescct_encode(rgb), 16)
    path = folder / "setup.toml"
    said = "".join(
        f'[angle.{name}]\nmedia = ["{name}.png"]\nencoding = "ACEScct"\n' for name in ("blank", "wide", "close")
    )
    path.write_text(f'[setup]\nname = "larder"\nhero = "wide"\n{said}')
    return path


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def made(setup_file: Path, out: Path, count: int) -> dict[str, bytes]:
    import_cv2().setNumThreads(count)
    with OutputFolder(out, Guard()) as folder:
        result, _ = match_and_write(load_setup(setup_file), folder, OPTIONS)
    assert result["close"].match is not None and result["blank"].verdict is Verdict.UNSOLVED
    return contents(out)


@pytest.mark.usefixtures("threads")
def test_files_are_the_same_with_one_thread_and_with_more(setup_file: Path, tmp_path: Path) -> None:
    one, several = (made(setup_file, tmp_path / str(count), count) for count in (1, 4))
    assert one == several
    assert {"report.json", "report.html", "luts/larder_close_match.cube"} <= one.keys()
