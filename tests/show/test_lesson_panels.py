"""The card that answers back, the progress it shows, and the moving pictures, measured and read."""

import html
import json
import os
import re

import pytest

import kit
from kit.errors import UnknownName
from kit.lessons import Progress, exercises, read_progress
from kit.lessons.kinds import LESSONS
from kit.show import ExerciseCard, LessonPicture, ProgressView
from kit.show.lesson_pictures import PICTURES
from tests.lessons.checking import written


def words(shown):
    """Return what HTML says, without its marks."""
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", shown))).strip()


def said(card):
    return words(card._feedback.value)


def answer(card, text):
    card.answer.value = text
    card.mark()
    return said(card)


def answer_right(card):
    task = card.exercise
    if task.choices:
        card.choosing.value = written(task, task.answer)
        card.mark()
        return said(card)
    return answer(card, written(task, task.answer))


def card_at(kind, lesson=None, **given):
    """Return a card that asks for this kind: each one before it is answered right."""
    card = ExerciseCard(lesson, **given)
    while card.exercise.kind != kind:
        answer_right(card)
        card.next()
    return card


# ---- the card


@pytest.mark.parametrize("lesson", [1, 2, 3])
def test_each_kind_of_a_lesson_is_asked_and_its_right_answer_taken(lesson):
    card, seen = ExerciseCard(lesson), {}
    while len(seen) < len(exercises(LESSONS[lesson - 1])):
        task = card.exercise
        shown = words(card._head.value)
        assert task.question in shown
        assert f"level {task.level} of 3, round numbers" in shown or task.level > 1
        assert ('role="note"' in card._head.value) == bool(task.caution)
        assert task.caution in shown
        assert card.answer.description == (f"answer, {task.unit}" if task.unit else "answer")
        told = answer_right(card)
        assert told.startswith(f"Right: {task.in_words(task.answer)}."), (task.kind, told)
        assert 'role="status"' in card._feedback.value
        seen[task.kind] = True
        card.next()
        assert card.exercise.question != task.question
    assert list(seen) == list(exercises(LESSONS[lesson - 1]))


def test_a_misconception_gets_its_hint_first_and_then_the_steps_with_the_learners_numbers():
    card = ExerciseCard(1)
    task = card.exercise
    key, value, meant, hint = task.misconceptions[0]
    first = answer(card, written(task, value))
    assert 'role="alert"' in card._feedback.value
    assert meant in first
    assert hint in first
    assert not any(step in first for step in task.steps)
    second = answer(card, written(task, task.misconceptions[1][1]))
    assert task.misconceptions[1][2] in second
    assert all(words(step) in second for step in task.steps)
    assert task.in_words(task.answer) in second
    assert answer_right(card).startswith("Right")
    assert card.progress.kinds[task.kind].wrong == 1  # the first try alone counts
    assert card.progress.kinds[task.kind].right == 0


def test_what_cannot_be_read_and_what_was_marked_already_are_no_tries():
    card = ExerciseCard(1)
    assert "nothing" in answer(card, "")
    assert "'answer' must be" in answer(card, "three buckets")
    assert 'role="alert"' in card._feedback.value
    assert card.progress.answered == 0
    answer(card, "1 %")
    assert "marked already" in answer(card, "1 %")
    assert not any(step in said(card) for step in card.exercise.steps)


def test_a_base_is_asked_for_taken_from_the_buttons_or_from_the_text():
    card = card_at("share_of_dough", 1)
    task = card.exercise
    bare = f"{task.answer:.2f} %"
    assert card.choosing.options == ("dough", "total flour")
    assert card.choosing.value is None
    assert "Or choose it beside the answer" in answer(card, bare)
    assert card.tries == []
    card.choosing.value = "total flour"
    assert "not of total flour" in answer(card, bare)
    card.choosing.value = "dough"
    assert answer(card, bare).startswith("Right")
    other = card_at("share_of_dough", 1)
    assert answer(other, f"{bare} of the dough").startswith("Right")


def test_the_right_base_is_not_given_away_by_its_place():
    places = set()
    for kind in ("share_of_dough", "topping_base"):
        card = card_at(kind)
        places.add(card.choosing.options.index(card.exercise.base))
    assert len(places) > 1


def test_words_are_chosen_not_typed():
    card = card_at("class_of_dough", 2)
    assert card.answer.layout.display == "none"
    assert card.choosing.options == card.exercise.choices
    card.mark()
    assert 'role="alert"' in card._feedback.value
    assert answer_right(card).startswith("Right")
    card.next()
    assert card.answer.layout.display is None


def test_what_the_page_sends_is_marked_whole_and_enter_again_goes_on():
    card = card_at("share_of_dough", 1)
    task = card.exercise
    base = card.choosing.options.index("dough")

    def enter(count, text, chosen):
        card._sent.value = json.dumps({"text": text, "chosen": chosen, "count": count})

    enter(1, f"{task.answer:.2f}", base)
    assert said(card).startswith("Right")
    assert card.answer.value == ""  # never written into the box: the next answer may be typed there already
    enter(2, f"{task.answer:.2f}", base)
    assert card.exercise.kind != task.kind
    assert card.answer.value == ""
    assert said(card) == ""


def test_next_waits_for_an_answer_and_hint_costs_nothing():
    card = ExerciseCard(2)
    task = card.exercise
    card.buttons["next"].click()
    assert card.exercise is task
    assert "Answer this one first" in said(card)
    card.buttons["hint"].click()
    assert said(card) == f"Hint: {task.hint}"
    assert card.progress.answered == 0
    answer(card, written(task, task.misconceptions[0][1]))
    card.buttons["hint"].click()
    assert said(card) == f"Hint: {task.misconceptions[0][3]}"
    card.buttons["next"].click()
    assert card.exercise.kind != task.kind


def test_what_was_typed_is_shown_as_text():
    card = ExerciseCard(1)
    answer(card, "<script>12</script>")
    assert "<script>" not in card._feedback.value


def test_the_same_seed_asks_the_same_and_another_something_else():
    asked = [ExerciseCard(1, seed=seed).exercise.question for seed in (1, 1, 2)]
    assert asked[0] == asked[1] != asked[2]


@pytest.mark.parametrize("lesson", [4, 0, "percentage"])
def test_an_unknown_lesson_is_told_before_any_file_is_touched(lesson, tmp_path):
    path = tmp_path / "mine.json"
    path.write_text("{damaged")
    with pytest.raises(UnknownName, match="one of percentages, hidden water and fat or topping and yield"):
        ExerciseCard(lesson, progress=path)
    with pytest.raises(UnknownName):
        ProgressView(Progress(), lesson)
    assert os.listdir(tmp_path) == ["mine.json"]


# ---- progress


def test_progress_is_in_the_learners_file_after_each_answer_and_goes_on_from_there(tmp_path):
    path = tmp_path / "ines.json"
    card = ExerciseCard(1, progress=path, learner="Ines")
    assert not path.exists()
    for count in (1, 2, 3):
        answer_right(card)
        assert read_progress(path).answered == count
        card.next()
    again = ExerciseCard(1, progress=path)
    assert again.exercise.question == card.exercise.question
    assert again.progress.learner == "Ines"


def test_without_a_name_nothing_is_written(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    card = ExerciseCard(1)
    answer_right(card)
    card.next()
    assert os.listdir(tmp_path) == []


def test_a_damaged_file_is_put_aside_and_told(tmp_path):
    path = tmp_path / "ines.json"
    path.write_text("{damaged")
    card = ExerciseCard(1, progress=path)
    assert 'role="alert"' in card._told.value
    assert "kept as ines.json.damaged" in words(card._told.value)
    assert (tmp_path / "ines.json.damaged").read_text() == "{damaged"
    answer_right(card)
    assert card._told.value == ""
    assert read_progress(path).answered == 1


def test_a_file_that_cannot_be_written_is_told_and_the_lesson_goes_on(tmp_path):
    folder = tmp_path / "mine"
    folder.mkdir()
    card = ExerciseCard(1, progress=folder / "ines.json")
    folder.rmdir()
    assert answer_right(card).startswith("Right")
    assert "was not saved" in words(card._told.value)
    assert card.progress.answered == 1
    folder.mkdir()
    card.next()
    answer_right(card)
    assert card._told.value == ""
    assert read_progress(folder / "ines.json").answered == 2


def test_the_view_follows_the_card_by_skill():
    card = ExerciseCard(1)
    view = ProgressView(card, 1)
    assert "Nothing answered yet" in words(view._shown.value)
    task = card.exercise
    answer(card, written(task, task.misconceptions[0][1]))
    card.next()
    answer_right(card)
    shown = words(view._shown.value)
    assert "2 exercises answered. Coming back soon: percentage from a weight." in shown
    assert "skill new shaky safe right at first wrong at first percentages 0 2 0 1 1" in shown
    assert "topping" not in shown
    assert "topping 4 0 0 0 0" in words(ProgressView(card.progress)._shown.value)


# ---- pictures that move


def slide(panel, name, value):
    panel.dials[name].slider.value = value


def ends(bar):
    return pytest.approx((bar.get_x(), bar.get_x() + bar.get_width()), abs=0.01)


def wide(panel, row):
    """{part: how wide its bar is} of a row."""
    return {part: bar.get_width() for (at, part), bar in panel._handles[0].bars.items() if at == row}


def test_on_flour_only_the_moved_line_changes_and_on_dough_all_do():
    """Flour 100, milk 32, egg 16, butter 18, sugar 16, salt 1.6, yeast 4: total 187.6 (definition: Gisslen)."""
    panel = LessonPicture("flour is 100")
    bars = panel._handles[0].bars
    assert ends(bars["% of flour", "flour"]) == (0, 100)
    assert ends(bars["% of dough", "flour"]) == (0, 100 / 1.876)
    last = bars["% of dough", "salt, yeast"]
    assert last.get_x() + last.get_width() == pytest.approx(100)
    assert "187.6 %" in words(panel._live.value)
    assert "9.6 %" in words(panel._live.value)
    before = {key: bar.get_width() for key, bar in bars.items()}
    slide(panel, "butter", 28.0)
    moved = {key for key, bar in bars.items() if abs(bar.get_width() - before[key]) > 1e-9}
    assert moved == {("% of flour", "butter")} | {key for key in bars if key[0] == "% of dough"}
    assert ends(bars["% of flour", "flour"]) == (0, 100)
    assert ends(bars["% of dough", "flour"]) == (0, 100 / 1.976)
    assert "506 g" in words(panel._live.value)  # 1,000 x 100 / 197.6


def test_bars_are_filled_with_water_as_the_composition_tables_say():
    """Water in 100 g, USDA SR28: milk 88.13, egg 76.15, unsalted butter 17.94 (tap water 99.9, yeast 69)."""
    panel = LessonPicture("water hides")
    for name, weighed, water in (("milk", 32, 28.20), ("egg", 16, 12.18), ("butter", 18, 3.23)):
        assert wide(panel, name)["water"] == pytest.approx(water, abs=0.005)
        assert sum(wide(panel, name).values()) == pytest.approx(weighed)
    shown = words(panel._live.value)
    assert "hydration 46.0 %" in shown
    assert "total hydration 60.4 %" in shown  # 28.20 + 13.99 + 12.18 + 3.23 + 2.76
    slide(panel, "egg", 30.0)
    assert wide(panel, "egg")["water"] == pytest.approx(22.845, abs=0.005)
    shown = words(panel._live.value)
    assert "hydration 46.0 %" in shown
    assert "total hydration 71.0 %" in shown


def test_milk_for_egg_draws_the_water_before_and_after():
    """10 points x (88.13 - 76.15) / 100 = 1.198 points (USDA SR28)."""
    panel = LessonPicture("milk for egg")
    assert wide(panel, "before")["egg"] == pytest.approx(15.23)
    assert wide(panel, "after")["egg"] == pytest.approx(7.615)
    assert wide(panel, "after")["milk"] - wide(panel, "before")["milk"] == pytest.approx(8.813)
    assert "1.20 points" in words(panel._live.value)
    assert panel._handles[0].ends["after"].get_text() == "42.9 %"
    slide(panel, "moved", 25.0)
    assert "at most the egg there is, 20.0 points" in words(panel._problem.value)
    assert wide(panel, "after")["egg"] == pytest.approx(7.615)
    slide(panel, "moved", 20.0)
    assert panel._problem.value == ""
    assert wide(panel, "after")["egg"] == 0
    assert "2.40 points" in words(panel._live.value)


def test_the_sponge_comes_out_of_the_total_and_the_whole_stays():
    """30 % of 100 flour, milk 80 % of that: 24 of 50 milk; left 70 flour and 26 milk, 37.1 % (worked by hand)."""
    panel = LessonPicture("sponge folded in")

    def widths():
        return [tuple(wide(panel, row).values()) for row in ("sponge", "final dough", "total formula")]

    assert widths() == [pytest.approx((30, 24)), pytest.approx((70, 26)), pytest.approx((30, 70, 24, 26))]
    assert [text.get_text() for text in panel._handles[0].ends.values()] == [
        "80 % milk on its flour", "37 % milk on its flour", "50 % of total flour",
    ]  # fmt: skip
    slide(panel, "share", 20.0)
    slide(panel, "own", 100.0)
    assert widths() == [pytest.approx((20, 20)), pytest.approx((80, 30)), pytest.approx((20, 80, 20, 30))]
    hatched = [part for (_, part), bar in panel._handles[0].bars.items() if bar.get_hatch() == "//"]
    assert hatched == ["sponge flour", "sponge milk"] * 2
    assert "37.5 %" in words(panel._live.value)
    slide(panel, "share", 60.0)
    assert "60.00 %" in words(panel._problem.value)
    assert widths()[0] == pytest.approx((20, 20))
    panel.undo()
    assert panel._problem.value == ""


def test_the_disc_ends_where_its_area_is_used_up():
    """80 mm wide and 30 mm high: slant 50 (3-4-5 triangle), so 100 mm covers all and 80 mm covers 64 %."""
    panel = LessonPicture("disc reaches sides")
    crust = panel._handles[0].crust[0]
    shown = words(panel._live.value)
    assert "100 mm" in shown
    assert "64 %" in shown
    x, y = crust.get_data()
    assert (x[-1] ** 2 + (30 - y[-1]) ** 2) ** 0.5 == pytest.approx(40)
    assert 0 < y[-1] < 30
    slide(panel, "disc", 100.0)
    x, y = crust.get_data()
    assert (x[0], y[0], x[-1], y[-1]) == pytest.approx((-40, 0, 40, 0), abs=1e-6)
    assert "it reaches the tray" in words(panel._live.value)
    slide(panel, "disc", 140.0)  # what hangs over lies nowhere
    assert crust.get_xdata()[-1] == pytest.approx(40)
    assert list(panel._handles[0].flat[0].get_xdata()) == [-70, 70]
    assert "100 % of the dome" in words(panel._live.value)


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_moves_with_each_dial_says_what_it_shows_and_goes_back(name):
    panel = LessonPicture(name)
    start = panel._live.value
    for which, dial in panel.dials.items():
        slide(panel, which, dial.value + dial.step)
        assert panel._problem.value == ""
        assert panel._live.value != start
        assert panel.alt[0] in html.unescape(panel.picture()._repr_html_())
        panel.undo()
        assert panel._live.value == start
    assert 1 <= len(panel.dials) <= 3


@pytest.mark.parametrize("name", PICTURES)
def test_a_number_beyond_the_picture_is_told_and_the_picture_stays(name):
    panel = LessonPicture(name)
    dial = next(iter(panel.dials.values()))
    start = panel._live.value
    dial.box.value = "400"
    assert "in this picture (got 400" in words(panel._problem.value)
    assert panel._live.value == start


def test_no_picture_runs_out_of_its_axis():
    """At the ends of every dial, what is drawn and its words lie inside."""
    for make in PICTURES:
        panel = LessonPicture(make)
        for high in (False, True):
            for name, dial in panel.dials.items():
                slide(panel, name, dial.high if high else dial.low)
                if panel._problem.value:
                    continue
                overlay = panel.overlays[0]
                overlay.figure.draw_without_rendering()
                page = overlay.figure.bbox
                for artist in overlay._moving():
                    box = artist.get_window_extent()
                    if box.width and box.height:
                        assert box.x1 <= page.x1 + 1, (make, name, high, artist)
                        assert box.y1 <= page.y1 + 1, (make, name, high, artist)


def test_the_words_a_baker_types_reach_them():
    assert kit.show.ExerciseCard is ExerciseCard
    assert kit.show.ProgressView is ProgressView
    with pytest.raises(UnknownName, match="did you mean milk for egg"):
        kit.show.LessonPicture("milk for eggs")
