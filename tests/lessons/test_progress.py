"""Progress: what was wrong comes back sooner, and the learner's file is never lost or half written."""

import json
import os
import re
import signal
import subprocess
import sys
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from kit.errors import AmountError, FileError
from kit.lessons import (
    Mark,
    Progress,
    exercise,
    exercises,
    learners,
    mark,
    next_exercise,
    open_learner,
    read_progress,
)
from kit.lessons.kinds import LESSONS
from tests.alone import alone, kills
from tests.lessons.checking import written
from tests.lessons.simulated import Learner, first_mistake

ROOT = Path(__file__).parents[2]


DAY = date(2030, 1, 7)  # a Monday


def answered(progress, right=True, lesson=None, today=DAY):
    """Return the exercise that comes and the progress after it: a worked one read, another answered."""
    task = next_exercise(progress, lesson, today)
    if task.stage == "worked":
        return task, progress.shown(task, today)
    value = task.answer if right else task.misconceptions[0][1]
    return task, progress.after(task, mark(task, written(task, value)), today=today)


def some():
    progress = Progress("Ines", 7)
    for n in range(12):
        _, progress = answered(progress, n % 3 != 1)
    return progress


def until(progress, kind, stage="alone", right=True):
    """Return the first exercise of a kind at a stage, and the progress before it."""
    while True:
        task, after = answered(progress, right)
        if (task.kind, task.stage) == (kind, stage):
            return task, progress
        progress = after


def right(task):
    return mark(task, written(task, task.answer))


FIRST = next(iter(exercises()))


# what comes next


def test_each_kind_begins_worked_and_leaves_more_and_more_out():
    """Fading of worked steps from the last on (Renkl and Atkinson 2003, from memory)."""
    progress, stages = Progress(), {}
    for _ in range(100):
        task, progress = answered(progress)
        stages.setdefault(task.kind, []).append((task.stage, len(task.steps)))
    for had in stages.values():
        steps = had[0][1]
        assert [stage for stage, _ in had][: steps + 1] == ["worked", "last step", "two steps"][:steps] + ["alone"]
    assert list(stages) == list(exercises())


@pytest.mark.parametrize("lesson", LESSONS)
@pytest.mark.parametrize("share", [0, 0.3, 0.5, 0.7, 1])
def test_everyone_meets_every_kind_of_a_lesson_and_none_takes_it_over(lesson, share):
    learner = Learner(share, 3, lesson).cards(60)
    assert learner.met_by <= 30
    assert learner.most <= 8
    if share == 1:
        assert learner.done_by <= 40
    assert learner.safe == 0  # in one day nothing is safe


@pytest.mark.parametrize(("share", "least", "most"), [(0, 0, 0), (0.5, 0, 6), (1, 6, 9)])
def test_safe_is_earned_over_days(share, least, most):
    learner = Learner(share, 3, "percentages")
    for _ in range(12):
        learner.session()
    assert least <= learner.safe <= most


def test_a_fixed_misconception_is_named_within_five_cards():
    for kind, entry in exercises().items():
        learner = Learner(1, 1, entry.lesson, believes=first_mistake(kind)).cards(40)
        while learner.could is None:  # some mistakes can be made with some of the draws alone
            learner.session()
        while learner.named is None and len(learner.had) < learner.could + 5:
            learner.card()
        assert learner.named - learner.could < 5, kind


def test_levels_rise_only_once_it_was_right_alone_on_another_day():
    learner, levels = Learner(1, 3, "topping and yield"), {}
    for _ in range(40):
        learner.session()
    alone = set()
    for card in learner.progress.cards:
        assert card.level <= levels.get(card.kind, 1) + 1
        assert card.level == 1 or card.kind in alone
        levels[card.kind] = card.level
        alone |= {card.kind} if card.stage == "alone" else set()
    assert set(levels.values()) == {3}


def test_what_was_wrong_comes_back_sooner_than_what_was_right():
    after = {}
    for well in (True, False):
        task, progress = until(Progress(), FIRST, "last step")
        value = task.answer if well else task.misconceptions[0][1]
        progress = progress.after(task, mark(task, written(task, value)), today=DAY)
        after[well] = progress.kinds[FIRST]
    assert after[True].stage == 2
    assert after[False].stage == 0
    assert next_exercise(until(Progress(), FIRST)[1], today=DAY).kind == FIRST
    assert after[False].after - after[False].met <= 6


def test_what_was_right_alone_comes_back_by_days():
    task, progress = until(Progress(), FIRST)
    progress, day, gaps = progress.after(task, right(task), today=DAY), DAY, []
    for _ in range(4):
        back = progress.kinds[FIRST].back
        gaps.append((back - day).days)
        day = back
        task = replace(exercise(FIRST, 900 + len(gaps)), stage="alone")
        assert not progress.kinds[FIRST].due(10**6, day - timedelta(1))
        progress = progress.after(task, right(task), today=day)
    assert gaps == sorted(gaps)
    assert gaps[0] == 1
    assert gaps[-1] > 7


def test_a_fortnight_missed_does_not_flood():
    learner = Learner(1, 3)
    for _ in range(14):
        learner.session()
    overdue = sum(one.due(10**6, DAY + timedelta(60)) for one in learner.progress.kinds.values())
    assert overdue > 12
    learner.day = DAY + timedelta(60)
    before, new = set(learner.progress.kinds), len(exercises()) - len(learner.progress.kinds)
    learner.session()
    again = {card.kind for card in learner.progress.sitting} & before
    assert len(learner.progress.sitting) == 12
    assert len(again) <= 6 or not new


def test_an_exercise_that_comes_back_has_other_numbers():
    task, progress = until(Progress(), FIRST, "last step", right=False)
    again, _ = until(answered(progress, False)[1], FIRST, "last step")
    assert task.question != again.question


def test_who_errs_in_one_kind_meets_it_most_and_at_level_one():
    progress, counts = Progress(), {}
    for day in range(12):
        for _ in range(12):
            task = next_exercise(progress, "hidden water and fat", DAY + timedelta(day))
            _, progress = answered(progress, task.kind != "all_water", "hidden water and fat", DAY + timedelta(day))
            counts[task.kind] = counts.get(task.kind, 0) + 1
            assert task.lesson == "hidden water and fat"
            assert task.kind != "all_water" or task.level == 1
    assert max(counts, key=counts.get) == "all_water"
    assert len(counts) == len(exercises("hidden water and fat"))


def test_no_kind_comes_twice_running():
    for well in (True, False):
        progress, last = Progress(), ""
        for _ in range(60):
            task, progress = answered(progress, well, "hidden water and fat")
            assert task.kind != last
            last = task.kind


def test_only_the_first_try_that_counts_moves_it():
    task, before = until(Progress(), FIRST)
    assert before.after(task, mark(task, "no idea"), today=DAY) == before
    once = before.after(task, mark(task, written(task, task.misconceptions[0][1])), today=DAY)
    assert once.after(task, right(task), today=DAY) == once
    assert once.kinds[FIRST].wrong == 1
    assert [card.came for card in once.cards] == [*(card.came for card in before.cards), "wrong"]


def test_a_hint_first_is_not_right_at_first():
    task, before = until(Progress(), FIRST)
    after = before.after(task, right(task), hinted=True, today=DAY)
    hinted = after.kinds[FIRST]
    assert (after.cards[-1].came, hinted.wrong) == ("hinted", 0)
    assert (hinted.days, hinted.back) == ((), None)


def test_a_slip_of_the_pen_is_neither_right_nor_wrong():
    task, before = until(Progress(), FIRST)
    after = before.after(task, Mark("slip", "a thousand times too much"), today=DAY)
    slip = after.kinds[FIRST]
    assert (after.cards[-1].came, slip.wrong, slip.mistakes, slip.back) == ("slip", 0, (), None)


def test_not_knowing_costs_nothing_and_brings_it_back():
    task, before = until(Progress(), FIRST)
    asked = before.shown(task, DAY)
    assert (asked.cards[-1].came, asked.kinds[FIRST].wrong) == ("read", 0)
    assert asked.answered == before.answered
    assert asked.after(task, right(task), today=DAY) == asked  # copied from what was shown
    again, _ = until(answered(asked)[1], FIRST, "last step" if len(task.steps) < 3 else "two steps")
    assert again.seed - task.seed <= 12  # within a session


def test_a_session_ends_and_says_what_comes_back():
    learner = Learner(1, 3, "percentages").session()
    assert len(learner.progress.sitting) == 12
    assert re.fullmatch(r"12 done, \d to come back on Tuesday\.", learner.progress.session_words)
    learner.day = DAY
    learner.card()
    assert not learner.progress.session_over  # it goes on when asked
    over = Learner(1, 3, "percentages")
    while {"new"} & set(over.progress.states("percentages").values()) or not over.progress.session_over:
        over.card()
    assert over.progress.session_over
    assert Progress().session_words == "Nothing done yet."


def test_states_are_told_by_kind():
    learner = Learner(1, 3, "percentages")
    assert set(learner.progress.states().values()) == {"new"}
    seen = set()
    for _ in range(5):
        seen |= set(learner.session().progress.states("percentages").values())
    assert seen == {"new", "shaky", "safe"}
    told = learner.progress.to_frame()["how it stands"]
    assert (told == "● safe").sum() == learner.safe
    assert len(told) == len(exercises())
    assert (Progress().to_frame()["how it stands"] == "○ new").all()


def test_decided_by_the_file_and_the_day_alone(tmp_path):
    some().save(tmp_path / "ines.json")
    tasks = [next_exercise(read_progress(tmp_path / "ines.json"), today=DAY) for _ in range(2)]
    assert tasks[0].question == tasks[1].question == next_exercise(some(), today=DAY).question


def test_in_words():
    progress = some()
    assert f"{progress.answered} exercises answered" in progress.words
    assert "Coming back soon" in progress.words


# a file for each learner


def test_each_learner_has_a_file_and_numbers_of_their_own(tmp_path):
    ines = open_learner("Ines", tmp_path)
    assert ines.path == tmp_path / "ines.json"
    other = open_learner(" ines ", tmp_path, another=True)
    assert other.path == tmp_path / "ines-2.json"
    assert open_learner("Zoë-Anne", tmp_path).path.exists()
    assert len({each.seed for each in learners(tmp_path)}) == 3
    assert next_exercise(ines).question != next_exercise(other).question
    again = open_learner("INES", tmp_path)
    assert (again.seed, again.learner) == (ines.seed, "Ines")
    assert [each.path.name for each in learners(tmp_path)] == ["ines-2.json", "ines.json", "zoëanne.json"]


@pytest.mark.parametrize("name", ["", "  ", "Ines Berg", "../..", "x" * 31, "\x00"])
def test_a_first_name_alone_is_asked_for(tmp_path, name):
    with pytest.raises(AmountError, match="'name' must be a first name, one word"):
        open_learner(name, tmp_path)
    assert not list(tmp_path.iterdir())


def test_a_name_stays_in_its_folder(tmp_path):
    assert open_learner("../../etc", tmp_path).path.parent == tmp_path


def test_what_is_no_progress_is_passed_over_untouched(tmp_path):
    (tmp_path / "list.json").write_text('{"order": 12}')
    (tmp_path / "new.json").write_text('{"format": 99}')
    (tmp_path / "broken.json").write_text("{")
    open_learner("Ines", tmp_path)
    assert [each.learner for each in learners(tmp_path)] == ["Ines"]
    assert len(list(tmp_path.iterdir())) == 4


def test_a_learner_can_delete_what_is_kept(tmp_path):
    (tmp_path / "ines.json").write_text("damaged")
    ines = read_progress(tmp_path / "ines.json", "Ines").save()
    open_learner("Jon", tmp_path)
    ines.forget()
    assert [path.name for path in tmp_path.iterdir()] == ["jon.json"]
    ines.forget()  # twice harms nothing


def test_what_was_deleted_is_not_brought_back_by_another_window(tmp_path):
    here, other = open_learner("Ines", tmp_path), open_learner("Ines", tmp_path)
    _, other = answered(other)
    here.forget()
    with pytest.raises(FileError, match="it was deleted.; write your name again"):
        other.save()
    assert not list(tmp_path.iterdir())
    assert open_learner("Ines", tmp_path).cards == ()


def test_two_of_one_name_are_told_apart(tmp_path):
    for another in (False, True, True):
        open_learner("Zoë-Anne", tmp_path, another)
    assert [each.who for each in learners(tmp_path)] == ["Zoë-Anne 2", "Zoë-Anne 3", "Zoë-Anne"]
    assert Progress("Ines").who == "Ines"


# the file


def test_what_is_saved_is_read_again(tmp_path):
    path = tmp_path / "ines.json"
    some().save(path)
    again = read_progress(path)
    assert (again.learner, again.seed, again.answered) == ("Ines", 7, some().answered)
    assert again.kinds == some().kinds
    assert again.told == ""
    assert sorted(p.name for p in tmp_path.iterdir()) == ["ines.json"]


def test_no_file_is_a_fresh_start(tmp_path):
    progress = read_progress(tmp_path / "ines.json", "Ines")
    assert (progress.learner, progress.answered, progress.told) == ("Ines", 0, "")
    assert progress.save().path == tmp_path / "ines.json"
    assert progress.seed != read_progress(tmp_path / "jon.json", "Jon").seed


def test_cut_at_every_byte_it_is_put_aside_and_told(tmp_path):
    path = tmp_path / "ines.json"
    some().save(path)
    whole = path.read_bytes()
    for length in range(len(whole)):
        path.write_bytes(whole[:length])
        progress = read_progress(path, "Ines")
        assert "damaged" in progress.told, length
        assert progress.answered == 0
        assert not path.exists()
        aside = path.with_name("ines.json.damaged")
        assert aside.read_bytes() == whole[:length]
        aside.unlink()


@pytest.mark.parametrize(
    "change",
    [
        {"seed": -3}, {"seed": 1.5}, {"seed": True}, {"seed": None}, {"learner": 3}, {"format": 0}, {"format": "1"},
        {"format": True}, {"cards": {"a": 1}}, {"cards": 5}, {"cards": [[]]}, {"cards": [["a"] * 9]},
        {"cards": [["a", "yesterday", "folded_in", 1, 1, "alone", "right", ""]]},
        {"cards": [["a", "2030-01-07", "folded_in", 1, 9, "alone", "right", ""]]},
        {"cards": [["a", "2030-01-07", "folded_in", 1, 1, "asleep", "right", ""]]},
        {"cards": [["a", "2030-01-07", "folded_in", 1, 1, "alone", "perfect", ""]]},
        {"cards": [["a", "2030-01-07", ["folded_in"], 1, 1, "alone", "right", ""]]},
        {"format": 1, "kinds": {"folded_in": {"box": "1", "right": 0, "wrong": 0}}},
    ],
    ids=str,
)  # fmt: skip
def test_a_file_that_says_what_cannot_be_is_put_aside(tmp_path, change):
    path = tmp_path / "ines.json"
    some().save(path)
    path.write_text(json.dumps(json.loads(path.read_text()) | change))
    assert "damaged" in read_progress(path).told
    assert path.with_name("ines.json.damaged").exists()


@pytest.mark.parametrize("text", ["", "[]", "3", "null", '"x"', "{}", "\x00" * 40, "[" * 100_000, '{"format": 1}'])
def test_other_contents_are_put_aside(tmp_path, text):
    path = tmp_path / "ines.json"
    path.write_text(text)
    assert "damaged" in read_progress(path).told


def test_bytes_that_are_no_text_are_put_aside(tmp_path):
    path = tmp_path / "ines.json"
    path.write_bytes(b"\xff\xfe\x00 nothing")
    assert "damaged" in read_progress(path).told


def test_a_second_damaged_file_does_not_overwrite_the_first(tmp_path):
    path = tmp_path / "ines.json"
    for text in ("first", "second", "third"):
        path.write_text(text)
        read_progress(path)
    kept = {p.name: p.read_text() for p in tmp_path.iterdir()}
    assert kept == {"ines.json.damaged": "first", "ines.json.damaged2": "second", "ines.json.damaged3": "third"}


def test_the_file_of_a_newer_kit_is_refused_and_not_touched(tmp_path):
    path = tmp_path / "ines.json"
    text = '{"format": 3, "something": "new"}'
    path.write_text(text)
    with pytest.raises(FileError, match="update the kit"):
        read_progress(path)
    assert path.read_text() == text
    assert [p.name for p in tmp_path.iterdir()] == ["ines.json"]


def test_a_kind_that_this_kit_no_longer_has_stays_in_the_file(tmp_path):
    path = tmp_path / "ines.json"
    some().save(path)
    content = json.loads(path.read_text())
    content["cards"].append(["a", DAY.isoformat(), "an old kind", 1, 1, "alone", "wrong", ""])
    path.write_text(json.dumps(content))
    progress = read_progress(path)
    assert next_exercise(progress).kind in set(exercises())
    progress.save()
    assert "old" not in progress.words
    assert "an old kind" in path.read_text()


@pytest.mark.parametrize("fails", ["replace", "fsync"])
def test_when_the_disc_fails_the_old_file_stays(tmp_path, monkeypatch, fails):
    path = tmp_path / "ines.json"
    some().save(path)
    before = path.read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, fails, full)
    with pytest.raises(FileError, match="No space"):
        Progress("Ines").save(path)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["ines.json"]


def test_saving_needs_a_folder(tmp_path):
    with pytest.raises(FileError, match="folder"):
        Progress().save(tmp_path / "nowhere" / "ines.json")


def test_what_was_weighed_at_the_bench_is_kept_the_last_of_each_lesson(tmp_path):
    here, other = open_learner("Ines", tmp_path), open_learner("Ines", tmp_path)
    here = here.weighed(LESSONS[0], 1000, 990, DAY).weighed(LESSONS[0], 1010, 1004, DAY + timedelta(1)).save()
    other.weighed(LESSONS[1], 20, 17.5, DAY).save()
    again = read_progress(here.path)
    assert again.bench == {LESSONS[0]: ("2030-01-08", 1010.0, 1004.0), LESSONS[1]: ("2030-01-07", 20.0, 17.5)}
    assert f"At the bench, {LESSONS[0]}: 1010 g predicted, 1004 g weighed on 2030-01-08." in again.words


@pytest.mark.parametrize("bench", [3, [], {"a": 1}, {"a": ["2030-01-07", 1]}, {"a": ["soon", 1, 2]}], ids=str)
def test_what_cannot_have_been_weighed_is_put_aside(tmp_path, bench):
    path = tmp_path / "ines.json"
    some().save(path)
    path.write_text(json.dumps(json.loads(path.read_text()) | {"bench": bench}))
    assert "damaged" in read_progress(path).told


# several windows on one file


def windows(path, *lessons):
    """Each has four cards of its lesson after the other has saved."""
    here = [read_progress(path, "Ines") for _ in lessons]
    for n in range(4):
        for place, lesson in enumerate(lessons):
            here[place] = answered(here[place], n % 2 == 0, lesson)[1].save()
    return here


@pytest.mark.parametrize("lessons", [list(LESSONS)[:2], [None, None]], ids=["two lessons", "two windows"])
def test_windows_on_one_file_add_up(tmp_path, lessons):
    path = tmp_path / "ines.json"
    here = windows(path, *lessons)
    there = read_progress(path)
    assert there == here[-1]
    assert len(there.cards) == 8
    assert there.answered == sum(card.came in ("right", "wrong") for card in there.cards) >= 2
    if None not in lessons:
        assert all(any(kind in there.kinds for kind in exercises(lesson)) for lesson in lessons)


def test_what_was_answered_is_added_once(tmp_path):
    """Saved again, saved after a failure, or saved by a page that did not take what the save gave back."""
    path = tmp_path / "ines.json"
    first = read_progress(path, "Ines")
    _, one = answered(first)
    one.save()
    one.save()
    _, two = answered(one, right=False)
    two.save()
    _, fork = answered(first, lesson=LESSONS[1])
    fork.save()
    assert read_progress(path).cards == (*two.cards, *fork.cards)


def test_it_is_as_if_they_were_answered_one_after_another(tmp_path):
    path, alone = tmp_path / "ines.json", read_progress(tmp_path / "none", "Ines")
    a, b = read_progress(path, "Ines"), read_progress(path, "Ines")
    for lesson in LESSONS:
        a = answered(a, lesson=lesson)[1]
        alone = answered(alone, lesson=lesson)[1]
    a.save()
    b = answered(b, right=False, lesson=LESSONS[-1])[1]
    both = b.save()
    assert both.kinds == replace(alone, cards=(*alone.cards, *b.cards)).kinds
    assert both == read_progress(path)


def test_a_file_of_another_learner_stays(tmp_path):
    Progress("Jon").save(tmp_path / "x.json")
    with pytest.raises(FileError, match="the progress of Ines.*that of Jon"):
        some().save(tmp_path / "x.json")
    assert read_progress(tmp_path / "x.json").learner == "Jon"


def _answer_for_ever(path, number, ready):
    here = read_progress(path, "Ines")
    ready.set()
    while len(here.cards) < 10_000:
        here = answered(here, lesson=LESSONS[number])[1].save()
        with open(path.with_name(f"{number}.said"), "a") as said:
            said.write(".")


def _killed_while_answering(folder, times):
    for _ in kills(times, _answer_for_ever, folder / "ines.json", waits=(0.05, 0.11, 0.23), at_once=2):
        pass


@pytest.mark.long
def test_two_lessons_killed_at_random_keep_every_answer(tmp_path, full):
    """Every answer whose save came back is in the file, 60 kills in full, here 6, of either lesson."""
    folder = tmp_path / "shared"
    folder.mkdir()
    for number in (0, 1):
        (folder / f"{number}.said").touch()  # on a busy machine no save of a lesson may come back
    alone(_killed_while_answering, folder, 30 if full else 3)
    there = read_progress(folder / "ines.json")
    said = [len((folder / f"{number}.said").read_text()) for number in (0, 1)]
    assert there.told == ""
    for number in (0, 1):
        own = sum(card.kind in exercises(LESSONS[number]) for card in there.cards)
        assert said[number] <= own <= said[number] + (30 if full else 3)
    there.save()
    assert sorted(path.name for path in folder.iterdir()) == ["0.said", "1.said", "ines.json"]


WRITER = """
import sys
from kit.lessons import exercise, read_progress
progress = read_progress(sys.argv[1], "Ines" * 2000)
for n in range(len(progress.cards), 1_000_000):
    progress = progress.shown(exercise("raw_from_baked", n)).save()
    print(n, flush=True)
"""


@pytest.mark.long
def test_killed_while_writing_the_file_is_whole(tmp_path):
    path = tmp_path / "ines.json"
    least = 0
    for lines in (1, 2, 5, 11, 23):
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path)], cwd=ROOT, stdout=subprocess.PIPE, text=True
        ) as writer:
            for _ in range(lines):
                least = int(writer.stdout.readline())
            os.kill(writer.pid, signal.SIGKILL)
        progress = read_progress(path)
        assert progress.told == ""
        assert len(progress.cards) > least


def test_a_name_is_text(tmp_path):
    path = tmp_path / "x.json"
    Progress("<script>alert(1)</script>").save(path)
    html = read_progress(path)._repr_html_()
    assert "<script>" not in html
    assert "&lt;script&gt;" in html
    path.write_text("broken")
    assert "damaged" in read_progress(path)._repr_html_()
