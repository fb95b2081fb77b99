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
from .corrections import ERASED, PUT_BACK, WITHDRAWN, Removal
from .fields import OWN, Kitchen, Note, in_unit, text_of, written
from .photos import LARGEST, Photo, as_stored, is_bare
from .reading import KIND, TrialError, date_of
from .recipes import Recipe
from .records import FORMAT, KEY, Trial, Version
from .store import path_of

UNPACKED = 256_000_000  # bytes of trials.json; a small file can unpack to far more
DENSE = 200  # bytes out of one of the file, beyond which nobody wrote it
FORMULAS = ("planned formula", "weighed formula")
BEFORE = ("code", "version", "name", "date", "baker", "mix", "question", "tags", "parent", "invented", *FORMULAS)
AFTER = ("deviations", "notes", "verdict", "reason", "decided by", "decided on", "next change")
PLAIN = (*BEFORE, *AFTER, "by")  # columns without a unit
# what an export tells of each, all of it needed up to the moment; the picture and the trial lie beside it
VERSION, PHOTO, REMOVAL = ("by", "at"), ("view", "by", "at"), ("what", "by", "at", "digest", "view", "why")


@dataclass(frozen=True)
class Kept:
    """A trial as a book keeps it: code, all versions, photos, what was withdrawn or erased."""

    code: str
    versions: tuple
    photos: tuple = ()
    removals: tuple = ()

    @property
    def standing(self):
        """The Version that stands, the newest not set aside, also where an older kit wrote another."""
        return max((version for version in self.versions if not version.aside), key=lambda version: version.number)

    def lacking(self, other, erased, sheet):
        """Return what comes with another book's Kept of the trial and is not here, and how the two compare.

        erased: digests of photos that don't come back; sheet: whether its versions are rows of a spreadsheet, which go
        on top of what stands. Returns (Kept, whether both books went on with the trial, whether a photo that was
        erased there is withdrawn here).
        """

        def told(v):
            return v.trial.document() if sheet else (v.by, v.at, v.trial.document())

        known = [told(v) for v in self.versions]
        differs = not sheet and [told(v) for v in other.versions[: len(known)]] != known
        new = [v for v in other.versions if told(v) not in known]
        versions = tuple(replace(v, number=n, aside=v.aside or differs) for n, v in enumerate(new, len(known) + 1))
        held = {photo.digest for photo in self.photos}
        photos = {photo.digest: photo for photo in other.photos if photo.digest not in held | erased}
        rubbed = [r for r in other.removals if r.what == ERASED and r.digest in held | photos.keys()]
        removals = (
            replace(r, what=WITHDRAWN, why=f"erased in another book: {r.why}") if r in rubbed else r
            for r in other.removals
        )
        lacks = tuple(removal for removal in removals if removal not in self.removals)
        return Kept(self.code, versions, tuple(photos.values()), lacks), differs, bool(rubbed)


def write_csv(some):
    """Return trials as CSV text, a row each: readings parted by semicolons, nothing that a spreadsheet would run."""
    rows, codes = [], {}
    for trial in some:
        row = {name: getattr(trial, name.replace(" ", "_")) or "" for name in (*BEFORE, *AFTER)}
        row |= {"parent": codes.get(trial.parent, trial.parent), "invented": "yes" if trial.invented else ""}
        recipe = trial.weighed_formula
        for part, lines in (recipe.grams if recipe else {}).items():
            row |= {f"weighed {part} {recipe.named(key)['name']}, g": grams for key, grams in lines.items()}
        rows.append(row | {_column(str(note), note.field.unit): value for note, value in trial.noted.items()})
        codes |= {trial.key: trial.code} if trial.code else {}
    columns = [*BEFORE, *dict.fromkeys(column for row in rows for column in row if column not in PLAIN), *AFTER]
    cells = [[_cell(row.get(column, "")) for column in columns] for row in rows]
    return frame(map(_cell, columns), cells).to_csv(index=False, lineterminator="\r\n")


def _cell(value):
    return written(value) if isinstance(value, (tuple, float)) else as_cell(str(value))


def _column(words, unit):
    return words if unit == "text" or words.startswith(OWN) else f"{words}, {unit}"


def read_csv(path, formulas="."):
    """Return [Kept] of a spreadsheet, every row checked; a later row of one code is a later version.

    path: CSV, parted by commas, semicolons or tabs, whose columns are entries, with their units after a comma; a bare
    number is in its column's unit. `code` and `parent` are the file's own.
    formulas: the folder of the formulas it names, each as a file and changes: "bun.toml butter=22 topping.sugar=90".
    Raises FileError, KitError.
    """
    path, formulas = path_of(path), path_of(formulas)
    recipe_of = functools.cache(lambda cell: Recipe.of(_varied(cell, formulas)))
    units_of, rows = _table(path)
    made: dict[str, list] = {}
    for line, cells in rows:
        code, who = cells.pop("code", "") or f"row {line}", cells.pop("by", "") or path.name
        given = {entry: cell for entry, cell in cells.items() if cell and entry != "version"}
        try:
            trial = _trial(code, given, made, units_of, recipe_of)
        except KitError as error:
            raise type(error)(f"{path.name} line {line}: {error}") from None
        before = made.setdefault(code, [])
        before.append(Version(len(before) + 1, who, f"{trial.date}T00:00:00+00:00", False, trial))
    return [Kept(code, tuple(versions)) for code, versions in made.items()]


def _trial(code, given, above, units_of, recipe_of):
    """Return the Trial of the cells given in a row; above: {code: [Version]} of the rows above."""
    keys = {code: versions[0].trial.key for code, versions in above.items()}
    trial = Trial.of(given.pop("name", ""), given.pop("date", ""))
    # the same row gives the same key each time it is read, so that no trial comes in twice
    own = hashlib.sha256(f"{code}\n{trial.name}\n{trial.date}".encode()).hexdigest()[:32]
    trial = replace(trial, code=code, key=keys.get(code, own))
    if parent := given.get("parent"):
        if parent not in keys and not re.fullmatch(KEY, parent):
            raise TrialError(must("parent", "the code of a row above", repr(parent), "put that row first"))
        given["parent"] = keys.get(parent, parent)
    order = sorted(given, key=lambda entry: (entry not in FORMULAS, entry.startswith("weighed ")))
    for entry in [*order, *(entry for entry in given if plain(entry) == "flour weighed")]:  # lines move the flour
        value = given[entry]
        if entry in FORMULAS:
            value = recipe_of(value)
        elif entry == "invented":
            value = value.casefold() in ("yes", "true", "1")
        elif units_of[entry]:
            value = in_unit(value, units_of[entry])
        trial = trial.with_entry(entry, value)
    return trial


def _need(good, path, be, got, do):
    if not good:
        raise FileError(must(path.name, be, got, do))


def _table(path):
    """Return ({entry: unit of its bare numbers, "" for the field's own}, [(line, {entry: cell})]) of a CSV file."""
    text = read_text(path)
    for mark in (",", ";", "\t"):
        rows = csv_rows(path.name, text, mark)
        _, heading = next(rows, (0, []))
        if found := {"name", "date"} <= set(map(plain, heading)):
            break
    do = "name them in its first line, parted by commas or semicolons"
    _need(found, path, "a table with the columns name and date", "none", do)
    columns = [_column_of(written, path) for written in heading]
    names = [entry for entry, _ in columns]
    entries = [entry if " by " in entry else plain(entry) for entry in names if entry]
    twice = [entry for entry in entries if entries.count(entry) > 1]
    got = f"{twice[0]!r} {len(twice)} times" if twice else ""
    _need(not twice, path, "a table whose columns differ", got, "put both into one, or take one out")
    cells = []
    for line, row in rows:
        if any(row):
            _need(len(row) == len(heading), path, "a whole table", f"a broken line {line}", "mend that line")
            named = all(entry or not cell for cell, entry in zip(row, names, strict=True))
            got = f"a cell without one in line {line}"
            _need(named, path, "a table with a heading over every column", got, "name that column")
            cells.append((line, dict(zip(names, map(from_cell, row), strict=True))))
    return dict(columns), cells


def _column_of(written, path):
    """Return (entry, unit to be written to its bare numbers) of a column's heading such as "height, cm"."""
    if written.startswith(OWN):
        return written, ""
    entry, comma, unit = (part.strip() for part in written.rpartition(","))
    entry = entry if comma else unit
    entry = plain(entry) if plain(entry) in PLAIN else entry
    if not comma:
        return entry, ""
    own = "text" if entry in PLAIN else "g" if entry.startswith("weighed ") else Note.of(entry).field.unit
    if plain(unit) == plain(own) != "text":
        return entry, unit if unit == "%" else ""  # the column's % says that 0.6 is no share of 1
    try:
        kind = amount(f"1 {unit}").kind
    except KitError:
        kind = ""
    if kind not in ([KIND[own][0]] if own in KIND else []) + ["volume"] * entry.startswith("weighed "):
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
    formula, parts = Formula.read(folder / name), {}
    for change in changes:
        part, kind, value = re.fullmatch(r"(?:([^.=]+)\.)?([^.=]+)=(.+)|.*", change.replace("_", " ")).groups()
        if not kind or kind in parts.get(part, ()):
            be = "a file and changes like butter=22, each once"
            raise TrialError(must("formula", be, repr(change), "write it so"))
        parts.setdefault(part, {})[kind] = read_number(value, kind)
    return formula.vary(parts.pop(None, None), **parts) if changes else formula


def pack(kept, path, kitchen):
    """Write what a book keeps into one new ZIP file and return its path. Raises FileError when the name is taken."""
    path, entries, pictures = path_of(path), [], {}
    for each in kept:
        shots = {f"photos/{photo.digest}.jpg": photo for photo in each.photos}
        pictures |= {name: photo.picture for name, photo in shots.items()}
        entry = {
            "code": each.code,
            "current": each.standing.number,
            "versions": [
                {"number": v.number, **_said(v, VERSION), "aside": v.aside, "document": v.trial.document()}
                for v in each.versions
            ],
            "photos": [{"file": name, **_said(photo, PHOTO)} for name, photo in shots.items()],
        }
        entries.append(entry | ({"removals": [_said(r, REMOVAL) for r in each.removals]} if each.removals else {}))
    document = {"format": FORMAT, "kitchen": asdict(kitchen), "trials": entries}
    table = "\ufeff" + write_csv([each.standing.trial for each in kept])
    members = {"trials.csv": table, "trials.json": json.dumps(document, ensure_ascii=False, indent=1), **pictures}
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


def _said(value, names):
    return {name: getattr(value, name) for name in names}


def unpack(path):
    """Return ([Kept], {what is remembered of its kitchen}) of an exported ZIP file, all checked; nothing is written.

    Only what `trials.json` names is read. Raises FileError for anything but an export, and KitError for a trial that
    can't stand.
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
        _need(good, path, "an export of a trial book", got, "export it anew; nothing was taken in")

    def read(name, most):  # no more than its header claims, and that is bounded
        need(name in archive.namelist(), f"no {name[:40]}")
        member = archive.getinfo(name)
        fits = member.file_size <= min(most, max(DENSE * member.compress_size, LARGEST))
        got = f"{member.file_size:,} bytes in {name[:40]}"
        _need(fits, path, "of a size that can be taken in", got, "export fewer trials")
        return archive.read(member)

    @functools.cache
    def picture_of(name):
        data = read(name, LARGEST)
        need(hashlib.sha256(data).hexdigest() in name, "a picture that was changed")
        checked, width, height = as_stored(data)
        return {"width": width, "height": height, "picture": data if is_bare(data) else checked}

    document = json.loads(read("trials.json", UNPACKED))
    need(isinstance(document, dict), "no list of trials")
    version = document.get("format")
    do = "update the kit" if isinstance(version, int) and version > FORMAT else "export it anew"
    _need(version == FORMAT, path, f"of format {FORMAT}", repr(version)[:40], do)
    kept: dict[str, Kept] = {}
    for body in document["trials"]:
        made = tuple(
            Version(n, aside=bool(v["aside"]), trial=Trial.from_document(v["document"]), **_told(v, VERSION))
            for n, v in enumerate(body["versions"], 1)
        )
        need(not all(v.aside for v in made), "no version that stands")
        (key,) = {v.trial.key for v in made}
        need(key not in kept, "one trial twice")
        shots = tuple(Photo(**picture_of(photo["file"]), **_told(photo, PHOTO)) for photo in body["photos"])
        gone = tuple(Removal(**_told(removal, REMOVAL)) for removal in body.get("removals", ()))
        known = (r.what in (WITHDRAWN, PUT_BACK, ERASED) and len(r.digest) in (0, 64) for r in gone)
        need(all(known), "odd removals")
        kept[key] = Kept(str(body.get("code", ""))[:20], made, shots, gone)
    return list(kept.values()), asdict(Kitchen().changed(**document.get("kitchen", {})))


def _told(body, names):
    """Return {name: text} of what a version, a photo or a removal says of itself. Raises TrialError."""
    needed = names[: names.index("at") + 1]
    made = {name: text_of(body[name], name, needed=name in needed) or "" for name in names}
    date_of(made["at"][:10])
    if len(made["at"]) > 32:
        raise TrialError(must("at", "a moment in ISO 8601", repr(made["at"][:40]), "take it from an export"))
    return made
