"""Panels to reformulate: say what must hold and move one thing; swap one ingredient for another."""

import ipywidgets as widgets
import numpy as np

from .. import page
from ..balance import dough_class, in_words
from ..formula.usual import check_usual
from ..reformulate import Solved, allergens, measured, solve, substitute, substitutions
from ..reformulate.asked import trim
from ..reformulate.substitutions import ACCOUNTS, RATIOS, avoidable
from ..words import signed, without_zeros
from .live import picture
from .panel import ROW, Dial, Panel, button, dropdown, folded, kind_dial, radio, tick
from .reformulate_charts import IngredientRows, QuantityRows, ingredient_rows
from .strips import head, moved, side_by_side, status, tiles

_PART = "padding:2px 0;font-size:13px;font-weight:600"
MOVES = {"butter": 52.0, "egg": 60.0, "sugar": 32.0, "milk": 70.0}  # kind: how far its slider reaches [% of flour]
HOLDS = (
    "total_hydration",
    "hydration",
    "fat",
    "sugars",
    "salt",
    "enrichment_ratio",
    "sweetness_split",
    "sugars_per_piece",
    "energy_per_piece",
    "time_to_double",
)
SHOWN = ("total_hydration", "fat", "sugars", "time_to_double")  # of what can hold, what is not folded away
FOLLOW = ("water", "milk", "butter", "egg", "sugar", "salt", "yeast", "topping")
SMALLEST, CHEAPEST = "the least change", "the cheapest"


def _group(words, boxes):
    return [widgets.HTML(f'<span style="{_PART}">{words}</span>', layout={"margin": "0 12px 0 0"}), *boxes]


class SolvePanel(Panel):
    """Choose what holds, move one thing, and see what must follow; what cannot be is said, with the nearest.

    formula; hold and free: names ticked at first; folder: where a variant is kept; prices: the shop's, as read, for
    the cheapest way. Raises FormulaError for many.
    """

    keeps = True

    behind = "The table behind it"

    def __init__(self, formula, hold=("total_hydration",), free=("water",), folder=None, prices=None):
        self.formula = self.baseline = self.variant = formula
        self.prices, self.shelf = prices, folder
        dials = {kind: kind_dial(formula, kind, reach) for kind, reach in MOVES.items()}
        dials["within"] = Dial("what holds may move by", 0.0, 0.0, 10.0, 0.5, "% of it")
        self._holds = [n for n in HOLDS if n != "time_to_double" or formula.of_kind("yeast")]
        self._follow = [n for n in FOLLOW if n != "topping" or formula.has("topping")]
        choices = {f"hold {n}": tick(f"hold {in_words(n)}", n in hold) for n in self._holds}
        choices |= {f"free {n}": tick(f"{n} follows", n in free) for n in self._follow}
        self._take = widgets.Checkbox(value=False)  # a state of its own, for undo; its button is what is shown
        choices["nearest"] = self._take
        if prices is not None:
            choices["prefer"] = radio("of all ways", (SMALLEST, CHEAPEST), SMALLEST)
        self._room = len(self._holds) + formula.has("topping")
        self._far = max(50.0, *(10 * np.ceil(formula.of_kind(kind) / 10 + 2) for kind in MOVES))
        super().__init__(dials, choices)
        self._before = measured(formula, self._holds)
        does = "Show the nearest formula, and what it gives up"
        self.nearest_button = button("take the nearest", does, lambda: setattr(self._take, "value", True), 150)
        first = [n for n in self._holds if n in SHOWN or n in hold]
        more = [self.choices[f"hold {n}"] for n in self._holds if n not in first]
        ways = [choice for name, choice in choices.items() if name == "prefer"]
        self._begin(
            _group("What must hold, as it is now:", [self.choices[f"hold {n}"] for n in first]),
            folded("More that can hold", widgets.Box([*more, self.dials["within"].view], layout=ROW)),
            _group("What may move to make it so:", [self.choices[f"free {n}"] for n in self._follow]),
            [self.dials[kind].view for kind in MOVES],
            [*ways, self.undo_button, self.reset_button],
            remedies=[self.nearest_button],
        )

    # what is asked

    def _check_typed(self, name, value):
        check_usual(name, value)

    @property
    def asked(self):
        """{kind: what its dial asks for} of the dials that were moved."""
        return self.turned(MOVES)

    def _work_out(self, moving):
        """Return Solved for what the controls say. Raises Impossible, unless its nearest is to be taken."""
        if moving not in (None, "nearest"):
            self._silently(lambda: setattr(self._take, "value", False))
        self.nearest_button.layout.display = "none"
        held, free = self._ticked("hold", self._holds), self._ticked("free", self._follow)
        within, bands = self.dials["within"].value / 100, {}
        if within:
            bands, held = {n: ((1 - within) * self._before[n], (1 + within) * self._before[n]) for n in held}, []
        if not (self.asked or held or bands):
            return Solved(self.baseline, self.baseline, {}, ())
        bought = {}
        if "prefer" in self.choices and self.choices["prefer"].value == CHEAPEST:
            bought = {"prefer": "cheapest", "prices": self.prices}
        found = solve(self.baseline, self.asked | bands, hold=held, free=free, nearest=True, **bought)
        if found.refusal is not None and not self._take.value:
            self.nearest_button.layout.display = ""
            raise found.refusal
        return found

    def _ticked(self, what, names):
        return [name for name in names if self.choices[f"{what} {name}"].value]

    # what is shown

    def _charts(self):
        self.variant = self.result.formula
        bands = {
            c.demand.name: (c.demand.low, c.demand.high, "given up" if c.traded else "asked")
            for c in self.result.demands
            if c.demand.name in MOVES
        }
        lines = {"before": self.baseline, "asked": bands, "far": self._far, "room": self._room}
        quantities = {"names": self._holds, "measured_before": self._before, "room": self._room}
        return [(IngredientRows, self.variant, lines), (QuantityRows, self.result, quantities)]

    def _numbers(self):
        entries, both = [], (self.baseline, self.variant)
        for name in dict.fromkeys((*self.asked, *self._ticked("free", self._follow))):
            unit, base = ("g", "a raw piece") if name == "topping" else ("%", "of flour")
            before, after = (float(f.pieces.topping) if name == "topping" else f.of_kind(name) for f in both)
            why = "asked" if name in self.asked else "follows"
            change = without_zeros(moved(after - before, 2))
            entries.append((name, f"{trim(after)} {unit}", change, f"{base}, {why}"))
        was, now = (dough_class(formula).said for formula in both)
        return [*entries, ("dough class", now, "" if was == now else f"was {was}", "by fat and sugar on flour")]

    def _words(self):
        return [self.result.words]

    def _behind_html(self):
        return "".join(page.table(*one) for one in self.result.tables())

    def _changes(self):
        return ", ".join(f"{name} {trim(after)}" for name, (_, after, _) in self.result.moves.items())


class SubstitutePanel(Panel):
    """Swap one ingredient for another: the arithmetic step by step, the usual wrong way and its error beside it.

    formula; folder: where a variant is kept. Raises FormulaError for many formulas.
    """

    keeps = True

    ROOM = 9  # rows of the picture
    AS_RULE = "as the rule has it"

    def __init__(self, formula, folder=None):
        self.formula = self.baseline = self.variant = formula
        self.shelf = folder
        self._offers = _offers(formula)
        what = dropdown("swap", list(self._offers), width="270px")
        into = dropdown("for", list(self._offers[what.value]), width="250px")
        what.observe(lambda _: self._silently(self._offer), "value")
        names = [(in_words(account), account) for account in (*ACCOUNTS, *RATIOS)]
        basis = dropdown("what is equal", [(self.AS_RULE, ""), *names], width="280px")
        share = Dial("share of it", 100.0, 1.0, 100.0, 1.0)
        super().__init__({"share": share}, {"what": what, "into": into, "basis": basis})
        buttons = [share.view, self.undo_button, self.reset_button]
        self._begin(list(self.choices.values()), buttons)

    def _offer(self):
        """Offer what may come in for what goes out, and how much of it is usual."""
        out = self.choices["what"].value
        self.choices["into"].options = list(self._offers[out])
        self.dials["share"].show(10.0 if out.startswith("flour") else 100.0)

    def _work_out(self, moving):
        what, into = self.choices["what"].value, self.choices["into"].value
        part, out, key = self._offers[what][into]
        if not part:
            return substitute(self.baseline, without=out)
        basis = self.choices["basis"].value or None
        return substitute(self.baseline, out, key, self.dials["share"].value, part, basis)

    def _charts(self):
        self.variant = self.result.formula
        beside = {"before": self.baseline, "others": True, "room": self.ROOM}
        return [(IngredientRows, self.variant, beside)]

    def _show(self):
        found = self.result
        steps = "".join(f'<li style="margin:0 0 5px">{page.escape(step)}</li>' for step in found.arithmetic)
        steps = f'{head("Step by step")}<ol style="margin:0;padding-left:20px;font-size:14px">{steps}</ol>'
        overlay = self.overlays[0]
        beside = side_by_side([(overlay.figure.bbox.width, picture(overlay)), (400, steps)])
        wrong = "".join(_wrong_way(swap, swap.title if len(found.swaps) > 1 else "") for swap in found.swaps)
        bench = page.items(found.behaviour)
        bench = f'<ul style="margin:0;padding-left:20px;font-size:14px">{bench}</ul>' if bench else ""
        title = head("At the bench, and on the label")
        self._tell(tiles(self._numbers()), beside, wrong, title, bench, status(" ".join(found.notes)))

    def _numbers(self):
        """Return a tile for each line that a swap changes: what there is of it now, and by how much it moved."""
        return [
            (
                row.name,
                f"{trim(row.after)} %",
                without_zeros(signed(row.after - row.before, 2)),
                "of its part's base" if ":" in row.name else "of flour",
            )
            for row in ingredient_rows(self.baseline, self.variant, others=True)
            if row.changed
        ]

    def _changes(self):
        return ", ".join(swap.title for swap in self.result.swaps)


def _wrong_way(swap, title):
    """Return the usual wrong way of a swap, the size of its errors set large, as HTML."""
    errors = [
        (
            f"{what}, off by",
            f"{without_zeros(signed(wrong - right, 2))} points",
            f"{trim(wrong)} %",
            f"where {trim(right)} is right",
        )
        for what, wrong, right in swap.errors
    ]
    said = swap.wrong_way.split(" Gram for gram with")[0]
    if not (errors or said):
        return ""
    words = f"The usual wrong way{f', {title}' if title else ''}"
    return f'{head(words)}<p style="margin:0 0 2px;font-size:14px">{page.escape(said)}</p>{tiles(errors)}'


def _offers(formula):
    """Return {what goes: {what comes: (part, out, into)}} of the rules that fit, then {all with an allergen: ...}."""
    found = {}
    for row in substitutions(formula):
        for part in formula.parts:
            kind = "dough" if part in formula.bowls else part.kind
            if row.part in (kind, "any") and (kind != "dough" or part.kind == "dough") and _holds(formula, part, row):
                offers = found.setdefault(f"{row['out']} in the {part.name}", {})
                offers[row.into] = (part.name, row.out, row.into)
    there = set(allergens(formula))
    for name, members in avoidable().items():
        if members & there:
            found[f"all that holds {name}"] = {f"what the rules have without {name}": ("", name, "")}
    return found


def _holds(formula, part, row):
    """Whether a part, the bowls of the dough taken together, holds what a rule takes out."""
    lines = formula.dough_keys if part in formula.bowls else part.keys
    return any(row.out in (formula.ingredients[k].kind, formula.ingredients[k].name) for k in lines)
