"""Make days of tiny setups on disk."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from huemend.media.pictures import write_picture
from tests.spotted import spotted

HEIGHT, WIDTH = 180, 320


@cache
def wall(seed: int) -> np.ndarray:
    """Invent a wall, scene-linear: 160 soft spots of many colours."""
    return spotted(np.random.default_rng(seed), HEIGHT, WIDTH)


def shot(seed: int, gain: float = 1.0, camera: int = 0) -> np.ndarray:
    """Return the wall as a camera records it: ACEScct codes with that camera's noise."""
    rng = np.random.default_rng([seed, camera])
    linear = wall(seed) * gain + rng.normal(0, 0.002, (HEIGHT, WIDTH, 3))
    return (np.log2(np.maximum(linear, 0.008)) + 9.72) / 17.52  # ACEScct above its toe (S-2016-001)


def make_setup(folder: Path, seed: int = 1, angles: tuple[str, ...] = ("B",)) -> Path:
    """Write a setup of hero A and the angles, each half a stop darker than the one before; return its file."""
    folder.mkdir(parents=True, exist_ok=True)
    lines = ["[setup]", 'name = "wall"', 'hero = "A"']
    for camera, name in enumerate(("A", *angles)):
        write_picture(folder / f"{name}.png", shot(seed, 2 ** (-0.5 * camera), camera), 16)
        lines += [f"[angle.{name}]", f'media = ["{name}.png"]', 'encoding = "ACEScct"']
    path = folder / "setup.toml"
    path.write_text("\n".join(lines) + "\n")
    return path


def make_day(folder: Path, count: int, angles: tuple[str, ...] = ("B",)) -> Path:
    """Write a day of so many setups: 01, 02 and so on."""
    for number in range(1, count + 1):
        make_setup(folder / f"{number:02}", seed=number, angles=angles)
    return folder


def files_of(folder: Path) -> dict[str, bytes]:
    """Return every file below a folder with its bytes."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}
