"""What must hold of every rise, whatever the formula; laws, so no source but reason."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from kit.errors import AmountError, FormulaError, KitError, UnknownName
from kit.formula import Formula, Step
from kit.process import (
    Calibration,
    Estimate,
    cardinal_rate,
    rise,
    water_activity,
)
from kit.process.activity import ln_activity, molalities
from tests.laws import drawn

BUN = {"flour": 100, "water": 50, "egg": 10, "sugar": 16, "salt": 1.6, "butter": 18, "fresh yeast": 4}
STARTS = st.floats(5, 44)


def bun(**changes):
    return Formula.from_weights("bun", BUN | {name.replace("_", " "): value for name, value in changes.items()})


@drawn(40)
@given(st.floats(5.5, 45), st.floats(0.1, 8), st.floats(35, 80), STARTS)
def test_never_faster_with_more_sugar_above_the_stimulating_range(sugar, more, water, start):
    slow, fast = rise(bun(sugar=sugar + more, water=water), start), rise(bun(sugar=sugar, water=water), start)
    assert slow.minutes >= fast.minutes
    assert slow.minutes > fast.minutes or not math.isfinite(fast.minutes)


@drawn(30)
@given(st.floats(0, 4.6), STARTS)
def test_never_slower_with_sugar_that_stimulates(sugar, start):
    """Published: sugar stimulates from 0 to 5 % on flour."""
    assert rise(bun(sugar=sugar), start).minutes <= rise(bun(sugar=0), start).minutes * (1 + 1e-12)


@drawn(40)
@given(st.floats(0, 2.5), st.floats(0.05, 1.0), STARTS)
def test_never_faster_with_more_salt(salt, more, start):
    assert rise(bun(salt=salt + more), start).minutes > rise(bun(salt=salt), start).minutes


@drawn(40)
@given(st.floats(3.1, 38.5), st.floats(0.05, 1.2))
def test_warmer_is_faster_up_to_the_best(start, more):
    """A trade article: gassing is best at 32 to 40 degC."""
    assert rise(bun(), start + more).minutes < rise(bun(), start).minutes


def test_slower_again_beyond_the_best():
    assert rise(bun(), 44).minutes > rise(bun(), 40).minutes


@drawn(30)
@given(st.floats(0.2, 10), st.floats(1.05, 3))
def test_more_yeast_is_faster_but_not_in_proportion(yeast, times):
    few, many = rise(bun(), 27, yeast=yeast).minutes, rise(bun(), 27, yeast=yeast * times).minutes
    assert few / times < many < few


@drawn(30)
@given(
    st.floats(6, 30), st.floats(6, 30), st.floats(0, 40), st.floats(1, 3), st.floats(15, 35), st.floats(15, 35),
    st.sampled_from([None, 4, 30]), st.booleans(), st.floats(0, 20),
)  # fmt: skip
def test_causes_add_up(sugar, sugar_after, egg, salt, start, start_after, room, tolerant, honey):
    before = rise(bun(sugar=sugar), start, room)
    after_dough = bun(sugar=sugar_after, egg=egg, salt=salt, honey=honey)
    after = rise(after_dough, start_after, room, sugar_tolerant=tolerant, until=2.2)
    if not (math.isfinite(before.minutes) and math.isfinite(after.minutes)):
        return
    try:
        found = after.against(before)
    except FormulaError:  # one of the doughs in between does not rise
        return
    assert sum(minutes for _, minutes in found.minutes) == pytest.approx(found.total, abs=1e-7)
    assert found.total == pytest.approx(after.minutes - before.minutes, abs=1e-9)


def test_each_cause_alone_is_the_whole_difference():
    """Where only one thing changes there is one cause."""
    base = rise(bun(), 26)
    for after, cause in (
        (rise(bun(), 28), "dough and room temperature"),
        (rise(bun(), 26, yeast=5), "yeast"),
        (rise(bun(), 26, until=2.5), "how far it must rise"),
        (rise(bun(), 26, sugar_tolerant=True), "strain of yeast"),
        (rise(bun(salt=2), 26), "salt"),
    ):
        found = after.against(base)
        assert found.minutes[0][0] == cause
        assert found.minutes[0][1] == pytest.approx(found.total, rel=0.01)


def test_sugar_slows_and_the_eggs_water_gives_back():
    found = dict(rise(bun(sugar=22, egg=25), 26).against(rise(bun(sugar=14), 26)).minutes)
    assert found["sugar"] > 0 > found["egg's water"]
    assert found["sugar"] > -found["egg's water"]


def test_many_at_once_as_one_by_one():
    many = bun().vary(sugar=[0, 10, 30], egg=[0, 40])
    found = rise(many, 25, room=4)
    for place in np.ndindex(3, 2):
        one = rise(many[place], 25, room=4, batch=10 * float(np.mean(many.dough_percentages.sum(-1))))
        values = [getattr(found, name)[place] for name in ("minutes", "low", "high", "log_spread", "water_activity")]
        alone = [getattr(one, name) for name in ("minutes", "low", "high", "log_spread", "water_activity")]
        assert values == pytest.approx(alone, rel=1e-9)


def test_blocks_do_not_show():
    """Over 2,048 doughs at once, the last is as if it were alone."""
    many = bun().vary(sugar=np.linspace(0, 30, 3000))
    assert rise(many, 26).high[-1] == pytest.approx(rise(many[2999], 26).high)


# temperature on its way to the room


def test_a_room_as_warm_as_the_dough_changes_nothing():
    still, room = rise(bun(), 26), rise(bun(), 26, room=26)
    assert room.minutes == pytest.approx(still.minutes, rel=1e-4)
    assert room.log_spread == pytest.approx(still.log_spread, rel=0.01)  # a misread start fades towards the room


def test_towards_the_room_against_fine_steps():
    """Newton's law stepped through in 0.01 min, apart from the kit's own grid."""
    dough = bun()
    found = rise(dough, 26, room=10, batch="1 kg")
    whole = rise(dough, 26).minutes  # minutes at 26
    t = np.arange(0, 2000, 0.01) + 0.005
    warmth = 10 + 16 * np.exp(-t / 80)
    pace = cardinal_rate(warmth, 3, 40, 45.4) / cardinal_rate(26, 3, 40, 45.4)
    assert found.minutes == pytest.approx(t[np.searchsorted(np.cumsum(pace) * 0.01, whole)], abs=0.2)


def test_cool_room_slows_and_a_small_piece_cools_sooner():
    times = [rise(bun(), 27, room=12, batch=mass).minutes for mass in (60, 1000, 20_000)]
    assert times[0] > times[1] > times[2] > rise(bun(), 27).minutes


def test_overnight_in_the_cold():
    """Common practice: a dough put by at 4 degC is still less than doubled next morning once it went in cool."""
    night = rise(bun(), 15, room=4, batch="1 kg")
    curve = night.curve([600])
    ratio, low, high = curve.ratio[0], curve.low[0], curve.high[0]
    assert 1 < low < ratio < high
    assert ratio < 2
    assert night.minutes > 600


# the curve


def test_curve_starts_at_one_rises_and_meets_its_band():
    found = rise(bun(), 27)
    curve = found.curve([0, found.low, found.minutes, found.high])
    assert curve.ratio[0] == curve.low[0] == curve.high[0] == 1
    assert curve.ratio[2] == pytest.approx(2)
    assert curve.high[1] == pytest.approx(2)
    assert curve.low[3] == pytest.approx(2)
    whole = found.curve(np.linspace(0, 2 * found.high, 121))
    assert np.all(np.diff(whole.ratio) >= 0)
    assert np.all((whole.low <= whole.ratio) & (whole.ratio <= whole.high))
    assert whole.high.max() <= 3


def test_curve_reaches_each_ratio_when_the_time_to_it_is_up():
    times = [rise(bun(), 27, until=ratio).minutes for ratio in (1.25, 1.5, 2, 2.5, 3)]
    assert rise(bun(), 27).curve(times).ratio == pytest.approx([1.25, 1.5, 2, 2.5, 3])


def test_further_takes_longer():
    times = [rise(bun(), 27, until=ratio).minutes for ratio in (1.25, 1.5, 2, 2.5, 3)]
    assert times == sorted(times)
    assert rise(bun(), 27, until=1.5).log_spread > rise(bun(), 27).log_spread  # further from the reference point


# water activity


@drawn(40)
@given(st.floats(0, 40), st.floats(0, 3), st.floats(30, 90))
def test_water_activity_falls_with_solutes_and_rises_with_water(sugar, salt, water):
    base = water_activity(bun(sugar=sugar, salt=salt, water=water))
    assert 0 < base < 1
    assert water_activity(bun(sugar=sugar + 1, salt=salt, water=water)) < base
    assert water_activity(bun(sugar=sugar, salt=salt + 0.2, water=water)) < base
    assert water_activity(bun(sugar=sugar, salt=salt, water=water + 2)) > base


def test_mixture_is_the_product():
    """Ross 1975: each solute in all the water."""
    apart = [float(ln_activity({solute: m})) for solute, m in (("glucose", 1.0), ("salt", 0.5))]
    assert float(ln_activity({"glucose": 1.0, "salt": 0.5})) == pytest.approx(sum(apart))


def test_sucrose_counts_as_the_glucose_and_fructose_that_yeast_makes_of_it():
    """By hand: 10 g of sucrose (342.3 g per mol) in 60 g of water give two mol of sugar for each; honey has them."""
    sucrose, honey = np.array([10.0, 0, 0, 0, 60, 0]), np.array([0, 10.0, 0, 0, 60, 0])
    assert molalities(sucrose)["glucose"] == pytest.approx(2 * 10 / 342.3 / 0.060, rel=1e-3)
    assert molalities(honey)["glucose"] == pytest.approx(10 / 180.16 / 0.060, rel=1e-3)


# a kitchen's own bakes


def test_own_bakes_move_the_time_and_narrow_the_band():
    own = Calibration().with_(rise_factor=Estimate(1.2, 0.05, bakes=8, log=True, rests_on="8 bakes of this kitchen"))
    before, after = rise(bun(), 26), rise(bun(), 26, calibration=own)
    assert after.minutes == pytest.approx(1.2 * before.minutes)
    assert after.log_spread < before.log_spread / 2
    assert "8 bakes of this kitchen" in after.sources()
    assert dict(after.against(before).minutes) == pytest.approx({"calibration": after.minutes - before.minutes})


def test_each_stage_has_its_own_factor():
    first = Formula.from_weights("b", BUN, {"sponge": {"flour": 30, "water": 28, "fresh yeast": 1}})
    for stage, name in (("bulk", "rise_factor"), ("final proof", "proof_factor"), ("sponge", "sponge_factor")):
        own = Calibration().with_(**{name: Estimate(1.5, 0.1, log=True)})
        foreseen = rise(first, 27, stage=stage).minutes
        assert rise(first, 27, stage=stage, calibration=own).minutes == pytest.approx(1.5 * foreseen)


def test_own_bakes_hold_the_kitchens_eye_and_thermometer():
    own = Calibration().with_(rise_factor=Estimate(1.2, 0.05, bakes=8, log=True))

    def causes(*temperature):
        return {cause for cause, _, _ in rise(bun(), *temperature, calibration=own).frame_rows()}

    assert {"ratio as judged", "dough temperature"} <= {cause for cause, _, _ in rise(bun(), 26).frame_rows()}
    assert not {"ratio as judged", "dough temperature"} & causes(26)
    assert "dough temperature" in causes()  # nobody said how warm it is


def test_a_step_of_the_formula_tells_how_warm_it_is():
    stepped = replace(bun(), steps=(Step("bulk", temperature=27.0),))
    assert rise(stepped).low == rise(bun(), 27).low


# what cannot be


@pytest.mark.parametrize(
    ("given", "error", "words"),
    [
        ({"temperature": -1}, AmountError, "'dough temperature' must be 0 to 50 °C"),
        ({"temperature": 50.5}, AmountError, "'dough temperature' must be 0 to 50 °C"),
        ({"temperature": "150 degF"}, AmountError, "'dough temperature' must be 0 to 50 °C"),
        ({"temperature": math.nan}, AmountError, "'temperature'|'dough temperature'"),
        ({"temperature": 26, "room": -18}, AmountError, "'room' must be 0 to 50 °C"),
        ({"yeast": 0}, FormulaError, "'yeast' must be above 0 %"),
        ({"yeast": -1}, FormulaError, "'yeast' must be above 0 %"),
        ({"until": 1}, AmountError, "'until' must be above 1"),
        ({"until": 5}, AmountError, "'until' must be above 1 and at most 3"),
        ({"stage": "bulk rise"}, UnknownName, "did you mean bulk"),
        ({"stage": "sponge"}, FormulaError, "'sponge' must be one preferment"),
        ({"batch": "0 g"}, AmountError, "'batch' must be a mass above 0 g"),
        ({"temperature": "26 g"}, KitError, "temperature"),
    ],
)
def test_what_cannot_rise_is_refused_in_words(given, error, words):
    with pytest.raises(error, match=words):
        rise(bun(), **given)


def test_salt_beyond_growth_is_named():
    """Published: Saccharomyces cerevisiae did not grow at 7.5 % of salt."""
    with pytest.raises(FormulaError, match="'salt' must be at most .*got 20.0 %"):
        rise(bun(salt=20), 26)
    with pytest.raises(FormulaError, match="'salt'"):
        rise(bun().vary(salt=[1, 20]), 26)


def test_no_yeast_and_no_water_are_named():
    with pytest.raises(FormulaError, match="'yeast' must be above 0 %"):
        rise(bun(fresh_yeast=0), 26)
    with pytest.raises(FormulaError, match="'water' must be in the dough"):
        rise(Formula.from_weights("dry", {"flour": 100, "oil": 10}), 26, yeast=2)


def test_too_much_sugar_does_not_rise_and_says_why():
    found = rise(bun(sugar=70), 26)
    assert found.minutes == math.inf
    assert "water activity" in str(found)
    assert "sugar-tolerant" in str(found)
    assert rise(bun(sugar=70), 26, sugar_tolerant=True).minutes < math.inf
    with pytest.raises(FormulaError, match="rise"):
        found.against(rise(bun(), 26))


def test_outside_the_usual_range_says_so():
    for start, words in ((42, "above 38 °C"), (6, "below 10 °C")):
        assert any(words in note for note in rise(bun(), start).notes)
    assert not any("38 °C" in note for note in rise(bun(), 27).notes)


def test_warm_dough_is_told_that_butter_softens():
    """Compendium of Baking Technology, 11.5: laminated doughs at 26 to 30 degC, with butter 28 at most."""
    for found, softens in (
        (rise(bun(), 30), False), (rise(bun(), 30.5), True), (rise(bun(), 26, room=34), True),
        (rise(bun(), 36, stage="final proof"), True), (rise(bun(), 24), False),
    ):  # fmt: skip
        said = [note for note in found.notes if "butter and the crust's paste soften" in note]
        assert len(said) == softens
        assert all("above 30 °C" in note and "28" in note and "36" in note for note in said)


def test_a_temperature_not_told_is_said_and_widens():
    assumed, told = rise(bun()), rise(bun(), 27)
    assert assumed.minutes == told.minutes
    assert assumed.low < told.low < told.high < assumed.high
    assert any("say how warm it is" in note for note in assumed.notes)
    assert not any("°C, " in note for note in told.notes)


@drawn(20)
@given(STARTS, st.sampled_from([None, 5.0, 40.0]))
@example(35.0, 5.0)
def test_the_middle_lies_in_every_band(start, room):
    found = rise(bun(), start, room)
    assert found.low <= found.minutes <= found.high


def test_what_widens_the_band_is_asked_of_one_dough():
    many = rise(bun().vary(sugar=[10, 20]))
    for ask in (many.to_frame, many.sources):
        with pytest.raises(FormulaError, match="for what widens its band"):
            ask()
