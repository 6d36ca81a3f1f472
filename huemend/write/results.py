"""Everything that one setup hands on, from the LUTs to the record."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import replace
from functools import partial
from itertools import chain
from typing import Any

from huemend.base.tasks import over
from huemend.model import Event, OnEvent, SetupResult
from huemend.options import MatchOptions, WriteOptions
from huemend.write.folder import OutputFolder
from huemend.write.luts.cdl import CdlEntry, ccc_text, cdl_entry
from huemend.write.luts.clf import exact_clf
from huemend.write.luts.cube import Cube
from huemend.write.luts.cube_file import write_cube
from huemend.write.luts.kinds import LutBasis, LutFile, lut_makers
from huemend.write.outputs import Output, file_name, stems_of
from huemend.write.record import make_record
from huemend.write.solved import Earlier, Handed
from huemend.write.timeline.clips import Timeline, angle_facts, timeline_files

#: A LUT with its text, or a CDL, which has no file of its own: those of all angles share one.
Made = tuple[LutFile, str] | CdlEntry


def write_luts(
    result: SetupResult,
    out: OutputFolder,
    options: WriteOptions,
    on_event: OnEvent | None = None,
    earlier: Earlier | None = None,
) -> dict[str, Handed]:
    """Make the LUTs and CDLs of every angle, the hero included, and write the LUTs; return them by angle.

    What an ``earlier`` match left in the same folder is taken over where it would come out the same.
    """
    setup = result.setup
    kept = {angle.name: _kept(angle.name, earlier, out, options) for angle in setup.angles}
    works = {name: [] if products else _works(name, result, options) for name, products in kept.items()}
    handed = {}
    with closing(over(chain.from_iterable(works.values()), lambda work: work())) as done_works:
        for done, (name, products) in enumerate(kept.items()):
            if on_event is not None:
                on_event(Event(stage="write", angle=name, done=done, total=len(setup.angles)))
            for _ in works[name]:
                products = (*products, *(_written(made, out) for made in next(done_works)))
            handed[name] = Handed(nudge=setup[name].nudge, options=options, products=products)
    return handed


def _written(made: Made, out: OutputFolder) -> LutFile | CdlEntry:
    """Write a LUT to its place; return what is told of it."""
    if isinstance(made, CdlEntry):
        return made
    file, text = made
    out.write_text(file.path, text)
    return file


def finish_result(
    result: SetupResult,
    out: OutputFolder,
    handed: Mapping[str, Handed],
    pages: Mapping[str, bytes],
    options: MatchOptions,
    timeline: Timeline | None = None,
) -> dict[str, Any]:
    """Write what rests on the LUTs: CDLs, pages, a timeline with its clips' LUTs, and last the record."""
    luts = {name: each.luts for name, each in handed.items()}
    cdls = {name: each.cdl for name, each in handed.items() if each.cdl is not None}
    stem = file_name(result.setup.name)
    if cdls:
        out.write_text(Output.CDLS.of(stem), ccc_text(list(cdls.values())))
    files = dict(pages)
    if timeline is not None:
        facts = angle_facts(result, luts, cdls)
        files |= timeline_files(timeline, result.setup.angles, facts, stem)
    for path, data in files.items():
        out.write_bytes(path, data)
    return out.finish(make_record(result, luts=luts, cdls=cdls, options=options))


def _kept(
    name: str, earlier: Earlier | None, out: OutputFolder, options: WriteOptions
) -> tuple[LutFile | CdlEntry, ...]:
    """Return what an earlier match handed to an angle, where it would come out the same and stands there still."""
    if earlier is None or not earlier.nudged_alike(name) or earlier.handed[name].options != options:
        return ()
    then = earlier.handed[name]
    stands = all(out.take_over(file.path, earlier.files.get(file.path)) for file in then.luts)
    return then.products if stands else ()


def _works(name: str, result: SetupResult, options: WriteOptions) -> list[Callable[[], list[Made]]]:
    """Return the works that make an angle's LUTs, and its CDL where it has a match and one is asked for."""
    stem = stems_of(result.setup)[name]
    basis = LutBasis.of(name, result, options)

    def lut(make: Callable[[], tuple[Cube, LutFile]]) -> list[Made]:
        cube, file = make()
        placed = replace(file, path=Output.CUBE.of(f"{stem}_{file.kind}"))
        files: list[Made] = [(placed, write_cube(cube))]
        if file.kind == "match" and options.clf:
            files.append(exact_clf(basis, placed, stem))
        return files

    works: list[Callable[[], list[Made]]] = [partial(lut, make) for make in lut_makers(basis)]
    match = basis.match
    if match is not None and options.cdl:
        works.append(lambda: [cdl_entry(basis, match, stem)])
    return works
