"""Spreadsheets as bakers have them; openpyxl writes and reads them independently, live formulas are worked out here."""

import csv
import io
import re
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import FileError, FormulaError, UnknownName
from kit.formula import Formula, expected_losses
from kit.formula.losses import kept_before_scaling
from kit.formula.makes import assumed
from kit.formula.recipe import read_file
from tests.laws import drawn

BUN = Formula.read(Path(__file__).parents[2] / "notebooks/formulas/crackle_bun.toml")
WHOLE = [
    ["Part", "Ingredient", "Amount", "Unit"],
    ["Sponge", "bread flour", 250, "g"],
    ["Sponge", "whole milk", 220, "g"],
    ["Sponge", "fresh yeast", 10, "g"],
    ["Dough", "bread flour", 750, "g"],
    ["Dough", "egg", 160, "g"],
    ["Dough", "unsalted butter", 180, "g"],
    ["Dough", "salt", 16, "g"],
    ["Topping", "plain flour", 100, "g"],
    ["Topping", "icing sugar", 94, "g"],
    ["Topping", "butter", 80, "g"],
]


def saved(tmp_path, rows, name="bun.xlsx", change=None):
    path = tmp_path / name
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    if change:
        change(book.active)
    book.save(path)
    return path


def text(tmp_path, content, encoding="utf-8", name="bun.csv"):
    path = tmp_path / name
    path.write_bytes(content.encode(encoding))
    return path


def problems(path, **given):
    """What is asked of the lines of a file, {line as written: question}, all of it in the one refusal."""
    with pytest.raises(FormulaError) as caught:
        Formula.read(path, **given)
    asked = {line.written.strip(): line.question.words for line in read_file(path.name, path.read_bytes()).open}
    assert all(f"{line!r}: {question}" in str(caught.value) for line, question in asked.items())
    return asked


def same(one, other):
    assert [p.kind for p in one.parts] == [p.kind for p in other.parts]
    for mine, theirs in zip(one.parts, other.parts, strict=True):
        assert mine.keys == theirs.keys
        assert mine.percentages == pytest.approx(theirs.percentages)


# ---- reading -----------------------------------------------------------------------------------------------


def test_a_workbook_by_parts(tmp_path):
    bun = Formula.read(saved(tmp_path, WHOLE))
    assert bun.name == "bun"
    assert [(p.name, p.kind) for p in bun.parts] == [
        ("Sponge", "preferment"),
        ("dough", "dough"),
        ("Topping", "topping"),
    ]
    assert bun.of_kind("flour") == 100
    assert bun.of_kind("milk") == 22
    assert bun.part("topping").percentages == pytest.approx((100, 94, 80))


@pytest.mark.parametrize("order", [[3, 0, 2, 1], [2, 1, 3, 0]])
@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_columns_in_any_order_and_any_delimiter(tmp_path, order, mark):
    rows = [mark.join(str(row[n]) for n in order) for row in WHOLE]
    same(Formula.read(text(tmp_path, "\n".join(rows))), Formula.read(saved(tmp_path, WHOLE)))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_encodings_and_line_ends(tmp_path, encoding, end):
    """The word crème is another run of bytes in each; Excel writes all four."""
    lines = [
        "Crème bun;;",
        "Component;Item;Qty (g)",
        "Dough;bread flour;1000",
        "Dough;milk;562,5",
        "Crème crust;sugar;9,5",
    ]
    bun = Formula.read(text(tmp_path, end.join(lines), encoding))
    assert bun.of_kind("milk") == 56.25
    assert bun.part("topping").name == "Crème crust"


@pytest.mark.parametrize(
    ("heading", "cell", "grams"),
    [
        ("Weight (kg)", "1,25", 1250), ("Grams", "1250", 1250), ("Amount [g]", "1.250,0", 1250),
        ("qty g", "1 250", 1250),
        ("kg", "1 1/4", 1250), ("Mass", "2 lb", 907.18474), ("Quantity", "1250 g", 1250),
    ],
)  # fmt: skip
def test_amounts_as_bakers_write_them(tmp_path, heading, cell, grams):
    lines = [f"ingredient;{heading}", f"milk;{cell}", "bread flour;1 kg"]
    assert Formula.read(text(tmp_path, "\n".join(lines))).of_kind("milk") == pytest.approx(grams / 10)


def test_counts_and_volumes_through_the_tables(tmp_path):
    rows = [WHOLE[0], ["dough", "bread flour", 1, "kg"], ["", "egg", 3, "large"], ["", "milk", 1, "cup"]]
    bun = Formula.read(saved(tmp_path, rows), answers={"cup": "US cup"})
    assert bun.of_kind("egg") == pytest.approx(15)
    assert bun.of_kind("milk") == pytest.approx(24.4)
    assert bun.egg_measured == "counted"


def test_merged_cells_titles_totals_remarks_and_other_columns(tmp_path):
    rows = [
        ["Cardamom bun", None, None, None, None],
        [None] * 5,
        ["Section", "Item", "Note", "Qty", "UoM"],
        ["Sponge", "bread flour", "strong", 250, "g"],
        [None, "milk", None, 220, None],
        [None, "Sponge total", None, 470, "g"],
        ["Dough", "bread flour", None, 750, "g"],
        [None, "butter", "soft", 180, "g"],
        ["Total dough", None, None, 1400, "g"],
        [None, None, None, "all in grams", None],
        ["Crust", "plain flour", None, 100, "g"],
        [None, "sugar", None, 90, "g"],
    ]

    def merge(sheet):
        for area in ("A1:E1", "A4:A5", "E4:E5", "A7:A8", "A11:A12"):
            sheet.merge_cells(area)

    bun = Formula.read(saved(tmp_path, rows, change=merge))
    assert (bun.of_kind("flour"), bun.of_kind("milk"), bun.of_kind("butter")) == (100, 22, 18)
    assert bun.part("crust").percentages == (100, 90)


def test_an_amount_merged_over_two_lines_is_asked_about(tmp_path):
    rows = [*WHOLE[:1], ["dough", "bread flour", "1 kg", None], ["dough", "milk", None, None]]
    found = problems(saved(tmp_path, rows, change=lambda sheet: sheet.merge_cells("C2:C3")))
    assert found == {"dough milk 1 kg": "no amount: how much of it?"}


def test_sections_as_title_lines_without_a_part_column(tmp_path):
    lines = "Ingredient,g\nPoolish\nbread flour,300\nwater,300\nFinal dough\nbread flour,700\nbutter,100\n"
    lines += "Streusel topping\nplain flour,50\nsugar,50"
    bun = Formula.read(text(tmp_path, lines))
    assert [p.kind for p in bun.parts] == ["preferment", "dough", "topping"]
    assert bun.flour_in(bun.part("poolish")) == 30


def test_baker_percentages_alone(tmp_path):
    lines = "ingredient;baker's %\nbread flour;100\nwater;55\nsalt;1,6"
    assert Formula.read(text(tmp_path, lines)).part("dough").percentages == (100, 55, 1.6)


def test_cells_formatted_as_percent(tmp_path):
    """A spreadsheet holds 18 % as 0.18 and shows it by its format; a plain 100 beside it means 100."""
    rows = [["ingredient", "%"], ["bread flour", 100], ["sugar", 0.18]]

    def percent(sheet):
        sheet["B3"].number_format = "0.0%"

    assert Formula.read(saved(tmp_path, rows, change=percent)).of_kind("sugar") == pytest.approx(18)


@pytest.mark.parametrize("name", ["bun.csv", "bun.xlsx"])
@pytest.mark.parametrize(("what", "many"), [("eggs", 3), ("egg", 160)])
def test_a_bare_number_of_what_is_counted_is_asked(tmp_path, name, what, many):
    """Grams where the heading, the cell or a column says so; else eggs, or grams of egg?"""
    rows = [["ingredient", "amount"], ["bread flour", 1000], [what, many], ["milk", 500]]

    def sheet(heading):
        rows[0][1] = heading
        if name.endswith("xlsx"):
            return saved(tmp_path, rows)
        return text(tmp_path, "\n".join(f"{a},{b}" for a, b in rows))

    (problem,) = problems(sheet("amount")).values()
    assert problem in ("egg: which size?", "pieces, or grams?")
    bun = Formula.read(sheet("amount (g)"))
    assert bun.part("dough").percentages[1] == pytest.approx(many / 10)


def test_units_that_bakers_do_not_write_are_asked_by_row(tmp_path):
    lines = "ingredient;qty;unit\nbread flour;1;bag\nmilk;1;T\nsugar;1;quarter\nwater;1;EL\negg;12;ct\nbutter;1-2;tbsp"
    found = problems(text(tmp_path, lines))
    assert {line.partition(";")[0] for line in found} >= {"bread flour", "milk", "sugar", "butter"}
    assert "water;1;EL" not in found


def test_three_decimals_of_a_cell_are_no_thousands_and_those_of_text_are_asked(tmp_path):
    rows = [["ingredient", "amount", "unit"], ["bread flour", 1000, "g"], ["milk", 281.125, "g"]]
    assert Formula.read(saved(tmp_path, rows)).of_kind("milk") == pytest.approx(28.1125)
    with pytest.raises(FormulaError, match="write 1230 g or 1.23 g"):
        Formula.read(text(tmp_path, "ingredient;qty;unit\nbread flour;1;kg\nmilk;1.230;g"))


# ---- what a batch makes --------------------------------------------------------------------------------------

BATCH = ["bread flour;548", "milk;270", "butter;82", "sugar;70"]  # 970 g of dough
BOTH = {"pieces and what is mixed": "both as written"}


@pytest.mark.parametrize(
    ("above", "below", "count", "dough"),
    [
        (["16 buns"], [], 16, 970 / 16), (["Cardamom buns;makes 16"], [], 16, 970 / 16),
        ([], ["makes 16"], 16, 970 / 16),
        (["Buns (16)"], [], 16, 970 / 16), (["Buns", "1 1/2 dozen rolls at 50 g"], [], 18, 50),
        (["40 pcs at 65 g / 20 g"], [], 40, 65), (["yield: 2 dozen rolls at 2 oz"], [], 24, 2 * 453.59237 / 16),
        (["Pieces: 16", "piece mass 58 g"], [], 16, 58), (["Buns"], [], None, 60),
        (["16 Brötchen à 60 g"], [], 16, 60),
    ],
)  # fmt: skip
def test_pieces_are_read_from_a_title_or_a_line(tmp_path, above, below, count, dough):
    bun = Formula.read(text(tmp_path, "\n".join([*above, "ingredient;g", *BATCH, *below])), answers=BOTH)
    assert bun.pieces.count == count
    kept = 1 if dough in (50, 65, 58, 75, 60) or dough < 57 else kept_before_scaling(expected_losses(bun))
    assert bun.pieces.dough == pytest.approx(dough * kept, abs=0.051)
    if kept != 1:
        assert bun.scale().flour == pytest.approx(548, rel=0.001)
    assert bun.of_kind("milk") == pytest.approx(100 * 270 / 548)


def test_what_was_assumed_of_pieces_is_said_in_one_line(tmp_path):
    lines = (
        "16 buns\npart;ingredient;g\ndough;bread flour;548\n;milk;270\ntopping;bread flour;100\n;sugar;92\nwash;egg;20"
    )
    bun = Formula.read(text(tmp_path, lines))
    assert (bun.pieces.wash, bun.pieces.topping) == (pytest.approx(1.2, abs=0.06), pytest.approx(11.6, abs=0.1))
    assert assumed(bun).startswith("16 pieces; ")
    assert "of dough" in assumed(bun)
    assert assumed(bun) in bun._repr_html_().replace("&#x27;", "'")
    assert "\n" not in assumed(bun)
    path = text(tmp_path, "40 pcs at 65 g\ningredient;g\n" + "\n".join(BATCH))
    with pytest.raises(FormulaError, match="40 pieces of 65 g take 2,600 g, and 970 g is mixed: which holds"):
        Formula.read(path)
    far = Formula.read(path, answers=BOTH)
    plain = Formula.read(text(tmp_path, "ingredient;g\n" + "\n".join(BATCH)))
    assert assumed(plain) == "60.0 g of dough a piece, assumed: none was given."
    assert assumed(plain.vary(piece=24)) == ""
    assert assumed(far.vary(piece=24)) == ""
    shares = Formula.read(text(tmp_path, "makes 16\ningredient;%\nbread flour;100\nmilk;50"))
    assert (shares.pieces.count, shares.pieces.dough) == (16, 60)  # percentages are no batch


def test_weights_with_a_title_make_what_it_says():
    lines = {"flour": 548, "milk": 270, "butter": 82, "sugar": 70}
    bun = Formula.from_weights("16 buns", lines)
    assert bun.scale().flour == pytest.approx(548, rel=0.001)
    assert Formula.from_weights("bun", lines, makes="16 buns").pieces == bun.pieces
    assert Formula.from_weights("16 buns", lines, makes={"pieces": 12}).pieces.count == 12


@pytest.mark.parametrize("line", ["Yield;16;buns", "12 x 75 g", "3 strand rolls, 18 % butter"])
def test_what_may_be_a_count_or_a_line_is_asked(tmp_path, line):
    assert list(problems(text(tmp_path, "\n".join(["ingredient;g", *BATCH, line])))) == [line]


def test_two_counts_are_asked(tmp_path):
    found = problems(text(tmp_path, "makes 16-18\ningredient;g\n" + "\n".join(BATCH)))
    assert found == {"makes 16-18": "pieces: how many?"}


def test_the_right_sheet_is_found_or_named(tmp_path):
    path = tmp_path / "book.xlsx"
    book = openpyxl.Workbook()
    book.active.append(["notes", "nothing here"])
    for title, milk in (("Buns", 500), ("Loaf", 600)):
        sheet = book.create_sheet(title)
        for row in (["ingredient", "g"], ["bread flour", 1000], ["milk", milk]):
            sheet.append(row)
    book.save(path)
    assert Formula.read(path).of_kind("milk") == 50
    assert Formula.read(path, sheet="Loaf").of_kind("milk") == 60
    with pytest.raises(UnknownName, match="Loaf"):
        Formula.read(path, sheet="Laof")


def test_formula_cells_are_read_by_their_values(tmp_path):
    """openpyxl saves formulas without values; spreadsheet programs save both, as here."""
    import zipfile

    path = saved(tmp_path, [["ingredient", "g"], ["bread flour", 1000], ["milk", "=B2*0.55"]])
    with pytest.raises(FormulaError, match=re.escape("'milk' must be an amount with its value (got '=B2*0.55')")):
        Formula.read(path)
    with_values = tmp_path / "with_values.xlsx"
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(with_values, "w") as new:
        for item in old.namelist():
            data = old.read(item)
            if item.endswith("sheet1.xml"):
                data = re.sub(rb"<f>B2\*0\.55</f><v\s*/?>(</v>)?", b"<f>B2*0.55</f><v>550</v>", data)
            new.writestr(item, data)
    assert Formula.read(with_values).of_kind("milk") == 55


# ---- what cannot be placed, all of it at once -----------------------------------------------------------------


def test_all_that_is_in_doubt_is_asked_in_one_refusal(tmp_path):
    rows = [
        ["Part", "Ingredient", "Amount", "Unit"],
        ["Dough", "bread flour", 1000, "g"],
        ["Dough", "buter", 180, "g"],
        ["Dough", "egg", "a few", "g"],
        ["Dough", "milk", -5, "g"],
        ["Dough", "salt", None, "g"],
        ["Dough", None, 12, "g"],
        ["Laminate", "butter", 500, "g"],
        ["Dough", "sugar", 160, "degC"],
        ["Dough", "water", "1,720", "g"],
        ["Dough", "egg yolk", datetime(2024, 2, 1), "g"],
    ]
    found = problems(saved(tmp_path, rows))
    assert found["Dough buter 180 g"] == "'buter' is not known: unsalted butter?"
    assert found["Dough milk -5 g"] == "an amount of 0 or more: how much?"
    assert found["Dough 12 g"] == "of what?"
    assert found["Laminate"] == "which part is it?"
    assert found["Dough water 1,720 g"] == "write 1720 or 1.720"
    assert len(found) == 9


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ("part;ingredient;g\nDough;bread flour;1000\nDogh;milk;500", "which part is it?"),
        ("part;ingredient;g\nCrust;sugar;50\nDough;bread flour;100\nStreusel;sugar;50", "a second topping"),
        ("part;ingredient;amount;unit\nDough;bread flour;100;%\nDough;milk;500;g", "a percentage beside masses: of"),
    ],
)  # fmt: skip
def test_one_problem_at_a_time(tmp_path, lines, words):
    found = problems(text(tmp_path, lines))
    assert [words in question for question in found.values()] == [True]


def test_a_sheet_without_flour(tmp_path):
    with pytest.raises(FormulaError, match="'flour' must be above 0 g"):
        Formula.read(text(tmp_path, "ingredient;g\nmilk;500"))


def test_an_unknown_part_is_said_once_for_all_its_lines(tmp_path):
    found = problems(
        text(tmp_path, "part;ingredient;g\nDough;bread flour;1000\nLaminate;butter;5\n;milk;5\nDough;egg;5")
    )
    assert len(found) == 1


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("bun.xlsx", b"no workbook", "a whole XLSX workbook"),
        ("bun.xlsx", b"PK\x03\x04 cut off", "a whole XLSX workbook"),
        ("bun.xls", b"\xd0\xcf\x11\xe0 old", "save it as .xlsx"),
        ("bun.csv", b"", "'dough' must be among the parts"),
        ("bun.csv", b"one,two\n1,2\n", "of what\\?"),
        ("bun.csv", b"\x00\x01\x02\x00", "a text file of cells"),
    ],
)
def test_files_that_are_none(tmp_path, name, content, words):
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises((FileError, FormulaError), match=words):
        Formula.read(path)


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(FileError, match="can be read"):
        Formula.read(tmp_path / "none.csv")


@pytest.mark.parametrize("name", ["bun.xlsx", "bun.csv"])
def test_a_batch_that_pandas_wrote_is_read_again(tmp_path, name):
    frame, path = BUN.scale(flour=1234).to_frame().round(4), tmp_path / name
    frame.to_excel(path, index=False) if name.endswith("xlsx") else frame.to_csv(path, index=False, float_format="%.4f")
    found = Formula.read(path)
    assert [part.kind for part in found.parts][:3] == [part.kind for part in BUN.parts][:3]
    for mine, theirs in zip(found.parts, BUN.parts, strict=True):
        assert mine.keys == theirs.keys
        assert mine.percentages == pytest.approx(theirs.percentages, rel=1e-3)


# ---- writing, and formulas that live -------------------------------------------------------------------------


def worked_out(cells):
    """Values of a grid {A1: cell}: SUM of a range and the four operations on cells, nothing else."""
    values = {}

    def value(name):
        if name not in values:
            cell = cells.get(name)
            if isinstance(cell, str) and cell.startswith("="):
                body = re.sub(
                    r"SUM\(([A-Z])(\d+):\1(\d+)\)",
                    lambda m: "(" + "+".join(f"{m[1]}{n}" for n in range(int(m[2]), int(m[3]) + 1)) + ")",
                    cell[1:],
                )
                body = re.sub(r"[A-Z]\d+", lambda m: repr(value(m[0])), body)
                assert re.fullmatch(r"[\d.e+\-*/()\s]+", body), body
                cell = eval(body)  # digits and operators alone, as just checked
            values[name] = float(cell)
        return values[name]

    return value


def sheet_of(path):
    if path.suffix == ".xlsx":
        sheet = openpyxl.load_workbook(path).active
        return {cell.coordinate: cell.value for row in sheet.iter_rows() for cell in row if cell.value is not None}
    raw = path.read_bytes().decode("utf-8-sig")
    rows = csv.reader(io.StringIO(raw), delimiter=";" if raw.startswith("part;") else ",")
    return {f"{'ABCDE'[c]}{r}": cell for r, row in enumerate(rows, 1) for c, cell in enumerate(row)}


@pytest.mark.parametrize("name", ["bun.xlsx", "bun.csv"])
def test_percentages_are_live_formulas_that_give_the_formulas_own(tmp_path, name):
    path = BUN.save(tmp_path / name, flour="1 kg").path
    cells = sheet_of(path)
    value = worked_out(cells)
    lines = {}
    for r in range(2, 60):
        if f"A{r}" in cells and cells[f"B{r}"] != "total":
            assert cells[f"E{r}"].startswith("=")
            lines[cells[f"A{r}"], cells[f"B{r}"]] = value(f"E{r}")
    for part in BUN.parts:
        for key, percentage in zip(part.keys, part.percentages, strict=True):
            assert lines[part.name, BUN.ingredients[key]["name"]] == pytest.approx(percentage)
    last = max(int(cell[1:]) for cell in cells if cell[0] == "A")
    batch = BUN.scale(flour="1 kg")
    assert value(f"C{last}") == pytest.approx(batch.dough)
    assert value(f"E{last}") == pytest.approx(BUN.dough_percentages.sum())


def test_percentages_follow_a_changed_amount(tmp_path):
    cells = sheet_of(BUN.save(tmp_path / "bun.xlsx", flour=1000).path)
    row = next(c[1:] for c, v in cells.items() if v == "unsalted butter" and cells[f"A{c[1:]}"] == "dough")
    assert worked_out(cells)(f"E{row}") == pytest.approx(18)
    cells[f"C{row}"] = 250
    assert worked_out(cells)(f"E{row}") == pytest.approx(25)
    flour = next(c[1:] for c, v in cells.items() if v == "bread flour" and cells[f"A{c[1:]}"] == "dough")
    cells[f"C{flour}"] = 1750  # and with the sponge's 250 g the total flour is 2 kg
    assert worked_out(cells)(f"E{row}") == pytest.approx(12.5)


@pytest.mark.parametrize("name", ["bun.xlsx", "bun.csv"])
@pytest.mark.parametrize("decimal", [".", ","])
def test_what_was_written_is_read_again(tmp_path, name, decimal):
    path = BUN.save(tmp_path / name, decimal=decimal).path
    same(Formula.read(path), BUN)


def test_decimal_commas_part_the_columns_by_semicolons(tmp_path):
    raw = BUN.save(tmp_path / "bun.csv", flour=1000, decimal=",").path.read_text(encoding="utf-8-sig")
    rows = [line.split(";") for line in raw.splitlines()]
    assert {len(row) for row in rows} == {5}
    spice = next(row for row in rows if row[1] == "ground cardamom")
    assert re.fullmatch(r"\d+(,\d+)?", spice[2])
    assert any("," in row[2] for row in rows)
    assert "." not in raw


@drawn(30)
@given(st.floats(0.5, 60), st.floats(1, 60), st.floats(200, 90000))
def test_any_percentages_survive_the_way_out_and_in(tmp_path_factory, butter, sugar, flour):
    bun = BUN.vary(butter=butter, sugar=sugar)
    path = tmp_path_factory.mktemp("sheets") / "bun.csv"
    same(Formula.read(bun.save(path, flour=flour).path), bun)


EVIL = ("=cmd|' /C calc'!A0", "+1+1", "-2+3", "@SUM(A1)")


@pytest.mark.parametrize("evil", EVIL)
@pytest.mark.parametrize("name", ["bun.xlsx", "bun.csv"])
def test_names_that_begin_like_formulas_stay_text(tmp_path, evil, name):
    house = tmp_path / "house.csv"
    with house.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([["key", "name", "kind"], ["odd", evil, "spice"]])
    plain = BUN.ingredients.with_house(house)
    bun = Formula.from_weights("=1+1", {"flour": 1000, "water": 500, evil: 5}, ingredients=plain)
    path = bun.save(tmp_path / name, flour=1000).path
    if name.endswith("xlsx"):
        sheet = openpyxl.load_workbook(path).active
        cell = next(c for row in sheet.iter_rows() for c in row if c.value == evil)
        assert cell.data_type == "s"
        assert [c.data_type for c in sheet["E"][1:6]] == ["f"] * 5
    else:
        names = [cell for place, cell in sheet_of(path).items() if place[0] == "B"]
        assert f"'{evil}" in names
        assert not any(cell.startswith(("=", "+", "-", "@")) for cell in names)
    assert Formula.read(path, house_ingredients=house).part("dough").keys[-1] == "odd"


def test_where_it_cannot_be_written(tmp_path):
    with pytest.raises(FileError, match=r"\.toml, \.csv or \.xlsx"):
        BUN.save(tmp_path / "bun.ods")
    with pytest.raises(FileError, match="can be written"):
        BUN.save(tmp_path / "none" / "bun.csv")
    with pytest.raises(UnknownName, match="'decimal'"):
        BUN.save(tmp_path / "bun.csv", decimal=";")
    with pytest.raises(FormulaError, match="choose one"):
        BUN.vary(butter=[1, 2]).save(tmp_path / "bun.csv")
