"""Odd input, a row each: the right figure, or the sentence that refuses it; a plausible figure in silence fails.

What a kitchen meets, and what must come of it: common practice, no source.
"""

import csv
import io
import re
import sqlite3

import numpy as np
import openpyxl
import pytest
import tomlkit

import kit
from kit import page, units
from kit.balance import hydration_band
from kit.balance.bands import reach
from kit.errors import KitError
from kit.files import as_cell, from_cell
from kit.formula import Formula
from kit.formula.files import write
from kit.lessons import class_sheet
from kit.tables import read_csv
from kit.trials import Trial, TrialBook, serving_plan
from kit.trials.exchange import write_csv

BUN = Formula.read(kit.places.notebooks() / "formulas" / "crackle_bun.toml")


def weighed(milk):
    return Formula.from_weights("bun", {"flour": 1000, "milk": milk}).of_kind("milk")


def named(name):
    return Formula.from_weights(name, {"flour": 1000, "milk": 500})


def sheet(text):
    def act(folder):
        path = folder / "bun.csv"
        path.write_text(text, encoding="utf-8")
        return Formula.read(path).of_kind("milk")

    return act


def trial(cell, entry="planned formula"):
    def act(folder):
        (folder / "bun.toml").write_text(BUN.text, encoding="utf-8")
        path = folder / "trials.csv"
        with open(path, "w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([["name", "date", entry], ["a", "2025-03-04", cell]])
        (made,) = TrialBook.read(path, folder)
        return made.planned_formula.formula.of_kind("butter")

    return act


def opened(where):
    def act(folder, monkeypatch):
        monkeypatch.chdir(folder)
        with TrialBook.open(where) as book:
            return book.name

    return act


def of_schema(number):
    def act(folder):
        path = folder / "book.db"
        TrialBook.open(path).close()
        with sqlite3.connect(path) as connection:
            connection.execute(f"PRAGMA user_version = {number}")
        connection.close()
        return TrialBook.open(path)

    return act


def toml(text):
    return lambda: Formula.parse(f"format = 1\n{text}\n[parts.dough.lines]\nflour = 100\nmilk = 50").of_kind("milk")


def text_through_a_spreadsheet_program(text):
    out = io.StringIO()
    rows = list(csv.reader(io.StringIO(text)))
    csv.writer(out).writerows([row + [""] * (max(map(len, rows)) - len(row)) for row in rows])
    return out.getvalue()


def tasted(folder):
    plan = serving_plan("triangle", ['6" bun', "plain"], 4, seed=7)
    form = text_through_a_spreadsheet_program(plan.form())
    first = next(iter(plan.servings["P1"]))[0]
    path = folder / "answers.csv"
    path.write_text(re.sub(r"(?m)^(P1,.*),\r?$", rf"\g<1>,{first}", form), encoding="utf-8")
    return len(plan.answers(path).given)


def trial_of(name):
    def act(folder):
        path = folder / "trials.csv"
        text = text_through_a_spreadsheet_program(write_csv([Trial.of(name, "2025-03-04", notes=f'{name}, "fine"')]))
        path.write_text(text, encoding="utf-8")
        (made,) = TrialBook.read(path, folder)
        return made.name, made.notes

    return act


MANY, DEEP = "9" * 400, "(" * 5000 + "g" + ")" * 5000
HEAD = "Ingredient,Amount\nbread flour,1000\nmilk,500\n"
# (what is odd, what is done, the right figure or a part of the sentence)
ROWS = [
    # numbers and units
    ("an integer of 400 digits", lambda: weighed(10**400), "at most 1e+12 (got one of many digits)"),
    ("an integer of 5,000 digits", lambda: weighed(10**5000), "at most 1e+12"),
    ("the same in an array", lambda: BUN.vary(butter=[1, 10**400]), "'butter' must be a number or an array"),
    ("400 digits as text", lambda: weighed(MANY), "in 200 characters (got 400 characters that begin '99"),
    ("400 digits over 1", lambda: weighed(f"{MANY}/1"), "got 402 characters"),
    ("5,000 digits over 1", lambda: weighed("9" * 5000 + "/1"), "got 5,002 characters"),
    ("1 over 400 digits", lambda: weighed(f"1/{MANY}"), "got 402 characters"),
    ("30 digits of g", lambda: weighed("9" * 30 + " g"), "at most 1e+12 (got 1e+30)"),
    ("1e300", lambda: units.read(1e300, "mass"), "at most 1e+12 (got 1e+300)"),
    ("a thousand packs of packs", lambda: weighed("3 x " * 1000 + "2 g"), "in 200 characters"),
    ("packs of packs", lambda: weighed("2 x 3 x 40 g"), 24.0),
    ("3 nan", lambda: weighed("3 nan"), "'whole milk' must be a mass, or a measure"),
    ("3 inf", lambda: units.read("3 inf", "mass"), "'amount' must be a mass such as '60 g'"),
    ("3 delta_degC", lambda: units.read("3 delta_degC", "temperature"), "must be a temperature in degC"),
    ("3 delta_degC warmer", lambda: units.temperature_difference("3 delta_degC"), "a temperature in degC"),
    ("units nested 5,000 deep", lambda: weighed(f"3 {DEEP}"), "in 200 characters"),
    ("a unit of 40,000 letters", lambda: weighed("3 " + "g" * 40_000), "in 200 characters"),
    ("ragged lists", lambda: BUN.vary(butter=[[1, 2], [3]]), "'butter' must be a number or an array"),
    ("ragged lists in the topping", lambda: BUN.vary(topping={"icing sugar": [[1, 2], [3]]}), "a number or an array"),
    ("ragged pieces", lambda: BUN.vary(piece=[[1, 2], [3]]), "'piece' must be a number or an array"),
    ("ragged readings", lambda: Trial.of("a", "2025-03-04", height=[[1, 2], [3]]), "'height' must be readings in one"),
    ("a ragged prediction", lambda: Trial.of("a", "2025-03-04", **{"predicted height": [[1, 2], [3]]}), "in one row"),
    # what no kitchen has
    ("a piece of 9e29 g", lambda: kit.predict_yield(BUN, piece=9e29), "'piece' must be a number of at most 1e+12"),
    ("the same in an array", lambda: kit.predict_yield(BUN, piece=[60, 9e29]), "at most 1e+12 (got 9e+29 g)"),
    ("the same varied", lambda: BUN.vary(piece=[9e29]), "'piece dough' must be a number of at most 1e+12"),
    ("the same under a topping", lambda: kit.topping_fit(BUN, piece=9e29), "'piece' must be a number of at most 1e+12"),
    ("a billion pieces", lambda: kit.process.trays(BUN, pieces=10**9),
     "'pieces' must be a whole number from 1 to 100,000,000"),
    ("a day of 1,000,000 min", lambda: kit.day(BUN, minutes={"proof": 1_000_000}), "'day' must be at most 20,160 min"),
    ("a day of 1,000 loads", lambda: kit.day(BUN, pieces=12_000, oven=1), "'day' must be at most 20,160 min of work"),
    ("an oven of words", lambda: kit.process.trays(BUN, oven="x"), "a whole number of trays from 1 to 1,000 (got 'x')"),
    ("an oven in a list", lambda: kit.day(BUN, oven=[1]), "a whole number of trays from 1 to 1,000 (got [1])"),
    ("an oven of 401 digits", lambda: kit.day(BUN, oven=10**400), "from 1 to 1,000 (got one of many digits)"),
    ("a mixer for all there is", lambda: kit.day(BUN, mixer="999 kg").mixes, 1),
    ("a coverage of 900 %", lambda: hydration_band(BUN, coverage=900), "'coverage' must be a percentage above 0"),
    ("a coverage of NaN", lambda: reach(float("nan")), "'coverage' must be a percentage above 0 and below 100"),
    ("a coverage of words", lambda: reach("x"), "'coverage' must be a percentage above 0 and below 100 (got 'x')"),
    # lessons
    ("a seed of words", lambda: class_sheet(["flour_from_dough"], seed="x"), "'seed' must be a whole number, 0 or"),
    ("a class of words", lambda: class_sheet(["flour_from_dough"], 1, "x"), "'learners' must be a whole number from"),
    ("a class of NaN", lambda: class_sheet(["flour_from_dough"], 1, float("nan")), "from 1 to 1,000 (got nan)"),
    ("one name, not five", lambda: class_sheet(["flour_from_dough"], 1, 5, names="Tomas"), "'names' must be a list"),
    ("a kind nobody knows", lambda: class_sheet("flour", 1, 5), "'lesson' must be one of percentages"),
    # formulas
    ("house_ingredients = 1", toml("house_ingredients = 1"), "'house_ingredients' must be the name of a CSV"),
    ("a name of half a letter", lambda: named("a\ud800"), "'name' must be whole letters (got U+D800 at position 1)"),
    ("a part of half a letter", lambda: BUN.with_preferment("\udfff", 10, {"water": 100}), "must be whole letters"),
    ("kept as half a letter", lambda folder: BUN.keep("a\ud800", folder), "'name' must be whole letters"),
    ("a file with half a letter", toml("about = '\ud800'"), "'formula' must be whole letters (got U+D800"),
    ("an entry of half a letter", lambda: Trial.of("a", "2025-03-04", **{"hei\ud800ght": 41}), "hei\\ud800ght"),
    ("a parent of 300 letters", lambda: len(toml_of(named("a"), parent="p" * 300).parent), 300),
    ("a trial of half a letter", lambda: Trial.of("a\ud800", "2025-03-04"), "without control characters (got U+D800"),
    ("a trial's parent of 300", lambda: Trial.of("a", "2025-03-04", parent="p" * 300), "'parent' must be a Trial or"),
    # sheets
    ("a line break in a title", sheet(f'"Buns\nmakes 16",\n{HEAD}'), 50.0),
    ("a line break in a heading", sheet(HEAD.replace("Amount", '"Amount\n(g)"')), 50.0),
    ("one within a word", sheet(HEAD.replace("Ingredient", '"Ingre\ndient"')), "in doubt"),
    ("a line break in a cell", sheet(HEAD.replace("bread flour", '"bread\nflour"')), 50.0),
    ("an inch mark left open", sheet('Part,Ingredient,Amount\n"6 bun,bread flour,1000\ndough,milk,500\n'), "dough"),
    ("an inch mark", sheet('Part,Ingredient,Amount\n6" bun dough,bread flour,1000\n6" bun dough,milk,500\n'), 50.0),
    ("German columns", sheet("Zutat;Menge;Einheit\nbread flour;1;kg\nmilk;500,5;g\n"), 50.05),
    ("French columns", sheet("Ingrédient;Quantité\nbread flour;1000\nmilk;500,5\n"), 50.05),
    ("Spanish columns", sheet("Ingrediente;Cantidad;Unidad\nbread flour;1;kg\nmilk;0,5;kg\n"), 50.0),
    ("Dutch columns", sheet("Ingrediënt;Hoeveelheid\nbread flour;1000\nmilk;500\n"), 50.0),
    ("columns of nobody", sheet("Foo;Bar\nbread flour;1000\nmilk;500\n"), "500 without a unit: grams?"),
    ("German ingredients", sheet("Zutat;Menge\nWeizenmehl;1000\n"), "weizenmehl: bread flour or plain flour?"),
    ("thousands with a point", sheet("Zutat;Menge\nbread flour;1.000\nmilk;2\n"), "write 1000 g or 1.00 g"),
    # trials
    ("butter=22,5", trial("bun.toml butter=22,5"), 22.5),
    ("butter=1,720", trial("bun.toml butter=1,720"), "'butter' must be clear about its comma"),
    ("butter=", trial("bun.toml butter="), "a file and changes like butter=22, each once (got 'butter=')"),
    ("=22", trial("bun.toml =22"), "a file and changes like butter=22, each once (got '=22')"),
    ("butter twice", trial("bun.toml butter=20 butter=30"), "each once (got 'butter=30')"),
    ("butter=nan", trial("bun.toml butter=nan"), "'butter' must be a number"),
    ("a parent of 300 in a CSV", trial("p" * 300, "parent"), "'parent' must be the code of a row above"),
    ('a trial named 6" bun', trial_of('6" bun'), ('6" bun', '6" bun, "fine"')),
    ('a sample named 6" bun', tasted, 1),
    # places of a book
    ("./~x.db", opened("./~x.db"), "~x.db"),
    (":memory:", opened(":memory:"), "'path' must be the path of a file (got ':memory:'); a book must outlast"),
    ("file::memory:", opened("file::memory:?cache=shared"), "a book must outlast the session"),
    ("an unknown database", opened("nosuch://kitchen/trials"), "a file or a PostgreSQL database (got nosuch)"),
    ("an unknown driver", opened("postgresql+nosuch://kitchen/trials"), "a file or a PostgreSQL database"),
    ("a name of 300 letters", opened("a" * 300 + ".db"), "must be a file that can be read and written"),
    ("schema 0", of_schema(0), "'book.db' must be of schema 1 (got schema 0); take it from a copy"),
    ("schema 2", of_schema(2), "(got schema 2); update the kit; the book was not touched"),
]  # fmt: skip


def toml_of(formula, **changed):
    document = tomlkit.parse(write(formula))
    document.update(changed)
    return Formula.parse(tomlkit.dumps(document))


def fits(act, tmp_path, monkeypatch):
    wanted = act.__code__.co_varnames[: act.__code__.co_argcount]
    return act(*({"folder": tmp_path, "monkeypatch": monkeypatch}[name] for name in wanted))


@pytest.mark.parametrize(("act", "outcome"), [row[1:] for row in ROWS], ids=[row[0] for row in ROWS])
def test_one_clear_outcome(act, outcome, tmp_path, monkeypatch):
    try:
        found = fits(act, tmp_path, monkeypatch)
    except KitError as error:
        said = str(error)
        assert isinstance(outcome, str), said
        assert outcome in said
        assert len(said) < 700
        assert said.encode()  # can be shown
    else:
        assert found == (pytest.approx(outcome) if isinstance(outcome, float) else outcome)


@pytest.mark.parametrize("cell", ["=1+1", "＝1+1", "﹦1", "＋1", "－1", "＠x", "\u200b=1", " =1", "\n=1", "'=1", "\t1"])
def test_no_cell_of_text_is_a_formula(cell):
    """Excel reads wide signs as the narrow ones where the language is Japanese or Chinese: from memory."""
    assert as_cell(cell) == f"'{cell}"
    assert from_cell(as_cell(cell)) == cell
    assert as_cell("milk = water") == "milk = water"


@pytest.mark.parametrize("name", ["a\x00b", "a\x07b", "a\nb", "\ufffe", "a\x7fb", "\u202eabc"])
def test_control_characters_in_a_name(name, tmp_path):
    """XML 1.0 has no place for most of them: the workbook is whole all the same, and the file keeps them."""
    bun = named(name)
    bun.save(tmp_path / "bun.xlsx")
    assert Formula.read(tmp_path / "bun.xlsx").of_kind("milk") == 50
    assert Formula.read(bun.keep(name, tmp_path).path).name == name
    assert page.sheet(name, bun._repr_html_()).encode()


DOCUMENT = tomlkit.parse(BUN.text).unwrap()


def unusual(rng, table, at=()):
    """Yield lines of the same TOML with dotted keys and inline tables as it falls."""
    for word, value in table.items():
        place = (*at, word if re.fullmatch(r"[\w-]+", word, re.ASCII) else f'"{word}"')
        if isinstance(value, dict) and rng.random() < 0.6:
            yield from unusual(rng, value, place)
        else:
            yield f"{'.'.join(place)} = {inline(value)}"


def inline(value):
    if isinstance(value, dict):
        return "{" + ", ".join(f'"{word}" = {inline(each)}' for word, each in value.items()) + "}"
    return f"[{', '.join(map(inline, value))}]" if isinstance(value, list) else tomlkit.item(value).as_string()


def test_valid_toml_of_any_style_is_read_changed_and_written(full):
    rng = np.random.default_rng(None if full else 11)
    for _ in range(200 if full else 6):
        lines = list(unusual(rng, DOCUMENT | {"house_ingredients": {"honey": {"note": "ours"}}}))
        rng.shuffle(lines)
        bun = Formula.parse("\n".join(lines))
        assert bun.fingerprint == BUN.fingerprint
        for changed in (bun, bun.vary(butter=23, honey=2), bun.with_preferment("poolish", 10, {"water": 100})):
            again = Formula.parse(write(changed))
            assert again.fingerprint == changed.fingerprint
            assert (again.steps, again.bake, again.losses) == (changed.steps, changed.bake, changed.losses)


def test_comments_of_a_file_with_tables_in_one_line_stay():
    text = "format = 1\npieces = {count = 4}  # of the tray\n[parts.dough.lines]\nflour = 100  # strong\nmilk = 50\n"
    assert "# of the tray" in write(Formula.parse(text).vary(milk=55))
    assert "# strong" in write(Formula.parse(text).vary(milk=55))


def filled_book(path):
    with TrialBook.open(path) as book:
        for n in range(40):
            book.save(Trial.of(f"bake {n}", "2025-03-04", planned_formula=BUN, notes="x" * 300, height=[40, 41]), "M1")
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    connection.close()


def readings(path):
    with TrialBook.open(path) as book:
        yield [trial.document() for trial in book.trials()]
        yield [(found.code, found.name) for found in book.find("bake", most=100)]
        yield [version.trial.document() for n in range(1, 41, 5) for version in book.history(f"T-{n:03d}")]


@pytest.mark.long
def test_damaged_pages_of_a_book_are_never_read_as_something_else(tmp_path, full):
    path = tmp_path / "book.db"
    filled_book(path)
    good, whole, rng = list(readings(path)), path.read_bytes(), np.random.default_rng(None if full else 3)
    said = []
    for n in range(400 if full else 24):
        data, start = bytearray(whole), 4096 * int(rng.integers(1, len(whole) // 4096))
        data[start : start + 4096] = rng.bytes(4096) if n % 2 else bytes(4096)
        path.write_bytes(data)
        try:
            for right, now in zip(good, readings(path), strict=False):
                assert now == right
        except KitError as error:
            said.append(str(error))
    assert len(said) > 5
    assert all(re.search("damaged|malformed", each) for each in said)


@pytest.mark.long
def test_no_flipped_bit_of_an_export_comes_in(tmp_path, full):
    with TrialBook.open(tmp_path / "book.db") as book:
        for n in range(3):
            book.save(Trial.of(f"bake {n}", "2025-03-04", planned_formula=BUN, height=[40, 41]), "M1")
        whole, good = book.export(tmp_path / "out.zip").read_bytes(), [trial.document() for trial in book.trials()]
    rng = np.random.default_rng(None if full else 5)
    inside = whole.index(b"trials.json") * 8  # where what is read begins
    places = [*rng.integers(inside, len(whole) * 8, 1500 if full else 60), *rng.integers(0, inside, 10)]
    other = TrialBook.open(tmp_path / "other 0.db")
    for n, place in enumerate(places, 1):
        data = bytearray(whole)
        data[place // 8] ^= 1 << place % 8
        (tmp_path / "flipped.zip").write_bytes(data)
        try:
            other.import_from(tmp_path / "flipped.zip")
        except KitError:
            assert len(other) == 0
        else:
            assert [trial.document() for trial in other.trials()] == good
            other.close()
            other = TrialBook.open(tmp_path / f"other {n}.db")
    other.close()


def test_a_comment_that_a_spreadsheet_program_put_in_quotes(tmp_path):
    path = tmp_path / "prices.csv"
    text = '"# Invented: 6"" buns",,,\ningredient,price,currency,pack\nbutter,80,EUR,10 kg\n'
    path.write_text(text, encoding="utf-8")
    assert len(read_csv(path).rows) == 1
    assert kit.read_prices(path).invented


def test_a_sheet_with_a_chart_of_its_own_and_merges_below_is_read(tmp_path):
    book = openpyxl.Workbook()
    for row in (["Part", "Ingredient", "Amount"], ["dough", "bread flour", 1000], [None, "milk", 500]):
        book.active.append(row)
    book.active.merge_cells("A2:A3")
    book.active.merge_cells("B40:C44")
    book.save(tmp_path / "bun.xlsx")
    assert Formula.read(tmp_path / "bun.xlsx").of_kind("milk") == 50
