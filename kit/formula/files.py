"""Formulas as TOML files that people read and edit: comments kept, written whole or not at all.

A preferment's lines are on its own flour, its `flour` says how much of the total flour goes in; the dough's
lines are the total formula. A file says `format = 1`; a later kit reads it too. A house's own figures are named by
their CSV, beside the formula (`house_ingredients = "ours.csv"`); what is written holds the rows themselves, those that
the formula uses, so that they travel with it.
"""

import contextlib
import math
import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import tomlkit

from ..errors import FileError, FormulaError, UnknownName, must, whole_letters
from ..files import stem, write_whole
from ..tables import Ingredients
from ..tables import ingredients as kit_ingredients
from ..units import UNIT_OF
from ..units import read as read_unit
from ..words import did_you_mean, figure, listing, one_of
from . import spreadsheets
from .losses import read_losses
from .parts import DOUGH, KINDS, ON_FLOUR, PIECES, Bake, Step, by_key, make_up, only_one, part_of, usual_base
from .usual import check_bake

if TYPE_CHECKING:
    from .formula import Formula

FORMAT = 1
TOP: tuple[str, ...] = ("format", "name", "house", "invented", "about", "parent", "house_ingredients", "egg_measured")
TOP += ("pieces", "losses", "parts", "steps", "bake", "notes")
PART = ("kind", "flour", "base", "lines", "notes")
# keys with dots in them, and tables in one line
_UNUSUAL = re.compile(r"""^\s*(?:[\w-]+|"[^"\n]*"|'[^'\n]*')\s*\.[^=\n]*=|=\s*\{""", re.MULTILINE)
# what a step and the bake say in numbers
AMOUNTS = {"minutes": "time", "humidity": "percentage"} | dict.fromkeys(("temperature", "oven", "core"), "temperature")


def fields(text, name, house_ingredients=None, folder=None):
    """Return {field: value} of the Formula in TOML text; see `Formula.parse`."""
    whole_letters(name, text)
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:  # lists in lists, thousands deep
        do = "mend that line; the file itself was not touched"
        raise FileError(must(name, "a whole TOML file", str(error).rstrip("."), do)) from None
    _known_words(document, TOP, name)
    version = document.get("format")
    if version != FORMAT:
        later = isinstance(version, int) and version > FORMAT
        do = "update the kit" if later else f"begin the file with format = {FORMAT}"
        raise FileError(must(f"{name} format", f"{FORMAT}", version, do))
    ingredients = _ingredients(house_ingredients, document.get("house_ingredients"), folder)
    steps = _typed(document.get("steps", []), list, f"{name} steps", "begin each with [[steps]]")
    bake = Bake(**_said(_table(document, "bake", name), Bake, f"{name} bake"))
    check_bake(bake)
    return {
        "name": str(document.get("name") or Path(name).stem),
        "parts": _parts(document.get("parts"), ingredients, name),
        "pieces": _pieces(document, name),
        "losses": read_losses(_table(document, "losses", name)),
        "steps": tuple(_step(step, name) for step in steps),
        "bake": bake,
        "invented": bool(document.get("invented", False)),
        "ingredients": ingredients,
        "egg_measured": one_of("egg_measured", document.get("egg_measured", "weighed"), ("weighed", "counted")),
        "text": text,
        **{word: str(document.get(word, "")) for word in ("house", "about", "parent")},
    }


def _ingredients(own, named, folder):
    """Return the kit's ingredients with a house's: a CSV of its own, else what the document holds or names."""
    if isinstance(own, Ingredients):
        return own
    if own:
        return kit_ingredients().with_house(own)
    if named is None:
        return kit_ingredients()
    if isinstance(named, dict):
        rows = {key: row for key, row in named.items() if key != "from"}
        for key, row in rows.items():
            _typed(row, dict, f"house_ingredients {key}", f"write its figures below [house_ingredients.{key}]")
        return kit_ingredients().with_rows(rows, str(named.get("from", "the formula's own table")))
    do = "read it from its file, or write the rows below [house_ingredients]"
    if not _typed(named, str, "house_ingredients", do) or folder is None:
        raise FileError(must("house_ingredients", "in a file's folder, or rows in the text itself", repr(named), do))
    return kit_ingredients().with_house(Path(folder) / named)


_TYPES = {dict: "a table", list: "a list of tables", str: "the name of a CSV beside the formula"}


def _typed(value, kind, name, do):
    """Return a value of that kind. Raises FileError for another."""
    if not isinstance(value, kind) or (kind is list and not all(isinstance(each, dict) for each in value)):
        raise FileError(must(name, _TYPES[kind], repr(value), do))
    return value


def _table(document, word, name):
    return _typed(document.get(word, {}), dict, f"{name} {word}", f"write it below [{word}]")


def _pieces(document, name):
    pieces = _table(document, "pieces", name)
    for word, value in pieces.items():
        if isinstance(value, (list, dict)):
            raise FormulaError(must(f"piece {word}", "one mass", repr(value), "a file holds one formula"))
    return make_up(pieces)


def _known_words(table, known, where):
    for word in table:
        if word not in known:  # spelled just so: what differs would be passed over
            be = f"one of {listing(known, 'or')}"
            raise UnknownName(must(f"{where} {word}", be, repr(word), did_you_mean(word, known)))


def _parts(tables, ingredients, name):
    if not isinstance(tables, dict) or not tables:
        raise FileError(must(f"{name} parts", "tables such as [parts.dough]", "none", "the file may have been cut off"))
    parts = []
    for part_name, body in tables.items():
        _typed(body, dict, f"part {part_name}", f"write [parts.{part_name}]")
        _known_words(body, PART, f"part {part_name}")
        kind = one_of(f"kind of {part_name}", body.get("kind", part_name), KINDS)
        found = by_key(part_name, _table(body, "lines", f"part {part_name}"), ingredients)
        lines = {
            key: read_unit(value, "percentage", f"{part_name} {written}") for key, (written, value) in found.items()
        }
        if kind in DOUGH[:-1]:
            lines = _on_total_flour(part_name, body, lines, ingredients)
        parts.append(part_of(str(part_name), kind, lines, ingredients, body.get("base")))
    first = [part for part in parts if part.kind in DOUGH[:-1]]
    return tuple(_final(part, first, ingredients) if part.kind == "dough" else part for part in parts)


def _final(dough, first, ingredients):
    """Return the final dough: the total formula without what the parts mixed first take."""
    left = dict(dough.items)
    for part in first:
        for key, value in part.items:
            left[key] = left.get(key, 0.0) - value
            if left[key] < -1e-6:
                what, there = f"dough {ingredients[key].name}", figure(dough.percentage(key), 2)
                do = f"the {part.name} alone takes {figure(value, 2)} %; raise the total or that part"
                raise FormulaError(must(what, "at least what the preferments take", f"{there} %", do))
    return dough.with_lines({key: value for key, value in left.items() if abs(value) > 1e-9})


def _on_total_flour(part_name, body, lines, ingredients):
    own = ingredients.total(lines.items(), "flour")
    if own == 0 and "flour" not in body:
        return lines  # a preferment without flour is written on the total flour
    share = read_unit(body.get("flour", 0), "percentage", f"{part_name} flour")
    if not 0 < share <= 100:
        be, do = "above 0 and at most 100 % of the total flour", "say how much of it goes in: flour = 25"
        raise FormulaError(must(f"{part_name} flour", be, f"{share:g} %", do))
    if abs(own - 100) > 0.005:
        do = f"a {part_name}'s lines are on its own flour"
        raise FormulaError(must(f"{part_name} flour lines", "100 % in all", f"{figure(own, 2)} %", do))
    return {key: value * share / 100 for key, value in lines.items()}


def _step(step, name):
    said = _said(step, Step, f"{name} step")
    if not said.get("do"):
        raise FormulaError(must(f"{name} step", "a step that says what to do", repr(dict(step)), 'write do = "..."'))
    adds = step.get("adds", [])
    return Step(**said | {"adds": tuple(map(str, adds if isinstance(adds, list) else [adds]))})


def _said(table, kind, where):
    """Return {word: amount in its house unit, or text} of a table that says what a Step or a Bake holds."""
    _known_words(table, kind.__dataclass_fields__, where)
    return {
        word: read_unit(value, AMOUNTS[word], f"{where} {word}") if word in AMOUNTS else str(value)
        for word, value in table.items()
    }


# writing


def write(formula):
    """Return a formula as TOML text, with the house's rows it uses; comments of the file it was read from stay."""
    only_one(formula, "to be written", "choose one")
    text = formula.text or f"format = {FORMAT}\n"
    if not _UNUSUAL.search(text):
        return _edited(tomlkit.parse(text), formula)
    # tomlkit loses words, or gives up, when some of such files are changed: then the comments go, and all else stays
    whole = _edited(tomlkit.parse(tomlkit.dumps(tomllib.loads(text))), formula)
    with contextlib.suppress(Exception):
        edited = _edited(tomlkit.parse(text), formula)
        if tomllib.loads(edited) == tomllib.loads(whole):
            return edited
    return whole


def _edited(document, formula):
    own = {word: getattr(formula, word) for word in ("name", "house", "about", "parent", "invented")}
    counted = formula.egg_measured if formula.egg_measured != "weighed" or "egg_measured" in document else ""
    _bring(document, own | {"egg_measured": counted})
    masses = {name: _short(getattr(formula.pieces, name)) for name in ("dough", "topping", "wash", "filling")}
    count = {"count": formula.pieces.count} if formula.pieces.count else {}
    given = {k: v for k, v in masses.items() if k not in formula.pieces.taken and (v or k in PIECES)}
    _bring(_below(document, "pieces"), count | {k: f"{v} g" for k, v in given.items()}, whole=True)
    if formula.losses or "losses" in document:
        _bring(
            _below(document, "losses"), {stage: _short(value) for stage, value in formula.losses.items()}, whole=True
        )
    bodies = document.setdefault("parts", tomlkit.table(is_super_table=True))
    for gone in {*bodies} - {part.name for part in formula.parts}:
        del bodies[gone]
    for part in formula.parts:
        body = _below(bodies, part.name)
        lines = dict(part.items)
        said = {"kind": part.kind} if part.kind != part.name or "kind" in body else {}
        if part.kind in DOUGH[:-1]:
            if flour := formula.flour_in(part):
                said["flour"] = _short(flour)
                lines = {key: value * 100 / flour for key, value in lines.items()}
        elif part.kind == "dough":
            lines = dict(zip(formula.dough_keys, formula.dough_percentages, strict=True))
        elif part.kind not in ON_FLOUR and (part.base != usual_base(lines, formula.ingredients) or "base" in body):
            said["base"] = list(part.base) or "mass"
        _bring(body, said)
        lines = {key: _short(value) for key, value in lines.items()}
        _bring(_below(body, "lines"), lines, formula.ingredients, whole=True)
    if not formula.text:
        method = {"bake": _told(formula.bake), "steps": [_told(step) for step in formula.steps]}
        document.update({word: told for word, told in method.items() if told})
    _put_house_rows(document, formula)
    return tomlkit.dumps(document)


def _below(table, word):
    return table.setdefault(word, tomlkit.table())


def _put_house_rows(document, formula):
    rows = {key: {word: _plain_cell(cell) for word, cell in row.items()} for key, row in formula.house_rows.items()}
    wanted = {"from": formula.ingredients.origin} | rows if rows else {}
    if document.get("house_ingredients") == wanted:
        return
    document.pop("house_ingredients", None)
    if wanted:
        document["house_ingredients"] = wanted  # last: a table ends what stands at the top


def _plain_cell(text):
    return _short(text) if re.fullmatch(r"\d+(\.\d{1,9})?", text) else text


def _bring(table, values, ingredients=None, whole=False):
    """Bring a table to these values, a whole one to no others; what stays as it was keeps comments and spelling."""
    written = {(ingredients.find(name) if ingredients else name): name for name in table}
    for name in [name for key, name in written.items() if whole and key not in values]:
        del table[name]
    for key, value in values.items():
        name = written.get(key) or (ingredients[key].name if ingredients else key)
        if (whole or value or name in table) and not (name in table and _same(table[name], value, whole)):
            table[name] = value


def _same(old, new, amounts):
    if old == new or not amounts:
        return old == new
    for kind in ("percentage", "mass"):
        with contextlib.suppress(TypeError, ValueError):
            return math.isclose(read_unit(old, kind), read_unit(new, kind), rel_tol=1e-11)
    return False


def _told(said):
    """Return what a table says of a Step or a Bake."""
    told = {word: value for word, value in vars(said).items() if value not in ("", (), None)}
    for word, value in told.items():
        told[word] = f"{_short(value)} {UNIT_OF[AMOUNTS[word]]}" if word in AMOUNTS else value
    return told


def _short(value):
    text = f"{float(value):.12g}"  # twelve digits: what float sums leave behind is not the baker's
    return int(text) if re.fullmatch(r"-?\d+", text) else float(text)


def save(
    formula: "Formula",
    path: str | Path | None = None,
    flour: float | str | None = None,
    pieces: int | str | None = None,
    decimal: str = ".",
) -> "Formula":
    """Write this formula to a file, whole or not at all: TOML, or a batch of it as CSV or XLSX.

    A TOML file holds all of it, and keeps the comments of the file it was read from. A sheet holds a batch in grams
    with baker's percentages and totals as live formulas, not its make-up, method and losses; text that a spreadsheet
    would take for a formula stays text.

    path: the file, whose ending says what it is; else the one it was read from.
    flour [g or any mass], pieces [count]: of a sheet's batch, else the formula's own count, else 1000 g of flour.
    decimal: "." or "," in a CSV, where "," parts the columns by semicolons.
    Returns the formula as saved, with its path.
    Raises FileError for a file that has changed since it was read, a sheet that the kit did not write, or a place that
    cannot be written; FormulaError for many formulas at once; UnknownName for another decimal mark.

    >>> import tempfile
    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "milk": 50})
    >>> Formula.read(bun.save(Path(tempfile.mkdtemp()) / "bun.xlsx").path).of_kind("milk")
    50.0
    """
    path = Path(path or formula.path or "")
    ending = path.suffix.casefold()
    if ending in (".csv", ".xlsx"):
        whole_batch = 1000.0 if flour is None and pieces is None and not formula.pieces.count else flour
        spreadsheets.write(formula.scale(flour=whole_batch, pieces=pieces), path, decimal)
        return replace(formula, path=path, text="")
    if ending != ".toml":
        do = "give it a name with such an ending, or use keep"
        raise FileError(must("path", "the name of a .toml, .csv or .xlsx file", repr(path.name), do))
    text = write(formula)

    def as_read(now):
        known = formula.text if formula.path and path.resolve() == Path(formula.path).resolve() else None
        if now.decode("utf-8-sig", "replace") != known:
            do = "somebody saved it meanwhile: read it again, or keep yours under another name"
            raise FileError(must(path.name, "as it was when it was read", "another text", do))
        return True

    write_whole(path, text, as_read)
    return replace(formula, path=path, text=text)


def keep(formula: "Formula", name: str, folder: str | Path | None = None) -> "Formula":
    """Save a variant at once as a new file beside its parent's, without its comments, and return it with its lineage.

    name: any text; the file's name is made from it and is never one that exists; of one name at most 999 [count].
    folder: else its parent's.
    Returns the variant as saved, with its path and its parent.
    Raises FileError, FormulaError for what cannot be mixed as written.

    >>> import tempfile
    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "milk": 50})
    >>> bun.keep("Milk bun", tempfile.mkdtemp()).path.name
    'milk_bun.toml'
    """
    folder = Path(folder or (Path(formula.path).parent if formula.path else "."))
    parent = formula.parent
    if formula.path:  # the parent as its file had it, not as it stands now
        name_of = Path(formula.path).name
        saved = formula.parse(formula.text, name_of, formula.ingredients) if formula.text else formula
        parent = f"{name_of} {saved.fingerprint}"
    variant = replace(formula, name=str(name), parent=parent, text="").checked()
    text = write(variant)
    for number_ in range(1, 1000):
        path = folder / (f"{stem(name)}.toml" if number_ == 1 else f"{stem(name)}_{number_}.toml")
        with contextlib.suppress(FileExistsError):
            write_whole(path, text)
            return replace(variant, path=path, text=text)
    raise FileError(must(str(name), "a name with fewer than 1,000 variants", "1,000", "choose another name"))
