"""The trial book: trials, the append-only versions of each, and photos, in a SQLite file or a PostgreSQL database.

Nothing is changed in silence: each save appends a version with who and when. Of two people at one trial the second
is shown the conflict, and what the second wrote is kept as a version set aside.
"""

import contextlib
import datetime
import json
import os
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from pathlib import Path

import sqlalchemy as sa

from .. import page
from ..errors import FileError, KitError, UnknownName, must, whole
from ..formula import Formula
from ..words import listing, plural
from . import exchange, store
from .again import Lineage, lineage
from .corrections import ERASED, PUT_BACK, WITHDRAWN, Corrections, Removal, corrections, finished, withdrawn_of
from .exchange import Kept
from .fields import Kitchen, text_of
from .photos import Photo, as_stored
from .reading import Asking, TrialError, date_of
from .records import TEXTS, Trial, Version, changes, merge
from .store import in_plain_words, photos, put, remembered, removals, trials, versions

SHEETS = (".csv", ".tsv", ".txt")
LOOKED_AT_FOR = 2  # days after the bake on which its crumb is still cut and photographed
INDEXED = 100_000  # characters of a trial that the search knows
NOT_REACHED = (
    "Not reached: the file it came from, exports and copies made before, other books that hold it, pages printed or "
    "saved with it."
)
_STANDING = sa.select(trials.c.id, versions.c.number, versions.c.document).join(
    versions, (versions.c.trial == trials.c.id) & (versions.c.number == trials.c.current)
)


class ConflictError(KitError, RuntimeError):
    """Somebody saved the trial meanwhile: `theirs` stands, `yours` is kept as a version set aside."""

    def __init__(self, theirs: Version, yours: Version, base: "Trial | None"):
        self.theirs, self.yours, self._base = theirs.trial, yours.trial, base
        other = changes(base, self.theirs)
        self.both = tuple(str(entry).replace("_", " ") for entry in changes(base, self.yours) if entry in other)
        be = f"saved on top of the version it was read from ({self.yours.version})"
        also = f", which also changed {listing(self.both)}" if self.both else ""
        got = f"version {theirs.number}, saved by {theirs.by} at {theirs.at}{also}"
        do = f"look at both; yours is kept as version {yours.number}, set aside"
        super().__init__(must(self.theirs.code, be, got, do))

    def merged(self):
        """Return theirs with what only you changed put in; where both changed one entry, theirs stays."""
        return merge(self.theirs, self.yours, self._base)


@dataclass(frozen=True)
class Imported:
    """What came in, by the codes of this book: new, with more versions, differing, already there."""

    new: dict  # code in the file: code in this book
    continued: tuple
    differing: tuple  # both books went on with it: the file's versions are kept, set aside
    already_there: tuple
    erased: tuple  # in the other book: withdrawn in this one, where its keeper may erase it too

    def __str__(self):
        said = (
            f"{plural(len(self.new), 'new trial')}, {len(self.continued)} with more versions, "
            f"{len(self.differing)} that differ (set aside), {len(self.already_there)} already there"
        )
        there = f"; photos of {listing(self.erased)} were erased there and are withdrawn here, to be erased here too"
        return said + (there if self.erased else "")


class TrialBook:
    """A book of trials; `TrialBook.open(path or URL)`."""

    def __init__(self, engine, name, folder=None):
        self._engine, self.name, self.folder = engine, name, folder  # the folder of a file

    @staticmethod
    def open(where: str | os.PathLike) -> "TrialBook":
        """Return the book in a file, or in a database that several bakers share.

        where: a SQLite file, made when there is none, or a URL such as postgresql://kitchen@server/trials

        A book of a newer kit is refused and left untouched.
        Raises FileError.

        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder, TrialBook.open(folder + "/trials.db") as book:
        ...     saved = book.save(Trial.of("more butter", "2025-03-04", height="4.2 cm"), by="M1")
        ...     print(saved.code, len(book))
        T-001 1
        """
        if store.is_url(where):
            return TrialBook(*store.at_url(where))
        path = store.path_of(where)
        return TrialBook(store.in_file(path), path.name, path.parent)

    @staticmethod
    def read(path: str | os.PathLike, formulas: str | os.PathLike = ".") -> "TrialBook":
        """Return the book in a spreadsheet or an export, in memory and to be read only; what it is read from stays.

        path: CSV, or the ZIP file that `export` makes
        formulas: the folder of the formulas that a CSV names

        Raises FileError, KitError; see `import_from`.

        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     bakes = Path(folder, "bakes.csv")
        ...     _ = bakes.write_text('name,date,"height, mm"\\nmore butter,2025-03-04,42; 43')
        ...     print(TrialBook.read(bakes).trial("T-001").mean("height"))
        42.5
        """
        book = TrialBook(store.in_memory(), store.path_of(path).name)
        book.import_from(path, formulas)
        store.close_to_writing(book._engine)
        return book

    def close(self) -> None:
        """Let go of the file or the database."""
        self._engine.dispose()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    # writing

    def save(self, trial: Trial, by: str, merging: bool = False) -> Trial:
        """Append a version and return the trial as it stands in the book now, with its code and version.

        trial: as it was read from the book, with what was changed, or a new one
        by: who writes, such as M1
        merging: whether what somebody saved meanwhile in other entries is taken over, and is no conflict

        Raises ConflictError when somebody saved it meanwhile, TrialError, FileError.
        """
        by = text_of(by, "by", needed=True)
        if not isinstance(trial, Trial):
            raise TrialError(must("trial", "a Trial", repr(trial)[:40], "make one with Trial.of(name, date)"))
        with self._writing() as connection:
            saved = self._append(connection, trial, by, merging)
        if isinstance(saved, ConflictError):
            raise saved
        return saved

    def entry(self, trial: Trial, by: str) -> "Entry":
        """Return an Entry that saves each field of a trial as it is entered, by whom; see `Entry.set`."""
        return Entry(self, trial if getattr(trial, "version", 0) else self.save(trial, by), by)

    def decide(self, trial: "Trial | str", verdict: str, words: str, by: str) -> Trial:
        """Close a trial with a decision and return it as it stands then; decided again, the later one stands.

        trial: a Trial of the book, its code or key
        verdict: keep, change or drop
        words: why, in one line
        by: who decides, such as M1

        Raises ConflictError when somebody saved it in the same instant, TrialError, UnknownName, FileError.
        """
        closed, why = self.trial(trial), text_of(words, "decision", needed=True)
        said = {"verdict": verdict, "reason": why, "decided by": by, "decided on": datetime.date.today()}
        for entry, value in said.items():
            closed = closed.with_entry(entry, value)
        return self.save(closed, by)

    @property
    def kitchen(self) -> Kitchen:
        """What the book remembers of the kitchen that keeps it."""
        with self._reading() as connection:
            rows = connection.execute(sa.select(remembered)).all()
        known = {
            row.name: json.loads(row.value) for row in rows if hasattr(Kitchen, row.name)
        }  # not what a newer kit has
        return Kitchen().changed(**known)

    def remember(self, **some) -> Kitchen:
        """Remember of the kitchen what is named and return the Kitchen; the rest stays.

        some: fields (entries such as "dough temperature", "crumb dent day 1", "own shine, mm"), tags, entered_by,
            answers ({question: choice})

        Raises TrialError, UnknownName, FileError.
        """
        with self._writing() as connection:
            kitchen = _Standing(connection, self.name).kitchen.changed(**some)
            connection.execute(remembered.delete().where(remembered.c.name.in_(list(some))))
            for name in some:
                connection.execute(remembered.insert().values(name=name, value=json.dumps(getattr(kitchen, name))))
        return kitchen

    def _append(self, connection, trial, by, merging):
        """Return the trial as it stands now, or the ConflictError with which it was set aside."""
        place, current = _held(connection, trial.key)
        history = _Standing(connection, self.name).history(trial, every=True) if place else []
        numbered = {version.number: version for version in history}
        theirs, base = (numbered[n].trial if n in numbered else None for n in (current, trial.version))
        aside = place is not None and current != trial.version
        if aside and merging and not changes(base, theirs).keys() & changes(base, trial).keys():
            trial, aside = merge(theirs, trial, base), False
        changed = changes(theirs, trial)
        if not aside and not changed:
            return theirs
        predicted = not aside and any(getattr(entry, "how", "") == "predicted" for entry in changed)
        if predicted and any(note.is_measured for version in history for note in version.trial.noted):
            do = "a prediction made afterwards can't be checked: note it for the next bake"
            raise TrialError(must("prediction", "stored before the bake is measured", "a change to it", do))
        made = Version(max(numbered, default=0) + 1, by, _now(), aside, trial)
        place = _write(connection, place, Kept("", (made,)), None if aside else made)
        if aside:
            return ConflictError(numbered[current], made, base)
        return replace(trial, code=code_of(place), version=made.number)

    # photos, and what is withdrawn

    def add_photo(
        self, trial: Trial | str, picture: bytes | str | os.PathLike, view: str = "top", by: str = ""
    ) -> Photo:
        """Check a picture, take out location and everything else but the pixels, keep it, and return the Photo.

        trial: a Trial of the book, its code or key
        picture: bytes, or the path of a JPEG of up to 200, or a PNG or WebP of up to 60 million pixels
        view: top, side, cut face ...
        by: who adds it, such as M1

        Raises FileError, TrialError (also for what was erased), UnknownName.
        """
        by, view = text_of(by, "by", needed=True), text_of(view, "view", needed=True)
        data, width, height = as_stored(picture)
        made = Photo(view, width, height, by, _now(), data)
        with self._writing() as connection:
            place = self._place(connection, trial)
            if made.digest in _erased(connection):
                raise TrialError(must("photo", "one that was not erased", "one that was", "take another"))
            held = {photo.digest: photo for photo in _Standing(connection, self.name).photos(trial, withdrawn=True)}
            if made.digest not in held:
                put(connection, photos, place, made)
        return held.get(made.digest, made)

    def baked_before(self, taken: datetime.datetime) -> list[str]:
        """Return the codes of the trials that a picture of some time may show: baked that day or two days before.

        The likeliest comes first: of that day, and entered at the nearest time.
        """
        days = [taken.date() - datetime.timedelta(back) for back in range(LOOKED_AT_FOR + 1)]
        query = sa.select(trials.c.id, trials.c.date, versions.c.at).join(versions).where(trials.c.date.in_(days))
        far: dict = {}
        for place, date, at in self._shown(query):
            entered = datetime.datetime.fromisoformat(at).astimezone().replace(tzinfo=None)
            apart = ((taken.date() - date).days, abs(entered - taken))
            far[place] = min(far.get(place, apart), apart)
        return [code_of(place) for place in sorted(far, key=far.__getitem__)]

    def withdraw(self, trial: Trial | str, why: str, by: str, photo: Photo | None = None) -> None:
        """Hide a trial, or one of its photos, from lists and comparisons; it stays in the book and can be put back.

        trial: a Trial of the book, its code or key
        why, by: the reason and who says so, in words
        photo: the Photo; None for the trial itself

        Raises TrialError, UnknownName, FileError.
        """
        self._remove(trial, photo, WITHDRAWN, text_of(why, "why", needed=True), by)

    def put_back(self, trial: Trial | str, by: str, photo: Photo | None = None) -> None:
        """Show again what was withdrawn; arguments and errors as of `withdraw`."""
        self._remove(trial, photo, PUT_BACK, "", by)

    def erase(self, trial: Trial | str, photo: Photo, why: str, by: str) -> str:
        """Erase a photo for good and return in words what is not reached; that one was erased stays in the book.

        Its pixels leave every trial of this book, the pages it lay on, and what is exported or merged from now on.
        Arguments and errors as of `withdraw`; FileError while somebody else reads the book: then erase it again.
        """
        self._remove(trial, photo, ERASED, text_of(why, "why", needed=True), by)
        with in_plain_words(self.name):
            store.scrub(self._engine)
        return f"The photo is erased from {self.name}. {NOT_REACHED}"

    def _remove(self, trial, photo, what, why, by):
        by = text_of(by, "by", needed=True)
        removal = Removal(photo.digest if photo else "", what, photo.view if photo else "", by, _now(), why)
        with self._writing() as connection:
            place = self._place(connection, trial)
            held = {each.digest for each in _Standing(connection, self.name).photos(trial, withdrawn=True)}
            if photo and removal.digest not in held:
                if what != ERASED or removal.digest not in _erased(connection):
                    raise UnknownName(must("photo", f"one of {code_of(place)}", "another", "take it from the book"))
                return  # its pages may still have to be written anew
            holders = sa.select(photos.c.trial).where(photos.c.digest == removal.digest)
            for each in connection.execute(holders).scalars().all() if what == ERASED else [place]:
                put(connection, removals, each, removal)
            if what == ERASED:
                connection.execute(photos.delete().where(photos.c.digest == removal.digest))

    def removals(self, trial: Trial | str) -> list[Removal]:
        """Return what was withdrawn, put back or erased of a trial, by the trial, its code or key."""
        rows = self._rows_of(trial, removals, [each.name for each in fields(Removal)])
        return sorted((Removal(*row) for row in rows), key=lambda removal: removal.at)

    # other people's books and spreadsheets

    def export(self, path: str | os.PathLike) -> Path:
        """Write the whole book into one new ZIP file and return its path: CSV to look at, photos, JSON.

        path: the name of the file. Raises FileError when it is taken.
        """
        with self.standing() as there:
            return exchange.pack([there._kept(trial) for trial in there.trials(withdrawn=True)], path, there.kitchen)

    def import_from(self, path: str | os.PathLike, formulas: str | os.PathLike = ".") -> Imported:
        """Take in another book's export or a spreadsheet, whole or not at all; return what came in as Imported.

        path: the ZIP file that `export` makes, or a CSV file whose columns are entries, with their units after a comma
        formulas: the folder of the formulas that a CSV names, each as a file and changes: "bun.toml butter=22"

        New trials get this book's next codes; a trial that both books know gains the versions it lacks, set aside
        where both went on with it. A row of a spreadsheet that is no version yet is saved on top of what stands.
        Raises FileError for anything else, and KitError for a trial that can't stand.
        """
        sheet = store.path_of(path).suffix.casefold() in SHEETS
        found, kitchen = (exchange.read_csv(path, formulas), {}) if sheet else exchange.unpack(path)
        came: dict[str, list] = {field.name: [] for field in fields(Imported)}
        with self._writing() as connection:
            there, gone = _Standing(connection, self.name), _erased(connection)
            for each in found:
                trial = each.standing.trial
                place, current = _held(connection, trial.key)
                here = there._kept(trial) if place else Kept("", ())
                lacks, differs, withdraws = here.lacking(each, gone, sheet)
                stands = Kept("", (*here.versions, *lacks.versions)).standing  # also where an older kit had another
                moved = stands if stands.number != current else None
                code = code_of(_write(connection, place, lacks, moved))
                how = "continued" if lacks.versions or moved else "already_there"
                how = "new" if place is None else "differing" if lacks.versions and differs else how
                for what in (how, *["erased"] * withdraws):
                    came[what].append((each.code, code))
            ours = there.kitchen
            there.remember(**{name: value for name, value in kitchen.items() if not getattr(ours, name)})
        new, *others = came.values()
        return Imported(dict(new), *(tuple(code for _, code in some) for some in others))

    # reading

    def trial(self, code: str | Trial) -> Trial:
        """Return one trial as it stands, by its code (T-014) or its key, or a trial read before. Raises UnknownName."""
        return self.trials([code])[0]

    def trials(self, codes: "Iterable[str | Trial] | None" = None, withdrawn: bool = False) -> list[Trial]:
        """Return trials as they stand.

        codes: codes, keys, or trials read before, in whose order they come; None for all, by date
        withdrawn: of all, also those that are withdrawn; one that is asked for by its code comes

        Raises UnknownName.
        """
        if codes is None:
            return [_read(*row) for row in self._shown(_STANDING.order_by(trials.c.date, trials.c.id), withdrawn)]
        with self._reading() as connection:
            places = [self._place(connection, code) for code in codes]
            rows = connection.execute(_STANDING.where(trials.c.id.in_(places))).all()
        found = {row.id: _read(*row) for row in rows}
        return [found[place] for place in places]

    def history(self, trial: Trial | str, every: bool = False) -> list[Version]:
        """Return the Versions of a trial that somebody finished, the first first. Raises UnknownName.

        trial: a Trial of the book, its code or key
        every: each one that was saved while somebody was typing too
        """
        rows = self._rows_of(trial, versions, versions.c.keys())
        found = [Version(n, by, at, aside, _read(place, n, document)) for place, n, by, at, aside, document in rows]
        return found if every else finished(found)

    def corrections(self, trial: Trial | str) -> Corrections:
        """Return the Corrections of a trial: what was changed after it was noted, withdrawn or erased.

        trial: a Trial of the book, its code or key. Raises UnknownName.
        """
        return corrections(self.history(trial), self.removals(trial))

    def photos(self, trial: Trial | str, withdrawn: bool = False) -> list[Photo]:
        """Return the Photos of a trial, the first first. Raises UnknownName.

        trial: a Trial of the book, its code or key
        withdrawn: also those that were withdrawn
        """
        found = [Photo(*row) for row in self._rows_of(trial, photos, [each.name for each in fields(Photo)])]
        hidden = () if withdrawn else withdrawn_of((each.digest, each.what) for each in self.removals(trial))
        return [photo for photo in found if photo.digest not in hidden]

    def _kept(self, trial):
        """Return the Kept of a Trial: all that the book holds of it."""
        return Kept(
            trial.code, tuple(self.history(trial, every=True)), self.photos(trial, withdrawn=True), self.removals(trial)
        )

    def find(
        self, text: str = "", since: str | datetime.date | None = None, formula: Formula | None = None, most: int = 200
    ) -> list[Trial]:
        """Return the trials that are found as they stand, the newest bakes first.

        text: beginnings of words, all of which it has; a word may be a code (T-014), a day or a month (2025-03), a
        verdict
        since: the first date
        formula: as planned, or else as weighed
        most: how many at most [count]

        Raises TrialError, AmountError.
        """
        most = whole("most", most, 1, 2**31 - 1, of="trials", do="leave it out for 200")
        dialect, wanted, begin = self._engine.dialect.name, [], []
        if since is not None:
            wanted.append(trials.c.date >= date_of(since))
        if formula is not None:
            wanted.append(trials.c.formula == formula.fingerprint)
        for word in (text_of(text, "text") or "").split():
            place = _place_of(word)
            if place is None and not re.fullmatch(r"\d{4}-\d\d(-\d\d)?", word):
                begin += _folded(word)
                continue
            own = sa.cast(trials.c.date, sa.String).startswith(word) if place is None else trials.c.id == place
            named = _folded(word if place is None else code_of(place))
            wanted.append(own | store.with_words(dialect, named))
        if begin:
            wanted.append(store.with_words(dialect, begin, begin=True))
        query = _STANDING.where(*wanted).order_by(trials.c.date.desc(), trials.c.id.desc()).limit(most)
        return [_read(*row) for row in self._shown(query)]

    def lineage(self) -> Lineage:
        """Return the Lineage of the trials: which came from which, a tree to be drawn."""
        return lineage(self)

    def __iter__(self):
        return iter(self.trials())

    def __len__(self):
        return self._shown(sa.select(sa.func.count()).select_from(trials))[0][0]

    def _repr_html_(self):
        rows = [[f.code, str(f.date), f.name, f.decision] for f in self.find(most=20)]
        caption = f"{self.name}: {plural(len(self), 'trial')}" + (", the newest 20" if len(rows) == 20 else "")
        if not rows:
            return f"<p>{page.escape(self.name)}: no trial yet. Enter one: kit.show.EntryPanel(book)</p>"
        return page.table(["", "date", "name", "decided"], rows, caption)

    # beneath

    def _shown(self, query, every=False):
        """Return the rows of a query of trials, without those that are withdrawn; every: these too."""
        with self._reading() as connection:
            if not every:
                done = sa.select(removals.c.trial, removals.c.what).where(removals.c.digest == "")
                hidden = withdrawn_of(connection.execute(done.order_by(removals.c.at, removals.c.id)).all())
                query = query.where(trials.c.id.not_in(hidden))
            return connection.execute(query).all()

    def _rows_of(self, trial, table, names):
        """Return rows of some columns of what a table holds of a trial, the first first. Raises UnknownName."""
        with self._reading() as connection:
            query = sa.select(*(table.c[name] for name in names))
            query = query.where(table.c.trial == self._place(connection, trial))
            return connection.execute(query.order_by(*table.primary_key)).all()

    def _place(self, connection, trial):
        """Return the place of a trial, by itself, its code or key. Raises UnknownName."""
        key = trial.key if isinstance(trial, Trial) else str(trial)
        place = _place_of(key)
        where = trials.c.key == key if place is None else trials.c.id == place
        found = connection.execute(sa.select(trials.c.id).where(where)).scalar()
        if found is None:
            do = "save it first" if isinstance(trial, Trial) else "look it up with find"
            raise UnknownName(must("trial", f"one of the book {self.name}", repr(getattr(trial, "name", key))[:60], do))
        return found

    @contextlib.contextmanager
    def _reading(self):
        with in_plain_words(self.name), self._engine.connect() as connection:
            yield connection

    @contextlib.contextmanager
    def standing(self):
        """Give the book as it stands now, for readings that must fit together, whatever others save meanwhile."""
        with in_plain_words(self.name), self._engine.execution_options(how="snapshot").begin() as connection:
            yield _Standing(connection, self.name)

    @contextlib.contextmanager
    def _writing(self):
        with in_plain_words(self.name), self._engine.execution_options(how="writes").begin() as connection:
            yield connection


class _Standing(TrialBook):
    """A book that reads and writes in one transaction; its engine is the connection."""

    def _reading(self):
        return contextlib.nullcontext(self._engine)

    _writing = _reading


class Entry:
    """A trial being entered: every field is saved as it is set; `trial` is what stands in the book."""

    def __init__(self, book, trial, by):
        self._book, self.trial, self._by = book, trial, by

    def set(self, entry, value):
        """Save one entry at once and return the trial; entries as in `Trial.with_entry`.

        What somebody else saved meanwhile in other entries is taken over. Raises AskedError where a reading may mean
        two things, ConflictError when the same entry was changed by both, and what `Trial.with_entry` and
        `TrialBook.save` raise; the trial then stays as it was.
        """
        changed = self.trial.with_entry(entry, value, dict(self._book.kitchen.answers))
        self.trial = self._book.save(changed, self._by, merging=True)
        return self.trial

    def answered(self, entry: str, asking: Asking, answer: str) -> str:
        """Remember an answer and return what is to be entered instead; words beside a reading go into the notes.

        asking: of the AskedError that `set` raised; answer: one of its choices, which holds wherever this book is
        asked that again. Raises as `set`.
        """
        if asking.rest:
            self.set("notes", "\n".join(filter(None, (self.trial.notes, f"{entry}: {asking.rest}"))))
        if asking.about:
            self._book.remember(answers=dict(self._book.kitchen.answers) | {asking.about: answer})
        return asking.text(answer)


def _held(connection, key):
    """Return the place of a trial by its key and the number of the version that stands, held until all is written."""
    query = sa.select(trials.c.id, trials.c.current).where(trials.c.key == key).with_for_update()
    return connection.execute(query).first() or (None, None)


def _write(connection, place, kept, stands=None):
    """Write what comes to a trial, at its place or at a new one, let a Version stand, and return the place."""
    if stands:
        trial = stands.trial
        row = {name: getattr(trial, name) for name in ("key", "name", "date", "parent", "verdict")}
        row |= {"formula": trial.plan.fingerprint if trial.plan else "", "current": stands.number, "words": ""}
        if place is None:
            place = connection.execute(trials.insert().values(row)).inserted_primary_key[0]
        else:
            connection.execute(trials.update().where(trials.c.id == place).values(row))
        store.index(connection, place, _words_of(trial))
    for table, some in ((versions, kept.versions), (photos, kept.photos), (removals, kept.removals)):
        for each in some:
            put(connection, table, place, each)
    return place


def _erased(connection):
    """Return the digests of the photos that were erased."""
    return set(connection.execute(sa.select(removals.c.digest).where(removals.c.what == ERASED)).scalars())


def code_of(place):
    """Return the code of a trial by its place in the book: T-014."""
    return f"T-{place:03d}"


def _place_of(code):
    found = re.fullmatch(r"[Tt]-(\d{1,9})", code.strip())
    return int(found[1]) if found else None


def _read(place, number, document):
    """Return the Trial of a version as it lies in the book. Raises FileError for a damaged one."""
    try:
        return Trial.stored(json.loads(document), code_of(place), number)
    except (AttributeError, KeyError, TypeError, ValueError):
        do = "take the book from a copy; nothing was changed"
        name = f"{code_of(place)} version {number}"
        raise FileError(must(name, "whole in the book", "a damaged record", do)) from None


def _now():
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds")


def _words_of(trial):
    texts = [trial.planned_formula.name] if trial.planned_formula else []
    texts += [getattr(trial, name) for name in TEXTS if name != "notes"] + [trial.notes]  # the longest last
    texts += [value for note, value in trial.noted.items() if isinstance(value, str) and not note.how]
    return " ".join(_folded("\n".join(text for text in texts if text)[:INDEXED]))


def _folded(text):
    """Return the words of a text as the search compares them: without case, accents and marks, at most 100 letters."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if unicodedata.category(c) != "Mn")
    return [word[:100] for word in re.findall(r"[^\W_]+", plain)]
