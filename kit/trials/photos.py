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
        return hashlib.sha256(self.picture).hexdigest()


def taken_at(picture: bytes, name: str, written: datetime.datetime) -> datetime.datetime:
    """Return when a picture was taken: as the camera wrote it, else when its file was written.

    The camera's time is that of Exif 2.32 (CIPA DC-008), DateTimeOriginal. Raises FileError for what is no picture.
    """
    from PIL import ExifTags

    with _opened(name, io.BytesIO(picture)) as image:
        told = image.getexif().get_ifd(ExifTags.IFD.Exif).get(ExifTags.Base.DateTimeOriginal, "")
    with contextlib.suppress(ValueError):
        return datetime.datetime.strptime(str(told)[:19], "%Y:%m:%d %H:%M:%S")
    return written


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
    must_be_taken(name, len(data))
    with _opened(name, io.BytesIO(data)) as image:
        if image.mode in ("1", "P"):
            image = image.convert("RGBA")
        image.thumbnail((SIDE, SIDE))  # of a JPEG, decodes no more than that takes
        upright = ImageOps.exif_transpose(image).convert("RGBA")
    bare = Image.new("RGB", upright.size, "white")  # a new picture carries no metadata along
    bare.paste(upright, mask=upright.getchannel("A"))
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=85)
    return out.getvalue(), bare.width, bare.height


def must_be_taken(name, size):
    """Raise FileError for a picture of more bytes than are taken."""
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
    except (OSError, ValueError, SyntaxError) as error:
        got = "something else" if isinstance(error, UnidentifiedImageError) else str(error)[:120]
        do = "save it as one of these, or take the photo again"
        raise FileError(must(name, "a whole JPEG, PNG or WebP picture", got, do)) from None
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


def is_bare(data):
    """Return whether a JPEG is as the kit stores one: no segment but JFIF's own, no thumbnail in it, nothing after it.

    Segments and the end of an image as in ITU-T T.81 (1992), annex B, and ITU-T T.871 (2011).
    """
    from PIL import JpegImagePlugin

    with JpegImagePlugin.JpegImageFile(io.BytesIO(data)) as image:
        told = [(kind, len(body)) for kind, body in image.applist]
    pixels = data.partition(b"\xff\xda")[2]
    markers = re.findall(rb"\xff[^\x00\xd0-\xd7]", pixels)
    return told == [("APP0", 14)] and markers == [b"\xff\xd9"] and pixels.endswith(b"\xff\xd9")


def small(picture, side=360):
    """Return a stored picture's JPEG bytes at most so many pixels wide and high, for a page that shows many."""
    from PIL import Image

    out = io.BytesIO()
    with Image.open(io.BytesIO(picture)) as image:
        image.thumbnail((side, side))
        image.save(out, "JPEG", quality=80)
    return out.getvalue()
