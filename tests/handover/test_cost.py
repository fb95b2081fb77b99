"""What a piece costs: by hand in decimal arithmetic, worked figures of the trade, and laws of sums."""

import csv
import datetime
import re
import tomllib
from decimal import Decimal
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

import kit
from kit import Formula, page
from kit.errors import AmountError, FileError, FormulaError, KitError, UnitError, UnknownName
from kit.handover.prices import each, money
from kit.process import Estimate
from kit.reformulate.moving import model
from tests.formula.doughs import TOPPING, WORKED, buns
from tests.laws import drawn

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "notebooks/formulas/crackle_bun.toml"
LIST = DEMO.with_name("crackle_bun_prices.csv")
SOON = datetime.date(2025, 3, 1)
BUN, PRICES = Formula.read(DEMO), kit.read_prices(LIST, today=SOON)


def change_of(before, after, prices, **given):
    return kit.cost(after, prices, **given).against(kit.cost(before, prices, **given))


def test_a_change_is_told_no_finer_than_the_cost_it_changes():
    """A change of 0.001142 between 0.1977 and 0.1988 is known to the fourth decimal; common practice, no source."""
    told = kit.cost(BUN.vary(butter=18.1), PRICES).against(kit.cost(BUN, PRICES)).words
    change, before, after = re.match(r"A piece costs [+]([\d.]+) EUR \(([\d.]+) → ([\d.]+) EUR\)", told).groups()
    assert len(change.split(".")[1]) == len(after.split(".")[1]) == len(before.split(".")[1])


LAWS = drawn(40)


# by hand


def hand_prices():
    """Price per g of the demo's list, from the files alone: pack x usable share; mL and eggs by measures.csv."""
    with open(ROOT / "reference_tables/measures.csv", encoding="utf-8", newline="") as file:
        measures = {(r["ingredient"], r["measure"]): r for r in csv.DictReader(file)}
    milk, water = measures["milk_whole", "cup"], measures["water_tap_drinking", "L"]
    litre = {"whole milk": milk, "water": water}
    egg = Decimal(measures["egg_whole_fresh", "each-large"]["grams_per_measure"])
    found = {}
    lines = [line for line in LIST.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    for row in csv.DictReader(lines):
        count, unit = row["pack"].split(" ", 1)
        if unit == "L":
            cup = litre[row["ingredient"]]
            unit_grams = 1000 * Decimal(cup["grams_per_measure"]) / Decimal(cup["ml_per_measure"])
        else:
            unit_grams = {"kg": Decimal(1000), "g": Decimal(1), "large eggs": egg}[unit]
        grams = Decimal(count) * unit_grams * Decimal(row["usable_percent"] or 100) / 100
        found[row["ingredient"]] = Decimal(row["price"]) / grams
    return found


def test_the_demo_in_decimal_arithmetic():
    """48 of 60 + 22 + 1 g; dividing takes 2 %, of the topping mixing 1 and dividing 2 % (losses.csv)."""
    price, book = hand_prices(), tomllib.loads(DEMO.read_text(encoding="utf-8"))
    rows = {name: {k: Decimal(str(v)) for k, v in part["lines"].items()} for name, part in book["parts"].items()}
    mixed = {"dough": 48 * 60 / Decimal("0.98"), "topping": 48 * 22 / (Decimal("0.99") * Decimal("0.98")),
             "wash": Decimal(48)}  # fmt: skip
    total = {
        part: grams * sum(p * price[name] for name, p in rows[part].items()) / sum(rows[part].values())
        for part, grams in mixed.items()
    }
    made = kit.cost(BUN, PRICES)
    assert made.by_part["topping"] == pytest.approx(float(total["topping"]), rel=1e-12)
    assert made.by_part["wash"] == pytest.approx(float(total["wash"]), rel=1e-12)
    assert made.by_part["sponge"] + made.by_part["dough"] == pytest.approx(float(total["dough"]), rel=1e-12)
    assert made.total == pytest.approx(float(sum(total.values())), rel=1e-12)
    assert made.per_piece == pytest.approx(float(sum(total.values()) / 48), rel=1e-12)
    baked = Decimal("60") * Decimal("0.895") + 22 * Decimal("0.935")  # the wash dries to its solids, below 0.3 g
    assert made.per_kg_baked == pytest.approx(float(sum(total.values()) / 48 / baked * 1000), rel=0.005)
    assert not made.missing
    assert made.words.startswith(f"48 pieces cost {round(sum(total.values()), 2)} EUR")


def test_more_butter_at_the_same_total_hydration():
    """Worked figures, common practice, no source: +1 point (water -0.179) costs 0.0024 to 0.0025 a bun, 15 to 25
    (water 8.21) 0.024. No price is printed beside them, so one price of butter must give both."""
    prices = PRICES.per_kg | {"butter_unsalted": 8.5}
    point = change_of(WORKED, WORKED.vary(butter=16, water=10 - 0.179), prices)
    ten = change_of(WORKED, WORKED.vary(butter=25, water=8.21), prices)
    assert 0.0024 <= point.per_piece <= 0.0025
    assert ten.per_piece == pytest.approx(0.024, abs=0.0005)
    assert "butter +0.0028" in point.words  # a point of butter alone; 0.0003 comes back, as the rest makes room


def test_margin_is_of_the_price_and_markup_of_the_cost():
    """Definitions of bookkeeping: 65 % margin = cost / 0.35, a markup of 65 / 35 = 185.7 %."""
    made = kit.cost(BUN, PRICES)
    assert made.selling_price("65 %") == pytest.approx(made.per_piece / 0.35)
    assert made.selling_price(65) - made.per_piece == pytest.approx(1.857 * made.per_piece, rel=1e-3)
    assert made.selling_price(0) == pytest.approx(made.per_piece)
    assert "Ingredients only" in made.words


def test_a_kitchens_own_baking_loss_reaches_the_kilogram():
    calm = kit.process.Calibration().with_(bake_loss_dough=Estimate(20.0, 1.0, bakes=5))
    assert kit.cost(BUN, PRICES, calibration=calm).per_kg_baked > kit.cost(BUN, PRICES).per_kg_baked


def test_what_has_no_price_is_said_and_never_nothing():
    known = {k: v for k, v in PRICES.per_kg.items() if k not in ("egg_yolk_fresh", "salt_table")}
    made, whole = kit.cost(BUN, known), kit.cost(BUN, PRICES)
    salt = sum(line.grams for line in whole.lines if line.name == "salt")
    assert dict(made.missing) == pytest.approx({"salt": salt, "egg yolk": made.missing[1][1]})
    assert "cost at least" in made.words
    assert f"No price for salt ({salt:.1f} g) and egg yolk" in made.words
    gone = sum(line.cost for line in whole.lines if line.name in ("salt", "egg yolk"))
    assert made.total == pytest.approx(whole.total - gone)
    assert "no price" in made._repr_html_()
    partly = kit.cost(BUN.vary(honey=3), PRICES)
    assert partly.missing
    assert "≥ " in made._repr_html_()
    assert made.to_frame()["cost"].isna().sum() == 3  # salt in dough and topping, yolk
    assert "no price" in change_of(BUN, BUN.vary(salt=2), known).words
    no_crust = BUN.vary(topping=0)
    assert kit.cost(no_crust, known | {"salt": 1}).missing == []  # yolk is in the crust only


def test_a_mass_that_no_part_spells_out_is_not_free():
    bun = Formula.from_weights("bun", {"flour": 100, "water": 50}, makes={"piece": 75, "filling": 10})
    made = kit.cost(bun, {"flour": 1.0, "water": 0}, pieces=1)
    assert made.missing == [("filling, not spelled out", 10)]
    assert made.words.startswith("1 piece costs at least 0.05: at least 0.05")
    assert made.to_frame()["cost"].isna().sum() == 1
    assert any("filling on a piece is not spelled out" in note for note in made.notes)
    brushed = Formula.from_weights("bun", {"flour": 100, "water": 50}, wash={"egg": 1})
    notes = kit.cost(brushed, PRICES, pieces=1).notes
    assert any(note.startswith("The wash has no mass on a piece, so it costs nothing") for note in notes)


def test_a_piece_that_nobody_weighed_is_said_before_its_cost(tmp_path):
    """No source: a default of our own is never silent, however the formula came in, until a mass is given."""
    lines, prices = {"flour": 100, "water": 60}, {"flour": 1, "water": 0, "sugar": 2}
    said = "A piece is taken as 60 g of dough, since the formula says no mass"
    bare = Formula.from_weights("bun", lines)
    path = tmp_path / "bun.csv"
    path.write_text("ingredient,g\nbread flour,1000\nwater,600\n", encoding="utf-8")
    bare.save(tmp_path / "bun.toml")
    kept = Formula.read(tmp_path / "bun.toml")
    for bun in (bare, kit.Formula.read(path), kept, bare.vary(water=62), bare.vary(topping=5)):
        made = kit.cost(bun, prices, pieces=10)
        assert made.words.startswith(said)
        assert page.escape(said) in made.page().partition("<table")[0]
        assert kit.label(bun).notes[0].startswith(said)
        assert kit.production_sheet(bun, pieces=10).notes[0].startswith(said)
    crusted = Formula.from_weights("bun", lines, topping={"sugar": 1}, makes={"piece": 70})
    assert kit.cost(crusted, prices, pieces=10).words.startswith("A piece is taken as 20 g of topping, since")
    for said_so in (bare.vary(piece=60), Formula.from_weights("bun", lines, makes={"piece": 60})):
        assert "taken as" not in kit.cost(said_so, prices, pieces=10).words
        assert said_so.fingerprint == bare.fingerprint  # the same bun either way
    assert "taken as" not in kit.cost(BUN, PRICES).words


def test_the_solver_means_the_same_cost():
    assert model(BUN, (), PRICES.per_kg).at().value("cost_per_piece") == pytest.approx(
        kit.cost(BUN, PRICES).per_piece, rel=1e-9
    )
    free = ["butter", "egg", "sugar", "milk"]
    found = kit.solve(BUN, {"fat": (14, 16)}, ["total_hydration"], free, prefer="cheapest", prices=PRICES)
    assert kit.cost(found.formula, PRICES).per_piece < kit.cost(BUN, PRICES).per_piece
    asked = kit.solve(BUN, {"cost_per_piece": 0.19}, free=["butter"], prices=PRICES.per_kg).formula
    assert kit.cost(asked, PRICES).per_piece == pytest.approx(0.19, abs=1e-5)


# laws


def spelled(bun):
    """The same without a wash or filling that no part spells out: that has no price."""
    return bun.vary({kind: 0 for kind in ("wash", "filling") if not bun.has(kind)})


KEYS = [row["key"] for row in BUN.ingredients.rows]
lists = st.integers(0, 2**32 - 1).map(
    lambda seed: dict(zip(KEYS, np.random.default_rng(seed).uniform(0.1, 40, len(KEYS)).tolist(), strict=True))
)


@LAWS
@given(bun=buns(), prices=lists, count=st.integers(1, 10**6), factor=st.floats(0.01, 100))
def test_sums_and_multiples(bun, prices, count, factor):
    bun = spelled(bun)
    made = kit.cost(bun, prices, pieces=count)
    frame = made.to_frame()
    assert frame["cost"].sum() == pytest.approx(made.total, rel=1e-9)
    assert frame["share, %"].sum() == pytest.approx(100)
    assert sum(made.by_part.values()) == pytest.approx(made.total)
    assert made.per_piece * count == pytest.approx(made.total)
    dearer = kit.cost(bun, {key: factor * value for key, value in prices.items()}, pieces=count)
    assert dearer.total == pytest.approx(factor * made.total)
    assert model(bun, (), prices).at().value("cost_per_piece") == pytest.approx(made.per_piece)


@LAWS
@given(bun=buns(), prices=lists, flour=st.floats(500, 50_000))
def test_left_over_dough_is_paid_by_the_pieces(bun, prices, flour):
    bun = spelled(bun)
    assume(kit.predict_yield(bun, flour=flour).pieces > 0)
    made = kit.cost(bun, prices, flour=flour)
    exact = kit.cost(bun, prices, pieces=made.pieces)
    assert made.total >= exact.total * (1 - 1e-6)
    if not bun.has("dusting"):
        bowls = sum(
            line.cost for line in made.lines if line.kind in ("preferment", "cooked flour", "dough", "inclusion")
        )
        left = bowls * made.made.dough_left / made.made.dough_scaled
        assert made.total - exact.total == pytest.approx(left, abs=1e-4 * made.total)


@LAWS
@given(butter=st.floats(0, 60), mass=st.floats(5, 90), prices=lists)
def test_the_solver_means_the_same_cost_of_every_part(butter, mass, prices):
    bun = Formula.from_weights(
        "bun", {"flour": 100, "water": 40, "butter": 10}, topping=TOPPING, inclusion={"raisins": 20},
        dusting={"plain flour": 2}, filling={"honey": 10}, makes={"piece": 50, "topping": 20, "filling": 12},
    )  # fmt: skip
    one = bun.vary(butter=butter, piece=mass)
    assert model(one, (), prices).at().value("cost_per_piece") == pytest.approx(
        kit.cost(one, prices, pieces=7).per_piece, rel=1e-9
    )


@LAWS
@given(bun=buns(), other=buns(), prices=lists)
def test_a_change_is_the_sum_of_its_lines(bun, other, prices):
    bun, other = spelled(bun), spelled(other)
    change = change_of(bun, other, prices, pieces=12)
    assert change.to_frame()["change"].sum() == pytest.approx(change.per_piece, abs=1e-9)
    now, was = (kit.cost(one, prices, pieces=7).per_piece for one in (other, bun))
    assert change.per_piece == pytest.approx(now - was)
    assert change_of(bun, bun, prices, pieces=12).words.startswith("A piece costs 0.0")


# the price list


def price_of(prices, name):
    return next(row for row in prices.rows if row.key == BUN.ingredients.find(name))


def test_prices_as_bakers_write_them(tmp_path):
    """By hand: 12,50 for 5 kg of which 80 % can be used is 3.125 per kg; a litre of milk is 244 / 236.588 kg."""
    path = tmp_path / "list.csv"
    text = 'Ingredient;Price;Currency;Pack;Usable percent;Low price;High price\n"flour";12,50;€;5 kg;80;10;15\n'
    path.write_text(f"# ours\n{text}\nmilk;1,1;€;1 L;;;\negg;3;€;10 medium eggs;;;\nsalt;1;€;2 lb;;;\n", "utf-8-sig")
    found = kit.read_prices(path)
    assert (found.currency, found.invented) == ("€", False)
    flour = price_of(found, "bread flour")
    assert flour.per_kg == pytest.approx(3.125)
    assert price_of(found, "milk").per_kg == pytest.approx(1.1 / (244 / 236.588))
    assert price_of(found, "egg").per_kg == pytest.approx(3 / 0.44)
    assert price_of(found, "table salt").per_kg == pytest.approx(1 / 0.90718474)
    assert "44.0 g each, from the table of measures" in found.sources()["egg"]
    assert list(found.to_frame().columns[:2]) == ["€ per kg", "date"]


def listed(tmp_path, row):
    """A price list of one row: ingredient, price, currency, pack, usable share."""
    path = tmp_path / "list.csv"
    path.write_text(f"ingredient,price,currency,pack,usable_percent\n{row}\n", encoding="utf-8")
    return kit.read_prices(path)


@pytest.mark.parametrize(
    ("pack", "name", "grams"),
    [
        ("20 x 250 g", "butter", 5000), ("20×250g", "butter", 5000), ("6x1 kg", "butter", 6000),
        ("2.5kg", "butter", 2500), ("2,5 kg block", "butter", 2500), ("36 X 1 lb", "butter", 36 * 453.59237),
        ("2 x 6 x 1 kg", "butter", 12000), ("bag, 25 kg", "sugar", 25000), ("1 bag of 25 kg", "sugar", 25000),
        ("50 lb bag", "sugar", 50 * 453.59237), ("12 large eggs", "egg", 600), ("case of 30 large eggs", "egg", 1500),
        ("12 x 30 large eggs", "egg", 18000), ("2 cases of 30 eggs", "egg", 3000), ("4 x 2.5 L", "water", 10000),
        ("10 x 1kg bags", "sugar", 10000), ("1/2 L", "water", 500), ("1 1/2 kg", "sugar", 1500),
    ],
)  # fmt: skip
def test_packs_as_suppliers_write_them(tmp_path, pack, name, grams):
    """Common practice, no source; pound of 1959; 50 g a large egg and 1 kg a litre of water by SR28."""
    price = price_of(listed(tmp_path, f'{name},{grams / 100},EUR,"{pack}",'), name)
    assert price.per_kg == pytest.approx(10, rel=1e-3)
    assert bool(price.how) == (name in ("egg", "water"))


@pytest.mark.parametrize(
    ("pack", "do"),
    [("4/5 lb", "write 4 x 5 lb"), ("2/25lb", "write 2 x 25lb"), ("6/1 gal", "write 6 x 1 gal"),
     ("2 400 g tins", "write 2 x 400 g tins"), ("6 500 g packet", "write 6 x 500 g packet")],
)  # fmt: skip
def test_how_many_packs_of_how_much_is_asked_where_it_may_be_a_fraction_or_thousands(tmp_path, pack, do):
    """Common practice of American and British wholesalers, no source: 4/5 lb are four packs of 5 lb, not 0.8 lb."""
    with pytest.raises(AmountError, match="clear about how many") as caught:
        listed(tmp_path, f'sugar,10,EUR,"{pack}",')
    assert do in str(caught.value)


def test_a_count_of_eggs_without_a_size_is_told_through_any_packing(tmp_path):
    prices = listed(tmp_path, "egg,70,EUR,12 x 30 eggs,88")
    assert "no size given; taken as large, 50.0 g each" in price_of(prices, "egg").how
    assert "without shell already" in prices.notes[-1]


def test_old_prices_are_told_in_one_sentence():
    """Each price in the demo's list is older than half a year by then; the oldest is of 2024-11-04."""
    prices = kit.read_prices(LIST, today="2026-03-01")
    (told,) = prices.notes
    count = len(prices.rows)
    assert told.startswith(f"{count} of {count} prices older than 180 days, the oldest, ")
    assert told.endswith("of 2024-11-04: ask anew.")
    assert sum("older than" in note for note in kit.cost(BUN, prices).notes) == 1


def test_old_prices_and_shells_twice_are_told(tmp_path):
    path = tmp_path / "list.csv"
    head = "ingredient,price,currency,pack,usable_percent,date\n"
    rows = "flour,1,EUR,1 kg,,2024-06-01\negg,3,EUR,10 large eggs,88,2025-02-01\nmilk,1,EUR,1 L,,2026-01-01\n"
    path.write_text(head + rows, encoding="utf-8")
    old, shells, ahead = kit.read_prices(path, today="2025-03-01").notes
    assert old == "1 of 3 prices older than 180 days, the oldest, bread flour, of 2024-06-01: ask anew."
    assert "row 3: eggs by count are weighed without shell already" in shells
    assert "row 4: the price is dated ahead" in ahead
    assert len(kit.read_prices(path, today="2024-11-28").notes) == 3  # 180 days are not more than 180; two are ahead
    made = kit.cost(Formula.from_weights("bun", {"flour": 100, "water": 50}), kit.read_prices(path, today=SOON))
    (of_flour,) = made.notes  # of what is in it only
    assert of_flour == old.replace("1 of 3 prices", "1 of 1 price")
    assert PRICES.notes == ()
    assert PRICES.invented


def test_a_day_with_its_hour_is_a_day_and_none_is_today(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text("ingredient,price,currency,pack,date\nflour,1,EUR,1 kg,2024-06-01\n", encoding="utf-8")
    assert len(kit.read_prices(path, today=datetime.datetime(2025, 3, 1, 6, 30)).notes) == 1
    assert len(kit.read_prices(path).notes) == 1  # by the day of this machine


HEAD = "ingredient,price,currency,pack,date,low_price,high_price\n"
GOOD = "flour,20,EUR,25 kg,,,\n"
WRONG = [
    ("butr,5,EUR,1 kg,,,\n", UnknownName, "did you mean"),
    ("=1+1,5,EUR,1 kg,,,\n", UnknownName, r"\(got '=1\+1'\)"),
    ("<script>,5,EUR,1 kg,,,\n", UnknownName, "one the tables know"),
    ("bread flour,5,EUR,1 kg,,,\n", FileError, "row 2 has it already"),
    ("butter,0,EUR,1 kg,,,\n", AmountError, r"'price' must be above 0 EUR \(got 0 EUR\)"),
    ("butter,-5,EUR,1 kg,,,\n", AmountError, "above 0 EUR"),
    ("butter,nan,EUR,1 kg,,,\n", AmountError, "'price' must be a number"),
    ("butter,5 EUR,EUR,1 kg,,,\n", AmountError, "'price' must be a number"),
    ("butter,5,USD,1 kg,,,\n", FileError, "row 2 has EUR; change all into one"),
    ("butter,5,,1 kg,,,\n", AmountError, "'currency' must be a short word or sign"),
    ("butter,5,=1+1,1 kg,,,\n", AmountError, "'currency' must be a short word or sign"),
    ("butter,5,EUR,25,,,\n", UnitError, "'pack' must be an amount with its unit"),
    ("butter,5,EUR,0 kg,,,\n", AmountError, "'pack' must be above 0 g"),
    ("butter,5,EUR,-1 kg,,,\n", AmountError, "an amount of 0 or more"),
    ("butter,5,EUR,1 sack,,,\n", UnitError, "weigh it, or measure it in cup"),
    ("butter,5,EUR,20 x 250,,,\n", UnitError, "'pack' must be an amount with its unit"),
    ("butter,5,EUR,20 x 250 cm,,,\n", UnitError, "a mass, or a measure"),
    ("butter,5,EUR,2.5 x 1 kg,,,\n", AmountError, "a whole number of packs, 1 or more"),
    ("butter,5,EUR,0 x 1 kg,,,\n", AmountError, "a whole number of packs, 1 or more"),
    ("butter,5,EUR,5 x 0 g,,,\n", AmountError, "'pack' must be above 0 g"),
    ("egg,5,EUR,case of 30,,,\n", UnitError, "'pack' must be an amount with its unit"),
    ("butter,5,EUR,12 eggs,,,\n", UnitError, "a mass, or a measure"),
    ("butter,5,EUR,20 degC,,,\n", UnitError, "a mass, or a measure"),
    ("butter,5,EUR,,,,\n", AmountError, "a number, with or without a unit"),
    ("butter,5,EUR,1 kg,last week,,\n", AmountError, "a day of the calendar"),
    ("butter,5,EU", FileError, "'list.csv' must be a whole table .got a broken row 3.*mend that row"),
    ('butter,5,EUR,1 kg,,,"', FileError, "a broken row 3.; mend that row"),
    ("butter,5,50,EUR,1 kg,,,\n", FileError, "put a cell with a comma in quotes"),
]


@pytest.mark.parametrize(("line", "error", "says"), WRONG)
def test_a_wrong_row_is_told_by_file_and_row(tmp_path, line, error, says):
    path = tmp_path / "list.csv"
    path.write_text(HEAD + GOOD + line, encoding="utf-8")
    with pytest.raises(error, match=says) as caught:
        kit.read_prices(path)
    assert isinstance(caught.value, KitError)
    assert str(caught.value).startswith(("list.csv row 3: '", "'list.csv' must be a whole table (got a broken row 3)"))


def test_all_wrong_rows_are_told_at_once(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text(HEAD + GOOD + "butr,5,EUR,1 kg,,,\negg,0,EUR,1 kg,,,\nsalt,1,EUR,1,,,\n", encoding="utf-8")
    with pytest.raises(UnknownName) as caught:
        kit.read_prices(path)
    said = str(caught.value)
    assert said.startswith("list.csv row 3: 'ingredient' must be one the tables know")
    assert ". Row 4: 'price' must be above 0 EUR (got 0 EUR)" in said
    assert ". Row 5: 'pack' must be an amount with its unit" in said


def test_a_price_left_blank_is_none_and_the_cost_says_what_is_missing(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text(HEAD + GOOD + "butter,,EUR,1 kg,,,\nmilk,,,,,,\n", encoding="utf-8")
    prices = kit.read_prices(path)
    assert (len(prices.rows), prices.blank) == (1, ("unsalted butter", "whole milk"))
    assert prices.notes == ("No price yet for unsalted butter and whole milk.",)
    made = kit.cost(Formula.from_weights("bun", {"flour": 100, "milk": 50, "butter": 10}), prices, pieces=10)
    assert "No price for whole milk (" in made.words
    assert made.words.count("at least") == 3
    path.write_text(HEAD + "butr,,EUR,1 kg,,,\n", encoding="utf-8")
    with pytest.raises(UnknownName):
        kit.read_prices(path)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "a list with at least one price"),
        (HEAD, "a list with at least one price"),
        ("ingredient,price,currency\nflour,1,EUR\n", "no pack"),
        ("ingredient,price,price,currency,pack\nflour,1,1,EUR,1 kg\n", "one of them twice"),
        ("ingredient,prise,currency,pack\nflour,1,EUR,1 kg\n", "'column' .*did you mean price"),
    ],
)
def test_a_wrong_table_is_told(tmp_path, text, says):
    path = tmp_path / "list.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match=says):
        kit.read_prices(path)
    with pytest.raises(FileError, match="check its name"):
        kit.read_prices(tmp_path / "none.csv")


@pytest.mark.parametrize("share", [0, 0.88, 101])
def test_usable_share_is_a_percentage(tmp_path, share):
    path = tmp_path / "list.csv"
    path.write_text(f"ingredient,price,currency,pack,usable_percent\negg,5,EUR,1 kg,{share}\n", encoding="utf-8")
    with pytest.raises(AmountError, match="row 2: 'usable_percent' must be 1 to 100 % of the pack"):
        kit.read_prices(path)


REFUSED = [
    (lambda: kit.cost(BUN.vary(butter=[1, 2]), PRICES), FormulaError, "choose one"),
    (lambda: kit.cost(BUN, PRICES, pieces=0), AmountError, "'count' must be"),
    (lambda: kit.cost(BUN, PRICES, pieces=float("nan")), AmountError, "finite"),
    (lambda: kit.cost(BUN, PRICES, flour="10 g"), FormulaError, "enough for one piece of 60 g"),
    (lambda: kit.cost(BUN, PRICES, flour="10 min"), UnitError, "a mass"),
    (lambda: kit.cost(BUN, PRICES, calibration="mine"), AmountError, "'calibration' must be a Calibration"),
    (lambda: kit.cost(BUN, 8), AmountError, "use read_prices"),
    (lambda: kit.cost(BUN, {"butter": -8}), AmountError, "0 per kg or more .got -8"),
    (lambda: kit.cost(BUN, {"butter": float("nan")}), AmountError, "0 per kg or more .got nan"),
    (lambda: kit.cost(BUN, {"buttr": 8}), UnknownName, "did you mean"),
    (lambda: kit.cost(BUN, PRICES).selling_price(100), AmountError, "the goods would be free"),
    (lambda: kit.cost(BUN, PRICES).selling_price(250), AmountError, "less than 100 %"),
    (lambda: kit.cost(BUN, PRICES).selling_price(0.65), AmountError, "write 65 for 65 %"),
    (lambda: kit.cost(BUN, PRICES).selling_price(-1), AmountError, "'margin'"),
    (lambda: kit.cost(BUN, PRICES).against(kit.cost(BUN, {"flour": 1})), AmountError, "one price list"),
    (lambda: kit.cost(BUN, PRICES).page("A3"), AmountError, "A4 or Letter"),
]


@pytest.mark.parametrize(("do", "error", "says"), REFUSED)
def test_what_cannot_be_is_refused(do, error, says):
    with pytest.raises(error, match=says) as caught:
        do()
    assert isinstance(caught.value, KitError)


def test_a_million():
    million = kit.cost(BUN, PRICES, pieces=10**6)
    assert million.total == pytest.approx(10**6 * kit.cost(BUN, PRICES, pieces=7).per_piece)
    assert "1,000,000 pieces" in million.words
    assert (money(1234.5, "EUR"), money(0.004), money(0.0)) == ("1,234.50 EUR", "under 0.01", "0.00")
    assert (money(12.125), money(12.135)) == ("12.13", "12.14")  # halves up, as a till does
    assert (each(1234.5), each(0.19766), each(0.0)) == ("1,234.50", "0.1977", "0.0000")


# on paper


class Text(HTMLParser):
    """Keeps the text and counts scripts."""

    def __init__(self, html):
        super().__init__()
        self.text, self.scripts, self.tables = [], 0, 0
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.scripts += tag == "script"
        self.tables += tag == "table"

    def handle_data(self, data):
        self.text.append(data)


@pytest.mark.parametrize(("paper", "size"), [("A4", "A4"), ("letter", "letter")])
def test_the_page_says_it_all(paper, size):
    made = kit.cost(BUN, PRICES)
    html = made.page(paper)
    read, text = Text(html), " ".join(Text(html).text)
    assert f"size: {size};" in html
    assert "What it costs: Cardamom crackle bun (invented)" in read.text
    assert made.words in text
    for line in made.lines:
        assert line.name in text
    assert "Price list: crackle_bun_prices.csv (invented), prices of 2024-11-04 to 2025-02-10." in text
    assert "50.0 g each, from the table of measures" in text
    assert set(made.sources()) >= {"unsalted butter", "dough dividing"}
    assert "79.00 EUR for 10 kg, 99 % of it usable, 2025-02-10" in made.sources()["unsalted butter"]


def test_names_and_notes_are_text(tmp_path):
    path = tmp_path / "<script>list.csv"
    path.write_text("# <script>\ningredient,price,currency,pack,note\nflour,1,EUR,1 kg,<script>=1+1\n", "utf-8")
    prices = kit.read_prices(path)
    bun = Formula.from_weights("<script>alert(1)</script>", {"flour": 100, "water": 50})
    made = kit.cost(bun, prices)
    change = change_of(bun, bun.vary(water=60), prices)
    shown = (made, prices, change)
    for html in (made.page(), *(each_of._repr_html_() for each_of in shown)):
        assert Text(html).scripts == 0
        assert Text(html).tables >= 1
    assert "What it costs: <script>alert(1)</script>" in Text(made.page()).text


# what no shop asks


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("butter,8,EUR,10 g,", "unsalted butter, row 2: 800.00 EUR per kg, where 0.80 to 40.00 would be usual"),
        ("flour,19,USD,1 g,", "bread flour, row 2: 19,000.00 USD per kg"),
        ("cardamom,0.4,EUR,10 kg,", "ground cardamom, row 2: 0.0400 EUR per kg"),
        ("water,4,EUR,1 g,", "water, row 2: 4,000.00 EUR per kg"),
        ("egg,0.2,EUR,30 dozen large eggs,", "egg, row 2: 0.0111 EUR per kg"),
    ],
)
def test_a_price_absurd_for_its_ingredient_is_doubted(tmp_path, row, said):
    (doubt,) = listed(tmp_path, row).notes
    assert doubt.startswith(said)
    assert doubt.endswith("check the price, the pack and its unit.")
    assert doubt in kit.page.escape(listed(tmp_path, row)._repr_html_())


def test_usual_prices_raise_no_doubt_and_other_currencies_none(tmp_path):
    """usual_prices.csv is in EUR, USD, GBP or CHF, near enough; what a crown is worth no table says."""
    for row in ("flour,0.9", "butter,8", "sugar,1.1", "milk,1", "cardamom,60", "egg,3"):
        assert listed(tmp_path, f"{row},EUR,1 kg,").notes == ()
    assert listed(tmp_path, "butter,90,kr,1 kg,").notes == ()


@pytest.mark.parametrize("pack", ["1 bag", "1 T", "3 t", "1 quarter", "1 pk", "1 sack", "12 carats", "1-2 kg"])
def test_packs_in_units_that_bakers_do_not_write_are_refused(tmp_path, pack):
    with pytest.raises((UnitError, AmountError), match=r"list\.csv row 2: "):
        listed(tmp_path, f"flour,5,EUR,{pack},")
