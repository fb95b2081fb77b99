"""The shelf of formulas and the one at hand: what lies there, in which order, and what a broken mark does.

The order, the words and the demo are the kit's own: checked against files made here and their dates.
"""

import os
import shutil
import time

import openpyxl
import pytest

import kit
from kit import places
from kit.errors import FileError
from kit.formula import put_at_hand, shelf
from kit.formula.shelf import DEMO, INSTEAD, MARK, formulas_folder

SOURCE = places.notebooks() / "formulas" / DEMO


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.delenv(INSTEAD, raising=False)
    shutil.copy(SOURCE, tmp_path)
    return tmp_path


def keep(formula, name, day, **changes):
    """A variant kept on a day of March 2025."""
    kept = formula.vary(**changes).keep(name)
    os.utime(kept.path, (noon(day),) * 2)
    return kept


def noon(day):
    return time.mktime((2025, 3, day, 12, 0, 0, 0, 0, -1))


def test_variants_lie_under_their_parents_newest_first_with_piece_and_date(folder):
    bun = kit.Formula.read(folder / DEMO)
    os.utime(bun.path, (noon(1),) * 2)
    rich = keep(bun, "Rich bun", 3, butter=25)
    keep(bun, "Sweet bun", 4, sugar=20)
    keep(rich, "Richest bun", 9, butter=30)
    other = keep(bun, "Other bun", 5)
    other.path.write_text(other.path.read_text("utf-8").replace(DEMO, "gone.toml"), "utf-8")
    os.utime(other.path, (noon(5),) * 2)
    assert [row.words for row in shelf(folder).rows] == [
        "Cardamom crackle bun, 60 g, 1 Mar 2025",
        "– Rich bun, 60 g, 3 Mar 2025",
        "– – Richest bun, 60 g, 9 Mar 2025",
        "– Sweet bun, 60 g, 4 Mar 2025",
        "Other bun, 60 g, 5 Mar 2025",
    ]


def test_parents_in_a_circle_are_all_listed(folder):
    bun = kit.Formula.read(folder / DEMO)
    one = keep(bun, "One", 2)
    two = keep(one, "Two", 3)
    keep(two, "Three", 4)
    one.path.write_text(one.path.read_text("utf-8").replace(DEMO, "two.toml"), "utf-8")
    assert sorted(row.formula.name for row in shelf(folder).rows) == ["Cardamom crackle bun", "One", "Three", "Two"]


def test_what_cannot_be_read_is_told_and_the_rest_listed(folder):
    (folder / "torn.toml").write_text("format = 1\nname = ", "utf-8")
    (folder / "prices.csv").write_text("item,price\n", "utf-8")
    found = shelf(folder)
    assert [row.formula.name for row in found.rows] == ["Cardamom crackle bun"]
    (note,) = found.notes
    assert note.startswith("torn.toml is left out: 'torn.toml' must be a whole TOML file")


def test_recipes_in_spreadsheets_and_text_lie_there_too_and_lists_of_prices_do_not(folder):
    book = openpyxl.Workbook()
    for row in (["ingredient", "g"], ["bread flour", 1000], ["milk", 500], ["butter", 180]):
        book.active.append(row)
    book.save(folder / "bun.xlsx")
    (folder / "bun.csv").write_text("ingredient,g\nbread flour,1000\nmilk,500\nbutter,180\n", "utf-8")
    (folder / "paper.txt").write_text("Poppy knots\n1 kg flour\n3 eggs\n500 g milk\n2 eggs\n", "utf-8")
    (folder / "empty.txt").write_text("Call the mill about the flour\n", "utf-8")
    (folder / "~$bun.xlsx").write_bytes(b"a spreadsheet program's own")
    shutil.copy(SOURCE.with_name("crackle_bun_prices.csv"), folder)
    found = shelf(folder)
    assert found.notes == ()
    read = {row.path.name: row for row in found.rows}
    assert sorted(read) == ["bun.csv", "bun.xlsx", DEMO, "paper.txt"]
    for name in ("bun.csv", "bun.xlsx"):
        assert read[name].formula.of_kind("butter") == pytest.approx(18)
        assert read[name].formula.path == folder / name
    asks = read["paper.txt"]
    assert (asks.formula, asks.name, asks.recipe.questions) == (None, "Poppy knots", 2)  # which flour, which size
    assert asks.words.startswith("Poppy knots, 2 questions, ")
    assert len(found.rows) == 4
    kit.formula.put_at_hand(read["bun.csv"].formula)
    assert kit.at_hand(folder).path == folder / "bun.csv"


def test_a_file_changed_meanwhile_is_read_anew(folder):
    assert shelf(folder).rows[0].formula.of_kind("butter") == 18
    kit.Formula.read(folder / DEMO).vary(butter=21).save()
    assert shelf(folder).rows[0].formula.of_kind("butter") == 21


def test_a_name_is_found_whatever_its_case(folder):
    assert shelf(folder).named_like(" cardamom CRACKLE bun").path == folder / DEMO
    assert shelf(folder).named_like("cardamom") is None


def test_an_empty_shelf(tmp_path):
    assert (shelf(tmp_path).rows, shelf(tmp_path / "none").rows) == ((), ())


# at hand


def test_the_demo_is_at_hand_until_one_is_chosen(folder, capsys):
    assert kit.at_hand(folder).path == folder / DEMO
    rich = kit.Formula.read(folder / DEMO).vary(butter=25).keep("Rich bun")
    put_at_hand(rich)
    assert kit.at_hand(folder).name == "Rich bun"
    put_at_hand(kit.Formula.read(folder / DEMO))  # chosen again, over the mark of before
    assert kit.at_hand(folder).path == folder / DEMO
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize("mark", ["gone.toml", "torn.toml", "../crackle_bun.toml", "\x00", "a\nb"])
def test_a_broken_mark_is_told_and_the_demo_taken(folder, capsys, mark):
    (folder / "torn.toml").write_text("format = 1\nname = ", "utf-8")
    (folder / MARK).write_text(mark, "utf-8")
    assert kit.at_hand(folder).path == folder / DEMO
    assert capsys.readouterr().out.startswith("The formula at hand cannot be opened, so this is the demo: '")


def test_a_mark_of_no_letters_is_none(folder, capsys):
    (folder / MARK).write_bytes(b"\xff\xfe\n")
    assert kit.at_hand(folder).path == folder / DEMO


def test_pages_and_tests_name_what_is_at_hand(folder, monkeypatch):
    put_at_hand(kit.Formula.read(folder / DEMO).vary(butter=25).keep("Rich bun"))
    monkeypatch.setenv(INSTEAD, DEMO)
    assert kit.at_hand(folder).path == folder / DEMO


def test_only_what_lies_in_a_file_can_be_at_hand():
    with pytest.raises(FileError, match="'formula at hand' must be kept in a file"):
        put_at_hand(kit.Formula.from_weights("bun", {"bread flour": 1000, "water": 600}))


def test_the_folder_is_beside_the_notebook_or_above_it(tmp_path, monkeypatch):
    (tmp_path / "formulas").mkdir()
    (tmp_path / "generated" / "deeper").mkdir(parents=True)
    for place in (tmp_path, tmp_path / "generated", tmp_path / "generated" / "deeper"):
        monkeypatch.chdir(place)
        assert formulas_folder() == tmp_path / "formulas"
    monkeypatch.chdir(tmp_path / "formulas")
    assert formulas_folder() == tmp_path / "formulas"


def test_git_leaves_the_mark_out():
    ignored = (places.notebooks().parent / ".gitignore").read_text("utf-8").splitlines()
    assert MARK in ignored
