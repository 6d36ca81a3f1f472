"""Sources of pairs for tests, handed what they need to know of the pictures that they will be asked about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from huemend.correspond.chart_finder import find_chart
from huemend.correspond.charts import ChartSource
from huemend.correspond.detect import Detected, Pairing
from huemend.correspond.faces import FaceSource
from huemend.correspond.pairs import FeatureSource
from huemend.correspond.people import find_people
from huemend.correspond.sources import Sources
from huemend.correspond.stances import PictureId, Stance, picture_id
from huemend.model import LinearStill, PairedColours, Setup
from huemend.options import ChartOptions, CorrespondOptions, FaceOptions


def people_in(stills: Sequence[LinearStill], options: FaceOptions) -> Detected:
    return Detected(people={picture_id(still): find_people(still, options) for still in stills})


def charts_in(stills: Sequence[LinearStill], options: ChartOptions) -> Detected:
    return Detected(charts={picture_id(still): find_chart(still, options) for still in stills})


class SeeingSource(FeatureSource):
    """A source that is shown pictures when it is asked for their pairs, and none before."""

    def __init__(self, options: CorrespondOptions, stances: Mapping[PictureId, Stance] | None = None) -> None:
        super().__init__((), options)
        self._stances = stances or {}

    def __call__(self, reference: tuple[LinearStill, ...], angle: tuple[LinearStill, ...]) -> PairedColours:
        source = FeatureSource([Pairing(reference[0].angle, angle[0].angle)], self.options)
        for two in zip(reference, angle, strict=False):
            source.see({still.angle: still for still in two}, self._stances)
        return source(reference, angle)


def face_source(options: FaceOptions, *stills: LinearStill) -> FaceSource:
    return FaceSource(options, people_in(stills, options).people)


def chart_source(options: ChartOptions, *stills: LinearStill) -> ChartSource:
    return ChartSource(options, charts_in(stills, options).charts)


def all_sources(
    setup: Setup, options: CorrespondOptions, *stills: LinearStill, faces: FaceOptions | None = None
) -> Sources:
    """Return the sources of a setup, as a run of it would have them."""
    faces = faces or FaceOptions()
    wanted = options.features and faces.look
    seen = people_in(stills, faces) if wanted else Detected()
    if setup.chart:
        seen = replace(seen, charts=charts_in(stills, options.chart).charts)
    features = SeeingSource(options) if options.features else None
    return Sources(setup, seen, options, features, faces if wanted else None)
