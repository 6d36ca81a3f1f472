"""Areas marked by hand: what they measure, what they change in a match, and their clear lines."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose

from huemend.correspond.area_colour import area_colour, area_mask, with_ignored
from huemend.correspond.areas import AreaSource, NeutralSource, with_labels
from huemend.encodings.registry import find_encoding
from huemend.errors import MediaError
from huemend.flow.match import match_setup
from huemend.model import (
    Angle,
    AngleResult,
    Area,
    LinearStill,
    MarkedArea,
    Marks,
    Match,
    NamedPair,
    PairedColours,
    Setup,
    SetupResult,
    Verdict,
)
from huemend.options import CorrespondOptions, MatchOptions
from huemend.sample.setupfile import load_setup
from huemend.view import delta_e2000, measurement_lab
from tests.correspond.made_views import QUICK, pair_up, still_of, wide_and_close
from tests.correspond.sources import all_sources
from tests.solve.made_pairs import MIX, make_pairs, surfaces

OPTIONS = CorrespondOptions()
BLIND = replace(MatchOptions(), correspond=CorrespondOptions(features=False))
ENCODING = "S-Log3/S-Gamut3.Cine"


def box(x0: float, y0: float, x1: float, y1: float) -> Area:
    return Area(points=((x0, y0), (x1, y0), (x1, y1), (x0, y1)))


def setup_of(marks: Marks, *, crop: tuple[float, float, float, float] = (0, 0, 0, 0)) -> Setup:
    angles = tuple(
        Angle(name=name, media=(), encoding=ENCODING, crop=crop if name == "close" else (0, 0, 0, 0))
        for name in ("wide", "close")
    )
    return Setup(name="made", hero="wide", angles=angles, source=Path("setup.toml"), marks=marks)


def plain(rgb: tuple[float, float, float], angle: str = "wide", size: tuple[int, int] = (60, 100)) -> LinearStill:
    return still_of(np.broadcast_to(np.array(rgb, np.float32), (*size, 3)), angle)


# ------------------------------------------------------------------------------------------------ masks


def test_a_mask_holds_the_pixels_whose_centres_lie_inside() -> None:
    mask = area_mask(box(0.25, 0.5, 0.75, 1.0), (40, 80))
    assert mask[20:, 20:60].all()
    assert mask.sum() == 20 * 40


def test_a_mark_stays_where_it_is_when_the_crop_changes() -> None:
    whole = area_mask(box(0.4, 0.4, 0.6, 0.6), (100, 200))
    cropped = area_mask(box(0.4, 0.4, 0.6, 0.6), (80, 100), crop=(0.25, 0.2, 0.25, 0.0))
    assert (whole[20:, 50:150] == cropped).all() and cropped.any()


def test_a_triangle_covers_half_of_its_square() -> None:
    mask = area_mask(Area(points=((0, 0), (1, 0), (0, 1))), (200, 200))
    assert mask.mean() == pytest.approx(0.5, abs=0.01)


# ----------------------------------------------------------------------------------------------- colours


def test_what_reaches_into_an_area_does_not_move_it() -> None:
    rgb = np.full((60, 100, 3), (0.3, 0.2, 0.1), np.float32)
    rgb[:, :30] = (0.02, 0.5, 0.9)
    found = area_colour(still_of(rgb, "wide"), np.ones((60, 100), bool), OPTIONS)
    assert not isinstance(found, str)
    assert_allclose(found.rgb, (0.3, 0.2, 0.1), rtol=1e-3)


def test_shading_within_an_area_is_told_and_leaves_the_ratios() -> None:
    slope = np.linspace(0.5, 1.5, 100)[None, :, None]
    still = still_of(np.array([0.3, 0.2, 0.1]) * np.broadcast_to(slope, (60, 100, 1)), "wide")
    found = area_colour(still, np.ones((60, 100), bool), OPTIONS)
    assert not isinstance(found, str)
    assert found.shading > 0.2
    assert_allclose(found.rgb / found.rgb[1], (1.5, 1.0, 0.5), rtol=1e-3)


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        ("clipped", "is clipped (75% of it)"),
        ("ignored", "lies in an area that the setup file ignores"),
        ("black", "is black"),
        ("tiny", "covers only 6 pixels"),
    ],
)
def test_an_area_that_cannot_be_measured_gets_its_line(spoil: str, said: str) -> None:
    wide, close = plain((0.2, 0.2, 0.2)), plain((0.2, 0.2, 0.2), "close")
    area = box(0.1, 0.1, 0.9, 0.9)
    mask = np.zeros((60, 100), bool)
    mask[:, :70] = True
    if spoil == "clipped":
        close = replace(close, clipped=mask)
    elif spoil == "ignored":
        close = replace(close, ignored=mask)
    elif spoil == "black":
        close = plain((0.0001, 0.0001, 0.0001), "close")
    else:
        area = box(0.1, 0.1, 0.13, 0.13)
    pair = NamedPair(name="apron", areas={"wide": box(0.1, 0.1, 0.9, 0.9), "close": area})
    with pytest.raises(MediaError) as caught:
        AreaSource(setup_of(Marks(pairs=(pair,))), OPTIONS)((wide,), (close,))
    line = str(caught.value)
    assert said in line and "'apron' on close" in line and "close.png" in line and "\n" not in line


def test_the_hero_gets_its_line_too() -> None:
    wide = replace(plain((0.2, 0.2, 0.2)), clipped=np.ones((60, 100), bool))
    pair = NamedPair(name="apron", areas={"wide": box(0, 0, 1, 1), "close": box(0, 0, 1, 1)})
    with pytest.raises(MediaError, match=r"'apron' on wide .* is clipped"):
        AreaSource(setup_of(Marks(pairs=(pair,))), OPTIONS)((wide,), (plain((0.2, 0.2, 0.2), "close"),))


def test_frames_choose_the_moments_and_share_one_worth() -> None:
    wide = tuple(replace(plain((0.2 + 0.1 * k,) * 3), moment=k, frame=100 * k) for k in range(3))
    close = tuple(replace(plain((0.1,) * 3, "close"), moment=k, frame=7 + 100 * k) for k in range(3))
    pair = NamedPair(name="wall", areas={"wide": box(0, 0, 1, 1), "close": box(0, 0, 1, 1)}, frames=(50, 250))
    found = AreaSource(setup_of(Marks(pairs=(pair,))), OPTIONS)(wide, close)
    assert found.moment.tolist() == [1, 2]
    assert found.weight.sum() == pytest.approx(OPTIONS.area_weight)
    assert len(np.unique(found.group)) == 1
    none = replace(pair, frames=(1, 2))
    with pytest.raises(MediaError, match="none of the sampled frames"):
        AreaSource(setup_of(Marks(pairs=(none,))), OPTIONS)(wide, close)


def test_the_weight_of_a_pair_is_its_worth() -> None:
    areas = {"wide": box(0, 0, 1, 1), "close": box(0, 0, 1, 1)}
    marks = Marks(pairs=(NamedPair(name="a", areas=areas), NamedPair(name="b", areas=areas, weight=3.0)))
    views = (plain((0.2, 0.2, 0.2)),), (plain((0.2, 0.2, 0.2), "close"),)
    found = AreaSource(setup_of(marks), OPTIONS)(*views)
    assert found.weight[1] == pytest.approx(3 * found.weight[0])
    assert found.by_hand.all() and found.label.tolist() == ["a", "b"]


# ---------------------------------------------------------------------------------------- ignored, named


@pytest.mark.slow
def test_nothing_is_used_where_the_setup_file_ignores() -> None:
    wide, close = wide_and_close()
    free = pair_up(wide, close)
    height, width = close.clipped.shape
    screen = box(0.25, 0.2, 0.75, 0.8)
    setup = setup_of(Marks(ignore=(MarkedArea(angle="close", area=screen),)))
    marked = with_ignored(close, setup)
    assert with_ignored(wide, setup) is wide
    mask = area_mask(screen, (height, width))
    assert marked.ignored is not None and (marked.ignored == mask).all() and not (marked.valid & mask).any()

    def inside(pairs):  # type: ignore[no-untyped-def]
        x, y = np.clip(np.rint(pairs.angle_xy), 0, (width - 1, height - 1)).astype(int).T
        return int(mask[y, x].sum())

    assert inside(free) > 50
    left = pair_up(wide, marked)
    assert inside(left) == 0 and len(left) > 50


@pytest.mark.slow
def test_pairs_inside_a_named_area_bear_its_name() -> None:
    views = wide_and_close()
    areas = {"wide": box(0.3, 0.05, 0.55, 0.4), "close": box(0, 0, 0.01, 0.01)}
    setup = setup_of(Marks(pairs=(NamedPair(name="face", areas=areas),)))
    pairs = pair_up(*views)
    named = with_labels(pairs, setup, views[:1], views[1:])
    x, y = (named.reference_xy[named.label == "face"] + 0.5).T / [[512], [512]]
    assert len(x) > 20
    assert (x > 0.29).all() and (x < 0.56).all() and (y < 0.41).all()
    assert (named.label == "face").sum() < len(named)
    assert not (pairs.label == "face").any()


# ---------------------------------------------------------------------------------------------- pooling


def test_pooling_keeps_weights_and_keeps_groups_apart() -> None:
    one = make_pairs(surfaces(8), surfaces(8))
    two = replace(one, source="areas", by_hand=np.ones(8, bool))
    both = PairedColours.concat([one, two], apart=True)
    assert len(both) == 16 and both.source == "features areas"
    assert len(np.unique(both.group)) == 2 * len(np.unique(one.group))
    assert both.by_hand.sum() == 8
    assert_allclose(both.weight, np.concatenate([one.weight, two.weight]))


def test_a_single_source_comes_through_unchanged() -> None:
    one = make_pairs(surfaces(8), surfaces(8))
    empty = PairedColours.empty("wide", "left", "faces", found=5, rejected={"alone": 5})
    pooled = PairedColours.concat([empty, one], apart=True)
    assert pooled.source == one.source and (pooled.group == one.group).all()
    assert (pooled.reference_rgb == one.reference_rgb).all() and (pooled.weight == one.weight).all()
    assert pooled.found == 5 + one.found and pooled.rejected == {"alone": 5}


def test_without_features_and_without_marks_there_is_nothing() -> None:
    views = wide_and_close()
    found = all_sources(setup_of(Marks()), replace(QUICK, features=False), *views)(views[:1], views[1:])
    assert len(found) == 0


# ----------------------------------------------------------------------------- what the lines change, whole

#: Columns and rows of colours on each made picture.
ACROSS, DOWN = 6, 4
TRUTH = Match.from_matrix(2**0.6 * np.diag([1.06, 1.0, 0.88]) @ MIX)


def colours() -> np.ndarray:
    """24 scene-linear colours; the fourth is grey, the first has the ratios of skin."""
    out = surfaces(ACROSS * DOWN, seed=5)
    out[0] = (0.36, 0.25, 0.18)
    out[3] = 0.2
    return out


def picture(rgb: np.ndarray, seed: int) -> np.ndarray:
    """Lay 24 colours out as rectangles of 40 pixels, with noise and a little shading."""
    rng = np.random.default_rng(seed)
    grid = rgb.reshape(DOWN, ACROSS, 3).repeat(40, 0).repeat(40, 1)
    shade = np.linspace(0.96, 1.04, grid.shape[1])[None, :, None]
    return grid * shade * (1 + 0.02 * rng.normal(size=grid.shape))


def write_views(folder: Path) -> np.ndarray:
    """Write a hero and an angle that show the same colours at other places; return where each went."""
    rng = np.random.default_rng(11)
    order = rng.permutation(ACROSS * DOWN)
    hero = colours()
    shot = (hero @ np.linalg.inv(TRUTH.combined).T)[order]
    encoding = find_encoding(ENCODING)
    for name, rgb, seed in (("wide", hero, 1), ("close", shot, 2)):
        codes = np.clip(encoding.encode(picture(rgb, seed)), 0, 1)
        cv2.imwrite(str(folder / f"{name}.png"), np.rint(codes * 65535).astype(np.uint16)[..., ::-1])
    return np.argsort(order)


def where(place: int) -> str:
    row, column = divmod(int(place), ACROSS)
    x0, y0 = (column + 0.15) / ACROSS, (row + 0.15) / DOWN
    return f"[{x0:.4f}, {y0:.4f}, {x0 + 0.7 / ACROSS:.4f}, {y0 + 0.7 / DOWN:.4f}]"


def pair_line(name: str, index: int, places: np.ndarray) -> str:
    return f'[[pair]]\nname = "{name}"\nhero = {where(index)}\nclose = {where(places[index])}\n'


def run(folder: Path, lines: str, setup: str = "") -> AngleResult:
    return run_all(folder, lines, setup)["close"]


def run_all(folder: Path, lines: str, setup: str = "") -> SetupResult:
    path = folder / "setup.toml"
    path.write_text(
        f'[setup]\nname = "made"\nhero = "wide"\n{setup}\n'
        + "".join(f'[angle.{n}]\nmedia = ["{n}.png"]\nencoding = "{ENCODING}"\n' for n in ("wide", "close"))
        + lines,
        encoding="utf-8",
    )
    return match_setup(load_setup(path), BLIND)


def error(match: Match | None) -> float:
    """Mean CIEDE2000 that a match leaves over all 24 colours."""
    hero = colours()
    shot = hero @ np.linalg.inv(TRUTH.combined).T
    got = shot if match is None else match.apply(shot)
    return float(delta_e2000(measurement_lab(got), measurement_lab(hero)).mean())


@pytest.fixture(scope="module")
def places(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, np.ndarray]:
    folder = tmp_path_factory.mktemp("areas")
    return folder, write_views(folder)


def test_four_pairs_without_features_give_a_sound_match(places: tuple[Path, np.ndarray]) -> None:
    folder, at = places
    found = run(folder, "".join(pair_line(f"area {k}", k, at) for k in (0, 3, 7, 14)))
    assert found.match is not None
    assert error(None) > 6
    assert error(found.match) < 1.5
    assert found.match.exposure_stops == pytest.approx(TRUTH.exposure_stops, abs=0.1)
    assert found.verdict is Verdict.REVIEW
    assert found.reasons[0].code == "by-hand" and "rests on 4 areas named by hand" in found.reasons[0].text


def test_three_pairs_are_enough_and_two_are_not(places: tuple[Path, np.ndarray]) -> None:
    folder, at = places
    lines = [pair_line(f"area {k}", k, at) for k in (0, 3, 7)]
    three, two, none = (run(folder, "".join(lines[:count])) for count in (3, 2, 0))
    assert three.match is not None and error(three.match) < 2
    assert two.verdict is none.verdict is Verdict.UNSOLVED and two.match is None
    assert "2 areas named by hand are all that" in two.reasons[0].text


def test_what_is_kept_as_shot_hardly_moves(places: tuple[Path, np.ndarray]) -> None:
    folder, at = places
    lines = "".join(pair_line(name, k, at) for name, k in (("skin", 0), ("wall", 3), ("cup", 7), ("rug", 14)))
    whole = run_all(folder, lines)
    free, view = whole["close"], whole.view_stops
    held = run(folder, lines, 'protect = ["skin"]\nprotect_limit = 1.5')
    roomy = run(folder, lines, 'protect = ["skin"]\nprotect_limit = 50')
    shot = colours()[:1] @ np.linalg.inv(TRUTH.combined).T
    moved = [
        float(delta_e2000(measurement_lab(shot, view), measurement_lab(r.match.apply(shot), view))[0])
        for r in (free, held)
        if r.match is not None
    ]
    assert moved[0] > 4 and 0.5 < moved[1] < 1.7
    assert held.verdict is Verdict.REVIEW
    assert any(r.code == "kept-as-shot" and "skin" in r.text for r in held.reasons)
    assert roomy.match is not None and free.match is not None
    assert (roomy.match.combined == free.match.combined).all()


def test_skin_that_nobody_showed_cannot_be_kept(places: tuple[Path, np.ndarray]) -> None:
    folder, at = places
    lines = "".join(pair_line(f"area {k}", k, at) for k in (0, 3, 7, 14))
    found = run(folder, lines, 'protect = ["skin"]')
    assert found.verdict is Verdict.REVIEW and any(r.code == "nothing-to-keep" for r in found.reasons)


def test_a_grey_of_the_angle_speaks_of_balance_and_not_of_exposure(places: tuple[Path, np.ndarray]) -> None:
    folder, at = places
    # Pairs of so little weight leave much of the balance to what is known of cameras, which is: none.
    lines = "".join(pair_line(f"area {k}", k, at) + "weight = 0.02\n" for k in (7, 14, 20))
    grey = f'[[neutral]]\nangle = "close"\narea = {where(at[3])}\n'
    without, with_grey = run(folder, lines), run(folder, lines + grey)
    shot = np.full((1, 3), 0.2) @ np.linalg.inv(TRUTH.combined).T

    def cast(found: AngleResult) -> float:
        assert found.match is not None
        red, green, blue = found.match.apply(shot)[0]
        return float(np.hypot(np.log2(red / green), np.log2(blue / green)))

    assert cast(without) > 0.05
    assert cast(with_grey) < 0.3 * cast(without)
    assert with_grey.match is not None and without.match is not None
    assert with_grey.match.exposure_stops == pytest.approx(without.match.exposure_stops, abs=0.1)


def test_the_heros_own_greys_are_the_measure_of_grey() -> None:
    warm = (0.25, 0.2, 0.16)
    hero, close = plain(warm), plain((0.1, 0.1, 0.1), "close")
    area = box(0.1, 0.1, 0.9, 0.9)
    on_angle = MarkedArea(angle="close", area=area)
    alone = NeutralSource(setup_of(Marks(neutral=(on_angle,))), OPTIONS)((hero,), (close,))
    assert_allclose(alone.reference_rgb, 0.1, rtol=1e-4)
    both = Marks(neutral=(on_angle, MarkedArea(angle="wide", area=area)))
    found = NeutralSource(setup_of(both), OPTIONS)((hero,), (close,))
    assert_allclose(found.reference_rgb[0] / found.reference_rgb[0, 1], np.array(warm) / 0.2, rtol=1e-4)
    assert not found.says_light.any()
    assert found.noise[0, 0] < alone.noise[0, 0]
