"""Encodings that a setup file defines itself: from their description to a curve and a gamut."""

from __future__ import annotations

from dataclasses import MISSING, fields
from typing import Any

import numpy as np

from huemend.base.units import MID_GREY
from huemend.encodings.curves import CURVES, PublishedCurve
from huemend.encodings.forms import (
    CameraLog,
    CubeRootLog,
    Curve,
    MirroredLog,
    PurePower,
    QuadraticToeLog,
    Table,
    ToedPower,
)
from huemend.encodings.gamuts import GAMUTS, Gamut, rgb_to_xyz
from huemend.errors import EncodingError
from huemend.model import EncodingSpec

#: How far the pieces of a curve may miss each other, in code: half a code of ten bits.
_JOIN = 0.5 / 1023

#: The parametric forms that a setup file may fill in, by the word it uses for them.
FORMS: dict[str, type[Any]] = {
    "camera-log": CameraLog,
    "mirrored-log": MirroredLog,
    "quadratic-toe-log": QuadraticToeLog,
    "cube-root-log": CubeRootLog,
    "toed-power": ToedPower,
    "power": PurePower,
}


def _named(wanted: str, known: dict[str, Any]) -> Any:
    plain = {name.lower().replace(" ", ""): value for name, value in known.items()}
    return plain.get(wanted.lower().replace(" ", ""))


def _form(spec: EncodingSpec, where: str) -> Curve:
    if spec.table:
        try:
            return Table(light=spec.table)
        except ValueError as error:
            raise EncodingError(str(error), where=where) from None
    kind = FORMS.get(spec.form)
    if kind is None:
        raise EncodingError(f'form "{spec.form}" is not known', where=where, todo=f"use one of {', '.join(FORMS)}")
    # `break` is a word that TOML may use and Python may not.
    given = {("break_" if key == "break" else key): value for key, value in spec.parameters.items()}
    wanted = {item.name for item in fields(kind)}
    needed = {item.name for item in fields(kind) if item.default is MISSING}
    if wrong := sorted(given.keys() - wanted) or sorted(needed - given.keys()):
        word = "has no parameter" if given.keys() - wanted else "needs the parameter"
        raise EncodingError(f'form "{spec.form}" {word} "{wrong[0].rstrip("_")}"', where=where)
    form: Curve = kind(**given)
    return form


def curve_from_spec(spec: EncodingSpec) -> PublishedCurve:
    """Return the curve that a description stands for, after a check that it can be used both ways.

    Raises EncodingError if it names no known curve or form, its numbers make no curve that rises, or its
    mid-grey is more than one 10-bit code away from the published one.
    """
    where = f"encoding.{spec.name}"
    if spec.curve:
        curve: PublishedCurve | None = _named(spec.curve, CURVES)
        if curve is None:
            raise EncodingError(f'curve "{spec.curve}" is not known', where=where, todo="see huemend encodings")
    else:
        form = _form(spec, where)
        _check(form, where)
        curve = PublishedCurve(name=spec.name, form=form, source="setup file", defined_in=spec.defined_in)
    if spec.mid_grey_code is not None:
        code = float(curve.form.encode(np.array(MID_GREY))) * 1023
        if abs(code - spec.mid_grey_code) > 1.0:
            raise EncodingError(
                f"an 18 % grey has code {code:.1f} by this definition, not {spec.mid_grey_code:g}",
                where=where,
                todo="check its numbers",
            )
    return curve


def _check(form: Curve, where: str) -> None:
    """Raise unless the curve is finite, rises, and comes back as itself over all codes of ten bits."""
    code = np.linspace(0.0, 1.0, 1024)
    try:
        with np.errstate(all="raise"):
            light = form.decode(code)
            back = form.encode(light)
            # Finely, where the pieces of a log meet: light that rises must not fall back to a smaller code.
            between = form.encode(np.linspace(light[0], light[-1] / 50, 20_001))
    except (FloatingPointError, ValueError, ZeroDivisionError):
        raise EncodingError("its numbers give no curve", where=where, todo="check them") from None
    if not (np.isfinite(light).all() and (np.diff(light) > 0).all()):
        raise EncodingError("its curve does not rise from code to code", where=where, todo="check its numbers")
    if not (np.abs(back - code).max() < _JOIN and np.diff(between).min() > -_JOIN):
        raise EncodingError("its pieces do not meet", where=where, todo="check its numbers")


def gamut_from_spec(spec: EncodingSpec) -> Gamut:
    """Return the gamut that a description stands for; raises EncodingError for an unknown one, or no matrix."""
    where = f"encoding.{spec.name}"
    if spec.gamut:
        known: Gamut | None = _named(spec.gamut, GAMUTS)
        if known is None:
            todo = f"use one of {', '.join(GAMUTS)}, or give primaries"
            raise EncodingError(f'gamut "{spec.gamut}" is not known', where=where, todo=todo)
        return known
    red, green, blue = spec.primaries
    gamut = Gamut(
        name=spec.name,
        red=red,
        green=green,
        blue=blue,
        white=spec.white,
        adaptation=spec.adaptation,
        source="setup file",
    )
    rgb_to_xyz(gamut)
    return gamut
