"""A bake begun as another was: by hand from the invented bun's file, and from the calendar."""

import datetime

import pytest

from kit.trials import Trial
from kit.trials.again import aims, as_planned, bake_again, due

DAY = datetime.date(2025, 3, 4)


def test_a_formula_s_own_steps_and_oven_are_the_plan(bun):
    """Read off crackle_bun.toml: sponge 80 min at 27, first speed 4 min, second 5 + 5, and so on."""
    assert aims(Trial.of("bun", DAY, formula=bun)) == {
        "piece_mass": 60,
        "topping_mass": 22,
        "wash_mass": 1,
        "preferment_time": 80,
        "preferment_temperature": 27,
        "mix_time_slow": 4,
        "mix_time_fast": 10,
        "dough_temperature": 26,
        "bulk_time": 75,
        "bulk_temperature": 26,
        "proof_time": 70,
        "proof_temperature": 28,
        "proof_humidity": 70,
        "oven_set": 180,
        "bake_time": 16,
        "core_temperature": 91,
    }


def test_what_was_planned_of_the_bake_itself_comes_before_its_formula(bun):
    trial = Trial.of("hotter", DAY, formula=bun, planned_oven_set=190, planned_piece_mass=[60, 62])
    assert (aims(trial)["oven_set"], aims(trial)["piece_mass"], aims(trial)["bake_time"]) == (190, 61, 16)


def test_as_planned_leaves_what_is_noted_and_what_is_read(bun):
    was = as_planned(Trial.of("bun", DAY, formula=bun, proof_time=64)).controlled
    assert (was["proof_time"], was["bulk_time"]) == (64, 75)
    assert not {"dough_temperature", "core_temperature"} & set(was)  # read off at the end of mixing, and of baking


def test_a_repeat_is_planned_as_the_bake_was_and_measured_anew(bun):
    first = Trial.of(
        "bun", DAY, formula=bun, planned_oven_set=185, mixer="spiral", flour_lot="A", yeast_age=3, tags="x"
    )
    first = first.with_entry("oven set", 183).with_entry("notes", "sharp").with_entry("height", 46)
    again = bake_again(first, "2025-03-06")
    assert (again.date, again.parent, again.tags, again.notes) == (datetime.date(2025, 3, 6), first.key, "x", "")
    assert (again.planned, again.controlled, again.measured) == ({"oven_set": 185}, {"mixer": "spiral"}, {})
    assert again.value("flour lot") == "A"
    assert again.value("yeast age") is None  # it is older by now
    assert again.planned_formula.fingerprint == bun.fingerprint


@pytest.mark.parametrize(
    ("days", "entries"),
    [(0, ()), (1, ("day 1",)), (2, ("day 1", "day 2")), (5, ("day 1", "day 2")), (6, ())],
)
def test_what_is_due_by_the_calendar(days, entries):
    bake = Trial.of("bun", DAY, **{"crumb dent day 0": 9})
    found = due([bake], (), DAY + datetime.timedelta(days=days))
    assert [each.entries for each in found] == ([tuple(f"crumb dent {day}" for day in entries)] if entries else [])


def test_what_the_kitchen_notes_is_due_and_what_is_noted_is_not():
    bake = Trial.of("bun", DAY, **{"crispness day 1": 7})
    (found,) = due([bake], ("height", "crumb dent day 1"), DAY + datetime.timedelta(days=2))
    assert found.entries == ("crumb dent day 1", "crispness day 2")
