"""A shop's price list: each pack as it is bought becomes a price per kg of what can be used; money as it is written."""

import datetime
import math
import re
import unicodedata
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from .. import page
from ..errors import AmountError, FileError, KitError, UnitError, UnknownName, above, must
from ..formula import Formula, weigh
from ..tables import Ingredients, read_csv, table
from ..tables import ingredients as kit_ingredients
from ..units import amount, number, read_date
from ..words import capital, figure, listing, nearest, one_of, plural, signed

COLUMNS = ("ingredient", "price", "currency", "pack", "usable_percent", "date", "low_price", "high_price", "note")
NEEDED = COLUMNS[:4]

# "20 x 250 g", "6x1 kg"; "case of 30 eggs", "bag, 25 kg", "25 kg bag": what it is packed in weighs nothing
_IN = "(?:bag|block|bottle|box|bucket|can|canister|carton|case|crate|jar|pack|packet|pail|sack|tin|tray|tub)"
_PACKS_OF = re.compile(rf"(?<=[\d\s]){_IN}e?s of\s+(?=[\d¼½¾])", re.I)
_PACKED = re.compile(rf"^(?:an?\s+|1\s+)?{_IN}(?:\s+of|\s*[,:])?\s+(?=\d)|(?<=[a-z.])\s+{_IN}(?:e?s)?$", re.I)
# "4/5 lb", "2 400 g tins": four of 5 lb and two of 400 g to whoever sells them
_SO_MANY = re.compile(rf"^(?!1/[2348]\b|[23]/[34]\b)(\d+)\s*/\s*(\d.*)|^(\d+) (\d{{3}}(?!\d).* {_IN}(?:e?s)?)$", re.I)

USUAL_IN = ("EUR", "USD", "GBP", "CHF", "€", "$", "£")  # in what usual_prices.csv is, near enough
OLD = 180  # days after which a price is asked anew, assumed here


@dataclass(frozen=True)
class Price:
    """What one ingredient costs: per kg of it that can be used [currency per kg]."""

    key: str
    name: str
    per_kg: float
    currency: str = ""
    date: datetime.date | None = None
    bought: str = ""  # the pack as the list has it
    how: str = ""  # the table row that turned it into grams
    row: int = 0
    note: str = ""
    old: bool = False
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Prices(page.Result):
    """A price list: one Price an ingredient, all in one currency, with what is doubtful about them in words."""

    rows: tuple[Price, ...] = field(repr=False)
    currency: str = ""
    name: str = ""
    about: str = field(default="", repr=False)  # the comments of the file
    blank: tuple[str, ...] = ()  # ingredients whose price is left blank

    @property
    def invented(self):
        """Whether the list says that it is invented."""
        return "invented" in self.about.casefold()

    @property
    def notes(self):
        """What is doubtful about the prices, in words: blank, absurd or old ones, and shells taken off twice."""
        return (*[f"No price yet for {listing(self.blank)}."] * bool(self.blank), *doubts_of(self.rows))

    @property
    def per_kg(self):
        """{ingredient: price per kg}, which is what the solver takes as a cost."""
        return {row.key: row.per_kg for row in self.rows}

    @property
    def columns(self):
        """Those of the frame, with the currency."""
        return ["ingredient", f"{self.currency} per kg".strip(), "date", "as bought"]

    def frame_rows(self):
        """Return a row an ingredient."""
        return [(r.name, r.per_kg, r.date, r.bought) for r in self.rows]

    @property
    def grounds(self):
        """What each price rests on."""
        return {
            row.name: f"{self.name} row {row.row}: {row.bought}, {row.date or 'no date'}{row.how and '; ' + row.how}"
            for row in self.rows
        }

    def tables(self):
        """Return the table of the list."""
        rows = [[r.name, shown(r.per_kg), r.bought, r.date or "–", r.note] for r in self.rows]
        heads = ["", self.columns[1], "as bought", "date", "note"]
        return [(heads, rows, self.name + " (invented)" * self.invented)]


def money(value, currency=""):
    """Return money of a batch with two decimals, halves up.

    >>> money(12.125, "EUR"), money(0.003)
    ('12.13 EUR', 'under 0.01')
    """
    text = "under 0.01" if 0 < value < 0.005 else figure(nearest(value, 0.01), 2)
    return f"{text} {currency}".strip()


def each(value, currency="", like=None):
    """Return money of a piece with four significant figures, or with the decimals that `like` then has.

    >>> each(0.18432, "EUR"), each(0.0024), each(12.0), each(0.00001, like=0.18432)
    ('0.1843 EUR', '0.002400', '12.00', 'under 0.0001')
    """
    digits = _digits(value if like is None else like)
    text = f"under {10**-digits:.{digits}f}" if 0 < value < 0.5 * 10**-digits else figure(value, digits)
    return f"{text} {currency}".strip()


def _digits(like):
    return max(2, min(6, 3 - math.floor(math.log10(abs(like))))) if like else 4


def more(value, currency="", like=None):
    """Return a change of money with its sign, as `each` shows it."""
    return f"{signed(value, _digits(value if like is None else like))} {currency}".strip()


def shown(per_kg):
    """Return a price per kg as text, with more decimals where it is next to nothing."""
    return figure(per_kg, 2 if per_kg >= 0.095 or not per_kg else 4)


def read_prices(path: str | Path, ingredients: Ingredients | None = None, today: Any = None) -> Prices:
    """Return the Prices in a CSV file, every row checked.

    path: of a file with the columns ingredient, price, currency, pack ("25 kg", "20 x 250 g", "30 large eggs", "1 L");
        and if known usable_percent [% left after shells or trim], date (like 2025-03-04), note; low_price and
        high_price may stand there for the house's own use. Lines that begin with # are comments.
    ingredients: a house's own, else the kit's.
    today: the day from which prices older than 180 days are told, else the computer's own.

    Returns a price per kg of what can be used of each ingredient; one whose price is left blank is named in `.blank`
    and has none. Raises FileError, AmountError, UnitError, UnknownName, with the file and every row that is wrong.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "prices.csv"
    ...     _ = path.write_text("ingredient,price,currency,pack\\nbutter,80,EUR,10 kg\\n", encoding="utf-8")
    ...     print(read_prices(path).per_kg)
    {'butter_unsalted': 8.0}
    """
    path, ingredients = Path(path), ingredients or kit_ingredients()
    today = read_date(today, "today") or datetime.date.today()
    own = read_csv(path)
    columns = _columns(path, own) if own.columns else {}
    found: dict[str, Price] = {}
    blank, wrong = [], []
    for n, row in zip(own.places, own.rows, strict=True):
        cells = {columns[name]: cell for name, cell in row.items()}
        try:
            if not cells["price"]:
                blank.append(ingredients[ingredients.find(cells["ingredient"])].name)
                continue
            price = _price(n, cells, ingredients, today)
            if price.key in found:
                do = f"row {found[price.key].row} has it already; keep the one that is paid"
                raise FileError(must("ingredient", "named once", price.name, do))
            first = next(iter(found.values()), price)
            if price.currency != first.currency:
                do = f"row {first.row} has {first.currency}; change all into one"
                raise FileError(must("currency", "the same in every row", price.currency, do))
            found[price.key] = price
        except KitError as error:
            wrong.append(type(error)(f"row {n}: {error}"))
    if wrong:
        raise type(wrong[0])(". ".join([f"{path.name} {wrong[0]}", *(capital(str(error)) for error in wrong[1:])]))
    if not found:
        raise FileError(must(path.name, "a list with at least one price", "none", "add a row"))
    return Prices(tuple(found.values()), first.currency, path.name, own.about, tuple(blank))


def as_prices(formula: Formula, prices: Any) -> Prices:
    """Return Prices as they are, or made of {ingredient or kind: figure per kg} as the solver takes it."""
    if isinstance(prices, Prices):
        return prices
    from ..reformulate.moving import per_kg

    if not isinstance(prices, dict):
        raise AmountError(must("prices", "a price list or {name: price per kg}", repr(prices), "use read_prices"))
    names = {row.key: row.name for row in formula.ingredients.rows}
    figures = per_kg(formula, "price", prices)
    return Prices(tuple(Price(key, names[key], value) for key, value in figures.items() if value == value))


def weigh_pack(written, key, ingredients):
    """Return what a pack of an ingredient weighs [g] as `weigh` does, also "20 x 250 g" and "case of 30 eggs".

    How many there are is a whole number. Raises AmountError, UnitError.

    >>> weigh_pack("20 x 250 g", "butter_unsalted", kit_ingredients()).grams
    5000.0
    """
    if found := _SO_MANY.match(str(written).strip()):
        many, one = (each for each in found.groups() if each)
        do = f"write {many} x {one}, or what it weighs"
        raise AmountError(must("pack", "clear about how many", repr(written), do))
    text = _PACKS_OF.sub(" x ", _PACKED.sub("", str(written).strip()))
    if amount(re.split("[x×*]", text)[-1], "pack").kind == "number":
        raise UnitError(must("pack", "an amount with its unit such as 25 kg", repr(written), "write the unit"))
    weighed = weigh(text, key, ingredients)
    above("pack", weighed.grams, unit="g", do="write what a pack holds")
    return weighed


def _columns(path, own):
    """Return {column as written: column meant} of a price list."""
    try:
        found = {written: one_of("column", written, COLUMNS, "leave it out") for written in own.columns}
    except UnknownName as error:
        raise FileError(f"{path.name}: {error}") from None
    missing = [name for name in NEEDED if name not in found.values()]
    if missing or len(set(found.values())) < len(own.columns):
        got = f"no {listing(missing)}" if missing else "one of them twice"
        raise FileError(must(path.name, f"a table with {listing(NEEDED)}, each once", got, "mend its first row"))
    return found


def _price(n, cells, ingredients, today):
    """Return the Price of a row."""
    key = ingredients.find(cells["ingredient"])
    name, pack, money = ingredients[key].name, cells["pack"], cells["currency"]
    if not money or len(money) > 12 or not all(c.isalpha() or unicodedata.category(c) == "Sc" for c in money):
        raise AmountError(must("currency", "a short word or sign such as EUR", repr(money), "write it in every row"))
    weighed = weigh_pack(pack, key, ingredients)
    usable = number(cells.get("usable_percent") or 100, "usable_percent")
    if not 1 <= usable <= 100:
        do = "write 88 when 88 of 100 parts can be used"
        raise AmountError(must("usable_percent", "1 to 100 % of the pack", f"{usable:g}", do))
    paid = above(
        "price", number(cells["price"], "price"), unit=money, do="write what was paid for the pack, or nothing"
    )
    per_kg = paid * 1000 / (weighed.grams * usable / 100)
    bought = f"{figure(paid, 2)} {money} for {pack}" + (f", {usable:g} % of it usable" if usable < 100 else "")
    date, how = read_date(cells.get("date")), "" if weighed.how == "weighed" else weighed.how
    old = date is not None and (today - date).days > OLD
    price = Price(key, name, per_kg, money, date, bought, how, n, cells.get("note", ""), old)
    said = [f"{name}, row {n}: {doubt}" for doubt in _doubts(price, ingredients[key], weighed, today)]
    return replace(price, doubts=tuple(said))


def _doubts(price, ingredient, weighed, today):
    """Yield what is doubtful about a Price, by usual_prices.csv and by what was weighed."""
    usual = {row.what: row for row in table("usual_prices").rows}
    row = usual.get(ingredient.kind) or usual.get(ingredient.group)
    if row and price.currency.upper() in USUAL_IN and not row.low_per_kg <= price.per_kg <= row.high_per_kg:
        ends = f"{shown(row.low_per_kg)} to {shown(row.high_per_kg)}"
        do = "check the price, the pack and its unit"
        yield f"{shown(price.per_kg)} {price.currency} per kg, where {ends} would be usual; {do}."
    if price.date and price.date > today:
        yield f"the price is dated ahead, {price.date.isoformat()}."
    if weighed.counted and ingredient.group == "egg" and "usable" in price.bought:
        yield "eggs by count are weighed without shell already; the usable share must be breakage alone."


def doubts_of(rows):
    """Return what is doubtful about some Prices in words, the old ones in one sentence."""
    old, said = sorted((row for row in rows if row.old), key=lambda row: row.date), []
    if old:
        which = f"{len(old)} of {plural(len(rows), 'price')} older than {OLD} days, the oldest, {old[0].name}"
        said = [f"{which}, of {old[0].date.isoformat()}: ask anew."]
    return [*said, *(text for row in rows for text in row.doubts)]
