"""Files written whole or not at all."""

import contextlib
import os
import re
import tempfile
from pathlib import Path

from .errors import FileError, must
from .words import plain


def write_whole(path, text, into_place):
    """Write text to a file whole or not at all, so that a reader or a crash never meets half of it.

    into_place(temporary, path) brings it to its name (os.replace, or one that fails when the name is taken:
    its FileExistsError comes through). Raises FileError when the folder or the file cannot be written.

    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_whole(Path(folder) / "note.txt", "proofed", os.replace)
    ...     print((Path(folder) / "note.txt").read_text())
    proofed
    """
    path = Path(path)
    try:
        handle, temporary = tempfile.mkstemp(prefix=".", suffix=".part", dir=path.parent or ".")
    except OSError as error:
        raise FileError(must(str(path), "in a folder that can be written", error.strerror, "choose another")) from None
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, 0o644)
        into_place(temporary, path)
    except FileExistsError:
        raise
    except OSError as error:
        raise FileError(must(str(path), "a file that can be written", error.strerror, "choose another")) from None
    finally:
        with contextlib.suppress(OSError):
            os.unlink(temporary)


def stem(name):
    """Return a file's name without its ending for whatever a thing is called.

    >>> stem("Crackle bun, 25 % butter"), stem("../..")
    ('crackle_bun_25_butter', 'variant')
    """
    return re.sub(r"[^\w]+", "_", plain(name), flags=re.UNICODE).strip("_")[:60] or "variant"
