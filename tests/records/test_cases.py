"""A file of cases is read whole, whatever is in it: every piece is used, or rejected with a reason."""

import csv
import io
import tracemalloc

import numpy as np
import pytest
from cases_files import jsonl, read, read_back
from hypothesis import given, settings
from hypothesis import strategies as st
from small import HIDDEN, model

from claywit.errors import CasesError, ClaywitError
from claywit.records import delimited
from claywit.records import jsonl as lines_of_json
from claywit.records.cases import read_cases
from claywit.records.cells import inert, inert_column, plain
from claywit.records.parquet import read_parquet
from claywit.records.rejects import Rejects
from claywit.records.writing import write_cases

KNOWN = model()


def reasons(rejected):
    return {row[1]: row[2] for row in csv.reader(rejected)}


# What is wrong with the whole file: one clear error.


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("id,rmi\na,flat\n", "c.csv:1: no node rmi in the model; did you mean rim?"),
        ("id,colour\na,red\n", "no node colour in the model; known: shop, rim, mark, seal, wear, id, group; a column of remarks begins with #"),
        ("id,rim.sur\na,0.9\n", "rim has no sur; did you mean rim.sure?"),
        ("rim\nflat\n", "no column id, the name of each piece"),
        ("id,rim,rim\na,flat,flat\n", "column rim stands twice; keep one"),
        ("id,id\na,b\n", "column id stands twice; keep one"),
        ("id,rim,\na,flat,\n", "column 3 has no name; give it one, or remove it"),
        ("", "no head; the first line names the columns"),
        ("\n\n", "no head"),
        ('id,"rim\na,flat\n', "a quotation mark is not closed in the first line"),
        ("id,rim\ra,flat\r", "lines end in a carriage return alone"),
        ("id,rim\na,flat\n".encode("utf-16"), "not UTF-8 text; save the file as CSV UTF-8"),
        (b"id,ri\0m\n", "not UTF-8 text"),
        (b"id,r\xffm\n", "not UTF-8 text"),
        (b"x" * 1_000_001, "the first line is longer than 1,000,000 bytes"),
        ("id," + ",".join(f"#{i}" for i in range(5000)), "5,001 columns; at most 5,000 are read"),
    ],
)  # fmt: skip
def test_a_head_that_does_not_fit_is_one_clear_error(tmp_path, text, said):
    with pytest.raises(CasesError, match=r".") as wrong:
        read(KNOWN, tmp_path / "c.csv", text)
    assert said in str(wrong.value)
    assert "\n" not in str(wrong.value)
    assert not (tmp_path / "rejects.csv").exists()


def test_two_columns_that_say_the_same_are_refused(tmp_path):
    with pytest.raises(CasesError, match=r"columns size\.u and size\.h\.u say the same; keep one"):
        read(model(HIDDEN), tmp_path / "c.csv", "id,size.u,size.h.u\n")


def test_a_file_of_an_unknown_kind_or_none_at_all_is_refused(tmp_path):
    with pytest.raises(CasesError, match=r"end its name in one of \.csv, \.tsv, \.jsonl"):
        list(read_cases(tmp_path / "c.xls", KNOWN))
    with pytest.raises(CasesError, match="cannot be read: No such file"):
        list(read_cases(tmp_path / "c.csv", KNOWN))
    (tmp_path / "c.parquet").write_bytes(b"PAR1 or not")
    with pytest.raises(CasesError, match="not readable as Parquet"):
        list(read_cases(tmp_path / "c.parquet", KNOWN))


# What is wrong with a piece: it is rejected, and the others are used.

LINES = [
    ("a,flat,absent", ""),
    ("b,flatt,absent", "rim: no state flatt; did you mean flat?"),
    ("c,flat", "2 cells, too few: the first line names 3 columns"),
    ("d,flat,absent,x", "4 cells, too many"),
    (",flat,absent", "no id; give each piece its name"),
    ("a,bevelled,absent", "this id was used before in the file"),
    ("e,fl\0at,absent", "holds a NUL byte"),
    ("f,fl\udcffat,absent", "not UTF-8 text"),
    ("g,flat," + "x" * 1_000_000, "a line of more than 1,000,000 bytes"),
    ("h,flat," + "x" * 300, "mark: 300 characters in one cell"),
    ("i" * 121 + ",flat,", "an id of 121 characters; at most 120 are read"),
    ("j\u200f,flat,", "the id holds a character that cannot be printed"),
    ('"k,flat,absent', "a quotation mark is not closed"),
    ('"l",flat,"absent"', ""),
    ('"m ""the"" one",flat,', ""),
    (" n , flat ,", ""),
    ("o,not_visible,", "rim: has no visibility in this model"),
]


def hostile():
    text = "".join(f"{line}\n" for line, _ in LINES)
    return b"id,rim,mark\n" + text.encode("utf-8", "surrogateescape")


@pytest.mark.parametrize("block", [1, 3, 10_000])
def test_every_piece_is_used_or_rejected_with_its_line_and_reason(tmp_path, block):
    blocks, rejected, account = read(KNOWN, tmp_path / "c.csv", hostile(), block=block)
    assert [name for b in blocks for name in b.names] == ["a", "l", 'm "the" one', "n"]
    rows = {int(row[0]): row[2] for row in csv.reader(rejected)}
    wrong = {i: said for i, (_, said) in enumerate(LINES, 2) if said}
    assert rows.keys() == wrong.keys()
    assert [said for i, said in wrong.items() if said not in rows[i]] == []
    assert (account.read, account.used, account.rejected) == (len(LINES), 4, len(wrong))


def test_without_a_reject_file_the_first_bad_piece_is_an_error(tmp_path):
    path = tmp_path / "c.csv"
    path.write_text("id,rim\na,flat\nb,flatt\n")
    with pytest.raises(CasesError, match=r"c\.csv:3: b: rim: no state flatt; did you mean flat\?"):
        list(read_cases(path, KNOWN))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("{", "not readable as JSON"),
        ("[1]", "one JSON object is expected"),
        ('{"id": "x", "rim": "flat", "rim": "flat"}', "key rim stands twice in one object; keep one"),
        ('{"id": "x", "rmi": "flat"}', "no node rmi in the model; did you mean rim?"),
        ('{"id": "x", "rim": NaN}', "NaN is no number; write one, or leave it out"),
        ('{"id": "x", "rim": ["flat"]}', "rim: "),
        ('{"id": "x", "rim": true}', "found True; a state is expected"),
        ('{"id": "x", "rim": {"state": "flat", "sur": 1}}', "rim: sur is no key of a finding; did you mean sure?"),
        ('{"id": "x", "rim": {"state": "flat", "sure": 2}}', "rim: found 2, must be at most 1"),
        ('{"rim": "flat"}', "no id"),
        ("[" * 100_000, "nested too deep"),
        ('{"id": "x", "rim": ' + "9" * 5000 + "}", "a number of 5,000 digits; at most 400 are read"),
        ('{"id": "x", "rim": "\\ud800"}', "half a character (a lone surrogate)"),
        ('{"id": "x", "rim": 1e999}', "the number 1e999 is larger than any that can be held"),
    ],
)  # fmt: skip
def test_a_line_of_json_that_does_not_fit_is_rejected(tmp_path, line, said):
    text = f"{line}\n" + jsonl({"id": "good", "rim": "flat"})
    blocks, rejected, account = read(KNOWN, tmp_path / "c.jsonl", text)
    assert blocks[0].names == ("good",)
    assert said in rejected[0]
    assert (account.read, account.used, account.rejected) == (2, 1, 1)


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        ("-5", "size: -5 mm must be above 0"),
        ("nan", "'nan' is not a measure"),
        ("1e999", "too large"),
        ("5_5", "unit _5 is not known"),
        ("5 g", "is a mass; expected a value in mm"),
        ("1e8 m", "is no size of a piece"),
        ("٥", "not a plain decimal number"),
    ],
)
def test_a_measure_that_is_none_is_rejected(tmp_path, cell, said):
    _, rejected, _ = read(model(HIDDEN), tmp_path / "c.csv", f"id,size\na,{cell}\nb,5\n")
    assert said in rejected[0]


def test_a_decimal_comma_is_named_where_columns_are_parted_by_semicolons(tmp_path):
    blocks, rejected, _ = read(model(HIDDEN), tmp_path / "c.csv", "\ufeffid;size\na;5,5\nb;5.5\n")
    assert "5,5 has a decimal comma; write 5.5" in rejected[0].replace("'", "")
    assert blocks[0].names == ("b",)


def test_a_remark_may_run_across_lines_and_a_stray_mark_costs_one_piece(tmp_path):
    text = 'id,rim,#note\na,flat,"one\ntwo, ""three"""\nb,"flat,\nc,flat,"x\ny"\nd,flat,\n'
    blocks, rejected, account = read(KNOWN, tmp_path / "c.csv", text)
    assert blocks[0].names == ("a", "c", "d")
    assert rejected == ["4,,a quotation mark is not closed"]
    assert (account.read, account.used) == (4, 3)


def test_an_id_that_comes_again_blocks_later_is_rejected(tmp_path):
    text = "id,rim\n" + "".join(f"p{i % 70},flat\n" for i in range(100))
    blocks, rejected, account = read(KNOWN, tmp_path / "c.csv", text, block=7)
    assert sum(len(block) for block in blocks) == 70
    assert len(rejected) == 30
    assert account.rejected == 30


def test_a_long_file_is_read_in_bounded_memory(tmp_path):
    path = tmp_path / "c.csv"
    with path.open("w") as file:
        file.write("id,rim\n")
        file.writelines(f"p{i},flat\n" for i in range(60_000))
        file.write("x" * 10_000_000)
    tracemalloc.start()
    blocks = read_cases(path, KNOWN, block=1_000)
    with pytest.raises(CasesError, match="a line of more than"):
        for _ in blocks:
            pass
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 8_000_000


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=400), st.sampled_from(["csv", "jsonl"]))
def test_no_bytes_are_ever_a_crash_and_the_account_balances(tmp_path_factory, content, kind):
    path = tmp_path_factory.mktemp("any") / f"c.{kind}"
    _, rejected, account = read(KNOWN, path, (b"id,rim\n" if kind == "csv" else b"") + content)
    assert account.read == account.used + account.rejected
    assert len(list(csv.reader(io.StringIO("\n".join(rejected), newline="")))) >= account.rejected


# Out again.


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


def test_parquet_that_other_libraries_write_is_read(tmp_path):
    pa = pytest.importorskip("pyarrow")
    import pyarrow.parquet as pq

    table = pa.table({
        "id": pa.array([7, 8, None]),
        "rim": pa.array(["flat", None, "flat"]).dictionary_encode(),
        "#lot": pa.array([[1], [2], [3]]),
    })  # fmt: skip
    pq.write_table(table, tmp_path / "c.parquet")
    (cases,), rejected, _ = read_back(KNOWN, tmp_path / "c.parquet")
    assert cases.names == ("7", "8")
    assert cases.codes["rim"].tolist() == [1, -1]
    assert rejected == ["3,,no id; give each piece its name"]
    pq.write_table(pa.table({"id": ["a"], "rim": pa.array([["flat"]])}), tmp_path / "c.parquet")
    with pytest.raises(
        CasesError, match=r"column rim holds list<.*>; text or numbers are expected"
    ):
        read_back(KNOWN, tmp_path / "c.parquet")


def test_a_shuffled_file_says_the_same_of_each_piece(tmp_path):
    rows = [f"p{i},{('flat', 'bevelled', '')[i % 3]}" for i in range(50)]
    first, _, _ = read(KNOWN, tmp_path / "a.csv", "\n".join(["id,rim", *rows]))
    again, _, _ = read(KNOWN, tmp_path / "b.csv", "\n".join(["id,rim", *rows[::-1]]))
    assert np.array_equal(first[0].codes["rim"], again[0].codes["rim"][::-1])


@pytest.mark.parametrize("kind", ["csv", "jsonl"])
def test_rejects_never_take_the_place_of_the_file_that_is_read(tmp_path, kind):
    path = tmp_path / f"c.{kind}"
    text = "id,rim\na,fl\n" if kind == "csv" else jsonl({"id": "a", "rim": "fl"})
    path.write_text(text, encoding="utf-8")
    beside = tmp_path / ".." / tmp_path.name / path.name
    with Rejects(beside) as noted, pytest.raises(ClaywitError, match="is the file that is read"):
        list(read_cases(path, KNOWN, noted))


def test_an_error_of_a_piece_without_a_name_names_its_line_and_the_way_out(tmp_path):
    (tmp_path / "c.csv").write_text("id,rim\n,flat\n", encoding="utf-8")
    with pytest.raises(CasesError, match=r"c\.csv:2: no id; .* --rejects"):
        list(read_cases(tmp_path / "c.csv", KNOWN))


def test_an_id_in_json_is_text_or_a_number_and_nought_is_a_name(tmp_path):
    pieces = [{"id": one, "rim": "flat"} for one in (0, 7, {"a": 1}, ["b"], True, None)]
    (cases,), rejected, _ = read(KNOWN, tmp_path / "c.jsonl", jsonl(*pieces))
    assert cases.names == ("0", "7")
    said = [line.split(",", 2)[2] for line in rejected]
    assert said == ['"id: a name is expected, as text or a number"'] * 3 + ["no id; give each piece its name"]  # fmt: skip


def test_a_block_of_long_lines_ends_before_it_fills_the_memory(tmp_path, monkeypatch):
    for reader, kind in ((delimited, "csv"), (lines_of_json, "jsonl")):
        monkeypatch.setattr(reader, "MAX_HELD", 1_000)
        pieces = [{"id": f"p{i}", "#": "x" * 400} for i in range(10)]
        head = "id,#\n" + "".join(f"{p['id']},{p['#']}\n" for p in pieces)
        text = head if kind == "csv" else jsonl(*pieces)
        blocks, _, account = read(KNOWN, tmp_path / f"c.{kind}", text)
        assert account.used == 10
        assert max(len(block) for block in blocks) == 3


def test_a_long_text_said_often_in_parquet_is_not_held_as_often(tmp_path):
    import pyarrow as pa
    import pyarrow.parquet as pq

    long = "flat" * 50_000
    table = pa.table({"id": [f"p{i}" for i in range(500)], "rim": [long] * 500})
    pq.write_table(table, tmp_path / "c.parquet", store_schema=False)
    (rows,) = read_parquet(tmp_path / "c.parquet", KNOWN, 1_000)
    assert {len(cell) for (cell,) in rows.cells} == {1_000}


@pytest.mark.parametrize("kind", ["csv", "jsonl", "parquet"])
def test_a_group_is_read_alike_in_every_kind_of_file(tmp_path, kind):
    import pyarrow as pa
    import pyarrow.parquet as pq

    pieces = [{"id": f"p{i}", "group": g} for i, g in enumerate([" A ", "A", "x" * 121, "a\tb"])]
    path = tmp_path / f"c.{kind}"
    if kind == "parquet":
        pq.write_table(pa.Table.from_pylist(pieces), path)
    else:
        head = "id,group\n" + "".join(f"{p['id']},{p['group']}\n" for p in pieces)
        path.write_text(head if kind == "csv" else jsonl(*pieces), encoding="utf-8")
    (cases,), rejected, _ = read_back(KNOWN, path)
    assert cases.groups == ("A", "A")
    assert [line.split(",")[1] for line in rejected] == ["p2", "p3"]
