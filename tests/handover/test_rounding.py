"""Declared figures, energy and percentages of ingredients: cases as printed, and laws."""

import csv
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import AmountError, UnknownName
from kit.handover import declare, energy, quid
from kit.tables import table
from tests.laws import drawn

PUBLISHED = Path(__file__).parents[1] / "published"
LAWS = drawn(300)


def cases(name):
    with open(PUBLISHED / f"{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# what the printed tables call a nutrient: the kit's names
WORDS = {
    "calories": ["energy_kcal"],
    "fat": ["fat", "saturated_fat"],
    "carbohydrate/fibre/sugars/added sugars": ["carbohydrate", "fibre", "sugars", "added_sugars"],
    "fat/carb/sugars/protein/fibre": ["fat", "carbohydrate", "sugars", "protein", "fibre"],
    "saturates": ["saturated_fat"],
}


@pytest.mark.parametrize("row", cases("label_rounding_us"), ids=lambda r: f"{r['nutrient']}-{r['value']}")
def test_american_rounding(row):
    """Food Labeling Guide, Appendix H; halves up."""
    for nutrient in WORDS.get(row["nutrient"], [row["nutrient"]]):
        told = declare("US", nutrient, float(row["value"]))
        assert told.unit == row["unit"]
        if row["declared"].startswith("less than"):
            assert told.text == row["declared"]
        else:
            assert Decimal(told.text) == Decimal(row["declared"])


@pytest.mark.parametrize("row", cases("label_rounding_eu"), ids=lambda r: f"{r['nutrient']}-{r['value']}")
def test_european_rounding(row):
    """Commission guidance on tolerances, December 2012, Table 4; either of two wordings is allowed there."""
    for nutrient in WORDS.get(row["nutrient"], [row["nutrient"]]):
        told = declare("EU", nutrient, float(row["value"]))
        if " or " in row["declared"]:
            assert told.text in row["declared"].split(" or ")
        else:
            assert Decimal(told.text) == Decimal(row["declared"])


@pytest.mark.parametrize(
    ("market", "nutrient", "value", "text"),
    [
        ("EU", "fat", 9.96, "10"),  # across the line, printed as whole grams
        ("EU", "fat", 3.0, "3.0"),
        ("EU", "salt", 0.995, "1.0"),
        ("EU", "salt", 0.984, "0.98"),
        ("EU", "energy_kj", 1584.5, "1,585"),
        ("EU", "energy_kcal", 230.49, "230"),
        ("EU", "fat", 0, "0"),
        ("US", "fat", 2.5, "2.5"),
        ("US", "fat", 4.75, "5"),
        ("US", "carbohydrate", 2.5, "3"),  # halves to even would say 2
        ("US", "energy_kcal", 12345, "12,350"),
    ],
)
def test_how_a_figure_is_printed(market, nutrient, value, text):
    """The same rules; digits kept as the step has them, whole numbers without a decimal."""
    assert declare(market, nutrient, value).text == text


def test_a_half_spoilt_by_binary_arithmetic_still_goes_up():
    """0.1 x 3 x 7.5 = 2.25 on paper, a little less or more in the machine."""
    assert declare("EU", "fat", 2.25 - 4e-16).text == declare("EU", "fat", 2.25).text == "2.3"
    assert declare("EU", "salt", 1.05 - 2e-16).text == "1.1"


@pytest.mark.parametrize("row", cases("label_energy"), ids=lambda r: r["case"])
def test_energy_by_each_unit_s_own_factors(row):
    """230 kcal x 4.184 would be 962 kJ; the factors give 965."""
    grams = {c: float(row[f"{c}_g"]) for c in ("fat", "carbohydrate", "fibre", "protein")}
    if row["market"] == "US":
        grams.pop("fibre")
    told = energy(grams, row["market"])
    assert told["kcal"] == pytest.approx(float(row["kcal"]))
    assert ("kJ" in told) == bool(row["kj"])
    assert told.get("kJ", 0) == pytest.approx(float(row["kj"] or 0))


@pytest.mark.parametrize("case", sorted({r["case"] for r in cases("label_quid")}))
def test_percentages_of_ingredients(case):
    rows = [row for row in cases("label_quid") if row["case"] == case]
    used = {row["ingredient"]: float(row["used_g"]) for row in rows}
    told = quid(used, float(rows[0]["finished_g"]), float(rows[0]["mixed_g"]))
    for row in rows:
        assert told[row["ingredient"]].finished == pytest.approx(
            float(row["printed_percent"]), abs=float(row["tolerance"])
        )


def test_above_100_percent_it_is_grams_for_100_g():
    """Annex VIII (3)(b): alone, or all that are indicated together."""
    four = quid(dict.fromkeys("abcd", 25.0), 90)
    assert {q.said for q in four.values()} == {"made with 27.8 g per 100 g"}
    assert sum(q.finished for q in four.values()) == pytest.approx(111.1, abs=0.05)
    assert quid({"meat": 120}, 100, 150)["meat"].said == "made with 120 g per 100 g"
    assert quid({"butter": 25, "egg": 25}, 90, 100)["egg"].said == "27.8 %"
    assert quid({"egg": 25}, 110, 100)["egg"].said == "25 %"  # what took up water: the mixing bowl


PAIRS = [(r["market"], nutrient) for r in table("label_rounding").rows for nutrient in r["nutrients"].split(";")]
PAIRS = [pair for pair in dict.fromkeys(PAIRS) if pair[1] != "added_water"]


@LAWS
@given(st.sampled_from(PAIRS), st.floats(0, 20000))
def test_what_is_declared_lies_within_half_a_step(pair, value):
    told = declare(*pair, value)
    if told.number is not None:
        assert abs(float(told.number) - value) <= float(told.step) / 2 * (1 + 1e-6)
    elif told.text == "0":
        assert value < {"energy_kcal": 5, "cholesterol": 2, "sodium": 5}.get(pair[1], 0.5)
    else:
        assert value <= float(told.text.replace("less than ", "").replace("<", ""))


@LAWS
@given(st.sampled_from([p for p in PAIRS if p[1] != "sodium"]), st.floats(0, 500), st.floats(0, 5))
def test_more_is_never_declared_as_less(pair, value, more):
    lower, higher = declare(*pair, value), declare(*pair, value + more)
    if lower.number is not None:
        assert higher.number >= lower.number


@LAWS
@given(st.dictionaries(st.sampled_from(["fat", "carbohydrate", "protein", "alcohol"]), st.floats(0, 100), min_size=1))
def test_energy_adds_up(grams):
    one = [energy({name: g})["kJ"] for name, g in grams.items()]
    assert energy(grams)["kJ"] == pytest.approx(sum(one))
    assert energy(grams, "US")["kcal"] == pytest.approx(energy(grams)["kcal"])  # without fibre the factors agree


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: declare("EU", "fat", -1), AmountError, r"'fat' must be 0 or more and finite \(got -1"),
        (lambda: declare("EU", "fat", float("nan")), AmountError, "0 or more and finite"),
        (lambda: declare("US", "fat", float("inf")), AmountError, "0 or more and finite"),
        (lambda: declare("EU", "sault", 1), UnknownName, "did you mean salt"),
        (lambda: declare("UK", "fat", 1), UnknownName, "'market' must be one of EU or US"),
        (lambda: energy({"fatt": 1}), UnknownName, "did you mean fat"),
        (lambda: quid({"egg": 1}, 0), AmountError, "'finished food' must be a mass above 0 g"),
        (lambda: quid({"egg": -1}, 10, 10), AmountError, "'egg' must be 0 to 10.0 g"),
        (lambda: quid({"egg": 11}, 10, 10), AmountError, "'egg' must be 0 to 10.0 g"),
        (lambda: quid({"egg": float("nan")}, 10, 10), AmountError, "'egg' must be 0 to 10.0 g"),
    ],
)
def test_mean_inputs(call, error, words):
    with pytest.raises(error, match=words):
        call()
