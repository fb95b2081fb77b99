"""The shelf: the formulas of a folder, kept variants under their parents, and the one that is at hand."""

import functools
import os
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from .. import places
from ..errors import FileError, KitError, must
from ..files import read_bytes, read_text, write_whole
from ..words import figure, plural
from . import spreadsheets
from .formula import RECIPES, Formula
from .recipe import Recipe, read_file

DEMO = "crackle_bun.toml"
MARK = ".at_hand"  # the file that names the formula chosen last; git leaves it out
INSTEAD = "KIT_AT_HAND"  # names the file at hand in the mark's stead: pages and tests are the same everywhere


@dataclass(frozen=True, eq=False)
class Shelved:
    """A formula on the shelf: how many parents it stands under, and when its file was written."""

    path: Path
    formula: Any  # a Formula; None where a recipe asks something first
    depth: int
    written: float  # s since 1970
    recipe: Any = None  # the Recipe that asks

    @property
    def name(self) -> str:
        """The formula's name, or the recipe's title."""
        return self.formula.name if self.formula else self.recipe.title

    @property
    def still(self) -> str:
        """Its name with its piece, or with how much is asked first: what no calendar changes."""
        asked = "" if self.formula else plural(self.recipe.questions, "question")
        return f"{self.name}, {asked or f'{figure(self.formula.pieces.dough, 0)} g'}"

    @property
    def words(self) -> str:
        """Its name, set in beneath its parent's, with piece and date."""
        date = time.strftime("%d %b %Y", time.localtime(self.written)).lstrip("0")
        return f"{'– ' * self.depth}{self.still}, {date}"


@dataclass(frozen=True, eq=False)
class Shelf:
    """The formulas of a folder, newest first, kept variants under their parents; `notes` say what could not be read."""

    rows: tuple[Shelved, ...]
    notes: tuple[str, ...] = ()

    def named_like(self, name: str) -> Shelved | None:
        """The formula of that name, whatever its case; None when there is none."""
        formulas = (row for row in self.rows if row.formula)
        return next((row for row in formulas if row.name.casefold() == name.strip().casefold()), None)


def formulas_folder() -> Path:
    """The folder `formulas` beside the notebooks: of the working folder, or of one of the two above it."""
    here = Path.cwd()
    near = (folder / "formulas" for folder in (here, *here.parents[:2]))
    return next((folder for folder in near if folder.is_dir()), here / "formulas")


def shelf(folder: str | Path | None = None) -> Shelf:
    """The formulas of a folder, newest first, kept variants under their parents.

    folder: else `formulas` beside the notebooks. Of TOML files, and of spreadsheets and text in which a recipe stands.
    Returns a Shelf: `.rows`, each with its `.formula`, or a `.recipe` that asks something first; `.notes` tell each
    file that cannot be read, with why.

    >>> bun = shelf(places.notebooks() / "formulas").named_like("cardamom crackle bun").formula
    >>> bun.of_kind("butter"), bun.pieces.dough
    (18.0, 60.0)
    """
    folder, found, notes = Path(folder or formulas_folder()), {}, []
    for path in _files(folder):
        try:
            about = path.stat()
            if read := _read(path, about.st_mtime_ns, about.st_size):
                found[path.name] = Shelved(path, read[0], 0, about.st_mtime, read[1])
        except (KitError, OSError) as error:
            notes.append(f"{path.name} is left out: {error}")

    def chain(name: str) -> list[str]:
        """The formulas that one stands under, the eldest first, and itself."""
        parent = _parent(name, found)
        return [*chain(parent), name] if parent else [name]

    chains = {name: chain(name) for name in found}
    newest = {name: max(found[each].written for each in found if name in chains[each]) for name in found}
    names = sorted(found, key=lambda name: [(-newest[each], each) for each in chains[name]])
    return Shelf(tuple(replace(found[name], depth=len(chains[name]) - 1) for name in names), tuple(notes))


def _files(folder: Path) -> list[Path]:
    """The files of a folder in which a formula may stand; not those that a program keeps beside an open one."""
    return sorted(p for p in folder.glob("[!.~]*") if p.suffix.casefold() in (".toml", *RECIPES))


@functools.lru_cache(maxsize=512)
def _read(path: Path, _changed: int, _size: int) -> tuple[Formula | None, Recipe | None] | None:
    """Return (the formula of a file, the recipe that asks something first); None where no recipe stands in it."""
    if path.suffix.casefold() == ".toml":
        return Formula.read(path), None
    recipe = read_file(path.name, read_bytes(path, spreadsheets.LARGEST))
    if not recipe.has_flour:  # a list of prices, a note
        return None
    return (None, recipe) if recipe.open else (replace(recipe.formula(), path=path), None)


def _parent(name: str, found: dict[str, Shelved]) -> str:
    """The file that a formula was kept from; none where it is not there, or itself comes from this formula."""
    parents: list[str] = []
    above = name
    while (own := found[above].formula) and (above := own.parent.rpartition(" ")[0]) in found and above not in parents:
        parents.append(above)
    return parents[0] if parents and name not in parents else ""


def marked(folder: Path) -> str:
    """The name of the file that is at hand in a folder; empty when none has been chosen."""
    if instead := os.environ.get(INSTEAD):
        return instead
    try:
        return read_text(folder / MARK).strip()
    except KitError:
        return ""


def put_at_hand(formula: Formula) -> None:
    """Have every notebook open on this formula, which lies in a file. Raises FileError."""
    if not formula.path:
        raise FileError(must("formula at hand", "kept in a file", "one that is not", "keep it first"))
    path = Path(str(formula.path))
    write_whole(path.with_name(MARK), f"{path.name}\n", lambda _: True)


def at_hand(folder: str | Path | None = None) -> Formula:
    """The formula chosen last in any panel; the demo bun, invented, until one has been.

    folder: where the formulas lie, else `formulas` beside the notebooks.
    Returns the Formula [% of flour]; when the one chosen is gone or cannot be read, the demo: that is printed.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as empty:
    ...     print(at_hand(empty).name)
    Cardamom crackle bun
    """
    folder = Path(folder or formulas_folder())
    name = marked(folder)
    if name and name != DEMO:
        try:
            if name not in [path.name for path in _files(folder)]:
                raise FileError(must("formula at hand", f"a formula in {folder.name}", repr(name), "choose another"))
            return Formula.read(folder / name)
        except KitError as error:
            print(f"The formula at hand cannot be opened, so this is the demo: {error}")
    demo = folder / DEMO
    return Formula.read(demo if demo.exists() else places.notebooks() / "formulas" / DEMO)
