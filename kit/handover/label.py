"""The draft of a label: ingredients in the order of the law, allergens, percentages, nutrition, what is still blank."""

import functools
import re
from dataclasses import dataclass, field

from .. import page
from ..allergens import of_ingredient
from ..balance.bands import reach
from ..cautions import cautions_for, unspelled
from ..errors import AmountError, UnknownName, must
from ..formula import Formula
from ..formula.parts import only_one
from ..process import predict_yield
from ..tables import in_tables, source, table
from ..units import read
from ..words import capital, did_you_mean, figure, listing, one_of, plain
from .nutrition import content, declare, in_piece, quid
from .printed import Changes, label_page, label_table, label_words, title_of
from .weighing import left_out, taken

MARKETS = ("EU", "US")

DRAFT = (
    "Draft to check: not legal advice, have it checked under the law of the place. For what is bought in, the "
    "maker's own figures and list of ingredients come first. Calculated from what goes in: yeast eats some of the "
    "sugar, baking changes vitamins. Traces ('may contain') cannot be computed: they are the shop's to decide."
)
_PROTEIN = (
    "Protein is the tables' own, which take 5.7 g for 1 g of nitrogen in wheat and 6.38 in milk (from memory); the EU "
    "asks for 6.25."
)
_BLANK = {
    "EU": (
        "name of the food",
        "date: best before or use by, and the lot",
        "how to store it, once opened too",
        "name and address of the business",
        "country of origin, where leaving it out would mislead",
    ),
    "US": (
        "statement of identity",
        "name and place of business",
        "date and how to keep it, where the place asks for them",
        "Nutrition Facts: not drafted here",
    ),
}


@dataclass(frozen=True)
class Item:
    """One line of the list: what it is called, how much of it is in a raw piece and by what mass it is listed [g]."""

    name: str
    grams: float  # as weighed in
    listed_by: float  # the same, but what is left of added water in the EU
    allergens: tuple = ()
    keys: tuple = ()
    made_of: str = ""  # what a bought ingredient is made of itself
    compound: bool = False  # of several, of which only its maker can tell

    @property
    def gone(self):
        """Whether it is water that all left in the oven, so that nothing of it is listed."""
        return self.listed_by == 0 and self.grams > 0


@dataclass(frozen=True, eq=False)
class Label(page.Result):
    """The draft of a label for one formula and one market; masses in g, of a piece."""

    formula: Formula = field(repr=False)
    market: str
    items: tuple = field(repr=False)  # in the order of the law
    raw_piece: float
    baked_piece: float
    nutrients: tuple = field(repr=False)  # in the EU, per 100 g
    quid: tuple = field(repr=False)
    contains: tuple  # ((entry of the law's list, its members here), ...)
    notes: tuple = field(default=(), repr=False)
    still_to_write: tuple = field(default=(), repr=False)
    to_check: tuple = ()  # what may bring other allergens
    cautions: tuple = field(default=(), repr=False)
    draft = DRAFT
    columns = ("nutrient", "unit", "in 100 g", "declared")

    @property
    def ingredients(self):
        """The list of ingredients as text; in the EU allergens in capitals, percentages where they are asked for."""
        return self.listed(str.upper, str)

    @property
    def allergens(self):
        """The entries of the law's list that are in it, as text."""
        said = ", ".join(_named(entry, members) for entry, members in self.contains)
        return "; ".join(filter(None, [said, f"to check: {listing(self.to_check)}" * bool(self.to_check)]))

    def frame_rows(self):
        """Return the nutrition table, per 100 g: unit, value, text as declared."""
        return [(n.name, n.unit, n.per_100_g[0], n.declared) for n in self.nutrients]

    def against(self, other: "Label") -> "LabelChanges":
        """Return what this label says otherwise than another: order, allergens, declared figures, percentages.

        The other is of an older formula, or of the other market.
        """
        mine, its = self._lines(), other._lines()
        figures = zip(self.nutrients, other.nutrients, strict=False)
        still = {_line(now) for now, was in figures if now.undecided_from(was)}
        rows = [(line, its.get(line, "–"), mine.get(line, "–")) for line in dict.fromkeys((*its, *mine))]
        changed = tuple(row for row in rows if row[1] != row[2] and row[0] not in still)
        return LabelChanges(
            changed, ("before", "after") if self.market == other.market else (other.market, self.market)
        )

    def sources(self):
        """Return what the label rests on: the laws, the tables of rounding and factors, the ingredients' figures."""
        laws = [row for row in table("allergen_lists").rows if row["list"] == self.market]
        for name in ("label_nutrients", "label_rounding", "energy_factors") if self.nutrients else ():
            laws += table(name).rows
        known, used = self.formula.ingredients, [key for item in self.items for key in item.keys]
        keys = dict.fromkeys(row["source"] for row in (*laws, *map(known.__getitem__, used)))
        own = dict.fromkeys(known.house_figures(key) for key in used)
        return [source(key) for key in keys if key] + [text for text in own if text]

    def page(self, paper="A4"):
        """Return the printable HTML page of the draft, on A4 or Letter. Raises AmountError for another paper."""
        return label_page(self, paper)

    def _repr_html_(self):
        title = title_of(self.formula, f"Draft label, {self.market}: ")
        return (
            f'<div style="max-width:900px;color:#222;background:#fff"><p><b>{page.escape(title)}</b></p>'
            f"{label_words(self)}{label_table(self)}<p><b>Still to write</b></p>"
            f'<ul style="font-size:13px">{page.items(self.still_to_write)}</ul><p><b>To know</b></p>'
            f'<ul style="font-size:13px">{page.items(self.notes)}</ul></div>'
        )

    def listed(self, strong, plainly):
        """Return the list of ingredients, what must stand out put through `strong`, all else through `plainly`."""
        said = {q.name: q.said for q in self.quid}
        texts = []
        for item in self.items:
            if item.gone:
                continue
            name = f"{item.name} ({item.made_of})" if item.made_of else item.name
            inside, text = ["see the maker's label"] * item.compound, plainly(name)
            if self.market == "US" and "sulphites" in item.allergens and not re.search("sul(ph|f)it", name, re.I):
                inside.append("sulfites")  # what else there is, the line that says "Contains" says
            if self.market == "EU":
                named = [word for word in item.allergens if word in _listed_in("EU")]
                shown = [word for word in named if re.search(_whole(word), name, re.I)]
                inside += [strong(word) for word in named if word not in shown]
                if shown:
                    bits = re.split(f"({'|'.join(map(_whole, shown))})", name, flags=re.I)
                    text = "".join((strong if n % 2 else plainly)(bit) for n, bit in enumerate(bits))
            if inside and item.made_of:
                text = f"{text[:-1]}; contains {', '.join(inside)})"
            elif inside:
                text += f" ({', '.join(inside)})"
            texts.append(f"{text} {plainly(said.get(item.name, ''))}".strip())
        return ", ".join(texts)

    def _lines(self):
        """Everything that the label says, {line: text}; figures per 100 g."""
        lines = {"order of ingredients": ", ".join(item.name for item in self.items if not item.gone)}
        lines["allergens"] = self.allergens
        for n in self.nutrients:
            lines[_line(n)] = n.declared
        return lines | {f"percentage of {q.name}": q.said for q in self.quid}


def _line(nutrient):
    return f"energy, {nutrient.unit}" if nutrient.key.startswith("energy") else nutrient.key.replace("_", " ")


@dataclass(frozen=True)
class LabelChanges(Changes):
    """What a label says otherwise than another: (line, there, here); empty when nothing moves."""

    sides: tuple = ("before", "after")
    named, nothing = True, "Nothing moves."

    @property
    def columns(self):
        """Those of the frame: before and after, or both markets."""
        return ("line", *self.sides)

    @property
    def words(self):
        """What is said otherwise, a line each."""
        return "\n".join(f"{what}: {before} → {after}" for what, before, after in self.rows) or self.nothing


def label(formula, market="EU", calibration=None, baked=None, emphasised=()):
    """Return the draft Label of a formula for the EU or the US.

    calibration with the kitchen's own losses; baked [g or any mass] a cooled piece as weighed, else foreseen;
    emphasised: ingredients that the name or a picture puts forward. Regulation (EU) 1169/2011; 21 CFR 101. Not legal
    advice. Raises UnknownName, AmountError, UnitError, FormulaError.

    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 60, "butter": 20}, pieces={"dough": 60})
    >>> label(bun, baked="50 g").ingredients
    'WHEAT flour, water, butter (MILK)'
    """
    only_one(formula, "to be labelled", "choose one")
    market = one_of("market", market, MARKETS, "choose where it is sold")
    made = predict_yield(formula, flour=1000.0, calibration=calibration)
    raw, weighed = made.raw_piece, baked is not None
    if weighed:
        baked = read(baked, "mass", "baked")
        if not 0 < baked <= raw:
            do = "weigh it again: was the tray left on the scale?"
            raise AmountError(must("baked", f"above 0 and at most {figure(raw)} g, the raw piece", f"{baked:g} g", do))
    else:
        baked = made.baked_piece
    nutrients, amounts = content(formula, baked, raw - baked)
    listed = _items_of(formula, market, raw - baked)
    open_in = left_out(formula, "so it is in no figure and stands last in the list")
    notes = [f"{text}." for text in (*taken(formula), *made.capped, *open_in)]
    shares, blanks = (), list(_BLANK[market])
    marks = _emphasised(formula, listed, emphasised)
    if market == "EU":
        shares = tuple(quid({i.name: i.grams for i in marks if i.grams}, baked, raw).values())
        notes += _nutrition_notes(nutrients, amounts)
        if not weighed:
            notes.append(_foreseen(formula, made, calibration, amounts))
    else:
        nutrients = ()
    contains, unlisted = _contains(market, listed)
    notes += unlisted
    notes += _market_notes(formula, market, listed, baked)
    blanks.append(f"net mass (a piece: {figure(baked)} g on average)")
    if missing := [n.called for n in nutrients if not n.settled]:
        blanks.append(f"{listing(missing)}, by the makers' sheets or a laboratory")
    hazards = cautions_for(formula)
    blanks += [f"allergens of {text}" for text in hazards.to_check] + _to_look_up(formula, market, listed, marks)
    cautions = tuple(row["control"] for row in hazards.rows if row["arises_when"] == "allergens")
    return Label(
        formula,
        market,
        listed,
        raw,
        float(baked),
        nutrients,
        shares,
        contains,
        tuple(notes),
        tuple(blanks),
        hazards.to_check,
        cautions,
    )


def _nutrition_notes(nutrients, amounts):
    """Say what the figures rest on, where they are unknown, and that alcohol is counted whole."""
    unknown = {}
    for n in nutrients:
        if where := n.unknown_in():
            unknown.setdefault(where, []).append(n.called)
    notes = [_PROTEIN, *(f"{capital(listing(figures))}: {where}." for where, figures in unknown.items())]
    if (alcohol := amounts["alcohol"][0]) > 0.005:
        notes.append(f"Alcohol is counted whole, {figure(alcohol, 2)} g a piece: the oven drives most of it off.")
    return notes


@functools.cache
def names():
    """{key: row} of label_names.csv."""
    return {row["ingredient"]: row for row in table("label_names").rows}


def _items_of(formula, market, lost):
    """The Items of a piece, equal names merged, in the order of the law; what has no mass on a piece stands last."""
    known, grams, called = formula.ingredients, in_piece(formula), {}
    written = [key for p in formula.parts for key, v in zip(p.keys, p.percentages, strict=True) if v > 0]
    for key in dict.fromkeys((*grams, *written)):
        name = names()[key][f"{market.lower()}_name"] if key in names() else known[key]["name"]
        name = known[key].get("label_name") or name
        called.setdefault(name, []).append(key)
    found = [Item(f"{kind}, not spelled out", g, g) for kind, g in unspelled(formula).items()]
    for name, keys in called.items():
        g, water = (
            sum(grams.get(key, 0.0) for key in keys if kind in ("", known[key]["kind"])) for kind in ("", "water")
        )
        # EU: added water counts as the finished piece less all else that went in, Annex VII Part A (1)
        left = g - (min(lost, water) if market == "EU" else 0.0)
        allergens = tuple(dict.fromkeys(word for key in keys for word in of_ingredient(known, key).contains))
        inside = tuple(_made_of(known[key], market) for key in keys)
        parts = dict.fromkeys(bit.strip() for text, _ in inside for bit in re.split(_COMMA, text) if bit.strip())
        compound = any(
            not own and (names()[k]["compound"] == "yes" if k in names() else not in_tables(k))
            for k, (_, own) in zip(keys, inside, strict=True)
        )
        found.append(Item(name, g, left, allergens, tuple(keys), ", ".join(parts), compound))
    return tuple(sorted(found, key=lambda item: -round(item.listed_by, 9)))


_COMMA = r",(?![^(]*\))"  # between ingredients, not between those of one of them


def _made_of(row, market):
    """(what an ingredient is made of as text, whether that is from the supplier's specification)."""
    if own := row.get("sub_ingredients", ""):
        return own if plain(own) != "none" else "", True
    return names().get(row["key"], {}).get(f"{market.lower()}_sub_ingredients", ""), False


def _contains(market, items):
    """((entry, members here), ...) of the law's list, and what is said of the members that it does not have."""
    here = {word: item.name for item in reversed(items) for word in item.allergens}
    found = [
        (row["allergen"], tuple(word for word in row["members"].split(";") if word in here))
        for row in table("allergen_lists").rows
        if row["list"] == market
    ]
    other = "US" if market == "EU" else "EU"
    said = [
        f"{word}, named for {here[word]}, is an allergen in the {other} alone."
        for word in here
        if word not in _listed_in(market)
    ]
    return tuple((entry, members) for entry, members in found if members), said


def _named(entry, members):
    """An entry of a law's list as it is declared: nuts and cereals by their own names."""
    if entry not in ("tree nuts", "nuts", "cereals containing gluten"):
        return entry
    which = listing([word for word in members if word != "nuts"] + ["others: which?"] * ("nuts" in members))
    return which if entry == "tree nuts" and "nuts" not in members else f"{entry} ({which})"


@functools.cache
def _listed_in(market):
    """The members of a market's list of allergens."""
    return {word for row in table("allergen_lists").rows if row["list"] == market for word in row["members"].split(";")}


def _emphasised(formula, items, wanted):
    """The Items that the baker names, by label name, kind or any name of an ingredient."""
    found = []
    for word in (wanted,) if isinstance(wanted, str) else wanted:
        these = [i for i in items if plain(i.name) == plain(word)]
        these = these or [i for i in items if any(formula.ingredients[k]["kind"] == plain(word) for k in i.keys)]
        if not these and plain(word) in formula.ingredients.index:
            key = formula.ingredients.find(word)
            these = [i for i in items if key in i.keys]
        if not these:
            known = [i.name for i in items] + [formula.ingredients[key]["kind"] for i in items for key in i.keys]
            be = f"ingredients of the label: {listing([i.name for i in items], 'or')}"
            raise UnknownName(must("emphasised", be, repr(str(word)), did_you_mean(word, known)))
        found += [item for item in these if item not in found]
    return found


def _foreseen(formula, made, calibration, amounts):
    """Say what a baked piece will weigh, its 80 % band and what that rests on."""
    if not (calibration and (calibration.bake_loss_dough.bakes or calibration.bake_loss_topping.bakes)):
        calibration = None
    low, high, scatter = made.baked_piece_low, made.baked_piece_high, made.scatter()
    if calibration:  # the kitchen's own scatter of its loss, not that of the tables
        half = reach() * float(scatter.loss)
        low, high = made.baked_piece - half, made.baked_piece + half
    by = "the kitchen's own bakes" if calibration else "the formula's losses"
    least, most = (figure(100 * amounts["energy_kcal"][0] / mass, 0) for mass in (high, low))
    return (
        f"Baked piece foreseen from {by}: {figure(made.baked_piece)} g, {figure(low)} to {figure(high)} (80 %, "
        f"{scatter.grounds['loss in the oven']}), which puts 100 g between {least} and {most} kcal. "
        "Weigh ten cooled pieces and enter their mean (baked)."
    )


def _market_notes(formula, market, items, baked):
    notes = []
    for item in items if market == "EU" else ():
        if any(formula.ingredients[key]["kind"] == "water" for key in item.keys):
            share = 100 * item.listed_by / baked
            may = " and may be left out of the list" if declare("added_water", share).step is None else ""
            said = f"{figure(item.listed_by)} g left, {figure(share)} % of the baked piece{may}"
            notes.append(
                f"Added water: {figure(item.grams, 1)} g weighed in, {said if item.listed_by else 'all of it leaves'} "
                "(Annex VII Part A (1), from memory)."
            )
    brings = {key: of_ingredient(formula.ingredients, key) for item in items for key in item.keys}
    if any("sulphites" in (*each.contains, *each.asks) for each in brings.values()):
        notes.append(
            "Sulphites: above 10 mg/kg in what is sold they are declared, in the EU as an allergen (Annex II), in the "
            "US by 21 CFR 101.100(a)(4), from memory."
        )
    if market == "US":
        rows = cautions_for(formula, also=("label",)).rows
        notes += [f"{row['hazard']} {row['control']}" for row in rows if row["arises_when"] == "label"]
    for part in formula.parts:
        if part.kind == "dusting":
            dusted = listing(formula.ingredients[key]["name"] for key in part.keys)
            notes.append(f"{dusted}: dusted on; what sticks is not weighed, so it stands last and in no figure.")
    for row in (formula.ingredients[key] for item in items for key in item.keys):
        notes += _allergen_notes(row["name"], brings[row["key"]])
        if house := formula.ingredients.house_figures(row["key"]):
            notes.append(house)
        if (made := _made_of(row, market))[1]:
            notes.append(f"{row['name']}: {made[0] or 'nothing added'}, from the supplier's specification.")
    made = [(item.name, *_made_of(formula.ingredients[key], market)) for item in items for key in item.keys]
    if usual := dict.fromkeys(name for name, text, own in made if text and not own):
        notes.append(
            f"What is in {listing(usual)} is the usual make-up, from memory: the supplier's specification comes first "
            "(sub_ingredients in the house's file)."
        )
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
        notes.append(f"{name}: {do} (allergens_complete).")
    if brings.complete:
        notes.append(f"{name}: allergens found complete by {brings.complete}, by the house's file.")
    return notes


def _to_look_up(formula, market, items, marks):
    looks = {}
    for item in items:
        for look, name in _looks(formula, item, market):
            looks.setdefault(look, []).append(name)
    makers = [f"{listing(whose)} ({look})" for look, whose in looks.items()]
    blanks = [f"from the suppliers' specifications: {'; '.join(makers)}"] if makers else []
    if market == "EU" and not marks:
        blanks.append("percentage of what words or a picture put forward, or what the food is known by: emphasised=")
    blanks += [f"percentage of {item.name}: weigh what sticks" for item in marks if not item.grams and market == "EU"]
    title = _bare_words(formula.name)
    for item in items if market == "EU" else ():
        named = title & _bare_words(item.name)
        if named and item not in marks:
            blanks.append(f"percentage of {item.name}, if the name keeps '{listing(named)}' (emphasised)")
    return blanks


def _looks(formula, item, market):
    """[(what a supplier must be asked, its name in the bakehouse)] of an Item, where no specification is given."""
    found = []
    for row in map(formula.ingredients.__getitem__, item.keys):
        look = names().get(row["key"], {}).get("check_on_the_makers_label") or item.compound * "all that is in it"
        if look and not _made_of(row, market)[1]:
            found.append((look, row["name"]))
    return found


def _bare_words(text):
    """The words of a text without case, plural and what is too short to name an ingredient."""
    return {word.removesuffix("s") for word in re.findall(r"\w+", plain(text)) if len(word) > 2}


def _whole(word):
    return rf"\b{re.escape(word)}(?:e?s)?\b"
