"""The day backwards from the sale: worked by hand, laws of one oven and one mixer, bands against simulation."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import AmountError, FormulaError, UnknownName
from kit.formula import Formula, Step
from kit.process import day, rise
from kit.process.day import clock
from tests.laws import drawn

BUN = Formula.read(Path(__file__).parents[2] / "notebooks/formulas/crackle_bun.toml")
PLAIN = Formula.from_weights("bun", {"flour": 100, "water": 55}, makes={"piece": 70, "pieces": 48})


def starts(plan):
    return {stage: row["start"] for stage, row in plan.to_frame().iterrows()}


# ---- worked by hand ----------------------------------------------------------------------------------------


def test_the_bun_of_the_demo_worked_by_hand():
    """Its own steps: 80 + 14 + 75 + 30 + 70 min, 16 min in the oven, 45 min cooling (common practice): 330 min."""
    plan = day(BUN, on_sale="07:00")
    assert starts(plan) == {
        "sponge": "01:30",
        "mix": "02:50",
        "bulk": "03:04",
        "divide, shape and top": "04:19",
        "proof": "04:49",
        "bake": "05:59",
        "cool": "06:15",
    }
    assert plan.to_frame().loc["cool", "end"] == "07:00"
    assert plan.sources()["cool"] == "common practice"
    assert plan.sources()["bulk"].startswith("the formula's own minutes")


def test_defaults_worked_by_hand():
    """Common practice, no source: 15 + 75 + 15 + 10 + 40 + 16 + 45 min, without sponge or topping."""
    plan = day(PLAIN)
    assert plan.begin == 7 * 60 - (15 + 75 + 15 + 10 + 40 + 16 + 45)
    assert list(starts(plan)) == ["mix", "bulk", "divide", "shape", "proof", "bake", "cool"]


def test_night_before():
    plan = day(BUN, on_sale="06:00", minutes={"bulk": "12 h"})
    assert starts(plan)["mix"] == "15:05 the day before"
    assert plan.begin < 0
    assert clock(-24 * 60 - 1) == "23:59 2 days before"
    assert clock(25 * 60) == "01:00 the day after"


@pytest.mark.parametrize(("text", "minutes"), [("07:00", 420), ("7.30", 450), ("7:05 pm", 1145), ("12:10 am", 10)])
def test_times_as_written(text, minutes):
    assert day(PLAIN, on_sale=text).on_sale == minutes


def test_minutes_given_now_come_first():
    plan = day(BUN, minutes={"proof": (52, 40, 70), "bulk": "1 h 30 min"})
    frame = plan.to_frame()
    assert tuple(frame.loc["proof", ["minutes", "low", "high"]]) == (52, 40, 70)
    assert frame.loc["bulk", "minutes"] == 90
    assert frame.loc["bulk", "low"] == pytest.approx(90 * 60 / 75)  # as wide in proportion as common practice
    shaped = day(BUN, minutes={"shape": 5})
    assert "give way" in shaped.notes[0]
    assert {"divide", "shape", "top"} <= set(starts(shaped))


def test_a_foreseen_rise_brings_its_band():
    foreseen = {"bulk": rise(BUN, 26), "proof": rise(BUN, 28, stage="final proof")}
    frame = day(BUN, minutes=foreseen).to_frame()
    for stage, one in foreseen.items():
        assert tuple(frame.loc[stage, ["minutes", "low", "high"]]) == (one.minutes, one.low, one.high)
        assert frame.loc[stage, "rests on"] == "the rise foreseen"
    with pytest.raises(AmountError, match="'bulk'"):
        day(BUN, minutes={"bulk": rise(BUN, 46)})  # too warm to rise at all: no end


def test_a_step_of_the_kitchens_own_keeps_its_place():
    chilled = replace(BUN, steps=(*BUN.steps[:5], Step("Chill overnight", minutes=600), *BUN.steps[5:]))
    plan = day(chilled)
    order = list(starts(plan))
    assert order.index("bulk") + 1 == order.index("Chill overnight")
    assert day(BUN).begin - plan.begin == 600


def test_two_preferments_end_when_the_mix_begins():
    two = BUN.with_preferment("poolish", 10, {"water": 100})
    two = replace(two, steps=(Step("Stir the poolish", part="poolish", minutes=300), *two.steps))
    ends = {s.stage: s.end for s in day(two).slots if s.stage in ("sponge", "poolish")}
    mix = next(s.start for s in day(two).slots if s.stage == "mix")
    assert ends == {"sponge": mix, "poolish": mix}


# ---- mixes and oven loads ----------------------------------------------------------------------------------


def test_loads_worked_by_hand():
    """4 trays, 2 at once: 2 loads of 16 min; the second comes out at 06:15, the first went in at 05:43."""
    plan = day(BUN, oven=2)
    bakes = [(clock(s.start), clock(s.end)) for s in plan.slots if s.stage == "bake"]
    assert bakes == [("05:43", "05:59"), ("05:59", "06:15")]
    assert [s.wait for s in plan.slots if s.stage == "proof"] == [0, 16]
    assert "waits 16 min after proof" in plan.notes[0]
    assert plan.trays.loads == 2


def test_mixes_worked_by_hand():
    """48 x 60 g with 2 % lost are 2.94 kg of dough: two mixes in a mixer of 2 kg, one in 3 kg."""
    assert day(BUN, mixer="3 kg").mixes == 1
    plan = day(BUN, mixer="2 kg", oven=2)
    assert plan.mixes == 2
    assert "2 mixes of 1469 g dough" in plan.notes[-1].replace(",", "")
    mixes = sorted((s.start, s.end) for s in plan.slots if s.stage == "mix")
    assert mixes[0][1] <= mixes[1][0]
    # 4 trays of 12, one at a time: the first two loads are of the first mix, in every stage that a load goes through
    plan = day(BUN, mixer="2 kg", oven=1)
    for stage in ("proof", "bake", "cool"):
        assert [(s.mix, s.load) for s in plan.slots if s.stage == stage] == [(1, 1), (1, 2), (2, 3), (2, 4)], stage


@drawn(60)
@given(
    st.integers(10, 700), st.integers(1, 8), st.floats(2, 30),
    st.dictionaries(st.sampled_from(["bake", "mix", "cool"]), st.integers(5, 60)),
)  # fmt: skip
def test_oven_mixer_and_hands_do_one_thing_at_a_time_and_all_is_ready(pieces, oven, mixer, minutes):
    plan = day(BUN, pieces=pieces, oven=oven, mixer=f"{mixer} kg", minutes=minutes)
    for stage in ("mix", "bake", "divide, shape and top"):
        slots = sorted((s.start, s.end) for s in plan.slots if s.stage == stage)
        assert all(before[1] <= after[0] + 1e-6 for before, after in zip(slots, slots[1:], strict=False)), stage
    assert max(s.end for s in plan.slots) == pytest.approx(420)
    assert min(s.wait for s in plan.slots) >= -1e-6
    lengths = {stage.name: stage.minutes for stage in plan.stages}
    assert all(s.end - s.start == pytest.approx(lengths[s.stage]) for s in plan.slots)
    order = {stage.name: n for n, stage in enumerate(plan.stages)}
    for mix in range(1, plan.mixes + 1):
        own = sorted((s for s in plan.slots if s.mix == mix and not s.load), key=lambda s: order[s.stage])
        assert all(a.end + a.wait <= b.start + 1e-6 for a, b in zip(own, own[1:], strict=False))
    loads = [s for s in plan.slots if s.stage == "bake"]
    assert [s.load for s in sorted(loads, key=lambda s: s.start)] == list(range(1, plan.trays.loads + 1))
    for s in loads:  # every load is proofed before it goes in
        proofs = [p for p in plan.slots if p.stage == "proof" and p.load == s.load]
        assert proofs
        assert all(p.end + p.wait == pytest.approx(s.start) for p in proofs)


def test_smaller_ovens_begin_earlier():
    begins = [day(BUN, pieces=200, oven=n).begin for n in (1, 2, 4, 20)]
    assert begins == sorted(begins)
    assert begins[0] < begins[-1]


# ---- bands -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("oven", "bake"), [(None, (16, 14, 18)), (2, (16, 14, 18)), (1, (16, 8, 30))])
def test_bands_of_the_start_against_simulation(oven, bake):
    """Each stage drawn as normal halves of its own width, 100,000 days: the sure start within 4 min."""
    plan = day(BUN, oven=oven, minutes={"bake": bake})
    draw = np.random.default_rng(3)
    total = np.zeros(100_000)
    for stage in plan.stages:
        z = draw.normal(size=len(total))
        width = np.where(z > 0, stage.high - stage.minutes, stage.minutes - stage.low) / 1.2815516
        times = plan.trays.loads if stage.name == "bake" else 1
        total += times * (stage.minutes + z * width)
    assert plan.begin_by == pytest.approx(420 - np.quantile(total, 0.9), abs=4)
    assert plan.begin_by < plan.begin


def test_a_plan_for_a_timeline():
    plan, same = (day(BUN, oven=1, mixer="2 kg") for _ in range(2))
    assert all(slot.end >= slot.start for slot in plan.slots)
    assert plan.slots == same.slots
    assert "On sale at 07:00" in day(BUN)._repr_html_()


def test_text_of_a_step_is_no_markup():
    odd = replace(BUN, steps=(*BUN.steps, Step("<b>Chill</b>", minutes=5)))
    page = day(odd, oven=2)._repr_html_()
    assert "waits 16 min after &lt;b&gt;Chill" in page
    assert "<b>Chill" not in page


# ---- what cannot be ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "error", "words"),
    [
        ({"oven": 0}, AmountError, "'oven' must be a whole number of trays"),
        ({"oven": -2}, AmountError, "'oven'"),
        ({"mixer": 0}, AmountError, "'mixer' must be a mass above 0 g"),
        ({"mixer": "-3 kg"}, AmountError, "'mixer'"),
        ({"mixer": "1 g"}, AmountError, "would not fill one tray"),
        ({"on_sale": "25:00"}, AmountError, "'on_sale' must be a time of day"),
        ({"on_sale": "07:75"}, AmountError, "'on_sale'"),
        ({"on_sale": "13:00 pm"}, AmountError, "'on_sale'"),
        ({"on_sale": "noon"}, AmountError, "'on_sale'"),
        ({"minutes": {"bulk": -5}}, AmountError, "'bulk' must be a time of 0 min or more"),
        ({"minutes": {"bulk": (60, 70, 90)}}, AmountError, "with the middle between"),
        ({"minutes": {"bulk": (60, 70)}}, AmountError, "'bulk'"),
        ({"minutes": {"bulk": math.nan}}, AmountError, "'bulk'"),
        ({"minutes": {"prof": 30}}, UnknownName, "did you mean proof"),
    ],
)
def test_what_cannot_be_is_said_in_words(given, error, words):
    with pytest.raises(error, match=words):
        day(BUN, **given)


def test_one_formula_at_a_time_and_no_negative_steps():
    with pytest.raises(FormulaError, match="one formula"):
        day(BUN.vary(butter=[10, 20]))
    with pytest.raises(AmountError, match="mend the step"):
        day(replace(BUN, steps=(Step("Bulk", minutes=-75),)))
