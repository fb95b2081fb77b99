"""Photos: checked, turned upright, re-encoded with nothing but the pixels, so that no place or person travels along."""

import hashlib
import io
import os
import re
import warnings
from dataclasses import dataclass, field
from pathlib import Path

from ..errors import FileError, must
from ..words import figure

LARGEST = 12_000_000  # bytes that come in
PIXELS = 60_000_000  # beyond it a small file unpacks to gigabytes
SIDE = 2400  # pixels of the longer side as kept
KINDS = ("JPEG", "PNG", "WEBP")
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


def digest(data):
    """Return the SHA-256 of bytes."""
    return hashlib.sha256(data).hexdigest()


def as_stored(picture):
    """Return (JPEG bytes, width, height) of a picture. Raises FileError for what is no sound picture or too large.

    picture: bytes, or the path of a JPEG, PNG or WebP of at most 12 MB.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    in_memory = isinstance(picture, (bytes, bytearray, memoryview))
    if not in_memory and (not isinstance(picture, (str, os.PathLike)) or "\0" in str(picture)):
        do = "give the path of a JPEG, PNG or WebP, or its bytes"
        raise FileError(must("picture", "a picture", repr(picture)[:40], do))
    name = "picture" if in_memory else Path(picture).name
    data = picture if in_memory else _read(picture, name)
    if len(data) > LARGEST:
        got = f"{figure(len(data) / 1e6)} MB"
        raise FileError(must(name, f"at most {LARGEST / 1e6:g} MB", got, "take it smaller"))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=KINDS) as image:
                if image.width * image.height > PIXELS:
                    got = f"{image.width} x {image.height} pixels"
                    raise FileError(must(name, f"at most {PIXELS / 1e6:g} million pixels", got, "take it smaller"))
                upright = ImageOps.exif_transpose(image)
                if "A" in upright.getbands() or "transparency" in upright.info:
                    upright = Image.alpha_composite(Image.new("RGBA", upright.size, "white"), upright.convert("RGBA"))
                upright = upright.convert("RGB")
    except FileError:
        raise
    except UnidentifiedImageError:
        got = KNOWN_BY.get(bytes(data[:4]), "something else" if data else "an empty file")
        do = "save it as one of these"
        raise FileError(must(name, "a whole JPEG, PNG or WebP picture", got, do)) from None
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        got = str(error)[:120]
        raise FileError(must(name, "a whole JPEG, PNG or WebP picture", got, "take the photo again")) from None
    upright.thumbnail((SIDE, SIDE))
    bare = Image.new("RGB", upright.size)
    bare.paste(upright)  # a new picture carries no metadata along
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=85)
    return out.getvalue(), bare.width, bare.height


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


def _read(path, name):
    try:
        if Path(path).stat().st_size > LARGEST:
            got = f"{figure(Path(path).stat().st_size / 1e6)} MB"
            raise FileError(must(name, f"at most {LARGEST / 1e6:g} MB", got, "take it smaller"))
        return Path(path).read_bytes()
    except OSError as error:
        if isinstance(error, FileError):
            raise
        do = "give a file in it" if isinstance(error, IsADirectoryError) else "check its name"
        raise FileError(must(name, "a file that can be read", error.strerror, do)) from None


def small(picture, side=360):
    """Return a stored picture's JPEG bytes at most so many pixels wide and high, for a page that shows many."""
    from PIL import Image

    out = io.BytesIO()
    with Image.open(io.BytesIO(picture)) as image:
        image.thumbnail((side, side))
        image.save(out, "JPEG", quality=80)
    return out.getvalue()
