"""What a change of the formula costs, line by line."""

from dataclasses import dataclass, field

from .. import page
from ..errors import AmountError, must
from ..formula.formula import DOUGH
from ..words import listing, signed
from .cost import Cost, cost
from .money import each, more


@dataclass(frozen=True, eq=False)
class CostChange:
    """What a piece costs more or less, line by line: {(part, what): (before, after)} [currency a piece]."""

    before: Cost = field(repr=False)
    after: Cost = field(repr=False)
    lines: dict = field(repr=False)

    @staticmethod
    def between(before, after):
        """Return the CostChange between two Costs; the bowls of the dough count as one. Raises AmountError."""
        if before.currency != after.currency:
            do = "use one price list for both"
            raise AmountError(must("currency", f"{before.currency} in both", after.currency, do))
        sides = [_by_line(before), _by_line(after)]
        names = dict.fromkeys((*sides[0], *sides[1]))
        return CostChange(before, after, {name: tuple(side.get(name, 0.0) for side in sides) for name in names})

    @property
    def per_piece(self):
        """What a piece costs more [currency]; the sum of its lines."""
        return self.after.per_piece - self.before.per_piece

    @property
    def moved(self):
        """{(part, ingredient): (before, after)} of the percentages that differ, the dough's on total flour."""
        sides = [_percentages(cost.formula) for cost in (self.before, self.after)]
        names = dict.fromkeys((*sides[0], *sides[1]))
        pairs = {name: tuple(side.get(name, 0.0) for side in sides) for name in names}
        return {name: pair for name, pair in pairs.items() if abs(pair[1] - pair[0]) > 1e-9}

    @property
    def words(self):
        """What moved, what it does to a piece and through which lines, in one paragraph."""
        unit, least = self.after.currency, self.after.missing or self.before.missing
        moved = [f"{name} of the {part} {signed(b - a, 2)} points" for (part, name), (a, b) in self.moved.items()]
        told = f"{listing(moved[:6])}{' and others' if len(moved) > 6 else ''}: " if moved else ""
        ends = f"{each(self.before.per_piece)} → {each(self.after.per_piece, unit)}"
        found = sorted(self.lines.items(), key=lambda entry: -abs(entry[1][1] - entry[1][0]))
        shown = [(what, b - a) for (_, what), (a, b) in found if abs(b - a) > 1e-9][:4]
        rest = self.per_piece - sum(value for _, value in shown)
        through = [f"{what} {more(value)}" for what, value in shown]
        through += [f"the rest {more(rest)}"] if abs(rest) > 1e-9 else []
        said = f"{told}a piece costs {more(self.per_piece, unit)} ({ends})."
        said = said[0].upper() + said[1:]
        said += f" Through {listing(through)}." if through else ""
        if least:
            said += f" Without {listing(dict.fromkeys(name for name, _ in least))}, which has no price."
        return said

    def to_frame(self):
        """Return a DataFrame: part, what, before, after, change [currency a piece]."""
        import pandas as pd

        rows = [(*name, a, b, b - a) for name, (a, b) in self.lines.items()]
        return pd.DataFrame(rows, columns=["part", "what", "before", "after", "change"])

    def sources(self):
        """Return what the prices and losses rest on, of both."""
        return self.before.sources() | self.after.sources()

    def _repr_html_(self):
        like = self.per_piece
        lines = self.lines | {("", "all"): (self.before.per_piece, self.after.per_piece)}
        rows = [
            [f"{what}, {part}" if part not in ("", what) else what, each(a, "", like), each(b, "", like)]
            + [more(b - a, "", like)]
            for (part, what), (a, b) in lines.items()
        ]
        table = page.table([f"{self.after.currency} a piece".strip(), "before", "after", "change"], rows,
                           strong=(len(rows) - 1,))  # fmt: skip
        return f"<p>{page.escape(self.words)}</p>{table}"


def cost_change(before, after, prices, **given):
    """Return the CostChange from one formula to another at the same prices; what else is given goes to `cost`.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 50, "butter": 10}, losses={"dividing": 0})
    >>> change = cost_change(bun, bun.vary(butter=20), {"flour": 1, "water": 0, "butter": 8}, pieces=10)
    >>> round(change.per_piece, 4)  # 60 g: (100 + 160) / 170 against (100 + 80) / 160 per kg
    0.0243
    """
    return CostChange.between(cost(before, prices, **given), cost(after, prices, **given))


def _by_line(one):
    found = {}
    for line in one.lines:
        name = ("dough" if line.kind in DOUGH else line.part), line.name
        found[name] = found.get(name, 0.0) + (line.cost or 0.0) / one.pieces
    return found | {(name, name): value / one.pieces for name, value in one.extras.items()}


def _percentages(formula):
    names = formula.ingredients
    found = {
        ("dough", names[key]["name"]): float(value)
        for key, value in zip(formula.dough_keys, formula.dough_percentages, strict=True)
    }
    others = [part for part in formula.parts if part.kind not in DOUGH]
    return found | {(p.name, names[k]["name"]): v for p in others for k, v in zip(p.keys, p.percentages, strict=True)}
