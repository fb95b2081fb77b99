"""Progress: what was wrong comes back sooner, and the learner's file is never lost or half written."""

import itertools
import json
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from kit.errors import FileError
from kit.lessons import Progress, exercises, mark, next_exercise, read_progress
from kit.lessons.kinds import LESSONS
from tests.lessons.checking import written

ROOT = Path(__file__).parents[2]


def answered(progress, right=True, lesson=None):
    task = next_exercise(progress, lesson)
    value = task.answer if right else task.misconceptions[0][1]
    return task, progress.after(task, mark(task, written(task, value)))


def some():
    progress = Progress("Ines", 7)
    for n in range(12):
        _, progress = answered(progress, n % 3 != 1)
    return progress


# what comes next


def test_new_kinds_come_in_teaching_order_and_easy_first():
    progress, seen = Progress(), []
    for _ in range(2):
        task, progress = answered(progress)
        seen.append((task.kind, task.level))
    assert seen == [(kind, 1) for kind in list(exercises())[:2]]


def test_what_was_wrong_comes_back_after_two_others_and_what_was_right_later():
    wrong, progress = answered(Progress(), right=False)
    kinds = []
    for _ in range(3):
        task, progress = answered(progress)
        kinds.append(task.kind)
    assert kinds[:2] != [wrong.kind] * 2
    assert wrong.kind not in kinds[:2]
    assert kinds[2] == wrong.kind
    right, progress = answered(Progress())
    kinds = []
    for _ in range(3):
        task, progress = answered(progress)
        kinds.append(task.kind)
    assert right.kind not in kinds


def test_an_exercise_that_comes_back_has_other_numbers():
    first, progress = answered(Progress(), right=False)
    for _ in range(3):
        task, progress = answered(progress)
    assert task.kind == first.kind
    assert task.question != first.question


def test_who_answers_all_right_meets_every_kind_and_climbs_to_level_three():
    progress, seen = Progress(), {}
    for _ in range(400):
        task, progress = answered(progress)
        seen.setdefault(task.kind, []).append(task.level)
    assert set(seen) == set(exercises())
    assert all(levels == sorted(levels) for levels in seen.values())
    assert max(max(levels) for levels in seen.values()) == 3


def test_who_errs_in_one_kind_meets_it_most_and_at_level_one():
    progress, counts = Progress(), {}
    for _ in range(200):
        task = next_exercise(progress, "hidden water and fat")
        right = task.kind != "all_water"
        value = task.answer if right else task.misconceptions[0][1]
        progress = progress.after(task, mark(task, written(task, value)))
        counts[task.kind] = counts.get(task.kind, 0) + 1
        assert task.lesson == "hidden water and fat"
        assert right or task.level == 1
    assert max(counts, key=counts.get) == "all_water"
    assert len(counts) == len(exercises("hidden water and fat"))


def test_no_kind_comes_twice_running():
    for right in (True, False):
        progress, last = Progress(), ""
        for _ in range(60):
            task, progress = answered(progress, right, "hidden water and fat")
            assert task.kind != last
            last = task.kind


def test_only_the_first_try_that_counts_moves_a_box():
    task = next_exercise(Progress())
    unread = Progress().after(task, mark(task, "no idea"))
    assert unread == Progress()
    once = Progress().after(task, mark(task, "1 %"))
    assert once.after(task, mark(task, written(task, task.answer))) == once
    assert once.kinds[task.kind].box == 0
    assert (once.kinds[task.kind].right, once.kinds[task.kind].wrong) == (0, 1)


def test_decided_by_the_file_alone(tmp_path):
    some().save(tmp_path / "ines.json")
    tasks = [next_exercise(read_progress(tmp_path / "ines.json")) for _ in range(2)]
    assert tasks[0].question == tasks[1].question == next_exercise(some()).question


def test_by_skill():
    progress = some()
    frame = progress.to_frame()
    assert frame["right at first"].sum() + frame["wrong at first"].sum() == 12 == progress.answered
    assert frame["kinds"].sum() == len(exercises())
    assert "12 exercises answered" in progress.words
    assert "Coming back soon" in progress.words


# the file


def test_what_is_saved_is_read_again(tmp_path):
    path = tmp_path / "ines.json"
    some().save(path)
    again = read_progress(path)
    assert (again.learner, again.seed, again.answered, again.kinds, again.last) == (
        "Ines", 7, 12, some().kinds, some().last,
    )  # fmt: skip
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
        {"answered": -1}, {"answered": 1.5}, {"answered": True}, {"answered": None}, {"learner": 3}, {"format": 0},
        {"format": "1"}, {"kinds": []}, {"kinds": {"folded_in": {}}}, {"last": 5}, {"last": ["folded_in"]},
        {"last": [1, 2, 3]}, {"kinds": {"folded_in": {"box": 9, "due": 1, "right": 0, "wrong": 0}}},
        {"kinds": {"folded_in": {"box": "1", "due": 1, "right": 0, "wrong": 0}}}, {"seed": -3},
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
    text = '{"format": 2, "something": "new"}'
    path.write_text(text)
    with pytest.raises(FileError, match="update the kit"):
        read_progress(path)
    assert path.read_text() == text
    assert [p.name for p in tmp_path.iterdir()] == ["ines.json"]


def test_a_kind_that_this_kit_no_longer_has_stays_in_the_file(tmp_path):
    path = tmp_path / "ines.json"
    some().save(path)
    content = json.loads(path.read_text())
    content["kinds"]["an old kind"] = {"box": 0, "due": 1, "right": 1, "wrong": 1}
    path.write_text(json.dumps(content))
    progress = read_progress(path)
    assert next_exercise(progress).kind in set(exercises())
    progress.save()
    assert "an old kind" in json.loads(path.read_text())["kinds"]


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


def test_saving_needs_a_name_and_a_folder(tmp_path):
    with pytest.raises(FileError, match="say where"):
        Progress().save()
    with pytest.raises(FileError, match="folder"):
        Progress().save(tmp_path / "nowhere" / "ines.json")


# several windows on one file


def windows(path, *lessons):
    """Each answers two exercises of its lesson after the other has saved; the first of each pair is right."""
    here = [read_progress(path, "Ines") for _ in lessons]
    for n in range(2):
        for place, lesson in enumerate(lessons):
            here[place] = answered(here[place], n == 0, lesson)[1].save()
    return here


@pytest.mark.parametrize("lessons", [list(LESSONS)[:2], [None, None]], ids=["two lessons", "two windows"])
def test_windows_on_one_file_add_up(tmp_path, lessons):
    path = tmp_path / "ines.json"
    here = windows(path, *lessons)
    there = read_progress(path)
    assert there == here[-1]
    assert there.answered == 4
    assert [sum(getattr(one, name) for one in there.kinds.values()) for name in ("right", "wrong")] == [2, 2]
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
    assert read_progress(path).answered == 3
    assert sum(kind.wrong for kind in read_progress(path).kinds.values()) == 1


def test_it_is_as_if_they_were_answered_one_after_another(tmp_path):
    path, alone = tmp_path / "ines.json", read_progress(tmp_path / "none", "Ines")
    a, b = read_progress(path, "Ines"), read_progress(path, "Ines")
    for lesson in LESSONS:
        task, a = answered(a, lesson=lesson)
        alone = alone.after(task, mark(task, written(task, task.answer)))
    a.save()
    task, b = answered(b, right=False, lesson=LESSONS[-1])
    alone = alone._with(("", (task.kind, task.seed, task.level), False))
    assert b.save() == replace(alone, path=path)


def test_a_file_of_another_learner_stays(tmp_path):
    Progress("Jon").save(tmp_path / "x.json")
    with pytest.raises(FileError, match="the progress of Ines.*that of Jon"):
        some().save(tmp_path / "x.json")
    assert read_progress(tmp_path / "x.json").learner == "Jon"


def _answer_for_ever(path, number, ready):
    here = read_progress(path, "Ines")
    ready.set()
    while here.answered < 10_000:
        here = answered(here, lesson=LESSONS[number])[1].save()
        with open(path.with_name(f"{number}.said"), "a") as said:
            said.write(".")


@pytest.mark.long
def test_two_lessons_killed_at_random_keep_every_answer(tmp_path, full):
    """Every answer whose save came back is in the file, 60 kills in full, here 6, of either lesson."""
    processes = multiprocessing.get_context("fork")
    folder = tmp_path / "shared"
    folder.mkdir()
    for number in (0, 1):
        (folder / f"{number}.said").touch()  # on a busy machine no save of a lesson may come back
    for _, wait in zip(range(30 if full else 3), itertools.cycle((0.05, 0.11, 0.23)), strict=False):
        running = []
        for number in (0, 1):
            ready = processes.Event()
            running.append(processes.Process(target=_answer_for_ever, args=(folder / "ines.json", number, ready)))
            running[-1].start()
            assert ready.wait(30)
        time.sleep(wait)
        for each in running:
            each.kill()
            each.join()
    there = read_progress(folder / "ines.json")
    said = [len((folder / f"{number}.said").read_text()) for number in (0, 1)]
    assert there.told == ""
    for number in (0, 1):
        own = [one for kind, one in there.kinds.items() if kind in exercises(LESSONS[number])]
        assert said[number] <= sum(one.right for one in own) <= said[number] + (30 if full else 3)
    there.save()
    assert sorted(path.name for path in folder.iterdir()) == ["0.said", "1.said", "ines.json"]


WRITER = """
import sys
from dataclasses import replace
from kit.lessons import read_progress
progress = read_progress(sys.argv[1], "Ines" * 2000)
for n in range(progress.answered, 1_000_000):
    progress = replace(progress, answered=n).save()
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
        assert progress.answered >= least


def test_a_name_is_text(tmp_path):
    path = tmp_path / "x.json"
    Progress("<script>alert(1)</script>").save(path)
    html = read_progress(path)._repr_html_()
    assert "<script>" not in html
    assert "&lt;script&gt;" in html
    path.write_text("broken")
    assert "damaged" in read_progress(path)._repr_html_()
