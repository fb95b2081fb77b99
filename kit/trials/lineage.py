"""Which trial came from which, as an outline: each beneath its parent and that one's earlier variants."""

from dataclasses import dataclass

from ..page import Result
from .records import Trial, only_trials


@dataclass(frozen=True)
class Node:
    """A trial in the tree: the key of its parent, "" at a root, and its generation, 0 at a root."""

    key: str
    label: str
    parent: str
    generation: int
    trial: Trial


@dataclass(frozen=True)
class Lineage(Result):
    """A tree of variants in the order of its outline."""

    nodes: tuple

    columns = ("key", "label", "parent", "generation")
    named = False

    @property
    def words(self):
        """What to say of an empty tree."""
        return "" if self.nodes else "No trial yet: enter one."

    def frame_rows(self):
        """Return the rows of the frame, one a node."""
        return [(n.key, n.label, n.parent, n.generation) for n in self.nodes]

    def tables(self):
        """Return the variants, set in by their generation."""
        rows = [["\u2003" * node.generation + node.label, node.trial.decision] for node in self.nodes]
        return [(["variants", "decided"], rows)] if rows else ()


def lineage(trials):
    """Return the Lineage of trials, by their parents.

    A parent that is not among them makes a root; so does a circle, at its first member. Raises TrialError.

    >>> from kit.trials import Trial
    >>> plain = Trial.of("plain", "2025-03-04")
    >>> rich, sweet = (Trial.of(name, "2025-03-05", parent=plain) for name in ("rich", "sweet"))
    >>> [(node.label, node.generation) for node in lineage([rich, plain, sweet]).nodes]
    [('plain', 0), ('rich', 1), ('sweet', 1)]
    """
    known, children, nodes = {trial.key: trial for trial in only_trials(trials)}, {}, {}
    for trial in known.values():
        children.setdefault(trial.parent if trial.parent in known else "", []).append(trial)
    for root in (*children.get("", ()), *known.values()):  # after the roots what is in a circle
        left = [(root, "", 0)]
        while left:  # no recursion: a chain of variants may be long
            trial, parent, generation = left.pop()
            if trial.key not in nodes:
                label = f"{trial.code} {trial.name}".strip()
                nodes[trial.key] = Node(trial.key, label, parent, generation, trial)
                left += [(child, trial.key, generation + 1) for child in reversed(children.get(trial.key, ()))]
    return Lineage(tuple(nodes.values()))
