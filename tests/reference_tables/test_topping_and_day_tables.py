"""Laws of the tables that topping, declared masses, trays and the day rest on."""

import re

import pytest

from kit.tables import table


def rows(name):
    return table(name).rows


def test_eu_rows_join_and_agree_where_they_meet():
    """Directive 76/211/EEC, Annex I 2.4: the limits are continuous, by share or in g in turn."""
    eu = rows("net_weight_eu")
    for row, after in zip(eu, eu[1:], strict=False):
        assert row["to_g"] == after["from_g"]
        assert (row["percent"] == "") != (after["percent"] == "")
    for row in eu:
        assert (row["percent"] == "") != (row["error_g"] == "")
    for row, after in zip(eu, eu[1:], strict=False):
        at = float(row["to_g"])
        ends = [float(r["error_g"]) if r["error_g"] else at * float(r["percent"]) / 100 for r in (row, after)]
        assert ends[0] == pytest.approx(ends[1])


def test_us_rows_join_and_rise():
    us = rows("net_weight_us")
    assert all(row["to_lb"] == after["from_lb"] for row, after in zip(us, us[1:], strict=False))
    allowed = [float(row["variation_lb"]) for row in us[1:]]
    assert allowed == sorted(allowed)
    assert float(us[0]["percent"]) / 100 * float(us[0]["to_lb"]) == pytest.approx(allowed[0])
    shares = [float(row["variation_lb"]) / float(row["to_lb"]) for row in us[1:]]
    assert 0.1 > shares[0] > 2 * shares[-1] > 0.04  # a share of 10 % at most, and of the largest package the least
    assert {row["provenance"] for row in us} == {"from memory"}


def test_every_legal_test_says_how_far_below_and_how_many():
    for row in rows("net_weight_rules"):
        assert row["law"] in ("EU", "US")
        assert (row["of"] == "bake's mean") == (row["errors"] == "0") == (row["most_under_percent"] == "")
        if row["most_under_percent"]:
            assert 0 < float(row["most_under_percent"]) < 50


def test_ranges_run_upwards():
    for row in rows("dome_stages"):
        assert 0 <= float(row["low"]) <= float(row["high"])


def test_stages_speak_of_figures_the_calibration_has():
    known = {row["what"] for row in rows("calibration")}
    assert {f"{row['what']}_{row['stage']}" for row in rows("dome_stages")} <= known


def test_stages_of_the_day_have_bands_and_words():
    order = [row["stage"] for row in rows("day_defaults")]
    assert order == ["sponge", "mix", "bulk", "divide", "shape", "top", "proof", "bake", "cool"]
    for row in rows("day_defaults"):
        assert 0 < float(row["low_minutes"]) <= float(row["minutes"]) <= float(row["high_minutes"])
        assert row["one_at_a_time"] in ("yes", "no")
        words = row["words"].split(";")
        assert words
        assert all(re.compile(word) for word in words)
    held = {word for row in rows("day_defaults") for word in row["words"].split(";")}
    assert len(held) == sum(len(row["words"].split(";")) for row in rows("day_defaults"))  # no word names two stages


def test_trays_are_named_by_their_sides():
    for row in rows("trays"):
        sides = [float(side) / 10 for side in re.findall(r"\d+", row["tray"])]
        assert sides == [float(row["length_cm"]), float(row["width_cm"])]
