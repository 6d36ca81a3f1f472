"""A whole setup, from stills to verdicts: one that matches, one that already does, one that shares nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from huemend.base.units import acescct_encode
from huemend.errors import InputError, MediaError
from huemend.flow.match import match_setup
from huemend.flow.read import read_setup
from huemend.media.pictures import write_picture
from huemend.model import AngleResult, Event, Rung, Setup, SetupResult, Verdict, pivot_contrast
from huemend.options import ColourOptions, MatchOptions
from huemend.sample.setupfile import load_setup
from tests.correspond.made_views import GAIN, MIX, QUICK, noisy, strangers, wide_and_close

OPTIONS = MatchOptions(correspond=QUICK)
HERO, CLOSE, TWIN, CAT = "wide", "close", "twin", "cat"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Pictures of a setup in ACEScct: the hero, a close view, a second camera of the hero's kind, a cat."""
    out = tmp_path_factory.mktemp("setup")
    wide, close = (np.asarray(still.rgb) for still in wide_and_close())
    pictures = {
        HERO: wide,
        CLOSE: close,
        TWIN: noisy(wide, 9),
        CAT: np.asarray(strangers()[1].rgb),
        "bright": 2 * close,
        "dim": 0.5 * noisy(wide, 4),
        "looked": pivot_contrast(close, 0.8),
    }
    for name, rgb in pictures.items():
        write_picture(out / f"{name}.png", acescct_encode(rgb), 16)
    return out


def drafted(folder: Path, angles: Sequence[str], through: str = "") -> Setup:
    path = folder / f"{'-'.join(angles)}{through}.toml"
    said = "".join(f'[angle.{name}]\nmedia = ["{name}.png"]\nencoding = "ACEScct"\n' for name in angles)
    # The last angle is the chained one.
    said += f'through = "{through}"\n' if through else ""
    path.write_text(f'[setup]\nname = "kitchen"\nhero = "{HERO}"\n{said}')
    return load_setup(path)


def run(folder: Path, angles: Sequence[str], through: str = "", **events: object) -> SetupResult:
    return match_setup(drafted(folder, angles, through), OPTIONS, **events)  # type: ignore[arg-type]


def test_one_picture_under_two_encodings_is_told(folder: Path) -> None:
    setup = drafted(folder, [HERO, TWIN])
    (folder / "copy.png").write_bytes((folder / f"{HERO}.png").read_bytes())
    copied = replace(setup.others[0], media=(folder / "copy.png",))
    read = read_setup(replace(setup, angles=(setup[HERO], copied)), OPTIONS)
    assert len({file.sha256 for file in read.files}) == 1
    other = replace(copied, encoding="LogC4/AWG4")
    with pytest.raises(MediaError, match=r"twin: copy\.png: is the very picture that wide names"):
        read_setup(replace(setup, angles=(setup[HERO], other)), OPTIONS)


@pytest.fixture(scope="module")
def whole(folder: Path) -> SetupResult:
    return run(folder, [HERO, CLOSE, TWIN, CAT])


def same(one: AngleResult, other: AngleResult) -> None:
    assert one.verdict is other.verdict and one.reasons == other.reasons
    assert one.match and other.match
    assert one.match.combined.tobytes() == other.match.combined.tobytes()
    assert one.uncertainty == other.uncertainty
    assert_array_equal(one.pairs.angle_rgb, other.pairs.angle_rgb)


def test_the_match_of_a_close_view_is_found(whole: SetupResult) -> None:
    found = whole[CLOSE]
    assert found.verdict in (Verdict.MATCHED, Verdict.REVIEW)
    assert found.match and found.held_out
    assert found.match.exposure_stops == pytest.approx(-np.log2(GAIN), abs=0.05)
    assert_allclose(found.match.combined, np.linalg.inv(GAIN * MIX), atol=0.1)
    assert found.held_out.after.mean < 1.0 < found.held_out.before.mean


def test_a_camera_that_already_agrees_is_left_alone_to_the_bit(whole: SetupResult) -> None:
    found = whole[TWIN]
    assert found.verdict is Verdict.MATCHED
    assert found.match and found.match.is_identity


def test_a_view_that_shares_nothing_is_unsolved_and_says_so(whole: SetupResult) -> None:
    found = whole[CAT]
    assert found.verdict is Verdict.UNSOLVED
    assert found.match is None
    assert found.reasons[0].code == "nothing-shared" and found.reasons[0].todo


def test_one_without_a_match_is_told_what_it_was_made_for(folder: Path) -> None:
    setup = drafted(folder, [HERO, CAT])
    angles = tuple(replace(angle, encoding="sRGB") for angle in setup.angles)
    blind = replace(OPTIONS, correspond=replace(OPTIONS.correspond, features=False))
    found = match_setup(replace(setup, angles=angles), blind)[CAT]
    assert [reason.code for reason in found.reasons] == ["nothing-shared", "rendered"]


@pytest.mark.slow
def test_the_order_of_angles_changes_no_bit(folder: Path, whole: SetupResult) -> None:
    turned = run(folder, [CAT, TWIN, CLOSE, HERO])
    assert [found.angle.name for found in turned] == [CAT, TWIN, CLOSE]
    same(turned[CLOSE], whole[CLOSE])


@pytest.mark.slow
def test_what_other_angles_show_moves_no_angle(folder: Path, whole: SetupResult) -> None:
    # Neither one that matches nor one that shares nothing.
    alone = run(folder, [HERO, CLOSE])
    same(alone[CLOSE], whole[CLOSE])
    assert alone.view_stops == whole.view_stops


@pytest.mark.slow
def test_twice_the_light_on_an_angle_is_one_stop_less(folder: Path, whole: SetupResult) -> None:
    # A stop is a factor of two on scene-linear light (common practice, no source).
    bright, plain = run(folder, [HERO, "bright"])["bright"].match, whole[CLOSE].match
    assert bright and plain
    assert bright.exposure_stops - plain.exposure_stops == pytest.approx(-1, abs=0.02)


@pytest.mark.slow
def test_a_look_in_the_camera_is_met_by_a_contrast_and_never_trusted(folder: Path, whole: SetupResult) -> None:
    found = run(folder, [HERO, "looked"])["looked"]
    assert found.rung is Rung.CONTRAST and found.match is not None
    assert found.match.contrast == pytest.approx(1 / 0.8, abs=0.05)
    assert found.verdict is Verdict.REVIEW
    assert {"contrast", "slope"} <= {reason.code for reason in found.reasons}
    assert whole[CLOSE].match is not None and whole[CLOSE].match.contrast == 1.0


@pytest.mark.slow
def test_an_angle_may_be_matched_through_another(folder: Path, whole: SetupResult) -> None:
    # The hero by another name stands in between, a stop darker: what the chain gives must be the hero's light.
    result = run(folder, [HERO, "dim", CLOSE], through="dim")
    dim, close = result["dim"], result[CLOSE]
    assert close.pairs.reference == "dim"
    assert dim.match and close.match and whole[CLOSE].match
    assert dim.match.exposure_stops == pytest.approx(1, abs=0.02)
    assert_allclose(close.match.combined, whole[CLOSE].match.combined, rtol=0.03, atol=0.02)
    assert "chained" in {reason.code for reason in close.reasons}
    assert dim.held_out and close.held_out and close.uncertainty and dim.uncertainty
    assert close.held_out.upper > dim.held_out.upper
    assert close.learnt is None


@pytest.mark.slow
def test_a_chain_breaks_with_the_angle_in_between(folder: Path) -> None:
    result = run(folder, [HERO, CAT, CLOSE], through=CAT)
    assert result[CLOSE].verdict is Verdict.UNSOLVED and result[CLOSE].match is None
    assert [reason.code for reason in result[CLOSE].reasons] == ["broken-chain"]


@pytest.mark.slow
def test_an_angle_behind_a_broken_chain_may_be_guessed_by_colours(folder: Path) -> None:
    # The hero shows three quarters of the close view's colours, and half of the cat's.
    colours = ColourOptions(ask=True, least_found=0.6)
    options = replace(OPTIONS, correspond=replace(QUICK, features=False), colours=colours)
    result = match_setup(drafted(folder, [HERO, CAT, CLOSE], CAT), options)
    assert result[CAT].match is None
    # Held against the hero itself.
    assert result[CLOSE].verdict is Verdict.REVIEW and result[CLOSE].match is not None
    assert [reason.code for reason in result[CLOSE].reasons] == ["by-colours", "broken-chain"]


@pytest.mark.parametrize("darker", [0.0, 3.0])
@pytest.mark.slow
def test_a_thin_match_is_held_against_the_colours_of_the_whole_pictures(folder: Path, darker: float) -> None:
    """They allow the right match; told that an angle sees three stops less light, they rule it out.

    So they do if the many places that agree are told to count for nothing.
    """
    validate = replace(OPTIONS.validate, fewest_surfaces=10_000)
    options = replace(OPTIONS, validate=validate, colours=ColourOptions(darker=darker, thin_places=1e9))
    found = match_setup(drafted(folder, [HERO, CLOSE]), options)[CLOSE]
    codes = {reason.code for reason in found.reasons}
    assert ("few-surfaces" in codes) != bool(darker)
    assert ("ruled-out" in codes) == bool(darker)
    assert found.verdict is (Verdict.UNSOLVED if darker else Verdict.REVIEW)
    assert (found.match is None) == bool(darker)


def test_what_went_in_is_told(whole: SetupResult) -> None:
    assert [item.source for item in whole.inputs] == [f"{name}.png" for name in (HERO, CLOSE, TWIN, CAT)]
    assert all(len(item.sha256) == 64 for item in whole.inputs)
    assert set(whole.stills) == {HERO, CLOSE, TWIN, CAT}
    assert whole.drift is None and whole.clips is None


@pytest.mark.slow
def test_progress_is_told_from_first_to_last(folder: Path) -> None:
    events: list[Event] = []
    run(folder, [HERO, CAT], on_event=events.append)
    assert [event.stage for event in events] == ["sample", "sample", "match", "match", "match"]
    assert (events[-1].done, events[-1].total) == (1, 1)
    assert [event.angle for event in events[:4]] == [HERO, CAT, "", CAT]
    # An angle is told when its turn comes: what is behind is behind.
    assert [event.done for event in events] == [0, 1, 0, 0, 1]


@pytest.mark.slow
def test_a_missing_picture_is_one_clear_error(folder: Path) -> None:
    with pytest.raises(InputError, match="gone"):
        run(folder, [HERO, "gone"])
