"""The serving that an American label speaks of: how many pieces, in household measure, and how many in a pack."""

from dataclasses import dataclass

from ..tables import table
from ..words import figure, nearest, plain
from .nutrition import declare

_CALLED = ("bun", "roll", "doughnut")


@dataclass(frozen=True)
class Serving:
    """How many pieces are one serving and what they weigh [g]; what figures stand for: {column: pieces}."""

    pieces: int
    grams: float
    word: str  # what a piece is called
    in_pack: float  # servings
    counts: dict  # {"serving": pieces, "pack": pieces}: a pack only where the law asks for its column
    notes: tuple = ()

    @property
    def size(self):
        """The serving in household measure with its mass, as a label says it."""
        return f"{self.pieces} {self.word}{'s' * (self.pieces != 1)} ({figure(nearest(self.grams, 1), 0)} g)"

    @property
    def per_pack(self):
        """How many servings a pack holds, rounded by the law's steps and then with "about"."""
        told = declare("US", "servings", self.in_pack)
        about = "about " if abs(float(told.number) - self.in_pack) > 1e-9 else ""
        return f"{about}{told.text} serving{'s' * (told.text != '1')} per container"


def serving(formula, piece, pack=1):
    """Return the Serving of pieces that weigh so much baked [g], so many in a pack [count].

    A pack under 200 % of the reference amount is one serving; else one piece is, or as many small ones as come
    nearest to it. 21 CFR 101.9(b) and 101.12(b), recalled: serving_sizes.csv.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 1})
    >>> serving(bun, 75, 4).size, serving(bun, 75, 4).per_pack, serving(bun, 22, 10).size
    ('1 bun (75 g)', '4 servings per container', '3 buns (66 g)')
    """
    rules = {row["what"]: float(row["value"]) for row in table("serving_sizes").rows}
    usual, name = rules["reference_amount"], plain(formula.name).split()
    share, whole = 100 * piece / usual, 100 * pack * piece / usual
    count = 1
    if whole < rules["whole_pack_below"]:
        count = pack
    elif share <= rules["several_pieces_up_to"]:
        count = min(pack, int(nearest(usual / piece, 1)))
    counts = {"serving": count}
    notes = [
        f"Serving by the reference amount of sweet rolls and coffee cakes, {usual:g} g; bread and plain rolls have "
        f"{rules['reference_amount_plain']:g} g (21 CFR 101.12(b), from memory). % Daily Value from figures before "
        "rounding (101.9(d)(7), from memory)."
    ]
    both = f"{rules['whole_pack_below']:g} to {rules['two_columns_up_to']:g} % of the reference amount"
    if rules["whole_pack_below"] <= share <= rules["two_columns_up_to"]:
        notes.append(
            f"A piece is {both}: a second column, of a part of it near {usual:g} g, is to check (101.9(b)(12))."
        )
    elif count < pack and rules["whole_pack_below"] <= whole <= rules["two_columns_up_to"]:
        counts["pack"] = pack
        notes.append(f"A pack is {both}: a second column is for the whole pack (101.9(b)(12), from memory).")
    called = next((word for word in _CALLED if word in name or f"{word}s" in name), "piece")
    return Serving(count, count * piece, called, pack / count, counts, tuple(notes))
