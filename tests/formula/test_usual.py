"""Slips of the pen are told, and what a baker may well mean is not."""

import pytest

from kit import places
from kit.errors import FormulaError
from kit.formula import Formula, check_usual, doubts

# usual_ranges.csv: common practice, no source. The slips are those that bakers make: a decimal comma lost, a
# percentage typed as a share.
BUN = {"bread flour": 1000, "milk": 450, "butter": 180, "sugar": 160, "salt": 16, "fresh yeast": 40}


def test_the_demo_formulas_raise_no_doubt():
    files = sorted((places.notebooks() / "formulas").glob("*.toml"))
    assert len(files) >= 3
    assert {file.name: doubts(Formula.read(file)) for file in files} == {file.name: () for file in files}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"salt": 160}, "'salt' must be at most 4 % of flour (got 16 %); usual is 1.2 to 2.2 % of flour"),
        ({"butter": 1.5}, "did you mean 15 %?"),
        ({"fresh yeast": 400}, "'fresh yeast' must be at most 15 % of flour (got 40 %)"),
    ],
    ids=["salt ten times", "butter as a share", "yeast ten times"],
)
def test_a_slip_is_told(change, said):
    assert any(said in text for text in doubts(Formula.from_weights("bun", BUN | change)))


def test_a_file_that_lost_its_end_is_doubted(tmp_path):
    text = (places.notebooks() / "formulas" / "crackle_bun.toml").read_text(encoding="utf-8")
    cut = text.index('"whole milk" = 32')
    file = tmp_path / "cut.toml"
    file.write_text(text[:cut].replace('"whole milk" = 88\n"fresh yeast" = 4\n', ""))
    assert doubts(Formula.read(file)) == ("nothing wet is in the dough: has the file lost its end?",)


def test_no_yeast_is_doubted():
    without = {name: grams for name, grams in BUN.items() if name != "fresh yeast"}
    assert doubts(Formula.from_weights("bun", without)) == ("no yeast is in the dough: has the file lost its end?",)


def test_a_topping_has_its_own_ranges():
    bun = Formula.from_weights("bun", BUN, topping={"plain flour": 100, "icing sugar": 250, "butter": 80})
    assert any("'sugar' must be at most 200 % of the topping's base" in text for text in doubts(bun))


def test_many_are_not_doubted_and_the_table_shows_the_doubt():
    bun = Formula.from_weights("bun", BUN | {"salt": 160})
    assert doubts(bun.vary(butter=[10, 20])) == ()
    assert "Doubtful" in bun._repr_html_()


@pytest.mark.parametrize(("name", "value"), [("butter", 0.15), ("butter", 101), ("salt", 16)])
def test_what_is_typed_is_refused(name, value):
    with pytest.raises(FormulaError, match=f"'{name}' must be"):
        check_usual(name, value)


@pytest.mark.parametrize(("name", "value"), [("butter", 0), ("butter", 88), ("salt", 1.6), ("cardamom pods", 900)])
def test_what_may_be_meant_passes(name, value):
    check_usual(name, value)


def test_a_table_of_a_formula_reads_as_bakers_write_it():
    shown = Formula.read(places.notebooks() / "formulas" / "crackle_bun.toml")._repr_html_()
    assert "core, °C" in shown
    assert "degC" not in shown


def test_more_pieces_than_the_dough_gives_is_said():
    """1,620 g are 23.1 pieces of 70 g, 20.8 after 10 % is lost; two more lie within a tenth, 30 do not."""
    weights = {"flour": 1000, "water": 600, "salt": 20}
    assert "gives" not in Formula.from_weights("bun", weights, makes="makes 25 of 70 g").makes
    many = Formula.from_weights("bun", weights, makes="makes 30 of 70 g")
    assert many.makes.endswith("but the dough gives 23 of 70.0 g: check which is meant.")
    lost = Formula.from_weights("bun", weights, makes="makes 30 of 70 g", losses={"dividing": 10})
    assert "the dough gives 21 of" in lost.makes
