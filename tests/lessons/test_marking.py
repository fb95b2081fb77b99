"""Marking: how learners write numbers, units and bases, and what is said to a wrong one."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.lessons import exercise, exercises, mark
from kit.lessons.asking import build, kind_of
from kit.lessons.marking import VERDICTS
from tests.laws import drawn


def task(kind, **figures):
    return build(kind_of(kind), figures)


PERCENT = task("percentage_from_weight", lines={"bread flour": 800, "milk": 500}, ingredient="milk")  # 62.5 %
GRAMS = task("weight_from_percentage", lines={"bread flour": 100, "milk": 60}, ingredient="milk", flour=300)  # 180 g
KILOS = task("flour_from_dough", lines={"bread flour": 100, "milk": 60, "butter": 15}, dough=2100)  # 1200 g
POINTS = task("hold_the_water", ingredient="egg", now=10, by=10, water=12)  # 7.62 points
DEGF = task("water_temperature", target=80, flour=65, room=75, rise=35, unit="°F")  # 65 degF
DEGC = task("water_temperature", target=24, flour=18, room=18, rise=8, unit="°C")  # 28 degC
WORD = task("class_of_dough", lines={"bread flour": 100, "milk": 50, "butter": 25, "sugar": 10}, scheme="reinhart_2001")
SHARE = task(
    "share_of_dough", lines={"bread flour": 100, "milk": 60, "butter": 40}, ingredient="butter"
)  # 20 % of dough
COCOA = task("topping_base", flour=50, cocoa=50, sugar=95)  # 95 % of flour and cocoa

SPELLINGS = [
    (PERCENT, "62.5 62,5 62,5% 62.5% 5/8 ⅝ +62.5 62.3"),
    (PERCENT, "62.5 %|62,5 %| 62.5 |62 1/2|62½ %|62 1/2 %|62.5 percent|62.5 per cent|62.5 PER CENT|125/2"),
    (
        PERCENT,
        "62.5 % of flour|62.5 % of total flour|62.5 % of the flour|62.5 % on flour|62,5% of all the flour|5/8 of flour",
    ),
    (GRAMS, "180|180 g|180g|0.18 kg|0,18 kg|180 grams|180000 mg|6.349 oz|0.3968 lb|180.5"),
    (KILOS, "1200|1.2 kg|1,2 kg|1 1/5 kg|1 200 g|1200.0 g|2.6455 lb|2 lb 10.33 oz"),
    (POINTS, "7.6|7.62|7,6|7.6 points|7.6 pts|7.6 points of flour|7.6 %|7.6 percentage points"),
    (DEGF, "65|65 degF|65 °F|65 F|18.33 degC|18,3 °C"),
    (DEGC, "28|28 degC|28 °C|28C|82.4 degF"),
    (WORD, "rich|Rich| RICH "),
    (SHARE, "20 % of dough|20 % of the dough|20% of the whole dough"),
    (COCOA, "95 % of flour and cocoa|95 % of flour + cocoa|95 % of the flour and the cocoa|95 % of cocoa and flour"),
]
RIGHT = [(one, text) for one, texts in SPELLINGS for text in (texts.split("|") if "|" in texts else texts.split(" "))]


@pytest.mark.parametrize(("one", "text"), RIGHT, ids=[f"{one.kind}-{text}" for one, text in RIGHT])
def test_right_however_it_is_written(one, text):
    """Common practice, no source: decimal comma, fractions, any unit of the kind; conversions by NIST Handbook 44."""
    got = mark(one, text)
    assert got.verdict == "right", got
    assert got.words.startswith("Right")


UNREADABLE = [
    (PERCENT, "|milk|-|%|62.5 g|62.5 degC|62.5 min|62.5 mL|0.625|1,720|62.5 % of love|1/0|nan|inf|62.5 eggs"),
    (GRAMS, "180 %|180 mL|180 min|180 degC|180 cm|three|180 eggs|g"),
    (POINTS, "7.6 g|7.6 min|points"),
    (DEGF, "65 %|65 g|65 min"),
    (WORD, "tasty|2|25 %|"),
]
CANNOT = [(one, text) for one, texts in UNREADABLE for text in texts.split("|")]


@pytest.mark.parametrize(("one", "text"), CANNOT, ids=[f"{one.kind}-{text}" for one, text in CANNOT])
def test_never_taken_without_a_number_in_the_right_kind_of_unit(one, text):
    got = mark(one, text)
    assert got.verdict == "unreadable", got
    assert not got.right
    assert not got.counts
    assert "must be" in got.words
    assert got.steps == ()


@pytest.mark.parametrize(
    ("one", "text", "verdict", "words"),
    [
        (SHARE, "20 %", "which base", "of what"),
        (SHARE, "20", "which base", "of what"),
        (SHARE, "40 % of flour", "wrong", "true on total flour"),
        (SHARE, "20 % of flour", "wrong", "not of total flour"),
        (SHARE, "40 % of dough", "wrong", "did not change its base"),
        (SHARE, "20 % of the final flour", "unreadable", "say of dough or total flour"),
        (COCOA, "95 %", "which base", "of what"),
        (COCOA, "190 % of flour", "wrong", "true on flour"),
        (COCOA, "95 % of flour", "wrong", "not of flour"),
        (PERCENT, "62.5 % of dough", "wrong", "not of dough"),
        (PERCENT, "38.46 % of dough", "wrong", "true on dough"),
    ],
)
def test_per_cent_of_what(one, text, verdict, words):
    got = mark(one, text)
    assert got.verdict == verdict
    assert words in got.words
    assert got.counts == (verdict == "wrong")


def test_first_a_hint_then_the_solution_with_the_learners_own_numbers():
    first, second = mark(PERCENT, "38.5 %"), mark(PERCENT, "38.5 %", attempt=2)
    assert first.misconception == second.misconception == "divided_by_total"
    assert first.hint
    assert first.steps == ()
    assert "62.5" not in first.words + first.hint
    assert any("500 g / 800 g" in step for step in second.steps)
    assert second.steps[-1] == "The answer is 62.5 % of total flour."


def test_a_wrong_answer_that_nobody_foresaw_gets_the_kinds_own_hint():
    got = mark(PERCENT, "3 %")
    assert (got.verdict, got.misconception, got.hint) == ("wrong", "", PERCENT.hint)


@pytest.mark.parametrize("kind", list(exercises()))
def test_every_misconception_is_recognised_and_its_hint_gives_nothing_away(kind):
    for seed in range(30):
        one = exercise(kind, seed, 1 + seed % 3)
        for key, wrong, words, hint in one.misconceptions:
            text = f"{wrong:.7f} {one.unit}"
            if one.choices:
                text = one.choices[int(wrong)]
            got = mark(one, text + (f" of {one.base}" if one.ask_base else ""))
            assert (got.verdict, got.misconception) == ("wrong", key)
            assert got.hint == hint
            assert words in got.words
            if not one.choices and one.answer >= 10:
                assert f"{one.answer:.{one.decimals}f}" not in got.words + got.hint


def test_just_within_and_just_beyond_the_tolerance():
    """Half a per cent of 180 g is 0.9 g."""
    assert mark(GRAMS, "180.89").right
    assert mark(GRAMS, "179.11").right
    assert not mark(GRAMS, "180.92").right
    assert not mark(GRAMS, "179.08").right


@drawn(300)
@given(st.sampled_from([PERCENT, GRAMS, POINTS, DEGF, WORD, SHARE, COCOA]), st.text())
def test_whatever_is_typed_gets_a_mark(one, text):
    got = mark(one, text)
    assert got.verdict in VERDICTS
    assert got.words


@drawn(200)
@given(st.text(alphabet="0123456789.,/ -%goflbzkcinmhe'½", max_size=14))
def test_near_numbers_get_a_mark(text):
    for one in (PERCENT, GRAMS, SHARE):
        assert mark(one, text).verdict in VERDICTS


def test_a_mark_shows_what_was_typed_as_text():
    got = mark(GRAMS, "<script>alert(1)</script>")
    assert "<script>" not in got._repr_html_()
    assert "&lt;script&gt;" in got._repr_html_()
