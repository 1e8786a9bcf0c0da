"""Pieces counted by mould, from any kind of file."""

import pytest

from claywit.errors import CasesError
from claywit.records.tallies import tally


def counted(folder, text, name="x.jsonl"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return tally(path, "mould")


def test_a_mould_may_be_called_by_a_number(tmp_path):
    assert counted(tmp_path, '{"mould": 0}\n{"mould": 0}\n{"mould": "0"}\n') == {"0": 3}


def test_a_line_separator_within_a_remark_ends_no_line(tmp_path):
    assert counted(tmp_path, '{"mould": "a", "note.x": "one\u2028two"}\n') == {"a": 1}


@pytest.mark.parametrize(
    "written", ['{"state": "M1", "sure": 0.6}', '{"likelihood": {"M1": 1}}', "true", "[1]", "1.5"]
)
def test_a_mould_that_is_not_named_outright_is_not_counted_as_a_mould_of_its_own(tmp_path, written):
    with pytest.raises(CasesError, match=r"x\.jsonl:2: mould: not a plain name"):
        counted(tmp_path, f'{{"mould": "M1"}}\n{{"mould": {written}}}\n')


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("x.jsonl", f'{{"mould": "a", "pieces": {"9" * 5000}}}\n', "x.jsonl:1: "),
        ("x.csv", f"mould,pieces\na,{'9' * 5000}\n", "x.csv:2: pieces: '9999"),
        ("x.csv", "mould\n\x00\n", "x.csv:2: holds a NUL byte"),
    ],
)
def test_hostile_numbers_and_bytes_are_one_error_with_its_line(tmp_path, name, text, said):
    with pytest.raises(CasesError) as refused:
        counted(tmp_path, text, name)
    assert said in str(refused.value)


def test_a_parquet_file_with_a_name_that_is_no_text_is_refused(tmp_path):
    pa = pytest.importorskip("pyarrow")
    pq = pytest.importorskip("pyarrow.parquet")
    path = tmp_path / "x.parquet"
    pq.write_table(pa.table({"mould": ["a"], "zzzz": ["b"]}), path, store_schema=False)
    path.write_bytes(path.read_bytes().replace(b"zzzz", b"z\x9azz"))
    with pytest.raises(CasesError, match=r"x\.parquet: not readable as Parquet"):
        tally(path, "mould")
