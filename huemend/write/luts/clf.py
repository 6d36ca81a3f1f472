"""The exact chain as a Common LUT Format file (SMPTE ST 2136-1), through OpenColorIO.

A .cube samples the chain at its nodes; a CLF carries it: the camera's curve, its gamut, the match as one
matrix whose fourth column takes the flare away, and back. No value is clamped on the way.
"""

from __future__ import annotations

import uuid
from typing import Any

import numpy as np
import PyOpenColorIO as ocio
from numpy.typing import NDArray

from huemend.base.text import xml_text
from huemend.base.units import MID_GREY, acescct_encode
from huemend.encodings.curves import CURVES
from huemend.encodings.ocio import formula
from huemend.errors import HuemendError
from huemend.model import Match

_FORMAT = "Academy/ASC Common LUT Format"


def match_transform(match: Match) -> Any:
    """Return a match as an OpenColorIO GroupTransform on scene-linear ACEScg.

    Returns
    -------
    PyOpenColorIO.GroupTransform
        Empty for an identity.
    """
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
    """Chain OpenColorIO transforms: codes to ACEScg, the match, ACEScg to codes.

    Parameters
    ----------
    decode, encode : PyOpenColorIO.Transform

    Returns
    -------
    PyOpenColorIO.GroupTransform
    """
    group = ocio.GroupTransform()
    for part in (decode, match_transform(match), encode):
        for transform in part if isinstance(part, ocio.GroupTransform) else [part]:
            group.appendTransform(transform)
    return group


def write_clf(chain: Any, *, name: str, description: str, input: str, output: str) -> str:
    """Return the text of a CLF; the same chain and words give the same text, its id included.

    Parameters
    ----------
    chain : PyOpenColorIO.GroupTransform
    name : str
        Short name of the process list.
    description : str
        Where it belongs.
    input, output : str
        Encoding and range on either side.

    Raises
    ------
    HuemendError
        If OpenColorIO cannot express the chain as CLF.
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


def run_chain(chain: Any, codes: NDArray[np.floating[Any]]) -> NDArray[np.float64]:
    """Run codes through a chain in OpenColorIO, in 32-bit floats.

    Parameters
    ----------
    chain : PyOpenColorIO.Transform
    codes : (n, 3) array

    Notes
    -----
    With OpenColorIO's exact logarithms and powers. Hosts mostly leave its fast ones on, which differ from these
    by up to 0.2 codes of 10 bits (docs/standards.md).
    """
    out = np.ascontiguousarray(codes, np.float32).copy()
    if len(out):
        processor = ocio.Config.CreateRaw().getProcessor(chain)
        processor.getOptimizedCPUProcessor(ocio.OPTIMIZATION_LOSSLESS).applyRGB(out)
    return out.astype(float)
