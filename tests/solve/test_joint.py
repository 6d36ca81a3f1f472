"""All angles of a setup together: the same as one large fit, whatever the order, and nothing from a bad link."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from huemend.model import Fit, PairedColours
from huemend.model.learnt import Learnt
from huemend.options import JointOptions, SolveOptions
from huemend.solve import joint as joint_module
from huemend.solve.fit import fit, learn
from huemend.solve.joint import choose_links, pass_messages
from tests.solve.made_pairs import MIX, make_pairs, shaken, surfaces

OPTIONS = SolveOptions()
#: No errors that links share: then messages must give the large fit itself.
EXACT = JointOptions(systematic=(1e-9, 1e-9, 1e-9), systematic_mix=1e-9)

#: What each camera makes of the hero's light; a match is the inverse.
CAMERAS = {
    "far": 0.8 * np.eye(3),
    "left": 1.3 * np.linalg.inv(MIX),
    "right": 0.7 * MIX,
}


def seen(name: str, count: int, seed: int) -> PairedColours:
    hero = surfaces(count, seed)
    return shaken(hero, hero @ CAMERAS[name].T, seed=seed, shading=0.05, wrong=0.1)[0]


def between(one: str, other: str, count: int, seed: int) -> PairedColours:
    hero = surfaces(count, seed)
    pairs, _ = shaken(hero @ CAMERAS[one].T, hero @ CAMERAS[other].T, seed=seed, shading=0.05, wrong=0.1)
    return replace(pairs, reference=one, angle=other)


@pytest.fixture(scope="module")
def learnt() -> dict[str, Learnt]:
    out = {name: learn(seen(name, 200, seed)) for seed, name in enumerate(CAMERAS)}
    return {name: value for name, value in out.items() if value is not None}


@pytest.fixture(scope="module")
def links() -> dict[tuple[str, str], PairedColours]:
    return {
        ("far", "left"): between("far", "left", 300, 11),
        ("left", "right"): between("left", "right", 300, 12),
    }


def test_messages_give_what_one_large_fit_gives(
    learnt: dict[str, Learnt], links: dict[tuple[str, str], PairedColours]
) -> None:
    # Outside check: one dense linear system over all three angles, solved by numpy.
    names = sorted(learnt)
    information, pull = np.zeros((27, 27)), np.zeros(27)
    for index, name in enumerate(names):
        at = slice(9 * index, 9 * index + 9)
        information[at, at] += np.linalg.inv(learnt[name].covariance)
    for (one, other), pairs in links.items():
        link = joint_module._link(pairs, learnt[one], learnt[other], OPTIONS, EXACT)
        assert link is not None
        at = np.r_[tuple(slice(9 * names.index(name), 9 * names.index(name) + 9) for name in (one, other))]
        information[np.ix_(at, at)] += link.information
        pull[at] += link.pull
    large = np.linalg.solve(information, pull).reshape(3, 9)
    covariance = np.linalg.inv(information)
    messages = pass_messages(links, learnt, OPTIONS, EXACT)
    for index, name in enumerate(names):
        own = np.linalg.inv(learnt[name].covariance)
        both = own + messages[name].information
        mean = np.linalg.solve(both, own @ learnt[name].theta + messages[name].pull)
        assert_allclose(mean - learnt[name].theta, large[index], atol=1e-5)
        at = slice(9 * index, 9 * index + 9)
        assert_allclose(np.linalg.inv(both), covariance[at, at], rtol=1e-2, atol=1e-8)


def test_what_a_neighbour_knows_helps_an_angle_that_shares_little_with_the_hero(
    links: dict[tuple[str, str], PairedColours],
) -> None:
    truth = np.linalg.inv(CAMERAS["right"])
    colours = surfaces(400, 77)
    off_alone, off_told = [], []
    for seed in range(8):
        few = shaken(surfaces(24, seed), surfaces(24, seed) @ CAMERAS["right"].T, seed=seed, wrong=0.2)[0]
        own = {"left": learn(seen("left", 400, seed)), "right": learn(few)}
        messages = pass_messages(
            {("left", "right"): between("left", "right", 400, 100 + seed)},
            {name: value for name, value in own.items() if value is not None},
            OPTIONS,
            JointOptions(),
        )
        alone, helped = fit(few), fit(few, message=messages["right"])
        assert isinstance(alone, Fit) and isinstance(helped, Fit)
        for found, off in ((alone, off_alone), (helped, off_told)):
            shown = found.match.apply(colours @ CAMERAS["right"].T)
            stops = np.log2(shown / (colours @ (truth @ CAMERAS["right"]).T))
            # Colour: of exposure a link says little.
            off.append(float(np.abs(stops - stops.mean(axis=1, keepdims=True)).mean()))
    assert np.mean(off_told) < 0.75 * np.mean(off_alone), (off_told, off_alone)


def test_a_link_at_odds_with_the_hero_is_cut(learnt: dict[str, Learnt]) -> None:
    hero = surfaces(300, 5)
    # Coloured light on what the two share: a stop and a half of red, which neither learnt from the hero.
    lamp = np.diag([2.8, 1.0, 0.7])
    pairs = shaken(hero @ CAMERAS["left"].T @ lamp, hero @ CAMERAS["right"].T, seed=5, wrong=0.1)[0]
    assert pass_messages({("left", "right"): pairs}, learnt, OPTIONS, JointOptions()) == {}


def test_a_link_of_strangers_is_cut(learnt: dict[str, Learnt]) -> None:
    pairs = make_pairs(surfaces(300, 1), surfaces(300, 2))
    assert pass_messages({("left", "right"): pairs}, learnt, OPTIONS, JointOptions()) == {}


def at(places: list[tuple[float, float]]) -> PairedColours:
    n = len(places)
    pairs = make_pairs(surfaces(n), surfaces(n), group=np.arange(n))
    return replace(pairs, reference_xy=np.array(places))


def test_links_are_a_forest_of_those_that_share_most_in_any_order() -> None:
    row = [(50.0 * k, 10.0) for k in range(10)]
    pairs = {"a": at(row[:6]), "b": at(row[2:8]), "c": at(row[7:]), "d": at(row[1:7])}
    links = choose_links(pairs, 24.0)
    assert links == choose_links(dict(reversed(pairs.items())), 24.0)
    assert len(links) == 3
    # a and d share five cells, b and d five.
    assert ("a", "d") in links and ("b", "d") in links and ("b", "c") in links


def test_two_angles_are_linked_whatever_their_pairs() -> None:
    assert choose_links({"a": at([(1.0, 1.0)]), "b": at([(900.0, 1.0)])}, 24.0) == (("a", "b"),)


def test_one_angle_has_nobody_to_talk_to() -> None:
    assert choose_links({"a": at([(1.0, 1.0)])}, 24.0) == ()
    assert pass_messages({}, {}, OPTIONS, JointOptions()) == {}


def test_a_link_says_no_more_than_the_errors_that_all_its_pairs_share_allow(
    links: dict[tuple[str, str], PairedColours],
) -> None:
    # However many pairs, and however sure the neighbour: what is common to all of a link does not average out.
    joint = JointOptions()
    sure = Learnt(theta=np.zeros(9), covariance=1e-8 * np.eye(9))
    many = between("left", "right", 4000, 31)
    known = learn(many)
    assert known is not None
    message = pass_messages({("left", "right"): many}, {"left": sure, "right": known}, OPTIONS, joint)["right"]
    least = np.square(np.r_[joint.systematic, np.full(6, joint.systematic_mix)])
    assert (np.diag(message.information) <= 1.0001 / least).all()
    assert np.diag(message.information)[0] > 0.1 / least[0]
