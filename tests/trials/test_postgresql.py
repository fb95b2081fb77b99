"""The same tests as in a file, on a PostgreSQL server: each in a schema of its own.

The server's URL, with the right to make schemas, is in KIT_TEST_POSTGRESQL.
"""

import os
import uuid

import pytest
import sqlalchemy as sa

from kit.errors import FileError
from kit.trials import TrialBook
from tests.trials.test_book import *  # noqa: F403
from tests.trials.test_exchange import (  # noqa: F401
    filled,
    other,
    test_all_of_it_comes_back,
    test_one_bad_trial_keeps_all_out,
    test_two_kitchens_go_on_with_one_trial,
)
from tests.trials.test_photos import test_a_photo_stays_with_its_trial, test_the_same_photo_is_kept_once  # noqa: F401
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
