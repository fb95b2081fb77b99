"""Tables of the label: laws every row keeps. Their shape and sums are pinned with the other tables'."""

import csv
from collections import defaultdict
from pathlib import Path

import pytest

TABLES = Path(__file__).parents[2] / "reference_tables"


def read(name):
    with open(TABLES / f"{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


ROUNDING, NUTRIENTS, FACTORS, NAMES = map(read, ("label_rounding", "label_nutrients", "energy_factors", "label_names"))
RULES = defaultdict(list)
for rule in ROUNDING:
    for nutrient in rule["nutrients"].split(";"):
        RULES[nutrient].append(rule)


@pytest.mark.parametrize("rules", RULES.values(), ids=list(RULES))
def test_rules_of_a_nutrient_begin_at_nothing_and_rise(rules):
    assert (rules[0]["from_value"], rules[0]["from_included"]) == ("0", "yes")
    places = [(float(rule["from_value"]), rule["from_included"] == "no") for rule in rules]
    assert places == sorted(set(places))
    steps = [float(rule["step"]) for rule in rules if rule["step"]]
    assert all(bool(rule["step"]) != bool(rule["says"]) for rule in rules)
    assert steps == sorted(steps)
    assert rules[-1]["step"]  # however much there is, it can be declared


def test_every_nutrient_can_be_declared_in_its_unit():
    for row in NUTRIENTS:
        assert {rule["unit"] for rule in RULES[row["nutrient"]]} == {row["unit"]}
        assert row["account"]
        assert float(row["factor"]) > 0


def test_energy_factors_of_the_european_annex():
    """Regulation (EU) 1169/2011, Annex XIV, as printed (kcal/g, kJ/g)."""
    assert {r["component"]: (r["energy_kcal_per_g"], r["energy_kj_per_g"]) for r in FACTORS} == {
        "carbohydrate": ("4", "17"), "fibre": ("2", "8"), "protein": ("4", "17"), "fat": ("9", "37"),
        "alcohol": ("7", "29"),
    }  # fmt: skip


def test_label_names_speak_of_known_ingredients_once():
    known = {row["key"]: row for row in read("ingredients")}
    assert len({row["ingredient"] for row in NAMES}) == len(NAMES)
    for row in NAMES:
        assert row["ingredient"] in known
        assert row["eu_name"]
        assert row["us_name"]
        assert row["compound"] in ("yes", "no")
        assert row["compound"] == "no" or row["check_on_the_makers_label"]


def test_ingredients_that_share_a_name_share_their_allergens():
    """Merging two on a label must lose neither's allergens; common practice, no source."""
    known = {row["key"]: row["allergens"] for row in read("ingredients")}
    for market in ("eu_name", "us_name"):
        sharing = defaultdict(set)
        for row in NAMES:
            sharing[row[market]].add(known[row["ingredient"]])
        assert {name for name, words in sharing.items() if len(words) > 1} == set()
