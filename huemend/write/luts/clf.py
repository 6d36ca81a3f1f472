"""The exact chain as a Common LUT Format file (SMPTE ST 2136-1), through OpenColorIO.

A .cube samples the chain at its nodes; a CLF carries it: the camera's curve, its gamut, the match as one
matrix whose fourth column takes the flare away, and back. No value is clamped on the way.
"""

from __future__ import annotations

import uuid
from dataclasses import replace
from typing import Any

import numpy as np
import PyOpenColorIO as ocio

from huemend.base.arrays import Float, Float64
from huemend.base.text import xml_text
from huemend.base.units import MID_GREY, acescct_encode
from huemend.encodings.curves import CURVES
from huemend.encodings.ocio import decode_transform, encode_transform, formula
from huemend.errors import HuemendError
from huemend.model import Match
from huemend.view import delta_e2000, measurement_lab
from huemend.write.luts.cube import chain_error
from huemend.write.luts.hues import nearest_matrix
from huemend.write.luts.kinds import LutBasis, LutFile, colours_held, lut_title
from huemend.write.luts.notes import joined, mean_and_p95, target_note
from huemend.write.outputs import Output

_FORMAT = "Academy/ASC Common LUT Format"


_NO_SHOULDER = "without the neutral highlights, which a chain of formulas cannot hold: use the .cube for those"


def exact_clf(basis: LutBasis, cube: LutFile, stem: str) -> tuple[LutFile, str]:
    """Chain what an angle's match LUT samples, and measure it as OpenColorIO runs it; return it with its text."""
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
    missed = _without_hues(whole, match, held, result.view_stops)
    note = joined(target_note(shot, target), "" if basis.shoulder is None else _NO_SHOULDER, missed)
    return replace(cube, kind="clf", path=Output.CLF.of(f"{stem}_match"), size=0, error=error, note=note), text


def _without_hues(whole: Match, match: Match, colours: Float, view_stops: float) -> str:
    """Say by how much a chain of formulas misses a match that bends hues; empty where it does not."""
    if not whole.roots.any() or not len(colours):
        return ""
    labs = (measurement_lab(each.apply(colours), view_stops) for each in (whole, match))
    mean, p95 = mean_and_p95(delta_e2000(*labs))
    return (
        f"the nearest 3x3, since a chain of formulas cannot hold what bends hues: it misses the .cube by "
        f"{mean:.2f} CIEDE2000 (p95 {p95:.2f})"
    )


def match_transform(match: Match) -> Any:
    """Return a match as an OpenColorIO GroupTransform on scene-linear ACEScg, empty for an identity."""
    group = ocio.GroupTransform()
    if match.is_identity:
        return group
    matrix = np.eye(4)
    matrix[:3, :3] = match.combined
    offset = np.append(-match.combined @ match.flare, 0.0)
    group.appendTransform(ocio.MatrixTransform(matrix=matrix.ravel().tolist(), offset=offset.tolist()))
    if match.contrast != 1.0:
        pivot = float(acescct_encode(np.asarray(MID_GREY)))
        slope = np.diag([match.contrast] * 3 + [1.0])
        shift = [pivot * (1.0 - match.contrast)] * 3 + [0.0]
        encode, decode = (
            formula(CURVES["ACEScct"].form, direction)
            for direction in (ocio.TRANSFORM_DIR_FORWARD, ocio.TRANSFORM_DIR_INVERSE)
        )
        group.appendTransform(encode)
        group.appendTransform(ocio.MatrixTransform(matrix=slope.ravel().tolist(), offset=shift))
        group.appendTransform(decode)
    return group


def exact_chain(decode: Any, match: Match, encode: Any) -> Any:
    """Chain OpenColorIO transforms: codes to ACEScg, the match, ACEScg to codes."""
    group = ocio.GroupTransform()
    for part in (decode, match_transform(match), encode):
        for transform in part if isinstance(part, ocio.GroupTransform) else [part]:
            group.appendTransform(transform)
    return group


def write_clf(chain: Any, *, name: str, description: str, input: str, output: str) -> str:
    """Return the text of a CLF; the same chain and words give the same text, its id included.

    ``description`` says where it belongs, ``input`` and ``output`` encoding and range on either side. Raises
    HuemendError if OpenColorIO cannot express the chain as CLF.
    """
    facts = chain.getFormatMetadata()
    facts.setName(xml_text(name))
    facts.addChildElement("Description", xml_text(description))
    facts.addChildElement("InputDescriptor", xml_text(input))
    facts.addChildElement("OutputDescriptor", xml_text(output))
    config = ocio.Config.CreateRaw()
    try:
        # OpenColorIO would make up an id; ours follows from the content.
        facts.setID("urn:uuid:00000000-0000-0000-0000-000000000000")
        draft = chain.write(_FORMAT, config=config)
        facts.setID(uuid.uuid5(uuid.NAMESPACE_URL, draft).urn)
        return str(chain.write(_FORMAT, config=config))
    except ocio.Exception as error:
        raise HuemendError(f"OpenColorIO cannot write this chain as CLF ({error})", where=name) from error


def run_chain(chain: Any, codes: Float) -> Float64:
    """Run (n, 3) codes through a chain in OpenColorIO, in 32-bit floats.

    With OpenColorIO's exact logarithms and powers. Hosts mostly leave its fast ones on, which differ from these by
    up to 0.2 codes of 10 bits (docs/standards.md).
    """
    out = np.ascontiguousarray(codes, np.float32).copy()
    if len(out):
        processor = ocio.Config.CreateRaw().getProcessor(chain)
        processor.getOptimizedCPUProcessor(ocio.OPTIMIZATION_LOSSLESS).applyRGB(out)
    return out.astype(float)
