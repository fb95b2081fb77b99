"""The formula panel: move butter, egg and sugar on one screen; see class, water, yield and the piece move."""

import ipywidgets as widgets

from .. import page
from ..balance import hydration_band, softness, total_hydration, what_moved
from ..errors import KitError, whole
from ..formula import at_hand
from ..formula.usual import check_usual
from ..process import predict_yield
from ..units import number, read_above
from ..words import capital, figure, plural, signed
from . import look
from .charts import ClassMap, WaterSources, class_said
from .drawings import Bun
from .live import Live, handle, part, parts_of, picture
from .overlay import Overlay
from .panel import ROW, Dial, Panel, kind_dial, radio, text
from .strips import block, moved, side_by_side, small, tiles

MAIN = {"butter": 52.0, "egg": 60.0, "sugar": 32.0}  # kind: how far its slider reaches [% of flour]
MORE = {"yolk": 40.0, "milk": 70.0, "water": 70.0, "salt": 4.0}
AS_WRITTEN, KEEP_WATER, KEEP_SOFTNESS = "water as written", "keep water", "keep softness"
ONWARD = (
    ("water for today", "foresee.ipynb"),
    ("when to start", "day.ipynb"),
    ("does the disc fit", "foresee.ipynb"),
    ("bake it", "bake.ipynb"),
    ("hand it over", "hand_over.ipynb"),
)
STILL = "Nothing has moved yet: turn a dial, type into its box, or drag the dot on the map."
SAID = f"margin:2px 0 0;min-height:36px;font-size:13px;line-height:18px;color:{look.INK}"
OFFERED = f"margin:0;min-height:32px;font-size:12px;line-height:16px;color:{look.QUIET}"


class FormulaPanel(Panel):
    """Dials of butter, egg and sugar, what moved in a sentence, three figures, the class map and the piece to scale.

    formula: else the one at hand; flour [g] of the batch, else that of the formula's own count of pieces; folder: where
    variants are kept, else beside the formula. Dot and disc can be dragged; the rest opens on asking.
    """

    keeps = True

    def __init__(self, formula=None, flour=None, folder=None):
        formula = at_hand(folder) if formula is None else formula
        self.formula = self.baseline = self.variant = formula
        self.shelf, self._bars, self._folds = folder, None, {}
        dials = {}
        for kind, reach in (MAIN | MORE).items():
            dials[kind] = kind_dial(formula, kind, reach, 0.05 if kind == "salt" else 0.25)
        topping = formula.pieces.topping if formula.has("topping") else 0.0
        most = max(formula.pieces.dough, topping * 1.5)
        dials["topping"] = Dial("topping a piece", topping, 0.0, most, 0.25, "g", kind="mass")
        count = formula.pieces.count
        batch = f"{flour or 1000:g} g of flour" if flour or not count else plural(count, "piece")
        self.batch = text("batch", batch, width="150px", label="44px")
        self.hold = radio("", [AS_WRITTEN, KEEP_WATER, KEEP_SOFTNESS], AS_WRITTEN)
        self.hold.layout.margin = "0"
        super().__init__(dials, {"batch": self.batch, "hold": self.hold})
        self._live, self._sources = Live(self._dragged, self._stepped), Live()
        self._grams = {kind: widgets.HTML(layout={"width": "74px"}) for kind in MAIN}
        self._follows = widgets.HTML(layout={"flex": "1 1 100px"})
        self.printed = widgets.ToggleButton(description="printed lines on the map", layout={"width": "auto"})
        self.printed.observe(lambda _: self._recompute(None), "value")
        self.undo_button.layout.width = self.reset_button.layout.width = "58px"
        self._begin(
            [self.batch, self.hold, self._follows, self.undo_button, self.reset_button],
            *(self._row(kind, grams) for kind, grams in self._grams.items()),
        )
        more = widgets.Box([self.dials[kind].view for kind in (*MORE, "topping")], layout=ROW)
        folded = {"more to move": more, "where the water is": self._sources, "table": self._table}
        self._folds = {words: self._fold(words, inside) for words, inside in folded.items()}
        openers = widgets.Box([*self._folds.values(), self.printed], layout=ROW)
        self.children = [*self.children[:-1], openers, *folded.values(), onward(), self._cautions]

    def _row(self, kind, grams):
        """Return a dial in one row with its grams; names stand one beneath the other."""
        self.dials[kind].slider.style.description_width = "66px"
        self.dials[kind].view.layout.flex = "1 1 auto"
        self.dials[kind].view.layout.min_width = "180px"  # so that its grams are seen on a page enlarged twice
        return widgets.HBox([self.dials[kind].view, grams], layout={"width": "100%"})

    def _fold(self, words, inside):
        """Return the button that opens something, and closes it."""
        inside.layout.display = "none"
        opener = widgets.ToggleButton(description=words, layout={"width": "auto"})

        def turn(change):
            inside.layout.display = None if change["new"] else "none"
            self._show_behind()

        opener.observe(turn, "value")
        return opener

    def _to_keep(self):
        """Return the variant, its numbers as a scale shows them, and the name it has when none is written."""
        variant = self.variant
        if self.hold.value != AS_WRITTEN:
            variant = variant.vary(water=round(variant.of_kind("water"), 2))
        return variant, super()._to_keep()[1]

    def _changes(self):
        return ", ".join(f"{kind} {figure(b)}" for kind, (_, b) in self.moved.moves.items())

    # what the controls say

    def _variant(self):
        changes = {k: v for k, v in self.turned((*MAIN, *MORE)).items() if v or self.start[k]}
        pieces, base = self.turned(["topping"]), self.baseline
        if self.hold.value != AS_WRITTEN:
            changes.pop("water", None)
            base, changes = self._with_water(changes), {}
        return base.vary(changes | pieces) if changes or pieces else base

    def _with_water(self, changes):
        """Return the formula with the water at which its total hydration, or softness, stays. Raises Impossible."""
        if not changes:
            return self.baseline
        from ..reformulate import solve  # what is not asked for is not loaded

        aim = total_hydration(self.baseline)
        if self.hold.value == KEEP_SOFTNESS:
            aim -= softness(self.baseline, self.baseline.vary(changes)).points
        return solve(self.baseline, changes | {"total_hydration": aim}, free=("water",)).formula

    def _flour_of(self, variant):
        """Return the flour [g] of the batch: as written, or what so many pieces take. Raises KitError."""
        written = self.batch.value.strip().removesuffix("flour").rstrip().removesuffix(" of")
        try:
            count = number(written.removesuffix("s").removesuffix("piece").strip())
        except KitError:
            self._pieces = None
            return read_above(written, "mass", "batch", "write 48 pieces, or 1.5 kg flour")
        self._pieces = whole("batch", count, of="pieces")
        return variant.scale(pieces=self._pieces).flour

    def _check_typed(self, name, value):
        check_usual(name, value, self.flour)

    def _dragged(self, name, x, y):
        """Follow the dot on the map, or the disc, to a place [px of its picture]."""
        chart = self._handles[name == "disc"]
        x, y = chart.ax.transData.inverted().transform((x, chart.ax.figure.bbox.height - y))
        if name == "map":
            self._turn(name, butter=x, sugar=y)
        elif self.start["topping"]:
            self._turn(name, topping=self.start["topping"] * chart.times(max(x, 0.0)))

    def _stepped(self, name, right, up):
        """Follow the keys: a step of the dials each."""
        steps = {"butter": right, "sugar": up} if name == "map" else {"topping": right + up}
        self._turn(name, **{dial: self.dials[dial].value + n * self.dials[dial].step for dial, n in steps.items() if n})

    def _turn(self, by, **values):
        """Set dials to the nearest step as somebody drags; a run of it is one step back."""
        turned = []
        for name, value in values.items():
            dial = self.dials[name]
            value = min(max(round(value / dial.step) * dial.step, dial.low), dial.slider.max)
            if abs(value - dial.value) > 1e-9:
                turned.append((dial, value))
        if turned:
            self._remember(by)
            self._recompute(by, lambda: [dial.show(value) for dial, value in turned])

    # what is shown

    def _work_out(self, moving):
        variant = self._variant()
        self.flour = self._flour_of(variant)
        self.variant, water = variant, variant.of_kind("water")
        if abs(water - self.dials["water"].value) > 1e-9:
            self._silently(lambda: self.dials["water"].show(water))
        self.moved = what_moved(self.baseline, variant, None if self._pieces else self.flour, self._pieces)
        self.band = hydration_band(variant, self.flour)
        return variant

    def _charts(self):
        before = {"before": self.baseline}
        on_map = before | {"published": self.printed.value}
        return [(ClassMap, self.variant, on_map), (Bun, self.variant, before)]

    def _lay(self, figures):
        self.overlays = [Overlay(figure) for figure in figures]
        pictures = [(o.figure.bbox.width, picture(o, handles=True)) for o in self.overlays]
        self._live.lay(
            block(
                part("sentence", "p", role="status", style=SAID),
                part("offer", "p", style=OFFERED),
                part("figures"),
                side_by_side(pictures),
            )
        )

    def _parts(self):
        """Return what stands in the parts of the page."""
        said = self.moved.words if self.variant is not self.baseline else STILL
        parts = {"sentence": page.escape(said), "offer": page.escape(self._offer())}
        parts["figures"] = tiles(self._figures())
        for overlay, words, mark in zip(self.overlays, self.alt, self._marks_to_drag(), strict=True):
            parts |= parts_of(overlay, words) | {f"{overlay.name}-handles": mark}
        return parts

    def _marks_to_drag(self):
        """Return what can be dragged in each picture."""
        plane, piece = self._handles
        butter, sugar, topping = (self.dials[name] for name in ("butter", "sugar", "topping"))
        text = f"butter {figure(butter.value)} %, sugar {figure(sugar.value)} %"
        x, y = plane.now.get_xdata()[0], plane.now.get_ydata()[0]
        on_map = handle("map", *_pixels(plane, x, y), "butter and sugar", text, butter.value, 0, butter.slider.max)
        if not piece.edge or not self.start["topping"]:
            return on_map, ""
        at, words = _pixels(piece, piece.edge, piece.middle), ", ".join(word.get_text() for word in piece.says[:4])
        return on_map, handle("disc", *at, "disc of topping", words, topping.value, 0, topping.slider.max, arrow=True)

    def _offer(self):
        """Return in words what softness asks for, and whether the move is finer than what is known."""
        wet = self.moved.change("total_hydration").change
        softer = softness(self.baseline, self.variant)
        offered = abs(softer.points) >= 0.25 and self.hold.value != KEEP_SOFTNESS
        said = [f"{capital(softer.words)}."] if offered else []
        if 0.005 < abs(wet) < self.band.half:
            known = f"Total hydration is known to ±{figure(self.band.half)}"
            said.append(f"{known}: this move of {signed(wet)} is finer, so it is noise.")
        return " ".join(said)

    def _figures(self):
        """Return the three figures a baker acts on, as `tiles` takes them."""
        wet = self.moved.change("total_hydration")
        made = predict_yield(self.variant, flour=self.flour)
        batch = f"{plural(made.pieces, 'piece')}, {figure(made.baked_mass / 1000, 2)} kg"
        more = "" if self._pieces else moved(made.pieces - predict_yield(self.baseline, flour=self.flour).pieces, 0)
        of_flour = f"of flour, known to ±{figure(self.band.half)}"
        return [
            ("dough class", class_said(self.variant), "", "by fat and sugar on flour"),
            ("total hydration", f"{figure(wet.after)} %", moved(wet.change), of_flour),
            ("batch", batch, more, f"baked, from {figure(self.flour, 0)} g of flour"),
        ]

    def _show(self):
        self._live.show(self._parts())
        for kind, grams in self._grams.items():
            grams.value = _quiet(f"{figure(self.variant.of_kind(kind) * self.flour / 100, 0)} g")
        water, was = self.variant.of_kind("water"), self.baseline.of_kind("water")
        follows = f"water {figure(was)} → {figure(water)} %, {figure(water * self.flour / 100, 0)} g"
        self._follows.value = _quiet(follows if self.hold.value != AS_WRITTEN else "")
        self._show_behind()

    def _show_behind(self):
        """Bring up to date what is open."""
        opened = [words for words, opener in self._folds.items() if opener.value]
        if "table" in opened:
            self._table.value = self._behind_html()
        if "where the water is" in opened:
            if self._bars is None:
                self._bars = WaterSources(self.variant, before=self.baseline)
                self._drawn = Overlay(self._bars.ax.figure)
                self._sources.lay(picture(self._drawn))
            self._bars.update(self.variant, before=self.baseline)
            self._sources.show(parts_of(self._drawn, self._bars.alt))

    def _behind_html(self):
        note = (
            "Fields of the map: assumed here. Dashed: a baking school's glossary. Grey: printed, of whom the line says."
        )
        return page.table(*self.moved.tables()[0]) + small(note)


def _pixels(chart, x, y):
    """Return where a point of a chart lies in its picture [px], y downwards."""
    x, y = chart.ax.transData.transform((x, y))
    return float(x), float(chart.ax.figure.bbox.height - y)


def _quiet(text):
    return f'<span style="font-size:13px;color:{look.INK};white-space:nowrap">{page.escape(text)}</span>'


def onward():
    """Return the ways on, each a link to the notebook that opens on the formula at hand."""
    links = " | ".join(
        f'<a href="{path}" style="color:{look.ACCENT}" data-commandlinker-command="docmanager:open" '
        f'data-commandlinker-args=\'{{"path": "{path}"}}\'>{words}</a>'
        for words, path in ONWARD
    )
    return widgets.HTML(f'<span style="font-size:13px;color:{look.QUIET}">onward: {links}</span>')
