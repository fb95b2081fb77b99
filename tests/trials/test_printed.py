"""Bakes on paper: what the page for the bench asks for, by hand from the demo formula; common practice, no source."""

import re

import pytest

from kit.errors import UnknownName
from kit.trials import Trial, bench_page


def rows(html):
    """Return the cells of each row as plain text."""
    found = re.findall(r"<tr[^>]*>(.*?)</tr>", html)
    return [[re.sub("<[^>]*>", "", cell) for cell in re.findall(r"<t[dh].*?</t[dh]>", row)] for row in found]


def test_the_bench_has_masses_aims_and_boxes_in_the_order_asked(bun):
    """By hand: 5,000 g of flour, 25 % of it in the sponge; butter 18 % is 900 g; the oven of the formula's own bake."""
    planned = Trial.of("richer", "2025-03-04", formula=bun, planned_flour_weighed=5000, planned_proof_time=70)
    fields = ["proof time", "height", "flour lot", "oven set", "crumb dent day 2"]
    said = rows(bench_page(planned, fields))
    assert ["unsalted butter", "900", ""] in said
    assert ["bread flour", "1,250", ""] in said
    assert any(row[0].replace("\u00a0", " ").startswith("Bake 16 min, 180 °C, core 91 °C") for row in said)
    asked = [row for row in said if row[0].split(",")[0] in fields]
    names = ["proof time, min", "height, mm", "flour lot", "oven set, °C", "crumb dent day 2, mm"]
    assert [row[0] for row in asked] == names
    assert [len(row) - 2 for row in asked] == [1, 6, 1, 1, 6]  # six readings where a bake has several
    assert [row[1] for row in asked] == ["70", "", "", "180", ""]


def test_the_bench_page_has_the_code_the_cautions_and_text_as_text(bun, book):
    saved = book.save(Trial.of("<b>bun</b>", "2025-03-04", formula=bun, invented=True), by="M1")
    html = bench_page(saved, paper="Letter")
    assert "T-001 &lt;b&gt;bun&lt;/b&gt; (invented)" in html
    assert "size: letter" in html
    assert "Local codes and licensed practice come first" in html
    assert "Contains wheat" in html
    assert "'formula' must be in the trial" in bench_page(Trial.of("bun", "2025-03-04")).replace("&#x27;", "'")
    with pytest.raises(UnknownName):
        bench_page(saved, ["hieght"])


def test_a_field_of_the_kitchen_s_own_is_called_as_it_was_named(bun):
    said = rows(bench_page(Trial.of("x", "2025-03-04", formula=bun), ["own shine, mm", "own colour of the base"]))
    assert [row[0] for row in said[-2:]] == ["shine, mm", "colour of the base"]
