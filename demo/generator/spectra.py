"""Light and surfaces in 18 wavelength bands.

The whole kit lives in one small spectral world: 18 bands of equal width from 400 to 700 nm. A reflectance or a
light is a vector of 18 numbers, its averages over the bands. Surfaces are measured everyday objects
(``data/reflectances.csv``) and the painted patches of a colour chart that colour-science carries; lights are
CIE illuminants, measured lamps (colour-science) and Planck radiators.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "BANDS",
    "BAND_EDGES",
    "average_over_bands",
    "light",
    "reflectance",
    "surface_names",
    "training_surfaces",
]

Array = NDArray[np.float64]

DATA = Path(__file__).parent / "data"

#: Edges and centres of the bands in nanometres.
BAND_EDGES: Array = np.linspace(400.0, 700.0, 19)
BANDS: Array = (BAND_EDGES[1:] + BAND_EDGES[:-1]) / 2


def average_over_bands(wavelengths: Array, values: Array) -> Array:
    """Average a spectrum over each band.

    Parameters
    ----------
    wavelengths : (n,) array
        Nanometres, ascending.
    values : (n,) or (n, k) array

    Returns
    -------
    (18,) or (18, k) array
    """
    fine = np.arange(400.5, 700.0, 1.0)
    columns = np.asarray(values, float).reshape(len(wavelengths), -1)
    dense = np.stack([np.interp(fine, wavelengths, column) for column in columns.T], axis=1)
    index = np.clip(np.searchsorted(BAND_EDGES, fine) - 1, 0, len(BANDS) - 1)
    out = np.stack([dense[index == band].mean(0) for band in range(len(BANDS))])
    return out[:, 0] if np.ndim(values) == 1 else out


def read_table(name: str) -> tuple[Array, dict[str, Array]]:
    """Read a CSV of spectra from ``data``: wavelengths, and one column a spectrum; lines with # are comments."""
    with open(DATA / name, encoding="utf-8", newline="") as file:
        rows = list(csv.reader(line for line in file if not line.startswith("#")))
    body = np.array(rows[1:], dtype=float)
    return body[:, 0], {label: body[:, i] for i, label in enumerate(rows[0]) if i}


@cache
def _surfaces() -> dict[str, Array]:
    import colour

    wavelengths, columns = read_table("reflectances.csv")
    table = {name: average_over_bands(wavelengths, values) for name, values in columns.items()}
    for name, sd in colour.SDS_COLOURCHECKERS["BabelColor Average"].items():
        label = name.replace("(1.5 D)", "").split("(")[0].strip()
        table[f"paint {label}"] = average_over_bands(sd.wavelengths, sd.values)
    for values in table.values():
        values.setflags(write=False)
    return table


def surface_names() -> list[str]:
    """Names that :func:`reflectance` knows."""
    return sorted(_surfaces())


def reflectance(name: str) -> Array:
    """Reflectance of a named surface, (18,)."""
    table = _surfaces()
    if name not in table:
        import difflib

        close = difflib.get_close_matches(name, table, n=3)
        raise KeyError(f"no surface is called {name!r}; close names: {close}")
    return table[name]


@cache
def light(name: str) -> Array:
    """Relative power of a named light, (18,), scaled to unit luminance.

    Parameters
    ----------
    name : str
        ``"D55"``, ``"A"``, ``"LED-B3"`` and so on as in ``colour.SDS_ILLUMINANTS``; ``"3200K"`` for a Planck
        radiator; ``"6500K daylight"`` for a CIE daylight; ``"band 450"`` for a narrow LED with its peak there;
        ``"LED-B3+0.2*band 450"`` for a mixture.
    """
    import colour

    if "+" in name:
        mixed = np.zeros(len(BANDS))
        for term in name.split("+"):
            share, _, lamp = term.rpartition("*")
            mixed += (float(share) if share else 1.0) * light(lamp)
        return _unit_luminance(mixed)
    shape = colour.SpectralShape(380, 780, 5)
    if name.endswith("K daylight"):
        xy = colour.temperature.CCT_to_xy_CIE_D(float(name[:-10]) * 1.4388 / 1.438)
        sd = colour.sd_CIE_illuminant_D_series(xy)
    elif name.endswith("K"):
        sd = colour.sd_blackbody(float(name[:-1]), shape)
    elif name.startswith("band "):
        peak = float(name[5:])
        fine = np.arange(380.0, 781.0)
        return _unit_luminance(average_over_bands(fine, np.exp(-0.5 * ((fine - peak) / 12.0) ** 2)))
    else:
        sd = colour.SDS_ILLUMINANTS[name]
    return _unit_luminance(average_over_bands(sd.wavelengths, sd.values))


@cache
def observer() -> Array:
    """CIE 1931 2 degree colour-matching functions in the bands, (18, 3)."""
    import colour

    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    return average_over_bands(cmfs.wavelengths, cmfs.values)


def _unit_luminance(power: Array) -> Array:
    out = power / (power @ observer()[:, 1]) * observer()[:, 1].sum()
    out.setflags(write=False)
    return out


@cache
def training_surfaces() -> Array:
    """The 190 reflectances on which input transforms are fitted, (190, 18).

    Source: the training data of the ACES raw converter, as packaged in colour-science.
    """
    import colour

    data = colour.characterisation.read_training_data_rawtoaces_v1()
    return average_over_bands(data.wavelengths, data.values).T
