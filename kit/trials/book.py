"""The trial book: trials, the append-only versions of each, and photos, in a SQLite file or a PostgreSQL database.

Nothing is changed in silence: each save appends a version with who and when. Of two people at one trial the second
is shown the conflict, and what the second wrote is kept as a version set aside.
"""

import contextlib
import datetime
import hashlib
import json
import re
import unicodedata
from dataclasses import dataclass, field

import sqlalchemy as sa
from sqlalchemy.dialects.postgresql import TSQUERY

from .. import page
from ..errors import FileError, KitError, UnknownName, must
from ..words import did_you_mean, listing, plain, plural
from . import store
from .changes import changes, merge
from .fields import TrialError, date_of, is_number, text_of
from .photos import as_stored
from .records import KEY, VERDICTS, Trial
from .store import LEXEMES, in_plain_words, photos, trials, versions

MARKS = 10_000  # values in one statement; SQLite takes 32,766
INDEXED = 100_000  # characters of a trial that the search knows
_STANDING = (
    "SELECT trials.id, key, current, document FROM trials JOIN versions ON trial = trials.id AND number = current "
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


@dataclass(frozen=True)
class Version:
    """One version of a trial: number, who, when, what changed, the trial as it was; aside when it does not stand."""

    number: int
    by: str
    at: str
    aside: bool
    changed: tuple
    trial: Trial = field(repr=False)


@dataclass(frozen=True)
class Photo:
    """A picture of a bake, checked and re-encoded: a JPEG without location."""

    view: str
    width: int
    height: int
    by: str
    at: str
    digest: str
    picture: bytes = field(repr=False)


@dataclass(frozen=True)
class Found:
    """What a search shows of one trial."""

    code: str
    name: str
    date: datetime.date
    verdict: str
    formula: str  # fingerprint
    parent: str  # key
    key: str


class TrialBook:
    """A book of trials; `TrialBook.open(path or URL)`."""

    def __init__(self, engine, name, folder=None):
        self._engine, self.name, self.folder = engine, name, folder  # the folder of a file

    @staticmethod
    def open(where):
        """Return the book in a SQLite file (made when there is none) or at a PostgreSQL URL.

        An older book is upgraded after a copy is put aside; a newer one is refused and left untouched.
        Raises FileError.
        """
        if store.is_url(where):
            return TrialBook(*store.at_url(where))
        path = store.path_of(where)
        return TrialBook(store.in_file(path), path.name, path.parent)

    def close(self):
        """Let go of the file or the database."""
        self._engine.dispose()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    # writing

    def save(self, trial, by):
        """Append a version and return the trial as it stands in the book now, with its code and version.

        by: who writes. Raises ConflictError when somebody saved it meanwhile, TrialError, FileError.
        """
        by = text_of(by, "by", needed=True)
        _need_trial(trial)
        with self._writing() as connection:
            number, conflict = self._append(connection, trial, by, _now())
        if conflict is not None:
            raise conflict
        return number

    def entry(self, trial, by):
        """Return an Entry that saves each field as it is entered; see `Entry.set`."""
        _need_trial(trial)
        return Entry(self, trial if trial.version else self.save(trial, by), by)

    def _append(self, connection, trial, by, at):
        document = trial.document()
        row = connection.execute(sa.select(trials).where(trials.c.key == trial.key).with_for_update()).first()
        if row is None:
            shown = _shown(trial)
            found = connection.execute(trials.insert().values(key=trial.key, current=1, **shown))
            place = found.inserted_primary_key[0]
            self._index(connection, place, trial, new=True)
            self._insert_version(connection, place, 1, by, at, False, document)
            return Trial.stored(document, code_of(place), 1), None
        place = row.id
        newest = connection.execute(
            sa.select(sa.func.max(versions.c.number)).where(versions.c.trial == place)
        ).scalar_one()
        standing = self._document(connection, place, row.current)
        if document == standing and row.current == trial.version:
            return Trial.stored(document, code_of(place), row.current), None
        aside = row.current != trial.version
        if not aside and document.get("prediction") != standing.get("prediction"):
            self._keep_prediction(connection, place)
        self._insert_version(connection, place, newest + 1, by, at, aside, document)
        if aside:
            return None, self._conflict(connection, place, row.current, trial, newest + 1)
        connection.execute(trials.update().where(trials.c.id == place).values(current=newest + 1, **_shown(trial)))
        self._index(connection, place, trial)
        return Trial.stored(document, code_of(place), newest + 1), None

    def _keep_prediction(self, connection, place):
        """Raise TrialError when any version holds a measurement: taking that out again makes no prediction earlier."""
        for row in connection.execute(sa.select(versions).where(versions.c.trial == place)):
            document = _parsed(row.document, place, row.number)
            if any(document.get(section) for section in ("measured", "days", "scores")):
                do = "a prediction made afterwards can't be checked: note it for the next bake"
                raise TrialError(must("prediction", "stored before the bake is measured", "a change to it", do))

    def _insert_version(self, connection, place, number, by, at, aside, document):
        text = json.dumps(document, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
        row = {"trial": place, "number": number, "written_by": by, "written_at": at, "aside": aside, "document": text}
        connection.execute(versions.insert().values(row))

    def _index(self, connection, place, trial, new=False):
        words = _words_of(trial)
        if connection.dialect.name == "sqlite":
            if not new:
                connection.execute(sa.text("DELETE FROM trial_words WHERE rowid = :id"), {"id": place})
            connection.execute(
                sa.text("INSERT INTO trial_words (rowid, words) VALUES (:id, :w)"), {"id": place, "w": words}
            )
        else:
            connection.execute(trials.update().where(trials.c.id == place).values(words=words))

    def _conflict(self, connection, place, current, trial, kept):
        theirs = Trial.stored(self._document(connection, place, current), code_of(place), current)
        who = connection.execute(
            sa.select(versions.c.written_by, versions.c.written_at)
            .where(versions.c.trial == place, versions.c.number == current)
        ).one()  # fmt: skip
        document = self._document(connection, place, trial.version)
        base = document and _stored(document, place, trial.version)
        other = changes(base, theirs)
        both = tuple(_spoken(entry) for entry in changes(base, trial) if entry in other)
        do = f"look at both; yours is kept as version {kept}, set aside"
        got = f"version {current}, saved by {who.written_by} at {who.written_at}"
        if both:
            got += f", which also changed {listing(both)}"
        be = f"saved on top of the version it was read from ({trial.version})"
        conflict = ConflictError(must(code_of(place), be, got, do), theirs, trial, both)
        conflict._base = base
        return conflict

    def add_photo(self, trial, picture, view="top", by=""):
        """Check a picture, take out location and everything else but the pixels, and keep it with the trial.

        picture: bytes, or the path of a JPEG, PNG or WebP of at most 12 MB; view: top, side, cut face ...
        Returns the Photo. Raises FileError, TrialError.
        """
        by, view = text_of(by, "by", needed=True), text_of(view, "view", needed=True)
        data, width, height = as_stored(picture)
        with self._writing() as connection:
            place = self._place(connection, trial)
            found = connection.execute(
                sa.select(photos).where(photos.c.trial == place, photos.c.digest == hashlib.sha256(data).hexdigest())
            ).first()
            if found is None:
                self._insert_photo(connection, place, Photo(view, width, height, by, _now(), _digest(data), data))
        return next(photo for photo in self.photos(trial) if photo.digest == _digest(data))

    def _insert_photo(self, connection, place, photo):
        row = {"trial": place, "view": photo.view, "digest": photo.digest, "added_by": photo.by, "added_at": photo.at,
               "width": photo.width, "height": photo.height, "picture": photo.picture}  # fmt: skip
        connection.execute(photos.insert().values(row))

    # other people's books and spreadsheets

    def export(self, path):
        """Write the whole book into one new ZIP file: CSV, JSON with its JSON Schema, photos. Raises FileError."""
        from .exchange import export

        return export(self, path)

    def import_from(self, path):
        """Take in an exported ZIP file and return what came in; see `kit.trials.exchange.import_from`."""
        from .exchange import import_from

        return import_from(self, path)

    # reading

    def trial(self, code):
        """Return one trial by its code (T-014) or key, as it stands. Raises UnknownName."""
        return self.trials([code])[0]

    def trials(self, codes=None):
        """Return trials as they stand, in the order of the codes or keys given; all, by date, for None."""
        if codes is None:
            with self._reading() as connection:
                rows = _rows(connection, _STANDING + "ORDER BY date, trials.id")
            return [_from_row(row) for row in rows]
        wanted = [str(code) if (place := _place_of(code)) is None else place for code in codes]
        found = {}
        with self._reading() as connection:
            mark = "?" if connection.dialect.name == "sqlite" else "%s"
            for column, kind in (("trials.id", int), ("key", str)):
                some = [each for each in wanted if isinstance(each, kind)]
                for start in range(0, len(some), MARKS):
                    part = tuple(some[start : start + MARKS])
                    query = f"{_STANDING}WHERE {column} IN ({', '.join([mark] * len(part))})"
                    found |= {row[0 if kind is int else 1]: row for row in _rows(connection, query, part)}
        for code, each in zip(codes, wanted, strict=True):
            if each not in found:
                self._unknown(code)
        return [_from_row(found[each]) for each in wanted]

    def _unknown(self, code):
        with self._reading() as connection:
            some = connection.execute(sa.select(trials.c.id).order_by(trials.c.id.desc()).limit(2000)).scalars()
            near = did_you_mean(code, [code_of(place).casefold() for place in some])
        do = near.upper().replace("DID YOU MEAN", "did you mean") if near.startswith("did") else "look it up with find"
        raise UnknownName(must("trial", f"one of the book {self.name}", repr(str(code))[:60], do))

    def history(self, trial):
        """Return every Version of a trial, the first first; a trial, its code or key."""
        with self._reading() as connection:
            place = self._place(connection, trial)
            rows = connection.execute(
                sa.select(versions).where(versions.c.trial == place).order_by(versions.c.number)
            ).all()
        made, before = [], None
        for row in rows:
            trial = _stored(_parsed(row.document, place, row.number), place, row.number)
            changed = tuple(map(_spoken, changes(before, trial)))
            made.append(Version(row.number, row.written_by, row.written_at, row.aside, changed, trial))
            before = before if row.aside else trial
        return made

    def photos(self, trial):
        """Return the Photos of a trial, the first first."""
        with self._reading() as connection:
            rows = connection.execute(
                sa.select(photos).where(photos.c.trial == self._place(connection, trial)).order_by(photos.c.id)
            ).all()
        return [Photo(r.view, r.width, r.height, r.added_by, r.added_at, r.digest, r.picture) for r in rows]

    def find(self, text="", since=None, until=None, verdict=None, formula=None, parent=None, most=200):
        """Return [Found], the newest bakes first: all words of the text (beginnings of words count), and filters.

        A word may be a code (T-014), a day or a month (2025-03). since, until: dates, both included; verdict: keep,
        change, drop; formula: a Formula or its fingerprint; parent: a trial, its key or code; most: how many at most.
        Raises TrialError, UnknownName.
        """
        if not is_number(most) or not 1 <= most < 2**31:
            raise TrialError(must("most", "a count of trials above 0", repr(most)[:40], "leave it out for 200"))
        query = sa.select(*SUMMARY).order_by(trials.c.date.desc(), trials.c.id.desc()).limit(int(most))
        if since is not None:
            query = query.where(trials.c.date >= date_of(since))
        if until is not None:
            query = query.where(trials.c.date <= date_of(until))
        if verdict:
            if plain(verdict) not in VERDICTS:
                be, do = f"one of {listing(VERDICTS, 'or')}", did_you_mean(verdict, VERDICTS)
                raise TrialError(must("verdict", be, repr(verdict)[:40], do))
            query = query.where(trials.c.verdict == plain(verdict))
        if formula is not None:
            fingerprint = getattr(formula, "fingerprint", formula)
            if not re.fullmatch("[0-9a-f]{8}", str(fingerprint)):
                do = "read it with kit.Formula.read"
                raise TrialError(must("formula", "a Formula or its fingerprint", repr(formula)[:40], do))
            query = query.where(trials.c.formula == fingerprint)
        if parent is not None:
            key = getattr(parent, "key", parent)
            key = key if re.fullmatch(KEY, str(key)) else self.trial(key).key
            query = query.where(trials.c.parent == key)
        rest = []
        for word in (text_of(text, "text") or "").split():
            if (place := _place_of(word)) is not None:
                query = query.where(sa.or_(trials.c.id == place, *self._with_words([code_of(place)], "")))
            elif re.fullmatch(r"\d{4}-\d\d(-\d\d)?", word):
                day = sa.cast(trials.c.date, sa.String).startswith(word)
                query = query.where(sa.or_(day, *self._with_words([word], "")))
            else:
                rest.append(word)
        query = query.where(*self._with_words(rest))
        with self._reading() as connection:
            rows = connection.execute(query).all()
        return [Found(code_of(r.id), r.name, r.date, r.verdict, r.formula, r.parent, r.key) for r in rows]

    def _with_words(self, texts, more="*"):
        """Return [the condition under which a trial has all words of the texts], [] for no word.

        more: "*" for words that begin so, "" for whole words.
        """
        words = _folded(" ".join(texts))
        if not words:
            return []
        if self._engine.dialect.name == "sqlite":
            inner = sa.select(sa.literal_column("rowid")).select_from(sa.table("trial_words"))
            match = " ".join(f'"{word}"{more}' for word in words)
            return [trials.c.id.in_(inner.where(sa.literal_column("trial_words").match(match)))]
        match = " & ".join(f"'{word}'{more and ':*'}" for word in words)
        return [sa.literal_column(LEXEMES).op("@@")(sa.cast(match, TSQUERY))]

    def __len__(self):
        with self._reading() as connection:
            return connection.execute(sa.select(sa.func.count()).select_from(trials)).scalar_one()

    def _repr_html_(self):
        rows = [[f.code, str(f.date), f.name, f.verdict] for f in self.find(most=20)]
        caption = f"{self.name}: {plural(len(self), 'trial')}" + (", the newest 20" if len(rows) == 20 else "")
        if not rows:
            return f"<p>{page.escape(self.name)}: no trial yet. Enter one: kit.show.EntryPanel(book)</p>"
        return page.table(["", "date", "name", "verdict"], rows, caption)

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

    def _document(self, connection, place, number):
        found = connection.execute(
            sa.select(versions.c.document).where(versions.c.trial == place, versions.c.number == number)
        ).scalar()
        return _parsed(found, place, number) if found is not None else None

    @contextlib.contextmanager
    def _reading(self):
        with in_plain_words(self.name), self._engine.connect() as connection:
            yield connection

    @contextlib.contextmanager
    def standing(self):
        """Give the book as it stands now, for readings that must fit together, whatever others save meanwhile."""
        with (
            in_plain_words(self.name),
            self._engine.connect().execution_options(how="snapshot") as connection,
            connection.begin(),
        ):
            yield _Standing(connection, self.name)

    @contextlib.contextmanager
    def _writing(self):
        with (
            in_plain_words(self.name),
            self._engine.connect().execution_options(how="writes") as connection,
            connection.begin(),
        ):
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

        What somebody else saved meanwhile in other entries is taken over. Raises ConflictError when the same entry
        was changed by both, and what `Trial.with_entry` and `TrialBook.save` raise; the trial then stays as it was.
        """
        changed = self.trial.with_entry(entry, value)
        standing = self._book.trial(self.trial.key)
        if standing.version != self.trial.version and not self._both(changed, standing):
            changed = standing.with_entry(entry, value)
        while True:
            try:
                self.trial = self._book.save(changed, self._by)
                return self.trial
            except ConflictError as conflict:  # somebody was quicker by the blink of an eye
                if conflict.both:
                    raise
                changed = conflict.merged()

    def behind(self, entry, value):
        """Return whether somebody else changed meanwhile what setting this entry would change, if it can be set."""
        try:
            return self._both(self.trial.with_entry(entry, value), self._book.trial(self.trial.key))
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


def _rows(connection, query, values=()):
    """Return the rows of plain SQL from the driver itself: an expression and its result take three times as long."""
    cursor = connection.connection.cursor()
    try:
        cursor.execute(query, values)
        return cursor.fetchall()
    except connection.dialect.dbapi.Error as error:
        raise sa.exc.DBAPIError(query, None, error) from error
    finally:
        cursor.close()


def _from_row(row):
    place, _, current, document = row
    return _stored(_parsed(document, place, current), place, current)


def _parsed(text, place, number):
    """Return the document of a version as it lies in the book. Raises FileError for a damaged one."""
    with contextlib.suppress(ValueError):
        if isinstance(document := json.loads(text), dict):
            return document
    raise _damaged(place, number)


def _stored(document, place, number):
    try:
        return Trial.stored(document, code_of(place), number)
    except (AttributeError, KeyError, TypeError, ValueError):
        raise _damaged(place, number) from None


def _spoken(entry):
    return str(entry).replace("_", " ")


def _damaged(place, number):
    do = "take the book from a copy; nothing was changed"
    return FileError(must(f"{code_of(place)} version {number}", "whole in the book", "a damaged record", do))


def _need_trial(trial):
    if not isinstance(trial, Trial):
        do = "make one with Trial.of(name, date)"
        raise TrialError(must("trial", "a Trial", repr(trial)[:40], do))


def _now():
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds")


def _digest(data):
    return hashlib.sha256(data).hexdigest()


def _shown(trial):
    recipe = trial.planned_formula or trial.weighed_formula
    return {"name": trial.name, "date": trial.date, "parent": trial.parent, "verdict": trial.verdict,
            "formula": recipe.fingerprint if recipe else "", "words": ""}  # fmt: skip


def _words_of(trial):
    recipe = trial.planned_formula
    texts = [
        trial.name,
        trial.baker,
        trial.mix,
        trial.question,
        trial.verdict,
        trial.reason,
        trial.next_change,
        recipe.name if recipe else "",
        trial.deviations,
        trial.notes,
        *(v for section in (trial.lots, trial.controlled) for v in section.values() if isinstance(v, str)),
    ]
    return " ".join(_folded("\n".join(text for text in texts if text)[:INDEXED]))  # fmt: skip


def _folded(text):
    """Return the words of a text as the search compares them: without case, accents and marks, at most 100 letters."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if unicodedata.category(c) != "Mn")
    return [word[:100] for word in re.findall(r"[^\W_]+", plain)]
