"""The trial book in JupyterLab: bakes chosen and printed, a bake entered, nothing lost when the kernel is killed."""

import os
import re
import secrets
import signal

import lab
import pytest
from conftest import write_notebook
from PIL import Image

import kit
from kit.show import entry_panel
from kit.trials import by_plan

pytestmark = pytest.mark.browser

YEAR = (
    """\
import kit
book = kit.TrialBook.open("{name}.db")
book.import_from("../trials/crackle_bun_trials.csv", "../formulas")
drawn = book.add_photo("T-001", "photo.jpg", view="top, drawn and invented", by="M2")
kit.show.SideBySidePanel(book, ["T-001", "T-003", "T-022"])
""",
    'kit.show.EntryPanel(book, "T-040", by="M2", formulas=[kit.Formula.read("../formulas/crackle_bun.toml")])',
)
OWN = """\
import os
import kit
from kit.trials import Trial
book = kit.TrialBook.open("{name}.db")
if not len(book):
    book.save(Trial.of("first", "2025-03-04"), by="M1")
print(os.getpid())
kit.show.EntryPanel(book, by="M1")
"""


@pytest.fixture
def opened(page, server):
    """The practice year as a book of its own, laid side by side and entered into."""
    name, folder = f"year_{secrets.token_hex(4)}", server.folder / "generated"
    Image.effect_noise((400, 300), 90).convert("RGB").save(folder / "photo.jpg")
    write_notebook(folder / f"{name}.ipynb", YEAR[0].format(name=name), YEAR[1])
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


@pytest.fixture
def entry(opened):
    panel = opened.locator(f"{lab.NOTEBOOK} .kit-entry").first
    panel.scroll_into_view_if_needed()
    return panel


def unfold(page, panel, title):
    panel.get_by_text(title, exact=True).click()
    lab.wait_idle(page)


def enter(page, panel, label, text):
    box = panel.get_by_label(label, exact=True)
    box.fill(text)
    box.press("Tab")
    page.wait_for_timeout(1000 * entry_panel.PAUSE + 200)  # what was typed is saved when the typing rests
    lab.wait_idle(page)
    return box


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
def test_six_side_by_side_and_the_entry_fit(opened, beside, entry, size):
    opened.set_viewport_size(size)
    if size == lab.TABLET_UPRIGHT:
        opened.keyboard.press("Control+b")  # folds the list of files away
    choose(opened, beside, "T-001", "T-002", "T-003", "T-004", "T-005", "T-006")
    unfold(opened, entry, "Measured")
    for panel in (".kit-panel", ".kit-entry"):
        wide = opened.evaluate(
            """name => {
                const panel = document.querySelector(name), right = panel.getBoundingClientRect().right + 1;
                return [...panel.querySelectorAll('*')].filter(e => e.getBoundingClientRect().width &&
                    e.getBoundingClientRect().right > right && !e.closest('svg')).map(e => e.className || e.tagName);
            }""",
            panel,
        )
        assert wide == []


def test_what_is_touched_is_large_and_has_a_name(opened, entry):
    for title in ("As weighed", "Measured", "Photos", "Notes, verdict, next change"):
        unfold(opened, entry, title)
        small = opened.evaluate(
            """() => [...document.querySelectorAll('.kit-entry input:not([type=radio]):not([type=file]),'
                + '.kit-entry textarea, .kit-entry select, .kit-entry button, .kit-entry .widget-radio-box label,'
                + '.kit-entry .jupyter-widget-Collapse-header')]
                .map(e => [e.getBoundingClientRect().height, parseFloat(getComputedStyle(e).fontSize), e.outerHTML])
                .filter(([height, size]) => height && (height < 44 || size < 18))"""
        )
        assert small == []
        for role in ("textbox", "radio", "combobox"):
            controls = re.findall(rf"- {role}\b(.*)", entry.aria_snapshot())
            names = [found[0] for rest in controls if (found := re.findall(r'"([^"]+)"', rest))]
            assert len(controls) == len(set(names)) > 0, controls


def test_an_entry_is_read_with_its_unit_or_asked_about(opened, entry):
    unfold(opened, entry, "Measured")
    box = enter(opened, entry, "height, mm", "4.2")
    assert "If cm was meant, write 4.2 cm" in entry.get_by_role("alert").inner_text()
    enter(opened, entry, "height, mm", "4.2 cm; 43")
    assert "read as 42; 43 mm" in entry.inner_text()
    assert box.input_value() == "4.2 cm; 43"
    assert entry.get_by_role("alert").count() == 0
    assert "saved, version 2" in entry.get_by_role("status").first.inner_text()


def test_letters_typed_while_it_is_being_saved_stay(opened, entry):
    """Typing goes on, slower than the rest after which it is saved: no letter is lost, none comes twice."""
    unfold(opened, entry, "Notes, verdict, next change")
    box = entry.get_by_label("notes", exact=True)
    box.fill("")
    text = "ribs sharp. "
    for letter in text:
        box.press_sequentially(letter)
        opened.wait_for_timeout(1000 * entry_panel.PAUSE + 120 if letter in " ." else 40)
    opened.wait_for_timeout(1000 * entry_panel.PAUSE + 200)
    box.press_sequentially("n")
    box.press("Backspace")  # back at what is saved, and on
    box.press_sequentially("and even", delay=60)
    assert box.input_value() == text + "and even"
    assert "saved, version" in entry.get_by_role("status").first.inner_text()


def test_what_was_weighed_is_entered_line_by_line(opened, entry):
    unfold(opened, entry, "As weighed")
    assert entry.get_by_label("dough: egg, g", exact=True).get_attribute("placeholder") == "planned 480"
    enter(opened, entry, "dough: egg, g", "540")
    assert "dough: egg weighed 18.00 % for 16.00 %" in entry.inner_text()
    assert entry.get_by_label("dough: salt, g", exact=True).input_value() == "48"


def test_nothing_is_lost_when_kernel_and_browser_are_killed(server, browser):
    """The kernel gets SIGKILL while a box is being typed into; a second browser opens the book."""
    write_notebook(server.folder / "generated" / "killed.ipynb", OWN.format(name="killed"))

    def begin():
        context = browser.new_context(base_url=server.url, viewport=lab.TABLET_UPRIGHT)
        context.request.get(f"/lab?token={server.token}")
        page = context.new_page()
        lab.watch_console(page)
        lab.open_notebook(page, "generated/killed.ipynb")
        lab.run_all(page)
        panel = page.locator(f"{lab.NOTEBOOK} .kit-entry").first
        listed = panel.get_by_label("trial", exact=True)
        listed.select_option([o for o in listed.locator("option").all_text_contents() if o.startswith("T-001")])
        lab.wait_idle(page)
        return context, page, panel

    context, page, panel = begin()
    unfold(page, panel, "Measured")
    enter(page, panel, "height, mm", "42; 43.5")
    unfold(page, panel, "Notes, verdict, next change")
    enter(page, panel, "notes", "ribs sharp, crumb open")
    panel.get_by_role("radio", name="keep").check()
    panel.get_by_label("reason", exact=True).press_sequentially("softer on the second d")
    lab.wait_idle(page)
    os.kill(int(lab.outputs(page, 0).first.inner_text()), signal.SIGKILL)
    context.close()
    for session in browser_sessions(browser, server):
        session()
    context, page, panel = begin()
    assert "reason: typed before the stop, saved now as version" in panel.inner_text()
    unfold(page, panel, "Measured")
    assert panel.get_by_label("height, mm", exact=True).input_value() == "42; 43.5"
    unfold(page, panel, "Notes, verdict, next change")
    assert panel.get_by_label("notes", exact=True).input_value() == "ribs sharp, crumb open"
    assert panel.get_by_role("radio", name="keep").is_checked()
    assert panel.get_by_label("reason", exact=True).input_value() == "softer on the second d"
    context.close()


def browser_sessions(browser, server):
    """Return what ends each running kernel, as when JupyterLab itself is started again."""
    request = browser.new_context(base_url=server.url).request
    signed = {"Authorization": f"token {server.token}"}
    sessions = request.get("/api/sessions", headers=signed).json()
    return [lambda s=s: request.delete(f"/api/sessions/{s['id']}", headers=signed) for s in sessions]


def test_a_photo_too_large_is_refused_in_words_and_the_next_is_kept(page, server, tmp_path):
    write_notebook(server.folder / "generated" / "photos.ipynb", OWN.format(name="photos"))
    lab.open_notebook(page, "generated/photos.ipynb")
    lab.run_all(page)
    panel = page.locator(f"{lab.NOTEBOOK} .kit-entry").first
    listed = panel.get_by_label("trial", exact=True)
    listed.select_option([o for o in listed.locator("option").all_text_contents() if o.startswith("T-001")])
    lab.wait_idle(page)
    unfold(page, panel, "Photos")
    Image.new("L", (10_000, 7_000)).save(tmp_path / "large.png")
    Image.effect_noise((2900, 3700), 90).convert("RGB").save(tmp_path / "fine.jpg", quality=97)
    for name, words in (("large.png", "must be at most 60 million pixels"), ("fine.jpg", "photo saved")):
        with page.expect_file_chooser() as chooser:
            panel.get_by_role("button", name=re.compile("photo")).click()
        chooser.value.set_files(str(tmp_path / name))
        panel.get_by_text(re.compile(words)).wait_for(timeout=30_000)
    assert (tmp_path / "fine.jpg").stat().st_size > 12_000_000  # as a phone's, through the wire
    assert panel.get_by_role("img", name="top").count() == 1
    assert lab.console_errors(page) == []
