"""`claywit evaluate` at the prompt."""

import json
import re
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from claywit.certificate.canonical import canonical, read_canonical
from claywit.cli import app
from claywit.errors import ClaywitError

ROOT = Path(__file__).parents[1]
run = CliRunner().invoke
POINTS = [
    "evaluate",
    str(ROOT / "models/dart-points.yaml"),
    str(ROOT / "case_files/dart-points.csv"),
]


def test_it_says_what_was_right_and_how_far_to_trust_it():
    done = run(app, [*POINTS, "--folds", "4"])
    assert done.exit_code == 0
    assert re.search(r"The leading type was the right one for \d+ of 91 pieces", done.stdout)
    assert "4 parts, drawn with seed 1" in done.stdout
    assert "How far to trust this" in done.stdout
    assert "nan" not in done.stdout


def test_the_same_seed_gives_the_same_bytes():
    one, two, other = (
        run(app, [*POINTS, "--folds", "4", "--json", "--seed", s]).stdout for s in ("7", "7", "8")
    )
    assert one == two != other
    assert json.loads(one)["how"]["seed"] == 7


def test_the_page_and_the_figures_are_written(tmp_path):
    page, figures = tmp_path / "page.html", tmp_path / "figures.json"
    done = run(app, [*POINTS, "--folds", "3", "--html", str(page), "--figures", str(figures)])
    assert done.exit_code == 0
    assert "<svg" in page.read_text(encoding="utf-8")
    content = figures.read_bytes()
    held = read_canonical(content, "figures")  # as `certify --evaluation` reads it
    assert canonical(held) == content
    assert len(held["model"]["digest"]) == 64


def test_bad_rows_go_to_the_reject_file_and_are_counted(tmp_path):
    cases = tmp_path / "cases.csv"
    text = (ROOT / "case_files/dart-points.csv").read_text(encoding="utf-8")
    cases.write_text(text + "x-1,,darl,strait,,,,,\n", encoding="utf-8")
    rejects = tmp_path / "rejects.csv"
    done = run(app, [*POINTS[:2], str(cases), "--rejects", str(rejects), "--json"])
    assert done.exit_code == 0
    assert json.loads(done.stdout)["how"]["refused"] == 1
    assert "x-1" in rejects.read_text(encoding="utf-8")
    alone = run(app, [*POINTS[:2], str(cases)])
    assert isinstance(alone.exception, ClaywitError)
    assert "x-1" in str(alone.exception)


@pytest.mark.parametrize(("more", "says"), [
    (["--folds", "400"], "choose between 2 and 64"),
    (["--folds", "2", "--one-out"], "choose one"),
    (["--question", "typ"], "did you mean type"),
    (["--for", "type=darl"], "give --for and --against"),
])  # fmt: skip
def test_what_cannot_be_done_is_said_in_one_line(more, says):
    done = run(app, [*POINTS, *more])
    assert isinstance(done.exception, ClaywitError)
    assert says in str(done.exception)
    assert "\n" not in str(done.exception)


def test_two_processes_give_the_same_bytes():
    one, two = (
        run(app, [*POINTS, "--folds", "2", "--json", *more]).stdout
        for more in ([], ["--workers", "2"])
    )
    assert one == two != ""


def test_more_pieces_than_can_be_held_are_refused(monkeypatch):
    monkeypatch.setattr("claywit.commands.evaluate.MOST_PIECES", 90)
    done = run(app, POINTS)
    assert isinstance(done.exception, ClaywitError)
    assert "more than 90 pieces" in str(done.exception)


def test_the_commands_of_the_page_can_be_run_where_it_says(tmp_path):
    for name in ("models", "case_files"):
        shutil.copytree(ROOT / name, tmp_path / name)
    done = run(app, ["evaluate", str(tmp_path / "models/romano-british.yaml"),
                     str(tmp_path / "case_files/romano-british.csv"), "-q", "region", "--folds", "3"])  # fmt: skip
    assert "C13" in done.stdout
    assert "Worth another look" in done.stdout


@pytest.mark.parametrize("option", ["--rejects", "--html", "--figures"])
@pytest.mark.parametrize("which", ["model.yaml", "cases.csv"])
def test_no_answer_takes_the_place_of_what_it_was_made_from(tmp_path, monkeypatch, option, which):
    monkeypatch.chdir(tmp_path)
    shutil.copy(POINTS[1], "model.yaml")
    shutil.copy(POINTS[2], "cases.csv")
    before = Path(which).read_bytes()
    with pytest.raises(ClaywitError, match=f"{which}: is the file that is read"):
        run(app, ["evaluate", "model.yaml", "cases.csv", option, which], catch_exceptions=False)
    assert Path(which).read_bytes() == before


def test_a_page_that_cannot_be_written_does_not_take_the_answer_with_it(tmp_path):
    done = run(app, [*POINTS, "--html", str(tmp_path / "nowhere" / "page.html")])
    assert isinstance(done.exception, ClaywitError)
    assert "How far to trust this" in done.stdout
