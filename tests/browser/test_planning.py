"""The panel that plans trials, moved in JupyterLab by keyboard and by mouse, and the page for the wall as printed."""

import re
import subprocess

import lab
import pytest

import kit

pytestmark = pytest.mark.browser


@pytest.fixture
def panel(page):
    with lab.panel_of(page, "plan_trials.ipynb") as shown:
        yield shown


def says(panel):
    return panel.get_by_role("status").last.inner_text()


def test_ticks_dials_kinds_and_undo(page, panel):
    assert "Pairs: 8 bakes on 4 days" in says(panel)
    lab.press(page, panel.get_by_role("slider", name="butter to, %"), times=4)
    assert panel.get_by_role("cell", name="butter 27 %").count() == 4
    panel.get_by_role("radio", name="steps").check()
    panel.get_by_role("checkbox", name="egg changes").check()
    lab.wait_idle(page)
    assert "1 thing" in panel.get_by_role("alert").inner_text()
    assert "Steps: 12 bakes on 4 days" in says(panel)
    panel.get_by_role("button", name="undo").press("Enter")
    lab.wait_idle(page)
    assert panel.get_by_role("alert").count() == 0
    panel.get_by_role("radio", name="pairs").check()
    panel.get_by_role("checkbox", name="sugar changes").check()
    lab.wait_idle(page)
    assert not panel.get_by_role("textbox", name="butter from:").is_visible()
    assert "change at once" in panel.inner_text()
    panel.get_by_role("button", name="reset").click()
    lab.wait_idle(page)
    assert "Pairs: 8 bakes on 4 days" in says(panel)


def test_days_are_typed_and_the_answer_chosen(page, panel):
    box = panel.get_by_role("textbox", name="days:")
    box.fill("30")
    box.press("Enter")
    lab.wait_idle(page)
    assert "bakes from 1 to 40" in panel.get_by_role("alert").inner_text()
    box.fill("3")
    box.press("Enter")
    panel.get_by_role("combobox", name="judge by").select_option("crumb dent, day 1")
    lab.wait_idle(page)
    assert "of crumb dent, day 1" in panel.inner_text()
    assert "Day 3" in panel.inner_text()
    panel.get_by_role("button", name="page").click()
    lab.wait_idle(page)
    assert "plan_butter.html" in panel.get_by_role("status").first.inner_text()


def test_every_control_has_a_name_of_its_own_it_fits_and_its_words_are_large_enough(page, panel):
    for role, count in {"slider": 2, "textbox": 2, "checkbox": 3, "radio": 2, "combobox": 2, "button": 5}.items():
        names = re.findall(rf'\b{role} "([^"]+)"', panel.aria_snapshot())
        assert len(set(names)) == count == panel.get_by_role(role).count(), names
    for _ in lab.at_sizes(page):
        wide, _ = lab.panels_laid_out(page)
        assert wide == []
        sizes = panel.get_by_role("cell").evaluate_all("all => all.map(e => parseFloat(getComputedStyle(e).fontSize))")
        assert len(sizes) > 20
        assert min(sizes) >= 11


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("days", [2, 4])
def test_the_page_for_the_wall_is_one_sheet(tmp_path, paper, days):
    bun = kit.Formula.read(kit.places.notebooks() / "formulas" / "crackle_bun.toml")
    plan = kit.plan_trials(bun, {"butter": (18, 20, 25)}, days)
    (tmp_path / "plan.html").write_text(plan.page(paper=paper), encoding="utf-8")
    printed = tmp_path / "plan.pdf"
    command = [lab.CHROMIUM, *lab.CHROMIUM_FLAGS, "--no-pdf-header-footer", f"--print-to-pdf={printed}"]
    subprocess.run([*command, (tmp_path / "plan.html").as_uri()], check=True, capture_output=True, timeout=120)
    assert len(re.findall(rb"/Type\s*/Page\b", printed.read_bytes())) == 1
