"""The numbers in full, behind a fold."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from huemend.model import AngleResult, ErrorSummary, InputFile, Match, SetupResult
from huemend.write.luts.hues import beyond_matrix
from huemend.write.luts.kinds import LutFile
from huemend.write.report.figures import interval_text, signed, stop_text, stops_of
from huemend.write.report.markup import Child, Markup, element, fold, fragment, scrolling
from huemend.write.report.plots import Frame, marks, panel, text
from huemend.write.report.samples import difference_stops, held_parts
from huemend.write.report.scopes import middle
from huemend.write.report.words import RUNGS, sentence, source_text
from huemend.write.versions import versions

#: Why something was left out on the way to samples; a rule that is not among these stands by its name.
_RULES = {
    "burnt in": "details burnt into both frames",
    "on a screen": "details on a screen that shows the other view",
    "alone": "details that no neighbour bears out",
    "weak": "groups of details too small to believe",
    "contradicted": "details at odds with a larger group",
    "thinned": "samples beyond what a fit needs",
    "clipped": "clipped",
    "dark": "too dark",
    "differs": "places around that look different",
}


def table(caption: str, head: Sequence[str], rows: Sequence[Sequence[Child]], *, across: bool = False) -> Markup:
    """Return a table that scrolls by itself on a narrow screen; ``across`` for one that wants the whole width."""
    body = [
        element("tr", element("th", first, scope="row"), [element("td", cell) for cell in others])
        for first, *others in rows
    ]
    heads = element("tr", [element("th", h, scope="col") if h else element("td") for h in head])
    rest = (element("thead", heads), element("tbody", body))
    return scrolling(
        "scroll across" if across else "scroll", caption, element("table", element("caption", caption), *rest)
    )


_RUNG_MEASURE = "(CIEDE2000 of single samples, the worst of them capped; the table is over surfaces.)"


def _matrix(match: Match, title: str) -> Markup:
    rows: list[list[Child]] = []
    for name, line in zip(("red", "green", "blue"), match.matrix, strict=True):
        rows.append([f"{name} out", *(f"{value:+.4f}".replace("-", "−") for value in line)])
    return table(title, ["", "red in", "green in", "blue in"], rows)


def _error(error: ErrorSummary) -> list[Child]:
    # One surface has no percentile.
    return [f"{error.mean:.2f}", f"{error.p95:.2f}" if error.n > 1 else "–", f"{error.n}"]


def _proof(found: AngleResult) -> Markup:
    held = found.held_out
    if held is None:
        return element("p", "There is no proof: too few samples to hold any out.")
    rows: list[list[Child]] = []
    for label, (before, after) in [("all", (held.before, held.after)), *sorted(held.areas.items())]:
        rows.append([f"{label}, as shot", *_error(before)])
        if found.match is not None:
            rows.append([f"{label}, matched", *_error(after)])
    parts = len(held_parts(found))
    note = f"Every surface was held out once, in {parts} parts, neighbours together. " if parts else ""
    if found.match is not None:
        note += f"With 95 % confidence the mean after the match is at or under {held.upper:.2f}. "
    share = f"{100 * held.clipped_share:.1f} %"
    if share != "0.0 %":
        note += f"{share} of the samples clip in the measurement view and were left out."
    head = ["", "mean", "95th percentile", "surfaces"]
    proof = table("Colour difference on held-out surfaces (CIEDE2000)", head, rows)
    return fragment(proof, element("p", note, class_="fine"))


def _samples(found: AngleResult) -> Markup:
    pairs = found.pairs
    rows: list[list[Child]] = [
        ["candidates: details, faces, areas that look alike in both views", f"{pairs.found}"],
        ["of these, believed", f"{pairs.matched}"],
    ]
    rows += [
        [f"left out: {_RULES.get(rule, rule.replace('_', ' ').replace('-', ' '))}", f"{count}"]
        for rule, count in sorted(pairs.rejected.items())
        if count
    ]
    rows += [
        ["samples, with those grown around what is believed", f"{len(pairs)}"],
        ["of these, the match rests on", f"{int(np.count_nonzero(found.agrees))}"],
    ]
    return table(f"Samples from {source_text(pairs.source)}, against {pairs.reference}", ["", "count"], rows)


def _doubt(found: AngleResult) -> Markup | None:
    held = found.uncertainty
    if held is None:
        return None
    rows: list[list[Child]] = [
        ["typical skin", f"{held.skin_error:.2f}"],
        ["neutrals", f"{held.neutral_error:.2f}"],
        ["saturated colours", f"{held.saturated_error:.2f}"],
    ]
    title = "How far this match may be off (upper end at 90 %; a patch adds noise and gloss of its own)"
    return table(title, ["on", "CIEDE2000"], rows)


def _luts(facts: Sequence[LutFile]) -> Markup | None:
    if not facts:
        return None
    rows: list[list[Child]] = []
    for fact in facts:
        error = fact.error
        kind = fact.kind if fact.matched else f"{fact.kind}, without a match"
        said = f"{kind}: {fact.input}, {fact.input_range} → {fact.output}, {fact.output_range}."
        file = [element("code", fact.path), element("br"), element("small", f"{said} {fact.note}".strip())]
        own = "–" if error is None else f"{error.p99:.2f} / {error.largest:.2f}"
        real = "–" if error is None or math.isnan(error.real_p99) else f"{error.real_p99:.2f}"
        rows.append([file, f"{fact.size}" if fact.size else "exact", own, real])
    title = "LUTs, and what interpolation costs in 10-bit codes (99th percentile / largest)"
    return table(title, ["file", "nodes a side", "colours of this setup", "all real light"], rows, across=True)


def drift_plot(found: AngleResult) -> Markup | None:
    """Draw what is left against the hero at each moment: what leaves zero is a camera or a light that moved."""
    moments = sorted({int(m) for m in found.pairs.moment})
    if len(moments) < 2:
        return None
    match = found.match
    rgb = found.pairs.angle_rgb
    off = difference_stops(found.pairs.reference_rgb, rgb if match is None else match.apply(rgb))
    kept = found.agrees
    frame = Frame.of(
        (-0.5, len(moments) - 0.5), (-0.5, 0.5), size=(320.0, 160.0), margins=(44.0, 10.0, 12.0, 20.0)
    )
    names = ("exposure", "red against green", "blue against green")
    series = ("hero", "before", "after")
    drawn, said = [], []
    for column, (name, kind) in enumerate(zip(names, series, strict=True)):
        left = np.array([middle(off[kept & (found.pairs.moment == m), column]) for m in moments])
        drawn.append(marks(frame, np.arange(len(moments), dtype=float), left, kind, size=3.2))
        said.append(f"{name} {', '.join(signed(float(v)) for v in left)}")
    step = max(1, len(moments) // 8)
    ticks = [(float(i), str(m)) for i, m in enumerate(moments) if i % step == 0]
    levels = [(v, signed(v, 2)) for v in (-0.5, -0.25, 0.0, 0.25, 0.5)]
    shapes = text(frame.x.end, frame.y.end + 8, "□ exposure  △ red  ● blue, against green", anchor="end")
    label = f"Left over by moment, stop: {'; '.join(said)}"
    plot = frame.svg(frame.grid(ticks, levels, zero=(0.0,)), *drawn, shapes, label=label)
    return panel("What is left against the hero at each moment (stop)", plot)


def numbers_section(found: AngleResult, luts: Sequence[LutFile]) -> Markup:
    """Return everything that is known of one angle, folded away."""
    match, parts = found.match, []
    if match is None:
        parts.append(element("p", "No match was made."))
    else:
        measured = _RUNG_MEASURE if "held-out error" in found.explained else ""
        said = f"The match changes {RUNGS[found.rung]}. {sentence(found.explained)} {measured}"
        parts.append(element("p", said.strip()))
        rows: list[list[Child]] = [
            [name, f"{signed(stops, 4)} stop", interval_text(within)] for name, stops, within in stops_of(found)
        ]
        rows += [
            ["flare taken away", ", ".join(f"{v:.6f}" for v in match.flare) if any(match.flare) else "none", ""],
            ["contrast", "as it was" if match.contrast == 1 else f"{match.contrast:.4f}", ""],
        ]
        parts += [
            table("The match, in scene-linear ACEScg", ["", "value", "90 % interval"], rows),
            _matrix(match, "3x3 channel mix, on column vectors, exposure apart"),
        ]
        if found.delivered is not None and found.angle.nudge:
            title = f"With the nudge, at {stop_text(found.delivered.exposure_stops)}: what LUTs and CDL carry"
            parts.append(_matrix(found.delivered, title))
        beyond = beyond_matrix(match)
        if beyond:
            moved = ", ".join(f"{name} by {value:.1f}" for name, value in beyond.items())
            parts.append(element("p", f"Beyond the channel mix it bends hues: {moved} CIEDE2000; greys by none."))
    if found.candidate is not None:
        stops = signed(found.candidate.exposure_stops)
        said = f"The samples alone would have said {stops} stop. That is not safe to use and was not written."
        parts.append(element("p", said))
    rest = (_doubt(found), _proof(found), _samples(found), _luts(luts), drift_plot(found))
    return fold(f"All numbers for {found.angle.name}", element("div", parts, rest, class_="numbers"))


def inputs_table(result: SetupResult) -> Markup:
    """List every file that went in, with its encoding and hash."""
    rows: list[list[Child]] = []
    for item in result.inputs:
        angle = result.setup[item.angle]
        height, width = item.size
        digest = element("code", item.sha256 or "clip")
        form = (f"{angle.encoding}, {angle.range}", f"{item.bit_depth} bit", f"{width} x {height}")
        rows.append([item.angle, item.source, *form, digest])
    head = ["angle", "file", "encoding and range", "depth", "size", "SHA-256"]
    return table(f"Input files of {result.setup.source.name}", head, rows)


def inputs_line(result: SetupResult) -> Markup:
    """Name the files of every angle in one line that paper shows too."""
    said = []
    files: dict[str, list[InputFile]] = {}
    for item in result.inputs:
        files.setdefault(item.angle, []).append(item)
    for name, (first, *more) in files.items():
        digits = f" ({first.sha256[:8]})" if first.sha256 else ""
        said.append(f"{name}: {first.source}{digits}{f' and {len(more)} more' if more else ''}")
    brackets = "; in brackets, the first digits of a file's SHA-256" if any("(" in one for one in said) else ""
    return element("p", f"Made from {', '.join(said)}{brackets}.", class_="made fine")


def versions_line() -> Markup:
    """Name the versions that made this result."""
    here = versions()
    made = [f"{name} {version}" for name, version in sorted(here["libraries"].items()) if version]
    own = here["huemend"] or "of unknown version"
    return element("p", f"Made with huemend {own} on {', '.join(made)}.")
