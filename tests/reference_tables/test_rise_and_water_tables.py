"""Laws of the tables that rise, water temperature and calibration read, and figures as their source prints them."""

import math

import pytest

from kit.tables import ingredients, table
from kit.units import read


def rows(name):
    return table(name).rows


@pytest.mark.parametrize("name", ["calibration", "rise_parameters", "thermal_constants"])
def test_values_lie_in_their_ranges(name):
    for row in rows(name):
        if row["kind_of_spread"] != "none":
            low, value, high = (float(row[column]) for column in ("low", "value", "high"))
            assert low <= value <= high, row
            assert low < high, row
            assert row["kind_of_spread"] in ("normal", "log-normal", "uniform")
            assert low > 0 or row["kind_of_spread"] != "log-normal"


def test_sugars_of_a_kind_add_up():
    for row in rows("sugar_shares"):
        assert sum(float(v) for n, v in row.items() if n.endswith("_percent_of_sugars")) == 100
        assert 0 <= float(row["added_percent"]) <= 100 - float(row["lactose_percent_of_sugars"])
        assert ingredients().of_kind(row["kind"]) or row["kind"] == "jam"  # which a house brings a row of its own for


def test_shares_of_composite_ingredients_follow_from_what_is_published():
    """USDA SR28: condensed milk's lactose is to its protein as in whole milk; a sugared yolk's sucrose; half almond."""
    of = {row["key"]: {c: float(v) for c, v in row.items() if c.endswith("_100g") and v} for row in ingredients().rows}
    added = {row["kind"]: float(row["added_percent"]) for row in rows("sugar_shares")}
    milk, tin = of["milk_whole"], of["milk_sweetened_condensed"]
    lactose = tin["protein_g_per_100g"] * milk["carbohydrate_g_per_100g"] / milk["protein_g_per_100g"]
    assert added["condensed milk"] == round(100 * (1 - lactose / tin["sugars_g_per_100g"]))
    assert added["sweetened yolk"] == round(100 * 10.10 / of["egg_yolk_frozen_sugared"]["sugars_g_per_100g"])
    almonds = of["almonds_blanched"]["sugars_g_per_100g"] / 2
    assert added["marzipan"] == round(100 * (1 - almonds / of["almond_paste"]["sugars_g_per_100g"]))


def test_ranges_run_upwards():
    for row in rows("rise_reference_points"):
        assert float(row["low_minutes"]) < float(row["minutes"]) < float(row["high_minutes"])
        middle = (float(row["low_minutes"]) * float(row["high_minutes"])) ** 0.5  # log-normal
        assert float(row["minutes"]) == pytest.approx(middle, abs=0.6)


def test_solid_fat_falls_as_it_warms():
    fat = table("milk_fat_solid")
    for column in ("solid_percent", "low_percent", "high_percent"):
        assert (fat.numbers(column)[1:] <= fat.numbers(column)[:-1]).all()
    assert (fat.numbers("temperature_degC")[1:] > fat.numbers("temperature_degC")[:-1]).all()
    assert ((fat.numbers("low_percent") <= fat.numbers("solid_percent")) & (
        fat.numbers("solid_percent") <= fat.numbers("high_percent"))).all()  # fmt: skip


def test_cardinal_temperatures_as_published():
    """Salvado and others 2011: highest 45.4 degC, species from 1.3 to 4.3; trade article: best 32 to 40."""
    lowest, best, highest = (
        next(r for r in rows("rise_parameters") if r["what"] == f"{w} temperature")
        for w in ("lowest", "best", "highest")
    )
    assert (best["low"], best["value"], highest["value"], lowest["high"]) == ("32", "40", "45.4", "4.3")
    assert float(best["low"]) > (float(lowest["high"]) + float(highest["high"])) / 2


def test_heat_of_hydration_in_british_units():
    """An article of a trade magazine: 6.5 Btu per lb of flour; 1 Btu = 1.05506 kJ, 1 lb = 0.45359 kg."""
    row = next(r for r in rows("thermal_constants") if r["what"] == "heat of hydration of flour")
    for printed, column in ((6.5, "value"), (6.45, "low"), (6.55, "high")):
        assert float(row[column]) == pytest.approx(printed * 1.05506 / 0.45359237, abs=0.005)


def test_yeast_exponent_as_derived():
    """US War Department 1916: 10 oz of yeast 5 h, 5 oz up to 8 h; a timetable of 1918: half, twice the time."""
    row = next(r for r in rows("rise_parameters") if r["what"] == "yeast exponent")
    assert float(row["value"]) == pytest.approx(math.log(8 / 5) / math.log(2), abs=0.025)
    assert float(row["high"]) == math.log(6 / 3) / math.log(2)


def test_sugar_slows_from_where_sources_say():
    """Published: slowing starts at 5 % of flour (a handbook's chapter) to 7 % (a yeast maker's note)."""
    row = next(r for r in rows("rise_parameters") if r["what"] == "sugar that does not slow")
    assert (float(row["low"]), float(row["high"])) == (5, 7)


def test_dough_temperatures_are_in_a_unit_the_kit_reads():
    for row in rows("dough_temperatures"):
        low, high = (read(f"{row[end]} {row['unit']}", "temperature") for end in ("low", "high"))
        assert 20 < low < high < 30
