"""Which trial came from which, laid out as a tree for drawing."""

from dataclasses import dataclass

from ..page import Result
from .records import only_trials


@dataclass(frozen=True)
class Node:
    """A trial in the tree: generations to the right (x), one row a leaf (y)."""

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
        rows = [
            ["  " * int(2 * node.x) + node.label, getattr(node.item, "decision", "")]
            for node in sorted(self.nodes, key=lambda n: (n.y, n.x))
        ]
        return [(["variants", "decided"], rows)] if rows else ()


def lineage(trials):
    """Return the Lineage of trials, by their parents.

    A parent that is not among them makes a root; so does a circle, at its first member. Raises TrialError.

    >>> from kit.trials import Trial
    >>> plain = Trial.of("plain", "2025-03-04")
    >>> rich, sweet = (Trial.of(name, "2025-03-05", parent=plain) for name in ("rich", "sweet"))
    >>> tree = lineage([plain, rich, sweet])
    >>> [(node.label, node.x, node.y) for node in tree.nodes]
    [('plain', 0, 0.5), ('rich', 1, 0.0), ('sweet', 1, 1.0)]
    """
    known = {trial.key: trial for trial in only_trials(trials)}
    parents, children, depth, order = {}, {None: []}, {None: -1}, []
    for key, trial in known.items():
        if trial.parent in known and not _leads_back(parents, trial.parent, key):
            parents[key] = trial.parent
        children.setdefault(parents.get(key), []).append(key)
    left = children.pop(None)[::-1]
    while left:  # no recursion: a chain of variants may be long
        key = left.pop()
        order.append(key)
        depth[key] = depth[parents.get(key)] + 1
        left += children.get(key, [])[::-1]
    rows = {key: float(row) for row, key in enumerate(key for key in order if key not in children)}
    for key in reversed(order):
        if key in children:
            rows[key] = (rows[children[key][0]] + rows[children[key][-1]]) / 2
    nodes = (
        Node(key, f"{trial.code} {trial.name}".strip(), depth[key], rows[key], trial) for key, trial in known.items()
    )
    return Lineage(tuple(nodes), tuple((origin, key) for key, origin in parents.items()))


def _leads_back(parents, origin, key):
    while origin is not None:
        if origin == key:
            return True
        origin = parents.get(origin)
    return False
