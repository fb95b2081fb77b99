"""Each formula raises the cautions of its own parts and ingredients, each with its control and source."""

import pytest

import kit
from kit import Formula, cautions_for, places
from kit.tables import table

FOLDER = places.notebooks() / "formulas"
PLAIN, COCOA, SESAME = (Formula.read(FOLDER / f"crackle_bun{end}.toml") for end in ("", "_cocoa", "_sesame"))
LEAN = {"bread flour": 1000, "water": 600, "salt": 18, "fresh yeast": 20}


def raised(formula, also=()):
    return {row["arises_when"] for row in cautions_for(formula, also).rows}


def test_local_codes_come_first_on_the_page():
    html = cautions_for(PLAIN)._repr_html_()
    assert "Local codes and licensed practice come first" in html
    assert html.index("Local codes") < html.index("<li")


def test_a_raw_egg_wash_is_told():
    assert {"raw_egg", "egg_wash"} <= raised(PLAIN)
    assert "egg_wash" not in raised(Formula.from_weights("no wash", LEAN | {"egg": 100}))
    assert "raw_egg" in raised(Formula.from_weights("no wash", LEAN | {"egg": 100}))
    assert not {"raw_egg", "egg_wash"} & raised(Formula.from_weights("lean", LEAN))


def test_allergens_are_those_of_the_ingredients():
    """Groups: Regulation (EU) 1169/2011, Annex II; which ingredient holds which: from memory."""
    found = cautions_for(PLAIN).allergens
    assert set(found) == {"wheat", "milk", "egg"}
    assert set(found["wheat"]) == {"bread flour", "plain flour"}
    assert set(found["milk"]) == {"whole milk", "unsalted butter"}
    assert set(found["egg"]) == {"egg", "egg yolk"}
    assert set(cautions_for(SESAME).allergens) - set(found) == {"sesame"}
    assert set(cautions_for(Formula.from_weights("lean", LEAN)).allergens) == {"wheat"}
    assert "sesame (" in cautions_for(SESAME).words


def test_sesame_brings_the_caution_of_seeds():
    assert "nuts_seeds" in raised(SESAME)
    assert "nuts_seeds" not in raised(PLAIN) | raised(COCOA)


@pytest.mark.parametrize(
    ("formula", "also", "word"),
    [
        (PLAIN, (), "raw_flour"),
        (PLAIN, (), "oven"),
        (PLAIN, (), "mixer"),
        (PLAIN, ("label",), "label"),
        (Formula.from_weights("filled", LEAN, makes={"piece": 60, "filling": 15}, filling={"milk": 100, "egg": 20}),
         (), "filling"),
    ],
)  # fmt: skip
def test_what_arises_is_told(formula, also, word):
    assert word in raised(formula, also)


def test_what_does_not_arise_is_left_out():
    assert not {"label", "filling", "hot_syrup", "nuts_seeds"} & raised(PLAIN)


def test_each_caution_has_a_control_and_a_source():
    shown = cautions_for(SESAME)
    frame = shown.to_frame()
    assert len(frame) == len(shown.rows) >= 10
    assert (frame[["hazard", "usual control", "source"]].map(len) > 10).all(axis=None)
    html = shown._repr_html_()
    assert html.count("<li") == len(frame)
    for row in table("cautions").rows:
        if row["provenance"] == "from memory":
            said = frame[frame["hazard"] == row["hazard"]]["source"]
            assert said.str.contains("from memory").all()


def test_outbreak_figures_are_those_of_the_final_notice():
    """CDC, Salmonella Infantis in flour, 7 June 2023: 14 ill in 13 states, 3 of 13 in hospital; 2016 recalled."""
    (told,) = (row["figure"] for row in cautions_for(PLAIN).rows if "ill in" in row["figure"])
    assert told.startswith("14 ill in 13 US states in 2023, 3 of them in hospital")
    assert "2016 (from memory)" in told


def test_names_are_text():
    house = cautions_for(PLAIN)
    marked = type(house)(house.rows, {"<script>alert(1)</script>": ["=1+1"]})
    assert "<script" not in marked._repr_html_()
    assert "&lt;script&gt;" in marked._repr_html_()
    assert kit.cautions_for is cautions_for
