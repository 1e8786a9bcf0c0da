"""Stories in words, for a reader who has never met a network."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from small import examined, model

from claywit.assessment import tell_stories
from claywit.errors import ClaywitError, ImpossibleEvidence
from claywit.records import files
from claywit.report.schemas import json_schema
from claywit.report.terminal import plain_console
from claywit.report.told_text import show_stories

ROOT = Path(__file__).parents[2]


def told(findings, more="", **asked):
    known = model()
    return tell_stories(known, examined(known, findings, more), **asked)


def shown(answer):
    console = plain_console(width=100, record=True, file=open("/dev/null", "w"))  # noqa: PTH123, SIM115
    show_stories(answer, console)
    return " ".join(console.export_text().split())


def test_the_likeliest_story_is_said_with_its_probability_before_and_after():
    """North .5 x .8 of .45: 88.9 %."""
    said = told("{rim: bevelled}").stories.statement
    assert said[0] == (
        "Taken together, the likeliest story is North: 88.9% (before the findings 50.0%)."
    )


def test_what_the_findings_speak_for_is_said_as_better_odds():
    """P(bevelled | north) over P(bevelled | the others) is .8 / .1."""
    found = told("{rim: bevelled}")
    assert found.stories.statement[1] == (
        "What the findings speak for most is North: they make its odds 8 times better (+0.90 bans)."
    )


def test_spoken_for_is_not_yet_probable():
    """The stroke makes South 4 times likelier; with a prior of 1 % it stays improbable."""
    found = told("{mark: stroke}", "priors: {shop: {north: 0.98, south: 0.01, other: 0.01}}")
    assert found.stories.relevant[0].states == {"shop": "south"}
    assert "to be spoken for is not yet to be probable" in found.stories.statement[1]


def test_a_second_story_that_is_near_is_named_with_the_first():
    assert "not far behind, the same with South" in told("{wear: much}").stories.statement[0]


def test_findings_that_say_nothing_speak_for_no_story():
    assert told("{wear: much}").stories.statement[1].startswith("The findings speak for no story")


def test_where_nothing_else_is_left_it_says_so_without_a_figure():
    found = told("{seal: pressed}").stories
    assert found.relevant[0].bans is None
    assert found.statement[1] == "The findings leave room for nothing but South."


def test_answers_that_do_not_go_together_are_warned_of():
    known = files.read_model(ROOT / "models" / "oskervane.yaml")
    _, seen = files.read_piece(
        ROOT / "models" / "oskervane.yaml", ROOT / "evidence_examples" / "10-overcoated.yaml"
    )
    (warning,) = tell_stories(known, seen).stories.statement[2:]
    assert warning.startswith("Beware: looked at one by one the likeliest are C1 primary issue")


def test_everything_at_once_tells_what_lies_behind_and_what_to_expect():
    whole = told("{rim: bevelled}").stories.whole
    assert whole.traits == {"mark": "absent", "seal": "absent", "wear": "little"}
    assert whole.hidden == {}
    assert whole.differs == ()


def test_the_terminal_shows_all_three_answers_and_the_cautions():
    text = shown(told("{rim: bevelled}"))
    for part in (
        "The likeliest stories",
        "What the findings speak for most",
        "To be seen, if you looked: mark: absent; seal: absent; wear: little",
        "not a guarantee",
    ):
        assert part in text
    assert "100.0%" not in shown(told("{seal: pressed}"))


def test_a_node_that_cannot_be_asked_about_is_refused():
    with pytest.raises(ClaywitError, match="it cannot have a finding"):
        told("{rim: bevelled}", about=["rim"])
    with pytest.raises(ClaywitError, match="did you mean shop"):
        told("{}", about=["shp"])


def test_findings_that_cannot_stand_together_have_no_story():
    with pytest.raises(ImpossibleEvidence):
        told("{seal: pressed}", "priors: {shop: {north: 1}}")


def test_the_stories_fit_their_published_schema():
    data = json.loads(told("{rim: bevelled}").model_dump_json(by_alias=True))
    assert list(Draft202012Validator(json_schema("stories")).iter_errors(data)) == []
