"""Where a trial book lies: a SQLite file or a PostgreSQL database; made, checked, or refused untouched."""

import contextlib
import os
import re
import sqlite3
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.dialects.postgresql import TSQUERY

from ..errors import FileError, KitError, must
from ..files import WAIT, whole
from ..tables import table
from ..words import listing

SCHEMA = 1
APPLICATION = 0x54524C42  # marks a SQLite file as a trial book
COMMENT = "trial book, schema {}"

metadata = sa.MetaData()


def _columns(kind, *names, begin="", **more):
    """Return columns of one kind, never empty; begin: of their names in the database."""
    return [sa.Column(begin + name, kind, key=name, nullable=False, **more) for name in names]


trials = sa.Table(
    "trials",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    *_columns(sa.String(32), "key", unique=True),
    *_columns(sa.Text, "name"),
    *_columns(sa.Date, "date", index=True),
    *_columns(sa.Text, "parent", "formula", "verdict", index=True),  # formula: fingerprint of the formula as planned
    *_columns(sa.Integer, "current"),  # number of the version that stands
    *_columns(sa.Text, "words"),  # what the search looks through; empty where FTS5 keeps it
    comment=COMMENT.format(SCHEMA),
    sqlite_autoincrement=True,
)
versions = sa.Table(
    "versions",
    metadata,
    sa.Column("trial", sa.ForeignKey("trials.id"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True),
    *_columns(sa.Text, "by", "at", begin="written_"),  # UTC, ISO 8601
    *_columns(sa.Boolean, "aside"),  # written on top of a version that stood no longer
    *_columns(sa.Text, "document"),
)
photos = sa.Table(
    "photos",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    *_columns(sa.ForeignKey("trials.id"), "trial", index=True),
    *_columns(sa.Text, "view", "digest"),  # SHA-256 of the picture
    *_columns(sa.Text, "by", "at", begin="added_"),
    *_columns(sa.Integer, "width", "height"),
    *_columns(sa.LargeBinary, "picture"),
    sa.UniqueConstraint("trial", "digest"),
)
remembered = sa.Table(
    "remembered",
    metadata,
    sa.Column("name", sa.String(40), primary_key=True),
    *_columns(sa.Text, "value"),  # JSON
)
removals = sa.Table(  # what was done last to a trial or a photo holds, but what is erased stays so
    "removals",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    *_columns(sa.ForeignKey("trials.id"), "trial", index=True),
    *_columns(sa.Text, "digest", "what", "view", "by", "at", "why"),  # of the photo, "" for the trial itself
)


def put(connection, table, place, value):
    """Write a Version, a Photo or a Removal of a trial into its table, whose columns are named like its fields."""
    row = {each.key: getattr(value, each.key) for each in table.c if each.key not in ("id", "trial")}
    connection.execute(table.insert().values(row | {"trial": place}))


# Where the dialects differ: what begins a transaction, what stands beside the tables, how words are searched for.

_LEXEMES = "array_to_tsvector(string_to_array(words, ' '))"  # words as folded here, whatever the server's language
_fts = sa.table("trial_words", sa.column("rowid"), sa.column("words"))  # SQLite's FTS5
for _dialect, _statement in (
    ("sqlite", "CREATE VIRTUAL TABLE trial_words USING fts5(words)"),
    ("sqlite", f"PRAGMA application_id = {APPLICATION}"),
    ("postgresql", f"CREATE INDEX trial_words ON trials USING gin ({_LEXEMES})"),
):
    sa.event.listen(trials, "after_create", sa.DDL(_statement).execute_if(dialect=_dialect))


def _begun(connection):
    """Begin a transaction that waits no longer than WAIT for others, or one that reads a single state."""
    statements = {
        ("sqlite", "writes"): "BEGIN IMMEDIATE",
        ("sqlite", "snapshot"): "BEGIN",
        ("postgresql", "writes"): f"SET LOCAL lock_timeout = '{WAIT}s'",
        ("postgresql", "snapshot"): "SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY",
    }
    if how := connection.get_execution_options().get("how"):  # a lone SELECT needs none
        connection.exec_driver_sql(statements[connection.dialect.name, how])


def index(connection, place, words):
    """Let the search know the words of a trial."""
    if connection.dialect.name == "sqlite":
        connection.execute(sa.delete(_fts).where(_fts.c.rowid == place))
        connection.execute(sa.insert(_fts).values(rowid=place, words=words))
    else:
        connection.execute(trials.update().where(trials.c.id == place).values(words=words))


def with_words(dialect, words, begin=False):
    """Return the condition under which a trial has all words; begin: whether its own may only begin so."""
    if dialect == "sqlite":
        match = " ".join(f'"{word}"{"*" * begin}' for word in words)
        return trials.c.id.in_(sa.select(_fts.c.rowid).where(sa.literal_column("trial_words").match(match)))
    match = " & ".join(f"'{word}'{':*' * begin}" for word in words)
    return sa.literal_column(_LEXEMES).op("@@")(sa.cast(match, TSQUERY))


def scrub(engine):
    """Write the tables anew, so that nothing deleted is left in them. Raises FileError while somebody else reads."""
    with engine.execution_options(isolation_level="AUTOCOMMIT").connect() as connection:
        if connection.dialect.name != "sqlite":
            connection.exec_driver_sql(f"VACUUM FULL {photos.name}")
            return
        connection.exec_driver_sql("VACUUM")
        if connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)").first()[0]:
            do = "close the book there, then erase again"
            raise FileError(must("the book's log", "free to be emptied", "somebody else who reads it", do))


# What is meant for a URL, also one that lacks a slash: never taken for a file, whose name an error would show.
_URL = re.compile(r".*://|\w{2,}(\+\w+)?:/|postgres\w*(\+\w+)?//|[^:/\\]+:[^/\\@]+@")


def is_url(where):
    """Return whether a place is written like the URL of a database.

    >>> is_url("postgresql:/kitchen@here/trials"), is_url("C:/kitchen/trials.db")
    (True, False)
    """
    return isinstance(where, str) and bool(_URL.match(where.strip()))


def path_of(where):
    """Return the Path of a file or folder. Raises FileError for anything but a path."""
    named = isinstance(where, (str, os.PathLike)) and str(where).strip()
    if not named or re.search("\0|:memory:|^file:", str(where)):
        do = "a book must outlast the session: give its name, such as 'trials.db'"
        raise FileError(must("path", "the path of a file", repr(where)[:40], do))
    return Path(os.path.expanduser(where))


def in_file(path):
    """Return the engine of the book in a SQLite file, made when there is none. Raises FileError."""
    with in_plain_words(path.name):
        if not path.exists():
            _make_file(path)
        complete = _look_at(path)
        engine = _file_engine(path)
        with engine.execution_options(how="" if complete else "writes").begin() as connection:
            metadata.create_all(connection)  # what an older kit had not
    return engine


def at_url(url):
    """Return (engine, name) of the book in a PostgreSQL database, made when there is none. Raises FileError."""
    do = "give the path of a file, or postgresql://user@host/database"
    try:
        if url.partition("?")[0].count("@") > 1:
            do = "write %40 for an @ in a password, or leave the password to PostgreSQL's own file of them"
            raise ValueError
        url = sa.make_url(url.strip())
    except (sa.exc.ArgumentError, ValueError):
        raise FileError(must("book", "a file or the URL of a database", "no whole URL", do)) from None
    if url.drivername not in ("postgresql", "postgresql+psycopg"):
        raise FileError(must("book", "a file or a PostgreSQL database", url.drivername, do))
    hidden = {word: url.query[word] for word in ("password", "sslpassword") if word in url.query}
    url = url.set(drivername="postgresql+psycopg").difference_update_query(hidden)  # an engine shows what its URL asks
    name = url.database or "database"
    try:
        engine = sa.create_engine(url, pool_pre_ping=True, connect_args=hidden)
    except ModuleNotFoundError as error:
        do = "install the kit with its extra 'postgresql'"
        raise FileError(must("book", "on a database whose driver is here", error.name, do)) from None
    sa.event.listen(engine, "begin", _begun)
    with in_plain_words(name), engine.execution_options(how="writes").begin() as connection:
        connection.execute(sa.text("SELECT pg_advisory_xact_lock(:n)"), {"n": APPLICATION})
        _prepare_database(connection, name)
    return engine, name


def in_memory():
    """Return the engine of an empty book that lasts as long as it is looked at."""
    # One connection, which is the book; a notebook moves its panels in other threads than its cells: they take turns.
    one = {"poolclass": sa.pool.QueuePool, "pool_size": 1, "max_overflow": 0}
    engine = _engine(lambda: sqlite3.connect(":memory:", check_same_thread=False), **one)
    with engine.execution_options(how="writes").begin() as connection:
        metadata.create_all(connection)
    return engine


def close_to_writing(engine):
    """Let nobody write into the book in memory any more."""
    with engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA query_only = ON")


def _file_engine(path):
    if os.access(path, os.W_OK) and os.access(path.parent, os.W_OK):
        return _engine(lambda: sqlite3.connect(path, timeout=WAIT, check_same_thread=False), path)
    return _engine(lambda: _only_to_read(path), path, poolclass=sa.pool.NullPool)  # opened anew for each reading


def _engine(connect, path="", **more):
    """Return the engine of a book in SQLite whose transactions `_begun` opens."""

    def connected():
        connection = connect()
        connection.isolation_level = None
        # the last, so that what is deleted is overwritten
        for setting in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON", "secure_delete = ON"):
            connection.execute(f"PRAGMA {setting}")
        return connection

    engine = sa.create_engine(sa.URL.create("sqlite", database=str(path)), creator=connected, **more)
    sa.event.listen(engine, "begin", _begun)
    return engine


def _only_to_read(path):
    """Return a connection for somebody who may not write: it leaves no log behind that would shut the others out."""
    log = path.with_name(path.name + "-wal")
    way = "mode=ro" if log.exists() else "immutable=1"  # without a log nobody has it open
    return sqlite3.connect(f"{path.absolute().as_uri()}?{way}", uri=True, timeout=WAIT)


def _make_file(path):
    """Make an empty book, whole or not at all; of two who make it at once, one does."""
    if not path.parent.is_dir():
        raise FileError(must(str(path), "in a folder that exists", str(path.parent), "make the folder first"))
    with contextlib.suppress(FileExistsError), whole(path) as file:
        engine = sa.create_engine(sa.URL.create("sqlite", database=file.name), poolclass=sa.pool.NullPool)
        with engine.begin() as connection:
            metadata.create_all(connection)
            connection.exec_driver_sql(f"PRAGMA user_version = {SCHEMA}")


def _look_at(path):
    """Return whether a book has all tables. Raises FileError for a file that is no book of this schema; it stays."""
    open(path, "rb").close()  # a folder, or what may not be read, says so
    application = 0
    try:
        with contextlib.closing(_only_to_read(path)) as seen:
            (application,), (schema,) = (
                seen.execute(f"PRAGMA {word}").fetchone() for word in ("application_id", "user_version")
            )
            there = {name for (name,) in seen.execute("SELECT name FROM sqlite_master")}
            if (application, schema) == (APPLICATION, SCHEMA):  # harm further on shows in a row
                seen.execute("SELECT * FROM trials LIMIT 1").fetchall()
    except sqlite3.DatabaseError as error:
        if "not a database" not in str(error):
            raise
    if application != APPLICATION:
        do = "choose another file; this one was not touched"
        raise FileError(must(path.name, "a trial book", "something else", do))
    _must_be_known(path.name, schema)
    return set(metadata.tables) <= there


def _must_be_known(name, schema):
    if schema != SCHEMA:
        do = "update the kit" if schema > SCHEMA else "take it from a copy"
        raise FileError(must(name, f"of schema {SCHEMA}", f"schema {schema}", f"{do}; the book was not touched"))


def _prepare_database(connection, name):
    """Make the tables that lack, or refuse a newer or foreign database."""
    there = sorted(set(metadata.tables) & set(sa.inspect(connection).get_table_names()))
    comment = connection.execute(sa.text("SELECT obj_description(to_regclass('trials'), 'pg_class')")).scalar() or ""
    found = re.fullmatch(COMMENT.format(r"(\d+)"), comment)
    if there and not found:
        got = f"other tables called {listing(there)}"
        raise FileError(must(name, "a trial book", got, "choose another database; this one was not touched"))
    if found:
        _must_be_known(name, int(found[1]))
    metadata.create_all(connection)


@contextlib.contextmanager
def in_plain_words(name):
    """Turn what a database or disk says into the kit's own errors."""
    try:
        yield
    except (sa.exc.DBAPIError, sqlite3.Error) as error:
        said = str(getattr(error, "orig", None) or error)
        usual = said.splitlines()[0][:200], "look at the book's store"
        rows = (row for row in table("store_words").rows if any(w in said.casefold() for w in row.said.split(";")))
        told = next(((row.means, row.do) for row in rows), usual)
        raise FileError(must(name, "a book that can be read and written", *told)) from error
    except OSError as error:
        if isinstance(error, KitError):
            raise
        got, do = error.strerror or str(error), "check its rights"
        if isinstance(error, IsADirectoryError):
            got, do = "a folder", "give the name of a file in it"
        raise FileError(must(name, "a file that can be read and written", got, do)) from error
