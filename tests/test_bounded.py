"""What is far too large is answered or refused: the memory of a process that reads it all grows by 300 MB at most.

The seconds are printed (pytest -s), not asserted.
"""

import json
import os
import re
import subprocess
import sys
import zipfile

import openpyxl
from PIL import Image

MOST = 300  # MB
UNPACKED = 1000 if os.environ.get("KIT_TEST_FULL") == "1" else 300  # MB, of a ZIP file of 1 or 5
LAST = 1_048_576  # rows that XLSX has: ECMA-376, part 1
CHILD = """
import json, re, sys, time
import openpyxl, PIL.Image, kit
from kit import units
from kit.formula import Formula
from kit.trials import TrialBook
from kit.trials.photos import as_stored

kit.predict_yield(Formula.parse("format = 1\\n[pieces]\\ncount = 1\\n[parts.dough.lines]\\nflour = 100"))
def peak():  # not ru_maxrss: that begins with what the process that started this one had
    return int(re.search(r"VmHWM:\\s*(\\d+)", open("/proc/self/status").read())[1])

before = peak()
for path, act in json.loads(sys.argv[1]):
    began = time.perf_counter()
    try:
        said = eval(act)
    except kit.errors.KitError as error:
        said = error
    took = time.perf_counter() - began
    print(json.dumps([round((peak() - before) / 1024), round(took, 2), str(said)]))
"""
SHEET, TRIALS, PHOTO = "Formula.read(path).of_kind('milk')", "len(TrialBook.read(path))", "as_stored(path)[1:]"
BOOK = "TrialBook.open(path + '.db').import_from(path)"
ROWS = [["Ingredient", "Amount"], ["bread flour", 1000], ["milk", 500]]


def workbook(path, change=lambda sheet: None, old=b"", new=b""):
    book = openpyxl.Workbook()
    for row in ROWS:
        book.active.append(row)
    change(book.active)
    book.save(path)
    if old:
        with zipfile.ZipFile(path) as archive:
            members = {name: archive.read(name) for name in archive.namelist()}
        members["xl/worksheets/sheet1.xml"] = members["xl/worksheets/sheet1.xml"].replace(old, new)
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, data in members.items():
                archive.writestr(name, data)


def used_to_the_last_row(path):
    def touch(sheet):
        sheet.cell(LAST, 3).number_format = "0.0"

    workbook(path, touch)


def every_row_touched(path):
    rows = b"".join(b'<row r="%d" s="1"/>' % n for n in range(4, LAST + 1))
    workbook(path, old=b"</sheetData>", new=rows + b"</sheetData>")


def written_in_the_last_row(path):
    workbook(path, lambda sheet: sheet.cell(LAST, 1, "milk"))


def merged_to_the_last_row(path):
    merge = b'<mergeCells count="1"><mergeCell ref="D2:F1048576"/></mergeCells>'
    workbook(path, old=b"</sheetData>", new=b"</sheetData>" + merge)


def _zip_of_spaces(path, name, megabytes):
    with (
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
        archive.open(name, "w", force_zip64=True) as member,
    ):
        for _ in range(megabytes):
            member.write(b" " * 1_000_000)


def sheet_of_spaces(path):
    _zip_of_spaces(path, "xl/worksheets/sheet1.xml", UNPACKED)


def export_of_spaces(path):
    _zip_of_spaces(path, "trials.json", UNPACKED)


def export_of_less(path):
    _zip_of_spaces(path, "trials.json", 100)


def heading(path):
    path.write_text(
        f"Ingredient{' ' * 100_000}x,Amount{' ' * 10_000}(g)\nbread flour,1000\nmilk,500\n", encoding="utf-8"
    )


def title(path):
    path.write_text(
        f"{'1' * 60_000},{'for 1 ' * 10_000}\nIngredient,Amount\nbread flour,1000\nmilk,500\n", encoding="utf-8"
    )


def heading_of_trials(path):
    path.write_text(f"name,date,height{' ' * 100_000},x day{' ' * 100_000}1\na,2025-03-04,42,1\n", encoding="utf-8")


def unit(path):
    path.write_text(f"Ingredient,Amount,Unit\nbread flour,1000,{'g' * 40_000}\nmilk,500,g\n", encoding="utf-8")


def unit_of_trials(path):
    path.write_text(f'name,date,"height, {"m" * 40_000}"\na,2025-03-04,42\n', encoding="utf-8")


def a_million_rows(path):
    path.write_text("Ingredient,Amount\nbread flour,1000\nmilk,500\n" + "x,1\n" * 1_000_000, encoding="utf-8")


def nothing(path):
    path.write_bytes(b"")


# what is too large, what reads it, what is said
CASES = [
    (used_to_the_last_row, SHEET, r"50\.0"),
    (every_row_touched, SHEET, "at most 8 MB once unpacked"),
    (written_in_the_last_row, SHEET, "a sheet of at most 5,000 rows"),
    (merged_to_the_last_row, SHEET, "at most 500,000 merged cells .got 3,145,725"),
    (sheet_of_spaces, SHEET, "at most 8 MB once unpacked"),
    (export_of_spaces, BOOK, "of a size that can be taken in .got [0-9,]+,000,000 bytes"),
    (export_of_less, BOOK, "of a size that can be taken in .got 100,000,000 bytes"),
    (heading, SHEET, "500 without a unit: grams"),
    (title, SHEET, "of more than 300 characters"),
    (heading_of_trials, TRIALS, "'field' must be one of"),
    (unit, SHEET, "of more than 300 characters"),
    (unit_of_trials, TRIALS, "must be in mm or a unit like it"),
    (a_million_rows, SHEET, "at most 2,000 lines"),
    (nothing, "units.read('3 ' + 'g' * 40_000, 'mass')", "in 200 characters"),
    (nothing, "units.read('3 ' + '(' * 20_000 + 'g', 'mass')", "in 200 characters"),
    (nothing, "Formula.parse('x = ' + '[' * 20_000)", "a whole TOML file"),
]  # fmt: skip


def must_say(asked):
    """Ask one process for one thing after the other: {what: (path, act, what it must say)}."""
    todo = json.dumps([[str(path), act] for path, act, _ in asked.values()])
    run = subprocess.run([sys.executable, "-c", CHILD, todo], capture_output=True, text=True)
    assert not run.stderr
    for (what, (_, _, says)), line in zip(asked.items(), run.stdout.splitlines(), strict=True):
        megabytes, took, said = json.loads(line)
        print(f"\n{what}: {megabytes} MB, {took} s: {said[:160]}", end="")
        assert re.search(says, said), what
        assert megabytes <= MOST, what


def test_answered_or_refused_in_little_memory(tmp_path):
    asked = {}
    for n, (make, act, says) in enumerate(CASES):
        path = tmp_path / (f"large{n}.csv" if act in (SHEET, TRIALS) else f"large{n}")
        make(path)
        asked[f"{make.__name__}, {act[:40]}"] = path, act, says
    must_say(asked)


def jpeg(path, width, height, **more):
    Image.new("L", (width, height), 90).save(path, "JPEG", quality=60, **more)


PHOTOS = [
    (16_320, 12_240, {}, r"\(2400, 1800\)"),  # 200 megapixels, 4 to 3
    (9_248, 6_936, {}, r"\(2400, 1800\)"),  # 64
    (20_000, 10_500, {}, "at most 200 million pixels .got 20000 x 10500"),
    (10_000, 7_000, {"progressive": True}, "at most 60 million pixels .got 10000 x 7000 pixels.; .*a plain JPEG"),
]


def test_photos_of_up_to_200_megapixels_are_taken_at_reduced_size(tmp_path):
    asked = {}
    for width, height, more, says in PHOTOS:
        path = tmp_path / f"photo{width}.jpg"
        jpeg(path, width, height, **more)
        asked[f"{width} x {height}"] = path, PHOTO, says
    must_say(asked)
