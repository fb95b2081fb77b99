"""The panel of bakes side by side: what is chosen is compared, what can't be is said."""

import io
import re
import shutil

import pytest
from PIL import Image

import kit
from kit.show import SideBySidePanel
from kit.trials import Trial, TrialBook

NOTEBOOKS = kit.places.notebooks()


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    path = tmp_path_factory.mktemp("book") / "trials.db"
    with TrialBook.open(path) as book:
        book.import_from(NOTEBOOKS / "trials" / "crackle_bun_trials.csv", NOTEBOOKS / "formulas")
    return path


@pytest.fixture
def path(filled, tmp_path):
    return shutil.copy(filled, tmp_path / "trials.db")


@pytest.fixture
def book(path):
    with TrialBook.open(path) as opened:
        yield opened


def photo(colour="red"):
    out = io.BytesIO()
    Image.new("RGB", (640, 480), colour).save(out, "JPEG")
    return out.getvalue()


# ---- side by side


@pytest.fixture
def panel(book, tmp_path):
    return SideBySidePanel(book, ["T-001", "T-003"], tmp_path)


def choose(panel, *codes):
    panel.choices["trials"].value = codes


def shown(panel):
    """All that the panel says, what opens on asking too."""
    panel._behind.selected_index = 0
    return panel._live.value + panel._table.value


def test_what_is_chosen_is_compared_the_earliest_first(panel):
    choose(panel, "T-022", "T-001", "T-003")
    assert panel.result.names == ("T-001", "T-003", "T-022")
    assert "planned differently" in panel._live.value
    assert "unsalted butter and sugar were changed together, so the cause" in panel._live.value
    assert "came out" not in panel._live.value
    said = shown(panel)
    assert said.index("planned differently") < said.index("came out") < said.index("73.9 (+0.5); 1/10")
    choose(panel, "T-001", "T-022")
    assert "T-022" in panel._table.value  # what is open follows
    assert "T-003" not in panel._table.value


def test_another_first_turns_the_difference_round(panel):
    def height():
        return next(row for row in panel.result.responses if row.name == "height").differences[0].value

    before = height()
    panel.choices["first"].value = "T-003"
    assert panel.result.names == ("T-003", "T-001")
    assert height() == pytest.approx(-before)


@pytest.mark.parametrize("count", [0, 1, 7])
def test_too_few_or_too_many_are_refused_in_words_and_the_picture_stays(panel, count):
    shown = panel._live.value
    choose(panel, *(f"T-{n:03d}" for n in range(1, count + 1)))
    assert "must be 2 to 6" in panel._problem.value
    assert panel._live.value == shown
    choose(panel, "T-001", "T-003", "T-004")
    assert panel._problem.value == ""
    assert len(panel.result.names) == 3


def test_the_search_offers_what_it_finds_and_keeps_what_is_chosen(panel):
    panel.search.value = "cocoa"
    assert [code for _, code in panel.choices["trials"].options] == ["T-001", "T-003", "T-039", "T-027", "T-004"]
    assert panel.choices["trials"].value == ("T-001", "T-003")
    choose(panel, "T-001", "T-039")
    panel.search.value = "no such bun"
    assert panel.result.names == ("T-001", "T-039")
    assert [code for _, code in panel.choices["trials"].options] == ["T-001", "T-039"]


def test_nothing_found_is_said_and_forgotten(panel):
    panel.search.value = "no such <bun>"
    assert "Nothing found for &#x27;no such &lt;bun&gt;&#x27;" in panel.found.value
    panel.search.value = ""
    assert panel.found.value == ""


def offered(panel):
    return {code for _, code in panel.choices["trials"].options}


def test_a_tap_adds_one_and_another_tap_takes_it_away(panel):
    """A finger can't hold Ctrl. Each tap is one step back, and the box is ready for the next."""
    panel.tapped.value = "T-022"
    assert panel.result.names == ("T-001", "T-003", "T-022")
    assert panel.tapped.label == "tap one"
    assert [words for words, code in panel.tapped.options if code == "T-022"][0].startswith("✓ T-022")
    marks = [words[0] for words, code in panel.tapped.options if code]
    assert marks == sorted(marks, reverse=True)  # what can be taken away stands first
    panel.tapped.value = "T-003"
    assert panel.result.names == ("T-001", "T-022")
    assert [words for words, code in panel.tapped.options if code == "T-003"][0].startswith("+ T-003")
    panel.undo()
    assert panel.result.names == ("T-001", "T-003", "T-022")
    panel.search.value = "cocoa"
    assert {code for _, code in panel.tapped.options} == {""} | offered(panel)


def test_a_code_in_a_head_does_not_break_at_its_hyphen(panel):
    choose(panel, *(f"T-{n:03d}" for n in range(1, 7)))
    heads = re.findall(r"<th[^>]*>(.*?)</th>", shown(panel))
    codes = [head for head in heads if "T-0" in head]
    assert len(codes) >= 12
    assert all(re.fullmatch(r'<span style="white-space:nowrap">T-\d{3}</span>', head) for head in codes)


def test_undo_and_reset_bring_back_choices(panel):
    panel.search.value = "cocoa"
    choose(panel, "T-004", "T-027")
    panel.search.value = "sesame"
    panel.choices["first"].value = "T-027"
    panel.undo()
    assert panel.result.names == ("T-004", "T-027")
    panel.undo()
    assert panel.result.names == ("T-001", "T-003")
    choose(panel, "T-001", "T-005")
    panel.reset()
    assert panel.result.names == ("T-001", "T-003")
    panel.undo()
    assert panel.result.names == ("T-001", "T-005")


def test_undo_out_of_a_choice_that_could_not_be(panel):
    choose(panel, "T-001")
    choose(panel)
    panel.undo()
    assert "must be 2 to 6" in panel._problem.value
    panel.undo()
    assert panel._problem.value == ""


def test_repeats_of_one_plan_stand_in_one_column(panel):
    """The demo's pairs: butter 24 against 18 on four days, so two columns of four bakes."""
    panel.choices["together"].value = True
    choose(panel, *(f"T-{n:03d}" for n in range(13, 21)))
    assert [len(column) for column in panel.result.trials] == [4, 4]
    assert "4 days paired" in panel._live.value


def test_the_response_asked_for_stays_where_it_was_measured(panel):
    panel.choices["response"].value = "crumb_dent day 1"
    assert panel.alt[1].startswith("Crumb dent, day 1 of T-001")
    choose(panel, "T-001", "T-022")
    assert panel.choices["response"].value == "crumb_dent day 1"  # measured of T-001
    assert "T-022 not measured" in panel.alt[1]


def test_the_page_is_written_and_named(panel, book, tmp_path):
    book.add_photo("T-001", photo(), "cut face", "M1")
    panel.page_button.click()
    (page,) = tmp_path.glob("*.html")
    assert page.name == "side_by_side_T-001_T-003.html"
    assert page.name in panel.written.value
    text = page.read_text(encoding="utf-8")
    assert text.count("<img") == 1
    assert "T-001 and T-003 side by side (invented)" in text


def test_a_folder_that_is_none_is_said(book, tmp_path):
    panel = SideBySidePanel(book, ["T-001", "T-003"], tmp_path / "none")
    assert panel.write_page() is None
    assert "in a folder that can be written" in panel._problem.value.replace("&#x27;", "'")


def test_photos_are_shown_small(panel, book):
    book.add_photo("T-003", photo(), "side", "M1")
    choose(panel, "T-001", "T-003", "T-004")
    assert 'alt="T-003, side, 2025-02-01"' in panel._live.value


def test_names_are_shown_as_text(book, tmp_path):
    bad = '<script>alert("x")</script>'
    for n in (1, 2):
        trial = Trial.of(bad, f"2026-03-0{n}", mixer=bad + str(n), height=40 + n)
        book.add_photo(book.save(trial, "M1"), photo(), bad, "M1")
    panel = SideBySidePanel(book, folder=tmp_path)
    assert shown(panel).count("&lt;script") >= 4
    assert "<script" not in shown(panel)
    assert "<script" not in panel.write_page().read_text(encoding="utf-8")


def test_a_book_with_too_few_says_so(tmp_path):
    with TrialBook.open(tmp_path / "new.db") as empty:
        panel = SideBySidePanel(empty)
        assert "in the book); enter a bake.<" in panel._problem.value
        assert panel.write_page() is None
