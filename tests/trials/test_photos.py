"""Photos: only whole pictures of a decent size come in, and nothing but the pixels goes out."""

import io
import struct
import zlib

import pytest
from PIL import Image

from kit.errors import FileError
from kit.trials.photos import as_stored, small


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


@pytest.mark.parametrize(
    ("data", "is_a"), [(jpeg((20, 20), "GIF"), "a GIF"), (b"%PDF-1.7", "a PDF"), (b"<svg/>", "something else"),
                       (b"", "an empty file"), (jpeg((20, 20), "TIFF"), "a TIFF")]
)  # fmt: skip
def test_another_kind_of_file_is_named(data, is_a):
    """First bytes as in GIF 89a, ISO 32000-1 and TIFF 6.0."""
    with pytest.raises(FileError, match=f"\\(got {is_a}\\); save it as one of these"):
        as_stored(data)


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
