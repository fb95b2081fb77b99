"""Which trial or formula came from which, laid out as a tree for drawing."""

from dataclasses import dataclass
from pathlib import Path

from ..errors import must
from ..formula import Formula
from ..page import Result
from .fields import TrialError
from .records import Trial


@dataclass(frozen=True)
class Node:
    """A trial or formula in the tree: generations to the right (x), one row a leaf (y)."""

    key: str
    label: str
    x: float
    y: float
    item: object


@dataclass(frozen=True)
class Lineage(Result):
    """A tree of variants: nodes with coordinates, edges (parent key, child key)."""

    nodes: tuple
    edges: tuple

    @property
    def width(self):
        """Generations."""
        return 1 + max((node.x for node in self.nodes), default=-1)

    @property
    def height(self):
        """Rows that a drawing needs."""
        return 1 + max((node.y for node in self.nodes), default=-1)

    columns = ("key", "label", "parent", "x", "y")
    named = False

    @property
    def words(self):
        """What to say of an empty tree."""
        return "" if self.nodes else "No trial yet."

    def frame_rows(self):
        """Return the rows of the frame, one a node."""
        parent = {child: origin for origin, child in self.edges}
        return [(n.key, n.label, parent.get(n.key, ""), n.x, n.y) for n in self.nodes]

    def tables(self):
        """Return the variants, set in by their generation."""
        rows = [["  " * int(2 * node.x) + node.label] for node in sorted(self.nodes, key=lambda n: (n.y, n.x))]
        return [(["variants"], rows)] if rows else ()


def lineage(items):
    """Return the Lineage of trials (by their parents) or formulas (by the file or fingerprint they were kept from).

    A parent that is not among them makes a root; so does a circle, at its first member.

    >>> plain = Trial.of("plain", "2025-03-04")
    >>> rich, sweet = (Trial.of(name, "2025-03-05", parent=plain) for name in ("rich", "sweet"))
    >>> tree = lineage([plain, rich, sweet])
    >>> [(node.label, node.x, node.y) for node in tree.nodes]
    [('plain', 0, 0.5), ('rich', 1, 0.0), ('sweet', 1, 1.0)]
    """
    items = list(items)
    odd = next((type(each).__name__ for each in items if not isinstance(each, (Trial, Formula))), None)
    if odd:
        raise TrialError(must("lineage", "of Trials or Formulas", odd, "take them from the book"))
    keys, names = [], {}
    for place, item in enumerate(items):
        if isinstance(item, Trial):
            key, also = item.key, ()
        else:
            key, also = f"{item.fingerprint}-{place}", (item.fingerprint, Path(item.path).name if item.path else "")
        keys.append(key)
        for name in (key, *also):
            names.setdefault(name, key)
    parents = {}
    for key, item in zip(keys, items, strict=True):
        if isinstance(item, Trial):
            origin = names.get(item.parent)
        else:
            file, _, fingerprint = item.parent.rpartition(" ")
            origin = names.get(fingerprint) or names.get(file) if item.parent else None
        if origin is not None and not _leads_back(parents, origin, key):
            parents[key] = origin
    children = {}
    for key in keys:
        children.setdefault(parents.get(key), []).append(key)
    spots, leaves = {}, 0
    stack = [(key, 0, False) for key in reversed(children.get(None, []))]
    while stack:  # no recursion: a chain of variants may be long
        key, x, done = stack.pop()
        below = children.get(key, [])
        if not below:
            spots[key], leaves = (x, float(leaves)), leaves + 1
        elif done:
            spots[key] = (x, (spots[below[0]][1] + spots[below[-1]][1]) / 2)
        else:
            stack.append((key, x, True))
            stack += [(child, x + 1, False) for child in reversed(below)]
    nodes = tuple(
        Node(key, _label(item), *spots[key], item) for key, item in dict(zip(keys, items, strict=True)).items()
    )
    return Lineage(nodes, tuple((origin, key) for key, origin in parents.items()))


def _leads_back(parents, origin, key):
    while origin is not None:
        if origin == key:
            return True
        origin = parents.get(origin)
    return False


def _label(item):
    return f"{item.code} {item.name}" if isinstance(item, Trial) and item.code else item.name
