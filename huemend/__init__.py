"""Match the cameras of one multicam setup in scene-linear light, with proof.

The public names are imported on first use, so that ``import huemend`` stays quick: the colour and
picture libraries together take about a second to load.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from huemend.errors import (
        EncodingError,
        HuemendError,
        InputError,
        LutError,
        MediaError,
        MissingLibraryError,
        OutputError,
        SetupFileError,
    )
    from huemend.flow.match import match_setup
    from huemend.model import AngleResult, Event, Match, Setup, SetupResult
    from huemend.options import MatchOptions
    from huemend.sample.setupfile import load_setup

_WHERE = {
    "AngleResult": "huemend.model",
    "EncodingError": "huemend.errors",
    "Event": "huemend.model",
    "HuemendError": "huemend.errors",
    "InputError": "huemend.errors",
    "LutError": "huemend.errors",
    "Match": "huemend.model",
    "MatchOptions": "huemend.options",
    "MediaError": "huemend.errors",
    "MissingLibraryError": "huemend.errors",
    "OutputError": "huemend.errors",
    "Setup": "huemend.model",
    "SetupFileError": "huemend.errors",
    "SetupResult": "huemend.model",
    "load_setup": "huemend.sample.setupfile",
    "match_setup": "huemend.flow.match",
}

__all__ = [
    "AngleResult",
    "EncodingError",
    "Event",
    "HuemendError",
    "InputError",
    "LutError",
    "Match",
    "MatchOptions",
    "MediaError",
    "MissingLibraryError",
    "OutputError",
    "Setup",
    "SetupFileError",
    "SetupResult",
    "__version__",
    "load_setup",
    "match_setup",
]


def __getattr__(name: str) -> Any:
    if name in _WHERE:
        return getattr(import_module(_WHERE[name]), name)
    raise AttributeError(f"module 'huemend' has no attribute {name!r}")


def __dir__() -> list[str]:
    return list(__all__)
