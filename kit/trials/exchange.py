"""The book as one ZIP file, and trials as a spreadsheet: plain on the way out, checked whole on the way in."""

import csv
import hashlib
import io
import json
import os
import re
import tempfile
import zipfile
from dataclasses import dataclass, replace
from pathlib import Path

import sqlalchemy as sa

from ..errors import FileError, KitError, UnknownName, must
from ..formula import Formula
from ..words import plural
from .book import Photo, _shown, code_of
from .fields import TrialError, date_of, find, text_of, trial_fields
from .photos import LARGEST, as_stored
from .recipes import Recipe, named
from .records import FORMAT, TEXTS, VERDICTS, Trial
from .store import photos, trials, versions

UNPACKED = 256_000_000  # bytes of trials.json; a small file can unpack to far more
PICTURES = 20_000
# A spreadsheet takes text that begins so for a formula; an apostrophe before it keeps it text.
STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r")
BEFORE = ("code", "version", "by", "name", "date", "baker", "mix", "question", "parent", "invented", "planned formula",
          "weighed formula")  # fmt: skip
AFTER = ("deviations", "notes", "verdict", "reason", "next change")


@dataclass(frozen=True)
class Imported:
    """What came in, by the codes of this book: new, with more versions, differing, already there."""

    new: dict  # code in the file: code in this book
    continued: tuple
    differing: tuple  # both books went on with it: the file's versions are kept, set aside
    already_there: tuple

    def __str__(self):
        return (f"{plural(len(self.new), 'new trial')}, {len(self.continued)} with more versions, "
                f"{len(self.differing)} that differ (set aside), {len(self.already_there)} already there")  # fmt: skip


def flat(trial):
    """Return {column: cell} of a trial for a spreadsheet; the columns are entries with their units."""
    made = {name: getattr(trial, name.replace(" ", "_")) for name in ("code", "version", *BEFORE[3:10])}
    made["date"], made["invented"] = trial.date.isoformat(), "yes" if trial.invented else ""
    for name in ("planned formula", "weighed formula"):
        recipe = getattr(trial, name.replace(" ", "_"))
        made[name] = f"{recipe.name} {recipe.fingerprint}" if recipe else ""
    grams = trial.weighed_formula.grams if trial.weighed_formula else {}
    made |= {f"weighed {part} {named(key)['name']}, g": g for part, own in grams.items() for key, g in own.items()}
    for prefix, section in (("", trial.lots), ("planned ", trial.planned), ("", trial.controlled),
                            ("", trial.measured), ("predicted ", trial.prediction)):  # fmt: skip
        for name, value in section.items():
            made[_column(f"{prefix}{find(name).words}", find(name))] = value
    for name, by_day in trial.days.items():
        made |= {_column(f"{find(name).words} day {day}", find(name)): value for day, value in by_day.items()}
    made |= {_column(f"{find(s.field).words} by {s.taster}", find(s.field)): s.score for s in trial.scores}
    made |= {name: getattr(trial, name.replace(" ", "_")) for name in AFTER}
    return {column: _cell(value) for column, value in made.items()}


def write_csv(some):
    """Return trials as CSV text, a row each: readings parted by semicolons, nothing that a spreadsheet would run."""
    rows = [flat(trial) for trial in some]
    middle = dict.fromkeys(column for row in rows for column in row if column not in (*BEFORE, *AFTER))
    columns = [*(c for c in BEFORE if c != "by"), *middle, *AFTER]
    out = io.StringIO()
    writer = csv.DictWriter(out, [_cell(c) for c in columns], restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows({_cell(column): cell for column, cell in row.items()} for row in rows)
    return out.getvalue()


def read_csv(path, formulas="."):
    """Return [(trial, who)] of a spreadsheet, every row checked; a later row of one code is a later version.

    path: CSV whose columns are entries, with their units after a comma; `code` and `parent` are the file's own.
    formulas: the folder of the formulas it names, each as a file and changes: "bun.toml butter=22 topping.sugar=90".
    Raises FileError, KitError.
    """
    path = Path(path)
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise FileError(must(path.name, "a file that can be read", error.strerror, "check its name")) from None
    except UnicodeDecodeError:
        raise FileError(must(path.name, "UTF-8 text", "another encoding", "save it again as UTF-8")) from None
    reader = csv.DictReader(io.StringIO(text))
    latest, made, named = {}, [], {}
    for row in reader:
        if None in row or None in row.values():
            raise FileError(must(path.name, "a whole table", f"a broken line {reader.line_num}", "mend that line"))
        cells = {column: _undefused(cell.strip()) for column, cell in row.items()}
        code = cells.pop("code", "") or f"row {reader.line_num}"
        who, _ = cells.pop("by", "") or path.name, cells.pop("version", "")
        try:
            trial = Trial.of(cells.pop("name", ""), cells.pop("date", ""))
            # the same row gives the same key each time it is read, so that no trial comes in twice
            own = f"{code}\n{trial.name}\n{trial.date}"
            trial = replace(trial, key=hashlib.sha256(own.encode()).hexdigest()[:32])
            parent = cells.pop("parent", "")
            if parent:
                if parent not in latest:
                    raise TrialError(must("parent", "the code of a row above", repr(parent), "put that row first"))
                trial = trial.with_entry("parent", latest[parent])
            for column, cell in cells.items():
                entry = re.sub(r", [^,]*$", "", column)
                if entry in ("planned formula", "weighed formula"):
                    if cell and cell not in named:
                        named[cell] = Recipe.of(_varied(cell, Path(formulas)))
                    cell = named.get(cell)
                elif entry == "invented":
                    cell = cell.casefold() in ("yes", "true", "1")
                if cell not in ("", None):
                    trial = trial.with_entry(entry, cell)
        except KitError as error:
            raise type(error)(f"{path.name} line {reader.line_num}: {error}") from None
        if code in latest:
            trial = replace(trial, key=latest[code].key)
        latest[code] = trial = replace(trial, code=code)
        made.append((trial, who))
    return made


def read_trials(path, formulas="."):
    """Return the trials of a spreadsheet as they stand, corrections applied; see `read_csv`."""
    return list({trial.key: trial for trial, _ in read_csv(path, formulas)}.values())


def fill(book, path, formulas="."):
    """Save every row of a spreadsheet into a book, corrections as later versions; rows that are in it stay as they are.

    Returns the trials as they stand.
    """
    rows, keys = read_csv(path, formulas), {}
    for trial, who in rows:
        versions_there = _history(book, trial.key)
        if trial.document() not in [version.trial.document() for version in versions_there]:
            current = book.trial(trial.key).version if versions_there else 0
            book.save(replace(trial, code="", version=current), who)
        keys[trial.key] = True
    return book.trials(list(keys))


def _history(book, key):
    try:
        return book.history(key)
    except UnknownName:
        return []


def schema():
    """Return the JSON Schema (draft 2020-12) of trials.json."""
    number, text = {"type": "number"}, {"type": "string"}

    def value(field):
        if field.unit == "text":
            return text
        one = {"type": "number", "minimum": field.low, "maximum": field.high,
               "description": f"{field.unit}, {field.instrument}"}  # fmt: skip
        return {"type": "array", "items": one, "minItems": 1} if field.readings > 1 or field.group == "series" else one

    def of(*groups):
        return {field.name: value(field) for field in trial_fields().values() if field.group in groups}

    def section(properties):
        return {"type": "object", "properties": properties, "additionalProperties": False}

    score = section({"taster": text, "field": {"enum": list(of("sensory"))}, "score": number})
    recipe = {
        "type": "object", "required": ["name", "fingerprint", "text"],
        "properties": {"name": text, "fingerprint": text, "text": {**text, "description": "the formula as TOML"},
                       "kinds": {"type": "object"}, "lines": {"type": "object"}, "pieces": {"type": "object"},
                       "grams": {"type": "object", "description": "g weighed of each line of each part"}},
    }  # fmt: skip
    numeric = [field.name for field in trial_fields().values() if field.unit != "text"]
    document = section({
        "format": {"const": FORMAT}, "key": {**text, "pattern": "^[0-9a-f]{32}$"}, "date": {**text, "format": "date"},
        **dict.fromkeys((*TEXTS, "parent"), text), "verdict": {"enum": list(VERDICTS)}, "invented": {"const": True},
        "planned_formula": recipe, "weighed_formula": recipe, "lots": section(of("lot")),
        "planned": section(of("controlled")), "controlled": section(of("controlled")),
        "measured": section(of("measured")),
        "days": section({name: {"type": "object", "patternProperties": {r"^\d{1,2}$": readings},
                                "additionalProperties": False} for name, readings in of("series").items()}),
        "scores": {"type": "array", "items": score},
        "prediction": section(dict.fromkeys(numeric, {"type": "array", "items": number, "minItems": 3, "maxItems": 3})),
    }) | {"required": ["format", "key", "name", "date"]}  # fmt: skip
    version = section({"number": {"type": "integer", "minimum": 1}, "by": text, "at": text,
                       "aside": {"type": "boolean"}, "document": document})  # fmt: skip
    photo = section({"file": text, "view": text, "by": text, "at": text})
    trial = section({"code": text, "current": {"type": "integer", "minimum": 1},
                     "versions": {"type": "array", "items": version, "minItems": 1},
                     "photos": {"type": "array", "items": photo}})  # fmt: skip
    whole = section({"format": {"const": FORMAT}, "trials": {"type": "array", "items": trial}})
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "trial book", **whole,
            "required": ["format", "trials"]}  # fmt: skip


def export(book, path):
    """Write the whole book into one new ZIP file and return its path. Raises FileError when the name is taken."""
    path = Path(path)
    if path.exists():
        raise FileError(must(path.name, "a new file", "one that exists", "choose another name"))
    standing, entries, pictures = book.trials(), [], {}
    for trial in standing:
        entry = {"code": trial.code, "current": trial.version, "versions": [], "photos": []}
        for v in book.history(trial):
            entry["versions"].append({"number": v.number, "by": v.by, "at": v.at, "aside": v.aside,
                                      "document": v.trial.document()})  # fmt: skip
        for photo in book.photos(trial):
            name = f"photos/{photo.digest}.jpg"
            pictures[name] = photo.picture
            entry["photos"].append({"file": name, "view": photo.view, "by": photo.by, "at": photo.at})
        entries.append(entry)
    members = {
        "trials.csv": ("﻿" + write_csv(standing)).encode("utf-8"),
        "trials.json": json.dumps({"format": FORMAT, "trials": entries}, ensure_ascii=False, indent=1).encode("utf-8"),
        "trials.schema.json": json.dumps(schema(), ensure_ascii=False, indent=1).encode("utf-8"),
        **pictures,
    }
    temporary = None
    try:
        handle, temporary = tempfile.mkstemp(prefix=".", suffix=".part", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            with zipfile.ZipFile(file, "w") as archive:
                for name, data in members.items():
                    kind = zipfile.ZIP_STORED if name.startswith("photos/") else zipfile.ZIP_DEFLATED
                    archive.writestr(zipfile.ZipInfo(name), data, kind)
            file.flush()
            os.fsync(file.fileno())
        os.link(temporary, path)
    except OSError as error:
        got = error.strerror or str(error)
        raise FileError(must(path.name, "a file that can be written", got, "choose another")) from None
    finally:
        if temporary and os.path.exists(temporary):
            os.unlink(temporary)
    return path


def import_from(book, path):
    """Take an exported ZIP file into a book, whole or not at all, and return what came in as Imported.

    New trials get this book's next codes; a trial that both books know gains the versions it lacks, set aside where
    both went on with it. Raises FileError for anything but an export, and KitError for a trial that can't stand.
    """
    path = Path(path)
    entries, pictures = _read_export(path)
    new, continued, differing, already = {}, [], [], []
    with book._writing() as connection:
        for entry in entries:
            last = entry["versions"][-1]["trial"]
            place = connection.execute(sa.select(trials.c.id).where(trials.c.key == last.key)).scalar()
            if place is None:
                place = _insert(book, connection, entry)
                new[entry["code"]] = code_of(place)
            else:
                kind = _continue(book, connection, place, entry)
                {"continued": continued, "differing": differing, "already": already}[kind].append(code_of(place))
            held = set(connection.execute(sa.select(photos.c.digest).where(photos.c.trial == place)).scalars())
            for photo in entry["photos"]:
                data, width, height = pictures[photo["file"]]
                made = Photo(photo["view"], width, height, photo["by"], photo["at"], photo["digest"], data)
                if photo["digest"] not in held:
                    book._insert_photo(connection, place, made)
    return Imported(new, tuple(continued), tuple(differing), tuple(already))


def _insert(book, connection, entry):
    standing = next(v["trial"] for v in entry["versions"] if v["number"] == entry["current"])
    found = connection.execute(trials.insert().values(key=standing.key, current=entry["current"], **_shown(standing)))
    place = found.inserted_primary_key[0]
    for v in entry["versions"]:
        book._insert_version(connection, place, v["number"], v["by"], v["at"], v["aside"], v["document"])
    book._index(connection, place, standing, new=True)
    return place


def _continue(book, connection, place, entry):
    def same(by, at, document):
        return by, at, json.dumps(document, sort_keys=True)

    here = [
        same(row.written_by, row.written_at, json.loads(row.document))
        for row in connection.execute(
            sa.select(versions).where(versions.c.trial == place).order_by(versions.c.number)
        )
    ]  # fmt: skip
    there = [same(v["by"], v["at"], v["document"]) for v in entry["versions"]]
    lacking = [v for v, each in zip(entry["versions"], there, strict=True) if each not in here]
    if not lacking:
        return "already"
    goes_on = there[: len(here)] == here
    number = len(here)
    for v in lacking:
        number += 1
        aside = v["aside"] or not goes_on
        book._insert_version(connection, place, number, v["by"], v["at"], aside, v["document"])
    if goes_on:
        standing = next(v["trial"] for v in entry["versions"] if v["number"] == entry["current"])
        connection.execute(
            trials.update().where(trials.c.id == place).values(current=entry["current"], **_shown(standing))
        )
        book._index(connection, place, standing)
    return "continued" if goes_on else "differing"


def _read_export(path):
    """Return (entries, {file: (JPEG, width, height)}) of an export; nothing is written anywhere."""
    try:
        with zipfile.ZipFile(path) as archive:
            names = archive.namelist()
            for name in names:
                if name not in ("trials.csv", "trials.json", "trials.schema.json") and not re.fullmatch(
                    r"photos/[0-9a-f]{64}\.jpg", name
                ):
                    do = "export it anew; nothing was taken in"
                    raise FileError(must(path.name, "an export of a trial book", f"a file {name[:80]!r} in it", do))
            if "trials.json" not in names or len(set(names)) != len(names) or len(names) > PICTURES:
                got = "no trials.json" if "trials.json" not in names else "files named twice, or too many"
                raise FileError(must(path.name, "an export of a trial book", got, "export it anew"))
            document = json.loads(_unpacked(archive, "trials.json", UNPACKED, path))
            entries, wanted = _checked(document, path)
            pictures = {}
            for name, digest in wanted.items():
                if name not in names:
                    raise FileError(must(path.name, "whole", f"no {name[:40]}", "export it anew"))
                pictures[name] = _picture(_unpacked(archive, name, LARGEST, path), digest, path)
    except (zipfile.BadZipFile, RuntimeError, NotImplementedError, json.JSONDecodeError, UnicodeDecodeError,
            RecursionError, EOFError) as error:  # fmt: skip
        if isinstance(error, KitError):
            raise
        got = f"a damaged one ({str(error)[:80]})"
        raise FileError(must(path.name, "an export of a trial book", got, "export it anew")) from None
    except OSError as error:
        if isinstance(error, KitError):
            raise
        raise FileError(must(path.name, "a file that can be read", error.strerror, "check its name")) from None
    return entries, pictures


def _unpacked(archive, name, most, path):
    """Return a member's bytes, reading no more than it may hold, whatever its header claims."""
    with archive.open(name) as member:
        data = member.read(most + 1)
    if len(data) > most:
        got = f"more than {most:,} bytes in {name[:40]}"
        raise FileError(must(path.name, "of a size that can be taken in", got, "export fewer trials"))
    return data


def _picture(data, digest, path):
    from PIL import Image

    if hashlib.sha256(data).hexdigest() != digest:
        raise FileError(must(path.name, "whole", "a picture that was changed", "export it anew"))
    checked, width, height = as_stored(data)
    with Image.open(io.BytesIO(data)) as image:
        bare = image.format == "JPEG" and not image.getexif() and set(image.info) <= {
            "jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi"}  # fmt: skip
        as_it_is = bare and image.size == (width, height)
    return (data if as_it_is else checked), width, height


def _checked(document, path):
    """Return entries with their Trials checked, and {photo file: digest}."""

    def need(condition, got):
        if not condition:
            raise FileError(must(path.name, "an export of a trial book", got, "export it anew; nothing was taken in"))

    need(isinstance(document, dict) and isinstance(document.get("trials"), list), "no list of trials")
    version = document.get("format")
    if version != FORMAT:
        do = "update the kit" if isinstance(version, int) and version > FORMAT else "export it anew"
        raise FileError(must(path.name, f"of format {FORMAT}", repr(version)[:40], do))
    entries, wanted, seen = [], {}, set()
    for body in document["trials"]:
        need(isinstance(body, dict) and isinstance(body.get("versions"), list), "a trial without versions")
        made = []
        for number, v in enumerate(body["versions"], 1):
            need(isinstance(v, dict) and v.get("number") == number, "versions out of order")
            need(isinstance(v.get("aside"), bool), "a version that does not say whether it stands")
            trial = Trial.from_document(v.get("document"))
            by, at = text_of(v.get("by"), "by", needed=True), _instant(v.get("at"))
            made.append({"number": number, "by": by, "at": at, "aside": v["aside"], "document": v["document"],
                         "trial": trial})  # fmt: skip
        current = body.get("current")
        need(any(v["number"] == current and not v["aside"] for v in made), "no version that stands")
        key = made[0]["trial"].key
        need(len({v["trial"].key for v in made}) == 1 and key not in seen, "versions of different trials")
        seen.add(key)
        shots = []
        for photo in body.get("photos", []):
            need(isinstance(photo, dict), "a photo that is none")
            found = re.fullmatch(r"photos/([0-9a-f]{64})\.jpg", str(photo.get("file")))
            need(found, "a photo under a strange name")
            wanted[found[0]] = found[1]
            shots.append({"file": found[0], "digest": found[1], "at": _instant(photo.get("at")),
                          "view": text_of(photo.get("view"), "view", needed=True),
                          "by": text_of(photo.get("by"), "by", needed=True)})  # fmt: skip
        entries.append({"code": str(body.get("code", ""))[:20], "current": current, "versions": made, "photos": shots})
    return entries, wanted


def _instant(text):
    text = text_of(text, "at", needed=True)
    date_of(text[:10])
    if len(text) > 32:
        raise TrialError(must("at", "a moment in ISO 8601", repr(text[:40]), "take it from an export"))
    return text


def _column(words, field):
    return words if field.unit == "text" else f"{words}, {field.unit}"


def _cell(value):
    if isinstance(value, tuple):
        return "; ".join(f"{each:.10g}" for each in value)
    if isinstance(value, float):
        return f"{value:.10g}"
    text = str(value)
    return f"'{text}" if text.startswith(STARTS_FORMULA) else text


def _undefused(text):
    return text[1:] if text.startswith("'") and text[1:].startswith(STARTS_FORMULA) else text


def _varied(cell, folder):
    """Return the Formula that a cell names: a file, and changes such as butter=22 or topping.sugar=90."""
    name, *changes = cell.split()
    if Path(name).name != name:
        raise FileError(must("formula", "the name of a file in the formulas' folder", repr(name), "leave the path out"))
    formula = Formula.read(folder / name)
    own, parts = {}, {}
    for change in changes:
        what, mark, value = change.partition("=")
        if not mark:
            raise TrialError(must("formula", "a file and changes like butter=22", repr(change), "write it so"))
        part, dot, kind = what.partition(".")
        (parts.setdefault(part, {}) if dot else own)[(kind if dot else part).replace("_", " ")] = float(value)
    return formula.vary(own or None, **parts) if changes else formula
