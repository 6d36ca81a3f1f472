"""Run huemend on one setup in a process of its own, so that its seconds and its memory are its own.

``python -m tests.bench.accuracy.run SETUP.toml OUT.npz`` is the child's side.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

ROOT = Path(__file__).resolve().parents[3]


@dataclass(frozen=True, kw_only=True, eq=False)
class Solved:
    """What huemend said of one angle; ``match`` is None where it would not say."""

    verdict: str
    reasons: tuple[str, ...]
    rung: str
    match: dict[str, Any] | None
    candidate: dict[str, Any] | None
    intervals: dict[str, tuple[float, float]] | None
    held_out: dict[str, Any] | None
    reference_rgb: NDArray[np.float64]
    angle_rgb: NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Run:
    """One run over one setup: an answer by angle, or the error in one line."""

    angles: dict[str, Solved]
    seconds: float
    wall_seconds: float
    megabytes: float
    error: str = ""


def run(setup: Path, scratch: Path) -> Run:
    """Match ``setup`` in a child process; ``scratch`` takes what the child hands back."""
    scratch.mkdir(parents=True, exist_ok=True)
    out = scratch / "result.npz"
    out.unlink(missing_ok=True)
    env = dict(os.environ, PYTHONPATH=os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]))
    started = time.perf_counter()
    child = subprocess.run(
        [sys.executable, "-m", "tests.bench.accuracy.run", str(setup), str(out)],
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )
    wall = time.perf_counter() - started
    (scratch / "log.txt").write_text(child.stdout + child.stderr, "utf-8")
    if child.returncode or not out.exists():
        lines = [line for line in child.stderr.splitlines() if line.strip()]
        last = lines[-1] if lines else f"the run ended with code {child.returncode}"
        return Run(angles={}, seconds=float("nan"), wall_seconds=wall, megabytes=float("nan"), error=last)
    with np.load(out) as data:
        said = json.loads(str(data["said"]))
        angles = {
            name: Solved(
                **answer, reference_rgb=data[f"{name}/reference_rgb"], angle_rgb=data[f"{name}/angle_rgb"]
            )
            for name, answer in said["angles"].items()
        }
    return Run(angles=angles, seconds=said["seconds"], wall_seconds=wall, megabytes=said["megabytes"], error="")


def _child(setup: Path, out: Path) -> None:
    started = time.perf_counter()
    import huemend

    # Getting at the two names loads the pipeline and its libraries: that belongs to the job's time.
    result = huemend.match_setup(huemend.load_setup(setup), on_event=lambda event: print(event.stage, event.angle))
    seconds = time.perf_counter() - started
    # Linux counts in KiB, macOS in bytes.
    unit = 1 if sys.platform == "darwin" else 1024
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6
    arrays, angles = {}, {}
    for answer in result:
        name = answer.angle.name
        angles[name] = {
            "verdict": str(answer.verdict),
            "reasons": [f"{reason.code}: {reason.text}" for reason in answer.reasons],
            "rung": str(answer.rung),
            "match": _plain_match(answer.match),
            "candidate": _plain_match(answer.candidate),
            "intervals": _plain_intervals(answer.uncertainty),
            "held_out": _plain_held_out(answer.held_out),
        }
        arrays[f"{name}/reference_rgb"] = answer.pairs.reference_rgb
        arrays[f"{name}/angle_rgb"] = answer.pairs.angle_rgb
    said = {"angles": angles, "seconds": seconds, "megabytes": peak}
    np.savez(out, said=np.array(json.dumps(said)), **arrays)  # type: ignore[arg-type]


def _plain_match(match: Any) -> dict[str, Any] | None:
    if match is None:
        return None
    return {
        "exposure_stops": float(match.exposure_stops),
        "matrix": np.asarray(match.matrix).tolist(),
        "flare": np.asarray(match.flare).tolist(),
        "contrast": float(match.contrast),
        "roots": np.asarray(match.roots).tolist(),
    }


def _plain_intervals(uncertainty: Any) -> dict[str, tuple[float, float]] | None:
    if uncertainty is None:
        return None
    names = ("exposure_stops", "red_green_stops", "blue_green_stops")
    return {name: (getattr(uncertainty, name).low, getattr(uncertainty, name).high) for name in names}


def _plain_held_out(held_out: Any) -> dict[str, Any] | None:
    if held_out is None:
        return None
    return {
        "before": held_out.before.mean,
        "after": held_out.after.mean,
        "upper": held_out.upper,
        "n": held_out.after.n,
        "areas": {label: after.mean for label, (_, after) in held_out.areas.items()},
    }


if __name__ == "__main__":
    _child(Path(sys.argv[1]), Path(sys.argv[2]))
