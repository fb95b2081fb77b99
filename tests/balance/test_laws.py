"""Laws of what a formula is made of: masses close, many equal one by one, changes add up, bands, classes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import kit
from kit import Formula, tables
from kit.balance import QUANTITIES, at_least, class_codes, hydration_band, measure, measures, own_steps
from kit.errors import FormulaError, UnknownName
from kit.tables import COMPONENTS
from tests.balance.made_of import on_a_piece
from tests.formula.doughs import FLOURS, buns, grams, weights
from tests.laws import drawn

LAWS = drawn(50)
CRUSTED = Formula.from_weights(
    "bun",
    {"bread flour": 1000, "milk": 300, "egg": 200, "butter": 150, "sugar": 180, "fresh yeast": 40, "salt": 16,
     "ground cardamom": 8},
    {"sponge": {"bread flour": 250, "milk": 220, "fresh yeast": 10}},
    topping={"plain flour": 100, "icing sugar": 95, "butter": 80},
    makes={"piece": 70, "topping": 28},
)  # fmt: skip


# what it is made of


@LAWS
@given(buns())
def test_components_of_a_piece_are_its_mass(bun):
    """Conservation of mass; SR28's rows here close to 100 g within 1 g (compressed yeast 99.20, milk 100.00)."""
    for brought in on_a_piece(bun).values():
        assert sum(brought[name] for name in COMPONENTS) == pytest.approx(brought["mass"], rel=0.01)
    p = bun.pieces
    crust = p.topping if bun.has("topping") else 0
    whole = p.dough + crust + (p.wash if bun.has("wash") else 0)
    assert on_a_piece(bun)["piece"]["mass"] == pytest.approx(whole)


@LAWS
@given(weights(bowls=1))
def test_accounts_are_sums_over_the_table(drawn):
    """Each line's grams times its composition per 100 g, summed here; but what is poured from the tap is all water."""
    dough, first, parts, pieces = drawn
    bun = Formula.from_weights("bun", dough, first, makes=pieces, **parts)
    rows = {row["name"]: row for row in tables.table("ingredients").rows}
    rows["water"] = rows["water"] | {"water_g_per_100g": "100"}
    lines = [(name, g) for bowl in (dough, *first.values()) for name, g in bowl.items()]
    flour = sum(g for name, g in lines if name in FLOURS)

    def on_flour(column, keep):
        return sum(g * float(rows[name][column] or 0) / 100 for name, g in lines if keep(rows[name])) * 100 / flour

    got = measures(bun)
    not_flour = {"water_g_per_100g": "total_hydration", "fat_g_per_100g": "fat"}
    for column, quantity in not_flour.items():
        assert got[quantity] == pytest.approx(on_flour(column, lambda row: row["kind"] != "flour"))
    assert got["salt"] == pytest.approx(on_flour("added_salt_g_per_100g", lambda row: True))
    assert got["protein"] == pytest.approx(on_flour("protein_g_per_100g", lambda row: True))
    liquid = sum(g for name, g in lines if name in ("water", "whole milk", "heavy cream")) * 100 / flour
    assert got["hydration"] == pytest.approx(liquid)
    own = on_flour(
        "sugars_g_per_100g", lambda row: row["kind"] != "flour" and row["group"] not in ("egg", "dairy", "fat")
    )
    assert got["sugars"] == pytest.approx(own)
    rich = ("unsalted butter", "salted butter", "sugar", "honey", "egg", "egg yolk", "whole milk",
            "skimmed milk powder", "heavy cream")  # fmt: skip
    assert got["enrichment_as_weighed"] == pytest.approx(100 * sum(g for name, g in lines if name in rich) / flour)


@LAWS
@given(buns())
def test_enrichment_is_four_exclusive_shares(bun):
    """Nothing is counted twice: the four shares are at most the dry, salt-free mass of what is not flour."""
    ratio = kit.enrichment_ratio(bun)
    values = measures(bun)
    shares = ("fat", "sugars", "egg_solids_not_fat", "milk_solids_not_fat")
    assert (
        float(ratio) == pytest.approx(sum(values[name] for name in shares)) == pytest.approx(values["enrichment_ratio"])
    )
    divided = values["total_percentage"] - sum(part.mass for part in bun.parts if part.kind == "inclusion")
    dry = divided - 100 - values["total_hydration"]
    assert float(ratio) <= dry + 0.01 * divided


@LAWS
@given(buns())
def test_sweetness_split_is_the_whole(bun):
    parts, values = on_a_piece(bun), measures(bun)
    crumb, crust = (parts.get(part, {}).get("sugars_not_lactose", 0.0) for part in ("dough", "topping"))
    assert values["sugars_per_piece_dough"] == pytest.approx(crumb)
    assert values["sugars_per_piece_topping"] == pytest.approx(crust)
    share = 100 * crust / (crumb + crust) if crumb + crust else 0.0
    assert values["sweetness_split"] == pytest.approx(share)


def test_unknown_sugars_of_cardamom_are_named_not_zero():
    """SR28 has no sugars figure for ground cardamom (NDB 02006)."""
    assert at_least(CRUSTED, "sugars") == [("ground cardamom", pytest.approx(0.64))]
    assert at_least(CRUSTED, "total_hydration") == []
    assert [name for name, _ in at_least(CRUSTED, "enrichment_ratio")] == ["ground cardamom"]
    assert [name for name, _ in at_least(CRUSTED, "sweetness_split")] == ["ground cardamom"]
    assert kit.enrichment_ratio(CRUSTED).unknown
    assert "≥" in kit.enrichment_ratio(CRUSTED)._repr_html_()
    assert at_least(CRUSTED.vary({"ground cardamom": 0}), "sugars") == []


def test_unknown_quantity_is_asked_back():
    with pytest.raises(UnknownName, match="'quantity' must be one of .*did you mean hydration"):
        measures(CRUSTED, ["hydraton"])


# many equal one by one


@LAWS
@given(buns(), st.lists(grams(0, 60), min_size=1, max_size=4), st.lists(grams(0, 40), min_size=1, max_size=3),
       st.integers(1, 7))  # fmt: skip
def test_many_are_each_as_one_alone(bun, butter, yolk, block):
    many = bun.vary(butter=butter, yolk=yolk)
    values = measures(many, block=block)
    classes = kit.dough_class(many)
    assert classes.code.dtype == np.int8
    for place in np.ndindex(many.shape):
        alone = bun.vary(butter=butter[place[0]], yolk=yolk[place[1]])
        assert {name: values[name][place] for name in QUANTITIES} == pytest.approx(measures(alone), rel=1e-9, abs=1e-9)
        near = np.concatenate(
            [np.abs(line - value) for line, value in zip(own_steps()[1:], _fat_sugar(alone), strict=True)]
        )
        if near.min() > 1e-9:
            assert classes.code[place] == kit.dough_class(alone).code
            assert classes.name[place] == kit.dough_class(alone).name


def test_nothing_is_kept_along_an_axis_on_which_it_does_not_move():
    """Of butter by sugar water as poured is one number, fat as many as butters; blocks of a grid are as the grid."""
    many = CRUSTED.vary(butter=np.linspace(5, 60, 7), sugar=np.linspace(0, 30, 5))
    values = measures(many, ("hydration", "fat", "total_percentage"))
    assert [value.base.size for value in values.values()] == [1, 7, 35]
    some = many[2:6, 1:4]
    assert [value.base.size for value in measures(some, ("hydration", "fat", "total_percentage")).values()] == [
        1,
        4,
        12,
    ]
    assert some.shape == (4, 3)
    assert many[2:6].dough_percentages == pytest.approx(many.dough_percentages[2:6])


def _fat_sugar(bun):
    values = measures(bun, ["fat", "sugars"])
    return values["fat"], values["sugars"]


def test_topping_of_many_follows():
    many = CRUSTED.vary(topping={"icing sugar": [80.0, 95.0]}, piece=[70.0, 98.0, 56.0])
    values = measures(many, ["topping_sugars", "topping_to_dough_ratio", "sweetness_split"])
    assert values["topping_to_dough_ratio"].tolist() == [pytest.approx([28 / 70, 28 / 98, 28 / 56])] * 2
    # icing sugar 97.81 g sugars per 100 g, SR28 NDB 19336
    assert values["topping_sugars"][:, 0].tolist() == pytest.approx([80 * 97.81 / 260, 95 * 97.81 / 275])
    one = CRUSTED.vary(topping={"icing sugar": 80.0}, piece=56.0)
    assert values["sweetness_split"][0, 2] == pytest.approx(measure(one, "sweetness_split"))


@pytest.mark.parametrize("ask", [hydration_band, lambda f: kit.what_moved(f, f)])
def test_what_is_for_one_formula_says_so_of_many(ask):
    with pytest.raises(FormulaError, match="'formula' must be one formula"):
        ask(CRUSTED.vary(butter=[10, 20]))


# what moved


@LAWS
@given(buns(), buns())
def test_what_moved_adds_up(before, after):
    moved = kit.what_moved(before, after)
    values = [measures(bun) for bun in (before, after)]
    assert {"total_hydration", "enrichment_ratio", "sugars_per_piece_dough", "pieces", "salt"} <= set(moved.quantities)
    for name, quantity in moved.quantities.items():
        size = max(1.0, abs(quantity.before), abs(quantity.after))
        assert quantity.by.sum() == pytest.approx(quantity.change, abs=1e-9 * size), name
        if name in QUANTITIES:
            assert [quantity.before, quantity.after] == pytest.approx([v[name] for v in values]), name
        assert quantity.change == pytest.approx(quantity.after - quantity.before)


@LAWS
@given(buns())
def test_nothing_moved_from_itself(bun):
    moved = kit.what_moved(bun, bun)
    assert moved.words == "Nothing has moved."
    assert all(quantity.change == 0 for quantity in moved.quantities.values())


def test_pieces_that_moved_are_pieces_of_the_yield():
    before = CRUSTED.vary(pieces=48)
    after = before.vary(butter=25, piece=66)
    moved = kit.what_moved(before, after)
    flour = before.scale(pieces=48).flour
    assert moved.quantities["pieces"].before == pytest.approx(48)
    made = kit.predict_yield(after, flour=flour)
    assert moved.quantities["pieces"].after == pytest.approx(made.dough_scaled / 66)
    assert f"{made.pieces} pieces, not 48" in moved.words
    causes = dict(moved.because("pieces"))
    assert set(causes) == {"unsalted butter", "piece of dough"}


# the band


@pytest.mark.parametrize("counted", [False, True])
def test_band_against_drawing_at_random(counted):
    """200,000 batches drawn with numpy from the spreads of uncertainties.csv; seeded."""
    flour = 750.0
    bun = Formula.from_weights(
        "bun",
        {"bread flour": 700, "wholemeal flour": 50, "milk": 225, "egg": "3 large eggs" if counted else 150,
         "butter": 112.5, "fresh yeast": 30, "water": 75, "sugar": 135},
    )  # fmt: skip
    rng = np.random.default_rng(20240817)
    draws = 200_000
    water = {row["name"]: float(row["water_g_per_100g"]) for row in tables.table("ingredients").rows} | {"water": 100}

    def uniform(low, high):
        return rng.uniform(low, high, draws)

    def off():  # the scale's half step
        return uniform(-0.5, 0.5)

    egg = 150 + (rng.normal(0, 2.5, (3, draws)).sum(0) if counted else off())
    butter, milk, yeast, poured, sugar = (mass + off() for mass in (112.5, 225, 30, 75, 135))
    wet = (
        egg * water["egg"]
        + butter * (water["unsalted butter"] - uniform(-1.5, 1.5))  # fat 80 to 83 %: what is not fat is water
        + milk * (water["whole milk"] - uniform(-0.275, 0.275))  # 3.25 to 3.8 %
        + yeast * (water["fresh yeast"] + uniform(-2, 2))
        + poured * water["water"]
        + sugar * water["sugar"]
    ) / flour
    own = (700 * water["bread flour"] + 50 * water["wholemeal flour"]) / flour
    # a moister lot brings water and lacks dry flour: water on flour of the usual moisture
    extra = uniform(-0.5, 0.5)
    felt = (wet + own + extra) * (100 - own) / (100 - own - extra) - own
    band = hydration_band(bun, flour=flour)
    low, high = np.percentile(felt, [10, 90])
    assert (band.low, band.high) == pytest.approx((low, high), abs=0.05)
    assert band.value == pytest.approx(felt.mean(), abs=0.02)
    # a normal band over mostly uniform spreads: it holds 80 % within a few points
    assert np.mean((felt > band.low) & (felt < band.high)) == pytest.approx(0.8, abs=0.04)


def parts_drawn(eggs):
    """{cause: (total hydration drawn with that cause alone, its share of the spread)}; 200,000 batches, seeded.

    A batch of 400 g of two flours with salted and unsalted butter, whole and skimmed milk, fresh and dry yeast.
    """
    rng, draws = np.random.default_rng(7), 200_000
    rows = {row["name"]: float(row["water_g_per_100g"]) / 100 for row in tables.table("ingredients").rows}
    grams = {"whole milk": 100, "skimmed milk": 40, "unsalted butter": 50, "salted butter": 30, "fresh yeast": 12,
             "instant yeast": 2, "sugar": 60, "egg": 50 * eggs}  # fmt: skip
    usual = sum(g * rows[name] for name, g in grams.items()) / 4  # % of 400 g
    own = 0.75 * 100 * rows["bread flour"] + 0.25 * 100 * rows["wholemeal flour"]
    off = {name: rng.uniform(-0.5, 0.5, draws) * rows[name] for name in grams if name != "egg"}
    lot = rng.uniform(-0.5, 0.5, draws)  # a moister lot brings water and lacks dry flour
    return {
        "egg by count": usual + rng.normal(0, 2.5, (eggs, draws)).sum(0) * rows["egg"] / 4,
        "weighing": usual + sum(off.values()) / 4,
        "butter fat": [usual - g * rng.uniform(-1.5, 1.5, draws) / 400 for g in (50, 30)],
        "whole milk fat": usual - 100 * rng.uniform(-0.275, 0.275, draws) / 400,
        "fresh yeast water": usual + 12 * rng.uniform(-2, 2, draws) / 400,
        "flour moisture": (usual + own + lot) * (100 - own) / (100 - own - lot) - own,
    }


def test_each_part_of_the_band_is_as_drawn_at_random():
    lines = {
        "bread flour": 300, "wholemeal flour": 100, "whole milk": 100, "skimmed milk": 40, "unsalted butter": 50,
        "salted butter": 30, "fresh yeast": 12, "instant yeast": 2, "sugar": 60, "egg": "5 large eggs",
    }  # fmt: skip
    band = hydration_band(Formula.from_weights("bun", lines), flour=400)
    got = {}
    for cause, deviation, _ in band.causes:
        got.setdefault(cause, []).append(deviation)
    drawn_apart = parts_drawn(5)
    assert set(got) == set(drawn_apart)
    for cause, drawn_values in drawn_apart.items():
        some = drawn_values if isinstance(drawn_values, list) else [drawn_values]
        assert got[cause] == pytest.approx([values.std() for values in some], rel=0.01), cause
    whole = sum(deviation**2 for _, deviation, _ in band.causes) ** 0.5
    assert band.half == pytest.approx(1.2816 * whole, rel=1e-4)  # a normal band of 80 %


def test_without_a_count_the_band_is_that_of_a_kilogram_and_with_one_of_its_flour():
    lines = {"bread flour": 100, "water": 60, "egg": 20}
    bare = Formula.from_weights("bun", lines)
    assert hydration_band(bare).half == hydration_band(bare, flour=1000).half
    counted = Formula.from_weights("bun", lines, makes={"pieces": 12, "piece": 60}, losses={"dividing": 0})
    assert hydration_band(counted).half == pytest.approx(hydration_band(bare, flour=12 * 60 / 1.8).half)


def test_a_flour_that_the_house_measured_is_certain_and_one_of_two_is_not(tmp_path):
    own = tmp_path / "house.csv"
    own.write_text("key,water_g_per_100g\nbread_flour_enriched,13.36\n")
    house = tables.ingredients().with_house(own)
    for lines, certain in (({"bread flour": 100}, True), ({"bread flour": 50, "wholemeal flour": 50}, False)):
        band = hydration_band(Formula.from_weights("bun", lines | {"water": 60}, ingredients=house))
        assert ("flour moisture" not in {cause for cause, *_ in band.causes}) == certain


@LAWS
@given(buns(), st.floats(1, 98), st.floats(100, 50_000))
def test_band_widens_with_what_it_must_hold(bun, coverage, flour):
    narrow, wide = (hydration_band(bun, flour=flour, coverage=c) for c in (coverage, coverage + 1))
    assert narrow.low <= narrow.value <= narrow.high
    assert wide.half > narrow.half
    assert narrow.value == pytest.approx(kit.total_hydration(bun))
    larger = hydration_band(bun, flour=10 * flour, coverage=coverage)
    assert larger.half <= narrow.half
    assert (narrow.to_frame()["standard deviation, points"] ** 2).sum() ** 0.5 > 0


def test_what_the_house_measured_is_certain(tmp_path):
    own = tmp_path / "house.csv"
    own.write_text("key,water_g_per_100g\nbutter_unsalted,17.94\nmilk_whole,88.13\nyeast_compressed,69.0\n")
    lines = {"bread flour": 1000, "milk": 300, "butter": 150, "fresh yeast": 40}
    usual = Formula.from_weights("bun", lines)
    house = Formula.from_weights("bun", lines, ingredients=tables.ingredients().with_house(own))
    gone = set(hydration_band(usual).to_frame().index) - set(hydration_band(house).to_frame().index)
    assert gone == {"butter fat", "whole milk fat", "fresh yeast water"}
    assert hydration_band(house).half < hydration_band(usual).half


# classes


@LAWS
@given(st.floats(0, 100), st.floats(0, 100))
def test_steps_tile_the_plane(fat, sugars):
    """The higher of the two steps, by the bounds of dough_classes.csv read here row by row; common practice."""
    rows = sorted(
        (row for row in tables.table("dough_classes").rows if row["scheme"] == "house_steps"),
        key=lambda r: int(r["order"]),
    )
    steps = [
        max(n for n, row in enumerate(rows) if value >= float(row[f"{axis}_min"]))
        for axis, value in (("fat", fat), ("sugar", sugars))
    ]
    assert int(class_codes(fat, sugars)) == max(steps)
    assert own_steps()[0][max(steps)] == rows[max(steps)]["class"]


@pytest.mark.parametrize(
    ("scheme", "dough", "word"),
    [
        # Reinhart 2001: lean little or no fat, enriched under 20 % as weighed, rich over it
        ("Lean, enriched, rich", {}, "lean"),
        ("Lean, enriched, rich", {"butter": 19.9}, "enriched"),
        ("Lean, enriched, rich", {"butter": 20.1}, "rich"),
        # Culinary Essentials: lean 0-1, soft medium 6-9, nothing between; sweet rich up to 25
        ("School bands of fat and sugar", {}, "hard lean"),
        ("School bands of fat and sugar", {"butter": 1, "sugar": 1}, "hard lean"),
        ("School bands of fat and sugar", {"butter": 3, "sugar": 3}, "between hard lean and soft medium"),
        ("School bands of fat and sugar", {"butter": 6, "sugar": 9}, "soft medium"),
        ("School bands of fat and sugar", {"butter": 25, "sugar": 25}, "sweet rich"),
        ("School bands of fat and sugar", {"butter": 30, "sugar": 30}, "beyond sweet rich"),
        (
            "School bands of fat and sugar", {"butter": 15, "sugar": 7},
            "none: sweet rich by its fat, soft medium by its sugar",
        ),
        # Leitsätze für Feine Backwaren: more than 10 parts of fat and sugar on 90 of cereal
        ("German code, bread or fine bakery ware", {"butter": 500 / 90, "sugar": 500 / 90}, "bread"),
        ("German code, bread or fine bakery ware", {"butter": 500 / 90, "sugar": 510 / 90}, "fine bakery ware"),
        ("German code, stollen", {"butter": 15}, "below quark stollen"),
        ("German code, stollen", {"butter": 39}, "stollen"),
        ("German code, stollen", {"butter": 40}, "butter stollen"),
        # Italian decree of 22 July 2005: panettone 16 % of butter fat and 4 % of yolk in the mix, pandoro 20 %
        ("Italian decree, festive breads", {"butter": 20}, "none: butterfat or yolk below every line of it"),
        ("Italian decree, festive breads", {"butter": 30, "yolk": 10}, "panettone or colomba"),
        ("Italian decree, festive breads", {"butter": 40, "yolk": 10}, "panettone, pandoro or colomba"),
    ],
)  # fmt: skip
def test_class_by_a_published_scheme(scheme, dough, word):
    assert kit.dough_class(Formula.from_weights("bun", {"flour": 100} | dough)).to_frame().loc[scheme, "class"] == word


@pytest.mark.parametrize(("butter", "name"), [(24.6, "sweet"), (24.7, "rich")])
def test_class_line_where_pure_fat_is_20(butter, name):
    """Butter of 81.11 % fat (SR28 NDB 01145): 20 / 0.8111 = 24.658 % of flour."""
    assert kit.dough_class(Formula.from_weights("bun", {"flour": 100, "butter": butter})).name == name


@pytest.mark.parametrize(
    ("butter", "sugar", "fat_when", "sugar_when"),
    [
        (5, 0, "start", "start"),
        (5.1, 12, "half", "start"),
        (15, 12, "half", "start"),
        (15.1, 12.1, "four_fifths", "developed"),
    ],
)
def test_method_changes_above_its_line(butter, sugar, fat_when, sugar_when):
    """Baking-school glossary: sugar above 12 %, fat above 5 and 15 % as weighed; on the line the lower rule holds."""
    method = kit.dough_class(Formula.from_weights("bun", {"flour": 100, "butter": butter, "sugar": sugar})).mixing
    assert (method.fat_when, method.sugar_when) == (fat_when, sugar_when)
