"""The contact sheet: hero, angle as shot and angle matched in one PNG, on the grey that the report uses."""

from __future__ import annotations

from typing import Any

import numpy as np

from huemend.base.cv import import_cv2
from huemend.model import AngleResult, SetupResult
from huemend.write.report.encoded import Pixels, encode_png
from huemend.write.report.figures import plain_signed
from huemend.write.report.pictures import Gallery, Picture
from huemend.write.report.views import Views
from huemend.write.report.words import VERDICTS

_TILE, _GAP, _LINE = 480, 16, 44
_GROUND, _PAPER = 0x5C, 0xFF


def contact_sheet(result: SetupResult, gallery: Gallery) -> bytes:
    """Return the sheet as PNG.

    One row an angle, each headed by its verdict in words. Without an angle to match, the hero stands alone.
    """
    rows: list[Pixels] = [_words(f"{result.setup.name}, hero: {result.setup.hero}", 32, bold=True)]
    if not result.angles:
        hero = gallery.show(result.stills[result.setup.hero][0])
        rows.append(_strip([(hero, "hero")], gallery))
    for found in result:
        rows.append(_words(_headline(found), 28))
        rows.append(_strip(_pictures(found, result, gallery), gallery))
    return encode_png(np.vstack(rows))


def _headline(found: AngleResult) -> str:
    said = f"{found.angle.name}: {VERDICTS[found.verdict].lower()}"
    if found.delivered is not None:
        said += f", exposure {plain_signed(found.delivered.exposure_stops)} stop"
        said += " (nudged)" if found.angle.nudge else ""
    if found.match is not None and found.held_out is not None:
        before, after = found.held_out.before.mean, found.held_out.after.mean
        said += f", colour difference {before:.1f} to {after:.1f}"
    return said


def _pictures(found: AngleResult, result: SetupResult, gallery: Gallery) -> list[tuple[Picture, str]]:
    views = Views.of(found, result, gallery)
    out = [(views.hero, f"{result.setup.hero}, hero"), (views.before, "as shot")]
    return out if views.after is None else [*out, (views.after, "matched")]


def _strip(pictures: list[tuple[Picture, str]], gallery: Gallery) -> Pixels:
    cv2 = import_cv2()
    tiles = []
    for picture, words in pictures:
        pixels = gallery.pixels[picture.id]
        height, width = pixels.shape[:2]
        scale = _TILE / max(width, height)
        size = max(1, round(width * scale)), max(1, round(height * scale))
        tiles.append((cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), words))
    tallest = max(tile.shape[0] for tile, _ in tiles)
    strip = _blank(tallest + _LINE + _GAP)
    for place, (tile, words) in enumerate(tiles):
        left = _GAP + place * (_TILE + _GAP)
        top = tallest - tile.shape[0]
        strip[top : top + tile.shape[0], left : left + tile.shape[1]] = tile
        strip[tallest : tallest + _LINE] = np.maximum(
            strip[tallest : tallest + _LINE], _words(words, 24, left=left)[-_LINE:]
        )
    return strip


def _blank(height: int) -> Pixels:
    return np.full((height, _GAP + 3 * (_TILE + _GAP), 3), _GROUND, np.uint8)


def _words(words: str, size: int, *, left: int = _GAP, bold: bool = False) -> Pixels:
    """Return a line of text on grey, cut off where the sheet ends."""
    # OpenImageIO brings its own fonts, so that the sheet looks the same on every machine.
    import OpenImageIO as oiio

    strip = _blank(size + 20)
    spec: Any = oiio.ImageSpec(strip.shape[1], strip.shape[0], 3, "uint8")
    image = oiio.ImageBuf(spec)
    image.set_pixels(oiio.ROI(), strip)
    # Those fonts hold Latin, Greek and Cyrillic; what they lack would leave a gap that reads as a space.
    words = "".join(c if ord(c) < 0x0530 and c.isprintable() else "?" for c in words)
    font = "DroidSans-Bold" if bold else "DroidSans"
    baseline = strip.shape[0] - 11
    if not oiio.ImageBufAlgo.render_text(image, left, baseline, words, size, font, (_PAPER / 255,) * 3):
        # A build without fonts: a sheet without words is still a sheet, and the error must not linger.
        image.geterror()
        return strip
    return np.asarray(image.get_pixels("uint8"), np.uint8)
