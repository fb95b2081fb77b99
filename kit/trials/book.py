"""The trial book: trials, the append-only versions of each, and photos, in a SQLite file or a PostgreSQL database.

Nothing is changed in silence: each save appends a version with who and when. Of two people at one trial the second
is shown the conflict, and what the second wrote is kept as a version set aside.
"""

import contextlib
import datetime
import hashlib
import json
import os
import re
import sqlite3
import tempfile
import unicodedata
from dataclasses import dataclass, field
from pathlib import Path

import sqlalchemy as sa

from .. import page
from ..errors import FileError, KitError, UnknownName, must
from ..words import did_you_mean, listing, plural
from .photos import as_stored
from .records import Trial, TrialError, date_of, text_of

SCHEMA = 1
# {schema: {"sqlite": statements, "postgresql": statements}} that bring a book from there to the next schema
UPGRADES = {}
APPLICATION = 0x54524C42  # marks a SQLite file as a trial book
MARKS = 10_000  # values in one statement; SQLite takes 32,766
INDEXED = 100_000  # characters of a trial that the search knows
COMMENT = "trial book, schema {}"

metadata = sa.MetaData()
trials = sa.Table(
    "trials",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("key", sa.String(32), nullable=False, unique=True),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("date", sa.Date, nullable=False, index=True),
    sa.Column("parent", sa.String(32), nullable=False, index=True),
    sa.Column("formula", sa.String(8), nullable=False, index=True),  # fingerprint of the formula as planned
    sa.Column("verdict", sa.String(8), nullable=False, index=True),
    sa.Column("current", sa.Integer, nullable=False),  # number of the version that stands
    sa.Column("words", sa.Text, nullable=False),  # what the search looks through; empty where FTS5 keeps it
    comment=COMMENT.format(SCHEMA),
    sqlite_autoincrement=True,
)
versions = sa.Table(
    "versions",
    metadata,
    sa.Column("trial", sa.ForeignKey("trials.id"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True),
    sa.Column("written_by", sa.Text, nullable=False),
    sa.Column("written_at", sa.String(32), nullable=False),  # UTC, ISO 8601
    sa.Column("aside", sa.Boolean, nullable=False),  # written on top of a version that stood no longer
    sa.Column("document", sa.Text, nullable=False),
)
photos = sa.Table(
    "photos",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("trial", sa.ForeignKey("trials.id"), nullable=False, index=True),
    sa.Column("view", sa.Text, nullable=False),  # top, side, cut face ...
    sa.Column("digest", sa.String(64), nullable=False),  # SHA-256 of the picture
    sa.Column("added_by", sa.Text, nullable=False),
    sa.Column("added_at", sa.String(32), nullable=False),
    sa.Column("width", sa.Integer, nullable=False),
    sa.Column("height", sa.Integer, nullable=False),
    sa.Column("picture", sa.LargeBinary, nullable=False),
    sa.UniqueConstraint("trial", "digest"),
)
_STANDING = (
    "SELECT trials.id, key, current, document FROM trials JOIN versions ON trial = trials.id AND number = current "
)
SUMMARY = (trials.c.id, trials.c.name, trials.c.date, trials.c.verdict, trials.c.formula, trials.c.parent, trials.c.key)
_LEXEMES = "array_to_tsvector(string_to_array(words, ' '))"  # words as folded here, whatever the server's language


class ConflictError(KitError, RuntimeError):
    """Somebody saved the trial meanwhile: `theirs` stands, `yours` is kept as a version set aside."""

    def __init__(self, message, theirs, yours, both):
        super().__init__(message)
        self.theirs, self.yours, self.both = theirs, yours, both

    def merged(self):
        """Return theirs with what only you changed put in; where both changed one entry, theirs stays."""
        document = _merge(self.theirs.document(), self.yours.document(), self._base, prefer_theirs=True)
        return Trial.stored(document, self.theirs.code, self.theirs.version)


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
        where = str(where)
        if "://" in where:
            return TrialBook._at_url(where)
        path = Path(where).expanduser()
        with _in_plain_words(path.name):
            if not path.exists():
                _make_file(path)
            schema = _schema_of_file(path)
            if schema < SCHEMA:
                _upgrade_file(path, schema)
            book = TrialBook(_file_engine(path), path.name, path.parent)
            try:
                with book._reading() as connection:
                    schema = connection.exec_driver_sql("PRAGMA user_version").scalar()
                    if schema != SCHEMA:  # what the file's first bytes say lags behind while others write
                        raise _newer(path.name, schema)
                    connection.execute(sa.select(trials.c.id).limit(1)).all()
            except FileError:
                book.close()
                raise
        return book

    @staticmethod
    def _at_url(url):
        url = sa.make_url(url)
        if url.get_backend_name() != "postgresql":
            do = "give the path of a file, or postgresql://..."
            raise FileError(must("book", "a file or a PostgreSQL database", url.get_backend_name(), do))
        if url.drivername == "postgresql":
            url = url.set(drivername="postgresql+psycopg")
        name = url.database or "database"
        with _in_plain_words(name):
            try:
                engine = sa.create_engine(url, pool_pre_ping=True)
            except ModuleNotFoundError as error:
                do = "install the kit with its extra 'postgresql'"
                raise FileError(must("book", "on a database whose driver is here", error.name, do)) from None
            with engine.begin() as connection:
                connection.execute(sa.text("SELECT pg_advisory_xact_lock(:n)"), {"n": APPLICATION})
                _prepare_database(connection, name)
        return TrialBook(engine, name)

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
        with self._writing() as connection:
            number, conflict = self._append(connection, trial, by, _now())
        if conflict is not None:
            raise conflict
        return number

    def entry(self, trial, by):
        """Return an Entry that saves each field as it is entered; see `Entry.set`."""
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
        if not aside:
            _keep_prediction(standing, document)
        self._insert_version(connection, place, newest + 1, by, at, aside, document)
        if aside:
            return None, self._conflict(connection, place, row.current, trial, newest + 1)
        connection.execute(trials.update().where(trials.c.id == place).values(current=newest + 1, **_shown(trial)))
        self._index(connection, place, trial)
        return Trial.stored(document, code_of(place), newest + 1), None

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
        base = self._document(connection, place, trial.version) if trial.version else None
        base = base or {}
        mine, other = _changes(base, trial.document()), _changes(base, theirs.document())
        both = tuple(sorted(set(mine) & set(other)))
        do = f"look at both; yours is kept as version {kept}, set aside"
        got = f"version {current}, saved by {who.written_by} at {who.written_at}"
        if both:
            got += f", which also changed {listing(_spoken(each) for each in both)}"
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
        made, before = [], {}
        for row in rows:
            document = json.loads(row.document)
            changed = tuple(_spoken(each) for each in sorted(_changes(before, document)))
            version = Trial.stored(document, code_of(place), row.number)
            made.append(Version(row.number, row.written_by, row.written_at, row.aside, changed, version))
            before = before if row.aside else document
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

        since, until: dates, both included; verdict: keep, change, drop; formula: a Formula or its fingerprint;
        parent: a trial or its key; most: how many at most.
        """
        query = sa.select(*SUMMARY).order_by(trials.c.date.desc(), trials.c.id.desc()).limit(int(most))
        if since is not None:
            query = query.where(trials.c.date >= date_of(since))
        if until is not None:
            query = query.where(trials.c.date <= date_of(until))
        if verdict:
            query = query.where(trials.c.verdict == verdict)
        if formula is not None:
            query = query.where(trials.c.formula == getattr(formula, "fingerprint", formula))
        if parent is not None:
            query = query.where(trials.c.parent == getattr(parent, "key", parent))
        words = _folded(text)
        if words and self._engine.dialect.name == "sqlite":
            match = " ".join(f'"{word}"*' for word in words)
            inner = sa.text("SELECT rowid FROM trial_words WHERE trial_words MATCH :match").bindparams(match=match)
            query = query.where(trials.c.id.in_(inner))
        elif words:
            match = " & ".join(f"'{word}':*" for word in words)
            query = query.where(sa.text(f"{_LEXEMES} @@ CAST(:match AS tsquery)").bindparams(match=match))
        with self._reading() as connection:
            rows = connection.execute(query).all()
        return [Found(code_of(r.id), r.name, r.date, r.verdict, r.formula, r.parent, r.key) for r in rows]

    def __len__(self):
        with self._reading() as connection:
            return connection.execute(sa.select(sa.func.count()).select_from(trials)).scalar_one()

    def _repr_html_(self):
        rows = [[f.code, str(f.date), f.name, f.verdict] for f in self.find(most=20)]
        caption = f"{self.name}: {plural(len(self), 'trial')}" + (", the newest 20" if len(rows) == 20 else "")
        if not rows:
            return f"<p>{page.escape(self.name)}: no trial yet. Enter one: book.save(Trial.of(name, date), by=...)</p>"
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
        return json.loads(found) if found is not None else None

    @contextlib.contextmanager
    def _reading(self):
        with _in_plain_words(self.name), self._engine.connect() as connection:
            yield connection

    @contextlib.contextmanager
    def _writing(self):
        with (
            _in_plain_words(self.name),
            self._engine.connect().execution_options(writes=True) as connection,
            connection.begin(),
        ):
            yield connection


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
        if standing.version != self.trial.version:
            mine = _changes(self.trial.document(), changed.document())
            theirs = _changes(self.trial.document(), standing.document())
            if not set(mine) & set(theirs):
                changed = standing.with_entry(entry, value)
        while True:
            try:
                self.trial = self._book.save(changed, self._by)
                return self.trial
            except ConflictError as conflict:  # somebody was quicker by the blink of an eye
                if conflict.both:
                    raise
                changed = conflict.merged()


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
    return Trial.stored(json.loads(document), code_of(place), current)


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


def _keep_prediction(standing, document):
    if standing.get("measured") and standing.get("prediction") != document.get("prediction"):
        do = "a prediction made afterwards can't be checked: note it for the next bake"
        raise TrialError(must("prediction", "stored before the bake is measured", "a change to it", do))


def _changes(before, after):
    """Return {path: value} of what differs between two documents, section entries one by one; gone is None."""

    def flat(document):
        made = {}
        for word, value in document.items():
            if isinstance(value, dict) and word not in ("planned_formula", "weighed_formula"):
                made |= {(word, *([k, d] if word == "days" else [k])): v
                         for k, each in value.items()
                         for d, v in (each.items() if word == "days" else [("", each)])}  # fmt: skip
            elif word == "scores":
                made |= {(word, s["field"], s["taster"]): s["score"] for s in value}
            else:
                made[word,] = value
        return made

    old, new = flat(before), flat(after)
    return {path: new.get(path) for path in {*old, *new} if old.get(path) != new.get(path)}


def _merge(theirs, yours, base, prefer_theirs):
    """Return their document with your changes to base put in, except where both changed one entry."""
    taken = _changes(base, theirs) if prefer_theirs else {}
    merged = json.loads(json.dumps(theirs))
    for path, value in _changes(base, yours).items():
        if path in taken:
            continue
        if path[0] == "scores":
            rest = [s for s in merged.get("scores", []) if (s["field"], s["taster"]) != path[1:]]
            new = [] if value is None else [{"taster": path[2], "field": path[1], "score": value}]
            merged["scores"] = sorted(rest + new, key=lambda s: (s["field"], s["taster"]))
            continue
        inner = merged
        for step in path[:-1]:
            inner = inner.setdefault(step, {})
        if value is None:
            inner.pop(path[-1], None)
        else:
            inner[path[-1]] = value
    for word in [w for w, value in merged.items() if value in ({}, [])]:
        del merged[word]
    return merged


def _spoken(path):
    """Return a path of a document in words: 'crumb dent day 1', 'planned oven set', 'liking by P3'."""
    head, *rest = path if isinstance(path, tuple) else (path,)
    if head == "days":
        return f"{rest[0].replace('_', ' ')} day {rest[1]}"
    if head == "scores":
        return f"{rest[0].replace('_', ' ')} by {rest[1]}"
    prefix = {"planned": "planned ", "prediction": "predicted "}.get(head, "")
    return (prefix + (rest[0] if rest else head)).replace("_", " ")


# files


def _file_engine(path):
    engine = sa.create_engine(sa.URL.create("sqlite", database=str(path)), connect_args={"timeout": 30})

    @sa.event.listens_for(engine, "connect")
    def _connected(connection, _record):
        connection.isolation_level = None  # the begin below opens transactions
        for setting in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON", "busy_timeout = 30000"):
            connection.execute(f"PRAGMA {setting}")

    @sa.event.listens_for(engine, "begin")
    def _begun(connection):
        if connection.get_execution_options().get("writes"):  # a lone SELECT needs none
            connection.exec_driver_sql("BEGIN IMMEDIATE")

    return engine


def _make_file(path):
    """Make an empty book, whole or not at all; of two who make it at once, one does."""
    if not path.parent.is_dir():
        raise FileError(must(str(path), "in a folder that exists", str(path.parent), "make the folder first"))
    handle, temporary = tempfile.mkstemp(prefix=".", suffix=".part", dir=path.parent)
    os.close(handle)
    try:
        _write_schema(temporary)
        with contextlib.suppress(FileExistsError):
            os.link(temporary, path)
    finally:
        for suffix in ("", "-wal", "-shm"):
            with contextlib.suppress(OSError):
                os.unlink(temporary + suffix)


def _write_schema(path):
    connection = sqlite3.connect(path, isolation_level=None)
    try:
        connection.execute(f"PRAGMA application_id = {APPLICATION}")
        connection.execute(f"PRAGMA user_version = {SCHEMA}")
        dialect = sa.create_engine("sqlite://").dialect
        for table in metadata.sorted_tables:
            connection.execute(str(sa.schema.CreateTable(table).compile(dialect=dialect)))
            for index in sorted(table.indexes, key=lambda i: i.name):
                connection.execute(str(sa.schema.CreateIndex(index).compile(dialect=dialect)))
        connection.execute(_FTS)
    finally:
        connection.close()


_FTS = "CREATE VIRTUAL TABLE trial_words USING fts5(words)"


def _schema_of_file(path):
    """Return the schema of a book's file from its first 100 bytes, without opening it as a database."""
    with open(path, "rb") as file:
        header = file.read(100)
    size = path.stat().st_size
    if len(header) < 100 or not header.startswith(b"SQLite format 3\x00"):
        got = "an empty file" if not header else f"{size:,} bytes of something else"
        raise FileError(must(path.name, "a trial book", got, "choose another file; this one was not touched"))
    number = lambda at, length=4: int.from_bytes(header[at : at + length], "big")  # noqa: E731
    if number(68) != APPLICATION:
        do = "choose another file; this one was not touched"
        raise FileError(must(path.name, "a trial book", "a database of another program", do))
    if number(60) > SCHEMA:
        raise _newer(path.name, number(60))
    page_size = 65536 if number(16, 2) == 1 else number(16, 2)
    log = path.with_name(path.name + "-wal")
    if number(28) * page_size > size and not (log.exists() and log.stat().st_size):
        got = f"{size:,} of {number(28) * page_size:,} bytes"
        do = "take it from a copy; this one was not touched"
        raise FileError(must(path.name, "a whole file", got, do))
    return number(60)


def _newer(name, schema):
    do = "update the kit; the book was not touched"
    return FileError(must(name, f"of schema {SCHEMA} or older", f"schema {schema}", do))


def _upgrade_file(path, schema):
    """Bring an older file to this schema in one transaction, after a copy is put aside beside it."""
    kept = path.with_name(f"{path.stem}.schema{schema}{path.suffix}")
    connection = sqlite3.connect(path, isolation_level=None, timeout=30)
    try:
        connection.execute("BEGIN IMMEDIATE")
        if connection.execute("PRAGMA user_version").fetchone()[0] != SCHEMA:  # else somebody just did it
            if not kept.exists():
                with (
                    contextlib.closing(sqlite3.connect(path)) as source,
                    contextlib.closing(sqlite3.connect(str(kept) + ".part")) as target,
                ):
                    source.backup(target)
                os.replace(str(kept) + ".part", kept)
            for step in range(schema, SCHEMA):
                for statement in UPGRADES[step]["sqlite"]:
                    connection.execute(statement)
            connection.execute(f"PRAGMA user_version = {SCHEMA}")
        connection.execute("COMMIT")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    finally:
        connection.close()


def _prepare_database(connection, name):
    """Make the tables, or upgrade them after copies of them are put aside, or refuse a newer or foreign database."""
    there = set(sa.inspect(connection).get_table_names())
    comment = connection.execute(sa.text("SELECT obj_description(to_regclass('trials'), 'pg_class')")).scalar() or ""
    found = re.fullmatch(COMMENT.format(r"(\d+)"), comment)
    if not there & set(metadata.tables):
        metadata.create_all(connection)
        connection.execute(sa.text(f"CREATE INDEX trial_words ON trials USING gin ({_LEXEMES})"))
        return
    if not found:
        got = f"other tables called {listing(sorted(there & set(metadata.tables)))}"
        raise FileError(must(name, "a trial book", got, "choose another database; this one was not touched"))
    schema = int(found[1])
    if schema > SCHEMA:
        raise _newer(name, schema)
    for step in range(schema, SCHEMA):
        for table in metadata.tables:
            connection.execute(sa.text(f"CREATE TABLE {table}_schema{step} AS TABLE {table}"))
        for statement in UPGRADES[step]["postgresql"]:
            connection.execute(sa.text(statement.replace(":", r"\:")))
    if schema < SCHEMA:
        connection.execute(sa.text(f"COMMENT ON TABLE trials IS '{COMMENT.format(SCHEMA)}'"))


@contextlib.contextmanager
def _in_plain_words(name):
    """Turn what a database or disk says into the kit's own errors."""
    try:
        yield
    except (sa.exc.DBAPIError, sqlite3.Error) as error:
        said = str(getattr(error, "orig", None) or error)
        folded = said.casefold()
        for words, got, do in (
            (("is full", "no space", "disk full"), "a full disk", "free some space, then save again; nothing was lost"),
            (("readonly", "read-only"), "a book that can only be read", "mend its rights, or save to another book"),
            (("locked", "busy"), "a book held by somebody else", "save again"),
            (("malformed", "not a database", "disk image"), "a damaged file", "take it from a copy"),
            (("connection", "connect"), "no answer from the database", "see that the server runs and the URL is right"),
            (("unable to open", "disk i/o"), "a file that can't be opened", "check the path and its rights"),
        ):
            if any(word in folded for word in words):
                raise FileError(must(name, "a book that can be read and written", got, do)) from error
        got = said.splitlines()[0][:200]
        raise FileError(must(name, "a book that can be read and written", got, "look at the book's store")) from error
    except OSError as error:
        if isinstance(error, KitError):
            raise
        got = error.strerror or str(error)
        raise FileError(must(name, "a file that can be read and written", got, "check its rights")) from error
