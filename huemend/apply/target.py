"""Where baked media go."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from huemend.base.guard import Guard
from huemend.media.encode import FORMATS, Format
from huemend.media.planes import Tamed

__all__ = ["Target", "tamed_note"]


@dataclass(frozen=True, kw_only=True)
class Target:
    """What is to be written, and what must not be.

    Attributes
    ----------
    path : Path
        A file for a clip, a folder for pictures.
    format : str
        A key of `huemend.media.encode.FORMATS`.
    overwrite : bool
        Replace what an earlier bake left there. Anything else is never written over.
    guard : Guard
        The sources.
    """

    path: Path
    format: str
    overwrite: bool = False
    guard: Guard = field(default_factory=Guard)

    @property
    def kind(self) -> Format:
        """The format with all that it says."""
        return FORMATS[self.format]


def tamed_note(tamed: Tamed) -> tuple[str, ...]:
    """Say what became of values that no picture can show; nothing where there were none."""
    if not tamed.samples:
        return ()
    return (
        f"{tamed.samples} samples were NaN, infinite or beyond 65504: NaN became 0, the others 65504 or -65504; "
        "the source is to be rendered again if that is not what it should show",
    )
