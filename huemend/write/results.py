"""Everything that one setup hands on, from the LUTs to the record."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import replace
from functools import partial
from itertools import chain, islice
from typing import Any

import numpy as np

from huemend.base.arrays import Float
from huemend.base.tasks import over
from huemend.encodings.ocio import decode_transform, encode_transform
from huemend.encodings.registry import find_working_encoding
from huemend.model import Event, Match, OnEvent, SetupResult, Verdict
from huemend.options import MatchOptions, WriteOptions
from huemend.view import delta_e2000, measurement_lab
from huemend.write.folder import OutputFolder
from huemend.write.luts.cdl import CdlEntry, apply_cdl, ccc_text, closest_cdl
from huemend.write.luts.clf import exact_chain, run_chain, write_clf
from huemend.write.luts.cube import Cube, chain_error
from huemend.write.luts.cube_file import write_cube
from huemend.write.luts.hues import nearest_matrix
from huemend.write.luts.kinds import LutBasis, LutFile, colours_held, lut_makers, lut_title
from huemend.write.luts.notes import joined, target_note
from huemend.write.outputs import Output, file_name, stems_of
from huemend.write.record import make_record
from huemend.write.solved import Earlier, Handed
from huemend.write.timeline.clips import Timeline, angle_facts, timeline_files

_NO_SHOULDER = "without the neutral highlights, which a chain of formulas cannot hold: use the .cube for those"

#: A LUT with its text, or a CDL; CDLs of all angles share a file, and have no text of their own.
Product = tuple[LutFile | CdlEntry, str]


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
    with closing(over(chain.from_iterable(works.values()), lambda work: work())) as made:
        for done, (name, products) in enumerate(kept.items()):
            if on_event is not None:
                on_event(Event(stage="write", angle=name, done=done, total=len(setup.angles)))
            for product, text in chain.from_iterable(islice(made, len(works[name]))):
                if isinstance(product, LutFile):
                    out.write_text(product.path, text)
                products = (*products, product)
            handed[name] = Handed(nudge=setup[name].nudge, options=options, products=products)
    return handed


def write_rest(
    result: SetupResult,
    out: OutputFolder,
    handed: Mapping[str, Handed],
    pages: Mapping[str, bytes],
    options: MatchOptions,
    timeline: Timeline | None = None,
) -> dict[str, Any]:
    """Write what rests on the LUTs: the CDLs, the pages, a timeline with its clips' LUTs, and last the record.

    Returns
    -------
    dict
        The record as written.
    """
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
    then = None if earlier is None else earlier.handed.get(name)
    if earlier is None or then is None:
        return ()
    same = then.nudge == earlier.result.setup[name].nudge and then.options == options
    stands = same and all(out.keep(file.path, earlier.files.get(file.path)) for file in then.luts)
    return then.products if stands else ()


def _works(name: str, result: SetupResult, options: WriteOptions) -> list[Callable[[], list[Product]]]:
    """Return the works that make an angle's LUTs, and its CDL where it has a match and one is asked for."""
    stem = stems_of(result.setup)[name]
    basis = LutBasis.of(name, result, options)

    def lut(make: Callable[[], tuple[Cube, LutFile]]) -> list[Product]:
        cube, file = make()
        placed = replace(file, path=Output.CUBE.of(f"{stem}_{file.kind}"))
        files: list[Product] = [(placed, write_cube(cube))]
        if file.kind == "match" and options.clf:
            files.append(_clf(basis, placed, stem))
        return files

    works: list[Callable[[], list[Product]]] = [partial(lut, make) for make in lut_makers(basis)]
    match = basis.match
    if match is not None and options.cdl:
        works.append(lambda: [(_cdl(basis, match, stem), "")])
    return works


def _clf(basis: LutBasis, cube: LutFile, stem: str) -> tuple[LutFile, str]:
    """Chain what the match LUT samples, and measure the chain as OpenColorIO runs it."""
    shot, target, result = basis.shot, basis.target, basis.result
    whole = basis.match or Match()
    held = colours_held(result.stills.get(basis.name, ()), basis.options.colours)
    match = nearest_matrix(whole, held)
    formulas = exact_chain(
        decode_transform(shot, cube.input_range), match, encode_transform(target, cube.output_range)
    )
    text = write_clf(
        formulas,
        name=f"{stem}_match",
        description=lut_title(basis, cube, exact=True),
        input=f"{cube.input}, {cube.input_range} range",
        output=f"{cube.output}, {cube.output_range} range",
    )
    codes = shot.encode(held, range=cube.input_range).astype(np.float32).astype(float)
    wanted = target.encode(match.apply(shot.decode(codes, range=cube.input_range)), range=cube.output_range)
    error = chain_error(run_chain(formulas, codes), wanted)
    missed = _without_hues(whole, match, held, result.view_exposure_stops)
    note = joined(target_note(shot, target), "" if basis.shoulder is None else _NO_SHOULDER, missed)
    return replace(cube, kind="clf", path=Output.CLF.of(f"{stem}_match"), size=0, error=error, note=note), text


def _without_hues(whole: Match, match: Match, colours: Float, view_exposure_stops: float) -> str:
    """Say by how much a chain of formulas misses a match that bends hues; empty where it does not."""
    if not whole.roots.any() or not len(colours):
        return ""
    labs = (measurement_lab(each.apply(colours), view_exposure_stops) for each in (whole, match))
    mean, p95 = _mean_and_p95(delta_e2000(*labs))
    return (
        f"the nearest 3x3, since a chain of formulas cannot hold what bends hues: it misses the .cube by "
        f"{mean:.2f} CIEDE2000 (p95 {p95:.2f})"
    )


def _mean_and_p95(error: Float) -> tuple[float, float]:
    """Return mean and 95th percentile of what is finite; of nothing, 0."""
    told = error[np.isfinite(error)]
    return (float(told.mean()), float(np.percentile(told, 95))) if len(told) else (0.0, 0.0)


def _cdl(basis: LutBasis, match: Match, stem: str) -> CdlEntry:
    """Fit the closest CDL in the working space to what the match does to this angle's own colours."""
    name, result = basis.name, basis.result
    found = result[name]
    working = find_working_encoding(basis.options.working_encoding)
    half = basis.options.cdl_colours // 2
    shared = found.pairs.angle_rgb[found.used]
    held = np.concatenate(
        [colours_held(result.stills.get(name, ()), half), shared[:: max(1, -(-len(shared) // half))]]
    )
    before, after = working.encode(held, range="full"), working.encode(match.apply(held), range="full")

    def difference(one: Float, other: Float) -> Float:
        light = (working.decode(codes, range="full") for codes in (one, other))
        return delta_e2000(*(measurement_lab(rgb, result.view_exposure_stops) for rgb in light))

    cdl = closest_cdl(before, after, difference)
    mean, p95 = _mean_and_p95(difference(apply_cdl(cdl, before), after))
    mark = "REVIEW before use: " if found.verdict is Verdict.REVIEW else ""
    lacks = "" if basis.shoulder is None else "; no neutral highlights"
    return CdlEntry(
        id=stem,
        cdl=cdl,
        input=f"{working.name}, full range",
        description=(
            f"{mark}closest CDL to the match of {name} to {result.setup.hero}; a CDL has no channel mix and "
            f"misses the match by {mean:.2f} CIEDE2000 (p95 {p95:.2f}){lacks}; "
            "the CDL or the match LUT, never both"
        ),
        mean=mean,
        p95=p95,
    )
