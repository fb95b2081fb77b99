"""Panels to reformulate: say what must hold and move one thing; swap one ingredient for another."""

import ipywidgets as widgets
import numpy as np

from .. import page
from ..balance import dough_class
from ..balance.quantities import in_words
from ..formula.parts import only_one
from ..formula.usual import check_usual
from ..reformulate import Solved, allergens, measured, solve, substitute, substitutions
from ..reformulate.substitutions import ACCOUNTS, RATIOS, avoidable
from ..words import figure, listing, signed
from . import look
from .panel import Dial, Panel, button, caution, dropdown, kind_dial, tick
from .reformulate_charts import IngredientRows, QuantityRows, ingredient_rows, quantity_rows
from .strips import block, head, moved, side_by_side, status, tiles

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
FOLLOW = ("water", "milk", "butter", "egg", "sugar", "salt", "yeast", "topping")


def _group(words, boxes):
    return [widgets.HTML(f'<span style="{_PART}">{words}</span>', layout={"margin": "0 12px 0 0"}), *boxes]


class SolvePanel(Panel):
    """Choose what holds, move one thing, and see what must follow; what cannot be is said, with the nearest.

    formula; hold and free: names ticked at first; folder: where a variant is kept. Raises FormulaError for many.
    """

    behind = "The table behind it"

    def __init__(self, formula, hold=("total_hydration",), free=("water",), folder=None):
        only_one(formula, "for the panel")
        self.baseline = self.variant = formula
        dials = {kind: kind_dial(formula, kind, reach) for kind, reach in MOVES.items()}
        dials["within"] = Dial("held to within", 0.0, 0.0, 10.0, 0.5, "% of each")
        self._holds = [n for n in HOLDS if n != "time_to_double" or formula.of_kind("yeast")]
        self._follow = [n for n in FOLLOW if n != "topping" or formula.has("topping")]
        choices = {f"hold {n}": tick(f"hold {in_words(n)}", n in hold) for n in self._holds}
        choices |= {f"free {n}": tick(f"{n} follows", n in free) for n in self._follow}
        self._take = widgets.Checkbox(value=False)  # a state of its own, for undo; its button is what is shown
        super().__init__(dials, choices | {"nearest": self._take})
        self._before = measured(formula, self._holds)
        self.nearest_button = button(
            "take the nearest",
            "Show the nearest formula, and what it gives up",
            lambda: setattr(self._take, "value", True),
            150,
        )
        self._begin(
            _group("What must hold, as it is now:", [self.choices[f"hold {n}"] for n in self._holds]),
            _group("What may move to make it so:", [self.choices[f"free {n}"] for n in self._follow]),
            [dial.view for dial in self.dials.values()],
            [self.undo_button, self.reset_button, *self._keeping(folder)],
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
        held = [name for name in self._holds if self.choices[f"hold {name}"].value]
        free = [name for name in self._follow if self.choices[f"free {name}"].value]
        within, bands = self.dials["within"].value / 100, {}
        if within:
            bands, held = {n: ((1 - within) * self._before[n], (1 + within) * self._before[n]) for n in held}, []
        self.nearest_button.layout.display = "none"
        if not (self.asked or held or bands):
            return Solved(self.baseline, self.baseline, {}, ())
        found = solve(self.baseline, self.asked | bands, hold=held, free=free, nearest=True)
        if found.refusal is not None and not self._take.value:
            self.nearest_button.layout.display = ""
            raise found.refusal
        return found

    # what is shown

    def _say(self, error):
        super()._say(str(error).replace(", in .nearest", ""))

    def _move(self):
        self.variant = self.result.formula
        lines, quantities = self._handles
        lines.update(self._ingredients())
        quantities.update(self._rows())

    def _ingredients(self):
        bands = {
            c.demand.name: (c.demand.low, c.demand.high, "given up" if c.traded else "asked")
            for c in self.result.demands
            if c.demand.name in MOVES
        }
        return ingredient_rows(self.baseline, self.variant, bands)

    def _rows(self):
        rows = quantity_rows(self.result, self._holds, self._before)
        if self.baseline.has("topping"):
            pair = [float(f.pieces.topping) for f in (self.baseline, self.variant)]
            rows.append(("topping", "g", *pair))
        return rows

    def _draw(self):
        rows = self._rows()
        high = 70 + 36 * len(rows)
        left, right = look.figure(430, high), look.figure(416, high)
        reach = 10 * np.ceil(max(dial.value for name, dial in self.dials.items() if name != "within") / 10 + 2)
        box = [0.035, 44 / high, 0.93, 1 - 68 / high]
        handles = (
            IngredientRows(left.add_axes(box), self._ingredients(), max(reach, 50.0)),
            QuantityRows(right.add_axes(box), rows),
        )
        self._lay((left, right))
        return handles

    @property
    def alt(self):
        """The two figures in words."""
        held = listing(in_words(c.demand.name) for c in self.result.demands if c.demand.asked == "held")
        return (
            f"Ingredients before and after. {self.result.words}",
            f"Quantities before and after, as changes; held: {held or 'nothing'}; "
            f"given up: {listing(map(in_words, self.result.traded)) or 'nothing'}.",
        )

    def _numbers(self):
        names = dict.fromkeys((*self.asked, *(n for n in self._follow if self.choices[f"free {n}"].value)))
        entries = []
        for name in names:
            if name == "topping":
                before, after = (float(f.pieces.topping) for f in (self.baseline, self.variant))
                unit, base = "g", "a raw piece"
            else:
                before, after = (f.of_kind(name) for f in (self.baseline, self.variant))
                unit, base = "%", "of flour"
            base += ", asked" if name in self.asked else ", follows"
            entries.append((name, f"{figure(after, 2)} {unit}", moved(after - before, 2), base))
        was, now = (dough_class(f).name for f in (self.baseline, self.variant))
        return [*entries, ("dough class", now, "" if was == now else f"was {was}", "by fat and sugar on flour")]

    def _words(self):
        return [self.result.words]

    def _behind_html(self):
        return self.result._repr_html_()

    def _changes(self):
        return ", ".join(f"{name} {figure(after, 2)}" for name, (_, after, _) in self.result.moves.items())


class SubstitutePanel(Panel):
    """Swap one ingredient for another: the arithmetic step by step, the usual wrong way and its error beside it.

    formula; folder: where a variant is kept. Raises FormulaError for many formulas.
    """

    ROOM = 9  # rows of the picture
    AS_RULE = "as the rule has it"

    def __init__(self, formula, folder=None):
        only_one(formula, "for the panel")
        self.baseline = self.variant = formula
        self._offers = _offers(formula)
        what = dropdown("swap", list(self._offers), width="270px")
        into = dropdown("for", list(self._offers[what.value]), width="250px")
        names = [(account.replace("_", " "), account) for account in (*ACCOUNTS, *RATIOS)]
        basis = dropdown("what is equal", [(self.AS_RULE, ""), *names], width="280px")
        share = Dial("share of it", 100.0, 1.0, 100.0, 1.0)
        super().__init__({"share": share}, {"what": what, "into": into, "basis": basis})
        buttons = [share.view, self.undo_button, self.reset_button, *self._keeping(folder)]
        self._begin(list(self.choices.values()), buttons)

    def _offer(self):
        into = self.choices["into"]
        into.options = list(self._offers[self.choices["what"].value])

    def _chosen(self, name, before):
        if name == "what" and not self._quiet:  # what may come in depends on what goes out
            self._history.append(self._state() | {"what": before})
            self._last = None
            self._silently(self._offer)
            out = self.choices["what"].value
            self._silently(lambda: self.dials["share"].show(10.0 if out.startswith("flour") else 100.0))
            self._recompute(name)
        else:
            super()._chosen(name, before)

    def _restore(self, state):
        def act():
            self.choices["what"].value = state["what"]
            self._offer()

        self._silently(act)
        super()._restore(state)

    def _work_out(self, moving):
        what, into = self.choices["what"].value, self.choices["into"].value
        part, out, key = self._offers[what][into]
        if not part:
            return substitute(self.baseline, without=out)
        basis = self.choices["basis"].value or None
        return substitute(self.baseline, out, key, self.dials["share"].value, part, basis)

    def _rows(self):
        return ingredient_rows(self.baseline, self.variant, others=True)

    def _move(self):
        self.variant = self.result.formula
        self._handles[0].update(self._rows())

    def _draw(self):
        self.variant = self.result.formula
        high = 70 + 36 * self.ROOM
        figure_ = look.figure(430, high)
        axes = figure_.add_axes([0.035, 44 / high, 0.93, 1 - 68 / high])
        base = "% of total flour; in another part, of that part's base"
        handle = IngredientRows(axes, self._rows(), 100.0, base, self.ROOM)
        self._lay((figure_,))
        return [handle]

    @property
    def alt(self):
        """The figure in words."""
        return (f"Ingredients before and after. {' '.join(self.result.arithmetic)}",)

    def _show(self):
        found = self.result
        steps = "".join(f'<li style="margin:0 0 5px">{page.escape(step)}</li>' for step in found.arithmetic)
        steps = f'{head("Step by step")}<ol style="margin:0;padding-left:20px;font-size:14px">{steps}</ol>'
        overlay = self.overlays[0]
        beside = side_by_side([(overlay.figure.bbox.width, overlay.marks(self.alt[0])), (400, steps)])
        wrong = "".join(_wrong_way(swap, swap.title if len(found.swaps) > 1 else "") for swap in found.swaps)
        bench = page.items(found.behaviour)
        bench = f'<ul style="margin:0;padding-left:20px;font-size:14px">{bench}</ul>' if bench else ""
        title = head("At the bench, and on the label")
        self._live.value = block(tiles(self._numbers()), beside, wrong, title, bench, status(" ".join(found.comes_to)))
        self._cautions.value = caution(self.variant)  # of what it now holds

    def _numbers(self):
        """Return a tile for each line that a swap changes: what there is of it now, and by how much it moved."""
        return [
            (
                row.name,
                f"{figure(row.after, 2)} %",
                signed(row.after - row.before, 2),
                "of its part's base" if ":" in row.name else "of flour",
            )
            for row in self._rows()
            if row.changed
        ]

    def _changes(self):
        return ", ".join(swap.title for swap in self.result.swaps)


def _wrong_way(swap, title):
    """Return the usual wrong way of a swap, the size of its errors set large, as HTML."""
    errors = []
    for what, wrong, right in swap.errors:
        off, base = f"{signed(wrong - right, 2)} points", f"where {figure(right, 2)} is right"
        errors.append((f"{what}, off by", off, f"{figure(wrong, 2)} %", base))
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
            if (
                row["part"] in (kind, "any")
                and (kind != "dough" or part.kind == "dough")
                and _holds(formula, part, row)
            ):
                offers = found.setdefault(f"{row['out']} in the {part.name}", {})
                offers[row["into"]] = (part.name, row["out"], row["into"])
    there = set(allergens(formula))
    for name, members in avoidable().items():
        if members & there:
            found[f"all that holds {name}"] = {f"what the rules have without {name}": ("", name, "")}
    return found


def _holds(formula, part, row):
    """Whether a part, the bowls of the dough taken together, holds what a rule takes out."""
    lines = formula.dough_keys if part in formula.bowls else part.keys
    return any(row["out"] in (formula.ingredients[k]["kind"], formula.ingredients[k]["name"]) for k in lines)
