"""Pairs of colours whose true match is known: two measured cameras under a daylight, or any 3x3 at all."""

from __future__ import annotations

from functools import cache

import numpy as np

from huemend.model import PairedColours
from huemend.options import SolveOptions
from huemend.solve.folds import deal_out
from huemend.solve.ground import Ground
from huemend.solve.prior import CAMERA_PAIR
from huemend.solve.residuals import Samples
from huemend.solve.trials import Trials

#: A believable difference between two cameras; rows sum to one, so that greys keep their colour.
MIX = np.array([[1.06, -0.05, -0.01], [0.02, 0.95, 0.03], [-0.02, 0.05, 0.97]])


def surfaces(count: int, seed: int = 0) -> np.ndarray:
    """Draw scene-linear colours of many hues between 2 % and 60 %."""
    rng = np.random.default_rng(seed)
    grey = np.exp(rng.uniform(np.log(0.03), np.log(0.5), (count, 1)))
    return grey * np.exp(0.35 * rng.normal(size=(count, 3)))


def make_pairs(
    reference: np.ndarray,
    angle: np.ndarray,
    *,
    weight: np.ndarray | None = None,
    group: np.ndarray | None = None,
    label: np.ndarray | None = None,
    light_spread: np.ndarray | None = None,
) -> PairedColours:
    """Lay pairs out on a picture: by default every four neighbours share a group and a place."""
    n = len(reference)
    group = np.arange(n) // 4 if group is None else np.asarray(group)
    place = np.stack([40.0 * (group % 24), 40.0 * (group // 24)], 1)
    return PairedColours(
        reference="wide",
        angle="left",
        source="features",
        reference_rgb=reference,
        angle_rgb=angle,
        weight=np.full(n, 0.5) if weight is None else weight,
        reference_xy=place,
        angle_xy=place,
        radius=np.full((n, 2), 2.5),
        noise=np.full((n, 2), 0.01),
        moment=np.zeros(n, int),
        group=group,
        label=np.full(n, "", "<U32") if label is None else label,
        light_spread=np.zeros(n) if light_spread is None else light_spread,
    )


def shaken(
    reference: np.ndarray, angle: np.ndarray, *, seed: int, shading: float = 0.1, noise: float = 0.01, wrong: float
) -> tuple[PairedColours, np.ndarray]:
    """Add what footage adds: shading between the views, noise, wrong pairs; return which are wrong, too."""
    rng = np.random.default_rng(seed)
    n = len(reference)
    shot = angle * np.exp(shading * rng.normal(size=(n, 1)))
    shot = shot * (1 + noise * rng.normal(size=shot.shape))
    seen = reference * (1 + noise * rng.normal(size=reference.shape))
    off = np.zeros(n, bool)
    off[rng.permutation(n)[: round(wrong * n)]] = True
    shot[off] = shot[rng.integers(0, n, int(off.sum()))]
    # Neighbours on a picture are not neighbours in a table of reflectances.
    group = rng.permutation(n) // 4
    return make_pairs(seen, shot, group=group), off


@cache
def two_cameras() -> tuple[np.ndarray, np.ndarray]:
    """Return ACEScg of 190 surfaces as two measured cameras give them under a daylight, (190, 3) each.

    Sensitivities: Nikon D5100 and Sigma SD Merrill, measured at the NPL (Darrodi et al. 2015). Reflectances: the
    190 training patches of the Academy's rawtoaces. Daylight: CIE D55, as colour-science carries all of them. Each
    camera is balanced on the light and gets the least-squares 3x3 to ACEScg that keeps white.
    """
    import colour

    shape = colour.SpectralShape(400, 680, 10)
    light = colour.SDS_ILLUMINANTS["D55"].copy().align(shape).values
    # A copy: the library keeps what it has read, and aligning works in place.
    patches = colour.characterisation.read_training_data_rawtoaces_v1().copy().align(shape).values
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    to_ap1 = colour.RGB_COLOURSPACES["ACEScg"].matrix_XYZ_to_RGB
    eye = (light[:, None] * observer) @ to_ap1.T
    truth = patches.T @ eye / eye.sum(0)
    out = []
    for name in ("Nikon 5100 (NPL)", "Sigma SDMerill (NPL)"):
        sensor = light[:, None] * colour.MSDS_CAMERA_SENSITIVITIES[name].copy().align(shape).values
        raw = patches.T @ sensor / sensor.sum(0)
        # M = I + D with D @ (1,1,1) = 0 keeps white; D has two free columns.
        free, *_ = np.linalg.lstsq(raw[:, :2] - raw[:, 2:], truth - raw, rcond=None)
        out.append(raw + (raw[:, :2] - raw[:, 2:]) @ free)
    return out[0], out[1]


def trials_of(pairs: PairedColours, options: SolveOptions) -> Trials:
    """Return pairs as rungs are tried on them, in the plain measurement view."""
    ground = Ground(
        pairs=pairs,
        samples=Samples.of(pairs, options),
        options=options,
        prior=CAMERA_PAIR,
        flare_unit=0.18,
        by_hand=(),
        preset=(),
    )
    return Trials(ground=ground, folds=deal_out(pairs, options), flare_start=0.0, view_stops=0.0)
