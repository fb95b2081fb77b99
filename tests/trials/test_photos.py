"""Photos: only whole pictures of a decent size come in, and nothing but the pixels goes out."""

import contextlib
import datetime
import io
import struct
import zlib

import pytest
from PIL import Image

from kit.errors import FileError, UnknownName
from kit.trials import Trial, TrialBook, TrialError
from kit.trials.photos import Photo, as_stored, small, taken_at, taken_over, waiting_in


def jpeg(size=(640, 480), kind="JPEG", **options):
    out = io.BytesIO()
    Image.effect_noise(size, 60).convert("RGB").save(out, kind, **options)
    return out.getvalue()


def test_location_and_all_else_is_taken_out():
    exif = Image.Exif()
    exif[0x010F], exif[0x9286] = "Camera of the baker", "by the oven"
    exif[0x8825] = {1: "N", 2: (54.0, 5.0, 30.0), 3: "E", 4: (13.0, 23.0, 0.0)}
    given = jpeg(exif=exif, comment=b"secret place")
    assert b"Camera of the baker" in given
    assert b"secret place" in given
    data, width, height = as_stored(given)
    assert b"Camera" not in data
    assert b"secret" not in data
    with Image.open(io.BytesIO(data)) as image:
        assert (image.format, image.size) == ("JPEG", (width, height)) == ("JPEG", (640, 480))
        assert not image.getexif()
        assert "comment" not in image.info


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_kinds_become_jpeg(kind):
    data, *_ = as_stored(jpeg(kind=kind))
    assert data.startswith(b"\xff\xd8")


def test_it_is_turned_upright():
    """Exif 2.3, orientation 6: rotate by 90 degrees clockwise to show."""
    exif = Image.Exif()
    exif[0x0112] = 6
    half = Image.new("RGB", (60, 40), "white")
    half.paste("black", (0, 0, 30, 40))  # left half black: after turning, the upper one
    out = io.BytesIO()
    half.save(out, "JPEG", exif=exif, quality=95)
    data, width, height = as_stored(out.getvalue())
    assert (width, height) == (40, 60)
    with Image.open(io.BytesIO(data)) as image:
        assert sum(image.getpixel((20, 10))) < 100
        assert sum(image.getpixel((20, 50))) > 650


def test_what_is_transparent_becomes_white():
    out = io.BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG")
    with Image.open(io.BytesIO(as_stored(out.getvalue())[0])) as image:
        assert min(image.getpixel((10, 10))) > 250


def test_large_pictures_become_smaller():
    _, width, height = as_stored(jpeg((3000, 1800)))
    assert (width, height) == (2400, 1440)


def bomb(width, height):
    """A PNG whose header claims a huge picture."""

    def chunk(kind, body):
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("picture", "says"),
    [
        (b"", "whole JPEG, PNG or WebP"),
        (b"<svg onload='alert(1)'/>", "whole JPEG"),
        (b"GIF89a" + b"\0" * 100, "whole JPEG"),
        (jpeg()[:-2000], "whole JPEG"),
        (bomb(60000, 60000), "picture"),
        (bomb(9000, 9000), "million pixels"),
        (b"\xff\xd8" + b"\0" * 100_000_001, "at most 100 MB"),
    ],
    ids=["empty", "svg", "gif", "truncated", "bomb", "too many pixels", "too large"],
)  # fmt: skip
def test_what_is_no_sound_picture_is_refused(picture, says):
    with pytest.raises(FileError, match=says):
        as_stored(picture)


def test_a_file_is_measured_before_it_is_read(tmp_path):
    path = tmp_path / "big.jpg"
    with open(path, "wb") as file:
        file.truncate(50_000_000_000)
    with pytest.raises(FileError, match="big.jpg.*at most 100 MB .got 50,000.0 MB"):
        as_stored(path)
    with pytest.raises(FileError, match="can be read"):
        as_stored(tmp_path / "none.jpg")


def test_a_photo_stays_with_its_trial(book, bake):
    kept = book.save(bake, by="M1")
    one = book.add_photo(kept, jpeg(), view="top", by="M1")
    again = book.add_photo(kept, jpeg((100, 80)), view="cut face", by="M2")
    assert [p.view for p in book.photos(kept)] == ["top", "cut face"]
    assert (again.width, again.by) == (100, "M2")
    with Image.open(io.BytesIO(one.picture)) as image:
        assert image.size == (640, 480)


def test_the_same_photo_is_kept_once(book, bake):
    kept, picture = book.save(bake, by="M1"), jpeg()
    book.add_photo(kept, picture, by="M1")
    book.add_photo(kept, picture, by="M1")
    assert len(book.photos(kept)) == 1


def test_a_small_copy_keeps_the_shape():
    """Pillow's own account of the picture: 800 x 400 becomes 200 x 100."""
    whole, _, _ = as_stored(jpeg((800, 400)))
    with Image.open(io.BytesIO(small(whole, 200))) as copy:
        assert (copy.format, copy.size) == ("JPEG", (200, 100))


@pytest.mark.parametrize("picture", [None, 5, ["a.jpg"], "a\0.jpg"])
def test_what_is_no_picture_is_refused(book, bake, tmp_path, picture):
    kept = book.save(bake, by="M1")
    with pytest.raises(FileError, match="'picture' must be a picture"):
        book.add_photo(kept, picture, by="M1")
    with pytest.raises(FileError, match="Is a directory"):
        book.add_photo(kept, tmp_path, by="M1")


def test_a_file_may_be_called_picture(tmp_path):
    (tmp_path / "picture").write_bytes(jpeg((60, 40)))
    assert as_stored(tmp_path / "picture")[1:] == (60, 40)


def left_of(picture, folder):
    """Return how many pieces of 64 bytes of a picture stand in the files of a folder."""
    there = b"".join(path.read_bytes() for path in sorted(folder.iterdir()) if path.is_file())
    pixels = picture[picture.index(b"\xff\xda") :]  # what goes before is alike in all
    return sum(pixels[at : at + 64] in there for at in range(0, len(pixels) - 64, 64))


def test_a_withdrawn_photo_is_hidden_and_kept(book, bake):
    book.save(bake, by="M1")
    one, other = (book.add_photo("T-001", jpeg(), view=view, by="M1") for view in ("top", "side"))
    book.withdraw("T-001", "out of focus", by="M2", photo=one)
    assert book.photos("T-001") == [other]
    assert book.photos("T-001", withdrawn=True) == [one, other]
    (line,) = book.corrections("T-001").changes
    assert (line.by, line.what, line.now) == ("M2", "photo, top", "withdrawn: out of focus")
    book.put_back("T-001", by="M1", photo=one)
    assert book.photos("T-001") == [one, other]
    with pytest.raises(UnknownName, match="photo"):
        book.withdraw("T-001", "x", by="M1", photo=Photo("top", 1, 1, "M1", one.at, b"x"))


def test_an_erased_photo_leaves_a_line(book, bake):
    book.save(bake, by="M1")
    photo = book.add_photo("T-001", jpeg((64, 48)), by="M1")
    book.erase("T-001", photo, "a guest's face", by="K1")
    assert book.photos("T-001", withdrawn=True) == []
    assert [(r.what, r.by, r.why, r.view) for r in book.removals("T-001")] == [
        ("erased", "K1", "a guest's face", "top")
    ]


@pytest.mark.parametrize("kept_open", [False, True])
def test_an_erased_photo_leaves_no_pixel(tmp_path, bake, kept_open):
    """Searched for in the bytes of every file of the book: its pages, its free pages, its log, its export."""
    folder = tmp_path / "kitchen"
    folder.mkdir()
    given, stays = jpeg(), jpeg()
    with TrialBook.open(folder / "book.db") as book:
        book.save(bake, by="M1")
        book.save(Trial.of("other", "2025-03-05"), by="M1")
        for code in ("T-001", "T-002"):
            photo = book.add_photo(code, given, by="M1")
        keeps = book.add_photo("T-001", stays, by="M1", view="side")
        if not kept_open:
            book.close()
        assert left_of(photo.picture, folder) > 100
        with TrialBook.open(folder / "book.db") if not kept_open else contextlib.nullcontext(book) as again:
            said = again.erase("T-001", photo, "a guest's face", by="K1")
            assert "Not reached: the file it came from, exports and copies" in said
            assert left_of(photo.picture, folder) == 0
            assert left_of(keeps.picture, folder) > 100
            again.export(folder / "out.zip")
            assert left_of(photo.picture, folder) == 0
            assert again.photos("T-001", withdrawn=True) == [keeps]
            for code in ("T-001", "T-002"):  # a line stays, in each trial that had it
                (line,) = again.corrections(code).changes
                assert (line.by, line.what, line.now) == ("K1", "photo, top", "erased: a guest's face")
            with pytest.raises(TrialError, match="not erased"):
                again.add_photo("T-001", given, by="M1")
            again.erase("T-001", photo, "again", by="K1")  # does no harm
            assert len(again.removals("T-001")) == 1


def test_a_merge_does_not_bring_an_erased_photo_back(tmp_path, bake):
    with TrialBook.open(tmp_path / "a.db") as ours, TrialBook.open(tmp_path / "b.db") as theirs:
        ours.save(bake, by="M1")
        photo = ours.add_photo("T-001", jpeg(), by="M1")
        theirs.import_from(ours.export(tmp_path / "before.zip"))
        ours.erase("T-001", photo, "a guest's face", by="K1")
        ours.import_from(tmp_path / "before.zip")
        ours.import_from(theirs.export(tmp_path / "theirs.zip"))
        assert ours.photos("T-001", withdrawn=True) == []
        came = theirs.import_from(ours.export(tmp_path / "after.zip"))
        assert "photos of T-001 were erased there and are withdrawn here" in str(came)
        assert theirs.photos("T-001") == []
        assert theirs.photos("T-001", withdrawn=True) == [photo]  # nobody else's file erases what is here
        again = theirs.import_from(tmp_path / "after.zip")
        assert len(theirs.removals("T-001")) == 1
        assert again.erased == ("T-001",)
        theirs.erase("T-001", photo, "a guest's face", by="M9")
        assert theirs.import_from(tmp_path / "after.zip").erased == ()


def test_an_erasure_waits_for_who_reads_and_can_be_asked_again(tmp_path, bake, monkeypatch):
    monkeypatch.setattr("kit.trials.store.WAIT", 0.1)
    path = tmp_path / "book.db"
    with TrialBook.open(path) as book, TrialBook.open(path) as colleague:
        book.save(bake, by="M1")
        photo = book.add_photo("T-001", jpeg(), by="M1")
        with colleague.standing() as there:
            there.trial("T-001")
            with pytest.raises(FileError, match="somebody else who reads it.; close the book there, then erase again"):
                book.erase("T-001", photo, "a guest's face", by="K1")
        assert book.photos("T-001", withdrawn=True) == []
        book.erase("T-001", photo, "a guest's face", by="K1")
        assert left_of(photo.picture, tmp_path) == 0


def taken(at):
    exif = Image.Exif()
    exif[0x8769] = {0x9003: at}
    return jpeg((64, 48), exif=exif)


def test_a_picture_may_show_the_bakes_of_its_day_and_of_two_days_before(book, monkeypatch):
    """Of two bakes of a day first the one that was entered nearest; a crumb a day later too."""
    for code, (day, entered) in enumerate((("2025-03-03", 9), ("2025-03-04", 9), ("2025-03-04", 13)), 1):
        at = datetime.datetime.fromisoformat(f"{day}T{entered:02}:00:00").astimezone(datetime.UTC)
        monkeypatch.setattr("kit.trials.book._now", lambda at=at: at.isoformat(timespec="milliseconds"))
        book.save(Trial.of(f"bake {code}", day), by="M1")
    times = ("2025-03-04 09:20", "2025-03-04 12:50", "2025-03-06 08:00", "2025-03-09 08:00")
    assert [book.baked_before(datetime.datetime.fromisoformat(time)) for time in times] == [
        ["T-002", "T-003", "T-001"],
        ["T-003", "T-002", "T-001"],
        ["T-003", "T-002"],
        [],
    ]
    book.withdraw("T-002", "another's", by="M1")
    assert book.baked_before(datetime.datetime.fromisoformat(times[0])) == ["T-003", "T-001"]


def test_a_picture_was_taken_when_its_camera_says_else_when_its_file_was_written():
    """Exif 2.32 (CIPA DC-008): DateTimeOriginal."""
    noon = datetime.datetime(2025, 3, 4, 12)
    assert taken_at(taken("2025:03:04 09:20:00"), "a.jpg", noon) == datetime.datetime(2025, 3, 4, 9, 20)
    assert taken_at(taken("not a time"), "a.jpg", noon) == taken_at(jpeg(kind="PNG"), "a.png", noon) == noon
    with pytest.raises(FileError, match="'page.pdf' must be a whole JPEG, PNG or WebP .*something else"):
        taken_at(b"%PDF-1.7", "page.pdf", noon)


def test_a_picture_that_a_book_took_over_waits_no_more(tmp_path):
    for name in ("a.jpg", "b.PNG", "c.jpg", "notes.txt", ".hidden.jpg"):
        (tmp_path / name).write_bytes(b"")
    assert [path.name for path in waiting_in(tmp_path)] == ["a.jpg", "b.PNG", "c.jpg"]
    for name in ("a.jpg", "c.jpg"):
        taken_over(tmp_path / name)
    assert [path.name for path in waiting_in(tmp_path)] == ["b.PNG"]
