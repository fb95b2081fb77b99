"""Twelve changes to invented formulas, worked by hand from SR28, put to the public interface; printed nowhere.

changes_weights.csv holds the grams, changes_settings.csv the piece masses and losses, changes_values.csv what was
worked out by hand from the compositions of USDA SR28, with its tolerance. Formulas are invented.
"""

import csv
from collections import defaultdict
from pathlib import Path

import pytest

import kit
from kit import Formula
from kit.balance import measure
from tests.balance.made_of import on_a_piece

HERE = Path(__file__).parent


def rows(name):
    with open(HERE / f"changes_{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


WEIGHTS = defaultdict(lambda: defaultdict(dict))  # (change, stage): {part: {key: g}}
for row in rows("weights"):
    WEIGHTS[row["change"], row["stage"]][row["part"]][row["ingredient_key"]] = float(row["grams"])
SETTINGS = {(row["change"], row["stage"]): row for row in rows("settings")}
VALUES = rows("values")
CHANGES = sorted({change for change, _ in WEIGHTS})
STAGES = sorted(WEIGHTS, key=lambda key: (key[0], key[1] == "after"))
# The topping in which cocoa stands for half of the flour is written on flour and cocoa together.
BASES = {"topping": ("flour", "cocoa")}
MEASURED = {
    "hydration": "hydration",
    "total_hydration": "total_hydration",
    "fat_share": "fat",
    "sugars_share": "sugars",
    "egg_solids_not_fat_share": "egg_solids_not_fat",
    "milk_solids_not_fat_share": "milk_solids_not_fat",
    "enrichment_ratio": "enrichment_ratio",
    "enrichment_as_weighed": "enrichment_as_weighed",
    "salt_on_flour": "salt",
    "prefermented_flour": "prefermented_flour",
    "total_percentage": "total_percentage",
    "topping_fat": "topping_fat",
    "topping_sugars": "topping_sugars",
    "topping_to_dough_ratio": "topping_to_dough_ratio",
    "sweetness_split_topping": "sweetness_split",
}


def pieces(key):
    return {"dough": float(SETTINGS[key]["piece_dough_g"]), "topping": float(SETTINGS[key]["piece_topping_g"])}


def losses(key):
    return {"dividing": float(SETTINGS[key]["dividing_loss_pct"]), "baking": float(SETTINGS[key]["bake_loss_pct"])}


def as_weighed(key):
    parts = WEIGHTS[key]
    first = {"preferment": parts["preferment"]} if "preferment" in parts else None
    return Formula.from_weights(
        f"bun {' '.join(key)}", parts["dough"], first, makes=pieces(key), losses=losses(key), topping=parts["topping"],
        bases=BASES if any("cocoa" in name for name in parts["topping"]) else None,
    )  # fmt: skip


def flour_weighed(key):
    flours = ("bread_flour_enriched", "whole_wheat_flour", "rye_flour_light")
    return sum(g for part in ("preferment", "dough") for k, g in WEIGHTS[key].get(part, {}).items() if k in flours)


# The change as a baker asks for it; the other five were solved by hand and are read as weighed afterwards.
ASKED = {
    "T01": lambda bun: bun.vary(butter=25),
    "T03": lambda bun: bun.swap("plain flour", "cocoa", 50, "topping"),
    "T09": lambda bun: bun.vary(pieces=120),
    "T13": lambda bun: bun.with_preferment("preferment", 20, {"water": 100, "fresh yeast": 2}),
    "T19": lambda bun: bun.vary({"bread flour": 70, "wholemeal flour": 30}, water=31),
    "T21": lambda bun: bun.swap("bread flour", "dark cocoa", 6),
    "T23": lambda bun: bun.vary(piece="75 g", topping="25 g"),
}


def changed(key):
    change, stage = key
    if stage == "after" and change in ASKED:
        return ASKED[change](as_weighed((change, "before")))
    return as_weighed(key)


def batch(key, formula):
    """Return the batch as weighed: of the same flour, of the same dough when flour went out, of 120 pieces."""
    before = (key[0], "before")
    if key == ("T09", "after"):
        return formula.scale()
    if key == ("T21", "after"):
        return formula.scale(dough=as_weighed(before).scale(flour=flour_weighed(before)).dough)
    return formula.scale(flour=flour_weighed(before if key[0] in ASKED else key))


def quantity(key, formula, name):
    weighed = batch(key, formula)
    if name in MEASURED:
        return measure(formula, MEASURED[name])
    if name == "sweetness_split_dough":
        return 100 - measure(formula, "sweetness_split")
    if name == "all_sugars_split_topping":
        topping, crumb = (on_a_piece(formula)[part]["sugars"] for part in ("topping", "dough"))
        return 100 * topping / (topping + crumb)
    if name == "total_flour":
        return weighed.flour
    if name == "dough_batch":
        return weighed.dough
    if name == "preferment_batch":
        return weighed.mass("preferment")
    if name == "topping_batch" and key == ("T09", "after"):
        return weighed.mass("topping")
    if name == "topping_batch":  # 100 of the topping as it was weighed before
        lines = WEIGHTS[(key[0], "before") if key[0] in ASKED else key]["topping"]
        base = sum(g for k, g in lines.items() if k.startswith("cocoa") or k == "ap_flour_enriched_unbleached")
        return formula.part("topping").mass * base / 100
    made = kit.predict_yield(formula, flour=weighed.flour, losses=losses(key))
    return {"pieces": made.pieces, "topping_needed": made.topping_needed}[name]


@pytest.mark.parametrize("key", STAGES, ids=" ".join)
def test_every_quantity_is_as_worked_by_hand(key):
    """Expected values: computed by hand from USDA SR28 compositions, apart from this kit."""
    formula = changed(key)
    wanted = [row for row in VALUES if (row["change"], row["stage"]) == key]
    assert len(wanted) == 23
    wrong = {}
    for row in wanted:
        got = quantity(key, formula, row["quantity"])
        if not abs(got - float(row["value"])) <= float(row["tolerance"]) + 1e-9:
            wrong[row["quantity"]] = (got, row["value"], row["tolerance"])
    assert not wrong


@pytest.mark.parametrize("change", sorted(ASKED))
def test_change_gives_the_weights_worked_by_hand(change):
    """Grams after the change: worked by hand; 1 in 10,000 is the rounding of four decimals of gram."""
    key = (change, "after")
    formula = changed(key)
    grams = batch(key, formula).grams
    expected = {(part, k): g for part, lines in WEIGHTS[key].items() for k, g in lines.items() if part != "topping"}
    if change == "T09":
        expected |= {("topping", k): g for k, g in WEIGHTS[key]["topping"].items()}
    got = {place: g for place, g in grams.items() if place[0] != "topping" or change == "T09"}
    assert got == pytest.approx(expected, rel=1e-4)


def test_none_of_the_hand_worked_values_is_left_out():
    assert len(CHANGES) == 12
    assert len(STAGES) == 24
    assert len(VALUES) == 24 * 23
