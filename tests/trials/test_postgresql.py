"""The same tests as in a file, on a PostgreSQL server: each in a schema of its own.

The server's URL, with the right to make schemas, is in KIT_TEST_POSTGRESQL.
"""

import os
import socket
import threading
import traceback
import uuid

import pytest
import sqlalchemy as sa

from kit.errors import FileError
from kit.trials import TrialBook
from kit.trials import store as module
from kit.trials.store import at_url, trials
from tests.trials.test_book import *  # noqa: F403
from tests.trials.test_exchange import (  # noqa: F401
    filled,
    other,
    test_a_later_import_mends_what_stands,
    test_all_of_it_comes_back,
    test_an_export_is_one_snapshot,
    test_one_bad_trial_keeps_all_out,
    test_two_kitchens_go_on_with_one_trial,
)
from tests.trials.test_photos import (  # noqa: F401
    test_a_photo_stays_with_its_trial,
    test_a_picture_may_show_the_bakes_of_its_day_and_of_two_days_before,
    test_a_withdrawn_photo_is_hidden_and_kept,
    test_an_erased_photo_leaves_a_line,
    test_the_same_photo_is_kept_once,
)
from tests.trials.test_reliability import (  # noqa: F401
    test_an_entry_goes_on_after_a_restart,
    test_killed_at_random_every_acknowledged_save_is_there,
    test_several_writers_lose_nothing,
)

pytestmark = pytest.mark.server


@pytest.fixture
def store():
    url = os.environ.get("KIT_TEST_POSTGRESQL")
    assert url, "KIT_TEST_POSTGRESQL must hold the URL of a PostgreSQL server, postgresql://user@host/database"
    engine = sa.create_engine(sa.make_url(url).set(drivername="postgresql+psycopg"), isolation_level="AUTOCOMMIT")
    name = f"kit_{uuid.uuid4().hex[:12]}"
    with engine.connect() as connection:
        connection.execute(sa.text(f"CREATE SCHEMA {name}"))
    yield f"{url}{'&' if '?' in url else '?'}options=-csearch_path%3D{name}"
    with engine.connect() as connection:
        connection.execute(sa.text(f"DROP SCHEMA {name} CASCADE"))
    engine.dispose()


def test_tables_of_somebody_else_are_left_alone(store):
    engine = sa.create_engine(sa.make_url(store).set(drivername="postgresql+psycopg"))
    with engine.begin() as connection:
        connection.execute(sa.text("CREATE TABLE trials (a int)"))
    with pytest.raises(FileError, match="other tables called trials.*not touched"):
        TrialBook.open(store)
    engine.dispose()


def test_no_password_is_in_what_an_engine_shows(store):
    url = sa.make_url(store).set(username="kitchen")
    for shown in (url.set(password="crumbs42"), url.update_query_dict({"password": "crumbs42"})):
        engine, _ = at_url(shown.set(drivername="postgresql").render_as_string(hide_password=False))
        with engine.connect() as connection:
            assert connection.execute(sa.select(sa.func.count()).select_from(trials)).scalar() == 0
        assert "crumbs42" not in repr(engine) + str(engine.url) + repr(vars(TrialBook(engine, "trials")))
        engine.dispose()


def refusing(listener, fields):
    """A server that asks for a password in clear text and refuses it: PostgreSQL 15 documentation, 55.7."""
    here, _ = listener.accept()
    with here:
        while here.recv(4096)[4:8] in (b"\x04\xd2\x16\x2f", b"\x04\xd2\x16\x30"):
            here.sendall(b"N")  # neither SSL nor GSS encryption
        here.sendall(b"R\x00\x00\x00\x08\x00\x00\x00\x03")
        if here.recv(4096):
            body = b"".join(kind + text.encode() + b"\0" for kind, text in fields.items()) + b"\0"
            here.sendall(b"E" + (len(body) + 4).to_bytes(4) + body)


@pytest.mark.parametrize(("password", "says"), [(":crumbs42", "a wrong password or user"), ("", "no password")])
def test_a_wrong_password_is_said_to_be_one(monkeypatch, password, says):
    monkeypatch.delenv("PGPASSWORD", raising=False)
    monkeypatch.setenv("PGPASSFILE", os.devnull)
    said = {b"S": "FATAL", b"V": "FATAL", b"C": "28P01", b"M": 'password authentication failed for user "kitchen"'}
    with socket.create_server(("127.0.0.1", 0)) as listener:
        threading.Thread(target=refusing, args=(listener, said), daemon=True).start()
        with pytest.raises(FileError, match=says) as caught:
            TrialBook.open(f"postgresql://kitchen{password}@127.0.0.1:{listener.getsockname()[1]}/trials")
    assert "crumbs42" not in "".join(traceback.format_exception(caught.value))


def test_a_lock_is_waited_for_so_long(store, bake, monkeypatch):
    monkeypatch.setattr(module, "WAIT", 1)
    with TrialBook.open(store) as book, TrialBook.open(store) as colleague:
        kept = book.save(bake, by="M1")
        with colleague._writing() as connection:
            connection.execute(sa.select(trials).with_for_update()).all()
            with pytest.raises(FileError, match="held by somebody else.*save again"):
                book.save(kept.with_entry("notes", "x"), by="M1")
        assert book.save(kept.with_entry("notes", "x"), by="M1").version == 2
