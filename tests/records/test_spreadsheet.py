"""A question sheet as a table: written, filled in as a spreadsheet saves it, and read."""

import csv
import io

import pytest
from sheets import GATE
from small import model

from claywit.errors import SheetError
from claywit.learning.answers import opinions_of
from claywit.learning.asking import questions
from claywit.learning.blank import Blank, as_yaml
from claywit.learning.sheet import Seed, SeedFile, read_sheet
from claywit.records.sheets import read_party
from claywit.records.spreadsheet import as_table, from_table

SEEDS = SeedFile(format="claywit-seeds/1", seeds=(Seed(id="s", ask="=How many?", truth=3.0),))


def blank(text=GATE, **more):
    known = model(text)
    return Blank(known, "0" * 64, questions(known), SEEDS, **more)


def written(**changes):
    """The table of the gate model, with the numbers of some lines put in."""
    lines = as_table(blank(expert="Edda")).decode("utf-8-sig").splitlines()
    for state, numbers in changes.items():
        at = next(i for i, line in enumerate(lines) if line.endswith(f"c=yes,{state}"))
        lines[at] = lines[at].replace(",,,,,cause", f",{numbers},,cause")
    return "\n".join(lines)


def test_a_blank_table_says_what_the_blank_sheet_says():
    table, _ = from_table(as_table(blank(expert="Edda")), "t.csv")
    sheet, _ = read_sheet(as_yaml(blank(expert="Edda")).encode(), "s.yaml")
    plain = [{**s.model_dump(), "model": None} for s in (table, sheet)]
    assert plain[0] == plain[1]


def test_a_filled_table_becomes_an_opinion(tmp_path):
    path = tmp_path / "edda.csv"
    path.write_text(written(thin="20,30,45", thick="10,20,30"), encoding="utf-8")
    party = read_party(path)
    (only,) = opinions_of(model(GATE), party)
    assert (party.name, only.question.name) == ("Edda", "g, given c=yes")
    assert only.alone.shares == pytest.approx([0.49, 0.31, 0.2], abs=0.03)


def test_a_table_saved_with_semicolons_is_read_the_same():
    text = written(thin="20,30,45", thick="10,20,30")
    one, _ = from_table(text.encode(), "t.csv")
    again = io.StringIO()
    csv.writer(again, delimiter=";").writerows(csv.reader(io.StringIO(text)))
    other, _ = from_table(again.getvalue().encode("utf-8-sig"), "t.csv")
    assert [q.counts for q in one.questions] == [q.counts for q in other.questions]


def test_what_a_spreadsheet_would_run_is_made_inert_and_read_back():
    assert "'=How many?" in as_table(blank()).decode("utf-8-sig")
    assert from_table(as_table(blank()), "t.csv")[0].seeds[0].ask == "=How many?"


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (("question,", "Question,"), r"t\.csv:1: no column question"),
        ((",20,30,45,", ',"20,5",30,45,'), r"t\.csv:\d+: .*decimal comma"),
        ((",20,30,45,", ",20,,45,"), r"t\.csv:\d+: .*no best; fill in all three"),
        ((",20,30,45,", ",20,30,45,,"), r"t\.csv:\d+: 11 cells, and 10 columns"),
        ((",model,", ",modell,"), r"t\.csv"),
    ],
)
def test_a_table_that_cannot_be_read_is_refused_with_its_line(change, message):
    text = written(thin="20,30,45")
    assert change[0] in text
    with pytest.raises(SheetError, match=message):
        from_table(text.replace(*change).encode(), "t.csv")
