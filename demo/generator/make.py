"""Make the demo setup ``glaze-table``: three log stills, and the truth beside them."""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import numpy as np

from .camera import Camera, develop, expose, png16, shoot, truth
from .measure import best_matrix, colour_error
from .mesh import CLASSES

__all__ = ["CAMERAS", "main"]

HERE = Path(__file__).resolve().parent.parent
SEED = 20

#: Three makes of camera as three operators left them: other sensors, other exposures, other white balances, and
#: input transforms fitted under other lights than the one on set.
CAMERAS = {
    "wide": Camera(sensor="sensor a", encoding="C-Log3/Cinema Gamut", white="LED-B4", nominal="D55"),
    "left": Camera(
        sensor="sensor h",
        encoding="V-Log/V-Gamut",
        white="LED-B4",
        nominal="D60",
        exposure_stops=-0.48,
        balance_stops=(0.21, -0.19),
        electrons=5000.0,
    ),
    "right": Camera(
        sensor="sensor g",
        encoding="S-Log3/S-Gamut3.Cine",
        white="5000K daylight",
        nominal="D50",
        exposure_stops=0.42,
        balance_stops=(-0.17, 0.10),
        electrons=4500.0,
    ),
}
HERO = "wide"


def main(argv: list[str] | None = None) -> int:
    """Render, record, write; prints how far each angle is from its truth."""
    parser = argparse.ArgumentParser(prog="python -m demo.generator", description=__doc__)
    parser.add_argument("--out", type=Path, default=HERE / "glaze-table", help="folder to write to")
    parser.add_argument("--width", type=int, default=960)
    parser.add_argument("--paths", type=int, default=96, help="paths a pixel")
    parser.add_argument("--detail", type=float, default=1.0, help="above 1 meshes people coarser and faster")
    parser.add_argument(
        "--bands", type=Path, help="keep the spectral renders in this file, or use those kept there"
    )
    args = parser.parse_args(argv)

    start = time.monotonic()
    size = (args.width, args.width * 9 // 16)
    bands, cls = _renders(args.bands, size, args.paths, args.detail)
    print(f"rendered in {time.monotonic() - start:.0f} s")

    import cv2

    args.out.mkdir(parents=True, exist_ok=True)
    hero = CAMERAS[HERO]
    key = expose(bands[HERO], hero, target=0.155)
    for number, (name, camera) in enumerate(CAMERAS.items()):
        codes = png16(shoot(bands[name], camera, key, seed=SEED + number), camera.bits)
        cv2.imwrite(str(args.out / f"{name}.png"), codes[..., ::-1], [cv2.IMWRITE_PNG_COMPRESSION, 9])
        if name == HERO:
            continue
        third = (slice(None, None, 3), slice(None, None, 3))
        shot, right = develop(bands[name], camera, key)[third], truth(bands[name], hero, key)[third]
        np.savez_compressed(
            args.out / f"truth_{name}.npz",
            shot=shot.astype(np.float16),
            truth=right.astype(np.float16),
            cls=cls[name][third],
        )
        _print_errors(name, shot, right, cls[name][third])
    return 0


def _renders(
    kept: Path | None, size: tuple[int, int], paths: int, detail: float
) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
    if kept is not None and kept.exists():
        with np.load(kept) as data:
            return {n: data[f"{n}_bands"] for n in CAMERAS}, {n: data[f"{n}_cls"] for n in CAMERAS}
    from .render import render_views
    from .rooms import workshop

    scene = workshop.build(seed=SEED, detail=detail)
    renders = render_views(scene, {name: scene.views[name] for name in CAMERAS}, size, paths, SEED)
    if kept is not None:
        arrays = {f"{n}_bands": r.bands.astype(np.float16) for n, r in renders.items()}
        np.savez_compressed(kept, **arrays, **{f"{n}_cls": r.cls for n, r in renders.items()})
    return {n: r.bands for n, r in renders.items()}, {n: r.cls for n, r in renders.items()}


def _print_errors(name: str, shot: np.ndarray, right: np.ndarray, cls: np.ndarray) -> None:
    before = colour_error(shot, right)
    matrix = best_matrix(shot.reshape(-1, 3), right.reshape(-1, 3))
    after = colour_error(shot @ matrix.T, right)
    rows = [("all", np.ones(cls.shape, bool)), *((kind, cls == k) for kind, k in CLASSES.items())]
    figures = "  ".join(
        f"{kind} {before[m].mean():.2f} -> {after[m].mean():.2f}" for kind, m in rows if m.sum() > 50
    )
    print(f"{name}: CIEDE2000 as shot -> best 3x3: {figures}")
