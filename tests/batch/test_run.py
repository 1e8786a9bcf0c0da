"""A whole batch: every piece once, the same bytes after any interruption, nothing half done."""

import json

import jsonschema
import pyarrow.parquet as pq
import pytest
from batches import pieces, rows_of
from networks import entangled
from small import SHOPS

from claywit.batch.run import Progress
from claywit.commands.batch import how_far
from claywit.model.soundness import read_model
from claywit.records.rejects import Account
from claywit.report.batched import BatchAccount, BatchUsed
from claywit.report.digest import digest, plain
from claywit.report.schemas import json_schema


def test_every_piece_is_answered_in_order_or_rejected_with_its_line(bench, here):
    cases = pieces(bench / "c.csv", 50)
    with cases.open("a") as file:
        file.write("q1,,,flatt,,,\nq2,,,flat,absent,pressed,\np7,,,flat,,,\n")
    done = here("batch", "m.yaml", "c.csv", "-o", "out.csv")
    assert done.returncode == 0
    assert done.stdout == ""
    assert done.stderr == (
        "53 pieces read: 51 used, 2 rejected; written to out.csv\nrejects: out.csv.rejects.csv\n"
    )
    rows = rows_of(bench / "out.csv")
    assert [row["id"] for row in rows] == [*(f"p{i}" for i in range(50)), "q2"]
    assert rows[-1]["leading"] == "south"
    assert float(rows[-1]["shop.south"]) == 1.0
    rejects = {
        row["id"]: (row["line"], row["reason"]) for row in rows_of(bench / "out.csv.rejects.csv")
    }
    assert rejects["q1"] == ("52", "rim: no state flatt; did you mean flat?")
    assert rejects["p7"][0] == "54"
    assert not (bench / "out.csv.parts").exists()


def test_findings_that_cannot_stand_together_are_rejected_by_name(bench, here):
    text = SHOPS.replace("{absent: 0.6, stroke: 0.4}", "{absent: 1}")
    (bench / "m.yaml").write_text(text)
    (bench / "c.csv").write_text("id,rim,mark,seal\na,flat,stroke,pressed\nb,flat,stroke,\n")
    done = here("batch", "m.yaml", "c.csv", "-o", "out.csv")
    assert "2 pieces read: 1 used, 1 rejected" in done.stderr
    (reject,) = rows_of(bench / "out.csv.rejects.csv")
    assert reject["reason"] == (
        "mark=stroke and seal=pressed cannot stand together: the model gives them probability 0"
    )


def test_the_answer_is_the_same_in_every_kind_of_file(bench, here):
    pieces(bench / "c.csv", 20)
    for kind in ("csv", "jsonl", "parquet"):
        done = here("batch", "m.yaml", "c.csv", "-o", f"out.{kind}")
        assert done.returncode == 0, done.stderr
    flat = rows_of(bench / "out.csv")
    lines = [json.loads(line) for line in (bench / "out.jsonl").read_text().splitlines()]
    table = pq.read_table(bench / "out.parquet").to_pylist()
    assert len(flat) == len(lines) == len(table) == 20
    for row, line, piece in zip(flat, lines, table, strict=True):
        assert {k: v for k, v in piece.items() if v is not None} == line
        for key, value in line.items():
            assert (float(row[key]) if isinstance(value, int | float) else row[key]) == value


def test_an_answer_is_made_of_every_kind_of_cases(bench, here):
    pieces(bench / "c.csv", 20)
    rows = rows_of(bench / "c.csv")
    table = {key: [row[key] or None for row in rows] for key in rows[0]}
    (bench / "c.jsonl").write_text("".join(json.dumps(row) + "\n" for row in rows))
    import pyarrow as pa

    pq.write_table(
        pa.table({k: pa.array(v, pa.string()) for k, v in table.items()}), bench / "c.parquet"
    )
    answers = set()
    for kind in ("csv", "jsonl", "parquet"):
        here("batch", "m.yaml", f"c.{kind}", "-o", f"{kind}.csv")
        answers.add((bench / f"{kind}.csv").read_bytes())
    assert len(answers) == 1


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["c.csv", "-o", "out.xls"], "out.xls: what kind of file?"),
        (["none.csv", "-o", "out.csv"], "none.csv: cannot be read: No such file"),
        (["c.csv", "-o", "nowhere/out.csv"], "cannot be made: No such file"),
        (["c.csv", "-o", "out.csv", "-q", "rim"], "the question is rim"),
        (["c.csv", "-o", "out.csv", "--weigh", "rmi"], "--weigh rmi: no such node in the model; did you mean rim?"),
        (["bad.csv", "-o", "out.csv"], "bad.csv:1: no node rmi in the model; did you mean rim?"),
        (["empty.csv", "-o", "out.csv"], "0 pieces read: 0 used, 0 rejected; there is nothing to write"),
        (["folder", "-o", "out"], "folder: holds no file; files of one kind are expected"),
        (["c.csv", "-o", "out.csv", "--scheduler", "tcp://127.0.0.1:9"], "--scheduler tcp://127.0.0.1:9: cannot be reached"),
    ],
)  # fmt: skip
def test_what_can_be_put_right_is_one_line_and_status_2(bench, here, arguments, said):
    pieces(bench / "c.csv", 3)
    (bench / "bad.csv").write_text("id,rmi\na,flat\n")
    (bench / "empty.csv").write_text("id,rim\n")
    (bench / "folder").mkdir()
    if "rim" in arguments:
        arguments = [*arguments, "--weigh", "rim"]
    done = here("batch", "m.yaml", *arguments)
    assert done.returncode == 2, done.stderr
    assert said in done.stderr
    assert done.stderr.count("\n") == 1
    assert not (bench / "out.csv").exists()


def test_an_answer_says_which_model_and_settings_it_rests_on(bench, here):
    pieces(bench / "c.csv", 20)
    here("batch", "m.yaml", "c.csv", "-o", "out.csv", "--without-next")
    here("batch", "m.yaml", "c.csv", "-o", "out.parquet", "--without-next")
    account = BatchAccount.model_validate_json((bench / "out.csv.account.json").read_bytes())
    assert (account.read, account.used, account.rejected) == (20, 20, 0)
    known = read_model((bench / "m.yaml").read_bytes(), "m.yaml")
    assert account.basis.model.digest == digest(known)
    assert (account.basis.question, account.basis.weights, account.basis.looks) == (
        "shop",
        True,
        False,
    )
    inside = pq.read_schema(bench / "out.parquet").metadata[b"claywit"]
    assert BatchUsed.model_validate_json(inside) == account.basis


def test_every_row_is_what_its_schema_says(bench, here):
    pieces(bench / "c.csv", 20)
    here("batch", "m.yaml", "c.csv", "-o", "out.jsonl")
    schema = json_schema("batch-row")
    rows = [json.loads(line) for line in (bench / "out.jsonl").read_text().splitlines()]
    for row in rows:
        jsonschema.validate(row, schema)
        more = row.keys() - schema["properties"].keys()
        assert more == {"shop.north", "shop.south", "shop.other"}
    assert rows[0].keys() >= set(schema["required"])


def test_a_folder_of_answers_is_one_table_for_whoever_reads_it(bench, here):
    import pyarrow as pa

    (bench / "in").mkdir()
    for name in "ab":
        pq.write_table(pa.table({"id": [name], "rim": ["flat"]}), bench / "in" / f"{name}.parquet")
    (bench / "in" / "_SUCCESS.csv").touch()  # not of the pieces, by its name
    assert here("batch", "m.yaml", "in", "-o", "out", "--quick").returncode == 0
    assert pq.read_table(bench / "out").column("id").to_pylist() == ["a", "b"]
    again = here("batch", "m.yaml", "in", "-o", "out", "--quick", "--quiet")
    assert (again.returncode, again.stderr) == (0, "")


def test_cells_that_a_sheet_would_run_are_inert_in_csv_and_as_they_were_elsewhere(bench, here):
    names = ["=1+1", "+x", "-x", "@x", "'=1+1", "＝1+1", "−1", "a,b", 'a"b', "-1", "a;=1"]
    lines = (json.dumps({"id": name, "group": "@g", "rim": "flat"}) + "\n" for name in names)
    (bench / "c.jsonl").write_text("".join(lines))
    for kind in ("csv", "jsonl", "parquet"):
        assert here("batch", "m.yaml", "c.jsonl", "-o", f"out.{kind}").returncode == 0
    rows = rows_of(bench / "out.csv")
    inert = [f"'{name}" if name[0] in "=+-@＝" else name for name in names[:-1]]
    assert [row["id"] for row in rows] == [*inert, "a;'=1"]
    assert {row["group"] for row in rows} == {"'@g"}
    negative = [row["log10_evidence"] for row in rows]
    assert all(text.startswith("-") and float(text) < 0 for text in negative)
    written = [json.loads(line)["id"] for line in (bench / "out.jsonl").read_text().splitlines()]
    assert written == names
    assert pq.read_table(bench / "out.parquet").column("id").to_pylist() == names


@pytest.mark.parametrize("start", ["\t", "\r", "\n"])
def test_an_id_that_begins_with_a_control_is_trimmed_or_refused_and_never_a_cell(
    bench, here, start
):
    line = json.dumps({"id": f"{start}=1+1", "rim": "flat"})
    (bench / "c.jsonl").write_text(f'{{"id": "a", "rim": "flat"}}\n{line}\n')
    assert here("batch", "m.yaml", "c.jsonl", "-o", "out.csv").returncode == 0
    assert [row["id"] for row in rows_of(bench / "out.csv")] == ["a", "'=1+1"]


def test_how_far_it_is_is_said_with_rate_and_time_left():
    nothing = Progress(Account(5_000, 5_000, 0), 0.25, (0, 0.0))
    assert how_far(nothing, 3.0) == "5,000 pieces"
    # A quarter was there before; a quarter took 30 seconds, so the other half takes 60.
    half = Progress(Account(10_000, 9_990, 10), 0.5, (5_000, 0.25))
    assert how_far(half, 30.0) == "10,000 pieces, 10 rejected, 167 a second, 1:00 left"
    slow = Progress(Account(10_000, 10_000, 0), 0.01, (10_000, 0.01))
    assert how_far(slow, 100.0).endswith("100 a second, 2:45:00 left")


def test_a_model_that_cannot_be_held_is_refused_with_its_nodes_before_the_pieces_are_read(
    bench, here
):
    network, _ = entangled(60)
    (bench / "big.yaml").write_text(json.dumps(plain(network.model)))
    traits = [f"t{i}" for i in range(180)]
    (bench / "c.csv").write_text(f"id,{','.join(traits)}\na{',x' * 180}\n")
    done = here("batch", "big.yaml", "c.csv", "-o", "out.csv")
    assert done.returncode == 2
    assert "error: big.yaml: the nodes r0, r1" in done.stderr
    assert "must be held in one table" in done.stderr
    assert not (bench / "out.csv.parts").exists()
    (bench / "c.csv").write_text("id,t0\na,x\n")
    done = here("batch", "big.yaml", "c.csv", "-o", "out.csv")
    assert done.returncode == 2  # what to look at next needs room for what is still open
    assert "--without-next makes room only for the traits in the file" in done.stderr
    done = here("batch", "big.yaml", "c.csv", "-o", "out.csv", "--without-next")
    assert done.returncode == 0, done.stderr
