"""The steps of a case: what each needs, what it adds, and that nothing is ever taken away."""

import json

import pytest
from desk import at, evidence, form, open_case, opine, seeded
from small import SHOPS, model

from claywit.errors import CasebookError, EvidenceError
from claywit.evidence.written import ObjectId
from claywit.records import casebook
from claywit.records.case import read_case, read_cases
from claywit.records.checking import check
from claywit.records.files import read_standards
from claywit.records.kept import Examination, Opinion, Sealed
from claywit.records.opinions import Asked
from claywit.report.digest import digest

SOUTH = SHOPS.replace(
    "p: {north: 0.5, south: 0.4, other: 0.1}", "p: {north: 0.02, south: 0.88, other: 0.1}"
)


def test_a_case_tells_its_steps_in_order(kept):
    open_case(kept)
    casebook.unmask(kept, "p-1", at(3))
    opine(kept)
    casebook.amend(kept, "p-1", evidence(findings="{rim: flat}"), "better light", at(6), name="e")
    kinds = [step.kind for step in read_case(kept, "p-1").steps]
    assert kinds == ["opened", "sealed", "locked", "unmasked", "opined", "amended"]
    assert check(kept).faults == ()


def test_two_cases_cannot_have_one_name(kept):
    open_case(kept)
    with pytest.raises(CasebookError, match="p-1 is there already"):
        casebook.intake(kept, form(), at(9), seeded(2))
    assert len(read_cases(kept)) == 1


@pytest.mark.parametrize("piece", ["../x", "a b", "", "é", "-x", "x" * 90, "a\n", "а-1"])
def test_a_piece_that_cannot_name_a_case_is_refused(kept, piece):
    odd = form().model_copy(update={"piece": ObjectId.model_construct(id=piece)})
    with pytest.raises(CasebookError, match="as the name of a case"):
        casebook.intake(kept, odd, at(1), seeded(2))


# ---- The seal ---------------------------------------------------------------------------------


def test_story_and_price_stay_sealed_until_readings_are_locked(kept):
    casebook.intake(kept, form(), at(1), seeded(2))
    with pytest.raises(CasebookError, match="shown once readings are locked"):
        casebook.unmask(kept, "p-1", at(2))
    casebook.lock(kept, "p-1", evidence(), at(3), name="e")
    found, entry = casebook.unmask(kept, "p-1", at(4))
    assert entry.kind == "unmasked"
    assert [(s.story, s.price) for _, s in found.seals] == [("found in a boat locker", "40")]


def test_a_price_cannot_be_found_by_trying_prices_against_the_digest(kept):
    casebook.intake(kept, form(story="", price="40"), at(1), seeded(2))
    sealed = read_case(kept, "p-1").of(Sealed)[0][0].digest
    other = form("p-2", story="", price="40")
    casebook.intake(kept, other, at(1), seeded(3))
    assert read_case(kept, "p-2").of(Sealed)[0][0].digest != sealed


def test_a_second_look_at_the_seal_adds_no_entry(kept):
    open_case(kept)
    casebook.unmask(kept, "p-1", at(3))
    before = kept.head()
    assert casebook.unmask(kept, "p-1", at(4))[1] is None
    assert kept.head() == before


def test_what_is_sealed_later_is_unmasked_on_its_own(kept):
    open_case(kept)
    casebook.unmask(kept, "p-1", at(3))
    casebook.seal(kept, "p-1", "the aunt called", at(4), seeded(5))
    found, entry = casebook.unmask(kept, "p-1", at(5))
    assert entry is not None
    assert [s.story for _, s in found.seals] == ["found in a boat locker", "the aunt called"]


@pytest.mark.parametrize(
    ("story", "said", "masked"),
    [
        ("a story", "", True),  # hidden by the casebook
        ("a story", "readings: {masked: false}", False),  # the examiner had heard it elsewhere
        ("", "", False),  # nothing was hidden
        ("", "readings: {masked: true}", True),  # nothing was told, says the examiner
    ],
)
def test_whether_readings_were_masked_is_known_to_the_casebook(kept, story, said, masked):
    casebook.intake(kept, form(story=story, price=""), at(1), seeded(2))
    casebook.lock(kept, "p-1", evidence(more=said), at(2), name="e")
    assert read_case(kept, "p-1").examination()[1].masked is masked


def test_readings_after_unmasking_are_not_called_masked(kept):
    open_case(kept)
    casebook.unmask(kept, "p-1", at(3))
    with pytest.raises(
        CasebookError, match="it was unmasked 2026-01-10T09:03:00Z; write masked: false"
    ):
        casebook.amend(
            kept, "p-1", evidence(findings="{rim: flat}", more="readings: {masked: true}"),
            "again", at(4), name="e.yaml",
        )  # fmt: skip
    casebook.amend(kept, "p-1", evidence(findings="{rim: flat}"), "again", at(5), name="e.yaml")
    assert [record.masked for _, record in read_case(kept, "p-1").of(Examination)] == [True, False]


# ---- Readings ---------------------------------------------------------------------------------


def test_locked_readings_are_kept_byte_for_byte(kept):
    written = evidence() + b"# a remark of mine\n"
    casebook.intake(kept, form(), at(1), seeded(2))
    casebook.lock(kept, "p-1", written, at(2), name="e")
    assert kept.get(read_case(kept, "p-1").examination()[1].evidence) == written


def test_an_amendment_never_overwrites(kept):
    open_case(kept)
    first = read_case(kept, "p-1").examination()[1].evidence
    casebook.amend(kept, "p-1", evidence(findings="{rim: flat}"), "better light", at(3), name="e")
    case = read_case(kept, "p-1")
    assert case.examination()[1].amends == case.of(Examination)[0][0].digest
    assert kept.get(first) == evidence()


@pytest.mark.parametrize(
    ("written", "message"),
    [
        (evidence("p-2"), "is about p-2, and case p-1 about p-1"),
        (evidence(), "are locked since"),
        (b"format: claywit-evidence/1\n", "piece"),
        (b"\xff", "UTF-8"),
    ],
)
def test_readings_that_do_not_belong_here_are_refused_and_nothing_is_added(kept, written, message):
    open_case(kept)
    before = kept.head()
    with pytest.raises((CasebookError, EvidenceError), match=message):
        casebook.lock(kept, "p-1", written, at(3), name="e.yaml")
    assert kept.head() == before
    assert check(kept).faults == ()


def test_an_amendment_needs_something_locked_something_new_and_a_reason(kept):
    casebook.intake(kept, form(), at(1), seeded(2))
    with pytest.raises(CasebookError, match="nothing of examiner 'A' is locked"):
        casebook.amend(kept, "p-1", evidence(), "why", at(2), name="e")
    casebook.lock(kept, "p-1", evidence(), at(2), name="e")
    with pytest.raises(CasebookError, match="nothing to amend"):
        casebook.amend(kept, "p-1", evidence(), "why", at(3), name="e")
    with pytest.raises(CasebookError, match="a reason is missing"):
        casebook.amend(kept, "p-1", evidence(findings="{rim: flat}"), " ", at(3), name="e")


def test_a_second_examiner_locks_readings_of_their_own(kept):
    open_case(kept)
    casebook.lock(kept, "p-1", evidence(findings="{rim: flat}", examiner="B"), at(3), name="e")
    case = read_case(kept, "p-1")
    assert [case.examination(who)[1].examiner for who in ("A", "B")] == ["A", "B"]
    opine(kept, asked=Asked(examiner="A"))
    opine(kept, minutes=6, asked=Asked(examiner="B"))
    held = read_case(kept, "p-1").opinions
    assert [opinion.words.leading for _, opinion in held] == ["north", "south"]


# ---- Opinions ---------------------------------------------------------------------------------


def test_an_opinion_is_kept_with_the_model_it_used(kept):
    open_case(kept)
    report, _ = opine(kept)
    opinion = read_case(kept, "p-1").opinions[0][1]
    assert opinion.model == digest(model()) == report.model.digest
    assert json.loads(kept.get(opinion.report))["leading"] == opinion.words.leading == "north"


def test_the_log_says_in_the_report_when_readings_were_locked_and_whether_masked(kept):
    open_case(kept)
    report, _ = opine(kept)
    assert report.conditions.locked_at == "2026-01-10T09:02:00Z"
    assert report.conditions.masked is True


def test_a_newer_opinion_supersedes_and_does_not_overwrite(kept):
    open_case(kept)
    opine(kept)
    opine(kept, minutes=6, text=SOUTH)
    case = read_case(kept, "p-1")
    assert [o.words.leading for _, o in case.of(Opinion)] == ["north", "south"]
    assert [o.words.leading for _, o in case.opinions] == ["south"]


def test_there_is_no_opinion_before_readings_are_locked(kept):
    casebook.intake(kept, form(), at(1), seeded(2))
    with pytest.raises(CasebookError, match="nothing is locked"):
        opine(kept)


def test_there_is_no_opinion_while_provenance_is_contested(kept):
    contested = "checklist: {provenance_contested: {answer: 'yes', note: a letter came}}"
    casebook.intake(kept, form(more=contested), at(1), seeded(2))
    casebook.lock(kept, "p-1", evidence(), at(2), name="e")
    with pytest.raises(CasebookError, match="provenance is contested, so no opinion is given"):
        opine(kept)
    settled = "checklist: {provenance_contested: {answer: 'no', note: withdrawn}}"
    casebook.revise(kept, form(more=settled), "the letter was withdrawn", at(4), seeded(3))
    opine(kept)
    assert len(read_case(kept, "p-1").opinions) == 1


# ---- Certificates -----------------------------------------------------------------------------


def test_a_certificate_is_kept_by_its_bytes_beside_its_opinion(kept):
    open_case(kept)
    opine(kept)
    content = b'{"id":"urn:uuid:1","type":["VerifiableCredential"]}'
    casebook.keep(kept, "p-1", content, at(7), name="c.json")
    case = read_case(kept, "p-1")
    record = case.certificates[0][1]
    assert (kept.get(record.certificate), record.id) == (content, "urn:uuid:1")
    assert record.opinion == case.opinions[0][0].digest
    with pytest.raises(CasebookError, match="kept already"):
        casebook.keep(kept, "p-1", content, at(8), name="c.json")


@pytest.mark.parametrize(
    "content",
    [b"", b"{}", b"[]", b'{ "id":"x"}', b'{"id":1}', b'{"a":1,"id":"x","id":"y"}', b"\xff"],
)
def test_what_is_no_certificate_is_not_kept(kept, content):
    open_case(kept)
    with pytest.raises(CasebookError, match="no certificate"):
        casebook.keep(kept, "p-1", content, at(8), name="c.json")


def test_the_scale_and_the_policy_are_kept_with_the_opinion(kept):
    open_case(kept)
    opine(kept)
    record = read_case(kept, "p-1").opinions[0][1]
    assert json.loads(kept.get(record.scale))["id"] == read_standards().scale.id
    assert json.loads(kept.get(record.policy))["id"] == read_standards().policy.id
