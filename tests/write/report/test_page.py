"""The report as a file: complete, self-contained, escaped, the same every time."""

from __future__ import annotations

import base64
import hashlib
import re
import time
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from huemend.model import AngleResult, Verdict
from huemend.options import ReportOptions
from huemend.write.report.motion import RATE
from huemend.write.report.pictures import moment_shown, still_at, with_moments_shown
from huemend.write.report.strip_section import NOTHING_SHARED
from huemend.write.report.summary import LIMITS, verdict_mark

from .factory import gallery_of, make_luts, make_result, moving, render


class Outline(HTMLParser):
    """Collects tags and text, and checks that every tag is closed in order."""

    VOID = frozenset({"meta", "link", "br", "img", "input"})

    def __init__(self, page):
        super().__init__()
        self.open, self.tags, self.words, self.ids = [], [], [], []
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.ids += [value for key, value in attrs if key == "id"]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] not in {"style", "script"}:
            self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


@pytest.fixture(scope="module")
def page(files):
    return files["report.html"].decode()


@pytest.fixture(scope="module")
def outline(page):
    return Outline(page)


def test_says_what_a_reader_needs_first(outline, page):
    text = outline.text
    top = text[: text.index("All numbers for left")]
    for words in ("left", "Matched", "right", "Review", "Next:", "adds exposure, stop", "+0.43", " to +"):
        assert words in top, words
    assert page.count("<span>as shot</span><span>hero</span><span>matched</span>") >= 2
    assert "luts/glaze-table_left_match.cube" in top
    assert "Decide at the cut whether the people or the wall should agree." in text
    for head, words in LIMITS:
        assert head in text
        assert words in text


def test_paper_has_the_whole_pictures_of_every_angle(page):
    assert page.count('class="row row-3 on-paper"') == 2
    assert "hero hero" not in Outline(page).text


def test_nothing_is_said_twice(outline):
    for result_says in (
        "Held-out samples agree with the hero over most of the frame.",
        "Samples near the window say 0.3 stop more than those on the people.",
        "luts/glaze-table_left_match.cube first on the clip",
        *(words for _, words in LIMITS),
    ):
        assert outline.text.count(result_says) == 1, result_says


def test_has_every_part(outline):
    for words in (
        "Wipe", "Cut check", "luminance only", "held out for proof", "The worst samples", "Where it still differs",
        "Is the exposure level?", "Is it balanced?", "Does this person's skin agree with itself?",
        "a guide, never a target",
        "All numbers for left", "Name what you know", "Files and versions", "SHA-256", "opencolorio",
    ):  # fmt: skip
        assert words in outline.text, words
    assert [attrs["role"] for _, attrs in outline.tags if attrs.get("role") == "slider"] == ["slider"] * 4


def test_is_well_formed_and_every_reference_resolves(page, outline):
    assert len(outline.ids) == len(set(outline.ids))
    for tag, attrs in outline.tags:
        href = attrs.get("href", "")
        if tag in {"use", "a"} and href.startswith("#"):
            assert href[1:] in outline.ids
    assert "nan" not in re.findall(r'\b[dxy]="([^"]*)"', page)


@pytest.mark.parametrize("name", ["report.html", "summary.html"])
def test_nothing_comes_from_elsewhere_and_only_its_own_script_may_run(files, name):
    page = files[name].decode()
    for tag, attrs in Outline(page).tags:
        assert not any(key.startswith("on") or key == "style" for key in attrs), "the policy would refuse it"
        for key in ("src", "href"):
            assert attrs.get(key, "#").startswith(("#", "data:")), (tag, attrs)
    assert not re.search(r"https?://|@import|url\((?!#)", page)
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)[1].replace("&#x27;", "'")
    assert "default-src 'none'" in policy
    for kind in ("style", "script"):
        for code in re.findall(rf"<{kind}>(.*?)</{kind}>", page, re.S):
            digest = base64.b64encode(hashlib.sha256(code.encode()).digest()).decode()
            assert f"{kind}-src 'sha256-{digest}'" in policy


def test_names_cannot_become_markup():
    nasty = "</title><script>alert(1)</script>\"' &amp;"
    result = make_result(width=160, samples=20, name=nasty, angle_names=(nasty, "<img src=x onerror=alert(1)>"))
    files = render(result, luts=make_luts(result))
    for name in ("report.html", "summary.html"):
        page = files[name].decode()
        assert page.count("<script>") == 1
        assert not re.search("<img src=x", page)
        assert nasty in Outline(page).text


def test_same_result_same_bytes(files, result):
    assert render(result, luts=make_luts(result)) == files


def test_an_unsolved_angle_shows_no_match(unsolved):
    text = Outline(render(unsolved, luts=make_luts(unsolved))["report.html"].decode()).text
    assert text.index("Look here first right: no match") < text.index("All numbers for left")
    right = text[text.index("right : unsolved") :]
    assert NOTHING_SHARED in right
    assert "Or else balance this angle by hand." in right
    assert "Wipe" not in right
    assert "not measured" in text
    # Its evidence may have climbed a rung of the ladder; no match did.
    assert text.count("No match was made.") == sum(angle.match is None for angle in unsolved)


def test_a_lone_hero_is_said_to_be_alone(result):
    from dataclasses import replace

    hero = result.setup.hero
    setup = replace(result.setup, angles=(result.setup[hero],))
    alone = replace(result, setup=setup, angles=(), stills={hero: result.stills[hero]}, inputs=result.inputs[:1])
    files = render(alone)
    assert "there was nothing to match" in Outline(files["report.html"].decode()).text
    assert len(files["contact.png"]) > 1000


def test_an_angle_that_nothing_may_be_said_of(result):
    """No samples on clean ground, NaN errors, all clipped: the page still says what it knows."""
    from dataclasses import replace

    found = result.angles[0]
    held = replace(
        found.held_out,
        error_before=np.full(len(found.pairs), np.nan),
        error_after=np.full(len(found.pairs), np.nan),
    )
    dark = replace(found.pairs, angle_rgb=np.zeros_like(found.pairs.angle_rgb))
    blind: AngleResult = replace(found, held_out=held, pairs=dark, uncertainty=None)
    text = Outline(render(replace(result, angles=(blind,)))["report.html"].decode()).text
    assert "There were no samples to hold out, so there is nothing to list." in text


def test_without_pictures_nobody_is_shown(result):
    files = render(result, luts=make_luts(result), pictures=False)
    assert set(files) == {"report.html", "summary.html"}
    page = files["report.html"].decode()
    assert "image/jpeg" not in page
    assert "image/png" not in page
    # What is left are the traces of the scopes, which show levels and not people.
    assert set(re.findall(r'<image [^>]*class="([^"]*)"', page)) == {"ink"}
    assert "Pictures were left out of this report." in Outline(page).text


def test_several_moments_have_a_drift_plot(unsolved):
    result = make_result(width=240, samples=90, moments=3)
    text = Outline(render(result)["report.html"].decode()).text
    assert "Moment 1 of 3 is shown" in text
    assert "What is left against the hero at each moment" in text
    assert "at each moment" not in Outline(render(unsolved)["report.html"].decode()).text


def test_a_small_moment_is_shown_where_the_large_ones_hold_no_sample():
    result = make_result(width=240, samples=90, moments=2)

    def small(still):
        cut = {name: getattr(still, name)[::2, ::2] for name in ("rgb", "valid", "clipped")}
        return replace(still, **cut, reduced=2.0) if still.moment else still

    stills = {name: tuple(small(still) for still in own) for name, own in result.stills.items()}
    left = result["left"]
    later = replace(left, pairs=replace(left.pairs, moment=np.ones_like(left.pairs.moment)))
    shown = with_moments_shown(replace(result, stills=stills, angles=(later, *result.angles[1:])))
    assert moment_shown(later, stills, "wide") == 0 and moment_shown(later, shown.stills, "wide") == 1
    for name in ("wide", "left"):
        first, second = shown.stills[name]
        assert first is stills[name][0] and still_at(shown.stills[name], 1) is second
        assert second.rgb.shape == first.rgb.shape and second.valid.shape == first.valid.shape


@pytest.mark.slow
def test_three_angles_at_full_size_fit_two_and_a_half_megabytes():
    result = make_result(width=1920, samples=2000, angle_names=("left", "right", "high"), moments=8)
    count = round(ReportOptions().motion_seconds * RATE)
    # Of clips it holds motion as well, where that is asked for.
    moves = moving(result, count, 128)
    gallery = gallery_of(result, motion=moves)
    start = time.process_time()
    files = render(result, luts=make_luts(result), gallery=gallery)
    seconds = time.process_time() - start
    assert len(files["report.html"]) < 2.5e6
    # A bound against blunders, not a benchmark: the work takes one to two seconds of one core.
    assert seconds < 15


@pytest.mark.slow
def test_many_angles_share_the_room():
    result = make_result(width=1280, samples=40)
    from dataclasses import replace

    more, angles, stills = [], [result.setup.angles[0]], dict(result.stills)
    for n in range(9):
        angle = replace(result.angles[n % 2].angle, name=f"cam {n}")
        more.append(replace(result.angles[n % 2], angle=angle))
        angles.append(angle)
        own = result.stills[result.angles[n % 2].angle.name]
        stills[angle.name] = tuple(replace(still, angle=angle.name) for still in own)
    crowd = replace(
        result, setup=replace(result.setup, angles=tuple(angles)), angles=tuple(more), stills=stills, inputs=()
    )
    assert len(render(crowd)["report.html"]) < 8e6


def test_verdicts_differ_in_shape():
    assert len({verdict_mark(v) for v in Verdict}) == 3


def test_nothing_but_scopes_has_a_hue(page):
    """A tinted page would bias the eye: every colour of the style sheet is grey, the two scope series apart."""
    style = re.search(r"<style>(.*?)</style>", page, re.S)[1]
    tinted = {
        name
        for name, code in re.findall(r"([\w-]+): (#[0-9a-f]+)", style)
        if len(set(re.findall("..", code[1:] if len(code) == 7 else "".join(c * 2 for c in code[1:])))) > 1
    }
    assert tinted == {"--before", "--after"}
    assert not re.search(r"\b(rgb|hsl|oklch|color)\(|: (red|green|blue|orange|purple)\b", style)
