"""A formula, bakes of it, the invented year, and an empty book in a file."""

from pathlib import Path

import pytest

from kit import Formula
from kit.trials import Trial, TrialBook

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"


@pytest.fixture(scope="session")
def bun():
    return Formula.read(NOTEBOOKS / "formulas" / "crackle_bun.toml")


@pytest.fixture(scope="session")
def year():
    """The invented year of trials, corrections applied."""
    return TrialBook.read(NOTEBOOKS / "trials" / "crackle_bun_trials.csv", NOTEBOOKS / "formulas").trials()


@pytest.fixture
def store(tmp_path):
    """Where an empty book may be made."""
    return str(tmp_path / "book.db")


@pytest.fixture
def book(store):
    with TrialBook.open(store) as opened:
        yield opened


@pytest.fixture
def bake(bun):
    return Trial.of("crackle bun", "2025-03-04", formula=bun, height=[42.0, 43.5], notes="ribs sharp")
