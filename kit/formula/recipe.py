"""A recipe as it stands on paper, read line by line: what is in doubt is asked, what can't be read stays as written.

A wrong reading costs more than a question. So a line is read only where every word of it is known, from
ingredients.csv, units.csv and recipe_words.csv; whatever stands beside them is asked about.
"""

import contextlib
import itertools
import re
from dataclasses import dataclass, field, replace
from pathlib import Path

from ..errors import FormulaError, KitError, must
from ..files import csv_rows, from_cell
from ..tables import Ingredients
from ..tables import ingredients as kit_ingredients
from ..units import read
from ..words import figure, listing, plain, plural
from . import spreadsheets
from .amounts import Weighed
from .makes import without_pieces
from .parts import Bake, make_up
from .reading import KEEP as KEEP
from .reading import LEAVE as LEAVE
from .reading import TOTAL, Reading, Row, on_one_flour
from .usual import check_bake
from .wording import BRACKETS, FRACTION, part_kind, words_of

MOST = 2_000  # lines of a recipe
_WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")  # as they begin
_OVEN = re.compile(r"\b(?:bake|oven|baking|backen)\b(.*)", re.I | re.S)


@dataclass(frozen=True, eq=False)
class Recipe:
    """A recipe as it was read: its lines, what it makes, what is still asked; a formula once nothing is.

    lines: all of them, in order, one that names two ingredients twice; ingredients: those they name, with what was kept
    unknown; pieces: what is said of them, {count, and dough, topping, filling or wash [g]}.
    """

    rows: tuple = field(repr=False)
    answers: dict = field(repr=False)
    name: str
    kitchen: Ingredients = field(repr=False)
    lines: tuple = field(repr=False)
    ingredients: Ingredients = field(repr=False)
    pieces: dict

    @staticmethod
    def of(rows, answers, name, kitchen):
        """Return the Recipe of rows; answers {what was asked, folded for comparison: the choice}."""
        found = Reading(rows, answers, kitchen)
        return Recipe(tuple(rows), answers, name, kitchen, tuple(found.lines), found.ingredients, found.said)

    @property
    def title(self):
        """Its first line without what stands in brackets, when that names no ingredient; else what it was called."""
        written = next((line.written for line in self.lines if line.what == "title"), self.name)
        named = " ".join(BRACKETS.sub("", written).split()).strip(" ,;:|#*")
        return without_pieces(named).strip(" ,;:|#*") or self.name

    @property
    def open(self):
        """The lines that are still asked about."""
        return tuple(line for line in self.lines if line.question)

    @property
    def questions(self):
        """How many questions are open: one answer holds wherever that is asked."""
        return len({plain(line.question.about) for line in self.open})

    @property
    def has_flour(self):
        """Whether a line of it is plainly flour, or a table's: a list of prices, or a note, is no recipe."""
        flours = {row.name for row in self.ingredients.rows if row.kind == "flour"}
        return any(
            self.rows[line.row].unit
            or (line.key and self.ingredients[line.key].kind == "flour")
            or (line.question and line.question.about != line.written and flours & {*line.question.choices})
            for line in self.lines
        )

    @property
    def notes(self):
        """The lines of its method, and whatever else is neither weighed nor counted."""
        return tuple(line.written.strip() for line in self.lines if line.what in ("method", "note") and line.written)

    @property
    def bake(self):
        """The Bake that its method tells plainly, in a sentence with one temperature and one time, and no range."""
        steps = [line.written for line in self.lines if line.what in ("method", "makes")]
        for text in (text for step in steps for text in re.split(r"[.;](?:\s|$)", step) if _OVEN.search(text)):
            said = re.findall(r"(\d+)\s*(?:°|deg)?\s*([CF])\b", text)
            degrees = [read(f"{number} deg{unit}", "temperature") for number, unit in said]
            after = _OVEN.search(text)[1]  # what stands before is of another step
            minutes = re.findall(r"(?<![-–\d])(?<!to )\b(\d+)\s*(?:mins?|minutes)\b", after, re.I)
            ranged = re.search(r"\d\s*(?:°\s*[CF]?)?\s*(?:-|–|to)\s*\d+\s*°", text)
            if degrees and max(degrees) - min(degrees) < 6 and not ranged:
                with contextlib.suppress(KitError):
                    made = Bake(degrees[0], float(minutes[0]) if len(minutes) == 1 else None)
                    check_bake(made)
                    return made
        return Bake()

    @property
    def words(self):
        """What was assumed of its lines, in one line."""
        taken = dict.fromkeys(words for line in self.lines if not line.question for words in line.taken)
        return f"Taken: {'; '.join(taken)}." if taken else ""

    def answer(self, question, choice):
        """Return the Recipe with a question answered, or answered anew, wherever it is asked. Raises UnknownName."""
        answers = self.answers | {plain(question.about): question.choice(choice)}
        return Recipe.of(self.rows, answers, self.name, self.kitchen)

    def mend(self, line, text):
        """Return the Recipe with a line written anew."""
        row, text = self.rows[line.row], str(text)
        if row.written == row.text:  # of a line that names two, the other stays
            text = row.text.replace(line.written.strip(), text, 1)
        rows = list(self.rows)
        rows[line.row] = Row(text, text, row.part, row.unit)
        return Recipe.of(rows, self.answers, self.name, self.kitchen)

    def percentage(self, line):
        """Return a line's % of all flour in the dough, elsewhere of its own part; None while it is asked."""
        same = on_one_flour(self.lines, line)
        flour = self.ingredients.total([(other.key, other.grams) for other in same if other.key], "flour")
        asked = any(other.question for other in same)
        return None if asked or not (flour and line.key) else 100 * line.grams / flour

    def formula(self, name=None):
        """Return the Formula once nothing is asked; name, else the recipe's title. Raises FormulaError, UnknownName."""
        from .formula import of_bowls

        if self.open:
            asked = [f"{line.written.strip()!r}: {line.question.words}" for line in self.open]
            got = f"{plural(len(asked), 'line')} in doubt"
            raise FormulaError(must(self.title, "a recipe without an open question", got, "; ".join(asked)))
        bowls = {}  # the preferments first
        for line in sorted(self.lines, key=lambda line: ("preferment", "dough", line.kind).index(line.kind)):
            if line.key:
                _, bowl = bowls.setdefault("dough" if line.kind == "dough" else line.part, (line.kind, {}))
                bowl[line.key] = Weighed(line.grams, line.how, " each, from " in line.how) + bowl.get(line.key)
        if "dough" not in bowls:
            raise FormulaError(must("dough", "among the parts", listing(bowls) or "nothing", "write 'Dough' above it"))
        percentages = any(line.key and line.unit == "%" for line in self.lines)
        makes = make_up(self.pieces) if percentages else self.pieces  # percentages tell no batch
        formula = of_bowls(name or self.title, bowls, self.ingredients, {}, makes, {})
        return replace(formula, bake=self.bake, about=" ".join(filter(None, (self.words, *self.notes))))

    def cells(self, line):
        """Return a line as read, in words: what it is, grams, % of flour; blank where it says none."""
        share = self.percentage(line)
        read_as = self.ingredients[line.key].name if line.key else line.what
        grams = figure(line.grams) if line.key and line.unit == "g" else ""
        return read_as, grams, "" if share is None else figure(share, 2)


def read_recipe(text, answers=None, name="recipe", kitchen=None):
    """Return the Recipe in text as it stands on paper, or as cells copied from a spreadsheet.

    answers {what a question is about: its choice, or how that begins}; name, where it has no title; kitchen
    [Ingredients]. Raises FormulaError for what is no text, or far longer than a recipe.

    >>> recipe = read_recipe("500 g bread flour, sifted\\n2 eggs\\n4 oz (113 g) soft butter\\nmakes 16")
    >>> recipe.lines[2].key, recipe.lines[2].grams, recipe.pieces
    ('butter_unsalted', 113.0, {'count': 16})
    >>> recipe.open[0].question.words
    'egg: which size?'
    >>> recipe.answer(recipe.open[0].question, "medium").formula("bun").of_kind("egg")
    17.6
    """
    if not isinstance(text, str):
        raise FormulaError(must("recipe", "text", type(text).__name__, "give its lines as one text"))
    lines = [line.replace("\xa0", " ") for line in re.split("\r\n|[\n\r\x0b\x0c\x85\u2028\u2029]", text)]
    return _recipe(_table(_one(lines)), answers, name, kitchen or kit_ingredients())


def read_file(name, raw, answers=None, sheet=None, house_ingredients=None):
    """Return the Recipe in a file: a workbook's sheet of ingredients and amounts, else its first; or text of any kind.

    name [with its ending]; raw [its bytes]; answers as in `read_recipe`; sheet [of a workbook]; house_ingredients
    [CSV]. Raises FileError, FormulaError.
    """
    path = Path(name)
    kitchen = kit_ingredients().with_house(house_ingredients) if house_ingredients else kit_ingredients()
    if raw[:4] not in _WORKBOOKS and path.suffix.casefold() not in (".xlsx", ".xlsm"):
        return read_recipe(spreadsheets.decoded(path, raw), answers, path.stem, kitchen)
    found = []
    for cells in spreadsheets.sheets_of(path, raw, sheet).values():
        lines = [" ".join(spreadsheets.in_full(cell) for cell in row if cell is not None) for row in _one(cells)]
        if rows := _below_headings(list(zip(lines, cells, strict=True))):
            return _recipe(rows, answers, path.stem, kitchen)
        found = found or [Row(line, line) for line in lines]
    return _recipe(found, answers, path.stem, kitchen)


def _recipe(rows, answers, name, kitchen):
    return Recipe.of(rows, {plain(about): choice for about, choice in (answers or {}).items()}, name, kitchen)


def _one(lines):
    """Return the lines of one recipe. Raises FormulaError for far more."""
    if len(lines) > MOST:
        raise FormulaError(must("recipe", f"at most {MOST:,} lines", f"{len(lines):,}", "give one recipe alone"))
    return lines


def _table(lines):
    """Return the rows of lines, which may be cells copied from a spreadsheet."""
    if rows := _in_columns(lines):
        return rows
    for mark in "\t;|,":
        if rows := _below_headings(list(_parted(lines, mark))):
            return rows
        marks = {line.count(mark) for line in lines if line.strip()}
        if len(marks) == 1 and marks != {0} and (mark != "," or not re.search(r"\d,\d|, ", "".join(lines))):
            return [Row(line, line.replace(mark, " ")) for line in lines]
    return [Row(line, line) for line in lines]


def _in_columns(lines):
    """Return the rows of lines below heads such as "SPONGE  DOUGH  CRUST", part by part, or "%  g", else None."""
    parted = [re.split(r"\s{2,}|\t", line.strip()) for line in lines]
    for top, heads in enumerate(parted):
        parts = list(itertools.takewhile(part_kind, reversed(heads)))[::-1]
        known = [words_of("column").get(plain(head)) for head in heads]
        many = len(parts) if len(parts) > 1 else len(heads) if all(known) else 0
        below = {n: cells for n, cells in enumerate(parted) if n > top and many and _of_columns(cells, many)}
        if not below:
            continue
        rows = [Row(line, "" if n == top else line) for n, line in enumerate(lines)]
        if len(parts) < 2:
            heads_of = enumerate(zip(known, heads, strict=True), 1)
            _, column, unit = max((row.means == "amount", n, head) for n, (row, head) in heads_of)
            for n, cells in below.items():
                rows[n] = _row(lines[n], "", cells[0], cells[column], unit)
            return rows
        unit = "g" * bool(re.search(r"\b(?:g|grams?)\b", lines[top], re.I))
        moved = [
            _row(lines[n], part, cells[0], cells[column], unit, unit)
            for column, part in enumerate(parts, 1)
            for n, cells in below.items()
            if not re.fullmatch("[-–—]", cells[column])
        ]
        return [*rows[: top + 1], *moved, *(row for n, row in enumerate(rows) if n > top and n not in below)]
    return None


def _of_columns(row, many):
    """Return whether a row is a name and a number or a dash for each of so many columns."""
    return len(row) == many + 1 and all(re.fullmatch(r"[\d.,]+|[-–—]?", cell) for cell in row[1:])


def _row(line, part, name, amount, unit, table="g"):
    """Return the Row of a table's cells; a total stands in a part of its own, a remark is not read."""
    much = f"{amount} {unit}".strip() if amount else ""
    text = f"{much} {name}".strip() if name or re.search(r"\d", much) else ""
    return Row(line, text, name if TOTAL.fullmatch(plain(name)) else part, table, name, much)


def _parted(lines, mark):
    """Yield (the lines that a row takes, its cells) of lines as a spreadsheet writes them."""
    begun = 0
    with contextlib.suppress(KitError):  # a cell far too long: no table
        for end, row in csv_rows("recipe", "\n".join([*lines, ""]), mark):
            yield " ".join(lines[begun:end]), [" ".join(cell.split()) or None for cell in row[: spreadsheets.WIDE]]
            begun = end


def _below_headings(parted):
    """Return the rows of lines and their cells in columns of ingredients and amounts, else None."""
    found = spreadsheets.header([cells for _, cells in parted])
    if not found:
        return None
    below, columns = found
    rows = [Row(line, " ".join(str(cell) for cell in row if cell)) for line, row in parted]
    rows[below - 1] = Row(parted[below - 1][0], "")
    for n, (line, row) in enumerate(parted[below:], below):
        at = {column: row[place] for column, place in columns.items() if column != "of amount" and place < len(row)}
        for column in ("ingredient", "amount"):  # what is merged over several lines is said once
            at[column] = None if isinstance(at.get(column), spreadsheets.Above) else at.get(column)
        part, ingredient, amount_, unit = (
            from_cell(spreadsheets.in_full(at[column])) if at.get(column) is not None else ""
            for column in ("part", "ingredient", "amount", "unit")
        )
        if not unit and re.fullmatch(rf"[\d.,'/ {FRACTION}]+", amount_):
            unit = columns.get("of amount") or ""
        rows[n] = _row(line, part, ingredient, amount_, unit)
        if amount_.startswith(("=", "#")) and not TOTAL.fullmatch(plain(ingredient)):
            do = "open the sheet in a spreadsheet program and save it with its values"
            raise FormulaError(must(ingredient or "amount", "an amount with its value", repr(rows[n].amount), do))
    return rows
