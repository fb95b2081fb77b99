"""Formulas in spreadsheets: CSV and XLSX as bakers have them, read part by part; written with live percentages."""

import contextlib
import csv
import io
import itertools
import re
import zipfile
import zlib

from ..errors import FileError, KitError, UnknownName, must
from ..files import as_cell, csv_rows, from_cell, read_bytes, whole
from ..tables import ingredients as kit_ingredients
from ..tables import table
from ..units import amount, number
from ..words import did_you_mean, listing, plain, plural
from .amounts import ask_for_unit, counted_as, weigh
from .makes import pieces_in
from .parts import DOUGH, KINDS, MIXED, ON_FLOUR, make_up
from .recipe import part_kind

ENDINGS = (".csv", ".tsv", ".xlsx", ".xlsm", ".xls")
HEADERS = {
    "part": ("part", "section", "component", "bowl", "phase", "stage", "used in", "teil", "partie"),
    "ingredient": (
        "ingredient",
        "ingredients",
        "item",
        "material",
        "raw material",
        "product",
        "name",
        "zutat",
        "zutaten",
        "rohstoff",
        "ingrédient",
        "ingrédients",
        "ingrediente",
        "ingredientes",
        "ingredienti",
        "ingrediënt",
        "ingrediënten",
    ),
    "amount": (
        "amount",
        "quantity",
        "qty",
        "weight",
        "mass",
        "grams",
        "g",
        "kg",
        "lb",
        "oz",
        "menge",
        "gewicht",
        "quantité",
        "poids",
        "cantidad",
        "peso",
        "quantità",
        "hoeveelheid",
    ),
    "unit": ("unit", "units", "uom", "measure", "unit of measure", "einheit", "unité", "unidad", "unità", "eenheid"),
    "percent": ("%", "baker's %", "bakers %", "baker's percentage", "bakers percentage", "percent", "percentage"),
}
LARGEST = 8_000_000  # bytes of a sheet as text, or of a workbook once unpacked
ROWS, WIDE = 5_000, 100  # of a sheet: far more than a formula has
TEXT = 300  # characters of a cell, or of a line, in which a count of pieces is looked for
HOUSE_ROWS = "house ingredients"  # what stands before a house's own figures, below the formula's lines
HEADING = ("part", "ingredient", "amount", "unit", "baker's %")  # as written
WRITER = "kit.write_spreadsheet"  # as the mark of files that are out there
_TOTAL = re.compile(r"\b(sub)?totals?\b|\bsum\b")
_NUMBER_ALONE = re.compile(r"[-+\d.,'/\s¼½¾⅓⅔⅛⅜⅝⅞]+")
_THOUSANDS = re.compile(r"[1-9]\d{0,2}\.\d{3}")
_CONTROL = re.compile("[\x00-\x1f\ud800-\udfff\ufffe\uffff]")  # XML has no place for them
_MERGED = re.compile(rb"<(?:\w+:)?mergeCell\s[^>]*?ref=\"([^\"]+)\"")
_ERRORS = ("#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#N/A", "#NUM!", "#NULL!")


def read(path, sheet=None, house_ingredients=None):
    """Return (what `Formula.from_weights` takes, {kind of part: its name as written}) of a sheet."""
    above, cells, found = _cells(path, sheet)
    cells, house = _house_rows(cells)
    ingredients = kit_ingredients()
    if house_ingredients:
        ingredients = ingredients.with_house(house_ingredients)
    elif house:
        ingredients = ingredients.with_rows(*house)
    problems, makes = [], ""
    try:
        makes, cells = _makes([[path.stem], *above], cells, found["ingredient"], ingredients)
    except KitError as error:  # two counts
        problems.append(str(error))
    more, parts = _place(cells, found, ingredients)
    problems += more
    if not problems and not any(kind == "dough" for kind, _, _ in parts.values()):
        problems.append(f"no line belongs to the dough; name a part 'dough' beside {listing(map(repr, parts)) or 'it'}")
    if problems:
        do = "; ".join(problems)
        be = "a sheet in which each line can be placed"
        refusal = FileError(must(path.name, be, plural(len(problems), "problem"), do))
        refusal.problems = tuple(problems)
        raise refusal
    return _weights(path.stem, parts, ingredients, makes)


def write(batch, path, decimal="."):
    """Write a Batch as CSV or XLSX, with baker's percentages as live formulas; see `Formula.save`."""
    if decimal not in (".", ","):
        raise FileError(must("decimal", "'.' or ','", repr(decimal), "choose one"))
    rows = _rows(batch)
    with whole(path, is_as_written) as file:
        if path.suffix.casefold() == ".xlsx":
            _workbook_of(batch.formula.name, rows).save(file)
        else:
            file.write(_csv(rows, decimal).encode("utf-8-sig"))


# reading: cells


class _Above(str):
    """Text of a merged cell, filled down: it names a part or a unit, never an ingredient or an amount twice."""


def _cells(path, sheet):
    """Return (titles, [(row number, [cell or None])], {column: place}) of the sheet that has the columns."""
    raw = read_bytes(path, LARGEST)
    if raw[:4] == b"PK\x03\x04":
        sheets = workbook(path, raw)
    elif raw[:4] == b"\xd0\xcf\x11\xe0":
        raise FileError(must(path.name, "a CSV or XLSX file", "an older workbook", "save it as .xlsx"))
    elif path.suffix.casefold() in (".xlsx", ".xlsm"):
        raise FileError(must(path.name, "a whole XLSX workbook", "something else", "save it again as .xlsx or .csv"))
    else:
        sheets = {f"parted by {mark!r}": rows for mark, rows in _texts(path, raw).items()}
        sheet = None
    if sheet is not None and sheet not in sheets:
        raise UnknownName(must("sheet", f"one of {listing(sheets, 'or')}", repr(sheet), did_you_mean(sheet, sheets)))
    best = None
    for title, rows in sheets.items():
        if sheet in (None, title):
            found = header(rows)
            if found and (best is None or len(found[1]) > len(best[1][1])):
                best = rows, found
    if best is None:
        do = "give the columns headings in one row"
        raise FileError(must(path.name, "a sheet with the columns ingredient and amount, in any order", "none", do))
    rows, (place, columns) = best
    if len(rows) > ROWS:
        do = "delete what stands below the formula"
        raise FileError(must(path.name, f"a sheet of at most {ROWS:,} rows", "more", do))
    return [row for _, row in rows[: place - 1]], rows[place:], columns


def _texts(path, raw):
    """Return {delimiter: rows} of a CSV file."""
    text = decoded(path, raw)
    return {
        mark: [
            (n, [_one_line(cell) for cell in row[:WIDE]])
            for n, (_, row) in enumerate(itertools.islice(csv_rows(path.name, text, mark), ROWS + 1), 1)
        ]
        for mark in (";", "\t", ",", "|")
    }


def decoded(path, raw):
    """Return the text of a file in UTF-8, UTF-16 with its mark, or else Windows-1252. Raises FileError for none."""
    for encoding in ("utf-16",) if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252"):
        with contextlib.suppress(UnicodeDecodeError):
            if "\x00" not in (text := raw.decode(encoding)):
                return text
    raise FileError(must(path.name, "a text file of cells", "bytes that are no text", "save it as CSV UTF-8"))


def workbook(path, raw):
    """Return {sheet: rows} of an XLSX workbook: values, with merged cells filled and formulas without value marked."""
    import openpyxl

    try:
        _must_be_bounded(path, raw)
        values = openpyxl.load_workbook(io.BytesIO(raw), data_only=True)
        written = openpyxl.load_workbook(io.BytesIO(raw))
    except FileError:
        raise
    except Exception as error:  # openpyxl raises what its parsers raise: zip, XML, key and value errors
        got = f"{type(error).__name__}"
        raise FileError(must(path.name, "a whole XLSX workbook", got, "open it and save it again")) from None
    sheets = {}
    for title in values.sheetnames:
        sheet = values[title]
        if not hasattr(sheet, "iter_rows"):
            continue  # a sheet that is only a chart
        # not iter_rows, which makes every cell up to the last one that anybody ever touched
        filled = [place for place, cell in written[title]._cells.items() if cell.value is not None]
        found = {place: _value(sheet.cell(*place), written[title]) for place in filled if place[0] <= ROWS}
        last, width = (max((place[n] for place in filled), default=0) for n in (0, 1))
        grid = [[found.get((r, c)) for c in range(1, min(width, WIDE) + 1)] for r in range(1, min(last, ROWS + 1) + 1)]
        for merged in sheet.merged_cells.ranges:
            top = found.get((merged.min_row, merged.min_col))
            if isinstance(top, str) and merged.min_col <= WIDE:
                for row in grid[merged.min_row : merged.max_row]:
                    row[merged.min_col - 1] = _Above(top)
        sheets[title] = list(enumerate(grid, 1))
    return sheets


def _must_be_bounded(path, raw):
    """Refuse a workbook that unpacks to far more than a formula, or whose merged cells alone would fill the memory."""
    from openpyxl.utils import range_boundaries

    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        members = archive.infolist()
        size, area = sum(member.file_size for member in members), 0
        if size > LARGEST:
            be, got = f"at most {LARGEST / 1e6:g} MB once unpacked", f"{size / 1e6:,.1f} MB"
            raise FileError(must(path.name, be, got, "copy the formula's sheet into a new workbook"))
        for member in members:
            if member.filename.startswith("xl/worksheets/"):
                for merged in _MERGED.findall(archive.read(member)):
                    left, top, right, bottom = range_boundaries(merged.decode())
                    area += (right - left + 1) * (bottom - top + 1)
    if area > ROWS * WIDE:
        raise FileError(must(path.name, f"at most {ROWS * WIDE:,} merged cells", f"{area:,}", "unmerge what is empty"))


def _one_line(text):
    return " ".join(text.split()) or None


def _value(cell, written):
    if cell.value is None:
        formula = written[cell.coordinate].value
        return str(formula) if isinstance(formula, str) and formula.startswith("=") else None
    if isinstance(cell.value, str):
        return _one_line(cell.value)
    if isinstance(cell.value, (int, float)) and "%" in cell.number_format:
        return f"{100 * cell.value:.12g} %"
    return cell.value


def header(rows):
    """Return (place below the heading, {column: place}) of the first row that names ingredient and amount."""
    for place, (_, row) in enumerate(rows[:40]):
        columns = {}
        for n, cell in enumerate(row):
            heading = re.fullmatch(
                r"(.*?)(?:[\s,]*[\[(]\s*([\w%]+)\s*[\])]|[\s,]+(g|kg|lb|oz))?[\s:]*", str(cell or "")[:TEXT]
            )
            words, unit = plain(heading[1]), heading[2] or heading[3]
            for column, names in HEADERS.items():
                if words in names and column not in columns:
                    columns[column] = n
                    if column == "amount":
                        columns["of amount"] = unit or {"grams": "g"}.get(words, words if len(words) <= 2 else "")
        if "amount" not in columns and "percent" in columns:
            columns |= {"amount": columns["percent"], "of amount": "%"}
        if {"ingredient", "amount"} <= set(columns):
            return place + 1, columns
    return None


def _makes(titles, cells, place, ingredients):
    """Return (what the titles and the lines that name no ingredient say they make, the rows that are left)."""
    said, left = [_said_of_pieces(row) for row in titles], []
    for at, row in cells:
        line = "" if _known(ingredients, _cell(row, place)) else _said_of_pieces(row)
        said.append(line)
        left += [] if line else [(at, row)]
    return "; ".join(filter(None, said)), left


def _said_of_pieces(row):
    """Return the cell of a row, or all of it ("Yield", "24", "rolls"), that says most of pieces."""
    cells = [str(cell) for cell in row if cell is not None]
    best = max([text[:TEXT] for text in (" ".join(cells), *cells)], key=lambda text: len(pieces_in(text)))
    return best if pieces_in(best) else ""


def _house_rows(cells):
    """Return (rows above, what `with_rows` takes or None): a house's own figures stand below the formula's lines."""
    at = next((n for n, (_, row) in enumerate(cells) if row and row[0] == HOUSE_ROWS), None)
    below = [] if at is None else [row for _, row in cells[at:] if row and row[0] is not None]
    if len(below) < 3:
        return cells[:at], None
    texts = [["" if cell is None else from_cell(str(cell)) for cell in row] for row in below]
    house = {row[0]: dict(zip(texts[1][1:], row[1:], strict=False)) for row in texts[2:]}
    for row in house.values():
        row |= {name: f"{number(cell, name):.12g}" for name, cell in row.items() if "per_100g" in name and cell}
        row.pop("", None)
    return cells[:at], (house, texts[0][1] or "the sheet")


# reading: what each line is


def _place(cells, columns, ingredients):
    """Return (problems, {part: (kind, its name as written, {key: (amount, row)})})."""
    problems, parts = [], {}
    rows = [(n, {name: _cell(row, columns.get(name)) for name in HEADERS}) for n, row in cells]
    parted = any(row["part"] is not None for _, row in rows)
    units_used = any(row["unit"] is not None for _, row in rows) and not columns["of amount"]
    part, kind, named_in = ("", None, None) if parted else ("dough", "dough", None)
    percentages = {}

    def problem(at, column, text):
        where = f", column {_letter(columns[column])}" if column in columns else ""
        problems.append(f"row {at}{where}: {text}")

    for at, row in rows:
        what, how_much = (None if isinstance(row[name], _Above) else row[name] for name in ("ingredient", "amount"))
        if _is_total(row["part"]) or (_is_total(what) and not _known(ingredients, what)):
            continue
        if row["part"] is not None:
            part = str(row["part"]).removeprefix("'")
            kind, named_in = part_kind(part), at
        elif not parted and how_much is None and what is not None and not _known(ingredients, what) and part_kind(what):
            part, kind = str(what), part_kind(what)
            continue
        if what is None and (how_much is None or (isinstance(how_much, str) and re.search("[A-Za-z]{3}", how_much))):
            continue  # an empty row, or a remark
        if what is None:
            problem(at, "ingredient", f"{how_much} of nothing: name the ingredient, or write 'total'")
        elif how_much is None:
            problem(at, "amount", f"no amount for {what!r}")
        elif not kind:
            if part is not None:
                known = [
                    word for row in table("recipe_words").rows if row["is"] == "part" for word in row.words.split(";")
                ]
                near = did_you_mean(part, known)
                do = near if near.startswith("did") else f"write {listing(KINDS, 'or')}"
                text = f"{part!r} is no part that is known; {do}" if part else f"no part above {what!r}: name one"
                problem(named_in or at, "part", text)
            part = None  # said once for all its lines
        else:
            found = _line(what, how_much, row["unit"], columns["of amount"], units_used, ingredients)
            if len(found) == 2:
                problem(at, *found)
                continue
            key, grams, is_percentage = found
            _, name, lines = parts.setdefault(plain(part), (kind, part, {}))
            if key in lines:
                problem(at, "ingredient", f"{what!r} is in the {name} already, in row {lines[key][1]}; add both up")
            elif kind != "preferment" and next(p for p, (k, _, _) in parts.items() if k == kind) != plain(part):
                problem(at, "part", f"{part!r} is a second {kind}: put both together, or save two formulas")
            else:
                lines[key] = (grams, at)
                group = "dough" if kind in MIXED else part
                percentages.setdefault(group, set()).add(is_percentage)
    for group, both in percentages.items():
        if len(both) > 1:
            problems.append(f"percentages and masses together in the {group}: give one or the other")
    bowls = [part for part, (kind, _, _) in parts.items() if kind in DOUGH]
    if percentages.get("dough") == {True} and len(bowls) > 1:
        problems.append(f"percentages in {listing(bowls)}: of which flour? give their masses")
    return problems, parts


def _line(what, how_much, unit, unit_of_column, units_used, ingredients):
    """Return (key, amount for `weigh`, whether it is a percentage), or (column, what is wrong with it)."""
    try:
        key = ingredients.find(str(what).removeprefix("'"))
    except UnknownName as error:
        return "ingredient", f"{what!r} is no ingredient that is known; {str(error).rpartition('; ')[2]}"
    text = in_full(how_much)
    if text.startswith("=") or text in _ERRORS:
        return "amount", f"{text!r} has no value; open the sheet in a spreadsheet program and save it with its values"
    if unit is not None:
        text = text if text.casefold().endswith(str(unit).casefold()) else f"{text} {unit}"
    elif _NUMBER_ALONE.fullmatch(text):
        if units_used:
            return "unit", f"no unit for {what!r}: write g, kg, % or another one"
        unit_of_column = unit_of_column or "g" * bool(_THOUSANDS.fullmatch(text))  # 1.230 is asked about, as 1.230 g is
        text = f"{text} {unit_of_column}".strip()
    try:
        given = amount(text, ingredients[key].name)
        if given.kind == "number" and any(measure.startswith("each") for measure in counted_as(key)):
            return "amount", str(ask_for_unit(given.value, key, ingredients))
        if given.kind == "percentage":  # 100 % stands for 100 g of what the part is measured on
            weigh(given.value, key, ingredients)
            return key, given.value, True
        weigh(text, key, ingredients)
    except KitError as error:
        return "amount", str(error)
    return key, text, False


def _weights(name, parts, ingredients, makes):
    preferments, others, names = {}, {}, {}
    for part, (kind, written, lines) in parts.items():
        weights = {key: grams for key, (grams, _) in lines.items()}
        if kind == "preferment":
            preferments[written] = weights
        else:
            word = kind.replace(" ", "_")
            others[word], names[kind] = weights, "dough" if kind == "dough" else part
    batch = any(isinstance(value, str) for value in others["dough"].values())  # percentages tell none
    given = {
        "name": name,
        "preferments": preferments,
        "ingredients": ingredients,
        "makes": makes if batch or not makes else make_up(pieces_in(makes)),
    }
    return others | given, names


def _known(ingredients, what):
    try:
        return bool(ingredients.find(str(what).removeprefix("'")))
    except UnknownName:
        return False


def in_full(cell):
    """Return a cell as text that nobody takes for thousands: 281.125 is 281.1250.

    >>> in_full(281.125), in_full(0.5), in_full("milk")
    ('281.1250', '0.5', 'milk')
    """
    text = f"{cell:.12g}" if isinstance(cell, float) else str(cell)
    return text + "0" if isinstance(cell, float) and re.fullmatch(r"\d{1,3}\.\d{3}", text) else text


def _cell(row, place):
    return row[place] if place is not None and place < len(row) else None


def _is_total(cell):
    return isinstance(cell, str) and bool(_TOTAL.search(plain(cell)))


def _letter(place):
    letters, place = "", place + 1
    while place:
        place, rest = divmod(place - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


# writing


def _rows(batch):
    """Return rows of cells for columns A to E; a live formula is a (formula,) of its own, the rest text and numbers."""
    formula, rows = batch.formula, [list(HEADING)]
    place, spans = {}, {}
    for part in formula.parts:
        start = len(rows) + 1
        for key in part.keys:
            rows.append([part.name, formula.ingredients[key].name, float(f"{batch.grams[part.name, key]:.12g}"), "g"])
            place[part.name, key] = len(rows)
        spans[part.name] = (start, len(rows))
        rows.append([part.name, "total", (f"=SUM(C{start}:C{len(rows)})",), "g"])

    def amounts(parts, kinds):
        return "+".join(f"C{place[p.name, k]}" for p in parts for k in p.keys if formula.ingredients[k].kind in kinds)

    flour = amounts(formula.bowls, ("flour",))
    for part in formula.parts:
        start, end = spans[part.name]
        whole = amounts([part], part.base) if part.base else f"SUM(C{start}:C{end})"
        if part.kind in ON_FLOUR:
            whole = flour
        for row in range(start, end + 2):
            rows[row - 1].append((f"=C{row}/({whole})*100",))
    ends = [spans[part.name][1] + 1 for part in formula.parts if part.kind in MIXED]
    total = "+".join(f"C{end}" for end in ends)
    rows.append(["dough and preferments", "total", (f"={total}",), "g", (f"=C{len(rows) + 1}/({flour})*100",)])
    if house := formula.house_rows:
        columns = list(dict.fromkeys(column for row in house.values() for column in row))
        rows += [[HOUSE_ROWS, formula.ingredients.origin], ["key", *columns]]
        for key, row in house.items():
            cells = [row.get(column, "") for column in columns]
            rows.append([key, *(float(c) if "per_100g" in n and c else c for n, c in zip(columns, cells, strict=True))])
    return rows


def is_as_written(raw):
    """Whether a file is as the kit wrote it: a spreadsheet program puts its own mark, or values for formulas."""
    if raw[:4] != b"PK\x03\x04":
        headings = (mark.join(HEADING).encode("utf-8-sig") for mark in ",;")
        return raw.startswith(tuple(headings)) and b"=SUM(C" in raw
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive, archive.open("docProps/core.xml") as member:
            said = member.read(10_000)
    except (zipfile.BadZipFile, KeyError, NotImplementedError, RuntimeError, zlib.error):
        return False
    return f">{WRITER}<".encode() in said and b"lastModifiedBy" not in said


def _csv(rows, decimal):
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=";" if decimal == "," else ",")
    for row in rows:
        writer.writerow(
            [
                cell[0]
                if isinstance(cell, tuple)
                else as_cell(cell)
                if isinstance(cell, str)
                else in_full(cell).replace(".", decimal)
                for cell in row
            ]
        )
    return out.getvalue()


def _workbook_of(title, rows):
    import openpyxl
    from openpyxl.styles import Font

    book = openpyxl.Workbook()
    book.properties.creator = WRITER
    sheet = book.active
    sheet.title = re.sub(r"[\[\]:*?/\\]", " ", _CONTROL.sub(" ", title))[:31].strip("' ") or "formula"
    for r, row in enumerate(rows, 1):
        for c, cell in enumerate(row, 1):
            target = sheet.cell(r, c)
            target.value = (
                cell[0] if isinstance(cell, tuple) else _CONTROL.sub(" ", cell) if isinstance(cell, str) else cell
            )
            if isinstance(cell, str):
                target.data_type = "s"  # a name that begins with = stays a name
                target.quotePrefix = cell[:1] in ("=", "+", "-", "@")
            elif c in (3, 5):
                target.number_format = "0.00" if c == 5 else "0.0"
            if r == 1 or (len(row) > 1 and row[1] == "total"):
                target.font = Font(bold=True)
    for letter, width in zip("ABCDE", (24, 28, 12, 8, 12), strict=True):
        sheet.column_dimensions[letter].width = width
    sheet.freeze_panes = "A2"
    return book
