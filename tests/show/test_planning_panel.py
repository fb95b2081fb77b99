"""The panel and charts of planned trials: marks by their data, words, what cannot be, undo, the page it writes."""

import numpy as np
import pytest

import kit
from kit.show import PlanPanel, picture_of
from kit.show.planning_charts import EffectRows, PlanePlot
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


def spots(line):
    return sorted(zip(np.round(line.get_xdata(), 3).tolist(), np.round(line.get_ydata(), 3).tolist(), strict=True))


def words(plane):
    return {(word.get_text(), word.get_ha()) for word in plane.words if word.get_visible()}


# the panel


def test_it_begins_with_the_first_against_the_control(panel, bun):
    plan = panel.result
    assert (plan.kind, len(plan.bakes), [f.name for f in plan.factors]) == ("pairs", 8, ["butter"])
    (plane,) = panel._handles
    assert spots(plane.control) == [(18, day) for day in (1, 2, 3, 4)]
    assert spots(plane.others) == [(25, day) for day in (1, 2, 3, 4)]
    assert f"{plan.smallest_in_unit:.1f} mm" in panel._live.value


def test_a_dial_moves_the_bakes(panel):
    slide(panel, "butter to", 30)
    assert spots(panel._handles[0].others)[-1] == (30, 4)
    assert "butter 30 %" in panel._live.value
    assert "butter 30 %" in panel.alt[0]


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
    assert "formula as it is, butter 18.0 % and sugar 16.0 %" in panel._live.value
    choose(panel, "sugar changes", False)
    choose(panel, "kind", "steps")
    assert panel.dials["butter from"].view.layout.display is None
    assert len(panel.result.bakes) == 12


def test_steps_are_low_halfway_and_high_of_one_thing(panel):
    choose(panel, "kind", "steps")
    assert {bake.levels for bake in panel.result.bakes} == {(18,), (21.5,), (25,)}
    assert "butter 21.5 %" in panel._live.value
    assert len(panel._handles[0].others.get_xdata()) == 8


def test_the_field_changes_the_unit(panel, year):
    choose(panel, "field", "crumb dent day 1")
    assert "of crumb dent, day 1; " in panel._live.value
    assert panel.result.scatter == repeat_scatter(year, "crumb dent day 1")
    names = [label for label, _ in panel.choices["field"].options]
    assert len(set(names)) == len(names)


def test_without_trials_it_speaks_of_repeats(bun):
    panel = PlanPanel(bun, {"butter": (18, 25)}, "pairs", 4)
    assert "3.0 SD" in panel._live.value
    assert "what repeats scatter; no repeats given" in panel._live.value
    assert spots(panel._handles[0].control) == [(18, day) for day in (1, 2, 3, 4)]


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
     ("days", "2.5", "whole number"), ("days", "0", "1 sessions or more"), ("days", "30", "at most 40 bakes"),
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
    with pytest.raises(kit.errors.AmountError, match="one to three things"):
        PlanPanel(bun, {})
    with pytest.raises(kit.errors.FormulaError, match="one formula"):
        PlanPanel(bun.vary(butter=[1, 2]), CHANGES)
    with pytest.raises(kit.errors.UnknownName, match="did you mean height"):
        PlanPanel(bun, CHANGES, field="hight")


def test_its_still_is_drawn(panel):
    html = panel.picture()._repr_html_()
    assert html.count("data:image/png") == 1
    assert "8 bakes on 4 days" in html


# the charts


def test_turns_stand_beside_their_bakes(bun):
    plan = kit.plan_trials(bun, {"butter": 25})
    plane = PlanePlot(plan)
    assert words(plane) == {(str(bake.turn), "right" if bake.control else "left") for bake in plan.bakes}


def test_the_middle_has_its_turns_above(bun):
    plane = PlanePlot(kit.plan_trials(bun, {"butter": (20, 22, 26)}, days=1))
    middle = [word for word in plane.words if word.get_ha() == "center" and word.get_visible()]
    assert [round(word.get_position()[0], 6) for word in middle] == [20, 22]
    assert all(word.get_position()[1] != 1 for word in middle)


def test_effects_are_filled_only_beyond_scatter(bun):
    plan = kit.plan_trials(bun, {"butter": (18, 20, 25)})
    noise = np.random.default_rng(4).normal(0, 0.3, len(plan.bakes))
    found = plan.effects([44 - 4 * (bake.levels[0] == 25) for bake in plan.bakes] + noise)
    ax = EffectRows(found).ax
    dots = [line for line in ax.lines if line.get_marker() == "o"]
    values = [each.difference.value for each in found.effects]
    assert [float(line.get_xdata()[0]) for line in dots] == pytest.approx(values)
    assert [line.get_markerfacecolor() != "white" for line in dots] == [each.beyond for each in found.effects]
    assert found["butter 25 %"].beyond


def test_pictures_of_plans_and_results(bun):
    plan = kit.plan_trials(bun, {"butter": (20, 22, 26)}, days=3)
    found = plan.effects([45.0 - 2 * bake.turn for bake in plan.bakes])
    for value, count, said in ((plan, 1, "12 bakes"), (found, 1, "Height, butter 20 %: ")):
        html = picture_of(value)._repr_html_()
        assert html.count("data:image/png") == count
        assert said in html
