"""How the topping fits: dome when shaped, proofed and baked; the disc, its thickness, cover and gaps."""

import functools
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from ..balance.bands import reach, spread_of
from ..errors import AmountError, FormulaError, above, must
from ..formula import Formula, expected_losses
from ..page import Result
from ..tables import ground, table
from ..units import read_above
from ..words import figure, one_of, span
from . import dome
from .calibration import Calibration
from .dome import Dome

STAGES = ("shaped", "proofed", "baked")
_OF_STAGES = tuple(f"{what}_{stage}" for what in ("density", "height_over_diameter") for stage in STAGES)
_FIGURES = (*_OF_STAGES, "topping_density", "crust_creep", "bake_loss_dough")

_MEASURES = (  # unit, and digits in a table
    ("base_diameter", "cm", 1),
    ("height", "cm", 1),
    ("area", "cm2", 0),
    ("volume", "mL", 0),
    ("cover", "%", 0),
    ("gap", "cm", 2),
)


@dataclass(frozen=True, eq=False)
class ToppingFit(Result):
    """A disc of topping on its piece, at each stage; floats or arrays. Geometry only: the trials are the verdict."""

    piece: Any  # dough [g]
    topping: Any  # [g]
    shaped: Dome = field(repr=False)  # flattened, with the disc pressed on
    proofed: Dome = field(repr=False)
    baked: Dome = field(repr=False)
    disc: Any  # diameter [cm]
    thickness: Any  # of the raw disc [cm]
    pattern: str
    pitch: float  # from score to score [cm]
    creep: Any  # how much the disc itself spreads [% of its area]
    figures: dict = field(repr=False)  # name: (value, spread in parts of it, of the area for creep; rests on)

    @property
    def ratio(self):
        """Topping-to-dough ratio [g per g]."""
        return self.topping / self.piece

    @property
    def _scores(self):
        return dome.PATTERNS[self.pattern]

    @property
    def scored(self):
        """Whether scores part the disc: there are some, nearer to each other than it is wide."""
        return bool(np.all(self.apart > 0))

    @property
    def apart(self):
        """How far the middle segment and its neighbours lie apart, middle to middle across a score [cm]."""
        return self.pitch * self._scores.apart(self.disc / self.pitch)

    @property
    def segment_creep(self):
        """How much a segment grows across its scores [cm per cm]: a strip gives all to it, a plate half."""
        return self._scores.widens(self.creep / 100)

    def dome(self, stage: str) -> Dome:
        """Return the Dome of a stage. Raises UnknownName."""
        return getattr(self, one_of("stage", stage, STAGES))

    def stretch(self, stage: str) -> Any:
        """Return how much longer a line on the dome has become [cm per cm]: the root of the areas' ratio."""
        return np.sqrt(self.dome(stage).area / self.shaped.area)

    def cover(self, stage: str) -> Any:
        """Return the share of the dome that the topping covers [%]: disc x (1 + creep) / dome, at most 100."""
        return np.minimum(self._of_dome_covered(stage), 100.0)

    def _of_dome_covered(self, stage):
        """The same, above 100 where the disc is larger than the dome."""
        return 100 * np.pi / 4 * self.disc * self.disc * (1 + self.creep / 100) / self.dome(stage).area

    def gap(self, stage: str) -> Any:
        """Return the gap beside the middle segment [cm]: apart x (stretch - 1 - creep), never below 0; 0 unscored."""
        return np.maximum(self._between(stage), 0.0)

    def _between(self, stage):
        """The same, below 0 where segments touch."""
        return self.apart * (self.stretch(stage) - 1 - self.segment_creep)

    @property
    def shows_at(self):
        """Volume over the shaped piece's at which the dough first shows between segments: (1 + creep)^3."""
        return (1 + self.segment_creep) ** 3

    def risen(self, gap: Any) -> Any:
        """Return how far the piece has risen, from a gap measured on it: volume over the shaped one's.

        gap: beside the middle segment, since those at the rim are narrower [cm or any length]
        Ratio = (1 + creep + gap / apart)^3, a piece that keeps its shape; exact geometry, as good as the creep is
        known. Raises FormulaError unscored, or for a gap below 0.
        """
        if not self.scored:
            be, do = "one that parts the disc, to read its gaps", "score the disc, nearer than it is wide"
            raise FormulaError(must("pattern", be, repr(self.pattern), do))
        return (1 + self.segment_creep + read_above(gap, "length", "gap", zero=True) / self.apart) ** 3

    def band(self, what: str, stage: str = "shaped") -> tuple[Any, Any]:
        """Return (low, high) of a result for the mean piece of a bake, 80 %.

        what: base_diameter, height, area, volume [cm, cm2, mL], cover [%], gap [cm], thickness [cm] or stretch.
        First order in each figure's own spread, independent of the others (logarithms add, a gap is a difference);
        the disc is as rolled. Raises UnknownName.
        """
        what = one_of("band", what, [*(name for name, *_ in _MEASURES), "thickness", "stretch"])
        z, creep, area = reach(), self._spread("crust_creep"), self._of_dome("area", stage)
        # the shaped dome counts too: it is what the segments were cut on
        stretch = np.hypot(area, self._of_dome("area", "shaped")) / 2 if stage != "shaped" else 0.0 * area
        if what == "gap":
            narrow = 1.0 if self._scores.strips else 0.5 / (1 + self.segment_creep)
            wide = z * self.apart * np.hypot(self.stretch(stage) * stretch, narrow * creep)
            return np.maximum(self._between(stage) - wide, 0.0), np.maximum(self._between(stage) + wide, 0.0)
        cover = np.hypot(area, creep / (1 + self.creep / 100))
        own = {"thickness": self._spread("topping_density"), "stretch": stretch, "cover": cover}
        spread = own[what] if what in own else self._of_dome(what, stage)
        value = self._of_dome_covered(stage) if what == "cover" else self._measure(what, stage)
        low, high = value * np.exp(-z * spread), value * np.exp(z * spread)
        return (np.minimum(low, 100.0), np.minimum(high, 100.0)) if what == "cover" else (low, high)

    def _spread(self, name):
        return self.figures[name][1]

    def _of_dome(self, what, stage):
        """Relative spread of a dome's measure: its powers of volume and of k = height over diameter."""
        by_volume, by_k = _powers(self.figures[f"height_over_diameter_{stage}"][0])[what]
        of_volume = self._spread(f"density_{stage}")
        if stage == "baked":
            of_volume = np.hypot(of_volume, self._spread("bake_loss_dough"))
        return np.hypot(by_volume * of_volume, by_k * self._spread(f"height_over_diameter_{stage}"))

    def segments(self, stage: str = "shaped") -> list[np.ndarray]:
        """Return [(n, 3)]: each segment's outline x, y seen from above and its height above the tray [cm].

        The sheet keeps its areas on the dome, so that straight distances from the top are the flat disc's. One
        formula only. Raises FormulaError for arrays.
        """
        flat = self._flat(stage)
        laid = self.dome(stage).lay(np.vstack(flat))
        return np.split(laid, np.cumsum([len(outline) for outline in flat[:-1]]))

    def section(self, stage="shaped"):
        """Return (n, 2, 2): two ends, across and height [cm], of each segment in the cut across the scores."""
        return np.stack(self.dome(stage).at(dome.across(self._flat(stage))), axis=-1)

    def _flat(self, stage):
        """The outlines of the segments on the flat, with as much of the creep as there is room for."""
        if self._many:
            raise FormulaError(must("topping fit", "of one formula, to be drawn", "many", "choose one"))
        stretch, scores = float(self.stretch(stage)), self._scores
        wider = stretch if scores.scored else float(self.dome(stage).whole_disc / self.disc)
        room = max((wider if scores.strips else wider**2) - 1, 0.0)
        return _segments(scores, float(self.disc), self.pitch, stretch, float(min(self.creep / 100, room)))

    @property
    def _many(self):
        return np.ndim(self.disc) or np.ndim(self.shaped.radius)

    @property
    def columns(self):
        """Those of the frame: each measure with its unit and its 80 % band."""
        heads = [f"{name.replace('_', ' ')}, {unit}" for name, unit, _ in _MEASURES]
        return ["stage", *(f"{head}{end}" for head in heads for end in ("", ", low", ", high"))]

    def frame_rows(self):
        """Return a row a stage."""
        for stage in STAGES:
            values = [(self._measure(name, stage), *self.band(name, stage)) for name, *_ in _MEASURES]
            yield stage, *(end for three in values for end in three)

    def _measure(self, name, stage):
        if name == "thickness":
            return self.thickness
        return getattr(self, name)(stage) if name in ("cover", "gap", "stretch") else getattr(self.dome(stage), name)

    @property
    def notes(self):
        """What to mind: when the dough shows, a disc larger than the dome, figures beside what others print."""
        said = [f"the dough shows from {figure(self.shows_at, 2)} times the shaped volume"]
        if np.any(self.apart < (1 - 1e-9) * self.pitch * self._scores.apart(np.inf)):
            said.append(
                "with scores so far apart the gaps lie beside pieces at the rim: narrower than between whole ones"
            )
        said *= self.scored
        wide = np.ravel(self.disc > self.shaped.whole_disc)
        if wide.any():
            whole = figure(np.ravel(np.broadcast_to(self.shaped.whole_disc, wide.shape))[wide][0])
            said.append(f"a disc wider than {whole} cm is larger than the dome: it will lie on the tray")
        for row in table("dome_stages").rows:
            what = f"{row.what}_{row.stage}"
            value = np.ravel(self.figures[what][0])
            if not np.all((value >= row.low) & (value <= row.high)):
                taken = f"{what.replace('_', ' ')} is taken as {figure(value[0], 2)}"
                said.append(f"{taken}; {row.note}: {row['low']} to {row['high']} ({ground(row)}). Measure yours")
        return tuple(said)

    @property
    def grounds(self):
        """What each figure rests on."""
        return {name: rests_on for name, (_, _, rests_on) in self.figures.items()}

    @property
    def words(self):
        """The disc on its piece; of many, how much of the dome they cover."""
        if self._many:
            return f"topping fit of many pieces: {span(self.cover('baked'))} % of the baked dome covered"
        disc = f"a disc of {figure(self.disc)} cm, {figure(self.thickness, 2)} cm thick, {self.pattern}"
        return f"{figure(self.topping)} g topping on {figure(self.piece)} g dough: {disc}"

    def tables(self):
        """Return the table of the stages with their bands, of one formula."""
        if self._many:
            return ()
        shown = [(name, digits) for name, _, digits in _MEASURES if name != "volume"]
        rows = [[stage] for stage in STAGES]
        for stage, row in zip(STAGES, rows, strict=True):
            for name, digits in shown:
                low, high = (figure(end, digits) for end in self.band(name, stage))
                row.append(f"{figure(self._measure(name, stage), digits)} ({low} to {high})")
        return [(["(80 % band)", "diameter, cm", "height, cm", "dome, cm2", "covered, %", "gap, cm"], rows)]


@functools.lru_cache(maxsize=8)
def _segments(scores, *how):
    """Return the outlines of a Pattern's segments; drawn from above and cut, they are told once."""
    return scores.cut(*how)


def topping_fit(
    formula: Formula,
    piece: Any = None,
    topping: Any = None,
    disc: Any = None,
    bare_rim: Any = None,
    pattern: str = "parallel",
    pitch: Any = None,
    calibration: Calibration | None = None,
    **figures: Any,
) -> ToppingFit:
    """Return the ToppingFit of a formula's piece under its disc of topping, shaped, proofed and baked.

    formula: one, or many, with a topping
    piece, topping: of dough and of topping on it [g or any mass], else the formula's
    disc: its diameter [cm or any length], else the one that leaves
    bare_rim: of the dome, along it, above the tray [cm or any length]
    pattern: one of dome.PATTERNS: parallel, arcs, crossed or unscored
    pitch: from score to score [cm or any length]
    calibration: the kitchen's own figures
    figures: one of them by its name there, such as density_proofed=0.42 [g per mL] or crust_creep=8 [% of area]

    All may be arrays. Raises FormulaError without topping or for a disc no wider than the flattened piece;
    AmountError, UnknownName.

    Spherical cap (exact); mass over density is its volume, the baked dough less its baking loss; gap = pitch
    (stretch - 1 - creep), cover = disc (1 + creep) / dome: common practice, uniform stretch, round free-standing
    pieces of 10 to 250 g.

    >>> from kit.formula import Formula
    >>> paste = {"plain flour": 100, "sugar": 95, "butter": 80}
    >>> sizes = {"piece": 70, "topping": 28}
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 55}, topping=paste, makes=sizes)
    >>> fit = topping_fit(bun)
    >>> round(float(fit.disc), 1), round(float(fit.thickness), 2), round(float(fit.gap("proofed")), 2)
    (8.9, 0.37, 0.34)
    """
    if not formula.has("topping"):
        raise FormulaError(must("topping", "a part of the formula", "none", "add a topping, or leave this out"))
    crust = _mass(topping, "topping", formula.pieces.topping)
    above("topping", crust, "a mass", "g", "weigh one disc of topping", error=FormulaError)
    dough, domes, used = _domes(formula, piece, calibration, figures)
    pitch = read_above(_usual("pitch") if pitch is None else pitch, "length", "pitch")
    flattened = domes["shaped"]
    if disc is None:
        rim = _usual("bare_rim") if bare_rim is None else read_above(bare_rim, "length", "bare_rim", zero=True)
        disc = flattened.disc_leaving(rim)
    else:
        disc = read_above(disc, "length", "disc")
    _wide_enough(disc, flattened)
    thickness = crust / (used["topping_density"][0] * np.pi / 4 * disc * disc)
    disc_is = {"disc": disc, "thickness": thickness, "pattern": one_of("pattern", pattern, dome.PATTERNS)}
    return ToppingFit(dough, crust, **domes, **disc_is, pitch=pitch, creep=used["crust_creep"][0], figures=used)


def piece_domes(
    formula: Formula, piece: Any = None, calibration: Calibration | None = None, **figures: Any
) -> dict[str, Dome]:
    """Return {stage: Dome} of a formula's piece, with a topping or without; arguments as in `topping_fit`.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 55}, makes={"piece": 70})
    >>> round(float(piece_domes(bun)["proofed"].base_diameter), 2)
    9.72
    """
    return _domes(formula, piece, calibration, figures)[1]


def _usual(what):
    return table("piece_defaults").row(what=what).value


def _domes(formula, piece, calibration, figures):
    """Return the dough of a piece [g], {stage: Dome} and the figures used."""
    used, dough = _figures(formula, calibration or Calibration(), figures), _mass(piece, "piece", formula.pieces.dough)
    value = {name: entry[0] for name, entry in used.items()}
    filling, domes = formula.pieces.filling / _usual("filling_density"), {}
    for stage in STAGES:
        mass = dough * (1 - value["bake_loss_dough"] / 100) if stage == "baked" else dough
        volume = mass / value[f"density_{stage}"] + filling
        if formula.shape and np.shape(volume) != formula.shape:
            volume = np.broadcast_to(volume, np.broadcast_shapes(np.shape(volume), formula.shape))
        domes[stage] = Dome.of_volume(volume, value[f"height_over_diameter_{stage}"])
    return dough, domes, used


def _powers(k):
    """{measure: (power of volume, power of k)} of a cap whose height is k times its diameter.

    Logarithmic derivatives of D = (6 V / (pi k (3/4 + k^2)))^(1/3), h = k D, A = pi D^2 (1/4 + k^2).
    """
    by_k = -(1 + 2 * k * k / (0.75 + k * k)) / 3
    return {
        "base_diameter": (1 / 3, by_k),
        "height": (1 / 3, by_k + 1),
        "area": (2 / 3, 2 * by_k + 2 * k * k / (0.25 + k * k)),
        "volume": (1.0, 0.0 * k),
    }


def _figures(formula, calibration, given):
    """{name: (value, spread, rests on)}: given now, else the kitchen's, the formula's or the default."""
    for name in given:
        one_of("figure", name, _FIGURES)
    loss, used = expected_losses(formula)["dough", "baking"], {}
    for name in _FIGURES:
        known = getattr(calibration, name)
        if name == "bake_loss_dough" and not known.bakes:
            spread = spread_of(loss.low, loss.high)
            known = replace(known, value=loss.percent, spread=spread, rests_on=loss.rests_on)
        value, rests_on = known.value, known.rests_on
        relative = known.next_spread() / (1.0 if known.log else 100.0 if name == "crust_creep" else max(value, 1e-9))
        if name in given:
            value = np.asarray(given[name], float)[()]
            rests_on = "given here, spread in proportion"
        most = 100 if name in ("bake_loss_dough", "crust_creep") else 2.0
        positive = value >= 0 if most == 100 else value > 0
        if not np.all(np.isfinite(value) & positive & (value < most)):
            be = f"above 0 and below {most:g}" if most == 2 else f"0 to less than {most:g} %"
            raise AmountError(must(name, be, f"{float(np.ravel(value)[0]):g}", "measure it on a piece"))
        if name == "bake_loss_dough":  # what matters is what is kept
            relative = relative * value / (100 - value)
        used[name] = (value, relative, rests_on)
    return used


def _wide_enough(disc, flattened):
    right = flattened.disc_leaving(_usual("bare_rim"))
    disc, wide, right = (np.ravel(each) for each in np.broadcast_arrays(disc, flattened.width, right))
    first = int(np.argmin(disc > wide))
    if not disc[first] > wide[first]:
        be = f"wider than the flattened piece, {figure(wide[first])} cm"
        do = f"roll it to {figure(right[first])} cm, leave a smaller rim bare, or flatten less"
        raise FormulaError(must("disc", be, f"{figure(disc[first])} cm", do))


def _mass(given, name, own):
    return own if given is None else read_above(given, "mass", name, "weigh one piece", error=FormulaError)
