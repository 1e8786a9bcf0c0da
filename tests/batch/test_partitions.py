"""A folder of partitions becomes a folder of partitions; what stands in the way stays as it is."""

import json

import pyarrow.parquet as pq
from batches import pieces, rows_of


def test_a_folder_of_partitions_becomes_a_folder_of_partitions(bench, here):
    (bench / "in").mkdir()
    for k in range(3):
        pieces(bench / "in" / f"part-{k}.csv", 40, first=35 * k)
    done = here("batch", "m.yaml", "in", "-o", "out", "--workers", 1)
    assert done.returncode == 0, done.stderr
    assert "120 pieces read: 120 used, 0 rejected; written to out" in done.stderr
    assert "10 ids stand in more than one file of in" in done.stderr
    account = json.loads((bench / "out" / "_batch" / "account.json").read_text())
    assert (account["read"], account["used"], account["rejected"], account["again"]) == (
        120,
        120,
        0,
        10,
    )
    names = [row["id"] for k in range(3) for row in rows_of(bench / "out" / f"part-{k}.csv")]
    assert names == [f"p{35 * k + i}" for k in range(3) for i in range(40)]
    again = here("batch", "m.yaml", "in", "-o", "out", "--workers", 1)
    assert again.returncode == 0
    assert again.stderr == done.stderr


def test_an_answer_never_takes_the_place_of_the_pieces(here, bench):
    before = pieces(bench / "p.csv", 5).read_bytes()
    done = here("batch", "m.yaml", "p.csv", "-o", "p.csv", "--quick")
    assert done.returncode == 2
    assert done.stderr == "error: p.csv: is the file that is read; choose another name\n"
    assert (bench / "p.csv").read_bytes() == before
    assert not (bench / "p.csv.parts").exists()
    (bench / "p.csv").rename(bench / "out.csv.rejects.csv")  # the rejects of another answer
    done = here("batch", "m.yaml", "out.csv.rejects.csv", "-o", "out.csv", "--quick")
    assert done.returncode == 2
    assert (bench / "out.csv.rejects.csv").read_bytes() == before


def test_a_file_of_bad_rows_alone_says_why_and_can_be_mended_under_the_same_name(here, bench):
    (bench / "p.csv").write_text("id,rim\na,round\nb,oval\n")
    done = here("batch", "m.yaml", "p.csv", "-o", "out.csv", "--quick")
    assert done.returncode == 2
    assert (
        "2 pieces read: 0 used, 2 rejected; there is nothing to write; see out.csv.rejects.csv"
        in done.stderr
    )
    assert [row["id"] for row in rows_of(bench / "out.csv.rejects.csv")] == ["a", "b"]
    (bench / "p.csv").write_text("id,rmi\na,flat\n")
    assert here("batch", "m.yaml", "p.csv", "-o", "out.csv", "--quick").returncode == 2
    (bench / "p.csv").write_text("id,rim\na,flat\n")
    done = here("batch", "m.yaml", "p.csv", "-o", "out.csv", "--quick")
    assert done.returncode == 0, done.stderr
    assert [row["id"] for row in rows_of(bench / "out.csv")] == ["a"]


def test_an_empty_folder_may_take_the_answer_and_an_end_just_after_the_start_is_no_hindrance(
    bench, here
):
    (bench / "in").mkdir()
    pieces(bench / "in" / "a.csv", 5)
    (bench / "out" / "_batch").mkdir(parents=True)
    (bench / "out" / "_batch" / ".run.json.a1b2c3d4.draft").write_text("half")
    done = here("batch", "m.yaml", "in", "-o", "out")
    assert done.returncode == 0, done.stderr
    assert sorted(path.name for path in (bench / "out").iterdir()) == ["_batch", "a.csv"]
    assert sorted(path.name for path in (bench / "out" / "_batch").iterdir()) == [
        "a.part.json", "a.rejects.csv", "account.json", "run.json",
    ]  # fmt: skip


def test_a_folder_with_something_else_in_it_is_left_as_it_is(bench, here):
    (bench / "in").mkdir()
    pieces(bench / "in" / "a.csv", 5)
    (bench / "out").mkdir()
    (bench / "out" / ".mine").write_text("kept")
    done = here("batch", "m.yaml", "in", "-o", "out")
    assert done.returncode == 2
    assert "holds something else" in done.stderr
    assert [path.name for path in (bench / "out").iterdir()] == [".mine"]


def test_a_parquet_partition_of_rejects_alone_can_be_read(bench, here):
    import pyarrow as pa

    (bench / "in").mkdir()
    for name, rim in (("a", "flat"), ("b", "flatt")):
        pq.write_table(pa.table({"id": [name], "rim": [rim]}), bench / "in" / f"{name}.parquet")
    done = here("batch", "m.yaml", "in", "-o", "out")
    assert done.returncode == 0, done.stderr
    assert "2 pieces read: 1 used, 1 rejected" in done.stderr
    full, empty = (pq.read_table(bench / "out" / f"{name}.parquet") for name in "ab")
    assert (full.num_rows, empty.num_rows) == (1, 0)
    assert full.schema == empty.schema
