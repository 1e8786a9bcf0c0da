"""A certificate is looked up in its signer's status lists."""

from datetime import timedelta

import pytest
from made import (
    LATER,
    NOW,
    SIGNER,
    a_signer,
    codes,
    small_certificate,
    states,
    verify,
)

from claywit.certificate.identity import time_of
from claywit.certificate.schema import Earlier
from claywit.certificate.status import Entry, status_list, with_entries


@pytest.fixture(scope="module")
def made():
    return small_certificate()


def entry(certificate, state="revoked", **more):
    return Entry(certificate=certificate, state=state, at=time_of(LATER), **more)


def test_a_certificate_taken_back_is_not_valid(made):
    listed = status_list([entry(made.id, reason="a crack read anew")], SIGNER, LATER)
    verdict = verify(made.text, status=listed, recompute=False)
    assert codes(verdict) == ["revoked"]
    assert "a crack read anew" in verdict.failures[0].sentence


def test_a_certificate_replaced_names_the_one_that_stands(made):
    later = small_certificate(supersedes=Earlier(id=made.id, digest=made.digest))
    listed = status_list([entry(made.id, "superseded", by=later.id)], SIGNER, LATER)
    assert codes(verify(made.text, status=listed, recompute=False)) == ["superseded"]
    assert later.certificate.trace.supersedes.id == made.id
    assert verify(later.text, status=listed, recompute=False).valid


def test_a_key_taken_back_takes_all_its_certificates_with_it(made):
    listed = status_list([entry(None, reason="stolen")], SIGNER, LATER)
    assert codes(verify(made.text, status=listed, recompute=False)) == ["key_revoked"]


def test_a_list_without_the_certificate_says_so_with_its_date(made):
    verdict = verify(made.text, status=status_list([], SIGNER, LATER), recompute=False)
    assert states(verdict)["status"] == "passed"
    assert time_of(LATER) in "".join(check.sentence for check in verdict.checks)


def test_a_list_from_the_future_is_refused_and_one_from_before_a_stated_day(made):
    listed = status_list([], SIGNER, LATER)
    early = verify(made.text, status=listed, now=LATER - timedelta(hours=1), recompute=False)
    assert codes(early) == ["status_from_the_future"]
    stale = verify(made.text, status=listed, since=LATER + timedelta(seconds=1), recompute=False)
    assert codes(stale) == ["status_stale"]
    assert verify(made.text, status=listed, since=LATER, recompute=False).valid
    old = verify(made.text, status=listed, now=LATER + timedelta(days=40), recompute=False)
    assert "40 days old" in "".join(check.sentence for check in old.checks)


def test_a_list_that_does_not_go_on_from_the_one_that_was_kept_is_found(made):
    other = entry("urn:uuid:00000000-0000-8000-8000-000000000000")
    kept = status_list([other], SIGNER, LATER - timedelta(days=1))
    cut = status_list([], SIGNER, LATER)
    longer = status_list([other, entry(other.certificate.replace("8000", "8001"))], SIGNER, LATER)
    assert codes(verify(made.text, status=cut, kept=kept, recompute=False)) == ["status_cut"]
    assert codes(verify(made.text, status=kept, kept=cut, recompute=False)) == ["status_cut"]
    assert verify(made.text, status=longer, kept=kept, recompute=False).valid
    taken = status_list([entry(made.id)], SIGNER, LATER - timedelta(days=1))
    assert codes(verify(made.text, status=cut, kept=taken, recompute=False)) == ["revoked"]
    foreign = status_list([], a_signer(b"o"), LATER)
    assert codes(verify(made.text, status=cut, kept=foreign, recompute=False)) == [
        "status_wrong_key"
    ]


def test_a_list_older_than_the_certificate_checks_nothing(made):
    listed = status_list([], SIGNER, NOW - timedelta(days=1))
    assert states(verify(made.text, status=listed, recompute=False))["status"] == "not checked"


def test_without_a_list_nobody_knows(made):
    assert states(verify(made.text, recompute=False))["status"] == "not checked"


@pytest.mark.parametrize(
    ("listed", "code"),
    [
        (status_list([], a_signer(b"o"), LATER), "status_wrong_key"),
        (b"{}", "status_other_document"),
        (small_certificate().text, "status_other_document"),
        (status_list([], SIGNER, LATER)[:-2], "status_not_json"),
        (status_list([], SIGNER, LATER).replace(b"2026-03", b"2026-04"), "status_tampered"),
    ],
)
def test_a_list_that_cannot_be_trusted_has_its_code(made, listed, code):
    assert codes(verify(made.text, status=listed, recompute=False)) == [code]


def test_what_was_taken_back_stays_taken_back(made):
    entries = with_entries([], [entry(made.id)])
    with pytest.raises(ValueError, match="in the list already"):
        with_entries(entries, [entry(made.id, "superseded")])
    assert len(with_entries(entries, [entry(None)])) == 2
