"""A class's sheets: one for each learner, no two alike, the answers on pages of their own."""

import re
from collections import Counter
from html import unescape

import pytest

import kit
from kit.cautions import FIRST
from kit.errors import AmountError, FormulaError, UnknownName
from kit.lessons import bench_task, class_sheet, exercise, exercises, mark
from kit.lessons.steps import n
from tests.lessons.checking import written
from tests.pages import parsed

KINDS = ["flour_from_dough", "all_water", "topping_base", "raw_from_baked"]
SHEET = class_sheet(KINDS, seed=3)
BUN = kit.Formula.read(kit.places.notebooks() / "formulas" / "crackle_bun.toml")


def test_thirty_learners_have_thirty_sheets_from_one_seed():
    assert len(SHEET.tasks) == 30
    assert len({tuple(task.question for task in sheet) for sheet in SHEET.tasks}) == 30
    assert all([task.kind for task in sheet] == KINDS for sheet in SHEET.tasks)
    text = " ".join(parsed(SHEET.questions).text)
    for sheet in SHEET.tasks:
        for task in sheet:
            assert task.question in text


def test_a_lesson_stands_for_its_kinds_and_a_table_names_them():
    whole = class_sheet("Percentages", seed=1, learners=2)
    assert [task.kind for task in whole.tasks[0]] == list(exercises("percentages"))
    assert list(whole.to_frame()["kind"]) == list(exercises("percentages"))
    assert whole.words.startswith("2 sheets of the same kinds, seed 1")
    assert class_sheet("all_water", seed=1, learners=1).tasks[0][0].kind == "all_water"
    with pytest.raises(UnknownName, match="'lesson' must be one of percentages"):
        class_sheet("percent", seed=1)


def test_one_seed_gives_the_same_pages_and_another_seed_others():
    again = class_sheet(KINDS, seed=3)
    assert (again.questions, again.answers) == (SHEET.questions, SHEET.answers)
    other = class_sheet(KINDS, seed=4)
    alike = {task.question for s in SHEET.tasks for task in s} & {task.question for s in other.tasks for task in s}
    assert len(alike) < 20  # of 120: a kind with few numbers may meet one again


def test_every_kind_can_be_printed_for_a_class_of_thirty():
    for kind in exercises():
        for level in (1, 2, 3):
            sheet = class_sheet([kind], seed=1, level=level)
            assert len({task.question for (task,) in sheet.tasks}) == 30


def test_answers_are_apart():
    text = unescape(SHEET.questions).replace("\u00a0", " ")
    assert "nswer is" not in text
    solved = " ".join(parsed(SHEET.answers).text)
    for sheet in SHEET.tasks:
        for task in sheet:
            assert not any(step in text for step in task.steps)
            assert task.in_words(task.answer) in solved
            assert task.steps[-1] in solved


def test_each_sheet_ends_at_the_bench_with_its_cautions():
    text = " ".join(parsed(SHEET.questions).text)
    bench = bench_task("topping and yield")
    for words in (FIRST, bench.predict, bench.do, "Raw egg: keep it cold", "Hot tins, doors and steam"):
        assert unescape(text).replace("\u00a0", " ").count(words) == 30
    assert f"{bench.expected:.1f} g" in " ".join(parsed(SHEET.answers).text).replace("\u00a0", " ")
    richer = class_sheet(["flour_from_dough"], 1, 1, formula=BUN.vary(butter=28))
    assert "212.4 %" in " ".join(parsed(richer.questions).text)


def test_the_sheet_says_lesson_and_day_and_leaves_room():
    sheet = class_sheet("percentages", 7, 1, day="2030-01-12")
    text = " ".join(parsed(sheet.questions).text)
    assert "Percentages, sheet 7-1" in text
    assert "Date: 12 January 2030" in text
    assert sheet.questions.count('class="room"') == len(exercises("percentages")) + 1  # and at the bench
    with pytest.raises(AmountError, match="'day' must be a day of the calendar"):
        class_sheet("percentages", 7, 1, day="Friday")


def test_the_key_says_what_a_wrong_answer_tells():
    text = " ".join(parsed(SHEET.answers).text)
    for sheet in SHEET.tasks:
        for task in sheet:
            for key, value, *_ in task.misconceptions:
                assert f"{n(value, task.decimals)}: {key.replace('_', ' ')}" in text


def test_thirty_learners_have_truly_different_numbers():
    """Where a kind has so many answers, no two learners share one; where it has not, few do."""
    for kind in exercises():
        answers = Counter(task.in_words(task.answer) for (task,) in class_sheet([kind], seed=1).tasks)
        if not exercise(kind, 1).choices:
            assert len(answers) >= 6, kind
            assert max(answers.values()) <= 5, kind
            if kind in ("percentage_from_weight", "hydration_as_weighed", "all_water", "raw_from_baked"):
                assert len(answers) == 30  # some hundred answers to a tenth


def test_the_room_stands_below_each_question_and_a_base_is_asked_for_where_the_card_asks():
    sheet = class_sheet(["share_of_dough", "flour_from_dough"], seed=3, learners=1)
    first, second = sheet.questions.split('<div class="task">')[1:]
    assert first.index("</p>") < first.index('class="room"') < first.index("Answer:")
    assert 'class="room"' in second
    assert first.count('class="blank"') == 2  # the figure, and what it is per cent of
    assert second.split("</section>")[0].split('<section class="bench"')[0].count('class="blank"') == 1


def test_a_smaller_line_of_the_formula_is_left_out_but_for_salt():
    """Cardamom 0.8 % and yeast 4 % of flour: who forgets them is right within what scales show."""
    (task,) = class_sheet(["flour_from_dough"], seed=2, learners=1, formula=BUN).tasks[0]
    assert "salt" in task.figures["lines"]
    assert not {"yeast", "fresh yeast", "ground cardamom"} & set(task.figures["lines"])


def test_two_lessons_end_at_the_bench_of_the_last():
    text = " ".join(parsed(class_sheet(["flour_from_dough", "all_water"], 1, 1).questions).text)
    assert bench_task("hidden water and fat").title in text
    assert bench_task("percentages").title not in text


def test_so_many_of_each_kind():
    sheet = class_sheet(KINDS, seed=3, learners=5, number=3)
    for tasks in sheet.tasks:
        assert [task.kind for task in tasks] == [kind for kind in KINDS for _ in range(3)]
        assert len({task.question for task in tasks}) == 12


def test_a_question_drawn_twice_stands_once_on_a_sheet(monkeypatch):
    draw = exercise
    monkeypatch.setattr("kit.lessons.sheets.exercise", lambda kind, seed, *more: draw(kind, seed // 3, *more))
    (tasks,) = class_sheet(["class_of_dough"], seed=3, learners=1, number=6).tasks  # of a few words to answer
    assert len({task.question for task in tasks}) == 6


@pytest.mark.parametrize("degrees", ["°C", "°F"])
def test_the_teacher_chooses_degrees(degrees):
    sheet = class_sheet(["water_temperature"], seed=3, units=degrees)
    assert {task.unit for (task,) in sheet.tasks} == {degrees}
    assert {task.unit for (task,) in class_sheet(["water_temperature"], seed=3).tasks} == {"°C", "°F"}
    with pytest.raises(UnknownName, match="'units' must be one of g, lb, °C or °F"):
        class_sheet(["water_temperature"], seed=3, units="K")


POUNDS = [kind for kind, entry in exercises().items() if entry.american]
IN_GRAMS = r"(?<!100 )\bg\b"  # but for what 100 g of an ingredient hold


def test_what_lb_cannot_keep_apart_is_asked_in_grams(monkeypatch):
    monkeypatch.setattr("kit.lessons.sheets.apart", lambda task: False)
    ((task,),) = class_sheet(["flour_from_dough"], seed=2, units="lb", learners=1).tasks
    assert (task.unit, task.question) == ("g", exercise("flour_from_dough", task.seed, task.level).question)


@pytest.mark.parametrize("kind", POUNDS)
@pytest.mark.parametrize("level", [1, 2, 3])
def test_the_teacher_chooses_pounds(kind, level):
    """What a kind works out holds in any unit: the answer in lb, brought to g, is that of the same weights in g."""
    grams = 25 if exercises()[kind].american == "oz" else 100  # for one, as the sheets put it
    for (task,) in class_sheet([kind], seed=2, level=level, units="lb", learners=6).tasks:
        same = exercise(kind, task.seed, level)
        ratio = same.answer / task.answer if task.answer else 1
        assert ratio == pytest.approx(grams if task.unit in ("lb", "oz") else 1)
        assert not re.search(IN_GRAMS, task.question)
        assert mark(task, written(task, task.answer)).right
        for key, value, words, _ in task.misconceptions:
            assert key in mark(task, written(task, value)).misconceptions
            assert not re.search(IN_GRAMS, words) or not re.search(IN_GRAMS, same.question)


def test_an_answer_in_pounds_is_taken_in_any_unit():
    """NIST Handbook 44, appendix C: 1 lb is 453.59237 g and 16 oz."""
    (task,) = class_sheet(["flour_from_dough"], seed=2, units="lb", learners=1).tasks[0]
    assert mark(task, f"{task.answer * 453.59237:.2f} g").right
    assert mark(task, f"{task.answer * 16:.3f} oz").right
    assert not mark(task, f"{task.answer:.3f} kg").right


def test_exercises_of_the_formula_at_hand():
    taught = class_sheet(["flour_from_dough", "share_of_dough"], seed=2, formula=BUN, learners=12)
    for tasks in taught.tasks:
        lines = tasks[0].figures["lines"]
        assert list(lines) == ["flour", "milk", "water", "egg", "butter", "sugar", "salt"]
        assert [lines[name] for name in ("flour", "water", "egg", "salt")] == [100, 14, 16, 1.6]
        for name, share in {"milk": 32, "butter": 18, "sugar": 16}.items():
            assert abs(lines[name] - share) <= 3
        for task in tasks:
            assert mark(task, written(task, task.answer)).right
    assert len({tasks[1].question for tasks in taught.tasks}) > 10
    lean = kit.Formula.from_weights("lean", {"flour": 100, "water": 62, "salt": 2})
    with pytest.raises(FormulaError, match="a dough with milk, butter and sugar .got lean"):
        class_sheet(["flour_from_dough"], seed=2, formula=lean)


@pytest.mark.parametrize(("paper", "size"), [("A4", "A4"), ("Letter", "letter"), ("letter", "letter")])
def test_for_either_paper(paper, size):
    """CSS Paged Media Module Level 3, page sizes."""
    html = class_sheet(KINDS[:1], seed=1, learners=2, paper=paper).questions
    assert f"@page {{ size: {size};" in html
    with pytest.raises(AmountError, match="A4 or Letter"):
        class_sheet(KINDS[:1], seed=1, learners=2, paper="A3")


def test_names_are_text():
    sheet = class_sheet(KINDS, seed=1, learners=3, names=["<script>alert(1)</script>", "Ines & Jon"])
    for html in (sheet.questions, sheet.answers):
        tree = parsed(html)
        assert tree.scripts == 0
        assert "<script>alert(1)</script>" in " ".join(tree.text)
        assert "Ines & Jon" in " ".join(tree.text)
    assert sheet.questions.count('class="blank name"') == 1  # the third writes the name


def test_saved_as_two_files(tmp_path):
    questions, answers = SHEET.save(tmp_path)
    assert questions.read_text(encoding="utf-8") == SHEET.questions
    assert answers.read_text(encoding="utf-8") == SHEET.answers
    assert sorted(tmp_path.iterdir()) == sorted([questions, answers])


def test_what_cannot_be_printed_says_why():
    with pytest.raises(AmountError, match="one kind"):
        class_sheet([], seed=1)
    with pytest.raises(AmountError, match="1 to 1,000"):
        class_sheet(KINDS, seed=1, learners=0)
    with pytest.raises(AmountError, match="raise learners"):
        class_sheet(KINDS, seed=1, learners=1, names=["Ines", "Jon"])
    with pytest.raises(UnknownName, match="exercises"):
        class_sheet(["flour"], seed=1)
    with pytest.raises(AmountError, match="add a kind"):
        class_sheet(["milk_for_egg"], seed=1, learners=100)


def test_a_sheet_is_what_its_seed_says():
    task = SHEET.tasks[0][0]
    assert exercise(task.kind, task.seed, task.level).question == task.question
