"""A recipe as it stands on paper, read line by line: what is in doubt is asked, what can't be read stays as written.

A wrong reading costs more than a question. So a line is read only where every word of it is known, from
ingredients.csv, units.csv and recipe_words.csv; whatever stands beside them is asked about.
"""

import contextlib
import csv
import difflib
import functools
import itertools
import re
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import NamedTuple

from .. import page
from ..errors import AmountError, FormulaError, KitError, UnitError, must
from ..files import from_cell
from ..tables import Ingredients, table
from ..tables import ingredients as kit_ingredients
from ..units import amount, number, read
from ..words import figure, listing, one_of, plain, plural, without_zeros
from . import spreadsheets
from .amounts import weigh
from .makes import pieces_in, without_pieces
from .parts import MIXED, Bake, make_up
from .usual import check_bake

LEAVE = "leave it out"
KEEP = "keep it, what is in it unknown"
MOST, TEXT = 2_000, 300  # lines of a recipe, characters of a line
# how far two amounts of a line may lie apart and still say one thing: masses, up to 60 g ounces of 25 or 30 g, others
NEAR_MASS, NEAR_OUNCE, SMALL, NEAR = 0.04, 0.15, 60, 0.3
NEAR_COOKED = 0.15  # what boils off
FAR = 0.1  # how far pieces of a mass may lie from what is mixed before it is asked which holds

_FRACTION = "½¼¾⅓⅔⅛⅜⅝⅞⅕⅖⅗⅘⅙⅚"
_N = (
    r"(?:\d+-\d/\d(?!\d)|(?:\d+ )?\d{1,2}\s?[/⁄]\s?\d{1,2}(?!\d)|\d{1,3}(?:[ ']\d{3})+(?![\d/])|\d[\d.,']*\d|\.?\d"
    rf"|(?=[{_FRACTION}]))\s?[{_FRACTION}]?"
)
_TO = r"\s*(?:-|–|—|\bto\b|\bor\b|\bbis\b|\boder\b)\s*"
_BULLET = re.compile(
    r"^\s*(?:[-–—*•·◦▪☐□✓>]+\s+|\[[ x]?\]\s*|[•·◦▪☐□✓]+|\(?(?:\d{1,2}\)\s+|(?:\d{1,2}|[A-E])\.\s+(?=\D)))"
)
_DEGREES = r"\d+\s*°?(?:\s*(?:-|–|to)\s*\d+)?\s*(?:°\s*[CF]?(?!\w)|deg ?[CF]\b|grad(?:er)?\b|(?<=\d\d)(?-i:[CF])\b)"
_TIME = re.compile(rf"{_N}\s*(?:h|hrs?|hours?|min|mins|minutes?|std|stunden?|minuten)\b", re.I)
_ASIDE = re.compile(  # how warm, or how small: numbers that are no amount
    rf"[,(]?\s*(?:\b(?:warmed|heated|cooled|at|of|to|about|ca\.?|bei|von)\s+)*{_DEGREES}(?:\s*/\s*{_DEGREES})?\)?"
    rf"|(?:\b(?:cut )?in(?:to)? )?{_N}[ -]?(?:inch|cm|mm)[ -](?:pieces|cubes|slices|dice|chunks)"
    rf"|,?\s*\bin {_N} (?:goes|lots|portions|parts|batches|additions|stages)\b",
    re.I,
)
_TOTAL = re.compile(r"\b(?:sub)?totals?\b|\bsum\b|\bsumme\b|\bgesamt\w*", re.I)
_ABOUT = re.compile(r"^[\s=~≈]*(?:(?:about|approx\.?|approximately|ca\.?|circa|or|i\.e\.|exactly)\s+)?", re.I)
_MORE = re.compile(
    r"[,;(]?\s*(?:\bplus\b|\+|\band\b|,)?\s*(?:\d[^,;(]*)?\b(?:extra|more|some|additional|a little)\b"
    r"|[,;(]?\s*(?:\bplus\b|\+)\s",
    re.I,
)
_BRACKETS = re.compile(r"[(\[][^()\[\]]*[)\]]?")
_ITSELF = re.compile(
    r"^(?:all )?(?:of )?(?:the |your )?(?:above |finished |ripe |entire |whole )*|[ ,]*(?:\bfrom )?\babove\b|[ ,]+all$"
)
_OR = re.compile(r"\s+(?:or|oder|ou)\s+|(?<=[^\W\d])\s*/\s*(?=[^\W\d])", re.I)
_JOINED = re.compile(r"[&+,]|\b(?:and|each|und|je)\b", re.I)
_WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")  # as they begin
_MAKES = re.compile(r"(?:makes|yields?|gives?|for|für|ergibt|batch)\b", re.I)
_OVEN = re.compile(r"\b(?:bake|oven|baking|backen)\b(.*)", re.I | re.S)


@dataclass(frozen=True)
class Question:
    """What is in doubt: about what (one answer holds wherever that is asked), in words, and what may be answered."""

    about: str
    words: str
    choices: tuple


@dataclass(frozen=True)
class Line:
    """A line as written, and what was read of it: which ingredient, how much, in which part."""

    written: str
    row: int  # of the recipe, from 0
    what: str = "note"  # title, part, ingredient, total, makes, method, left out
    part: str = ""
    kind: str = ""
    key: str = ""
    grams: float = 0.0  # or % of flour
    unit: str = "g"
    how: str = "weighed"
    taken: tuple = ()  # what was assumed, in words
    question: Question | None = None

    @property
    def left(self):
        """Whether it stays as written until it is mended."""
        return bool(self.question) and self.question.choices == (LEAVE,)


class _Row(NamedTuple):
    """A row of the recipe: as written, and the text that is read; of a table also its part, g, its cells."""

    written: str
    text: str
    part: str = ""
    unit: str = ""
    name: str = ""
    amount: str = ""


@dataclass(frozen=True, eq=False)
class Recipe:
    """A recipe as it was read: its lines, what it makes, what is still asked; a formula once nothing is."""

    rows: tuple = field(repr=False)
    answers: dict = field(default_factory=dict, repr=False)
    name: str = "recipe"
    kitchen: Ingredients = field(default_factory=kit_ingredients, repr=False)

    @functools.cached_property
    def _reading(self):
        return _Reading(self.rows, self.answers, self.kitchen)

    @property
    def lines(self):
        """Every line of the recipe, in its order; one that names two ingredients stands twice."""
        return tuple(self._reading.lines)

    @property
    def ingredients(self):
        """The ingredients its lines name, with those that were kept unknown."""
        return self._reading.ingredients

    @property
    def pieces(self):
        """What its title and its lines say of pieces: {count, and dough, topping, filling or wash [g]}."""
        return dict(self._reading.said)

    @property
    def title(self):
        """Its first line without what stands in brackets, when that names no ingredient; else what it was called."""
        written = next((line.written for line in self.lines if line.what == "title"), self.name)
        named = " ".join(_BRACKETS.sub("", written).split()).strip(" ,;|#*")
        return without_pieces(named).strip(" ,;|#*") or self.name

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
        """The Bake that its method tells plainly: one temperature, one time."""
        steps = [line.written for line in self.lines if line.what in ("method", "makes")]
        sentences = (text for step in steps for text in re.split(r"[.;](?:\s|$)", step) if _OVEN.search(text))
        return next((bake for text in sentences if (bake := _bake(text)).oven), Bake())

    @property
    def words(self):
        """What was assumed of its lines, in one line."""
        taken = dict.fromkeys(words for line in self.lines if not line.question for words in line.taken)
        return f"Taken: {'; '.join(taken)}." if taken else ""

    def answer(self, line, choice):
        """Return the Recipe with a question answered, wherever it is asked; line [or its place].

        Raises FormulaError for a line that asks nothing, UnknownName for what is no choice.
        """
        line = self.lines[line] if isinstance(line, int) else line
        if not line.question:
            raise FormulaError(must("line", "one that is asked about", repr(line.written), "mend it instead"))
        return self.answered(line.question, choice)

    def answered(self, question, choice):
        """Return the Recipe with that question answered, or answered anew. Raises UnknownName for what is no choice."""
        return replace(self, answers=self.answers | {plain(question.about): _chosen(question, choice)})

    def mend(self, line, text):
        """Return the Recipe with a line written anew; line [or its place]."""
        line = self.lines[line] if isinstance(line, int) else line
        row, text = self.rows[line.row], str(text)
        if row.written == row.text:  # of a line that names two, the other stays
            text = row.text.replace(line.written.strip(), text, 1)
        rows = list(self.rows)
        rows[line.row] = _Row(text, text, row.part, row.unit)
        return replace(self, rows=tuple(rows))

    def percentage(self, line):
        """Return a line's % of all flour in the dough, elsewhere of its own part; None while it is asked."""
        same = [o for o in self.lines if (o.kind in MIXED if line.kind in MIXED else o.part == line.part)]
        flour = self.ingredients.total([(other.key, other.grams) for other in same if other.key], "flour")
        asked = any(other.question for other in same if other.what == "ingredient")
        return None if asked or not (flour and line.key) else 100 * line.grams / flour

    def formula(self, name=None):
        """Return the Formula once nothing is asked; name, else the recipe's title. Raises FormulaError, UnknownName."""
        from .formula import Formula

        if self.open:
            asked = [f"{line.written.strip()!r}: {line.question.words}" for line in self.open]
            got = f"{plural(len(asked), 'line')} in doubt"
            raise FormulaError(must(self.title, "a recipe without an open question", got, "; ".join(asked)))
        bowls, kinds, hows = {}, {}, {}
        for line in self.lines:
            if line.key:
                part = "dough" if line.kind == "dough" else line.part
                kinds[part], bowl = line.kind, bowls.setdefault(part, {})
                bowl[line.key] = bowl.get(line.key, 0.0) + line.grams
                if line.how != "weighed":
                    hows.setdefault(part, []).append((line.key, line.how))
        if "dough" not in bowls:
            raise FormulaError(must("dough", "among the parts", listing(bowls) or "nothing", "write 'Dough' above it"))
        first = {part: bowls[part] for part, kind in kinds.items() if kind == "preferment"}
        others = {kind: part for part, kind in kinds.items() if kind not in ("dough", "preferment")}
        percentages = any(line.key and line.unit == "%" for line in self.lines)
        makes = make_up(self.pieces) if percentages else self.pieces  # percentages tell no batch
        formula = Formula.from_weights(
            name or self.title,
            bowls["dough"],
            first,
            self.ingredients,
            makes=makes,
            **{kind.replace(" ", "_"): bowls[part] for kind, part in others.items()},
        )
        named = [replace(part, name=others.get(part.kind, part.name)) for part in formula.parts]
        counted = any(line.key == "egg_whole_fresh" and " each, from " in line.how for line in self.lines)
        return replace(
            formula,
            parts=tuple(replace(part, how=tuple(hows.get(part.name, ()))) for part in named),
            bake=self.bake,
            about=" ".join(filter(None, (self.words, *self.notes))),
            egg_measured="counted" if counted else "weighed",
        )

    def to_frame(self):
        """Return the lines as a DataFrame: as written, what was read, grams, % of flour, the part, what is asked."""
        rows = []
        for line in self.lines:
            read_as = self.ingredients[line.key].name if line.key else line.what
            share, grams = self.percentage(line), figure(line.grams) if line.key and line.unit == "g" else ""
            asked = line.question.words if line.question else ""
            rows.append((line.written, read_as, grams, "" if share is None else figure(share, 2), line.part, asked))
        return page.frame(["as written", "read", "g", "% of flour", "bowl", "asked"], rows)

    def _repr_html_(self):
        frame = self.to_frame()
        return page.table(list(frame.columns), frame.values.tolist(), self.title) + page.paragraphs((self.words,))


def read_recipe(text, answers=None, name="recipe"):
    """Return the Recipe in text as it stands on paper, or as cells copied from a spreadsheet.

    answers {what a question is about: its choice, or how that begins}; name, for a recipe without a title.
    Raises FormulaError for what is no text, or far longer than a recipe.

    >>> recipe = read_recipe("500 g bread flour, sifted\\n2 eggs\\n4 oz (113 g) soft butter\\nmakes 16")
    >>> recipe.lines[2].key, recipe.lines[2].grams, recipe.pieces
    ('butter_unsalted', 113.0, {'count': 16})
    >>> recipe.open[0].question.words
    'egg: which size?'
    >>> recipe.answer(recipe.open[0], "medium").formula("bun").of_kind("egg")
    17.6
    """
    if not isinstance(text, str):
        raise FormulaError(must("recipe", "text", type(text).__name__, "give its lines as one text"))
    rows = [line.replace("\xa0", " ") for line in re.split("\r\n|[\n\r\x0b\x0c\x85\u2028\u2029]", text)]
    _must_be_one(rows)
    return _recipe(*_table(rows), answers, name)


def _must_be_one(rows):
    if len(rows) > MOST:
        raise FormulaError(must("recipe", f"at most {MOST:,} lines", f"{len(rows):,}", "give one recipe alone"))


def read_file(name, raw, answers=None, sheet=None, house_ingredients=None):
    """Return the Recipe in a file: a workbook's sheet of ingredients and amounts, else its first; or text of any kind.

    name [with its ending]; raw [its bytes]; answers as in `read_recipe`; sheet [of a workbook]; house_ingredients [CSV,
    else the rows that `Formula.save` put below]. Raises FileError, FormulaError.
    """
    path = Path(name)
    own = kit_ingredients().with_house(house_ingredients) if house_ingredients else None
    if raw[:4] not in _WORKBOOKS and path.suffix.casefold() not in (".xlsx", ".xlsm"):
        return _own(read_recipe(spreadsheets.decoded(path, raw), answers, path.stem), own)
    found = []
    for cells in spreadsheets.sheets_of(path, raw, sheet).values():
        lines = [" ".join(spreadsheets.in_full(cell) for cell in row if cell is not None) for row in cells]
        if read_ := _below_headings(lines, cells):
            return _own(_recipe(*read_, answers, path.stem), own)
        found = found or [_Row(line, line) for line in lines]
    return _own(_recipe(found, None, answers, path.stem), own)


def _own(recipe, ingredients):
    return recipe if ingredients is None else replace(recipe, kitchen=ingredients)


def _recipe(rows, kitchen, answers, name):
    _must_be_one(rows)
    answers = {plain(about): choice for about, choice in (answers or {}).items()}
    return Recipe(tuple(rows), answers, name, kitchen or kit_ingredients())


def _table(lines):
    """Return (rows, the house's Ingredients or None) of lines, which may be cells copied from a spreadsheet."""
    if rows := _in_columns_of_parts(lines):
        return rows, None
    for mark in "\t;|,":
        written, cells = [], []
        for row, at in _parted(lines, mark):
            written.append(" ".join(lines[slice(*at)]))
            cells.append(row)
        if read_ := _below_headings(written, cells):
            return read_
        marks = {line.count(mark) for line in lines if line.strip()}
        if len(marks) == 1 and marks != {0} and (mark != "," or not re.search(r"\d,\d|, ", "".join(lines))):
            return [_Row(line, line.replace(mark, " ")) for line in lines], None
    return [_Row(line, line) for line in lines], None


def _in_columns_of_parts(lines):
    """Return the rows of lines with a column a part ("SPONGE   DOUGH   CRUST"), each part by itself, else None."""
    cells = [re.split(r"\s{2,}|\t", line.strip()) for line in lines]
    for top, heads in enumerate(cells):
        parts = list(itertools.takewhile(part_kind, reversed(heads)))[::-1]
        below = [n for n, row in enumerate(cells) if n > top and _of_columns(row, len(parts))]
        if len(parts) < 2 or not below:
            continue
        unit = "g" * bool(re.search(r"\b(?:g|grams?)\b", lines[top], re.I))
        rows = [_Row(line, line) for line in lines[:top]] + [_Row(lines[top], "")]
        for column, part in enumerate(parts, 1):
            for line, (name, much) in ((lines[n], (cells[n][0], cells[n][column])) for n in below):
                if re.search(r"\d", much):
                    total = bool(_TOTAL.fullmatch(plain(name)))
                    amount_ = f"{much} {unit}".strip()
                    rows.append(_Row(line, f"{amount_} {name}", name if total else part, unit, name, amount_))
        return rows + [_Row(line, line) for n, line in enumerate(lines) if n > top and n not in below]
    return None


def _of_columns(row, parts):
    """Return whether a row is a name and a number or a dash for each of so many parts."""
    return len(row) == parts + 1 and all(re.fullmatch(r"[\d.,]+|[-–—]?", cell) for cell in row[1:])


def _parted(lines, mark):
    """Yield (the cells of a row, from which to which line it goes) of lines as a spreadsheet writes them."""
    reader, begun = csv.reader((line + "\n" for line in lines), delimiter=mark), 0
    with contextlib.suppress(csv.Error):  # a cell far too long: no table
        for row in reader:
            yield [" ".join(cell.split()) or None for cell in row[: spreadsheets.WIDE]], (begun, reader.line_num)
            begun = reader.line_num


def _below_headings(lines, cells):
    """Return (rows, the house's Ingredients or None) of lines in columns of ingredients and amounts, else None."""
    found = spreadsheets.header(cells)
    if not found:
        return None
    below, columns = found
    end, house = spreadsheets.house_rows(cells)
    rows = [_Row(line, " ".join(str(cell) for cell in row if cell)) for line, row in zip(lines, cells, strict=True)]
    rows[below - 1] = _Row(lines[below - 1], "")
    for n, row in enumerate(cells[below:end], below):
        at = {column: row[place] for column, place in columns.items() if column != "of amount" and place < len(row)}
        for column in ("ingredient", "amount"):  # what is merged over several lines is said once
            at[column] = None if isinstance(at.get(column), spreadsheets.Above) else at.get(column)
        part, ingredient, amount_, unit = (
            from_cell(spreadsheets.in_full(at[column])) if at.get(column) is not None else ""
            for column in ("part", "ingredient", "amount", "unit")
        )
        if not unit and re.fullmatch(rf"[\d.,'/ {_FRACTION}]+", amount_):
            unit = columns.get("of amount") or ""
        if _TOTAL.fullmatch(plain(ingredient)):
            part = ingredient
        much = f"{amount_} {unit}".strip() if amount_ else ""
        if much.startswith(("=", "#")) and not _TOTAL.fullmatch(plain(ingredient)):
            do = "open the sheet in a spreadsheet program and save it with its values"
            raise FormulaError(must(ingredient or "amount", "an amount with its value", repr(much), do))
        rows[n] = _Row(lines[n], f"{much} {ingredient}".strip(), part, "g", ingredient, much)
    return rows[:end], kit_ingredients().with_rows(*house) if house else None


# ---- words and amounts ---------------------------------------------------------------------------------------------


@functools.cache
def _words(*what):
    """Return {word: its row} of recipe_words.csv."""
    return {
        plain(word): row for row in table("recipe_words").rows if row["is"] in what for word in row.words.split(";")
    }


def _any_of(words):
    longest = sorted(words, key=len, reverse=True)
    return "|".join(r"[\s.]*".join(map(re.escape, word.split())) for word in longest if word)


@functools.cache
def _add_ins():
    """Return {key: what is known of it} of add_ins.csv."""
    return {
        row.key: {name: row[name] for name in row if name not in ("key", "aliases")} for row in table("add_ins").rows
    }


@functools.cache
def _in_text(*what):
    """Return the pattern of any of these words of recipe_words.csv in a text."""
    return re.compile(rf"(?<!\w)(?:{_any_of(_words(*what))})(?!\w)", re.I)


@functools.cache
def _part_first():
    """Return the pattern of a line that begins with a part's name: "Wash 1 yolk", "Crust - flour 100 g"."""
    return re.compile(rf"({_any_of(_words('part'))})(?:\s+[-–—]\s+|\s+(?=\d))(.+)", re.I)


@functools.cache
def _amount_in_text():
    kinds = ("mass", "volume", "percentage", "ask", "count")
    units = {w for row in table("units").rows if row.kind in kinds for w in (row.unit, *row.also_written.split(";"))}
    unit = rf"(?:(?P<unit>{_any_of(units | _words('unit').keys())})\.?(?!\w))"
    one = rf"(?P<times>{_N}\s*[x×]\s*)?(?P<low>{_N})(?:{_TO}(?P<high>{_N}))?\s*(?:{unit}|(?![\d°{_FRACTION}]|[.,/]\d))"
    return re.compile(rf"(?<![\w.,{_FRACTION}])(?<!\d/){one}", re.I)


def part_kind(text):
    """Return the kind of part that a name speaks of, by its longest word that is one; empty when none is.

    >>> part_kind("Sugar crust (for 20)"), part_kind("icing")
    ('topping', '')
    """
    found = _in_text("part").findall(_BRACKETS.sub("", plain(text)))
    return _words("part")[max(found, key=len)].means if found else ""


def _in_full(text):
    """Return a text folded for comparison, its shorthand written out: "unslt btr" is unsalted butter."""
    return _in_text("short").sub(lambda word: _words("short")[plain(word[0])].means, plain(text))


def _chosen(question, given):
    fitting = [choice for choice in question.choices if plain(choice).startswith(plain(given))]
    exact = [choice for choice in fitting if plain(choice) == plain(given)] or fitting
    return exact[0] if len(exact) == 1 else one_of(question.about, given, question.choices)


def _bake(text):
    """Return the Bake in a sentence of the method; empty when it tells a range, or two that differ."""
    degrees = [read(f"{n} deg{unit}", "temperature") for n, unit in re.findall(r"(\d+)\s*(?:°|deg)?\s*([CF])\b", text)]
    after = _OVEN.search(text)[1]  # what stands before is of another step
    minutes = re.findall(r"(?<![-–\d])(?<!to )\b(\d+)\s*(?:mins?|minutes)\b", after, re.I)
    ranged = re.search(r"\d\s*(?:°\s*[CF]?)?\s*(?:-|–|to)\s*\d+\s*°", text)
    plainly = degrees and max(degrees) - min(degrees) < 6 and not ranged
    made = Bake(degrees[0] if plainly else None, float(minutes[0]) if len(minutes) == 1 else None)
    try:
        check_bake(made)
    except KitError:
        return Bake()
    return made


class _Amount(NamedTuple):
    """An amount in a line: where it stands, its text, its number or the two ends of its range, and its unit's kind."""

    start: int
    end: int
    text: str
    unit: str = ""
    kind: str = ""  # as kit.units has it, "" without a unit
    measure: str = ""
    ends: tuple = ()
    more: tuple = ()  # what it is the sum of


def _amount_of(match):
    unit = match["unit"] or ""
    kind, measure = "", ""
    if unit:
        try:
            given = amount(f"1 {unit}", kind="volume")
            kind, measure = given.kind, given.measure or given.unit
        except KitError:
            kind = "ask"
    ends = (match["low"], match["high"]) if match["high"] else ()
    return _Amount(match.start(), match.end(), match[0].strip(), unit, kind, measure, ends)


def _amounts(text):
    """Return the _Amounts of a line; what belongs together is one: "1 lb 2 oz", "1 cup plus 2 tbsp"."""
    found = []
    for one in map(_amount_of, _amount_in_text().finditer(text)):
        if found and one.unit and found[-1].unit:
            last, between = found[-1], text[found[-1].end : one.start].strip().casefold()
            if between in ("plus", "+", "and", "&") or (not between and (last.measure, one.measure) == ("lb", "oz")):
                one = last._replace(end=one.end, text=text[last.start : one.end], more=(last, one))
                found.pop()
        found.append(one)
    # a percentage within a name is the ingredient's own: "100 g 70 % chocolate"
    own = re.compile(r"\s*[^\W\d]")
    units = [o for o in found if o.unit and not (o.unit == "%" and text[: o.start].strip() and own.match(text, o.end))]
    bare = [one for one in found[:1] if not one.unit and not text[: one.start].strip()]
    if not units and not bare:
        bare = found[-1:]
    return sorted(units + bare)


def _without(text, amounts):
    """Return a line without its amounts."""
    for one in reversed(amounts):
        text = f"{text[: one.start]} {text[one.end :]}"
    return " ".join(text.split()).strip(" ,;:.-–—=*/+…")


def _said(text):
    """Return what a line says of pieces, {} for nothing, None for two counts."""
    try:
        return pieces_in(text[:TEXT])
    except KitError:
        return None


# ---- reading -------------------------------------------------------------------------------------------------------


class _Asked(Exception):
    def __init__(self, about, words, choices):
        self.question = Question(about, words, tuple(choices))


class _LeftOut(Exception):
    pass


class _Name(NamedTuple):
    """A name as its words tell: what it may be, what it is counted or measured as, which words are unknown."""

    phrase: str
    keys: tuple
    counted: tuple = ()
    measured: tuple = ()
    unknown: tuple = ()


class _Reading:
    """Rows read one after the other; what goes on from line to line is the part, and whether the method has begun."""

    def __init__(self, rows, answers, kitchen):
        self.rows, self.answers, self.ingredients = rows, answers, kitchen
        self.lines, self.said, self.parts = [], {}, {}
        self.told = 0  # the line that says what it makes
        self.part, self.kind, self.method, self.now, self.in_table = "dough", "dough", "", None, False
        self.names = {
            plain(name): (row.key,) for row in table("add_ins").rows for name in (row.name, *row.aliases.split(";"))
        }
        self.names |= {name: (self.ingredients.rows[place].key,) for name, place in self.ingredients.index.items()}
        self.names |= {word: tuple(row.means.split(";")) for word, row in _words("ingredient", "ask", "spoon").items()}
        for at, row in enumerate(rows):
            self._row(at, row)
        self._percentages()
        self._named_in_the_method()
        self._made_of_all()

    def ask(self, about, words, choices):
        """Return what was answered. Raises _Asked when nothing was, _LeftOut when it is to be left out."""
        if plain(about) not in self.answers:
            raise _Asked(about, words, choices)
        choice = _chosen(Question(about, words, tuple(choices)), self.answers[plain(about)])
        if choice == LEAVE:
            raise _LeftOut
        return choice

    def left(self, why):
        """Say why a line stays as written until it is mended, or left out."""
        self.ask(f"{self.now.written}: as written", why, (LEAVE,))

    def guarded(self, line, reads, *given):
        """Return what `reads` makes of a line, or the line with what is asked of it."""
        self.now = line
        try:
            try:
                return reads(line, *given)
            except (AmountError, UnitError) as error:
                self.left(str(error).partition("; ")[2] or str(error))
        except _LeftOut:
            return replace(line, what="left out", key="", taken=(f"{line.written.strip()!r} left out",))
        except _Asked as asked:
            return replace(self.now, question=asked.question)

    # what a row is

    def _row(self, at, row):
        text = _BULLET.sub("", row.text.strip(" \t*_").lstrip("#"), count=1).strip()
        self.in_table = bool(row.unit)
        if _TOTAL.search(row.part):
            self.lines.append(Line(row.written, at, "total"))
            return
        if row.part and row.part != self.part:
            self._head(Line(row.part, at), row.part, sure=True)
        if not re.search(r"\w", text) or len(text) > TEXT:
            line = Line(row.written, at, "method" if text and self.method else "note")
            doubtful = line.what == "note" and re.search(r"\d", text)
            why = f"a line of more than {TEXT} characters: part it"
            self.lines.append(self.guarded(line, lambda line: self.left(why)) if doubtful else line)
            return
        if self.in_table:
            if row.amount and (not row.name or re.match("[-−–]", row.amount)) and re.search(r"\d", row.amount):
                why = "an amount of 0 or more: how much?" if row.name else "of what?"
                line = Line(row.written, at, "ingredient", self.part, self.kind)
                self.lines.append(self.guarded(line, lambda line: self.left(why)))
                return
            if not row.name and (row.amount or row.part):  # a remark
                self.lines.append(Line(row.written, at))
                return
            known = None if plain(row.name) in _words("ingredient", "ask", "spoon") else self.names.get(plain(row.name))
            if known and row.amount and not _without(row.amount, _amounts(row.amount)).strip():
                line = Line(row.written, at, "ingredient", self.part, self.kind)
                self.lines.append(self.guarded(line, self._cells, row, known[0]))
            else:
                self._line(Line(row.written, at), text)
            return
        head, rest = (_part_first().fullmatch(text) or re.fullmatch("(.*?)(?::(.*))?", text)).groups("")
        whole = row.written
        names = part_kind(head) or not (self._named(head) or plain(head) in _words("section", "method"))
        weighed = rest.strip() and names and self._is_weighed(rest)
        if weighed and self._head(Line(f"{head}:", at), head, sure=True):
            text = whole = rest.strip()
        segments = self._segments(text)
        for segment in segments:
            self._line(Line(segment if len(segments) > 1 else whole, at), segment)

    def _segments(self, text):
        """Return the ingredients that stand in one line: "2 eggs + 1 yolk", "flour 500 g, butter 100 g"."""
        several = text.split(" / ")
        if len(several) > 2 and sum(map(self._is_weighed, several)) > 1:
            return [part.strip() for part in several]
        for mark in (r"\s+/\s+|\s*;\s*|,\s+(?:(?:plus|and|&|und)\s+)?", r"\s+(?:\+|plus|and|&|und)\s+"):
            several = re.split(mark, text)
            told = ({"%" in part for part in several}, {bool(_in_text("cue").search(part)) for part in several})
            if len(several) > 1 and all(len(same) == 1 for same in told) and all(map(self._is_weighed, several)):
                return several
        return [text]

    def _is_weighed(self, text):
        """Whether text is an amount and the name of something known."""
        text = self._in_digits(text.strip())
        found = _amounts(text)
        return bool(found) and self._named(_without(text, found)) is not None

    def _in_digits(self, text):
        """Return a line whose first number is written in digits."""
        word = _in_text("number").match(text)
        spaced = word and text[word.end() :].startswith(" ")
        return f"{_words('number')[plain(word[0])].means}{text[word.end() :]}" if spaced else text

    def _line(self, line, text):
        first, weighed, said = plain(text).rstrip(":."), self._in_digits(_ASIDE.sub(" ", text)), _said(text)
        amounts = _amounts(weighed)
        name = self._named(_without(weighed, amounts))
        exact = bool(amounts and name and not name.unknown)
        weights = [one for one in amounts if one.kind in ("mass", "volume", "percentage", "ask")]
        leads = bool(weights) and not weights[0].start
        # below a step that no heading announced, another ingredient may stand
        may_be_weighed = self.method == "told" and (amounts or "all of" in first) and len(first.split()) < 13
        begins = not any(line.what != "note" for line in self.lines)
        before = self._named(re.split(r"\d", text)[0])
        counted = amounts and before and not before.unknown and not _MAKES.match(text)  # "eggs 8 (400)"
        bare = name and not name.unknown and not amounts and not text.endswith(".")
        starts = (
            re.match(r"\d|(?:makes|yields?|for|für)\b", text, re.I)
            or text.endswith(":")
            or first in _words("part", "verb")
        )
        if first in _words("section"):
            self.method = ""
            self.lines.append(line)
        elif first in _words("method"):
            self.method = "headed"
            self.lines.append(replace(line, what="method"))
        elif _TOTAL.search(text) and not name:
            self.lines.append(replace(line, what="total"))
        elif begins and not starts and (said or not (weights or (name and (amounts or not name.unknown)))):
            self.lines.append(self.guarded(replace(line, what="title"), self._makes, said))
        elif (
            said != {}
            and not exact
            and (not name or said is None or "count" in said)
            and not (leads or counted or (name and weights and not _MAKES.match(text)))  # "eggs 300 g (6)" tells none
        ):
            self.lines.append(self.guarded(replace(line, what="makes"), self._makes, said))
            part = re.split(r"\d", text)[0].strip(" -–—:(")
            if said and "count" not in said and part_kind(part) and self._leads(line):
                self._head(Line(part, line.row), part, sure=True)
        elif self._leads(line, first in _words("verb")) and self._head(line, text, name, True):
            return
        elif _in_text("verb").match(first) and not (exact and amounts[0].start):
            self.method = self.method or ("told" if any(line.what == "ingredient" for line in self.lines) else "")
            self.lines.append(replace(line, what="method"))
        elif not weights and self._is_timed(text, name):
            self.method = self.method or "told"
            self.lines.append(replace(line, what="method"))
        elif not _amounts(_BRACKETS.sub(" ", text)) and self._head(line, text, name, not name and self._leads(line)):
            return
        elif self.method and not (exact or bare) and not (leads and len(first.split()) < 8) and not may_be_weighed:
            self.lines.append(replace(line, what="method"))
        else:
            line = replace(line, what="ingredient", part=self.part, kind=self.kind)
            self.lines.append(self.guarded(line, self._ingredient, weighed))

    def _is_timed(self, text, name):
        """Whether the only numbers of a line are times and temperatures: a step, however it begins."""
        times = list(_TIME.finditer(text))
        if not times or re.match(r"\d", _TIME.sub(" ", _ASIDE.sub(" ", text)).strip()):
            return False
        before = re.search(r"\d", _ASIDE.sub(" ", text[: times[0].start()]))
        return not (name and before) and bool(not name or len(times) > 1 or text.endswith(".") or self.method)

    def _leads(self, line, alone=True):
        """Whether a line stands above one that is weighed, below a blank one or with a colon, as a heading does."""
        above, below = (self.rows[n].text if 0 <= n < len(self.rows) else "" for n in (line.row - 1, line.row + 1))
        marked = not above.strip() or line.written.strip().endswith(":")
        return alone and marked and bool(re.search(r"\w{3}", line.written)) and self._is_weighed(below)

    def _makes(self, line, said):
        self.told = len(self.lines) if said else self.told
        if said is None:
            counts = re.findall(r"\d+", line.written)
            said = {"count": int(self.ask(line.written, "pieces: how many?", dict.fromkeys(counts)))}
        for name, value in said.items():
            if self.said.setdefault(name, value) != value:
                choices = [f"{self.said[name]:g}", f"{value:g}"]
                self.said[name] = type(value)(self.ask(f"pieces {name}", f"{name}: {listing(choices, 'or')}?", choices))
        return line

    # parts

    def _head(self, line, text, name=None, sure=False):
        """Take a line for the heading of a part, and return whether it is one; name: of what it may be instead."""
        bare = _BRACKETS.sub("", text).strip()
        named = re.sub(r"^(?:for|für)\s+(?:the\s+|den\s+|die\s+|das\s+)?", "", bare.rstrip(": "), flags=re.I).strip()
        kind, marked = part_kind(named), sure or bare.endswith(":") or (named != bare.rstrip(": ") and not name)
        plainly = marked or plain(named) in _words("part")
        whole = plain(re.sub(r"[()\[\]]", " ", text.rstrip(": ")))
        itself = _ITSELF.sub("", whole).strip()
        short = (
            named
            and (itself == whole or itself not in _words("part"))  # "sponge, from above", "sponge (all)"
            and len(named.split()) <= (3 if name and not marked else 5)
            and not re.search(r"\d|\ball\b", named)
        )
        if not short or not (kind or marked) or not (plainly or not self.method):
            return False
        self.method, self.part, self.kind = "", named, kind
        self.lines.append(self.guarded(replace(line, what="part", part=named, kind=kind), self._begin))
        return True

    def _begin(self, line):
        """Begin a part: one without a kind is asked about, and so is a second one of its kind."""
        if not self.kind:
            self.kind = "left out" if self.answers.get(plain(line.part)) == LEAVE else ""
            kinds = ("dough", "preferment", "topping", "filling", "wash", LEAVE)
            self.kind = self.ask(line.part, "which part is it?", kinds)
        same = {o.part for o in self.lines if o.key and o.kind == self.kind and plain(o.part) != plain(line.part)}
        if same and self.kind != "preferment":
            words = f"a second {self.kind}: does it go in with the first?"
            self.ask(f"{line.part}: beside", words, ("together with the first", LEAVE))
            self.part = min(same)
        self.parts[self.kind] = self.part
        return replace(line, kind=self.kind, part=self.part)

    # an ingredient

    def _ingredient(self, line, text):
        if line.kind == "left out":
            raise _LeftOut
        text, line, passed = self._for_what(line, _ASIDE.sub(" ", text))
        self.now = line
        brackets = re.findall(r"[(\[]([^()\[\]]*)", text)
        if held := re.match(rf"\s*({_N})\s*[(\[]({_amount_in_text().pattern})[)\]]", text, re.I):  # "2 (8 oz) packages"
            text, brackets = f"{held[1].strip()} x {held[2]} {text[held.end() :]}", brackets[1:]
        text = _ABOUT.sub("", _BRACKETS.sub(" ", text))
        amounts = _amounts(text)
        name, notes = _without(text, amounts), []
        for text in brackets:
            if re.fullmatch(_N, _ABOUT.sub("", text)) and any(one.kind == "mass" for one in amounts):
                continue  # how many that is
            text = re.sub(rf"^({_N}) (?:{_any_of(_words('container'))})$", r"\1 packet", _ABOUT.sub("", text))
            beside = [one for one in _amounts(text) if one.unit]
            amounts += beside
            notes.append(_without(text, beside))
        if line.what == "left out":
            return replace(line, taken=passed)
        if itself := self._preferment_itself(line, name, amounts):
            return itself
        key, found, taken = self._which(*self._one_of_two(name), notes, bool(amounts))
        if not amounts:
            self.left("no amount: how much of it?")
        if found.counted and re.match(r"\d{1,2} \d{3}\b", amounts[0].text):
            self.left(f"{amounts[0].text}: one number, or two?")
        return self._weighed(replace(line, taken=(*passed, *taken)), amounts, key, found)

    def _cells(self, line, row, key):
        """A row of a table whose ingredient is known by its whole name."""
        if line.kind == "left out":
            raise _LeftOut
        return self._weighed(line, _amounts(row.amount), key, _Name(plain(row.name), (key,)))

    def _weighed(self, line, amounts, key, found):
        """Return a line with the grams, or % of flour, that its amounts come to."""
        masses = [one for one in amounts if one.unit != "%"]
        line = replace(line, key=key)
        if not masses:
            return replace(line, grams=read(self._one_of_range(amounts[0]), "percentage"), unit="%")
        grams, how = self._weigh(masses, key, found)
        assumed = ["numbers without a unit as g"] if how == "weighed" and not any(one.unit for one in masses) else []
        if " each, from " in how:
            assumed.append(how.partition(", from ")[0])
        assumed += [note for note in how.partition("); ")[2:] if note]
        return replace(line, grams=grams, how=how, taken=(*line.taken, *assumed))

    def _for_what(self, line, text):
        """Return (text without what says what for, the line in the part that says, what was passed over)."""
        at = _in_text("cue").search(text)
        if not at:
            return text, line, ()
        more = _MORE.search(text, 0, at.start())
        if more and text[: more.start()].strip() and not self._is_weighed(text[more.end() : at.start()]):
            passed = text[more.start() :].strip(" ,;()")
            if _amounts(passed):
                self.ask(f"{line.written}: {passed}", f"{passed!r}: is it beside the formula?", ("beside it",))
            return text[: more.start()], line, (f"{passed!r} passed over",)
        kind = _words("cue")[plain(at[0])].means
        dusted = self._named(_without(text[: at.start()], _amounts(text[: at.start()]))) if kind == "dusting" else None
        if dusted and self.ingredients[dusted.keys[0]].kind not in ("flour", "starch"):
            kind = "topping"  # sugar to roll in is none that is dusted
        text = f"{text[: at.start()].rstrip(' ,;(')} {text[at.end() :].lstrip(' )')}"
        if not _amounts(text):
            return text, replace(line, what="left out"), (f"{line.written.strip()!r} left out: no amount",)
        if kind == "topping" != line.kind:
            kinds = ("topping", "dough", "wash", "dusting", LEAVE)
            kind = self.ask(f"{line.written}: part", "which part is it?", kinds)
        if kind and kind != line.kind:
            line = replace(line, part=self.parts.setdefault(kind, kind), kind=kind)
        return text, line, ()

    def _preferment_itself(self, line, name, amounts):
        """Return the line when it is a preferment that goes into the dough as a whole; its flour stands above."""
        bare = _ITSELF.sub("", plain(name)).strip()
        row = _words("part").get(bare)
        if row is None or row.means not in ("preferment", "cooked flour"):
            return None
        whole = sum(old.grams for old in self.lines if old.key and old.kind == row.means)
        given = [number(one.text.removesuffix(one.unit)) for one in amounts if one.measure == "g" or not one.unit]
        near = NEAR_COOKED if row.means == "cooked flour" else NEAR_MASS
        if not whole or (amounts and not any(abs(grams - whole) <= near * whole for grams in given)):
            self.left(f"write the flour and water of the {bare} as lines below a heading of its own")
        return replace(line, what="note", taken=(f"all of the {bare} goes into the dough",))

    def _one_of_two(self, name):
        """Return (name, whether it was chosen) where a line names two: "butter or margarine"."""
        several = [part for part in _OR.split(name) if part.strip()]
        if len(several) < 2:
            return re.sub(r"^or\s+", "", name), False
        known = [found.keys[0] for part in several if (found := self._named(part))]
        names = [self.ingredients[key].name for key in dict.fromkeys(known)]
        return self.ask(self.now.written, "which of them?", (*names, LEAVE)), True

    def _named(self, name, notes=()):
        """Return the _Name in a text, its longest known run of words; None when none is known."""
        head, *tails = re.split(r"\s*[,;:]\s*|\s+[-–—]\s+", _in_full(name).strip(" ,;:.-–—*=…"))
        first = [word.strip(".*'\"=…()[]") for word in head.split()]
        rest = [word.strip(".*'\"=…()[]") for part in (*tails, *map(_in_full, notes)) for word in part.split()]
        runs = [run for order in (first + rest, rest + first) if (run := self._longest(list(filter(None, order))))]
        if not runs:
            return None
        phrase, left = max(runs, key=lambda run: len(run[0].split()))
        keys = tuple(map(self._brought, self.names[phrase]))
        rows = [row for row in table("measures").rows if row.ingredient in keys and not row.ml_per_measure]
        sizes = {word for row in rows for word in row.measure.removeprefix("each").strip("-").split()}
        left = " ".join(word for word in left if re.search(r"\w", word))
        if self.ingredients[keys[0]].group == "egg":  # a yolk is counted whatever the egg's size
            size_of = {
                word: row.means if f"each-{row.means}" in {r.measure for r in rows} else ""
                for word, row in _words("size").items()
            }
            left = _in_text("size").sub(lambda size: size_of[plain(size[0])], left)
        counts = (*sizes, *_words("container"))
        counted = [word for word in left.split() if word in counts or word.removesuffix("s") in counts]
        measured = [word for word in left.split() if word in _words("measure")]
        left = [word for word in left.split() if word not in (*counted, *measured)]
        unknown = _in_text("state").sub(" ", " ".join(left)).split()
        second = self._longest(unknown)
        if second and (both := [key for key in keys if key in self.names[second[0]]]):  # "Mehl, Type 550" is one thing
            phrase, keys, unknown = second[0] if len(both) < len(keys) else phrase, tuple(both), second[1]
        return _Name(phrase, keys, tuple(counted), tuple(m for m in measured if m in first), tuple(unknown))

    def _longest(self, words):
        """Return (the longest run of words that names an ingredient, the words beside it), or None."""
        for size in range(min(len(words), 6), 0, -1):
            for start in range(len(words) - size + 1):
                run = " ".join(words[start : start + size])
                for name in (run, run.removesuffix("s"), run.removesuffix("es"), f"{run}s"):
                    if name in self.names:
                        return name, words[:start] + words[start + size :]
        return None

    def _which(self, name, chosen, notes, weighed):
        """Return (key, _Name, what was assumed) of an ingredient's name; what is in doubt about it is asked."""
        found, written = self._named(name, notes), self.now.written
        kept = (KEEP,) if weighed and re.search(r"[^\W\d]", name) else ()
        if vague := _in_text("vague").search(name):
            self.left(f"{vague[0]!r} is no measure: weigh it")
        if doubt := found and next((word for word in found.unknown if word in _words("doubt")), None):
            self.ask(f"{written}: {doubt}", f"{doubt!r}: take it as the amount says?", ("as the amount says", LEAVE))
            found = found._replace(unknown=tuple(word for word in found.unknown if word != doubt))
        if not name:
            self.left("of what?")
        if not found:
            near = difflib.get_close_matches(plain(name), self.names, 3, 0.75)
            keys = tuple(dict.fromkeys(key for each in near for key in self.names[each]))
            if not keys and not kept:
                self.left("not understood: an ingredient, or a note?")
            found, about, words = _Name(plain(name), keys), written, f"{name!r} is not known"
        elif second := self._longest(list(found.unknown)):
            both = f"{found.phrase!r} and {second[0]!r} in one"
            if _JOINED.search(name):
                self.left(f"{both}: write each with its amount, a + between")
            found, about, words = found._replace(keys=()), written, f"{both}: write each as a line of its own"
        elif found.unknown:
            known = "are" if len(found.unknown) > 1 else "is"
            about, words = written, f"{listing(map(repr, found.unknown))} {known} not known here"
        elif len(found.keys) > 1 or (found.phrase in _words("ask") and not chosen):
            about = found.phrase if self.kind in MIXED else f"{found.phrase} of the {self.part}"
            words, kept = found.phrase, kept if len(found.keys) == 1 else ()
        else:
            about, words = "", ""
        names = {self.ingredients[key].name: key for key in found.keys}
        choice = next(iter(names), "")
        if about:
            words = f"{words}: {listing(names, 'or')}?" if names else words
            choice = self.ask(about, words, (*names, *kept, LEAVE))
        key = self._brought(" ".join(plain(name).split())[:60]) if choice == KEEP else names[choice]
        if not self.ingredients.known[self.ingredients.row(key)].any():
            return key, found, (f"what is in {self.ingredients[key].name} unknown, and its allergens",)
        said = chosen or set(choice.split()) <= {*found.phrase.split(), found.phrase.removesuffix("s")}
        return key, found, () if said else (f"{found.phrase} as {choice}",)

    def _brought(self, name):
        """Return the key of an ingredient by its key, or its name where that is all that is known, brought in here."""
        key = re.sub(r"\W+", "_", name).strip("_")
        row = _add_ins().get(key, {"name": name, "kind": "other"})
        place = self.ingredients.index.get(key.replace("_", " "), self.ingredients.index.get(row["name"]))
        if place is not None:
            return self.ingredients.rows[place].key
        self.ingredients = self.ingredients.with_rows({key: row}, "the recipe")
        return key

    # its grams

    def _weigh(self, amounts, key, found):
        """Return (g, how) of the amounts of a line, the most metric of those that agree; else it is asked."""
        amounts = sorted(amounts, key=lambda one: self._rank(one, key))
        tried = []
        for one in amounts:
            try:
                tried.append(self._grams(one, key, found, asking=False)[0])
            except KitError:
                tried.append(None)
        ounces = NEAR_MASS if (tried[0] or 0) > SMALL else NEAR_OUNCE
        near = ounces if all(self._rank(one, key) < 2 for one in amounts) else NEAR
        if tried[0] and any(other and abs(other - tried[0]) > near * tried[0] for other in tried[1:]):
            texts = list(dict.fromkeys(one.text for one in amounts))
            chosen = self.ask(f"{self.now.written}: amounts", f"{listing(texts, 'or')}: they differ", texts)
            amounts = [one for one in amounts if one.text == chosen]
        return self._grams(amounts[0], key, found)

    def _rank(self, one, key):
        if one.kind == "mass":
            return 0 if one.measure not in ("oz", "lb", "stone") else 1 if not self._may_be_fluid(one, key) else 3
        if one.kind == "volume":
            return 1.5 if one.measure in ("mL", "cL", "dL", "L") else 3
        return 2 if one.unit else 4

    def _may_be_fluid(self, one, key):
        row = self.ingredients[key]
        return one.measure == "oz" and (row.counts_as_liquid == "yes" or row.kind in ("oil", "syrup", "honey"))

    def _one_of_range(self, one, asking=True):
        """Return the text of an amount, of a range with the end that was chosen, or its middle."""
        if not one.ends:
            return one.text
        low, high = map(number, one.ends)
        values = [f"{round(value, 2):g}" for value in (low, (low + high) / 2, high)]
        chosen = self.ask(f"{self.now.written}: range", f"{one.text}: how much?", values) if asking else values[1]
        return f"{one.text[: one.text.index(one.ends[0])]}{chosen} {one.unit}".strip()

    def _grams(self, one, key, found, asking=True):
        """Return (g, how) of one amount of a line; without asking, what is meant most often."""
        if one.more:
            sums = [self._grams(each, key, found, asking) for each in one.more]
            return sum(grams for grams, _ in sums), sums[0][1]
        text, name = self._one_of_range(one, asking), self.ingredients[key].name
        row = _words("unit").get(plain(one.unit))
        spoon = _words("spoon").get(found.phrase) or _words("spoon").get(plain(name))
        if row:
            meanings = row.means.split(";")
            words = f"{one.unit}: {listing(meanings, 'or')}?" + (f" ({row.note})" if row.note else "")
            meant = self.ask(row.words.split(";")[0], words, meanings) if asking else meanings[0]
            unit = amount(meant if meant[0].isdigit() else f"1 {meant}")
            text = f"{number(text.removesuffix(one.unit)) * unit.value:.4f} {unit.unit}"
        elif asking and self._may_be_fluid(one, key):
            how = self.ask("oz of what is poured", f"oz of {name}: by weight, or fluid?", ("by weight", "fluid"))
            text = text if how == "by weight" else f"{text.removesuffix(one.unit)} US fl oz"
        elif not one.unit or one.kind == "count":
            return self._counted(one, text, key, found, asking)
        if one.kind in ("volume", "ask") and (spoon or found.measured):
            volume = amount(text).value
            if spoon and asking:
                each = [f"{grams} g" for grams in spoon.g_per_tsp.split(";")]
                words = f"what does a level teaspoon of it weigh? ({spoon.note})"
                grams = self.ask(f"{spoon.words.split(';')[0]} by the spoon", words, each)
                return read(grams, "mass") * volume / amount("1 tsp").value, f"{text}: {grams} a teaspoon"
            rows = [row for row in table("measures").rows if row.ingredient == key and row.ml_per_measure]
            if own := [row for row in rows if {*found.measured} <= {*f"{row.measure} {row.note}".split()}]:
                per_ml = own[0].grams_per_measure / own[0].ml_per_measure
                how = f"{text}: {figure(per_ml, 3)} g/mL, from the table of measures, {own[0].measure}"
                return volume * per_ml, how
            if asking and found.measured:
                grams = f"{figure(weigh(text, key, self.ingredients).grams, 0)} g, as it comes"
                self.ask(
                    f"{self.now.written}: measure", f"{listing(found.measured)}: not in the tables", (grams, LEAVE)
                )
        weighed = weigh(text, key, self.ingredients)
        return weighed.grams, weighed.how

    def _counted(self, one, text, key, found, asking):
        """Return (g, how) of a count: of the size that is said or asked, of packets and sticks; else of grams."""
        rows = {row.measure: row for row in table("measures").rows if row.ingredient == key and not row.ml_per_measure}
        each = {m.removeprefix("each-"): f"{r.grams_per_measure:g} g" for m, r in rows.items() if m.startswith("each")}
        value = f"{amount(text).value:g}" if one.unit else text  # dozens counted out
        kind, words = self.ingredients[key].kind, " ".join(found.counted)
        if one.unit and one.measure != "pieces":
            words = f"{words} {one.measure}".strip()
        elif words in _words("container") and "packet" in rows and words.removesuffix("s") not in rows:
            words = "packet"  # an envelope, a package
        elif not words and each:
            words = next(iter(each))
            if not one.unit and number(value) > 12 and asking:
                words = self.ask(f"{self.now.written}: unit", "pieces, or grams?", ("grams", words))
            if words != "grams" and len(each) > 1 and asking:
                sizes = [f"{size}, {grams}" for size, grams in each.items()]
                words = self.ask(f"{kind} size", f"{kind}: which size?", sizes).partition(",")[0]
        elif not words:
            if asking and not self.in_table:
                if number(value) <= 12 and self.ingredients[key].kind == "other":
                    self.left("weigh it: no measure of it is known")
                about = "numbers without a unit" if number(value) > 12 else f"{self.now.written}: unit"
                self.ask(about, f"{text} without a unit: grams?", ("grams",))
            words = "grams"
        if asking and words.removesuffix("s") in ("can", "tin"):
            each_ = [f"{rows[m].grams_per_measure:g} g" for m in rows if m == "can"]
            self.ask(
                f"{self.ingredients[key].name} by the can",
                "what does a can of it hold? Else write its grams",
                (*each_, LEAVE),
            )
        words = {"grams": "g", "each": "piece"}.get(words, words)
        weighed = weigh(f"{value} {words}", key, self.ingredients)
        return weighed.grams, weighed.how

    # what all lines say together

    def _percentages(self):
        """Ask of which flour percentages are, where masses or another bowl's flour stand beside them."""
        read_ = [line for line in self.lines if line.what == "ingredient"]
        for group in {"" if line.kind in MIXED else line.part for line in read_}:
            lines = [line for line in read_ if ("" if line.kind in MIXED else line.part) == group]
            if not any(line.question for line in lines):
                self._of_flour(lines)

    def _of_flour(self, lines):
        shares = [line for line in lines if line.unit == "%"]
        beside, bowls = len(shares) < len(lines), {line.part for line in lines}
        weighed = self.ingredients.total([(line.key, line.grams) for line in lines if line.unit == "g"], "flour")
        flour = self.ingredients.total([(line.key, line.grams) for line in shares], "flour")

        def asked(line):
            if beside and not (weighed and flour < 100):
                self.left("a percentage beside masses: of which flour?")
            if beside or len(bowls) > 1:
                self.ask("percentages", "of all the flour?", ("of all the flour",))
            if beside:
                grams = weighed * line.grams / (100 - flour)
                return replace(line, grams=grams, unit="g", how=f"{line.grams:g} % of the flour")
            if line.kind in MIXED and abs(flour - 100) > 0.05:
                words = f"flour comes to {figure(flour)} %: convert so that it is 100 %?"
                self.ask("flour percentage", words, ("convert all of them",))
            return line

        self.lines = [self.guarded(line, asked) if line in shares else line for line in self.lines]

    def _named_in_the_method(self):
        """A step that names a mass of something that no line has may be where that ingredient stands."""
        if any(line.question for line in self.lines):
            return
        keys = {line.key for line in self.lines}

        def only_a_step(line):
            text = _ASIDE.sub(" ", line.written[:TEXT])
            for one in _amounts(text):
                after = re.split(r"[,.;()]|\b(?:and|with|until|for|into|to)\b", text[one.end :])[0]
                found = self._named(" ".join(after.split()[:4]))
                if found and one.kind in ("mass", "volume") and not keys & {*found.keys}:
                    words = f"{one.text} of {found.phrase} stands in no other line: an ingredient? Then write it so"
                    self.ask(line.written, words, ("a step only",))
            return line

        self.lines = [self.guarded(line, only_a_step) if line.what == "method" else line for line in self.lines]

    def _made_of_all(self):
        """Ask which holds where so many pieces of a mass take far more, or far less, than is mixed."""
        count, piece = self.said.get("count"), self.said.get("dough")
        read_ = [line for line in self.lines if line.key and line.kind in MIXED]
        mixed = sum(line.grams for line in read_)
        if not (count and piece and mixed) or any(line.question or line.unit == "%" for line in self.lines):
            return
        if abs(count * piece / mixed - 1) <= FAR:
            return

        def which(line):
            grams, pieces, many = without_zeros(figure(piece)), plural(count, "piece"), int(mixed / piece)
            words = f"{pieces} of {grams} g take {figure(count * piece, 0)} g, and {figure(mixed, 0)} g is mixed"
            choices = f"{pieces}, of all that is mixed", f"{grams} g a piece, which makes {many}", "both as written"
            holds = choices.index(self.ask("pieces and what is mixed", f"{words}: which holds?", choices))
            if holds == 0:
                del self.said["dough"]
            elif holds == 1:
                self.said["count"] = many
            return line

        self.lines[self.told] = self.guarded(self.lines[self.told], which)
