"""The book keeps every version, shows conflicts, finds and never changes in silence; the same on every store."""

import datetime
import threading

import pytest

from kit.errors import FileError, KitError, UnknownName
from kit.trials import AskedError, ConflictError, Kitchen, Trial, TrialBook, TrialError
from kit.trials.fields import Note
from kit.trials.store import in_file, remembered, removals


def test_what_is_saved_comes_back(book, bake):
    kept = book.save(bake, by="M1")
    assert (kept.code, kept.version) == ("T-001", 1)
    for word in (kept.code, kept.key, "t-001"):
        assert book.trial(word).document() == bake.document()
    assert len(book) == 1
    assert book.trial("T-001").planned_formula.formula.fingerprint == bake.planned_formula.fingerprint


def test_a_correction_is_a_new_version_with_who_and_when(book, bake):
    first = book.save(bake, by="M1")
    second = book.save(first.with_entry("height", [43.0]), by="M2")
    assert book.save(second, by="M2").version == 2  # nothing new to say
    one, two = book.history("T-001")
    assert (one.by, two.by) == ("M1", "M2")
    assert one.trial.measured["height"] == (42.0, 43.5)
    assert two.trial.measured["height"] == (43.0,)
    now = datetime.datetime.now(datetime.UTC)
    assert abs((now - datetime.datetime.fromisoformat(two.at)).total_seconds()) < 600
    with pytest.raises(TrialError, match="by"):
        book.save(first, by="")


def test_two_people_at_one_trial(book, bake):
    """The second is shown the conflict, and what both wrote is in the book."""
    base = book.save(bake, by="M1")
    book.save(base.with_entry("height", [44.0]).with_entry("notes", "theirs"), by="M1")
    mine = base.with_entry("diameter", [86.0]).with_entry("notes", "mine")
    with pytest.raises(ConflictError, match="saved by M1 .* also changed notes.*; .* version 3, set aside") as shown:
        book.save(mine, by="M2")
    assert book.trial("T-001").notes == "theirs"
    assert [v.aside for v in book.history("T-001", every=True)] == [False, False, True]
    assert book.history("T-001")[1].trial.notes == "mine"
    assert shown.value.yours.notes == "mine"
    assert shown.value.both == ("notes",)
    merged = book.save(shown.value.merged(), by="M2")
    assert (merged.measured["height"], merged.measured["diameter"], merged.notes) == ((44.0,), (86.0,), "theirs")
    assert merged.version == 4


def test_a_new_trial_that_was_saved_before_under_its_key_is_set_aside(book, bake):
    """Common practice, no source: nothing of either is lost."""
    book.save(bake, by="M1")
    with pytest.raises(ConflictError, match="read from .0. .got version 1, saved by M1") as shown:
        book.save(bake.with_entry("diameter", [85.0]), by="M2")
    assert shown.value.merged().measured == {"height": (42.0, 43.5), "diameter": (85.0,)}
    assert [v.aside for v in book.history("T-001")] == [False, True]


def test_merging_reaches_scores_days_and_what_was_taken_out(book, bake):
    base = book.save(bake.with_entry("liking by P1", 5).with_entry("crumb dent day 1", [8]), by="M1")
    book.save(base.with_entry("liking by P2", 7).with_entry("crumb dent day 2", [6]), by="M1")
    mine = base.with_entry("liking by P1", 6).with_entry("crumb dent day 1", None).with_entry("reason", "soft")
    with pytest.raises(ConflictError) as shown:
        book.save(mine, by="M2")
    merged = shown.value.merged()
    assert sorted(merged.readings("liking")) == [6, 7]
    assert merged.value("crumb dent day 2") == (6.0,)
    assert merged.value("crumb dent day 1") is None
    assert merged.reason == "soft"
    assert shown.value.both == ()


def test_each_field_is_saved_as_it_is_entered(book, bun):
    entry = book.entry(Trial.of("bun", "2025-03-04", formula=bun), by="M1")
    entry.set("height", "42; 43")
    with pytest.raises(TrialError, match="mm or cm"):
        entry.set("diameter", 8.4)
    entry.set("diameter", "8.4 cm")
    assert book.trial("T-001").measured == {"height": (42.0, 43.0), "diameter": (84.0,)}
    assert [len(v.trial.measured) for v in book.history("T-001", every=True)] == [0, 1, 2]


def test_two_people_entering_different_fields_do_not_disturb_each_other(book, bake):
    kept = book.save(bake, by="M1")
    one, other = book.entry(kept, by="M1"), book.entry(kept, by="M2")
    one.set("diameter", [85.0])
    other.set("room temperature", 22)
    one.set("oven set", 180)
    assert book.trial("T-001").document() == one.trial.document()
    assert not any(v.aside for v in book.history("T-001"))
    other.set("height", [44.0])
    with pytest.raises(ConflictError):
        one.set("height", [45.0])
    assert one.set("bake time", 16).measured["height"] == (44.0,)


def test_two_people_in_the_same_instant(book, bake):
    """Both read before either writes; different fields merge without a word."""
    kept = book.save(bake, by="M1")
    one, other = book.entry(kept, by="M1"), book.entry(kept, by="M2")
    threads = [
        threading.Thread(target=entry.set, args=args)
        for entry, args in ((one, ("diameter", [85.0])), (other, ("room temperature", 22)))
    ]
    [thread.start() for thread in threads]
    [thread.join() for thread in threads]
    standing = book.trial("T-001")
    assert not any(v.aside for v in book.history("T-001", every=True))
    assert (standing.measured["diameter"], standing.controlled["room_temperature"]) == ((85.0,), 22.0)


def test_a_prediction_stays_as_it_was_before_the_bake(book, bun):
    kept = book.save(Trial.of("bun", "2025-03-04", formula=bun, predicted_height=(43, 41, 45)), by="M1")
    kept = book.save(kept.with_entry("predicted height", (44, 42, 46)), by="M1")
    kept = book.save(kept.with_entry("height", [40.0]), by="M1")
    with pytest.raises(TrialError, match="before the bake is measured"):
        book.save(kept.with_entry("predicted height", (40, 39, 41)), by="M1")
    assert book.trial("T-001").value("predicted height") == (44.0, 42.0, 46.0)


def test_finding(book, bun):
    rich = bun.vary(butter=22)
    first = book.save(Trial.of("Crème crust", "2025-03-04", formula=bun, verdict="keep", notes="Ribs sharp"), by="M1")
    book.save(Trial.of("More butter", "2025-04-04", formula=rich, parent=first, flour_lot="lot B"), by="M1")
    book.save(Trial.of("More sugar", "2025-05-04", formula=bun, verdict="drop", notes="it's 100% OR NOT"), by="M1")
    names = lambda **how: [found.name for found in book.find(**how)]  # noqa: E731
    assert names() == ["More sugar", "More butter", "Crème crust"]
    assert names(text="more") == ["More sugar", "More butter"]
    assert names(text="butt mor") == ["More butter"]
    assert names(text="ribs") == ["Crème crust"]
    assert names(text="creme") == names(text="CRÈME") == ["Crème crust"]
    assert names(text="lot b") == ["More butter"]
    assert names(text="CRACKLE bun") == ["More sugar", "More butter", "Crème crust"]
    assert names(text="nothing such") == []
    for odd in ('"', "'", "100% OR", "it's", "a AND", "NEAR(", "*", ":", "&", "!", "(", "\\", "--"):
        book.find(odd)
    assert names(since="2025-04-04") == ["More sugar", "More butter"]
    assert names(text="drop") == ["More sugar"]
    assert names(formula=rich) == ["More butter"]
    assert names(most=1) == ["More sugar"]
    book.save(book.trial("T-003").with_entry("notes", "crumb tight"), by="M1")
    assert names(text="tight") == ["More sugar"]
    assert names(text="100") == []


def test_many_at_once_in_the_order_asked_for(book, bake):
    for n in range(5):
        book.save(Trial.of(f"bun {n}", f"2025-03-{9 - n:02d}"), by="M1")
    assert [t.name for t in book.trials(["T-004", "T-001", book.trial("T-003").key])] == ["bun 3", "bun 0", "bun 2"]
    assert [t.name for t in book.trials()] == ["bun 4", "bun 3", "bun 2", "bun 1", "bun 0"]
    with pytest.raises(UnknownName, match="T-099"):
        book.trials(["T-001", "T-099"])
    with pytest.raises(UnknownName, match="save it first"):
        book.history(bake)


NASTY = {
    "markup": "<script>alert('x')</script><b onclick=x>&amp;",
    "sql": "'); DROP TABLE trials; --",
    "spreadsheet": "=HYPERLINK(\"http://x\")",
    "emoji": "🥐👩‍🍳 ½ ﬁ 𝔟",
    "right to left": "לחמנייה عجينة ‮txt",
    "combining": "e\u0301 Å\u0345",
    "lines": "one\ntwo\ttabs",
}  # fmt: skip


@pytest.mark.parametrize("text", NASTY.values(), ids=NASTY)
def test_text_is_text(book, text):
    kept = book.save(Trial.of("bun", "2025-03-04", notes=text, **{f"liking by {text.split()[0]}": 5}), by="M1")
    name = " ".join(text.split())
    kept = book.save(kept.with_entry("name", name), by=name)
    assert book.trial("T-001").notes == text.strip()
    assert book.trial("T-001").name == name
    assert book.history("T-001")[-1].by == name
    assert [found.name for found in book.find(text)] == [name]
    for shown in (book._repr_html_(), kept._repr_html_()):
        assert "<script>" not in shown
        assert "<b onclick" not in shown


def test_a_megabyte_of_text(book):
    text = "crumb was soft and the ribs were sharp " * 27_000
    assert len(text) > 1_000_000
    book.save(Trial.of("bun", "2025-03-04", notes=text), by="M1")
    assert book.trial("T-001").notes == text.strip()
    assert len(book.find("ribs sharp")) == 1


def test_an_empty_book_says_what_to_do(book):
    assert "kit.show.EntryPanel(book)" in book._repr_html_()
    assert book.find() == []
    assert book.trials() == []


def test_opened_again_it_holds_the_same(store, bake):
    with TrialBook.open(store) as book:
        book.save(bake, by="M1")
    with TrialBook.open(store) as book:
        assert book.trial("T-001").document() == bake.document()


def test_a_newer_book_is_refused_untouched(store, bake, monkeypatch):
    from kit.trials import store as module

    monkeypatch.setattr(module, "SCHEMA", 2)
    monkeypatch.setattr(module.trials, "comment", module.COMMENT.format(2))
    TrialBook.open(store).close()
    monkeypatch.undo()
    with pytest.raises(FileError, match="of schema 1 .got schema 2.; update the kit"):
        TrialBook.open(store)


def test_a_book_made_before_it_could_remember_opens(store, bake):
    with TrialBook.open(store) as book:
        book.save(bake, by="M1")
        with book._writing() as connection:
            for table in (remembered, removals):
                table.drop(connection)
    for _ in range(2):
        with TrialBook.open(store) as book:
            assert book.trial("T-001").document() == bake.document()
            book.remember(entered_by="M1")
            assert book.kitchen.entered_by == "M1"


def test_codes_and_dates_are_found(book):
    for day in ("2025-03-04", "2025-03-31", "2025-04-01"):
        book.save(Trial.of(f"bun {day[5:7]}", day), by="M1")
    book.save(Trial.of("again", "2026-01-01", notes="like T-001 of 2025-03"), by="M1")
    codes = lambda text: [found.code for found in book.find(text)]  # noqa: E731
    assert codes("T-002") == codes("t-2") == ["T-002"]
    assert codes("T-001") == ["T-004", "T-001"]
    assert codes("2025-03") == ["T-004", "T-002", "T-001"]
    assert codes("2025-04-01") == ["T-003"]
    assert codes("bun 2025-03") == ["T-002", "T-001"]
    assert codes("bun T-003") == ["T-003"]
    assert codes("T-099") == codes("2025-02") == codes("2025-99") == []


def test_what_cannot_be_searched_for_is_refused(book, bake):
    book.save(bake, by="M1")
    for wrong, says in (({"most": 0}, "'most'"), ({"most": "x"}, "'most'"), ({"text": 5}, "'text'"),
                        ({"since": "March"}, "'date'")):  # fmt: skip
        with pytest.raises(KitError, match=says):
            book.find(**wrong)
    assert [found.code for found in book.find(None)] == ["T-001"]


@pytest.mark.parametrize("trial", ["x", None, 5])
def test_only_a_trial_is_saved(book, trial):
    for use in (book.save, book.entry):
        with pytest.raises(TrialError, match="'trial' must be a Trial"):
            use(trial, by="M1")
    with pytest.raises(UnknownName, match="trial"):
        book.history(trial)


@pytest.mark.parametrize(
    "measured", [{"height": [40.0]}, {"crumb dent day 1": [8.0]}, {"liking by P1": 7}], ids=["size", "day", "score"]
)
def test_a_prediction_is_not_let_in_by_taking_the_measurements_out(book, measured):
    kept = book.save(Trial.of("bun", "2025-03-04"), by="M1")
    ((entry, value),) = measured.items()
    kept = book.save(kept.with_entry(entry, value), by="M1")
    kept = book.save(kept.with_entry(entry, None), by="M1")
    assert kept.document().keys() == {"format", "key", "name", "date"}
    with pytest.raises(TrialError, match="before the bake is measured"):
        book.save(kept.with_entry("predicted height", (40, 39, 41)), by="M1")
    assert book.trial("T-001").value("predicted height") is None


def test_a_decision_closes_a_trial_in_one_line(book, bake):
    """Who and when stand with it, in the list and in the tree; a later one is a later version."""
    book.save(bake, by="M1")
    assert [found.decision for found in book.find()] == [""]
    closed = book.decide("T-001", "keep", "softer on\nday 2", by="K2")
    today = datetime.date.today().isoformat()
    line = f"keep: softer on day 2 (K2, {today})"
    assert closed.decision == book.trial("T-001").decision == line
    assert [found.decision for found in book.find()] == [line]
    assert line in book._repr_html_()
    assert line in book.lineage().tables()[0][1][0]
    assert Trial.from_document(closed.document()).document() == closed.document()
    book.decide("T-001", "drop", "too sweet", by="M1")
    assert [found.decision for found in book.find("sweet drop")] == [f"drop: too sweet (M1, {today})"]
    for verdict, words, by in (("kep", "x", "M1"), ("keep", " ", "M1"), ("keep", "x", "")):
        with pytest.raises(KitError):
            book.decide("T-001", verdict, words, by)
    assert book.trial("T-001").verdict == "drop"


def test_the_book_remembers_its_kitchen(store, bake):
    with TrialBook.open(store) as book:
        assert book.kitchen == Kitchen()
        book.remember(fields=["dough_temperature", "Own Shine, L*", "crumb dent day 1"], tags=["butter", "Monday"])
        book.remember(entered_by="M1", answers={"day or month first": "day"})
    with TrialBook.open(store) as book:
        there = book.kitchen
        assert there.fields == ("dough temperature", "own shine, L*", "crumb dent day 1")
        assert there.tags == ("butter", "Monday")
        assert there.entered_by == "M1"
        assert there.answers == (("day or month first", "day"),)
        with pytest.raises(UnknownName, match="did you mean height"):
            book.remember(fields=["heigt"])
        assert book.kitchen == there


def test_a_field_of_the_kitchens_own_holds_readings_or_words(book, bake):
    bake = bake.with_entry("own shine, 0 to 10", "7; 8").with_entry("own filling", "date paste")
    bake = bake.with_entry("own shred length, cm", "4.5").with_entry("tags", "butter, Monday , butter")
    saved = book.save(bake, by="M1")
    assert saved.readings("own shine, 0 to 10") == (7.0, 8.0)
    assert saved.value("own filling") == "date paste"
    assert saved.readings("own shred length, cm") == (4.5,)
    assert saved.tags == "butter, Monday"
    assert Note.of("own shred length, cm").field.words == "shred length"
    assert Trial.from_document(saved.document()).document() == saved.document()
    assert [found.code for found in book.find("monday paste")] == ["T-001"]
    with pytest.raises(TrialError, match="a score from 0 to 10"):
        bake.with_entry("own shine, 0 to 10", "12")
    with pytest.raises(TrialError, match="note it as height"):
        bake.with_entry("own height, mm", "12")
    with pytest.raises(TrialError, match="'own shine, mm'"):
        bake.with_entry("own , mm", "12")


def test_a_version_is_what_somebody_finished(book, bake, monkeypatch):
    """Each save is kept; told is the last before a pause of minutes or before another's."""
    at = datetime.datetime(2025, 3, 4, 9, tzinfo=datetime.UTC)
    monkeypatch.setattr("kit.trials.book._now", lambda: at.isoformat(timespec="milliseconds"))
    entry = book.entry(bake, by="M1")
    for minutes, reading in ((0, "41"), (1, "40"), (2, "45"), (30, "44")):
        at = datetime.datetime(2025, 3, 4, 9, minutes, tzinfo=datetime.UTC)
        entry.set("bulk time", reading)
    book.entry(entry.trial, by="M2").set("bulk time", 60)
    told = [(v.by, v.trial.value("bulk_time")) for v in book.history("T-001")]
    assert told == [("M1", 45), ("M1", 44), ("M2", 60)]
    assert len(book.history("T-001", every=True)) == 6
    seen = [(c.by, c.what, c.was, c.now) for c in book.corrections("T-001").changes]
    assert seen == [("M1", "bulk time", "45", "44"), ("M2", "bulk time", "44", "60")]


def test_corrections_say_from_what_to_what(book, bake):
    first = book.save(bake, by="M1")
    assert book.corrections("T-001").words == "Nothing was corrected."
    second = book.save(first.with_entry("height", [43.0]).with_entry("diameter", 86), by="M2")
    book.save(second.with_entry("notes", None).with_entry("crumb dent day 1", [8]), by="M3")
    with pytest.raises(ConflictError):
        book.save(first.with_entry("notes", "mine"), by="M4")
    seen = [(c.by, c.what, c.was, c.now) for c in book.corrections("T-001").changes]
    assert seen == [  # what is noted for the first time is no correction
        ("M2", "height", "42; 43.5", "43"),
        ("M3", "notes", "ribs sharp", "nothing"),
        ("M4", "notes", "", "mine, set aside"),  # nothing stood any more
    ]
    assert book.corrections("T-001").words == "3 corrections: height and notes."
    (table,) = book.corrections("T-001").tables()
    assert table[0] == ("when", "by", "what", "from", "to")


def test_a_trial_is_withdrawn_and_put_back(store, bake):
    with TrialBook.open(store) as book:
        book.save(bake, by="M1")
        book.save(Trial.of("other", "2025-03-05"), by="M1")
        with pytest.raises(TrialError, match="'why' must be given"):
            book.withdraw("T-001", " ", by="M1")
        book.withdraw("T-001", "the wrong flour", by="M2")
    with TrialBook.open(store) as book:
        assert ([t.code for t in book], len(book), [f.code for f in book.find()]) == (["T-002"], 1, ["T-002"])
        assert book.find("ribs") == []
        assert [t.code for t in book.trials(withdrawn=True)] == ["T-001", "T-002"]
        assert book.trial("T-001").notes == "ribs sharp"  # who asks for it by its code sees it
        assert [(c.by, c.what, c.now) for c in book.corrections("T-001").changes] == [
            ("M2", "the trial", "withdrawn: the wrong flour")
        ]
        book.put_back("T-001", by="M1")
        assert len(book) == len(book.find()) == 2
        assert book.removals("T-001")[-1].what == "put back"


def test_what_is_asked_once_is_remembered_in_the_book(store, bake):
    with TrialBook.open(store) as book:
        entry = book.entry(bake, by="M1")
        with pytest.raises(AskedError) as asked:
            entry.set("height", "42,43")
        assert book.trial("T-001").measured["height"] == (42.0, 43.5)
        entry.set("height", entry.answered("height", asked.value.asking, "several"))
        assert book.trial("T-001").measured["height"] == (42, 43)
    with TrialBook.open(store) as book:
        entry = book.entry(book.trial("T-001"), by="M2")
        assert entry.set("diameter", "85,86").measured["diameter"] == (85, 86)
        assert entry.set("height", "42,5").measured["height"] == (42.5,)
        with pytest.raises(AskedError) as asked:
            entry.set("dough temperature", "27 after mixing")
        assert asked.value.asking.labels == ("27 °C, the rest into the notes",)
        text = entry.answered("dough temperature", asked.value.asking, "the rest into the notes")
        changed = entry.set("dough temperature", text)
        assert changed.value("dough temperature") == 27
        assert changed.notes == "ribs sharp\ndough temperature: 27 after mixing"
        with pytest.raises(AskedError) as asked:
            entry.set("date", "3/4/2025")
        entry.answered("date", asked.value.asking, "the day first")
        assert entry.set("date", "3/4/2025").date == datetime.date(2025, 4, 3)


def test_what_two_enter_apart_must_be_possible_together(book, bun):
    """A law: no source. 62 g baked from 60 g can't be, whoever weighed which."""
    kept = book.save(Trial.of("bun", "2025-03-04", formula=bun), by="M1")
    one, other = book.entry(kept, by="M1"), book.entry(kept, by="M2")
    one.set("baked dough mass", 62)
    with pytest.raises(TrialError, match="no more than the raw piece"):
        other.set("piece mass", 60)
    assert book.trial("T-001").controlled == {}


def test_what_is_erased_from_a_file_is_written_over(tmp_path):
    """SQLite's own documentation of the pragma: deleted content is overwritten with zeros."""
    with in_file(tmp_path / "erased.db").connect() as connection:
        assert connection.exec_driver_sql("PRAGMA secure_delete").scalar() == 1
