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
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

import sqlalchemy as sa

from .. import page
from ..errors import FileError, KitError, UnknownName, must, whole
from ..formula import Formula
from ..words import did_you_mean, listing, one_of, plural
from . import exchange, store
from .corrections import ERASED, PUT_BACK, WITHDRAWN, Corrections, Removal, corrections, finished
from .fields import text_of
from .kitchen import REMEMBERED, Kitchen
from .lineage import Lineage, lineage
from .photos import Offer, Photo, as_stored, digest, looked_at
from .reading import Asking, TrialError, date_of
from .records import TEXTS, VERDICTS, Trial, Version, changes, decision_of, merge
from .store import in_plain_words, photos, remembered, removals, trials, versions

SHEETS = (".csv", ".tsv", ".txt")
MARKS = 10_000  # values in one statement; SQLite takes 32,766
LOOKED_AT_FOR = 2  # days after the bake on which its crumb is still cut and photographed
INDEXED = 100_000  # characters of a trial that the search knows
_STANDS = (versions.c.trial == trials.c.id) & (versions.c.number == trials.c.current)
_STANDING = sa.select(trials.c.id, trials.c.key, versions.c.number, versions.c.document).where(_STANDS)
DECIDED = ("reason", "decided_by", "decided_on")
NOT_REACHED = (
    "Not reached: the file it came from, exports and copies made before, other books that hold it, pages printed or "
    "saved with it."
)
SUMMARY = (trials.c.id, trials.c.name, trials.c.date, trials.c.verdict, trials.c.formula, trials.c.parent, trials.c.key)


class ConflictError(KitError, RuntimeError):
    """Somebody saved the trial meanwhile: `theirs` stands, `yours` is kept as a version set aside."""

    def __init__(self, message, theirs, yours, both):
        super().__init__(message)
        self.theirs, self.yours, self.both = theirs, yours, both

    def merged(self):
        """Return theirs with what only you changed put in; where both changed one entry, theirs stays."""
        return merge(self.theirs, self.yours, self._base)


class Found(NamedTuple):
    """What a search shows of one trial."""

    code: str
    name: str
    date: datetime.date
    verdict: str
    decision: str  # in one line; "" while it is open
    formula: str  # fingerprint
    parent: str  # key
    key: str


@dataclass(frozen=True)
class Imported:
    """What came in, by the codes of this book: new, with more versions, differing, already there."""

    new: dict  # code in the file: code in this book
    continued: tuple
    differing: tuple  # both books went on with it: the file's versions are kept, set aside
    already_there: tuple
    erased: tuple = ()  # in the other book: withdrawn in this one, where its keeper may erase it too

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

    def save(self, trial: Trial, by: str) -> Trial:
        """Append a version and return the trial as it stands in the book now, with its code and version.

        trial: as it was read from the book, with what was changed, or a new one
        by: who writes, such as M1

        Raises ConflictError when somebody saved it meanwhile, TrialError, FileError.
        """
        by = text_of(by, "by", needed=True)
        _need_trial(trial)
        with self._writing() as connection:
            saved = self._append(connection, trial, by, _now())
        if isinstance(saved, ConflictError):
            raise saved
        return saved

    def entry(self, trial: Trial, by: str) -> "Entry":
        """Return an Entry that saves each field of a trial as it is entered, by whom; see `Entry.set`."""
        _need_trial(trial)
        return Entry(self, trial if trial.version else self.save(trial, by), by)

    def decide(self, trial: "Trial | str", verdict: str, words: str, by: str) -> Trial:
        """Close a trial with a decision and return it as it stands then; decided again, the later one stands.

        trial: a Trial of the book, its code or key
        verdict: keep, change or drop
        words: why, in one line
        by: who decides, such as M1

        Raises TrialError, UnknownName, FileError.
        """
        by = text_of(by, "by", needed=True)
        words = text_of(" ".join(words.split()) if isinstance(words, str) else words, "decision", needed=True)
        said = {"verdict": verdict, "reason": words, "decided_by": by, "decided_on": datetime.date.today()}
        with self._writing() as connection:
            place = self._place(connection, trial)
            number = connection.execute(sa.select(trials.c.current).where(trials.c.id == place)).scalar_one()
            closed = self._version(connection, place, number)
            for entry, value in said.items():
                closed = closed.with_entry(entry, value)
            return self._append(connection, closed, by, _now())

    @property
    def kitchen(self) -> Kitchen:
        """What the book remembers of the kitchen that keeps it."""
        with self._reading() as connection:
            return Kitchen(**_remembered(connection))

    def remember(self, **some) -> Kitchen:
        """Remember of the kitchen what is named and return the Kitchen; the rest stays.

        some: fields (entries such as "dough temperature", "crumb dent day 1", "own shine, mm"), tags, entered_by,
            answers ({question: choice})

        Raises TrialError, UnknownName, FileError.
        """
        with self._writing() as connection:
            return self._keep(connection, some)

    def answered(self, asking: Asking, answer: str) -> str:
        """Remember an answer to what was asked and return what is to be entered instead.

        asking: of an AskedError
        answer: one of its choices; it holds wherever this book is asked that again

        Raises KeyError, FileError.
        """
        if asking.about:
            self.remember(answers=dict(self.kitchen.answers) | {asking.about: answer})
        return asking.text(answer)

    def _keep(self, connection, some):
        kitchen = Kitchen(**_remembered(connection)).changed(**some)
        for name in some:
            connection.execute(remembered.delete().where(remembered.c.name == name))
            connection.execute(remembered.insert().values(name=name, value=json.dumps(getattr(kitchen, name))))
        return kitchen

    def _append(self, connection, trial, by, at):
        """Return the trial as it stands now, or the ConflictError with which it was set aside."""
        row = connection.execute(sa.select(trials).where(trials.c.key == trial.key).with_for_update()).first()
        if row is None:
            place, number, aside = self._new(connection, trial, 1), 1, False
        else:
            place, aside = row.id, row.current != trial.version
            standing = self._version(connection, place, row.current)
            if not aside and not changes(standing, trial):
                return standing
            if not aside and any(getattr(entry, "how", "") == "predicted" for entry in changes(standing, trial)):
                self._keep_prediction(connection, place)
            newest = sa.select(sa.func.max(versions.c.number)).where(versions.c.trial == place)
            number = connection.execute(newest).scalar_one() + 1
        self._add_version(connection, place, Version(number, by, at, aside, trial))
        if aside:
            return self._conflict(connection, place, standing, trial, number)
        if row is not None:
            self._let_stand(connection, place, trial, number)
        return replace(trial, code=code_of(place), version=number)

    def _keep_prediction(self, connection, place):
        """Raise TrialError when any version holds a measurement: taking that out again makes no prediction earlier."""
        for row in connection.execute(sa.select(versions).where(versions.c.trial == place)):
            before = _read(place, row.number, row.document)
            if any(note.is_measured for note in before.noted):
                do = "a prediction made afterwards can't be checked: note it for the next bake"
                raise TrialError(must("prediction", "stored before the bake is measured", "a change to it", do))

    def _new(self, connection, trial, current):
        """Return the place of a trial that the book did not know; its versions are still to be added."""
        found = connection.execute(trials.insert().values(key=trial.key, **_shown(trial, current)))
        place = found.inserted_primary_key[0]
        store.index(connection, place, _words_of(trial))
        return place

    def _let_stand(self, connection, place, trial, number):
        connection.execute(trials.update().where(trials.c.id == place).values(_shown(trial, number)))
        store.index(connection, place, _words_of(trial))

    def _add_version(self, connection, place, v):
        text = json.dumps(v.trial.document(), ensure_ascii=False, separators=(",", ":"), allow_nan=False)
        row = {"trial": place, "number": v.number, "written_by": v.by, "written_at": v.at, "aside": v.aside}
        connection.execute(versions.insert().values(row | {"document": text}))

    def _conflict(self, connection, place, theirs, trial, kept):
        who = connection.execute(
            sa.select(versions).where(versions.c.trial == place, versions.c.number == theirs.version)
        ).one()
        base = self._version(connection, place, trial.version)
        other = changes(base, theirs)
        both = tuple(_spoken(entry) for entry in changes(base, trial) if entry in other)
        do = f"look at both; yours is kept as version {kept}, set aside"
        got = f"version {theirs.version}, saved by {who.written_by} at {who.written_at}"
        if both:
            got += f", which also changed {listing(both)}"
        be = f"saved on top of the version it was read from ({trial.version})"
        conflict = ConflictError(must(code_of(place), be, got, do), theirs, trial, both)
        conflict._base = base
        return conflict

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
        with self._writing() as connection:
            place = self._place(connection, trial)
            if digest(data) in self._erased(connection):
                raise TrialError(must("photo", "one that was not erased", "one that was", "take another"))
            same = sa.select(photos).where(photos.c.trial == place, photos.c.digest == digest(data))
            if connection.execute(same).first() is None:
                self._insert_photo(connection, place, Photo(view, width, height, by, _now(), data))
        return next(photo for photo in self.photos(trial) if photo.picture == data)

    def offers(self, pictures: "Iterable[str | os.PathLike | tuple]") -> list[Offer]:
        """Return an Offer of each picture, by when it was taken: to the bakes of that day and of the days before it.

        pictures: paths, or (name, bytes, datetime of the file) as a chooser brings them

        Of several bakes of a day comes first the one in which something was entered at the nearest time; what can't be
        taken says why. Nothing is kept yet: see `add_photo`.
        """
        looked = [looked_at(path) for path in pictures]
        times = [each.taken for each in looked if not each.problem]
        days = {time.date() - datetime.timedelta(back) for time in times for back in range(LOOKED_AT_FOR + 1)}
        with self._reading() as connection:
            rows = connection.execute(
                self._shown(connection, sa.select(trials.c.id, trials.c.date, versions.c.written_at), False)
                .join(versions, versions.c.trial == trials.c.id)
                .where(trials.c.date.in_(days))
            ).all()
        return [replace(each, trials=() if each.problem else _nearest(each.taken, rows)) for each in looked]

    def _insert_photo(self, connection, place, photo):
        own = {name: getattr(photo, name) for name in ("view", "digest", "width", "height", "picture")}
        connection.execute(photos.insert().values(trial=place, added_by=photo.by, added_at=photo.at, **own))

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
        with self._writing() as connection:
            place = self._place(connection, trial)
            marked = photo.digest if photo else ""
            if photo and marked not in {p.digest for p in self._photos(connection, place, withdrawn=True)}:
                if what != ERASED or marked not in self._erased(connection):
                    raise UnknownName(must("photo", f"one of {code_of(place)}", "another", "take it from the book"))
                return  # its pages may still have to be written anew
            holders = sa.select(photos.c.trial).where(photos.c.digest == marked)
            for each in connection.execute(holders).scalars().all() if what == ERASED else [place]:
                view = photo.view if photo else ""
                self._note_removal(connection, each, Removal(marked, what, view, by, _now(), why))
            if what == ERASED:
                store.delete_photos(connection, marked)

    def _note_removal(self, connection, place, removal):
        connection.execute(removals.insert().values(trial=place, **vars(removal)))

    def _erased(self, connection):
        """Return the digests of the photos that were erased."""
        return set(connection.execute(sa.select(removals.c.digest).where(removals.c.what == ERASED)).scalars())

    def _hidden(self, connection, where):
        """Return {(place, digest)} of what is withdrawn, by what was done to it last."""
        rows = connection.execute(sa.select(removals).where(where).order_by(removals.c.at, removals.c.id)).all()
        last = {(row.trial, row.digest): row.what for row in rows}
        return {which for which, what in last.items() if what != PUT_BACK}

    def _hidden_trials(self, connection):
        return [place for place, _ in self._hidden(connection, removals.c.digest == "")]

    def _removals(self, connection, place):
        rows = connection.execute(sa.select(removals).where(removals.c.trial == place).order_by(removals.c.id)).all()
        return [Removal(r.digest, r.what, r.view, r.by, r.at, r.why) for r in rows]

    # other people's books and spreadsheets

    def export(self, path: str | os.PathLike) -> Path:
        """Write the whole book into one new ZIP file and return its path: CSV to look at, photos, JSON.

        path: the name of the file. Raises FileError when it is taken.
        """
        with self.standing() as there:
            kept = [
                exchange.Kept(
                    trial.code,
                    there.history(trial, every=True),
                    there.photos(trial, withdrawn=True),
                    there.removals(trial),
                )
                for trial in there.trials(withdrawn=None)
            ]
            kitchen = there.kitchen
        return exchange.pack(kept, path, kitchen)

    def import_from(self, path: str | os.PathLike, formulas: str | os.PathLike = ".") -> Imported:
        """Take in another book's export or a spreadsheet, whole or not at all; return what came in as Imported.

        path: the ZIP file that `export` makes, or a CSV file whose columns are entries, with their units after a comma
        formulas: the folder of the formulas that a CSV names, each as a file and changes: "bun.toml butter=22"

        New trials get this book's next codes; a trial that both books know gains the versions it lacks, set aside
        where both went on with it. A row of a spreadsheet that is no version yet is saved on top of what stands.
        Raises FileError for anything else, and KitError for a trial that can't stand.
        """
        if store.path_of(path).suffix.casefold() in SHEETS:
            return self._import_rows(exchange.read_csv(path, formulas))
        found, kitchen = exchange.unpack(path)
        came: dict[str, list] = {"continued": [], "differing": [], "already": []}
        new, erased = {}, {}
        with self._writing() as connection:
            gone = self._erased(connection)
            for each in found:
                key = sa.select(trials.c.id, trials.c.current).where(trials.c.key == each.standing.trial.key)
                if row := connection.execute(key).first():
                    place = row.id
                    came[self._continue(connection, place, row.current, each)].append(code_of(place))
                else:
                    place = new[each.code] = self._new(connection, each.standing.trial, each.standing.number)
                    for version in each.versions:
                        self._add_version(connection, place, version)
                held = {photo.digest for photo in self._photos(connection, place, withdrawn=True)}
                for photo in each.photos:
                    if photo.digest not in held | gone:
                        self._insert_photo(connection, place, photo)
                        held.add(photo.digest)
                known = self._removals(connection, place)
                for removal in each.removals:
                    if removal.what == ERASED and removal.digest in held:
                        removal = replace(removal, what=WITHDRAWN, why=f"erased in another book: {removal.why}")
                        erased[code_of(place)] = True
                    if removal not in known:
                        self._note_removal(connection, place, removal)
            self._keep(connection, {n: v for n, v in kitchen.items() if n not in _remembered(connection)})
        new = {code: code_of(place) for code, place in new.items()}
        continued, differing, already = map(tuple, came.values())
        return Imported(new, continued, differing, already, tuple(erased))

    def _import_rows(self, rows):
        new, continued, already = {}, {}, {}
        with self._writing() as connection:
            for trial, who in rows:
                row = connection.execute(sa.select(trials).where(trials.c.key == trial.key)).first()
                here = self._history(connection, row.id) if row else []
                if trial.document() in [version.trial.document() for version in here]:
                    already[code_of(row.id)] = True
                    continue
                saved = self._append(connection, replace(trial, version=row.current if row else 0), who, _now())
                if row is None:
                    new[trial.code] = saved.code
                elif saved.code not in new.values():
                    continued[saved.code] = True
        return Imported(new, tuple(continued), (), tuple(already))

    def _continue(self, connection, place, current, kept):
        """Put in the versions that a trial lacks; the newest not set aside stands, also where an older book had it not.

        Returns how the two books compare: continued, differing or already.
        """
        here = self._history(connection, place)
        known = [(v.by, v.at, v.trial.document()) for v in here]
        there = [(v.by, v.at, v.trial.document()) for v in kept.versions]
        stands = max((v for v in here if not v.aside), key=lambda v: v.number, default=None)
        lacking = [v for v, each in zip(kept.versions, there, strict=True) if each not in known]
        goes_on = there[: len(here)] == known
        for number, v in enumerate(lacking, len(here) + 1):
            added = replace(v, number=number, aside=v.aside or not goes_on)
            self._add_version(connection, place, added)
            stands = stands if added.aside else added
        moved = stands is not None and stands.number != current
        if moved:
            self._let_stand(connection, place, stands.trial, stands.number)
        if lacking and not goes_on:
            return "differing"
        return "continued" if lacking or moved else "already"

    # reading

    def trial(self, code: "str | Found") -> Trial:
        """Return one trial as it stands, by its code (T-014), its key, or as `find` found it. Raises UnknownName."""
        return self.trials([code])[0]

    def trials(self, codes: "Iterable[str | Found] | None" = None, withdrawn: bool | None = False) -> list[Trial]:
        """Return trials as they stand.

        codes: codes, keys, or what `find` found, in whose order they come; None for all, by date
        withdrawn: of all, those that are withdrawn, or None for both; one that is asked for by its code comes

        Raises UnknownName.
        """
        with self._reading() as connection:
            if codes is None:
                query = self._shown(connection, _STANDING, withdrawn)
                rows = connection.execute(query.order_by(trials.c.date, trials.c.id))
                return [_read(place, number, document) for place, _, number, document in rows]
            found, wanted = {}, [_place_of(code) or str(code) for code in codes]
            for start in range(0, len(wanted), MARKS):
                some = wanted[start : start + MARKS]
                places, keys = ([each for each in some if isinstance(each, kind)] for kind in (int, str))
                rows = connection.execute(_STANDING.where(trials.c.id.in_(places) | trials.c.key.in_(keys)))
                for place, key, number, document in rows:
                    found[place] = found[key] = place, number, document
        for code, each in zip(codes, wanted, strict=True):
            if each not in found:
                self._unknown(code)
        return [_read(*found[each]) for each in wanted]

    def _unknown(self, code):
        with self._reading() as connection:
            some = connection.execute(sa.select(trials.c.id).order_by(trials.c.id.desc()).limit(2000)).scalars()
            near = did_you_mean(code, [code_of(place).casefold() for place in some])
        do = near.upper().replace("DID YOU MEAN", "did you mean") if near.startswith("did") else "look it up with find"
        raise UnknownName(must("trial", f"one of the book {self.name}", repr(str(code))[:60], do))

    def _shown(self, connection, query, withdrawn):
        """Return a query of trials, of those that are withdrawn or not alone; None for both."""
        if withdrawn is None:
            return query
        hidden = trials.c.id.in_(self._hidden_trials(connection))
        return query.where(hidden if withdrawn else ~hidden)

    def history(self, trial: Trial | str, every: bool = False) -> list[Version]:
        """Return the Versions of a trial that somebody finished, the first first. Raises UnknownName.

        trial: a Trial of the book, its code or key
        every: each one that was saved while somebody was typing too
        """
        with self._reading() as connection:
            found = self._history(connection, self._place(connection, trial))
        return found if every else _told(finished(found))

    def corrections(self, trial: Trial | str) -> Corrections:
        """Return the Corrections of a trial: what was changed after it was noted, withdrawn or erased.

        trial: a Trial of the book, its code or key. Raises UnknownName.
        """
        with self.standing() as there:
            return corrections(there.history(trial), there.removals(trial))

    def removals(self, trial: Trial | str) -> list[Removal]:
        """Return what was withdrawn, put back or erased of a trial, by the trial, its code or key."""
        with self._reading() as connection:
            return self._removals(connection, self._place(connection, trial))

    def _history(self, connection, place):
        rows = connection.execute(sa.select(versions).where(versions.c.trial == place).order_by(versions.c.number))
        return _told(
            Version(row.number, row.written_by, row.written_at, row.aside, _read(place, row.number, row.document))
            for row in rows.all()
        )

    def photos(self, trial: Trial | str, withdrawn: bool = False) -> list[Photo]:
        """Return the Photos of a trial, the first first. Raises UnknownName.

        trial: a Trial of the book, its code or key
        withdrawn: also those that were withdrawn
        """
        with self._reading() as connection:
            return self._photos(connection, self._place(connection, trial), withdrawn)

    def _photos(self, connection, place, withdrawn):
        rows = connection.execute(sa.select(photos).where(photos.c.trial == place).order_by(photos.c.id)).all()
        hidden = set() if withdrawn else self._hidden(connection, removals.c.trial == place)
        return [
            Photo(r.view, r.width, r.height, r.added_by, r.added_at, r.picture)
            for r in rows
            if (place, r.digest) not in hidden
        ]

    def find(
        self,
        text: str = "",
        since: str | datetime.date | None = None,
        until: str | datetime.date | None = None,
        verdict: str | None = None,
        formula: Formula | str | None = None,
        withdrawn: bool = False,
        most: int = 200,
    ) -> "list[Found]":
        """Return what is Found in the book, the newest bakes first.

        text: beginnings of words, all of which it has; a word may be a code (T-014), a day or a month (2025-03)
        since, until: dates, both included
        verdict: keep, change or drop
        formula: a Formula or its fingerprint
        withdrawn: those that are withdrawn, instead of the others
        most: how many at most [count]

        Raises TrialError, UnknownName, AmountError.
        """
        most = whole("most", most, 1, 2**31 - 1, of="trials", do="leave it out for 200")
        said = [store.written(self._engine.dialect.name, name).label(name) for name in DECIDED]
        query = (
            sa.select(*SUMMARY, *said)
            .join(versions, _STANDS)
            .order_by(trials.c.date.desc(), trials.c.id.desc())
            .limit(most)
        )
        if since is not None:
            query = query.where(trials.c.date >= date_of(since))
        if until is not None:
            query = query.where(trials.c.date <= date_of(until))
        if verdict:
            query = query.where(trials.c.verdict == one_of("verdict", verdict, VERDICTS))
        if formula is not None:
            fingerprint = getattr(formula, "fingerprint", formula)
            if not re.fullmatch("[0-9a-f]{8}", str(fingerprint)):
                do = "read it with kit.Formula.read"
                raise TrialError(must("formula", "a Formula or its fingerprint", repr(formula)[:40], do))
            query = query.where(trials.c.formula == fingerprint)
        rest = []
        for word in (text_of(text, "text") or "").split():
            if (place := _place_of(word)) is not None:
                query = query.where(sa.or_(trials.c.id == place, *self._with_words([code_of(place)])))
            elif re.fullmatch(r"\d{4}-\d\d(-\d\d)?", word):
                day = sa.cast(trials.c.date, sa.String).startswith(word)
                query = query.where(sa.or_(day, *self._with_words([word])))
            else:
                rest.append(word)
        query = query.where(*self._with_words(rest, begin=True))
        with self._reading() as connection:
            rows = connection.execute(self._shown(connection, query, withdrawn)).all()
        return [
            Found(
                *(code_of(r.id), r.name, r.date, r.verdict),
                *(decision_of(r.verdict, *(getattr(r, name) or "" for name in DECIDED)), r.formula, r.parent, r.key),
            )
            for r in rows
        ]

    def _with_words(self, texts, begin=False):
        """Return [the condition under which a trial has all words of the texts], [] for no word."""
        words = _folded(" ".join(texts))
        return [store.with_words(self._engine.dialect.name, words, begin)] if words else []

    def lineage(self) -> Lineage:
        """Return the Lineage of the trials: which came from which, a tree to be drawn."""
        return lineage(self)

    def __iter__(self):
        return iter(self.trials())

    def __len__(self):
        with self._reading() as connection:
            counted = sa.select(sa.func.count()).select_from(trials)
            return connection.execute(self._shown(connection, counted, False)).scalar_one()

    def _repr_html_(self):
        rows = [[f.code, str(f.date), f.name, f.decision] for f in self.find(most=20)]
        caption = f"{self.name}: {plural(len(self), 'trial')}" + (", the newest 20" if len(rows) == 20 else "")
        if not rows:
            return f"<p>{page.escape(self.name)}: no trial yet. Enter one: kit.show.EntryPanel(book)</p>"
        return page.table(["", "date", "name", "decided"], rows, caption)

    # beneath

    def _place(self, connection, trial):
        key = trial.key if isinstance(trial, Trial) else trial
        place = _place_of(key)
        where = trials.c.key == str(key) if place is None else trials.c.id == place
        found = connection.execute(sa.select(trials.c.id).where(where)).scalar()
        if found is None:
            if isinstance(trial, Trial):
                raise UnknownName(must("trial", f"saved in the book {self.name}", repr(trial.name), "save it first"))
            self._unknown(trial)
        return found

    def _version(self, connection, place, number):
        """Return the trial of a version; None when there is none of that number."""
        found = sa.select(versions.c.document).where(versions.c.trial == place, versions.c.number == number)
        document = connection.execute(found).scalar()
        return None if document is None else _read(place, number, document)

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
    """A book whose readings are those of one transaction; its engine is the connection."""

    def _reading(self):
        return contextlib.nullcontext(self._engine)


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
        answers = dict(self._book.kitchen.answers)
        changed = self.trial.with_entry(entry, value, answers)
        standing = self._book.trial(self.trial.key)
        if standing.version != self.trial.version and not self._both(changed, standing):
            changed = standing.with_entry(entry, value, answers)
        while True:
            try:
                self.trial = self._book.save(changed, self._by)
                return self.trial
            except ConflictError as conflict:  # somebody was quicker by the blink of an eye
                if conflict.both:
                    raise
                changed = conflict.merged()

    def answered(self, entry, asking, answer):
        """Remember an answer and return what is to be entered instead; words beside a reading go into the notes.

        asking: of the AskedError that `set` raised; answer: one of its choices. Raises as `set`.
        """
        if asking.rest:
            self.set("notes", "\n".join(filter(None, (self.trial.notes, f"{entry}: {asking.rest}"))))
        return self._book.answered(asking, answer)

    def behind(self, entry, value):
        """Return whether somebody else changed meanwhile what setting this entry would change, if it can be set."""
        try:
            changed = self.trial.with_entry(entry, value, dict(self._book.kitchen.answers))
            return self._both(changed, self._book.trial(self.trial.key))
        except KitError:
            return False

    def _both(self, changed, standing):
        return bool(changes(self.trial, changed).keys() & changes(self.trial, standing).keys())


def code_of(place):
    """Return the code of a trial by its place in the book: T-014."""
    return f"T-{place:03d}"


def _place_of(code):
    found = re.fullmatch(r"[Tt]-(\d{1,9})", str(code.code if isinstance(code, (Trial, Found)) else code).strip())
    return int(found[1]) if found else None


def _read(place, number, document):
    """Return the Trial of a version as it lies in the book. Raises FileError for a damaged one."""
    try:
        return Trial.stored(json.loads(document), code_of(place), number)
    except (AttributeError, KeyError, TypeError, ValueError):
        do = "take the book from a copy; nothing was changed"
        name = f"{code_of(place)} version {number}"
        raise FileError(must(name, "whole in the book", "a damaged record", do)) from None


def _remembered(connection):
    """Return {name: value} of what the book remembers."""
    rows = connection.execute(sa.select(remembered).where(remembered.c.name.in_(REMEMBERED))).all()
    values = {row.name: json.loads(row.value) for row in rows}
    return {
        name: tuple(tuple(each) if isinstance(each, list) else each for each in value)
        if isinstance(value, list)
        else value
        for name, value in values.items()
    }


def _nearest(taken, rows):
    """Return the codes of the trials whose day a picture may show, the likeliest first.

    rows: (place, date, when something was entered) of each version. The bakes of the day itself come first.
    """
    far = {}
    for place, date, at in rows:
        back = (taken.date() - date).days
        if 0 <= back <= LOOKED_AT_FOR:
            entered = datetime.datetime.fromisoformat(at).astimezone().replace(tzinfo=None)
            far[place] = min(far.get(place, (back, datetime.timedelta.max)), (back, abs(entered - taken)))
    return tuple(map(code_of, sorted(far, key=far.get)))


def _told(versions):
    """Return [Version], each with what it changed of the one that stood before it."""
    made, before = [], None
    for version in versions:
        made.append(replace(version, changed=tuple(map(_spoken, changes(before, version.trial)))))
        before = before if version.aside else version.trial
    return made


def _spoken(entry):
    return str(entry).replace("_", " ")


def _need_trial(trial):
    if not isinstance(trial, Trial):
        do = "make one with Trial.of(name, date)"
        raise TrialError(must("trial", "a Trial", repr(trial)[:40], do))


def _now():
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds")


def _shown(trial, number):
    recipe = trial.plan
    return {
        "name": trial.name,
        "date": trial.date,
        "parent": trial.parent,
        "verdict": trial.verdict,
        "formula": recipe.fingerprint if recipe else "",
        "current": number,
        "words": "",
    }


def _words_of(trial):
    texts = [trial.planned_formula.name] if trial.planned_formula else []
    texts += [getattr(trial, name) for name in TEXTS if name != "notes"] + [trial.notes]  # the longest last
    texts += [value for note, value in trial.noted.items() if isinstance(value, str) and not note.how]
    return " ".join(_folded("\n".join(text for text in texts if text)[:INDEXED]))


def _folded(text):
    """Return the words of a text as the search compares them: without case, accents and marks, at most 100 letters."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if unicodedata.category(c) != "Mn")
    return [word[:100] for word in re.findall(r"[^\W_]+", plain)]
