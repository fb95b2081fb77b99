"""Laws of the tables that topping, trays and the day rest on."""

import re

from kit.tables import table


def rows(name):
    return table(name).rows


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
