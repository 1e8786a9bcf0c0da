"""The page of a model's figures, made by the commands that a user runs."""

import json

import pytest
from bench.asking import Asking
from bench.browser import ROOT
from bench.payloads import PAYLOADS
from markupsafe import escape
from typer.testing import CliRunner

from claywit.cli import app

MODEL = str(ROOT / "models" / "oskervane.yaml")


@pytest.fixture(scope="module")
def figures(tmp_path_factory):
    """Give the figures of sixty drawn pieces, as `claywit evaluate` writes them."""
    folder = tmp_path_factory.mktemp("figures")
    cases, made = str(folder / "c.csv"), folder / "f.json"
    for command in (
        ["simulate", MODEL, "-o", cases, "-n", "60", "--seed", "3", "--groups", "4"],
        ["evaluate", MODEL, cases, "-q", "period", "--figures", str(made)],
    ):
        done = CliRunner().invoke(app, command)
        assert done.exit_code == 0, done.output
    return made.read_bytes()


def test_without_figures_the_page_says_what_that_means(tmp_path):
    shown = Asking(tmp_path).get("/evaluation").text
    assert "No figures are loaded" in shown
    assert "--figures FILE" in shown


def test_figures_show_with_their_plots_and_stay_until_others_come(figures, tmp_path):
    asking = Asking(tmp_path)
    assert asking.post("/evaluation", content=figures).json()["go"] == "/evaluation"
    for wrong in (b"", b"{}", b"[" * 9999, b"\xff", figures[:-20], b"x" * 8_000_001):
        assert asking.post("/evaluation", content=wrong).status_code in (413, 422)
    shown = asking.get("/evaluation").text
    assert shown.count('<figure class="plot">') == 4
    assert "of another model" not in shown
    assert 'style="' not in shown


def test_figures_of_another_model_are_named_as_such_and_their_texts_are_only_texts(
    figures, tmp_path
):
    asking = Asking(tmp_path)
    data = json.loads(figures)
    data["model"] |= {"digest": "0" * 64, "name": PAYLOADS[0]}
    data["said"] = [PAYLOADS[1], PAYLOADS[2]]
    data["cautions"] = [PAYLOADS[3]]
    for i, node in enumerate(data["nodes"].values()):
        node["label"] = PAYLOADS[4 + i]
    assert asking.post("/evaluation", content=json.dumps(data).encode()).status_code == 200
    shown = asking.get("/evaluation").text
    assert "These figures are of another model" in shown
    assert str(escape(PAYLOADS[1])) in shown
    assert not [text for text in PAYLOADS if "<" in text and text in shown]
