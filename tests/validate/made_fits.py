"""Fits put together by hand, so that proof and verdict can be tried apart from the solve."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from huemend.model import ErrorSummary, Fit, HeldOut, Match, Rung, Uncertainty
from tests.solve.certain import NO_UNCERTAINTY


def a_fit(
    n: int,
    match: Match,
    *,
    fold: np.ndarray | None = None,
    fold_matches: tuple[Match, ...] | None = None,
    used: np.ndarray | None = None,
    **unsure: float,
) -> Fit:
    folds = 5 if fold_matches is None else len(fold_matches)
    judged = np.arange(n) % folds if fold is None else fold
    uncertainty: Uncertainty = replace(NO_UNCERTAINTY, **unsure)  # type: ignore[arg-type]
    return Fit(
        match=match,
        rung=Rung.NONE if match.is_identity else Rung.MATRIX,
        uncertainty=uncertainty,
        agrees=np.ones(n, bool) if used is None else used,
        fold=judged,
        hidden=judged == np.arange(folds)[:, None],
        fold_matches=(match,) * folds if fold_matches is None else fold_matches,
    )


def a_proof(
    before: float = 6.0,
    after: float = 0.8,
    upper: float = 1.0,
    n: int = 40,
    areas: dict[str, float] | None = None,
) -> HeldOut:
    return HeldOut(
        before=ErrorSummary(mean=before, p95=2 * before, n=n),
        after=ErrorSummary(mean=after, p95=2 * after, n=n),
        upper=upper,
        error_before=np.full(n, before),
        error_after=np.full(n, after),
        fold=np.zeros(n, int),
        areas={
            name: (ErrorSummary(mean=before, p95=before, n=3), ErrorSummary(mean=value, p95=value, n=3))
            for name, value in (areas or {}).items()
        },
        areas_off=areas or {},
    )
