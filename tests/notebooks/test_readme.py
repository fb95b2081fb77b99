"""What the README tells is so: its tour runs, its figures are the kit's, its table names each page."""

import re
import shutil

import pytest

import kit
import kit.show
from kit import places

README = places.notebooks().parent / "README.md"
WRITTEN = README.read_text(encoding="utf-8")
(TOUR,) = re.findall(r"```python\n(.*?)```", WRITTEN, re.DOTALL)


@pytest.fixture
def session(tmp_path, monkeypatch):
    """A Python session in a copy of the notebooks' folder, after the tour."""
    shutil.copytree(places.notebooks() / "formulas", tmp_path / "formulas")
    monkeypatch.chdir(tmp_path)
    names: dict = {}
    exec(TOUR, names)
    return names


def test_the_tour_runs_and_its_figures_are_the_kit_s(session):
    told = re.search(r"# ([\d.]+) poured, ([\d.]+) with", TOUR).groups()
    assert tuple(f"{of(session['bun']):.1f}" for of in (kit.hydration, kit.total_hydration)) == told
    assert kit.Formula.read("formulas/richer_bun.toml").of_kind("butter") == 25


def test_it_types_what_the_kit_offers():
    assert set(re.findall(r"\bkit\.(\w+)", TOUR)) <= set(kit.__all__)
    assert set(re.findall(r"\bkit\.show\.(\w+)", TOUR)) <= set(kit.show.__all__)


def test_the_table_names_each_page_and_no_other():
    told = re.findall(r"^\| `(\w+)` \|", WRITTEN, re.MULTILINE)
    assert sorted(told) == sorted(path.stem for path in places.notebooks().glob("*.ipynb"))


def test_windows_gets_lines_of_its_own_that_need_no_shell():
    """Windows PowerShell 5.1 doesn't know `&&`; the command prompt passes single quotes on (from memory)."""
    block = re.search(r"<!-- command: open on Windows -->\n```\n(.*?)```", WRITTEN, re.DOTALL)[1]
    assert block.splitlines()[-1] == r".venv\Scripts\python -m kit"
    assert re.findall(r"&&|['\"$;]|/", block) == []
