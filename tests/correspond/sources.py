"""Sources of pairs for tests, handed what they need to know of the pictures that they will be asked about."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from huemend.correspond.chart_finder import find_chart
from huemend.correspond.charts import ChartSource
from huemend.correspond.detect import Detected, View, detect_view, squeezes
from huemend.correspond.faces import FaceSource
from huemend.correspond.pairs import FeatureSource
from huemend.correspond.people import find_people
from huemend.correspond.sources import Sources
from huemend.correspond.stances import picture_id
from huemend.model import LinearStill, Setup
from huemend.options import ChartOptions, CorrespondOptions, FaceOptions


def features_in(stills: Sequence[LinearStill], options: CorrespondOptions) -> Detected:
    """Find features in every view of some pictures, whatever they will be paired with."""
    found = {}
    for still in stills:
        one = picture_id(still)
        for view in (View(one, as_reference=True), *(View(one, squeeze) for squeeze in squeezes(options))):
            found[view] = detect_view(view, still, options)
    return Detected(features=found)


def people_in(stills: Sequence[LinearStill], options: FaceOptions) -> Detected:
    return Detected(people={picture_id(still): find_people(still, options) for still in stills})


def charts_in(stills: Sequence[LinearStill], options: ChartOptions) -> Detected:
    return Detected(charts={picture_id(still): find_chart(still, options) for still in stills})


def feature_source(options: CorrespondOptions, *stills: LinearStill) -> FeatureSource:
    return FeatureSource(options, features_in(stills, options).features)


def face_source(options: FaceOptions, *stills: LinearStill) -> FaceSource:
    return FaceSource(options, people_in(stills, options).people)


def chart_source(options: ChartOptions, *stills: LinearStill) -> ChartSource:
    return ChartSource(options, charts_in(stills, options).charts)


def all_sources(
    setup: Setup, options: CorrespondOptions, *stills: LinearStill, faces: FaceOptions | None = None
) -> Sources:
    """Return the sources of a setup, as a run of it would have them."""
    faces = faces or FaceOptions()
    seen = features_in(stills, options) if options.features else Detected()
    if options.features and faces.look:
        seen = replace(seen, people=people_in(stills, faces).people)
    if setup.chart:
        seen = replace(seen, charts=charts_in(stills, options.chart).charts)
    return Sources(setup, seen, options, faces if options.features and faces.look else None)
