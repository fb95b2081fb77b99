"""A trial book with the invented year, read once a module, for panels that show a book."""

import shutil

import pytest

import kit
from kit.trials import TrialBook


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    path, notebooks = tmp_path_factory.mktemp("book") / "trials.db", kit.places.notebooks()
    with TrialBook.open(path) as book:
        book.import_from(notebooks / "trials" / "crackle_bun_trials.csv", notebooks / "formulas")
    return path


@pytest.fixture
def path(filled, tmp_path):
    return shutil.copy(filled, tmp_path / "trials.db")
