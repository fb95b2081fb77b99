"""The three lessons worked by keyboard alone in JupyterLab: one answer wrong, one right, and on."""

import re

import lab
import pytest

from kit.lessons import Progress, exercise, next_exercise
from kit.lessons.kinds import LESSONS
from tests.lessons.checking import written

pytestmark = pytest.mark.browser

NAMES = ("lesson_1_percentages", "lesson_2_hidden_water_and_fat", "lesson_3_topping_and_yield")
each_lesson = pytest.mark.parametrize("lesson", [1, 2, 3])


@pytest.fixture
def card(page, lesson):
    lab.open_notebook(page, f"{NAMES[lesson - 1]}.ipynb")
    lab.run_all(page)
    card = page.locator(f"{lab.NOTEBOOK} .kit-card").first
    card.get_by_role("button", name="next").wait_for()  # the parts of a widget are drawn one by one
    card.scroll_into_view_if_needed()
    lab.wait_idle(page)
    yield card
    assert lab.errors_in_outputs(page) == []
    assert lab.console_errors(page) == []


def typed(page, text):
    """Type an answer over what stands in the box, and press Enter."""
    page.keyboard.press("Control+a")
    page.keyboard.type(text)
    page.keyboard.press("Enter")
    lab.wait_idle(page)


def focused(page):
    return page.evaluate("document.activeElement.innerText || document.activeElement.type")


@each_lesson
def test_a_lesson_is_worked_by_keyboard_alone(page, card, lesson):
    cells = page.locator(f"{lab.NOTEBOOK} .jp-Cell").count()
    task = next_exercise(Progress(seed=1), LESSONS[lesson - 1])
    assert task.question in card.inner_text().replace("\u00a0", " ")
    _, value, meant, hint = task.misconceptions[0]
    card.get_by_role("textbox").focus()
    typed(page, written(task, value))
    alert = card.get_by_role("alert").inner_text().replace("\u00a0", " ")
    assert meant in alert
    assert hint in alert
    assert task.steps[0] not in card.inner_text().replace("\u00a0", " ")
    typed(page, written(task, task.misconceptions[1][1]))
    shown = card.inner_text().replace("\u00a0", " ")
    assert all(step in shown for step in task.steps)
    typed(page, written(task, task.answer))
    assert (
        card.get_by_role("status")
        .inner_text()
        .replace("\u00a0", " ")
        .startswith(f"Right: {task.in_words(task.answer)}")
    )
    page.keyboard.press("Enter")  # goes on, and the box is empty and has the keyboard
    lab.wait_idle(page)
    assert task.question not in card.inner_text().replace("\u00a0", " ")
    assert card.get_by_role("textbox").input_value() == ""
    assert card.get_by_role("textbox").evaluate("box => box === document.activeElement")
    progress = page.locator(f"{lab.NOTEBOOK}").get_by_text("1 exercise answered.")
    assert progress.count() == 1
    page.keyboard.press("Tab")
    assert focused(page) == "mark"
    page.keyboard.press("Tab")
    assert focused(page) == "hint"
    page.keyboard.press("Enter")
    lab.wait_idle(page)
    assert card.get_by_role("status").inner_text().startswith("Hint: ")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")  # next, before any answer
    lab.wait_idle(page)
    assert "Answer this one first" in card.get_by_role("status").inner_text()
    page.keyboard.type("d1dxa")  # no command of the notebook
    page.keyboard.press("ArrowDown")
    lab.wait_idle(page)
    assert focused(page) == "next"
    assert page.locator(f"{lab.NOTEBOOK} .jp-Cell").count() == cells
    for _ in range(3):
        page.keyboard.press("Shift+Tab")
    typed(page, "1")
    assert "You answered 1" in card.get_by_role("alert").inner_text()
    for _ in range(3):
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")  # next, after a wrong answer: the box has the keyboard again
    lab.wait_idle(page)
    assert card.get_by_role("alert").count() == 0
    assert card.get_by_role("textbox").evaluate("box => box === document.activeElement")
    assert card.get_by_role("textbox").input_value() == ""


@pytest.mark.parametrize("lesson", [3])
def test_a_base_is_chosen_by_keyboard(page, card, lesson):
    """The third lesson begins with what a topping's 100 is."""
    task = exercise("topping_base", seed=1)
    card.get_by_role("textbox").focus()
    typed(page, f"{task.answer:.1f} %")
    assert "choose it beside" in card.get_by_role("alert").inner_text()
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    assert card.get_by_role("radio", name="flour", exact=True).is_checked()
    page.keyboard.press("ArrowDown")
    assert card.get_by_role("radio", name="flour and cocoa").is_checked()
    page.keyboard.press("Enter")
    lab.wait_idle(page)
    assert card.get_by_role("status").inner_text().startswith("Right")


@pytest.mark.parametrize("lesson", [1])
def test_mark_takes_what_stands_in_the_box_however_fast(page, card, lesson):
    card.get_by_role("textbox").focus()
    for n in range(1, 9):
        page.keyboard.press("Control+a")
        page.keyboard.type(f"{n}.5 %")
        if n % 2:
            card.get_by_role("button", name="mark").click()
            card.get_by_role("textbox").focus()
        else:
            page.keyboard.press("Enter")
    lab.wait_idle(page)
    assert "You answered 8.5" in card.get_by_role("alert").inner_text()


@each_lesson
def test_each_dial_of_the_pictures_moves_and_has_a_name(page, card, lesson):
    for panel in page.locator(f"{lab.NOTEBOOK} .kit-panel").all():
        handles = panel.get_by_role("slider")
        names = re.findall(r'\bslider "([^"]+)"', panel.aria_snapshot())
        assert len(set(names)) == handles.count() >= 1
        for handle in handles.all():
            before = panel.get_by_role("status").inner_text()
            lab.press(page, handle, times=2)
            assert panel.get_by_role("status").inner_text() != before  # the words tell of each dial
            assert panel.locator("svg[role=img]").get_attribute("aria-label")
        assert panel.get_by_role("alert").count() == 0


@each_lesson
@pytest.mark.parametrize("size", [{"width": 1280, "height": 900}, lab.TABLET_UPRIGHT], ids=["laptop", "tablet upright"])
def test_it_fits_and_its_words_are_large_enough(page, card, lesson, size):
    page.set_viewport_size(size)
    if size == lab.TABLET_UPRIGHT:
        page.keyboard.press("Control+b")  # folds the list of files away
    lab.wait_idle(page)
    assert lab.too_wide(page) == []
    sizes = page.evaluate(
        """() => [...document.querySelectorAll('.kit-panel svg text')].map(text => {
            const svg = text.ownerSVGElement;
            return parseFloat(getComputedStyle(text).fontSize) * svg.getBoundingClientRect().width
                / svg.viewBox.baseVal.width; })"""
    )
    assert len(sizes) >= 2
    assert min(sizes) >= 11
