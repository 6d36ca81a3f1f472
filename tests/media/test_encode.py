"""Writing a clip: what goes wrong is said of what it went wrong with."""

from __future__ import annotations

import errno
from pathlib import Path

import numpy as np
import pytest

from huemend.errors import MediaError
from huemend.media.clips import open_clip
from huemend.media.encode import FORMATS, write_clip
from tests import clipmaker


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("encode") / "A001.mkv"
    clipmaker.write_clip(path, clipmaker.moving_planes("yuv422p10le", (64, 96)), frames=3, size=(64, 96))
    return path


def encode(source: Path, into: Path, problem: Exception | None = None) -> None:
    noise = np.random.default_rng(0).integers(0, 4096, (64, 96), np.uint16)
    with open_clip(source) as clip, write_clip(into, FORMATS["ffv1"], clip.info) as writer:
        for _ in range(20):
            writer.write(clipmaker.fill(writer.blank(), [noise] * 3))
        if problem is not None:
            raise problem


def test_a_disk_that_is_full_is_not_the_fault_of_the_clip(source: Path, tmp_path: Path) -> None:
    (tmp_path / "out.mkv").symlink_to("/dev/full")
    with pytest.raises(OSError) as caught:
        encode(source, tmp_path / "out.mkv")
    assert caught.value.errno == errno.ENOSPC and not isinstance(caught.value, MediaError)


def test_what_else_goes_wrong_while_a_clip_is_written_stays_what_it_is(source: Path, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="shapes"):
        encode(source, tmp_path / "out.mkv", ValueError("shapes do not fit"))
