"""Which candidates are believed: those that agree on scale and place, by evidence and not by number."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.testing import assert_array_equal

from huemend.correspond.clusters import agreement, believed
from huemend.correspond.features import Candidates
from huemend.options import CorrespondOptions

OPTIONS = CorrespondOptions()


def some(
    count: int,
    *,
    seed: int = 0,
    scale: float = 2.0,
    shift: float = 0.0,
    distinct: float = 0.8,
    tint: tuple[float, float] = (0.0, 0.0),
) -> Candidates:
    """Candidates of one area 150 pixels wide that agree: enlarged, then shifted sideways."""
    places = np.random.default_rng(seed).uniform(100, 250, (count, 2))
    return Candidates(
        reference=places,
        angle=places * scale + [shift, 0],
        scale=np.full(count, np.log2(scale)),
        tint=np.tile(tint, (count, 1)),
        distinct=np.full(count, distinct),
        found=count,
    )


def chance(count: int, seed: int) -> Candidates:
    rng = np.random.default_rng(seed)
    return Candidates(
        reference=rng.uniform(0, 960, (count, 2)),
        angle=rng.uniform(0, 540, (count, 2)),
        scale=rng.normal(0, 1, count),
        tint=rng.normal(0, 0.3, (count, 2)),
        distinct=np.full(count, 0.3),
        found=count,
    )


def elsewhere(those: Candidates) -> Candidates:
    """Put candidates where they neither agree with those of ``some`` nor contradict them."""
    reference, angle = those.reference + np.array([500, 0]), those.angle + np.array([1000, 400])
    return replace(those, reference=reference, angle=angle)


def both(one: Candidates, other: Candidates) -> Candidates:
    names = ("reference", "angle", "scale", "tint", "distinct")
    joined = {name: np.concatenate([getattr(one, name), getattr(other, name)]) for name in names}
    return Candidates(**joined, found=one.found + other.found)


def test_candidates_that_agree_are_one_cluster() -> None:
    label, rejected = believed(some(30), OPTIONS)
    assert_array_equal(label, 0)
    assert sum(rejected.values()) == 0


def test_right_ones_are_told_from_chance() -> None:
    label, rejected = believed(both(some(30), chance(200, 1)), OPTIONS)
    assert (label[:30] >= 0).all()
    assert (label[30:] >= 0).sum() < 10
    assert rejected["alone"] > 100


def test_chance_alone_is_not_believed() -> None:
    for seed in range(5):
        assert (believed(chance(200, seed), OPTIONS)[0] < 0).all()


def test_a_repeated_texture_agrees_with_itself_and_is_still_not_evidence() -> None:
    # Bricks one course off: perfectly consistent, each as like as a hundred others.
    label, rejected = believed(some(60, distinct=0.02), OPTIONS)
    assert (label < 0).all()
    assert rejected["weak"] == 60


def test_a_cluster_that_contradicts_a_better_one_falls() -> None:
    right, wrong = some(40), some(20, seed=1, shift=300, distinct=0.5)
    label, rejected = believed(both(right, wrong), OPTIONS)
    assert (label[:40] == 0).all()
    assert (label[40:] < 0).all()
    assert rejected["contradicted"] == 20


def test_of_two_that_contradict_each_other_what_cameras_cannot_do_falls() -> None:
    # A shelf repeated along the wall: the wrong one agrees with itself a little better, under a blue lamp.
    right, wrong = some(40), some(44, seed=1, shift=300, tint=(-0.1, 0.8))
    label, rejected = believed(both(right, wrong), OPTIONS)
    assert (label[:40] == 0).all() and (label[40:] < 0).all()
    assert rejected["contradicted"] == 44


def test_a_camera_that_was_set_otherwise_is_believed_where_it_has_the_evidence() -> None:
    blue, wrong = some(40, tint=(-0.1, 0.6)), some(7, seed=1, shift=300)
    label, _ = believed(both(blue, wrong), OPTIONS)
    assert (label[:40] == 0).all() and (label[40:] < 0).all()


def test_less_will_do_for_what_has_the_colours_of_what_is_believed() -> None:
    believed_ones, weak = some(40, tint=(0.05, -0.3)), replace(some(6, seed=1, distinct=0.5), found=0)
    for off, seen in (((0.0, 0.0), True), ((0.0, 0.15), True), ((0.0, 0.25), False), ((-0.15, 0.0), False)):
        echo = replace(weak, tint=np.tile([0.05 + off[0], -0.3 + off[1]], (6, 1)))
        label, rejected = believed(both(believed_ones, elsewhere(echo)), OPTIONS)
        assert (label[:40] == 0).all()
        assert (label[40:] == (1 if seen else -1)).all(), off
        assert rejected["weak"] == (0 if seen else 6)


def test_an_echo_is_of_one_colour_and_not_of_a_few_candidates() -> None:
    def told(echo: Candidates) -> bool:
        return bool((believed(both(some(40), elsewhere(echo)), OPTIONS)[0][40:] >= 0).any())

    even = some(6, seed=1, distinct=0.5)
    assert told(even)
    spread = np.array([[-0.3, 0.0], [0.3, 0.0]] * 3)
    assert not told(replace(even, tint=spread))
    assert not told(some(4, seed=1, distinct=0.6))
    assert not told(some(6, seed=1, distinct=0.3))


def test_alone_an_echo_is_not_believed() -> None:
    assert (believed(some(6, distinct=0.5), OPTIONS)[0] < 0).all()


def test_parallax_is_no_contradiction() -> None:
    label, _ = believed(both(some(40), some(20, seed=1, shift=30, distinct=0.5)), OPTIONS)
    assert (label >= 0).all()


def test_twin_features_are_one_witness() -> None:
    # Twenty features on one corner support nothing.
    one = some(1)
    twins = Candidates(
        reference=np.repeat(one.reference, 20, 0),
        angle=np.repeat(one.angle, 20, 0),
        scale=np.repeat(one.scale, 20),
        tint=np.repeat(one.tint, 20, 0),
        distinct=np.ones(20),
        found=20,
    )
    assert agreement(twins).nnz == 0
    assert (believed(twins, OPTIONS)[0] < 0).all()


def test_agreement_is_mutual_and_never_with_oneself() -> None:
    graph = agreement(both(some(20), chance(40, 2))).toarray()
    assert_array_equal(graph, graph.T)
    assert not graph.diagonal().any()


def test_scales_must_be_alike() -> None:
    odd = some(30)
    scale = np.array(odd.scale)
    scale[::2] += 1.0
    graph = agreement(replace(odd, scale=scale)).toarray()
    assert not graph[::2, 1::2].any()


def test_a_handful_is_too_few() -> None:
    for count in range(4):
        label, rejected = believed(some(count), OPTIONS)
        assert (label < 0).all() and len(label) == count
        assert rejected["alone"] == count


def test_nobody_is_lost_from_the_count() -> None:
    label, rejected = believed(both(some(30), chance(150, 3)), OPTIONS)
    assert (label >= 0).sum() + sum(rejected.values()) == 180


def test_twin_features_of_one_corner_are_one_witness() -> None:
    # A corner gives several features within a pixel; that they go to one place in the other picture says nothing.
    twins = 100 + np.random.default_rng(5).uniform(-0.3, 0.3, (8, 2))
    near = replace(some(8, scale=4.0), reference=twins, angle=4 * twins)
    assert agreement(near).nnz == 0
    assert agreement(replace(near, reference=4 * twins, angle=16 * twins)).nnz > 0
