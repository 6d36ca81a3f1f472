"""The table in the terminal, the day's page, the contact sheet and the words."""

from __future__ import annotations

import json
import unicodedata
from dataclasses import replace

import numpy as np
import pytest

from huemend.model import ErrorSummary, Match, Reason, SetupResult, Verdict
from huemend.model.reasons import Code
from huemend.options import WriteOptions
from huemend.write.luts.kinds import LutBasis, lut_makers
from huemend.write.report import DayRow, render_day_index, terminal_table
from huemend.write.report.contact import contact_sheet
from huemend.write.report.summary import match_lut
from huemend.write.report.words import balance_words, difference_words, next_step, overall

from .conftest import record_of
from .factory import gallery_of, make_result


def columns(text):
    """Return how many terminal columns a text takes (Unicode Standard Annex 11)."""
    return sum(
        2 if unicodedata.east_asian_width(c) in "WF" else 0 if unicodedata.combining(c) else 1 for c in text
    )


def test_one_line_an_angle(result):
    lines = terminal_table(record_of(result)).splitlines()
    assert lines[0] == "glaze-table, hero: wide"
    (left,) = [line for line in lines if line.startswith("left ")]
    (right,) = [line for line in lines if line.startswith("right ")]
    assert left.split()[1:4] == ["matched", "+0.43", "(+0.38"]
    assert "REVIEW" in right
    assert "- Samples near the window" in "\n".join(lines)


def test_an_angle_says_its_gravest_reasons_and_how_many_more_there_are(result):
    many = [
        Code.RENDERED.because(encoding="sRGB"),
        Code.BANDING.because(what="0.2 stop at 100 Hz"),
        Code.DIVIDED.because(share=0.45),
        Code.FEW_SURFACES.because(surfaces="3 places"),
        Code.LEAST_ERROR.because("as close", names="skin", before=1.2, gain=0.1),
    ]
    angle = replace(result["right"], verdict=Verdict.REVIEW, reasons=tuple(many))
    table = terminal_table(record_of(replace(result, angles=(result["left"], angle))))
    (told,) = [part for part in table.split("\n\n") if part.startswith("right:")]
    # The three gravest, and whatever came of a wish.
    said = [line for line in told.splitlines() if line.startswith("- ")]
    assert [line[2:9] for line in said] == ["Only 45", "The mat", "This is", "Skin ca"]
    assert told.count("Next: ") == 1 and told.endswith("\n  1 more reason in the report.")


def test_reads_a_record_from_a_file(unsolved):
    record = json.loads(json.dumps(record_of(unsolved)))
    table = terminal_table(record)
    assert "UNSOLVED" in table
    assert "Name three" in table


LONG = "a very long name of a camera angle"
NAMES = [("left", "right"), (LONG, "カメラ七番の長い名前です" * 6), ("e\u0301", "x" * 90)]


@pytest.mark.parametrize("names", NAMES)
def test_never_wider_than_eighty_columns(names):
    result = make_result(width=160, samples=20, angle_names=names, name="長い名前" * 20)
    table = terminal_table(record_of(result))
    assert max(columns(line) for line in table.splitlines()) <= 80


def test_a_name_cannot_drive_the_terminal():
    result = make_result(width=160, samples=20, angle_names=("\x1b[2Jgone", "b\rc\nd"), name="\x9b31m")
    table = terminal_table(record_of(result))
    assert {c for c in table if unicodedata.category(c)[0] == "C"} == {"\n"}


def test_a_day_puts_what_needs_eyes_first(result, unsolved, files):
    matched = make_result(verdicts=(Verdict.MATCHED, Verdict.MATCHED), width=160, samples=20, name="fine")
    page = render_day_index(
        [
            DayRow.of("fine", record_of(matched), report="fine/report.html"),
            DayRow.of(
                "doubtful",
                record_of(result),
                report="doubtful/report.html",
                contact=files["contact.png"],
            ),
            DayRow(name="broken", error="broken/setup.toml: no such <file>"),
            DayRow.of("hopeless", record_of(unsolved), report="hopeless/report.html", contact=b"no picture"),
        ],
        title="Day 4",
    ).decode()
    places = [page.index(f">{name}<") for name in ("broken", "hopeless", "doubtful", "fine")]
    assert places == sorted(places)
    assert "no such &lt;file&gt;" in page
    assert "4 setups; angles: 1 unsolved, 1 to review, 4 matched. 1 did not run." in page
    assert page.count("<img ") == 1
    assert render_day_index([]).startswith(b"<!doctype html>")


def test_contact_sheet_holds_a_row_an_angle(result, files):
    import cv2

    sheet = cv2.imdecode(np.frombuffer(files["contact.png"], np.uint8), cv2.IMREAD_COLOR)
    alone = replace(result, angles=result.angles[:1])
    gallery = gallery_of(alone, surfaces={})
    single = cv2.imdecode(np.frombuffer(contact_sheet(alone, gallery), np.uint8), cv2.IMREAD_COLOR)
    assert sheet.shape[1] == single.shape[1] == 1504
    assert sheet.shape[0] > 1.7 * single.shape[0]
    # The ground between the pictures is grey, without a tint.
    assert (sheet[:, 2] == 0x5C).all()
    # The words are there: white on the grey of the head line.
    assert sheet[:40].max() > 200


def test_pictures_show_the_match(result):
    gallery = gallery_of(result, surfaces={})
    still = result.stills["left"][0]
    shot, matched = gallery.show(still), gallery.show(still, result["left"])
    before, after = gallery.pixels[shot.id].mean(), gallery.pixels[matched.id].mean()
    assert after > before + 8, "the left angle is to become brighter by 0.43 stop"
    assert gallery.show(still) is shot, "drawn once"


def test_words_follow_the_match():
    # Red up and blue down is warm; both up leaves green behind: magenta (by the meaning of the words).
    assert balance_words(0.1, -0.1) == "warmer"
    assert balance_words(-0.1, 0.1) == "cooler"
    assert balance_words(0.2, 0.2) == "more magenta"
    assert balance_words(0.3, 0.05) == "more magenta and a little warmer"
    means = (0.5, 1.5, 3.0, 6.0)
    said = [difference_words(ErrorSummary(mean=m, p95=m, n=9)) for m in means]
    assert len(set(said)) == 4


def test_every_verdict_says_what_to_do_next(result, unsolved):
    for angle in (*result, *unsolved):
        assert next_step(angle).endswith(".")
        assert len(next_step(angle)) > 30
        bare = replace(angle, reasons=(Reason(code="x", text="Something is off."),))
        assert len(next_step(bare)) > 30
    identity = replace(result["left"], match=Match())
    assert "Leave the clip as it is" in next_step(identity)
    assert overall(unsolved) == "right could not be matched from this footage; left is matched."


@pytest.mark.parametrize(("stops", "coarse"), [(0.4, False), (3.6, True)])
def test_a_cube_that_cannot_follow_its_match_gives_way_to_the_clf(
    result: SetupResult, stops: float, coarse: bool
) -> None:
    """Under a log curve's toe, a stop that is lifted by 3.6 lies between two of 65 nodes."""
    left = replace(result["left"], match=Match(exposure_stops=stops))
    one = replace(result, angles=(left, result["right"]))
    made = (make() for make in lut_makers(LutBasis.of("left", one, WriteOptions())))
    cube = next(file for _, file in made if file.kind == "match")
    clf = replace(cube, kind="clf", path="match.clf", error=None, note="")
    assert cube.is_coarse is coarse and ("use the CLF" in cube.note) is coarse
    assert match_lut([cube, clf]) == (clf if coarse else cube)
    assert match_lut([cube]) == cube and match_lut([]) is None
    assert ("too coarse" in next_step(left, match_lut([cube, clf]))) is coarse


def test_files_have_their_names(files):
    assert set(files) == {"report.html", "summary.html", "contact.png"}
