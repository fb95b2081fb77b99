"""Numbers and names in plain words. Common practice of print: true minus sign, no minus zero, marks of thousands."""

import contextlib
import io
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from IPython.core.interactiveshell import InteractiveShell

from kit import page
from kit.errors import must
from kit.words import did_you_mean, figure, listing, one_of, plain, plural, signed
from tests.laws import drawn

LAWS = drawn(100)


@LAWS
@given(st.floats(-1e9, 1e9), st.integers(0, 6))
def test_figure_is_the_number_rounded(value, digits):
    text = figure(value, digits)
    assert "-" not in text
    half = 0.5000001 * 10**-digits + 1e-15 * abs(value)  # a float of that size is no finer
    assert float(text.replace(",", "").replace("−", "-")) == pytest.approx(value, abs=half)
    assert not (text.startswith("−") and not float(text[1:].replace(",", "")))


@LAWS
@given(st.floats(-1e6, 1e6), st.integers(0, 4))
def test_signed_shows_the_way(value, digits):
    text = signed(value, digits)
    shown = round(value, digits)
    if abs(value) >= 10**-digits:
        assert text[0] == ("+" if shown > 0 else "−")
    assert signed(0.0, digits) == figure(0.0, digits)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_known_says_so(value):
    assert figure(value) == "unknown"


@pytest.mark.parametrize(
    ("names", "text"),
    [
        ([], ""),
        (["milk"], "milk"),
        (["milk", "egg"], "milk and egg"),
        (["a", "b", "c"], "a, b and c"),
        ((1, 2), "1 and 2"),
    ],
)
def test_listing(names, text):
    assert listing(names) == text
    assert listing(names, "or") == text.replace("and", "or")


def test_plural():
    assert [plural(n, "egg") for n in (0, 1, 2, 12000)] == ["0 eggs", "1 egg", "2 eggs", "12,000 eggs"]
    assert plural(2, "loaf", "loaves") == "2 loaves"


@LAWS
@given(st.text())
def test_plain_is_settled_after_once(name):
    assert plain(plain(name)) == plain(name)
    assert plain(f"  {name}  ") == plain(name)


@pytest.mark.parametrize("name", ["Bread Flour", "bread-flour", "bread_flour", "BREAD  FLOUR", " bread\u00a0flour "])
def test_names_that_are_one(name):
    assert plain(name) == "bread flour"


def test_did_you_mean():
    known = ["butter", "sugar", "salt", "butter"]
    assert did_you_mean("Buter", known) == "did you mean butter?"
    assert did_you_mean("tahini", known) == ""
    assert did_you_mean("tahini", known, "add it") == "add it"


def test_error_grammar():
    assert must("piece", "a mass above 0 g", "-60 g") == "'piece' must be a mass above 0 g (got -60 g)"
    assert must("piece", "a mass", 3, "weigh it").endswith("(got 3); weigh it")


@LAWS
@given(st.text(), st.text())
def test_a_table_shows_text_as_text(name, cell):
    """HTML Living Standard, 13.1.2: in text and quoted attributes only & < and quotes need escaping."""
    html = page.table([name, "%"], [[cell, "1"]], caption=name)
    tags = page.table(["", ""], [["", ""]], caption=name and "bun")
    assert html.count("<") == tags.count("<")
    assert html.count(">") == tags.count(">")
    assert page.escape(cell) in html
    assert re.sub(r"&(lt|gt|amp|quot|#x27);", "", html).count("&") == 0


def sides(html):
    return re.findall(r"<th [^>]*text-align:(left|right)", html)


def test_words_stand_left_and_figures_right():
    """Common practice, no source: what is read begins at one edge, what is compared ends at one."""
    rows = [["loss", "12.4", "≥ 15.97", "common practice", "–0.1 g; 95 % interval –0.9 to 0.6, four days paired"]]
    assert sides(page.table(["", "value", "sum", "rests on", "against"], rows)) == [
        "left", "right", "right", "left", "left",
    ]  # fmt: skip
    rows = [["a", "at least 12.3 g", "–"], ["b", "11 g", ""], ["c", "0.5 g", ""]]
    assert sides(page.table(["", "amount", "empty"], rows)) == ["left", "right", "right"]


def test_a_notebook_shows_the_sentence_and_no_code():
    """As IPython does it: a method `_render_traceback_` of an error replaces its traceback."""
    shell = InteractiveShell()
    with contextlib.redirect_stdout(io.StringIO()) as shown:
        assert not shell.run_cell("import kit; kit.Formula.from_weights('bun', {'flour': -5})").success
    assert shown.getvalue().strip() == (
        "AmountError: 'bread flour' must be an amount of 0 or more (got -5); weigh it again"
    )


def test_a_name_that_stands_as_written_goes_before_one_that_reads_alike():
    assert [one_of("taster", each, ("P_1", "P 1")) for each in ("P_1", "P 1")] == ["P_1", "P 1"]
