"""`convert` and `diff` on the command line."""

import json
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from networks import published
from small import SHOPS

from claywit.cli import main
from claywit.model.exchange import write_whole
from claywit.report.schemas import json_schema

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "models" / "oskervane.yaml"


@dataclass
class Done:
    returncode: int
    stdout: str
    stderr: str


@pytest.fixture
def claywit(folder, monkeypatch, capsys):
    """The command line in this process, in a folder of its own."""
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", "100")

    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["claywit", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            main()
        said = capsys.readouterr()
        return Done(ended.value.code or 0, said.out, said.err)

    return run


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "asia.json").write_text(write_whole(published("asia")[0], "json"), encoding="utf-8")
    (tmp_path / "old.yaml").write_text(SHOPS, encoding="utf-8")
    new = SHOPS.replace("{bevelled: 0.8, flat: 0.2}", "{bevelled: 0.6, flat: 0.4}")
    (tmp_path / "new.yaml").write_text(new, encoding="utf-8")
    (tmp_path / "cases.csv").write_text(
        "id,rim,mark\na,bevelled,\nb,flat,stroke\nc,fl,\n", encoding="utf-8"
    )
    return tmp_path


def test_a_network_goes_round_all_formats_and_answers_the_same(folder, claywit):
    for one, other in (("asia.json", "a.bif"), ("a.bif", "a.xml"), ("a.xml", "b.bif")):
        assert claywit("convert", one, "-o", other).returncode == 0
    assert (folder / "a.bif").read_bytes() == (folder / "b.bif").read_bytes()
    assert claywit("convert", "a.bif", "-o", "a.yaml", "--target", "lung").returncode == 0
    found = "format: claywit-evidence/1\npiece: {id: p}\nfindings: {asia: yes, dysp: yes}\n"
    (folder / "p.yaml").write_text(found, encoding="utf-8")
    done = claywit("assess", "a.yaml", "p.yaml", "--json", "--quick")
    check = next(c for c in published("asia")[1]
                 if c["evidence"] == {"asia": "yes", "dysp": "yes"} and c["target"] == ["lung", "yes"])  # fmt: skip
    assert float(json.loads(done.stdout)["posterior"]["lung"]["yes"]) == pytest.approx(
        check["recomputed"], abs=1e-8
    )


def test_what_a_format_cannot_hold_is_refused_where_an_answer_would_change(folder, claywit):
    done = claywit("convert", DEMO, "-o", "demo.bif")
    assert done.returncode == 2
    assert (
        "bif cannot hold measured frame_radius, size, thickness, crown_gap; visibility"
        in done.stderr
    )
    assert "--answers-may-change" in done.stderr
    assert not (folder / "demo.bif").exists()
    done = claywit("convert", DEMO, "-o", "demo.bif", "--answers-may-change")
    assert done.returncode == 0
    assert done.stderr.count("left out:") == 7


def test_what_changes_no_answer_is_said_and_left_out(claywit):
    done = claywit("convert", "asia.json", "-o", "asia.uai")
    assert (done.returncode, done.stdout) == (0, "written  asia.uai\n")
    assert "left out: the names of nodes and states" in done.stderr


def test_a_file_that_states_no_question_must_be_given_one(claywit):
    claywit("convert", "asia.json", "-o", "asia.bif")
    done = claywit("convert", "asia.bif", "-o", "a.yaml")
    assert done.returncode == 2
    assert "asia.bif: states no question; name one with --target (nodes: asia, smoke" in done.stderr
    done = claywit("convert", "asia.bif", "-o", "a.yaml", "--target", "lungs")
    assert "--target lungs is not a node; did you mean lung?" in done.stderr
    done = claywit("convert", "asia.json", "-o", "a.yaml", "--target", "lung")
    assert "states its own targets; leave --target out" in done.stderr


def test_a_file_too_large_is_refused(folder, claywit):
    (folder / "big.bif").write_bytes(b" " * 4_000_001)
    done = claywit("convert", "big.bif", "-o", "a.json")
    assert (done.returncode, "more than the 4,000,000 bytes" in done.stderr) == (2, True)


def test_diff_tells_what_changed_and_how_far_it_reaches(claywit):
    done = claywit("diff", "old.yaml", "new.yaml")
    assert done.returncode == 1
    assert "rim, given shop=north: bevelled 0.6, was 0.8; flat 0.4, was 0.2" in done.stdout
    assert "no odds differ by more than 0.43 bans" in done.stdout
    assert claywit("diff", "old.yaml", "old.yaml").returncode == 0


def test_diff_as_data_follows_its_schema_and_its_account_balances(folder, claywit):
    done = claywit(
        "diff", "old.yaml", "new.yaml", "--cases", "cases.csv", "--rejects", "r.csv", "--json"
    )
    answer = json.loads(done.stdout)
    Draft202012Validator(json_schema("diff")).validate(answer)
    drift = answer["drift"]
    assert drift["read"] == drift["pieces"] + drift["excluded"] + drift["rejected"] == 3
    assert answer["distance"]["bans"] == pytest.approx(
        0.425968732, abs=1e-9
    )  # log10 (.4/.2) / (.6/.8)
    assert drift["targets"][0]["largest"]["piece"] == "b"
    assert "fl" in (folder / "r.csv").read_text(encoding="utf-8")
    shown = claywit("diff", "old.yaml", "new.yaml", "--cases", "cases.csv", "--rejects", "r.csv")
    assert "2 of 3 pieces weighed by both models" in shown.stdout


def test_no_command_writes_over_what_it_reads(folder, claywit):
    for name, arguments in (
        ("cases.csv", ("diff", "old.yaml", "new.yaml", "--cases", "cases.csv", "--rejects", "cases.csv")),
        ("old.yaml", ("convert", "old.yaml", "-o", "old.yaml")),
    ):  # fmt: skip
        before = (folder / name).read_bytes()
        done = claywit(*arguments)
        assert (done.returncode, "is the file that is read" in done.stderr) == (2, True)
        assert (folder / name).read_bytes() == before


@pytest.mark.parametrize(
    "line",
    [
        "assess old.yaml e.yaml --html",
        "contrast old.yaml e.yaml --html",
        "joint old.yaml a.yaml b.yaml --priors-b p.yaml --model-b new.yaml --html",
        "fit old.yaml cases.csv -o fitted.yml --rejects",
        "diff old.yaml new.yaml --cases cases.csv --rejects",
        "examiners readings.csv old.yaml --rejects",
    ],
)
def test_no_page_and_no_rejects_take_the_place_of_a_model_or_of_evidence(folder, claywit, line):
    command = line.split()
    for name in (part for part in command if part.endswith(".yaml")):
        (folder / name).touch()
        before = (folder / name).read_bytes()
        done = claywit(*command, name)
        assert f"{name}: is the file that is read; choose another name" in done.stderr
        assert (folder / name).read_bytes() == before


def test_a_piece_that_does_not_fit_stops_diff_where_no_file_takes_it(claywit):
    done = claywit("diff", "old.yaml", "new.yaml", "--cases", "cases.csv")
    assert (done.returncode, "cases.csv:4: c:" in done.stderr) == (2, True)


def test_a_reading_matrix_that_changed_is_not_passed_off_as_covered(folder, claywit):
    matrix = (
        "reading_matrices:\n  A_rim: {node: rim, p: {bevelled: {bevelled: 0.9, flat: 0.1},"
        " flat: {flat: 1.0}}, source: test, n: 20}\nnodes:\n"
    )
    (folder / "one.yaml").write_text(SHOPS.replace("nodes:\n", matrix), encoding="utf-8")
    other = SHOPS.replace(
        "nodes:\n", matrix.replace("bevelled: 0.9, flat: 0.1", "bevelled: 0.5, flat: 0.5")
    )
    (folder / "two.yaml").write_text(other, encoding="utf-8")
    done = claywit("diff", "one.yaml", "two.yaml")
    assert "no odds differ, whatever else is found." in done.stdout
    assert "Readings by A_rim are not covered" in done.stdout
    assert json.loads(claywit("diff", "one.yaml", "two.yaml", "--json").stdout)["distance"][
        "matrices"
    ] == ["A_rim"]
