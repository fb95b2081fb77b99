"""What moved between two formulas, and how much of it came from each ingredient: exact, adding up."""

import functools
import operator
from dataclasses import dataclass, field, replace

import numpy as np

from .. import page
from ..formula import Formula
from ..formula.losses import expected_losses, kept_before_scaling
from ..formula.parts import only_one
from ..formula.scaling import flour_of_batch
from ..words import figure, listing, plural, signed
from .accounts import AT, lines_of, weights
from .classes import class_codes, mixing, mixing_lines, own_steps
from .expressions import PIECE_PARTS, Change, kept, piece
from .quantities import QUANTITIES, in_words, measures, quantity_named

_SETTLED = 5e-7  # below this a change is rounding


@dataclass(frozen=True, eq=False)
class Moved(page.Result):
    """Every quantity before and after, with what each ingredient did to it; and one sentence that says it."""

    asked: dict = field(repr=False)  # name: its expression
    read: "_Changes" = field(repr=False)
    causes: tuple = field(repr=False)  # ingredients, then losses and piece masses
    moves: dict  # kind: (before, after) [% of total flour]
    words: str = ""

    def change(self, name):
        """Return before, after, change, and by (causes,) of a quantity."""
        return self.asked[name].read(self.read)

    @functools.cached_property
    def quantities(self):
        """{name: its `change`} of all that there are on a side."""
        found = {name: self.change(name) for name in self.asked}
        parts = {name: {over for over, _ in each.sums} - {"dough", "divided"} for name, each in self.asked.items()}
        return {
            name: change
            for name, change in found.items()
            if change.before or change.after or all(f.has(part) for f in self.read.sides for part in parts[name])
        }

    @property
    def _moving(self):
        return [n for n in range(len(self.causes)) if any(abs(q.by[n]) > _SETTLED for q in self.quantities.values())]

    @property
    def columns(self):
        """Quantity, before, after and change, then each ingredient's part of the change."""
        return ["quantity", "unit", "before", "after", "change", *(self.causes[n] for n in self._moving)]

    def frame_rows(self):
        """Return a row a quantity."""
        for name, q in self.quantities.items():
            yield name, _unit(name), q.before, q.after, q.change, *q.by[self._moving]

    def because(self, name, least=_SETTLED):
        """Return [(cause, its part of the change)] of a quantity, largest first."""
        by = self.change(quantity_named(name, self.asked)).by.tolist()
        pairs = [(cause, part) for cause, part in zip(self.causes, by, strict=True) if abs(part) >= least]
        return sorted(pairs, key=lambda pair: -abs(pair[1]))

    def tables(self):
        """Every quantity before and after, and what moved it most."""
        rows = []
        for name, q in self.quantities.items():
            digits = 3 if _unit(name) == "g per g" else 2
            because = listing(f"{cause} {signed(d, digits)}" for cause, d in self.because(name, 0.005)[:4])
            numbers = [figure(q.before, digits), figure(q.after, digits), signed(q.change, digits)]
            rows.append([f"{in_words(name)}, {_unit(name)}", *numbers, because])
        return [(["", "before", "after", "moved", "of which"], rows)]


def _unit(name):
    return "from the same flour" if name == "pieces" else QUANTITIES[name].unit


def what_moved(before: Formula, after: Formula, flour: float | None = None, pieces: int | None = None) -> Moved:
    """Return Moved: of each change between two formulas, how much came from each ingredient; it adds up.

    before, after: one formula each; flour [g] from which the words count pieces, else that of the first formula's
    batch; or pieces, for which they tell the flour. Quotients are split by the exact identities of products and
    quotients, so that an ingredient which only makes the dough larger is told too. Raises FormulaError for many.

    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 50, "butter": 15})
    >>> [(name, round(points, 3)) for name, points in what_moved(bun, bun.vary(butter=25)).because("total_hydration")]
    [('unsalted butter', 1.794)]
    """
    for formula in (before, after):
        only_one(formula, "on each side")
    flour = flour_of_batch(before) if flour is None else flour
    count = flour / 100 * QUANTITIES["total_percentage"].expression * kept("dough") / piece("dough")
    asked = {name: quantity.expression for name, quantity in QUANTITIES.items()} | {"pieces": count}
    changes = _Changes(before, after)
    moved = Moved(asked, changes, changes.causes, _moves(before, after))
    if pieces is None:
        made = moved.change("pieces")
        first, second = (int(np.floor(n + 1e-5)) for n in (made.before, made.after))
        batch = f"still {plural(first, 'piece')}" if first == second else f"{second} pieces, not {first},"
        batch += f" from {figure(flour, 0)} g of flour"
    else:
        was, now = (figure(f.scale(pieces=pieces).flour, 0) for f in (before, after))
        same = was == now
        batch = f"{'still ' * same}{now} g of flour for {plural(pieces, 'piece')}" + f", not {was}" * (not same)
    return replace(moved, words=_sentence(before, after, moved, batch))


class _Changes:
    """Reads an expression as the Change between two formulas, by ingredient, loss and mass of a piece."""

    divide = staticmethod(operator.truediv)

    def __init__(self, before, after):
        self.sides = before, after
        keys = [(f, key) for f in self.sides for key in f.dough_keys]
        keys += [(f, key) for f in self.sides for part in f.parts for key in part.keys]
        names = {key: f.ingredients[key].name for f, key in keys}
        self.place = {key: n for n, key in enumerate(names)}
        self.causes = (*names.values(), "losses", *(f"piece of {part}" for part in PIECE_PARTS))
        self.brought, self.sums = {}, {}

    def sum(self, lines, name):
        if lines not in self.brought:
            self.brought[lines] = np.zeros((2, len(self.causes), len(AT)))
            for side, formula in zip(self.brought[lines], self.sides, strict=True):
                if found := lines_of(formula, lines):
                    at = [self.place[key] for key in found.keys]
                    side[at] = found.grams[:, None] * weights(formula, found.keys)
        if (lines, name) not in self.sums:
            first, second = self.brought[lines][..., AT[name]]
            self.sums[lines, name] = Change(float(first.sum()), float(second.sum()), second - first)
        return self.sums[lines, name]

    def piece(self, part):
        masses = [float(getattr(f.pieces, part)) if f.has(part) else 0.0 for f in self.sides]
        return self._one_cause(f"piece of {part}", *masses)

    def kept(self, part):
        return self._one_cause("losses", *(kept_before_scaling(expected_losses(f), part) for f in self.sides))

    def _one_cause(self, cause, first, second):
        by = np.zeros(len(self.causes))
        by[self.causes.index(cause)] = second - first
        return Change(first, second, by)


def _moves(before, after):
    kinds = dict.fromkeys(f.ingredients[key].kind for f in (before, after) for key in f.dough_keys)
    pairs = {kind: (before.of_kind(kind), after.of_kind(kind)) for kind in kinds}
    return {kind: pair for kind, pair in pairs.items() if abs(pair[1] - pair[0]) > 0.0005}


def _sentence(before, after, moved, batch):
    q, moves = moved.change, moved.moves
    crumb, ratio = q("sugars_per_piece_dough"), q("topping_to_dough_ratio")
    if not moves and abs(ratio.change) < _SETTLED and before.fingerprint == after.fingerprint:
        return "Nothing has moved."

    def to(name, still):
        change = q(name)
        return f"{signed(change.change)} to {figure(change.after)}" if abs(change.change) >= 0.05 else still

    fat, wet = to("fat", ""), to("total_hydration", f"stays {figure(q('total_hydration').after)}")
    said = [f"fat {fat} % of flour"] if fat else []
    said.append(f"total hydration {wet} % of flour{_brought(before, after, moved)}")
    said.append(f"hydration {to('hydration', 'still ' + figure(q('hydration').after))}")
    said.append(batch)
    if abs(crumb.change) >= 0.05:
        said.append(f"sugars in a piece's crumb {signed(crumb.change)} g to {figure(crumb.after)} g")
    if abs(ratio.change) >= 0.0005:
        said.append(f"topping-to-dough ratio {figure(ratio.before, 3)} to {figure(ratio.after, 3)}")
    said += _crossed(before, after, moves)
    # a step of a quarter reads as a quarter
    digits = {kind: 1 if abs(round(b - a, 1) - (b - a)) < 0.005 else 2 for kind, (a, b) in moves.items()}
    what = [f"{kind} {signed(b - a, digits[kind])}" for kind, (a, b) in moves.items()]
    return (f"{listing(what).capitalize()}: " if what else "Piece changed: ") + "; ".join(said) + "."


def _brought(before, after, moved):
    """Say which ingredients moved total hydration, poured water last; nothing where it stays."""
    if abs(moved.change("total_hydration").change) < 0.05:
        return ""
    poured = {f.ingredients[key].name for f in (before, after) for key in f.dough_keys if key.startswith("water")}
    because = [(name, signed(part)) for name, part in moved.because("total_hydration", 0.05)]
    brought = [f"{name} {part}" for name, part in because if name not in poured]
    brought[:1] = [f"water of {first}" for first in brought[:1]]
    brought += [f"{name} itself {part}" for name, part in because if name in poured]
    return f" ({listing(brought)})" if brought else ""


def _crossed(before, after, moves):
    """Yield the class and method lines that were crossed, and where on the way."""
    sides = [measures(f, ("fat", "sugars", "fat_as_weighed", "sugar_as_weighed")) for f in (before, after)]
    names, *begins = own_steps()
    codes = [int(class_codes(side["fat"], side["sugars"])) for side in sides]
    if codes[0] != codes[1]:
        step = max(codes) if codes[1] > codes[0] else codes[0]
        fractions = [
            (lines[step] - sides[0][axis]) / (sides[1][axis] - sides[0][axis])
            for axis, lines in zip(("fat", "sugars"), begins, strict=True)
            if min(sides[0][axis], sides[1][axis]) < lines[step] <= max(sides[0][axis], sides[1][axis])
        ]
        where = _where(moves, (min if codes[1] > codes[0] else max)(fractions)) if fractions else ""
        yield f"{names[codes[1]]} now, not {names[codes[0]]}{where}"
    methods = [mixing(side) for side in sides]
    for what in ("sugar", "fat"):
        if getattr(methods[0], f"{what}_when") != getattr(methods[1], f"{what}_when"):
            pair = [side[f"{what}_as_weighed"] for side in sides]
            lines = [at for kind, at, *_ in mixing_lines() if kind == what and min(pair) <= at < max(pair) + 1e-12]
            line = f" (line at {figure(lines[-1], 0)} % as weighed)" if lines else ""
            yield f"at the bowl: {getattr(methods[1], what)}{line}"


def _where(moves, fraction):
    if len(moves) != 1:
        return ""
    ((kind, (a, b)),) = moves.items()
    return f" (line crossed at {kind} {figure(a + fraction * (b - a))} %)"
