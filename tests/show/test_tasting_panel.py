"""The tasting panel: its numbers and words are those of the exact distributions, and it lives on after errors."""

import re

import pytest

import kit
from kit.errors import AmountError
from kit.show import TastingPanel
from kit.show.panel import Dial
from kit.trials import tasters_needed, tasting, tasting_power


@pytest.fixture
def panel():
    return TastingPanel(tasting("triangle", 15, 24, ("plain", "25 % butter")))


def slide(panel, name, value):
    panel.dials[name].slider.value = value


def words(panel):
    """What a reader reads."""
    text = re.sub(r"<[^>]*>", " ", panel._live.value).replace("\u00a0", " ").replace("&#x27;", "'")
    return re.sub(r"\s+", " ", text)


def test_a_preference_has_two_sides(panel):
    panel.choices["test"].value = "preference"
    assert "15 of 24 prefer plain, 18 needed" in words(panel)
    assert "prefer plain 15 of 24 no more than may be by guessing" in words(panel)
    slide(panel, "right", 6)
    assert "prefer 25 % butter 18 of 24 more than guessing" in words(panel)


def test_the_share_that_notices_is_found_as_often_as_the_power_says(panel):
    slide(panel, "share", 40)
    assert f"finds it {float(tasting_power('triangle', 40, 24)):.0f} of 100 when 40 % notice" in words(panel).replace(
        "  ", " "
    )


def test_numbers_and_words_are_those_of_the_tasting(panel):
    slide(panel, "tasters", 20)
    slide(panel, "right", 8)
    wanted = tasting("triangle", 8, 20, ("plain", "25 % butter"))
    assert panel.result == wanted
    said = words(panel)
    assert wanted.told() in said
    assert "told them apart 8 of 20 no more than may be by guessing; 11 needed at a risk of 5 %" in said
    assert " p = " not in said  # which opens on asking
    panel._behind.selected_index = 0
    assert f"p = {wanted.p:.3f}" in panel._table.value
    assert f"finds it {float(tasting_power('triangle', 30, 20)):.0f} of 100" in said
    assert f"{tasters_needed('triangle', 30)} tasters needed" in said
    assert all(note in said for note in wanted.notes)


def test_fewer_tasters_than_were_right_are_all_right(panel):
    slide(panel, "tasters", 9)
    assert (panel.result.right, panel.result.tasters) == (9, 9)
    assert panel.dials["right"].box.value == "9"
    panel.undo()
    assert (panel.result.right, panel.result.tasters) == (15, 24)


def test_too_few_to_show_anything(panel):
    slide(panel, "tasters", 2)
    assert "more tasters needed" in words(panel)


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("tasters", "0", "must be a whole number of tasters, 2 or more (got 0)"),
        ("tasters", "12.5", "must be a whole number of tasters"),
        ("tasters", "200", "must be 60 or fewer here (got 200)"),
        ("tasters", "many", "must"),
        ("right", "25", "must be a whole number from 0 to 24 (got 25)"),
        ("right", "-1", "must be a whole number of answers, 0 or more"),
        ("share", "100", "must be 5 to 95 %"),
    ],
)
def test_what_cannot_be_is_said_and_the_last_picture_stays(panel, name, typed, said):
    before = panel._live.value
    panel.dials[name].box.value = typed
    assert said in panel._problem.value.replace("&#x27;", "'")
    assert panel._live.value == before
    panel.dials["right"].box.value = "14"
    assert panel._problem.value == ""
    assert panel.result.right == 14


def test_undo_and_reset(panel):
    panel.choices["test"].value = "preference"
    slide(panel, "share", 60)
    panel.undo()
    assert (panel.result.test, panel.share) == ("preference", 30)
    panel.reset()
    assert (panel.result.test, panel.result.right) == ("triangle", 15)
    panel.undo()
    assert panel.result.test == "preference"


def test_names_are_text():
    panel = TastingPanel(tasting("preference", 15, 24, ("<b>$x$</b>", "y")))
    assert "<b>$x$" not in panel._live.value
    assert "&lt;b&gt;$x$" in panel._live.value


def test_the_dials_reach_so_many_tasters():
    with pytest.raises(AmountError, match="60 or fewer here"):
        TastingPanel(tasting("triangle", 50, 100))


def test_cautions_stand_under_it(panel):
    assert "Ask every taster about allergies" in panel.children[-1].value
    assert kit.cautions.FIRST in panel.children[-1].value


def test_what_a_browser_sends_back_late_moves_nothing():
    """A browser rounds 14 to 14.000000000000002, and may send it when the dial stands elsewhere."""
    dial = Dial("right", 14, 0.0, 60.0, 1.0)
    assert dial.slid(8.0)
    assert not dial.slid(14.000000000000002)
    assert (dial.value, dial.slider.value) == (8.0, 8.0)
    assert dial.slid(14.000000000000002)  # now somebody moved it there
    assert dial.value == 14.0


def test_what_the_slider_left_behind_is_rounded_anew_and_moves_nothing():
    """Four of one to ten is a third of the way: sent as 3.9999999999999996, and as 4.0 once another value is typed."""
    dial = Dial("days", 4, 1, 10, 1, "sessions", "number")
    dial.slider.value = 3.9999999999999996
    assert not dial.slid(3.9999999999999996)
    dial.show(6.0)
    assert not dial.slid(4.0)
    assert (dial.value, dial.slider.value) == (6.0, 6.0)
    assert dial.slid(4.0)  # now somebody moved it there
    assert dial.value == 4.0
