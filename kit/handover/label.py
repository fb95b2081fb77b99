"""The draft of a label: ingredients in the order of the law, allergens, percentages, nutrition, what is still blank."""

import re
from dataclasses import dataclass, field

from .. import page
from ..balance.bands import reach
from ..cautions import cautions_for, unspelled
from ..errors import AmountError, KitError, UnknownName, must
from ..formula import Formula
from ..formula.formula import only_one
from ..process import predict_yield, scaling_scatter, what_to_scale
from ..tables import in_tables, source, table
from ..units import number, read
from ..words import capital, did_you_mean, figure, listing, plain, plural
from .nutrition import content, declare, in_piece, market_of, names, quid
from .printed import Changes, label_page, label_table, label_words, title_of
from .serving import serving
from .weighing import in_grams, left_out, taken

DRAFT = (
    "Draft to check: not legal advice, have it checked under the law of the place. For what is bought in, the "
    "maker's own figures and list of ingredients come first. Calculated from what goes in: yeast eats some of the "
    "sugar, baking changes vitamins. Traces ('may contain') cannot be computed: they are the shop's to decide."
)
_MARKET_NOTES = {
    "EU": "Protein is the tables' own, which take 5.7 g for 1 g of nitrogen in wheat and 6.38 in milk (from memory); "
    "the EU asks for 6.25.",
    "US": "Calories by 4, 4 and 9 kcal/g; insoluble fiber, which may be taken off, is not.",
}
_BLANK = {
    "EU": (
        "name of the food", "date: best before or use by, and the lot", "how to store it, once opened too",
        "name and address of the business", "country of origin, where leaving it out would mislead",
    ),
    "US": (
        "statement of identity", "name and place of business", "date and how to keep it, where the place asks for them",
    ),
}  # fmt: skip


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
class Label:
    """The draft of a label for one formula, one market, one size of pack; masses in g, per piece unless said."""

    formula: Formula = field(repr=False)
    market: str
    items: tuple = field(repr=False)  # in the order of the law
    raw_piece: float
    baked_piece: float
    nutrients: tuple = field(repr=False)
    quid: tuple = field(repr=False)
    contains: tuple  # ((entry of the law's list, its members here), ...)
    pieces_in_pack: int = 1
    serving: object = field(default=None, repr=False)  # Serving, in the US
    net_mass: float | None = None
    scaling: object = field(default=None, repr=False)  # ToScale for the net mass, where it could be worked out
    notes: tuple = field(default=(), repr=False)
    still_to_write: tuple = field(default=(), repr=False)
    to_check: tuple = ()  # what may bring other allergens
    cautions: tuple = field(default=(), repr=False)
    draft = DRAFT

    @property
    def ingredients(self):
        """The list of ingredients as text; in the EU allergens in capitals, percentages where they are asked for."""
        return self.listed(str.upper, str)

    @property
    def bases(self):
        """What the figures are declared for: 100 g and a piece; in the US a serving, and the pack where it is asked."""
        return ("100 g", "piece") if self.serving is None else tuple(self.serving.counts)

    @property
    def allergens(self):
        """The entries of the law's list that are in it, as text."""
        named = {"tree nuts": "{1}", "cereals containing gluten": "{0} ({1})", "nuts": "{0} ({1})"}  # members by name
        said = ", ".join(named.get(entry, "{0}").format(entry, listing(members)) for entry, members in self.contains)
        return "; ".join(filter(None, [said, f"to check: {listing(self.to_check)}" * bool(self.to_check)]))

    @property
    def net(self):
        """The statement of the net mass, blank until it is given; ounces are rounded down so as not to promise more."""
        if self.net_mass is None:
            return ""
        grams = f"{_down(self.net_mass, 0 if self.net_mass >= 100 else 1)} g"
        return grams if self.market == "EU" else f"Net Wt {_down(self.net_mass / in_grams(), 1)} oz ({grams})"

    def to_frame(self):
        """Return a DataFrame of the nutrition table: values, texts as declared, in the US with % Daily Values."""
        rows = [
            (n.name, n.unit, *(v[0] if v else float("nan") for v in (n.per_100_g, n.per_piece)),
             *(n.declared(per) for per in self.bases), *(n.daily_value(per) for per in self.bases if self.serving))
            for n in self.nutrients
        ]  # fmt: skip
        columns = ["nutrient", "unit", "in 100 g", "in a piece", *(f"declared per {per}" for per in self.bases)]
        columns += [f"% Daily Value per {per}" for per in self.bases if self.serving]
        return page.frame(columns, rows, index=True)

    def items_to_frame(self):
        """Return a DataFrame of the list: ingredient, g in a raw piece, % of the bowl and of the baked piece, QUID."""
        said = {q.name: q.said for q in self.quid}
        rows = [
            (i.name, i.grams, i.listed_by, 100 * i.grams / self.raw_piece, 100 * i.listed_by / self.baked_piece,
             listing(i.allergens), said.get(i.name, ""))
            for i in self.items
        ]  # fmt: skip
        columns = ["ingredient", "g weighed in", "g listed by", "% of the raw piece", "listed by, % of the baked piece",
                   "allergens", "percentage to print"]  # fmt: skip
        return page.frame(columns, rows, index=True)

    def beside(self, other):
        """Return a DataFrame of this label and another line by line, such as the EU's and the US's of one formula."""
        mine, its = self._lines(), other._lines()
        heads = [f"{one.market}, per {one.bases[0]}: {one.formula.name}" for one in (self, other)]
        rows = [(line, mine.get(line, "–"), its.get(line, "–")) for line in dict.fromkeys((*mine, *its))]
        return page.frame(["line", *heads], rows, index=True)

    def changes_from(self, other):
        """Return the LabelChanges from another label of the same market: order, allergens, declared figures.

        Raises AmountError for labels of two markets.
        """
        if self.market != other.market:
            got = f"{other.market} and {self.market}"
            raise AmountError(must("labels", "of one market", got, "draft both for the EU, or both for the US"))
        return LabelChanges(tuple(row for row in other.beside(self).itertuples(name=None) if row[1] != row[2]))

    def sources(self):
        """Return what the label rests on: the laws, the tables of rounding and factors, the ingredients' figures."""
        laws = [r for name in ("label_nutrients", "label_rounding", "energy_factors", "allergen_lists")
                for r in table(name).rows if self.market in (r.get("market"), r.get("list"))]  # fmt: skip
        laws += table("serving_sizes").rows if self.serving else ()
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
            shown = [word for word in item.allergens if re.search(_whole(word), name, re.I)]
            inside = ["see the maker's label"] * item.compound
            text = plainly(name)
            if self.market == "EU":
                inside += [strong(word) for word in item.allergens if word not in shown]
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
        """Everything that the label says, {line: text}."""
        lines = {"order of ingredients": ", ".join(item.name for item in self.items if not item.gone)}
        lines["allergens"] = self.allergens
        if self.serving:
            lines["serving"] = f"{self.serving.size}, {self.serving.per_pack}"
        for place, per in enumerate(self.bases):
            for n in self.nutrients:
                what = f"energy, {n.unit}" if n.key.startswith("energy") else n.key.replace("_", " ")
                lines[what + f" in a {per}" * place] = n.declared(per)
        return lines | {f"percentage of {q.name}": q.said for q in self.quid} | {"net mass": self.net or "–"}


@dataclass(frozen=True)
class LabelChanges(Changes):
    """What a label says otherwise than before: (line, before, after); empty when nothing moves."""

    columns = ("line", "before", "after")
    nothing = "Nothing moves."

    def to_frame(self):
        """Return a DataFrame: line, before, after."""
        return super().to_frame().set_index("line")

    def __str__(self):
        return "\n".join(f"{what}: {before} → {after}" for what, before, after in self.rows) or self.nothing


def label(formula, market="EU", net_mass=None, pieces_in_pack=1, calibration=None, baked=None, emphasised=()):
    """Return the draft Label of a formula for the EU or the US.

    net_mass [g or any mass, of a pack] with pieces_in_pack; calibration with the kitchen's own losses;
    baked [g or any mass] a cooled piece as weighed, else foreseen; emphasised: ingredients that the name or a
    picture puts forward. Regulation (EU) 1169/2011; 21 CFR 101. Not legal advice. Raises UnknownName, AmountError,
    UnitError, FormulaError.

    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 60, "butter": 20}, pieces={"dough": 60})
    >>> label(bun, baked="50 g").ingredients
    'WHEAT flour, water, butter (MILK)'
    """
    only_one(formula, "to be labelled", "choose one")
    market = market_of(market)
    pack = number(pieces_in_pack, "pieces_in_pack")
    if not (pack >= 1 and pack == int(pack)):
        be = "a whole number of pieces, 1 or more"
        raise AmountError(must("pieces_in_pack", be, pieces_in_pack, "count them"))
    pack = int(pack)
    made = predict_yield(formula, flour=1000.0, calibration=calibration)
    raw, weighed = made.raw_piece, baked is not None
    if weighed:
        baked = read(baked, "mass", "baked")
        if not 0 < baked <= raw:
            do = "weigh it again: was the tray left on the scale?"
            raise AmountError(must("baked", f"above 0 and at most {figure(raw)} g, the raw piece", f"{baked:g} g", do))
    else:
        baked = made.baked_piece
    if net_mass is not None:
        net_mass = read(net_mass, "mass", "net mass")
        if not 0 < net_mass <= pack * raw:
            be = f"above 0 g and at most {figure(pack * raw)} g, the raw mass of {plural(pack, 'piece')}"
            do = "say what the label says, and how many pieces"
            raise AmountError(must("net mass", be, f"{net_mass:g} g", do))
    eaten = serving(formula, baked if net_mass is None else net_mass / pack, pack) if market == "US" else None
    nutrients, amounts = content(formula, market, baked, raw - baked, eaten and eaten.counts)
    listed = _items_of(formula, market, raw - baked)
    open_in = left_out(formula, "so it is in no figure and stands last in the list")
    notes = [f"{text}." for text in taken(formula)]
    notes += [_MARKET_NOTES[market], *(f"{text}." for text in (*made.capped, *open_in))]
    unknown = {}
    for n in nutrients:
        if where := n.unknown_in():
            unknown.setdefault(where, []).append(n.called)
    notes += [f"{capital(listing(figures))}: {where}." for where, figures in unknown.items()]
    if not weighed:
        own = calibration and (calibration.bake_loss_dough.bakes or calibration.bake_loss_topping.bakes)
        notes.append(_foreseen(formula, made, calibration if own else None, amounts))
    if (alcohol := amounts["alcohol"][0]) > 0.005:
        notes.append(f"Alcohol is counted whole, {figure(alcohol, 2)} g a piece: the oven drives most of it off.")
    marks = _emphasised(formula, listed, emphasised)
    shares = tuple(quid({i.name: i.grams for i in marks if i.grams}, baked, raw).values())
    if market == "US" and shares:
        notes.append(f"The US asks for no percentages; for the EU: {listing(f'{q.name} {q.said}' for q in shares)}.")
        shares = ()
    contains, unlisted = _contains(market, listed)
    notes += unlisted
    scaling = None
    if net_mass is not None:
        scaling, said = _to_scale(formula, market, net_mass, pack, calibration, weighed)
        notes.append(said)
        if market == "US" and net_mass >= in_grams("lb"):
            notes.append("From 1 lb up the US asks for pounds beside the ounces: to check (21 CFR 101.7, from memory).")
    notes += _market_notes(formula, market, listed, baked)
    blanks = list(_BLANK[market])
    if net_mass is None:
        blanks.append(f"net mass ({plural(pack, 'piece')}: {figure(pack * baked)} g on average)")
    if missing := [n.called for n in nutrients if not n.settled]:
        blanks.append(f"{listing(missing)}, by the makers' sheets or a laboratory")
    if nowhere := [n.called for n in nutrients if n.per_piece is None]:
        notes.append(f'{capital(listing(nowhere))} are in no table here; "to find out" is not 0.')
    notes += eaten.notes if eaten else ()
    hazards = cautions_for(formula)
    blanks += [f"allergens of {text}" for text in hazards.to_check] + _to_look_up(formula, market, listed, marks)
    cautions = tuple(row["control"] for row in hazards.rows if row["arises_when"] == "allergens")
    return Label(
        formula, market, listed, raw, float(baked), nutrients, shares, contains, pack, eaten, net_mass, scaling,
        tuple(notes), tuple(blanks), hazards.to_check, cautions,
    )  # fmt: skip


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
        allergens = tuple(dict.fromkeys(word for key in keys for word in known.allergens(key)))
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
    """((entry, members here), ...) of the law's list, and what is said of the words that it does not know."""
    here = {word: item.name for item in reversed(items) for word in item.allergens}
    found, lists = [], {}
    for row in table("allergen_lists").rows:
        members = row["members"].split(";")
        lists.setdefault(row["list"], set()).update(members)
        if row["list"] == market and (inside := tuple(word for word in members if word in here)):
            found.append((row["allergen"], inside))
    said = []
    for word in here:
        elsewhere = [name for name, members in lists.items() if word in members]
        what = f"an allergen in the {listing(elsewhere)} alone" if elsewhere else "a word of no list: is it spelled so"
        if market not in elsewhere:
            said.append(f"{word}, named for {here[word]}, is {what}.")
    return tuple(found), said


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
    low, high, scatter = made.baked_piece_low, made.baked_piece_high, scaling_scatter(formula, calibration=calibration)
    if calibration:  # the kitchen's own scatter of its loss, not that of common practice
        half = reach() * float(scatter.loss)
        low, high = made.baked_piece - half, made.baked_piece + half
    by = "the kitchen's own bakes" if calibration else "the formula's losses"
    least, most = (figure(100 * amounts["energy_kcal"][0] / mass, 0) for mass in (high, low))
    return (
        f"Baked piece foreseen from {by}: {figure(made.baked_piece)} g, {figure(low)} to {figure(high)} (80 %, "
        f"{scatter.rests_on['loss in the oven']}), which puts 100 g between {least} and {most} kcal. "
        "Weigh ten cooled pieces and enter their mean (baked)."
    )


def _to_scale(formula, market, net, pack, calibration, weighed):
    try:
        scaling = what_to_scale(formula, net, pack=pack, calibration=calibration)
    except KitError as error:
        return None, f"Net mass not checked against dividing and losses: {error}"
    piece, law = figure(scaling.piece), figure(scaling.law(market))
    rests = ", by the losses foreseen and not by the piece weighed" if weighed else ""
    return scaling, (
        f"To keep {figure(net)} g in a pack of {pack:,}: scale {law} g of dough a piece for the {market}'s tests, "
        f"{figure(scaling.wish)} g for 95 packs in 100 at or above it; the formula scales {piece} g{rests}."
    )


def _market_notes(formula, market, items, baked):
    notes = []
    for item in items if market == "EU" else ():
        if any(formula.ingredients[key]["kind"] == "water" for key in item.keys):
            share = 100 * item.listed_by / baked
            may = " and may be left out of the list" if declare("EU", "added_water", share).step is None else ""
            said = f"{figure(item.listed_by)} g left, {figure(share)} % of the baked piece{may}"
            notes.append(
                f"Added water: {figure(item.grams, 1)} g weighed in, {said if item.listed_by else 'all of it leaves'} "
                "(Annex VII Part A (1), from memory)."
            )
    sulphured = [
        item.name for item in items if "sulphites" not in item.allergens
        and any("sulphites" in look for look, _ in _looks(formula, item, market))
    ]  # fmt: skip
    if sulphured:
        notes.append(
            f"{capital(listing(sulphured))} may bring sulphites: above 10 mg/kg in what is sold they are declared, in "
            "the EU as an allergen (Annex II), in the US by 21 CFR 101.100(a)(4), from memory: ask the supplier."
        )
    if market == "US":
        rows = cautions_for(formula, also=("label",)).rows
        notes += [f"{row['hazard']} {row['control']}" for row in rows if row["arises_when"] == "label"]
    for part in formula.parts:
        if part.kind == "dusting":
            dusted = listing(formula.ingredients[key]["name"] for key in part.keys)
            notes.append(f"{dusted}: dusted on; what sticks is not weighed, so it stands last and in no figure.")
    for row in (formula.ingredients[key] for item in items for key in item.keys):
        if not in_tables(row["key"]) and not row["allergens"]:
            notes.append(f"{row['name']}: the house's file states no allergens; read the maker's label.")
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


def _down(value, digits):
    cut = int(value * 10**digits + 1e-9) / 10**digits
    return figure(cut, digits).removesuffix(".0")
