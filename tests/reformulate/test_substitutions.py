"""Swaps held against published factors, hand-worked figures, and the books: what must stay the same adds up."""

import csv
from pathlib import Path

import pytest

from kit import Formula
from kit.balance import measures
from kit.errors import FormulaError, KitError, UnknownName
from kit.reformulate import (
    Impossible,
    allergens,
    substitute,
    substitutions,
)
from tests.formula.doughs import DOUGH, TOPPING

ROOT = Path(__file__).parents[2]


def example(**changes):
    return Formula.from_weights("bun", DOUGH | changes, topping=TOPPING, makes={"piece": 70, "topping": 28})


def sponged(name="crackle_bun"):
    return Formula.read(ROOT / f"notebooks/formulas/{name}.toml")


def percentage(formula, name):
    return float(sum(part.percentage(formula.ingredients.find(name)) for part in formula.bowls))


# ---- published figures --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "factor"),
    [
        ("fresh yeast", "active dry yeast", 0.40),
        ("fresh yeast", "instant yeast", 0.33),
        ("active dry yeast", "fresh yeast", 1 / 0.40),
        ("instant yeast", "fresh yeast", 1 / 0.33),
        ("active dry yeast", "instant yeast", 0.33 / 0.40),
    ],
)
def test_yeast_by_the_factors_used(old, new, factor):
    """J. Hamelman, Bread (2004): active dry 0.40, instant 0.33 of fresh."""
    bun = Formula.from_weights("bun", {"bread flour": 100, "water": 50, old: 3})
    answer = substitute(bun, old, new)
    assert percentage(answer.formula, new) == pytest.approx(3 * factor, abs=1e-9)
    assert percentage(answer.formula, old) == 0
    assert measures(answer.formula, ["total_hydration"]) == pytest.approx(measures(bun, ["total_hydration"]))


def test_other_yeast_factors_are_told():
    """W. Gisslen, Professional Baking, from memory: 0.50 active dry, 0.35 to 0.40 instant; a household sheet 0.375."""
    words = substitute(example(), "fresh yeast", "active dry yeast").arithmetic[1]
    for text in ("0.400 (Bread: A", "0.500 (Professional Baking", "from memory", "0.375 (Household sheet on yeast"):
        assert text in words
    assert "0.375 (Professional Baking" in substitute(example(), "fresh yeast", "instant yeast").arithmetic[1]


def test_milk_as_a_textbook_makes_it_up():
    """W. Gisslen, Professional Baking, read in excerpt: 1 kg milk = 880 water + 90 skimmed powder + 40 butter."""
    answer = substitute(example(), "milk", "milk powder").formula
    assert percentage(answer, "milk powder") / 30 == pytest.approx(0.090, abs=0.005)
    assert (percentage(answer, "water") - 10) / 30 == pytest.approx(0.880, abs=0.01)
    assert (percentage(answer, "butter") - 15) / 30 == pytest.approx(0.040, abs=0.002)


def test_honey_by_the_trades_factor():
    """A honey trade board's sheet, read in excerpt: 1.214 honey for 1 sugar, 0.214 less water."""
    answer = substitute(example(), "sugar", "honey", share=50).formula
    assert percentage(answer, "honey") / 9 == pytest.approx(1.214, abs=0.003)
    assert (10 - percentage(answer, "water")) / 9 == pytest.approx(0.214, abs=0.01)


def test_yolk_and_white_make_a_whole_egg_again():
    """17 g of yolk and 33 g of white to an egg of 50 g (USDA SR28): in that proportion no water moves."""
    yolk = percentage(substitute(example(), "egg", "yolk").formula, "water") - 10
    white = percentage(substitute(example(), "egg", "white").formula, "water") - 10
    assert (17 * yolk + 33 * white) / 50 == pytest.approx(0, abs=0.15)


# ---- by hand ------------------------------------------------------------------------------------------------

HAND = [  # out, into, share, part, {ingredient: percentage after}
    ("butter", "oil", 100, "dough", {"oil": 12.17, "water": 12.69}),
    ("butter", "lard", 100, "dough", {"lard": 12.17, "water": 12.69}),
    ("unsalted butter", "salted butter", 100, "dough", {"salted butter": 15, "salt": 1.355, "water": 10.31}),
    ("milk", "milk powder", 100, "dough", {"milk powder": 2.69, "water": 36.14, "butter": 16.18}),
    ("egg", "yolk", 100, "dough", {"yolk": 20, "water": 14.77}),
    ("egg", "white", 100, "dough", {"white": 20, "water": 7.72}),
    ("fresh yeast", "instant yeast", 100, "dough", {"instant yeast": 1.32, "water": 12.69}),
    ("fresh yeast", "active dry yeast", 100, "dough", {"active dry yeast": 1.60, "water": 12.68}),
]


@pytest.mark.parametrize(("out", "into", "share", "part", "after"), HAND, ids=lambda v: str(v)[:18])
def test_swaps_by_hand(out, into, share, part, after):
    """Common practice, no source: the example bun, reckoned by hand from rounded compositions (hence 0.03)."""
    formula = substitute(example(), out, into, share, part).formula
    for name, value in after.items():
        assert percentage(formula, name) == pytest.approx(value, abs=0.03), name


def test_other_bases_by_hand():
    """Common practice, no source: honey on equal solids 10.86 and water 8.14; yolk on equal fat 7.17, water 21.48."""
    honey = substitute(example(), "sugar", "honey", share=50, basis="solids").formula
    assert percentage(honey, "honey") == pytest.approx(10.86, abs=0.01)
    assert percentage(honey, "water") == pytest.approx(8.14, abs=0.01)
    yolk = substitute(example(), "egg", "yolk", basis="fat").formula
    assert percentage(yolk, "yolk") == pytest.approx(7.17, abs=0.005)
    assert percentage(yolk, "water") == pytest.approx(21.48, abs=0.02)
    both = substitute(example(), "egg", "yolk", give={"water": "water", "butter": "fat"}).formula
    assert percentage(both, "butter") == pytest.approx(10.8, abs=0.01)
    assert percentage(both, "water") == pytest.approx(15.5, abs=0.05)


def test_dried_egg_and_condensed_milk_by_hand():
    """SR28: egg 23.85 and dried egg 97.22 % solids, so 200 g are 49.06; condensed milk 42.35 % sucrose, no more."""
    egg = substitute(Formula.from_weights("bun", {"flour": 1000, "egg": 200, "water": 300}), "egg", "dried egg")
    assert 10 * percentage(egg.formula, "dried egg") == pytest.approx(49.06, abs=0.005)
    assert 10 * percentage(egg.formula, "water") == pytest.approx(300 + 200 - 49.06, abs=0.005)
    twelve = substitute(example(), "egg", "dried egg", share=60).arithmetic
    assert "water 12 × 76.15 % = 9.14" in twelve[0]
    assert "Water +9.06 keeps water the same" in twelve[2]  # 9.14 less what the powder brings, 2.94 x 2.78 %
    bun = Formula.from_weights("bun", {"flour": 100, "water": 40, "condensed milk": 25, "butter": 10})
    sweet = substitute(bun, "condensed milk", "sugar").formula
    assert percentage(sweet, "sugar") == pytest.approx(25 * 0.4235 / 0.998, abs=0.05)


def test_cocoa_and_nuts_in_the_topping_by_hand():
    """Common practice, no source: half the flour as cocoa, butter 80 to 72.2; 0.64 less for a point of almond."""
    cocoa = substitute(example(), "flour", "cocoa", share=50, part="topping").formula.part("topping")
    assert cocoa.percentage("butter_unsalted") == pytest.approx(72.2, abs=0.05)
    assert cocoa.percentage("sugar_powdered") == 95
    assert cocoa.percentage("ap_flour_enriched_unbleached") == 50
    almond = substitute(example(), "flour", "ground almonds", share=10, part="topping").formula.part("topping")
    assert (80 - almond.percentage("butter_unsalted")) / 10 == pytest.approx(0.64, abs=0.005)


WRONG = [  # what the usual wrong way comes to
    ("butter", "oil", ("oil 15.00 % where 12.17 is right", "total hydration 54.49 instead of 57.18")),
    ("unsalted butter", "salted butter", ("salt 1.84 instead of 1.60",)),
    ("egg", "yolk", ("total hydration 52.42 instead of 57.18",)),
    ("milk", "milk powder", ("milk powder 30.00 % where 2.68 is right",)),
    ("fresh yeast", "instant yeast", ("instant yeast 4.00 % where 1.32 is right", "total hydration 54.63")),
    ("sugar", "honey", ("honey 18.00 % where 21.88 is right",)),
]


@pytest.mark.parametrize(("out", "into", "said"), WRONG, ids=lambda v: str(v)[:18])
def test_the_usual_wrong_way_and_the_size_of_its_error(out, into, said):
    """Common practice, no source: gram for gram with nothing else changed; 54.4, 1.85 and 52.35 by hand, rounded."""
    wrong = substitute(example(water=20) if into == "honey" else example(), out, into).wrong_way
    for text in said:
        assert text in wrong


def test_cocoa_in_the_dough_leaves_less_flour_to_measure_against():
    """Worked out by hand from SR28: 60 g of every kilo out, salt 17 g on 940 g is 1.809 %."""
    bun = Formula.from_weights("bun", {"bread flour": 1000, "water": 500, "salt": 17})
    answer = substitute(bun, "flour", "dark cocoa", share=6)
    assert percentage(answer.formula, "salt") == pytest.approx(1.809, abs=0.001)
    assert "1.70 % where it is truly 1.81 %" in answer.wrong_way


# ---- the books ----------------------------------------------------------------------------------------------


def fitting(formula):
    return [row for row in substitutions(formula) if row["part"] in ("dough", "any") and row["out"] != "flour"]


BIG = {  # everything in one dough, so that every rule of the dough has something to swap
    "water": 60, "milk powder": 3, "evaporated milk": 3, "buttermilk": 3, "cream": 3, "yoghurt": 3, "condensed milk": 3,
    "honey": 3, "light corn syrup": 3, "brown sugar": 3, "oil": 3, "lard": 3, "shortening": 3, "clarified butter": 3,
    "margarine": 3, "salted butter": 3, "yolk": 3, "white": 3, "dried egg": 3, "dried egg yolk": 3, "salt": 2,
    "active dry yeast": 0.5, "instant yeast": 0.5, "almonds": 3,
}  # fmt: skip
ACCOUNT = {name: name for name in ("fat", "salt", "sugars", "milk_solids_not_fat")} | {"water": "total_hydration"}


@pytest.mark.parametrize("row", fitting(example(**BIG)), ids=lambda r: f"{r['out']}-{r['into']}")
def test_every_rule_keeps_what_it_says_it_keeps(row):
    """Double entry: what goes out of each account comes back, measured by the balance itself."""
    bun = example(**BIG)
    answer = substitute(bun, row["out"], row["into"])
    kept = {entry.split(":")[1] for entry in row["give"].split(";") if entry} | {row["basis"]}
    first, second = measures(bun), measures(answer.formula)
    for account in kept & set(ACCOUNT):
        assert second[ACCOUNT[account]] == pytest.approx(first[ACCOUNT[account]], abs=1e-9), account
    for account in answer.swaps[0].lines[0][2]:
        whole = sum(brings[account] for _, _, brings in answer.swaps[0].lines)
        assert whole == pytest.approx(0, abs=1e-9) or account not in kept
    assert answer.swaps[0].behaviour in answer.words
    assert "common practice" in answer.words
    assert answer.formula.of_kind("flour") == pytest.approx(100)


def test_every_rule_of_the_dough_was_tried():
    tried = {(row["out"], row["into"]) for row in fitting(example(**BIG))}
    rules = {(r["out"], r["into"]) for r in substitutions() if r["part"] in ("dough", "any") and r["out"] != "flour"}
    assert rules == tried


def test_what_a_sponge_holds_is_swapped_there_and_it_stays_as_wet():
    """By hand: the sponge's 22 points of milk hold 19.39 of water, and so must powder and water."""
    bun = sponged()
    answer = substitute(bun, "milk", "milk powder").formula
    sponge = answer.part("sponge")
    table = {row["key"]: row for row in bun.ingredients.rows}
    wet = {k: float(row["water_g_per_100g"]) for k, row in table.items() if row["kind"] not in ("flour", "yeast")}
    wet["water_tap_drinking"] = 100  # what is poured is all water
    water = sum(v * wet.get(k, 0) / 100 for k, v in zip(sponge.keys, sponge.percentages, strict=True))
    assert water == pytest.approx(22 * 0.8813, abs=1e-6)
    assert answer.of_kind("milk") == 0
    assert measures(answer, ["total_hydration"]) == pytest.approx(measures(bun, ["total_hydration"]))


# ---- allergens ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("allergen", ["egg", "milk"])
@pytest.mark.parametrize("name", ["crackle_bun", "crackle_bun_cocoa", "crackle_bun_sesame"])
def test_without_an_allergen_in_any_part(allergen, name):
    bun = sponged(name)
    answer = substitute(bun, without=allergen)
    assert allergen in allergens(bun)
    assert allergen not in allergens(answer.formula)
    assert answer.allergens[1] == (allergen,)
    first, second = measures(bun, ("total_hydration", "fat")), measures(answer.formula, ("total_hydration", "fat"))
    assert second == pytest.approx(first, abs=1e-9)
    assert "read every label" in answer.words
    assert allergen == "egg" or "butter +" not in " ".join(answer.arithmetic).lower()  # milk is not made good by butter


def test_an_allergen_that_comes_in_is_told():
    """Regulation (EU) 1169/2011, Annex II: milk and soya; margarine as in ingredients.csv, makers differ."""
    bun = Formula.from_weights("bun", {"flour": 100, "water": 50, "butter": 13, "salt": 1.6})
    answer = substitute(bun, "butter", "margarine")
    assert answer.allergens == (("soya",), ())
    assert "New allergen: soya." in answer.words


def test_without_egg_and_milk_and_nuts_one_after_another():
    paste = {"plain flour": 80, "ground almonds": 20, "icing sugar": 95, "butter": 80, "egg yolk": 8}
    bun = Formula.from_weights(
        "bun", {"flour": 100, "water": 20, "milk": 30, "egg": 20, "butter": 15, "hazelnuts": 5}, topping=paste
    )
    plain = bun
    for allergen in ("nuts", "egg", "milk"):
        plain = substitute(plain, without=allergen).formula
    assert allergens(plain) == ("wheat",)
    with pytest.raises(FormulaError, match="nothing needs to change"):
        substitute(plain, without="milk")


def test_a_class_that_changes_is_told():
    """By hand: butter 13 is 10.5 fat, sweet; half of it gone to egg white's account leaves 5.3, soft."""
    bun = Formula.from_weights("bun", {"flour": 100, "water": 50, "butter": 13, "sugar": 5})
    answer = substitute(bun, "butter", "water", share=50, basis="water", give={})
    assert "Dough class soft, was sweet." in answer.words


# ---- bowls --------------------------------------------------------------------------------------------------


def test_a_sponge_from_a_fifth_of_the_flour_by_hand():
    """Worked out by hand: 200 g flour, 200 g water and 4 g yeast of 1000, 240, 40 leave 800, 40 and 36."""
    bun = Formula.from_weights("bun", {"bread flour": 1000, "water": 240, "fresh yeast": 40, "salt": 17})
    answer = substitute(bun, method="sponge", flour=20, lines={"water": 100, "fresh yeast": 2})
    dough = answer.formula.part("dough")
    left = [dough.percentage(bun.ingredients.find(n)) for n in ("bread flour", "water", "fresh yeast")]
    assert left == pytest.approx([80, 4, 3.6])
    assert measures(answer.formula, ["total_percentage"]) == pytest.approx(measures(bun, ["total_percentage"]))
    assert "salt 1.70 % is truly 1.42 %" in answer.wrong_way  # 17 g on 1200
    back = substitute(answer.formula, method="straight").formula
    assert back.fingerprint == bun.fingerprint


@pytest.mark.parametrize(("kind", "usual"), [("poolish", 100), ("biga", 55), ("sponge", 60)])
def test_preferments_have_their_usual_water(kind, usual):
    """Common practice, no source: poolish equal weights, biga 50 to 60 % water on its flour, a sponge about 60."""
    bun = Formula.from_weights("bun", {"bread flour": 100, "water": 60, "fresh yeast": 3})
    part = substitute(bun, method=kind, flour=30).formula.part(kind)
    assert 100 * part.percentage("water_tap_drinking") / 30 == pytest.approx(usual)


def test_cooked_flour_is_taken_out_of_the_total():
    """Common practice, no source: one part of flour to five of liquid."""
    answer = substitute(example(), method="cooked flour", flour=5).formula
    part = answer.part("cooked flour")
    assert part.kind == "cooked flour"
    assert part.percentages == (5, 25)
    assert answer.of_kind("milk") == pytest.approx(30)
    assert answer.of_kind("flour") == pytest.approx(100)
    assert substitute(answer, method="straight").formula.fingerprint == example().fingerprint
    with pytest.raises(FormulaError, match="enough in the dough"):
        substitute(example(), method="cooked flour", flour=10)


# ---- bad input ----------------------------------------------------------------------------------------------


def test_more_than_the_water_can_give_up_is_said_with_the_most_that_can_be():
    """By hand: cream for all of butter 15 brings 33.7 x 57.8 %, 19.5, of water less the butter's 2.7; 10 are there."""
    with pytest.raises(Impossible, match=r"'water' must be 0 % or more .*swap at most 59.5 %"):
        substitute(example(), "butter", "cream")
    nearest = substitute(example(), "butter", "cream", share=59.5).formula
    assert percentage(nearest, "water") == pytest.approx(0, abs=0.02)
    assert measures(nearest, ["fat"]) == pytest.approx(measures(example(), ["fat"]))


@pytest.mark.parametrize(
    ("arguments", "more", "error", "words"),
    [
        (("lard", "oil"), {}, UnknownName, "in the formula to be swapped"),
        (("buttr", "oil"), {}, UnknownName, "did you mean"),
        (("butter", "oli"), {}, UnknownName, "did you mean"),
        (("butter", "raisins"), {}, UnknownName, "known for it: oil, lard"),
        (("butter", "oil"), {"basis": "weigth"}, UnknownName, "did you mean weight"),
        (("butter", "oil"), {"basis": "milk_solids_not_fat"}, FormulaError, "no such balance"),
        (("butter", "oil"), {"share": 0}, FormulaError, "above 0 and at most 100"),
        (("butter", "oil"), {"share": float("nan")}, KitError, "a finite number"),
        (("butter", "oil"), {"give": {"water": "wetness"}}, UnknownName, "what is made good"),
        (("butter", "oil"), {"part": "filling"}, UnknownName, "part"),
        (("sugar", "sugar"), {}, KitError, "sugar"),
        (("unsalted butter", "unsalted butter"), {}, FormulaError, "something other than what comes in"),
    ],
)
def test_bad_swaps_are_said_in_words(arguments, more, error, words):
    with pytest.raises(error, match=words) as caught:
        substitute(example(), *arguments, **more)
    assert isinstance(caught.value, KitError)


def test_bad_bowls_are_said_in_words():
    bun = Formula.from_weights("bun", {"flour": 100, "water": 60})
    with pytest.raises(FormulaError, match="for the preferment"):
        substitute(bun, method="poolish", flour=20)
    with pytest.raises(UnknownName, match="did you mean poolish"):
        substitute(example(), method="polish", flour=20)
    with pytest.raises(FormulaError, match="straight dough already"):
        substitute(bun, method="straight")
    with pytest.raises(FormulaError, match="the % of total flour that goes into the poolish"):
        substitute(example(), method="poolish")
    egg = {"out": "egg", "without": "egg"}
    for asked in ({}, {"out": "milk"}, {"out": "milk", "into": "water", "without": "milk"}, egg):
        with pytest.raises(FormulaError, match="one of out and into, without, or method"):
            substitute(bun, **asked)
    with pytest.raises(UnknownName, match="egg"):
        substitute(bun, without="gluten")


def test_answer_as_table_and_page(tmp_path):
    path = tmp_path / "house.csv"
    path.write_text("key,name,kind,water_g_per_100g,fat_g_per_100g,source\nodd,<b>odd</b>,odd,10,50,own\n", "utf-8")
    from kit import tables

    bun = Formula.from_weights(
        "bun", {"flour": 100, "<b>odd</b>": 20, "water": 50}, ingredients=tables.ingredients().with_house(path)
    )
    answer = substitute(bun, "<b>odd</b>", "oil", basis="fat", give={"water": "water"})
    assert "<b>odd" not in answer._repr_html_()
    assert "&lt;b&gt;odd" in answer._repr_html_()
    frame = answer.to_frame()
    assert frame["fat"].sum() == pytest.approx(0)
    assert frame.loc[frame["ingredient"] == "rapeseed oil", "change, % of total flour"].item() == pytest.approx(10)
    sugars = substitute(bun, "<b>odd</b>", "oil", basis="weight", give={"honey": "sugars"})
    assert "do not know the sugars without lactose of <b>odd</b>: counted as 0" in sugars.words


def test_the_table_of_swaps_that_a_formula_can_use():
    with open(ROOT / "reference_tables/substitutions.csv", encoding="utf-8", newline="") as file:
        assert [dict(row) for row in substitutions()] == list(csv.DictReader(file))
    outs = {row["out"] for row in substitutions(Formula.from_weights("bun", {"flour": 100, "butter": 10}))}
    assert outs == {"flour", "butter", "unsalted butter"}
