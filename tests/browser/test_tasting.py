"""A tasting in JupyterLab and on paper: the panel under the hand, cards that are whole, a key of one page."""

import re

import conftest
import lab
import pytest

import kit

pytestmark = pytest.mark.browser
page = conftest.module_page
NAME = "tasting.ipynb"
MM = 96 / 25.4  # CSS pixels
TWO = ["plain", "25 % butter"]


@pytest.mark.parametrize(("paper", "width"), [("A4", 210), ("Letter", 215.9)])
@pytest.mark.parametrize("test", ["triangle", "preference", "ranking"])
def test_cards_and_key_are_whole(browser, test, paper, width):
    bun = kit.Formula.read(kit.places.notebooks() / "formulas" / "crackle_bun_sesame.toml")
    samples = dict.fromkeys(TWO, bun)
    samples |= dict.fromkeys(["sesame", "cocoa"], bun) if test == "ranking" else {}
    plan = kit.serving_plan(test, samples, 24, seed=7, served="crust")
    page = browser.new_page(viewport={"width": round((width - 20) * MM), "height": 900})
    page.emulate_media(media="print")
    for html, pages in ((plan.cards(paper), 3), (plan.key(paper), 1)):
        page.set_content(html)
        assert page.evaluate("document.documentElement.scrollWidth") <= round((width - 20) * MM)
        cut = """[...document.querySelectorAll('section *')].filter(e => e.scrollWidth > e.clientWidth + 1
               && getComputedStyle(e).display != 'inline').map(e => e.textContent.slice(0, 30))"""
        assert page.evaluate(cut) == []
        printed = len(re.findall(rb"/Type\s*/Page\b", page.pdf(prefer_css_page_size=True)))
        assert printed == pages
    page.set_content(plan.cards(paper))
    high = page.evaluate("[...document.querySelectorAll('section')].map(e => e.getBoundingClientRect().height)")
    assert len(high) == 24
    assert max(high) - min(high) < 1
    dark = """[...document.querySelectorAll('section, section *')].every(e =>
              ['rgb(0, 0, 0)', 'rgb(255, 255, 255)'].includes(getComputedStyle(e).color))"""
    assert page.evaluate(dark)
    page.close()


# the panel


def test_controls_move_what_is_needed_and_what_is_said(page, panel):
    said = panel.get_by_role("status")
    for name, number in (("how many:", "12"), ("right:", "8")):
        panel.get_by_role("textbox", name=name, exact=True).fill(number)
        panel.get_by_role("textbox", name=name, exact=True).press("Enter")
        lab.wait_idle(page)
    assert "8 of 12 right, 8 needed" in said.inner_text().replace("\u00a0", " ")
    lab.press(page, panel.get_by_role("slider", name="right, answers", exact=True), key="ArrowLeft", times=2)
    assert "6 of 12 right, 8 needed" in said.inner_text().replace("\u00a0", " ")
    assert "not the same as alike" in said.inner_text()
    lab.press(page, panel.get_by_role("slider", name="how many, tasters", exact=True), times=12)
    assert "6 of 24 right, 13 needed" in said.inner_text().replace("\u00a0", " ")
    panel.get_by_role("radio", name="preference").check()
    lab.wait_idle(page)
    assert "18 of 24 prefer 25 % butter, 18 needed" in said.inner_text().replace("\u00a0", " ")
    box = panel.get_by_role("textbox", name="right:", exact=True)
    box.fill("30")
    box.press("Enter")
    lab.wait_idle(page)
    assert "must be a whole number from 0 to 24 (got 30)" in panel.get_by_role("alert").inner_text()
    assert "18 of 24 prefer" in said.inner_text().replace("\u00a0", " ")
    panel.get_by_role("button", name="reset").press("Enter")
    lab.wait_idle(page)
    assert "14 of 23 right, 12 needed" in said.inner_text().replace("\u00a0", " ")


def test_every_control_has_a_name_of_its_own(panel):
    for role, count in {"slider": 3, "textbox": 3, "radio": 2, "button": 3}.items():
        names = re.findall(rf'\b{role} "([^"]+)"', panel.aria_snapshot())
        assert len(set(names)) == count == panel.get_by_role(role).count(), names


def test_the_panel_fits_and_its_words_are_large_enough(page, panel):
    for _ in lab.at_sizes(page):
        wide, _ = lab.panels_laid_out(page)
        assert wide == []
        words = panel.locator(".kit-live *")
        sizes = words.evaluate_all("all => all.map(e => parseFloat(getComputedStyle(e).fontSize))")
        assert len(sizes) > 10
        assert min(sizes) >= 11
