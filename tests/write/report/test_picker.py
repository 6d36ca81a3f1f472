"""The picker reads back what the setup file marks already."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from html import unescape

from huemend.model import Area, MarkedArea, Marks, NamedPair

from .factory import make_result, render


def box(left: float, top: float, right: float, bottom: float) -> Area:
    return Area(points=((left, top), (right, top), (right, bottom), (left, bottom)))


def test_marks_of_the_setup_file_are_drawn_where_they_are() -> None:
    result = make_result(width=320, samples=60, crop=(0.1, 0.0, 0.1, 0.2))
    marks = Marks(
        pairs=(
            NamedPair(
                name="apron <b>", areas={"wide": box(0.25, 0.5, 0.5, 0.75), "left": box(0.3, 0.4, 0.5, 0.6)}
            ),
        ),
        ignore=(MarkedArea(angle="left", area=box(0.1, 0.0, 0.5, 0.4)),),
        neutral=(MarkedArea(angle="right", area=box(0.5, 0.2, 0.9, 0.8)),),
    )
    setup = replace(result.setup, marks=replace(marks, least_error_on=("wall",), keep_as_shot=("apron <b>",)))
    page = render(replace(result, setup=setup))["report.html"].decode()
    assert (
        "pair apron &lt;b&gt;, an area of left left out, a neutral of right, wall comes first, "
        "apron &lt;b&gt; stays as shot" in page
    )
    names = re.search(r'data-names="([^"]*)"', page).group(1)
    assert json.loads(unescape(names)) == {"least_error_on": ["wall"], "keep_as_shot": ["apron <b>"]}
    surfaces = page.split('<figure class="surface"')[1:]
    size = [tuple(map(float, re.search(r'viewBox="0 0 (\S+) (\S+)"', one).groups())) for one in surfaces]
    drawn = [
        [
            [tuple(map(float, p.split(","))) for p in points.split()]
            for points in re.findall(r'points="([^"]*)" class="known"', one)
        ]
        for one in surfaces
    ]
    (width, height) = size[0]
    assert drawn[0][0][0] == (round(0.25 * width, 1), round(0.5 * height, 1)), "the hero is not cropped"
    (width, height) = size[1]
    # A tenth is left out on the left and on the right, a fifth at the bottom.
    assert drawn[1][0][0] == (round(0.2 / 0.8 * width, 1), round(0.4 / 0.8 * height, 1))
    assert drawn[1][1][0] == (0.0, 0.0)
    assert len(drawn[2]) == 1
