"""Options of every stage: what may be chosen, with its default, and bounds of what is read.

One module a stage; all are handed on from here. Constants that are part of a method stand beside their one use.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from huemend.options.apply import BakeOptions
from huemend.options.correspond import ChartOptions, CorrespondOptions, FaceOptions, FramingOptions, HeroOptions
from huemend.options.day import DayOptions
from huemend.options.files import FileOptions
from huemend.options.linearise import LineariseOptions
from huemend.options.sample import ClipOptions, SampleOptions
from huemend.options.solve import CarryOptions, ColourOptions, SolveOptions
from huemend.options.validate import DriftOptions, ValidateOptions
from huemend.options.write import ReportOptions, WriteOptions

__all__ = [
    "BakeOptions",
    "CarryOptions",
    "ChartOptions",
    "ClipOptions",
    "ColourOptions",
    "CorrespondOptions",
    "DayOptions",
    "DriftOptions",
    "FaceOptions",
    "FileOptions",
    "FramingOptions",
    "HeroOptions",
    "LineariseOptions",
    "MatchOptions",
    "ReportOptions",
    "SampleOptions",
    "SolveOptions",
    "ValidateOptions",
    "WriteOptions",
]


@dataclass(frozen=True, kw_only=True)
class MatchOptions:
    """Everything that ``match_setup`` can be told."""

    sample: SampleOptions = field(default_factory=SampleOptions)
    linearise: LineariseOptions = field(default_factory=LineariseOptions)
    correspond: CorrespondOptions = field(default_factory=CorrespondOptions)
    faces: FaceOptions = field(default_factory=FaceOptions)
    hero: HeroOptions = field(default_factory=HeroOptions)
    solve: SolveOptions = field(default_factory=SolveOptions)
    carry: CarryOptions = field(default_factory=CarryOptions)
    colours: ColourOptions = field(default_factory=ColourOptions)
    validate: ValidateOptions = field(default_factory=ValidateOptions)
    drift: DriftOptions = field(default_factory=DriftOptions)
    write: WriteOptions = field(default_factory=WriteOptions)
    report: ReportOptions = field(default_factory=ReportOptions)

    @property
    def wants_faces(self) -> bool:
        """Whether faces are looked for: not where only what the setup file names is used."""
        return self.correspond.features and self.faces.look
