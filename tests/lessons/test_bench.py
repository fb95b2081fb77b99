"""What is weighed at the end of a lesson: what the kit expects there, and how the scale's figure is told."""

import pytest

import kit
from kit.cautions import FIRST
from kit.errors import AmountError, UnknownName
from kit.lessons import bench_task
from kit.lessons.kinds import LESSONS
from kit.tables import table

BUN = kit.Formula.read(kit.places.notebooks() / "formulas" / "crackle_bun.toml")


def test_each_lesson_ends_at_the_bench():
    assert [row.lesson for row in table("bench_tasks").rows] == list(LESSONS)
    keys = {row.key for row in table("cautions").rows}
    for number, lesson in enumerate(LESSONS, 1):
        task = bench_task(lesson)
        assert task == bench_task(number)
        assert task.predict.endswith("?")
        assert task.notes[0] == FIRST
        assert set(task.row.cautions.split()) <= keys
        assert "wash_hands" in task.row.cautions
        assert "{" not in str(task)


def test_the_butter_holds_the_water_that_is_printed():
    """USDA SR28, butter without salt (NDB 01145): 17.94 g of water in 100 g."""
    assert bench_task(2).expected == pytest.approx(17.94)


def test_the_dough_and_the_tray_follow_the_formula():
    """By hand: 500 x 202.4 / 100; 12 x (60 x 0.895 + 22 x 0.935 + what is left of 1 g of wash)."""
    assert bench_task(1, BUN).expected == pytest.approx(1012)
    assert 12 * (60 * 0.895 + 22 * 0.935) < bench_task(3, BUN).expected < 12 * (60 * 0.895 + 22 * 0.935 + 1)
    assert bench_task(1, BUN.vary(butter=28)).expected == pytest.approx(1062)
    # what a raw piece weighs: 60 g of dough, 22 g of topping, 1 g of wash
    assert f"{60 + 22 + 1} g" in bench_task(3, BUN).words


def test_each_task_has_its_own_cautions_and_no_other():
    rows = {row.key: row for row in table("cautions").rows}
    for lesson in LESSONS:
        task = bench_task(lesson)
        keys = task.row.cautions.split()
        told = [rows[key].short or f"{rows[key].hazard} {rows[key].control}" for key in rows if key in keys]
        assert task.cautions == [FIRST, *told]
        assert len(told) == len(keys)


def test_prediction_scale_and_kit_are_compared():
    task = bench_task(1, BUN)
    said = task.weighed("1 kg", 990)
    assert said.startswith("You predicted 1,000 g, the scale shows 990 g: 1.0 % less. The kit works out 1,012 g")
    assert "as is usual" in said
    far = task.weighed(600, 900)  # by hand: 900 / 600 - 1, and 1 - 900 / 1012
    assert "the scale shows 900 g: 50 % more" in far.replace("50.0 %", "50 %")
    assert "shows 11.1 % less than that: further off than is usual" in far
    assert "Weigh again" in far
    assert "Weigh again" not in said
    assert "further off than is usual" in task.weighed(1012, 1030)


@pytest.mark.parametrize(("predicted", "measured"), [("", 1), (1, "x"), (0, 5), (5, -1), ("3 min", 5)])
def test_what_is_no_mass_is_said(predicted, measured):
    with pytest.raises((AmountError, kit.errors.UnitError), match="predicted|measured|amount"):
        bench_task(1).weighed(predicted, measured)


def test_a_lesson_that_is_not_there():
    with pytest.raises(UnknownName):
        bench_task("baking")
