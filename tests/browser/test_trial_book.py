"""Bakes side by side in JupyterLab: chosen, looked at, decided about by keyboard alone, and printed by Chromium."""

import re
import secrets

import conftest
import lab
import pytest
from conftest import write_notebook
from PIL import Image

import kit
from kit.trials import bench_page, by_plan

pytestmark = pytest.mark.browser
page = conftest.module_page

YEAR = """\
import kit
book = kit.TrialBook.open("{name}.db")
book.import_from("../trials/crackle_bun_trials.csv", "../formulas")
drawn = [book.add_photo(code, "photo.jpg", view="top, drawn and invented", by="M2") for code in ("T-001", "T-003")]
kit.show.SideBySidePanel(book, ["T-001", "T-003"])
"""


@pytest.fixture(scope="module")
def opened(page, server):
    """The practice year as a book of its own, laid side by side; opened and run once for all tests of this file."""
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
    """The panel with the two bakes that it begins with."""
    panel = opened.locator(f"{lab.NOTEBOOK} .kit-panel").first
    panel.scroll_into_view_if_needed()
    choose(opened, panel, "T-001", "T-003")
    return panel


def choose(page, panel, *codes):
    box = panel.get_by_label("bakes", exact=True)
    box.fill(" ".join(codes))
    box.press("Enter")
    lab.wait_idle(page)


def test_bakes_are_compared_decided_and_printed_by_keyboard_alone(opened, beside):
    keys = opened.keyboard

    def tab_to(label):
        for _ in range(30):
            keys.press("Tab")
            if (
                opened.evaluate("() => document.activeElement.closest('.widget-inline-hbox, button')?.innerText")
                == label
            ):
                return
        raise AssertionError(f"no key reaches {label}")

    def typed(text):
        keys.press("Control+a")
        keys.type(text)
        keys.press("Enter")
        lab.wait_idle(opened)

    beside.get_by_label("bakes", exact=True).focus()
    typed("T-014 T-013")
    assert beside.get_by_role("status").first.inner_text().startswith("24 % unsalted butter: softer on day 1")
    tab_to("by")
    typed("M2")
    tab_to("why")
    typed("softer for two days")
    tab_to("decide")
    keys.press("Enter")
    lab.wait_idle(opened)
    assert "T-013 is decided. keep: softer for two days (M2, " in beside.inner_text()
    tab_to("page")
    keys.press("Enter")
    lab.wait_idle(opened)
    assert "Written: side_by_side_T-014_T-013.html" in beside.inner_text()


def test_what_cannot_be_is_said_and_undone(opened, beside):
    choose(opened, beside, "T-999")
    assert "must be one of the book" in beside.get_by_role("alert").inner_text()
    beside.get_by_role("button", name="undo").click()
    lab.wait_idle(opened)
    assert beside.get_by_role("alert").count() == 0


def test_two_taps_give_a_photo_its_scale(opened, beside):
    assert beside.get_by_text("not to scale").count() == 2
    beside.get_by_text("The scale of a photo", exact=True).click()
    lab.wait_idle(opened)
    for code in ("T-001", "T-003"):
        beside.get_by_label("photo", exact=True).select_option(f"{code}, top, drawn and invented")
        lab.wait_idle(opened)
        drawn = beside.locator("svg [data-tap]")
        for x in (100, 300):
            drawn.click(position={"x": x, "y": 120})
            lab.wait_idle(opened)
        ends = [end.get_attribute("aria-valuenow") for end in beside.locator("svg [role=slider]").all()]
        assert sorted(map(float, ends)) == pytest.approx([100, 300], abs=3)
        beside.get_by_label("apart, mm", exact=True).fill("50")
        beside.get_by_label("apart, mm", exact=True).press("Enter")
        beside.get_by_role("button", name="keep", exact=True).click()
        lab.wait_idle(opened)
    assert beside.get_by_text("not to scale").count() == 0
    assert beside.get_by_text("to one scale").count() == 2


def test_eight_fit_each_in_its_column(opened, beside):
    choose(opened, beside, *(f"T-{n:03d}" for n in range(1, 9)))
    for _ in lab.at_sizes(opened):
        wide, _ = lab.panels_laid_out(opened)
        assert wide == []
        places = opened.evaluate(
            """() => [...document.querySelectorAll('.kit-panel .kit-live tr')].filter(r => r.cells.length === 9)
                .map(r => [...r.cells].map(c => Math.round(c.getBoundingClientRect().left)))"""
        )
        assert len(places) > 5
        assert all(row == places[0] for row in places)
    assert beside.get_by_role("img", name=re.compile("^T-001, top, drawn and invented")).count() == 1


PRINTED = {
    "one": ["T-003"],
    "two": ["T-001", "T-003"],
    "three": ["T-001", "T-003", "T-022"],
    "four": ["T-001", "T-003", "T-004", "T-005"],
    "four of many sorts": ["T-023", "T-036", "T-027", "T-012"],
    "six of many sorts": ["T-023", "T-036", "T-027", "T-032", "T-012", "T-010"],
    "eight": ["T-001", "T-002", "T-003", "T-004", "T-005", "T-008", "T-009", "T-022"],
    "two of four bakes": [f"T-{n:03d}" for n in range(13, 21)],
}


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    folder, notebooks = tmp_path_factory.mktemp("book"), kit.places.notebooks()
    book = kit.TrialBook.open(folder / "trials.db")
    book.import_from(notebooks / "trials" / "crackle_bun_trials.csv", notebooks / "formulas")
    views = {"top": (800, 600), "cut face": (600, 800)}
    for view, size in views.items():
        Image.effect_noise(size, 90).convert("RGB").save(folder / f"{view}.jpg")
    for code in {code for codes in PRINTED.values() for code in codes}:
        for view in views:
            book.add_photo(code, folder / f"{view}.jpg", view, "M1")
    long = book.trial("T-003").with_entry("notes", "Crumb a little tight at the base, crust a shade pale. " * 12)
    book.save(long.with_entry("deviations", "The second tray stood by the door and cooled down. " * 6), "M1")
    return book


def sheets(browser, html):
    """Return how many sheets a page prints on, the least size of its letters [pt], and how many photos it has."""
    page = browser.new_page()
    page.set_content(html)
    printed = page.pdf(prefer_css_page_size=True)
    page.emulate_media(media="print")
    least = page.evaluate(
        """() => Math.min(...[...document.body.querySelectorAll('*')]
            .filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()))
            .map(e => parseFloat(getComputedStyle(e).fontSize)))"""
    )
    photos = page.get_by_role("img").count()
    page.close()
    return len(re.findall(rb"/Type\s*/Page\b", printed)), least * 72 / 96, photos


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", PRINTED)
def test_up_to_four_print_on_one_sheet_and_up_to_eight_on_two(browser, filled, name, paper):
    given = filled.trials(PRINTED[name])
    found = kit.side_by_side(by_plan(given) if name == "two of four bakes" else given, filled.trials())
    columns = len(found.names)
    many, least, photos = sheets(browser, found.page(filled, paper))
    assert many == (1 if columns <= 4 else 2)
    assert least >= 9 - 1e-6
    assert photos == (2 if columns == 1 else columns)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_bench_page_is_one_sheet(browser, filled, paper):
    for code in ("T-001", "T-005"):
        many, least, _ = sheets(browser, bench_page(filled.trial(code), paper=paper))
        assert (many, least >= 9 - 1e-6) == (1, True)
