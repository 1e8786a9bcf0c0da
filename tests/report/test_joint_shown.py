"""A joint statement as it is shown: on a terminal, as a page, as data, by the command."""

import json
import re

import pytest
from disputing import EXAMPLES, POLICY, PRIORS, ROOT, party, shown, stated
from jsonschema import Draft202012Validator
from typer.testing import CliRunner

from claywit import assessment
from claywit.cli import app
from claywit.errors import EvidenceError
from claywit.evidence.parties import Party
from claywit.records import files
from claywit.report.bridge import bridge
from claywit.report.joint_page import joint_page
from claywit.report.schemas import json_schema


@pytest.fixture(scope="module")
def disputed():
    known = files.read_model(ROOT / "models" / "oskervane.yaml")
    sides = []
    for name in ("04-marrable.yaml", "04-marrable-b.yaml"):
        evidence, document = files.read_evidence(EXAMPLES / name)
        sides.append(Party(evidence, document.place, known))
    return assessment.joint(*sides, POLICY)


def test_the_demo_dispute_differs_in_ten_readings_and_has_no_average(disputed):
    assert sum(d.kind == "reading" for d in disputed.disagreed) == 10
    assert disputed.examiners_disagree
    assert {o.leading for o in disputed.opinions} == {"M04", "M12"}


def test_the_terminal_has_the_five_parts_in_their_order_and_lines_to_sign(disputed):
    text = shown(disputed)
    parts = ["1. Agreed", "2. Disagreed", "3. What would settle it", "4. The two", "5. Signatures"]
    places = [text.index(part) for part in parts]
    assert places == sorted(places)
    assert "____" in text.splitlines()[-3]
    assert not re.search(r"(?<![\d.])(0|100)(\.0)?%", text)


def test_it_fits_its_published_schema(disputed):
    data = json.loads(disputed.model_dump_json(by_alias=True))
    assert list(Draft202012Validator(json_schema("joint")).iter_errors(data)) == []


def test_the_page_needs_nothing_beside_it_and_draws_the_way_from_a_to_b(disputed):
    html = joint_page(disputed)
    assert "http" not in html.replace("http-equiv", "")
    assert "<script" not in html
    drawn = bridge(disputed)
    assert len(drawn.spans) == len(disputed.disagreed) + 2
    for before, after in zip(drawn.spans[:-2], drawn.spans[1:-1], strict=True):
        starts = (after.x, after.x + after.width)
        assert min(abs(before.end - x) for x in starts) < 1.6
    last = drawn.spans[-1]
    assert last.end == pytest.approx(drawn.spans[-2].end, abs=0.2)


def test_hostile_words_stay_words():
    evil = "<b>&[red]x"
    found = stated(party("{rim: flat}", f"'{evil}'"), "{rim: bevelled}")
    assert "<b>" not in joint_page(found)
    assert evil in shown(found)


def test_without_a_second_side_the_command_says_what_to_give():
    done = CliRunner().invoke(
        app, ["joint", str(ROOT / "models/oskervane.yaml"), str(EXAMPLES / "04-marrable.yaml")]
    )
    assert isinstance(done.exception, EvidenceError)
    assert "--priors-b or --model-b" in str(done.exception)


def test_the_command_writes_a_page_beside_the_answer(tmp_path):
    page, priors = tmp_path / "joint.html", tmp_path / "priors.yaml"
    priors.write_bytes(PRIORS.replace(b"{shop: {north: 0.1, south: 0.9}}", b"{period: {P5: 1}}"))
    command = ["joint", str(ROOT / "models/oskervane.yaml"), str(EXAMPLES / "01-textbook.yaml"),
               "--priors-b", str(priors), "--html", str(page), "--json", "--question", "mould"]  # fmt: skip
    done = CliRunner().invoke(app, command)
    assert done.exit_code == 0, done.exception
    assert json.loads(done.stdout)["format"] == "claywit-joint/1"
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")


def test_of_a_model_with_classes_no_side_is_given_the_words_for_a_primary_issue():
    """The question alone does not say whether a piece is primary; an after-cast is from a shop too."""
    from pathlib import Path

    from claywit.reasoning.policy import graded_alone
    from claywit.records import files

    root = Path(__file__).parents[2]
    oskervane = files.read_model(root / "models" / "oskervane.yaml")
    shares = {"W1": 0.001, "W2": 0.001, "W3": 0.997, "W4": 0.001}
    found = graded_alone(oskervane, files.read_policy(), "workshop", shares)
    assert (found.grade, found.words) == ("attributed", "attributed to Chalk Lane")


def test_where_no_shares_can_be_given_none_are_said_to_add_up():
    found = stated("{seal: pressed}", "{seal: absent}")
    assert found.difference_bans is None
    for text in (shown(found), joint_page(found)):
        assert "add up to" not in text
    assert "add up to" in joint_page(stated("{rim: flat}", "{rim: bevelled}"))
