"""Plans of trials, and what planned bakes say: published cases, a general-purpose library, laws, broken input."""

import datetime
import html
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from kit import Formula, plan_trials
from kit.cautions import FIRST
from kit.errors import AmountError, FormulaError, KitError, UnitError, UnknownName
from kit.tables import table
from kit.trials import Trial, TrialError, by_plan, repeat_scatter, side_by_side
from kit.trials.bakes import Scatter
from kit.trials.planning import MOST
from kit.trials.statistics import smallest_effect
from tests.laws import drawn

STEPS = {"butter": (18, 20, 22, 25)}
CHANGES = {"pairs": {"butter": 25}, "steps": {"butter": (20, 22, 25)}}
KINDS = tuple(CHANGES)


# published cases and a general-purpose library


def heights(plan, values, daily=0.0):
    """The values of a plan's bakes by their levels, moved by so much a day."""
    return [values[bake.levels] + daily * bake.day for bake in plan.bakes]


@pytest.mark.parametrize(("kind", "seed"), [(kind, seed) for kind in KINDS for seed in range(3)])
def test_effects_against_a_library(bun, kind, seed):
    """scipy's paired t test of a bake and its control, day by day."""
    plan = plan_trials(bun, CHANGES[kind], days=5, seed=seed)
    by_day = sorted(plan.bakes, key=lambda bake: bake.day)
    values = np.random.default_rng(seed).normal(45, 2, len(plan.bakes))
    for what, levels in plan.contrasts.items():
        sides = [
            [v for v, b in zip(values, by_day, strict=True) if b.levels == side] for side in (plan.control, levels)
        ]
        wanted, ours = stats.ttest_rel(sides[1], sides[0]), plan.effects(values)[what].difference
        assert ours.p == pytest.approx(wanted.pvalue)
        assert (ours.low, ours.high) == pytest.approx(tuple(wanted.confidence_interval()))


# what a plan shows


def test_pairs_show_what_power_says(bun):
    """Practice table of paired bakes: 2.13 SD of the differences at four days; of single bakes the root of 2 more."""
    for days in (4, 6):
        plan = plan_trials(bun, {"butter": 25}, days=days)
        assert plan.smallest == pytest.approx(math.sqrt(2) * smallest_effect(days - 1, math.sqrt(days)))
    assert plan_trials(bun, {"butter": 25}).smallest == pytest.approx(2.13 * math.sqrt(2), abs=0.01)


@pytest.mark.parametrize(("kind", "days"), [("pairs", 4), ("steps", 5)])
def test_the_smallest_difference_is_seen_in_four_of_five(bun, kind, days):
    """A seeded Monte Carlo of the plan's own analysis: the smallest difference comes out beyond zero in 80 %."""
    plan = plan_trials(bun, CHANGES[kind], days)
    random, seen, times = np.random.default_rng(7), 0, 1500
    moved = np.array([plan.smallest * (bake.levels[0] == 25) + 3 * bake.day for bake in plan.bakes])
    for _ in range(times):
        found = plan.effects(moved + random.normal(0, 1, len(plan.bakes)))
        seen += found["butter 25 %" if kind == "steps" else "butter"].beyond
    assert seen / times == pytest.approx(0.80, abs=3 * math.sqrt(0.16 / times))


def test_in_the_kitchens_own_unit(bun, year):
    plan = plan_trials(bun, {"butter": 25}, trials=year)
    scatter = repeat_scatter(year, "height")
    assert plan.smallest_in_unit == pytest.approx(plan.smallest * scatter.value)
    assert f"{plan.smallest_in_unit:.1f} mm of height" in " ".join(plan.notes)
    assert "give trials with repeats" in " ".join(plan_trials(bun, {"butter": 25}).notes)


@pytest.mark.parametrize(("step", "flour"), [(1, 1562.5), (0.1, 156.25), ("2 g", 3125)])
def test_smallest_honest_batch(bun, step, flour):
    """Practice: with 1.6 % salt 1,563 g of flour on a scale that reads 1 g, 156 g on one that reads 0.1 g."""
    plan = plan_trials(bun, {"butter": 25}, scale_step=step)
    assert plan.least_flour == pytest.approx(flour)
    assert plan.flour >= flour
    small = plan_trials(bun, {"butter": 25}, scale_step=step, flour=flour - 1)
    assert "too little for an honest test" in " ".join(small.notes)
    assert "too little" not in " ".join(plan.notes)


def test_what_it_says_aloud(bun):
    both = " ".join(plan_trials(bun, {"butter": 25, "sugar": 20}).notes)
    assert "Butter and sugar change at once" in both
    assert "Change one at a time" in both
    assert "Change one at a time" not in " ".join(plan_trials(bun, {"butter": 25}).notes)
    assert "no probability" in " ".join(plan_trials(bun, {"butter": 25}, days=3).notes)
    assert "no probability" not in " ".join(plan_trials(bun, {"butter": 25}, days=4).notes)
    lone = plan_trials(bun, STEPS, days=1)
    assert lone.smallest is None
    assert "without repeats of yours" in " ".join(lone.notes)


def test_two_bakes_are_too_few_repeats_to_judge_by(bun):
    """Student's t of one degree of freedom, 12.7, would call anything up to 18 SD nothing."""
    three, four = (plan_trials(bun, {"butter": 25}, days, trials=Scatter(0.9, 1, 1)) for days in (3, 4))
    assert three.smallest is three.smallest_in_unit is four.smallest_in_unit is None
    assert "without repeats of yours" in " ".join(three.notes)
    assert "(one pair of bakes is too few)" in " ".join(four.notes)
    enough = plan_trials(bun, {"butter": 25}, days=3, trials=Scatter(0.9, 3, 1))
    assert enough.smallest_in_unit == pytest.approx(0.9 * smallest_effect(3, math.sqrt(3 / 2)))
    assert "judged by your repeats" in " ".join(enough.notes)


# laws


@st.composite
def plans(draw, kinds=KINDS):
    butter, crust = draw(st.integers(0, 40)), draw(st.integers(60, 120))
    kind, days = draw(st.sampled_from(kinds)), draw(st.integers(1, 6))
    low = draw(st.integers(20, 40)) + 0.5
    changes = {
        "pairs": draw(st.sampled_from([{"butter": low}, {"butter": low, "egg": 20}, {"topping": {"butter": 70}}])),
        "steps": {"butter": (low, low + 3, low + draw(st.integers(4, 9)))},
    }[kind]
    return (butter, crust), kind, days, changes, draw(st.integers(0, 50))


def drawn_bun(butter, crust):
    dough = {"flour": 100, "milk": 50, "egg": 16, "butter": butter, "sugar": 14, "salt": 1.6}
    topping = {"flour": 100, "sugar": crust, "butter": 80, "salt": 0.5}
    return Formula.from_weights("drawn", dough, topping=topping, makes={"pieces": 24})


def made(drawn_plan):
    (butter, crust), kind, days, changes, seed = drawn_plan
    bun = drawn_bun(butter, crust)
    plan = plan_trials(bun, changes, days, seed=seed)
    assert plan.kind == kind
    return plan


@given(plans())
@drawn(60)
def test_order_is_a_permutation_and_the_control_is_baked_every_day(given_plan):
    plan = made(given_plan)
    assert len(plan.bakes) <= MOST
    assert sorted({bake.day for bake in plan.bakes}) == list(range(1, plan.days + 1))
    for day in range(1, plan.days + 1):
        some = [bake for bake in plan.bakes if bake.day == day]
        assert [bake.turn for bake in some] == list(range(1, len(some) + 1))
        assert [bake.control for bake in some].count(True) == 1
        assert any(not bake.control for bake in some)
    assert len({bake.code for bake in plan.bakes}) == len(plan.bakes)
    assert all(100 <= bake.code <= 999 for bake in plan.bakes)


@given(plans())
@drawn(25)
def test_the_same_seed_gives_the_same_plan_and_another_the_same_bakes(given_plan):
    one, again = made(given_plan), made(given_plan)
    assert one.to_frame().equals(again.to_frame())
    other = made((*given_plan[:4], given_plan[4] + 1))
    assert sorted((b.day, b.what) for b in other.bakes) == sorted((b.day, b.what) for b in one.bakes)


def test_seeds_draw_different_orders(bun):
    orders = {tuple(b.what for b in plan_trials(bun, STEPS, seed=seed).bakes) for seed in range(20)}
    assert len(orders) > 10
    firsts = {tuple(b.what for b in plan_trials(bun, {"butter": 25}, seed=seed).bakes) for seed in range(20)}
    assert len(firsts) > 3


@given(plans(kinds=("pairs",)))
@drawn(30)
def test_in_pairs_each_begins_as_often(given_plan):
    plan = made(given_plan)
    begins = sum(bake.control for bake in plan.bakes if bake.turn == 1)
    assert abs(2 * begins - plan.days) <= 1


@given(plans())
@drawn(30)
def test_bakes_hold_what_the_plan_says(given_plan):
    bun, plan = drawn_bun(*given_plan[0]), made(given_plan)
    for bake in plan.bakes:
        assert bake.control == (bake.formula.fingerprint == bun.fingerprint)
        for factor, level in zip(plan.factors, bake.levels, strict=True):
            if len(factor.path) == 1:
                assert bake.formula.of_kind(factor.name) == pytest.approx(level)


# what the bakes say


def test_steps_are_each_laid_against_the_control(bun):
    plan = plan_trials(bun, {"butter": (20, 22, 25)})
    found = plan.effects(heights(plan, {(18.0,): 47, (20.0,): 46, (22.0,): 44, (25.0,): 41}, 2.0))
    values = {what: round(each.difference.value, 9) for what, each in found.effects.items()}
    assert values == {"butter 20 %": -1, "butter 22 %": -3, "butter 25 %": -6}
    step = 0.5 / math.sqrt(12)  # of the caliper, below which no scatter is taken
    half = stats.t.ppf(0.975, 3) * step * math.sqrt(2 / 4)
    assert found["butter 20 %"].difference.half == pytest.approx(half)
    assert "Height, butter 20 %: −1.0 mm; 95 % interval" in found.words


def test_what_an_instrument_cannot_read_is_no_effect(bun):
    found = plan_trials(bun, STEPS).effects([40.0] * 16)
    assert [each.beyond for each in found.effects.values()] == [False] * 3


def test_the_effect_of_pairs_is_the_paired_difference(bun):
    """Worked by hand elsewhere: A and B on four days, +1.50 mm, 95 % interval 0.93 to 2.07."""
    plan = plan_trials(bun, {"butter": 25})
    a, b = [40.1, 41.9, 40.3, 42.3], [41.8, 43.1, 42.2, 43.5]
    found = plan.effects([(a if bake.control else b)[bake.day - 1] for bake in plan.bakes])["butter"].difference
    assert (found.value, found.low, found.high) == pytest.approx((1.50, 0.93, 2.07), abs=0.005)


@pytest.mark.parametrize("kind", KINDS)
def test_at_three_days_there_is_a_range_and_no_interval_as_the_plan_promised(bun, kind):
    plan = plan_trials(bun, CHANGES[kind], days=3)
    assert "no probability" in " ".join(plan.notes)
    found = plan.effects([40.0 + n**2 % 7 for n in range(len(plan.bakes))])
    assert {each.difference.kind for each in found.effects.values()} == {"range"}
    assert {each.difference.p for each in found.effects.values()} == {None}
    assert {each.beyond for each in found.effects.values()} == {None}
    assert "interval" not in found.words
    assert "how far bakes differ by themselves is not known" in found.words


def test_below_four_days_the_kitchens_repeats_judge(bun):
    plan = plan_trials(bun, {"butter": 25}, days=2, trials=Scatter(0.5, 21, 8))
    for moved, words in ((-4.0, "more than your repeats differ (±1.0"), (-0.5, "smaller than your repeats differ")):
        found = plan.effects([44.0 + moved * (not bake.control) for bake in plan.bakes])["butter"]
        assert found.limit == pytest.approx(stats.t.ppf(0.975, 21) * 0.5)  # s sqrt(1/2 + 1/2)
        assert words in found.words
        assert found.beyond == (moved < -1)
    few = plan_trials(bun, {"butter": 25}, days=2, trials=Scatter(0.5, 1, 1))
    found = few.effects([44.0 - 4 * (not bake.control) for bake in few.bakes])["butter"]
    assert found.beyond is None
    assert "one pair of bakes, too few to tell, so how far bakes differ by themselves is not known" in found.words


def test_a_day_that_is_not_whole_is_left_out_and_told(bun):
    plan = plan_trials(bun, {"butter": 25}, days=5)
    values = [44.0 - 2 * (not bake.control) + bake.day % 2 for bake in plan.bakes]
    values[3] = math.nan
    found = plan.effects(values)["butter"]
    assert (found.difference.n, found.difference.value) == (4, pytest.approx(-2))
    assert "4 days paired, 1 day not whole left out" in found.words
    alone = plan.effects({plan.bakes[0].code: 44.0})["butter"]
    assert (alone.difference, alone.beyond, alone.words) == (None, None, "not measured on a whole day")


def test_figures_alone_leave_open_what_else_differed(bun):
    plan = plan_trials(bun, {"butter": 25})
    assert "it isn't known what else differed" in plan.effects([40.0] * 8).words


# into the book and back


def test_trials_go_into_the_book_and_come_back(bun, book):
    plan = plan_trials(bun, STEPS, days=2, seed=4)
    parent = book.save(Trial.of("first", "2025-05-01", formula=bun), "M1")
    what = "butter 25 %"
    planned_bakes = plan.trials("2025-06-02", parent=parent, baker="M1", hypothesis="butter makes it flatter",
                                predicted={what: {"height": (44, 43, 45)}})  # fmt: skip
    saved = [book.save(trial, "M1") for trial in planned_bakes]
    assert [trial.date for trial in saved] == [datetime.date(2025, 6, 2)] * 4 + [datetime.date(2025, 6, 9)] * 4
    assert {trial.parent for trial in saved} == {parent.key}
    assert {trial.planned["flour_weighed"] for trial in saved} == {plan.flour}
    assert saved[0].question == "What does butter 18 to 25 % do to height?"
    assert all("Hypothesis before the bake: butter makes it flatter" in trial.notes for trial in saved)
    foreseen = [trial.value("predicted height") for trial in saved if trial.name == "butter 25, Monday"]
    assert foreseen == [(44.0, 43.0, 45.0)] * 2
    values = 40.0 + np.arange(8)
    filled = [book.save(trial.with_entry("height", [v]), "M1") for trial, v in zip(saved, values, strict=True)]
    with pytest.raises(TrialError, match="prediction"):
        book.save(filled[0].with_entry("predicted height", 41), "M1")
    back = book.trials([trial.code for trial in filled[::-1]])  # in any order
    with pytest.raises(AmountError, match="trials are laid side by side"):
        plan.effects(back)
    columns = sorted(by_plan(back), key=lambda column: column[0].name != "control, Monday")
    row = next(row for row in side_by_side(columns).responses if row.name == "height")
    told = {c[0].name: each.difference.value for c, each in zip(columns[1:], row.against[1:], strict=True)}
    assert told == {f"butter {n}, Monday": plan.effects(values)[f"butter {n} %"].difference.value for n in (20, 22, 25)}


def test_a_variant_comes_from_the_control_of_its_day(bun):
    plan = plan_trials(bun, {"butter": (16, 20)}, days=2)
    trials = plan.trials("2025-06-02", every=1)
    by_key = {trial.key: trial for trial in trials}
    assert {trial.name for trial in trials} == {
        f"{what}, {day}" for what in ("control", "butter 16", "butter 20") for day in ("Monday", "Tuesday")
    }
    for trial in trials:
        parent = by_key.get(trial.parent)
        control = trial.name.startswith("control")
        assert (parent is None) == control
        assert control or (parent.date, parent.name[:7]) == (trial.date, "control")


def test_the_formulas_of_a_plan_are_kept_as_files(bun, tmp_path):
    plan = plan_trials(bun, {"butter": (16, 20)}, days=2)
    paths = plan.keep(tmp_path)
    assert [path.name for path in paths] == [
        "cardamom_crackle_bun_butter_16.toml",
        "cardamom_crackle_bun_butter_20.toml",
    ]
    kept = {Formula.read(path).fingerprint for path in paths}
    assert kept == {bake.formula.fingerprint for bake in plan.bakes if not bake.control}
    assert plan.keep(tmp_path) == paths
    assert len(list(tmp_path.iterdir())) == 2


def test_control_trials_are_repeats_of_the_formula_as_it_is(bun):
    plan = plan_trials(bun, {"raisins": 10})  # a line that the control has not
    controls = [t for t in plan.trials("2025-06-02") if t.name.startswith("control")]
    assert {trial.planned_formula.fingerprint for trial in controls} == {bun.fingerprint}
    assert {trial.mix for trial in plan.trials("2025-06-02")} == {"mix 1", "mix 2"}


@pytest.mark.parametrize(
    ("how", "message"),
    [({"first": "2025-13-01"}, "a day of the calendar"), ({"first": "2025-06-02", "every": 0}, "every"),
     ({"first": "2025-06-02", "predicted": {"sweeter": {"height": 4}}}, "'predicted' must be one of"),
     ({"first": "2025-06-02", "predicted": {"butter 25 %": {"hight": 4}}}, "did you mean height")],
)  # fmt: skip
def test_trials_that_cannot_be(bun, how, message):
    with pytest.raises(KitError, match=message):
        plan_trials(bun, STEPS).trials(**how)


# the page for the wall


def test_page_for_the_wall(bun):
    plan = plan_trials(bun, {"butter": (20, 25)}, days=2)
    text = plan.page()
    assert text.count("\u2610") == len(plan.bakes) == 6
    for bake in plan.bakes:
        assert f">{bake.code}</td>" in text
    assert [text.count(f">Day {day}, date ____") for day in (1, 2)] == [1, 1]
    assert "(invented)" in text
    assert "Each batch on 1,600 g of flour" in text
    assert text.count("25\u00a0%<") == 2


def test_the_page_for_the_wall_carries_the_cautions_of_every_bake(bun):
    text = html.unescape(plan_trials(bun, {"topping": {"sesame": 12}}).page())
    assert FIRST in text
    assert all(f"{allergen} (" in text for allergen in ("wheat", "milk", "egg", "sesame"))
    for raised in ("raw_egg", "raw_flour", "mixer", "oven", "nuts_seeds"):
        rows = [row for row in table("cautions").rows if row["arises_when"] == raised and row["short"]]
        assert rows
        assert all(row["short"] in text for row in rows)
    assert "sesame (" not in html.unescape(plan_trials(bun, {"butter": 25}).page())


def test_names_are_text(bun):
    odd = Formula.from_weights("<b>x</b>", {"flour": 100, "butter": 10, "salt": 2}, topping={"flour": 1, "sugar": 1})
    parts = [replace(part, name="<i>y</i>") if part.kind == "topping" else part for part in odd.parts]
    plan = plan_trials(odd.with_parts(parts), {"<i>y</i>": {"sugar": (80, 90)}})
    found = plan.effects(np.arange(len(plan.bakes), dtype=float))
    for text in (plan.page(), plan._repr_html_(), found._repr_html_()):
        assert "<b>x" not in text
        assert "<i>y" not in text
        assert html.escape("<i>y</i>") in text
    assert html.escape("<b>x</b>") in plan.page()


# what cannot be


@pytest.mark.parametrize(
    ("changes", "how", "error", "message"),
    [
        ({"butter": 18}, {}, AmountError, "other than the formula as it is"),
        ({}, {}, AmountError, "one or more"),
        ([], {}, AmountError, "one or more"),
        ("butter", {}, AmountError, "one or more"),
        (5, {}, AmountError, "one or more"),
        ({"topping": {}}, {}, AmountError, "one or more"),
        ({"pieces": 3}, {}, AmountError, "one or more"),
        (STEPS, {"field": 3}, UnknownName, "field"),
        (None, {}, AmountError, "one or more"),
        ({"butter": -3}, {}, FormulaError, "0 to 500 %"),
        ({"buttr": 20}, {}, UnknownName, "did you mean butter"),
        ({"topping": {"suger": 20}}, {}, UnknownName, "sugar"),
        ({"toping": {"sugar": 20}}, {}, UnknownName, "did you mean topping"),
        ({"butter": math.nan}, {}, FormulaError, "0 to 500 %"),
        ({"butter": (18, math.inf)}, {}, FormulaError, "0 to 500 %"),
        ({"butter": 700}, {}, FormulaError, "0 to 500 %"),
        ({"butter": "25 g"}, {}, UnitError, "percentage"),
        ({"flour": 90}, {}, FormulaError, "100 %"),
        (dict.fromkeys(("butter", "sugar", "egg"), (1, 2)), {}, AmountError, "things at one new value each"),
        ({"butter": (18, 25), "sugar": 20}, {}, AmountError, "sugar at 1 step"),
        ({"butter": ()}, {}, AmountError, "other than the formula as it is"),
        ([{"butter": 22}, {"sugar": 20}], {}, AmountError, "one or more"),
        (STEPS, {"days": 0}, AmountError, "whole number, 1 or more"),
        (STEPS, {"days": 2.5}, AmountError, "whole number"),
        (STEPS, {"days": True}, AmountError, "whole number"),
        (STEPS, {"days": math.nan}, AmountError, "whole number"),
        (STEPS, {"days": 11}, AmountError, "from 1 to 40"),
        (STEPS, {"seed": None}, AmountError, "whole number, 0 or more"),
        (STEPS, {"field": "hight"}, UnknownName, "did you mean height"),
        (STEPS, {"scale_step": 0}, AmountError, "above 0 g"),
        (STEPS, {"scale_step": "1 cup"}, UnitError, "mass"),
        (STEPS, {"flour": math.nan}, AmountError, "finite"),
        (STEPS, {"flour": -5}, FormulaError, "flour"),
    ],
)
def test_plans_that_cannot_be(bun, changes, how, error, message):
    with pytest.raises(error, match=message) as caught:
        plan_trials(bun, changes, **how)
    assert isinstance(caught.value, KitError)


def test_many_formulas_are_no_baseline(bun):
    with pytest.raises(FormulaError, match="one formula"):
        plan_trials(bun.vary(butter=[18, 20]), {"butter": 25})


@pytest.mark.parametrize(
    ("values", "message"),
    [(None, "bake first"), (5, "bake first"), ([], "16 figures"),
     ([40.0] * 7, "16 figures"), ([math.inf] * 16, "finite number"), (["tall"] * 16, "finite number"),
     ([math.nan] * 16, "one bake"), ({99: 40.0}, "bake of this plan")],
)  # fmt: skip
def test_values_that_say_nothing(bun, values, message):
    with pytest.raises(KitError, match=message):
        plan_trials(bun, STEPS, seed=2).effects(values)


def test_effects_are_named(bun):
    with pytest.raises(UnknownName, match="did you mean butter"):
        plan_trials(bun, STEPS).effects(np.arange(16.0))["buter"]


@pytest.mark.parametrize("kind", KINDS)
def test_more_days_see_smaller_differences(bun, kind):
    plans = [plan_trials(bun, CHANGES[kind], days) for days in range(4, 7)]
    seen = [plan.smallest for plan in plans]
    assert seen == sorted(seen, reverse=True)
    assert len(set(seen)) == 3
