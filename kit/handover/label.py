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
from ..tables import Ingredients, in_tables, source, table
from ..units import read
from ..words import capital, did_you_mean, figure, listing, one_of, plain
from .nutrition import Nutrient, content, declare, in_piece, quid
from .printed import Changes, Paper, kept, title_of
from .weighing import left_out, taken

MARKETS = ("EU", "US")


@dataclass(frozen=True)
class Bought:
    """An ingredient as a label of one market knows it, by label_names.csv and the supplier's specification."""

    key: str
    name: str  # in the bakehouse
    kind: str
    called: str  # on the label
    made_of: str  # itself, as text
    specified: bool  # whether that is from the supplier's specification
    look: str  # what the supplier must be asked
    compound: bool  # of several, of which only its maker can tell
    brings: Brings
    house: str  # which of its figures are the house's own

    @staticmethod
    def of(known: Ingredients, key: str, market: str) -> "Bought":
        """Return an ingredient of these, by its key."""
        row, column = known[key], market.lower()
        usual: dict = next((each for each in table("label_names").rows if each.ingredient == key), {})
        own = row.get("sub_ingredients", "")
        called = row.get("label_name") or usual.get(f"{column}_name", row.name)
        made_of = own if plain(own) != "none" else ""
        compound = not own and (usual["compound"] == "yes" if usual else not in_tables(key))
        look = "" if own else usual.get("check_on_the_makers_label", "") or "all that is in it" * compound
        made_of = made_of if own else usual.get(f"{column}_sub_ingredients", "")
        brings, house = of_ingredient(known, key), known.house_figures(key)
        return Bought(key, row.name, row.kind, called, made_of, bool(own), look, compound, brings, house)


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
        inside, text = ["see the maker's label"] * any(each.compound for each in self.bought), plainly(name)
        if market == "US" and "sulphites" in self.allergens and not re.search("sul(ph|f)it", name, re.I):
            inside.append("sulfites")  # what else there is, the line that says "Contains" says
        if market == "EU":
            named = [word for word in self.allergens if word in _listed_in("EU")]
            shown = [word for word in named if re.search(_whole(word), name, re.I)]
            inside += [strong(word) for word in named if word not in shown]
            if shown:
                bits = re.split(f"({'|'.join(map(_whole, shown))})", name, flags=re.I)
                text = "".join((strong if n % 2 else plainly)(bit) for n, bit in enumerate(bits))
        if inside and self.made_of:
            return f"{text[:-1]}; contains {', '.join(inside)})"
        return f"{text} ({', '.join(inside)})" if inside else text


_COMMA = r",(?![^(]*\))"  # between ingredients, not between those of one of them


def _whole(word):
    return rf"\b{re.escape(word)}(?:e?s)?\b"


def _words(market, what):
    """The words of a market's label, by label_words.csv."""
    return [row.words for row in table("label_words").rows if (row.market, row.what) == (market, what)]


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
        return _words("", "draft")[0]

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
    open_in = left_out(formula, "so it is in no figure and stands last in the list")
    notes = [f"{text}." for text in (*taken(formula), *made.capped, *open_in)]
    percentages, forward = {}, _emphasised(formula, items, emphasised)
    blanks = _words(market, "to write")
    if market == "EU":
        percentages = quid({item.name: item.grams for item in forward if item.grams}, piece, raw)
        unweighed = [f"percentage of {item.name}: weigh what sticks" for item in forward if not item.grams]
        blanks[1:1] = unweighed if forward else _words(market, "put forward")
        notes += _nutrition_notes(nutrients, amounts)
        notes += [_foreseen(made, calibration)] * (baked is None)
    else:
        nutrients = ()
    contains, unlisted = _contains(market, items)
    blanks.append(f"net mass (a piece: {figure(piece)} g on average)")
    if missing := [n.line for n in nutrients if not n.settled]:
        blanks.append(f"{listing(missing)}, by the makers' sheets or a laboratory")
    return Label(
        formula,
        market,
        items,
        raw,
        piece,
        nutrients,
        percentages,
        contains,
        (*notes, *unlisted, *_market_notes(formula, market, items, piece)),
        (*blanks, *(f"allergens of {text}" for text in hazards.to_check), *_to_look_up(items)),
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
        water = sum(grams.get(key, 0.0) for key, each in bought.items() if each.kind == "water")
        # EU: added water counts as the finished piece less all else that went in, Annex VII Part A (1)
        found.append(Item(name, g, g - (min(lost, water) if market == "EU" else 0.0), tuple(bought.values())))
    return tuple(sorted(found, key=lambda item: -round(item.listed_by, 9)))


def _emphasised(formula, items, wanted):
    """The Items that are put forward, by their name on the label, a kind, or any name of an ingredient."""
    found, known = {}, formula.ingredients
    for word in (wanted,) if isinstance(wanted, str) else wanted:
        key = known.find(word) if plain(word) in known.index else ""
        named = [item for item in items if plain(item.name) == plain(word)]
        meant = [item for item in items if any(each.kind == plain(word) or each.key == key for each in item.bought)]
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


def _foreseen(made, calibration):
    """Say what a baked piece will weigh, its 80 % band and what that rests on."""
    own = calibration and (calibration.bake_loss_dough.bakes or calibration.bake_loss_topping.bakes)
    by = "the kitchen's own bakes" if own else "the formula's losses"
    ends = " to ".join(figure(end) for end in (made.baked_piece_low, made.baked_piece_high))
    return f"Baked piece foreseen from {by}: {figure(made.baked_piece)} g, {ends} (80 %). Weigh ten cooled pieces."


def _nutrition_notes(nutrients, amounts):
    """Say what the figures rest on, where they are unknown, and that alcohol is counted whole."""
    unknown = {}
    for n in nutrients:
        if where := n.unknown_in():
            unknown.setdefault(where, []).append(n.line)
    notes = [
        *_words("EU", "protein"),
        *(f"{capital(listing(figures))}: {where}." for where, figures in unknown.items()),
    ]
    if (alcohol := amounts["alcohol"][0]) > 0.005:
        notes.append(f"Alcohol is counted whole, {figure(alcohol, 2)} g a piece: the oven drives most of it off.")
    return notes


def _market_notes(formula, market, items, baked):
    """Say what the law of the market asks beside the list, and of each ingredient what its makers have to tell."""
    every = [each for item in items for each in item.bought]
    notes = []
    for item in (item for item in items if market == "EU" and any(each.kind == "water" for each in item.bought)):
        share = 100 * item.listed_by / baked
        few = item.listed_by and declare("added_water", share).step is None
        may = " and may be left out of the list" if few else ""
        left = f"{figure(item.listed_by)} g left, {figure(share)} % of the baked piece{may}"
        notes.append(f"Added water: {figure(item.grams, 1)} g weighed in, {left} (Annex VII Part A (1), from memory).")
    if any("sulphites" in (*each.brings.contains, *each.brings.asks) for each in every):
        notes += _words("", "sulphites")
    if market == "US":
        rows = cautions_for(formula, also=("label",)).rows
        notes += [f"{row.hazard} {row.control}" for row in rows if row.arises_when == "label"]
    for part in formula.parts:
        if part.kind == "dusting":
            dusted = listing(formula.ingredients[key].name for key in part.keys)
            notes.append(f"{dusted}: dusted on; what sticks is not weighed, so it stands last and in no figure.")
    for each in every:
        notes += _allergen_notes(each.name, each.brings)
        notes += [each.house] * bool(each.house)
        if each.specified:
            notes.append(f"{each.name}: {each.made_of or 'nothing added'}, from the supplier's specification.")
    if usual := dict.fromkeys(each.called for each in every if each.made_of and not each.specified):
        said = "is the usual make-up, from memory: the supplier's specification comes first"
        notes.append(f"What is in {listing(usual)} {said}.")
    return notes


def _allergen_notes(name, brings):
    """Say why an ingredient is to check, of which words the maker must be asked, or who found it complete."""
    words = {}
    for member, word in brings.asks.items():
        words.setdefault(word, []).append(member)
    asked = "; ".join(f"{f'{word}: ' * (word != name)}{listing(members, 'or')}?" for word, members in words.items())
    notes = [f"Ask the maker of {name}: {asked}"] if asked else []
    if brings.open:
        do = "its allergens stay to check until the house's file says by whom and when they were found complete"
        notes.append(f"{name}: {do}.")
    if brings.complete:
        notes.append(f"{name}: allergens found complete by {brings.complete}, by the house's file.")
    return notes


def _to_look_up(items):
    """What the suppliers must be asked where no specification is given, in one line; nothing where all is known."""
    looks = {}
    for each in (each for item in items for each in item.bought if each.look):
        looks.setdefault(each.look, []).append(each.name)
    makers = "; ".join(f"{listing(whose)} ({look})" for look, whose in looks.items())
    return [f"from the suppliers' specifications: {makers}"] if makers else []
