"""The formula panel: move butter, egg and sugar and see class, hydration, topping and yield move."""

import functools

import ipywidgets as widgets
import numpy as np

from .. import page
from ..balance import dough_class, hydration_band, measure, topping_to_dough_ratio, total_hydration, what_moved
from ..balance.accounts import AT, weights
from ..errors import FormulaError, KitError, must
from ..formula.parts import only_one
from ..formula.scaling import flour_of_batch
from ..formula.usual import check_usual
from ..process import predict_yield, rise, topping_fit
from ..words import figure, listing, plural, signed
from . import look
from .charts import ClassMap, MadeOf, WaterSources
from .panel import ROW, Dial, Panel, caution, folded, kind_dial, of_total_flour, tick
from .strips import block, moved, small, status, tiles

MAIN = {"butter": 52.0, "egg": 60.0, "sugar": 32.0}  # kind: how far its slider reaches [% of flour]
MORE = {"yolk": 40.0, "milk": 70.0, "water": 70.0, "salt": 4.0}


class FormulaPanel(Panel):
    """Dials for a formula's kinds and its topping, four charts, one sentence of what moved, and the cautions."""

    behind = "The table behind it"

    def __init__(self, formula, flour=None, folder=None):
        only_one(formula, "for the panel")
        self.baseline, self.variant = formula, formula
        if flour is None:
            flour = flour_of_batch(formula)
        self.flour = flour
        self._path, self._moving, self._turned = [], "butter", None
        dials = {}
        for kind, reach in (MAIN | MORE).items():
            dials[kind] = kind_dial(formula, kind, reach, 0.05 if kind == "salt" else 0.25)
        ratio = formula.pieces.topping / formula.pieces.dough if formula.has("topping") else 0.0
        dials["topping"] = Dial("topping to dough", ratio, 0.0, max(1.0, ratio * 1.5), 0.005, "g per g", kind="number")
        super().__init__(dials)
        self.hold = tick("keep total hydration: water follows", width="270px")
        self.hold.observe(lambda _: self._quiet or self._recompute(self._moving), "value")
        self._cautions.value = caution(formula)
        more = widgets.Box([self.dials[k].view for k in (*MORE, "topping")], layout=ROW)
        self._begin(
            of_total_flour(),
            [self.dials[kind].view for kind in MAIN],
            [self.hold, self.undo_button, self.reset_button, *self._keeping(folder)],
            folded("More to move: yolk, milk, water, salt, topping", more),
        )

    # what the dials say

    def _variant(self):
        changes = {k: v for k, v in self.turned((*MAIN, *MORE)).items() if v or self.start[k]}
        ratio = self.turned(["topping"])
        pieces = {"pieces": {"topping": ratio["topping"] * self.baseline.pieces.dough}} if ratio else {}
        if self.hold.value:
            changes["water"] = self._water_that_holds(changes)
        return self.baseline.vary(changes | pieces) if changes or pieces else self.baseline

    def _water_that_holds(self, changes):
        """Water [% of flour] at which total hydration is the baseline's; raises FormulaError when it can't be."""
        others = {k: v for k, v in changes.items() if k != "water"}
        base = self.baseline
        varied = base.vary(others) if others else base
        key = next((k for k in base.dough_keys if base.ingredients[k]["kind"] == "water"), "water_tap_drinking")
        wet = float(weights(base, [key])[0, AT["water_not_flour"]])
        now, aim = (total_hydration(f) for f in (varied, base))
        need = varied.of_kind("water") + (aim - now) / wet
        held = sum(p.percentage(key) for p in base.bowls if p.kind != "dough")
        if need < held - 1e-9:
            kind = self._moving if self._moving in MAIN or self._moving in MORE else "egg"
            line = [k for k in varied.dough_keys if base.ingredients[k]["kind"] == kind]
            slope = float(weights(base, line[:1])[0, AT["water_not_flour"]]) if line else 0.0
            do = "take less of it, or let total hydration go"
            if slope > 0:
                most = varied.of_kind(kind) - (held - need) * wet / slope
                do = f"the most {kind} that water can make up for is {figure(most)} %; or let total hydration go"
            got = f"{figure(need)} % at {kind} {figure(varied.of_kind(kind))} %"
            least = f"{figure(held)} % or more, to keep total hydration at {figure(aim)} %"
            raise FormulaError(must("water", least, got, do))
        return max(need, held)

    def _check_typed(self, name, value):
        check_usual(name, value, self.flour)

    # what is shown

    def _work_out(self, moving):
        if moving is not None and moving != "topping":
            self._moving = moving
        variant = self._variant()
        here, there = (tuple(f.of_kind(kind) for kind in ("butter", "sugar")) for f in (self.variant, variant))
        if variant is self.baseline:
            self._path, self._turned = [], None
        elif there != here:
            if moving != self._turned:  # a straight stretch of one dial needs only its beginning
                self._path = [*self._path[-40:], here]
            self._turned = moving
        self.variant, water = variant, variant.of_kind("water")
        if abs(water - self.dials["water"].value) > 1e-9:
            self._silently(lambda: self.dials["water"].show(water))
        self.moved = what_moved(self.baseline, variant)
        self.band = hydration_band(variant, self.flour)
        return variant

    def _charts(self):
        before = {"before": self.baseline}
        path = {"path": tuple(self._path)}
        return [
            (ClassMap, self.variant, before | path),
            (MadeOf, self.variant, before),
            (WaterSources, self.variant, before),
        ]

    def _draw(self):
        right = look.figure(416, 350)
        axes = [None, right.add_axes([0.165, 0.55, 0.83, 0.38]), right.add_axes([0.165, 0.06, 0.83, 0.38])]
        shown = zip(self._charts(), axes, strict=True)
        handles = [kind(value, ax, **beside) for (kind, value, beside), ax in shown]
        self._lay((handles[0].ax.figure, right))
        return handles

    @property
    def alt(self):
        """The two figures in words."""
        plane, *bars = (handle.alt for handle in self._handles)
        return plane, " ".join(bars)

    def _numbers(self):
        band, piece, sides = self.band, self.variant.pieces, (self.baseline, self.variant)
        topping = figure(piece.topping if self.variant.has("topping") else 0, 0)
        entries = [("dough class", dough_class(self.variant).name, "", "by fat and sugar on flour")]
        for quantity, base in (
            ("total_hydration", f"of flour; {figure(band.low)} to {figure(band.high)}"),
            ("hydration", "of flour, as poured"),
            ("fat", "of flour, pure"),
            ("enrichment_ratio", "of flour"),
        ):
            before, after = (measure(formula, quantity) for formula in sides)
            name = quantity.replace("_", " ")
            entries.append((name, f"{figure(after)} %", moved(after - before), base))
        before, after = (topping_to_dough_ratio(formula) for formula in sides)
        on = f"{topping} g on {figure(piece.dough, 0)} g"
        entries.append(("topping on dough", on, moved(after - before, 3), figure(after, 3)))
        was, now = (predict_yield(formula, flour=self.flour).pieces for formula in sides)
        of = f"from {figure(self.flour, 0)} g of flour"
        return [*entries, ("yield", plural(now, "piece"), moved(now - was, 0), of)]

    def _show(self):
        said = status(self.moved.words)
        self._live.value = block(tiles(self._numbers()), self._marks(), said, small(noise(self)))
        self._show_behind()

    def _behind_html(self):
        return page.table(*next(self.moved.tables())) + foreseen(self.baseline, self.variant)

    def _changes(self):
        return ", ".join(f"{kind} {figure(b)}" for kind, (_, b) in self.moved.moves.items())


def foreseen(before, after):
    """Return the table of what is foreseen to move, as HTML; empty where nothing can be."""
    rows, heads = [], ["foreseen, partly assumed here", "before", "now", "moved", "of which"]
    one, other = (_foreseen(formula, rise) for formula in (before, after))
    if one and other and np.isfinite([one.minutes, other.minutes]).all():
        causes = listing(f"{cause} {signed(m)}" for cause, m in other.against(one).minutes if abs(m) >= 0.05)
        rows.append(_row("bulk to double, min", one.minutes, other.minutes, causes))
    one, other = (_foreseen(formula, topping_fit) for formula in (before, after))
    if one and other:
        rows.append(_row("cover when baked, % of the dome", *(float(fit.cover("baked")) for fit in (one, other)), ""))
    return page.table(heads, rows) if rows else ""


def _row(name, before, after, because):
    return [name, figure(before), figure(after), signed(after - before), because]


@functools.lru_cache(maxsize=16)
def _foreseen(formula, foresee):
    """Return what is foreseen of a formula, None where it has no yeast or no topping."""
    try:
        return foresee(formula)
    except KitError:
        return None


def noise(panel):
    """Return in words how fine a step of total hydration can be believed."""
    band, sides = panel.band, (panel.baseline, panel.variant)
    before, after = (total_hydration(formula) for formula in sides)
    change = after - before
    text = (
        f"Total hydration is known to ±{figure(band.half)} points ({figure(band.coverage, 0)} % band: egg "
        f"{panel.variant.egg_measured}, the butter's fat, the flour's moisture)"
    )
    if 0.005 < abs(change) < band.half:
        text += f": this move of {signed(change)} is finer than that, so it is noise, not knowledge"
    return f"{text}."
