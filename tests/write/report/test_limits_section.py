"""Limits with a place get a crop of it, as shot and as matched."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from huemend.encodings.registry import find_encoding
from huemend.model import Place, Reason, SetupResult
from huemend.write.luts.shoulder import NeutralShoulder
from huemend.write.report.reason_crops import LIMITS_HEAD
from huemend.write.report.scope_section import series_of

from .factory import gallery_of, make_result, render

pytestmark = pytest.mark.slow

CORNER = Reason(
    code="clips-early",
    text="3.0% of this angle is clipped <here>",
    todo="look",
    place=Place(moment=0, x=0.9, y=0.1, radius=0.02),
)


def with_reasons(result: SetupResult, *reasons: Reason) -> SetupResult:
    first, *others = result.angles
    return replace(result, angles=(replace(first, reasons=(*first.reasons, *reasons)), *others))


@pytest.fixture(scope="module")
def page() -> str:
    return render(with_reasons(make_result(), CORNER))["report.html"].decode()


def section(page: str) -> str:
    start = page.index(f"<summary>{LIMITS_HEAD}</summary>")
    return page[start : page.index("</details>", start)]


def test_the_place_is_shown_as_shot_and_as_matched(page: str) -> None:
    own = section(page)
    assert "3.0% of this angle is clipped &lt;here&gt;." in own
    labels = re.findall(r'aria-label="([^"]*)"', own)
    assert labels == ["Crop of the limit, as shot", "Crop of the limit, matched"]
    shown = re.findall(r'href="#(p-[^"]*)"', own)
    assert len(shown) == 2 and shown[1] == f"{shown[0]}-matched"
    for box, name in zip(re.findall(r'viewBox="([^"]*)"', own), shown, strict=True):
        left, top, width, height = (float(value) for value in box.split())
        size = re.search(rf'<image id="{name}"[^>]*width="(\d+)" height="(\d+)"', page)
        assert size is not None
        full, tall = int(size[1]), int(size[2])
        # Inside of the picture, and about the place.
        assert 0 <= left and 0 <= top and left + width <= full + 0.1 and top + height <= tall + 0.1
        assert left < 0.9 * full < left + width and top < 0.1 * tall < top + height
        assert width == height == pytest.approx(0.15 * full, abs=0.2)


def test_nothing_is_shown_without_a_place_or_without_pictures() -> None:
    bare = with_reasons(make_result(), replace(CORNER, place=None))
    assert LIMITS_HEAD not in render(bare)["report.html"].decode()
    told = with_reasons(make_result(), CORNER)
    without = render(told, pictures=False)["report.html"].decode()
    assert LIMITS_HEAD not in without and "clipped &lt;here&gt;" in without


def test_pictures_of_an_angle_with_a_shoulder_run_to_neutral_as_its_luts_do() -> None:
    result = make_result()
    name = result.angles[0].angle.name
    still, shot = result.stills[name][0], find_encoding("S-Log3/S-Gamut3.Cine")
    bright = replace(still, rgb=np.full_like(still.rgb, 0.8), clip_light=(0.7,) * 3)
    shoulder = NeutralShoulder.of([bright], shot, range="full", stops=1.0)
    assert shoulder is not None
    plain, rolled = (
        gallery.pixels[gallery.show(bright, result.angles[0]).id]
        for gallery in (
            gallery_of(result),
            gallery_of(result, shoulders={name: shoulder}),
        )
    )
    assert np.ptp(plain[0, 0].astype(int)) > np.ptp(rolled[0, 0].astype(int))
    assert np.ptp(rolled[0, 0].astype(int)) <= 2


def test_scopes_of_an_angle_with_a_shoulder_show_what_its_luts_do() -> None:
    result = make_result()
    angle, hero = result.angles[0], result.stills[result.setup.hero][0]
    still, shot = result.stills[angle.angle.name][0], find_encoding("S-Log3/S-Gamut3.Cine")
    bright = replace(still, rgb=np.full_like(still.rgb, 0.8), clip_light=(0.7,) * 3)
    shoulder = NeutralShoulder.of([bright], shot, range="full", stops=1.0)
    plain, rolled = (series_of(angle, hero, bright, 0.0, by)[-1].signal for by in (None, shoulder))
    assert np.ptp(plain[0, 0]) > 0.01
    assert np.ptp(rolled[0, 0]) < 0.002
