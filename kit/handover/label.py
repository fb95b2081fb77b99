"""The draft of a label: ingredients in the order of the law, allergens, percentages, nutrition, what is still blank."""

import functools
import re
from dataclasses import dataclass, field
from typing import Any

from .. import page
from ..allergens import Brings, of_ingredient
from ..cautions import cautions_for, unspelled
from ..errors import AmountError, UnknownName, must
from ..formula import Formula
from ..formula.parts import only_one
from ..process import predict_yield
from ..tables import Ingredients, Row, in_tables, source, table, told
from ..units import read
from ..words import capital, did_you_mean, figure, listing, one_of, plain
from .nutrition import Nutrient, content, declare, in_piece, quid
from .printed import Changes, Paper, kept, title_of
from .weighing import left_out, taken

MARKETS = ("EU", "US")


@dataclass(frozen=True)
class Bought:
    """An ingredient as a label of one market knows it, by label_names.csv and the supplier's specification."""

    row: Row  # of the ingredients
    called: str  # on the label
    made_of: str  # itself, as text
    specified: bool  # whether that is from the supplier's specification
    look: str  # what the supplier must be asked
    compound: bool  # of several, of which only its maker can tell
    brings: Brings

    @staticmethod
    def of(known: Ingredients, key: str, market: str) -> "Bought":
        """Return an ingredient of these, by its key."""
        row, column = known[key], market.lower()
        usual: dict = next((each for each in table("label_names").rows if each.ingredient == key), {})
        own = row.get("sub_ingredients", "")
        made_of = own or usual.get(f"{column}_sub_ingredients", "")
        made_of = "" if plain(made_of) == "none" else made_of
        called = row.get("label_name") or usual.get(f"{column}_name", row.name)
        compound = not own and (usual["compound"] == "yes" if usual else not in_tables(key))
        look = "" if own else usual.get("check_on_the_makers_label", "") or "all that is in it" * compound
        return Bought(row, called, made_of, bool(own), look, compound, of_ingredient(known, key))


@dataclass(frozen=True)
class Item:
    """One line of the list: what it is called, how much of it is in a raw piece and by what mass it is listed [g]."""

    name: str
    grams: float  # as weighed in
    listed_by: float  # the same, but what is left of added water in the EU
    bought: tuple[Bought, ...] = ()

    @property
    def gone(self):
        """Whether it is water that all left in the oven, so that nothing of it is listed."""
        return self.listed_by == 0 and self.grams > 0

    @property
    def allergens(self):
        """The members of the laws' lists that it brings."""
        return tuple(dict.fromkeys(word for each in self.bought for word in each.brings.contains))

    @property
    def made_of(self):
        """What is in a bought ingredient, each thing once."""
        parts = (bit.strip() for each in self.bought for bit in re.split(_COMMA, each.made_of))
        return ", ".join(dict.fromkeys(filter(None, parts)))

    def listed(self, market, strong, plainly):
        """Return it as the list has it: what must stand out put through `strong`, all else through `plainly`."""
        name = f"{self.name} ({self.made_of})" if self.made_of else self.name
        named = [word for word in self.allergens if market == "EU" and word in _listed_in("EU")]
        shown = [word for word in named if re.search(_whole(word), name, re.I)]
        bits = re.split(f"({'|'.join(map(_whole, shown))})", name, flags=re.I) if shown else [name]
        text = "".join((strong if n % 2 else plainly)(bit) for n, bit in enumerate(bits))
        inside = ["see the maker's label"] * any(each.compound for each in self.bought)
        inside += [strong(word) for word in named if word not in shown]
        if market == "US" and "sulphites" in self.allergens and not re.search("sul(ph|f)it", name, re.I):
            inside.append("sulfites")  # what else there is, the line that says "Contains" says
        if inside and self.made_of:
            return f"{text[:-1]}; contains {', '.join(inside)})"
        return f"{text} ({', '.join(inside)})" if inside else text


_COMMA = r",(?![^(]*\))"  # between ingredients, not between those of one of them


def _whole(word):
    return rf"\b{re.escape(word)}(?:e?s)?\b"


@functools.cache
def _listed_in(market):
    """The members of a market's list of allergens."""
    return {word for row in table("allergen_lists").rows if row.list == market for word in row.members.split(";")}


@dataclass(frozen=True, eq=False)
class Label(Paper):
    """The draft of a label for one formula and one market; masses in g, of a piece."""

    formula: Formula = field(repr=False)
    market: str
    items: tuple[Item, ...] = field(repr=False)  # in the order of the law
    raw_piece: float
    baked_piece: float
    nutrients: tuple[Nutrient, ...] = field(repr=False)  # in the EU, per 100 g
    percentages: dict[str, str] = field(repr=False)  # in the EU, {item: declared} of those put forward
    contains: tuple  # ((entry of the law's list, its members here), ...)
    notes: tuple[str, ...] = field(default=(), repr=False)
    still_to_write: tuple[str, ...] = field(default=(), repr=False)
    to_check: tuple[str, ...] = ()  # what may bring other allergens
    cautions: tuple[str, ...] = field(default=(), repr=False)
    columns = ("nutrient", "unit", "in 100 g", "declared")

    @property
    def title(self):
        """The formula's name, marked when invented, and for which market it is a draft."""
        return title_of(self.formula, f"Draft label, {self.market}: ")

    @property
    def draft(self):
        """That it is a draft, and what it rests on."""
        return told("label_words", what="draft")[0]

    @property
    def ingredients(self):
        """The list of ingredients as text; in the EU allergens in capitals, percentages where they are put forward."""
        return self.listed(str.upper, str)

    def listed(self, strong, plainly):
        """Return the list of ingredients, what must stand out put through `strong`, all else through `plainly`."""
        shown = (item for item in self.items if not item.gone)
        texts = ((item.listed(self.market, strong, plainly), self.percentages.get(item.name, "")) for item in shown)
        return ", ".join(f"{text} {plainly(percentage)}".strip() for text, percentage in texts)

    @property
    def allergens(self):
        """The entries of the law's list that are in it, as text."""
        said = ", ".join(_named(entry, members) for entry, members in self.contains)
        return "; ".join(filter(None, [said, f"to check: {listing(self.to_check)}" * bool(self.to_check)]))

    @property
    def words(self):
        """The list of ingredients and the allergens."""
        return f"{self.draft}\nIngredients: {self.ingredients}.\nAllergens: {self.allergens or 'none of the list'}."

    def frame_rows(self):
        """Return the nutrition table, per 100 g: unit, value, text as declared."""
        return [(n.name, n.unit, n.per_100_g[0], n.declared) for n in self.nutrients]

    def against(self, other: "Label") -> Changes:
        """Return what this label says otherwise than another: order, allergens, declared figures, percentages.

        The other is of an older formula, or of the other market.
        """
        mine, its = self._lines(), other._lines()
        rows = [(line, its.get(line, "–"), mine.get(line, "–")) for line in dict.fromkeys((*its, *mine))]
        sides = ("before", "after") if self.market == other.market else (other.market, self.market)
        return Changes(tuple(row for row in rows if row[1] != row[2]), ("line", *sides), "Nothing moves.")

    def _lines(self):
        """Everything that the label says, {line: text}; figures per 100 g."""
        lines = {"order of ingredients": ", ".join(item.name for item in self.items if not item.gone)}
        lines |= {"allergens": self.allergens} | {n.line: n.declared for n in self.nutrients}
        return lines | {f"percentage of {name}": text for name, text in self.percentages.items()}

    def sources(self):
        """Return what the label rests on: the laws, the tables of rounding and factors, the ingredients' figures."""
        names = ("label_nutrients", "label_rounding", "energy_factors") if self.nutrients else ()
        rows = [row for row in table("allergen_lists").rows if row.list == self.market]
        rows += [row for name in names for row in table(name).rows]
        known, used = self.formula.ingredients, [key for part in self.formula.parts for key in part.keys]
        keys = dict.fromkeys(row.source for row in (*rows, *map(known.__getitem__, used)) if row.source)
        return [*map(source, keys), *filter(None, dict.fromkeys(map(known.house_figures, used)))]

    def body(self):
        """Return as HTML that it is a draft, ingredients, allergens, nutrition, what is still blank."""
        word = "Contains" if self.market == "US" else "Allergens in it, in capitals in the list"
        listed = self.listed(lambda text: f"<b>{page.escape(text.upper())}</b>", kept)
        rows = [["\u2003" * n.of_which + n.name, n.declared] for n in self.nutrients]
        figures = f'<div class="figures">{page.table(["nutrition", "per 100 g"], rows)}</div>' * bool(rows)
        blanks = "".join(f'<p class="blank">{page.escape(text)}<i></i></p>' for text in self.still_to_write)
        heading = '<h2 style="font-size:11pt;margin:3mm 0 1mm">'
        return (
            f'<p class="draft"><b>{page.escape(self.draft)}</b></p><p><b>Ingredients:</b> {listed}.</p>'
            f"<p><b>{word}:</b> {page.escape(self.allergens or 'none of the list, by the tables')}.</p>"
            f"<p>Baked piece {figure(self.baked_piece)} g, raw {figure(self.raw_piece)} g.</p>"
            f'<div class="cols">{figures}<div class="small rest">{heading}Still to write</h2>{blanks}</div></div>'
            f'{heading}To know</h2><ul class="small">{page.items(self.notes)}</ul>'
        )

    def _repr_html_(self):
        style = "max-width:900px;color:#222;background:#fff;font-size:13px"
        return f'<div style="{style}"><p><b>{page.escape(self.title)}</b></p>{self.body()}</div>'


def label(
    formula: Formula,
    market: str = "EU",
    calibration: Any = None,
    baked: float | str | None = None,
    emphasised: str | tuple[str, ...] = (),
) -> Label:
    """Return the draft Label of a formula: list of ingredients, allergens, nutrition, and what is still to write.

    market: EU or US, where it is sold.
    calibration: with the kitchen's own baking losses.
    baked: a cooled piece as weighed [g or any mass], else it is foreseen from the losses.
    emphasised: what the name, words or a picture put forward, by any name of an ingredient or its kind.

    Nutrition is per 100 g [g, kJ, kcal], in the EU alone. By Regulation (EU) 1169/2011 and 21 CFR 101; no legal advice.
    Raises UnknownName for another market or ingredient, AmountError for a piece heavier than raw or lighter than its
    water can make it, UnitError, FormulaError.

    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 60, "butter": 20}, makes={"piece": 60})
    >>> label(bun, baked="50 g").ingredients
    'WHEAT flour, water, butter (MILK)'
    """
    only_one(formula, "to be labelled", "choose one")
    market = one_of("market", market, MARKETS, "choose where it is sold")
    made = predict_yield(formula, flour=1000.0, calibration=calibration)
    raw, piece = made.raw_piece, float(made.baked_piece)
    if baked is not None:
        piece = read(baked, "mass", "baked")
        if not 0 < piece <= raw:
            do = "weigh it again: was the tray left on the scale?"
            raise AmountError(must("baked", f"above 0 and at most {figure(raw)} g, the raw piece", f"{piece:g} g", do))
    nutrients, amounts = content(formula, piece, raw - piece)
    items, hazards = _items_of(formula, market, raw - piece), cautions_for(formula)
    forward = _emphasised(formula, items, emphasised)
    percentages = quid({item.name: item.grams for item in forward if item.grams}, piece, raw)
    unweighed = [f"percentage of {item.name}: weigh what sticks" for item in forward if not item.grams]
    if market == "US":
        nutrients, percentages, unweighed = (), {}, []
    known, every = formula.ingredients, [each for item in items for each in item.bought]
    looks = _gathered((each.look, each.row.name) for each in every)
    own = calibration and (calibration.bake_loss_dough.bakes or calibration.bake_loss_topping.bakes)
    band = f"{figure(piece)} g, {figure(made.baked_piece_low)} to {figure(made.baked_piece_high)}"
    figures = {
        "alcohol": amounts["alcohol"][0] > 0.005 and figure(amounts["alcohol"][0], 2),
        "foreseen": baked is None and band,
        "by": "the kitchen's own bakes" if own else "the formula's losses",
        "water": _water_left(items, piece),
        "sulphites": "Sulphites" * any("sulphites" in (*e.brings.contains, *e.brings.asks) for e in every),
        "dusted": listing(known[key].name for part in formula.parts if part.kind == "dusting" for key in part.keys),
        "usual": listing(dict.fromkeys(each.called for each in every if each.made_of and not each.specified)),
        "its": not forward and "its",
        "net": figure(piece),
        "unsettled": listing(n.line for n in nutrients if not n.settled),
        "makers": "; ".join(f"{listing(whose)} ({look})" for look, whose in looks.items()),
    }

    def words(what):
        return [text for place in (market, "") for text in told("label_words", figures, what=what, market=place)]

    contains, unlisted = _contains(market, items)
    open_in = left_out(formula, "so it is in no figure and stands last in the list")
    notes = [f"{text}." for text in (*taken(formula), *made.capped, *open_in)]
    for where, lines in _gathered((n.unknown_in(), n.line) for n in nutrients).items():
        notes.append(f"{capital(listing(lines))}: {where}.")
    notes += [*words("note"), *unlisted]
    if market == "US":
        notes += [f"{row.hazard} {row.control}" for row in table("cautions").rows if row.arises_when == "label"]
    for each in every:
        notes += _told_of(each, known)
    return Label(
        formula,
        market,
        items,
        raw,
        piece,
        nutrients,
        percentages,
        contains,
        tuple(notes),
        (*words("to write"), *unweighed, *(f"allergens of {text}" for text in hazards.to_check)),
        hazards.to_check,
        tuple(row.control for row in hazards.rows if row.arises_when == "allergens"),
    )


def _items_of(formula, market, lost):
    """The Items of a piece, equal names merged, in the order of the law; what has no mass on a piece stands last."""
    known, grams, called = formula.ingredients, in_piece(formula), {}
    written = [key for part in formula.parts for key, percentage in part.items if percentage > 0]
    for key in dict.fromkeys((*grams, *written)):
        bought = Bought.of(known, key, market)
        called.setdefault(bought.called, {})[key] = bought
    found = [Item(f"{kind}, not spelled out", g, g) for kind, g in unspelled(formula).items()]
    for name, bought in called.items():
        g = sum(grams.get(key, 0.0) for key in bought)
        water = sum(grams.get(key, 0.0) for key, each in bought.items() if each.row.kind == "water")
        # EU: added water counts as the finished piece less all else that went in, Annex VII Part A (1)
        found.append(Item(name, g, g - (min(lost, water) if market == "EU" else 0.0), tuple(bought.values())))
    return tuple(sorted(found, key=lambda item: -round(item.listed_by, 9)))


def _emphasised(formula, items, wanted):
    """The Items that are put forward, by their name on the label, a kind, or any name of an ingredient."""
    found, known = {}, formula.ingredients
    for word in (wanted,) if isinstance(wanted, str) else wanted:
        key = known.find(word) if plain(word) in known.index else ""
        named = [item for item in items if plain(item.name) == plain(word)]
        meant = [i for i in items for each in i.bought if plain(word) == each.row.kind or key == each.row.key]
        if not (named or meant):
            names_here = [item.name for item in items]
            be = f"ingredients of the label: {listing(names_here, 'or')}"
            raise UnknownName(must("emphasised", be, repr(str(word)), did_you_mean(word, names_here)))
        found |= {item.name: item for item in named or meant}
    return found.values()


def _contains(market, items):
    """((entry, members here), ...) of the law's list, and what is said of the members that it does not have."""
    here = {word: item.name for item in reversed(items) for word in item.allergens}
    rows = [row for row in table("allergen_lists").rows if row.list == market]
    found = ((row.allergen, tuple(word for word in row.members.split(";") if word in here)) for row in rows)
    other = "US" if market == "EU" else "EU"
    unlisted = [word for word in here if word not in _listed_in(market)]
    said = [f"{word}, named for {here[word]}, is an allergen in the {other} alone." for word in unlisted]
    return tuple(entry for entry in found if entry[1]), said


def _named(entry, members):
    """An entry of a law's list as it is declared: nuts and cereals by their own names."""
    if entry not in ("tree nuts", "nuts", "cereals containing gluten"):
        return entry
    which = listing([word for word in members if word != "nuts"] + ["others: which?"] * ("nuts" in members))
    return which if entry == "tree nuts" and "nuts" not in members else f"{entry} ({which})"


def _gathered(pairs):
    """Return {what: all that goes with it} of pairs, nothing left aside."""
    found = {}
    for what, one in pairs:
        if what:
            found.setdefault(what, []).append(one)
    return found


def _water_left(items, baked):
    """Return in words how much of the added water is left in a baked piece; nothing where none was added."""
    water = next((item for item in items if any(each.row.kind == "water" for each in item.bought)), None)
    if water is None:
        return ""
    share = 100 * water.listed_by / baked
    few = water.listed_by and declare("added_water", share).step is None
    left = f"{figure(water.listed_by)} g left, {figure(share)} % of the baked piece"
    return f"{figure(water.grams, 1)} g weighed in, {left}" + " and may be left out of the list" * bool(few)


def _told_of(bought, known):
    """Return what is told of an ingredient: what its maker is asked, who found it complete, what is the house's."""
    name, brings = bought.row.name, bought.brings
    words = _gathered((word, member) for member, word in brings.asks.items())
    figures = {
        "name": name,
        "asked": "; ".join(f"{f'{word}: ' * (word != name)}{listing(some, 'or')}?" for word, some in words.items()),
        "open": brings.open and name,
        "complete": brings.complete,
        "house": known.house_figures(bought.row.key),
        "specified": bought.specified and (bought.made_of or "nothing added"),
    }
    return told("label_words", figures, what="ingredient")
