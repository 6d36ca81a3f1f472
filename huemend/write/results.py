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
from huemend.base.text import told_apart
from huemend.encodings.ocio import decode_transform, encode_transform
from huemend.encodings.registry import find_working_encoding
from huemend.model import Event, Match, OnEvent, Setup, SetupResult, Verdict
from huemend.options import MatchOptions
from huemend.view import delta_e2000, measurement_lab
from huemend.write.folder import OutputFolder, file_name
from huemend.write.luts.cdl import CdlEntry, apply_cdl, ccc_text, closest_cdl
from huemend.write.luts.clf import exact_chain, run_chain, write_clf
from huemend.write.luts.cube import Cube, chain_error
from huemend.write.luts.cube_file import write_cube
from huemend.write.luts.hues import nearest_matrix
from huemend.write.luts.kinds import LutBasis, LutFile, colours_held, endings, lut_makers, lut_title
from huemend.write.luts.notes import joined, target_note
from huemend.write.record import make_record
from huemend.write.solved import Earlier, Handed
from huemend.write.timeline.clips import Timeline, timeline_files, timeline_names

_NO_SHOULDER = "without the neutral highlights, which a chain of formulas cannot hold: use the .cube for those"

#: A file with its text, or a CDL.
Product = tuple[LutFile, str] | CdlEntry

#: Given what each angle is handed, returns the report and its pictures: path inside the folder to bytes.
Report = Callable[[Mapping[str, Handed]], Mapping[str, bytes]]


def write_results(
    result: SetupResult,
    out: OutputFolder,
    *,
    options: MatchOptions,
    report: Report | None = None,
    timeline: Timeline | None = None,
    on_event: OnEvent | None = None,
    earlier: Earlier | None = None,
) -> dict[str, Any]:
    """Write everything that one setup hands on, the record last; return the record as written.

    ``out`` is held under its lock. ``report`` renders the report once it is known which LUTs there are; a timeline
    gets a list of its clips' LUTs, and an EDL its CDLs. If a file cannot be written (`OutputError`), the folder is
    recognised as incomplete afterwards. What an ``earlier`` match left in the same folder is taken over where it
    would come out the same.
    """
    setup = result.setup
    stems = _stems(setup)
    luts: dict[str, tuple[LutFile, ...]] = {name: () for name in stems}
    cdls: dict[str, CdlEntry] = {}
    kept = {name: _kept(name, earlier, out, options) for name in stems}
    works = {name: [] if kept[name] else products_of(name, result, options) for name in stems}
    with closing(over(chain.from_iterable(works.values()), lambda work: work())) as made:
        for done, name in enumerate(stems):
            if on_event is not None:
                on_event(Event(stage="write", angle=name, done=done, total=len(setup.angles)))
            for product in (*kept[name], *chain.from_iterable(islice(made, len(works[name])))):
                if isinstance(product, CdlEntry):
                    cdls[name] = product
                    continue
                if isinstance(product, tuple):
                    product, text = product
                    out.write_text(product.path, text)
                luts[name] += (product,)
    ccc = None
    if cdls:
        ccc = f"{file_name(setup.name)}.ccc"
        out.write_text(ccc, ccc_text(list(cdls.values())))
    handed = {
        name: Handed(
            nudge=setup[name].nudge,
            options=options.write,
            products=(*luts[name], *([cdls[name]] if name in cdls else [])),
        )
        for name in stems
    }
    for path, data in (report(handed) if report is not None else {}).items():
        out.write_bytes(path, data)
    record = make_record(result, luts=luts, cdls=cdls, options=options, ccc=ccc)
    if timeline is not None:
        for path, data in timeline_files(timeline, setup.angles, record, file_name(setup.name)).items():
            out.write_bytes(path, data)
    return out.finish(record)


def _kept(
    name: str, earlier: Earlier | None, out: OutputFolder, options: MatchOptions
) -> tuple[LutFile | CdlEntry, ...]:
    """Return what an earlier match handed to an angle, where it would come out the same and stands there still."""
    then = None if earlier is None else earlier.handed.get(name)
    if earlier is None or then is None:
        return ()
    same = then.nudge == earlier.result.setup[name].nudge and then.options == options.write
    stands = same and all(out.keep(file.path, earlier.files.get(file.path)) for file in then.luts)
    return then.products if stands else ()


def _stems(setup: Setup) -> dict[str, str]:
    """Return what each angle's files are called; two names never share a file, whatever the disk ignores."""
    taken: set[str] = set()
    return {angle.name: told_apart(file_name(setup.name, angle.name), taken) for angle in setup.angles}


def expected_names(setup: Setup, options: MatchOptions, timeline: Timeline | None = None) -> list[str]:
    """Return the files that a match of a setup may write beside its report: paths inside the output folder."""
    names = [f"luts/{stem}_{ending}" for stem in _stems(setup).values() for ending in endings(options.write)]
    names += [f"{file_name(setup.name)}.ccc"] if options.write.cdl else []
    return names + (timeline_names(timeline, file_name(setup.name)) if timeline is not None else [])


def products_of(name: str, result: SetupResult, options: MatchOptions) -> list[Callable[[], list[Product]]]:
    """Return the works that make an angle's LUTs, and its CDL where it has a match and one is asked for.

    Of other angles the result need not hold anything yet.
    """
    stem = _stems(result.setup)[name]
    basis = LutBasis.of(name, result, options.write)

    def lut(make: Callable[[], tuple[Cube, LutFile]]) -> list[Product]:
        cube, file = make()
        placed = replace(file, path=f"luts/{stem}_{file.kind}.cube")
        files: list[Product] = [(placed, write_cube(cube))]
        if file.kind == "match" and options.write.clf:
            files.append(_clf(basis, placed, stem))
        return files

    works: list[Callable[[], list[Product]]] = [partial(lut, make) for make in lut_makers(basis)]
    match = basis.match
    if match is not None and options.write.cdl:
        works.append(lambda: [_cdl(basis, match, stem)])
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
    return replace(cube, kind="clf", path=f"luts/{stem}_match.clf", size=0, error=error, note=note), text


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
