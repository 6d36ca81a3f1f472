"""A wrong encoding shows as a slope of log luminance, and the right one is among those that are named."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from huemend.base.units import AP1_LUMINANCE
from huemend.encodings.alternatives import alternatives
from huemend.encodings.registry import find_encoding
from huemend.model import PairedColours, Reason
from huemend.options import ValidateOptions
from huemend.validate.encoding_doubt import (
    exposure_slack,
    luminance_slope,
    rank_encodings,
    slope_error,
    slope_reasons,
)
from tests.solve.made_pairs import make_pairs, shaken, surfaces

OPTIONS = ValidateOptions()


def decoded_as(wrong: str, right: str = "S-Log3/S-Gamut3.Cine", share_wrong: float = 0.2) -> PairedColours:
    """Pairs of an angle that was recorded as ``right`` and decoded as ``wrong``."""
    light = surfaces(400, seed=3)
    pairs, _ = shaken(light, 0.7 * light, seed=4, wrong=share_wrong)
    codes = find_encoding(right).encode(np.maximum(pairs.angle_rgb, 1e-4))
    return replace(pairs, angle_rgb=np.asarray(find_encoding(wrong).decode(codes), float))


def reasons(pairs: PairedColours, stated: str) -> tuple[Reason, ...]:
    everything = np.ones(len(pairs), bool)
    return slope_reasons(pairs, everything, stated, alternatives(find_encoding(stated), "full"), OPTIONS)


def test_an_exposure_leaves_the_slope_at_one() -> None:
    """Exposure is one gain in scene-linear light, so it shifts logarithms (common practice, no source)."""
    light = surfaces(300)
    slope, error = (
        luminance_slope(light, 0.25 * light),
        slope_error(light, 0.25 * light, np.arange(300) // 4, OPTIONS),
    )
    assert slope == pytest.approx(1, abs=1e-6)
    assert error == pytest.approx(0, abs=1e-6)


def test_a_power_is_found_from_both_sides() -> None:
    light = surfaces(300)
    for power in (0.8, 1.25):
        slope = luminance_slope(light**power, light)
        assert slope == pytest.approx(power, abs=0.05)


def test_under_a_power_light_and_dark_ask_for_exposures_apart_by_the_spread_of_light() -> None:
    # log2 of light**p is p times that of light: the exposure wanted is (p - 1) log2, and so is its spread.
    light = surfaces(300)
    everything = np.ones(300, bool)
    assert exposure_slack(make_pairs(light, 0.3 * light), everything, OPTIONS) == pytest.approx(0, abs=1e-6)
    bent = light * ((light @ AP1_LUMINANCE) ** 0.25)[:, None]
    pairs = make_pairs(bent, light)
    spread = np.std(np.log2(bent @ AP1_LUMINANCE))
    assert exposure_slack(pairs, everything, OPTIONS) == pytest.approx(0.25 * spread, rel=0.1)


def test_the_right_encoding_raises_no_suspicion() -> None:
    assert reasons(decoded_as("S-Log3/S-Gamut3.Cine"), "S-Log3/S-Gamut3.Cine") == ()


def test_log_read_as_video_is_suspected_and_a_log_curve_named() -> None:
    (reason,) = reasons(decoded_as("BT.709 camera"), "BT.709 camera")
    assert reason.code == "slope" and "BT.709 camera" in reason.text
    assert "Log" in reason.todo


def test_linear_light_declared_as_log_is_named_and_log_declared_as_light() -> None:
    log, linear = find_encoding("S-Log3/S-Gamut3.Cine"), find_encoding("ACEScg")
    light = surfaces(300)
    for recorded, stated in ((linear, log), (log, linear)):
        pairs = make_pairs(light, stated.decode(recorded.encode(0.6 * light)))
        (reason,) = reasons(pairs, stated.name)
        assert recorded.name in reason.text + reason.todo, reason


@pytest.mark.parametrize(("noise", "named"), [(0.02, True), (0.7, False)])
def test_another_encoding_is_named_only_where_it_leaves_clearly_less(noise: float, named: bool) -> None:
    """It takes the slope off either way; what is left then is half, or, beside noise, next to all."""
    rng = np.random.default_rng(0)
    light = surfaces(300)
    hero = light * np.exp2(noise * rng.normal(size=light.shape))
    others = [("straight", lambda rgb: rgb**1.3)]
    found = rank_encodings(hero, light ** (1 / 1.3), 1.3, others, OPTIONS, group=np.arange(300))
    assert bool(found) is named


def test_few_pairs_or_little_range_say_nothing() -> None:
    pairs = decoded_as("BT.709 camera")
    few = make_pairs(pairs.reference_rgb[:40], pairs.angle_rgb[:40])
    flat = make_pairs(np.full((200, 3), 0.2), np.full((200, 3), 0.1))
    assert reasons(few, "BT.709 camera") == () and reasons(flat, "BT.709 camera") == ()


def test_the_alternatives_reinterpret_the_same_codes() -> None:
    stated, other = find_encoding("LogC3/AWG3"), find_encoding("S-Log3/S-Gamut3.Cine")
    light = surfaces(20)
    again = dict(alternatives(stated, "full"))[other.name](light)
    np.testing.assert_allclose(other.encode(again), stated.encode(light), atol=1e-9)
    # No camera that was set to log recorded what a display is sent (common practice, no source).
    asked = [{name for name, _ in alternatives(find_encoding(name), "full")} for name in ("LogC3/AWG3", "HLG")]
    assert ["PQ/BT.2020" in names for names in asked] == [False, True]


def test_haze_that_the_match_takes_off_is_no_cause_for_suspicion() -> None:
    light = surfaces(300)
    veil = np.full(3, 0.05)
    pairs = make_pairs(light, light + veil)
    stated, everything = find_encoding("S-Log3/S-Gamut3.Cine"), np.ones(300, bool)
    others = alternatives(stated, "full")
    assert [r.code for r in slope_reasons(pairs, everything, stated.name, others, OPTIONS)] == ["slope"]
    assert slope_reasons(pairs, everything, stated.name, others, OPTIONS, flare=veil) == ()


def test_a_slope_that_nothing_explains_is_implausible() -> None:
    light = surfaces(300)
    (reason,) = reasons(make_pairs(0.2 * (light / 0.2) ** 6, light), "S-Log3/S-Gamut3.Cine")
    assert reason.code == "implausible"


def test_pairs_that_hardly_know_their_light_have_no_slope() -> None:
    light = surfaces(300)
    pairs = make_pairs(light**1.4, light, light_spread=np.full(300, 0.4))
    assert reasons(pairs, "S-Log3/S-Gamut3.Cine") == ()


def noisy_views(seed: int, noise: float, count: int = 1500) -> tuple[np.ndarray, np.ndarray]:
    """Greys over four stops as two views show them, each with errors of its own."""
    rng = np.random.default_rng(seed)
    light = 0.03 * np.exp2(rng.uniform(0, 4, (count, 1)))
    first, second = (light * np.exp2(noise * rng.normal(size=(count, 1))) * np.ones(3) for _ in range(2))
    return first, second


def test_errors_of_both_views_do_not_flatten_the_slope() -> None:
    """The principal axis by singular values (Pearson 1901); least squares of one on the other would find 0.9."""
    reference, angle = noisy_views(1, 0.4)
    x, y = (np.log2(rgb @ AP1_LUMINANCE) for rgb in (angle, reference))
    across, up = np.linalg.svd(np.column_stack([x - x.mean(), y - y.mean()]), full_matrices=False)[2][0]
    assert stats.linregress(x, y).slope < 0.92
    slope = luminance_slope(reference, angle)
    assert slope == pytest.approx(up / across, abs=0.04)
    assert slope == pytest.approx(1, abs=0.05)


def test_a_quarter_of_wrong_pairs_does_not_tilt_the_slope() -> None:
    reference, angle = noisy_views(2, 0.05)
    # Each wrong pair shows a bright surface where the other view shows a dark one.
    wrong = np.arange(len(angle)) % 4 == 0
    angle[wrong] = 0.5 * np.median(reference) ** 2 / reference[wrong]
    slope = luminance_slope(reference, angle)
    assert slope == pytest.approx(1, abs=0.05)


def test_few_places_seldom_raise_suspicion_by_chance() -> None:
    # Light differs from place to place, and tilts the slope of few places as it likes: within two standard errors
    # of the mean it says nothing (5 % of draws lie outside of them, more where an error is estimated from few).
    raised = 0
    for seed in range(40):
        rng = np.random.default_rng(seed)
        group = np.arange(160) // 10
        light = 0.03 * np.exp2(4 * (group % 8) / 8 + rng.uniform(0, 0.5, 160))[:, None] * np.ones(3)
        lit = light * np.exp2(0.5 * rng.normal(size=16))[group][:, None]
        pairs = make_pairs(lit, light, group=group)
        raised += bool(slope_reasons(pairs, np.ones(160, bool), "S-Log3/S-Gamut3.Cine", (), OPTIONS))
    assert raised <= 6
