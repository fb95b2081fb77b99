"""Allergens by a maker's words, by what a house states, and on every paper: none is lost, none is cleared by a word."""

import csv
from pathlib import Path

import pytest

import kit
from kit import Formula, tables
from kit.allergens import in_words, of_ingredient
from kit.errors import FileError
from kit.reformulate import substitute
from kit.tables import table

HERE = Path(__file__).parent
LINES = {"bread flour": 100, "water": 60, "ready mix": 10}


def read(path):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def house(**cells):
    """The tables with one row of a house laid over them, of a new ingredient unless it names one."""
    new = {"name": "ready mix", "kind": "mix", "fat_g_per_100g": 10} if "key" not in cells else {}
    return tables.ingredients().with_rows({cells.pop("key", "xx"): new | cells}, "ours.csv")


def bun(lines=LINES, **cells):
    return Formula.from_weights("bun", lines, ingredients=house(**cells), makes={"piece": 60})


def members(text):
    return set(filter(None, text.split(";")))


def on_list(market):
    return {word for row in table("allergen_lists").rows if row["list"] == market for word in row["members"].split(";")}


# words of specifications

SPECIFICATIONS = read(HERE / "allergen_specifications.csv")


@pytest.mark.parametrize("row", SPECIFICATIONS, ids=lambda row: row["specification"][:40])
def test_what_a_specification_implies(row):
    """Regulation (EU) 1169/2011, Annex II; FALCPA with the FASTER Act; FDA 2025; 21 CFR 101.100(a)(4): beside each."""
    contains, asks = in_words(row["specification"])
    for market, column in (("EU", "eu"), ("US", "us")):
        assert on_list(market) & set(contains) == members(row[column])
    assert members(row["asked"]) <= set(asks)


def test_there_are_specifications_of_every_allergen_asked_and_declared():
    assert len({row["specification"] for row in SPECIFICATIONS}) >= 120
    assert set().union(*(members(row["eu"]) for row in SPECIFICATIONS)) == on_list("EU")
    assert set().union(*(members(row["asked"]) for row in SPECIFICATIONS)) >= {"milk", "egg", "soya", "sulphites"}


@pytest.mark.parametrize("row", SPECIFICATIONS, ids=lambda row: row["specification"][:40])
def test_every_specification_stays_to_check_and_is_on_the_draft(row):
    made = bun(sub_ingredients=row["specification"])
    for market, column in (("EU", "eu"), ("US", "us")):
        draft = kit.label(made, market)
        found = {word for _, inside in draft.contains for word in inside}
        assert found == members(row[column]) | {"wheat"}
        assert any(text.startswith("ready mix") for text in draft.to_check)
        for word in members(row["asked"]) - found - {"wheat"}:
            assert word in draft.allergens


@pytest.mark.parametrize("row", read(HERE / "published" / "us_tree_nuts_2025.csv"), ids=lambda row: row["nut"])
def test_american_tree_nuts_are_those_of_2025(row):
    """FDA, Questions and Answers Regarding Food Allergens, Edition 5, January 2025, Appendix I."""
    found = on_list("US") & set(in_words(f"{row['nut']}s")[0])
    assert bool(found) == (row["listed"] == "yes")


def test_twelve_nuts_are_named_in_the_us():
    (row,) = (row for row in table("allergen_lists").rows if row["allergen"] == "tree nuts")
    assert len(members(row["members"]) - {"nuts"}) == 12


@pytest.mark.parametrize(
    ("text", "contains", "asks"),
    [
        ("Crème Fraîche", {"milk"}, set()),  # accents and capitals
        ("WHEAT-FLOUR/rye", {"wheat", "rye"}, set()),
        ("whole-milk powder", {"milk"}, set()),
        ("preservative (223), emulsifier (322)", {"sulphites"}, {"egg", "soya"}),
        ("E322 soya, E 150 d, E-471 wheat", {"soya", "wheat"}, {"sulphites"}),
        ("vitamin E 220 mg", set(), set()),  # a dose, no additive
        ("almond milk chocolate", {"almond", "milk"}, {"soya", "nuts"}),  # neither of two that overlap hides the other
        ("skim milk, fat-free", {"milk"}, set()),
        ("milk, free range eggs", {"milk", "egg"}, set()),
        ("milk powder free flowing", {"milk"}, set()),
        ("no milk fat, butter", {"milk"}, set()),
        ("Weizenvollei", {"wheat", "egg"}, set()),  # both parts of a word written together
        ("Buchweizenmehl, Kokosmilch, Kakaobutter", set(), set()),
        ("may contain traces of nuts, milk and sesame seeds", set(), {"nuts", "milk", "sesame"}),
        ("may contain traces of nuts, whey powder", {"milk"}, {"nuts"}),  # what follows is an ingredient
        ("margarine free from milk, egg", {"egg"}, {"milk"}),
        ("free from milk, egg and soya", set(), {"milk", "egg", "soya"}),
        ("contains no milk. Whey", {"milk"}, set()),
        ("May contain milk; whey", {"milk"}, set()),
        ("seeds (may contain nuts), casein", {"milk"}, {"nuts", "sesame"}),
        ("nutmeg, minute, orange peel, char-grilled, distilled water", set(), set()),
        ("", set(), set()),
    ],
)
def test_how_words_are_read(text, contains, asks):
    found, asked = in_words(text)
    assert set(found) == contains
    assert asks <= set(asked)
    assert not set(found) & set(asked)


def test_a_word_never_takes_an_allergen_away():
    """Whatever stands before it, what was declared of a list of ingredients stays declared."""
    for row in SPECIFICATIONS:
        contains, asks = in_words(row["specification"])
        for more in ("cocoa butter", "buckwheat", "free range", "vegan", "without gluten"):
            longer = in_words(f"{more}, {row['specification']}")
            assert set(contains) <= set(longer[0])
            assert set(asks) <= set(longer[0]) | set(longer[1])


# the tables' own words


def test_words_stand_once_and_speak_of_the_lists():
    rows = table("allergen_words").rows
    words = [(word, row["says"] == "passed") for row in rows for word in row["words"].split(";")]
    assert len(words) == len(set(words)) > 2000
    for row in rows:
        assert members(row["contains"]) | members(row["may_contain"]) <= on_list("EU") | on_list("US")
        assert not members(row["contains"]) & members(row["may_contain"])
        assert row["says"] in ("", "name", "traces", "none of", "free", "and", "passed")
        assert not (
            row["says"] in ("traces", "none of", "free", "and", "passed") and (row["contains"] or row["may_contain"])
        )


def test_the_words_agree_with_what_the_tables_say_of_their_ingredients():
    """The names of the kit's own ingredients, read as a specification, imply nothing that their rows do not say."""
    for row in tables.ingredients().rows:
        contains, asks = in_words(row["name"])
        own = members(row["allergens"]) | members(row["may_contain"])
        assert set(contains) <= own, row["name"]
        if row["name"] != "mashed potato":  # made with milk, which its name does not tell
            assert members(row["allergens"]) <= set(contains) | set(asks), row["name"]


# what a house states


def test_whey_and_casein_bring_milk_onto_every_paper():
    made = bun(sub_ingredients="wheat flour, whey powder, casein")
    assert kit.label(made).allergens == "cereals containing gluten (wheat), milk; to check: ready mix"
    assert kit.label(made, "US").allergens == "milk, wheat; to check: ready mix"
    assert "contains MILK" in kit.label(made).ingredients
    known, open_in = kit.production_sheet(made).contains
    assert (known, open_in) == ("WHEAT, MILK", "to check: ready mix")
    assert "to check: ready mix" in kit.production_sheet(made).page()
    assert kit.cautions_for(made).allergens["milk"] == ["ready mix"]
    assert "To check: ready mix." in kit.cautions_for(made)._repr_html_()
    card = kit.serving_plan("triangle", {"plain": made, "more": made.vary(water=62)}, tasters=6, seed=1)
    assert "WHEAT, MILK; to check: ready mix" in card.cards()
    swapped = substitute(Formula.from_weights("bun", LINES | {"egg": 10}, ingredients=made.ingredients), "egg", "yolk")
    assert "Allergens to check: ready mix." in swapped.words


def test_what_a_house_states_takes_nothing_from_its_specification():
    made = bun(allergens="soya", sub_ingredients="soya lecithin, whey powder, albumen")
    assert kit.label(made, "US").allergens == "milk, eggs, wheat, soybeans; to check: ready mix"


@pytest.mark.parametrize("cells", [{}, {"allergens": "none"}, {"allergens": "milk"}, {"sub_ingredients": "none"}])
def test_a_row_that_the_tables_do_not_know_stays_to_check(cells):
    for market in ("EU", "US"):
        assert kit.label(bun(**cells), market).to_check == ("ready mix",)
        assert "allergens of ready mix" in kit.label(bun(**cells), market).still_to_write


def test_once_complete_by_whom_and_when_nothing_is_to_check():
    """The emulsifier asks for egg or soya until somebody has said."""
    cells = {"allergens": "milk", "sub_ingredients": "whey powder, emulsifier: lecithins"}
    assert kit.label(bun(**cells)).to_check == ("ready mix (egg or soya?)",)
    signed = bun(**cells, allergens_complete="A. Baker, 2026-11-01")
    draft = kit.label(signed)
    assert draft.to_check == ()
    assert draft.allergens == "cereals containing gluten (wheat), milk"
    assert any("found complete by A. Baker, 2026-11-01" in note for note in draft.notes)


def test_a_signature_does_not_outweigh_the_makers_own_word():
    signed = bun(allergens="soya", sub_ingredients="soya lecithin, whey", allergens_complete="A. Baker, 2026-11-01")
    assert kit.label(signed, "US").allergens == "milk, wheat, soybeans; to check: ready mix (milk?)"


@pytest.mark.parametrize("said", ["yes", "A. Baker", "2026-11-01", "A. Baker, 1 Nov"])
def test_complete_is_said_by_whom_and_when(said):
    with pytest.raises(FileError, match="'xx allergens_complete' must be by whom and when"):
        house(allergens="none", allergens_complete=said)


def test_complete_is_said_of_something():
    with pytest.raises(FileError, match="'xx allergens' must be stated where they are said to be complete"):
        house(allergens_complete="A. Baker, 2026-11-01")


def test_what_is_in_it_anyway_is_not_asked():
    """Icing sugar may hold wheat starch: no question in a bun of wheat, one in a bun of rye."""
    for flour, asked in (("bread flour", ()), ("light rye flour", ("icing sugar (wheat?)",))):
        made = Formula.from_weights("bun", {flour: 100, "water": 60, "icing sugar": 10})
        assert kit.cautions_for(made).to_check == asked


def test_plain_ingredients_of_the_tables_are_as_the_tables_say():
    plain = Formula.from_weights("bun", {"bread flour": 100, "milk": 60, "butter": 10, "egg": 5})
    assert kit.cautions_for(plain).to_check == ()
    assert of_ingredient(house(key="butter_unsalted", name="our butter"), "butter_unsalted").contains == ("milk",)
    assert not of_ingredient(house(key="butter_unsalted", name="our butter"), "butter_unsalted").open


def test_a_specification_of_the_tables_own_ingredient_is_to_check_and_keeps_its_allergens():
    own = house(key="chocolate_semisweet", sub_ingredients="sugar, hazelnuts")
    brings = of_ingredient(own, "chocolate_semisweet")
    assert set(brings.contains) == {"milk", "soya", "hazelnut"}
    assert brings.open
    signed = house(key="chocolate_semisweet", allergens="soya",
                   sub_ingredients="sugar, soya lecithin", allergens_complete="A. Baker, 2026-11-01")  # fmt: skip
    assert of_ingredient(signed, "chocolate_semisweet").contains == ("soya",)


def test_knowing_more_never_prints_less():
    """A blank row, then what it is made of, then what the house states: each paper says as much as before, or more."""
    rows = [{}, {"sub_ingredients": "raisins, sunflower oil"}, {"sub_ingredients": "raisins", "allergens": "sulphites"}]
    for market in ("EU", "US"):
        told = [kit.label(bun(**cells), market) for cells in rows]
        assert [draft.to_check for draft in told] == [("ready mix",), ("ready mix (sulphites?)",), ("ready mix",)]
        assert {word for _, inside in told[-1].contains for word in inside} == {"wheat", "sulphites"}
        assert ("SULPHITES" if market == "EU" else "sulfites") in told[-1].ingredients


@pytest.mark.parametrize("name", ["lemon juice", "corn syrup", "raisins", "candied fruit", "molasses"])
@pytest.mark.parametrize("market", ["EU", "US"])
def test_sulphites_are_asked_about_until_they_are_known(name, market):
    """Health Canada's and other word lists of sulphites; above 10 mg/kg declared (Annex II (12), 21 CFR 101.100)."""
    made = Formula.from_weights("bun", {"bread flour": 100, "water": 60, name: 10})
    draft = kit.label(made, market)
    assert "(sulphites?)" in draft.allergens
    assert any(note.startswith("Sulphites: above 10 mg/kg") for note in draft.notes)
    key = tables.ingredients().find(name)
    for stated in ("sulphites", "none"):
        own = house(key=key, allergens=stated, allergens_complete="A. Baker, 2026-11-01")
        lines = {"bread flour": 100, "water": 60, name: 10}
        known = kit.label(Formula.from_weights("bun", lines, ingredients=own), market)
        assert "to check" not in known.allergens
        assert ("sulphites" in {w for _, inside in known.contains for w in inside}) == (stated == "sulphites")


def test_nuts_of_no_name_are_asked_which_until_one_is_named():
    assert "nuts (others: which?)" in kit.label(bun(sub_ingredients="praline")).allergens
    assert "nuts (hazelnut)" in kit.label(bun(sub_ingredients="praline (hazelnuts)")).allergens


def test_a_sheet_that_varies_promises_no_absence_that_is_to_check(tmp_path):
    """Without the egg, but with a mix whose maker has not been asked."""
    kept = bun(LINES | {"egg": 10}).keep("with egg", folder=tmp_path)
    sheet = kit.production_sheet(kept.vary(egg=0))
    assert "without EGG, unless what is to check brings it" in sheet.other_allergens


def test_a_house_row_travels_with_its_signature(tmp_path):
    made = bun(allergens="none", allergens_complete="A. Baker, 2026-11-01")
    again = Formula.read(made.keep("signed", folder=tmp_path).path)
    assert kit.cautions_for(again).to_check == kit.cautions_for(made).to_check == ()
