"""The three pages in one look: heading, mark of what is invented, whose it is, and local codes first."""

import datetime
from dataclasses import replace

import pytest

import kit
from kit import Formula, page
from kit.cautions import FIRST

FOLDER = kit.places.notebooks() / "formulas"
BUN = Formula.read(FOLDER / "crackle_bun.toml")
PRICES = kit.read_prices(FOLDER / "crackle_bun_prices.csv", today=datetime.date(2025, 3, 1))
MADE = {
    "sheet": kit.production_sheet,
    "EU": kit.label,
    "US": lambda bun: kit.label(bun, "US"),
    "cost": lambda bun: kit.cost(bun, PRICES),
}


@pytest.mark.parametrize("what", MADE)
def test_one_head_and_one_foot(what):
    html = MADE[what](BUN).page()
    assert html.count("<h1>") == 1
    assert "<small> (invented)</small></h1>" in html
    for text in (BUN.house, f"formula {BUN.fingerprint}"):
        assert f"<span>{text}" in html
    assert html.count(page.escape(FIRST)) == 1
    assert html.index("<h1>") < html.index(FIRST)
    own = replace(BUN, invented=False, house="")
    assert ("(invented)" in MADE[what](own).page()) == (what == "cost")  # its price list is invented too


@pytest.mark.parametrize("what", MADE)
def test_a_notebook_shows_name_and_mark(what):
    assert "Cardamom crackle bun (invented)" in MADE[what](BUN)._repr_html_()


@pytest.mark.parametrize("what", MADE)
def test_a_name_is_text_in_the_head(what):
    html = MADE[what](replace(BUN, name="<script>=1+1", house="<b>ours</b>")).page()
    assert "<script>" not in html
    assert "&lt;script&gt;=1+1" in html
    assert "<span>&lt;b&gt;ours&lt;/b&gt;</span>" in html
