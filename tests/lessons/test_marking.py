"""Marking: how learners write numbers, units and bases, and what is said to a wrong one."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.lessons import exercise, exercises, mark
from kit.lessons.asking import build
from kit.lessons.kinds import KINDS
from kit.lessons.marking import VERDICTS
from tests.laws import drawn


def task(kind, **figures):
    return build(KINDS[kind], figures)


PERCENT = task("percentage_from_weight", lines={"flour": 800, "milk": 500}, ingredient="milk")  # 62.5 %
GRAMS = task("weight_from_percentage", lines={"flour": 100, "milk": 60}, ingredient="milk", flour=300)  # 180 g
KILOS = task("flour_from_dough", lines={"flour": 100, "milk": 60, "butter": 15}, dough=2100)  # 1200 g
POINTS = task("milk_for_egg", egg=64, milk=64)  # 7.67 points
DEGF = task("water_temperature", target=80, flour=65, room=75, rise=35, unit="°F")  # 65 degF
DEGC = task("water_temperature", target=24, flour=18, room=18, rise=8, unit="°C")  # 28 degC
WORD = task("class_of_dough", lines={"flour": 100, "milk": 50, "butter": 25, "sugar": 10}, scheme="reinhart_2001")
SHARE = task("share_of_dough", lines={"flour": 100, "milk": 60, "butter": 40}, ingredient="butter")  # 20 % of dough
COCOA = task("topping_base", flour=50, cocoa=50, sugar=95)  # 95 % of flour and cocoa

SPELLINGS = [
    (PERCENT, "62.5 62,5 62,5% 62.5% 5/8 ⅝ +62.5 62.6"),
    (PERCENT, "62.5 %|62,5 %| 62.5 |62 1/2|62½ %|62 1/2 %|62.5 percent|62.5 per cent|62.5 PER CENT|125/2"),
    (
        PERCENT,
        "62.5 % of flour|62.5 % flour|62.5 % milk|500/800 = 62.5 %|62.5 % of total flour|"
        "62.5 % of the flour|62.5 % on flour|62,5% of all the flour|5/8 of flour",
    ),
    (
        GRAMS,
        "180|180 g|180g|0.18 kg|0,18 kg|180 grams|180000 mg|6.349 oz|0.3968 lb|180 g milk|"
        "180 g of milk|~180|about 180 g|ca. 180 g|60 / 100 x 300 = 180 g",
    ),
    (
        KILOS,
        "1200|1,200 g|1,200|1200 g flour|~1200|≈ 1.2 kg|1.200,5 g|1,200.5 g|1.2 kg|1,2 kg|"
        "1 1/5 kg|1 200 g|1200.0 g|2.6455 lb|2 lb 10.33 oz",
    ),
    (POINTS, "7.7|7.67|7,7|7.7 points|7.7 pts|7.7 points of flour|7.7 %|7.7 percentage points"),
    (DEGF, "65|65 degF|65 °F|65 F|18.33 degC|18,3 °C"),
    (DEGC, "28|28 degC|28 °C|28C|82.4 degF"),
    (WORD, "rich|Rich| RICH "),
    (SHARE, "20 % of dough|20 % of the dough|20% of the whole dough|20 % dough|40/200 = 20 % of dough"),
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
    (PERCENT, "|milk|-|%|62.5 g|62.5 degC|62.5 min|62.5 mL|62.5 % of love|1/0|nan|inf|62.5 eggs"),
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
        (SHARE, "40 % of dough", "wrong", "still per cent of total flour"),
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
    assert first.misconception == second.misconception == "divided_by_the_dough"
    assert first.hint
    assert first.steps == ()
    assert "62.5" not in first.words + first.hint + first.working
    mistake = "500 / 1,300 x 100 = 38.46 %: 1,300 g is the whole dough; the flour is 800 g."
    assert first.working.startswith(mistake)
    assert second.working.startswith(mistake)
    assert second.working.endswith("Right: Milk, of total flour: 500 / 800 x 100 = 62.5 %.")
    assert any("500 / 800" in step for step in second.steps)
    assert second.steps[-1] == "The answer is 62.5 % of total flour."


def test_a_wrong_answer_that_nobody_foresaw_gets_the_kinds_own_hint():
    got = mark(PERCENT, "3 %")
    assert (got.verdict, got.misconception, got.hint) == ("wrong", "", PERCENT.hint)


@pytest.mark.parametrize("kind", list(exercises()))
def test_every_misconception_is_recognised_and_its_hint_gives_nothing_away(kind):
    for seed in range(30):
        one = exercise(kind, seed, 1 + seed % 3)
        for key, wrong, words, line in one.misconceptions:
            text = f"{wrong:.7f} {one.unit}"
            if one.choices:
                text = one.choices[int(wrong)]
            got = mark(one, text + (f" of {one.base}" if one.ask_base else ""))
            assert got.verdict == "wrong"
            assert key in got.misconceptions
            assert got.hint == one.hint
            assert words in got.words
            assert line not in got.words
            assert one.in_words(one.answer) not in got.hint


def test_just_within_and_just_beyond_the_tolerance():
    """The step that is asked for: 0.1 g."""
    assert mark(GRAMS, "180.09").right
    assert mark(GRAMS, "179.91").right
    assert not mark(GRAMS, "180.12").right
    assert not mark(GRAMS, "179.88").right


@pytest.mark.parametrize(
    ("one", "text", "choices"),
    [
        (KILOS, "1,200 kg", ["1200 kg", "1.2000 kg"]),
        (KILOS, "1.200 g", ["1.2000 g", "1200 g"]),
        (KILOS, "1.200", ["1.2000 g", "1200 g"]),
        (KILOS, "2,100 kg", ["2100 kg", "2.1000 kg"]),  # the dough, taken for the flour
        (PERCENT, "0.625", ["0.625 %", "62.5 %"]),
        (PERCENT, ".385", ["0.385 %", "38.5 %"]),  # divided by the dough
    ],
)
def test_it_is_asked_which_was_meant_where_the_other_reading_tells_something(one, text, choices):
    """A mark with three digits after it parts thousands to one reader, decimals to another: common practice."""
    got = mark(one, text)
    assert (got.verdict, got.counts) == ("which", False)
    assert [chosen for _, chosen in got.choices] == choices
    assert all(mark(one, chosen).verdict != "which" for chosen in choices)
    assert any(mark(one, chosen).right or mark(one, chosen).misconceptions for chosen in choices)


def test_a_mark_with_any_other_number_of_digits_after_it_has_one_reading():
    assert mark(KILOS, "1,2000 kg").right
    assert mark(KILOS, "1,20 kg").right
    assert mark(KILOS, "1,300 g").verdict == "wrong"  # 1.3 g would tell nothing


@pytest.mark.parametrize(
    ("one", "text", "words"),
    [
        (PERCENT, "6.25 %", "slip of the point, ten times too small"),
        (PERCENT, "625 %", "slip of the point, ten times too large"),
        (KILOS, "1200 kg", "slip of the point, a thousand times too large"),
        (task("flour_from_dough", lines={"flour": 100, "milk": 61}, dough=2000), "1240 g", "rounded too far"),
        (task("flour_from_dough", lines={"flour": 100, "milk": 61}, dough=2000), "1250 g", "rounded too far"),  # / 1.6
    ],
)
def test_a_slip_is_named_as_such_and_is_no_misconception(one, text, words):
    got = mark(one, text)
    assert (got.verdict, got.misconceptions, got.right, got.counts) == ("slip", (), False, True)
    assert words in got.words
    assert mark(one, text, attempt=2).steps


def test_two_mistakes_of_one_number_are_both_said():
    """By hand: 60 g of dough at 200 %, 20 % sugar: all parts but the flour are 100, so leaving the flour out and taking
    the per cent of the dough both give 12 g."""
    one = task("sugar_in_a_piece", lines={"flour": 100, "milk": 60, "butter": 20, "sugar": 20}, dough=60)
    got = mark(one, "12 g")
    assert set(got.misconceptions) == {"percent_of_the_dough", "left_flour_out"}
    assert " Or: " in got.working


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
