"""Formulas in files: what is written is read again, comments stay, and a part added in code is a file's."""

from dataclasses import replace

import pytest

from kit import Formula, places
from kit.balance import measure
from kit.errors import FormulaError, KitError, UnknownName
from kit.formula import Bake, Step
from kit.formula.files import write

BOOK = places.notebooks() / "formulas" / "crackle_bun.toml"
LEAN = Formula.from_weights("bun", {"bread flour": 1000, "water": 550, "fresh yeast": 20, "salt": 16},
                            makes={"pieces": 20, "piece": "70 g"})  # fmt: skip


def same(one, other):
    """Whether two formulas have the same parts to twelve digits, and make the same pieces."""
    assert [(p.name, p.kind, p.keys, p.base, p.taken_from_total) for p in one.parts] == [
        (p.name, p.kind, p.keys, p.base, p.taken_from_total) for p in other.parts
    ]
    for mine, theirs in zip(one.parts, other.parts, strict=True):
        assert mine.percentages == pytest.approx(theirs.percentages, rel=1e-10)
    assert (one.pieces, one.losses) == (other.pieces, other.losses)
    return True


def test_a_file_that_nobody_changed_is_written_as_it_is():
    text = BOOK.read_text(encoding="utf-8")
    assert write(Formula.read(BOOK)) == text


def test_a_change_touches_its_own_line_alone():
    """Comments, order, spelling and blank lines of all other lines stay; so does the comment on the line itself."""
    bun = Formula.read(BOOK)
    old, new = bun.text.splitlines(), write(bun.vary(egg=20, butter=25)).splitlines()
    changed = [(a, b) for a, b in zip(old, new, strict=True) if a != b]
    assert changed == [
        ("egg = 16 # weigh it: eggs of one class still differ", "egg = 20 # weigh it: eggs of one class still differ"),
        ('"unsalted butter" = 18', '"unsalted butter" = 25'),
    ]


def test_an_amount_stays_in_the_units_it_was_written_in():
    text = BOOK.read_text(encoding="utf-8").replace('dough = "60 g"', 'dough = "2 oz"').replace("= 1.6", '= "1,6 %"')
    bun = Formula.parse(text)
    assert write(bun) == text
    assert 'dough = "2 oz"' in write(bun.vary(butter=25))
    assert 'dough = "61 g"' in write(bun.vary(piece=61))


def test_a_line_that_goes_and_one_that_comes():
    bun = Formula.read(BOOK).vary(cardamom=0, cinnamon=0.6)
    text = write(bun)
    dough = text[text.index("[parts.dough.lines]") : text.index("[parts.topping.lines]")]
    assert "cardamom" not in dough
    assert '"ground cinnamon" = 0.6' in dough
    assert same(Formula.parse(text), bun)


def test_the_dough_is_written_as_the_total_formula_and_a_preferment_on_its_own_flour():
    """By hand: 200 of 1000 g of flour, 200 g of water and 4 g of yeast: 20 % of the flour, 100 and 2 % of its own."""
    bun = LEAN.with_preferment("sponge", 20, {"water": 100, "fresh yeast": 2})
    text = write(bun)
    assert '[parts.sponge]\nkind = "preferment"\nflour = 20\n' in text
    assert '[parts.sponge.lines]\n"bread flour" = 100\nwater = 100\n"fresh yeast" = 2' in text
    assert 'water = 55\n"fresh yeast" = 2' in text
    assert same(Formula.parse(text), bun)


def test_method_bake_and_losses_of_a_formula_made_in_code_are_written():
    steps = (Step("Mix", "dough", ("salt",), speed="first", minutes=4.0), Step("Proof", minutes=50.0, temperature=28.0))
    bun = LEAN.with_parts(LEAN.parts, steps=steps, bake=Bake(190.0, 14.0, 93.0), losses={"baking": 11.0})
    again = Formula.parse(write(bun))
    assert (again.steps, again.bake, again.losses) == (steps, Bake(190.0, 14.0, 93.0), {"baking": 11.0})


@pytest.mark.parametrize("on_top", [True, False])
def test_a_preferment_on_top_survives(on_top):
    text = write(LEAN.with_preferment("sponge", 20, {"water": 100}))
    text = text.replace("flour = 20", f"flour = 20\ntaken_from_total = {str(not on_top).lower()}")
    bun = Formula.parse(text)
    assert bun.of_kind("water") == pytest.approx(75 / 1.2 if on_top else 55)
    assert same(Formula.parse(write(replace(bun, text=""))), bun)


# ---- a part added in code ------------------------------------------------------------------------------------

PARTS = [
    ("wash", {"egg": 85, "milk": 15}, "1 g", 'wash = "1 g"', "[parts.wash.lines]\negg = 85\nmilk = 15"),
    ("filling", {"butter": 60, "sugar": 60, "cinnamon": 5}, "15 g", 'filling = "15 g"',
     "[parts.filling.lines]\nbutter = 60\nsugar = 60\ncinnamon = 5"),
    ("topping", {"plain flour": 100, "sugar": 90, "butter": 80}, "18 g", 'topping = "18 g"',
     '[parts.topping.lines]\n"plain flour" = 100\nsugar = 90\nbutter = 80'),
    ("inclusion", {"raisins": 30}, None, "", "[parts.inclusion.lines]\nraisins = 30"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "lines", "mass", "piece", "table"), PARTS, ids=[case[0] for case in PARTS])
def test_a_part_added_in_code_is_the_part_of_a_file(kind, lines, mass, piece, table):
    made = LEAN.with_part(kind, lines, mass)
    text = write(LEAN).replace('dough = "70 g"', f'dough = "70 g"\n{piece}')
    read = Formula.parse(f"{text}\n{table}\n")
    assert same(made, read)
    assert same(Formula.parse(write(made)), made)
    assert made.fingerprint == read.fingerprint != LEAN.fingerprint
    assert not LEAN.has(kind)


def test_a_part_may_have_its_own_name_and_base():
    seeds = LEAN.with_part("topping", {"sesame": 2, "honey": 1}, "6 g", "seeds", "mass")
    assert seeds.part("seeds").percentages == pytest.approx((200 / 3, 100 / 3))
    cocoa = LEAN.with_part("topping", {"plain flour": 80, "cocoa": 20, "sugar": 90}, base=["flour", "cocoa"])
    assert cocoa.part("topping").percentages == (80, 20, 90)
    assert same(Formula.parse(write(cocoa)), cocoa)


def test_a_second_preferment_and_a_second_topping():
    two = LEAN.with_preferment("sponge", 20, {"water": 100}).with_preferment("poolish", 10, {"water": 110})
    assert [part.name for part in two.bowls] == ["sponge", "poolish", "dough"]
    assert measure(two, "total_hydration") == pytest.approx(measure(LEAN, "total_hydration"))
    assert same(Formula.parse(write(two)), two)
    more = LEAN.with_part("topping", {"sugar": 1}, "10 g").with_part("topping", {"sesame": 1}, name="seeds")
    assert (more.pieces.topping, [p.name for p in more.parts if p.kind == "topping"]) == (10, ["topping", "seeds"])


@pytest.mark.parametrize(
    ("act", "error", "says"),
    [
        (lambda: LEAN.with_part("wasch", {"egg": 1}), UnknownName, "did you mean wash"),
        (lambda: LEAN.with_part("preferment", {"flour": 1}), UnknownName, "with_preferment"),
        (lambda: LEAN.with_part("wash", {}), FormulaError, "'wash' must be a part with ingredients"),
        (lambda: LEAN.with_part("wash", {"egg": 1, "eggs": 2}), FormulaError, "each ingredient once (got 'eggs' again"),
        (lambda: LEAN.with_part("inclusion", {"raisins": 1}, "3 g"), FormulaError, "'inclusion mass' must be left out"),
        (lambda: LEAN.with_part("topping", {"plain flour": 90}), FormulaError, "'topping flour' must be 100 %"),
        (lambda: LEAN.with_part("wash", {"egg": 1}, base="eg"), UnknownName, "did you mean egg"),
        (lambda: LEAN.with_part("wash", {"egg": 1}).with_part("wash", {"milk": 1}), FormulaError, "two called 'wash'"),
        (lambda: LEAN.vary(wash={"egg": 85}), UnknownName, "add a new one with with_part"),
    ],
)  # fmt: skip
def test_a_part_that_cannot_be(act, error, says):
    with pytest.raises(KitError) as caught:
        act()
    assert type(caught.value) is error
    assert says in str(caught.value)
