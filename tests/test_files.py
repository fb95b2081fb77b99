"""Every file the kit writes: whole or not at all, nobody locked out of it, and nothing of a kitchen's own replaced."""

import fcntl
import itertools
import os
import re
import stat
from pathlib import Path

import openpyxl
import pytest

import kit
from kit import files, page
from kit.errors import FileError
from kit.formula import Formula
from kit.lessons import Progress, class_sheet, read_progress
from kit.trials import TrialBook
from tests.alone import alone, kills

BUN = Formula.read(kit.places.notebooks() / "formulas" / "crackle_bun.toml")


def sheet(path, n):
    BUN.save(path, flour=1000 + n)


def answers(path, n):
    Progress("Ines" * 2000, seed=n).save(path)


def printed(path, n):
    files.write_whole(path, page.sheet(f"Page {n}", "<p>crumb</p>" * 20_000), page.is_sheet)


def whole_sheet(path):
    assert Formula.read(path).of_kind("butter") == pytest.approx(18)


def whole_progress(path):
    assert read_progress(path).told == ""


def whole_page(path):
    assert path.read_text(encoding="utf-8").endswith("</html>\n")


WRITERS = [
    ("bun.csv", sheet, whole_sheet), ("bun.xlsx", sheet, whole_sheet), ("ines.json", answers, whole_progress),
    ("page.html", printed, whole_page),
]  # fmt: skip
each_writer = pytest.mark.parametrize(("name", "write", "check"), WRITERS, ids=[name for name, *_ in WRITERS])


def _write_for_ever(write, path, ready):
    for n in itertools.count():
        write(path, n)
        ready.set()


def _killed_while_writing(path, times, write, check):
    for _ in kills(times, _write_for_ever, write, path):
        check(path)


@pytest.mark.long
@each_writer
def test_killed_while_writing_the_file_is_whole(tmp_path, full, name, write, check):
    """240 kills in full, here 12, at uneven moments."""
    path = tmp_path / name
    alone(_killed_while_writing, path, 240 if full else 12, write, check)
    write(path, 0)  # no lock is left behind, and what was half written is cleared away
    assert [each.name for each in tmp_path.iterdir()] == [name]


def mode(path):
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def umask():
    """The umask of a kitchen whose files a group shares."""
    before = os.umask(0o002)
    yield
    os.umask(before)


@each_writer
def test_a_file_replaced_keeps_its_mode_and_its_link(tmp_path, umask, name, write, check):
    path, link = tmp_path / "shared" / name, tmp_path / name
    path.parent.mkdir()
    write(path, 1)
    assert mode(path) == 0o664
    link.symlink_to(path)
    for own in (0o640, 0o666):
        path.chmod(own)
        write(link, 2)
        assert mode(path) == own
    assert link.is_symlink()
    check(path)


def test_a_new_file_is_for_whom_the_umask_says(tmp_path, umask):
    with TrialBook.open(tmp_path / "book.db") as book:
        exported = book.export(tmp_path / "out.zip")
    kept = BUN.keep("richer", tmp_path).path
    pages = class_sheet(["flour_from_dough"], seed=7, learners=2).save(tmp_path)
    assert {mode(path) for path in (tmp_path / "book.db", exported, kept, *pages)} == {0o664}


@each_writer
def test_a_file_of_ones_own_is_not_replaced(tmp_path, name, write, check):
    path = tmp_path / name
    path.write_bytes(b"part,ingredient,amount\nours\n")
    if name == "ines.json":
        Progress("Jon").save(path := tmp_path / "jon.json")
    before = path.read_bytes()
    with pytest.raises(FileError, match="choose another name"):
        write(path, 1)
    assert path.read_bytes() == before


def edited_workbook(path):
    book = openpyxl.load_workbook(path)
    book.active["C2"] = 250
    book.properties.lastModifiedBy = "kitchen"  # as ECMA-376 part 2, 11 has a program say it
    book.save(path)


def saved_with_values(path):
    rows = [line.split(",=")[0] for line in path.read_text(encoding="utf-8-sig").splitlines()]
    path.write_text("\n".join(f"{row},18" for row in rows), encoding="utf-8-sig")


@pytest.mark.parametrize(("name", "edit"), [("bun.xlsx", edited_workbook), ("bun.csv", saved_with_values)])
def test_a_sheet_that_was_changed_in_a_spreadsheet_program_is_not_replaced(tmp_path, name, edit):
    path = BUN.save(tmp_path / name).path
    BUN.save(path)  # its own
    edit(path)
    before = path.read_bytes()
    with pytest.raises(FileError, match="as the kit wrote it.*move it away"):
        BUN.save(path)
    assert path.read_bytes() == before


def test_it_works_where_hard_links_do_not(tmp_path, monkeypatch):
    def no_links(*_):
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    with TrialBook.open(tmp_path / "book.db") as book:
        exported = book.export(tmp_path / "out.zip")
        with pytest.raises(FileError, match="a new file"):
            book.export(exported)
    assert [BUN.keep("richer", tmp_path).path.name for _ in range(2)] == ["richer.toml", "richer_2.toml"]
    assert not list(tmp_path.glob(".*"))


def test_a_lock_is_waited_for_so_long_and_named(tmp_path, monkeypatch):
    assert files.WAIT == 5
    monkeypatch.setattr(files, "WAIT", 0.05)
    path = BUN.save(tmp_path / "bun.csv").path
    before = path.read_bytes()
    holder = os.open(tmp_path, os.O_RDONLY)
    fcntl.flock(holder, fcntl.LOCK_EX)
    with pytest.raises(FileError, match="held by somebody else.*try again"):
        BUN.save(path, flour=2000)
    assert path.read_bytes() == before
    os.close(holder)
    BUN.save(path, flour=2000)
    assert path.read_bytes() != before


def test_without_such_locks_files_are_written_all_the_same(tmp_path, monkeypatch):
    def none(*_):
        raise OSError(9, "Bad file descriptor")  # what a network file system says of a folder

    monkeypatch.setattr(fcntl, "flock", none)
    sheet(tmp_path / "bun.csv", 1)
    BUN.keep("richer", tmp_path).vary(butter=20).save()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bun.csv", "richer.toml"]


def test_file_and_folder_are_synced(tmp_path, monkeypatch):
    synced, sync = [], os.fsync
    monkeypatch.setattr(os, "fsync", lambda handle: (synced.append(os.fstat(handle).st_mode), sync(handle)))
    sheet(tmp_path / "bun.csv", 1)
    assert [stat.S_ISDIR(each) for each in synced] == [False, True]


def test_a_file_that_may_not_be_written_stays(tmp_path, monkeypatch):
    sheet(tmp_path / "bun.csv", 1)
    before = (tmp_path / "bun.csv").read_bytes()
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(FileError, match="can be written.*Permission denied"):
        sheet(tmp_path / "bun.csv", 2)
    assert (tmp_path / "bun.csv").read_bytes() == before


def test_nothing_in_the_kit_writes_a_file_past_it():
    """One way in: no other module makes or opens a file to write."""
    ways = re.compile(r"""mkstemp|os\.(link|replace)\(|\.write_bytes\(|shutil\.copy|\bopen\([^)]*["'][wax]b?["']""")
    modules = [path for path in Path(kit.__file__).parent.rglob("*.py") if path.name != "files.py"]
    assert {path.name: found[0] for path in modules if (found := ways.search(path.read_text(encoding="utf-8")))} == {}
