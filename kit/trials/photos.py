"""Photos: checked, turned upright, re-encoded with nothing but the pixels, so that no place or person travels along."""

import contextlib
import datetime
import hashlib
import io
import os
import re
from dataclasses import dataclass, field
from pathlib import Path

from ..errors import FileError, must
from ..files import read_bytes, read_text, write_whole
from ..words import figure

INCOMING = 100_000_000  # bytes, of a photo of 200 megapixels
LARGEST = 12_000_000  # bytes as kept
PIXELS = 200_000_000  # of a JPEG in one pass, which is decoded at a fraction of its size
WHOLE = 60_000_000  # of what is decoded whole; beyond it a small file unpacks to gigabytes
SIDE = 2400  # pixels of the longer side as kept
KINDS = ("JPEG", "PNG", "WEBP")
ENDINGS = (".jpg", ".jpeg", ".png", ".webp")
TAKEN = ".in_the_book"  # names the pictures of a folder that a book has
# first bytes of other kinds, as their standards have them
KNOWN_BY = {b"GIF8": "a GIF", b"%PDF": "a PDF", b"II*\0": "a TIFF", b"MM\0*": "a TIFF"}
_SCAN = re.compile(rb"(?:[^\xff]+|\xff[\x00\xd0-\xd7])*+\xff\xd9")  # a JPEG's coded pixels and its end


@dataclass(frozen=True)
class Photo:
    """A picture of a bake, checked and re-encoded: a JPEG without location."""

    view: str
    width: int
    height: int
    by: str
    at: str
    picture: bytes = field(repr=False)

    @property
    def digest(self):
        """SHA-256 of the picture, by which two books know it."""
        return digest(self.picture)


@dataclass(frozen=True)
class Offer:
    """A picture that may be a photo of a bake: when it was taken, the trials it may be of, or why it can't be taken."""

    name: str
    taken: datetime.datetime | None  # by the clock of the camera, or of the file
    trials: tuple = ()  # codes, the likeliest first
    problem: str = ""


def looked_at(picture):
    """Return the Offer of a picture, of no trial yet: a path, of which no more is read than its head, or what a chooser
    brought: (name, bytes, datetime of the file).

    The time is the one that the camera wrote (Exif 2.32, CIPA DC-008, DateTimeOriginal), else that of the file.
    """
    from PIL import ExifTags

    brought = isinstance(picture, tuple)
    name, taken = (picture[0], picture[2]) if brought else (Path(picture).name, None)
    try:
        with io.BytesIO(picture[1]) if brought else Path(picture).open("rb") as source:
            taken = taken or datetime.datetime.fromtimestamp(Path(picture).stat().st_mtime)
            _must_fit(name, source.seek(0, io.SEEK_END))
            with _opened(name, source) as image:
                written = image.getexif().get_ifd(ExifTags.IFD.Exif).get(ExifTags.Base.DateTimeOriginal, "")
        with contextlib.suppress(ValueError):
            taken = datetime.datetime.strptime(str(written)[:19], "%Y:%m:%d %H:%M:%S")
    except FileError as error:
        return Offer(name, taken, problem=str(error))
    except OSError as error:
        said = must(name, "a file that can be read", error.strerror, "check its name")
        return Offer(name, taken, problem=said)
    return Offer(name, taken)


def digest(data):
    """Return the SHA-256 of bytes."""
    return hashlib.sha256(data).hexdigest()


def as_stored(picture):
    """Return (JPEG bytes, width, height) of a picture. Raises FileError for what is no sound picture or too large.

    picture: bytes, or the path of a JPEG of up to 200, or a PNG or WebP of up to 60 million pixels.
    """
    from PIL import Image, ImageOps

    in_memory = isinstance(picture, (bytes, bytearray, memoryview))
    if not in_memory and (not isinstance(picture, (str, os.PathLike)) or "\0" in str(picture)):
        do = "give the path of a JPEG, PNG or WebP, or its bytes"
        raise FileError(must("picture", "a picture", repr(picture)[:40], do))
    name = "picture" if in_memory else Path(picture).name
    data = picture if in_memory else read_bytes(picture, INCOMING)
    _must_fit(name, len(data))
    with _opened(name, io.BytesIO(data)) as image:
        if image.mode in ("1", "P"):
            image = image.convert("RGBA")
        image.thumbnail((SIDE, SIDE))  # of a JPEG, decodes no more than that takes
        upright = ImageOps.exif_transpose(image)
        if "A" in upright.getbands() or "transparency" in upright.info:
            upright = Image.alpha_composite(Image.new("RGBA", upright.size, "white"), upright.convert("RGBA"))
        upright = upright.convert("RGB")
    bare = Image.new("RGB", upright.size)
    bare.paste(upright)  # a new picture carries no metadata along
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=85)
    return out.getvalue(), bare.width, bare.height


def _must_fit(name, size):
    if size > INCOMING:
        raise FileError(must(name, f"at most {INCOMING / 1e6:g} MB", f"{figure(size / 1e6)} MB", "take it smaller"))


@contextlib.contextmanager
def _opened(name, source):
    """Give a picture of a kind and size that can be taken; what it or its reading says comes as a FileError."""
    from PIL import Image, UnidentifiedImageError

    usual, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None  # the limit is ours, below
    try:
        with Image.open(source, formats=KINDS) as image:
            part = image.format == "JPEG" and not image.info.get("progressive")
            most = PIXELS if part else WHOLE
            if image.width * image.height > most:
                got = f"{image.width} x {image.height} pixels"
                do = "take it smaller" if part else "take it smaller, or save it as a plain JPEG"
                raise FileError(must(name, f"at most {most / 1e6:g} million pixels", got, do))
            yield image
    except FileError:
        raise
    except UnidentifiedImageError:
        source.seek(0)
        head = source.read(4)
        got = KNOWN_BY.get(head, "something else" if head else "an empty file")
        do = "save it as one of these"
        raise FileError(must(name, "a whole JPEG, PNG or WebP picture", got, do)) from None
    except (OSError, ValueError, SyntaxError) as error:
        got = str(error)[:120]
        raise FileError(must(name, "a whole JPEG, PNG or WebP picture", got, "take the photo again")) from None
    finally:
        Image.MAX_IMAGE_PIXELS = usual


def waiting_in(folder: Path) -> list[Path]:
    """Return the pictures of a folder that no book has taken over yet."""
    known = read_text(folder / TAKEN).splitlines() if (folder / TAKEN).exists() else ()
    some = (path for path in sorted(folder.glob("[!.]*")) if path.suffix.casefold() in ENDINGS)
    return [path for path in some if path.name not in known]


def taken_over(path: Path) -> None:
    """Note beside a picture of a folder that a book has taken it over. Raises FileError."""
    place = path.with_name(TAKEN)
    known = read_text(place) if place.exists() else ""
    write_whole(place, f"{known}{path.name}\n", lambda _: True)


def is_bare(data, width, height):
    """Return whether a JPEG of that size [pixels] is as the kit stores one: pixels alone, and nothing after them.

    Segments as in ITU-T T.81 (1992), annex B: tables, one baseline frame, one scan; and JFIF's without a picture in it.
    """
    at, frame = 2, b""
    while data[at : at + 1] == b"\xff":
        kind, size = data[at + 1], int.from_bytes(data[at + 2 : at + 4])
        body, at = data[at + 4 : at + 2 + size], at + 2 + size
        if kind == 0xDA:
            return frame == height.to_bytes(2) + width.to_bytes(2) and bool(_SCAN.fullmatch(data, at))
        if kind == 0xC0:
            frame = body[1:5]
        elif not (kind in (0xC4, 0xDB, 0xDD) or (kind == 0xE0 and size == 16 and body.startswith(b"JFIF\0"))):
            return False
    return False


def small(picture, side=360):
    """Return a stored picture's JPEG bytes at most so many pixels wide and high, for a page that shows many."""
    from PIL import Image

    out = io.BytesIO()
    with Image.open(io.BytesIO(picture)) as image:
        image.thumbnail((side, side))
        image.save(out, "JPEG", quality=80)
    return out.getvalue()
