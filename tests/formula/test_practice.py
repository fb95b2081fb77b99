"""Exercises of percentages and scaling with their worked answers.

Every figure here: common practice, no source, worked by hand for an invented bun (dough 199.3 %, topping 276.0 %).
"""

import pytest

import kit
from kit import Formula
from kit.errors import UnitError
from kit.formula import to_weigh, weigh
from kit.tables import ingredients
from kit.units import read
from tests.formula.doughs import DOUGH
from tests.formula.doughs import WORKED as BUN


def test_mass_to_percentage():
    bun = Formula.from_weights("bun", {"flour": "1,200.0 g", "sugar": "216 g"})
    assert bun.of_kind("sugar") == pytest.approx(18)


def test_percentage_to_mass_and_to_eggs():
    grams = BUN.scale(flour=1200).grams["dough", "egg_whole_fresh"]
    assert grams == pytest.approx(240)
    assert grams / weigh("1 large egg", "egg_whole_fresh", ingredients()).grams == pytest.approx(4.8)


def test_dough_to_flour():
    batch = BUN.scale(dough="3 kg")
    assert batch.flour == pytest.approx(1505, abs=0.5)
    assert batch.grams["dough", "butter_unsalted"] == pytest.approx(225.8, abs=0.05)
    assert batch.grams["dough", "salt_table"] == pytest.approx(24.1, abs=0.05)


def test_count_to_flour_divides_by_what_is_kept():
    bun = Formula.from_weights("bun", DOUGH, makes={"piece": 65}, losses={"dividing": 15})
    batch = bun.scale(pieces=35)
    assert batch.dough == pytest.approx(2676, abs=0.6)
    assert batch.flour == pytest.approx(1343, abs=0.5)


def test_percentages_need_not_add_to_100():
    assert kit.measure(BUN, "total_percentage") == pytest.approx(199.3)
    assert BUN.part("topping").mass == pytest.approx(276.0)


def test_two_flours_are_one_base():
    bread = Formula.from_weights("bread", {"bread flour": 850, "light rye flour": 150, "water": 200, "milk": 200})
    assert kit.hydration(bread) == pytest.approx(40)


def test_cocoa_stands_in_the_base_of_the_topping():
    bun = Formula.from_weights(
        "bun", DOUGH, topping={"plain flour": 50, "cocoa": 50, "icing sugar": 95}, bases={"topping": ("flour", "cocoa")}
    )
    topping = bun.part("topping")
    assert topping.percentage("sugar_powdered") == pytest.approx(95)
    assert bun.base_words(topping) == "the topping's flour and cocoa"
    swapped = BUN.swap("plain flour", "cocoa", 50, "topping").part("topping")
    assert swapped.percentage("sugar_powdered") == pytest.approx(95)


def test_share_of_the_dough_from_percentage():
    batch = BUN.scale(dough=100)
    assert batch.grams["dough", "butter_unsalted"] == pytest.approx(7.53, abs=0.005)


@pytest.mark.parametrize(("butter", "sugar_in_piece"), [(15, 6.32), (25, 6.02)])
def test_sugar_in_a_piece_is_diluted_by_butter(butter, sugar_in_piece):
    assert BUN.vary(butter=butter).scale(dough=70).grams["dough", "sugar_granulated"] == pytest.approx(
        sugar_in_piece, abs=0.005
    )


def test_preferment_is_taken_out_of_the_flour():
    batch = BUN.with_preferment("sponge", 25, {"milk": 88, "fresh yeast": 4}).scale(flour=1720)
    assert batch.grams["sponge", "bread_flour_enriched"] == pytest.approx(430)
    assert batch.grams["dough", "bread_flour_enriched"] == pytest.approx(1290)


def test_percentages_on_the_final_dough_are_another_base():
    sponge = BUN.with_preferment("sponge", 25, {"milk": 88, "fresh yeast": 4})
    assert sponge.final_dough().loc["sugar"].item() == pytest.approx(24)
    assert sponge.dough_percentages[sponge.dough_keys.index("sugar_granulated")] == pytest.approx(18)


def test_starter_on_top_counts_in_the_flour():
    bread = Formula.from_weights(
        "bread", {"bread flour": 1000, "water": 600, "salt": 16}, {"starter": {"bread flour": 150, "water": 150}}
    )
    assert bread.of_kind("salt") == pytest.approx(1.39, abs=0.005)
    assert bread.scale(dough=1916).flour == pytest.approx(1150)
    assert kit.measure(bread, "prefermented_flour") == pytest.approx(100 * 150 / 1150)


def test_stiff_starter_parts_into_flour_and_water():
    starter = Formula.from_weights("starter", {"bread flour": 100, "water": 60})
    assert list(starter.scale(dough=240).grams.values()) == pytest.approx([150, 90])


def test_mixing_two_doughs():
    first, second = BUN.scale(dough=2000), BUN.vary(butter=25, water=8.2).scale(dough=1000)
    names = {key: first.grams["dough", key] + second.grams["dough", key] for key in BUN.part("dough").keys}
    mixed = Formula.from_weights("mixed", names)
    assert mixed.of_kind("butter") == pytest.approx(18.24, abs=0.01)


def test_butter_for_a_bun_is_in_dough_and_topping():
    one = BUN.scale(pieces=1).grams
    dough, topping = one["dough", "butter_unsalted"], one["topping", "butter_unsalted"]
    assert dough == pytest.approx(5.38, abs=0.005)
    assert topping == pytest.approx(8.37, abs=0.005)
    assert 1000 // (dough + topping) == 72


@pytest.mark.parametrize(("written", "grams"), [("18.20 oz", 516), ("1 lb 2.20 oz", 516), ("1/4 oz", 7.09)])
def test_pounds_and_ounces(written, grams):
    assert read(written, "mass") == pytest.approx(grams, abs=0.05)


def test_bench_sheet_of_48():
    """Weights of the sheet are rounded to 1 g, and to 0.1 g below 30 g and for yeast and salt."""
    bun = BUN.with_preferment("sponge", 25, {"milk": 88, "fresh yeast": 4})
    batch = bun.scale(pieces=48)
    sheet = {part.name: {} for part in bun.parts}
    for (part, key), grams in batch.grams.items():
        row = bun.ingredients[key]
        sheet[part][row.name] = to_weigh(grams, row.kind).grams
    dough = {"bread flour": 1290, "whole milk": 138, "egg": 344, "water": 172, "fresh yeast": 51.6, "sugar": 310,
             "salt": 27.5, "ground cardamom": 12.0, "unsalted butter": 258}  # fmt: skip
    assert sheet["sponge"] == pytest.approx({"bread flour": 430, "whole milk": 378, "fresh yeast": 17.2})
    assert sheet["dough"] == pytest.approx(dough)
    assert batch.dough == pytest.approx(3428.6, abs=0.05)


def test_topping_on_the_bench_sheet():
    """Topping with its own loss of 3 %: 1,386 g to mix for 48 x 28 g."""
    assert kit.predict_yield(BUN, pieces=48).topping_to_mix == pytest.approx(1386, abs=0.5)
    assert BUN.scale(pieces=48).mass("topping") == pytest.approx(1386, abs=0.5)


def test_what_the_exact_sum_and_the_rounded_lines_differ_by():
    lines = [(key, g) for (part, key), g in BUN.scale(pieces=48).grams.items() if part == "dough"]
    assert sum(g for _, g in lines) == pytest.approx(3428.6, abs=0.05)
    off = [abs(to_weigh(g, BUN.ingredients[key].kind).grams - g) for key, g in lines]
    assert max(off) <= 0.5
    assert max(100 * g / 1720 for g in off) < 0.03


def test_a_packet_of_yeast_weighs_what_its_row_says_and_of_butter_nothing():
    """Sold as 7 g (common practice); a cube of 42 g: a German maker's page. Of butter no packet is the usual one."""
    grams = {"1 sachet": 7, "2 pkt yeast": 14, "1 Pck.": 7}
    assert {text: weigh(text, "yeast_instant", ingredients()).grams for text in grams} == grams
    assert weigh("½ Würfel", "yeast_compressed", ingredients()).grams == 21
    with pytest.raises(UnitError, match="measure it in cup, tbsp, pat, stick"):
        weigh("1 pkt", "butter_unsalted", ingredients())


def test_three_eggs_without_a_size_say_what_they_may_weigh():
    """44 g medium to 56 g extra large, 50 g taken: USDA SR28 edible parts of the classes."""
    eggs = weigh("3 eggs", "egg_whole_fresh", ingredients())
    assert eggs.grams == pytest.approx(150)
    assert eggs.counted
    assert "no size given; taken as large, 50.0 g each" in eggs.how
    assert [weigh(f"1 {size} egg", "egg_whole_fresh", ingredients()).grams for size in ("medium", "extra large")] == [
        44, 56,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("grams", "kind", "text"),
    [
        (12.8, "spice", "12.8"),
        (125.64, "salt", "125.6"),
        (29.97, "egg", "30.0"),
        (1056.5, "flour", "1,057"),  # halves up
    ],
)
def test_a_mass_is_read_to_the_step_of_the_scale(grams, kind, text):
    """scale_steps.csv, common practice: small and strong ingredients to 0.1 g, others to 1 g from 30 g up."""
    assert str(to_weigh(grams, kind)) == text


def test_many_formulas_tell_how_many_they_are_and_what_moves():
    """Butter at 2 and sugar at 3 values are 6 formulas."""
    many = BUN.vary(butter=[10, 20], sugar=[12, 15, 18])
    assert str(many).startswith("6 formulas")
    assert "unsalted butter 10.0 to 20.0 % in the dough" in str(many)
    assert "sugar 12.0 to 18.0 %" in many._repr_html_()
