"""Mean inputs and the one clear outcome each: what is refused is refused in one grammar, by name.

What a kitchen types wrong, and what must come of it: common practice, no source.
"""

import copy
import csv
import datetime
import itertools
import os
import re

import numpy as np
import pytest
import tomlkit

import kit
from kit import Formula, tables
from kit.balance import hydration_band, measures
from kit.errors import AmountError, FileError, FormulaError, KitError, UnitError, UnknownName
from kit.formula.files import write
from kit.units import number, read, temperature_difference
from tests.alone import alone, kills

BOOK = kit.places.notebooks() / "formulas" / "crackle_bun.toml"
COCOA = BOOK.with_name("crackle_bun_cocoa.toml")
TEXT = BOOK.read_text(encoding="utf-8")
GRAMMAR = re.compile(r"^'[^']+' must be .+ \(got .*\)(; .+)?$", re.S)

BUN = Formula.from_weights(
    "bun",
    {"flour": 1000, "water": 500, "butter": 150, "sugar": 160, "egg": 200, "salt": 16},
    {"sponge": {"flour": 250, "milk": 220}},
    topping={"plain flour": 100, "icing sugar": 95, "butter": 80},
    makes={"pieces": 48, "piece": 60},
)


def weighed(**dough):
    return Formula.from_weights("bun", {"flour": 1000} | {name.replace("_", " "): g for name, g in dough.items()})


def toml(old, new):
    assert old in TEXT
    return Formula.parse(TEXT.replace(old, new, 1))


# (what is wrong, what is done, class of error, fragment of the message)
REFUSED = [
    # no flour, impossible amounts
    ("no flour", lambda: Formula.from_weights("x", {"water": 5}), FormulaError, "'flour' must be above 0 g"),
    ("nothing", lambda: Formula.from_weights("x", {}), FormulaError, "enter flour, or choose another base"),
    ("zero flour", lambda: weighed(flour=0), FormulaError, "(got 0 g)"),
    ("negative flour", lambda: weighed(flour=-1000), AmountError, "'bread flour' must be an amount of 0 or more"),
    ("negative butter", lambda: weighed(butter="-150 g"),
     AmountError, "'unsalted butter' must be an amount of 0 or more"),
    ("NaN", lambda: weighed(butter=float("nan")), AmountError, "'unsalted butter' must be a finite number (got nan)"),
    ("infinite", lambda: weighed(butter=float("inf")),
     AmountError, "'unsalted butter' must be a finite number (got inf)"),
    ("'nan' as text", lambda: weighed(butter="nan"), AmountError, "'unsalted butter' must be a number"),
    ("nothing for an amount", lambda: weighed(butter=None), UnitError, "'unsalted butter' must be text"),
    ("yes for an amount", lambda: weighed(butter=True), UnitError, "'unsalted butter' must be text"),
    ("a list for an amount", lambda: weighed(butter=[1, 2]), UnitError, "'unsalted butter' must be text"),
    ("no flour in the topping", lambda: Formula.from_weights("x", {"flour": 1}, topping={"sugar": 0}), FormulaError,
     "'topping mass' must be above 0 g (got 0 g)"),
    ("a topping nearly without flour",
     lambda: Formula.from_weights("x", {"flour": 9}, topping={"flour": 1, "sugar": 11}),
     FormulaError, "name another base for the topping"),
    # percentages
    ("900 %", lambda: BUN.vary(butter=900), FormulaError, "'butter' must be 0 to 500 % in the dough (got 900 %)"),
    ("negative percentage", lambda: BUN.vary(butter=-1), FormulaError, "(got -1 %)"),
    ("NaN percentage", lambda: BUN.vary(butter=float("nan")), FormulaError, "(got nan %)"),
    ("NaN in an array", lambda: BUN.vary(butter=[10, np.nan]), FormulaError, "(got nan %)"),
    ("900 % in an array", lambda: BUN.vary(butter=[10, 900]), FormulaError, "(got 900 %)"),
    ("empty array", lambda: BUN.vary(butter=[]), FormulaError, "(got [])"),
    ("words for a percentage", lambda: BUN.vary(butter="much"), AmountError, "'butter' must be a number"),
    ("words in an array", lambda: BUN.vary(butter=["a", "b"]), FormulaError, "'butter' must be a number or an array"),
    ("grams for a percentage", lambda: BUN.vary(butter="25 g"), UnitError, "'butter' must be a percentage"),
    ("flours not 100", lambda: BUN.vary(flour=90), FormulaError, "'flour' must be 100 % in all"),
    ("topping's flour not 100", lambda: BUN.vary(topping={"plain flour": 50}),
     FormulaError, "'topping flour' must be 100 %"),
    ("below the preferment", lambda: BUN.vary(milk=10),
     FormulaError, "'milk' must be at least 17.60 % of flour (got 10.00 %)"),
    ("arrays that do not fit", lambda: BUN.vary(butter=[1, 2]).vary(sugar=[1, 2, 3]), FormulaError, "'arrays' must be"),
    ("shares of the whole", lambda: toml('"bread flour" = 100\n"whole milk" = 32\nwater = 14\negg = 16',
     '"bread flour" = 50.2\n"whole milk" = 22\nwater = 0\negg = 2').name, FormulaError, "'flour' must be 100 %"),
    # names
    ("unknown ingredient", lambda: weighed(tahini=30), UnknownName, "add it to your house's ingredients file"),
    ("misspelt ingredient", lambda: weighed(buttr=30), UnknownName, "did you mean butter"),
    ("misspelt in vary", lambda: BUN.vary(cardamon=1), UnknownName, "did you mean cardamom"),
    ("another alphabet", lambda: weighed(βούτυρο=3), UnknownName, "(got 'βούτυρο')"),
    ("misspelt part", lambda: BUN.vary(toping={"sugar": 3}), UnknownName, "did you mean topping?"),
    ("misspelt in the topping", lambda: BUN.vary(topping={"sugr": 3}), UnknownName, "did you mean sugar?"),
    ("preferment varied", lambda: BUN.vary(sponge={"milk": 3}),
     FormulaError, "'sponge' must be a part outside the dough"),
    ("no such part", lambda: BUN.part("glaze"),
     UnknownName, "'part' must be one of sponge, dough or topping (got 'glaze')"),
    ("no such kind of part", lambda: Formula.from_weights("x", {"flour": 1}, glaze={"sugar": 1}),
     UnknownName, "(got 'glaze')"),
    ("no such quantity", lambda: measures(BUN, ["hydratoin"]), UnknownName, "did you mean hydration"),
    ("two parts of one name", lambda: BUN.with_preferment("Sponge", 10, {"water": 100}), FormulaError, "two called"),
    ("butter twice", lambda: weighed(butter=100, unsalted_butter=50), FormulaError, "names each ingredient once"),
    ("butter twice by a space",
     lambda: Formula.from_weights("x", {"flour": 9, "butter": 1, "Butter ": 2}), FormulaError,
     "names each ingredient once"),
    ("butter twice in a file",
     lambda: toml('"unsalted butter" = 18', '"unsalted butter" = 18\nbutter = 3'), FormulaError,
     "'butter' again for unsalted butter"),
    # units
    ("pressure for a mass", lambda: weighed(butter="3 kPa"), UnitError, "'unsalted butter' must be a mass, or a"),
    ("a carat of egg", lambda: weighed(egg="12 carats"), UnitError, "'egg' must be a mass, or a measure"),
    ("a bag", lambda: weighed(sugar="1 bag"), UnitError, "'sugar' must be a mass, or a measure"),
    ("a quarter", lambda: weighed(sugar="1 quarter"), AmountError, "'sugar' must be clear about its unit"),
    ("tonnes or spoons", lambda: weighed(sugar="3 T"), AmountError, "write tbsp, tsp or tonne"),
    ("a peck or a packet", lambda: weighed(instant_yeast="1 pk"), AmountError, "write packet"),
    ("a range", lambda: weighed(sugar="1-2 tbsp"), AmountError, "'sugar' must be one amount"),
    ("a heaped spoon", lambda: weighed(sugar="1 heaped tbsp"), UnitError, "'sugar' must be a mass, or a measure"),
    ("a pinch", lambda: weighed(salt="a pinch"), AmountError, "'salt' must be a number"),
    ("1.230 g", lambda: weighed(milk="1.230 g"), AmountError,
     "'whole milk' must be clear about its point (got '1.230 g'); write 1230 g or 1.23 g"),
    ("litres or large eggs", lambda: weighed(egg="3 L"), AmountError, "write litres, or large eggs"),
    ("half a pack", lambda: weighed(butter="2.5 x 250 g"), AmountError, "a whole number of packs"),
    ("three of egg", lambda: weighed(egg=3),
     AmountError, "'egg' must be an amount with its unit, since it is counted too (got 3); write '3 large' or '3 g'"),
    ("three of egg as text", lambda: weighed(egg="3"), AmountError, "since it is counted too"),
    ("four yolks", lambda: weighed(yolks=4), AmountError, "write '4 large' or '4 g'"),
    ("two sticks or grams", lambda: weighed(butter=2), AmountError, "write '2 stick' or '2 g'"),
    ("two packets or grams", lambda: weighed(instant_yeast=2), AmountError, "write '2 packet' or '2 g'"),
    ("sixteen to eighteen", lambda: Formula.from_weights("Buns, makes 16-18", {"flour": 1000}),
     AmountError, "'pieces' must be one count"),
    ("length for a mass", lambda: weighed(butter="20 cm"), UnitError, "'unsalted butter' must be a mass"),
    ("temperature for a mass", lambda: weighed(milk="20 degC"), UnitError, "'whole milk' must be a mass"),
    ("percentage for a mass", lambda: weighed(milk="20 %"), UnitError, "'whole milk' must be a mass"),
    ("volume without a density", lambda: weighed(gelatin="1 cup"), UnitError, "measure it in envelope"),
    ("volume without any row", lambda: weighed(candied_fruit="1 cup"), UnitError, "no measure of it is known"),
    ("a count without a row", lambda: weighed(cardamom="3 handfuls"), UnitError, "measure it in tbsp or tsp"),
    ("an egg of no known size", lambda: weighed(egg="1 gigantic egg"), UnitError, "large, extra large"),
    ("length for a piece", lambda: kit.predict_yield(BUN, piece="20 cm"),
     UnitError, "'piece' must be a mass such as '60 g'"),
    ("volume for flour", lambda: BUN.scale(flour="5 litres"), UnitError, "'flour' must be a mass"),
    ("grams for warmer", lambda: temperature_difference("3 g"), UnitError, "must be a temperature in degC"),
    # numbers as written
    ("1,720", lambda: number("1,720"), AmountError, "clear about its comma (got '1,720'); write 1720 or 1.720"),
    ("1,720 g", lambda: weighed(butter="1,720 g"), AmountError, "'unsalted butter' must be clear about its comma"),
    ("1.2.3", lambda: number("1.2.3"), AmountError, "must be a number"),
    ("nothing written", lambda: number(""), AmountError, "must be a number"),
    ("a dash", lambda: number("–"), AmountError, "must be a number"),
    ("words", lambda: number("a lot"), AmountError, "must be a number"),
    ("over nothing", lambda: number("1/0"), AmountError, "a fraction over a number above 0"),
    ("too many digits", lambda: number("9" * 400), AmountError, "in 200 characters (got 400 characters"),
    ("powers of ten", lambda: number("1e3"), AmountError, "must be a number"),
    # pieces and losses
    ("no pieces", lambda: BUN.scale(pieces=0),
     AmountError, "'count' must be a whole number from 1 to 100,000,000 (got 0)"),
    ("half a piece", lambda: kit.predict_yield(BUN, pieces=2.5), AmountError, "(got 2.5)"),
    ("fewer than none", lambda: kit.predict_yield(BUN, pieces=-3), AmountError, "(got -3)"),
    ("NaN pieces", lambda: BUN.scale(pieces=float("nan")), AmountError, "'count' must be a finite number"),
    ("many pieces", lambda: BUN.scale(pieces="many"), AmountError, "'count' must be a number"),
    ("no piece", lambda: kit.predict_yield(BUN, piece=0), FormulaError, "'piece' must be a mass above 0 g (got 0 g)"),
    ("negative piece", lambda: kit.predict_yield(BUN, piece="-60 g"),
     FormulaError, "'piece' must be a mass above 0 g (got -60 g)"),
    ("negative topping", lambda: kit.predict_yield(BUN, topping=-1),
     FormulaError, "'topping' must be a mass of 0 g or more"),
    ("a mass for a count", lambda: BUN.vary(pieces="60 g"), AmountError, "'count' must be a number"),
    ("misspelt piece", lambda: Formula.from_weights("x", {"flour": 1}, makes={"peice": 60}),
     UnknownName, "'makes' must be one of"),
    ("flour and dough", lambda: BUN.scale(flour=1, dough=2), FormulaError, "by one of flour, dough and pieces"),
    ("no flour to scale", lambda: BUN.scale(flour=0), FormulaError, "'flour' must be a mass above 0 g"),
    ("bake loss 110 %", lambda: kit.predict_yield(BUN, losses={"baking": 110}), FormulaError, "(got 110 %)"),
    ("bake loss 100 %", lambda: kit.predict_yield(BUN, losses={"baking": 100}), FormulaError, "0 to less than 100 %"),
    ("bake loss -5 %", lambda: kit.predict_yield(BUN, losses={"baking": -5}),
     FormulaError, "'loss baking' must be 0 to less"),
    ("loss in grams", lambda: kit.predict_yield(BUN, losses={"baking": "7 g"}),
     UnitError, "'loss baking' must be a percentage"),
    ("misspelt loss", lambda: kit.predict_yield(BUN, losses={"bakin": 5}), UnknownName, "did you mean baking?"),
    ("misspelt loss written down", lambda: Formula.from_weights("x", {"flour": 1}, losses={"divding": 2}), UnknownName,
     "did you mean dividing"),
    ("negative loss written down",
     lambda: Formula.from_weights("x", {"flour": 1}, losses={"dividing": -2}), FormulaError,
     "'loss dividing' must be 0 to less than 100 %"),
    ("misspelt loss in a file", lambda: toml("dividing = 2", "divding = 2"), UnknownName, "did you mean dividing"),
    ("band of no flour", lambda: hydration_band(BUN, flour=0), AmountError, "'flour' must be a mass above 0 g"),
    ("band of all", lambda: hydration_band(BUN, coverage=100),
     AmountError, "'coverage' must be a percentage above 0 and below 100 (got 100)"),
    # preferments and swaps
    ("more than all the flour", lambda: BUN.with_preferment("poolish", 120, {}), FormulaError, "at most 80.0 %"),
    ("more water than there is", lambda: BUN.with_preferment("poolish", 50, {"water": 300}), FormulaError,
     "'water' must be enough in the dough (got 40.00 %)"),
    ("flour named as a line", lambda: BUN.with_preferment("poolish", 50, {"flour": 100}),
     FormulaError, "beside the flour"),
    ("preferment takes more milk", lambda: toml('"whole milk" = 32', '"whole milk" = 20'), FormulaError,
     "the sponge alone takes 22.00 %"),
    ("preferment of no flour", lambda: toml("flour = 25", "flour = 0"), FormulaError, "'sponge flour' must be above 0"),
    ("more than the whole", lambda: BUN.swap("butter", "lard", 120), FormulaError, "'share' must be 0 to 100 %"),
    ("words for a share", lambda: BUN.swap("butter", "lard", "half"), AmountError, "'share' must be a number"),
    ("out what is not in", lambda: BUN.swap("lard", "butter"), UnknownName, "'lard' must be in the dough"),
    ("all the flour out", lambda: BUN.swap("flour", "cocoa"), FormulaError, "leave some flour"),
    # files
    ("a later format", lambda: toml("format = 1", "format = 2"), FileError, "must be 1 (got 2); update the kit"),
    ("no format", lambda: toml("format = 1", ""), FileError, "begin the file with format = 1"),
    ("unknown word", lambda: toml("house =", "hose ="), UnknownName, "did you mean house"),
    ("unknown word in a part", lambda: toml("flour = 25", "flur = 25"), UnknownName, "did you mean flour?"),
    ("unknown word in a step", lambda: toml("minutes = 75", "minuts = 60"), UnknownName, "did you mean minutes?"),
    ("unknown kind of part", lambda: toml('kind = "preferment"', 'kind = "preferement"'),
     UnknownName, "did you mean preferment?"),
    ("a step of 20 cm", lambda: toml("minutes = 75", 'minutes = "20 cm"'), UnitError,
     "'formula step minutes' must be a time"),
    ("lines as a list", lambda: Formula.parse("format = 1\n[parts.dough]\nlines = [1]"),
     FileError, "'part dough lines' must be a table"),
    ("no parts", lambda: Formula.parse("format = 1"),
     FileError, "'formula parts' must be tables such as [parts.dough] (got none)"),
    ("no dough", lambda: Formula.parse("format = 1\n[parts.wash.lines]\negg = 100"),
     FormulaError, "'dough' must be among the parts"),
    ("no TOML", lambda: Formula.parse("format: 1"), FileError, "'formula' must be a whole TOML file"),
    ("no file", lambda: Formula.read("no such file.toml"), FileError, "must be a file that can be read"),
    ("a folder", lambda: Formula.read(BOOK.parent), FileError, "must be a file that can be read"),
    ("no name to save under", lambda: BUN.save(), FileError, "'path' must be the name of a .toml, .csv or .xlsx file"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("act", "error", "fragment"), [case[1:] for case in REFUSED], ids=[case[0] for case in REFUSED]
)
def test_refused_in_words(act, error, fragment):
    with pytest.raises(KitError) as caught:
        act()
    message = str(caught.value)
    assert type(caught.value) is error
    assert fragment in message
    assert GRAMMAR.match(message), message


def test_every_error_is_also_a_builtin_one():
    builtin = {AmountError: ValueError, UnitError: TypeError, UnknownName: LookupError, FormulaError: ValueError,
               FileError: OSError}  # fmt: skip
    for error, usual in builtin.items():
        assert issubclass(error, KitError)
        assert issubclass(error, usual)


def test_shares_of_the_whole_are_recognised():
    """Percentages that add to 100 with flour 50.2: they are shares of the dough; 100 / 50.2 = 1.992."""
    shares = {
        "flour": 50.2,
        "milk": 15.1,
        "egg": 10,
        "butter": 7.5,
        "sugar": 9,
        "fresh yeast": 2,
        "salt": 0.8,
        "water": 5.4,
    }
    lines = "\n".join(f'"{name}" = {value}' for name, value in shares.items())
    with pytest.raises(FormulaError, match=r"look like shares of the whole dough: multiply each by 1\.99"):
        Formula.parse(f"format = 1\n[parts.dough.lines]\n{lines}")


# what must be read, not refused


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("1,6", 1.6), ("1.720,3", 1720.3), ("1,720.3", 1720.3), ("1 720", 1720), ("1\u00a0720", 1720),
        ("1\u202f720,5", 1720.5), ("1'720", 1720), ("½", 0.5), ("2½", 2.5), ("1 1/2", 1.5), ("3⁄4", 0.75), ("–3", -3),
        ("−3", -3), ("0,720", 0.72), (" 62.5 ", 62.5), (".5", 0.5), ("٣", 3), ("３", 3), ("1,720,000.5", 1720000.5),
    ],
)  # fmt: skip
def test_numbers_as_bakers_write_them(written, value):
    assert number(written) == pytest.approx(value)


def test_allowed_though_it_looks_odd():
    assert BUN.vary(butter=0).of_kind("butter") == 0
    assert "butter_unsalted" not in BUN.vary(butter=0).dough_keys
    assert weighed(butter=0).of_kind("butter") == 0
    assert BUN.vary(salt="1,6").of_kind("salt") == pytest.approx(1.6)
    assert BUN.scale(pieces="48").flour == pytest.approx(BUN.scale(pieces=48).flour)
    assert kit.predict_yield(BUN, pieces=10**6).pieces == 10**6
    assert kit.predict_yield(BUN, losses={"baking": "9 %"}).pieces == 48
    assert weighed(egg="3 eggs").of_kind("egg") == pytest.approx(15)
    assert weighed(Milk="1 lb").of_kind("milk") == pytest.approx(45.359237)


@pytest.mark.parametrize(
    ("name", "amount"),
    [("egg", 200), ("egg", 3.0), ("egg", 20), ("butter", 150), ("instant yeast", 7), ("fresh yeast", 40), ("milk", 3)],
)
def test_bare_numbers_that_are_grams_are_read_as_such(name, amount):
    """200 eggs or 150 sticks to a kilogram of flour are none; 3.0 is a scale's figure, not a count."""
    assert weighed(**{name.replace(" ", "_"): amount}).part("dough").percentages[1] == pytest.approx(amount / 10)


def test_a_pinch_of_yeast_in_the_sponge_is_grams_where_the_dough_has_the_rest():
    sponge = {"flour": 200, "water": 200, "fresh yeast": 4}
    bun = kit.Formula.from_weights("bun", {"flour": 800, "water": 300, "fresh yeast": 36}, {"sponge": sponge})
    assert bun.of_kind("yeast") == pytest.approx(4.0)
    with pytest.raises(AmountError, match="counted too"):
        kit.Formula.from_weights("bun", {"flour": 800, "water": 300}, {"sponge": sponge})


def test_to_100_of_flour_a_bare_number_is_a_percentage():
    bun = Formula.from_weights("bun", {"flour": 100, "egg": 1, "yolk": 1, "butter": 4, "honey": 1})
    assert bun.part("dough").percentages == (100, 1, 1, 4, 1)


def test_a_unit_that_others_take_for_another_is_named():
    for written, said in (("1 pt", "an imperial one is 568"), ("1 cup", "a metric one is 250"), ("2 tbsp", "14.8 mL")):
        ((_, how),) = weighed(milk=written).part("dough").how
        assert said in how
    ((_, how),) = weighed(sugar="2 EL").part("dough").how
    assert "the table of measures, EL (german spoon page); a level German tablespoon" in how
    assert weighed(sugar="2 EL").of_kind("sugar") == 2
    assert weighed(salt="1 TL").of_kind("salt") == pytest.approx(0.1 * 13 / 3)
    assert weighed(sugar="1 tbsp sugar").of_kind("sugar") == pytest.approx(0.1 * 200 / 16)


def test_eggs_without_a_size_say_so():
    ((key, how),) = weighed(egg="3 eggs").part("dough").how
    assert key == "egg_whole_fresh"
    assert "other sizes 38.0 to 63.0 g: weigh to be sure" in how
    assert how in kit.page.escape(weighed(egg="3 eggs")._repr_html_())


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", "=1+1", "Σουσάμι", "ごまパン", 'a "b" \\ c\nd', "…", "a/../b"]
)
def test_names_are_text(tmp_path, name):
    bun = Formula.from_weights(name, {"flour": 1000, "milk": 500})
    assert bun.name == name
    assert Formula.parse(write(bun)).name == name
    html = bun._repr_html_()
    assert "<script" not in html
    assert kit.page.escape(name) in html
    kept = bun.keep(name, tmp_path)
    assert kept.path.parent == tmp_path
    assert re.fullmatch(r"[\w]+\.toml", kept.path.name)
    assert Formula.read(kept.path).name == name


def test_words_of_a_file_are_text_on_a_page():
    mean = '<img src=x onerror="alert(1)">'
    bun = toml('about = "Invented', f"about = '{mean} ' # \"Invented")
    text = TEXT.replace('house = "Tarnholt Bakehouse"', f"house = '{mean}'").replace("[parts.sponge", "[parts.'<b>'")
    other = Formula.parse(text.replace('part = "sponge"', "part = '<b>'"))
    moved = kit.what_moved(other, other.vary(butter=20))
    for thing in (bun, other, other.scale(), kit.predict_yield(other), kit.dough_class(other), moved):
        html = thing._repr_html_()
        assert "<img" not in html
        assert "<b>" not in html


# files cut, mistyped, mis-saved


def refusal(text, name="formula"):
    """Return why a file is refused, in words; empty when it is read, written and shown."""
    try:
        bun = Formula.parse(text, name)
    except KitError as error:
        return str(error)
    assert bun.of_kind("flour") == pytest.approx(100)
    assert write(bun)
    assert bun._repr_html_()
    return ""


@pytest.mark.parametrize("path", [BOOK, COCOA], ids=lambda path: path.stem)
def test_a_file_cut_at_every_line_is_refused_or_a_smaller_formula(path):
    whole = path.read_text(encoding="utf-8").splitlines(keepends=True)
    said = [refusal("".join(whole[:n]), path.name) for n in range(len(whole) + 1)]
    assert all(GRAMMAR.match(words) for words in said if words)
    assert sum(map(bool, said)) >= 20
    assert not said[-1]


def test_a_file_cut_inside_a_word_never_fails_otherwise():
    said = [refusal(TEXT[:n]) for n in range(0, len(TEXT), 7)]
    assert all(GRAMMAR.match(words) for words in said if words)


def _places(document, at=()):
    for word, value in document.items() if isinstance(document, dict) else enumerate(document):
        yield (*at, word)
        if isinstance(value, (dict, list)):
            yield from _places(value, (*at, word))


ODD = ["", "x", -1, 0, 1e9, float("nan"), float("inf"), True, [], [1, "a"], [[1]], [{}], {}, {"a": 1}, "<script>",
       datetime.date(2020, 1, 1), "1,720", "3 kPa"]  # fmt: skip
DOCUMENT = tomlkit.parse(COCOA.read_text(encoding="utf-8")).unwrap()
del DOCUMENT["steps"][3:], DOCUMENT["steps"][0]


@pytest.mark.parametrize("odd", ODD, ids=repr)
def test_any_value_of_any_kind_anywhere_in_a_file(odd):
    """Read and shown, or refused in words; never another exception."""
    said = []
    for place in _places(DOCUMENT):
        document = copy.deepcopy(DOCUMENT)
        table = document
        for word in place[:-1]:
            table = table[word]
        table[place[-1]] = odd
        said.append(refusal(tomlkit.dumps(document)))
    assert all(GRAMMAR.match(words) for words in said if words)
    assert sum(map(bool, said)) >= 20


def test_a_file_saved_in_an_old_encoding(tmp_path):
    path = tmp_path / "bun.toml"
    path.write_bytes(TEXT.replace("Tarnholt", "Tårnholt").encode("cp1252"))
    line = 1 + TEXT[: TEXT.index("Tarnholt")].count("\n")
    with pytest.raises(FileError, match=f"'bun.toml' must be UTF-8 text .got byte 0xe5 in line {line}.; save it again"):
        Formula.read(path)


def test_a_byte_order_mark_does_no_harm(tmp_path):
    path = tmp_path / "bun.toml"
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.encode())
    assert Formula.read(path).fingerprint == Formula.read(BOOK).fingerprint


# a house's own ingredients


@pytest.mark.parametrize(
    ("rows", "error", "fragment"),
    [
        ("key,water_g_per_100g\nbutter_unsalted,40", AmountError, "parts add up to 100 g (got 122"),
        ("key,water_g_per_100g\nbutter_unsalted,wet", AmountError, "'unsalted butter water' must be a number"),
        ("key,water_g_per_100g\nbutter_unsalted,-3", AmountError, "'unsalted butter water' must be 0 to 100 g"),
        ("key,water_g_per_100g\nbutter_unsalted,nan", AmountError, "'unsalted butter water' must be 0 to 100 g"),
        ("key,watr_g_per_100g\nbutter_unsalted,16", UnknownName, "did you mean water_g_per_100g"),
        ("name,water_g_per_100g\nbutter,16", FileError, "a table with a 'key' column"),
        ("key,water_g_per_100g\nour_syrup,20", FileError, "'our_syrup' must be an ingredient with a name"),
        ("key,name,kind\nour_syrup,honey,syrup", FileError, "'ingredient' must be called by names of its own"),
        ("key,water_g_per_100g\nbutter_unsalted", FileError, "must be a whole table"),
        ("key,water_g_per_100g\nbutter_unsalted,16,17", FileError, "must be a whole table"),
        ("", FileError, "a table with a 'key' column"),
    ],
)
def test_house_file_that_cannot_be(tmp_path, rows, error, fragment):
    path = tmp_path / "house.csv"
    path.write_text(rows, encoding="utf-8")
    with pytest.raises(KitError) as caught:
        tables.ingredients().with_house(path)
    assert type(caught.value) is error
    assert fragment in str(caught.value)
    assert GRAMMAR.match(str(caught.value))


def test_house_file_that_is_not_there():
    text = TEXT.replace('name = "Cardamom crackle bun"', 'name = "bun"\nhouse_ingredients = "not_there.csv"')
    with pytest.raises(FileError, match="must be a file that can be read"):
        Formula.parse(text, folder=BOOK.parent)


@pytest.mark.parametrize(
    ("own", "fragment"),
    [
        ("house_ingredients = 3", "'house_ingredients' must be the name of a CSV beside the formula (got 3)"),
        ("house_ingredients.honey = 3", "'house_ingredients honey' must be a table (got 3)"),
        ("house_ingredients.xx.kind = 'spice'", "'xx' must be an ingredient with a name"),
        ("house_ingredients.honey.watr = 3", "'column' must be one of ingredients.csv (got 'watr')"),
        ("house_ingredients.honey.water_g_per_100g = -3", "'honey water' must be 0 to 100 g per 100 g"),
    ],
)
def test_house_rows_that_cannot_be(own, fragment):
    with pytest.raises(KitError) as caught:
        toml('name = "Cardamom crackle bun"', own)
    assert fragment in str(caught.value)
    assert GRAMMAR.match(str(caught.value))


# saving


@pytest.fixture
def book(tmp_path):
    path = tmp_path / "bun.toml"
    path.write_text(TEXT, encoding="utf-8")
    return path


def test_the_second_to_save_is_told(book):
    mine, yours = Formula.read(book), Formula.read(book)
    mine.vary(butter=20).save()
    saved = book.read_text(encoding="utf-8")
    with pytest.raises(FileError, match="somebody saved it meanwhile"):
        yours.vary(butter=30).save()
    assert book.read_text(encoding="utf-8") == saved
    assert Formula.read(book).of_kind("butter") == 20
    assert [path.name for path in book.parent.iterdir()] == ["bun.toml"]
    again = Formula.read(book).vary(butter=30).save()
    assert again.vary(butter=31).save().of_kind("butter") == 31  # one who saves may save again


def test_saving_over_another_file_is_refused(book, tmp_path):
    other = tmp_path / "other.toml"
    other.write_text("precious", encoding="utf-8")
    with pytest.raises(FileError, match="'other.toml' must be as it was when it was read"):
        Formula.read(book).save(other)
    assert other.read_text(encoding="utf-8") == "precious"


def test_keeping_twice_makes_two_files(book):
    bun = Formula.read(book)
    first, second = bun.vary(butter=20).keep("Richer bun"), bun.vary(butter=30).keep("Richer bun")
    assert [first.path.name, second.path.name] == ["richer_bun.toml", "richer_bun_2.toml"]
    assert Formula.read(first.path).of_kind("butter") == 20
    assert Formula.read(second.path).of_kind("butter") == 30
    assert first.parent == second.parent == f"bun.toml {bun.fingerprint}"
    assert book.read_text(encoding="utf-8") == TEXT


@pytest.mark.parametrize("name", ["../../evil", "/etc/passwd", "..", ".", "", "con?*|", "a" * 300, "\x00"])
def test_kept_files_stay_in_their_folder(book, name):
    kept = Formula.read(book).keep(name)
    assert kept.path.resolve().parent == book.parent.resolve()
    assert kept.path.suffix == ".toml"
    assert len(kept.path.name) <= 80
    assert Formula.read(kept.path).fingerprint == kept.fingerprint


def test_a_folder_that_cannot_be_written(book):
    with pytest.raises(FileError, match="must be in a folder that can be written") as caught:
        Formula.read(book).keep("bun", book / "under a file")
    assert GRAMMAR.match(str(caught.value))
    with pytest.raises(FileError):
        Formula.read(book).save(book / "under a file" / "bun.toml")
    assert book.read_text(encoding="utf-8") == TEXT


def test_a_full_disk_leaves_the_file_as_it_was(book, monkeypatch):
    def full(descriptor):
        raise OSError(28, "No space left on device")

    bun = Formula.read(book)
    monkeypatch.setattr(os, "fsync", full)
    for act in (lambda: bun.vary(butter=20).save(), lambda: bun.vary(butter=20).keep("richer")):
        with pytest.raises(FileError, match=r"must be a file that can be written \(got No space left on device\)"):
            act()
    assert [path.name for path in book.parent.iterdir()] == ["bun.toml"]
    assert book.read_text(encoding="utf-8") == TEXT


def _save_for_ever(path, ready):
    bun = Formula.read(path)
    for butter in itertools.cycle(range(60)):
        bun = bun.vary(butter=butter, topping={"icing sugar": 90 + butter}).save()
        if butter:  # else one that is slow would never have saved
            ready.set()


def _killed_while_saving(book):
    seen = set()
    for _ in kills(20, _save_for_ever, book):
        bun = Formula.read(book)
        butter, sugar = bun.of_kind("butter"), bun.part("topping").percentage("sugar_powdered")
        assert (butter, sugar) == (18, 94) or sugar == pytest.approx(90 + butter)
        seen.add(butter)
    assert len(seen) > 1


@pytest.mark.long
def test_a_process_killed_while_saving_leaves_a_whole_file(book):
    """20 kills at uneven moments: each time the file holds one saved formula, both changes of it or neither."""
    alone(_killed_while_saving, book)
    assert [path.name for path in book.parent.iterdir() if not path.name.endswith(".part")] == ["bun.toml"]
    Formula.read(book).vary(butter=20).save()  # and no lock is left behind


def test_a_formula_goes_into_a_csv_as_text(tmp_path):
    """A name that a spreadsheet would take for a formula is kept as it is in the frame, and read back the same."""
    bun = Formula.from_weights("=1+1", {"flour": 1000, "milk": 500})
    bun.to_frame().to_csv(tmp_path / "bun.csv", index=False)
    with open(tmp_path / "bun.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [float(row["percentage"]) for row in rows] == [100, 50]
    assert read(rows[1]["percentage"], "percentage") == 50
