"""Hydration, enrichment and daily exchanges with their worked answers.

Every figure here: common practice, no source, worked by hand for an invented bun. It was worked with compositions
rounded to two decimals and with spice, salt and sugar dry, so the spice is left out and half a unit of the last
digit printed is widened where several rounded compositions are summed.
"""

import pytest

import kit
from kit import Formula
from kit.balance import at_least, class_codes, hydration_band, measure, measures
from kit.balance.quantities import SHARES
from tests.balance.made_of import on_a_piece

DOUGH = {
    "bread flour": 100, "whole milk": 30, "egg": 20, "butter": 15, "sugar": 18, "fresh yeast": 4, "salt": 1.6,
    "water": 10,
}  # fmt: skip
TOPPING = {"plain flour": 100, "icing sugar": 95, "butter": 80, "salt": 0.5}
PIECES = {"count": 48, "dough": 70, "topping": 28}
BUN = Formula.from_weights("bun", DOUGH, topping=TOPPING, makes=PIECES, losses={"dividing": 2})
SPICED = Formula.from_weights("bun", DOUGH | {"ground cardamom": 0.7}, makes=PIECES, losses={"dividing": 2},
                              topping=TOPPING)  # fmt: skip
WET = kit.total_hydration(BUN)
FAT = measure(BUN, "fat")


def water(formula):
    return kit.total_hydration(formula)


def fat(formula):
    return measure(formula, "fat")


def test_the_two_hydrations():
    assert kit.hydration(BUN) == pytest.approx(40)
    assert pytest.approx(57.12, abs=0.03) == WET


@pytest.mark.parametrize(
    ("quantity", "parts"),
    [
        ("total_hydration", {"whole milk": 26.44, "egg": 15.23, "water": 10, "fresh yeast": 2.76,
                             "unsalted butter": 2.69}),
        ("fat", {"unsalted butter": 12.17, "egg": 1.90, "whole milk": 0.98, "fresh yeast": 0.08}),
    ],
)  # fmt: skip
def test_which_ingredient_brings_it(quantity, parts):
    flour = Formula.from_weights("flour", {"bread flour": 100}, topping=TOPPING, makes=PIECES)
    brought = dict(kit.what_moved(flour, BUN).because(quantity, 0.05))
    assert brought == pytest.approx(parts, abs=0.011)


def test_water_is_told_as_itself():
    """10 points of water on 100 of flour are 10 points of total hydration: arithmetic."""
    less = kit.what_moved(BUN, BUN.vary(water=0)).words
    assert "(water itself −10.0)" in less
    assert "(water of egg +7.6 and water itself −10.0)" in kit.what_moved(BUN, BUN.vary(water=0, egg=30)).words


def test_fat_and_enrichment():
    assert pytest.approx(15.12, abs=0.011) == FAT
    assert float(kit.enrichment_ratio(BUN)) == pytest.approx(38.6, abs=0.1)


# Added sugar under another name [g per g]: USDA SR28, condensed milk NDB 01095 less the lactose that goes with its
# protein (whole milk, NDB 01077), sugared yolk NDB 01127, almond paste NDB 12071; candied fruit as in its row.
ADDED = {
    "condensed milk": 0.5440 - 0.0791 * 4.80 / 3.15, "sweetened egg yolk": 0.1010, "almond paste": 0.3625 * 0.94,
    "semisweet chocolate": 0.545, "candied fruit": 0.8068, "malt syrup": 0.7130,
}  # fmt: skip


@pytest.mark.parametrize("name", ADDED)
def test_added_sugar_counts_wherever_it_comes_from(name):
    """By hand from SR28: 40 % of each beside 5 of sugar, in class, method, sweetness, what moved and slopes."""
    plain = Formula.from_weights("bun", {"flour": 100, "water": 40, "sugar": 5}, topping=TOPPING, makes=PIECES)
    bun = plain.vary({name: 40})
    whole = ADDED[name] / 0.94 if name == "almond paste" else ADDED[name]  # the almonds' own is sugar too
    sugars = 0.998 * 5 + 40 * whole
    got = measures(bun)
    assert got["sugars"] == pytest.approx(sugars, abs=0.06)
    assert kit.dough_class(bun).code == class_codes(got["fat"], sugars)
    later = 5 + 40 * (1 if name == "malt syrup" else ADDED[name]) > 12
    assert kit.dough_class(bun).mixing.sugar_when == ("developed" if later else "start")
    assert measure(bun, "sugars_per_piece_dough") == pytest.approx(70 * sugars / 185, rel=0.006)
    assert dict(kit.what_moved(plain, bun).because("sugars")) == {name: pytest.approx(40 * whole, abs=0.06)}
    slopes = kit.sensitivities(bun, ["sugars"], more=()).to_frame()["sugars"]
    assert slopes[f"{name}, 1 % of flour"] == pytest.approx(whole, abs=0.0015)
    assert kit.solve(plain, {"sugars": sugars}, free=[name]).formula.fingerprint != plain.fingerprint
    assert at_least(bun, "sugars") == at_least(bun, "enrichment_ratio") == []


def test_sugar_of_condensed_milk_is_no_milk_solid_and_its_lactose_stays_one():
    """SR28 NDB 01095 in the four shares: all that is neither water nor fat once, 25 x (100 - 27.16) / 100 = 18.21."""
    shares = kit.enrichment_ratio(Formula.from_weights("bun", {"flour": 100, "condensed milk": 25}))
    assert shares.sugars == pytest.approx(10.6, abs=0.05)
    assert shares.milk_solids_not_fat == pytest.approx(25 * (0.0791 + 0.0183 + 0.1205), abs=0.05)
    assert shares.total == pytest.approx(18.21, abs=0.005)
    yolk = kit.enrichment_ratio(Formula.from_weights("bun", {"flour": 100, "sweetened yolk": 20}))
    assert yolk.egg_solids_not_fat == pytest.approx(20 * (0.2595 - 0.1010), abs=0.005)


def test_at_least_is_written_beside_the_share_that_is_unknown_and_no_other(tmp_path):
    """Cardamom's sugars are not in SR28, a house's cream has no fat given; condensed milk is all known."""
    path = tmp_path / "house.csv"
    path.write_text(
        "key,name,kind,group,protein_g_per_100g,source\nrich,thick cream,spread,fat,2,own\n", encoding="utf-8"
    )
    house = kit.tables.ingredients().with_house(path)

    def marked(**lines):
        bun = Formula.from_weights("bun", {"flour": 100} | lines, ingredients=house)
        rows = kit.enrichment_ratio(bun)._repr_html_().split("<tr>")
        return [
            name for name in (*SHARES, "total") if any(name.replace("_", " ") + "<" in r and "≥" in r for r in rows)
        ]

    assert marked(**{"condensed milk": 20}) == []
    assert marked(**{"ground cardamom": 1}) == ["sugars", "total"]
    assert marked(**{"thick cream": 10}) == ["fat", "sugars", "total"]


HOUSE = "key,name,kind,group,sugars_g_per_100g,lactose_g_per_100g,protein_g_per_100g,carbohydrate_g_per_100g,source\n"


@pytest.mark.parametrize(
    ("row", "sugars", "solids", "unknown"),
    [
        ("fruit,fruit yoghurt,yoghurt,dairy,13,,3,13.5,x", 0, 3.30, True),  # too sweet for plain, and not parted
        ("fruit,fruit yoghurt,yoghurt,dairy,13,4,3,13.5,x", 1.8, 1.50, False),
        ("fruit,curd,curd,dairy,4,,12,4.3,x", 0, 3.26, True),  # a kind that the tables do not have
        ("fruit,curd,curd,dairy,4,4,12,4.3,x", 0, 3.26, False),
        ("fruit,goat's milk,milk,dairy,4.5,,3.5,4.6,x", 0, 1.62, False),
        ("fruit,milk chocolate,chocolate,cocoa,52,8,7.5,59,x", 8.8, 1.6, False),  # its lactose is milk's
        ("milk_whole,whole milk,milk,dairy,5.4,,,,x", 0, 0, False),  # the house says no more than that it is milk
    ],
)
def test_a_house_row_says_what_of_its_sugar_is_added(tmp_path, row, sugars, solids, unknown):
    """By hand: 20 % of an invented row; what is neither told nor plain is a lower bound."""
    path = tmp_path / "house.csv"
    path.write_text(HOUSE + row + "\n", encoding="utf-8")
    house = kit.tables.ingredients().with_house(path)
    bun = Formula.from_weights("bun", {"flour": 100, row.split(",")[1]: 20}, ingredients=house)
    shares = kit.enrichment_ratio(bun)
    assert shares.sugars == pytest.approx(sugars, abs=0.005)
    assert bool(at_least(bun, "sugars")) == unknown
    if solids:
        assert shares.milk_solids_not_fat == pytest.approx(solids, abs=0.005)


def test_ratio_is_not_share():
    assert kit.topping_to_dough_ratio(BUN) == pytest.approx(0.40)
    masses = {part: brought["mass"] for part, brought in on_a_piece(BUN).items()}
    assert masses["topping"] / masses["piece"] == pytest.approx(0.286, abs=0.0005)
    assert masses["topping"] == pytest.approx(28)


def test_water_of_egg():
    moved = kit.what_moved(BUN.vary(egg=0), BUN)
    assert dict(moved.because("total_hydration"))["egg"] == pytest.approx(15.2, abs=0.05)


# what holds total hydration, and what it does to fat
HELD = [
    ("egg up 10", {"egg": 30, "water": 10 - 7.6}, 0.05),
    ("butter up 10", {"butter": 25, "water": 10 - 1.8}, 0.05),
    ("butter up 10, two digits", {"butter": 25, "water": 8.21}, 0.01),
    ("egg up 1", {"egg": 21, "water": 10 - 0.7615}, 0.002),
    ("no water left", {"egg": 33.1, "water": 0}, 0.05),
    ("milk cut as well", {"egg": 36, "water": 0, "milk": 27.5}, 0.06),
    ("lard for butter", {"butter": 0, "lard": 12.17, "water": 10 + 2.69}, 0.02),
    ("yolk for egg", {"egg": 0, "yolk": 20, "water": 10 + 4.77}, 0.02),
    ("yolk for egg, fat held", {"egg": 0, "yolk": 20, "butter": 10.8, "water": 15.5}, 0.06),
    ("yolk for egg, equal fat", {"egg": 0, "yolk": 7.17, "water": 21.48}, 0.03),
    ("white for egg", {"egg": 0, "white": 20, "water": 10 - 2.28}, 0.02),
    ("white for egg, fat held", {"egg": 0, "white": 20, "butter": 17.30, "water": 10 - 2.70}, 0.02),
    ("half honey", {"sugar": 9, "honey": 10.86, "water": 8.14}, 0.03),
    ("instant yeast", {"fresh yeast": 0, "instant yeast": 1.32, "water": 10 + 2.69}, 0.02),
    ("active dry yeast", {"fresh yeast": 0, "active dry yeast": 1.60, "water": 10 + 2.68}, 0.02),
    ("milk powder", {"milk": 0, "milk powder": 2.69, "water": 10 + 26.14, "butter": 15 + 1.18}, 0.03),
]


@pytest.mark.parametrize(("changes", "tolerance"), [case[1:] for case in HELD], ids=[case[0] for case in HELD])
def test_exchange_that_holds_total_hydration(changes, tolerance):
    assert water(BUN.vary(changes)) == pytest.approx(WET, abs=tolerance)


@pytest.mark.parametrize(
    "changes",
    [
        {"butter": 0, "lard": 12.17},
        {"butter": 0, "margarine": 15.07},  # 15.11 of 80.5 % fat; SR28's stick has 80.71
        {"egg": 0, "yolk": 20, "butter": 10.8},
        {"egg": 0, "yolk": 7.17},
        {"egg": 0, "white": 20, "butter": 17.30},
        {"milk": 0, "milk powder": 2.69, "butter": 15 + 1.18},
    ],
)
def test_exchange_that_holds_fat(changes):
    assert fat(BUN.vary(changes)) == pytest.approx(FAT, abs=0.02)


@pytest.mark.parametrize(
    ("changes", "wet", "rich"),
    [
        ({"butter": 0, "lard": 15}, 54.4, 17.95),
        ({"egg": 0, "yolk": 20}, 52.35, FAT + 3.41),
        ({"fresh yeast": 0, "instant yeast": 4}, None, None),
        ({"sugar": 24, "water": 6.4}, 53.5, FAT),
        ({"butter": 25, "water": 8.21}, 57.12, 23.23),
    ],
)
def test_what_a_plain_exchange_does(changes, wet, rich):
    varied = BUN.vary(changes)
    if wet is None:  # one for one the water of the fresh yeast is missing, but dry yeast brings a little
        assert water(varied) == pytest.approx(54.4 + 4 * 0.0508, abs=0.05)
    else:
        assert water(varied) == pytest.approx(wet, abs=0.05)
        assert fat(varied) == pytest.approx(rich, abs=0.02)


@pytest.mark.parametrize(
    ("changes", "salt"),
    [
        ({"salted butter": 15, "unsalted butter": 0, "salt": 1.355}, 1.6),
        ({"salted butter": 15, "unsalted butter": 0}, 1.85),
    ],
)
def test_salt_hidden_in_butter(changes, salt):
    assert measure(BUN.vary(changes), "salt") == pytest.approx(salt, abs=0.006)


def test_salted_butter_is_drier():
    assert water(BUN.swap("unsalted butter", "salted butter")) == pytest.approx(WET - 0.31, abs=0.01)


def test_milk_solids_of_powder():
    varied = BUN.vary({"milk": 0, "milk powder": 2.69, "butter": 15 + 1.18})
    name = "milk_solids_not_fat"
    assert measure(varied, name) == pytest.approx(measure(BUN, name), abs=0.03)


def test_whole_egg_holds_yolk_as_the_decree_counts_it():
    """SR28: a large egg of 50 g has 17 g of yolk; 30 egg and 5 yolk in a dough of 200 are 7.6 % of it."""
    bun = Formula.from_weights("bun", {"flour": 100, "water": 65, "egg": 30, "yolk": 5})
    assert measure(bun, "yolk_of_dough") == pytest.approx((30 * 17 / 50 + 5) / 200 * 100)


def test_salt_of_salted_butter_is_no_milk_solid():
    """By hand: salted butter's are those of unsalted, 1.00 %, its salt apart."""
    for name in ("unsalted butter", "salted butter"):
        bun = Formula.from_weights("bun", {"flour": 100, name: 50})
        assert kit.enrichment_ratio(bun).milk_solids_not_fat == pytest.approx(0.50, abs=0.001)


def test_a_line_is_crossed_where_the_first_of_two_is_met_and_left_where_the_last_is():
    """By hand, SR28: semisweet chocolate is 30.00 % fat and 54.50 sugars. Beside butter 15 and sugar 5, fat meets 20 at
    chocolate 26.1 and sugars meet 25 at 36.7: rich from 26.1 on, either way."""
    bun = Formula.from_weights("bun", {"flour": 100, "water": 50, "butter": 15, "sugar": 5})
    dark = bun.vary(chocolate=38)
    first = (20 - 15 * 0.8111) / 0.30
    assert f"rich now, not sweet (line crossed at chocolate {first:.1f} %)" in kit.what_moved(bun, dark).words
    assert f"sweet now, not rich (line crossed at chocolate {first:.1f} %)" in kit.what_moved(dark, bun).words


def test_one_point_of_butter_and_of_egg():
    one = measures(BUN, ["fat", "total_hydration", "protein"])
    more = measures(BUN.vary(butter=16), ["fat", "total_hydration"])
    egg = measures(BUN.vary(egg=21), ["fat", "total_hydration", "protein"])
    assert more["total_hydration"] - one["total_hydration"] == pytest.approx(0.179, abs=0.0006)
    assert more["fat"] - one["fat"] == pytest.approx(0.811, abs=0.0006)
    assert egg["total_hydration"] - one["total_hydration"] == pytest.approx(0.7615, abs=0.0006)
    assert egg["fat"] - one["fat"] == pytest.approx(0.10, abs=0.006)
    assert egg["protein"] - one["protein"] == pytest.approx(0.13, abs=0.006)


@pytest.mark.parametrize(("grams", "wet"), [(44, 55.5), (50, 57.4)])
def test_seven_eggs_of_two_sizes(grams, wet):
    dough = {name: 17.2 * percentage for name, percentage in DOUGH.items()} | {"egg": 7 * grams}
    assert water(Formula.from_weights("bun", dough)) == pytest.approx(wet, abs=0.05)


def test_butter_ten_points_up_as_one_tells_it():
    """Fat +8.1, total hydration +1.8, 50 buns not 48, sugar 0.30 g less a bun, rich now, crossed at 21.0."""
    said = kit.what_moved(SPICED, SPICED.vary(butter=25)).words
    for piece in (
        "Butter +10.0", "fat +8.1", "total hydration +1.8", "50 pieces, not 48", "crumb −0.3 g",
        "rich now, not sweet (line crossed at butter 21.0 %)",
    ):  # fmt: skip
        assert piece in said


def test_total_flour_and_sugar_of_the_richer_bun():
    richer = SPICED.vary(butter=25, water=8.21)
    assert kit.measure(richer, "total_percentage") == pytest.approx(207.5, abs=0.02)
    assert richer.scale(pieces=48).flour == pytest.approx(1652, abs=0.6)
    sugar = [bun.scale(dough=70).grams["dough", "sugar_granulated"] for bun in (SPICED, richer)]
    assert sugar == pytest.approx([6.32, 6.07], abs=0.005)
    again = richer.vary(sugar=18.8).scale(dough=70)
    assert again.grams["dough", "sugar_granulated"] == pytest.approx(6.32, abs=0.01)
    salt = [bun.scale(dough=100).grams["dough", "salt_table"] for bun in (SPICED, richer.vary(salt=1.67))]
    assert salt == pytest.approx([0.80, 0.80], abs=0.006)
    assert kit.dough_class(richer).name == "rich"


def test_sugar_of_crumb_and_crust():
    """As weighed 6.32 g in the crumb and 9.64 g in the crust; pure sugars are 99.80 and 97.81 % of that (SR28)."""
    grams = SPICED.vary(topping={"salt": 0.5, "cardamom": 0.5}).scale(pieces=1).grams
    assert grams["topping", "sugar_powdered"] == pytest.approx(9.64, abs=0.005)
    assert measure(SPICED, "sugars_per_piece_dough") == pytest.approx(6.32 * 0.998, abs=0.006)
    assert measure(SPICED, "sugars_per_piece_topping") == pytest.approx(9.64 * 0.9781, abs=0.03)
    assert measure(SPICED, "sweetness_split") == pytest.approx(100 - 40, abs=0.6)


@pytest.mark.parametrize(("sugar", "topping"), [(10, 35.7), (24, 22.6)])
def test_sugar_moved_between_crumb_and_crust(sugar, topping):
    spiced = SPICED.vary(topping={"cardamom": 0.5})
    bun = spiced.vary(sugar=sugar, topping=topping)

    def all_sugar(formula):
        grams = formula.scale(dough=70 / 0.98).grams  # what one piece takes, its loss at the divider made good
        return 0.98 * grams["dough", "sugar_granulated"] + grams["topping", "sugar_powdered"]

    assert all_sugar(spiced) == pytest.approx(15.96, abs=0.005)
    assert all_sugar(bun) == pytest.approx(15.96, abs=0.02)


def test_butter_of_the_topping_when_cocoa_stands_for_flour():
    """Half of the flour as cocoa, butter 80 to 72.2: the same fat, the flour's own included."""
    cocoa = BUN.swap("plain flour", "cocoa", 50, "topping").vary(topping={"butter": 72.2})

    def fat_on_base(bun):
        topping = on_a_piece(bun)["topping"]
        return topping["fat"] * bun.part("topping").mass / topping["mass"]

    assert fat_on_base(cocoa) == pytest.approx(fat_on_base(BUN), abs=0.05)


def test_band_of_counted_eggs():
    """Eggs counted, butter of 80 to 83 % fat, milk, yeast: 90 % within 0.6; the flour's moisture widens it to 1.0."""
    counted = Formula.from_weights("bun", DOUGH | {"egg": "7 eggs"} | {
        name: 17.2 * percentage for name, percentage in DOUGH.items() if name != "egg"})  # fmt: skip
    band = hydration_band(counted, flour=1720, coverage=90)
    assert band.half == pytest.approx(1.0, abs=0.1)
    assert band.value == pytest.approx(57.4, abs=0.06)
    deviations = band.to_frame()["standard deviation, points"]
    flourless = 1.645 * (deviations.drop("flour moisture") ** 2).sum() ** 0.5
    assert flourless == pytest.approx(0.6, abs=0.1)


def test_a_house_egg_of_which_only_the_water_is_known_leaves_the_others_known(tmp_path):
    """A law: what a house does not know of its own egg makes no other egg's sugars unknown."""
    path = tmp_path / "house.csv"
    path.write_text("key,name,kind,group,water_g_per_100g\ne,their egg,egg,egg,74\n", encoding="utf-8")
    theirs = kit.tables.ingredients().with_house(path)
    assert at_least(Formula.from_weights("bun", {"flour": 100, "egg": 20}, ingredients=theirs), "sugars") == []


def bun_of_unknown_fat(flour=100, **more):
    """A house's butter of which the water alone is known, invented."""
    mine = {"name": "my butter", "group": "fat", "kind": "butter", "water_g_per_100g": "16"}
    known = kit.tables.ingredients().with_rows({"my_butter": mine}, "own")
    lines = {"flour": flour, "my butter": 60, "egg yolk": 20} | more
    return Formula.from_weights("bun", lines, ingredients=known)


def test_a_class_is_at_least_that_while_a_fat_is_unknown():
    """By hand: 20 of yolk alone bring 5.3 of pure fat, soft; with 60 of butter it is very rich, and a panettone."""
    found = kit.dough_class(bun_of_unknown_fat())
    assert found.name == "soft"
    assert found.words == "at least soft; fat in 60 g of my butter unknown"
    assert "fat in 60 g of my butter and butterfat of dough in 60 g of my butter" in found.notes[0]
    frame = found.to_frame()
    assert frame.loc["Steps of fat and sugar", "class"] == "at least soft"
    assert frame.loc["Steps of fat and sugar", "fat"] == pytest.approx(5.3, abs=0.05)
    assert frame.loc["Italian decree, festive breads", "class"].endswith(", by what is known")
    assert frame.loc["Lean, enriched, rich", "class"] == "rich"  # of fat as weighed, which is known
    looks = found._repr_html_()
    assert all(shown in looks for shown in ("≥ 5.3", "≥ 0.0", "at least soft; fat in 60 g", "Unknown on 100 g flour"))
    assert at_least(bun_of_unknown_fat(), "butterfat_of_dough") == [("my butter", 60.0)]
    assert at_least(bun_of_unknown_fat(), "butterfat of dough") == [("my butter", 60.0)]


def test_a_class_that_no_unknown_can_raise_is_told_plainly():
    """0.7 of cardamom, whatever sugar is in it, cannot bring 18 to 25 on flour: arithmetic."""
    spiced = kit.dough_class(SPICED)
    assert (spiced.words, spiced.least) == ("sweet", False)
    assert spiced.notes[0] == "Unknown on 100 g flour: sugars without lactose in 0.7 g of ground cardamom."
    near = kit.dough_class(SPICED.vary(sugar=24.5))
    assert near.words == "at least sweet; sugars without lactose in 0.7 g of ground cardamom unknown"
    assert not kit.dough_class(BUN).missing


def test_the_class_of_many_is_at_least_that_too():
    many = kit.dough_class(bun_of_unknown_fat(sugar=0).vary(sugar=[0, 20, 50]))
    assert many.words == "at least soft, sweet and very rich; fat in 60 g of my butter unknown"
    assert not kit.dough_class(BUN.vary(sugar=[0, 20, 50])).least


def test_sugar_as_weighed_is_a_lower_bound_where_a_milk_may_hold_added_sugar():
    """A house's condensed milk of unknown sugars, invented: more than half of it may be sugar."""
    mine = {"name": "my milk", "group": "dairy", "kind": "condensed milk", "water_g_per_100g": "27"}
    known = kit.tables.ingredients().with_rows({"my_milk": mine}, "own")
    bun = Formula.from_weights("bun", {"flour": 100, "my milk": 20, "sugar": 10, "cardamom": 1}, ingredients=known)
    assert at_least(bun, "sugar_as_weighed") == [("my milk", 20.0)]
    assert at_least(BUN, "sugar_as_weighed") == []
