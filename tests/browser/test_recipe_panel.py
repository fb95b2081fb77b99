"""A recipe brought in by keyboard alone, in JupyterLab: pasted, read, answered, taken, and at hand. It is invented."""

import lab
import pytest

pytestmark = pytest.mark.browser
PAPER = "Poppy knots (makes 24)\n1 kg flour\n3 eggs\n2 cups milk\n150 g butter\n2 sachets dried yeast\nsome poppy seed"


@pytest.fixture
def panel(page, server):
    try:
        with lab.panel_of(page, "start_here.ipynb") as shown:
            yield shown
    finally:  # the next test's notebooks begin with the bun again
        for name in ("poppy_knots.toml", ".at_hand"):
            (server.folder / "formulas" / name).unlink(missing_ok=True)


def test_a_recipe_comes_in_by_keyboard(page, panel, server):
    panel.get_by_role("button", name="bring a recipe").focus()
    page.keyboard.press("Enter")
    lab.wait_idle(page)
    panel.get_by_label("recipe", exact=True).fill(PAPER)
    page.keyboard.press("Tab")  # to "read it"
    page.keyboard.press("Enter")
    lab.wait_idle(page)
    assert "5 questions open" in panel.inner_text()
    assert lab.too_wide(page) == []
    for _ in range(40):
        page.keyboard.press("Tab")
        told = page.evaluate("[document.activeElement.tagName, document.activeElement.innerText || '']")
        if told[0] == "SELECT":
            page.keyboard.press("ArrowDown")
        elif told == ["BUTTON", "leave it out"]:
            page.keyboard.press("Enter")
        lab.wait_idle(page)
        if told == ["BUTTON", "take it"]:
            break
    assert "Every line is read" in panel.inner_text()
    page.keyboard.press("Enter")
    lab.wait_idle(page)
    assert "Poppy knots is kept" in panel.inner_text()
    chosen = panel.get_by_label("formula", exact=True).evaluate("list => list.selectedOptions[0].text")
    assert chosen.replace("\u00a0", " ").startswith("Poppy knots, ")
    at_hand = server.folder / "formulas" / ".at_hand"
    assert at_hand.read_text(encoding="utf-8") == "poppy_knots.toml\n"
    assert at_hand.with_name("poppy_knots.toml").is_file()
