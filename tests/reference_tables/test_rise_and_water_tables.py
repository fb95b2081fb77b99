"""Laws of the tables that rise, water temperature and calibration read, and figures as their source prints them."""

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
        assert ingredients().of_kind(row["kind"])


def test_ranges_run_upwards():
    for name in ("rise_reference_points", "rise_times_published"):
        for row in rows(name):
            assert float(row["low_minutes"]) <= float(row["high_minutes"])
            ends = [float(row[f"fresh_yeast{end}_percent"]) for end in ("_low", "", "_high")]
            assert ends == sorted(ends)


def test_solid_fat_falls_as_it_warms():
    fat = table("milk_fat_solid")
    for column in ("solid_percent", "low_percent", "high_percent"):
        assert (fat.numbers(column)[1:] <= fat.numbers(column)[:-1]).all()
    assert (fat.numbers("temperature_degC")[1:] > fat.numbers("temperature_degC")[:-1]).all()
    assert ((fat.numbers("low_percent") <= fat.numbers("solid_percent")) & (
        fat.numbers("solid_percent") <= fat.numbers("high_percent"))).all()  # fmt: skip


def test_cardinal_temperatures_as_published():
    """Salvado and others 2011: 32.3 and 45.4 degC; species from 1.3 to 4.3 degC; the model needs best above middle."""
    lowest, best, highest = (
        next(r for r in rows("rise_parameters") if r["what"] == f"{w} temperature")
        for w in ("lowest", "best", "highest")
    )
    assert (best["value"], highest["value"], lowest["low"], lowest["high"]) == ("32.3", "45.4", "1.3", "4.3")
    assert float(best["low"]) > (float(lowest["high"]) + float(highest["high"])) / 2


def test_heat_of_hydration_in_british_units():
    """Trade dictionary: 6.5 Btu per lb; 1 Btu = 1.05506 kJ, 1 lb = 0.45359 kg."""
    row = next(r for r in rows("thermal_constants") if r["what"].startswith("heat of hydration"))
    assert float(row["value"]) == pytest.approx(6.5 * 1.05506 / 0.45359237, abs=0.05)


def test_published_times_in_fahrenheit():
    """80, 97 and 63 degF; 84 degF room and 79 degF sponge; 110 degF cabinet."""
    found = {r["case"]: (r["dough_degC"], r["room_degC"]) for r in rows("rise_times_published")}
    for case, printed in (("doubles at 80", 80), ("doubles at 97", 97), ("doubles at 63", 63)):
        (dough,) = [v[0] for name, v in found.items() if case in name]
        assert float(dough) == pytest.approx(read(f"{printed} degF", "temperature"), abs=0.005)
    assert float(found["sponge of sponge-dough rolls"][1]) == pytest.approx(read("84 degF", "temperature"), abs=0.005)
    assert float(found["final proof of sponge-dough rolls"][1]) == pytest.approx(43.33, abs=0.005)


def test_thresholds_of_sugar_disagree():
    """Published: slowing starts at 5, 6 or 7 % of flour."""
    starts = [float(r["low_percent_of_flour"]) for r in rows("yeast_sugar_thresholds") if r["what"] == "slowing starts"]
    assert sorted(starts) == [5, 6, 7]
    row = next(r for r in rows("rise_parameters") if r["what"] == "sugar that does not slow")
    assert (float(row["low"]), float(row["high"])) == (min(starts), max(starts))


def test_dough_temperatures_are_in_a_unit_the_kit_reads():
    for row in rows("dough_temperatures"):
        low, high = (read(f"{row[end]} {row['unit']}", "temperature") for end in ("low", "high"))
        assert 20 < low < high < 30
