"""A record holds what was entered, in the field's unit, and refuses what cannot be, with a question."""

import datetime
import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit import Formula, total_hydration
from kit.errors import AmountError, KitError, UnitError, UnknownName
from kit.trials import Trial, TrialError, trial_fields
from kit.trials.fields import find
from tests.laws import drawn

FIELDS = trial_fields()
NUMERIC = [f for f in FIELDS.values() if f.unit != "text" and f.group in ("lot", "controlled", "measured")]


def test_only_name_and_date_are_compulsory():
    assert Trial.of("bun", datetime.date(2025, 3, 4)).document().keys() == {"format", "key", "name", "date"}
    for name, date in (("", "2025-03-04"), (None, "2025-03-04"), ("bun", ""), ("bun", None), ("bun", "4/3/25"),
                       ("bun", "2025-02-30")):  # fmt: skip
        with pytest.raises(TrialError, match="must be"):
            Trial.of(name, date)


@given(st.data())
@drawn(150)
def test_what_is_entered_stands_in_the_document_and_comes_back(data):
    """A law: no source. Any reading inside its range survives entry, JSON and both ways of reading."""
    trial = Trial.of(data.draw(st.text("abcäß🥐ש<&'", min_size=1).filter(str.strip)), "2025-03-04")
    for field in data.draw(st.lists(st.sampled_from(NUMERIC), max_size=6, unique_by=lambda f: f.name)):
        if "mass" in field.name:
            continue  # raw and baked masses hang together
        value = data.draw(st.floats(field.low, field.high))
        trial = trial.with_entry(field.words, [value] if field.readings > 1 else value)
        assert trial.readings(field.name) == (value,)
    document = json.loads(json.dumps(trial.document()))
    assert Trial.from_document(document).document() == document
    assert Trial.stored(document).document() == document
    assert vars(Trial.stored(document)) == vars(Trial.from_document(document))


@given(st.sampled_from(NUMERIC), st.floats(0.001, 1e6))
@drawn(150)
def test_nothing_outside_its_range_comes_in(field, beyond):
    for value in (field.low - beyond, field.high + beyond):
        with pytest.raises(TrialError, match=f"'{field.words}' must be .* \\(got"):
            Trial.of("bun", "2025-03-04").with_entry(field.name, value)


# Twelve mean inputs, row 12 and its like. Common practice, no source.
@pytest.mark.parametrize(
    ("entry", "value", "says"),
    [
        ("height", 4.2, "mm or cm? If cm was meant, write 4.2 cm"),
        ("height", [42, 4.2], "mm or cm"),
        ("height day 1", 42, "entered like 'height'"),
        ("dough temperature", 78, "write 78 °F"),
        ("piece mass", 0.06, "write 0.06 kg"),
        ("liking by P1", 11, "a score from 1 to 9 (got 11)"),
        ("crumb softness by P1", 11, "a score from 0 to 10 (got 11)"),
        ("crispness day 1", [5, 11], "a score from 0 to 10"),
        ("crispness", 5, "entered like 'crispness day 1'"),
        ("liking", 5, "entered like 'liking by P1'"),
        ("height by P1", 42, "entered like 'height'"),
        ("heigth", 42, "did you mean height?"),
        ("baked mass", 84.0, "tray's weight"),
        ("height", "tall", "a number"),
        ("height", float("inf"), "finite"),
        ("height", "42 g", "length"),
        ("dough temperature", [25, 26], "one figure for the bake"),
        ("verdict", "kepe", "did you mean keep"),
        ("verdict", "perhaps", "keep, change or drop"),
        ("planned height", 42, "controlled"),
        ("predicted height", (45, 46, 47), "within its band"),
        ("key", "x", "left to the book"),
        ("bake loss", 10, "left to the kit"),
        ("notes", "bell \x07", "U+0007"),
        ("name", "", "given"),
        ("name", "x" * 201, "at most 200"),
    ],
)
def test_mean_input_is_refused_in_words_and_leaves_the_trial_as_it_was(bake, entry, value, says):
    weighed = bake.with_entry("piece mass", [60.0, 61.0]).with_entry("topping mass", 22)
    before = weighed.document()
    with pytest.raises((TrialError, AmountError, UnitError, UnknownName)) as refused:
        weighed.with_entry(entry, value)
    assert says in str(refused.value)
    assert weighed.document() == before


def test_readings_as_bakers_write_them():
    """mm by definition: 1 cm = 10 mm, 1 in = 25.4 mm exactly; 80 degF = 26.67 degC (NIST Handbook 44, Appendix C)."""
    trial = Trial.of("bun", "2025-03-04", height="42,5; 4.2 cm; -; 1 3/4 in; ", dough_temperature="80 degF")
    assert trial.measured["height"] == pytest.approx((42.5, 42.0, 44.45), abs=1e-9)
    assert trial.mean("dough temperature") == 26.67  # finer than a tenth of what the thermometer shows says nothing
    assert Trial.of("bun", "2025-03-04", height=np.array([42.0, np.nan])).measured["height"] == (42.0,)
    assert "height" not in trial.with_entry("height", "").measured
    assert "height" not in trial.with_entry("height", [None, float("nan")]).measured


# Student laboratory report on seed displacement: volume, mass, printed mL per g.
@pytest.mark.parametrize(("volume", "mass", "printed"), [(300, 47.79, 6.277), (140, 51.94, 2.695),
                                                         (1900, 405.71, 4.683), (1810, 245.25, 7.380)])  # fmt: skip
def test_specific_volume_as_printed(volume, mass, printed):
    trial = Trial.of("bun", "2025-03-04", volume=volume, baked_mass=mass)
    assert trial.mean("specific volume") == pytest.approx(printed, abs=0.00051)


def test_specific_volume_measured_goes_before_the_quotient():
    trial = Trial.of("bun", "2025-03-04", volume=300, baked_mass=60, specific_volume=4.5)
    assert trial.readings("specific volume") == (4.5,)


def test_the_formula_truly_baked(bun):
    """By hand: 5,000 g flour, 100 g water and 250 g flour more; every other gram as before, on 5,250 g."""
    trial = Trial.of("bun", "2025-03-04", formula=bun, flour_weighed="5 kg", water_added=100, flour_added=250)
    baked = trial.baked_formula
    assert baked.of_kind("water") == pytest.approx((14 * 50 + 100) / 52.5)
    assert baked.of_kind("butter") == pytest.approx(18 * 5000 / 5250)
    assert baked.of_kind("flour") == pytest.approx(100)
    sponge = sum(baked.part("sponge").percentages) * 5250
    assert sponge == pytest.approx(sum(bun.part("sponge").percentages) * 5000)
    assert baked.part("topping").percentages == bun.part("topping").percentages
    assert Trial.of("bun", "2025-03-04", formula=bun).baked_formula.fingerprint == bun.fingerprint
    with pytest.raises(KitError, match="flour of the batch"):
        Trial.of("bun", "2025-03-04", formula=bun, water_added=100).baked_formula.fingerprint  # noqa: B018
    with pytest.raises(KitError, match="water added"):
        Trial.of("bun", "2025-03-04", formula=bun, flour_weighed=1000, water_added=-500).baked_formula  # noqa: B018


def test_as_weighed_goes_before_as_planned(bun):
    trial = Trial.of("bun", "2025-03-04", formula=bun, weighed_formula=bun.vary(butter=19))
    assert trial.baked_formula.of_kind("butter") == pytest.approx(19)
    assert trial.planned_formula.formula.of_kind("butter") == pytest.approx(18)


@pytest.mark.parametrize("value", [100 / 3, 18.123456789012])
def test_a_formula_keeps_its_fingerprint_in_the_record(bun, value):
    trial = Trial.of("bun", "2025-03-04", formula=bun.vary(butter=value))
    assert trial.planned_formula.fingerprint == trial.planned_formula.formula.fingerprint
    assert Trial.from_document(trial.document()).document() == trial.document()


def test_lines_as_weighed_make_the_formula_that_was_baked(bun):
    """By hand: 5,000 g of flour, 900 g of egg for 800, 60 g of milk too much in the sponge (25 % of the flour)."""
    trial = Trial.of("bun", "2025-03-04", formula=bun, flour_weighed="5 kg")
    trial = trial.with_entry("weighed dough egg", "900 g").with_entry("weighed sponge whole milk", 1250 * 0.88 + 60)
    weighed = trial.weighed_formula
    assert weighed.lines["dough"]["egg_whole_fresh"] == pytest.approx(18)
    assert weighed.lines["sponge"]["milk_whole"] == pytest.approx(22 + 1.2)
    assert weighed.lines["topping"] == pytest.approx(trial.planned_formula.lines["topping"], abs=1e-3)
    assert trial.weighed_otherwise == (
        ("sponge", "milk_whole", pytest.approx(22), pytest.approx(23.2)),
        ("dough", "egg_whole_fresh", pytest.approx(16), pytest.approx(18)),
    )
    assert trial.doubts == [
        "dough: egg weighed 18.00 % for 16.00 %", "sponge: whole milk weighed 23.20 % for 22.00 %",
    ]  # fmt: skip
    assert trial.baked_formula.of_kind("egg") == pytest.approx(18)
    sugar = trial.batch.grams["topping", "sugar_powdered"]
    crust = trial.with_entry("weighed topping plain flour", 1500).with_entry("weighed topping salt", 9)
    assert crust.batch.grams["topping", "ap_flour_enriched_unbleached"] == 1500  # as the scale said
    assert crust.batch.grams["topping", "sugar_powdered"] == sugar
    assert Trial.from_document(json.loads(json.dumps(trial.document()))).document() == trial.document()
    assert Trial.stored(json.loads(json.dumps(trial.document()))).batch.grams == trial.batch.grams


def test_flour_weighed_otherwise_moves_every_percentage(bun):
    """By hand: 500 g more flour on 5,000; 18 % of butter become 900 / 5,500."""
    trial = Trial.of("bun", "2025-03-04", formula=bun, flour_weighed="5 kg")
    trial = trial.with_entry("weighed dough bread flour", 3750 + 500)
    assert trial.controlled["flour_weighed"] == pytest.approx(5500)
    assert trial.weighed_formula.flour == pytest.approx(5500)
    assert trial.baked_formula.of_kind("butter") == pytest.approx(100 * 900 / 5500, abs=1e-3)
    assert trial.doubts[-1] == f"{len(trial.weighed_otherwise) - 3} more lines weighed off the plan"


def test_a_line_can_come_new_go_or_go_back_to_the_plan(bun):
    trial = Trial.of("bun", "2025-03-04", formula=bun)  # for the formula's own 48 pieces
    fruit = trial.with_entry("weighed dough raisins", "50 g")
    ((part, key, planned, weighed),) = fruit.weighed_otherwise
    assert (part, planned, weighed) == ("dough", 0, pytest.approx(100 * 50 / fruit.weighed_formula.flour))
    assert "raisins" in key
    assert fruit.with_entry("weighed dough raisins", None).weighed_otherwise == ()
    without = trial.with_entry("weighed dough egg", 0)
    assert without.baked_formula.of_kind("egg") == 0
    assert without.with_entry("weighed dough egg", "").weighed_otherwise == ()
    counted = trial.with_entry("weighed dough egg", "5 large eggs")
    assert counted.weighed_formula.grams["dough"]["egg_whole_fresh"] == 250  # SR28: 50 g each


@pytest.mark.parametrize(
    ("entry", "value", "says"),
    [
        ("weighed dough eg", 5, "did you mean egg"), ("weighed egg", -5, "amount of 0 or more"),
        ("weighed dough egg", "nan", "must be a number"), ("weighed dough egg", float("inf"), "finite"),
        ("weighed dough egg", "3 min", "must be a mass"), ("weighed topping plain flour", 0, "flour weighed' must be"),
        ("weighed formula", "bun", "must be a Formula"),
    ],
)  # fmt: skip
def test_what_cannot_have_been_weighed_is_refused(bun, entry, value, says):
    with pytest.raises(KitError, match=says):
        Trial.of("bun", "2025-03-04", formula=bun).with_entry(entry, value)


def test_what_is_weighed_needs_a_plan_and_a_size(bun):
    with pytest.raises(TrialError, match="enter the formula as planned"):
        Trial.of("bun", "2025-03-04").with_entry("weighed dough egg", 5)
    sizeless = Formula.from_weights("bun", {"flour": 100, "water": 60}, makes={"piece": 60})
    with pytest.raises(TrialError, match="enter 'flour weighed'"):
        Trial.of("bun", "2025-03-04", formula=sizeless).with_entry("weighed dough water", 5)
    planned = Trial.of("bun", "2025-03-04", formula=sizeless, planned_flour_weighed=1000)
    assert planned.with_entry("weighed dough water", 660).baked_formula.of_kind("water") == pytest.approx(66)


def test_weighed_lines_from_elsewhere_must_fit_their_formula(bun):
    trial = Trial.of("bun", "2025-03-04", formula=bun, flour_weighed="5 kg").with_entry("weighed dough egg", 900)
    document = json.loads(json.dumps(trial.document()))
    for change in ({"egg_whole_fresh": 90}, {"egg_whole_fresh": -900}, {"egg_whole_fresh": "900"}, {"x": 1}):
        bad = json.loads(json.dumps(document))
        bad["weighed_formula"]["grams"]["dough"] |= change
        with pytest.raises(TrialError, match="grams"):
            Trial.from_document(bad)


def test_stuck_instruments_and_pieces_of_one_tray_are_named():
    trial = Trial.of("bun", "2025-03-04", height=[42.0] * 12)
    assert any("stuck" in doubt for doubt in trial.doubts)
    assert any("12 pieces of one bake" in doubt for doubt in trial.doubts)
    few = [42.0, 43.0, 42.5, 44, 43, 42]
    assert Trial.of("bun", "2025-03-04", height=few).doubts == []  # as many as the page for the bench has room for
    assert Trial.of("bun", "2025-03-04", height=[*few, 43]).doubts


def test_scores_and_days_are_replaced_not_doubled():
    trial = Trial.of("bun", "2025-03-04", **{"liking by P1": 6, "liking by P2": 7, "crumb dent day 1": [8, 9]})
    again = trial.with_entry("liking by P1", 8).with_entry("crumb dent day 1", 10)
    assert sorted(again.readings("liking")) == [7, 8]
    assert again.readings("crumb dent day 1") == (10,)
    assert again.with_entry("liking by P2", None).readings("liking") == (8,)
    assert again.with_entry("crumb dent day 1", None).value("crumb dent day 1") is None


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"format": 2}, "update the kit"), ({"format": 0}, "format"), ({"key": "../../x"}, "key"),
        ({"color": "red"}, "as the kit writes it"), ({"measured": {"height": [4.2]}}, "mm or cm"),
        ({"measured": [1]}, "as the kit writes it"), ({"date": "2025-13-01"}, "day of the calendar"),
        ({"measured": {"height": ["42"]}}, "as the kit writes it"),
        ({"scores": [{"score": 5}]}, "as the kit writes it"),
        ({"name": 5}, "text"), ({"planned_formula": {"text": "format = 1"}}, "as the kit writes it"),
    ],
)  # fmt: skip
def test_a_document_from_elsewhere_is_checked_whole(bake, change, says):
    with pytest.raises(KitError, match=says):
        Trial.from_document({**bake.document(), **change})


def test_a_changed_formula_text_is_noticed(bake):
    document = json.loads(json.dumps(bake.document()))
    document["planned_formula"]["text"] = document["planned_formula"]["text"].replace("sugar = 16", "sugar = 17")
    with pytest.raises(TrialError, match="as the kit writes it"):
        Trial.from_document(document)


def with_a_house(folder, bun, fat=70.0, water=28.0):
    """The bun with butter of the house's own, and a mix that the tables don't know, by a CSV beside it."""
    parts = ",".join(f"{part}_g_per_100g" for part in ("water", "protein", "fat", "carbohydrate", "ash"))
    head = f"key,name,kind,group,{parts}"
    rows = f"butter_unsalted,,,,{water},1,{fat},0.5,0.5\nour_flour,our flour,flour,flour,13,11,1,74.5,0.5\n"
    (folder / "house.csv").write_text(f"{head}\n{rows}")
    text = bun.text.replace("format = 1\n", 'format = 1\nhouse_ingredients = "house.csv"\n')
    (folder / "bun.toml").write_text(text)
    return Formula.read(folder / "bun.toml")


def test_a_formula_takes_the_houses_own_figures_along(tmp_path, bun, monkeypatch):
    here, there = tmp_path / "here", tmp_path / "there"
    here.mkdir(), there.mkdir()
    own = with_a_house(here, bun).vary({"bread flour": 90, "our flour": 10})
    assert total_hydration(own) - total_hydration(bun) > 1
    trial = Trial.of("bun", "2025-03-04", formula=own, flour_weighed=1000).with_entry("weighed dough our flour", 120)
    with_a_house(there, bun, fat=82.0, water=16.0)  # another house's file of that name lies where it is read
    monkeypatch.chdir(there)
    back = Trial.from_document(json.loads(json.dumps(trial.document())))
    assert total_hydration(back.planned_formula.formula) == pytest.approx(total_hydration(own))
    assert back.baked_formula.of_kind("flour") == pytest.approx(100)
    assert any("our flour weighed" in words for words in back.doubts)
    assert back.document() == trial.document()


def test_a_formula_that_names_a_file_is_refused_and_no_file_is_read(tmp_path, bun, monkeypatch):
    trial = Trial.of("bun", "2025-03-04", formula=with_a_house(tmp_path, bun))
    document = json.loads(json.dumps(trial.document()))
    document["planned_formula"]["text"] = (tmp_path / "bun.toml").read_text()
    monkeypatch.chdir(tmp_path)
    with pytest.raises(KitError, match="in a file's folder, or rows in the text itself"):
        Trial.from_document(document)


def test_a_record_is_shown_as_text(bake):
    shown = bake.with_entry("notes", "<script>alert(1)</script>").with_entry("name", "<b>bun")._repr_html_()
    assert "<script>" not in shown
    assert "<b>bun" not in shown
    assert "&lt;script&gt;" in shown
    frame = bake.to_frame()
    assert frame.loc["height", "as it was"] == 42.75
    assert frame.loc["height", "readings"] == 2


def test_every_field_of_the_table_can_be_read():
    for field in FIELDS.values():
        assert find(field.words) is field
        assert field.group in ("lot", "controlled", "measured", "series", "sensory")
        assert all(field.ends) == (" to " in field.unit) == any(field.ends)  # a score says what its ends mean
        if field.no_repeat_from:
            assert field.group == "controlled"
            assert (field.apart(100) > 0) == (field.no_repeat_from != "other") == (field.unit != "text")
        if field.unit != "text":
            assert field.low < field.high
            assert field.resolution > 0
            middle = (field.low + field.high) / 2
            assert np.ravel(field.read(middle))[0] == middle


def test_from_what_difference_bakes_are_no_repeats():
    """By hand from the table: a step of 5 degC at the oven, 5 % of the larger piece."""
    assert (find("oven set").apart(200), find("piece mass").apart(60), find("height").apart(60)) == (5, 3, 0)


def test_a_trial_cannot_be_its_own_parent(bake):
    with pytest.raises(TrialError, match="itself"):
        bake.with_entry("parent", bake)
    assert Trial.of("next", "2025-03-05", parent=bake).parent == bake.key
    assert replace(bake, name="x").key == bake.key
