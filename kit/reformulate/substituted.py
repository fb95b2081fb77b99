"""A formula with something else in it, told: the ledger of each swap, the usual wrong way, and what changes."""

from dataclasses import dataclass, field
from typing import Any

from .. import page
from ..allergens import of_formula
from ..balance import dough_class
from ..formula import Formula
from ..tables import ground
from ..words import listing, signed


@dataclass(frozen=True, eq=False)
class Swap:
    """One swap in one part: its ledger, how it was reckoned, the usual wrong way, and what changes at the bench."""

    title: str
    part: str
    base: str
    arithmetic: tuple[str, ...]  # sentences
    wrong_way: str
    behaviour: str
    source: str
    provenance: str
    lines: tuple = ()  # (ingredient, change [% of the base], {account: what that change brings})
    errors: tuple = ()  # (what, what the usual wrong way gives, what is right), in % of the base or the quantity's unit


@dataclass(frozen=True, eq=False)
class Substituted(page.Result):
    """A formula with something else in it: each swap told step by step; what it does to class and allergens."""

    formula: Formula
    before: Formula = field(repr=False)
    swaps: tuple[Swap, ...]

    @property
    def arithmetic(self) -> list[str]:
        """How it was reckoned, sentence by sentence."""
        return [sentence for swap in self.swaps for sentence in swap.arithmetic]

    @property
    def wrong_way(self) -> str:
        """The usual wrong way and the size of its error."""
        return " ".join(swap.wrong_way for swap in self.swaps if swap.wrong_way)

    @property
    def behaviour(self) -> list[str]:
        """What changes at the bench, and whose word that is."""
        return [f"{swap.title}: {swap.behaviour} ({swap.provenance})." for swap in self.swaps if swap.behaviour]

    @property
    def allergens(self) -> tuple[tuple, tuple]:
        """The allergens that come in, and those that go; of the plain ingredients, makers differ."""
        first, second = (allergens(formula) for formula in (self.before, self.formula))
        return tuple(a for a in second if a not in first), tuple(a for a in first if a not in second)

    @property
    def notes(self):
        """What the swap does to dough class and allergens, in sentences; what may bring others is named."""
        (was, now), (new, gone) = (dough_class(f).said for f in (self.before, self.formula)), self.allergens
        said = [f"Dough class {now}, was {was}." if was != now else f"Dough class still {now}."]
        said.append(f"New allergen: {listing(new)}." if new else "No new allergen known.")
        said += [f"Gone: {listing(gone)}; read every label."] if gone else []
        to_check = of_formula(self.formula)[1]
        return (*said, *([f"Allergens to check: {listing(to_check)}."] if to_check else []))

    @property
    def lead(self) -> str:
        """How it was reckoned, the usual wrong way, and what changes at the bench."""
        return " ".join(filter(None, [*self.arithmetic, self.wrong_way, *self.behaviour]))

    @property
    def words(self) -> str:
        """All of it in one paragraph."""
        return " ".join([self.lead, *self.notes])

    def to_frame(self) -> Any:
        """Return the ledger as a DataFrame: swap, part, ingredient, change, and what the change brings of each."""
        import pandas as pd

        return pd.DataFrame(
            {"swap": swap.title, "part": swap.part, "ingredient": name, f"change, % of {swap.base}": change, **brings}
            for swap in self.swaps
            for name, change, brings in swap.lines
        )

    def sources(self) -> list[str]:
        """Return what the rules and the composition rest on."""
        return list(dict.fromkeys(ground(vars(swap)) for swap in self.swaps))

    def tables(self):
        """Return the ledger of each swap, and what its lines come to together."""
        for swap in self.swaps:
            if swap.lines:
                accounts = swap.lines[0][2]
                rows = [[name, change, *brings.values()] for name, change, brings in swap.lines]
                rows.append(["together", *(sum(column) for column in list(zip(*rows, strict=True))[1:])])
                shown = [[name, *(signed(value, 2) for value in values)] for name, *values in rows]
                heads = [f"{swap.title}, {swap.part}", f"% of {swap.base}", *(a.replace("_", " ") for a in accounts)]
                yield heads, shown, "", (len(shown) - 1,)


def allergens(formula: Formula) -> tuple[str, ...]:
    """Return the allergens of a formula's ingredients, in the words of ingredients.csv, sorted."""
    return tuple(sorted(of_formula(formula)[0]))
