"""Spreadsheets as bakers have them: the cells of a workbook, which columns name what; written with live percentages."""

import contextlib
import csv
import io
import re
import zipfile
import zlib

from ..errors import FileError, must
from ..files import as_cell, whole
from ..words import one_of, plain
from .parts import MIXED, ON_FLOUR
from .wording import words_of

LARGEST = 8_000_000  # bytes of a sheet as text, or of a workbook once unpacked
ROWS, WIDE = 5_000, 100  # of a sheet: far more than a formula has
TEXT = 300  # characters of a cell, or of a line, in which a count of pieces is looked for
HEADING = ("part", "ingredient", "amount", "unit", "baker's %")  # as written
WRITER = "kit.write_spreadsheet"  # as the mark of files that are out there
_CONTROL = re.compile("[\x00-\x1f\ud800-\udfff\ufffe\uffff]")  # XML has no place for them
_MERGED = re.compile(rb"<(?:\w+:)?mergeCell\s[^>]*?ref=\"([^\"]+)\"")


class Above(str):
    """Text of a merged cell, filled down: it names a part or a unit, never an ingredient or an amount twice."""


def decoded(path, raw):
    """Return the text of a file in UTF-8, UTF-16 with its mark, or else Windows-1252. Raises FileError for none."""
    for encoding in ("utf-16",) if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252"):
        with contextlib.suppress(UnicodeDecodeError):
            if "\x00" not in (text := raw.decode(encoding)):
                return text
    raise FileError(must(path.name, "a text file of cells", "bytes that are no text", "save it as CSV UTF-8"))


def sheets_of(path, raw, sheet=None):
    """Return {sheet: rows of cells} of an XLSX workbook, of one sheet where it is named: values, with merged cells
    filled, and formulas that have none. Raises FileError, UnknownName.
    """
    import openpyxl

    if raw[:4] == b"\xd0\xcf\x11\xe0":
        raise FileError(must(path.name, "a CSV or XLSX file", "an older workbook", "save it as .xlsx"))
    if raw[:4] != b"PK\x03\x04":
        raise FileError(must(path.name, "a whole XLSX workbook", "something else", "save it again as .xlsx or .csv"))
    try:
        _must_be_bounded(path, raw)
        values = openpyxl.load_workbook(io.BytesIO(raw), data_only=True)
        written = openpyxl.load_workbook(io.BytesIO(raw))
    except FileError:
        raise
    except Exception as error:  # openpyxl raises what its parsers raise: zip, XML, key and value errors
        got = f"{type(error).__name__}"
        raise FileError(must(path.name, "a whole XLSX workbook", got, "open it and save it again")) from None
    titles = [each.title for each in values.worksheets]  # without a sheet that is only a chart
    chosen = titles if sheet is None else [one_of("sheet", sheet, titles)]
    return {title: _grid(path, values[title], written[title]) for title in chosen}


def _grid(path, values, written):
    """Return the rows of cells of a sheet. Raises FileError for far too many."""
    # not iter_rows, which makes every cell up to the last one that anybody ever touched
    filled = [place for place, cell in written._cells.items() if cell.value is not None]
    last, width = (max((place[n] for place in filled), default=0) for n in (0, 1))
    if last > ROWS:
        do = "delete what stands below the formula"
        raise FileError(must(path.name, f"a sheet of at most {ROWS:,} rows", "more", do))
    found = {place: _value(values.cell(*place), written) for place in filled}
    grid = [[found.get((row, column)) for column in range(1, min(width, WIDE) + 1)] for row in range(1, last + 1)]
    for merged in values.merged_cells.ranges:
        top = found.get((merged.min_row, merged.min_col))
        if isinstance(top, str) and merged.min_col <= WIDE:
            for row in grid[merged.min_row : merged.max_row]:
                row[merged.min_col - 1] = Above(top)
    return grid


def _must_be_bounded(path, raw):
    """Refuse a workbook that unpacks to far more than a formula, or whose merged cells alone would fill the memory."""
    from openpyxl.utils import range_boundaries

    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        size = sum(member.file_size for member in archive.infolist())
        if size > LARGEST:
            be, got = f"at most {LARGEST / 1e6:g} MB once unpacked", f"{size / 1e6:,.1f} MB"
            raise FileError(must(path.name, be, got, "copy the formula's sheet into a new workbook"))
        sheets = [archive.read(name) for name in archive.namelist() if name.startswith("xl/worksheets/")]
    ranges = [range_boundaries(merged.decode()) for sheet in sheets for merged in _MERGED.findall(sheet)]
    area = sum((right - left + 1) * (bottom - top + 1) for left, top, right, bottom in ranges)
    if area > ROWS * WIDE:
        raise FileError(must(path.name, f"at most {ROWS * WIDE:,} merged cells", f"{area:,}", "unmerge what is empty"))


def _value(cell, written):
    if cell.value is None:
        formula = written[cell.coordinate].value
        return str(formula) if isinstance(formula, str) and formula.startswith("=") else None
    if isinstance(cell.value, str):
        return " ".join(cell.value.split()) or None
    if isinstance(cell.value, (int, float)) and "%" in cell.number_format:
        return f"{100 * cell.value:.12g} %"
    return cell.value


def header(rows):
    """Return (place below the heading, {column: place}) of the first row that names ingredient and amount."""
    for place, row in enumerate(rows[:40]):
        columns = {}
        for n, cell in enumerate(row):
            heading = re.fullmatch(
                r"(.*?)(?:[\s,]*[\[(]\s*([\w%]+)\s*[\])]|[\s,]+(g|kg|lb|oz))?[\s:]*", str(cell or "")[:TEXT]
            )
            words, unit = plain(heading[1]), heading[2] or heading[3]
            known = words_of("column").get(words)
            if known and known.means not in columns:
                columns[known.means] = n
                if known.means == "amount":
                    columns["of amount"] = unit or {"grams": "g"}.get(words, words if len(words) <= 2 else "")
        if "amount" not in columns and "percent" in columns:
            columns |= {"amount": columns["percent"], "of amount": "%"}
        if {"ingredient", "amount"} <= set(columns):
            return place + 1, columns
    return None


def in_full(cell):
    """Return a cell as text that nobody takes for thousands: 281.125 is 281.1250.

    >>> in_full(281.125), in_full(0.5), in_full("milk")
    ('281.1250', '0.5', 'milk')
    """
    text = f"{cell:.12g}" if isinstance(cell, float) else str(cell)
    return text + "0" if isinstance(cell, float) and re.fullmatch(r"\d{1,3}\.\d{3}", text) else text


# writing


def write(batch, path, decimal="."):
    """Write a Batch as CSV or XLSX, with baker's percentages as live formulas; see `Formula.save`."""
    one_of("decimal", decimal, (".", ","))
    rows = _rows(batch)
    with whole(path, is_as_written) as file:
        if path.suffix.casefold() == ".xlsx":
            _workbook_of(batch.formula.name, rows).save(file)
        else:
            file.write(_csv(rows, decimal).encode("utf-8-sig"))


def _rows(batch):
    """Return rows of cells for columns A to E; a live formula is a (formula,) of its own, the rest text and numbers."""
    formula, rows = batch.formula, [HEADING]
    lines = [(part, key) for part in formula.parts for key in (*part.keys, None)]  # None: the part's total
    at = {(part.name, key): f"C{n}" for n, (part, key) in enumerate(lines, 2)}

    def amounts(parts, kinds):
        return "+".join(at[p.name, k] for p in parts for k in p.keys if formula.ingredients[k].kind in kinds)

    flour = amounts(formula.bowls, ("flour",))
    for part, key in lines:
        if key is None:
            name, much = "total", (f"=SUM({at[part.name, part.keys[0]]}:{at[part.name, part.keys[-1]]})",)
        else:
            name, much = formula.ingredients[key].name, float(f"{batch.grams[part.name, key]:.12g}")
        whole = flour if part.kind in ON_FLOUR else amounts([part], part.base) or at[part.name, None]
        rows.append((part.name, name, much, "g", (f"={at[part.name, key]}/({whole})*100",)))
    total = "+".join(at[part.name, None] for part in formula.parts if part.kind in MIXED)
    return [*rows, ("dough and preferments", "total", (f"={total}",), "g", (f"=C{len(rows) + 1}/({flour})*100",))]


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
    def written(cell):
        if isinstance(cell, tuple):
            return cell[0]
        return as_cell(cell) if isinstance(cell, str) else in_full(cell).replace(".", decimal)

    out = io.StringIO(newline="")
    csv.writer(out, delimiter=";" if decimal == "," else ",").writerows([map(written, row) for row in rows])
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
            if isinstance(cell, str):
                target.value, target.data_type = _CONTROL.sub(" ", cell), "s"  # a name that begins with = stays a name
                target.quotePrefix = cell[:1] in ("=", "+", "-", "@")
            else:
                target.value = cell[0] if isinstance(cell, tuple) else cell
                target.number_format = "0.00" if c == 5 else "0.0"
            if r == 1 or row[1] == "total":
                target.font = Font(bold=True)
    for letter, width in zip("ABCDE", (24, 28, 12, 8, 12), strict=True):
        sheet.column_dimensions[letter].width = width
    sheet.freeze_panes = "A2"
    return book
