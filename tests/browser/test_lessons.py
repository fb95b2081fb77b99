"""The three lessons worked by keyboard alone in JupyterLab, as one who can do little and as one who gets all right."""

import os
import re
import shutil

import lab
import pytest

from kit.lessons import exercises, learners, next_exercise
from kit.lessons.kinds import LESSONS
from tests.lessons.checking import written

pytestmark = pytest.mark.browser

NAMES = ("lesson_1_percentages", "lesson_2_hidden_water_and_fat", "lesson_3_topping_and_yield")
FULL = bool(os.environ.get("KIT_TEST_FULL"))
ZOOMED = {"width": 640, "height": 400}  # what 200 % leaves of a laptop
each_lesson = pytest.mark.parametrize("lesson", [1, 2, 3])


@pytest.fixture
def card(page, server, lesson):
    lab.open_notebook(page, f"{NAMES[lesson - 1]}.ipynb")
    yield run(page, server)
    assert lab.errors_in_outputs(page) == []
    assert lab.console_errors(page) == []


def run(page, server):
    """Run a lesson that was opened, of which nobody has done anything; return its card."""
    shutil.rmtree(server.folder / "progress", ignore_errors=True)
    lab.run_all(page)
    card = page.locator(f"{lab.NOTEBOOK} .kit-card").first
    card.get_by_role("button", name="got it").wait_for()  # the parts of a widget are drawn one by one
    card.scroll_into_view_if_needed()
    lab.wait_idle(page)
    return card


def told(locator):
    return locator.inner_text().replace("\u00a0", " ")


def typed(page, text):
    """Type an answer over what stands in the box, and press Enter."""
    page.keyboard.press("Control+a")
    page.keyboard.type(text)
    page.keyboard.press("Enter")
    lab.wait_idle(page)


def focused(page):
    return page.evaluate("document.activeElement.innerText || document.activeElement.type")


def press(page, name, key="Tab"):
    """Go to a button by keyboard, and press it."""
    for _ in range(12):
        if focused(page) == name:
            break
        page.keyboard.press(key)
    assert focused(page) == name
    page.keyboard.press("Enter")
    lab.wait_idle(page)


def named(page, card, name):
    """Give a first name, as one does at first."""
    card.get_by_role("textbox", name="first name").focus()
    typed(page, name)
    assert f"{name}'s card." in told(card)


def in_sight(page, locator):
    """Whether a thing lies within what is seen of the notebook."""
    box, whole = locator.bounding_box(), page.locator(f"{lab.NOTEBOOK} .jp-WindowedPanel-outer").bounding_box()
    return whole["y"] - 1 <= box["y"] and box["y"] + box["height"] <= whole["y"] + whole["height"] + 1


class Learner:
    """One who works through a lesson by keyboard alone: what is expected is read off the file that the card keeps."""

    def __init__(self, page, card, server, lesson, name):
        self.page, self.card, self.folder, self.name = page, card, server.folder / "progress", name
        self.lesson, self.met = LESSONS[lesson - 1], set()
        named(page, card, name)

    @property
    def progress(self):
        (mine,) = [one for one in learners(self.folder) if one.learner == self.name]
        return mine

    def answer(self, task, value):
        if task.choices:
            wanted = self.card.get_by_role("radio", name=task.choices[int(value)], exact=True)
            self.page.keyboard.press("Space")  # the keyboard is on the first word, or on the one chosen last
            for _ in task.choices:
                if not wanted.is_checked():
                    self.page.keyboard.press("ArrowDown")
            assert wanted.is_checked()
            self.page.keyboard.press("Enter")
            lab.wait_idle(self.page)
        else:
            typed(self.page, written(task, value))

    def must_see_where_to_answer(self, task):
        where = (
            "button:has-text('got it')" if task.stage == "worked" else ".kit-choice" if task.choices else ".kit-answer"
        )
        assert lab.comes_true(lambda: in_sight(self.page, self.card.locator(where)))

    def one_card(self, how):
        """Do a card: "right", "wrong" at first, or "give up"."""
        task = next_exercise(self.progress, self.lesson)
        shown = told(self.card)
        assert task.question in shown
        self.must_see_where_to_answer(task)
        self.met.add(task.kind)
        if task.stage == "worked":
            assert focused(self.page) == "got it"
            assert all(step in shown for step in task.steps)
            self.page.keyboard.press("Enter")
            lab.wait_idle(self.page)
        elif how == "give up":
            press(self.page, "I don't know")
        else:
            if how == "wrong":
                self.answer(task, task.misconceptions[0][1])
                assert "You answered" in told(self.card.get_by_role("alert"))
                self.must_see_where_to_answer(task)
            self.answer(task, task.answer)
            self.card.get_by_role("status").filter(has_text="Right: ").wait_for()
            self.page.keyboard.press("Enter")
            lab.wait_idle(self.page)
        if focused(self.page) == "go on":
            assert "to come back on" in told(self.card)
            self.page.keyboard.press("Enter")
            lab.wait_idle(self.page)
        return task


@each_lesson
def test_a_page_before_it_runs_how_it_fits_and_its_pictures(page, server, lesson):
    """A question and how to begin are shown, no code; each picture asks first, and each dial moves and has a name."""
    lab.open_notebook(page, f"{NAMES[lesson - 1]}.ipynb")
    first = told(page.locator(f"{lab.NOTEBOOK} .jp-RenderedHTML").first)
    assert first.startswith("Press ▶▶")
    assert "then press got it" in first
    assert re.search(r"(What|How many|By how) [^?]*\?", first)
    folded = page.locator(f"{lab.NOTEBOOK} .jp-InputPlaceholder").all_inner_texts()
    assert len(folded) == 4  # the card, its picture, the bench, the cautions
    assert [words for words in folded if re.search(r"kit|import|[(=]", words)] == []
    run(page, server)
    for _ in lab.at_sizes(page, {"width": 1280, "height": 900}, lab.TABLET_UPRIGHT):
        wide, sizes = lab.panels_laid_out(page)
        assert wide == []
        assert lab.too_wide(page) == []
        assert len(sizes) >= 2
        assert min(sizes) >= 11
    for panel in page.locator(f"{lab.NOTEBOOK} .kit-panel:has([role=slider])").all():
        picture = panel.locator("svg[role=img]")
        lab.press(page, panel.get_by_role("slider", name="your mark"), times=20)
        asked = picture.get_attribute("aria-label")
        assert "Your mark is at" in asked
        panel.get_by_role("button", name="show", exact=True).click()
        page.wait_for_function("document.getAnimations().some(each => each.transitionProperty === 'd')")  # it moves
        lab.wait_idle(page)
        handles = [handle for handle in panel.get_by_role("slider").all() if handle.is_visible()]
        names = re.findall(r'\bslider "([^"]+)"', panel.aria_snapshot())
        assert len(set(names)) == len(handles)
        for handle in handles:
            before = told(panel.get_by_role("status"))
            assert before != asked
            lab.press(page, handle, times=2)
            assert told(panel.get_by_role("status")) != before  # the words tell of each dial
        assert panel.get_by_role("alert").count() == 0
    assert lab.errors_in_outputs(page) == []
    assert lab.console_errors(page) == []


@pytest.mark.parametrize("lesson", [1])
def test_nothing_moves_by_itself_where_a_reader_wants_it_still(page, server, lesson):
    """prefers-reduced-motion, CSS Media Queries Level 5."""
    page.emulate_media(reduced_motion="reduce")
    lab.open_notebook(page, f"{NAMES[lesson - 1]}.ipynb")
    run(page, server)
    panel = page.locator(f"{lab.NOTEBOOK} .kit-panel:has([role=slider])").first
    page.evaluate("addEventListener('transitionrun', event => { if (event.propertyName === 'd') window.moved = true })")
    panel.get_by_role("button", name="show", exact=True).click()
    lab.wait_idle(page)
    assert "kit-moves" in panel.get_attribute("class")
    assert page.evaluate("window.moved") is None


@each_lesson
def test_one_who_can_do_little_works_through_a_lesson_by_keyboard_alone_at_twice_the_size(page, card, server, lesson):
    page.set_viewport_size(ZOOMED)
    page.keyboard.press("Control+b")  # folds the list of files away
    lab.wait_idle(page)
    learner = Learner(page, card, server, lesson, "Weak")
    for count in range(60 if FULL else 14):  # past the end of a session
        learner.one_card(("right", "wrong", "give up", "wrong")[count % 4])
    assert len(learner.progress.cards) == (60 if FULL else 14)
    assert not FULL or learner.met == set(exercises(learner.lesson))


@each_lesson
def test_one_who_gets_all_right_works_through_a_lesson_by_keyboard_alone(page, card, server, lesson):
    learner = Learner(page, card, server, lesson, "Good")
    for _ in range(40 if FULL else 5):
        learner.one_card("right")
    assert not FULL or learner.met == set(exercises(learner.lesson))
    card.get_by_role("button", name="Your progress").press("Enter")
    card.get_by_text("how it stands").wait_for()
    assert f"{learner.progress.answered} exercise" in told(card)


def alone(page, card, server, lesson, kind):
    """Work on, all right, until a kind is to be done alone; return its exercise."""
    learner = Learner(page, card, server, lesson, "Alone")
    while True:
        task = next_exercise(learner.progress, learner.lesson)
        if task.kind == kind and task.stage != "worked":
            return task
        learner.one_card("right")


@pytest.mark.parametrize("lesson", [3])
def test_a_base_is_chosen_by_keyboard_and_its_group_has_a_name(page, card, server, lesson):
    task = alone(page, card, server, lesson, "topping_base")
    typed(page, f"{task.answer:.1f} %")
    assert "choose it beside" in told(card.get_by_role("alert"))
    assert card.get_by_role("radiogroup", name="per cent of").count() == 1
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    assert card.get_by_role("radio", name="flour", exact=True).is_checked()
    page.keyboard.press("ArrowDown")
    assert card.get_by_role("radio", name="flour and cocoa").is_checked()
    page.keyboard.press("Enter")
    lab.wait_idle(page)
    assert told(card.get_by_role("status").first).startswith("Right")
    page.set_viewport_size(ZOOMED)  # with the list of files beside it
    lab.wait_idle(page)
    buttons = card.get_by_role("button", name="mark", exact=True).bounding_box()["y"]
    boxes = [radio.bounding_box() for radio in card.get_by_role("radio").all()]
    assert all(box["y"] + box["height"] <= buttons for box in boxes)


@pytest.mark.parametrize("lesson", [1])
def test_the_box_has_its_question_is_seen_to_have_the_keyboard_its_letters_are_no_commands_and_are_marked_fast(
    page, card, server, lesson
):
    cells = page.locator(f"{lab.NOTEBOOK} .jp-Cell").count()
    task = alone(page, card, server, lesson, "percentage_from_weight")
    box = card.get_by_role("textbox", name="answer")
    described = page.locator(f"#{box.get_attribute('aria-describedby')}")
    assert task.question in told(described)
    assert described.get_attribute("aria-live") == "polite"
    assert box.evaluate("box => box === document.activeElement && parseFloat(getComputedStyle(box).outlineWidth)") >= 2
    for name in ("mark", "hint"):
        page.keyboard.press("Tab")
        assert focused(page) == name
        assert page.evaluate("parseFloat(getComputedStyle(document.activeElement).outlineWidth)") >= 2
    page.keyboard.type("d1dxa")
    page.keyboard.press("ArrowDown")
    lab.wait_idle(page)
    assert page.locator(f"{lab.NOTEBOOK} .jp-Cell").count() == cells
    assert focused(page) == "hint"
    page.keyboard.press("Enter")
    lab.wait_idle(page)
    assert told(card.get_by_role("status").first).startswith("Hint: ")
    assert box.evaluate("box => box === document.activeElement")
    press(page, "next")
    assert "Answer this one first" in told(card.get_by_role("status").first)
    box.focus()  # and what stands in it is marked, however fast
    for n in range(1, 9):
        page.keyboard.press("Control+a")
        page.keyboard.type(f"9{n}.5 %")
        if n % 2:
            card.get_by_role("button", name="mark", exact=True).click()
            card.get_by_role("textbox", name="answer").focus()
        else:
            page.keyboard.press("Enter")
    lab.wait_idle(page)
    assert "You answered 98.5" in told(card.get_by_role("alert"))


@pytest.mark.parametrize("lesson", [1])
def test_the_same_name_is_asked_about_and_its_learner_can_delete_it(page, card, server, lesson):
    named(page, card, "Twice")
    press(page, "got it")
    press(page, "not me", "Shift+Tab")
    card.get_by_role("textbox", name="first name").focus()
    typed(page, "Twice")
    assert focused(page) == "that's me: 1 card"
    page.keyboard.press("Enter")
    lab.wait_idle(page)
    press(page, "delete", "Shift+Tab")
    assert focused(page) == "keep it"
    press(page, "delete it all")
    assert not (server.folder / "progress" / "twice.json").exists()
