"""Delivered LUTs measured on other frames."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import huemend.flow.verify
from huemend.errors import LutError, OutputError
from huemend.flow.verify import verify_setup
from huemend.model import Match, SetupResult, Verdict
from huemend.model.clips import ClipFrames, SampledClip, SampledClips, Sync
from huemend.options import WriteOptions
from tests.write.small_setup import a_result, hand_over

pytestmark = pytest.mark.slow


@pytest.fixture
def delivered(tmp_path: Path) -> Path:
    out = tmp_path / "match"
    result = a_result(tmp_path)
    hand_over(result, out, WriteOptions(lut_size=33, cdl=False))
    return out


def other_frames(folder: Path, gain: np.ndarray | float = 1.0) -> SetupResult:
    """The same surfaces, after the hero's light changed by a gain, and a match that follows it."""
    result = a_result(folder)
    followed = []
    for angle in result.angles:
        pairs = replace(angle.pairs, reference_rgb=angle.pairs.reference_rgb * gain)
        match = None
        if angle.match is not None:
            match = Match.from_matrix(np.diag(gain * np.ones(3)) @ angle.match.combined)
        followed.append(replace(angle, pairs=pairs, match=match))
    return replace(result, angles=tuple(followed), view_stops=-6.0)


def verified(monkeypatch: pytest.MonkeyPatch, result: SetupResult, delivered: Path) -> dict[str, Any]:
    monkeypatch.setattr(huemend.flow.verify, "match_setup", lambda *_, **__: result)
    return {found.angle: found for found in verify_setup(result.setup, delivered)}


def test_a_lut_holds_on_frames_where_nothing_changed(monkeypatch: pytest.MonkeyPatch, delivered: Path) -> None:
    found = verified(monkeypatch, other_frames(delivered.parent), delivered)
    left = found["left"]
    assert left.verdict is Verdict.MATCHED and left.reasons[0].code == "holds"
    # What is left is the interpolation of a 33-cube.
    assert left.held_out.after.mean < 0.1 < left.held_out.before.mean
    assert abs(left.exposure_drift) < 1e-4
    # A match to review that holds on other frames, holds; that it was to be reviewed is told beside it.
    assert found["right"].verdict is Verdict.MATCHED
    assert (left.match_verdict, found["right"].match_verdict) == (Verdict.MATCHED, Verdict.REVIEW)
    assert found["top"].verdict is Verdict.UNSOLVED and found["top"].reasons[0].code == "no-lut"


def test_light_that_changed_shows_as_drift(monkeypatch: pytest.MonkeyPatch, delivered: Path) -> None:
    gain = 2.0 ** np.array([0.5, 0.25, 0.0])
    left = verified(monkeypatch, other_frames(delivered.parent, gain), delivered)["left"]
    assert left.verdict is Verdict.REVIEW and left.reasons[0].code == "loose"
    assert left.red_green_drift == pytest.approx(0.25, abs=1e-4)
    assert left.blue_green_drift == pytest.approx(-0.25, abs=1e-4)
    assert 0.25 < left.exposure_drift < 0.4


def with_clips(result: SetupResult, again: bool, reel: str = "A001") -> SetupResult:
    """The same as if it came from clips, of which ``again`` the same frames were looked at."""
    sync = Sync(start=Fraction(0), how="hero", confidence=1.0, text="the hero")
    clip = SampledClip(
        source="take.mov", codec="prores", pixel_layout="yuv422p10le", size=(24, 32), matrix="709", range="legal",
        assumed=(), tagged_transfer="", tagged_primaries="", reel=reel, notes=(), moments=(4,),
        frames=ClipFrames(count=9, fps=Fraction(24), timecode=None, sync=sync),
    )  # fmt: skip
    clips = SampledClips(
        span=(Fraction(0), Fraction(1, 3)), moments=(Fraction(1, 6),), rejected={}, forced=False, notes=(),
        again=again, angles={angle.name: clip for angle in result.setup.angles},
    )  # fmt: skip
    return replace(result, clips=clips, inputs=())


def test_clips_too_short_for_other_frames_are_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Frames that the match was made on prove nothing, so no clip may hold a LUT up by them without a word."""
    result, out = a_result(tmp_path), tmp_path / "match"
    hand_over(with_clips(result, again=False), out, WriteOptions(lut_size=33, cdl=False))
    for now, told in (
        (with_clips(result, again=True), True),
        (with_clips(result, again=False), False),
        # Another take that is as short was not matched on.
        (with_clips(result, again=True, reel="A002"), False),
    ):
        left = verified(monkeypatch, now, out)["left"]
        assert left.same_frames is left.as_record()["same_frames"] is told and not left.same_stills


def test_frames_that_cannot_say(monkeypatch: pytest.MonkeyPatch, delivered: Path) -> None:
    result = other_frames(delivered.parent)
    blind = tuple(replace(angle, match=None, candidate=None, verdict=Verdict.UNSOLVED) for angle in result.angles)
    found = verified(monkeypatch, replace(result, angles=blind), delivered)
    assert {each.verdict for each in found.values()} == {Verdict.UNSOLVED}


def test_another_file_in_its_place_is_refused(monkeypatch: pytest.MonkeyPatch, delivered: Path) -> None:
    path = delivered / "luts/glaze-table_left_match.cube"
    path.write_text("# by hand\n" + path.read_text())
    with pytest.raises(LutError, match="is not the LUT that was written with the record"):
        verified(monkeypatch, other_frames(delivered.parent), delivered)
    path.unlink()
    with pytest.raises(LutError, match="cannot be read"):
        verified(monkeypatch, other_frames(delivered.parent), delivered)


def test_another_folder_is_refused(monkeypatch: pytest.MonkeyPatch, delivered: Path, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"no report\.json"):
        verified(monkeypatch, other_frames(tmp_path), tmp_path / "nowhere")
    other = a_result(tmp_path, names={"left": "door"})
    with pytest.raises(OutputError, match="not known there: door"):
        verified(monkeypatch, other, delivered)


def test_the_record_of_it_is_json(monkeypatch: pytest.MonkeyPatch, delivered: Path) -> None:
    found = verified(monkeypatch, other_frames(delivered.parent), delivered)
    for each in found.values():
        entry = json.loads(json.dumps(each.as_record(), allow_nan=False))
        assert entry["verdict"] in ("matched", "review", "unsolved")
        assert (entry["held_out"] is None) == (each.angle == "top")
