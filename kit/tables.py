"""The reference tables: every figure with its unit, its source and, where known, its range.

A table is a CSV file; its column names carry the units and every row a source key. Blank means unknown,
which is not zero: the numbers of `Ingredients` come with a mask that says which are known.
"""

import contextlib
import csv
import functools
import io
import re
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from . import page, places
from .errors import AmountError, FileError, UnknownName, must
from .files import read_text
from .words import did_you_mean, figure, listing, one_of, plain

# What an ingredient is made of: these are summed, and close to 100 g.
COMPONENTS = ("water", "protein", "fat", "carbohydrate", "ash", "alcohol")
# What a house's file may say of a bag beside its figures.
HOUSE_WORDS = ("label_name", "sub_ingredients", "allergens_complete")
# Parts of those ("of which") and what else 100 g bring; never summed with them.
VIEWS = ("sugars", "lactose", "starch", "fibre", "saturated_fat", "added_salt")
OTHERS = ("sodium", "energy")
COLUMNS = COMPONENTS + VIEWS + OTHERS
UNIT = {"sodium": "mg", "energy": "kcal"}
# What a figure is worth, the surest first; a table's column `provenance` holds one of these.
MARKS = ("published", "derived", "fitted here", "from memory", "common practice", "assumed here")


class Row(dict):
    """A row of a reference table: {column: text}, and by its fields: figures as floats, None where the cell is blank.

    >>> row = Row({"what": "salt", "low_percent": "1.2", "high_percent": ""}, {"low_percent", "high_percent"})
    >>> row.what, row.low_percent, row.high_percent, row["low_percent"]
    ('salt', 1.2, None, '1.2')
    """

    def __init__(self, cells, figures=()):
        super().__init__(cells)
        for column, text in cells.items():
            number = float(text) if text and column in figures else None
            setattr(self, column, number if column in figures else text)


@dataclass(frozen=True)
class Table:
    """A table as read: column names and rows of text; of a reference table each a Row."""

    name: str
    columns: tuple
    rows: tuple = field(repr=False)
    places: tuple = field(default=(), repr=False)  # line of the file on which each row ends
    about: str = field(default="", repr=False)  # the comments of the file

    def numbers(self, column):
        """Return a column as floats in the unit its name carries; blank is NaN."""
        return np.array([float(row[column] or "nan") for row in self.rows])

    def row(self, **cells):
        """Return the first row that holds these cells. Raises UnknownName.

        >>> table("piece_defaults").row(what="tray_gap").unit
        'cm'
        """
        for row in self.rows:
            if cells.items() <= row.items():
                return row
        raise UnknownName(must(self.name, "a table with such a row", cells, "mend the name"))

    def to_frame(self):
        """Return the table as a pandas DataFrame."""
        return page.frame(self.columns, self.rows)


def read_csv(path):
    """Return the Table in a CSV file, cells parted by commas or semicolons, lines that begin with # taken as comments.

    Raises FileError when it cannot be read as UTF-8 CSV with a header.
    """
    path, text = Path(path), re.split("\r\n|\r|\n", read_text(path))
    told = [line.startswith(("#", '"#')) for line in text]  # quoted by a spreadsheet program for a quote in it
    about = " ".join(line.strip('"# ,;') for line, comment in zip(text, told, strict=True) if comment)
    text = ["" if comment else line for line, comment in zip(text, told, strict=True)]
    head = next((line for line in text if line.strip()), "")
    mark = ";" if head.count(";") > head.count(",") else ","
    reader = csv.reader(io.StringIO("\n".join(text)), delimiter=mark, strict=True)
    columns, rows, places = (), [], []
    try:
        for cells in reader:
            cells = tuple(map(str.strip, cells))
            if not columns:
                columns = cells if any(cells) else ()
            elif any(cells):
                if len(cells) != len(columns):
                    raise csv.Error
                rows.append(dict(zip(columns, cells, strict=True)))
                places.append(reader.line_num)
    except csv.Error:
        do = "mend that row, put a cell with a comma in quotes, or take the missing end from a copy"
        raise FileError(must(path.name, "a whole table", f"a broken row {reader.line_num}", do)) from None
    return Table(path.stem, columns, tuple(rows), tuple(places), about)


def _figures(result):
    """Return the columns of a table that hold numbers, and blanks, alone."""
    found = set()
    for column in result.columns:
        with contextlib.suppress(ValueError):
            if np.isfinite(result.numbers(column)).any():
                found.add(column)
    return found


@functools.cache
def table(name):
    """Return a Table of the kit's own by the name of its file. Raises UnknownName, also for a mark of none.

    >>> table("yeast_forms").columns[:3]
    ('from_form', 'to_form', 'factor')
    """
    path = places.reference_tables() / f"{name}.csv"
    if not path.exists():
        known = [file.stem for file in path.parent.glob("*.csv")]
        raise UnknownName(must("table", "one of the reference tables", repr(name), did_you_mean(name, known)))
    result = read_csv(path)
    for line, row in zip(result.places, result.rows, strict=True):
        if "provenance" in row:
            one_of(f"provenance in line {line} of {path.name}", row["provenance"], MARKS)
    figures = _figures(result)
    return replace(result, rows=tuple(Row(row, figures) for row in result.rows))


def told(name, figures=(), **cells):
    """Return the words of a table's rows that hold these cells, filled in with figures {name: text}.

    A row that asks for a figure which is missing or blank is left out.

    >>> told("label_words", {"net": "72.5"}, market="", what="to write")
    ['net mass (a piece: 72.5 g on average)']
    """
    known, found = {name: text for name, text in dict(figures).items() if text}, []
    for row in table(name).rows:
        if cells.items() <= row.items():
            with contextlib.suppress(KeyError):
                found.append(row.words.format_map(known))
    return found


@functools.cache
def source(key, people=True):
    """Return what a source key stands for, as a reader may cite it; a sentence leaves people's names out.

    >>> source("hamelman_2004", people=False)
    "Bread: A Baker's Book of Techniques and Recipes, 2004"
    """
    for row in table("sources").rows:
        if row.key == key:
            author = row.publisher_or_authors
            named = author != "no author" and (people or not re.match(r"[A-Z]\. ", author))
            return ", ".join(filter(None, (author if named else "", row.title, row["year"])))
    raise UnknownName(must("source", "a key of the sources table", repr(key), "add it to sources.csv"))


def ground(row):
    """Return what the figure of a row rests on, as a page prints it: its source, and its mark where that says less.

    >>> ground({"source": "hamelman_2004", "provenance": "from memory"})
    "Bread: A Baker's Book of Techniques and Recipes, 2004 (from memory)"
    >>> ground({"source": "assumed_here", "provenance": "assumed here"})
    'assumed here'
    """
    mark = row["provenance"]
    if row["source"] == mark.replace(" ", "_"):
        return mark
    return source(row["source"], people=False) + ("" if mark == "published" else f" ({mark})")


@dataclass(frozen=True, eq=False)
class Ingredients:
    """What a kitchen has: names and composition per 100 g, with a mask of what is known.

    composition (I, C) [g, sodium mg, energy kcal, per 100 g], known (I, C), house (I, C): figures that a
    house's own file gave.
    """

    rows: tuple = field(repr=False)
    composition: np.ndarray = field(repr=False)
    known: np.ndarray = field(repr=False)
    house: np.ndarray = field(repr=False)
    index: dict = field(repr=False)
    origin: str = "reference tables"
    stated: dict = field(default_factory=dict, repr=False)  # key: {column: text} that a house gave

    def find(self, name):
        """Return the key of an ingredient by its name, alias or key. Raises UnknownName, with near names.

        >>> ingredients().find("Bread-Flour")
        'bread_flour_enriched'
        """
        place = self.index.get(plain(name))
        if place is None:
            known = [plain(row.name) for row in self.rows] + list(self.index)
            do = did_you_mean(name, known, "add it to your house's ingredients file")
            raise UnknownName(must("ingredient", "one the tables know", repr(str(name)), do))
        return self.rows[place].key

    def row(self, key):
        """Return the position of a key, as `find` gives it."""
        return self._place[key]

    @functools.cached_property
    def _place(self):
        return {row.key: n for n, row in enumerate(self.rows)}

    def __getitem__(self, key):
        """Return the row of an ingredient, as text, by its key."""
        return self.rows[self.row(key)]

    def column(self, name):
        """Return one column of the composition, per 100 g; unknown is 0 here, so ask `known` beside it."""
        return self.composition[:, COLUMNS.index(name)]

    def of_kind(self, kind):
        """Return the keys of one kind, the kitchen's default first.

        >>> ingredients().of_kind("butter")[0]
        'butter_unsalted'
        """
        return tuple(row.key for row in self.rows if row.kind == kind)

    def total(self, lines, *kinds):
        """Return what lines [(key, amount)] of some kinds come to, float or array; of all kinds when none is named.

        >>> ingredients().total([("bread_flour_enriched", 80.0), ("butter_unsalted", 15.0)], "flour")
        80.0
        """
        return sum((amount for key, amount in lines if not kinds or self[key].kind in kinds), 0.0)

    @functools.cached_property
    def kinds(self):
        """The kinds there are."""
        return tuple(dict.fromkeys(row.kind for row in self.rows))

    def house_figures(self, key):
        """Return the figures of an ingredient that the house's file gave, in words; empty when none."""
        row = self.row(key)
        given = [
            f"{column.replace('_', ' ')} {figure(self.composition[row, c], 2)} {UNIT.get(column, 'g')}"
            for c, column in enumerate(COLUMNS)
            if self.house[row, c]
        ]
        return f"{self.rows[row].name}: {listing(given)} per 100 g, by {self.origin}" if given else ""

    def with_house(self, path):
        """Return these ingredients with a house's own file laid over them.

        The file has the columns of ingredients.csv, of which `key` and those that differ are enough, and may have
        label_name and sub_ingredients, as its label and the supplier's specification say, and allergens_complete, by
        whom and when; a row with a new key adds an ingredient. Raises FileError or AmountError; a changed row must
        still close.
        """
        own = read_csv(path)
        if "key" not in own.columns:
            raise FileError(must(Path(path).name, "a table with a 'key' column", listing(own.columns), "add it"))
        rows = {row["key"]: {name: row[name] for name in own.columns if name != "key"} for row in own.rows}
        return self.with_rows(rows, Path(path).name)

    def with_rows(self, house, origin):
        """Return these ingredients with a house's rows laid over them, as `house_rows` gives them.

        house {key: {column of ingredients.csv or of HOUSE_WORDS: text or number}}, blank for what stays;
        origin [whose they are]. Raises UnknownName, FileError, AmountError.

        >>> own = ingredients().with_rows({"butter_unsalted": {"fat_g_per_100g": 84, "water_g_per_100g": 14.5}}, "ours")
        >>> own.house_rows(["butter_unsalted", "honey"])
        {'butter_unsalted': {'fat_g_per_100g': '84', 'water_g_per_100g': '14.5'}}
        """
        allowed = {*table("ingredients").columns, *HOUSE_WORDS}
        rows, stated = {row.key: row for row in self.rows}, dict(self.stated)
        for key, cells in house.items():
            for column in cells:
                if column not in allowed:
                    do = did_you_mean(column, allowed)
                    raise UnknownName(must("column", "one of ingredients.csv", repr(column), do))
            given = {name: str(value) for name, value in cells.items() if str(value) != ""}
            for need in ("name", "kind") if key not in rows else ():
                if not given.get(need):
                    do = f"give its {need} in the house's file"
                    raise FileError(must(key, f"an ingredient with a {need}", "none", do))
            blank = dict.fromkeys(allowed, "") | {"group": "other", "counts_as_liquid": "no", "key": key}
            rows[key] = rows.get(key, blank) | given
            _must_be_complete(key, given)
            stated[key] = stated.get(key, {}) | given
        result = _ingredients(rows.values(), origin, stated)
        for key in house:
            _must_close(result, result.row(key))
        return result

    def house_rows(self, keys):
        """Return what a house's own file gave of these ingredients: {key: {column: text}}, as `with_rows` takes it."""
        return {key: dict(self.stated[key]) for key in keys if key in self.stated}


def _must_be_complete(key, given):
    """Refuse allergens that nobody signs for, and a signature under nothing."""
    said = given.get("allergens_complete")
    if said and not re.fullmatch(r".*\w.*, *\d{4}-\d\d-\d\d", said):
        be = "by whom and when, as in A. Baker, 2026-11-01"
        raise FileError(must(f"{key} allergens_complete", be, repr(said), "or leave it blank: then it stays to check"))
    if said and not given.get("allergens"):
        do = "list them, or write none"
        raise FileError(must(f"{key} allergens", "stated where they are said to be complete", "nothing", do))


def _must_close(result, place):
    parts = slice(0, len(COMPONENTS))
    total = result.composition[place, parts].sum()
    row = result.rows[place]
    whole = result.known[place, parts].all()
    if row.closure_exception or (abs(total - 100) <= 1.5 if whole else total <= 101.5):
        return
    do = f"make {listing(COMPONENTS)} of 100 g add up to 100 g"
    raise AmountError(must(row.name, "an ingredient whose parts add up to 100 g", f"{figure(total, 2)} g", do))


def _ingredients(rows, origin="reference tables", stated=None):
    rows, stated = tuple(map(Row, rows)), stated or {}  # figures as text: what is known of them stands in the arrays
    composition, known, house = (np.zeros((len(rows), len(COLUMNS)), kind) for kind in (float, bool, bool))
    index = {}
    for n, row in enumerate(rows):
        for name in (row.key, row.name, *row.aliases.split(";")):
            if index.setdefault(plain(name), n) != n and plain(name):
                do = f"rename it: {rows[index[plain(name)]].name} is called that already"
                raise FileError(must("ingredient", "called by names of its own", repr(name), do))
        for c, column in enumerate(COLUMNS):
            written = f"{column}_{UNIT.get(column, 'g')}_per_100g"
            house[n, c] = written in stated.get(row.key, ())
            if (text := row[written]) == "":
                continue
            try:
                composition[n, c] = float(text)
            except ValueError:
                raise AmountError(must(f"{row.name} {column}", "a number", repr(text), "weigh it")) from None
            if not 0 <= composition[n, c] < np.inf or (column not in OTHERS and composition[n, c] > 100):
                raise AmountError(must(f"{row.name} {column}", "0 to 100 g per 100 g", text, "check it"))
            known[n, c] = True
        if row.kind == "water":  # its 0.1 g of minerals left out: what is poured from the tap is all water
            composition[n, : len(COMPONENTS)] = [100.0 * (name == "water") for name in COMPONENTS]
    return Ingredients(rows, composition, known, house, index, origin, stated)


def in_tables(key):
    """Return whether an ingredient is one of the kit's own, not one that a house's file adds."""
    return key in ingredients()._place


@functools.cache
def ingredients():
    """Return the kit's own ingredients, without any house's figures.

    >>> round(float(ingredients().column("water")[ingredients().row("butter_unsalted")]), 2)
    17.94
    """
    return _ingredients(table("ingredients").rows)
