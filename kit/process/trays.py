"""How many pieces a tray holds, how many trays and oven loads a batch makes."""

import math
import re
from dataclasses import dataclass
from typing import Any

from ..errors import FormulaError, UnknownName, must, whole
from ..formula.parts import MOST, only_one
from ..page import Result
from ..tables import table
from ..units import read_above
from ..words import did_you_mean, figure, plural
from .topping import piece_domes
from .yields import predict_yield

_GUARD = 1e-9  # so that 4 x 150 mm fit 600 mm


@dataclass(frozen=True)
class Trays(Result):
    """Pieces on trays and trays in oven loads; lengths [cm]."""

    pieces: int
    diameter: float  # of a proofed piece
    gap: float  # between proofed pieces, half of it to the edge
    length: float
    width: float
    packing: str  # square or staggered
    per_tray: int
    trays: int
    on_last: int  # pieces on the last tray
    per_load: int | None  # trays the oven takes at once
    loads: int
    grounds = {"trays": "trays.csv: common practice; piece_defaults.csv: assumed here; packing: geometry"}

    @property
    def words(self):
        """How the pieces lie, on how many trays in how many oven loads."""
        last = f", {self.on_last} on the last" if self.on_last < self.per_tray else ""
        tray = f"a tray of {10 * self.length:g} x {10 * self.width:g} mm ({self.packing})"
        trays, loads = f"{plural(self.trays, 'tray')}{last}", plural(self.loads, "oven load")
        return f"{plural(self.pieces, 'piece')}: {self.per_tray} to {tray}, {trays}, {loads}"


def trays(
    formula: Any,
    tray: str = "600 x 400 mm",
    gap: Any = None,
    oven: int | None = None,
    pieces: int | None = None,
    diameter: Any = None,
    **given: Any,
) -> Trays:
    """Return the Trays of a batch.

    formula: one Formula, whose proofed piece says the diameter, or None
    tray: a row of trays.csv, or '58 x 38 cm'
    gap: between proofed pieces, half of it to the edge [cm or any length]
    oven: how many trays it takes at once [count], else all
    pieces: [count], else the formula's
    diameter: of a proofed piece [cm or any length] in place of the formula's
    given: as in `piece_domes`

    Square: floor(side / (diameter + gap)) each way; staggered, only where it saves a tray: rows pitch x sqrt(3)/2
    apart, every other one shifted by half (exact geometry). Raises FormulaError, AmountError, UnknownName.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 55}, makes={"piece": 70, "pieces": 48})
    >>> str(trays(bun))
    '48 pieces: 12 to a tray of 600 x 400 mm (square), 4 trays, 1 oven load'
    """
    length, width = _tray(tray)
    if formula is not None:
        only_one(formula, "to be laid out", "choose one")
    if diameter is None:
        diameter = float(piece_domes(formula, **given)["proofed"].width)
    else:
        diameter = read_above(diameter, "length", "diameter")
    gap = table("piece_defaults").row(what="tray_gap").value if gap is None else gap
    gap = read_above(gap, "length", "gap", "pieces may touch but not overlap", zero=True)
    if oven is not None:
        oven = whole("oven", oven, most=1000, of="trays", do="count what it takes at once")
    pieces = (formula.pieces.count or predict_yield(formula).pieces) if pieces is None else pieces
    pieces = whole("pieces", pieces, most=MOST)
    pitch = diameter + gap
    square = math.floor(length / pitch + _GUARD) * math.floor(width / pitch + _GUARD)
    ways = {"square": square, "staggered": _staggered(length, width, pitch)}
    packing = min(ways, key=lambda way: math.ceil(pieces / ways[way]) if ways[way] else math.inf)
    per_tray = ways[packing]
    if not per_tray:
        got = f"{length:g} x {width:g} cm for a piece of {figure(diameter)} cm with {figure(gap)} cm gap"
        raise FormulaError(must("tray", "large enough for one piece", got, "take a larger tray or a smaller piece"))
    needed = math.ceil(pieces / per_tray)
    laid = packing, per_tray, needed, pieces - (needed - 1) * per_tray
    return Trays(pieces, diameter, gap, length, width, *laid, oven, math.ceil(needed / (oven or needed)))


def _staggered(length, width, pitch):
    most = 0
    for long, short in ((length, width), (width, length)):
        if min(long, short) >= pitch * (1 - _GUARD):
            rows = 1 + math.floor((short - pitch) / (pitch * math.sqrt(3) / 2) + _GUARD)
            full, shifted = (math.floor((long - shift) / pitch + _GUARD) for shift in (0.0, pitch / 2))
            most = max(most, (rows + 1) // 2 * full + rows // 2 * shifted)
    return most


def _tray(tray):
    for row in table("trays").rows:
        if row.tray == tray:
            return row.length_cm, row.width_cm
    sides = re.fullmatch(r"\s*(.+?)\s*[x×]\s*(.+?)\s*", str(tray))
    if not sides:
        known = [row.tray for row in table("trays").rows]
        raise UnknownName(must("tray", "length x width, such as '600 x 400 mm'", repr(tray), did_you_mean(tray, known)))
    unit = re.sub(r"^[\d.,\s/]*", "", sides[2])
    first = sides[1] if re.search(r"[A-Za-z]", sides[1]) else f"{sides[1]} {unit}"
    return read_above(first, "length", "tray"), read_above(sides[2], "length", "tray")
