"""The formula panel: move butter, egg and sugar and see class, hydration, topping and yield move."""

import ipywidgets as widgets

from .. import page
from ..balance import total_hydration
from ..balance.accounts import AT, weights
from ..errors import FormulaError, must
from ..formula.parts import only_one
from ..formula.usual import check_usual
from ..words import figure, listing, plural, signed
from . import charts, look
from .compared import compare
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
        check_usual(name, value, self.result.flour)

    # what is shown

    def _work_out(self, moving):
        if moving is not None and moving != "topping":
            self._moving = moving
        variant = self._variant()
        here = (self.variant.of_kind("butter"), self.variant.of_kind("sugar"))
        there = (variant.of_kind("butter"), variant.of_kind("sugar"))
        if variant is self.baseline:
            self._path, self._turned = [], None
        elif there != here:
            if moving != self._turned:  # a straight stretch of one dial needs only its beginning
                self._path = [*self._path[-40:], here]
            self._turned = moving
        shown = compare(self.baseline, variant, self._moving, self._path, self.flour)
        self.variant, water = variant, variant.of_kind("water")
        if abs(water - self.dials["water"].value) > 1e-9:
            self._silently(lambda: self.dials["water"].show(water))
        return shown

    def _draw(self):
        left, right = look.figure(430, 500), look.figure(416, 500)
        plane = left.add_gridspec(1, 1, left=0.11, right=0.985, top=0.885, bottom=0.118)
        bars = right.add_gridspec(3, 1, left=0.165, right=0.995, top=0.95, bottom=0.385, hspace=0.42)
        lines = right.add_gridspec(1, 2, left=0.1, right=0.96, top=0.315, bottom=0.115, wspace=0.27)
        plots = (
            (left, plane[0], charts.ClassMap),
            (right, bars[0], charts.made_of),
            (right, bars[1], charts.water_sources),
            (right, bars[2], charts.sweetness),
            (right, lines[0], charts.pieces),
            (right, lines[1], charts.baked_mass),
        )
        handles = [chart(figure.add_subplot(place), self.result) for figure, place, chart in plots]
        self._lay((left, right))
        return handles

    @property
    def alt(self):
        """The two figures in words."""
        shown = self.result
        water, made, sweet = shown.water[1], shown.made[1], shown.values[1]["sweetness_split"]
        parts = listing(f"{'butter' if name == 'fat' else name} {figure(v)}" for name, v in water.items() if v >= 0.05)
        return (
            f"Class map: {shown.names[shown.code]} at butter {figure(shown.variant.of_kind('butter'))} and sugar "
            f"{figure(shown.variant.of_kind('sugar'))} % of flour; total hydration {shown.band} % of flour.",
            f"Water comes from {parts} % of flour; the topping has {figure(sweet, 0)} % of sugars; "
            f"{plural(made.pieces, 'piece')}, {figure(made.baked_mass / 1000, 2)} kg baked.",
        )

    def _show(self):
        shown = self.result
        self._live.value = block(numbers(shown), self._marks(), status(shown.moved.words), small(noise(shown)))
        self._show_behind()

    def _behind_html(self):
        return self.result.moved.table() + foreseen(self.result)

    def _changes(self):
        return ", ".join(f"{kind} {figure(b)}" for kind, (_, b) in self.result.moved.moves.items())


def numbers(shown):
    """Return the strip of numbers a baker acts on, each with its base, as HTML."""
    band, piece = shown.band, shown.variant.pieces
    topping = figure(piece.topping if shown.variant.has("topping") else 0)
    entries = [("dough class", shown.names[shown.code], "", "by fat and sugar on flour")]
    for quantity, unit, digits, base in (
        ("total_hydration", "%", 1, f"of flour; {figure(band.low)} to {figure(band.high)}"),
        ("hydration", "%", 1, "of flour, as poured"),
        ("fat", "%", 1, "of flour, pure"),
        ("enrichment_ratio", "%", 1, "of flour, four shares"),
        ("topping_to_dough_ratio", "", 3, f"g per g; {topping} on {figure(piece.dough)} g"),
    ):
        before, after = (values[quantity] for values in shown.values)
        name = {"topping_to_dough_ratio": "topping to dough"}.get(quantity, quantity.replace("_", " "))
        entries.append((name, f"{figure(after, digits)} {unit}".rstrip(), moved(after - before, digits), base))
    was, now = (made.pieces for made in shown.made)
    return tiles(
        [*entries, ("yield", plural(now, "piece"), moved(now - was, 0), f"from {figure(shown.flour, 0)} g of flour")]
    )


def foreseen(shown):
    """Return the table of what is foreseen to move, as HTML; empty where nothing can be."""
    rows = []
    for name, (before, after, causes) in shown.foreseen.items():
        because = listing(f"{cause} {signed(change)}" for cause, change in causes.items() if abs(change) >= 0.05)
        rows.append([name, figure(before), figure(after), signed(after - before), because])
    heads = ["foreseen, partly assumed here", "baseline", "variant", "moved", "of which"]
    return page.table(heads, rows) if rows else ""


def noise(shown):
    """Return in words how fine a step of total hydration can be believed."""
    band = shown.band
    change = shown.values[1]["total_hydration"] - shown.values[0]["total_hydration"]
    text = (
        f"Total hydration is known to ±{figure(band.half)} points ({figure(band.coverage, 0)} % band: egg "
        f"{shown.variant.egg_measured}, the butter's fat, the flour's moisture)"
    )
    if 0.005 < abs(change) < band.half:
        text += f": this move of {signed(change)} is finer than that, so it is noise, not knowledge"
    return f"{text}."
