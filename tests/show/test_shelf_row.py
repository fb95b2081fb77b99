"""The row atop a panel: choosing, keeping, what another notebook did, and a recipe that was brought in."""

import html
import re
import shutil
import time

import pytest

from kit import Formula, at_hand, places, show
from kit.formula import put_at_hand
from kit.show.shelf_row import ShelfRow
from kit.show.still import still

SOURCE = places.notebooks() / "formulas" / "crackle_bun.toml"


@pytest.fixture
def bun(tmp_path, monkeypatch):
    monkeypatch.delenv("KIT_AT_HAND", raising=False)
    return Formula.read(shutil.copy(SOURCE, tmp_path))


@pytest.fixture
def taken():
    return []


@pytest.fixture
def row(bun, taken):
    return ShelfRow(bun, taken.append, lambda: (bun.vary(butter=22), "Bun, butter 22"))


def said(row):
    return html.unescape(re.sub(r"<[^>]*>", "", row.said.value))


def names(row):
    return [re.sub(", .*", "", words) for words, _ in row.choice.options]


def test_the_formula_shown_is_chosen_in_the_list(row, bun, taken):
    assert names(row) == ["Cardamom crackle bun"]
    assert row.choice.value == bun.path
    assert taken == []


def test_one_not_in_a_file_stands_first(bun, taken):
    row = ShelfRow(bun.vary(butter=30), taken.append)
    assert row.choice.label == "Cardamom crackle bun, 60 g, not in a file"  # it is not as its file has it
    other = Formula.from_weights("typed", {"flour": 100, "water": 60}, makes={"piece": "60 g"})
    row = ShelfRow(other, taken.append, folder=bun.path.parent)
    assert row.choice.options[0] == ("typed, 60 g, not in a file", "")
    assert row.choice.value == ""


def test_what_is_chosen_is_at_hand_everywhere(row, bun, taken, tmp_path):
    rich = bun.vary(butter=30).keep("Rich bun")
    row.look()
    row.choice.value = rich.path
    assert [formula.name for formula in taken] == ["Rich bun"]
    assert at_hand(tmp_path).name == "Rich bun"
    assert row.formula.of_kind("butter") == 30


def test_what_was_kept_in_another_notebook_is_in_the_list_at_the_next_move(row, bun):
    bun.vary(butter=30).keep("Rich bun")
    assert names(row) == ["Cardamom crackle bun"]
    row.look()
    assert names(row) == ["Cardamom crackle bun", "– Rich bun"]
    assert said(row) == ""


def test_a_file_that_cannot_be_read_is_told(row, tmp_path):
    (tmp_path / "torn.toml").write_text("format = 1\nname = ", "utf-8")
    assert row.unread.value == ""
    row.look()
    assert "torn.toml is left out: &#x27;torn.toml&#x27; must be a whole TOML file" in row.unread.value
    (tmp_path / "torn.toml").unlink()
    row.look()
    assert row.unread.value == ""


def test_a_formula_put_at_hand_in_another_notebook_is_said_once(row, bun, taken):
    rich = bun.vary(butter=30).keep("Rich bun")
    put_at_hand(rich)
    row.look()
    assert said(row) == "Rich bun is at hand now, chosen in another notebook; this panel goes on as it is."
    assert (taken, row.choice.value) == ([], bun.path)
    row.say("")
    row.look()
    assert said(row) == ""


def test_the_same_name_again_asks(row, tmp_path):
    row.name.value = "Rich bun"
    assert row.keep().name == "Rich bun"
    assert row.name.value == ""
    row.name.value = "rich bun"
    assert row.keep() is None
    assert said(row) == "rich bun is in the list already: Enter once more keeps this as rich bun 2."
    assert len(list(tmp_path.glob("*.toml"))) == 2
    assert row.keep().name == "rich bun 2"
    assert row.keep().name == "Bun, butter 22"  # none written
    assert row.keep() is None


def test_asked_of_one_name_another_is_kept_at_once(row):
    row.keep()
    assert row.keep() is None
    row.name.value = "Other"
    assert row.keep().name == "Other"


def test_enter_keeps_and_leaving_the_box_does_not(row, tmp_path):
    row.name.value = "Rich bun"
    assert len(list(tmp_path.glob("*.toml"))) == 1
    row.name.children[1]._msg_callbacks(row.name.children[1], {"text": "Richer bun"}, [])  # more than had travelled
    assert (tmp_path / "richer_bun.toml").exists()
    assert len(list(tmp_path.glob("*.toml"))) == 2


def test_a_recipe_brought_in_is_kept_shown_and_at_hand(row, taken, tmp_path):
    brought = Formula.from_weights("Grandmother's bun", {"flour": 1000, "milk": 500, "egg": "2 large eggs"})
    row.accept(brought)
    assert [formula.name for formula in taken] == ["Grandmother's bun"]
    assert at_hand(tmp_path).name == "Grandmother's bun"
    assert said(row) == "Grandmother's bun is kept, in the list above, and at hand in every notebook."
    assert "Grandmother's bun" in names(row)


def test_a_recipe_in_the_folder_that_asks_something_opens_with_its_questions(row, bun, taken, tmp_path):
    (tmp_path / "paper.txt").write_text("Poppy knots\n1 kg flour\n500 g milk\n20 g salt\n", "utf-8")
    row.look()
    row.choice.value = tmp_path / "paper.txt"
    assert said(row) == "Poppy knots asks something first: answer at the marked lines, then take it."
    assert (taken, row.choice.value, row.bring.value) == ([], bun.path, True)
    door = row.door.children[0]
    (asked,) = door.recipe.open
    door.answer(asked.question, "bread flour")
    door.take()
    assert [formula.name for formula in taken] == ["Poppy knots"]
    assert at_hand(tmp_path).name == "Poppy knots"
    assert row.choice.label.startswith("Poppy knots, ")
    assert "question" not in row.choice.label


def test_a_saved_page_shows_no_date_of_a_file(row):
    assert str(time.localtime().tm_year) in row.choice.label
    assert "Cardamom crackle bun, 60 g</span>" in still(row)


def test_a_chosen_file_that_is_gone_is_said(row, bun, tmp_path):
    rich = bun.vary(butter=30).keep("Rich bun")
    row.look()
    shutil.rmtree(tmp_path)
    row.choice.value = rich.path
    assert 'role="alert"' in row.said.value
    assert "must be in a folder that can be written" in said(row)


def test_each_panel_of_a_formula_has_the_row_and_goes_on_with_what_is_chosen(bun, tmp_path):
    shutil.copy(SOURCE.with_name("crackle_bun_cocoa.toml"), tmp_path)
    foresee = (show.WaterPanel, show.RisePanel, show.ToppingPanel, show.DayPanel)
    for make in (*foresee, show.SolvePanel, show.SubstitutePanel, show.HandoverPanel, show.FormulaPanel):
        panel = make(bun)
        row, old = panel.children[0], [panel._live, *(dial.slider for dial in panel.dials.values())]
        assert isinstance(row, ShelfRow)
        assert "Contains wheat, milk and egg. Local codes" in panel.children[-1].value
        row.choice.value = tmp_path / "crackle_bun_cocoa.toml"
        assert panel.formula.name == "Cardamom crackle bun, cocoa crust"
        assert panel.children[0] is row
        assert row.comm is not None
        assert [widget.comm for widget in old] == [None] * len(old)  # closed, here and in the page
        assert panel._live.value


def test_a_panel_that_cannot_show_a_formula_says_so_and_stays(bun, tmp_path):
    """Without a preferment, yeast or topping there is no disc to fit."""
    plain = Formula.from_weights("plain", {"flour": 1000, "water": 550}, makes={"piece": "60 g"}).keep(
        "Plain", tmp_path
    )
    panel = show.ToppingPanel(bun)
    panel.row.choice.value = plain.path
    assert "'topping' must be a part of the formula" in said(panel.row)
    assert panel.formula.name == bun.name
    assert panel.row.choice.value == bun.path
    panel.dials["piece"].slider.value = 65.0
    assert panel.result.piece == 65
    assert panel._problem.value == ""
