"""Laws of the swaps and the preferments: every word is one the kit knows, and every rule can be reckoned."""

import csv
from pathlib import Path

import pytest

TABLES = Path(__file__).parents[2] / "reference_tables"


def read(name):
    with open(TABLES / f"{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


SWAPS, INGREDIENTS = read("substitutions"), read("ingredients")
NAMES = {row["name"] for row in INGREDIENTS}
KINDS = {row["kind"] for row in INGREDIENTS}
BASES = {"fat", "water", "sugars", "solids", "milk_solids_not_fat", "weight", "yeast"}
PARTS = {"dough", "topping", "wash", "inclusion", "filling", "dusting", "any"}


@pytest.mark.parametrize("row", SWAPS, ids=lambda r: f"{r['out']}-{r['into']}-{r['part']}")
def test_every_word_of_a_swap_is_known(row):
    assert {row["out"], row["into"]} <= NAMES | KINDS
    assert row["part"] in PARTS
    assert row["basis"] in BASES
    assert row["free_of"] in {"", "egg", "milk", "nuts"}
    for entry in filter(None, row["give"].split(";")):
        names, account = entry.split(":")
        assert set(names.split("|")) <= KINDS
        assert account in {"water", "fat", "salt"}
    assert row["behaviour"]


def test_a_swap_stands_once():
    named = [(row["out"], row["into"], row["part"], row["free_of"]) for row in SWAPS]
    assert len(set(named)) == len(named)


def carrying(word):
    """Return the allergens of the default ingredient of a name or kind."""
    row = next(r for r in INGREDIENTS if word in (r["name"], r["kind"]))
    return set(row["allergens"].split(";"))


def test_a_swap_to_be_rid_of_an_allergen_is_rid_of_it():
    """Common practice, no source: what comes in must not carry what is to go, and what goes must."""
    nuts = {"almond", "hazelnut", "walnut"}
    for row in SWAPS:
        if row["free_of"]:
            gone = nuts if row["free_of"] == "nuts" else {row["free_of"]}
            assert not carrying(row["into"]) & gone, row
            assert carrying(row["out"]) & gone, row


def test_what_the_trade_swaps_daily_is_there():
    """Common practice, no source."""
    pairs = {(row["out"], row["into"]) for row in SWAPS}
    for pair in (
        ("butter", "oil"), ("oil", "butter"), ("butter", "lard"), ("butter", "clarified butter"),
        ("butter", "margarine"), ("unsalted butter", "salted butter"), ("milk", "milk powder"),
        ("milk powder", "milk"), ("milk", "evaporated milk"), ("milk", "buttermilk"), ("milk", "cream"),
        ("egg", "yolk"), ("egg", "white"), ("egg", "dried egg"), ("sugar", "honey"), ("sugar", "syrup"),
        ("sugar", "brown sugar"), ("sugar", "condensed milk"), ("fresh yeast", "active dry yeast"),
        ("fresh yeast", "instant yeast"), ("active dry yeast", "instant yeast"), ("instant yeast", "fresh yeast"),
        ("flour", "wholemeal flour"), ("flour", "cocoa"), ("flour", "nut"), ("nut", "flour"),
    ):  # fmt: skip
        assert pair in pairs


def test_a_preferment_lies_in_its_own_range():
    """Common practice, no source: poolish is equal weights, a biga stiff, flour cooked with five times its weight."""
    rows = {row["kind"]: row for row in read("preferments")}
    assert set(rows) == {"poolish", "biga", "sponge", "cooked flour", "straight"}
    straight = rows.pop("straight")
    assert not any(straight[name] for name in ("hydration_percent", "liquid", "fresh_yeast_percent"))
    cooked = rows.pop("cooked flour")
    assert [cooked[name] for name in ("hydration_percent", "liquid", "fresh_yeast_percent")] == ["500", "milk", "0"]
    for row in rows.values():
        low, usual, high = (float(row[f"hydration_{c}percent"]) for c in ("low_", "", "high_"))
        assert low <= usual <= high
        assert 0 < float(row["fresh_yeast_percent"]) <= 4
    assert float(rows["poolish"]["hydration_percent"]) == 100
    assert 50 <= float(rows["biga"]["hydration_percent"]) <= 60
