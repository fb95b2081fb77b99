"""The class page: who, which skill, which mistake, what for the board; read from files that it leaves alone."""

import json
from dataclasses import replace
from datetime import date, timedelta

import pytest

import kit
from kit.errors import AmountError
from kit.lessons import Mark, exercise, mark, open_learner
from tests.lessons.checking import written
from tests.lessons.simulated import BASE, LOSS, START, TWELVE, a_class
from tests.pages import parsed

DAY = START + timedelta(5)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("class")
    a_class(folder)
    return folder


def plain(mistake):
    return mistake[1].replace("_", " ")


def wrong(progress, kind, key, day=DAY, seed=1):
    task = exercise(kind, seed)
    value = next(value for known, value, *_ in task.misconceptions if known == key)
    return progress.after(task, mark(task, written(task, value)), today=day)


def test_a_class_of_twelve_has_a_row_each_with_the_mistake_that_each_makes(folder):
    page = kit.class_page(folder, DAY)
    frame = page.to_frame()
    assert list(frame.index) == sorted(TWELVE)
    assert frame.loc["Gil", "mistake made"] == plain(LOSS)
    assert frame.loc["Jun", "mistake made"] == plain(BASE)
    assert frame.loc["Emil", "safe"] == 0
    assert frame.loc["Ada", "safe"] > 4
    assert not frame.loc["Ada", "mistake made"]
    assert page.words.startswith("12 learners. At the board: ")


def test_the_board_is_for_what_most_get_wrong_and_shows_it(folder, tmp_path):
    """By hand: three made the one mistake, two the other; what else there is to ask does not matter."""
    for name, made in {"Gil": (LOSS, BASE), "Hana": (LOSS,), "Ines": (LOSS,), "Jun": (BASE,)}.items():
        learner = open_learner(name, tmp_path)
        for mistake in made:
            learner = wrong(learner, *mistake)
        learner.save()
    page = kit.class_page(tmp_path, DAY)
    first, second = page.board
    assert (first.kind, first.mistake, first.who) == (LOSS[0], plain(LOSS), ("Gil", "Hana", "Ines"))
    assert (second.kind, second.mistake, second.who) == (BASE[0], plain(BASE), ("Gil", "Jun"))
    most = kit.class_page(folder, DAY).board
    assert len({each.kind for each in most}) == 3
    assert [len(each.who) for each in most] == sorted((len(each.who) for each in most), reverse=True)
    assert first.shows == next(each.words for each in first.task.misconceptions if each.key == LOSS[1])
    text = " ".join(parsed(page.html).text)
    assert all(step in text for step in first.task.steps)


def test_the_files_stay_as_they_are(folder, tmp_path):
    for path in folder.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    (tmp_path / "list.json").write_text("{")
    (tmp_path / "new.json").write_text('{"format": 99}')
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    page = kit.class_page(tmp_path, DAY)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
    assert page.passed_over == ("list.json", "new.json")
    assert "list.json and new.json" in page.notes[0]


def test_a_mistake_that_was_mended_is_no_longer_told(tmp_path):
    ines = wrong(open_learner("Ines", tmp_path), *LOSS)
    ines.save()
    assert kit.class_page(tmp_path, DAY).board[0].mistake == plain(LOSS)
    task = exercise(LOSS[0], 5)
    ines.after(task, mark(task, written(task, task.answer)), today=DAY).save()
    assert kit.class_page(tmp_path, DAY).board == ()
    assert "At the board" not in kit.class_page(tmp_path, DAY).html


def test_a_learner_s_row_by_hand(tmp_path):
    """Twice the one mistake and once another: the one is told, with its times; nothing is safe after one day."""
    ines = open_learner("Ines", tmp_path)
    for mistake, seed in ((BASE, 1), (LOSS, 1), (LOSS, 2)):
        ines = wrong(ines, *mistake, seed=seed)
    ines.save()
    page = kit.class_page(tmp_path, DAY)
    assert page.rows[0][:4] == ("Ines", 3, f"{DAY.day} {DAY:%b}", 0)
    assert page.rows[0][-2:] == (plain(LOSS), 2)
    assert {(each.kind, each.who) for each in page.board} == {(LOSS[0], ("Ines",)), (BASE[0], ("Ines",))}
    assert "At the board tomorrow" in page.html


def test_right_with_steps_shown_does_not_yet_mend_it(tmp_path):
    ines = wrong(open_learner("Ines", tmp_path), *LOSS)
    task = replace(exercise(LOSS[0], 5), stage="last step")
    ines.after(task, mark(task, written(task, task.answer)), today=DAY).save()
    assert kit.class_page(tmp_path, DAY).board[0].mistake == plain(LOSS)


def test_a_row_tells_what_was_made_most_when_the_learner_was_last_there_and_how_kinds_stand(tmp_path):
    """By hand: LOSS once on 11 January and twice on 12; two kinds met, none safe; a slip of the pen is no mistake."""
    ines = wrong(open_learner("Ines", tmp_path), *BASE, DAY - timedelta(1), seed=2)
    for seed in (1, 2):
        ines = wrong(ines, *LOSS, seed=seed)
    task = exercise("raw_from_baked", 3)
    ines.after(task, Mark("slip", "a thousand times too much"), today=DAY).save()
    page = kit.class_page(tmp_path, DAY)
    row = page.to_frame().loc["Ines"]
    assert (row["mistake made"], row["times"], row["practise"]) == (plain(LOSS), 2, "flour for so many buns")
    assert (row["answered"], row["safe"], row["shaky"]) == (4, 0, 3)
    assert row["last on"] == f"{DAY.day} {DAY:%b}"
    assert {each.kind for each in page.board} == {LOSS[0], BASE[0]}


def test_the_printed_page_puts_the_question_and_says_that_nothing_was_sent(folder):
    page = kit.class_page(folder, DAY)
    text = " ".join(parsed(page.html).text).replace("\u00a0", " ")
    assert all(each.task.question in text for each in page.board)
    assert "Nothing was sent anywhere" in text
    later = kit.class_page(folder, DAY + timedelta(1))
    assert [each.task.question for each in later.board] != [each.task.question for each in page.board]


def test_what_is_wrong_without_a_known_mistake_is_told_by_its_kind(tmp_path):
    task = exercise("raw_from_baked", 5)
    ines = open_learner("Ines", tmp_path)
    ines.after(task, mark(task, written(task, task.answer * 1.37)), today=DAY).save()
    (board,) = kit.class_page(tmp_path, DAY).board
    assert (board.mistake, board.shows) == ("", "")
    assert board.words == "Raw from baked (Ines)"


def test_saved_as_one_page_and_a_name_is_text(tmp_path):
    path = tmp_path / "progress"
    open_learner("Ines", path)
    file = path / "ines.json"
    file.write_text(json.dumps(json.loads(file.read_text()) | {"learner": "<script>"}))
    page = kit.class_page(path, "2030-01-12")
    assert page.save(tmp_path).read_text(encoding="utf-8") == page.html
    assert [each.name for each in tmp_path.iterdir()] in (
        ["progress", "class_page_2030-01-12.html"], ["class_page_2030-01-12.html", "progress"],
    )  # fmt: skip
    assert parsed(page.html).scripts == 0
    assert "&lt;script&gt;" in page.html
    assert "Saturday 12 January 2030" in page.html  # the calendar: 12 January 2030 is a Saturday


def test_no_class_yet_and_no_day():
    assert kit.class_page("nowhere").words.startswith("No learner's file here yet")
    assert kit.class_page("nowhere").day == date.today()
    with pytest.raises(AmountError, match="a day of the calendar"):
        kit.class_page("nowhere", "30 February")
