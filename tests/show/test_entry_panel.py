"""A bake entered: begun as the last one, saved as it is typed, nothing lost, what can't be said in its place."""

import asyncio
import datetime
import io
import json
import re
import subprocess
import sys

import pytest
from PIL import Image

import kit
from kit.show import EntryPanel, entry_panel
from kit.trials import Trial, TrialBook, trial_fields
from kit.trials.printed import BENCH

NOTEBOOKS = kit.places.notebooks()
TODAY = datetime.date.today()


@pytest.fixture
def book(path):
    with TrialBook.open(path) as opened:
        yield opened


@pytest.fixture(scope="module")
def bun():
    return kit.Formula.read(NOTEBOOKS / "formulas" / "crackle_bun.toml")


@pytest.fixture
def entry(book, bun):
    return EntryPanel(book, "T-040", by="M1", formulas=[bun])


def press(panel, what):
    panel.hear({"press": what})


def unfold(panel, title):
    if panel.fold != title:
        press(panel, f"fold {title}")
    return panel.boxes


def place_of(panel, entry):
    """Unfold the part that has an entry, and return its box."""
    for title in ("", *entry_panel.FOLDS):
        if entry in (panel.boxes if not title else unfold(panel, title)):
            return panel.boxes[entry]
    raise AssertionError(f"no box for {entry}")


def enter(panel, entry, text):
    place_of(panel, entry)
    panel.hear({"entry": entry, "text": text})
    return panel.boxes[entry]


def said(panel):
    return panel._keys.said


def photo(colour="red", taken=""):
    out, exif = io.BytesIO(), Image.Exif()
    if taken:
        exif[0x8769] = {0x9003: taken}  # DateTimeOriginal
    Image.new("RGB", (640, 480), colour).save(out, "JPEG", exif=exif)
    return out.getvalue()


def upload(panel, data, name="x.jpg", written=TODAY, pieces=2, left=0):
    at = datetime.datetime.combine(written, datetime.time(14, 5)).timestamp() * 1000
    cut = [data[n * len(data) // pieces : (n + 1) * len(data) // pieces] for n in range(pieces)]
    for n, piece in enumerate(cut, 1):
        about = {"photo": name, "size": len(data), "taken": at, "left": left, "ends": n == pieces}
        panel.hear(about, [memoryview(piece)])


# ---- begun


def test_an_empty_book_begins_with_a_formula_and_then_bakes_again(tmp_path, bun):
    panel = EntryPanel(tmp_path / "our.db", by="M1", formulas=[bun])
    assert "first bake" in panel._live.value
    press(panel, "begin")
    first = panel.entry.trial
    assert (first.name, first.date, first.planned_formula.fingerprint) == (bun.name, TODAY, bun.fingerprint)
    enter(panel, "flour lot", "lot A")
    enter(panel, "height", "42; 43")
    press(panel, "again")
    again = panel.entry.trial
    assert (again.parent, again.value("flour lot"), again.measured) == (first.key, "lot A", {})
    assert again.planned_formula.fingerprint == bun.fingerprint
    press(panel, "fold another bake")
    panel.hear({"entry": "of", "text": first.code})
    press(panel, "begin")
    assert panel.entry.trial.parent == first.key


def test_what_tells_bakes_apart_is_not_cut_and_the_keyboard_begins_where_the_next_is_begun(tmp_path, bun):
    """The list and the head are narrow: the day stands before a name, and a name that is the formula's stands once."""
    panel = EntryPanel(tmp_path / "our.db", by="M1", formulas=[bun])
    press(panel, "begin")
    assert panel._live.value.count(bun.name) == 2  # the tap that opens it, and the head
    again = EntryPanel(tmp_path / "our.db", by="M1", formulas=[bun])
    (first,) = re.findall("<button[^>]* data-first[^>]*>([^<]*)", again._live.value)
    assert first == "another bake"
    press(again, f"fold {entry_panel.ANOTHER}")
    assert f"T-001  {TODAY}, {bun.name}" in again._live.value
    enter(again, "name", "another name")
    assert f"{TODAY}, {bun.name}" in again._live.value.partition("another name</h3>")[2]


def test_the_shelf_is_read_when_another_formula_is_asked_for(tmp_path, monkeypatch):
    monkeypatch.chdir(NOTEBOOKS)
    panel = EntryPanel(tmp_path / "our.db", by="M1")
    assert "new: Cardamom crackle bun<" in panel._live.value
    assert "cocoa" not in panel._live.value
    panel.hear({"entry": "of", "text": entry_panel.MORE})
    (cocoa,) = [name for name in panel._named() if "cocoa" in name]
    panel.hear({"entry": "of", "text": cocoa})
    press(panel, "begin")
    assert panel.entry.trial.planned_formula.name == cocoa
    again = EntryPanel(tmp_path / "our.db")
    press(again, f"fold {entry_panel.ANOTHER}")
    assert again._given == []
    assert "new: a formula …" in again._live.value


def test_who_enters_is_known_from_last_time(tmp_path, bun):
    panel = EntryPanel(tmp_path / "our.db", formulas=[bun])
    press(panel, "begin")
    assert "write your code at the top" in panel._keys.wrong
    panel.hear({"entry": "by", "text": "M7"})
    press(panel, "begin")
    again = EntryPanel(tmp_path / "our.db", formulas=[bun])
    assert (again.by, again.entry.trial.code) == ("M7", "T-001")  # and today's last bake is in hand


def test_as_planned_is_one_tap_and_covers_nothing_that_is_noted(tmp_path, bun):
    """By hand from the formula's file: bulk 75 min, second proof 70 min at 28 °C, oven 180 °C, 16 min; fast 5 + 5."""
    panel = EntryPanel(tmp_path / "our.db", by="M1", formulas=[bun])
    press(panel, "begin")
    assert panel.boxes["bulk time"].hint == "75 planned"
    enter(panel, "proof time", "62")
    before = panel.entry.trial.version
    press(panel, "planned")
    was = panel.entry.trial.controlled
    assert {name: was[name] for name in ("bulk_time", "proof_time", "proof_temperature", "oven_set", "bake_time")} == {
        "bulk_time": 75,
        "proof_time": 62,
        "proof_temperature": 28,
        "oven_set": 180,
        "bake_time": 16,
    }
    assert (was["mix_time_slow"], was["mix_time_fast"], was["preferment_time"]) == (4, 10, 80)
    assert "core_temperature" not in was  # which a thermometer reads
    assert panel.entry.trial.version == before + 1
    assert panel.boxes["bulk time"].text == "75"


def test_what_was_noted_last_time_stands_as_a_hint(entry):
    press(entry, "again")
    unfold(entry, "more")
    assert entry.boxes["room temperature"].hint == "last 20.0"  # as the year's file has it
    assert entry.boxes["room temperature"].text == ""


def test_another_bake_can_be_found_and_gone_on_with(entry):
    entry.hear({"entry": "find", "text": "cocoa"})
    assert re.findall(r'data-press="open (T-\d+)"', entry._live.value) == ["T-039", "T-027", "T-004"]
    press(entry, "open T-004")
    assert "T-004 Cocoa crust" in entry._live.value
    assert unfold(entry, "name, date")["name"].text == "Cocoa crust"
    entry.hear({"entry": "find", "text": "no such <bun>"})
    assert "Nothing found." in entry._live.value


def test_an_unknown_bake_is_refused(book):
    with pytest.raises(kit.errors.UnknownName):
        EntryPanel(book, "T-999")


def test_the_invented_year_is_a_book_of_its_own_to_look_at(tmp_path, bun, monkeypatch):
    monkeypatch.chdir(NOTEBOOKS)
    panel = EntryPanel(tmp_path / "our.db", by="M1", formulas=[bun])
    panel.hear({"entry": "the year", "text": "true"})
    assert "invented year of Tarnholt Bakehouse, to look at" in panel._live.value
    press(panel, "open T-003")
    assert panel.boxes["height"].text.startswith("45.5; 46.5")
    assert re.findall(r"<(?:input|textarea)[^>]*data-entry=\"height\"[^>]*disabled", panel._live.value)
    assert 'data-press="planned"' not in panel._live.value
    panel.hear({"entry": "the year", "text": "false"})
    assert len(panel.own) == 0
    assert "our.db" in panel._live.value


def test_no_chart_and_no_statistics_are_loaded_to_enter_a_bake():
    code = "import sys, kit.show; kit.show.EntryPanel; print([m for m in %r if m in sys.modules])"
    heavy = ("matplotlib", "scipy", "statsmodels", "pandas", "pint")
    done = subprocess.run([sys.executable, "-c", code % (heavy,)], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


# ---- due


def test_what_later_days_ask_for_stands_on_top(tmp_path, bun):
    with TrialBook.open(tmp_path / "our.db") as book:
        for days in (0, 1, 2, 3, 9):
            date = TODAY - datetime.timedelta(days=days)
            book.save(Trial.of(f"bun {days}", date, **{"crumb dent day 0": 9}), "M1")
        panel = EntryPanel(book, "T-001", by="M1", formulas=[bun])
        asked = re.findall(r'data-press="open (T-\d+ [^"]*)"[^>]*>([^<]*)', panel._live.value)
        assert [what for what, _ in asked] == [f"T-00{n} crumb dent day 1" for n in (4, 3, 2)]
        assert [words for _, words in asked[1:]] == [
            "T-003 bun 2: crumb dent day 1 and crumb dent day 2",
            "T-002 bun 1: crumb dent day 1",
        ]
        assert "crumb dent day 1" not in panel.boxes  # of today's bake, tomorrow
        press(panel, "open T-002 crumb dent day 1")
        enter(panel, "crumb dent day 1", "8; 7.5")
        assert book.trial("T-002").readings("crumb dent day 1") == (8, 7.5)
        press(panel, "open T-001")
        assert ">2 bakes</button>" in panel._live.value  # out of the way while one enters
        assert "T-002 bun 1: crumb" not in EntryPanel(book, by="M1")._live.value


# ---- boxes


def test_the_boxes_stand_in_the_order_of_the_page_for_the_bench(entry):
    assert list(entry.boxes)[: len(BENCH)] == list(BENCH)


def test_every_field_of_the_record_has_a_box(book, bun):
    panel, found = EntryPanel(book, "T-040", by="M1", formulas=[bun]), set()
    panel.hear({"entry": "taster", "text": "P1"})
    for title in entry_panel.FOLDS:
        found |= {box.label for box in unfold(panel, title).values()}
    assert [f.words for f in trial_fields().values() if not any(f.words in label for label in found)] == []


def middle(field):
    return "words" if field.unit == "text" else f"{sum(field.usual) / 2:.6g}"


def test_every_box_saves_what_it_says(book):
    panel = EntryPanel(book, book.save(Trial.of("all of it", TODAY - datetime.timedelta(2)), "M1").code, by="M1")
    small_first = ("baked mass", "baked dough mass", "baked topping mass", "specific volume")
    panel.hear({"entry": "taster", "text": "P1"})
    for field in trial_fields().values():
        text = f"{field.usual[0]:g}" if field.words in small_first else middle(field)
        ends = {"series": [f" day {day}" for day in (0, 1, 2)], "sensory": [" by P1"]}.get(field.group, [""])
        for end in ends:
            assert enter(panel, field.words + end, text).said.startswith("saved"), field.words
    trial = TrialBook.open(book._engine.url.database).trial(panel.entry.trial.code)
    for field in trial_fields().values():
        if field.group == "series":
            assert [trial.mean(f"{field.name} day {day}") for day in (0, 1, 2)] == [float(middle(field))] * 3
        elif field.unit == "text":
            assert trial.value(field.name) == "words"
        else:
            wanted = field.usual[0] if field.words in small_first else float(middle(field))
            assert trial.mean(field.name) == pytest.approx(wanted, rel=1e-5)


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("height", "4.2 cm; 43,5", 42.75),
        ("room temperature", "82.4 degF", 28),  # (82.4 - 32) / 1.8
        ("bulk time", "1.5 h", 90),
        ("flour weighed", "2 lb", 907.2),  # the international pound
    ],
)
def test_boxes_take_what_bakers_write(entry, book, name, text, value):
    box = enter(entry, name, text)
    assert book.trial("T-040").mean(name) == pytest.approx(value)
    assert f"read as {box.known}" in box.said
    assert box.text == text  # another key may follow
    assert place_of(EntryPanel(book, "T-040"), name).text == box.known


def test_what_has_two_meanings_is_asked_in_place_and_not_again(entry, book):
    before = book.trial("T-040").version
    box = enter(entry, "height", "4.2")
    assert box.said == "height 4.2 mm: 4.2 cm or 4.2 in?"
    assert [words for _, words in box.choices] == ["4.2 cm", "4.2 in"]
    assert 'class="wrong"' in entry._live.parts[box.place]
    assert "height, mm is not saved" in entry._keys.wrong
    assert book.trial("T-040").version == before
    enter(entry, "height", box.known)
    assert (box.said, box.choices) == ("", ())
    enter(entry, "height", "4.2")
    press(entry, "means 0 height")
    assert book.trial("T-040").measured["height"] == (42.0,)
    assert box.text == "4.2 cm"
    enter(entry, "height", "4.3")  # as answered before
    assert book.trial("T-040").measured["height"] == (43.0,)


def test_words_in_the_box_of_a_figure_go_into_the_notes(entry, book):
    stood = book.trial("T-040").readings("height")
    box = enter(entry, "height", "a bit flat")
    assert [words for _, words in box.choices] == ["into the notes"]
    press(entry, "means 0 height")
    assert book.trial("T-040").notes.endswith("height: a bit flat")
    assert (book.trial("T-040").readings("height"), box.text) == (stood, box.known)


def test_an_entry_can_be_taken_out(entry, book):
    enter(entry, "height", "")
    assert "height" not in book.trial("T-040").measured


def test_the_fields_of_the_kitchen_are_chosen_once_with_some_of_its_own(entry, book):
    press(entry, "fold our fields")
    entry.hear({"entry": "note oven set", "text": "true"})
    entry.hear({"entry": "note diameter", "text": "false"})
    entry.hear({"entry": "field of our own", "text": "shine, mm"})
    again = EntryPanel(book, "T-040", by="M1")
    shown = list(again.boxes)
    assert "diameter" not in shown
    assert shown.index("proof rise") < shown.index("oven set") < shown.index("bake time")
    assert again.boxes["own shine, mm"].label == "shine, mm"
    enter(again, "own shine, mm", "3")
    assert book.trial("T-040").mean("own shine, mm") == 3


# ---- two writers


def test_two_people_at_one_entry_see_both_values_and_choose(entry, book):
    other = EntryPanel(book, "T-040", by="M9")
    enter(other, "height", "44")
    mine = enter(entry, "height", "45")
    assert "M9 entered 44 meanwhile, you 45. Which holds?" in mine.said
    assert [words for _, words in mine.choices] == ["M9: 44", "mine: 45"]
    assert book.trial("T-040").measured["height"] == (44.0,)
    press(entry, "mine height")
    assert book.trial("T-040").measured["height"] == (45.0,)
    theirs = enter(other, "height", "46")
    assert "M1 entered 45 meanwhile" in theirs.said
    press(other, "theirs height")
    assert (book.trial("T-040").measured["height"], theirs.text) == ((45.0,), "45")
    assert theirs.choices == ()


def test_a_conflict_left_open_holds_up_no_other_box(entry, book):
    enter(EntryPanel(book, "T-040", by="M9"), "height", "44")
    mine = enter(entry, "height", "45")
    before = len(book.history("T-040", every=True))
    entry.hear({"entry": "height", "text": "45"})  # the box is left, and its question stays
    assert len(book.history("T-040", every=True)) == before
    enter(entry, "diameter", "99")
    assert book.trial("T-040").measured["diameter"] == (99.0,)
    assert (mine.text, len(mine.choices)) == ("45", 2)
    press(entry, "mine height")
    assert book.trial("T-040").measured["height"] == (45.0,)


def test_what_others_enter_elsewhere_is_taken_over_and_shown(entry, book):
    sent = []
    entry._keys.send = lambda content, *_: sent.append(content)
    enter(EntryPanel(book, "T-040", by="M9"), "height", "44")
    enter(entry, "diameter", "99")
    assert entry.boxes["height"].text == "44"
    assert {"write": {"height": "44"}} in sent
    trial = book.trial("T-040")
    assert (trial.measured["height"], trial.measured["diameter"]) == ((44.0,), (99.0,))


def test_without_a_name_nothing_is_saved_and_with_it_all_that_waits(book):
    panel = EntryPanel(book, "T-040")
    assert panel.by == ""  # nobody has entered yet
    box = enter(panel, "height", "44")
    assert "write your code at the top" in box.said
    panel.hear({"entry": "by", "text": "M7"})
    assert box.said.startswith("saved")
    assert book.history("T-040")[-1].by == "M7"


# ---- nothing is lost


def test_letters_never_signed_come_back_and_nobody_signs_them_unasked(book, path):
    enter(EntryPanel(book, "T-040"), "next change", "too pale")  # no code, and there the power goes
    panel = EntryPanel(book, "T-040", by="M2")
    assert "next change: typed before the stop, not saved" in said(panel)
    box = panel.boxes["next change"]  # in sight, though it is folded away else
    assert (box.text, book.trial("T-040").version) == ("too pale", 1)
    assert "never signed" in box.said
    enter(panel, "next change", "too pale, by a shade")
    assert book.trial("T-040").next_change == "too pale, by a shade"
    assert list(path.parent.glob(".typed*")) == []


def test_nothing_is_lost_when_the_kernel_goes(path):
    book = TrialBook.open(path)
    panel = EntryPanel(book, "T-040", by="M1")
    enter(panel, "height", "44; 45")
    enter(panel, "next change", "hotter by 10 degC")
    with TrialBook.open(path) as again:  # the first was never closed
        other = EntryPanel(again, "T-040")
        assert place_of(other, "height").text == "44; 45"
        assert place_of(other, "next change").text == "hotter by 10 degC"
    book.close()


async def typed(panel, entry, text, rest=None):
    """Type letter by letter, as a browser sends it, in a loop as the kernel's; rest [s] afterwards."""
    place_of(panel, entry)
    for end in range(1, len(text) + 1):
        panel.hear({"entry": entry, "text": text[:end], "rests": False})
    if rest is not None:
        await asyncio.sleep(rest)
    return panel.boxes[entry]


def test_typing_is_saved_once_when_it_rests_and_the_box_is_left_alone(entry, book, monkeypatch):
    monkeypatch.setattr(entry_panel, "PAUSE", 0.02)
    before, sent = book.trial("T-040").version, []
    entry._keys.send = lambda content, *_: sent.append(content)
    box = asyncio.run(typed(entry, "height", "4.4 cm; 45 ", rest=0.3))
    assert book.trial("T-040").measured["height"] == (44, 45)
    assert book.trial("T-040").version == before + 1
    assert box.text == "4.4 cm; 45 "
    assert not any("write" in content for content in sent)


@pytest.mark.parametrize("way", ["open T-004", "planned", "fold more", "again"])
def test_what_waits_is_saved_before_anything_else_is_done(entry, book, way):
    async def act():
        await typed(entry, "proof time", "47")
        press(entry, way)

    asyncio.run(act())
    assert book.trial("T-040").controlled["proof_time"] == 47


def test_letters_not_saved_yet_outlive_kernel_and_browser(entry, book, path):
    asyncio.run(typed(entry, "notes", "ribs sharp, cru"))  # and there the power goes
    assert book.trial("T-040").notes != "ribs sharp, cru"
    book.entry(book.trial("T-040"), "M1").set("mix", "first")
    again = EntryPanel(book, by="M1")  # opens on what was left
    assert again.entry.trial.code == "T-040"
    assert book.trial("T-040").notes == "ribs sharp, cru"
    assert book.history("T-040")[-1].by == "M1"
    assert "notes: typed before the stop, saved now" in said(again)
    assert ">ribs sharp, cru</textarea>" in again._live.value  # the page begins with it
    assert list(path.parent.glob(".typed*")) == []
    assert "typed before" not in said(EntryPanel(book, "T-040", by="M1"))


def test_what_a_browser_kept_while_no_kernel_heard_it_comes_back(book):
    trial = book.trial("T-040")
    kept = {"key": trial.key, "entry": "reason", "text": "too pale", "by": "M1", "stood": trial.reason}
    panel, sent = EntryPanel(book, by="M1"), []
    panel._keys.send = lambda content, *_: sent.append(content)
    panel.hear({"left": [["here", json.dumps(kept)], ["odd", "{"], ["else", '{"key": 1}']]})
    assert book.trial("T-040").reason == "too pale"
    assert panel.entry.trial.code == "T-040"
    assert {"drop": ["here", "odd", "else"]} in sent


def test_what_a_browser_kept_of_a_line_of_the_batch_comes_back(book):
    kept = {"key": book.trial("T-040").key, "entry": "weighed dough egg", "text": "300 g", "by": "M1", "stood": ""}
    panel = EntryPanel(book, by="M1")
    panel.hear({"left": [["here", json.dumps(kept)]]})
    assert book.trial("T-040").weighed_formula.grams["dough"]["egg_whole_fresh"] == pytest.approx(300)
    assert "weighed dough egg: typed before the stop, saved now" in said(panel)


@pytest.mark.parametrize(("heard", "asked"), [("too", False), ("much too pale", True)])
def test_what_a_browser_kept_goes_on_from_what_the_kernel_heard_and_covers_nothing_else(book, heard, asked):
    trial = book.trial("T-040")
    kept = {"key": trial.key, "entry": "notes", "text": "too pale", "by": "M1", "stood": trial.notes}
    panel = EntryPanel(book, "T-040", by="M1")
    enter(panel, "notes", heard)
    panel.hear({"left": [["here", json.dumps(kept)]]})
    assert book.trial("T-040").notes == (heard if asked else "too pale")
    assert bool(panel.boxes["notes"].choices) == asked


def test_each_key_is_answered_when_it_is_kept(entry, path):
    sent = []
    entry._keys.send = lambda content, *_: sent.append((content, len(list(path.parent.glob(".typed*")))))

    async def act():
        entry.hear({"entry": "notes", "text": "r", "number": 7, "rests": False})

    asyncio.run(act())
    assert ({"had": {"notes": 7}}, 1) in sent


def test_what_could_not_be_saved_is_in_its_box_again(entry, book):
    version = book.trial("T-040").version
    asyncio.run(typed(entry, "height", "4.2"))
    again = EntryPanel(book, "T-040", by="M1")
    assert "height: typed before the stop, not saved" in said(again)
    box = again.boxes["height"]
    assert box.text == "4.2"
    assert "4.2 cm or 4.2 in?" in box.said
    assert book.trial("T-040").version == version
    enter(again, "height", box.known)
    assert "typed before" not in said(EntryPanel(book, "T-040", by="M1"))


def test_letters_typed_before_a_stop_do_not_cover_what_another_saved_since(entry, book):
    asyncio.run(typed(entry, "notes", "mine"))
    book.entry(book.trial("T-040"), "M2").set("notes", "theirs")
    for _ in range(3):  # opening adds nothing to the history, however often
        again = EntryPanel(book, "T-040", by="M1")
        assert (book.trial("T-040").notes, len(book.history("T-040", every=True))) == ("theirs", 2)
    assert "notes: typed before the stop, not saved" in said(again)
    assert "M2 entered theirs meanwhile, you mine. Which holds?" in again.boxes["notes"].said
    press(again, "mine notes")
    assert book.trial("T-040").notes == "mine"
    assert "typed before" not in said(EntryPanel(book, "T-040", by="M1"))


def test_nobody_else_saves_what_one_is_typing(entry, book):
    """M1 is half through a number, and two wait for an answer; M2 opens the trial and looks into every part."""

    async def act():
        await typed(entry, "height", "4")
        other = EntryPanel(book, "T-040", by="M2")
        for title in entry_panel.FOLDS:
            unfold(other, title)
        return other

    before = len(book.history("T-040", every=True))
    other = asyncio.run(act())
    assert len(book.history("T-040", every=True)) == before
    enter(other, "notes", "theirs")
    assert "Which holds?" in enter(entry, "notes", "mine").said
    history = [(v.by, v.aside) for v in book.history("T-040", every=True)]
    EntryPanel(book, "T-040", by="M2")
    assert [(v.by, v.aside) for v in book.history("T-040", every=True)] == history
    assert book.trial("T-040").notes == "theirs"


def test_two_may_type_into_one_entry_and_neither_loses_a_letter(entry, book, monkeypatch):
    monkeypatch.setattr(entry_panel, "PAUSE", 60)  # neither rests in between, however slow the machine

    async def act():
        await typed(entry, "notes", "long thoughts of M1")
        await typed(EntryPanel(book, "T-040", by="M2"), "notes", "M2")

    asyncio.run(act())
    EntryPanel(book, "T-040", by="M2")
    assert book.trial("T-040").notes == "M2"
    again = EntryPanel(book, "T-040", by="M1")
    assert again.boxes["notes"].text == "long thoughts of M1"
    assert book.trial("T-040").notes == "M2"


def test_no_letter_is_taken_back_while_one_types(entry, monkeypatch):
    """A saved text, a letter more, that letter gone, and on: the box is never written into."""
    monkeypatch.setattr(entry_panel, "PAUSE", 0.02)
    sent = []
    entry._keys.send = lambda content, *_: sent.append(content)

    async def act():
        await typed(entry, "notes", "ribs short", rest=0.1)
        for text in ("ribs short ", "ribs short n", "ribs short ", "ribs short", "ribs short "):
            entry.hear({"entry": "notes", "text": text, "rests": False})
        await asyncio.sleep(0.1)

    asyncio.run(act())
    assert not any("write" in content for content in sent)
    assert entry.entry.trial.notes == "ribs short"


def test_a_damaged_hidden_file_is_passed_over(entry, book, path):
    asyncio.run(typed(entry, "notes", "mine"))
    (kept,) = path.parent.glob(".typed*")
    for content in ("{", "[]", '{"key": 1}', "\x00"):
        kept.write_text(content)
        assert "typed before" not in said(EntryPanel(book, "T-040"))


# ---- weighed, planned, scored


def test_what_was_weighed_otherwise_is_noted_line_by_line(entry, book):
    """LB-0 style arithmetic by hand: 300 g of egg on the flour of the batch."""
    batch = book.trial("T-040").batch
    box = enter(entry, "weighed dough egg", "300 g")
    trial = book.trial("T-040")
    assert trial.weighed_formula.lines["dough"]["egg_whole_fresh"] == pytest.approx(100 * 300 / batch.flour, abs=1e-3)
    assert trial.weighed_formula.grams["dough"]["salt_table"] == batch.grams["dough", "salt_table"]
    assert trial.controlled["flour_weighed"] == pytest.approx(batch.flour, abs=0.05)
    assert "dough: egg weighed" in entry._live.value
    assert box.hint == f"{batch.grams['dough', 'egg_whole_fresh']:.0f} planned"
    assert place_of(EntryPanel(book, "T-040"), "weighed dough egg").text == "300"
    enter(entry, "weighed dough egg", "0")
    assert place_of(EntryPanel(book, "T-040"), "weighed dough egg").text == "0"
    enter(entry, "weighed dough egg", "")
    assert book.trial("T-040").weighed_otherwise == ()
    assert "must be an amount of 0 or more" in enter(entry, "weighed dough egg", "-3").said


def test_all_weighed_as_planned_is_one_touch(entry, book):
    assert unfold(entry, "weighed")["weighed dough salt"].text == ""
    press(entry, "weighed")
    trial = book.trial("T-040")
    assert trial.weighed_otherwise == ()
    assert entry.boxes["weighed dough salt"].text == f"{trial.batch.grams['dough', 'salt_table']:.10g}"


def test_lines_noted_as_planned_are_shown_as_a_scale_shows_them(book, bun):
    """By hand: 1,452 g of flour give 362.99 g of it to the sponge; what is in the book stays exact."""
    code = book.save(Trial.of("bun", "2025-03-04", formula=bun), "M1").code
    panel = EntryPanel(book, code, by="M1")
    box = enter(panel, "weighed dough fresh yeast", "4,4")
    assert "read as 4.4 g; planned 43.6 g" in box.said  # ten times too little is seen at once
    unfold(panel, "more")
    assert unfold(panel, "weighed")["weighed sponge bread flour"].text == "363"
    weighed = book.trial(code).weighed_formula
    assert weighed.grams["sponge"]["bread_flour_enriched"] == pytest.approx(362.99, abs=0.02)


def test_a_trial_without_a_formula_is_given_one_where_it_is_weighed(book):
    bun = kit.Formula.read(NOTEBOOKS / "formulas" / "crackle_bun_cocoa.toml")
    panel = EntryPanel(book, book.save(Trial.of("no plan", "2025-03-04"), "M1").code, by="M1", formulas=[bun])
    unfold(panel, "weighed")
    assert "enter the formula as planned" in panel._live.value
    panel.hear({"entry": "formula as planned", "text": bun.name})
    assert book.trial(panel.entry.trial.code).planned_formula.fingerprint == bun.fingerprint
    assert "weighed topping cocoa" in panel.boxes


def test_formulas_of_one_name_all_stay_to_be_chosen(book, bun):
    panel = EntryPanel(book, by="M1", formulas=[bun, bun.vary(butter=25), bun])
    names = list(panel._formulas())
    assert len(names) == 2 == len(set(names))
    assert names[1].startswith(bun.name)


def test_what_is_to_be_weighed_is_rounded_as_on_the_production_sheet(book, bun):
    """By hand, on 1,600 g of flour: 0.8 % cardamom is 12.8 g and 1.6 % salt 25.6 g, both to 0.1 g; butter to 1 g."""
    trial = Trial.of("x", "2025-03-04", formula=bun, planned_flour_weighed=1600)
    boxes = unfold(EntryPanel(book, book.save(trial, "M1").code, by="M1"), "weighed")
    for name, grams in (("ground cardamom", "12.8"), ("salt", "25.6"), ("unsalted butter", "288")):
        assert boxes[f"weighed dough {name}"].hint == f"{grams} planned"


def test_scores_are_each_tasters_own(entry, book):
    unfold(entry, "scores")
    assert "liking by P9" not in entry.boxes  # whose it would be is not known
    for taster, score in (("P9", "7"), ("P8", "4")):
        entry.hear({"entry": "taster", "text": taster})
        box = entry.boxes[f"liking by {taster}"]
        assert (box.text, box.hint, box.label) == ("", "1 dislike extremely – 9 like extremely", "liking, 1 to 9")
        enter(entry, f"liking by {taster}", score)
    entry.hear({"entry": "taster", "text": "P9"})
    assert entry.boxes["liking by P9"].text == "7"
    assert re.search(r"Scored so far: .*P8 and P9\.", entry._live.value)
    found = {n.taster: value for n, value in book.trial("T-040").noted.items() if n.name == "liking"}
    assert (found["P8"], found["P9"]) == (4, 7)


def test_corrections_are_seen_and_a_bake_is_withdrawn_and_put_back(entry, book):
    enter(entry, "height", "44")
    unfold(entry, entry_panel.PHOTOS)
    assert re.search(r"<td[^>]*>M1</td><td[^>]*>height</td>.*<td[^>]*>44</td>", entry._live.value)
    press(entry, "withdraw")
    assert "'why' must be given" in entry._keys.wrong
    entry.hear({"entry": "why", "text": "the oven was off"})
    press(entry, "withdraw")
    assert "T-040" not in [found.code for found in book.find(most=100)]
    press(entry, "back")
    assert "T-040" in [found.code for found in book.find(most=100)]


def test_the_page_for_the_bench_has_the_boxes_of_the_panel(entry, path):
    entry.hear({"entry": "note oven set", "text": "true"})
    entry.hear({"entry": "paper", "text": "Letter"})
    press(entry, "bench")
    assert said(entry) == "Written: T-040_bench.html, beside the book."
    written = path.with_name("T-040_bench.html").read_text(encoding="utf-8")
    assert "oven set" in written
    assert "letter" in written.casefold()


# ---- photos


def test_a_bake_that_was_withdrawn_is_found_by_its_code_and_put_back(entry, book):
    unfold(entry, entry_panel.PHOTOS)
    entry.hear({"entry": "why", "text": "the oven stood open"})
    press(entry, "withdraw ")
    entry.go_on("T-039")
    entry.hear({"entry": "find", "text": "t-040"})
    assert "<b>Withdrawn</b>" in entry._live.value
    press(entry, "open T-040")
    unfold(entry, entry_panel.PHOTOS)
    press(entry, "back ")
    assert "T-040" in [trial.code for trial in book.trials()]
    entry.hear({"entry": "find", "text": "T-999"})
    assert "Nothing found." in entry._live.value


def test_a_photo_is_withdrawn_put_back_and_erased(entry, book):
    upload(entry, photo(), written=book.trial("T-040").date)
    (kept,) = book.photos("T-040")
    entry.hear({"entry": "why", "text": "a face in it"})
    press(entry, f"withdraw {kept.digest}")
    assert book.photos("T-040") == []
    assert "withdrawn: " in entry._live.value
    press(entry, f"back {kept.digest}")
    assert len(book.photos("T-040")) == 1
    press(entry, f"erase {kept.digest}")
    assert book.photos("T-040", withdrawn=True) == []
    assert "Not reached: " in said(entry)
    assert "Not reached: " in entry._live.value  # beside the taps, wherever the page is scrolled to
    press(entry, f"fold {entry_panel.PHOTOS}")
    assert "Not reached: " not in entry._live.value


def test_photos_come_in_pieces_and_are_kept_with_their_view(entry, book):
    entry.hear({"entry": "view", "text": "cut face"})
    data = photo()
    day = book.trial("T-040").date
    upload(entry, data, written=day)
    assert [(p.view, p.by) for p in book.photos("T-040")] == [("cut face", "M1")]
    assert 'alt="cut face"' in entry._live.value
    upload(entry, b"no picture", "y.jpg", written=day)
    assert "must be a whole JPEG, PNG or WebP picture" in entry._keys.wrong
    assert len(book.photos("T-040")) == 1


def test_several_photos_go_to_the_bakes_of_their_days(entry, book):
    """By the camera's time where it noted one, else by the file's; a day or two after the bake too."""
    assert (str(book.trial("T-040").date), str(book.trial("T-039").date)) == ("2025-10-28", "2025-10-18")
    later = datetime.date(2026, 1, 9)
    upload(entry, photo("red", "2025:10:29 09:30:00"), "a.jpg", later, left=2)
    upload(entry, photo("blue", "2025:10:18 10:00:00"), "side.jpg", later, left=1)
    upload(entry, photo("green"), "c.jpg", datetime.date(2025, 10, 19))
    assert [p.view for p in book.photos("T-040")] == ["29 Oct 09:30"]
    assert [p.view for p in book.photos("T-039")] == ["side", "19 Oct 14:05"]
    for told in ("a.jpg, taken 29 Oct 09:30, is kept with T-040", "c.jpg, taken 19 Oct 14:05, is kept with T-039"):
        assert told in said(entry)
    unfold(entry, "more")
    upload(entry, photo("white", "2025:10:29 10:30:00"), "d.jpg", later)
    assert said(entry).startswith("d.jpg")


def test_a_photo_of_a_day_without_a_bake_is_said(tmp_path, bun):
    panel = EntryPanel(tmp_path / "our.db", by="M1", formulas=[bun])
    upload(panel, photo())
    assert "x.jpg is not saved: 'x.jpg' must be of a day on which something was baked" in panel._keys.wrong


def test_a_photo_that_is_far_too_large_is_said(entry):
    entry.hear({"photo": "film.jpg", "size": 2e8, "taken": 0, "left": 0, "ends": True}, [memoryview(b"")])
    assert "film.jpg is not saved: 'film.jpg' must be at most 100 MB (got 200.0 MB)" in entry._keys.wrong


def test_the_photos_of_the_folder_are_taken_over_by_one_tap(tmp_path, bun):
    (tmp_path / "photos").mkdir()
    for name in ("a.jpg", "b.JPG", "notes.txt"):
        (tmp_path / "photos" / name).write_bytes(photo(name[0] == "a" and "red" or "blue"))
    (tmp_path / "photos" / "c.png").write_bytes(b"torn")
    panel = EntryPanel(tmp_path / "our.db", formulas=[bun])
    press(panel, "folder")
    assert "write your code at the top" in panel._keys.wrong
    panel.hear({"entry": "by", "text": "M1"})
    press(panel, "folder")
    assert "a.jpg is not saved: 'a.jpg' must be of a day on which something was baked" in panel._keys.wrong
    press(panel, "begin")
    panel = EntryPanel(tmp_path / "our.db", formulas=[bun])
    assert "take over 2 new photos of the folder photos" in panel._live.value  # the torn one has been told
    press(panel, "folder")
    assert len(panel.own.photos("T-001")) == 2
    assert "new photo" not in EntryPanel(tmp_path / "our.db", formulas=[bun])._live.value
    assert sorted(p.name for p in (tmp_path / "photos").glob("[!.]*")) == ["a.jpg", "b.JPG", "c.png", "notes.txt"]


# ---- as text


def test_doubts_are_shown_and_the_reading_kept(entry, book):
    enter(entry, "height", "44; 44; 44; 44")
    assert "was the caliper stuck?" in entry._live.value
    assert book.trial("T-040").measured["height"] == (44.0,) * 4


def test_markup_stays_text(book, bun):
    bad = "<img src=x onerror=alert(1)>"
    code = book.save(Trial.of(bad, TODAY, notes=bad, tags=bad), "M1").code
    panel, other = EntryPanel(book, code, by="M1"), EntryPanel(book, code, by=bad)
    enter(other, "notes", bad + "2")
    box = enter(panel, "notes", bad + "3")
    panel.hear({"entry": "field of our own", "text": f'{bad}"@, mm'})
    for title in entry_panel.FOLDS:
        unfold(panel, title)
        assert "<img src=x" not in panel._live.value
    assert "&lt;img" in panel._live.parts[box.place]


def test_its_picture_where_no_kernel_runs_has_no_box_that_could_be_typed_into(entry):
    html = entry._repr_mimebundle_()["text/html"]
    assert re.findall(r"<(?:input|textarea|select|button|script|style)\b", html) == []
    assert "as planned" in html


def test_baked_again_is_the_bake_in_hand_not_the_newest(path, bun):
    with TrialBook.open(path) as book:
        panel = EntryPanel(book, by="M1", formulas=[bun])
        press(panel, "begin")
        first = panel.entry.trial
        press(panel, "again")
        panel.go_on(first.code)
        press(panel, "again")
        assert panel.entry.trial.parent == first.key
