"""What a setup hands over: LUTs, report and record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from huemend.base.originals import Guard
from huemend.model import AngleResult, OnEvent, Setup, SetupResult
from huemend.model.learnt import Carried
from huemend.options import MatchOptions

if TYPE_CHECKING:
    from huemend.write.folder import OutputFolder
    from huemend.write.report.look import Look
    from huemend.write.solved import Earlier
    from huemend.write.timeline.clips import Timeline


def look_of(setup: Setup, options: MatchOptions) -> Look | None:
    """Read the show's look that the report's pictures are shown under, if one is named; raises LutError."""
    if options.report.look is None:
        return None
    from huemend.write.report.look import find_look

    return find_look(options.report.look, options.report.look_takes, setup)


def match_and_write(
    setup: Setup,
    out: OutputFolder,
    options: MatchOptions,
    timeline: Timeline | None = None,
    on_event: OnEvent | None = None,
    *,
    carried: Mapping[str, Carried] | None = None,
) -> tuple[SetupResult, dict[str, Any]]:
    """Match a setup (`match_setup`) and write everything of it (`write_setup`); return result and record."""
    # Whoever writes an earlier match again needs nothing of what makes one.
    from huemend.flow.match import match_setup

    result = match_setup(setup, options, on_event, carried=carried)
    return result, write_setup(result, out, options, timeline, on_event)


def write_setup(
    result: SetupResult,
    out: OutputFolder,
    options: MatchOptions,
    timeline: Timeline | None = None,
    on_event: OnEvent | None = None,
    earlier: Earlier | None = None,
) -> dict[str, Any]:
    """Write LUTs, report and record of a result into a folder that is held; return the record.

    A timeline gets a list of its clips' LUTs. What an ``earlier`` match left there is taken over where a new one
    would be the same. Raises an `OutputError` if the folder cannot be written.
    """
    from huemend.flow.close_ups import close_ups
    from huemend.flow.motion import motion_of
    from huemend.write.luts.kinds import shoulder_of
    from huemend.write.outputs import Output
    from huemend.write.report import render_report
    from huemend.write.report.crops import crops_of, surfaces_of
    from huemend.write.report.pictures import Gallery, with_moments_shown
    from huemend.write.results import finish_result, write_luts
    from huemend.write.solved import pack

    rolled = {angle.name: shoulder_of(angle.name, result, options.write) for angle in result.setup.angles}
    shoulders = {name: shoulder for name, shoulder in rolled.items() if shoulder is not None}
    gallery, surfaces = None, {}
    shown = with_moments_shown(as_delivered(result))
    if options.report.pictures:
        known = {} if earlier is None else earlier.surfaces
        for angle in result:
            name = angle.angle.name
            surfaces[name] = known[name] if name in known else tuple(surfaces_of(angle, shown))
        gallery = Gallery(
            result.setup,
            shown.stills,
            options.report,
            look_of(result.setup, options),
            surfaces=surfaces,
            measured={} if earlier is None else earlier.measured_before(),
            close=close_ups(shown, surfaces, options),
            motion=motion_of(result, options),
            shoulders=shoulders,
        )
    handed = write_luts(result, out, options.write, on_event, earlier)
    luts = {name: each.luts for name, each in handed.items()}
    crops = {} if gallery is None else {name: crops_of(shown[name], shown, gallery) for name in surfaces}
    measured = {name: tuple((crop.before, crop.left) for crop in own) for name, own in crops.items()}
    pages = render_report(shown, luts, shoulders, gallery, crops)
    pages[Output.SOLVED] = pack(result, surfaces, measured, handed)
    return finish_result(result, out, handed, pages, options, timeline)


def as_delivered(result: SetupResult) -> SetupResult:
    """Return a result that compares people as its pictures show them: after a nudge, where there is one."""
    from huemend.validate.people import check_skin

    def seen(found: AngleResult) -> AngleResult:
        match = found.delivered
        if not found.people or not found.angle.nudge or match is None:
            return found
        people = check_skin(found.pairs, match, found.agrees, view_stops=result.view_stops)
        return replace(found, people=people)

    return replace(result, angles=tuple(seen(found) for found in result))


def guard_of(setup: Setup, options: MatchOptions, *more: Path | None) -> Guard:
    """Protect every file that a result rests on: those of the setup, the show's look, and what else is named."""
    return Guard.over([*setup.files, *(Path(path) for path in (options.report.look, *more) if path is not None)])


def output_folder(
    setup: Setup,
    out: Path,
    options: MatchOptions,
    timeline: Timeline | None = None,
    *,
    guard: Guard | None = None,
    within: Path | None = None,
) -> OutputFolder:
    """Return the folder that takes a setup's result, not yet held.

    What a timeline gets is looked for, too, before the work begins. What ``guard`` holds (`guard_of` if not
    given) is never written over, and below ``within`` no part of the path may be a link.
    """
    from huemend.write.folder import OutputFolder
    from huemend.write.outputs import outputs_of

    names = outputs_of(setup, options, timeline)
    return OutputFolder(out, guard or guard_of(setup, options), within=within, names=names)


def default_out(setup: Setup) -> Path:
    """Return where a setup's results go unless told otherwise: ``match`` beside the setup file."""
    return setup.source.parent / "match"
