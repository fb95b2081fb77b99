"""Files: read with words for what is wrong, written whole or not at all, and what spreadsheets make of a cell."""

import contextlib
import csv
import io
import os
import re
import tempfile
from pathlib import Path

from .errors import FileError, must
from .words import plain

# A spreadsheet takes text that begins so for a formula; an apostrophe before it keeps it text.
_STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def read_bytes(path):
    """Return the bytes of a file. Raises FileError when it cannot be read."""
    try:
        return Path(path).read_bytes()
    except OSError as error:
        raise FileError(must(str(path), "a file that can be read", error.strerror, "check its name")) from None


def read_text(path):
    """Return the UTF-8 text of a file. Raises FileError when it cannot be read, or is not UTF-8."""
    raw = read_bytes(path)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        got = f"byte 0x{raw[error.start]:02x} in line {raw[: error.start].count(10) + 1}"
        raise FileError(must(Path(path).name, "UTF-8 text", got, "save it again as UTF-8")) from None


def csv_rows(name, text, mark):
    """Yield (line on which it ends, [cell]) of each row of CSV text as spreadsheets write it, parted by mark.

    Raises FileError, with the file's name.

    >>> list(csv_rows("bun.csv", 'milk; "2,5" ;kg', ";"))
    [(1, ['milk', '"2,5"', 'kg'])]
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
    try:
        for row in reader:
            yield reader.line_num, [cell.strip() for cell in row]
    except csv.Error as error:
        raise FileError(must(name, "a CSV file", str(error), "shorten that cell, or save it again")) from None


def as_cell(text):
    """Return text for a cell that no spreadsheet takes for a formula.

    >>> as_cell("=1+1"), from_cell(as_cell("=1+1"))
    ("'=1+1", '=1+1')
    """
    return f"'{text}" if text.lstrip("'").startswith(_STARTS_FORMULA) else text


def from_cell(text):
    """Return the text that `as_cell` made a cell of."""
    return text[1:] if text.startswith("'") and text.lstrip("'").startswith(_STARTS_FORMULA) else text


def write_whole(path, text, into_place):
    """Write text to a file whole or not at all, so that a reader or a crash never meets half of it.

    into_place(temporary, path) brings it to its name (os.replace, or one that fails when the name is taken:
    its FileExistsError comes through). Raises FileError when the folder or the file cannot be written.

    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_whole(Path(folder) / "note.txt", "proofed", os.replace)
    ...     print((Path(folder) / "note.txt").read_text())
    proofed
    """
    path = Path(path)
    try:
        handle, temporary = tempfile.mkstemp(prefix=".", suffix=".part", dir=path.parent or ".")
    except OSError as error:
        raise FileError(must(str(path), "in a folder that can be written", error.strerror, "choose another")) from None
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, 0o644)
        into_place(temporary, path)
    except FileExistsError:
        raise
    except OSError as error:
        raise FileError(must(str(path), "a file that can be written", error.strerror, "choose another")) from None
    finally:
        with contextlib.suppress(OSError):
            os.unlink(temporary)


def stem(name):
    """Return a file's name without its ending for whatever a thing is called.

    >>> stem("Crackle bun, 25 % butter"), stem("../..")
    ('crackle_bun_25_butter', 'variant')
    """
    return re.sub(r"[^\w]+", "_", plain(name), flags=re.UNICODE).strip("_")[:60] or "variant"
