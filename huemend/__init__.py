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
    from huemend.write.record_reading import record_schema

#: Where the public names stand.
_HOMES = {
    "huemend.errors": (
        "EncodingError HuemendError InputError LutError MediaError MissingLibraryError OutputError "
        "SetupFileError TimelineError"
    ),
    "huemend.flow.match": "match_setup",
    "huemend.flow.script": "match_and_write write_match",
    "huemend.model": (
        "Angle AngleResult Area EncodingSpec ErrorSummary Event HeldOut InputFile Interval MarkedArea Marks "
        "Match NamedPair Nudge Place Reason Rung Setup SetupResult Uncertainty Verdict"
    ),
    "huemend.options": "MatchOptions",
    "huemend.sample.setupfile": "load_setup",
    "huemend.write.record_reading": "record_schema",
}
_WHERE = {name: home for home, names in _HOMES.items() for name in names.split()}

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
