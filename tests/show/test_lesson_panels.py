"""The card that answers back, the progress it shows, and the pictures that ask first, measured and read."""

import html
import os
import re
from datetime import date

import pytest

import kit
from kit.errors import UnknownName
from kit.lessons import Progress, exercise, exercises, learners, read_progress
from kit.show import BenchCard, ExerciseCard, LessonPicture
from kit.show.lesson_pictures import OF_KIND, PICTURES
from tests.lessons.checking import written


def words(shown):
    """Return what HTML says, without its marks."""
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", shown))).strip()


def said(card):
    return words(card._feedback.value)


def shown(widget):
    return widget.layout.display != "none"


def offered(card):
    return {name for name, each in card.buttons.items() if shown(each)}


def who(card):
    """{what a button says: the button} of the row with the name."""
    return {each.description: each for each in card.who.children if hasattr(each, "on_click")}


def answer(card, text):
    card.answer.value = text
    card.mark()
    return said(card)


def answer_right(card):
    """Do the card as it stands, right, and return what is said."""
    task = card.exercise
    if task.stage == "worked":
        card.got_it()
        return ""
    if task.choices:
        card.choosing.value = written(task, task.answer)
        card.mark()
        return said(card)
    return answer(card, written(task, task.answer))


def on(card):
    """Go on to the next exercise, past the end of a session."""
    if card.tries:
        card.next()
    if "go on" in offered(card):
        card.buttons["go on"].click()


def card_at(kind, lesson=None, stage="alone", **given):
    """Return a card that asks for this kind at a stage: each one before it is answered right."""
    card = ExerciseCard(lesson, **given)
    while (card.exercise.kind, card.exercise.stage) != (kind, stage):
        answer_right(card)
        on(card)
    return card


# ---- the card


@pytest.mark.parametrize("lesson", [1, 2, 3])
def test_each_kind_of_a_lesson_begins_worked_leaves_more_and_more_out_and_is_done_alone(lesson):
    card, stages = ExerciseCard(lesson), {}
    for _ in range(60):
        task = card.exercise
        head = words(card._head.value)
        assert task.question.replace("\u00a0", " ") in head.replace("\u00a0", " ")
        assert 'role="note"' not in card._head.value  # the cautions stand at the end of the page
        left_out = {"worked": 0, "last step": 1, "two steps": 2, "alone": len(task.steps)}[task.stage]
        seen = [step for step in task.steps if words(step).replace("\u00a0", " ") in head.replace("\u00a0", " ")]
        assert seen == list(task.steps[: len(task.steps) - left_out])
        assert offered(card) == ({"got it"} if task.stage == "worked" else {*card.buttons} - {"got it", "go on"})
        assert shown(card._answering) == (task.stage != "worked")
        assert card.answer.description == (f"answer, {task.unit}" if task.unit else "answer")
        told = answer_right(card)
        assert task.stage == "worked" or told.startswith(f"Right: {task.in_words(task.answer)}."), (task.kind, told)
        stages.setdefault(task.kind, []).append(task.stage)
        on(card)
        if stages.keys() == set(exercises(card.lesson)) and all("alone" in each for each in stages.values()):
            break
    assert stages.keys() == set(exercises(card.lesson))
    assert {each[0] for each in stages.values()} == {"worked"}
    assert all("alone" in each for each in stages.values())


def test_a_misconception_gets_its_hint_first_and_then_the_steps_with_the_learners_numbers():
    card = card_at("flour_from_dough", 1)
    task = card.exercise
    first = answer(card, written(task, task.misconceptions[0][1]))
    assert 'role="alert"' in card._feedback.value
    assert words(task.misconceptions[0][2]) in first
    assert "Hint: " in first
    assert not any(words(step) in first for step in task.steps)
    second = answer(card, written(task, task.misconceptions[1][1]))
    assert words(task.misconceptions[1][2]) in second
    assert all(words(step) in second.replace("\u00a0", " ") for step in task.steps)
    assert task.in_words(task.answer) in second.replace("\u00a0", " ")
    assert answer_right(card).startswith("Right")
    assert card.progress.kinds[task.kind].wrong == 1  # the first try alone counts
    assert [each.came for each in card.progress.cards].count("wrong") == 1


def test_what_cannot_be_read_and_what_was_marked_already_are_no_tries():
    card = card_at("percentage_from_weight", 1)
    cards = len(card.progress.cards)
    assert "nothing" in answer(card, "")
    assert "'answer' must be" in answer(card, "three buckets")
    assert 'role="alert"' in card._feedback.value
    assert len(card.progress.cards) == cards
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
        card = card_at(kind, None if kind == "share_of_dough" else 3)
        places.add(card.choosing.options.index(card.exercise.base))
    assert len(places) > 1


def test_words_are_chosen_not_typed():
    card = card_at("class_of_dough", 2)
    assert not shown(card.answer)
    assert card.choosing.options == card.exercise.choices
    card.mark()
    assert 'role="alert"' in card._feedback.value
    assert answer_right(card).startswith("Right")
    on(card)
    assert card.exercise.choices or shown(card.answer)


def test_what_the_page_sends_is_marked_whole_and_enter_again_goes_on():
    card = card_at("share_of_dough", 1)
    task = card.exercise
    enter = {"to": "mark", "text": f"{task.answer:.2f}", "chosen": card.choosing.options.index("dough")}
    card._take(enter)
    assert said(card).startswith("Right")
    assert card.answer.value == ""  # never written into the box: the next answer may be typed there already
    card._take(enter)
    assert "go on" in offered(card) or card.exercise.kind != task.kind
    assert card.answer.value == ""
    assert said(card) == ""


def test_next_waits_for_an_answer_and_a_hint_is_told_when_the_answer_is_right():
    card = card_at("hydration_as_weighed", 2)
    task = card.exercise
    card.buttons["next"].click()
    assert card.exercise is task
    assert "Answer this one first" in said(card)
    card.buttons["hint"].click()
    assert said(card) == f"Hint: {task.hint}"
    assert "You read the hint first" in answer_right(card)
    assert card.progress.cards[-1].came == "hinted"
    other = card_at("hydration_as_weighed", 2)
    assert "hint" not in answer_right(other)
    assert other.progress.cards[-1].came == "right"


@pytest.mark.parametrize("act", ["show me", "I don't know"])
def test_who_does_not_know_loses_nothing_and_it_comes_back(act):
    card = card_at("flour_from_dough", 1)
    task, wrong = card.exercise, card.progress.kinds["flour_from_dough"].wrong
    card.buttons[act].click()
    if act == "show me":
        assert all(words(step) in said(card) for step in task.steps)
        assert card.exercise is task
        assert answer_right(card).startswith("Right")
        card.next()
    else:
        assert "Nothing is lost" in said(card)
    assert card.exercise is not task
    assert card.progress.cards[-1].came == "read"
    assert card.progress.kinds["flour_from_dough"].wrong == wrong
    had = len(card.progress.cards)
    while card.exercise.kind != "flour_from_dough":
        answer_right(card)
        on(card)
    assert card.exercise.stage != "alone"  # with its steps shown
    assert len(card.progress.cards) - had <= 8


def test_a_session_ends_and_goes_on_when_asked_with_the_keyboard_where_it_is_needed(monkeypatch):
    card, given = ExerciseCard(1), []
    while "go on" not in offered(card):
        answer_right(card)
        if card.tries:
            card.next()
    assert offered(card) == {"go on"}
    assert re.search(r"^\d+ done, \d+ to come back on \w+day\.$", words(card._head.value))
    assert not shown(card._answering)
    for each in (card.answer, card.buttons["got it"]):
        monkeypatch.setattr(each, "focus", lambda each=each: given.append(each))
    card.buttons["go on"].click()
    assert given == [card.buttons["got it"] if card.exercise.stage == "worked" else card.answer]
    assert card.exercise.question in html.unescape(card._head.value).replace("\u00a0", " ")


def test_what_was_typed_is_shown_as_text():
    card = card_at("percentage_from_weight", 1)
    answer(card, "<script>12</script>")
    assert "<script>" not in card._feedback.value


def test_the_same_seed_asks_the_same_and_another_something_else():
    asked = [ExerciseCard(1, seed=seed).exercise.question for seed in (1, 1, 2)]
    assert asked[0] == asked[1] != asked[2]


@pytest.mark.parametrize("lesson", [4, 0, "percentage"])
def test_an_unknown_lesson_is_told(lesson):
    with pytest.raises(UnknownName, match="one of percentages, hidden water and fat or topping and yield"):
        ExerciseCard(lesson)


# ---- whose it is


def test_a_first_name_keeps_what_is_done_from_the_start_and_goes_on_from_there(tmp_path):
    card = ExerciseCard(1, tmp_path)
    answer_right(card)
    card._take({"to": "name", "text": "Ines", "chosen": None})
    (kept,) = learners(tmp_path)
    assert (kept.learner, len(kept.cards)) == ("Ines", 1)  # what was done before the name was given is kept too
    answer_right(card)
    assert len(read_progress(kept.path).cards) == 2
    again = ExerciseCard(1, tmp_path)
    again.named("ines ")
    assert "Ines is here already" in words(again.who.children[0].value)
    who(again)["that's me: 2 cards"].click()
    assert again.exercise.question == card.exercise.question
    assert len(learners(tmp_path)) == 1


def test_another_of_the_same_name_gets_a_file_and_numbers_of_their_own(tmp_path):
    first, second = ExerciseCard(1, tmp_path), ExerciseCard(1, tmp_path)
    first.named("Ines")
    second.named("Ines")
    who(second)["another Ines"].click()
    assert len(learners(tmp_path)) == 2
    assert first.exercise.question != second.exercise.question
    third = ExerciseCard(1, tmp_path)
    third.named("Ines")
    assert len(third.who.children) == 5  # the question, either of them, another, back
    who(third)["back"].click()
    assert third.name in third.who.children
    assert len(learners(tmp_path)) == 2


def test_a_learner_leaves_and_deletes_what_was_kept_and_is_asked_once(tmp_path):
    card = ExerciseCard(1, tmp_path)
    card.named("Ines")
    answer_right(card)
    who(card)["delete"].click()
    assert "Delete all that Ines has done?" in words(card.who.children[0].value)
    who(card)["keep it"].click()
    assert len(learners(tmp_path)) == 1
    who(card)["delete"].click()
    who(card)["delete it all"].click()
    assert os.listdir(tmp_path) == []
    assert card.progress == Progress("", 1)
    assert card.name in card.who.children
    card.named("Ines")
    who(card)["not me"].click()
    assert len(learners(tmp_path)) == 1
    assert card.progress.learner == ""


@pytest.mark.parametrize("name", ["", "Ines Ferro", "../ines" * 9])
def test_a_name_that_is_no_first_name_is_told_and_nothing_is_written(name, tmp_path):
    card = ExerciseCard(1, tmp_path)
    card.named(name)
    assert "a first name, one word" in words(card._told.value)
    assert card.name in card.who.children
    assert os.listdir(tmp_path) == []


def test_without_a_name_nothing_is_written(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    card = ExerciseCard(1)
    answer_right(card)
    assert os.listdir(tmp_path) == []


def test_a_file_that_cannot_be_written_is_told_and_the_lesson_goes_on(tmp_path):
    folder = tmp_path / "mine"
    card = ExerciseCard(1, folder)
    card.named("Ines")
    away = folder.rename(tmp_path / "away")
    answer_right(card)
    assert "was not saved" in words(card._told.value)
    assert len(card.progress.cards) == 1
    away.rename(folder)
    answer_right(card)
    assert card._told.value == ""
    assert len(read_progress(folder / "ines.json").cards) == 2


# ---- progress


def stands(card):
    """What the card says of how each kind stands."""
    return words(card.children[-2].children[0].children[0].value)


def test_the_progress_follows_its_card():
    first, second = ExerciseCard(1), ExerciseCard(2)
    fold = first.children[-2].children[0]
    assert fold.titles == ("Your progress",)
    assert fold.selected_index is None
    assert "Nothing done yet" in stands(first)
    for _ in range(3):
        answer_right(first)
        on(first)
    answer_right(second)
    assert "Percentage from a weight ◐ shaky" in stands(first)
    assert "Points or per cent ○ new" in stands(first)
    assert "Milk for egg" not in stands(first)
    assert "Milk for egg ○ new" in stands(second)


def test_a_kind_is_safe_once_it_was_right_alone_on_two_days():
    card = ExerciseCard(2)
    for day in (1, 2):
        assert "All the water ● safe" not in stands(card)
        task = exercise("all_water", seed=day + 1)
        right = kit.lessons.mark(task, written(task, task.answer))
        card.progress = card.progress.after(task, right, today=date(2026, 3, day))
    assert re.search(r"All the water ● safe \w+day, \d\d March", stands(card))


# ---- pictures that ask first


def slide(panel, name, value):
    panel.dials[name].slider.value = value


def ends(bar):
    return pytest.approx((bar.get_x(), bar.get_x() + bar.get_width()), abs=0.01)


def wide(panel, row):
    """{part: how wide its bar is} of a row."""
    return {part: bar.get_width() for (at, part), bar in panel._handles[0].bars.items() if at == row}


def revealed(name, *exercise):
    panel = LessonPicture(name, *exercise)
    panel.reveal()
    return panel


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_asks_first_takes_a_mark_and_then_shows_where_it_stands(name):
    panel = LessonPicture(name)
    asked = words(panel.asks.value)
    assert asked.endswith("?")
    assert "{" not in asked
    assert panel.alt[0].replace("\u00a0", " ").startswith(asked)
    assert [each for each, dial in panel.dials.items() if shown(dial.view)] == ["mark"]
    assert f"{panel.result.answer:.1f}" not in words(panel._live.value)
    slide(panel, "mark", panel.highest / 2)
    assert f"Your mark is at {panel.mark.value:.1f}" in panel.alt[0].replace("\u00a0", " ")
    before = panel._live.value
    panel.show_button.click()
    assert panel.asks.value == ""
    assert panel._live.value != before
    assert f"Your mark is at {panel.mark.value:.1f}" in panel.alt[0].replace("\u00a0", " ")
    assert f"it is {panel.result.answer:.1f}" in panel.alt[0]
    assert not shown(panel.mark.view)
    assert not shown(panel.show_button)


def test_a_mark_stands_where_it_was_set():
    panel = LessonPicture("water hides")
    slide(panel, "mark", 50.0)
    handle = panel._handles[0]
    bar = handle.bars["all water", "milk"]
    assert list(handle.mark.get_xdata()) == [50.0, 50.0]
    above, beneath = handle.mark.get_ydata()
    assert above < bar.get_y() < bar.get_y() + bar.get_height() < beneath
    panel.reveal()
    assert list(handle.mark.get_xdata()) == [50.0, 50.0]
    disc = LessonPicture("disc reaches sides")
    slide(disc, "mark", 90.0)
    assert list(disc._handles[0].mark.get_xdata()) == [-45.0, 45.0]


def test_on_flour_only_the_moved_line_changes_and_on_dough_all_do():
    """Flour 100, milk 32, water 14, egg 16, butter 18, sugar 16, salt 1.6, yeast 4: total 201.6 (Gisslen)."""
    panel = revealed("flour is 100")
    bars = panel._handles[0].bars
    assert ends(bars["% of flour", "flour"]) == (0, 100)
    assert ends(bars["% of dough", "flour"]) == (0, 100 / 2.016)
    last = bars["% of dough", "rest"]
    assert last.get_x() + last.get_width() == pytest.approx(100)
    assert "201.6 %" in words(panel._live.value)
    before = {key: bar.get_width() for key, bar in bars.items()}
    slide(panel, "butter", 27.0)
    moved = {key for key, bar in bars.items() if abs(bar.get_width() - before[key]) > 1e-9}
    assert moved == {("% of flour", "butter")} | {key for key in bars if key[0] == "% of dough"}
    assert ends(bars["% of dough", "flour"]) == (0, 100 / 2.106)


def test_what_no_part_has_room_for_is_named_beneath():
    """At 201.6 % the dough's butter is 8.9 % of it, too narrow for its name."""
    handle = revealed("flour is 100")._handles[0]
    assert handle.words["% of dough", "butter"].get_text() == ""
    assert "butter 8.9" in handle.beneath["% of dough"].get_text()
    assert handle.words["% of flour", "milk"].get_text() == "milk\n32.0"
    assert "milk" not in handle.beneath["% of flour"].get_text()


def test_bars_are_filled_with_water_as_the_composition_tables_say():
    """Water in 100 g, USDA SR28: milk 88.13, egg 76.15, unsalted butter 17.94 (tap water 99.9, yeast 69)."""
    panel = LessonPicture("water hides")
    assert [wide(panel, name)["water"] for name in ("milk", "egg", "butter")] == [0, 0, 0]
    assert sum(wide(panel, "all water").values()) == 0
    panel.reveal()
    for name, weighed, water in (("milk", 32, 28.20), ("egg", 16, 12.18), ("butter", 18, 3.23)):
        assert wide(panel, name)["water"] == pytest.approx(water, abs=0.005)
        assert sum(wide(panel, name).values()) == pytest.approx(weighed)
    assert sum(wide(panel, "all water").values()) == pytest.approx(60.36, abs=0.02)
    # 28.20 + 13.99 = 42.2 of the 46 poured, 3.8 the milk's solids and fat; 12.18 + 3.23 + 2.76 = 18.2 hide
    told = panel.alt[0].replace("\u00a0", " ")
    for figure in ("is 46.0 % of total flour", "3.8 of it", "42.2 are water", "hide 18.2 more", "all water is 60.4 %"):
        assert figure in told
    slide(panel, "egg", 24.0)
    assert wide(panel, "egg")["water"] == pytest.approx(18.276, abs=0.005)


def test_milk_for_egg_draws_the_water_before_and_after():
    """20 of egg hold 15.23 of water, 20 of milk 17.626: 20 x (88.13 - 76.15) / 100 = 2.396 points (USDA SR28)."""
    panel = LessonPicture("milk for egg")
    assert sum(wide(panel, "after").values()) == 0
    panel.reveal()
    assert wide(panel, "before")["egg"] == pytest.approx(15.23)
    assert wide(panel, "after") == pytest.approx({"egg": 0, "milk": 17.626})
    assert "2.40 points" in panel.alt[0].replace("\u00a0", " ")
    assert panel._handles[0].ends["after"].get_text() == "17.6 %"
    slide(panel, "egg", 10.0)
    assert "10.01 points" in panel.alt[0].replace("\u00a0", " ")


def test_the_sponge_comes_out_of_the_total_and_the_whole_stays():
    """30 % of 100 flour, milk 80 % of that: 24 of 50 milk; left 70 flour and 26 milk, 37.1 % (worked by hand)."""
    panel = LessonPicture("sponge folded in")

    def widths():
        return [tuple(wide(panel, row).values()) for row in ("sponge", "final dough", "total formula")]

    assert widths() == [pytest.approx((30, 24)), pytest.approx((0, 0)), pytest.approx((0, 100, 0, 50))]
    panel.reveal()
    assert widths() == [pytest.approx((30, 24)), pytest.approx((70, 26)), pytest.approx((30, 70, 24, 26))]
    assert [text.get_text() for text in panel._handles[0].ends.values()] == [
        "24.0 on 30.0: 80.0 %", "26.0 on 70.0: 37.1 %", "50.0 on 100.0: 50.0 %",
    ]  # fmt: skip
    slide(panel, "share", 20.0)
    slide(panel, "of_sponge", 100.0)
    assert widths() == [pytest.approx((20, 20)), pytest.approx((80, 30)), pytest.approx((20, 80, 20, 30))]
    hatched = [part for (_, part), bar in panel._handles[0].bars.items() if bar.get_hatch() == "//"]
    assert hatched == ["sponge flour", "sponge milk"] * 2


def test_back_from_baked_to_raw_is_more_than_adding_the_loss():
    """75 / 0.88 = 85.23; 75 x 1.12 = 84.0, which bakes to 73.9 (worked by hand)."""
    panel = revealed("what is left")
    assert sum(wide(panel, "raw").values()) == pytest.approx(85.227, abs=0.001)
    assert sum(wide(panel, "baked + loss").values()) == pytest.approx(84.0)
    assert "bake to 73.9" in panel.alt[0].replace("\u00a0", " ")


def test_the_disc_ends_where_its_area_is_used_up_and_what_is_over_lies_on_the_tray():
    """80 mm wide and 30 mm high: slant 50 (3-4-5 triangle), so 100 mm covers all and 80 mm covers 64 %."""
    panel = revealed("disc reaches sides")
    crust = panel._handles[0].crust[0]
    told = panel.alt[0].replace("\u00a0", " ")
    assert "it is 100.0" in LessonPicture("disc reaches sides").alt[0] or "covers 64 %" in told
    x, y = crust.get_data()
    assert (x[-1] ** 2 + (30 - y[-1]) ** 2) ** 0.5 == pytest.approx(40)
    assert 0 < y[-1] < 30
    slide(panel, "disc", 100.0)
    x, y = crust.get_data()
    assert (x[0], y[0], x[-1], y[-1]) == pytest.approx((-40, 0, 40, 0), abs=1e-6)
    assert "it reaches the tray" in panel.alt[0]
    slide(panel, "disc", 120.0)
    # area for area: 60^2 - 50^2 = r^2 - 40^2, so r = 51.96
    assert crust.get_xdata()[-1] == pytest.approx(51.96, abs=0.01)
    assert "12 mm of it lie there all round" in panel.alt[0].replace("\u00a0", " ")
    assert list(panel._handles[0].flat[0].get_xdata()) == [-60, 60]


@pytest.mark.parametrize("kind", OF_KIND)
def test_a_picture_shows_the_exercise_of_the_card_and_no_more_than_is_asked(kind):
    same = {  # where what the picture asks is what the exercise asks
        "percentage_from_weight": lambda task, seen: (task.answer, seen),
        "topping_base": lambda task, seen: (task.answer, seen),
        "all_water": lambda task, seen: (task.answer, seen),
        "raw_from_baked": lambda task, seen: (task.answer, seen),
        "folded_in": lambda task, seen: (task.answer, seen - 100),
    }
    for seed in range(1, 6):
        task = exercise(kind, seed)
        panel = LessonPicture(OF_KIND[kind], task)
        assert not shown(panel.show_button)  # the card shows it, once it is answered
        drawn = words(panel._live.value)
        panel.reveal()
        assert words(panel._live.value) != drawn
        if kind in same:
            wanted, got = same[kind](task, panel.result.answer)
            assert got == pytest.approx(wanted, abs=0.01)
            assert f"{wanted:.1f} %" not in drawn


def test_the_card_shows_its_picture_once_it_is_answered():
    card = card_at("all_water", 2)
    (picture,) = card.picture.children
    assert picture.exercise is card.exercise
    answer(card, "1 %")
    assert picture.asking
    answer_right(card)
    assert not picture.asking
    worked = card_at("all_water", 2, stage="worked")
    assert shown(worked.picture.children[0].show_button)


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_moves_with_each_dial_says_what_it_shows_and_goes_back(name):
    panel = revealed(name)
    start = panel._live.value
    for which in set(panel.dials) - {"mark"}:
        dial = panel.dials[which]
        slide(panel, which, dial.value + dial.step)
        assert panel._problem.value == ""
        assert panel._live.value != start
        assert panel.alt[0] in html.unescape(panel.picture()._repr_html_())
        panel.undo()
        assert panel._live.value == start
    assert len(panel.dials) <= 4


@pytest.mark.parametrize("name", PICTURES)
def test_a_number_beyond_the_picture_is_told_and_the_picture_stays(name):
    panel = LessonPicture(name)
    start = panel._live.value
    panel.mark.box.value = "400"
    assert "in this picture (got 400" in words(panel._problem.value)
    assert panel._live.value == start


def test_no_picture_runs_out_of_its_axis():
    """At the ends of every dial, what is drawn and its words lie inside."""
    made = [LessonPicture(name) for name in PICTURES]
    made += [LessonPicture(name, exercise(kind, seed)) for kind, name in OF_KIND.items() for seed in (1, 2)]
    for panel in made:
        panel.reveal()
        for high in (False, True):
            for name in set(panel.dials) - {"mark"}:
                dial = panel.dials[name]
                slide(panel, name, dial.high if high else dial.low)
                if panel._problem.value:
                    continue
                overlay = panel.overlays[0]
                overlay.figure.draw_without_rendering()
                page = overlay.figure.bbox
                for artist in (each for each in overlay._moving if each.get_visible()):
                    box = artist.get_window_extent()
                    if box.width and box.height:
                        assert box.x0 >= page.x0 - 1, (panel.picture_of.title, name, high, artist)
                        assert box.x1 <= page.x1 + 1, (panel.picture_of.title, name, high, artist)
                        assert box.y1 <= page.y1 + 1, (panel.picture_of.title, name, high, artist)


def test_the_words_a_baker_types_reach_them():
    assert kit.show.ExerciseCard is ExerciseCard
    with pytest.raises(UnknownName, match="did you mean milk for egg"):
        kit.show.LessonPicture("milk for eggs")


# ---- to the bench


@pytest.mark.parametrize("lesson", [1, 2, 3])
def test_at_the_bench_one_predicts_first_then_weighs_and_both_are_compared(lesson):
    card = BenchCard(lesson)
    shown_words = " ".join(words(each.value) for each in card.children if hasattr(each, "value"))
    assert card.task.predict in shown_words.replace("\u00a0", " ")
    assert card.task.cautions[0] in shown_words  # local codes first
    assert not shown(card.measured)
    card.predicted.value = "1 kg"
    assert shown(card.measured)
    assert card._said.value == ""
    card.measured.value = f"{card.task.expected:.2f}"
    assert "You predicted 1,000 g" in words(card._said.value)
    assert "as is usual" in words(card._said.value)
    card.measured.value = "much"
    assert 'role="alert"' in card._said.value
    assert "'measured' must be a number" in words(card._said.value)
    assert "text/html" in card._repr_mimebundle_()


def test_what_was_weighed_goes_into_the_file_of_the_learner_at_the_card(tmp_path):
    """By hand: 1 lb is 453.6 g."""
    card = ExerciseCard(1, tmp_path)
    bench = BenchCard(1, of=card)
    card.named("Ines")
    bench.predicted.value, bench.measured.value = "1 lb", "much"
    assert learners(tmp_path)[0].bench == {}
    bench.measured.value = "990 g"
    ((lesson, (_, predicted, measured)),) = learners(tmp_path)[0].bench.items()
    assert (lesson, round(predicted, 1), measured) == ("percentages", 453.6, 990)
    answer_right(card)
    assert "At the bench, percentages: 453.592 g predicted, 990 g weighed" in stands(card)
