"""What is written into a field: read as it was meant, or refused with advice that fits the field."""

import contextlib
import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import KitError
from kit.trials import AskedError, Trial, TrialError
from kit.trials.fields import find, in_unit, text_of, trial_fields
from kit.trials.reading import date_of
from tests.laws import drawn


# Common practice, no source; 1 in = 25.4 mm and 1 h = 60 min by definition; 1 lb = 453.592 37 g, 1 oz = 28.349 523 g
# (NIST Handbook 44).
@pytest.mark.parametrize(
    ("field", "written", "stands"),
    [
        ("disc thickness", "1½", (1.5,)), ("disc thickness", "½ mm", (0.5,)), ("disc thickness", "½ cm", (5.0,)),
        ("disc diameter", "1½ in", (38.1,)), ("crispness", "7½", (7.5,)), ("crispness", "7 1/2", (7.5,)),
        ("piece mass", "1 234", (1234.0,)), ("flour weighed", "2 500", 2500.0), ("flour weighed", "12 500 g", 12500.0),
        ("cover", "0.61 %", (0.61,)), ("cover", "1", (1.0,)), ("cover", [0.61, 0.7], (0.61, 0.7)),
        ("bake time", "16m", 16.0), ("bake time", "16 min 30 s", 16.5), ("bake time", "16m30s", 16.5),
        ("bulk time", "1h20", 80.0), ("bulk time", "1 h 20 min", 80.0), ("bulk time", "1 hour 20 minutes", 80.0),
        ("dough temperature", "26°", 26.0), ("dough temperature", "26 ºC", 26.0), ("bulk rise", "1.9 x", (1.9,)),
        # several at once, however they are parted
        ("piece mass", "60 61 59 60", (60, 61, 59, 60)), ("height", "42,43,44", (42, 43, 44)),
        ("disc thickness", "4,2 4,3", (4.2, 4.3)), ("height", "42, 43", (42, 43)), ("height", "42.5,43", (42.5, 43)),
        ("height", "42,5 43", (42.5, 43)),
        ("height", "42 mm 43 mm", (42, 43)), ("height", "42, 43, 44 mm", (42, 43, 44)),
        ("height", "4.2 4.3 cm", (42, 43)),
        ("piece mass", "60g, 61, 59", (60, 61, 59)), ("height", "42/43/44", (42, 43, 44)),
        ("piece mass", "60 g / 61 g", (60, 61)),
        ("height", "42, 43 and 44", (42, 43, 44)), ("height", "42&43", (42, 43)),
        ("height", "42 - 43 - 44", (42, 43, 44)), ("height", "42, -, 44", (42, 44)), ("height", "42 43 -", (42, 43)),
        ("height", "42\t43\n44", (42, 43, 44)), ("topping mass", "22,1, 21,9, 22,4", (22.1, 21.9, 22.4)),
        ("topping mass", "22,1,21,9", (22.1, 21.9)), ("height", "1 3/4 1 1/2 in", (44.45, 38.1)),
        ("piece mass", "2 oz 2.1 oz", (56.7, 59.53)),
        ("bulk rise", "1.9x 2.0x", (1.9, 2.0)), ("cover", "61 62 %", (61, 62)),
        ("colour red", "-5; 6", (-5, 6)), ("fallen topping", "0 1 0", (0, 1, 0)), ("crispness", "7/8/7", (7, 8, 7)),
        # one, where two can't be
        ("height", "42,5", (42.5,)), ("disc thickness", "4,2", (4.2,)), ("piece mass", "2 lb 3 oz", (992.23,)),
        ("flour weighed", "2.500", 2500.0), ("flour weighed", "2,500 g", 2500.0), ("piece mass", "62,500", (62.5,)),
        ("crispness", "5/10", (5.0,)), ("liking", "7 out of 9", (7.0,)), ("yeast age", "3 d", 3.0),
        ("bake time", "16:30", 16.5), ("bake time", "1:20", 80.0), ("bulk time", "8:15-9:40", 85.0),
        ("bulk time", "from 23:30 to 7:00", 450.0), ("bake time", "16'30\"", 16.5), ("proof time", "90'", 90.0),
        ("dough temperature", "ca. 26 °C", 26.0),
        ("dough temperature", "~26 degrees", 26.0),
        ("height", "42.5.", (42.5,)), ("water added", "-50", -50.0), ("bulk time", "1:15", 75.0),
        ("dough temperature", "38°c", 38.0),
        ("bake time", "16-ish", 16.0),
        ("height", "4.2cm 43mm", (42, 43)), ("diameter", "95x98", (95, 98)), ("height", "n/a", None),
        ("dough temperature", "didn't measure", None),
    ],
)  # fmt: skip
def test_it_is_read_as_it_was_meant(field, written, stands):
    assert find(field).read(written) == stands


# Common practice, no source.
@pytest.mark.parametrize(
    ("field", "written", "choices", "about"),
    [
        ("height", "42,43", ("42.43 mm", "42; 43"), "a comma between two numbers"),
        ("disc thickness", "4,3", ("4.3 mm", "4; 3"), "a comma between two numbers"),
        ("height", "42-43", ("42 mm", "42.5 mm", "43 mm", "42; 43"), "a dash between two numbers"),
        ("bake time", "16 to 17 min", ("16 min", "16.5 min", "17 min"), "a dash between two numbers"),
        ("piece mass", "22 5", ("22; 5", "22.5 g"), "a space between two numbers"),
        ("height", "42 5", ("42.5 mm",), "a space between two numbers"),
        ("topping mass", "10 200", ("10; 200", "10.2 g"), "a space between two numbers"),
        ("water added", "1.250", ("1.25 g", "1250 g"), "three digits after a mark"),
        ("bulk time", "10:30", ("10 h 30 min", "10 min 30 s"), "a time with a colon"),
        ("crispness", "7/10", ("7", "7; 10"), "a slash between two numbers"),
        ("height", "4,2 4,3", ("4,2 cm; 4,3 cm", "4,2 in; 4,3 in"), "height without its unit"),
        ("dough temperature", "78°", ("78 °F",), "dough temperature without its unit"),
        ("oven set", "350", ("350 °F",), "oven set without its unit"),
        ("cover", "0.61", ("61 %", "0.61 %"), "a share of one"), ("cover", 0.61, ("61 %", "0.61 %"), "a share of one"),
        ("butter fat", "0,82", ("82 %",), "a share of one"),
        ("height", "44; 42,43; 41", ("44; 42.43 mm; 41", "44; 42; 43; 41"), "a comma between two numbers"),
    ],
)  # fmt: skip
def test_it_is_asked_where_it_may_be_two(field, written, choices, about):
    """Each choice is read as it stands, and once it is remembered the same is asked no more."""
    with pytest.raises(AskedError) as asked:
        find(field).read(written)
    asking = asked.value.asking
    assert tuple(text for _, text in asking.choices) == choices
    assert asking.about == about
    for answer, text in asking.choices:
        assert find(field).read(text) == find(field).read(written, {about: answer})


# Common practice, no source.
@pytest.mark.parametrize(
    ("field", "written", "choices"),
    [
        ("bulk time", "2", ("2 min", "2 h")), ("bulk time", "1.15", ("1.15 min", "1.15 h")),
        ("baked mass", "72 71 7 73", ("72 g; 71 g; 7 g; 73 g", "72 g; 71 g; 73 g")),
        ("diameter", "9.5", ("9.5 cm",)),
    ],
)  # fmt: skip
def test_what_is_unusual_is_asked_about_where_somebody_types(field, written, choices):
    """A record, or an answer with its unit, stands as it is."""
    with pytest.raises(TrialError) as asked:
        find(field).read(written, {})
    assert tuple(text for _, text in asked.value.asking.choices if choices) == choices
    for _, text in asked.value.asking.choices:
        assert find(field).read(text, {}) == find(field).read(text)


# Common practice, no source.
@pytest.mark.parametrize(
    ("field", "written", "entered"),
    [
        ("dough temperature", "27 after mixing", "27 °C"), ("bulk time", "12h fridge", "720 min"),
        ("bake time", "20 mins, turned at 12", "20 min"), ("water temperature", "ice water ~2", "2 °C"),
        ("oven set", "180 fan", "180 °C"), ("bulk time", "overnight", ""), ("height", "tall", ""),
    ],
)  # fmt: skip
def test_words_beside_a_reading_are_for_the_notes(field, written, entered):
    with pytest.raises(AskedError) as asked:
        find(field).read(written, {})
    assert [text for _, text in asked.value.asking.choices] == [entered]
    assert asked.value.asking.rest == written


def test_an_answer_reads_nothing_that_can_t_be():
    """42,5 holds no two heights, whatever was answered for 42,43."""
    several = {"a comma between two numbers": "several"}
    assert find("height").read("42,43", several) == (42, 43)
    assert find("height").read("42,5", several) == (42.5,)
    assert find("crumb dent").read("8,5", several) == (8.5,)


@pytest.mark.parametrize(
    ("field", "written", "says"),
    [
        ("liking", "7/10", "score it anew on that scale"), ("liking", "good", "a score from 1 to 9 (got 'good')"),
        ("height", "45?", "must be a length in mm (got '45?'); write it like 42.5 mm or 4.25 cm"),
        ("height", "45 kg", "write it like 42.5 mm"), ("height", "nan", "write it like 42.5 mm"),
        ("bulk rise", "2 cm", "a number, in x"), ("height", "1234 567", "(got 1234 mm)"),
        ("height", "42 43 4o", "readings that can be told (got '4o'); 42; 43 can be read: write the rest like 42.5 mm"),
        ("height", "42 43 44 cm", "(got 420 mm); measure it again"), ("room temperature", "22; 23", "one figure"),
        ("crumb dent", "99", "measure it again (200 g plunger for 10 s)"),
        ("height", float("inf"), "finite number (got inf); leave it empty when nothing was measured"),
    ],
)  # fmt: skip
def test_it_is_refused_with_advice_that_fits_the_field(field, written, says):
    with pytest.raises(KitError) as refused:
        find(field).read(written)
    assert says in str(refused.value)
    assert not isinstance(refused.value, AskedError)


@pytest.mark.parametrize(("field", "written"), [("core temperature", "356 °F"), ("height", "4.2 mm"),
                                                ("piece mass", "0.06 g"), ("butter fat", "0.8 %")])  # fmt: skip
def test_no_other_unit_is_advised_where_one_was_given(field, written):
    with pytest.raises(TrialError, match="must be .* \\(got .*\\); measure it again \\(") as refused:
        find(field).read(written)
    assert "meant" not in str(refused.value)
    assert written in str(refused.value)


def test_a_unit_is_written_to_bare_readings_only():
    assert in_unit("4,2; 43 mm; ½; -; 26°", "cm") == "4,2 cm; 43 mm; ½ cm; -; 26°"


@pytest.mark.parametrize("name", ["\u200b", "\u200b \u2060", "\ufeff", "\u00ad", "\u0301"])
def test_a_name_can_be_seen(name):
    """Unicode categories Cf and Mn: formats and marks show nothing by themselves."""
    with pytest.raises(TrialError, match="nothing that can be seen"):
        Trial.of(name, "2025-03-04")


def test_what_is_needed_is_asked_for_in_its_own_words():
    for name, says in (("by", "say who writes"), ("view", "few words"), ("taster", "code"), ("name", "and a date")):
        with pytest.raises(TrialError, match=f"'{name}' must be given \\(got nothing\\); .*{says}"):
            text_of("", name, needed=True)


def test_a_text_too_long_is_not_sent_to_where_it_is():
    with pytest.raises(TrialError, match="keep the rest in a file"):
        text_of("x" * 4_000_001, "notes")
    with pytest.raises(TrialError, match="into the notes"):
        text_of("x" * 201, "baker")


@given(
    st.sampled_from(
        [f.name for f in trial_fields().values() if f.unit != "text"] + ["own shine, 0 to 10", "own gap, mm"]
    ),
    st.text("0123456789.,;/-–x+&~° CFcmgin%'\"½:htoand", max_size=14),
    st.booleans(),
)
@drawn(400)
def test_whatever_is_typed_is_read_asked_or_refused(field, typed, by_hand):
    """A law, no source: what is read lies in the field's range, what is offered is read, of several one by one."""
    target, answers = find(field), {} if by_hand else None
    try:
        found = target.read(typed, answers)
    except AskedError as asked:
        for _, text in asked.asking.choices:
            with contextlib.suppress(*[AskedError] * (";" in text)):
                target.read(text, answers)
    except KitError:
        pass
    else:
        given = found if isinstance(found, tuple) else (found,)
        assert all(each is None or target.low <= each <= target.high for each in given)


@given(st.text("0123456789./-, :MarchTueday", max_size=12))
@drawn(300)
def test_whatever_is_typed_for_a_date_is_one_or_is_none(typed):
    """A law, no source."""
    try:
        made = date_of(typed, today=datetime.date(2026, 1, 9))
    except KitError:
        return
    assert 1900 <= made.year <= 2100


# Common practice, no source; 2026-03-03 was a Tuesday and 2025-03-03 a Monday.
@pytest.mark.parametrize(
    ("written", "day"),
    [
        ("2026-03-03", "2026-03-03"), ("3.3.2026", "2026-03-03"),
        ("2026/03/03", "2026-03-03"), ("3 March", "2026-03-03"),
        ("3.4.26", "2026-04-03"), ("3.4.", "2025-04-03"),
        ("March 3, 2026", "2026-03-03"), ("3rd of March", "2026-03-03"),
        ("3 Mar 25", "2025-03-03"),
        ("13/4/2026", "2026-04-13"), ("4/13/2026", "2026-04-13"),
        ("20260303", "2026-03-03"), ("3/3/26", "2026-03-03"), ("yesterday", "2026-01-08"), ("Today", "2026-01-09"),
        ("30 December", "2025-12-30"), ("1 April", "2025-04-01"), ("3-MAR-2026", "2026-03-03"),
    ],
)  # fmt: skip
def test_a_date_is_read_as_it_is_written(written, day):
    """Without a year in the one that is nearest: ten months back, two months ahead."""
    assert str(date_of(written, today=datetime.date(2026, 1, 9))) == day


def test_day_and_month_that_may_be_exchanged_are_asked_about():
    for written in ("3/4/2026", "3-4-26", "3/4"):
        with pytest.raises(AskedError, match="3 April 2026 or 4 March 2026") as asked:
            date_of(written, today=datetime.date(2026, 4, 9))
        choices = dict(asked.value.asking.choices)
        assert choices == {"the day first": "3 April 2026", "the month first": "4 March 2026"}
        answers = {asked.value.asking.about: "the month first"}
        assert str(date_of(written, answers, datetime.date(2026, 4, 9))) == "2026-03-04"
    with pytest.raises(AskedError, match="3 April 2026 or 4 March 2026"):  # as code enters it, where nobody was asked
        Trial.of("bun", "2026-03-01").with_entry("date", "3/4/2026")


@pytest.mark.parametrize("date", ["9999-01-01", "1899-12-31", "2101-01-01", "0001-01-01", "31 Feb", "12:30", "March",
                                  "2026", "Monday 3 March 2026", "1 March 1", "30/2/2026", "soon",
                                  "0.3.2026"])  # fmt: skip
def test_a_date_is_one_of_a_bake(date):
    with pytest.raises(TrialError, match="from 1900 to 2100"):
        date_of(date, today=datetime.date(2026, 1, 9))
    assert date_of("1900-01-01").year == 1900


@pytest.mark.parametrize("parent", ["T-001", "the one before", "F" * 32, "0" * 31])
def test_a_parent_is_a_trial_or_its_key(parent):
    with pytest.raises(TrialError, match="'parent' must be a Trial or its key"):
        Trial.of("bun", "2025-03-04", parent=parent)
