"""Files: read with words for what is wrong, written whole or not at all, and what spreadsheets make of a cell."""

import contextlib
import csv
import errno
import io
import os
import re
import secrets
import stat
import time
from pathlib import Path

from .errors import FileError, must
from .words import plain

LARGEST = 64_000_000  # bytes of a file that is read whole
WAIT = 5  # s for a lock that somebody else holds

# A spreadsheet takes text that begins so for a formula, some also in wide letters or behind what shows nothing; an
# apostrophe before it keeps it text.
_FORMULA = re.compile(r"'*(?:[\t\r\n]|[\s\u200b\ufeff]*[=+\-@＝＋－＠﹢﹣﹦﹫])")


def read_bytes(path, most=LARGEST):
    """Return the bytes of a file. Raises FileError when it cannot be read, or has more than that many bytes."""
    try:
        with open(path, "rb") as file:
            raw = file.read(most + 1)
            if len(raw) > most:
                got = f"{os.fstat(file.fileno()).st_size / 1e6:,.1f} MB"
                raise FileError(must(Path(path).name, f"at most {most / 1e6:g} MB", got, "take a smaller one"))
            return raw
    except OSError as error:
        if isinstance(error, FileError):
            raise
        raise FileError(must(str(path), "a file that can be read", error.strerror, "check its name")) from None


def read_text(path):
    """Return the UTF-8 text of a file. Raises FileError when it cannot be read, or is not UTF-8."""
    raw = read_bytes(path)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        got = f"byte 0x{raw[error.start]:02x} in line {raw[: error.start].count(10) + 1}"
        raise FileError(must(Path(path).name, "UTF-8 text", got, "save it again as UTF-8")) from None


def csv_rows(name, text, mark):
    """Yield (line on which it ends, [cell]) of each row of CSV text as spreadsheets write it, parted by mark.

    Raises FileError, with the file's name.

    >>> list(csv_rows("bun.csv", 'milk; "2,5" ;kg', ";"))
    [(1, ['milk', '"2,5"', 'kg'])]
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
    try:
        for row in reader:
            yield reader.line_num, [cell.strip() for cell in row]
    except csv.Error as error:
        raise FileError(must(name, "a CSV file", str(error), "shorten that cell, or save it again")) from None


def as_cell(text):
    """Return text for a cell that no spreadsheet takes for a formula.

    >>> as_cell("=1+1"), from_cell(as_cell("=1+1"))
    ("'=1+1", '=1+1')
    """
    return f"'{text}" if _FORMULA.match(text) else text


def from_cell(text):
    """Return the text that `as_cell` made a cell of."""
    return text[1:] if text.startswith("'") and _FORMULA.match(text) else text


@contextlib.contextmanager
def whole(path, own=None):
    """Give a file to write in that takes its place whole or not at all: no reader and no crash meets half of it.

    own(bytes of what stands there): whether it may be replaced; without own nothing is, and FileExistsError raised.
    Mode, owner and group of what is replaced are kept. One at a time writes in a folder. Raises FileError.
    """
    path = Path(os.path.realpath(path))  # where a link leads, so that the link stays
    be = "in a folder that can be written"
    try:
        with _held(path.parent) as folder:
            if stands := os.path.lexists(path):
                be = "a file that can be written"
                _may_replace(path, own)
            temporary = path.with_name(f".kit-{secrets.token_hex(4)}.part")
            try:
                with open(temporary, "xb") as file:  # its mode is the umask's
                    be = "a file that can be written"
                    if stands:
                        _like(path.stat(), temporary)
                    yield file
                    file.flush()
                    os.fsync(file.fileno())
                _into_place(temporary, path, own is not None)
            finally:
                with contextlib.suppress(OSError):
                    os.unlink(temporary)
            if folder is not None:
                with contextlib.suppress(OSError):  # not every file system syncs a folder
                    os.fsync(folder)
    except (FileExistsError, FileError):
        raise
    except OSError as error:
        raise FileError(must(str(path), be, error.strerror or error, "choose another")) from None


def write_whole(path, text, own=None):
    """Write text to a file whole or not at all; see `whole`.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_whole(Path(folder) / "note.txt", "proofed")
    ...     print((Path(folder) / "note.txt").read_text())
    proofed
    """
    with whole(path, own) as file:
        file.write(text.encode("utf-8", "backslashreplace"))


def _may_replace(path, own):
    if own is None:
        raise FileExistsError(path)
    if not own(read_bytes(path)):
        do = "choose another name, or move it away"
        raise FileError(must(path.name, "a new file, or as the kit wrote it", "one of yours", do))
    if not os.access(path, os.W_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))


def _like(was, temporary):
    """Give a file the mode, and as far as one may the owner and group, of the one that it replaces."""
    for owner in (was.st_uid, -1) if hasattr(os, "chown") else ():
        with contextlib.suppress(OSError):  # only root gives a file away
            os.chown(temporary, owner, was.st_gid)
            break
    os.chmod(temporary, stat.S_IMODE(was.st_mode))


def _into_place(temporary, path, replacing):
    if replacing:
        os.replace(temporary, path)
        return
    try:
        os.link(temporary, path)  # fails when the name is taken, even by somebody in the same instant
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        if os.path.lexists(path):
            raise FileExistsError(path) from None
        os.rename(temporary, path)


@contextlib.contextmanager
def _held(folder):
    """Hold a folder while a file in it is compared and replaced, and give its handle; the lock dies with its process.

    What a writer that was killed left behind is cleared away.
    """
    try:
        import fcntl
    except ImportError:  # Windows has no such locks
        yield None
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        until = time.monotonic() + WAIT
        while True:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                if time.monotonic() > until:
                    got = f"held by somebody else for {WAIT} s"
                    raise FileError(must(str(folder), "a folder that can be written", got, "try again")) from None
                time.sleep(0.01)
            except OSError:  # a file system without locks
                break
            else:
                for left in folder.glob(".kit-*.part*"):
                    with contextlib.suppress(OSError):
                        left.unlink()
                break
        yield handle
    finally:
        os.close(handle)


def stem(name):
    """Return a file's name without its ending for whatever a thing is called.

    >>> stem("Crackle bun, 25 % butter"), stem("../..")
    ('crackle_bun_25_butter', 'variant')
    """
    return re.sub(r"[^\w]+", "_", plain(name), flags=re.UNICODE).strip("_")[:60] or "variant"
