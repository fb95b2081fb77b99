"""Which trial came from which, as an outline: each beneath its parent and that one's earlier variants."""

from collections import defaultdict
from dataclasses import dataclass

from ..page import Result
from .records import only_trials


@dataclass(frozen=True)
class Lineage(Result):
    """A tree of variants in the order of its outline."""

    branches: tuple  # (Trial, its generation, 0 at a root)

    columns = ("trial", "generation", "decided")
    named = False

    @property
    def words(self):
        """What to say of an empty tree."""
        return "" if self.branches else "No trial yet: enter one."

    def frame_rows(self):
        """Return the rows of the frame, one a trial."""
        return [(f"{t.code} {t.name}".strip(), generation, t.decision) for t, generation in self.branches]

    def tables(self):
        """Return the variants, set in by their generation."""
        rows = [["\u2003" * generation + name, decision] for name, generation, decision in self.frame_rows()]
        return [(["variants", "decided"], rows)] if rows else ()


def lineage(trials):
    """Return the Lineage of trials, by their parents.

    A parent that is not among them makes a root; so does a circle, at its first member. Raises TrialError.

    >>> from kit.trials import Trial
    >>> plain = Trial.of("plain", "2025-03-04")
    >>> rich, sweet = (Trial.of(name, "2025-03-05", parent=plain) for name in ("rich", "sweet"))
    >>> [(trial.name, generation) for trial, generation in lineage([rich, plain, sweet]).branches]
    [('plain', 0), ('rich', 1), ('sweet', 1)]
    """
    known, children, found = {trial.key: trial for trial in only_trials(trials)}, defaultdict(list), {}
    for trial in known.values():
        children[trial.parent if trial.parent in known else ""].append(trial)
    for root in (*children[""], *known.values()):  # after the roots what is in a circle
        left = [(root, 0)]
        while left:  # no recursion: a chain of variants may be long
            trial, generation = left.pop()
            if trial.key not in found:
                found[trial.key] = trial, generation
                left += [(child, generation + 1) for child in reversed(children[trial.key])]
    return Lineage(tuple(found.values()))
