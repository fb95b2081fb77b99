"""Declared figures, energy and percentages of ingredients: cases as printed, and laws."""

import csv
import re
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import AmountError, UnknownName
from kit.handover import declare, energy, quid
from kit.tables import table
from tests.laws import drawn

TESTS = Path(__file__).parents[1]
LAWS = drawn(300)


def cases(name, folder="worked"):
    """Return the rows of a table: printed somewhere (published), or a law's rule applied by hand (worked)."""
    with open(TESTS / folder / f"{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# what the printed table calls a nutrient: the kit's names
WORDS = {
    "fat/carb/sugars/protein/fibre": ["fat", "carbohydrate", "sugars", "protein", "fibre"],
    "saturates": ["saturated_fat"],
}


@pytest.mark.parametrize("row", cases("label_rounding_eu"), ids=lambda r: f"{r['nutrient']}-{r['value']}")
def test_european_rounding(row):
    """Commission guidance on tolerances, December 2012, Table 4, by hand; either of two wordings is allowed there."""
    for nutrient in WORDS.get(row["nutrient"], [row["nutrient"]]):
        told = declare(nutrient, float(row["value"]))
        if " or " in row["declared"]:
            assert told.text in row["declared"].split(" or ")
        else:
            assert Decimal(told.text) == Decimal(row["declared"])


@pytest.mark.parametrize(
    ("nutrient", "value", "text"),
    [
        ("fat", 9.96, "10"),  # across the line, printed as whole grams
        ("fat", 3.0, "3.0"),
        ("salt", 0.995, "1.0"),
        ("salt", 0.984, "0.98"),
        ("energy_kj", 1584.5, "1,585"),
        ("energy_kcal", 230.49, "230"),
        ("energy_kcal", 12344.5, "12,345"),  # halves to even would say 12,344
        ("fat", 0, "0"),
    ],
)
def test_how_a_figure_is_printed(nutrient, value, text):
    """The same rules; digits kept as the step has them."""
    assert declare(nutrient, value).text == text


def test_a_half_spoilt_by_binary_arithmetic_still_goes_up():
    """0.1 x 3 x 7.5 = 2.25 on paper, a little less or more in the machine."""
    assert declare("fat", 2.25 - 4e-16).text == declare("fat", 2.25).text == "2.3"
    assert declare("salt", 1.05 - 2e-16).text == "1.1"


@pytest.mark.parametrize("row", cases("label_energy"), ids=lambda r: r["case"])
def test_energy_by_each_unit_s_own_factors(row):
    """230 kcal x 4.184 would be 962 kJ; the factors give 965."""
    grams = {c: float(row[f"{c}_g"]) for c in ("fat", "carbohydrate", "fibre", "protein")}
    told = energy(grams)
    assert told == {"kcal": pytest.approx(float(row["kcal"])), "kJ": pytest.approx(float(row["kj"]))}


QUID = [*cases("label_quid", "published"), *cases("label_quid")]


@pytest.mark.parametrize("case", sorted({row["case"] for row in QUID}))
def test_percentages_of_ingredients(case):
    rows = [row for row in QUID if row["case"] == case]
    used = {row["ingredient"]: float(row["used_g"]) for row in rows}
    told = quid(used, float(rows[0]["finished_g"]), float(rows[0]["mixed_g"]))
    for row in rows:
        number = float(re.search(r"[\d.]+", told[row["ingredient"]])[0])
        assert number == pytest.approx(float(row["printed_percent"]), abs=float(row["tolerance"]))


def test_above_100_percent_it_is_grams_for_100_g():
    """Annex VIII (3)(b): alone, or all that are indicated together."""
    assert set(quid(dict.fromkeys("abcd", 25.0), 90, 100).values()) == {"made with 27.8 g per 100 g"}
    assert quid({"meat": 120}, 100, 150) == {"meat": "made with 120 g per 100 g"}
    assert quid({"butter": 25, "egg": 25}, 90, 100)["egg"] == "27.8 %"
    assert quid({"egg": 25}, 110, 100)["egg"] == "25 %"  # what took up water: the mixing bowl; from memory


NUTRIENTS = [name for row in table("label_rounding").rows for name in row["nutrients"].split(";")]
NUTRIENTS = [name for name in dict.fromkeys(NUTRIENTS) if name != "added_water"]


@LAWS
@given(st.sampled_from(NUTRIENTS), st.floats(0, 20000))
def test_what_is_declared_lies_within_half_a_step(nutrient, value):
    told = declare(nutrient, value)
    if told.number is not None:
        assert abs(float(told.number) - value) <= float(told.step) / 2 * (1 + 1e-6)
    elif told.text == "0":
        assert value == 0
    else:
        assert value <= float(told.text.replace("<", "")) + (nutrient == "salt") * 0.0025


@LAWS
@given(st.sampled_from(NUTRIENTS), st.floats(0, 500), st.floats(0, 5))
def test_more_is_never_declared_as_less(nutrient, value, more):
    lower, higher = declare(nutrient, value), declare(nutrient, value + more)
    if lower.number is not None:
        assert higher.number >= lower.number


@LAWS
@given(st.dictionaries(st.sampled_from(["fat", "carbohydrate", "protein", "alcohol"]), st.floats(0, 100), min_size=1))
def test_energy_adds_up(grams):
    one = [energy({name: g})["kJ"] for name, g in grams.items()]
    assert energy(grams)["kJ"] == pytest.approx(sum(one))


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: declare("fat", -1), AmountError, r"'fat' must be 0 or more \(got -1"),
        (lambda: declare("fat", float("nan")), AmountError, "0 or more"),
        (lambda: declare("fat", float("inf")), AmountError, "at most"),
        (lambda: declare("sault", 1), UnknownName, "did you mean salt"),
        (lambda: energy({"fatt": 1}), UnknownName, "did you mean fat"),
        (lambda: quid({"egg": 1}, 0, 10), AmountError, "'finished food' must be a mass above 0 g"),
        (lambda: quid({"egg": -1}, 10, 10), AmountError, "'egg' must be 0 to 10.0 g"),
        (lambda: quid({"egg": 11}, 10, 10), AmountError, "'egg' must be 0 to 10.0 g"),
        (lambda: quid({"egg": float("nan")}, 10, 10), AmountError, "'egg' must be 0 to 10.0 g"),
    ],
)
def test_mean_inputs(call, error, words):
    with pytest.raises(error, match=words):
        call()
