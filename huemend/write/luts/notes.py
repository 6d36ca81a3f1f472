"""What the record tells of a LUT beside its figures: what it lacks, and what to use in its place."""

from __future__ import annotations

import numpy as np

from huemend.base.arrays import Float
from huemend.encodings.registry import Encoding
from huemend.write.luts.cube import CubeMiss
from huemend.write.luts.shoulder import NeutralShoulder

#: A cube that misses more of the setup's own colours than one in a hundred by more than this many 10-bit codes is
#: coarse. A stop is 74 to 79 codes of the usual log curves, so this is a twentieth of one: a judgement.
COARSE_CODES = 4.0

LINEAR = "the input is scene-linear and a .cube ends at 1.0: use the CLF"


def joined(*notes: str) -> str:
    """Return several notes as one; those that are empty say nothing."""
    return "; ".join(note for note in notes if note)


def mean_and_p95(error: Float) -> tuple[float, float]:
    """Return mean and 95th percentile of what is finite; of nothing, 0."""
    told = error[np.isfinite(error)]
    return (float(told.mean()), float(np.percentile(told, 95))) if len(told) else (0.0, 0.0)


def coarse(error: CubeMiss | None) -> str:
    """Say that a cube is coarse; nothing of one that is not."""
    if error is None or error.p99 <= COARSE_CODES:
        return ""
    return (
        f"coarse: one in a hundred of this setup's colours is off by {error.p99:.0f} 10-bit codes or more between "
        "nodes, shadows most: use the CLF, or more nodes (--lut-size)"
    )


def shoulder_words(shoulder: NeutralShoulder, stops: float) -> str:
    """Say what a shoulder of so many stops does."""
    where = "where the stills clip" if shoulder.measured else "the largest code, the stills not clipping below it"
    return f"highlights run to neutral over the last {stops:g} stop below {where}"


def highlight_loss(shot: Encoding, target: Encoding) -> float:
    """Return how many stops of highlight one encoding holds less than another, at the top code; 0 if none."""
    top = np.ones((1, 3))
    own, theirs = (float(np.max(encoding.decode(top, range="full"))) for encoding in (shot, target))
    return max(0.0, float(np.log2(own / theirs))) if own > 0 and theirs > 0 else 0.0


def target_note(shot: Encoding, target: Encoding) -> str:
    """Return what is lost where one encoding's highlights go into another; empty if nothing."""
    loss = highlight_loss(shot, target)
    if loss < 0.05:
        return ""
    return f"{target.name} ends {loss:.1f} stops below {shot.name}: highlights above that are lost"
