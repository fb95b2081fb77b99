"""The book as one ZIP file, and trials as a spreadsheet: plain on the way out, checked whole on the way in."""

import contextlib
import csv
import functools
import hashlib
import io
import json
import lzma
import re
import struct
import zipfile
import zlib
from dataclasses import dataclass, replace
from pathlib import Path

from ..errors import FileError, KitError, must
from ..files import as_cell, csv_rows, from_cell, read_text, whole
from ..formula import Formula
from ..units import amount
from ..units import number as read_number
from ..words import listing, plain
from .fields import KIND, Note, TrialError, date_of, in_unit, text_of, trial_fields
from .photos import LARGEST, Photo, as_stored, digest, is_bare
from .recipes import Recipe
from .records import FORMAT, KEY, TEXTS, VERDICTS, Trial, Version
from .store import path_of

UNPACKED = 256_000_000  # bytes of trials.json; a small file can unpack to far more
DENSE = 200  # bytes out of one of the file, beyond which nobody wrote it
PICTURES = 20_000
PHOTO = r"photos/[0-9a-f]{64}\.jpg"  # named by its digest
BEFORE = (
    "code",
    "version",
    "by",
    "name",
    "date",
    "baker",
    "mix",
    "question",
    "parent",
    "invented",
    "planned formula",
    "weighed formula",
)
AFTER = ("deviations", "notes", "verdict", "reason", "next change")
KEPT = {"planned formula": "planned formula as kept", "weighed formula": "weighed formula as kept"}  # as in trials.json


@dataclass(frozen=True)
class Kept:
    """A trial as a book keeps it: code, number of the version that stands, all versions, photos."""

    code: str
    current: int
    versions: tuple
    photos: tuple

    @property
    def standing(self):
        """The trial as it stands."""
        return next(version.trial for version in self.versions if version.number == self.current)


def flat(trial):
    """Return {column: cell} of a trial for a spreadsheet; the columns are entries with their units."""
    made = {name: getattr(trial, name.replace(" ", "_")) for name in ("code", "version", *BEFORE[3:10])}
    made["date"], made["invented"] = trial.date.isoformat(), "yes" if trial.invented else ""
    for name in ("planned formula", "weighed formula"):
        recipe = getattr(trial, name.replace(" ", "_"))
        made[name] = f"{recipe.name} {recipe.fingerprint}" if recipe else ""
    made |= {f"{line}, g": grams for line, grams in _weighed(trial).items()}
    noted = {entry: value for entry, value in trial.entries.items() if isinstance(entry, Note)}
    made |= {_column(str(note), note.field.unit): value for note, value in noted.items()}
    made |= {name: getattr(trial, name.replace(" ", "_")) for name in AFTER}
    document = trial.document()
    for name, column in KEPT.items():
        if recipe := document.get(name.replace(" ", "_")):
            made[column] = json.dumps(recipe, ensure_ascii=False, separators=(",", ":"))
    return {column: _cell(value) for column, value in made.items()}


def _weighed(trial):
    """Return {entry: g} of the lines of a trial's batch as weighed."""
    recipe = trial.weighed_formula
    grams = recipe.grams if recipe else {}
    return {f"weighed {part} {recipe.named(key)['name']}": g for part, own in grams.items() for key, g in own.items()}


def write_csv(some):
    """Return trials as CSV text, a row each: readings parted by semicolons, nothing that a spreadsheet would run."""
    rows, codes = [], {}
    for trial in some:
        rows.append(flat(trial) | {"parent": codes.get(trial.parent, trial.parent)})
        codes |= {trial.key: trial.code} if trial.code else {}
    found = dict.fromkeys(column for row in rows for column in row)
    middle = (c for c in found if c not in (*BEFORE, *AFTER, *KEPT.values()))
    columns = [*(c for c in BEFORE if c != "by"), *middle, *AFTER, *(c for c in KEPT.values() if c in found)]
    out = io.StringIO()
    writer = csv.DictWriter(out, [_cell(c) for c in columns], restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows({_cell(column): cell for column, cell in row.items()} for row in rows)
    return out.getvalue()


def read_csv(path, formulas="."):
    """Return [(trial, who)] of a spreadsheet, every row checked; a later row of one code is a later version.

    path: CSV, parted by commas, semicolons or tabs, whose columns are entries, with their units after a comma; a bare
    number is in its column's unit. `code` and `parent` are the file's own.
    formulas: the folder of the formulas it names, each as a file and changes: "bun.toml butter=22 topping.sugar=90",
    or as an export writes it, by name and fingerprint, and whole in the columns "... as kept"; one that is neither
    there nor among the formulas is left out, with a note.
    Raises FileError, KitError.
    """
    path, formulas = path_of(path), path_of(formulas)
    units_of, rows = _table(path)
    latest, made, named, there = {}, [], {}, functools.cache(_named_in)
    for number, cells in rows:
        left_out = []
        code = cells.pop("code", "") or f"row {number}"
        who, _ = cells.pop("by", "") or path.name, cells.pop("version", "")
        try:
            trial = Trial.of(cells.pop("name", ""), cells.pop("date", ""))
            # the same row gives the same key each time it is read, so that no trial comes in twice
            own = f"{code}\n{trial.name}\n{trial.date}"
            trial = replace(trial, key=hashlib.sha256(own.encode()).hexdigest()[:32])
            parent = cells.pop("parent", "")
            if parent:
                if parent not in latest and not re.fullmatch(KEY, parent):
                    raise TrialError(must("parent", "the code of a row above", repr(parent), "put that row first"))
                trial = trial.with_entry("parent", latest.get(parent, parent))
            for entry, column in KEPT.items():
                cell, kept = cells.pop(entry, ""), cells.pop(column, "")
                if kept and (recipe := _kept(kept, entry)) and f"{recipe.name} {recipe.fingerprint}" == cell:
                    trial = trial.with_entry(entry, recipe)
                elif cell:
                    if cell not in named:
                        exported = re.fullmatch(r"(.*\S) ([0-9a-f]{8})", cell)
                        found = there(formulas).get(exported.groups()) if exported else _varied(cell, formulas)
                        named[cell] = Recipe.of(found) if found else None
                    if named[cell]:
                        trial = trial.with_entry(entry, named[cell])
                    elif entry == "planned formula" or not trial.planned_formula:
                        left_out.append(f"{entry} {cell}")
            lines = [entry for entry in cells if entry.startswith("weighed ")]
            known = {entry: _cell(grams) for entry, grams in _weighed(trial).items()}
            weighed = {entry: cell for entry in lines if (cell := cells.pop(entry)) and cell != known.get(entry)}
            if left_out and weighed and not trial.planned_formula:
                left_out, weighed = [*left_out, "what was weighed of it"], {}
            noted = {entry: cell for entry, cell in cells.items() if weighed and plain(entry) == "flour weighed"}
            for entry, cell in (*cells.items(), *weighed.items(), *noted.items()):  # lines weighed move the flour
                if cell:
                    value = cell.casefold() in ("yes", "true", "1") if entry == "invented" else cell
                    trial = trial.with_entry(entry, in_unit(value, units_of[entry]) if units_of[entry] else value)
            if left_out:
                note = f"left out, not among the formulas in {formulas.resolve().name}: {listing(left_out)}"
                trial = trial.with_entry("notes", f"{trial.notes}\n({note})")
        except KitError as error:
            raise type(error)(f"{path.name} line {number}: {error}") from None
        if code in latest:
            trial = replace(trial, key=latest[code].key)
        latest[code] = trial = replace(trial, code=code)
        made.append((trial, who))
    return made


def _kept(cell, entry):
    """Return the Recipe that an export keeps in a cell. Raises TrialError."""
    try:
        return Recipe(**json.loads(cell)).checked(entry)
    except KitError:
        raise
    except (AttributeError, KeyError, TypeError, ValueError, RecursionError):
        raise TrialError(must(KEPT[entry], "as an export has it", repr(cell[:40]), "leave that column out")) from None


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
    return dict(columns), [
        (number, {entry: from_cell(cell) for (entry, _), cell in zip(columns, row, strict=True)})
        for number, row in rows
    ]


def _column_of(written, path):
    """Return (entry, unit to be written to its bare numbers) of a column's heading such as "height, cm"."""
    entry, comma, unit = (part.strip() for part in written.rpartition(","))
    if not comma:
        entry = written
    entry = plain(entry) if plain(entry) in (*BEFORE, *AFTER) else entry
    if not comma:
        return entry, ""
    try:
        kind = amount(f"1 {unit}").kind
    except KitError:
        kind = ""
    if entry.startswith("weighed "):
        own, good = "g", kind in ("mass", "volume")
    else:
        own = "text" if entry in (*BEFORE, *AFTER) else Note.of(entry).field.unit
        good = own in KIND and kind == KIND[own][0]
    if plain(unit) == plain(own) != "text":
        return entry, unit if unit == "%" else ""  # the column's % says that 0.6 is no share of 1
    if not good:
        be = "without a unit" if own == "text" else f"in {own}" + (" or a unit like it" if own in KIND else "")
        raise TrialError(must(written, be, repr(unit), f"name the column {_column(entry, own)!r} in {path.name}"))
    return entry, unit


def _named_in(folder):
    """Return {(name, fingerprint): Formula} of the formulas in a folder."""
    found = {}
    for file in sorted(folder.glob("*.toml")):
        with contextlib.suppress(KitError):  # a file that can't be read is no formula that was exported
            formula = Formula.read(file)
            found[formula.name, formula.fingerprint] = formula
    return found


def schema():
    """Return the JSON Schema (draft 2020-12) of trials.json."""
    number, text = {"type": "number"}, {"type": "string"}

    def value(field):
        if field.unit == "text":
            return text
        one = {
            "type": "number",
            "minimum": field.low,
            "maximum": field.high,
            "description": f"{field.unit}, {field.instrument}",
        }
        return {"type": "array", "items": one, "minItems": 1} if field.readings > 1 or field.group == "series" else one

    def of(*groups):
        return {field.name: value(field) for field in trial_fields().values() if field.group in groups}

    def section(properties):
        return {"type": "object", "properties": properties, "additionalProperties": False}

    score = section({"taster": text, "field": {"enum": list(of("sensory"))}, "score": number})
    recipe = {
        "type": "object",
        "required": ["name", "fingerprint", "text"],
        "properties": {
            "name": text,
            "fingerprint": text,
            "text": {**text, "description": "the formula as TOML"},
            "kinds": {"type": "object"},
            "lines": {"type": "object"},
            "pieces": {"type": "object"},
            "grams": {"type": "object", "description": "g weighed of each line of each part"},
        },
    }
    numeric = [field.name for field in trial_fields().values() if field.unit != "text"]
    document = section(
        {
            "format": {"const": FORMAT},
            "key": {**text, "pattern": f"^{KEY}$"},
            "date": {**text, "format": "date"},
            **dict.fromkeys((*TEXTS, "parent"), text),
            "verdict": {"enum": list(VERDICTS)},
            "invented": {"const": True},
            "planned_formula": recipe,
            "weighed_formula": recipe,
            "lots": section(of("lot")),
            "planned": section(of("controlled")),
            "controlled": section(of("controlled")),
            "measured": section(of("measured")),
            "days": section(
                {
                    name: {
                        "type": "object",
                        "patternProperties": {r"^\d{1,2}$": readings},
                        "additionalProperties": False,
                    }
                    for name, readings in of("series").items()
                }
            ),
            "scores": {"type": "array", "items": score},
            "prediction": section(
                dict.fromkeys(numeric, {"type": "array", "items": number, "minItems": 3, "maxItems": 3})
            ),
        }
    ) | {"required": ["format", "key", "name", "date"]}
    version = section(
        {
            "number": {"type": "integer", "minimum": 1},
            "by": text,
            "at": text,
            "aside": {"type": "boolean"},
            "document": document,
        }
    )
    photo = section({"file": text, "view": text, "by": text, "at": text})
    trial = section(
        {
            "code": text,
            "current": {"type": "integer", "minimum": 1},
            "versions": {"type": "array", "items": version, "minItems": 1},
            "photos": {"type": "array", "items": photo},
        }
    )
    whole = section({"format": {"const": FORMAT}, "trials": {"type": "array", "items": trial}})
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "trial book",
        **whole,
        "required": ["format", "trials"],
    }


def pack(kept, path):
    """Write what a book keeps into one new ZIP file and return its path. Raises FileError when the name is taken."""
    path, entries, pictures = path_of(path), [], {}
    for each in kept:
        entry = {"code": each.code, "current": each.current, "versions": [], "photos": []}
        for v in each.versions:
            entry["versions"].append(
                {"number": v.number, "by": v.by, "at": v.at, "aside": v.aside, "document": v.trial.document()}
            )
        for photo in each.photos:
            name = f"photos/{photo.digest}.jpg"
            pictures[name] = photo.picture
            entry["photos"].append({"file": name, "view": photo.view, "by": photo.by, "at": photo.at})
        entries.append(entry)
    members = {
        "trials.csv": ("﻿" + write_csv([each.standing for each in kept])).encode("utf-8"),
        "trials.json": json.dumps({"format": FORMAT, "trials": entries}, ensure_ascii=False, indent=1).encode("utf-8"),
        "trials.schema.json": json.dumps(schema(), ensure_ascii=False, indent=1).encode("utf-8"),
        **pictures,
    }
    try:
        with whole(path) as file, zipfile.ZipFile(file, "w") as archive:
            for name, data in members.items():
                kind = zipfile.ZIP_STORED if name.startswith("photos/") else zipfile.ZIP_DEFLATED
                member = zipfile.ZipInfo(name)
                member.external_attr = 0o644 << 16  # else some programs unpack it for its owner alone
                archive.writestr(member, data, kind)
    except FileExistsError:
        raise FileError(must(path.name, "a new file", "one that exists", "choose another name")) from None
    return path


def unpack(path):
    """Return [Kept] of an exported ZIP file, all checked; nothing is written anywhere.

    Raises FileError for anything but an export, and KitError for a trial that can't stand.
    """
    path = path_of(path)
    try:
        with zipfile.ZipFile(path) as archive:
            names = archive.namelist()
            for name in names:
                if name not in ("trials.csv", "trials.json", "trials.schema.json") and not re.fullmatch(PHOTO, name):
                    do = "export it anew; nothing was taken in"
                    raise FileError(must(path.name, "an export of a trial book", f"a file {name[:80]!r} in it", do))
            if "trials.json" not in names or len(set(names)) != len(names) or len(names) > PICTURES:
                got = "no trials.json" if "trials.json" not in names else "files named twice, or too many"
                raise FileError(must(path.name, "an export of a trial book", got, "export it anew"))
            document = json.loads(_unpacked(archive, "trials.json", UNPACKED, path))

            @functools.cache
            def picture_of(name):
                if name not in names:
                    raise FileError(must(path.name, "whole", f"no {name[:40]}", "export it anew"))
                return _picture(_unpacked(archive, name, LARGEST, path), name, path)

            return _checked(document, path, picture_of)
    except (
        zipfile.BadZipFile,
        zlib.error,
        lzma.LZMAError,
        struct.error,
        EOFError,
        RuntimeError,
        NotImplementedError,
        ValueError,
    ) as error:
        if isinstance(error, KitError):
            raise
        got = f"a damaged one ({str(error)[:80]})"
        raise FileError(must(path.name, "an export of a trial book", got, "export it anew")) from None
    except OSError as error:
        if isinstance(error, KitError):
            raise
        raise FileError(must(path.name, "a file that can be read", error.strerror, "check its name")) from None


def _unpacked(archive, name, most, path):
    """Return a member's bytes; no more is read than its header claims, and that is bounded."""
    member = archive.getinfo(name)
    if member.file_size > min(most, max(DENSE * member.compress_size, LARGEST)):
        got = f"{member.file_size:,} bytes in {name[:40]}"
        raise FileError(must(path.name, "of a size that can be taken in", got, "export fewer trials"))
    return archive.read(member)


def _picture(data, name, path):
    if digest(data) not in name:
        raise FileError(must(path.name, "whole", "a picture that was changed", "export it anew"))
    checked, width, height = as_stored(data)
    return (data if is_bare(data, width, height) else checked), width, height


def _checked(document, path, picture_of):
    """Return [Kept] of an export's document, every trial checked; picture_of: a file's picture and size."""

    def need(condition, got):
        if not condition:
            raise FileError(must(path.name, "an export of a trial book", got, "export it anew; nothing was taken in"))

    need(isinstance(document, dict) and isinstance(document.get("trials"), list), "no list of trials")
    version = document.get("format")
    if version != FORMAT:
        do = "update the kit" if isinstance(version, int) and version > FORMAT else "export it anew"
        raise FileError(must(path.name, f"of format {FORMAT}", repr(version)[:40], do))
    kept, seen = [], set()
    for body in document["trials"]:
        need(isinstance(body, dict) and isinstance(body.get("versions"), list), "a trial without versions")
        made, shots = [], []
        for number, v in enumerate(body["versions"], 1):
            need(isinstance(v, dict) and v.get("number") == number, "versions out of order")
            need(isinstance(v.get("aside"), bool), "a version that does not say whether it stands")
            made.append(Version(number, *_who_and_when(v), v["aside"], Trial.from_document(v.get("document"))))
        standing = [v.number for v in made if not v.aside]
        need(body.get("current") in standing, "no version that stands")
        key = made[0].trial.key
        need({v.trial.key for v in made} == {key} and key not in seen, "versions of different trials")
        seen.add(key)
        need(isinstance(body.get("photos", []), list), "photos that are no list")
        for photo in body.get("photos", []):
            need(isinstance(photo, dict), "a photo that is none")
            name = str(photo.get("file"))
            need(re.fullmatch(PHOTO, name), "a photo under a strange name")
            data, width, height = picture_of(name)
            view = text_of(photo.get("view"), "view", needed=True)
            shots.append(Photo(view, width, height, *_who_and_when(photo), data))
        # the newest: older kits wrote another when somebody saved during an export
        kept.append(Kept(str(body.get("code", ""))[:20], max(standing), tuple(made), tuple(shots)))
    return kept


def _who_and_when(body):
    """Return (by, at) of a version or photo. Raises TrialError."""
    by, at = (text_of(body.get(word), word, needed=True) for word in ("by", "at"))
    date_of(at[:10])
    if len(at) > 32:
        raise TrialError(must("at", "a moment in ISO 8601", repr(at[:40]), "take it from an export"))
    return by, at


def _column(words, unit):
    return words if unit == "text" else f"{words}, {unit}"


def _cell(value):
    if isinstance(value, tuple):
        return "; ".join(f"{each:.10g}" for each in value)
    if isinstance(value, float):
        return f"{value:.10g}"
    return as_cell(str(value))


def _varied(cell, folder):
    """Return the Formula that a cell names: a file, and changes such as butter=22 or topping.sugar=90."""
    name, *changes = cell.split()
    if Path(name).name != name:
        raise FileError(must("formula", "the name of a file in the formulas' folder", repr(name), "leave the path out"))
    formula = Formula.read(folder / name)
    own, parts, said = {}, {}, set()
    for change in changes:
        found = re.fullmatch(r"(?:([^.=]+)\.)?([^.=]+)=(.+)", change)
        if not found or (found[1], found[2]) in said:
            got = repr(change) + (" again" if found else "")
            raise TrialError(must("formula", "a file and changes like butter=22, each once", got, "write it so"))
        part, kind, value = found.groups()
        said.add((part, kind))
        (parts.setdefault(part, {}) if part else own)[kind.replace("_", " ")] = read_number(value, kind)
    return formula.vary(own or None, **parts) if changes else formula
