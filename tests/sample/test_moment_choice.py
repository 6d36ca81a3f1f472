"""Which moments: sharp, no flash, fade, slate or frozen frame; different poses; and what averaging brings."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from huemend.options import ClipOptions
from huemend.sample.clip_looks import _look_beside
from huemend.sample.moment_choice import (
    MomentStats,
    beside,
    choose_moments,
    clearest,
    measure_moment,
    steady_mean,
    thinned,
)

OPTIONS = ClipOptions()
SHAPE = (108, 192)


class Scene:
    """A room with texture, a person who walks, and sensor noise."""

    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng([1, seed])
        coarse = rng.uniform(0.2, 0.6, (12, 20))
        self.room = np.kron(coarse, np.ones((9, 10)))[: SHAPE[0], : SHAPE[1]]
        self.room = np.pad(
            self.room, ((0, SHAPE[0] - self.room.shape[0]), (0, SHAPE[1] - self.room.shape[1])), "edge"
        )
        self.rng = rng

    def at(self, index: int, walk: float = 1.0) -> np.ndarray:
        picture = self.room.copy()
        x = int(20 + walk * index) % 150
        picture[30:90, x : x + 18] = 0.75
        return (picture + self.rng.normal(0, 0.004, SHAPE)).astype(np.float32)


def blur(picture: np.ndarray) -> np.ndarray:
    for axis in (0, 1):
        picture = np.mean([np.roll(picture, shift, axis) for shift in range(-6, 7)], axis=0)
    return picture.astype(np.float32)


def judged(before: np.ndarray, now: np.ndarray, after: np.ndarray) -> MomentStats:
    return beside(measure_moment(now, OPTIONS), [thinned(before), thinned(after)])


def stats_of(spoil: dict[int, str], count: int = 32, seed: int = 0) -> list:
    scene = Scene(seed)
    out = []
    for index in range(count):
        before, now, after = (scene.at(3 * index + step) for step in (-1, 0, 1))
        match spoil.get(index):
            case "flash":
                now = now + np.float32(0.08)
            case "black":
                before, now, after = (np.full(SHAPE, 0.06, np.float32) + 0.001 * p for p in (before, now, after))
            case "fade":
                before, now, after = (0.3 * p + np.float32(0.05) for p in (before, now, after))
            case "slate":
                now, before, after = now.copy(), before.copy(), after.copy()
                for picture in (before, now, after):
                    picture[15:100, 30:165] = 0.85
                    picture[40:44, 30:165] = 0.05
            case "frozen":
                before = after = now
            case "blurred":
                before, now, after = blur(before), blur(now), blur(after)
        out.append(judged(before, now, after))
    return out


RULES = {
    "flash": "flash", "black": "black or fade", "fade": "black or fade", "slate": "another picture",
    "frozen": "frozen", "blurred": "blurred",
}  # fmt: skip


@pytest.mark.parametrize("fault", list(RULES))
def test_each_fault_is_seen_and_named(fault: str) -> None:
    spoiled = {4: fault, 17: fault, 29: fault}
    times = [float(index) for index in range(32)]
    choice = choose_moments({"wide": stats_of(spoiled)}, times, 8, OPTIONS)
    assert not set(choice.indices) & set(spoiled)
    assert choice.rejected == {RULES[fault]: 3}
    assert len(choice.indices) == 8 and not choice.forced


def test_a_clean_clip_loses_nothing() -> None:
    choice = choose_moments({"wide": stats_of({})}, [float(i) for i in range(32)], 8, OPTIONS)
    assert choice.rejected == {}


def test_a_fault_in_one_angle_counts_for_all() -> None:
    times = [float(index) for index in range(32)]
    stats = {"wide": stats_of({3: "flash"}), "left": stats_of({9: "slate"}, seed=5)}
    choice = choose_moments(stats, times, 30, OPTIONS)
    assert set(range(32)) - set(choice.indices) == {3, 9}
    assert choice.rejected == {"flash": 1, "another picture": 1}


def test_moments_are_spread_and_in_order() -> None:
    times = [float(index) for index in range(32)]
    choice = choose_moments({"wide": stats_of({})}, times, 8, OPTIONS)
    assert list(choice.indices) == sorted(choice.indices)
    gaps = np.diff([times[index] for index in choice.indices])
    assert gaps.max() <= 9 and choice.indices[0] <= 5 and choice.indices[-1] >= 26


def test_different_poses_are_preferred() -> None:
    scene = Scene(2)
    # Somebody stands in three places, most of the time in the first.
    places = [0] * 20 + [60] * 6 + [110] * 6
    stats = []
    for place in places:
        picture = scene.at(place)
        stats.append(judged(scene.at(place), picture, scene.at(place)))
    choice = choose_moments({"wide": stats}, [float(i) for i in range(32)], 4, OPTIONS)
    assert {places[index] for index in choice.indices} == {0, 60, 110}
    # What is behind him at most moments is seen best at one of the others.
    assert places[clearest({"wide": stats}, choice.indices)] == 0


def test_nothing_good_takes_the_least_bad() -> None:
    stats = stats_of({index: "flash" for index in range(32)})
    choice = choose_moments({"wide": stats}, [float(i) for i in range(32)], 4, OPTIONS)
    assert choice.forced and len(choice.indices) == 4


def test_fewer_candidates_than_moments() -> None:
    stats = stats_of({}, count=3)
    assert choose_moments({"wide": stats}, [0.0, 1.0, 2.0], 8, OPTIONS).indices == (0, 1, 2)


def test_a_ramp_is_no_flash() -> None:
    scene = Scene(3)
    stats = [judged(*(scene.at(3 * i + s) + np.float32(0.03 * (i + s / 2)) for s in (-1, 0, 1))) for i in range(8)]
    assert choose_moments({"wide": stats}, [float(i) for i in range(8)], 8, OPTIONS).rejected == {}


def colour(scene: Scene, index: int, walk: float) -> np.ndarray:
    return np.stack([scene.at(index, walk)] * 3, axis=-1) + scene.rng.normal(0, 0.004, (*SHAPE, 3)).astype(
        np.float32
    )


def test_averaging_lowers_noise_where_nothing_moves() -> None:
    scene = Scene(4)
    frames = [colour(scene, index, walk=4) for index in range(5)]
    quiet, gain = steady_mean(frames, 2)
    still = np.s_[:, 60:]  # the person walks left of it
    before = (frames[2] - np.stack([scene.room] * 3, axis=-1))[still].std()
    after = (quiet - np.stack([scene.room] * 3, axis=-1))[still].std()
    assert after < 0.55 * before and 3 < gain <= 5


def test_averaging_leaves_motion_sharp() -> None:
    scene = Scene(4)
    frames = [colour(scene, index, walk=9) for index in range(5)]
    quiet, _ = steady_mean(frames, 2)
    clean = scene.room.copy()
    clean[30:90, 38:56] = 0.75
    walker = np.s_[34:86, 30:64]
    # A ghost of a neighbouring frame would lie a tenth of the contrast off; noise stays below.
    smooth = np.abs(quiet[..., 0] - clean)[walker]
    assert np.percentile(smooth, 99) < 0.03


def test_flicker_is_not_mixed_in() -> None:
    scene = Scene(6)
    frames = [colour(scene, 0, walk=0) for _ in range(5)]
    bright = [frame + np.float32(0.02 if index != 2 else 0.0) for index, frame in enumerate(frames)]
    quiet, gain = steady_mean(bright, 2)
    assert gain == pytest.approx(1.0, abs=0.02)
    assert abs(float((quiet - bright[2]).mean())) < 1e-4


def test_repeated_frames_bring_nothing() -> None:
    picture = colour(Scene(7), 0, 0)
    quiet, gain = steady_mean([picture, picture, picture], 1)
    assert gain == 1.0 and np.array_equal(quiet, picture)


def test_neighbours_say_how_far_a_frame_is_apart() -> None:
    scene = Scene(3)
    before, now, after = (scene.at(0, walk=0) + np.float32(0.001 * step**2) for step in (-1, 0, 1))
    alone = measure_moment(now, OPTIONS)
    assert np.isnan(alone.motion) and alone.jump == 0
    later = beside(alone, [thinned(before), thinned(after)])
    # Of a sixteenth of the samples, what all of them say.
    shifts = [float(now.mean() - other.mean()) for other in (before, after)]
    assert later.motion == pytest.approx(min(np.abs(now - other).mean() for other in (before, after)), rel=0.1)
    assert later.jump == pytest.approx(min(map(abs, shifts)) if shifts[0] * shifts[1] > 0 else 0.0, abs=1e-3)
    assert beside(alone, [thinned(now)]).motion == 0
    assert np.isnan(beside(alone, []).motion)


@pytest.mark.parametrize(("lifted", "looked_at", "jump"), [(0.0, [4], 0.0), (0.08, [4, 6], 0.08)])
def test_the_frame_after_is_decoded_only_where_there_may_be_a_flash(
    lifted: float, looked_at: list[int], jump: float
) -> None:
    scene, decoded = Scene(8), []

    class Footage:
        info = SimpleNamespace(frames=10, size=SHAPE)

        def glances(self, indices: list[int], step: int) -> list[SimpleNamespace]:
            decoded.extend(indices)
            return [SimpleNamespace(luma=scene.at(0, walk=0)[::step, ::step]) for _ in indices]

    alone = measure_moment(scene.at(0, walk=0) + np.float32(lifted), OPTIONS)
    found = _look_beside(Footage(), 5, alone, OPTIONS.flash)  # type: ignore[arg-type]
    assert decoded == looked_at
    assert found.jump == pytest.approx(jump, abs=2e-3) and found.motion > 0


def test_a_moment_at_another_exposure_is_not_where_surfaces_are_looked_for() -> None:
    room = Scene(0).room
    pictures = [room.copy() for _ in range(6)]
    pictures[2] += 0.1
    pictures[4][30:90, 20:38] = 0.75  # somebody hides a part
    looks = [measure_moment(picture.astype(np.float32), OPTIONS) for picture in pictures]
    assert clearest({"wide": looks}, [2, 4]) == 4
    assert clearest({"wide": looks}, [2]) == 2
