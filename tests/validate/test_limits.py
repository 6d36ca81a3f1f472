"""What no match can mend is said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from huemend.model import LinearStill, Match
from huemend.model.reasons import Code
from huemend.options import ValidateOptions
from huemend.validate.limits import clipping_notes, rendered_doubts
from huemend.view import delta_e2000, measurement_lab

OPTIONS = ValidateOptions()


def still(name: str, top: float, clipped: bool) -> LinearStill:
    rgb = np.full((60, 100, 3), 0.2, np.float32)
    rgb[:10, :20] = top
    mask = np.zeros((60, 100), bool)
    mask[:10, :20] = clipped
    return LinearStill(
        rgb=rgb, valid=~mask, clipped=mask, angle=name, moment=0, source=f"{name}.png", full_size=(60, 100)
    )


def test_an_angle_that_clips_below_the_hero_is_told() -> None:
    (note,) = clipping_notes(still("wide", 9.0, False), still("left", 4.0, True), Match(), OPTIONS, view_stops=0.0)
    assert note.code == "clips-early" and note.text.startswith("3.3%")
    # The clipped corner: rows 0 to 9, columns 0 to 19, of 60 rows and 100 columns.
    assert note.place is not None and note.place.moment == 0
    assert 0.0 < note.place.x < 0.2 and note.place.y == pytest.approx(5 / 60, abs=0.02)
    assert 0.04 < note.place.radius < 0.15


def test_the_match_counts_in_where_it_clips() -> None:
    # Two stops up, the same clip lies above all that the hero shows.
    up = Match(exposure_stops=2.0)
    assert clipping_notes(still("wide", 9.0, False), still("left", 4.0, True), up, OPTIONS, view_stops=0.0) == ()


def test_nothing_clipped_or_a_hero_that_clips_as_well_is_not_told() -> None:
    assert (
        clipping_notes(still("wide", 9.0, False), still("left", 4.0, False), Match(), OPTIONS, view_stops=0.0)
        == ()
    )
    assert (
        clipping_notes(still("wide", 9.0, True), still("left", 4.0, True), Match(), OPTIONS, view_stops=0.0) == ()
    )


def noisy(share: float, *, noise: float = 0.02, pile: bool = True) -> LinearStill:
    """A picture whose left part is bright: all at one value, as what clipped before it was log, or a wall."""
    rng = np.random.default_rng(3)
    light = np.full((60, 100), 0.2)
    light[:, : round(100 * share)] = 1.0
    # Shot noise: what is brighter has less of it, in proportion.
    light *= 1 + noise * np.sqrt(0.18 / light) * rng.normal(size=light.shape)
    if pile:
        light = np.minimum(light, 0.97)
    whole = still("left", 0.2, False)
    return replace(whole, rgb=np.repeat(light[..., None], 3, axis=2).astype(np.float32), noise=noise)


def test_what_was_clipped_before_it_was_written_as_log_is_seen() -> None:
    assert noisy(0.3).without_detail.mean() == pytest.approx(0.3, abs=0.01)
    assert not noisy(0.3, pile=False).without_detail.any(), "a wall is bright, and noise says that it is held"
    assert not noisy(0.03).without_detail.any(), "too little to tell from a white card"
    assert not noisy(0.3, noise=0.0).without_detail.any(), "a drawing is flat everywhere"


def test_much_that_clips_asks_for_a_look_and_a_hero_that_does_is_told() -> None:
    whole, off = noisy(0.3, pile=False), replace(noisy(0.3), rgb=noisy(0.3).rgb * np.float32(0.5))
    (reason,) = clipping_notes(whole, off, Match(), OPTIONS, view_stops=0.0)
    assert (reason.code, Code(reason.code).effect) == ("clipped", "review") and reason.text.startswith("30% of")
    (reason,) = clipping_notes(noisy(0.3), whole, Match(), OPTIONS, view_stops=0.0)
    assert (reason.code, Code(reason.code).effect) == ("hero-clips", "told beside the verdict")


def test_a_hero_that_clips_far_below_an_angle_asks_for_a_look() -> None:
    """The proof leaves out what is clipped: nothing in it tells of a third of the picture, a stop too bright."""
    hero, angle = replace(noisy(0.3), rgb=noisy(0.3).rgb * np.float32(0.5)), noisy(0.3, pile=False)
    (reason,) = clipping_notes(hero, angle, Match(), OPTIONS, view_stops=0.0)
    assert reason.code == "clipped" and reason.text.startswith("30% of the hero")
    assert reason.place is not None and reason.place.x < 0.3
    labs = (measurement_lab(np.full((1, 3), light)) for light in (1.0, 0.485))
    off = float(reason.text.partition("goes beyond, by ")[2].split()[0])
    assert off == pytest.approx(0.3 * delta_e2000(*labs)[0], abs=0.2)
    assert clipping_notes(hero, angle, Match(exposure_stops=-1.1), OPTIONS, view_stops=0.0) == ()


def test_a_picture_made_for_a_display_is_doubted() -> None:
    (doubt,) = rendered_doubts("BT.709 display", True)
    assert doubt.code == "rendered" and "BT.709 display" in doubt.text
    assert doubt.place is None
    assert rendered_doubts("V-Log/V-Gamut", False) == ()


def test_a_knee_is_looked_for_in_the_highlights_that_are_held() -> None:
    (doubt,) = rendered_doubts("BT.709 display", True, still("left", 0.9, False))
    assert doubt.place is not None and doubt.place.x < 0.2 and doubt.place.y < 1 / 6


def test_where_the_dimmest_of_what_is_clipped_lies_below_the_hero_is_told() -> None:
    # Half of the clipped area is a red lamp that clips in one channel early; a window beside it clips far above.
    angle = still("left", 12.0, True)
    rgb = np.array(angle.rgb)
    rgb[:10, :10] = 4.0
    assert clipping_notes(still("wide", 6.0, False), replace(angle, rgb=rgb), Match(), OPTIONS, view_stops=0.0)
    assert not clipping_notes(still("wide", 6.0, False), angle, Match(), OPTIONS, view_stops=0.0)
