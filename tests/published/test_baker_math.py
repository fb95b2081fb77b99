"""Baker's percentages of published formulas, to the digits printed; misprints in a table of their own.

The lines of baker_math.csv carry the source of each formula. Where nothing is printed beside a weight the
percentage was only recomputed from the printed weights, and the test says so.
"""

import csv
from collections import defaultdict
from pathlib import Path

import pytest

import kit
from kit import Formula
from kit.units import read

HERE = Path(__file__).parent
with open(HERE / "baker_math.csv", encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
EXAMPLES = defaultdict(dict)
for row in ROWS:
    EXAMPLES[row["example"]][row["ingredient"]] = row

# The book's word for a line: (part, ingredient of the tables).
LINE = {
    "milk": ("dough", "milk"),
    "yeast fresh": ("dough", "fresh yeast"),
    "compressed yeast": ("dough", "fresh yeast"),
    "flour in sponge": ("sponge", "bread flour"),
    "flour in dough": ("dough", "bread flour"),
    "eggs": ("dough", "egg"),
    "eggs 12 at 1.76 oz": ("dough", "egg"),
    "egg yolks": ("dough", "egg yolk"),
    "sugar": ("dough", "sugar"),
    "salt": ("dough", "salt"),
    "butter": ("dough", "butter"),
    "water": ("dough", "water"),
    "water (3 qt at 2.086 lb/qt)": ("dough", "water"),
    "bread flour": ("dough", "bread flour"),
    "flour": ("dough", "bread flour"),
    "AP flour": ("dough", "plain flour"),
    "all-purpose flour": ("dough", "plain flour"),
    "malt syrup": ("dough", "malt syrup"),
    "malt": ("dough", "malt syrup"),
    "oil": ("dough", "oil"),
    "dry yeast": ("dough", "active dry yeast"),
    "yeast": ("dough", "fresh yeast"),
    "lard/shortening": ("dough", "shortening"),
    "shortening": ("dough", "shortening"),
    "nonfat dry milk": ("dough", "milk powder"),
    "milk solids": ("dough", "milk powder"),
    "flour final": ("dough", "bread flour"),
    "water final": ("dough", "water"),
    "yeast fresh final": ("dough", "fresh yeast"),
    "instant yeast final": ("dough", "instant yeast"),
    "flour poolish": ("poolish", "bread flour"),
    "water poolish": ("poolish", "water"),
    "instant yeast poolish": ("poolish", "instant yeast"),
    "flour biga": ("biga", "bread flour"),
    "water biga": ("biga", "water"),
    "yeast fresh biga": ("biga", "fresh yeast"),
}


def formula(example):
    bowls = defaultdict(dict)
    for word, row in EXAMPLES[example].items():
        if word != "TOTAL":
            part, name = LINE[word]
            assert name not in bowls[part]
            bowls[part][name] = f"{row['weight']} {row['unit']}"
    dough = bowls.pop("dough")
    return Formula.from_weights(EXAMPLES[example]["TOTAL"]["title"], dough, dict(bowls))


def percentage(example, word):
    bun = formula(example)
    if word == "TOTAL":
        return kit.measure(bun, "total_percentage")
    part, name = LINE[word]
    return bun.part(part).percentage(bun.ingredients.find(name))


def half_digit(printed):
    _, _, decimals = printed.partition(".")
    return 0.5 * 10 ** -len(decimals) + 1e-9


# Cells whose print is wrong: (example, line): what is right to the digits printed, and why.
MISPRINTS = {
    ("L2", "TOTAL"): ("158.02", "prints the sum of its rounded lines, 158.01; the weights give 158.02"),
}
PRINTED = [(row["example"], row["ingredient"]) for row in ROWS if row["pct_printed"]]
RECOMPUTED = [(row["example"], row["ingredient"]) for row in ROWS if not row["pct_printed"]]


@pytest.mark.parametrize("cell", [c for c in PRINTED if c not in MISPRINTS], ids=" ".join)
def test_printed_percentage_to_its_last_digit(cell):
    row = EXAMPLES[cell[0]][cell[1]]
    printed = row["pct_printed"]
    assert percentage(*cell) == pytest.approx(float(printed), abs=half_digit(printed)), row["source"]


@pytest.mark.parametrize("cell", MISPRINTS, ids=" ".join)
def test_misprinted_percentage_is_not_ours(cell):
    printed, (right, why) = EXAMPLES[cell[0]][cell[1]]["pct_printed"], MISPRINTS[cell]
    got = percentage(*cell)
    assert abs(got - float(printed)) > half_digit(printed), why
    assert got == pytest.approx(float(right), abs=half_digit(right)), why


@pytest.mark.parametrize("cell", RECOMPUTED, ids=" ".join)
def test_percentage_only_recomputed_from_printed_weights(cell):
    row = EXAMPLES[cell[0]][cell[1]]
    assert percentage(*cell) == pytest.approx(float(row["pct_of_flour_exact"]), abs=0.005 + 1e-9)


def test_how_many_cells_are_printed():
    assert len(PRINTED) == 33
    assert len(PRINTED) + len(RECOMPUTED) == len(ROWS) == 79


# Misprinted weights: what the page prints [g] and what its own percentages give.
@pytest.mark.parametrize(
    ("example", "line", "printed", "right"),
    [
        ("L4", "water", 15_000, 15_500),  # Baking school notes: 62 % of 25,000 g of flour
        ("B1", "TOTAL", 760, 756),  # Gisslen, Professional Baking: the book rounds the sum of its lines
    ],
)
def test_misprinted_weight_is_found(example, line, printed, right):
    row = EXAMPLES[example][line]
    bun = formula(example)
    flour = sum(float(r["weight"]) for word, r in EXAMPLES[example].items() if "flour" in word)
    share = float(row["pct_printed"])
    grams = bun.scale(flour=f"{flour} {row['unit']}")
    got = grams.dough if line == "TOTAL" else grams.grams["dough", bun.ingredients.find(line)]
    assert got == pytest.approx(right)
    assert got == pytest.approx(share * flour / 100)
    assert abs(got - printed) > 3


def test_counter_example_prints_its_yeast_wrong():
    """A recipe page that prints 0.2 % for 3 g of yeast on 1000 g, and 5 g for 1.5 % of 3000 g."""
    biga = Formula.from_weights("biga", {"bread flour": 1000, "water": 500, "fresh yeast": "3 g"})
    assert biga.of_kind("yeast") == pytest.approx(0.3)
    whole = Formula.from_weights("dough", {"bread flour": 100, "fresh yeast": 1.5})
    grams = whole.scale(flour="3000 g").grams
    assert grams["dough", "yeast_compressed"] == pytest.approx(45)


def test_an_ounce_is_a_sixteenth_of_a_pound_where_a_book_prints_a_misprint():
    """Recipe-book page 65 prints 0.625 lb for an ounce; NIST Handbook 44, Appendix C: 1 lb = 16 oz exactly."""
    assert read("1 oz", "mass") / read("1 lb", "mass") == pytest.approx(0.0625, rel=1e-12)


# preferments, by the pages that print them


def test_final_dough_column_of_a_poolish_baguette():
    """Tutorial on baker's percentage, part 4 (web page): final dough 100/52/1/3/104, total 260; poolish total 200."""
    bun = formula("P1")
    column = bun.final_dough().iloc[:, 0]
    wanted = {"bread flour": 100, "water": 52, "instant yeast": 1, "salt": 3, "poolish": 104}
    assert column.to_dict() == pytest.approx(wanted, abs=0.5)
    assert column.sum() == pytest.approx(260, abs=0.5)
    poolish = bun.part("poolish")
    assert 100 * poolish.mass / bun.flour_in(poolish) == pytest.approx(200.06, abs=0.005)
    assert kit.measure(bun, "prefermented_flour") == pytest.approx(34.2, abs=0.05)
    assert kit.hydration(bun) == pytest.approx(68.4, abs=0.05)
    assert bun.of_kind("salt") == pytest.approx(1.97, abs=0.005)
    batch = bun.scale(flour=1368)
    assert batch.mass("poolish") == pytest.approx(936, abs=0.5)
    assert batch.dough == pytest.approx(2340, abs=0.5)


def test_stiff_biga_taken_out_of_the_overall_formula():
    """Hamelman 2004, Bread, ciabatta with stiff biga: 10 kg flour, 7.3 water, .2 salt, .12 yeast; biga 3.204 kg."""
    overall = Formula.from_weights(
        "ciabatta", {"bread flour": "10 kg", "water": "7.3 kg", "salt": "200 g", "fresh yeast": "120 g"}
    )
    bun = overall.with_preferment("biga", 20, {"water": 60, "fresh yeast": 0.2})
    batch = bun.scale(flour="10 kg")
    assert batch.mass("biga") == pytest.approx(3204, abs=0.5)
    assert batch.dough == pytest.approx(17_620, abs=5)
    assert kit.measure(bun, "prefermented_flour") == pytest.approx(20)
    for word in ("flour final", "water final", "yeast fresh final"):  # the subtraction, as the book leaves it
        key = bun.ingredients.find(LINE[word][1])
        assert batch.grams["dough", key] == pytest.approx(1000 * float(EXAMPLES["P3"][word]["weight"]))


def test_prefermented_fifth_of_a_brioche():
    """Gisslen, Professional Baking: brioche, 60 of 300 g of flour in the sponge."""
    assert kit.measure(formula("B1"), "prefermented_flour") == pytest.approx(20)


def test_ciabatta_with_a_wet_biga():
    """Worked formula page: 100/88/1.8/.75 = 190.55 %; 2 x 500 g + 1 % = 1010 g, flour 530.0 g; biga 35 % at 75 %."""
    overall = Formula.from_weights("ciabatta", {"bread flour": 100, "water": 88, "salt": 1.8, "instant yeast": 0.75})
    assert kit.measure(overall, "total_percentage") == pytest.approx(190.55)
    batch = overall.with_preferment("biga", 35, {"water": 75}).scale(dough=1010)
    assert batch.flour == pytest.approx(530.0, abs=0.05)
    assert batch.grams["biga", "bread_flour_enriched"] == pytest.approx(185.5, abs=0.05)
    assert batch.grams["biga", "water_tap_drinking"] == pytest.approx(139.1, abs=0.05)


def test_biga_put_in_at_fixed_totals():
    """Worked page: 500 g flour, 360 g water, 30 % prefermented at 74 %: biga 150 + 111 (printed); 350 + 249 left."""
    overall = Formula.from_weights("bread", {"bread flour": 500, "water": 360})
    batch = overall.with_preferment("biga", 30, {"water": 74}).scale(flour=500)
    assert list(batch.grams.values()) == pytest.approx([150, 111, 350, 249])


# scaling, by the pages that print it


def test_flour_from_the_dough_that_is_wanted():
    """Artisan bakers' teaching page: 100 + 65 + 2 + 2 = 169; 3 lb / 1.69 = 1.775 lb flour (prints 1.77, cut off)."""
    bread = Formula.from_weights("bread", {"bread flour": 100, "water": 65, "salt": 2, "fresh yeast": 2})
    assert kit.measure(bread, "total_percentage") == pytest.approx(169)
    pound = read("1 lb", "mass")
    assert bread.scale(dough="3 lb").flour / pound == pytest.approx(1.775, abs=0.0005)


@pytest.mark.parametrize(
    ("total", "dough", "unit", "printed", "half"),
    [
        (377.5, 96, "oz", 25.43, 0.005),  # Gisslen, procedure for converting a formula to a new yield
        (377.5, 3000, "g", 794.7, 0.05),  # the same, metric
        (177.5, 6720, "g", 3786, 0.5),  # forum page, 12 loaves x (550 + 10 g)
        (182, 1340, "g", 736.3, 0.05),  # sourdough baguette backwards, 4 x 335 g
    ],
)
def test_flour_from_total_percentage(total, dough, unit, printed, half):
    bread = Formula.from_weights("bread", {"bread flour": 100, "water": total - 100})
    flour = bread.scale(dough=f"{dough} {unit}").flour / read(f"1 {unit}", "mass")
    assert flour == pytest.approx(printed, abs=half)


@pytest.mark.parametrize(
    ("dough", "name", "percentage", "half"),
    [
        ({"bread flour": "10 lb", "water": "5 lb"}, "water", 50, 0.5),  # worked page, water and flour
        ({"bread flour": "16 oz", "butter": "8 oz", "water": "20 oz"}, "water", 125, 0.5),  # the same page
        ({"bread flour": "16 oz", "butter": "8 oz", "water": "20 oz"}, "butter", 50, 0.5),
        ({"bread flour": "25 lb", "salt": "28.8 oz"}, "salt", 7.2, 0.05),  # forum page, salt sanity check
        ({"bread flour": "110 oz", "milk": "40 oz"}, "milk", 36.4, 0.05),  # adaptation of US Armed Forces TM 10-412
        ({"bread flour": "110 oz", "sugar": "19 oz"}, "sugar", 17.3, 0.05),
        ({"bread flour": "110 oz", "butter": "16 oz"}, "butter", 14.5, 0.05),
        ({"bread flour": "110 oz", "salt": "2 oz"}, "salt", 1.8, 0.05),
        ({"bread flour": "110 oz", "active dry yeast": "2.5 oz"}, "yeast", 2.3, 0.05),
    ],
)
def test_percentage_from_pounds_and_ounces(dough, name, percentage, half):
    assert Formula.from_weights("bread", dough).of_kind(name) == pytest.approx(percentage, abs=half)


def test_losses_follow_one_another_where_a_lesson_adds_them():
    """Bread formula construction lesson: 2 % and 11 %, adds them to 13 % (500 / 0.87 = 574.7 lb); in turn 12.78 %."""
    bread = Formula.from_weights(
        "bread", {"bread flour": 100, "water": 60}, makes={"piece": 600}, losses={"dividing": 2, "baking": 11}
    )
    made = kit.predict_yield(bread, pieces=100)
    assert 100 * (1 - made.baked_mass / made.dough_mixed) == pytest.approx(12.78, abs=0.005)


def test_white_and_yolk_make_the_egg():
    """USDA SR28 weights: one large egg 50 g, its white 33 g and its yolk 17 g."""
    apart = Formula.from_weights("a", {"flour": 100, "egg white": "1 large", "egg yolk": "1 large"})
    whole = Formula.from_weights("b", {"flour": 100, "egg": "1 large egg"})
    assert apart.part("dough").percentages[1:] == pytest.approx((33, 17))
    assert (
        kit.measure(apart, "total_percentage")
        == pytest.approx(kit.measure(whole, "total_percentage"))
        == pytest.approx(150)
    )
    # SR28's three rows were sampled apart: whole egg 76.15 g water, 9.51 g fat; 33 + 17 g of the parts 75.6 and 9.1
    assert kit.total_hydration(apart) == pytest.approx(kit.total_hydration(whole), abs=0.4)
