"""Panels of the trial book: what is chosen is compared, what is entered is in the book, what can't be is said."""

import asyncio
import datetime
import io
import re
import shutil

import pytest
from PIL import Image

import kit
from kit.show import EntryPanel, SideBySidePanel, entry_panel
from kit.trials import Trial, TrialBook, trial_fields

NOTEBOOKS = kit.places.notebooks()


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    path = tmp_path_factory.mktemp("book") / "trials.db"
    with TrialBook.open(path) as book:
        book.import_from(NOTEBOOKS / "trials" / "crackle_bun_trials.csv", NOTEBOOKS / "formulas")
    return path


@pytest.fixture
def path(filled, tmp_path):
    return shutil.copy(filled, tmp_path / "trials.db")


@pytest.fixture
def book(path):
    with TrialBook.open(path) as opened:
        yield opened


def photo(colour="red"):
    out = io.BytesIO()
    Image.new("RGB", (640, 480), colour).save(out, "JPEG")
    return out.getvalue()


# ---- side by side


@pytest.fixture
def panel(book, tmp_path):
    return SideBySidePanel(book, ["T-001", "T-003"], tmp_path)


def choose(panel, *codes):
    panel.choices["trials"].value = codes


def shown(panel):
    """All that the panel says, what opens on asking too."""
    panel._behind.selected_index = 0
    return panel._live.value + panel._table.value


def test_what_is_chosen_is_compared_the_earliest_first(panel):
    choose(panel, "T-022", "T-001", "T-003")
    assert panel.result.names == ("T-001", "T-003", "T-022")
    assert "planned differently" in panel._live.value
    assert "unsalted butter and sugar were changed together, so the cause" in panel._live.value
    assert "came out" not in panel._live.value
    said = shown(panel)
    assert said.index("planned differently") < said.index("came out") < said.index("73.9 (+0.5); 1/10")
    choose(panel, "T-001", "T-022")
    assert "T-022" in panel._table.value  # what is open follows
    assert "T-003" not in panel._table.value


def test_another_first_turns_the_difference_round(panel):
    def height():
        return next(row for row in panel.result.responses if row.name == "height").differences[0].value

    before = height()
    panel.choices["first"].value = "T-003"
    assert panel.result.names == ("T-003", "T-001")
    assert height() == pytest.approx(-before)


@pytest.mark.parametrize("count", [0, 1, 7])
def test_too_few_or_too_many_are_refused_in_words_and_the_picture_stays(panel, count):
    shown = panel._live.value
    choose(panel, *(f"T-{n:03d}" for n in range(1, count + 1)))
    assert "must be 2 to 6" in panel._problem.value
    assert panel._live.value == shown
    choose(panel, "T-001", "T-003", "T-004")
    assert panel._problem.value == ""
    assert len(panel.result.names) == 3


def test_the_search_offers_what_it_finds_and_keeps_what_is_chosen(panel):
    panel.search.value = "cocoa"
    assert [code for _, code in panel.choices["trials"].options] == ["T-001", "T-003", "T-039", "T-027", "T-004"]
    assert panel.choices["trials"].value == ("T-001", "T-003")
    choose(panel, "T-001", "T-039")
    panel.search.value = "no such bun"
    assert panel.result.names == ("T-001", "T-039")
    assert [code for _, code in panel.choices["trials"].options] == ["T-001", "T-039"]


def test_nothing_found_is_said_and_forgotten(panel):
    panel.search.value = "no such <bun>"
    assert "Nothing found for &#x27;no such &lt;bun&gt;&#x27;" in panel.found.value
    panel.search.value = ""
    assert panel.found.value == ""


def offered(panel):
    return {code for _, code in panel.choices["trials"].options}


def test_a_tap_adds_one_and_another_tap_takes_it_away(panel):
    """A finger can't hold Ctrl. Each tap is one step back, and the box is ready for the next."""
    panel.tapped.value = "T-022"
    assert panel.result.names == ("T-001", "T-003", "T-022")
    assert panel.tapped.label == "tap one"
    assert [words for words, code in panel.tapped.options if code == "T-022"][0].startswith("✓ T-022")
    marks = [words[0] for words, code in panel.tapped.options if code]
    assert marks == sorted(marks, reverse=True)  # what can be taken away stands first
    panel.tapped.value = "T-003"
    assert panel.result.names == ("T-001", "T-022")
    assert [words for words, code in panel.tapped.options if code == "T-003"][0].startswith("+ T-003")
    panel.undo()
    assert panel.result.names == ("T-001", "T-003", "T-022")
    panel.search.value = "cocoa"
    assert {code for _, code in panel.tapped.options} == {""} | offered(panel)


def test_a_code_in_a_head_does_not_break_at_its_hyphen(panel):
    choose(panel, *(f"T-{n:03d}" for n in range(1, 7)))
    heads = re.findall(r"<th[^>]*>(.*?)</th>", shown(panel))
    codes = [head for head in heads if "T-0" in head]
    assert len(codes) >= 12
    assert all(re.fullmatch(r'<span style="white-space:nowrap">T-\d{3}</span>', head) for head in codes)


def test_undo_and_reset_bring_back_choices(panel):
    panel.search.value = "cocoa"
    choose(panel, "T-004", "T-027")
    panel.search.value = "sesame"
    panel.choices["first"].value = "T-027"
    panel.undo()
    assert panel.result.names == ("T-004", "T-027")
    panel.undo()
    assert panel.result.names == ("T-001", "T-003")
    choose(panel, "T-001", "T-005")
    panel.reset()
    assert panel.result.names == ("T-001", "T-003")
    panel.undo()
    assert panel.result.names == ("T-001", "T-005")


def test_undo_out_of_a_choice_that_could_not_be(panel):
    choose(panel, "T-001")
    choose(panel)
    panel.undo()
    assert "must be 2 to 6" in panel._problem.value
    panel.undo()
    assert panel._problem.value == ""


def test_repeats_of_one_plan_stand_in_one_column(panel):
    """The demo's pairs: butter 24 against 18 on four days, so two columns of four bakes."""
    panel.choices["together"].value = True
    choose(panel, *(f"T-{n:03d}" for n in range(13, 21)))
    assert [len(column) for column in panel.result.trials] == [4, 4]
    assert "4 days paired" in panel._live.value


def test_the_response_asked_for_stays_where_it_was_measured(panel):
    panel.choices["response"].value = "crumb_dent day 1"
    assert panel.alt[1].startswith("Crumb dent, day 1 of T-001")
    choose(panel, "T-001", "T-022")
    assert panel.choices["response"].value == "crumb_dent day 1"  # measured of T-001
    assert "T-022 not measured" in panel.alt[1]


def test_the_page_is_written_and_named(panel, book, tmp_path):
    book.add_photo("T-001", photo(), "cut face", "M1")
    panel.page_button.click()
    (page,) = tmp_path.glob("*.html")
    assert page.name == "side_by_side_T-001_T-003.html"
    assert page.name in panel.written.value
    text = page.read_text(encoding="utf-8")
    assert text.count("<img") == 1
    assert "T-001 and T-003 side by side (invented)" in text


def test_a_folder_that_is_none_is_said(book, tmp_path):
    panel = SideBySidePanel(book, ["T-001", "T-003"], tmp_path / "none")
    assert panel.write_page() is None
    assert "in a folder that can be written" in panel._problem.value.replace("&#x27;", "'")


def test_photos_are_shown_small(panel, book):
    book.add_photo("T-003", photo(), "side", "M1")
    choose(panel, "T-001", "T-003", "T-004")
    assert 'alt="T-003, side, 2025-02-01"' in panel._live.value


def test_names_are_shown_as_text(book, tmp_path):
    bad = '<script>alert("x")</script>'
    for n in (1, 2):
        trial = Trial.of(bad, f"2026-03-0{n}", mixer=bad + str(n), height=40 + n)
        book.add_photo(book.save(trial, "M1"), photo(), bad, "M1")
    panel = SideBySidePanel(book, folder=tmp_path)
    assert shown(panel).count("&lt;script") >= 4
    assert "<script" not in shown(panel)
    assert "<script" not in panel.write_page().read_text(encoding="utf-8")


def test_a_book_with_too_few_says_so(tmp_path):
    with TrialBook.open(tmp_path / "new.db") as empty:
        panel = SideBySidePanel(empty)
        assert "in the book); enter a bake.<" in panel._problem.value
        assert panel.write_page() is None


# ---- entry


def unfold(panel, title=None):
    for index, name in enumerate(panel.parts.titles):
        if title in (None, name):
            panel.parts.selected_index = index
    return {box.control.description: box for box in panel.boxes}


def enter(panel, label, text):
    box = unfold(panel)[label]
    box.control.value = text
    return box


@pytest.fixture
def entry(book):
    return EntryPanel(book, "T-040", by="M1")


def test_every_field_of_the_record_has_a_box(entry):
    labels = " ".join(unfold(entry))
    missing = [field.words for field in trial_fields().values() if field.words not in labels]
    assert missing == []
    assert len(unfold(entry)) == len(entry.boxes)


def middle(field):
    return "words" if field.unit == "text" else f"{(field.low + field.high) / 2:.6g}"


def test_every_box_saves_what_it_says(book):
    panel = EntryPanel(book, book.save(Trial.of("all of it", "2025-03-04"), "M1").code, by="M1")
    boxes = unfold(panel)
    taster = next(
        w for w in panel.parts.children[list(panel.parts.titles).index("Scores")].children if hasattr(w, "value")
    )
    taster.value = "P1"
    small_first = ("baked mass", "baked dough mass", "baked topping mass", "specific volume")
    for field in trial_fields().values():
        text = f"{field.low:g}" if field.words in small_first else middle(field)
        for label, box in boxes.items():
            if label.partition(",")[0] == field.words:
                box.control.value = text
                assert "saved, version" in box.note.value, (label, box.note.value)
    trial = TrialBook.open(book._engine.url.database).trial(panel.entry.trial.code)
    for field in trial_fields().values():
        if field.group == "series":
            assert [trial.mean(f"{field.name} day {day}") for day in (0, 1, 2)] == [float(middle(field))] * 3
        elif field.unit == "text":
            assert trial.value(field.name) == "words"
        else:
            wanted = field.low if field.words in small_first else float(middle(field))
            assert trial.mean(field.name) == pytest.approx(wanted, rel=1e-5)


@pytest.mark.parametrize(
    ("label", "text", "name", "value"),
    [
        ("height, mm", "4.2 cm; 43,5", "height", 42.75),
        ("room temperature, °C", "82.4 degF", "room_temperature", 28),  # (82.4 - 32) / 1.8
        ("bulk time, min", "1.5 h", "bulk_time", 90),
        ("flour weighed, g", "2 lb", "flour_weighed", 907.2),  # the international pound
    ],
)
def test_boxes_take_what_bakers_write(entry, book, label, text, name, value):
    box = enter(entry, label, text)
    assert book.trial("T-040").mean(name) == pytest.approx(value)
    assert f"read as {box.known}" in box.note.value
    assert box.control.value == text  # another key may follow
    assert unfold(EntryPanel(book, "T-040"))[label].control.value == box.known


def test_a_slip_of_the_unit_is_asked_about_and_not_saved(entry, book):
    before = book.trial("T-040").version
    box = enter(entry, "height, mm", "4.2")
    assert "If cm was meant, write 4.2 cm" in box.note.value
    assert 'role="alert"' in box.note.value
    assert book.trial("T-040").version == before
    box.control.value = box.known
    assert box.note.value == ""
    box.control.value = "4.2 cm"
    assert book.trial("T-040").measured["height"] == (42.0,)


def test_an_entry_can_be_taken_out(entry, book):
    enter(entry, "height, mm", "")
    assert "height" not in book.trial("T-040").measured


def test_each_entry_is_a_version_and_the_panel_says_which(entry, book):
    enter(entry, "notes", "ribs sharp")
    enter(entry, "verdict", "drop")
    assert "saved, version 3" in entry.heading.value
    trial = book.trial("T-040")
    assert (trial.notes, trial.verdict, trial.version) == ("ribs sharp", "drop", 3)


def test_two_people_at_one_entry_see_both_values_and_choose(entry, book):
    other = EntryPanel(book, "T-040", by="M9")
    unfold(entry), unfold(other)
    enter(other, "height, mm", "44")
    mine = enter(entry, "height, mm", "45")
    assert "M9 entered 44 meanwhile, you 45. Which holds?" in mine.note.value
    assert [button.description for button in mine.choice.children] == ["M9: 44", "mine: 45"]
    assert book.trial("T-040").measured["height"] == (44.0,)
    mine.choice.children[1].click()
    assert book.trial("T-040").measured["height"] == (45.0,)
    theirs = enter(other, "height, mm", "46")
    assert "M1 entered 45 meanwhile" in theirs.note.value
    theirs.choice.children[0].click()
    assert (book.trial("T-040").measured["height"], theirs.control.value) == ((45.0,), "45")
    assert theirs.choice.children == ()
    held = [version.trial.measured["height"] for version in book.history("T-040", every=True)[1:]]
    assert held == [(44.0,), (45.0,), (45.0,), (46.0,)]


def test_a_conflict_left_open_holds_up_no_other_box(entry, book):
    other = EntryPanel(book, "T-040", by="M9")
    unfold(entry)
    enter(other, "height, mm", "44")
    mine = enter(entry, "height, mm", "45")
    enter(entry, "diameter, mm", "99")
    assert book.trial("T-040").measured["diameter"] == (99.0,)
    assert mine.control.value == "45"
    mine.choice.children[1].click()
    assert book.trial("T-040").measured["height"] == (45.0,)


def test_what_others_enter_elsewhere_is_taken_over_and_shown(entry, book):
    boxes = unfold(entry)
    enter(EntryPanel(book, "T-040", by="M9"), "height, mm", "44")
    enter(entry, "diameter, mm", "99")
    assert boxes["height, mm"].control.value == "44"
    trial = book.trial("T-040")
    assert (trial.measured["height"], trial.measured["diameter"]) == ((44.0,), (99.0,))


def test_without_a_name_nothing_is_saved_and_with_it_all_that_waits(book):
    panel = EntryPanel(book, "T-040")
    assert panel.by.value == ""  # nobody's hand is guessed
    box = enter(panel, "height, mm", "44")
    assert "write your code at the top" in box.note.value
    panel.by.value = "M7"
    assert "saved, version 2" in box.note.value
    assert book.history("T-040")[-1].by == "M7"


def test_letters_never_signed_come_back_and_nobody_signs_them_unasked(book, path):
    enter(EntryPanel(book, "T-040"), "reason", "too pale")  # no code, and there the power goes
    panel = EntryPanel(book, "T-040", by="M2")
    assert "reason: typed before the stop and not saved" in panel.heading.value
    box = unfold(panel)["reason"]
    assert (box.control.value, book.trial("T-040").version) == ("too pale", 1)
    assert "never signed" in box.note.value
    box.control.value = "too pale, by a shade"
    assert book.trial("T-040").reason == "too pale, by a shade"
    assert list(path.parent.glob(".typed*")) == []


def test_a_trial_is_begun_with_a_name_and_a_date(book):
    bun = kit.Formula.read(NOTEBOOKS / "formulas" / "crackle_bun.toml")
    panel = EntryPanel(book, by="M1", formulas=[bun])
    assert (panel.parent.label, panel.chosen.label) == ("no other", "a new trial")
    panel.date.value = "4 March"
    panel.name.value = "a new one"
    panel.begin_button.click()
    assert "write it like 2025-03-14" in panel.problem.value
    panel.date.value = "2025-11-04"
    panel.begin_button.click()
    trial = panel.entry.trial
    assert (trial.name, trial.date, trial.planned_formula) == ("a new one", datetime.date(2025, 11, 4), None)
    assert panel.chosen.value == trial.code
    panel.go_on(None)
    panel.name.value, panel.parent.value = "its child", trial.code
    panel.formula.value = bun.name
    panel.begin_button.click()
    assert panel.entry.trial.parent == trial.key
    assert panel.entry.trial.planned_formula.fingerprint == bun.fingerprint


def test_a_child_is_baked_as_its_parent_unless_told(book):
    panel = EntryPanel(book, by="M1")
    panel.name.value, panel.parent.value = "once more", "T-003"
    panel.begin_button.click()
    assert panel.entry.trial.planned_formula.fingerprint == book.trial("T-003").planned_formula.fingerprint


def test_nothing_is_lost_when_the_kernel_goes(path):
    book = TrialBook.open(path)
    panel = EntryPanel(book, "T-040", by="M1")
    enter(panel, "height, mm", "44; 45")
    enter(panel, "next change", "hotter by 10 degC")
    with TrialBook.open(path) as again:  # the first was never closed
        boxes = unfold(EntryPanel(again, "T-040"))
        assert boxes["height, mm"].control.value == "44; 45"
        assert boxes["next change"].control.value == "hotter by 10 degC"
    book.close()


async def typed(panel, label, text, rest=None):
    """Type letter by letter, as a browser sends it, in a loop as the kernel's; rest [s] afterwards."""
    box = unfold(panel)[label]
    for end in range(1, len(text) + 1):
        box.control.value = text[:end]
    if rest is not None:
        await asyncio.sleep(rest)
    return box


def test_typing_is_saved_once_when_it_rests_and_the_box_is_left_alone(entry, book, monkeypatch):
    monkeypatch.setattr(entry_panel, "PAUSE", 0.02)
    before = book.trial("T-040").version
    box = asyncio.run(typed(entry, "height, mm", "4.4 cm; 45 ", rest=0.3))
    assert book.trial("T-040").measured["height"] == (44, 45)
    assert book.trial("T-040").version == before + 1
    assert box.control.value == "4.4 cm; 45 "


@pytest.mark.parametrize("way", ["another trial", "as planned", "weighed"])
def test_what_waits_is_saved_before_anything_else_is_done(entry, book, way):
    async def act():
        await typed(entry, "oven set, °C", "175")
        if way == "another trial":
            entry.go_on("T-004")
        elif way == "as planned":
            entry.plan.value = "as planned"
        else:
            entry.parts.selected_index = list(entry.parts.titles).index("As weighed")

    asyncio.run(act())
    assert book.trial("T-040").controlled["oven_set"] == 175


def test_letters_not_saved_yet_outlive_kernel_and_browser(entry, book, path):
    asyncio.run(typed(entry, "notes", "ribs sharp, cru"))  # and there the power goes
    assert book.trial("T-040").notes != "ribs sharp, cru"
    book.entry(book.trial("T-040"), "M1").set("mix", "first")
    again = EntryPanel(book, "T-040")
    assert again.by.value == ""  # nobody's hand is guessed
    again.by.value = "M1"
    assert book.trial("T-040").notes == "ribs sharp, cru"
    assert (again.by.value, book.history("T-040")[-1].by) == ("M1", "M1")
    assert "notes: typed before the stop, saved now" in again.heading.value
    assert list(path.parent.glob(".typed*")) == []
    assert "typed before" not in EntryPanel(book, "T-040", by="M1").heading.value


def test_what_could_not_be_saved_is_in_its_box_again(entry, book):
    version = book.trial("T-040").version
    asyncio.run(typed(entry, "height, mm", "4.2"))
    again = EntryPanel(book, "T-040", by="M1")
    assert "height: typed before the stop and not saved" in again.heading.value
    box = unfold(again)["height, mm"]
    assert box.control.value == "4.2"
    assert "If cm was meant, write 4.2 cm" in box.note.value
    assert book.trial("T-040").version == version
    box.control.value = box.known
    assert "typed before" not in EntryPanel(book, "T-040", by="M1").heading.value


def test_letters_typed_before_a_stop_do_not_cover_what_another_saved_since(entry, book):
    asyncio.run(typed(entry, "notes", "mine"))
    book.entry(book.trial("T-040"), "M2").set("notes", "theirs")
    for _ in range(3):  # opening adds nothing to the history, however often
        again = EntryPanel(book, "T-040", by="M1")
        box = unfold(again)["notes"]
        assert (book.trial("T-040").notes, len(book.history("T-040", every=True))) == ("theirs", 2)
    assert "notes: typed before the stop and not saved" in again.heading.value
    assert "M2 entered theirs meanwhile, you mine. Which holds?" in box.note.value
    box.choice.children[1].click()  # mine
    assert book.trial("T-040").notes == "mine"
    assert "typed before" not in EntryPanel(book, "T-040", by="M1").heading.value


def test_nobody_else_saves_what_one_is_typing(entry, book):
    """M1 is half through a number, and two wait for an answer; M2 opens the trial and looks into every part."""

    async def act():
        await typed(entry, "height, mm", "4")
        other = EntryPanel(book, "T-040", by="M2")
        unfold(other)
        return other

    before = len(book.history("T-040", every=True))
    other = asyncio.run(act())
    assert len(book.history("T-040", every=True)) == before
    assert "typed before" not in other.heading.value
    enter(other, "notes", "theirs")
    box = enter(entry, "notes", "mine")
    assert "Which holds?" in box.note.value
    history = [(v.by, v.aside) for v in book.history("T-040", every=True)]
    unfold(EntryPanel(book, "T-040", by="M2"))
    assert [(v.by, v.aside) for v in book.history("T-040", every=True)] == history
    assert book.trial("T-040").notes == "theirs"


def test_two_may_type_into_one_entry_and_neither_loses_a_letter(entry, book, monkeypatch):
    monkeypatch.setattr(entry_panel, "PAUSE", 60)  # neither rests in between, however slow the machine

    async def act():
        await typed(entry, "notes", "long thoughts of M1")
        await typed(EntryPanel(book, "T-040", by="M2"), "notes", "M2")

    asyncio.run(act())
    unfold(EntryPanel(book, "T-040", by="M2"))
    assert book.trial("T-040").notes == "M2"
    again = EntryPanel(book, "T-040", by="M1")
    assert unfold(again)["notes"].control.value == "long thoughts of M1"
    assert book.trial("T-040").notes == "M2"


def test_no_letter_is_taken_back_while_one_types(entry, monkeypatch):
    """A saved text, a letter more, that letter gone, and on: the box is never written into."""
    monkeypatch.setattr(entry_panel, "PAUSE", 0.02)

    async def act():
        box = await typed(entry, "reason", "ribs short", rest=0.1)
        for text in ("ribs short ", "ribs short n", "ribs short ", "ribs short", "ribs short "):
            box.control.value = text
            assert box.control.value == text
        await asyncio.sleep(0.1)
        return box

    box = asyncio.run(act())
    assert box.control.value == "ribs short "
    assert entry.entry.trial.reason == "ribs short"


def test_a_new_name_stands_in_the_list_at_once(entry):
    enter(entry, "name", "For the shop, again")
    assert any("For the shop, again" in label for label, _ in entry.chosen.options)


def test_a_bake_that_varies_another_is_planned_like_it(book):
    panel = EntryPanel(book, by="M1", formulas=[kit.Formula.read(NOTEBOOKS / "formulas" / "crackle_bun_cocoa.toml")])
    panel.name.value, panel.parent.value = "once more", "T-011"
    panel.begin_button.click()
    assert panel.entry.trial.planned == book.trial("T-011").planned != {}
    panel.go_on(None)
    panel.name.value, panel.parent.value = "with cocoa", "T-011"
    panel.formula.value = panel.formula.options[-1]
    panel.begin_button.click()
    assert panel.entry.trial.planned["oven_set"] == 195
    assert "piece_mass" not in panel.entry.trial.planned  # the other formula says its own


def test_a_damaged_hidden_file_and_a_folder_that_cannot_be_written_are_passed_over(entry, book, path, tmp_path):
    asyncio.run(typed(entry, "notes", "mine"))
    (kept,) = path.parent.glob(".typed*")
    for content in ("{", "[]", '{"key": 1}', "\x00"):
        kept.write_text(content)
        assert "typed before" not in EntryPanel(book, "T-040").heading.value
    nowhere = EntryPanel(book, "T-040", by="M1", folder=tmp_path / "none")
    enter(nowhere, "notes", "still saved")
    assert book.trial("T-040").notes == "still saved"


def test_what_was_weighed_otherwise_is_noted_line_by_line(entry, book):
    """LB-0 style arithmetic by hand: 300 g of egg on the flour of the batch."""
    batch = book.trial("T-040").batch
    box = enter(entry, "dough: egg, g", "300 g")
    trial = book.trial("T-040")
    assert trial.weighed_formula.lines["dough"]["egg_whole_fresh"] == pytest.approx(100 * 300 / batch.flour, abs=1e-3)
    assert trial.weighed_formula.grams["dough"]["salt_table"] == batch.grams["dough", "salt_table"]
    assert trial.controlled["flour_weighed"] == pytest.approx(batch.flour, abs=0.05)
    assert "dough: egg weighed" in entry.heading.value
    assert box.control.placeholder == f"planned {batch.grams['dough', 'egg_whole_fresh']:.0f}"
    again = unfold(EntryPanel(book, "T-040"))
    assert again["dough: egg, g"].control.value == "300"
    enter(entry, "dough: egg, g", "0")
    assert unfold(EntryPanel(book, "T-040"))["dough: egg, g"].control.value == "0"
    enter(entry, "dough: egg, g", "")
    assert book.trial("T-040").weighed_otherwise == ()
    assert "must be an amount of 0 or more" in enter(entry, "dough: egg, g", "-3").note.value


def test_all_weighed_as_planned_is_one_touch(entry, book):
    boxes = unfold(entry, "As weighed")
    assert boxes["dough: salt, g"].control.value == ""
    button = next(w for w in entry.parts.children[1].children if getattr(w, "description", "") == "all as planned")
    button.click()
    trial = book.trial("T-040")
    assert trial.weighed_otherwise == ()
    assert unfold(entry)["dough: salt, g"].control.value == f"{trial.batch.grams['dough', 'salt_table']:.10g}"


def test_lines_noted_as_planned_are_shown_as_a_scale_shows_them(book):
    """By hand: 1,452 g of flour give 362.99 g of it to the sponge; what is in the book stays exact."""
    bun = kit.Formula.read(NOTEBOOKS / "formulas" / "crackle_bun.toml")
    code = book.save(Trial.of("bun", "2025-03-04", formula=bun), "M1").code
    panel = EntryPanel(book, code, by="M1")
    box = enter(panel, "dough: fresh yeast, g", "4,4")
    assert "read as 4.4 g; planned 43.6 g" in box.note.value  # ten times too little is seen at once
    assert unfold(panel, "As weighed")["sponge: bread flour, g"].control.value == "363"
    weighed = book.trial(code).weighed_formula
    assert weighed.grams["sponge"]["bread_flour_enriched"] == pytest.approx(362.99, abs=0.02)


def test_a_trial_without_a_formula_is_given_one_where_it_is_weighed(book):
    bun = kit.Formula.read(NOTEBOOKS / "formulas" / "crackle_bun_cocoa.toml")
    panel = EntryPanel(book, book.save(Trial.of("no plan", "2025-03-04"), "M1").code, by="M1", formulas=[bun])
    unfold(panel, "As weighed")
    planned, words = panel.parts.children[1].children
    assert "enter the formula as planned" in words.value
    planned.value = bun.name
    assert book.trial(panel.entry.trial.code).planned_formula.fingerprint == bun.fingerprint
    assert "topping: cocoa, g" in unfold(panel)


@pytest.fixture(scope="module")
def bun():
    return kit.Formula.read(NOTEBOOKS / "formulas" / "crackle_bun.toml")


def test_formulas_of_one_name_are_told_apart_by_what_differs(book, bun):
    """Two of one name, and the one that the trial is planned by, all stay to be chosen."""
    rich, turned = bun.vary(butter=25), bun.vary(butter=25, sugar=20)
    code = book.save(Trial.of("which", "2025-03-04", formula=bun.vary(butter=30)), "M1").code
    panel = EntryPanel(book, code, by="M1", formulas=[bun, rich, turned])
    names = [f"{bun.name}, unsalted butter {b} %, sugar {s} %" for b, s in ((18, 16), (25, 16), (25, 20))]
    assert list(panel.formula.options)[2:] == names
    unfold(panel, "As weighed")
    planned = panel.parts.children[1].children[0]
    assert list(planned.options) == [f"{bun.name}, as this trial has it", *names]
    for name, formula in zip(names, (bun, rich, turned), strict=True):
        panel.parts.children[1].children[0].value = name
        assert book.trial(code).planned_formula.fingerprint == formula.fingerprint
    alike = EntryPanel(book, by="M1", formulas=[bun, bun]).formula.options[2:]
    assert len(set(alike)) == 2


def test_what_is_to_be_weighed_is_rounded_as_on_the_production_sheet(book, bun):
    """By hand, on 1,600 g of flour: 0.8 % cardamom is 12.8 g and 1.6 % salt 25.6 g, both to 0.1 g; butter to 1 g."""
    trial = Trial.of("x", "2025-03-04", formula=bun, planned_flour_weighed=1600)
    boxes = unfold(EntryPanel(book, book.save(trial, "M1").code, by="M1"), "As weighed")
    for name, grams in (("ground cardamom", "12.8"), ("salt", "25.6"), ("unsalted butter", "288")):
        assert boxes[f"dough: {name}, g"].control.placeholder == f"planned {grams}"


def test_the_plan_is_entered_beside_what_was(entry, book):
    box = unfold(entry, "Proof and baking")["oven set, °C"]
    entry.plan.value = "as planned"
    assert box.control.description == "planned oven set, °C"
    box.control.value = "185"
    entry.plan.value = "as it was"
    trial = book.trial("T-040")
    assert (trial.planned["oven_set"], trial.controlled["oven_set"]) == (185, 180)
    assert box.control.value == "180"
    assert "planned 185 °C" in box.note.value


def test_scores_are_each_tasters_own(entry, book):
    boxes = unfold(entry, "Scores")
    liking = boxes["liking, 1 to 9"]
    liking.control.value = "7"
    assert "above the scores" in liking.note.value
    taster = entry.parts.children[entry.parts.selected_index].children[0]
    taster.value = "P9"  # whose score it then is
    assert "saved" in liking.note.value
    taster.value = "P8"
    assert liking.control.value == ""
    assert liking.control.placeholder == "1 dislike extremely – 9 like extremely"
    liking.control.value = "4"
    taster.value = "P9"
    assert liking.control.value == "7"
    assert re.search(r"scored so far: .*P8 and P9<", entry.tasters.value)
    found = {n.taster: value for n, value in book.trial("T-040").noted.items() if n.name == "liking"}
    assert (found["P8"], found["P9"]) == (4, 7)


def upload(panel, content):
    file = {"name": "x.jpg", "type": "image/jpeg", "size": len(content), "content": memoryview(content),
            "last_modified": datetime.datetime(2025, 3, 4)}  # fmt: skip
    panel.upload.value = (file,)


def test_photos_are_kept_with_their_view_and_refused_in_words(entry, book):
    unfold(entry, "Photos")
    entry.view.value = "cut face"
    upload(entry, photo())
    assert [(p.view, p.by) for p in book.photos("T-040")] == [("cut face", "M1")]
    assert 'alt="cut face"' in entry.uploaded.value
    upload(entry, b"no picture")
    assert "must be a whole JPEG, PNG or WebP picture" in entry.uploaded.value
    assert len(book.photos("T-040")) == 1


def test_another_trial_can_be_found_and_gone_on_with(entry):
    unfold(entry)
    entry.search.value = "cocoa"
    assert [code for _, code in entry.chosen.options] == ["", "T-040", "T-039", "T-027", "T-004"]
    entry.chosen.value = "T-004"
    assert "T-004 Cocoa crust" in entry.heading.value
    assert unfold(entry)["name"].control.value == "Cocoa crust"


def test_doubts_are_shown_and_the_reading_kept(entry, book):
    enter(entry, "height, mm", "44; 44; 44; 44")
    assert "was the caliper stuck?" in entry.heading.value
    assert book.trial("T-040").measured["height"] == (44.0,) * 4


def test_markup_stays_text(book):
    bad = "<img src=x onerror=alert(1)>"
    panel = EntryPanel(book, book.save(Trial.of(bad, "2025-03-04", notes=bad), "M1").code, by="M1")
    panel2 = EntryPanel(book, panel.entry.trial.code, by=bad)
    box = unfold(panel)["notes"]
    enter(panel2, "notes", bad + "2")
    box.control.value = bad + "3"
    assert "<img" not in panel.heading.value
    assert "<img" not in box.note.value
    assert "&lt;img" in box.note.value
