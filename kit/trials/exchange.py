"""The book as one ZIP file, and trials as a spreadsheet: plain on the way out, checked whole on the way in."""

import functools
import hashlib
import json
import re
import zipfile
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from ..errors import FileError, KitError, must
from ..files import as_cell, csv_rows, from_cell, read_text, whole
from ..formula import Formula
from ..page import frame
from ..units import amount
from ..units import number as read_number
from ..words import plain
from .corrections import Removal
from .fields import OWN, Note, in_unit, text_of, written
from .kitchen import Kitchen
from .photos import LARGEST, Photo, as_stored, digest, is_bare
from .reading import KIND, TrialError, date_of
from .recipes import Recipe
from .records import FORMAT, KEY, Trial, Version
from .store import path_of

UNPACKED = 256_000_000  # bytes of trials.json; a small file can unpack to far more
DENSE = 200  # bytes out of one of the file, beyond which nobody wrote it
PICTURES = 20_000
PHOTO = r"photos/[0-9a-f]{64}\.jpg"  # named by its digest
MEMBERS = ("trials.csv", "trials.json", "trials.schema.json")  # the last by older kits
FORMULAS = ("planned formula", "weighed formula")
BEFORE = ("code", "version", "name", "date", "baker", "mix", "question", "tags", "parent", "invented", *FORMULAS)
AFTER = ("deviations", "notes", "verdict", "reason", "decided by", "decided on", "next change")
PLAIN = (*BEFORE, *AFTER, "by")  # columns without a unit


@dataclass(frozen=True)
class Kept:
    """A trial as a book keeps it: code, all versions, photos, what was withdrawn or erased."""

    code: str
    versions: tuple
    photos: tuple
    removals: tuple

    @property
    def standing(self):
        """The Version that stands: the newest not set aside, also where an older kit wrote another."""
        return max((v for v in self.versions if not v.aside), key=lambda v: v.number)


def write_csv(some):
    """Return trials as CSV text, a row each: readings parted by semicolons, nothing that a spreadsheet would run."""
    rows, codes = [], {}
    for trial in some:
        rows.append(_flat(trial) | {"parent": codes.get(trial.parent, trial.parent)})
        codes |= {trial.key: trial.code} if trial.code else {}
    middle = dict.fromkeys(column for row in rows for column in row if column not in PLAIN)
    columns = [*BEFORE, *middle, *AFTER]
    cells = [[_cell(row.get(column, "")) for column in columns] for row in rows]
    return frame(map(_cell, columns), cells).to_csv(index=False, lineterminator="\r\n")


def _flat(trial):
    """Return {column: value} of a trial; the columns are entries with their units."""
    made = {name: getattr(trial, name.replace(" ", "_")) for name in (*BEFORE, *AFTER)}
    made |= {name: str(made[name] or "") for name in FORMULAS}
    made["invented"] = "yes" if trial.invented else ""
    made["decided on"] = trial.decided_on or ""
    recipe = trial.weighed_formula
    for part, lines in (recipe.grams if recipe else {}).items():
        made |= {f"weighed {part} {recipe.named(key)['name']}, g": grams for key, grams in lines.items()}
    return made | {_column(str(note), note.field.unit): value for note, value in trial.noted.items()}


def read_csv(path, formulas="."):
    """Return [(trial, who)] of a spreadsheet, every row checked; a later row of one code is a later version.

    path: CSV, parted by commas, semicolons or tabs, whose columns are entries, with their units after a comma; a bare
    number is in its column's unit. `code` and `parent` are the file's own.
    formulas: the folder of the formulas it names, each as a file and changes: "bun.toml butter=22 topping.sugar=90".
    Raises FileError, KitError.
    """
    path, formulas = path_of(path), path_of(formulas)
    recipe_of = functools.cache(lambda cell: Recipe.of(_varied(cell, formulas)))
    units_of, rows = _table(path)
    latest, made = {}, []
    for number, cells in rows:
        code, who = cells.pop("code", "") or f"row {number}", cells.pop("by", "") or path.name
        given = {entry: cell for entry, cell in cells.items() if cell and entry != "version"}
        try:
            made.append((_trial(code, given, latest, units_of, recipe_of), who))
        except KitError as error:
            raise type(error)(f"{path.name} line {number}: {error}") from None
        latest[code] = made[-1][0]
    return made


def _trial(code, given, latest, units_of, recipe_of):
    """Return the Trial of the cells given in a row; latest: {code: trial} of the rows above."""
    trial = Trial.of(given.pop("name", ""), given.pop("date", ""))
    # the same row gives the same key each time it is read, so that no trial comes in twice
    own = hashlib.sha256(f"{code}\n{trial.name}\n{trial.date}".encode()).hexdigest()[:32]
    trial = replace(trial, code=code, key=latest[code].key if code in latest else own)
    if parent := given.pop("parent", ""):
        if parent not in latest and not re.fullmatch(KEY, parent):
            raise TrialError(must("parent", "the code of a row above", repr(parent), "put that row first"))
        trial = trial.with_entry("parent", latest.get(parent, parent))
    for entry in FORMULAS:
        if cell := given.pop(entry, ""):
            trial = trial.with_entry(entry, recipe_of(cell))
    lines = {entry: cell for entry, cell in given.items() if entry.startswith("weighed ")}
    flour = {entry: cell for entry, cell in given.items() if lines and plain(entry) == "flour weighed"}
    for entry, cell in (*(given.items() - lines.items()), *lines.items(), *flour.items()):  # lines move the flour
        value = cell.casefold() in ("yes", "true", "1") if entry == "invented" else cell
        trial = trial.with_entry(entry, in_unit(value, units_of[entry]) if units_of[entry] else value)
    return trial


def _table(path):
    """Return ({entry: unit of its bare numbers, "" for the field's own}, [(line, {entry: cell})]) of a CSV file."""
    text = read_text(path)
    for mark in (",", ";", "\t"):
        rows = csv_rows(path.name, text, mark)
        _, heading = next(rows, (0, []))
        if {"name", "date"} <= set(map(plain, heading)):
            break
    else:
        do = "name them in its first line, parted by commas or semicolons"
        raise FileError(must(path.name, "a table with the columns name and date", "none", do))
    rows = [(number, row) for number, row in rows if any(row)]
    for number, row in rows:
        if len(row) != len(heading):
            raise FileError(must(path.name, "a whole table", f"a broken line {number}", "mend that line"))
        if any(cell and not written for cell, written in zip(row, heading, strict=True)):
            got = f"a cell without one in line {number}"
            raise FileError(must(path.name, "a table with a heading over every column", got, "name that column"))
    columns = [_column_of(written, path) for written in heading]
    entries = [entry if " by " in entry else plain(entry) for entry, _ in columns if entry]
    if twice := [entry for entry in entries if entries.count(entry) > 1]:
        do = "put both into one, or take one out"
        raise FileError(must(path.name, "a table whose columns differ", f"{twice[0]!r} {len(twice)} times", do))
    names = [entry for entry, _ in columns]
    return dict(columns), [(number, dict(zip(names, map(from_cell, row), strict=True))) for number, row in rows]


def _column_of(written, path):
    """Return (entry, unit to be written to its bare numbers) of a column's heading such as "height, cm"."""
    entry, comma, unit = (part.strip() for part in written.rpartition(","))
    entry = entry if comma else written
    entry = plain(entry) if plain(entry) in PLAIN else entry
    if not comma:
        return entry, ""
    if entry.startswith(OWN):
        return written, ""
    try:
        kind = amount(f"1 {unit}").kind
    except KitError:
        kind = ""
    if entry.startswith("weighed "):
        own, good = "g", kind in ("mass", "volume")
    else:
        own = "text" if entry in PLAIN else Note.of(entry).field.unit
        good = own in KIND and kind == KIND[own][0]
    if plain(unit) == plain(own) != "text":
        return entry, unit if unit == "%" else ""  # the column's % says that 0.6 is no share of 1
    if not good:
        be = "without a unit" if own == "text" else f"in {own}" + (" or a unit like it" if own in KIND else "")
        raise TrialError(must(written, be, repr(unit), f"name the column {_column(entry, own)!r} in {path.name}"))
    return entry, unit


def _varied(cell, folder):
    """Return the Formula that a cell names: a file, and changes such as butter=22 or topping.sugar=90."""
    name, *changes = cell.split()
    if re.search(r" [0-9a-f]{8}$", cell):
        do = "take in the export itself, the ZIP file: it holds formulas whole"
        raise TrialError(must("formula", "a file and changes", f"the name of one in an export, {cell!r}", do))
    if Path(name).name != name:
        raise FileError(must("formula", "the name of a file in the formulas' folder", repr(name), "leave the path out"))
    formula, found = Formula.read(folder / name), {}
    for change in changes:
        part, kind, value = re.fullmatch(r"(?:([^.=]+)\.)?([^.=]+)=(.+)|.*", change).groups()
        if not kind or (part, kind) in found:
            got = repr(change) + (" again" if kind else "")
            raise TrialError(must("formula", "a file and changes like butter=22, each once", got, "write it so"))
        found[part, kind] = read_number(value, kind)
    parts = {}
    for (part, kind), value in found.items():
        parts.setdefault(part, {})[kind.replace("_", " ")] = value
    return formula.vary(parts.pop(None, None), **parts) if changes else formula


def pack(kept, path, kitchen):
    """Write what a book keeps into one new ZIP file and return its path. Raises FileError when the name is taken."""
    path, entries, pictures = path_of(path), [], {}
    for each in kept:
        versions = [
            {"number": v.number, "by": v.by, "at": v.at, "aside": v.aside, "document": v.trial.document()}
            for v in each.versions
        ]
        shots = [{"file": _file_of(p), "view": p.view, "by": p.by, "at": p.at} for p in each.photos]
        entries.append({"code": each.code, "current": each.standing.number, "versions": versions, "photos": shots})
        if each.removals:
            entries[-1]["removals"] = [asdict(removal) for removal in each.removals]
        pictures |= {_file_of(photo): photo.picture for photo in each.photos}
    document = json.dumps(
        {"format": FORMAT, "kitchen": asdict(kitchen), "trials": entries}, ensure_ascii=False, indent=1
    )
    table = "\ufeff" + write_csv([each.standing.trial for each in kept])
    members = {"trials.csv": table.encode(), "trials.json": document.encode(), **pictures}
    try:
        with whole(path) as file, zipfile.ZipFile(file, "w") as archive:
            for name, data in members.items():
                kind = zipfile.ZIP_STORED if name in pictures else zipfile.ZIP_DEFLATED
                member = zipfile.ZipInfo(name)
                member.external_attr = 0o644 << 16  # else some programs unpack it for its owner alone
                archive.writestr(member, data, kind)
    except FileExistsError:
        raise FileError(must(path.name, "a new file", "one that exists", "choose another name")) from None
    return path


def _file_of(photo):
    return f"photos/{photo.digest}.jpg"


def unpack(path):
    """Return ([Kept], {what is remembered of its kitchen}) of an exported ZIP file, all checked; nothing is written.

    Raises FileError for anything but an export, and KitError for a trial that can't stand.
    """
    path = path_of(path)
    try:
        with zipfile.ZipFile(path) as archive:
            return _checked(archive, path)
    except KitError:
        raise
    except OSError as error:
        raise FileError(must(path.name, "a file that can be read", error.strerror, "check its name")) from None
    except Exception as error:  # whatever a ZIP file or JSON of any making may do
        got = f"a damaged one ({str(error)[:80]})"
        raise FileError(must(path.name, "an export of a trial book", got, "export it anew")) from None


def _checked(archive, path):
    """Return ([Kept], {what is remembered}) of an export, every trial and picture checked."""

    def need(good, got):
        if not good:
            raise FileError(must(path.name, "an export of a trial book", got, "export it anew; nothing was taken in"))

    names = archive.namelist()
    for name in names:
        need(name in MEMBERS or re.fullmatch(PHOTO, name), f"a file {name[:80]!r} in it")
    need(len(set(names)) == len(names) <= PICTURES, "files named twice, or too many")
    need("trials.json" in names, "no trials.json")
    document = json.loads(_unpacked(archive, "trials.json", UNPACKED, path))
    need(isinstance(document, dict), "no list of trials")
    if (version := document.get("format")) != FORMAT:
        do = "update the kit" if isinstance(version, int) and version > FORMAT else "export it anew"
        raise FileError(must(path.name, f"of format {FORMAT}", repr(version)[:40], do))

    @functools.cache
    def picture_of(name):
        need(re.fullmatch(PHOTO, name), "a photo under a strange name")
        need(name in names, f"no {name[:40]}")
        data = _unpacked(archive, name, LARGEST, path)
        need(digest(data) in name, "a picture that was changed")
        checked, width, height = as_stored(data)
        return (data if is_bare(data, width, height) else checked), width, height

    kept, seen = [], set()
    for body in document["trials"]:
        made = []
        for number, v in enumerate(body["versions"], 1):
            need(v["number"] == number and isinstance(v["aside"], bool), "versions out of order")
            made.append(Version(number, *_who_and_when(v), v["aside"], Trial.from_document(v["document"])))
        need(body["current"] in [v.number for v in made if not v.aside], "no version that stands")
        (key,) = {v.trial.key for v in made}
        need(key not in seen, "one trial twice")
        seen.add(key)
        shots = []
        need(isinstance(body["photos"], list), "photos that are no list")
        for photo in body["photos"]:
            data, width, height = picture_of(photo["file"])
            view = text_of(photo["view"], "view", needed=True)
            shots.append(Photo(view, width, height, *_who_and_when(photo), data))
        removals = tuple(Removal(**removal).checked() for removal in body.get("removals", ()))
        kept.append(Kept(str(body.get("code", ""))[:20], tuple(made), tuple(shots), removals))
    kitchen = asdict(Kitchen().changed(**document.get("kitchen", {})))
    return kept, {name: value for name, value in kitchen.items() if value}


def _unpacked(archive, name, most, path):
    """Return a member's bytes; no more is read than its header claims, and that is bounded."""
    member = archive.getinfo(name)
    if member.file_size > min(most, max(DENSE * member.compress_size, LARGEST)):
        got = f"{member.file_size:,} bytes in {name[:40]}"
        raise FileError(must(path.name, "of a size that can be taken in", got, "export fewer trials"))
    return archive.read(member)


def _who_and_when(body):
    """Return (by, at) of a version or photo. Raises TrialError."""
    by, at = (text_of(body[word], word, needed=True) for word in ("by", "at"))
    date_of(at[:10])
    if len(at) > 32:
        raise TrialError(must("at", "a moment in ISO 8601", repr(at[:40]), "take it from an export"))
    return by, at


def _column(words, unit):
    return words if unit == "text" or words.startswith(OWN) else f"{words}, {unit}"


def _cell(value):
    return written(value) if isinstance(value, (tuple, float)) else as_cell(str(value))
