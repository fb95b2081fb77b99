"""What must hold of every water temperature: heat closes, terms add up; laws, so no source but reason."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import kit
from kit.errors import AmountError, FormulaError, UnitError
from kit.formula import Formula, Step
from kit.process import (
    Calibration,
    Estimate,
    mixed_temperature,
    mixing_rise_of,
    water_temperature,
)
from kit.process.heat import poured_into
from kit.process.water import dough_aim, ice_in
from tests.laws import drawn

LEAN = {"flour": 100, "water": 60, "salt": 2, "fresh yeast": 2}
RICH = {"flour": 100, "water": 14, "milk": 20, "egg": 30, "butter": 35, "sugar": 18, "salt": 1.6, "fresh yeast": 4}
TEMPERATURES = st.floats(2, 34)


def rich(**changes):
    return Formula.from_weights("rich", RICH | changes)


def with_sponge():
    return Formula.from_weights(
        "rich", RICH | {"flour": 70, "milk": 5}, {"sponge": {"flour": 30, "milk": 27, "fresh yeast": 1}}
    )


@drawn(40)
@given(st.floats(18, 32), TEMPERATURES, TEMPERATURES, TEMPERATURES, TEMPERATURES, st.floats(0, 9), st.booleans())
def test_energy_closes(aim, room, flour, egg, butter, rise, sponge):
    """Mixing everything at its temperature gives the dough back."""
    dough = with_sponge() if sponge else rich()
    given_ = {"flour": flour, "ingredients": {"egg": egg, "butter": butter}, "preferment": 27 if sponge else None}
    made = water_temperature(dough, aim, room, mixing_rise=rise, **given_)
    back = mixed_temperature(dough, made.balance, room, mixing_rise=rise, **given_)
    assert back == pytest.approx(aim, abs=1e-6)


def test_balance_by_hand():
    """100 flour at 20, 60 water: c of flour 1.998, of water 4.176 (tap water), 15.12 kJ/kg, rise 3, aim 26."""
    made = water_temperature(Formula.from_weights("d", {"flour": 100, "water": 60}), 26, 24, 20, mixing_rise=3)
    flour, water = 0.1 * 1.9977, 0.06 * 4.1769
    expected = 26 + (flour * 6 - 1.512 - (flour + water) * 3) / water
    assert made.balance == pytest.approx(expected, abs=0.02)


@drawn(40)
@given(st.floats(18, 32), TEMPERATURES, TEMPERATURES, TEMPERATURES, st.floats(0, 60), st.booleans())
def test_terms_add_up(aim, room, flour, egg, friction, sponge):
    dough = with_sponge() if sponge else rich()
    made = water_temperature(dough, aim, room, flour, ingredients={"egg": egg}, friction=friction)
    assert sum(value for _, value in made.terms) == pytest.approx(made.balance - made.rule, abs=1e-8)
    names = [name for name, _ in made.terms]
    assert len(names) == len(set(names))
    # the rule by itself, written out
    counted = [flour, room] + ([room] if sponge else [])
    assert made.rule == pytest.approx((len(counted) + 1) * aim - sum(counted) - friction)


def test_terms_are_each_their_own_heat():
    """Egg 10 degC colder: the water must be warmer by its heat capacity over the water's, and only its term moves."""
    warm = water_temperature(rich(), 26, 22, ingredients={"egg": 22})
    cold = water_temperature(rich(), 26, 22, ingredients={"egg": 12})
    moved = {n: b - a for (n, a), (_, b) in zip(warm.terms, cold.terms, strict=True) if abs(b - a) > 1e-9}
    assert list(moved) == ["egg"]
    assert moved["egg"] == pytest.approx(0.30 * 3.653 * 10 / (0.14 * 4.1769), rel=0.001)


def test_own_flours_have_own_temperatures():
    dough = Formula.from_weights("two", {"bread flour": 60, "rye flour": 40, "water": 60})
    same = water_temperature(dough, 26, 22, 18)
    apart = water_temperature(dough, 26, 22, 18, ingredients={"rye flour": 8})
    assert apart.balance > same.balance
    assert sum(v for _, v in apart.terms) == pytest.approx(apart.balance - apart.rule)


def test_a_friction_factor_in_fahrenheit_has_no_32_in_it():
    """18 degF of factor are 10 degC, of three temperatures."""
    made = water_temperature(rich(), 26, 22, friction="18 degF")
    assert made.mixing_rise == pytest.approx(10 / 3)


def test_factor_and_rise_say_the_same():
    """A friction factor of 18 degC with a preferment is 4.5 degC of dough, without one 6."""
    for dough, count in ((rich(), 3), (with_sponge(), 4)):
        by_factor = water_temperature(dough, 26, 22, friction=18)
        by_rise = water_temperature(dough, 26, 22, mixing_rise=18 / count)
        assert by_factor.balance == pytest.approx(by_rise.balance)
        assert by_factor.rule == pytest.approx(by_rise.rule)


def test_mixing_read_back_from_a_past_mix():
    dough = with_sponge()
    came_out = mixed_temperature(dough, 8, 23, mixing_rise=4.5, ice=2, ingredients={"butter": 12}, preferment=26)
    given_ = {"ice": 2, "ingredients": {"butter": 12}, "preferment": 26}
    assert mixing_rise_of(dough, came_out, 8, 23, **given_) == pytest.approx(4.5)


# ice and what to chill


@drawn(40)
@given(st.floats(100, 5e4), st.floats(1, 35), st.floats(0, 1))
def test_ice_closes(water, tap, share):
    """Heat that ice takes = heat that water gives, in kJ with 333.55 and 4.18."""
    wanted = tap * share
    ice = ice_in(water, tap, wanted)
    assert ice * (333.55 + 4.18 * wanted) == pytest.approx((water - ice) * 4.18 * (tap - wanted), abs=1e-6)
    assert 0 <= ice < water


def test_ice_of_a_dough_gives_the_dough():
    """The grams of ice foreseen, put in with water from the tap, give the temperature aimed at."""
    lean = Formula.from_weights("lean", LEAN)
    made = water_temperature(lean, 24, 30, mixing_rise=4, tap=22, batch="10 kg")
    assert made.balance < 22
    assert 0 < made.ice < made.liquid_mass
    back = mixed_temperature(lean, 22, 30, ice=made.ice, mixing_rise=4, batch="10 kg")
    assert back == pytest.approx(24, abs=0.05)  # tap water is 99.9 % water
    assert any("as ice" in note for note in made.notes)


def test_no_ice_when_the_tap_is_cold_enough():
    made = water_temperature(Formula.from_weights("lean", LEAN), 26, 15, mixing_rise=1, tap=12)
    assert made.balance > 12
    assert made.ice == 0
    assert made.chill == ()


@pytest.mark.parametrize("room", [23, 25, 30, 32])
def test_chilling_instead_of_ice_gives_the_dough(room):
    """Each ingredient that is enough, chilled so far and water from the tap, gives the temperature aimed at."""
    dough = rich()
    made = water_temperature(dough, 27, room, mixing_rise=4, tap=15, butter_melts=False)
    enough = [entry for entry in made.chill if entry[3]]
    assert enough
    for name, start, to, _ in enough:
        chilled = {"flour": to} if name == "bread flour" else {"ingredients": {name: to}}
        water = 15 if made.ice <= made.liquid_mass else 0
        ice = 0 if made.ice <= made.liquid_mass else made.liquid_mass
        back = mixed_temperature(dough, water, room, ice=ice, mixing_rise=4, butter_melts=False, **chilled)
        assert start == room
        assert back == pytest.approx(27, abs=0.02)


def test_where_not_even_ice_is_enough():
    """In a dough rich in egg and butter the water carries little: the rule asks for ice, the balance for cold egg."""
    made = water_temperature(rich(water=4, egg=45), 24, 27, minutes=16)
    assert made.water_share < 5
    assert made.ice > made.liquid_mass
    assert "not even all of the water as ice is cold enough" in str(made)
    assert {name for name, *_ in made.chill} == {"bread flour", "egg", "unsalted butter", "whole milk"}
    assert all(to < start for _, start, to, _ in made.chill)


def test_water_too_hot_for_yeast_says_so():
    cold = water_temperature(rich(water=4), 28, 10, mixing_rise=0, ingredients={"egg": 4})
    assert cold.balance > 45
    assert "harms yeast" in str(cold)


# directions


def test_directions():
    base = water_temperature(rich(), 26, 22, mixing_rise=4)
    assert water_temperature(rich(), 27, 22, mixing_rise=4).balance > base.balance
    assert water_temperature(rich(), 26, 23, mixing_rise=4).balance < base.balance
    assert water_temperature(rich(), 26, 22, mixing_rise=5).balance < base.balance
    assert water_temperature(rich(), 26, 22, mixing_rise=4, hydration=0).balance > base.balance
    # soft butter has less left to melt
    cold, soft = (water_temperature(rich(), 26, 22, mixing_rise=4, ingredients={"butter": t}) for t in (8, 20))
    assert dict(cold.terms)["melting of butter"] > dict(soft.terms)["melting of butter"] > 0
    assert "melting of butter" not in dict(water_temperature(rich(), 26, 22, mixing_rise=4, butter_melts=False).terms)


def test_flour_already_wet_gives_no_heat_again():
    """The sponge's flour has given its heat of hydration before: 70 of 100 are left."""
    straight, sponged = (water_temperature(d, 26, 22, mixing_rise=4) for d in (rich(), with_sponge()))
    wet = [dict(made.terms)["heat of hydration of flour"] for made in (straight, sponged)]
    assert wet[1] / wet[0] == pytest.approx(0.7)


def test_share_of_the_water():
    lean, heavy = (water_temperature(Formula.from_weights("d", d), 26, 22).water_share for d in (LEAN, RICH))
    assert lean > 50
    assert heavy < 16


def test_many_at_once_as_one_by_one():
    many = rich().vary(butter=[0, 20, 60], egg=[5, 40])
    found = water_temperature(many, 26, 22, mixing_rise=4)
    for place in np.ndindex(3, 2):
        one = water_temperature(many[place], 26, 22, mixing_rise=4)
        for name in ("rule", "balance", "low", "high", "ice", "rule_ice", "water_share", "liquid_mass", "dough_low"):
            assert getattr(found, name)[place] == pytest.approx(getattr(one, name), rel=1e-12)


# band


def test_band_against_monte_carlo():
    """Mixing and heat of hydration as given drawn at once, seeded; common practice's ranges of calibration.csv."""
    dough = rich()
    made = water_temperature(dough, 26, 22, minutes=10, butter_melts=False, hydration=15.12)
    rng = np.random.default_rng(7)
    rise = 3.7 * np.exp(rng.normal(0, math.log(0.6 / 0.2) / (2 * 1.2815516), 40_000))
    wetting = rng.uniform(15.0, 15.24, 40_000)
    whole = sum(
        v / 100 * c
        for v, c in zip(
            (100, 14, 20, 30, 35, 18, 1.6, 4), (1.998, 4.177, 3.897, 3.653, 2.400, 1.586, 1.13, 3.45), strict=True
        )
    )  # by hand, kJ per K on 1 kg of flour
    came_out = 26 + (wetting - 15.12) / whole + rise - 3.7
    assert (made.dough_low, made.dough_high) == pytest.approx(np.quantile(came_out, [0.1, 0.9]), abs=0.05)
    lever = whole / (0.14 * 4.177)  # of the water on the dough
    assert (made.balance - made.low, made.high - made.balance) == pytest.approx(
        ((made.dough_high - 26) * lever, (26 - made.dough_low) * lever), rel=0.01
    )


@drawn(30)
@given(st.floats(18, 32), TEMPERATURES, st.floats(45, 80), st.booleans())
def test_the_band_holds_the_other_reading_of_the_heat_of_hydration(aim, room, water, sponge):
    """15 kJ of each kg of flour and water, where the value is of each kg of flour: by hand, and within the band."""
    dough = with_sponge() if sponge else Formula.from_weights("lean", {"flour": 100, "water": water})
    made = water_temperature(dough, aim, room, mixing_rise=0, butter_melts=False)
    as_read = 15 * (1 + kit.total_hydration(dough) / 100)  # kJ per kg of flour
    read_so = water_temperature(dough, aim, room, mixing_rise=0, butter_melts=False, hydration=as_read)
    assert made.low <= read_so.balance < made.balance < made.high
    # mixing known, only the two readings and the printed digit are left: the digit is next to nothing
    assert made.low == pytest.approx(read_so.balance, abs=0.02 * (made.balance - read_so.balance))
    assert made.high - made.balance < 0.05 * (made.balance - made.low)
    assert read_so.low == pytest.approx(2 * read_so.balance - read_so.high)  # as given: no other reading


def test_both_readings_are_told():
    said = str(water_temperature(rich(water=30), 26, 26, mixing_rise=4, tap=15, batch="4 kg"))
    assert "15.1 kJ per kg of flour: 6.5 Btu per lb of flour of 11 to 12 % moisture" in said
    assert "a textbook's 15 kJ may be read as of each kg of flour and water, and the band holds both" in said
    given_ = str(water_temperature(rich(), 26, 22, mixing_rise=4, hydration=15))
    assert "15.0 kJ per kg of flour, as given" in given_
    assert "textbook" not in given_


def test_own_mixes_move_and_narrow_it():
    own = Calibration().with_(friction_rise=Estimate(0.5, 0.05, "degC per min", "6 bakes of this kitchen", 6, True))
    usual, mine = (water_temperature(rich(), 26, 22, minutes=10, hydration=15, calibration=c) for c in (None, own))
    assert mine.mixing_rise == pytest.approx(5.0)
    assert mine.dough_high - mine.dough_low < (usual.dough_high - usual.dough_low) / 2
    assert "6 bakes of this kitchen" in str(mine)


# what cannot be


@pytest.mark.parametrize(
    ("given_", "error", "words"),
    [
        ({"dough_temperature": -1}, AmountError, "'dough temperature' must be 0 to 50 °C"),
        ({"dough_temperature": 51}, AmountError, "'dough temperature' must be 0 to 50 °C"),
        ({"dough_temperature": "26 g"}, UnitError, "dough temperature"),
        ({"preferment": 27}, FormulaError, "'preferment' must be a part of the formula"),
        ({"ingredients": {"honey": 20}}, FormulaError, "'ingredients' must be in the final dough"),
        ({"friction": 10, "minutes": 8}, AmountError, "'mixing' must be given once"),
        ({"minutes": -3}, AmountError, "'minutes' must be a time of 0 min or more"),
        ({"batch": "0 g"}, AmountError, "'batch' must be a mass above 0 g"),
    ],
)
def test_what_cannot_be_is_refused_in_words(given_, error, words):
    with pytest.raises(error, match=words):
        water_temperature(rich(), **({"dough_temperature": 26, "room": 22} | given_))


def test_ice_that_cannot_be_is_refused():
    with pytest.raises(AmountError, match="'ice' must be at most the water's mass"):
        mixed_temperature(rich(), 10, 22, ice="5 kg", batch="2 kg")


def test_milk_where_there_is_no_water():
    made = water_temperature(Formula.from_weights("milk", {"flour": 100, "milk": 60}), 26, 22)
    assert made.liquid == "whole milk"
    with pytest.raises(FormulaError, match="'water' must be in the final dough"):
        water_temperature(Formula.from_weights("egg", {"flour": 100, "egg": 60}), 26, 22)


def test_words_of_an_answer_are_text_not_markup():
    own = Calibration().with_(friction_rise=Estimate(0.5, 0.05, rests_on="<script>bakes</script>", log=True))
    shown = water_temperature(rich(), 26, 22, calibration=own)._repr_html_()
    assert "<script>" not in shown
    assert "&lt;script&gt;" in shown


MILKY = Formula.from_weights("dough", {"flour": 100, "water": 50, "milk": 10})


def test_a_dough_is_aimed_at_what_its_last_step_of_mixing_says_else_its_bulk():
    steps = (
        Step("mix", "dough", temperature=22.0),
        Step("knead", "dough", temperature=27.0),
        Step("bulk", temperature=30.0),
    )
    assert [dough_aim(replace(MILKY, steps=some)) for some in (steps, steps[2:], ())] == [27.0, 30.0, None]


def test_milk_is_poured_where_no_water_is():
    dry = Formula.from_weights("dough", {"flour": 100, "water": 0, "milk": 60})
    poured = [poured_into(formula).kind for formula in (MILKY, dry, MILKY.vary(water=np.array([0.0, 50.0])))]
    assert poured == ["water", "milk", "milk"]
