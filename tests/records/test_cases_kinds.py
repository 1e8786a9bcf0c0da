"""Cases in every kind of file: what other programs write, and what is long."""

import tracemalloc

import numpy as np
import pytest
from cases_files import jsonl, read, read_back
from small import model

from claywit.errors import CasesError
from claywit.records import delimited
from claywit.records import jsonl as lines_of_json
from claywit.records.cases import read_cases
from claywit.records.parquet import arrow, read_parquet

KNOWN = model()


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


def test_what_was_read_of_a_long_parquet_file_is_let_go(tmp_path):
    pa, path, rng = arrow(), tmp_path / "c.parquet", np.random.default_rng(3)
    columns = [("id", pa.string()), ("rim", pa.string())]
    with pa.parquet.ParquetWriter(path, pa.schema(columns), compression="none") as file:
        for number in range(24):
            ids = [f"{number}-{i}-{rng.bytes(900).hex()}" for i in range(2_000)]
            file.write_table(pa.table({"id": ids, "rim": ["flat"] * 2_000}))
    before = pa.total_allocated_bytes()
    held = [pa.total_allocated_bytes() - before for _ in read_parquet(path, KNOWN, 2_000)]
    assert path.stat().st_size > 80_000_000
    assert max(held) < 40_000_000


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
