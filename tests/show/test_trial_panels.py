"""Bakes side by side in a panel: what is chosen is compared, decided about and printed; what can't be is said."""

import io
import re

import pytest
from PIL import Image

import kit
from kit.show import SideBySidePanel
from kit.trials import Trial, TrialBook

NOTEBOOKS = kit.places.notebooks()


@pytest.fixture
def book(path):
    with TrialBook.open(path) as opened:
        yield opened


@pytest.fixture
def panel(book, tmp_path):
    return SideBySidePanel(book, ["T-001", "T-003"], tmp_path)


def photo(colour="red", size=(640, 480)):
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, "JPEG")
    return out.getvalue()


def choose(panel, *codes):
    panel.choices["trials"].value = " ".join(codes)


def opened(panel, title):
    panel._behind.selected_index = panel._behind.titles.index(title)
    return panel._opened[title].value


def cells(html):
    """Return the cells of each row of the tables as plain text."""
    found = re.findall(r"<tr>(.*?)</tr>", html)
    return [[re.sub("<[^>]*>", "", each) for each in re.findall(r"<t[dh].*?</t[dh]>", row)] for row in found]


def test_the_verdict_leads_and_the_rest_is_folded(panel):
    said = panel._live.value
    assert said.index("22 % unsalted butter: softer on day 0") < said.index("planned otherwise")
    assert said.index("planned otherwise") < said.index("written down") < said.index("what differs")
    assert ["unsalted butter, %", "18", "22"] in cells(said)
    assert "baked mass" not in said
    assert "73.4" in opened(panel, "The other figures")


@pytest.mark.parametrize("count", range(2, 9))
def test_each_bake_keeps_its_column_on_every_line(panel, count):
    codes = [f"T-{n:03d}" for n in range(1, count + 1)]
    choose(panel, *codes)
    lines = [row for row in cells(panel._live.value + opened(panel, "The other figures")) if len(row) > 1]
    assert {len(row) for row in lines} == {count + 1}
    assert [cell[:5] for cell in lines[0][1:]] == codes


def test_the_first_written_is_compared_with(panel):
    before = panel.result.told(1)
    choose(panel, "T-003", "T-001")
    assert panel.result.names == ("T-003", "T-001")
    assert [row.name for row in panel.result.told(1)] == [row.name for row in before]
    assert panel.result.words.startswith("18 % unsalted butter: firmer")


def test_what_cannot_be_is_said_and_the_picture_stays(panel):
    shown = panel._live.value
    for codes, said in (
        (["T-999"], "one of the book"),
        ([f"T-{n:03d}" for n in range(1, 10)], "1 to 8"),
        ([], "tap some"),
    ):
        choose(panel, *codes)
        assert said in panel._problem.value
        assert panel._live.value == shown
    panel.undo()
    panel.undo()
    panel.undo()
    assert panel.result.names == ("T-001", "T-003")
    assert panel._problem.value == ""


def test_a_tap_adds_what_was_found_and_another_takes_it_away(panel):
    panel.find.value = "cocoa"
    assert [code for _, code in panel.add.options] == ["", "T-039", "T-027", "T-004"]
    panel.add.value = "T-004"
    assert panel.result.names == ("T-001", "T-003", "T-004")
    assert panel.add.value == ""
    assert [words for words, code in panel.add.options if code == "T-004"][0].startswith("✓ T-004")
    panel.add.value = "T-004"
    assert panel.result.names == ("T-001", "T-003")
    panel.find.value = "no such bun"
    assert panel.add.options[0][0] == "nothing found"


def test_repeats_stand_in_one_column_and_only_then_is_there_a_chart(panel):
    """The invented pairs: butter 24 against 18 on four days, so two columns of four bakes."""
    assert panel.choices["response"].layout.display == "none"
    panel.choices["together"].value = True
    choose(panel, *(f"T-{n:03d}" for n in (14, 13, 15, 16, 17, 18, 19, 20)))
    assert [len(column) for column in panel.result.trials] == [4, 4]
    assert panel.alt[0].startswith("Height of unsalted butter 18 %")
    panel.choices["response"].value = "crumb_dent day 2"
    assert panel.alt[0].startswith("Crumb dent, day 2")


def test_photos_stand_to_one_scale_where_each_has_one(panel, book):
    """By hand: 100 mm over half of one photo and 120 mm over half of the other: 200 and 240 mm wide, 83.3 % and 100."""
    for code, colour in (("T-001", "red"), ("T-003", "green")):
        book.add_photo(code, photo(colour), "cut face", "M1")
    panel._recompute(None)
    assert panel._live.value.count("not to scale") == 2
    scale = panel._scale
    assert scale.between.value == "97.6"  # the bake's own diameter is offered
    for name, apart in (("T-001, cut face", "100"), ("T-003, cut face", "12 cm")):
        scale.photo.value = name
        for x in (100, 360):  # two taps, half of the 520 px apart
            scale._live.place = ["photo", x, 100]
        scale.between.value = apart
        scale._keep()
    assert "not to scale" not in panel._live.value
    assert panel._live.value.count("to one scale") == 2
    assert re.findall(r"width:([\d.]+)%\" src", panel._live.value) == ["83.3", "100.0"]
    scale._live.steps = {"1": [10, 0]}
    assert scale._ends[1][0] == pytest.approx(370)
    scale.between.value = "wide"
    scale._keep()
    assert "must be" in scale.said.value


def test_a_decision_closes_a_trial_and_shows(panel, book):
    panel.about.value, panel.verdict.value, panel.why.value, panel.by.value = "T-001", "keep", "holds its dome", "M2"
    panel.decide()
    assert book.trial("T-001").decision.startswith("keep: holds its dome (M2, ")
    assert "keep: holds its dome" in panel._live.value
    assert "T-001 is decided" in panel.written.value
    assert "keep: holds its dome" in [words for words, code in panel.add.options if code == "T-001"][0]
    assert "keep: holds its dome" in book.lineage()._repr_html_()
    assert SideBySidePanel(book, ["T-001"]).by.value == "M2"
    panel.why.value = ""
    panel.decide()
    assert "must be given" in panel._problem.value


@pytest.mark.parametrize(
    ("codes", "name"), [(["T-001", "T-003"], "side_by_side_T-001_T-003.html"), (["T-003"], "T-003.html")]
)
def test_the_page_is_written_and_named(panel, book, tmp_path, codes, name):
    for code in codes:
        book.add_photo(code, photo(), "cut face", "M1")
    choose(panel, *codes)
    panel.paper.value = "Letter"
    assert panel.write_page() == tmp_path / name
    assert name in panel.written.value
    text = (tmp_path / name).read_text(encoding="utf-8")
    assert text.count("<img") == len(codes)
    assert "(invented)" in text
    assert "size: letter" in text
    assert ("icing sugar" in text) == (len(codes) == 1)  # the formula of one bake alone


def test_a_folder_that_is_none_is_said(book, tmp_path):
    panel = SideBySidePanel(book, ["T-001", "T-003"], tmp_path / "none")
    assert panel.write_page() is None
    assert "in a folder that can be written" in panel._problem.value.replace("&#x27;", "'")


def test_names_are_shown_as_text(book, tmp_path):
    bad = '<script>alert("x")</script>'
    for n in (1, 2):
        trial = Trial.of(bad, f"2026-03-0{n}", mixer=bad + str(n), height=40 + n)
        book.add_photo(book.save(trial, "M1"), photo(), bad, "M1")
    panel = SideBySidePanel(book, folder=tmp_path)
    said = panel._live.value + opened(panel, "Who came from whom") + panel._scale._live.value
    assert "&lt;script" in said
    assert "<script" not in said
    assert "<script" not in panel.write_page().read_text(encoding="utf-8")


def test_an_empty_book_shows_the_invented_year_to_practise_on_and_keeps_nothing_of_it(tmp_path):
    panel = SideBySidePanel(tmp_path / "ours.db", folder=tmp_path)
    assert panel.choices["year"].value
    assert panel.result.names == ("T-001", "T-003")
    panel.verdict.value, panel.why.value, panel.by.value = "drop", "only to practise", "M1"
    panel.decide()
    assert "drop: only to practise" in panel._live.value
    assert len(panel.own) == 0
    for n in (1, 2):
        panel.own.save(Trial.of(f"bun {n}", f"2026-03-0{n}", height=40 + n), "M1")
    panel.choices["year"].value = False
    assert panel.result.names == ("T-001", "T-002")
    assert "ours.db" in panel._live.value
    assert not SideBySidePanel(tmp_path / "ours.db").choices["year"].value
    assert "fewer" not in panel._problem.value


def test_what_bakes_teach_opens_on_asking(panel):
    said = cells(opened(panel, "What your bakes teach"))
    assert any(row[0] == "bake loss dough" and row[-1] == "36" for row in said)
    few = SideBySidePanel(panel.book, ["T-001", "T-003"])
    few._kitchen = few._kitchen[:1]
    assert "must be" in opened(few, "What your bakes teach")


def test_a_reason_that_comes_after_the_click_still_decides(panel):
    panel.by.value = "M1"
    panel.decide()
    assert "decided" not in panel.written.value
    panel.why.value = "softer"
    assert "is decided" in panel.written.value
    assert panel.why.value == ""
    panel.written.value = ""
    panel.why.value = "typed, and nothing pressed"
    assert panel.written.value == ""
