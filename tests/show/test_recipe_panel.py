"""A recipe brought in by hand: what is shown, asked and mended, and that nothing counts before it is taken.

All recipes are invented. What a line should be read as: tests/formula/test_recipe.py.
"""

import datetime
import io
import re
from pathlib import Path

import ipywidgets as widgets
import openpyxl
import pytest

from kit.formula import Formula
from kit.show.recipe_panel import RecipeDoor

BUN = Path(__file__).parents[2] / "notebooks/formulas/crackle_bun.toml"
PAPER = "4 cups bread flour\n2 eggs\n4 oz unsalted butter\n1 cup whole milk\na knob of lard\nmakes 16"


@pytest.fixture
def taken():
    return []


@pytest.fixture
def door(taken):
    made = RecipeDoor(taken.append)
    made.text.value = PAPER
    made.read()
    return made


def choose(door, question, choice):
    for row in door._rows:
        for control in row.asks.children:
            if isinstance(control, widgets.Dropdown) and control.description.startswith(question):
                control.value = next(value for _, value in control.options if value and value.startswith(choice))
                return
    raise AssertionError(f"{question} is not asked")


def test_a_question_waits_for_its_answer(door):
    asked = [c for row in door._rows for c in row.asks.children if isinstance(c, widgets.Dropdown)]
    assert [(control.label, control.index) for control in asked] == [("choose", 0)] * len(asked)
    assert len(asked) == 2


def shown(door):
    return [re.findall("<span[^>]*>(.*?)</span>", row.said.value) for row in door._rows]


def upload(door, name, raw):
    when = datetime.datetime(2026, 11, 1, tzinfo=datetime.UTC)
    door.upload.value = ({"name": name, "type": "", "size": len(raw), "content": raw, "last_modified": when},)


def test_lines_are_shown_as_written_and_as_read(door):
    assert [cells[0] for cells in shown(door)] == PAPER.split("\n")
    assert shown(door)[2] == ["4 oz unsalted butter", "unsalted butter", "113.4", "", "dough"]
    assert "3 questions open" in door.said.value
    assert "It makes 16 pieces" in door.said.value


def test_one_answer_settles_every_line_that_asks_it(door):
    cups = [row for row in door._rows if "cup" in row.line.written]
    assert [len(row.asks.children) for row in cups] == [1, 0]
    choose(door, "cup", "metric")
    assert [row.line.question for row in cups] == [None, None]
    choose(door, "cup", "US")  # answered anew
    assert cups[0].line.grams == pytest.approx(4 * 137, abs=0.001)


def test_a_line_that_cannot_be_read_is_mended_in_its_place(door):
    knob = next(row for row in door._rows if "knob" in row.line.written)
    text, leave = knob.asks.children
    assert (text.value, leave.description) == ("a knob of lard", "leave it out")
    text.value = "20 g lard"
    assert "20 g lard" in door.text.value
    assert door.recipe.lines[4].grams == 20


def test_nothing_counts_until_it_is_taken(door, taken):
    assert door.take_button.disabled
    door.take()
    assert taken == []
    assert "without an open question" in door.problem.value
    choose(door, "cup", "US")
    choose(door, "egg", "large")
    door._rows[4].asks.children[1].click()
    assert not door.take_button.disabled
    assert taken == []
    door.name.value = "Paper buns"
    door.take_button.click()
    assert [(bun.name, bun.pieces.count) for bun in taken] == [("Paper buns", 16)]
    assert taken[0].of_kind("egg") == pytest.approx(100 * 100 / (4 * 137))
    assert door.problem.value == ""


def test_controls_that_were_there_stay(door):
    before = [row.asks.children for row in door._rows]
    choose(door, "egg", "large")
    assert [row.asks.children for row in door._rows] == before


def test_answers_hold_for_the_same_recipe_and_for_no_other(door):
    choose(door, "egg", "large")
    door.text.value = PAPER.replace("2 eggs", "3 eggs")
    door.read()
    assert door.recipe.lines[1].grams == 150
    door.text.value = "500 g bread flour\n2 eggs"
    door.read()
    assert door.recipe.lines[1].question


def test_files_of_every_kind_come_in(door, taken):
    book = openpyxl.Workbook()
    for row in (["Ingredient", "Amount (g)"], ["bread flour", 500], ["whole milk", 281.125], ["=1+1", 3]):
        book.active.append(row)
    raw = io.BytesIO()
    book.save(raw)
    upload(door, "bun.xlsx", raw.getvalue())
    assert [line.grams for line in door.recipe.lines[1:3]] == [500, 281.125]
    assert door.name.value == "bun"
    upload(door, "bun.csv", 'Zutat;Menge\nbread flour;1,5 kg\n"butter; soft";300 g\n'.encode("cp1252"))
    assert [line.grams for line in door.recipe.lines[1:3]] == [1500, 300]
    upload(door, "bun.txt", b"500 g bread flour\n300 g water")
    door.take()
    assert taken[0].of_kind("water") == 60


def test_the_kits_own_files_come_in_as_they_are(door, taken):
    upload(door, "crackle_bun.toml", BUN.read_bytes())
    door.name.value = "anything"
    door.take()
    bun = Formula.read(BUN)
    upload(door, "sheet.csv", bun.scale(flour=1000).to_frame().to_csv(index=False, float_format="%.6f").encode())
    door.take()
    assert taken[0].fingerprint == bun.fingerprint
    for part in bun.parts:
        assert taken[1].part(part.kind).percentages == pytest.approx(part.percentages)


@pytest.mark.parametrize(("name", "raw"), [("a.toml", b"x = ["), ("a.xlsx", b"PK\x03\x04"), ("a.txt", b"\x00\xff")])
def test_a_file_that_is_none_is_refused_in_words(door, name, raw):
    before = door.recipe
    upload(door, name, raw)
    assert 'role="alert"' in door.problem.value
    assert door.recipe is before


def test_text_of_strangers_stays_text(door):
    door.text.value = "500 g <script>alert(1)</script>\n<img src=x>\n500 g bread flour"
    door.read()
    said = "".join(row.said.value for row in door._rows) + door.said.value
    assert "<script>" not in said
    assert "<img" not in said
    assert "&lt;script&gt;" in said


def test_an_empty_door_says_what_to_do():
    door = RecipeDoor(lambda _: None)
    assert "One ingredient a line" in door.text.placeholder
    door.read()
    assert "No line to read yet" in door.said.value
