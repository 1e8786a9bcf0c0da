"""Cases written to a file: read back the same, inert in a spreadsheet, whole or not there at all."""

import pytest
from cases_files import jsonl, read, read_back
from hypothesis import given
from hypothesis import strategies as st
from small import HIDDEN, model

from claywit.errors import CasesError, ClaywitError
from claywit.records.cells import inert, inert_column, plain
from claywit.records.writing import write_cases

KNOWN = model()


@pytest.mark.parametrize("kind", ["csv", "tsv", "jsonl", "parquet"])
def test_what_is_written_is_read_back_the_same(tmp_path, kind):
    known = model(HIDDEN)
    text = jsonl(
        {"id": "-1", "group": "=g", "r": "a", "o": "o2", "size": 5.1},
        {"id": "=1+1", "r": "b", "size.h": 0.1 + 0.2, "size.u": 0.05},
        {"id": 'p,"q"', "size": "not_visible"},
    )  # fmt: skip
    blocks, _, _ = read(known, tmp_path / "in.jsonl", text)
    assert write_cases(tmp_path / f"out.{kind}", blocks) == 3
    (back,), rejected, _ = read_back(known, tmp_path / f"out.{kind}")
    assert rejected == []
    assert back.names == blocks[0].names
    assert back.groups == blocks[0].groups
    assert [back.findings(i) for i in range(3)] == [blocks[0].findings(i) for i in range(3)]


def test_a_form_that_only_jsonl_holds_is_refused_elsewhere(tmp_path):
    text = jsonl({"id": "a", "rim": "flat", "rim.sure": 0.9})
    blocks, _, _ = read(KNOWN, tmp_path / "in.jsonl", text)
    with pytest.raises(CasesError, match=r"a: rim is no plain state or value.*\.jsonl"):
        write_cases(tmp_path / "out.csv", blocks)
    assert not (tmp_path / "out.csv").exists()
    write_cases(tmp_path / "out.jsonl", blocks)
    (back,), _, _ = read_back(KNOWN, tmp_path / "out.jsonl")
    assert back.findings(0) == blocks[0].findings(0)


def test_cells_that_a_spreadsheet_would_run_are_inert_and_negative_numbers_stay_numbers(tmp_path):
    known = model(HIDDEN.replace("h: mm", "h: permille").replace("u: {h: 0.1}", "u: {h: 1}"))
    blocks, _, _ = read(known, tmp_path / "in.jsonl", jsonl({"id": "@SUM(A1)", "size.h": -3}))
    write_cases(tmp_path / "out.csv", blocks)
    row = (tmp_path / "out.csv").read_text().splitlines()[1]
    assert row.startswith("'@SUM(A1),")
    assert row.endswith(",-3.0")


@given(st.text())
def test_inert_text_begins_no_formula_and_is_plain_again(text):
    assert not inert(text).startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert plain(inert(text)) == text or "'" in text


def test_text_that_another_spreadsheet_would_cut_into_a_formula_is_inert_too():
    assert inert("a;=1,@b, -2;c") == "a;'=1,'@b, -2;c"
    assert inert("＝1+1") == "'＝1+1"
    assert inert_column(["a", "b;-1", "", "-2"]) == ["a", "b;'-1", "", "'-2"]
    assert inert_column(["p-1", "", "a=b"]) == ["p-1", "", "a=b"]


def test_nothing_to_write_is_an_error_and_leaves_no_file(tmp_path):
    with pytest.raises(ClaywitError, match="there is no piece to write"):
        write_cases(tmp_path / "out.csv", [])
    assert list(tmp_path.iterdir()) == []


def test_an_interruption_leaves_the_old_file(tmp_path):
    out = tmp_path / "out.csv"
    out.write_text("old")
    blocks, _, _ = read(KNOWN, tmp_path / "in.csv", "id,rim\na,flat\n")

    def interrupted():
        yield blocks[0]
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_cases(out, interrupted())
    assert out.read_text() == "old"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["in.csv", "out.csv", "rejects.csv"]
