"""What one setup teaches of two cameras, and what that lends to another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from huemend.base.arrays import Float


@dataclass(frozen=True, kw_only=True, eq=False)
class Learnt:
    """What a setup's own footage says of the 3x3 between two cameras, in the parameters of the solve's prior."""

    #: (9,) float64. The likeliest parameters under the general prior of two cameras.
    theta: Float
    #: (9, 9) float64. Theirs, that prior included.
    covariance: Float

    def as_json(self) -> dict[str, Any]:
        """Return plain lists; numbers survive JSON to the last bit."""
        return {"theta": self.theta.tolist(), "covariance": self.covariance.tolist()}

    @classmethod
    def from_json(cls, said: Mapping[str, Any]) -> Learnt:
        """Return what ``as_json`` gave; raises KeyError, TypeError or ValueError where it did not."""
        theta, covariance = np.array(said["theta"], float), np.array(said["covariance"], float)
        finite = np.isfinite(theta).all() and np.isfinite(covariance).all()
        if theta.shape != (9,) or covariance.shape != (9, 9) or not finite:
            raise ValueError("these are not nine parameters and their covariance")
        return cls(theta=theta, covariance=covariance)


@dataclass(frozen=True, kw_only=True, eq=False)
class Carried:
    """What earlier setups of a day lend to the match of the same two cameras."""

    #: (9,) float64.
    mean: Float
    #: (9, 9) float64. Exposure, which is set anew for every setup, is as unknown as ever.
    covariance: Float
    #: The setups that white balance and channel mix rest on; empty where nothing is lent.
    balance: tuple[str, ...]
    mix: tuple[str, ...]

    @property
    def named(self) -> str:
        """The setups in words, the last few of many."""
        names = ", ".join(self.mix[-3:])
        return f"the last are {names}" if len(self.mix) > 3 else names

    def as_json(self) -> dict[str, Any]:
        """Return plain lists."""
        return {
            "mean": self.mean.tolist(),
            "covariance": self.covariance.tolist(),
            "balance": list(self.balance),
            "mix": list(self.mix),
        }
