"""The stills of one angle: turned, flipped, cropped, equal in size, one at a time."""

from __future__ import annotations

import tracemalloc
from functools import partial
from pathlib import Path

import numpy as np
import OpenImageIO as oiio
import pytest
from PIL import Image

from huemend.errors import MediaError
from huemend.media.pictures import read_picture, write_picture
from huemend.model import Angle
from huemend.sample.stills import is_still, sample_angle
from huemend.sample.upright import place, placed

HEIGHT, WIDTH = 40, 60


def angle_of(*media: Path, **said: object) -> Angle:
    return Angle(name="left", media=media, encoding="e", **said)  # type: ignore[arg-type]


@pytest.fixture
def corners() -> np.ndarray:
    """A picture with one bright corner each: red top left, green top right, blue bottom left."""
    codes = np.full((HEIGHT, WIDTH, 3), 0.25, np.float32)
    codes[:8, :8] = [1, 0, 0]
    codes[:8, -8:] = [0, 1, 0]
    codes[-8:, :8] = [0, 0, 1]
    return codes


def where(codes: np.ndarray, channel: int) -> str:
    """Return the corner in which a channel stands alone."""
    colour = np.eye(3, dtype=np.float32)[channel]
    ys, xs = np.nonzero(np.abs(codes - colour).max(axis=-1) < 0.01)
    rows, columns = codes.shape[:2]
    return ("top" if ys.mean() < rows / 2 else "bottom") + (" left" if xs.mean() < columns / 2 else " right")


@pytest.mark.parametrize(
    ("rotate", "flip", "red", "green"),
    [
        (0, "none", "top left", "top right"),
        # Clockwise: what was on the top left goes to the top right.
        (90, "none", "top right", "bottom right"),
        (180, "none", "bottom right", "bottom left"),
        (270, "none", "bottom left", "top left"),
        (0, "horizontal", "top right", "top left"),
        (0, "vertical", "bottom left", "bottom right"),
        # The flip comes after the turn.
        (90, "horizontal", "top left", "bottom left"),
    ],
)
def test_turn_and_flip(corners: np.ndarray, rotate: int, flip: str, red: str, green: str) -> None:
    placed = place(corners, angle_of(rotate=rotate, flip=flip))
    assert (where(placed, 0), where(placed, 1)) == (red, green)
    assert placed.shape[:2] == ((WIDTH, HEIGHT) if rotate % 180 else (HEIGHT, WIDTH))


def test_crop_is_of_the_upright_frame(corners: np.ndarray) -> None:
    """Left, top, right, bottom; a quarter off the left of a turned picture is a quarter of its new width."""
    placed = place(corners, angle_of(rotate=90, crop=(0.25, 0.1, 0.0, 0.2)))
    assert placed.shape == (WIDTH - 6 - 12, HEIGHT - 10, 3)
    upright = np.rot90(corners, -1)
    np.testing.assert_array_equal(placed, upright[6:-12, 10:])


def test_stills_carry_what_they_are(tmp_path: Path, corners: np.ndarray) -> None:
    for name in ("b.png", "a.png"):
        write_picture(tmp_path / name, corners, 16)
    stills = list(sample_angle(angle_of(tmp_path / "b.png", tmp_path / "a.png")))
    assert [(still.moment, still.source) for still in stills] == [(0, "b.png"), (1, "a.png")]
    assert all(still.angle == "left" and still.bit_depth == 16 and len(still.sha256) == 64 for still in stills)
    np.testing.assert_allclose(stills[0].codes, corners, atol=1e-5)
    assert not stills[0].codes.flags.writeable


def test_sizes_within_an_angle_are_equal(tmp_path: Path, corners: np.ndarray) -> None:
    write_picture(tmp_path / "a.png", corners, 8)
    write_picture(tmp_path / "b.png", corners[:, :-2], 8)
    with pytest.raises(MediaError, match=r"b\.png: is 58 x 40 pixels, the first still of left 60 x 40"):
        list(sample_angle(angle_of(tmp_path / "a.png", tmp_path / "b.png")))


@pytest.mark.parametrize(
    ("level", "said"), [(0.0, "all black"), (1.0, "all clipped"), (0.5, "all one flat colour")]
)
def test_a_still_that_shows_nothing(tmp_path: Path, level: float, said: str) -> None:
    write_picture(tmp_path / "a.png", np.full((HEIGHT, WIDTH, 3), level), 8)
    with pytest.raises(MediaError, match=said):
        next(sample_angle(angle_of(tmp_path / "a.png")))


def test_a_crop_that_leaves_too_little(tmp_path: Path, corners: np.ndarray) -> None:
    write_picture(tmp_path / "a.png", corners, 8)
    with pytest.raises(MediaError, match="only 6 x 40 pixels are left after the crop"):
        next(sample_angle(angle_of(tmp_path / "a.png", crop=(0.9, 0, 0, 0))))


def test_what_is_no_still(tmp_path: Path) -> None:
    assert is_still(Path("A001.TIFF")) and not is_still(Path("A001.wav"))
    with pytest.raises(MediaError, match=r"\.wav is not read"):
        next(sample_angle(angle_of(tmp_path / "a.wav")))


def test_memory_does_not_grow_with_the_number_of_stills(tmp_path: Path) -> None:
    rng = np.random.default_rng(0)
    for moment in range(8):
        write_picture(tmp_path / f"{moment}.png", rng.random((300, 400, 3)), 8)
    one = 300 * 400 * 3 * 4
    tracemalloc.start()
    for _ in sample_angle(angle_of(*sorted(tmp_path.glob("*.png")))):
        pass
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 4.5 * one


@pytest.mark.parametrize("orientation", [1, 2, 5, 6])
def test_a_part_is_read_as_it_would_be_cut_from_the_whole(tmp_path: Path, orientation: int) -> None:
    """Turned, flipped and cropped while it is read: the same values, in one array of its own."""
    path = tmp_path / "a.tif"
    exif = Image.Exif()
    exif[274] = orientation
    pixels = np.random.default_rng(3).integers(0, 255, (40, 56, 3), np.uint8)
    Image.fromarray(pixels).save(path, exif=exif)
    whole = read_picture(path)
    for rotate in (0, 90, 180, 270):
        for flip in ("none", "horizontal", "vertical"):
            for crop in ((0.0, 0.0, 0.0, 0.0), (0.1, 0.0, 0.3, 0.2)):
                angle = angle_of(path, rotate=rotate, flip=flip, crop=crop)
                part = read_picture(path, place=partial(placed, angle=angle))
                assert np.array_equal(part.codes, place(whole.codes, angle)) and part.whole == whole.whole
                assert part.codes.flags.c_contiguous and part.codes.flags.owndata


def test_of_a_picture_without_values_for_some_pixels_a_part_is_read(tmp_path: Path) -> None:
    """An OpenEXR whose data window is smaller than what it shows: the rest is 0, wherever it comes to lie."""
    path = tmp_path / "a.exr"
    spec = oiio.ImageSpec(40, 36, 3, oiio.FLOAT)
    spec.x, spec.y, spec.full_width, spec.full_height = 8, 4, 64, 48
    output = oiio.ImageOutput.create(str(path))
    assert output.open(str(path), spec) and output.write_image(np.full((36, 40, 3), 0.5, np.float32))
    output.close()
    whole = read_picture(path).codes
    angle = angle_of(path, rotate=90, crop=(0.0, 0.1, 0.2, 0.0))
    part = read_picture(path, place=partial(placed, angle=angle)).codes
    assert np.array_equal(part, place(whole, angle)) and 0 < (part == 0).mean() < 1
