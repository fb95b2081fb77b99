"""The tables as the kit reads them: names, masks of what is known, a house's own figures in every result."""

import csv

import numpy as np
import pytest

import kit
from kit import Formula, places
from kit.balance import measure
from kit.errors import FileError, UnknownName
from kit.formula.files import write
from kit.tables import COLUMNS, COMPONENTS, ingredients, source, table

LINES = {"bread flour": 1000, "milk": 300, "butter": 150, "sugar": 180, "ground cardamom": 8}


def rows(name):
    with open(places.reference_tables() / f"{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def house(tmp_path, text):
    path = tmp_path / "our_figures.csv"
    path.write_text(text, encoding="utf-8")
    return ingredients().with_house(path)


def test_a_mark_that_is_none_of_the_known_is_refused(tmp_path, monkeypatch):
    (tmp_path / "guesses.csv").write_text("figure,source,provenance\n1,x,assumed here\n2,x,assumed\n")
    monkeypatch.setattr(places, "reference_tables", lambda: tmp_path)
    said = r"'provenance in line 3 of guesses.csv' must be one of published, .*assumed here \(got 'assumed'\)"
    with pytest.raises(UnknownName, match=said):
        table("guesses")


def test_what_rests_on_a_guess_of_ours_says_so():
    """Crust creep, densities, class steps, a topping's swap, minutes at the bench, loss of a paste."""
    bun = Formula.read(places.notebooks() / "formulas" / "crackle_bun.toml")
    said = kit.topping_fit(bun).sources()
    assert said["crust_creep"] == said["density_baked"] == "assumed here"
    assert "assumed here" in kit.dough_class(bun).sources().values()
    assert kit.substitute(bun, "butter", "shortening", part="topping").sources() == ["assumed here"]
    assert kit.day(bun).sources()["divide, shape and top"].endswith("the usual one, assumed here")
    assert "assumed here" in kit.predict_yield(bun).sources()["topping dividing"]
    assert kit.cautions_for(bun).to_frame().astype(str).apply(" ".join, axis=1).str.contains("common practice").any()


def test_composition_and_mask_are_the_csv():
    """Every cell of ingredients.csv, read here with the csv module: blank is unknown, not zero; tap water is water."""
    own, written = ingredients(), rows("ingredients")
    assert own.composition.shape == own.known.shape == (len(written), len(COLUMNS))
    unit = {"sodium": "mg", "energy": "kcal"}
    for n, row in enumerate(written):
        for c, column in enumerate(COLUMNS):
            cell = row[f"{column}_{unit.get(column, 'g')}_per_100g"]
            assert own.known[n, c] == (cell != "")
            if row["kind"] == "water" and column in ("water", "ash"):
                cell = {"water": 100, "ash": 0}[column]
            assert own.composition[n, c] == float(cell or 0)
    assert not own.house.any()


def test_every_name_and_alias_finds_its_row():
    own = ingredients()
    for row in rows("ingredients"):
        for name in (row["key"], row["name"], *row["aliases"].split(";")):
            if name:
                assert own.find(name.upper()) == row["key"]
        assert row["key"] in own.of_kind(row["kind"])


def test_unknown_name_is_asked_back():
    with pytest.raises(
        UnknownName, match=r"'ingredient' must be one the tables know \(got 'cardamon'\); did you mean cardamom"
    ):
        ingredients().find("cardamon")
    with pytest.raises(UnknownName, match="did you mean losses"):
        table("loses")
    with pytest.raises(UnknownName, match="'source' must be a key of the sources table"):
        source("hearsay")


@pytest.mark.parametrize("name", sorted(path.stem for path in places.reference_tables().glob("*.csv")))
def test_every_table_is_read_whole(name):
    written = rows(name)
    assert list(table(name).rows) == [{k: v.strip() for k, v in row.items()} for row in written]
    assert len(table(name).to_frame()) == len(written)
    for row in written:
        if row.get("source"):
            assert all(source(key.strip()) for key in row["source"].split(";"))


def test_numbers_of_a_column_are_nan_where_blank():
    losses = table("losses")
    values = losses.numbers("default_percent")
    assert np.isnan(values).tolist() == [row["default_percent"] == "" for row in rows("losses")]
    assert values[0] == float(rows("losses")[0]["default_percent"])


# a house's own figures


def test_house_figures_show_in_every_result(tmp_path):
    """Butter of 84 % fat and 14.5 % water: 150 g bring 126 g of fat and 21.75 g of water to 1000 g of flour."""
    own = house(tmp_path, "key,water_g_per_100g,fat_g_per_100g\nbutter_unsalted,14.5,84\n")
    usual, ours = (Formula.from_weights("bun", LINES, ingredients=i) for i in (None, own))
    water = measure(ours, "total_hydration") - measure(usual, "total_hydration")
    fat = measure(ours, "fat") - measure(usual, "fat")
    assert water == pytest.approx(15 * (14.5 - 17.94) / 100)  # SR28 NDB 01145: 17.94 g water, 81.11 g fat
    assert fat == pytest.approx(15 * (84 - 81.11) / 100)
    assert "unsalted butter *" in ours._repr_html_()
    note = "unsalted butter: water 14.50 g and fat 84.00 g per 100 g, by our_figures.csv"
    assert note in ours._repr_html_()
    assert "unsalted butter *" not in usual._repr_html_()
    moved = kit.what_moved(usual, ours)
    assert dict(moved.because("fat")) == {"unsalted butter": pytest.approx(fat)}
    assert ingredients().composition[ingredients().row("butter_unsalted"), COLUMNS.index("fat")] == 81.11


def test_house_figure_makes_the_unknown_known(tmp_path):
    """SR28 has no sugars figure for ground cardamom (NDB 02006); a house that measured 3 g has one."""
    usual = Formula.from_weights("bun", LINES)
    ours = Formula.from_weights("bun", LINES, ingredients=house(tmp_path, "key,sugars_g_per_100g\ncardamom_ground,3\n"))
    assert kit.balance.at_least(usual, "sugars")
    assert kit.balance.at_least(ours, "sugars") == []
    assert measure(ours, "sugars") - measure(usual, "sugars") == pytest.approx(0.8 * 3 / 100)


def test_a_house_adds_an_ingredient(tmp_path):
    own = house(
        tmp_path,
        "key,name,aliases,kind,water_g_per_100g,protein_g_per_100g,fat_g_per_100g,carbohydrate_g_per_100g,ash_g_per_100g\n"
        "our_tahini,tahini,sesame paste,seed,3,18,54,21,4\n",
    )
    bun = Formula.from_weights("bun", LINES | {"Sesame Paste": 100}, ingredients=own)
    assert bun.part("dough").percentage("our_tahini") == pytest.approx(10)
    assert measure(bun, "fat") - measure(bun.vary(tahini=0), "fat") == pytest.approx(5.4)
    assert [name for name, _ in kit.balance.at_least(bun, "sugars")] == ["ground cardamom", "tahini"]
    assert own.house[own.row("our_tahini"), : len(COMPONENTS) - 1].all()


def test_a_house_file_named_in_a_formula_lies_beside_it(tmp_path):
    text = (places.notebooks() / "formulas" / "crackle_bun.toml").read_text(encoding="utf-8")
    (tmp_path / "ours.csv").write_text(
        "key,water_g_per_100g,fat_g_per_100g\nbutter_unsalted,14.5,84\n", encoding="utf-8"
    )
    (tmp_path / "bun.toml").write_text(
        text.replace("house =", 'house_ingredients = "ours.csv"\nhouse =', 1), encoding="utf-8"
    )
    (tmp_path / "plain.toml").write_text(text, encoding="utf-8")
    ours = Formula.read(tmp_path / "bun.toml")
    usual = Formula.read(tmp_path / "plain.toml")
    given = Formula.read(tmp_path / "plain.toml", house_ingredients=tmp_path / "ours.csv")
    assert (
        measure(ours, "fat") == measure(given, "fat") == pytest.approx(measure(usual, "fat") + 18 * (84 - 81.11) / 100)
    )


@pytest.fixture
def ours(tmp_path):
    """The demo bun with a house's butter and seed, its file beside it in a folder of its own."""
    folder = tmp_path / "ours"
    folder.mkdir()
    rows = "key,name,kind,water_g_per_100g,fat_g_per_100g\nbutter_unsalted,,,14.5,84\nhoney,,,16,\nxx,=1+1,seed,5,0\n"
    (folder / "ours.csv").write_text(rows, encoding="utf-8")
    text = (places.notebooks() / "formulas" / "crackle_bun.toml").read_text(encoding="utf-8")
    text = text.replace("house =", 'house_ingredients = "ours.csv" # our own butter\nhouse =', 1)
    (folder / "bun.toml").write_text(text.replace("sugar = 16\n", "sugar = 16\nxx = 2\n", 1), encoding="utf-8")
    return Formula.read(folder / "bun.toml")


HOUSE = {
    "butter_unsalted": {"water_g_per_100g": "14.5", "fat_g_per_100g": "84"},
    "xx": {"name": "=1+1", "kind": "seed", "water_g_per_100g": "5", "fat_g_per_100g": "0"},
}


def test_a_houses_rows_are_plain_data_and_a_formula_holds_those_it_uses(ours):
    assert ours.house_rows == HOUSE  # honey is in no part
    again = ingredients().with_rows(ours.house_rows, "ours.csv")
    assert again.house_figures("butter_unsalted") == ours.ingredients.house_figures("butter_unsalted")
    assert again.house[:, COLUMNS.index("water")].sum() == 2
    assert ingredients().house_rows(["butter_unsalted"]) == {}
    twice = again.with_rows({"xx": {"water_g_per_100g": 6}, "honey": {"note": "local"}}, "others")
    assert twice.house_rows(["xx"])["xx"] == HOUSE["xx"] | {"water_g_per_100g": "6"}
    assert twice.house[twice.row("butter_unsalted")].sum() == 2


def test_house_figures_travel_with_a_kept_variant_and_a_saved_formula(ours, tmp_path, monkeypatch):
    """Elsewhere, and beside another house's file of the same name, the figures are the same."""
    other = tmp_path / "other"
    other.mkdir()
    wrong = "key,name,kind,water_g_per_100g,fat_g_per_100g\nbutter_unsalted,,,30,60\nxx,tahini,seed,5,0\n"
    (other / "ours.csv").write_text(wrong, encoding="utf-8")
    monkeypatch.chdir(other)
    kept = ours.vary(butter=20).keep("richer", other)
    for path, was in ((kept.path, ours.vary(butter=20)), (ours.save(other / "bun.toml").path, ours)):
        found = Formula.read(path)
        assert measure(found, "total_hydration") == measure(was, "total_hydration")
        assert found.house_rows == HOUSE
        assert found.ingredients.origin == "ours.csv"
        assert write(found) == found.text
    assert kept.parent == f"bun.toml {ours.fingerprint}"
    (ours.path.parent / "ours.csv").unlink()
    assert ours.keep("again").parent == kept.parent
    assert Formula.parse(write(ours)).house_rows == HOUSE


def test_text_in_no_folder_takes_no_file_of_the_working_folder(ours, monkeypatch):
    monkeypatch.chdir(ours.path.parent)
    with pytest.raises(FileError, match="'house_ingredients' must be in a file's folder"):
        Formula.parse(ours.text)
    assert Formula.parse(ours.text, folder=".").house_rows == HOUSE


def test_a_table_in_another_encoding_is_refused(tmp_path):
    path = tmp_path / "ours.csv"
    path.write_bytes("key,name\nbutter_unsalted,smør\n".encode("cp1252"))
    with pytest.raises(FileError, match="'ours.csv' must be UTF-8 text"):
        ingredients().with_house(path)
