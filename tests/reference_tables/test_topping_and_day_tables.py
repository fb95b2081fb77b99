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


def test_what_is_printed_of_bakes_lies_within_what_can_be():
    """As printed in degF: 190 to 200, 185 to 195, 205 (soft), 200 to 210 (lean), ovens of 350, 400 and 425."""
    limits = {row["field"]: (float(row["low"]), float(row["high"])) for row in rows("trial_fields") if row["low"]}
    printed = set()
    for row in rows("bake_temperatures"):
        low, high = (float(row[f"{end}_degC"]) for end in ("low", "high"))
        least, most = limits["core_temperature" if row["what"] == "core" else "oven_set"]
        assert least <= low <= high <= most
        if row["use"] == "printed":
            printed |= {round(end * 1.8 + 32) for end in (low, high)}
    for degrees in (190, 185, 205, 200, 210, 350, 400, 425):
        assert min(abs(degrees - other) for other in printed) <= 1
