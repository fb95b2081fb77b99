"""The trial book in JupyterLab: bakes chosen, laid side by side and printed."""

import re
import secrets

import lab
import pytest
from conftest import write_notebook
from PIL import Image

import kit
from kit.trials import by_plan

pytestmark = pytest.mark.browser

YEAR = """\
import kit
book = kit.TrialBook.open("{name}.db")
book.import_from("../trials/crackle_bun_trials.csv", "../formulas")
drawn = book.add_photo("T-001", "photo.jpg", view="top, drawn and invented", by="M2")
kit.show.SideBySidePanel(book, ["T-001", "T-003", "T-022"])
"""


@pytest.fixture
def opened(page, server):
    """The practice year as a book of its own, laid side by side."""
    name, folder = f"year_{secrets.token_hex(4)}", server.folder / "generated"
    Image.effect_noise((400, 300), 90).convert("RGB").save(folder / "photo.jpg")
    write_notebook(folder / f"{name}.ipynb", YEAR.format(name=name))
    lab.open_notebook(page, f"generated/{name}.ipynb")
    lab.run_all(page)
    yield page
    assert lab.errors_in_outputs(page) == []
    assert lab.console_errors(page) == []


@pytest.fixture
def beside(opened):
    panel = opened.locator(f"{lab.NOTEBOOK} .kit-panel").first
    panel.scroll_into_view_if_needed()
    return panel


def choose(page, panel, *codes):
    listed = panel.get_by_label("side by side", exact=True)
    labels = listed.locator("option").all_text_contents()
    listed.select_option([label for label in labels if label[:5] in codes])
    lab.wait_idle(page)


def says(panel, figure):
    return panel.locator("svg[role=img]").nth(figure).get_attribute("aria-label")


def test_bakes_are_found_chosen_and_laid_side_by_side(opened, beside):
    choose(opened, beside, "T-001", "T-022")
    assert "unsalted butter and sugar were changed together" in beside.inner_text()
    panel_search = beside.get_by_label("search", exact=True)
    panel_search.fill("cocoa")
    panel_search.press("Enter")
    beside.locator("option", has_text="T-005").first.wait_for(state="detached")
    opened.wait_for_function(  # the list is new; what was chosen is chosen again
        "() => document.querySelector('.kit-panel select[multiple]').selectedOptions.length === 2"
    )
    lab.wait_idle(opened)
    choose(opened, beside, "T-001", "T-004")
    assert says(beside, 1) == "Height of T-001 46.6 mm and T-004 46.6 mm."
    beside.get_by_label("the first", exact=True).select_option("T-004")
    lab.wait_idle(opened)
    assert says(beside, 0).startswith("Differences from T-004")
    beside.get_by_label("bake by bake", exact=True).select_option("liking")
    lab.wait_idle(opened)
    assert says(beside, 1).startswith("Liking of T-004")
    choose(opened, beside, "T-004")
    assert "must be 2 to 6" in beside.get_by_role("alert").inner_text()
    beside.get_by_role("button", name="undo").click()
    lab.wait_idle(opened)
    assert beside.get_by_role("alert").count() == 0
    beside.get_by_role("button", name="page").click()
    lab.wait_idle(opened)
    assert "side_by_side_T-004_T-001.html" in beside.get_by_role("status").filter(has_text="Written").inner_text()


@pytest.mark.parametrize(
    "codes",
    [
        ("T-001", "T-003", "T-004", "T-005", "T-022", "T-029"),
        ("T-023", "T-036", "T-027", "T-032", "T-012", "T-010"),  # differ in more, and so say more
        ("T-001", "T-002", "T-004", "T-027", "T-003", "T-034", "T-005", "T-030", "T-023", "T-025", "T-024", "T-036"),
    ],
    ids=["of one size", "of many sorts", "in pairs"],
)
def test_the_page_of_six_prints_on_one_sheet(browser, tmp_path, codes):
    """Chromium itself lays it out: one page in the PDF, with a photo of each though two were taken."""
    book = kit.TrialBook.open(tmp_path / "trials.db")
    book.import_from(kit.places.notebooks() / "trials" / "crackle_bun_trials.csv", kit.places.notebooks() / "formulas")
    for view in ("top", "cut"):
        Image.effect_noise((800, 600), 90).convert("RGB").save(tmp_path / f"{view}.jpg")
    for code in codes:
        for view in ("top", "cut"):
            book.add_photo(code, tmp_path / f"{view}.jpg", view, "M1")
    six = by_plan(book.trials(codes))
    (tmp_path / "page.html").write_text(kit.side_by_side(six, book.trials()).page(book), encoding="utf-8")
    page = browser.new_page()
    page.goto((tmp_path / "page.html").as_uri())
    printed = page.pdf(prefer_css_page_size=True)
    assert page.get_by_role("img").count() == len(codes)
    page.close()
    assert len(six) == 6
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1


def test_photos_have_words(beside):
    assert beside.get_by_role("img", name=re.compile("^T-001, top, drawn and invented")).count() == 1


@pytest.mark.parametrize("size", [lab.LAPTOP, lab.TABLET_UPRIGHT], ids=["laptop", "tablet upright"])
def test_six_side_by_side_fit(opened, beside, size):
    opened.set_viewport_size(size)
    if size == lab.TABLET_UPRIGHT:
        opened.keyboard.press("Control+b")  # folds the list of files away
    choose(opened, beside, "T-001", "T-002", "T-003", "T-004", "T-005", "T-006")
    for panel in (".kit-panel",):
        wide = opened.evaluate(
            """name => {
                const panel = document.querySelector(name), right = panel.getBoundingClientRect().right + 1;
                return [...panel.querySelectorAll('*')].filter(e => e.getBoundingClientRect().width &&
                    e.getBoundingClientRect().right > right && !e.closest('svg')).map(e => e.className || e.tagName);
            }""",
            panel,
        )
        assert wide == []
