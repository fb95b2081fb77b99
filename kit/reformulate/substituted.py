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

    @property
    def bench(self) -> str:
        """What changes at the bench, and whose word that is; nothing where nobody says."""
        return f"{self.behaviour} ({self.provenance})." if self.behaviour else ""

    @property
    def ledger(self) -> list:
        """Its lines, and what they come to together."""
        if not self.lines:
            return []
        accounts = self.lines[0][2]
        sums = {account: sum(brings[account] for *_, brings in self.lines) for account in accounts}
        return [*self.lines, ("together", sum(change for _, change, _ in self.lines), sums)]


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
        return [f"{swap.title}: {swap.bench}" for swap in self.swaps if swap.bench]

    @property
    def dough_class(self) -> tuple[str, str]:
        """The dough's class before and after."""
        return dough_class(self.before).name, dough_class(self.formula).name

    @property
    def allergens(self) -> tuple[tuple, tuple]:
        """The allergens that come in, and those that go; of the plain ingredients, makers differ."""
        first, second = (allergens(formula) for formula in (self.before, self.formula))
        return tuple(a for a in second if a not in first), tuple(a for a in first if a not in second)

    @property
    def comes_to(self) -> tuple[str, ...]:
        """What the swap does to dough class and allergens, in sentences; what may bring others is named."""
        was, now = self.dough_class
        new, gone = self.allergens
        said = [f"Dough class {now}, was {was}." if was != now else f"Dough class still {now}."]
        said.append(f"New allergen: {listing(new)}." if new else "No new allergen known.")
        said += [f"Gone: {listing(gone)}; read every label."] if gone else []
        to_check = of_formula(self.formula)[1]
        return (*said, *([f"Allergens to check: {listing(to_check)}."] if to_check else []))

    @property
    def words(self) -> str:
        """All of it in one paragraph."""
        return " ".join(filter(None, [*self.arithmetic, self.wrong_way, *self.behaviour, *self.comes_to]))

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

    def _repr_html_(self) -> str:
        html = ""
        for swap in self.swaps:
            html += page.paragraphs(swap.arithmetic)
            if rows := [[name, change, *brings.values()] for name, change, brings in swap.ledger]:
                heads = [f"{swap.title}, {swap.part}", f"% of {swap.base}"]
                heads += [account.replace("_", " ") for account in swap.lines[0][2]]
                shown = [[name, *(signed(value, 2) for value in values)] for name, *values in rows]
                html += page.table(heads, shown, strong=(len(rows) - 1,))
            wrong = f"The usual wrong way: {swap.wrong_way}" if swap.wrong_way else ""
            html += page.paragraphs([wrong, f"At the bench: {swap.bench}" if swap.bench else ""])
        return html + page.paragraphs([" ".join(self.comes_to)])


def allergens(formula: Formula) -> tuple[str, ...]:
    """Return the allergens of a formula's ingredients, in the words of ingredients.csv, sorted."""
    return tuple(sorted(of_formula(formula)[0]))
