"""The production sheet on paper: one page, nothing cut, the numbers to weigh large; and the panel that writes it."""

import re

import conftest
import lab
import pytest

import kit
from kit import places

pytestmark = pytest.mark.browser
page = conftest.module_page
NAME = "hand_over.ipynb"
FOLDER = places.notebooks() / "formulas"
MM = 96 / 25.4  # CSS pixels
MARGIN = 7  # mm, of the sheet


@pytest.mark.parametrize("working", ["metric", "US"])
@pytest.mark.parametrize(("paper", "width"), [("A4", 210), ("Letter", 215.9)])
@pytest.mark.parametrize("name", ["crackle_bun", "crackle_bun_cocoa", "crackle_bun_sesame"])
def test_one_page_and_nothing_cut(browser, name, paper, width, working):
    bun = kit.Formula.read(FOLDER / f"{name}.toml")
    given = {"working": working, "made_by": "Ines", "valid_from": "2025-03-03", "water": {"room": 24, "flour": 20}}
    sheet = kit.production_sheet(bun, revision=4, **given)
    older = kit.production_sheet(bun.vary(butter=19), revision=3, **given)
    page = browser.new_page(viewport={"width": round((width - 2 * MARGIN) * MM), "height": 800})
    page.emulate_media(media="print")
    for html in (sheet.page(paper), sheet.page(paper, since=older)):
        page.set_content(html)
        assert page.evaluate("document.documentElement.scrollWidth") <= round((width - 2 * MARGIN) * MM)
        out = """[...document.querySelectorAll('main *')].filter(e => e.scrollWidth > e.clientWidth + 1
               && getComputedStyle(e).display != 'inline').map(e => e.className + e.textContent.slice(0, 30))"""
        assert page.evaluate(out) == []
        size = (
            "Math.min(...[...document.querySelectorAll('.weigh td:nth-child(3)')]"
            ".map(e => parseFloat(getComputedStyle(e).fontSize)))"
        )
        assert page.evaluate(size) >= 14 * 96 / 72 - 0.01  # 14 pt
        pdf = page.pdf(prefer_css_page_size=True)
        assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    page.close()


# the panel


def test_controls_move_cost_sheet_and_label_and_write_a_paper(page, panel, server):
    said = panel.get_by_role("status").filter(has_text="a piece costs")
    box = panel.get_by_role("textbox", name="butter:", exact=True)
    box.fill("25")
    box.press("Enter")
    lab.wait_idle(page)
    assert "A piece costs +0.0124 EUR" in said.inner_text()
    before = panel.inner_text()
    lab.press(page, panel.get_by_role("slider", name="egg, %", exact=True), times=4)
    assert "A piece costs +0.0124 EUR" not in said.inner_text()
    lab.press(page, panel.get_by_role("slider", name="margin, % of the price"), times=5)
    assert "at a margin of 70 % of the price" in panel.inner_text()
    box = panel.get_by_role("textbox", name="batch:", exact=True)
    box.fill("96")
    box.press("Enter")
    lab.wait_idle(page)
    assert "96 pieces cost" in panel.inner_text() != before
    box.fill("0")
    box.press("Enter")
    lab.wait_idle(page)
    assert "must be a whole number of pieces" in panel.get_by_role("alert").inner_text()
    assert "96 pieces cost" in panel.inner_text()
    panel.get_by_role("radio", name="US").check()
    panel.get_by_role("radio", name="Letter").check()
    lab.wait_idle(page)
    assert "draft for the US, not legal advice" in panel.inner_text()
    panel.get_by_role("button", name="label").press("Enter")
    lab.wait_idle(page)
    name = re.search(r"Written: (\S+)", panel.inner_text())[1]
    text = (server.folder / name).read_text(encoding="utf-8")
    assert "size: letter" in text
    assert "Draft label, US" in text
    panel.get_by_role("button", name="reset").press("Enter")
    lab.wait_idle(page)
    assert "Nothing has moved yet" in panel.inner_text()


def test_every_control_has_a_name_of_its_own(panel):
    for role, count in {"combobox": 1, "slider": 5, "textbox": 5, "radio": 6, "button": 6}.items():
        names = re.findall(rf'\b{role} "([^"]+)"', panel.aria_snapshot())
        assert len(set(names)) == count == panel.get_by_role(role).count(), names


def test_the_panel_is_one_screen_and_its_words_are_large_enough(page, panel):
    box = panel.get_by_role("textbox", name="butter:", exact=True)
    box.fill("25")  # what has moved is told too: the panel at its fullest
    box.press("Enter")
    lab.wait_idle(page)
    for _ in lab.at_sizes(page, {"width": 1280, "height": 900}, lab.TABLET_UPRIGHT):
        wide, sizes = lab.panels_laid_out(page)
        sizes += panel.evaluate(
            """panel => [...panel.querySelectorAll('p, td, th, div > b, label')]
                .filter(e => e.getBoundingClientRect().width).map(e => parseFloat(getComputedStyle(e).fontSize))"""
        )
        assert wide == []
        assert len(sizes) > 40
        assert min(sizes) >= 11
        room = page.locator(f"{lab.NOTEBOOK} .jp-WindowedPanel-outer").bounding_box()["height"]
        assert panel.bounding_box()["height"] <= room
