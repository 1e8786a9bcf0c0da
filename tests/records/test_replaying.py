"""Replay gives the same numbers; a newer model lists whose words would change."""

import json

import pytest
from desk import at, new, open_case, opine
from small import SHOPS, model

from claywit.records.case import read_case
from claywit.records.files import read_standards
from claywit.records.kept import Opinion
from claywit.records.replaying import _differ, reopen, replay, replay_all

SOUTH = SHOPS.replace("north: 0.5, south: 0.4, other: 0.1", "north: 0.02, south: 0.88, other: 0.1")
LIGHT = SHOPS.replace("north: 0.5, south: 0.4, other: 0.1", "north: 0.52, south: 0.38, other: 0.1")


@pytest.fixture
def kept(tmp_path):
    with new(tmp_path / "c.db") as opened:
        open_case(opened)
        opine(opened)
        yield opened


def test_an_opinion_formed_again_gives_the_numbers_that_were_kept(kept):
    (found,) = replay_all(kept, [])
    assert (found.differences, found.largest) == ((), 0.0)
    assert found.compared > 50


@pytest.mark.parametrize(("one", "other", "differ"), [
    (1.0, 1 + 5e-10, False), (1.0, 1 + 2e-9, True), ("0.25", "0.2500000001", False),
    (1.0, float("nan"), True), ("north", "south", True), (True, False, True), (None, 1.0, True),
])  # fmt: skip
def test_the_same_is_within_1e_9(one, other, differ):
    assert _differ(one, other) is differ


def test_numbers_that_do_not_follow_are_named(kept):
    opinion = read_case(kept, "p-1").opinions[0][1]
    report = json.loads(kept.get(opinion.report))
    report["posterior"]["shop"]["north"] = "0.5"
    forged = json.dumps(report).encode()
    with kept.writing():
        digest = kept.put(forged)
    # The record still names the old report; replay of a record that names the forged one differs.
    step = read_case(kept, "p-1").opinions[0][0]
    changed = opinion.model_copy(update={"report": digest})
    found = replay(kept, read_case(kept, "p-1"), step, changed)
    assert any("posterior.shop.north" in difference for difference in found.differences)


def test_a_newer_model_lists_whose_words_change_and_supersedes_only_when_told(kept):
    before = kept.head()
    (found,) = reopen(kept, model(SOUTH), read_standards(), at(9))
    assert (found.outcome, found.before.leading, found.after.leading) == (
        "changed",
        "north",
        "south",
    )
    assert kept.head() == before
    (found,) = reopen(kept, model(SOUTH), read_standards(), at(9), supersede=True)
    assert found.superseded
    case = read_case(kept, "p-1")
    assert [o.words.leading for _, o in case.of(Opinion)] == ["north", "south"]
    assert [o.words.leading for _, o in case.opinions] == ["south"]
    assert reopen(kept, model(SOUTH), read_standards(), at(10), supersede=True) == []


def test_other_numbers_in_the_same_words_are_no_change(kept):
    assert [one.outcome for one in reopen(kept, model(LIGHT), read_standards(), at(9))] == ["same"]


def test_a_model_of_another_tradition_reopens_nothing(kept):
    assert (
        reopen(kept, model(SOUTH.replace("name: shops", "name: yards")), read_standards(), at(9))
        == []
    )


def test_a_model_that_no_longer_knows_a_trait_is_said_and_stops_nothing(kept):
    other = SHOPS.replace("bevelled", "slanted")
    (found,) = reopen(kept, model(other), read_standards(), at(9), supersede=True)
    assert found.outcome == "cannot"
    assert "no state bevelled" in found.why
