"""Where the reference tables and the notebooks lie: beside `kit` in a checkout, inside it in an installed wheel."""

from pathlib import Path

_KIT = Path(__file__).resolve().parent
_PACKED = _KIT / "_data"


def in_checkout() -> bool:
    """Whether this kit runs from a checkout (an editable install too), not from a wheel.

    >>> in_checkout() == (notebooks().parent == Path(__file__).resolve().parent.parent)
    True
    """
    return not _PACKED.is_dir()


def reference_tables() -> Path:
    """Folder of the reference tables (CSV).

    >>> reference_tables().name
    'reference_tables'
    """
    return _place("reference_tables")


def notebooks() -> Path:
    """Folder of the notebooks, with their formulas and pictures.

    >>> notebooks().name
    'notebooks'
    """
    return _place("notebooks")


def _place(name: str) -> Path:
    return (_KIT.parent if in_checkout() else _PACKED) / name
