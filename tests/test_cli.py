"""The command line: an answer and 0, an honest negative and 1, a mend and 2."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from patience import HANGS

ROOT = Path(__file__).parents[1]
MODEL, EVIDENCE = "models/oskervane.yaml", "evidence_examples/04-marrable.yaml"


def claywit(*arguments, folder=ROOT, **environment):
    command = [Path(sys.executable).parent / "claywit", *map(str, arguments)]
    return subprocess.run(
        command, cwd=folder, capture_output=True, text=True, check=False, timeout=HANGS,
        env={**os.environ, "COLUMNS": "100", "NO_COLOR": "1", **environment},
    )  # fmt: skip


def test_assess_answers_with_status_0():
    done = claywit("assess", MODEL, EVIDENCE)
    assert done.returncode == 0
    assert "M04 Marrable" in done.stdout
    assert done.stderr == ""


def test_the_json_answer_is_a_report():
    done = claywit("assess", MODEL, EVIDENCE, "--json")
    report = json.loads(done.stdout)
    assert report["format"] == "claywit-report/1"
    assert report["explanation"]["for"] == "mould=M04"
    assert float(report["posterior"]["mould"]["M04"]) > 0.9


def test_the_page_is_written_whole(tmp_path):
    done = claywit("assess", ROOT / MODEL, ROOT / EVIDENCE, "--html", "piece.html", folder=tmp_path)
    assert done.returncode == 0
    html = (tmp_path / "piece.html").read_text(encoding="utf-8")
    assert html.rstrip().endswith("</html>")
    assert [path.name for path in tmp_path.iterdir()] == ["piece.html"]


@pytest.mark.parametrize("command", ["assess", "contrast", "joint"])
def test_the_answer_is_shown_even_where_its_page_cannot_be_written(command, tmp_path):
    second = ["evidence_examples/04-marrable-b.yaml"] if command == "joint" else []
    done = claywit(command, MODEL, EVIDENCE, *second, "--html", tmp_path / "no" / "piece.html")
    assert done.returncode == 2
    assert "M04" in done.stdout
    assert done.stderr.startswith("error: ")
    assert "cannot be written" in done.stderr
    assert not list(tmp_path.iterdir())


def test_another_question_may_be_asked():
    done = claywit("assess", MODEL, EVIDENCE, "-q", "treatment", "--json")
    assert json.loads(done.stdout)["question"] == "treatment"


def test_named_propositions_become_the_question():
    done = claywit(
        "assess", MODEL, EVIDENCE, "--for", "class=C1", "--against", "class=C4", "--json"
    )
    report = json.loads(done.stdout)
    assert (report["question"], report["explanation"]["chosen"]) == ("class", "named")


def test_check_says_sound_with_status_0():
    done = claywit("check", MODEL)
    assert done.returncode == 0
    assert done.stdout.rstrip().endswith("47 nodes (16 hidden, 31 traits), 305 rows; sound")


def test_check_finds_faults_with_status_1(tmp_path):
    text = (ROOT / MODEL).read_text(encoding="utf-8").replace("    label: Grog\n", "", 1)
    (tmp_path / "m.yaml").write_text(text, encoding="utf-8")
    done = claywit("check", tmp_path / "m.yaml", "--json")
    assert done.returncode == 1
    fault = json.loads(done.stdout)["faults"][0]
    assert fault["rule"] == "node-without-label"
    assert fault["place"].endswith(f"m.yaml:{text.splitlines().index('  grog:') + 1}")


def test_check_lists_all_that_is_unsound_with_status_2(tmp_path):
    text = (ROOT / MODEL).read_text(encoding="utf-8")
    text = text.replace("nodes: [back_texture]", "nodes: [bak_texture]").replace(
        "targets: [class,", "targets: [clas,"
    )
    (tmp_path / "m.yaml").write_text(text, encoding="utf-8")
    done = claywit("check", tmp_path / "m.yaml")
    assert done.returncode == 2
    assert len(done.stdout.splitlines()) == 2
    assert len(done.stderr.splitlines()) == 1
    assert "did you mean" in done.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ("assess", "nowhere.yaml", EVIDENCE),
        ("assess", MODEL, "nowhere.yaml"),
        ("assess", EVIDENCE, MODEL),
        ("assess", MODEL, EVIDENCE, "--for", "mould=M04"),
        ("assess", MODEL, EVIDENCE, "--for", "mould=M99", "--against", "mould=M12"),
        ("assess", MODEL, EVIDENCE, "--for", "mould=M04,class=C4", "--against", "mould=M12"),
        ("assess", MODEL, EVIDENCE, "-q", "nothing"),
        ("assess", "models", EVIDENCE),
        ("check", "nowhere.yaml"),
        ("schema", "nothing"),
    ],
)
def test_what_the_user_can_mend_is_one_line_and_status_2(arguments):
    done = claywit(*arguments)
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert done.stderr.startswith("error: ")


def test_impossible_findings_are_named(tmp_path):
    text = "format: claywit-evidence/1\npiece: {id: x}\nfindings: {period: P1, workshop: W3, shell: present}\n"
    (tmp_path / "e.yaml").write_text(text, encoding="utf-8")
    done = claywit("assess", MODEL, tmp_path / "e.yaml")
    assert done.returncode == 2
    assert "period and workshop cannot stand together" in done.stderr


@pytest.mark.parametrize("kind", ["model", "evidence", "report", "scale"])
def test_the_schemas_are_printed(kind):
    assert json.loads(claywit("schema", kind).stdout)["type"] == "object"


def test_help_and_version_are_there():
    assert "assess" in claywit("--help").stdout
    assert claywit("--version").stdout.startswith("claywit 0.")


def test_a_reader_that_stops_reading_is_no_error():
    command = f"{Path(sys.executable).parent / 'claywit'} assess {MODEL} {EVIDENCE} | head -1"
    done = subprocess.run(
        ["/bin/bash", "-o", "pipefail", "-c", command],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout.startswith("weir-004")
    assert done.stderr == ""


@pytest.mark.parametrize("asked", [("check", MODEL), ("--help",), ("schema", "evidence")])
def test_an_answer_that_cannot_be_printed_is_an_error(asked):
    with open("/dev/full", "w") as full:  # noqa: PTH123
        done = subprocess.run(
            [Path(sys.executable).parent / "claywit", *asked], cwd=ROOT, stdout=full,
            stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr.startswith("error: the answer could not be written out: No space left")
    assert done.stderr.count("\n") == 1
