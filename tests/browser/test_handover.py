"""The production sheet on paper: one page of A4 and one of Letter, nothing cut, the numbers to weigh large."""

import re

import pytest

import kit

pytestmark = pytest.mark.browser
FOLDER = kit.places.notebooks() / "formulas"
MM = 96 / 25.4  # CSS pixels
MARGIN = 7  # mm, of the sheet


@pytest.mark.parametrize("working", ["metric", "US"])
@pytest.mark.parametrize(("paper", "width"), [("A4", 210), ("Letter", 215.9)])
@pytest.mark.parametrize("name", ["crackle_bun", "crackle_bun_cocoa", "crackle_bun_sesame"])
def test_one_page_and_nothing_cut(browser, name, paper, width, working):
    bun = kit.Formula.read(FOLDER / f"{name}.toml")
    given = {"working": working, "made_by": "Ines", "valid_from": "2025-03-03", "room": 24, "flour_temperature": 20}
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
            "Math.min(...[...document.querySelectorAll('.large')].map(e => parseFloat(getComputedStyle(e).fontSize)))"
        )
        assert page.evaluate(size) >= 14 * 96 / 72 - 0.01  # 14 pt
        pdf = page.pdf(prefer_css_page_size=True)
        assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    page.close()
