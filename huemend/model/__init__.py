"""The values that travel between the stages.

Every class is frozen; arrays are copied on the way in and read-only afterwards. Colours are
scene-linear ACEScg (AP1 primaries, ACES white) unless a name says otherwise, and a matrix multiplies
column vectors from the left: ``out = matrix @ rgb``. Places are pixel centres ``(x, y)`` of the upright
picture in working resolution, the centre of the first pixel being (0, 0).
"""

from huemend.model.event import Event, OnEvent
from huemend.model.fit import Fit, LeastErrorTrade, NoFit
from huemend.model.match import Interval, Match, Rung, Uncertainty, pivot_contrast
from huemend.model.pairs import NO_LIGHT, PairedColours, PairSource
from huemend.model.results import AngleResult, ErrorSummary, HeldOut, InputFile, SetupResult
from huemend.model.setup import (
    KNOWN_SURFACES,
    Angle,
    Area,
    EncodingSpec,
    MarkedArea,
    Marks,
    NamedPair,
    Nudge,
    Setup,
)
from huemend.model.stills import LinearStill, Still
from huemend.model.verdict import Place, Reason, Verdict

__all__ = [
    "KNOWN_SURFACES",
    "NO_LIGHT",
    "Angle",
    "AngleResult",
    "Area",
    "EncodingSpec",
    "ErrorSummary",
    "Event",
    "Fit",
    "HeldOut",
    "InputFile",
    "Interval",
    "LeastErrorTrade",
    "LinearStill",
    "MarkedArea",
    "Marks",
    "Match",
    "NamedPair",
    "NoFit",
    "Nudge",
    "OnEvent",
    "PairSource",
    "PairedColours",
    "Place",
    "Reason",
    "Rung",
    "Setup",
    "SetupResult",
    "Still",
    "Uncertainty",
    "Verdict",
    "pivot_contrast",
]
