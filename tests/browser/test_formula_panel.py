"""The formula panel in JupyterLab, by keyboard and by mouse, on a laptop and a tablet: one screen, and what it does."""

import re

import conftest
import lab
import pytest

pytestmark = pytest.mark.browser
page = conftest.module_page

NAME = "start_here.ipynb"


def box(panel, name):
    return panel.get_by_role("textbox", name=name, exact=True)


def says(panel):
    """The words of the class map."""
    return panel.locator(".kit-live svg").first.get_attribute("aria-label")


def enter(page, panel, name, text):
    box(panel, name).fill(text)
    box(panel, name).press("Enter")
    lab.wait_idle(page)


def drag(page, mark, across, down, by_touch=False):
    """Drag a mark so many px, in steps as a hand does."""
    at = mark.bounding_box()
    x, y = at["x"] + at["width"] / 2, at["y"] + at["height"] / 2
    if by_touch:
        touch = page.context.new_cdp_session(page)
        touch.send("Emulation.setTouchEmulationEnabled", {"enabled": True})
        for kind, n in (("touchStart", 0), *(("touchMove", n) for n in range(1, 11)), ("touchEnd", 10)):
            points = [] if kind == "touchEnd" else [{"x": x + across * n / 10, "y": y + down * n / 10}]
            touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
        touch.send("Emulation.setTouchEmulationEnabled", {"enabled": False})
    else:
        page.mouse.move(x, y)
        page.mouse.down()
        for n in range(1, 11):
            page.mouse.move(x + across * n / 10, y + down * n / 10)
        page.mouse.up()
    lab.wait_idle(page)


def test_keyboard_moves_each_main_slider_and_undo_and_reset_bring_it_back(page, panel):
    for name, start in (("butter", 18), ("egg", 16), ("sugar", 16)):
        lab.press(page, panel.get_by_role("slider", name=f"{name}, %", exact=True), times=10)
        assert float(box(panel, f"{name}:").input_value()) == start + 2.5
    assert "butter 20.5 and sugar 18.5" in says(panel)
    panel.get_by_role("button", name="undo").press("Enter")
    lab.wait_idle(page)
    assert "butter 20.5 and sugar 16.0" in says(panel)
    panel.get_by_role("button", name="reset").press("Enter")
    lab.wait_idle(page)
    assert "butter 18.0 and sugar 16.0" in says(panel)
    assert panel.get_by_role("status").filter(has_text="Nothing has moved yet").count() == 1


@pytest.mark.parametrize("by_touch", [False, True], ids=["mouse", "touch"])
def test_the_dot_and_the_disc_are_dragged_and_the_dials_follow(page, panel, by_touch):
    dot = panel.get_by_role("slider", name="butter and sugar")
    drag(page, dot, 66, -36.5, by_touch)  # 10 % of butter, 6 of sugar
    assert float(box(panel, "butter:").input_value()) == pytest.approx(28, abs=0.5)
    assert float(box(panel, "sugar:").input_value()) == pytest.approx(22, abs=0.5)
    assert re.fullmatch(r"butter 2[78]\.\d %, sugar 2[12]\.\d %", dot.get_attribute("aria-valuetext"))
    assert panel.get_by_role("status").filter(has_text="Butter +").count() == 1
    disc = panel.get_by_role("slider", name="disc of topping")
    drag(page, disc, 6, 0, by_touch)
    assert not disc.get_attribute("aria-valuetext").startswith("22.0 g")
    panel.get_by_role("button", name="undo").click()
    panel.get_by_role("button", name="undo").click()
    lab.wait_idle(page)
    assert "butter 18.0 and sugar 16.0" in says(panel)


def test_arrow_keys_move_the_dot_and_stay_on_it(page, panel):
    dot = panel.get_by_role("slider", name="butter and sugar")
    dot.focus()
    for key in (*["ArrowRight"] * 8, *["ArrowDown"] * 4, "PageUp"):
        page.keyboard.press(key)
    lab.wait_idle(page)
    assert dot.get_attribute("aria-valuetext") == "butter 20.0 %, sugar 17.5 %"
    assert dot.evaluate("mark => mark === document.activeElement")
    assert dot.locator("circle").evaluate("ring => getComputedStyle(ring).stroke") == "rgb(34, 34, 34)"


def test_a_box_takes_what_bakers_write_and_refuses_nonsense_in_words(page, panel):
    enter(page, panel, "butter:", "22 1/2")
    assert "butter 22.5" in says(panel)
    for nonsense, words in (("plenty", "must be a number"), ("0.15", "did you mean 15 %?"), ("-3", "0 % or more")):
        enter(page, panel, "butter:", nonsense)
        assert words in panel.get_by_role("alert").inner_text()
        assert "butter 22.5" in says(panel)
    enter(page, panel, "butter:", "23")
    assert panel.get_by_role("alert").count() == 0
    enter(page, panel, "batch", "5 kg flour")
    assert panel.get_by_text("1,150 g", exact=True).count() == 1


def test_water_follows_or_says_why_it_cannot(page, panel):
    panel.get_by_role("radio", name="keep water").check()
    enter(page, panel, "egg:", "25")
    assert "total hydration 60.4" in says(panel)
    assert panel.get_by_text(re.compile(r"water 14\.0 → 7\.\d %, \d+ g")).count() == 1
    enter(page, panel, "egg:", "60")
    assert "egg can be at most" in panel.get_by_role("alert").inner_text()
    panel.get_by_role("radio", name="keep water").press("ArrowLeft")
    lab.wait_idle(page)
    assert panel.get_by_role("radio", name="water as written").is_checked()
    assert panel.get_by_role("alert").count() == 0


def test_what_is_folded_away_opens_by_keyboard_and_moves_too_and_every_control_has_a_name_of_its_own(page, panel):
    panel.get_by_role("button", name="more to move").press("Enter")
    lab.wait_idle(page)
    for role, count in (("slider", 10), ("textbox", 10), ("radio", 3), ("combobox", 1)):
        assert panel.get_by_role(role).count() == count
        names = re.findall(rf'\b{role} "([^"]+)"', panel.aria_snapshot())
        assert len(set(names)) == count, names
    for name, start, step in (("yolk", 0, 0.25), ("water", 14, 0.25), ("topping a piece", 22, 0.25)):
        handle = panel.get_by_role("slider", name=re.compile(f"^{name}, (%|g)$"))
        lab.press(page, handle, times=2)
        assert float(box(panel, f"{name}:").input_value()) == pytest.approx(start + 2 * step, abs=step / 2)
    assert panel.get_by_role("table").count() == 0
    panel.get_by_role("button", name="table", exact=True).press("Space")
    panel.get_by_role("button", name="where the water is").press("Space")
    lab.wait_idle(page)
    assert panel.get_by_role("row").filter(has_text="total hydration, % of flour").count() == 1
    assert panel.locator("svg[aria-label*='Where the water comes from']").is_visible()
    for name in ("more to move", "table", "where the water is"):
        panel.get_by_role("button", name=name, exact=True).press("Enter")
    lab.wait_idle(page)
    assert panel.get_by_role("table").count() == 0


TOUCHING = """panel => {
    const shown = e => e.getBoundingClientRect().width;
    const words = [...panel.querySelectorAll('.widget-radio-box label')].filter(shown);
    const others = [...panel.querySelectorAll('button, select, .widget-text input')].filter(shown);
    const touch = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
    const box = e => { const range = document.createRange(); range.selectNodeContents(e);
        return range.getBoundingClientRect(); };
    return words.flatMap((word, n) => [...others, ...words.slice(n + 1)]
        .filter(other => touch(box(word), other.matches('label') ? box(other) : other.getBoundingClientRect()))
        .map(other => word.textContent + ' on ' + (other.textContent || other.tagName)));
}"""


def test_on_a_page_enlarged_twice_no_words_of_a_choice_touch_what_stands_beside_them(page, panel):
    (touching,) = [panel.evaluate(TOUCHING) for _ in lab.at_sizes(page, {"width": 640, "height": 400})]
    assert touching == []


def test_it_is_one_screen_and_its_words_are_large_enough(page, panel):
    enter(page, panel, "butter:", "27")
    for _ in lab.at_sizes(page):
        wide, sizes = lab.panels_laid_out(page)
        assert wide == []
        assert len(sizes) > 10
        assert min(sizes) >= 11
        room = page.locator(f"{lab.NOTEBOOK} .jp-WindowedPanel-outer").bounding_box()["height"]
        # from the row of the shelf to what opens on asking; upright the two pictures lie beneath each other
        last = panel.get_by_role("button", name="printed lines on the map").bounding_box()
        assert last["y"] + last["height"] - panel.bounding_box()["y"] < room


def test_the_way_on_opens_in_the_same_window(page, panel):
    panel.get_by_role("link", name="hand it over").click()
    page.locator(f"{lab.NOTEBOOK} h1", has_text="Hand over").wait_for()
    assert page.locator(".lm-TabBar-tab", has_text=NAME).count() == 1
    page.get_by_role("main").get_by_role("tab", name=NAME).click()


def test_a_number_written_into_a_box_has_no_editor_look_for_its_caret(page, panel):
    page.evaluate("() => { window.kitCarets = 0; document.addEventListener('selectionchange', () => kitCarets++); }")
    handle = lab.slider(page, "butter, %")
    handle.focus()
    page.evaluate("() => { kitCarets = 0; }")
    lab.press(page, handle, times=3)
    assert page.evaluate("() => kitCarets") == 0
