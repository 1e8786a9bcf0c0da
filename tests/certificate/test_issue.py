"""A certificate carries the whole trace, and is refused while anything is missing."""

import json
import re

import pytest
from made import LATER, NOW, SIGNER, STATED, demo_case, issue, small_case, small_certificate
from small import SHOPS

from claywit.certificate.canonical import canonical, digest_of, read_canonical
from claywit.certificate.issue import certify
from claywit.certificate.trace import Terms, as_json, opinion
from claywit.certificate.words import LIMITS
from claywit.errors import CertificateError
from claywit.records import files
from claywit.report.digest import digest, plain


@pytest.fixture(scope="module")
def demo():
    known, piece = demo_case()
    return known, piece, issue(known, piece)


def test_the_file_is_its_own_canonical_form(demo):
    text = demo[2].text
    assert canonical(json.loads(text)) == text
    assert digest_of(read_canonical(text)) == demo[2].digest


def test_issuing_twice_gives_the_same_bytes(demo):
    known, piece, made = demo
    assert issue(known, piece).text == made.text


def test_the_identifier_is_a_uuid_of_version_8_made_from_the_content(demo):
    known, piece, made = demo
    assert re.fullmatch(
        r"urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-8[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}", made.id
    )
    assert issue(known, piece, now=LATER).id != made.id


def test_the_trace_carries_model_evidence_and_report_whole(demo):
    known, piece, made = demo
    trace = read_canonical(made.text)["credentialSubject"]["trace"]
    assert canonical(trace["model"]["source"]) == canonical(plain(known))
    assert trace["model"]["digest"] == digest(known)
    assert canonical(trace["evidence"]["source"]) == canonical(plain(piece.evidence))
    assert canonical(trace["report"]) == canonical(
        as_json(opinion(known, piece, files.read_standards()))
    )
    assert digest_of(trace["scale"]["source"]) == trace["scale"]["digest"]


def test_each_finding_has_its_visibility_and_reliability(demo):
    kept = demo[2].certificate.trace.reliability
    assert set(kept) == {finding.node for finding in demo[1].findings}
    assert kept["inherited_mark"].sure == 0.9
    assert (kept["bloom"].visible, kept["bloom"].form) == (False, "not_visible")
    assert kept["size"].u == {"height": 0.1, "width": 0.1}
    assert kept["arch_contact"].in_model


def test_what_nobody_looked_at_is_told_apart_from_what_nobody_mentions():
    known, piece = small_case(more=STATED + "not_examined: {seal: no time}\n")
    trace = issue(known, piece).certificate.trace
    assert trace.report["not_examined"] == [{"node": "seal", "label": "Seal", "why": "no time"}]
    assert trace.not_recorded == ("wear",)


def test_scale_and_policy_are_carried_with_their_digests(demo):
    trace = demo[2].certificate.trace
    for part in (trace.scale, trace.policy):
        assert digest_of(part.source) == part.digest
    assert trace.report["attribution"]["policy"] == trace.policy.id


def test_a_demonstration_and_an_elicited_model_say_so_first(demo):
    assert demo[2].certificate.trace.notices[0].startswith("Demonstration, no real piece")
    assert "never tested on known pieces" in small_certificate().certificate.trace.notices[0]


def test_a_model_by_its_digest_is_not_in_it():
    known, _ = small_case()
    trace = small_certificate(embed=False).certificate.trace
    assert trace.model.source is None
    assert trace.model.digest == digest(known)


def refused(known, piece, **terms):
    with pytest.raises(CertificateError) as raised:
        issue(known, piece, **terms)
    assert len(str(raised.value).splitlines()) == 1
    return raised.value.details


def test_everything_that_is_missing_is_listed_at_once():
    lacks = refused(*small_case(more=""))
    assert [lack.split(":")[0] for lack in lacks] == [
        "examiner", "propositions", "engagement.client", "engagement.intended_use",
        "engagement.intended_users", "engagement.effective_date", "engagement.interest",
        "engagement.told_beforehand",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "part",
    ["client", "intended_use", "intended_users", "effective_date", "interest", "told_beforehand"],
)
def test_each_part_of_the_engagement_is_needed(part):
    more = re.sub(rf"{part}: (\[[^\]]*\]|[^,}}]*)(, )?", "", STATED).replace(", }", "}")
    assert [lack.split(":")[0] for lack in refused(*small_case(more=more))] == [
        f"engagement.{part}"
    ]


def test_propositions_need_the_day_on_which_they_were_stated():
    more = STATED.replace(", stated_at: 2026-01-10", "")
    assert refused(*small_case(more=more)) == (
        "propositions.stated_at: the day on which they were stated",
    )


@pytest.mark.parametrize("day", ["soon", "2026-13-40", "2026-01-21", "12 January"])
def test_the_effective_date_is_a_day_that_has_been(day):
    more = STATED.replace("effective_date: 2026-01-12", f"effective_date: {day}")
    assert refused(*small_case(more=more))[0].startswith("engagement.effective_date")


MEASURED = (
    SHOPS
    + """
  weight:
    label: Weight
    measured: {weight: g}
    parents: [shop]
    examine: {view: callipers}
    rows: [{normal: {mean: 20, sd: 2}, source: test, n: 20}]
"""
)


def test_a_measure_without_its_uncertainty_is_missing_something():
    case = small_case("{weight: 21 g}", text=MEASURED)
    assert refused(*case) == ("findings.weight: its uncertainty, as {value: …, u: …}",)


@pytest.mark.parametrize(
    ("finding", "text"),
    [
        ("{value: 21 g, u: 0.1 g}", MEASURED),
        ("{above: 21 g}", MEASURED),
        ("21 g", MEASURED.replace("measured: {weight: g}", "measured: {weight: g}\n    u: {weight: 0.1}")),
        ("21 g", MEASURED.replace("measured: {weight: g}", "measured: {weight: g}\n    reading_error: in_rows")),
    ],
    ids=["its own", "limits", "the model's", "in the rows"],
)  # fmt: skip
def test_an_uncertainty_may_be_its_own_or_the_models_or_in_the_rows(finding, text):
    assert issue(*small_case(f"{{weight: {finding}}}", text=text)).id


def test_a_prior_without_a_source_is_missing_it():
    text = SHOPS.replace(
        "p: {north: 0.5, south: 0.4, other: 0.1}, source: test,",
        "p: {north: 0.5, south: 0.4, other: 0.1},",
    )
    assert refused(*small_case(text=text)) == ("prior: a source for the model's prior of shop",)


def test_a_measured_model_needs_figures_about_itself():
    text = SHOPS.replace("status: elicited", "status: measured")
    known, piece = small_case(text=text)
    assert refused(known, piece)[0].startswith("evaluation: the figures")
    other = {"format": "claywit-evaluation/1", "model": {"digest": "0" * 64}}
    assert refused(known, piece, evaluation=other)[0].startswith(
        "evaluation: figures of this very model"
    )
    figures = {
        "format": "claywit-evaluation/1",
        "model": {"digest": digest(known)},
        "pieces": 120.0,
    }
    trace = issue(known, piece, evaluation=figures).certificate.trace
    assert trace.evaluation.digest == digest_of(figures)
    assert trace.evaluation.source == figures


def test_a_last_day_must_be_to_come():
    assert refused(*small_case(), valid_until="2026-01-19T23:59:59Z")[0].startswith("valid until")


def test_the_time_comes_from_the_caller():
    known, piece = small_case()
    made = certify(known, piece, files.read_standards(), signer=SIGNER, now=NOW, terms=Terms())
    assert made.certificate.validFrom == made.certificate.proof.created == "2026-01-20T12:00:00Z"


def test_the_limits_say_nothing_of_how_a_piece_was_examined():
    """Readings may come off photographs, and a model may weigh the chemistry of a paste."""
    said = " ".join(LIMITS).lower()
    assert "on the findings listed, and on nothing else" in " ".join(LIMITS)
    assert not [word for word in ("eye", "lens", "calliper", "laboratory") if word in said]
