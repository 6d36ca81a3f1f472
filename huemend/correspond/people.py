"""People in a picture: patches of the skin of each face, and what is worn below it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from huemend.base.arrays import Float, Float64
from huemend.base.units import AP1_LUMINANCE, FROM_MAD
from huemend.correspond.face_finder import Face, find_faces, find_faces_again, scaled_places
from huemend.model import LinearStill
from huemend.options import FaceOptions

# How far below the mouth clothes are looked at, in face lengths: past the neck, above a table.
_BELOW = (2.2, 2.8, 3.4)
# Clothes darker than this share of the skin are all one.
_BLACK = 0.04


@dataclass(frozen=True, kw_only=True, eq=False)
class SkinPatch:
    """A piece of somebody's skin."""

    #: (3,) float64, scene-linear ACEScg.
    rgb: Float
    #: Relative standard error of the ratios of the channels.
    noise: float
    #: Standard deviation of the natural logarithm of luminance within the patch.
    shading: float
    #: (2,) float64. x, y in pixels of the LinearStill.
    place: Float
    radius: float

    def scaled(self, times: float) -> SkinPatch:
        """Return the same on a picture so many times as large."""
        return replace(self, place=scaled_places(self.place, times), radius=self.radius * times)


@dataclass(frozen=True, kw_only=True, eq=False)
class Person:
    """One face of one picture, as what is known of whose it is."""

    face: Face
    #: Mapping of part of the face to SkinPatch.
    patches: Mapping[str, SkinPatch]
    #: (3,) float64 or None. Colour of what is worn below, against the skin, in stops; None where it is not seen.
    clothes: Float | None


def find_people(
    still: LinearStill, options: FaceOptions, known: Sequence[Person] | None = None
) -> tuple[Person, ...]:
    """Find the faces of a picture that show skin, from left to right.

    ``known`` are those of an earlier picture of a camera that has not moved: then less is looked at. Places are
    those of working resolution, whether the picture was made smaller or not.
    """
    people = []
    faces = (
        find_faces(still, options)
        if known is None
        else find_faces_again(still, [person.face.scaled(1 / still.reduced) for person in known], options)
    )
    for face in faces:
        patches = skin_patches(still, face, options)
        if patches:
            clothes = _clothes(still, face, patches)
            large = {part: patch.scaled(still.reduced) for part, patch in patches.items()}
            people.append(Person(face=face.scaled(still.reduced), patches=large, clothes=clothes))
    return tuple(people)


def skin_patches(still: LinearStill, face: Face, options: FaceOptions) -> dict[str, SkinPatch]:
    """Return forehead and cheeks of a face where they show skin that is lit and not shining."""
    eyes, mouth = face.eyes.mean(0), face.mouth.mean(0)
    up = (eyes - mouth) / max(face.size, 1e-9)
    places = {
        "forehead": eyes + 0.55 * face.size * up,
        "left cheek": 0.5 * (face.eyes[0] + face.mouth[0]),
        "right cheek": 0.5 * (face.eyes[1] + face.mouth[1]),
    }
    found = {}
    for part, place in places.items():
        patch = _patch(still, np.asarray(place, float), options.patch * face.size, options)
        if patch is not None:
            found[part] = patch
    return _of_one_skin(found, options)


def _patch(still: LinearStill, place: Float, radius: float, options: FaceOptions) -> SkinPatch | None:
    rgb = _disc(still, place, max(radius, 1.5))
    if rgb is None or len(rgb) < options.fewest_pixels:
        return None
    luminance = np.maximum(rgb @ AP1_LUMINANCE, 1e-6)
    # Shine and highlights are brighter than the skin around and greyer; pores, hair and shadow edges darker.
    middle = float(np.median(luminance))
    matt = (luminance < options.shine * middle) & (luminance > options.shade * middle)
    ratio = rgb / luminance[:, None]
    matt &= ratio[:, 0] > np.quantile(ratio[:, 0], options.greyest)
    if matt.sum() < options.fewest_pixels:
        return None
    log, ratio = np.log(luminance[matt]), ratio[matt]
    centre = np.median(ratio, axis=0)
    skin = np.exp(np.median(log)) * centre / (centre @ AP1_LUMINANCE)
    if skin @ AP1_LUMINANCE < options.darkest or not _looks_like_skin(skin, options):
        return None
    spread = FROM_MAD * np.median(np.abs(ratio - centre), axis=0)
    # Where a pixel's noise is as much as that, picking pixels by their light and their red moves what they show.
    if (spread > options.noisiest * centre).any():
        return None
    return SkinPatch(
        rgb=skin,
        noise=float(np.hypot(spread.max() / np.sqrt(len(ratio)), 0.004)),
        shading=float(FROM_MAD * np.median(np.abs(log - np.median(log)))),
        place=place,
        radius=max(radius, 1.5),
    )


def _disc(still: LinearStill, place: Float, radius: float) -> Float64 | None:
    """Return the pixels of a disc, or None where a part of it is outside the picture, clipped or ignored."""
    height, width = still.clipped.shape
    x0, y0 = np.floor(place - radius).astype(int)
    x1, y1 = np.ceil(place + radius).astype(int) + 1
    if x0 < 0 or y0 < 0 or x1 > width or y1 > height:
        return None
    y, x = np.mgrid[y0:y1, x0:x1]
    inside = np.hypot(x - place[0], y - place[1]) <= radius
    spoilt = still.clipped[y0:y1, x0:x1][inside]
    if still.ignored is not None:
        spoilt = spoilt | still.ignored[y0:y1, x0:x1][inside]
    if spoilt.any():
        return None
    return np.asarray(still.rgb[y0:y1, x0:x1][inside], float)


def _looks_like_skin(rgb: Float, options: FaceOptions) -> bool:
    """Say whether a colour could be skin under a light that a camera is roughly balanced for: no mask or beard.

    Skin reflects red more than green, and green hardly less than blue, whatever its depth.
    """
    red, green, blue = np.log2(np.maximum(rgb, 1e-6))
    low, high = options.skin_red_green
    return bool(low < red - green < high and blue - green < options.skin_blue_green)


def _of_one_skin(found: dict[str, SkinPatch], options: FaceOptions) -> dict[str, SkinPatch]:
    """Leave out a part whose ratios are far from the others': hair in the forehead, a hand, a strap."""
    if len(found) < 3:
        return found
    chroma = {part: np.log2(patch.rgb[[0, 2]] / patch.rgb[1]) for part, patch in found.items()}
    middle = np.median(list(chroma.values()), axis=0)
    return {part: found[part] for part, value in chroma.items() if np.abs(value - middle).max() < options.one_skin}


def _clothes(still: LinearStill, face: Face, patches: dict[str, SkinPatch]) -> Float64 | None:
    """Return the colour of what is worn below a face against the skin of that face, in stops of each channel.

    What differs between two cameras (exposure and balance) is in both, and cancels.
    """
    mouth = face.mouth.mean(0)
    down = np.array([0.0, 1.0])
    rows = []
    for below in _BELOW:
        rgb = _disc(still, mouth + below * face.size * down, max(0.45 * face.size, 2.0))
        if rgb is not None:
            rows.append(np.median(rgb, axis=0))
    if not rows:
        return None
    skin = np.median([patch.rgb for patch in patches.values()], axis=0)
    # Black is black: how black depends on noise and flare, not on who wears it.
    out: Float64 = np.log2(np.maximum(np.median(rows, axis=0) / np.maximum(skin, 1e-6), _BLACK))
    return out
