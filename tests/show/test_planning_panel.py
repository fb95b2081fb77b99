"""The panel of planned trials: its bakes, words, what cannot be, undo, the page it writes."""

import re

import numpy as np
import pytest

import kit
from kit.show import PlanPanel
from kit.trials import TrialBook, repeat_scatter
from kit.trials.statistics import smallest_effect

NOTEBOOKS = kit.places.notebooks()
CHANGES = {"butter": (18, 25), "sugar": (16, 20), "egg": (16, 22)}


@pytest.fixture(scope="module")
def bun():
    return kit.Formula.read(NOTEBOOKS / "formulas" / "crackle_bun.toml")


@pytest.fixture(scope="module")
def year():
    return TrialBook.read(NOTEBOOKS / "trials" / "crackle_bun_trials.csv", NOTEBOOKS / "formulas").trials()


@pytest.fixture
def panel(bun, year, tmp_path):
    return PlanPanel(bun, CHANGES, trials=year, folder=tmp_path)


def slide(panel, name, value):
    panel.dials[name].slider.value = value


def choose(panel, name, value):
    panel.choices[name].value = value


def test_it_begins_with_the_first_against_the_control(panel, bun):
    plan = panel.result
    assert (plan.kind, len(plan.bakes), [f.name for f in plan.factors]) == ("pairs", 8, ["butter"])
    days = re.findall(r"<caption.*?>Day (\d)</caption>(.*?)</table>", panel._live.value)
    assert [int(day) for day, _ in days] == [1, 2, 3, 4]
    for (_, table), bakes in zip(days, zip(plan.bakes[::2], plan.bakes[1::2], strict=True), strict=True):
        cells = [str(word) for bake in bakes for word in (bake.turn, bake.code, bake.what)]
        assert re.findall(r"<td[^>]*>([^<]*)</td>", table) == cells
    assert f"{plan.smallest_in_unit:.1f} mm" in panel._live.value


def test_a_dial_moves_the_bakes(panel):
    slide(panel, "butter to", 30)
    assert panel._live.value.count(">butter 30 %<") == 4


def test_more_days_see_less(panel, year):
    before = panel.result.smallest_in_unit
    slide(panel, "days", 6)
    assert len(panel.result.bakes) == 12
    assert panel.result.smallest_in_unit < before
    slide(panel, "days", 4)
    expected = smallest_effect(3, 2) * np.sqrt(2) * repeat_scatter(year, "height").value  # two bakes make a difference
    assert panel.result.smallest_in_unit == pytest.approx(expected)
    assert f"{expected:.1f} mm" in panel._live.value


def test_in_pairs_the_one_is_the_formula_as_it_is(panel):
    choose(panel, "sugar changes", True)
    assert panel.dials["butter from"].view.layout.display == "none"
    assert "Butter and sugar change at once" in panel._live.value
    assert "What does butter 18 to 25 % and sugar 16 to 20 % do to height?" in panel._live.value
    choose(panel, "sugar changes", False)
    choose(panel, "kind", "steps")
    assert panel.dials["butter from"].view.layout.display is None
    assert len(panel.result.bakes) == 12


def test_steps_are_low_halfway_and_high_of_one_thing(panel):
    choose(panel, "kind", "steps")
    assert {bake.levels for bake in panel.result.bakes} == {(18,), (21.5,), (25,)}
    assert "butter 21.5 %" in panel._live.value


def test_the_field_changes_the_unit(panel, year):
    choose(panel, "field", "crumb dent day 1")
    assert re.search(r"\d mm<.*> of crumb dent, day 1<", panel._live.value)
    assert panel.result.scatter == repeat_scatter(year, "crumb dent day 1")
    names = [label for label, _ in panel.choices["field"].options]
    assert len(set(names)) == len(names)


def test_without_trials_it_speaks_of_repeats(bun):
    panel = PlanPanel(bun, {"butter": (18, 25)}, "pairs", 4)
    assert "3.0 SD" in panel._live.value
    assert "3.0 SD of your repeats; give trials with repeats to have it in mm" in panel._live.value


@pytest.mark.parametrize(
    ("moves", "says"),
    [([("butter changes", False)], "tick what"), ([("kind", "steps"), ("egg changes", True)], "1 thing for steps")],
)  # fmt: skip
def test_what_cannot_be_is_said_and_the_picture_stays(panel, moves, says):
    panel.undo()
    for name, value in moves:
        choose(panel, name, value)
    assert says in panel._problem.value
    assert len(panel.result.factors) == 1
    panel.reset()
    assert panel._problem.value == ""
    assert len(panel.result.bakes) == 8


@pytest.mark.parametrize(
    ("dial", "written", "says"),
    [("butter to", "0.2", "tasted"), ("butter to", "-4", "0 % or more"), ("butter to", "much", "number"),
     ("days", "2.5", "whole number"), ("days", "0", "1 sessions or more"), ("days", "30", "from 1 to 40"),
     ("butter to", "25 g", "percentage")],
)  # fmt: skip
def test_what_is_typed_wrong(panel, dial, written, says):
    panel.dials[dial].box.value = written
    assert says in panel._problem.value
    assert len(panel.result.bakes) == 8
    panel.dials["butter to"].box.value, panel.dials["butter from"].box.value = "24", "18"
    panel.dials["days"].box.value = "3"
    assert panel._problem.value == ""
    assert len(panel.result.bakes) == 6


def test_undo_takes_each_move_back(panel):
    slide(panel, "butter to", 28)
    slide(panel, "days", 5)
    assert len(panel.result.bakes) == 10
    panel.undo()
    assert len(panel.result.bakes) == 8
    panel.undo()
    assert panel.result.factors[0].high == 25


def test_the_page_it_writes(panel):
    path = panel.write_page()
    assert path.name == "plan_butter.html"
    assert "Plan of trials" in path.read_text(encoding="utf-8")
    assert path.name in panel.written.value
    panel.folder = panel.folder / "none"
    assert panel.write_page() is None
    assert "role=" in panel._problem.value


def test_it_keeps_the_formulas_of_its_bakes(bun, tmp_path):
    panel = PlanPanel(bun.keep("bun", tmp_path), {"butter": (18, 25)}, "pairs")
    (path,) = panel.keep()
    assert (path.parent, path.name) == (tmp_path, "bun_butter_25.toml")
    assert kit.Formula.read(path).of_kind("butter") == pytest.approx(25)
    assert path.name in panel.written.value


def test_it_says_what_it_holds_and_nothing_of_degrees_of_freedom(panel):
    assert "wheat" in panel._cautions.value
    assert "Local codes" in panel._cautions.value
    assert "degrees of freedom" not in panel._live.value


def test_panels_that_cannot_be(bun):
    with pytest.raises(kit.errors.AmountError, match="from 1 to 3"):
        PlanPanel(bun, {})
    with pytest.raises(kit.errors.FormulaError, match="one formula"):
        PlanPanel(bun.vary(butter=[1, 2]), CHANGES)
    with pytest.raises(kit.errors.UnknownName, match="did you mean height"):
        PlanPanel(bun, CHANGES, field="hight")
