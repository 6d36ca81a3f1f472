"""Frames of marks: refused beyond their clip, always looked at, and left out where only a part is looked at."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from huemend.errors import SetupFileError
from huemend.flow.match import match_setup
from huemend.model import Angle, Area, MarkedArea, Marks, NamedPair, Setup
from huemend.options import ClipOptions, SampleOptions
from huemend.sample.clip_plan import plan_clips
from huemend.sample.marked_frames import check_frames, marks_within
from tests.sample.test_clips import make

pytestmark = pytest.mark.slow

BOX = Area(points=((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)))
FEW = SampleOptions(clips=ClipOptions(moments=2))


def marked(frames: tuple[int, int], kind: str = "pair", angle: str = "wide") -> Marks:
    if kind == "pair":
        return Marks(pairs=(NamedPair(name="wall", areas={"wide": BOX, "left": BOX}, frames=frames),))
    return Marks(**{kind: (MarkedArea(angle=angle, area=BOX, frames=frames),)})


@pytest.fixture(scope="module")
def clips(tmp_path_factory: pytest.TempPathFactory) -> Setup:
    """The hero runs at 25 frames a second; the other begins 0.4 s later and runs at 50."""
    folder = tmp_path_factory.mktemp("clips")
    angles = (
        make(folder, "wide", 0.0, 25, "10:00:00:00", 75),
        make(folder, "left", 0.4, 50, "10:00:00:20", 120),
    )
    return Setup(name="show", hero="wide", angles=angles, source=folder / "setup.toml")


@pytest.mark.parametrize(
    ("kind", "angle", "frames", "said"),
    [
        (
            "pair",
            "wide",
            (75, 90),
            "pair[1].frames: begins at 75, and wide has 75 frames; frames are counted from 0",
        ),
        ("ignore", "left", (120, 120), "ignore[1].frames: begins at 120, and left has 120 frames"),
        ("neutral", "wide", (75, 600), "the last one is 74"),
    ],
)
def test_frames_beyond_the_clip_get_their_line(
    clips: Setup, kind: str, angle: str, frames: tuple[int, int], said: str
) -> None:
    with pytest.raises(SetupFileError) as caught:
        plan_clips(replace(clips, marks=marked(frames, kind, angle)), FEW)
    assert said in str(caught.value) and "\n" not in str(caught.value)
    assert plan_clips(replace(clips, marks=marked((frames[0] - 1, 9999), kind, angle)), FEW) is not None


def test_frames_of_stills_are_the_stills() -> None:
    angles = tuple(Angle(name=n, media=(Path("1"), Path("2")), encoding="ACEScct") for n in ("wide", "left"))
    setup = Setup(name="show", hero="wide", angles=angles, source=Path("setup.toml"))
    check_frames(replace(setup, marks=marked((1, 1))), {})
    with pytest.raises(SetupFileError, match="wide has 2 frames"):
        check_frames(replace(setup, marks=marked((2, 2))), {})


@pytest.mark.parametrize(
    ("kind", "angle", "frames"),
    [("pair", "wide", (66, 67)), ("pair", "wide", (12, 12)), ("neutral", "left", (3, 5))],
)
def test_a_moment_is_looked_at_in_every_range(
    clips: Setup, kind: str, angle: str, frames: tuple[int, int]
) -> None:
    free = plan_clips(clips, FEW)
    plan = plan_clips(replace(clips, marks=marked(frames, kind, angle)), FEW)
    assert free is not None and plan is not None

    def inside(found: object) -> int:
        return sum(frames[0] <= frame <= frames[1] for frame in found.frames[angle])  # type: ignore[attr-defined]

    assert inside(free) == 0 and inside(plan) == 1
    assert set(free.times) < set(plan.times) and len(plan.times) == len(free.times) + 1
    assert list(plan.times[1:]) == sorted(plan.times[1:])
    assert {len(each) for each in plan.frames.values()} == {len(plan.times)}


def test_what_is_sampled_already_or_ignored_or_unseen_adds_no_moment(clips: Setup) -> None:
    free = plan_clips(clips, FEW)
    assert free is not None
    # The first 10 frames of the hero are before the other clip begins.
    for marks in (marked((0, 74)), marked((30, 30), "ignore"), marked((0, 5))):
        plan = plan_clips(replace(clips, marks=marks), FEW)
        assert plan is not None and plan.times == free.times


def test_a_part_of_a_take_leaves_out_marks_of_other_frames(clips: Setup) -> None:
    setup = replace(clips, marks=marked((70, 71)))
    assert marks_within(setup, {"wide": (12, 70)}).marks == setup.marks
    assert marks_within(setup, {"wide": (12, 60)}).marks == Marks()
    whole = replace(clips, marks=marked((0, 9999)))
    assert marks_within(whole, {"wide": (12,)}).marks == whole.marks
    # Through the pipeline: a range of the take in which the pair does not hold is matched without it.
    result = match_setup(setup, span=(Fraction(1, 2), Fraction(1)))
    assert "areas" not in result["left"].pairs.source and result.setup.marks == Marks()
