"""Fits put together by hand, so that proof and verdict can be tried apart from the solve."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from huemend.model import ErrorSummary, Fit, HeldOut, Match, NoFit, PairedColours, Rung, Uncertainty
from huemend.validate.decide import Evidence
from huemend.validate.proof import Proven
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


def evidence(
    pairs: PairedColours,
    fitted: Fit | NoFit,
    held_out: HeldOut | None = None,
    alone: HeldOut | None = None,
    **more: Any,
) -> Evidence:
    """Return what is known of an angle: a fit with its proof, and that of what was found alone."""
    known = Evidence(pairs=pairs, proven=NoFit(reasons=()), **more)
    return replace(known, proven=fitted) if isinstance(fitted, NoFit) else proving(known, fitted, held_out, alone)


def proving(
    known: Evidence, fit: Fit | None = None, held_out: HeldOut | None = None, alone: HeldOut | None = None
) -> Evidence:
    """Return the same with another fit, another proof, or another one of what was found alone."""
    old = known.proven if isinstance(known.proven, Proven) else None
    fit = fit or (old.fit if old else a_fit(len(known.pairs), Match()))
    if alone is None and old is not None and old.alone is not None:
        alone = old.alone.held_out
    beside = None if fit.alone is None or alone is None else Proven(fit=fit.alone, held_out=alone)
    proof = held_out or (old.held_out if old else a_proof())
    return replace(known, proven=Proven(fit=fit, held_out=proof, alone=beside))
