"""The book as one ZIP file and as a spreadsheet: all of it comes back, and nothing that does harm comes in."""

import csv
import hashlib
import io
import json
import zipfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest
from PIL import Image

from kit import total_hydration
from kit.errors import FileError, KitError
from kit.trials import ConflictError, Trial, TrialBook, TrialError, exchange, write_csv
from kit.trials.fields import Note
from tests.trials.conftest import NOTEBOOKS
from tests.trials.test_photos import jpeg
from tests.trials.test_records import with_a_house

CSV = NOTEBOOKS / "trials" / "crackle_bun_trials.csv"


@pytest.fixture
def other(tmp_path):
    with TrialBook.open(tmp_path / "other.db") as opened:
        yield opened


@pytest.fixture
def filled(book, bake):
    kept = book.save(bake, by="M1")
    book.save(kept.with_entry("liking by P1", 7).with_entry("crumb dent day 1", [8, 9]), by="M2")
    with pytest.raises(ConflictError):
        book.save(kept.with_entry("notes", "mine"), by="M3")
    book.add_photo("T-001", jpeg(), view="top", by="M1")
    book.save(Trial.of("next", "2025-03-05", parent=kept), by="M1")
    return book


def all_of(book):
    return {
        t.key: [(v.number, v.by, v.at, v.aside, v.trial.document()) for v in book.history(t, every=True)]
        + [(p.view, p.digest, p.by, p.at) for p in book.photos(t, withdrawn=True)]
        + book.removals(t)
        for t in book.trials(withdrawn=True)
    }


def test_all_of_it_comes_back(filled, other, tmp_path):
    path = filled.export(tmp_path / "out.zip")
    other.save(Trial.of("was here first", "2025-01-01"), by="M9")
    came = other.import_from(path)
    assert came.new == {"T-001": "T-002", "T-002": "T-003"}
    ours = all_of(other)
    assert {key: ours[key] for key in all_of(filled)} == all_of(filled)
    assert other.find("ribs")[0].code == "T-002"
    again = other.import_from(path)
    assert (again.new, again.already_there) == ({}, ("T-002", "T-003"))
    assert all_of(other) == ours
    with pytest.raises(FileError, match="a new file"):
        filled.export(path)


def test_a_trial_that_was_withdrawn_and_put_back_comes_so(filled, other, tmp_path):
    filled.withdraw("T-001", "the wrong flour", by="M2")
    filled.withdraw("T-002", "never baked", by="M1")
    filled.put_back("T-001", by="M2")
    other.import_from(filled.export(tmp_path / "out.zip"))
    assert [t.name for t in other.trials()] == [t.name for t in filled.trials()]
    assert all_of(other) == all_of(filled)
    assert {(removal.digest, removal.view) for removal in other.removals("T-001")} == {("", "")}  # no photo's


def test_the_houses_own_figures_come_along(book, other, bun, tmp_path, monkeypatch):
    here, there = tmp_path / "here", tmp_path / "there"
    here.mkdir(), there.mkdir()
    own = with_a_house(here, bun).vary({"bread flour": 90, "our flour": 10})
    kept = book.save(
        Trial.of("bun", "2025-03-04", formula=own, flour_weighed=1000).with_entry("weighed dough our flour", 120), "M1"
    )
    with_a_house(there, bun, fat=82.0, water=16.0)  # a file of that name lies where it is read
    monkeypatch.chdir(there)
    other.import_from(book.export(tmp_path / "out.zip"))
    back = other.trial(kept.key)
    assert total_hydration(back.planned_formula.formula) == pytest.approx(total_hydration(own))
    assert back.weighed_formula.grams["dough"] == pytest.approx(kept.weighed_formula.grams["dough"])
    assert total_hydration(back.baked_formula) == pytest.approx(total_hydration(kept.baked_formula))


def test_a_formula_by_its_name_in_an_export_is_asked_for_in_the_export_itself(book, bun, tmp_path):
    book.save(Trial.of("plain", "2025-03-04", formula=bun), by="M1")
    path = tmp_path / "trials.csv"
    path.write_bytes(members(book.export(tmp_path / "out.zip"))["trials.csv"])
    with pytest.raises(TrialError, match="line 2: 'formula' must be a file and changes .*take in the export itself"):
        TrialBook.read(path)


def test_two_kitchens_go_on_with_one_trial(filled, other, tmp_path):
    other.import_from(filled.export(tmp_path / "1.zip"))
    filled.save(filled.trial("T-001").with_entry("diameter", [85.0]), by="M1")
    filled.export(tmp_path / "2.zip")
    assert other.import_from(tmp_path / "2.zip").continued == ("T-001",)
    assert other.trial("T-001").measured["diameter"] == (85.0,)
    filled.save(filled.trial("T-001").with_entry("notes", "here"), by="M1")
    other.save(other.trial("T-001").with_entry("notes", "there"), by="M9")
    assert other.import_from(filled.export(tmp_path / "3.zip")).differing == ("T-001",)
    assert other.trial("T-001").notes == "there"
    assert other.history("T-001")[-1].trial.notes == "here"
    assert other.history("T-001")[-1].aside


def members(path):
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(path, files):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return path


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_is_a_formula(start):
    """The characters that OWASP names for CSV injection; an apostrophe before them keeps text text."""
    text = f"{start}HYPERLINK(1)"
    trial = Trial.of("x", "2025-03-04", reason="fine")
    trial = replace(trial, name=text, notes=text, noted={Note("flour_lot"): text})
    (row,) = csv.DictReader(io.StringIO(write_csv([trial]), newline=""))
    for column in ("name", "notes", "flour lot"):
        assert row[column] == "'" + text
    assert row["reason"] == "fine"


def test_a_spreadsheet_goes_out_and_comes_in(year, tmp_path):
    plain = [
        trial.with_entry("planned formula", None).with_entry("weighed formula", None).with_entry("parent", None)
        for trial in year
    ]
    plain[0] = plain[0].with_entry("notes", "=1+1").with_entry("water added", -5)
    path = tmp_path / "out.csv"
    path.write_text(write_csv(plain), newline="")
    back = standing(path)
    for one, other in zip(plain, back, strict=True):
        assert {**one.document(), "key": ""} == {**other.document(), "key": ""}


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"trials.json": b"{"}, "damaged"), ({"trials.json": b"\xff\xfe"}, "damaged"),
        ({"trials.json": b"[" * 100_000}, "damaged"), ({"trials.json": b"[]"}, "no list of trials"),
        ({"trials.json": b'{"format": 2, "trials": []}'}, "update the kit"),
        ({"trials.json": b'{"format": 1, "trials": [{"versions": [], "current": 1}]}'}, "no version that stands"),
        ({"trials.json": b'{"format": 1, "trials": [5]}'}, "damaged"),
    ],
)  # fmt: skip
def test_harm_is_refused_and_nothing_comes_in(filled, other, tmp_path, change, says):
    files = members(filled.export(tmp_path / "out.zip"))
    bad = packed(tmp_path / "bad.zip", files | change)
    before = {p.name for p in tmp_path.iterdir()}
    with pytest.raises(FileError, match=says):
        other.import_from(bad)
    assert len(other) == 0
    assert {p.name for p in tmp_path.iterdir()} == before


@pytest.mark.parametrize("name", ["../../evil.txt", "/etc/passwd", "photos/../x.jpg", "C:\\evil", "x"])
def test_what_an_export_does_not_name_is_never_unpacked(filled, other, tmp_path, name):
    odd = packed(tmp_path / "odd.zip", members(filled.export(tmp_path / "out.zip")) | {name: b"evil"})
    before = set(tmp_path.parent.rglob("*"))
    other.import_from(odd)
    assert all_of(other) == all_of(filled)
    assert {
        path for path in tmp_path.parent.rglob("*") if "-wal" not in path.name and "-shm" not in path.name
    } <= before


def test_one_bad_trial_keeps_all_out(filled, other, tmp_path):
    files = members(filled.export(tmp_path / "out.zip"))
    document = json.loads(files["trials.json"])
    document["trials"][1]["versions"][0]["document"]["measured"] = {"height": [4.2]}
    with pytest.raises(KitError, match="mm or cm"):
        other.import_from(packed(tmp_path / "bad.zip", files | {"trials.json": json.dumps(document).encode()}))
    assert len(other) == 0


def test_bombs_are_not_unpacked(filled, other, tmp_path, monkeypatch):
    files = members(filled.export(tmp_path / "out.zip"))
    monkeypatch.setattr(exchange, "UNPACKED", 100_000)
    with pytest.raises(FileError, match="50,000,000 bytes in trials.json"):
        other.import_from(packed(tmp_path / "bomb.zip", files | {"trials.json": b" " * 50_000_000}))
    monkeypatch.undo()
    photo = next(name for name in files if name.startswith("photos/"))
    with pytest.raises(FileError, match="13,000,000 bytes in photos/"):
        other.import_from(packed(tmp_path / "bomb2.zip", files | {photo: b"\0" * 13_000_000}))
    assert len(other) == 0


def test_a_changed_or_missing_picture_is_noticed(filled, other, tmp_path):
    files = members(filled.export(tmp_path / "out.zip"))
    photo = next(name for name in files if name.startswith("photos/"))
    with pytest.raises(FileError, match="was changed"):
        other.import_from(packed(tmp_path / "bad.zip", files | {photo: jpeg((10, 10))}))
    with pytest.raises(FileError, match=r"no photos/"):
        other.import_from(packed(tmp_path / "less.zip", {n: d for n, d in files.items() if n != photo}))


@pytest.mark.parametrize("data", [b"", b"PK", b"not a zip" * 100])
def test_what_is_no_zip_is_refused(other, tmp_path, data):
    path = tmp_path / "x.zip"
    path.write_bytes(data)
    with pytest.raises(FileError, match="an export of a trial book"):
        other.import_from(path)
    with pytest.raises(FileError, match="can be read"):
        other.import_from(tmp_path / "none.zip")


def test_the_invented_year_fills_a_book_once(book):
    assert len(book.import_from(CSV, NOTEBOOKS / "formulas").new) == len(book) == 40
    wrong, right = book.history("T-017")
    assert wrong.by != right.by
    mean = lambda v: v.trial.mean("diameter")  # noqa: E731
    assert mean(right) - mean(wrong) == pytest.approx(27)  # what its note says
    again = book.import_from(CSV, NOTEBOOKS / "formulas")
    assert (again.new, again.continued, len(again.already_there)) == ({}, (), 40)
    assert len(book.history("T-017")) == 2
    assert book.trial("T-002").parent == book.trial("T-001").key


def test_a_book_that_is_read_in_memory_can_only_be_read(tmp_path, book, bake):
    saved = book.save(bake, "M1")
    for path in (CSV, book.export(tmp_path / "book.zip")):
        before = path.read_bytes()
        seen = TrialBook.read(path, NOTEBOOKS / "formulas")
        with pytest.raises(FileError, match="a book that can only be read"):
            seen.save(Trial.of("new", "2025-03-04"), "M1")
        assert path.read_bytes() == before
    assert seen.trial(saved.key).document() == saved.document()
    assert [trial.name for trial in seen] == [saved.name]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('name,date,"height, mm"\nbun,2025-03-04,4.2\n', "line 2: 'height' must be 10.0 to 150.0 mm .*; 4.2 cm or"),
        ("name,date,heigth\nbun,2025-03-04,42\n", "did you mean height"),
        ("name,date\nbun\n", "broken line 2"),
        ("name,date,parent\nbun,2025-03-04,T-9\n", "row above"),
        ("name,date,planned formula\nbun,2025-03-04,../x.toml\n", "name of a file"),
        ("name,date,planned formula\nbun,2025-03-04,none.toml\n", "can be read"),
        ("name,date\n,2025-03-04\n", "name"),
    ],
)
def test_a_spreadsheet_is_refused_with_its_line(tmp_path, text, says):
    path = tmp_path / "in.csv"
    path.write_text(text)
    with pytest.raises(KitError, match=says):
        standing(path, NOTEBOOKS / "formulas")


def standing(path, formulas="."):
    """The trials of a spreadsheet as they stand, in the order of their codes."""
    return sorted(TrialBook.read(path, formulas), key=lambda trial: trial.code)


def written(tmp_path, text):
    path = tmp_path / "in.csv"
    path.write_text(text, encoding="utf-8")
    return path


# 1 cm = 10 mm, 1 in = 25.4 mm, 1 kg = 1000 g by definition; t/degC = (t/degF - 32) / 1.8 (NIST SP 811).
@pytest.mark.parametrize(
    ("column", "cell", "entry", "stands"),
    [
        ("height, cm", "4.2; 43 mm; 4 1/4", "height", (42.0, 43.0, 42.5)), ("height, in", "1½", "height", (38.1,)),
        ("core temperature, F", "203", "core temperature", (95.0,)), ("bulk time, h", "1.5", "bulk time", (90.0,)),
        ("flour weighed, kg", "2,5", "flour weighed", (2500.0,)), ("cover, %", "0.61", "cover", (0.61,)),
        ("height, mm", "42", "height", (42.0,)), ("crumb dent day 1, cm", "0.8", "crumb dent day 1", (8.0,)),
        ("bulk rise, x", "1.9", "bulk rise", (1.9,)), ("liking by P1, 1 to 9", "7", "liking", (7.0,)),
    ],
)  # fmt: skip
def test_a_bare_number_is_in_its_columns_unit(tmp_path, column, cell, entry, stands):
    (trial,) = standing(written(tmp_path, f'name,date,"{column}"\nbun,2025-03-04,"{cell}"\n'))
    assert trial.readings(entry) == stands


def test_what_is_predicted_and_weighed_is_in_its_columns_unit(tmp_path):
    text = ('name,date,planned formula,"flour weighed, g","weighed dough egg, kg","predicted height, cm"\n'
            "bun,2025-03-04,crackle_bun.toml,5000,0.9,4.3; 4.1; 4.5\n")  # fmt: skip
    (trial,) = standing(written(tmp_path, text), NOTEBOOKS / "formulas")
    assert trial.weighed_formula.grams["dough"]["egg_whole_fresh"] == pytest.approx(900)
    assert trial.controlled["flour_weighed"] == 5000
    assert trial.value("predicted height") == (43.0, 41.0, 45.0)


@pytest.mark.parametrize(
    ("columns", "says"),
    [
        ('"height, kg"', "'height, kg' must be in mm or a unit like it"), ('"height, smurfs"', "'height, smurfs'"),
        ('"core temperature, 95"', "'core temperature, 95'"), ('"bulk rise, cm"', "'bulk rise, cm' must be in x"),
        ('"liking by P1, 0 to 10"', "must be in 1 to 9"), ('"notes, kg"', "without a unit"),
        ('"weighed dough egg, min"', "must be in g"), ('"height, mm","height, cm"', "'height' 2 times"),
        ("height,Height", "'height' 2 times"), ("notes,notes", "'notes' 2 times"), (" ", "heading over every"),
    ],
)  # fmt: skip
def test_a_column_that_says_two_things_is_refused_by_name(tmp_path, columns, says):
    cells = ",".join("5" for _ in next(csv.reader([columns])))
    with pytest.raises(KitError, match=says):
        standing(written(tmp_path, f"name,date,{columns}\nbun,2025-03-04,{cells}\n"))


@pytest.mark.parametrize("mark", [";", "\t"])
def test_cells_may_be_parted_as_spreadsheets_do(tmp_path, mark):
    text = '"height, cm";Name;date;notes\n"4,2; 4,3";bun;2025-03-04;soft\n;;;\n'.replace(";", mark, 3)
    text = text.replace('3";bun;2025-03-04;', f'3"{mark}bun{mark}2025-03-04{mark}').replace(";;;", mark * 3)
    (trial,) = standing(written(tmp_path, text))
    assert (trial.name, trial.measured["height"], trial.notes) == ("bun", (42.0, 43.0), "soft")


def test_what_is_no_table_of_trials_says_so(tmp_path):
    with pytest.raises(FileError, match="columns name and date .*semicolons"):
        standing(written(tmp_path, "bun|2025-03-04\n"))
    with pytest.raises(FileError, match="a CSV file"):
        standing(written(tmp_path, "name,date,notes\nbun,2025-03-04," + "x" * 200_000 + "\n"))


@pytest.mark.parametrize("text", ["=1+1", "'=1+1", "''=1", "'tis", "'", "-5", "'-", "x'=1"])
def test_apostrophes_come_back_as_they_were(text, tmp_path):
    path = tmp_path / "out.csv"
    path.write_text(write_csv([Trial.of("x", "2025-03-04", notes=text)]), newline="")
    assert standing(path)[0].notes == text


@pytest.mark.parametrize("photos", [5, None, "x", [5]])
def test_photos_that_are_none_are_refused(filled, other, tmp_path, photos):
    files = members(filled.export(tmp_path / "out.zip"))
    document = json.loads(files["trials.json"])
    document["trials"][0]["photos"] = photos
    with pytest.raises(FileError, match="an export of a trial book"):
        other.import_from(packed(tmp_path / "bad.zip", files | {"trials.json": json.dumps(document).encode()}))
    assert len(other) == 0


@pytest.mark.parametrize("change", [{"scores": 5}, {"scores": [5]}, {"days": {"crumb_dent": 5}}, {"parent": "T-001"}])
def test_a_strange_record_is_refused_in_words(filled, other, tmp_path, change):
    files = members(filled.export(tmp_path / "out.zip"))
    document = json.loads(files["trials.json"])
    document["trials"][0]["versions"][0]["document"] |= change
    with pytest.raises(KitError, match="must be"):
        other.import_from(packed(tmp_path / "bad.zip", files | {"trials.json": json.dumps(document).encode()}))


@pytest.mark.parametrize("path", [None, 5, ""])
def test_what_is_no_path_is_refused(book, path):
    for use in (book.export, book.import_from, TrialBook.read):
        with pytest.raises(FileError, match="'path' must be"):
            use(path)


def test_an_export_is_one_snapshot(store, bake, other, tmp_path, monkeypatch):
    """A colleague saves between any two of its readings; PostgreSQL's and SQLite's snapshots hold them out."""
    history, photos = TrialBook.history, TrialBook.photos
    with TrialBook.open(store) as book, TrialBook.open(store) as colleague:
        first = book.save(bake, by="M1")
        book.save(Trial.of("second", "2025-03-05"), by="M1")

        def saved_meanwhile():
            for trial in colleague.trials():
                colleague.save(trial.with_entry("notes", f"{trial.notes} and on"), by="M2")

        busy = []  # the colleague's own readings

        def meanwhile(act):
            if not busy:
                busy.append(act)
                act()
                busy.clear()

        def history_later(self, trial, **how):
            meanwhile(saved_meanwhile)
            return history(self, trial, **how)

        def photos_later(self, trial, **how):
            meanwhile(lambda: colleague.add_photo(first, jpeg(), by="M2"))
            return photos(self, trial, **how)

        monkeypatch.setattr(TrialBook, "history", history_later)
        monkeypatch.setattr(TrialBook, "photos", photos_later)
        path = book.export(tmp_path / "out.zip")
        monkeypatch.undo()
        assert colleague.trial("T-001").version == 3
    entries = json.loads(members(path)["trials.json"])["trials"]
    assert [(entry["current"], len(entry["versions"]), entry["photos"]) for entry in entries] == [(1, 1, [])] * 2
    other.import_from(path)
    assert [trial.notes for trial in other.trials()] == ["ribs sharp", ""]


def torn(path, out):
    """An export as older kits made one while somebody saved: another version stands than the newest."""
    files = members(path)
    document = json.loads(files["trials.json"])
    document["trials"][0]["current"] = 1
    return packed(out, files | {"trials.json": json.dumps(document).encode()})


@pytest.mark.parametrize("later", ["the same", "a later one", "a torn one"])
def test_a_later_import_mends_what_stands(filled, other, tmp_path, later):
    """A book into which an older kit took a torn export."""
    path = filled.export(tmp_path / "out.zip")
    other.import_from(path)
    with other._writing() as connection:
        connection.exec_driver_sql("UPDATE trials SET current = 1, verdict = 'keep' WHERE id = 1")
    assert other.trial("T-001").readings("liking") == ()
    if later == "a later one":
        filled.save(filled.trial("T-001").with_entry("diameter", [85.0]), by="M1")
        path = filled.export(tmp_path / "later.zip")
    elif later == "a torn one":
        path = torn(path, tmp_path / "torn.zip")
    assert other.import_from(path).continued == ("T-001",)
    assert all_of(other) == all_of(filled)
    assert other.trial("T-001").document() == filled.trial("T-001").document()
    assert other.find("keep") == []
    assert other.import_from(path).continued == ()


def test_of_a_torn_export_the_newest_stands(filled, other, tmp_path):
    other.import_from(torn(filled.export(tmp_path / "out.zip"), tmp_path / "torn.zip"))
    assert other.trial("T-001").version == filled.trial("T-001").version == 2


def with_segment(picture, kind, body):
    """A JPEG with one more segment behind its first, as ITU-T T.81 (1992), annex B parts them."""
    return picture[:20] + bytes([0xFF, kind]) + (len(body) + 2).to_bytes(2) + body + picture[20:]


def with_exif(_):
    exif = Image.Exif()
    exif[0x010F] = "by the oven"
    return jpeg(exif=exif)


@pytest.mark.parametrize(
    "more",
    [
        with_exif, lambda p: with_segment(p, 0xFE, b"by the oven"), lambda p: with_segment(p, 0xE5, b"by the oven"),
        lambda p: p + b"by the oven", lambda p: p[:-2] + b"\xff\xfe\x00\x0dby the oven\xff\xd9",
        lambda p: with_segment(p, 0xE0, b"JFXX\0\x10by the oven"),
    ],
    ids=["exif", "comment", "application", "after its end", "after its pixels", "thumbnail"],
)  # fmt: skip
def test_an_imported_photo_is_the_pixels_alone_under_its_own_digest(filled, other, tmp_path, more):
    files = members(filled.export(tmp_path / "out.zip"))
    (name,) = (name for name in files if name.startswith("photos/"))
    picture = more(files.pop(name))
    assert b"by the oven" in picture
    told = f"photos/{hashlib.sha256(picture).hexdigest()}.jpg"
    files["trials.json"] = files["trials.json"].replace(name.encode(), told.encode())
    path = packed(tmp_path / "in.zip", files | {told: picture})
    other.import_from(path)
    (photo,) = other.photos("T-001")
    assert b"by the oven" not in photo.picture
    assert photo.digest == hashlib.sha256(photo.picture).hexdigest()
    other.import_from(path)
    assert len(other.photos("T-001")) == 1
    with TrialBook.open(tmp_path / "third.db") as third:
        third.import_from(other.export(tmp_path / "again.zip"))
        assert third.photos("T-001")[0].picture == photo.picture


def test_a_photo_under_a_wrong_digest_is_exported_all_the_same(filled, other, tmp_path):
    """As older kits kept a photo that they had to encode anew."""
    with filled._writing() as connection:
        connection.exec_driver_sql(f"UPDATE photos SET digest = '{'f' * 64}'")
    path = filled.export(tmp_path / "out.zip")
    other.import_from(path)
    assert other.photos("T-001")[0].picture == filled.photos("T-001")[0].picture
    filled.import_from(path)
    assert len(filled.photos("T-001")) == 1


def test_what_is_unpacked_can_be_read(filled, tmp_path):
    """APPNOTE 4.4.15: the host's attributes, on Unix the mode in the upper half."""
    with zipfile.ZipFile(filled.export(tmp_path / "out.zip")) as archive:
        assert {info.external_attr >> 16 & 0o777 for info in archive.infolist()} == {0o644}


def test_a_book_that_was_read_is_seen_from_any_thread_and_from_several_at_once():
    """A notebook runs its cells in one thread and moves its panels in others."""
    book = TrialBook.read(NOTEBOOKS / "trials" / "crackle_bun_trials.csv", NOTEBOOKS / "formulas")
    with ThreadPoolExecutor(8) as threads:
        assert set(threads.map(lambda _: len(book.trials()), range(40))) == {40}
    assert len(book.trials()) == 40
