"""A whole batch: every piece once, the same bytes after any interruption, nothing half done."""

import csv
import json
import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import jsonschema
import pyarrow.parquet as pq
import pytest
from dying import dies_always, dies_once
from here import runner
from networks import entangled
from patience import HANGS
from small import SHOPS
from test_cli import claywit

from claywit.batch.folders import clear
from claywit.batch.pools import processes
from claywit.batch.run import Progress
from claywit.commands.batch import how_far
from claywit.errors import CasesError
from claywit.model.soundness import read_model
from claywit.records.disk import drafted
from claywit.records.rejects import Account
from claywit.report.batched import BatchAccount, BatchUsed
from claywit.report.digest import digest, plain
from claywit.report.schemas import json_schema

HEAD = "id,group,shop,rim,mark,seal,wear\n"


@pytest.fixture
def bench(tmp_path):
    """A folder with a small model in which one piece of some is impossible: a seal of the north."""
    (tmp_path / "m.yaml").write_text(SHOPS.replace("absent: 1}", "absent: 1.0}"))
    return tmp_path


@pytest.fixture
def here(bench, monkeypatch, capsys):
    """Return what runs a command in this process, in the folder, which saves its start."""
    return runner(bench, monkeypatch, capsys)


def pieces(path, count, first=0):
    rims, marks = ("flat", "bevelled", ""), ("absent", "stroke", "", "absent")
    rows = (
        f"p{i},g{i % 3},north,{rims[i % 3]},{marks[i % 4]},,\n" for i in range(first, first + count)
    )
    path.write_text(HEAD + "".join(rows))
    return path


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


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


# Stopped, and begun again.


def begun(bench, *arguments):
    """Start a batch of many small parts, and return it once some of them are done."""
    process = subprocess.Popen(
        [Path(sys.executable).parent / "claywit", "batch", "m.yaml", "c.csv", "-o", "out.csv", *arguments],
        cwd=bench, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    for _ in range(1500):
        if (
            len(list(bench.glob("out.csv.parts/_batch/*.part.json"))) >= 3
            or process.poll() is not None
        ):
            break
        time.sleep(0.02)
    return process


MANY = 40_000


@pytest.fixture(scope="module")
def uninterrupted(tmp_path_factory):
    """Return the bytes of a batch that nothing stopped."""
    folder = tmp_path_factory.mktemp("whole")
    (folder / "m.yaml").write_text(SHOPS)
    pieces(folder / "c.csv", MANY)
    done = claywit("batch", "m.yaml", "c.csv", "-o", "out.csv", "--workers", 1, folder=folder)
    assert done.returncode == 0, done.stderr
    assert [row["id"] for row in rows_of(folder / "out.csv")] == [f"p{i}" for i in range(MANY)]
    return (folder / "out.csv").read_bytes()


@pytest.mark.parametrize(
    ("sent", "status"),
    [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGKILL, -9)],
    ids=["interrupted", "terminated", "killed"],
)
def test_a_batch_that_was_stopped_goes_on_and_gives_the_same_bytes(
    bench, uninterrupted, sent, status
):
    pieces(bench / "c.csv", MANY)
    process = begun(bench, "--workers", "1")
    process.send_signal(sent)
    _, said = process.communicate(timeout=HANGS)
    assert process.returncode == status, said
    assert "Traceback" not in said
    assert not (bench / "out.csv").exists()
    assert 3 <= len(list(bench.glob("out.csv.parts/_batch/*.part.json"))) < MANY / 2000
    done = claywit("batch", "m.yaml", "c.csv", "-o", "out.csv", "--workers", 1, folder=bench)
    assert done.returncode == 0, done.stderr
    assert "40,000 pieces read: 40,000 used, 0 rejected" in done.stderr
    assert (bench / "out.csv").read_bytes() == uninterrupted
    assert sorted(path.name for path in bench.iterdir()) == [
        "c.csv", "m.yaml", "out.csv", "out.csv.account.json", "out.csv.rejects.csv"
    ]  # fmt: skip


def test_finished_parts_are_not_done_again_and_those_of_another_batch_are_refused(bench):
    pieces(bench / "c.csv", 30_000)
    process = begun(bench, "--workers", "1")
    process.kill()
    process.communicate()
    part = bench / "out.csv.parts" / "000000.csv"
    part.write_text(part.read_text().replace("p0,", "p0 as it was,"))
    other = claywit("batch", "m.yaml", "c.csv", "-o", "out.csv", "--quick", folder=bench)
    assert other.returncode == 2
    assert "holds parts of another batch: other options" in other.stderr
    claywit("batch", "m.yaml", "c.csv", "-o", "out.csv", "--workers", 1, folder=bench)
    assert rows_of(bench / "out.csv")[0]["id"] == "p0 as it was"


def test_a_reader_that_goes_away_is_no_error_and_the_answer_is_whole(bench):
    pieces(bench / "c.csv", 20)
    gone, pipe = os.pipe()
    os.close(gone)
    done = subprocess.run(
        [Path(sys.executable).parent / "claywit", "batch", "m.yaml", "c.csv", "-o", "out.csv"],
        cwd=bench, stderr=pipe, check=False,
    )  # fmt: skip
    os.close(pipe)
    assert done.returncode == 0
    assert len(rows_of(bench / "out.csv")) == 20


def test_two_processes_give_the_bytes_of_one(bench):
    pieces(bench / "c.csv", 9_000)
    for workers in (1, 2):
        done = claywit(
            "batch", "m.yaml", "c.csv", "-o", f"{workers}.csv", "--workers", workers, folder=bench
        )
        assert done.returncode == 0, done.stderr
    assert (bench / "1.csv").read_bytes() == (bench / "2.csv").read_bytes()


def test_what_a_dead_process_was_at_is_done_by_another(tmp_path):
    with processes(2) as run_all:
        asked = [str(tmp_path / f"{i}") for i in range(3)]
        assert list(run_all(dies_once, asked)) == ["0", "1", "2"]


def test_a_part_that_kills_every_process_is_an_error_in_the_end():
    with (
        pytest.raises(CasesError, match="a worker died 5 times on one part"),
        processes(1) as run_all,
    ):
        list(run_all(dies_always, [1]))


def left_waiting(here, monkeypatch):
    """Leave a batch of one part that was done, and stopped before it was put together."""
    with monkeypatch.context() as broken:
        broken.setattr("claywit.batch.run._assemble", lambda *_: sys.exit(99))
        assert here("batch", "m.yaml", "c.csv", "-o", "out.csv").returncode == 99


@pytest.mark.parametrize(
    ("change", "arguments", "said"),
    [
        ("pieces", [], "other pieces, or the same file before it was changed"),
        ("options", ["--quick"], "other options"),
        ("model", [], "another model"),
        ("version", [], "claywit 0.0.1, and this is"),
    ],
)
def test_parts_of_another_batch_are_refused_with_what_differs(
    bench, here, monkeypatch, change, arguments, said
):
    pieces(bench / "c.csv", 50)
    if change == "version":
        monkeypatch.setattr("claywit.batch.about.__version__", "0.0.1")
    left_waiting(here, monkeypatch)
    if change == "version":
        monkeypatch.undo()
        monkeypatch.chdir(bench)
        monkeypatch.setattr("claywit.cli.end_on_termination", lambda: None)
    if change == "pieces":
        pieces(bench / "c.csv", 51)
    if change == "model":
        text = (bench / "m.yaml").read_text()
        (bench / "m.yaml").write_text(
            text.replace("much: 0.3", "much: 0.2").replace("little: 0.7", "little: 0.8")
        )
    before = sorted(bench.rglob("*"))
    done = here("batch", "m.yaml", "c.csv", "-o", "out.csv", *arguments)
    assert done.returncode == 2
    assert said in done.stderr
    assert sorted(bench.rglob("*")) == before


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


# A folder of partitions.


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


def test_what_was_being_written_when_it_ended_is_cleared_away_and_nothing_else(bench, monkeypatch):
    monkeypatch.setattr("secrets.token_hex", lambda _: "01234567")
    (bench / "aside" / "_batch").mkdir(parents=True)
    mine = bench / "aside" / ".mine"
    mine.touch()
    with monkeypatch.context() as killed, suppress(KeyboardInterrupt):
        killed.setattr(Path, "unlink", lambda *_, **__: None)
        with drafted(bench / "aside" / f"{'long' * 20}.csv"):
            raise KeyboardInterrupt
    assert len(list((bench / "aside").iterdir())) == 3
    clear(bench / "aside")
    assert sorted((bench / "aside").iterdir()) == [mine, bench / "aside" / "_batch"]


def test_a_batch_that_ends_while_it_clears_away_can_be_given_again(bench, here, monkeypatch):
    pieces(bench / "c.csv", 50)
    here("batch", "m.yaml", "c.csv", "-o", "whole.csv")
    unlink, left = Path.unlink, [3]

    def tired(path, **options):
        if "out.csv.parts" in path.parts and not path.name.startswith("."):
            left[0] -= 1
            if not left[0]:
                raise KeyboardInterrupt
        unlink(path, **options)

    monkeypatch.setattr(Path, "unlink", tired)
    assert here("batch", "m.yaml", "c.csv", "-o", "out.csv").returncode == 130
    left_over = {path.name for path in (bench / "out.csv.parts" / "_batch").iterdir()}
    assert "run.json" in left_over
    assert "000000.part.json" not in left_over
    monkeypatch.setattr(Path, "unlink", unlink)
    done = here("batch", "m.yaml", "c.csv", "-o", "out.csv")
    assert done.returncode == 0, done.stderr
    assert (bench / "out.csv").read_bytes() == (bench / "whole.csv").read_bytes()
    assert not (bench / "out.csv.parts").exists()


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
