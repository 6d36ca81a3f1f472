"""Match the cameras of one multicam setup in scene-linear light, with proof.

The public names are imported on first use, so that ``import huemend`` stays quick: the picture libraries together
take about a second to load. docs/python.md shows how they go together.
"""

from __future__ import annotations

# As ``typing`` has it; loading that would take as long as all of this, before Ctrl-C can be answered.
TYPE_CHECKING = False

__version__ = "0.1.0"

if TYPE_CHECKING:
    from typing import Any

    from huemend.errors import (
        EncodingError,
        HuemendError,
        InputError,
        LutError,
        MediaError,
        MissingLibraryError,
        OutputError,
        SetupFileError,
        TimelineError,
    )
    from huemend.flow.match import match_setup
    from huemend.flow.script import match_and_write, write_match
    from huemend.model import (
        Angle,
        AngleResult,
        Area,
        EncodingSpec,
        ErrorSummary,
        Event,
        HeldOut,
        InputFile,
        Interval,
        MarkedArea,
        Marks,
        Match,
        NamedPair,
        Nudge,
        Place,
        Reason,
        Rung,
        Setup,
        SetupResult,
        Uncertainty,
        Verdict,
    )
    from huemend.options import MatchOptions
    from huemend.sample.setupfile import load_setup
    from huemend.write.record import record_schema

_WHERE = {
    "Angle": "huemend.model",
    "AngleResult": "huemend.model",
    "Area": "huemend.model",
    "EncodingError": "huemend.errors",
    "EncodingSpec": "huemend.model",
    "ErrorSummary": "huemend.model",
    "Event": "huemend.model",
    "HeldOut": "huemend.model",
    "HuemendError": "huemend.errors",
    "InputError": "huemend.errors",
    "InputFile": "huemend.model",
    "Interval": "huemend.model",
    "LutError": "huemend.errors",
    "MarkedArea": "huemend.model",
    "Marks": "huemend.model",
    "Match": "huemend.model",
    "MatchOptions": "huemend.options",
    "MediaError": "huemend.errors",
    "MissingLibraryError": "huemend.errors",
    "NamedPair": "huemend.model",
    "Nudge": "huemend.model",
    "OutputError": "huemend.errors",
    "Place": "huemend.model",
    "Reason": "huemend.model",
    "Rung": "huemend.model",
    "Setup": "huemend.model",
    "SetupFileError": "huemend.errors",
    "SetupResult": "huemend.model",
    "TimelineError": "huemend.errors",
    "Uncertainty": "huemend.model",
    "Verdict": "huemend.model",
    "load_setup": "huemend.sample.setupfile",
    "match_and_write": "huemend.flow.script",
    "match_setup": "huemend.flow.match",
    "record_schema": "huemend.write.record",
    "write_match": "huemend.flow.script",
}

__all__ = [
    "Angle",
    "AngleResult",
    "Area",
    "EncodingError",
    "EncodingSpec",
    "ErrorSummary",
    "Event",
    "HeldOut",
    "HuemendError",
    "InputError",
    "InputFile",
    "Interval",
    "LutError",
    "MarkedArea",
    "Marks",
    "Match",
    "MatchOptions",
    "MediaError",
    "MissingLibraryError",
    "NamedPair",
    "Nudge",
    "OutputError",
    "Place",
    "Reason",
    "Rung",
    "Setup",
    "SetupFileError",
    "SetupResult",
    "TimelineError",
    "Uncertainty",
    "Verdict",
    "__version__",
    "load_setup",
    "match_and_write",
    "match_setup",
    "record_schema",
    "write_match",
]


def __getattr__(name: str) -> Any:
    if name in _WHERE:
        from importlib import import_module

        return getattr(import_module(_WHERE[name]), name)
    raise AttributeError(f"module 'huemend' has no attribute {name!r}")


def __dir__() -> list[str]:
    return list(__all__)
