"""The book as one ZIP file and as a spreadsheet: all of it comes back, and nothing that does harm comes in."""

import csv
import io
import json
import zipfile
from dataclasses import replace

import jsonschema
import pytest

from kit.errors import FileError, KitError
from kit.trials import ConflictError, Trial, TrialBook, exchange, fill, read_trials, write_csv
from tests.trials.conftest import NOTEBOOKS
from tests.trials.test_photos import jpeg

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
        t.key: [(v.number, v.by, v.at, v.aside, v.trial.document()) for v in book.history(t)]
        + [(p.view, p.digest, p.by, p.at) for p in book.photos(t)]
        for t in book.trials()
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


def test_json_keeps_its_schema(filled, year, tmp_path):
    """JSON Schema draft 2020-12, by an independent validator."""
    for trial in year:
        filled.save(replace(trial, code=""), by="M1")
    files = members(filled.export(tmp_path / "out.zip"))
    schema, document = json.loads(files["trials.schema.json"]), json.loads(files["trials.json"])
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(document)
    document["trials"][0]["versions"][0]["document"]["measured"] = {"height": [4.2]}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(schema).validate(document)


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_is_a_formula(start):
    """The characters that OWASP names for CSV injection; an apostrophe before them keeps text text."""
    text = f"{start}HYPERLINK(1)"
    trial = Trial.of("x", "2025-03-04", reason="fine")
    trial = replace(trial, name=text, notes=text, lots={"flour_lot": text})
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
    back = read_trials(path)
    for one, other in zip(plain, back, strict=True):
        assert {**one.document(), "key": ""} == {**other.document(), "key": ""}


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"../../evil.txt": b"x"}, "evil"), ({"/etc/passwd": b"x"}, "passwd"), ({"photos/../x.jpg": b"x"}, "photos"),
        ({"C:\\evil": b"x"}, "evil"), ({"trials.json": b"{"}, "damaged"), ({"trials.json": b"\xff\xfe"}, "damaged"),
        ({"trials.json": b"[" * 100_000}, "damaged"), ({"trials.json": b"[]"}, "no list of trials"),
        ({"trials.json": b'{"format": 2, "trials": []}'}, "update the kit"),
        ({"trials.json": b'{"format": 1, "trials": [{"versions": []}]}'}, "no version that stands"),
        ({"trials.json": b'{"format": 1, "trials": [5]}'}, "without versions"),
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
    with pytest.raises(FileError, match="more than 100,000 bytes"):
        other.import_from(packed(tmp_path / "bomb.zip", files | {"trials.json": b" " * 50_000_000}))
    monkeypatch.undo()
    photo = next(name for name in files if name.startswith("photos/"))
    with pytest.raises(FileError, match="more than 12,000,000 bytes"):
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
    standing = fill(book, CSV, NOTEBOOKS / "formulas")
    assert len(standing) == len(book) == 40
    wrong, right = book.history("T-017")
    assert "diameter" in right.changed
    assert wrong.by != right.by
    mean = lambda v: v.trial.mean("diameter")  # noqa: E731
    assert mean(right) - mean(wrong) == pytest.approx(27)  # what its note says
    fill(book, CSV, NOTEBOOKS / "formulas")
    assert len(book.history("T-017")) == 2
    assert book.trial("T-002").parent == book.trial("T-001").key


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('name,date,"height, mm"\nbun,2025-03-04,4.2\n', "line 2: 'height' must be .* mm or cm"),
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
        read_trials(path, NOTEBOOKS / "formulas")
