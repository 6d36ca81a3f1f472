"""What moved while a setup was shot: each camera over time, and each thing that changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from huemend.base.arrays import Float64

Series = Float64


@dataclass(frozen=True, kw_only=True, eq=False)
class Track:
    """One camera over time, against its own first pictures."""

    #: (3, n) float64. Exposure, red and blue over green, in stops; NaN where a picture cannot be compared
    #: (cut away, covered, another view), or its areas say nothing that they agree on.
    stops: Series
    #: (n,) float64. How much more exposure changes from row to row than from column to column, stops.
    banding: Series

    @property
    def exposure(self) -> Series:
        """The first of these."""
        exposure: Series = self.stops[0]
        return exposure


@dataclass(frozen=True, kw_only=True)
class Change:
    """One thing that moved."""

    #: Name of the angle, or an empty string for the light that all cameras see.
    camera: str
    #: ``exposure``, ``balance`` or ``banding``.
    what: str
    #: ``step``, ``ramp``, ``flicker`` or ``wander``.
    how: str
    #: The largest move against the first pictures, signed; of red against green or blue against green for a
    #: balance, whichever is larger.
    stops: float
    #: Seconds on the common clock between which it moves.
    start: float
    end: float
    #: In a colorist's words.
    text: str


@dataclass(frozen=True, kw_only=True)
class Drift:
    """What moved in a setup while it was shot."""

    #: Seconds on the common clock.
    times: tuple[float, ...]
    #: Mapping of angle to Track.
    tracks: Mapping[str, Track]
    #: What all cameras do alike: the light. Noughts where a single camera was followed.
    common: Track
    changes: tuple[Change, ...]
    #: Mapping of angle to (start, end)s. Where its range would be cut for one match to hold in each part: seconds
    #: on the common clock, without gaps.
    segments: Mapping[str, tuple[tuple[float, float], ...]] = field(default_factory=dict)

    def follows(self, *names: str) -> bool:
        """Return whether all of these were followed: of clips and stills in one setup, the clips are."""
        return self.tracks.keys() >= set(names)

    def against(self, angle: str, hero: str) -> Track:
        """Return how an angle moves against the hero: what a single match cannot follow."""
        one, other = self.tracks[angle], self.tracks[hero]
        return Track(stops=one.stops - other.stops, banding=np.maximum(one.banding, other.banding))
