"""A file of cases is read whole, whatever is in it: every piece is used, or rejected with a reason."""

import csv
import io

import pytest
from cases_files import jsonl, read
from hypothesis import given, settings
from hypothesis import strategies as st
from small import HIDDEN, model

from claywit.errors import CasesError, ClaywitError
from claywit.records.cases import read_cases
from claywit.records.rejects import Rejects

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


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=400), st.sampled_from(["csv", "jsonl"]))
def test_no_bytes_are_ever_a_crash_and_the_account_balances(tmp_path_factory, content, kind):
    path = tmp_path_factory.mktemp("any") / f"c.{kind}"
    _, rejected, account = read(KNOWN, path, (b"id,rim\n" if kind == "csv" else b"") + content)
    assert account.read == account.used + account.rejected
    assert len(list(csv.reader(io.StringIO("\n".join(rejected), newline="")))) >= account.rejected


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
