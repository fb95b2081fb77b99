"""Formulas in files: what is written is read again, comments stay, and a part added in code is a file's."""

import pytest

from kit import Formula, places
from kit.balance import measure
from kit.formula import Bake, Step
from kit.formula.files import write

BOOK = places.notebooks() / "formulas" / "crackle_bun.toml"
LEAN = Formula.from_weights("bun", {"bread flour": 1000, "water": 550, "fresh yeast": 20, "salt": 16},
                            makes={"pieces": 20, "piece": "70 g"})  # fmt: skip


def same(one, other):
    """Whether two formulas have the same parts to twelve digits, and make the same pieces."""
    assert [(p.name, p.kind, p.keys, p.base) for p in one.parts] == [
        (p.name, p.kind, p.keys, p.base) for p in other.parts
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
    bun = LEAN.with_parts(LEAN.parts, steps=steps, bake=Bake(190.0, 14.0, 93.0, "5 s"), losses={"baking": 11.0})
    again = Formula.parse(write(bun))
    assert (again.steps, again.bake, again.losses) == (steps, Bake(190.0, 14.0, 93.0, "5 s"), {"baking": 11.0})


def test_a_second_preferment():
    two = LEAN.with_preferment("sponge", 20, {"water": 100}).with_preferment("poolish", 10, {"water": 110})
    assert [part.name for part in two.bowls] == ["sponge", "poolish", "dough"]
    assert measure(two, "total_hydration") == pytest.approx(measure(LEAN, "total_hydration"))
    assert same(Formula.parse(write(two)), two)
