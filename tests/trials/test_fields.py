"""What is written into a field: read as it was meant, or refused with advice that fits the field."""

import pytest

from kit.errors import KitError
from kit.trials import Trial, TrialError
from kit.trials.fields import date_of, find, in_unit, text_of


# Common practice, no source; 1 in = 25.4 mm and 1 h = 60 min by definition.
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
    ],
)  # fmt: skip
def test_it_is_read_as_it_was_meant(field, written, stands):
    assert find(field).read(written) == stands


# t/degC = (t/degF - 32) / 1.8 and 1 oz = 28.349 523 g (NIST SP 811); 1 lb = 453.592 37 g (NIST Handbook 44).
@pytest.mark.parametrize(
    ("field", "written", "stands"),
    [
        ("core temperature", "182 F", 83.33), ("oven set", "350 degF", 176.7), ("flour weighed", "5 lb", 2268.0),
        ("piece mass", "2 oz", (56.7,)), ("height", "42.123456 mm", (42.123456,)), ("height", 42.123456, (42.123456,)),
    ],
)  # fmt: skip
def test_what_converts_stands_to_a_tenth_of_what_the_instrument_shows(field, written, stands):
    assert find(field).read(written) == stands


@pytest.mark.parametrize(
    ("field", "written", "says"),
    [
        ("crispness", "7/10", "'crispness' must be a score from 0 to 10 (got '7/10'); write 7"),
        ("liking", "7 out of 9", "write 7"), ("liking", "7/10", "score it anew on that scale"),
        ("liking", "good", "a score from 1 to 9 (got 'good'); score it anew"),
        ("piece mass", "22 5", "22; 5 or 225?"), ("piece mass", "4 4", "4; 4 or 44?"), ("height", "22 5", "22; 5 or"),
        ("height", "42, 43", "42; 43?"), ("height", "42.5,43", "part several by semicolons"),
        ("height", "42.5 43,1", "42.5; 43,1?"), ("height", "1234 567", "1234; 567 or 1234567?"),
        ("topping mass", "10 200", "10; 200 or 10200?"), ("height", "42'5", "42; 5 or 425?"),
        ("cover", "0.61", "did you mean 61 %? If not, write 0.61 %"), ("cover", 0.61, "did you mean 61 %?"),
        ("butter fat", "0.82", "(got 0.82 %); did you mean 82 %?"),
        ("height", "45?", "must be a length in mm (got '45?'); write it like 42.5 mm or 4.25 cm"),
        ("height", "45 kg", "write it like 42.5 mm"), ("height", "nan", "write it like 42.5 mm"),
        ("bake time", "1:20", "write 1 h 20 min, or 1 min 20 s"), ("bulk rise", "2 cm", "a number, in x"),
        ("dough temperature", "78°", "If °F was meant, write 78 °F"),
        ("crumb dent", "99", "measure it again (200 g plunger for 10 s)"),
        ("height", float("inf"), "finite number (got inf); leave it empty when nothing was measured"),
    ],
)  # fmt: skip
def test_it_is_refused_with_advice_that_fits_the_field(field, written, says):
    with pytest.raises(KitError) as refused:
        find(field).read(written)
    assert says in str(refused.value)


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
    for name, says in (("by", "say who writes"), ("view", "cut face"), ("taster", "code"), ("name", "and a date")):
        with pytest.raises(TrialError, match=f"'{name}' must be given \\(got nothing\\); .*{says}"):
            text_of("", name, needed=True)


def test_a_text_too_long_is_not_sent_to_where_it_is():
    with pytest.raises(TrialError, match="keep the rest in a file"):
        text_of("x" * 4_000_001, "notes")
    with pytest.raises(TrialError, match="into the notes"):
        text_of("x" * 201, "baker")


@pytest.mark.parametrize("date", ["9999-01-01", "1899-12-31", "2101-01-01", "0001-01-01"])
def test_a_date_is_one_of_a_bake(date):
    with pytest.raises(TrialError, match="from 1900 to 2100"):
        date_of(date)
    assert date_of("1900-01-01").year == 1900


@pytest.mark.parametrize("parent", ["T-001", "the one before", "F" * 32, "0" * 31])
def test_a_parent_is_a_trial_or_its_key(parent):
    with pytest.raises(TrialError, match="'parent' must be a Trial or its key"):
        Trial.of("bun", "2025-03-04", parent=parent)
