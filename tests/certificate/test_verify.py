"""What is wrong with a certificate is found, named by a code and said in a sentence."""

import json
from datetime import timedelta

import pytest
from made import (
    LATER,
    NOW,
    SIGNER,
    a_signer,
    codes,
    demo_case,
    in_trace,
    issue,
    put,
    signed_again,
    small_certificate,
    states,
    unsigned,
    verify,
)

from claywit.certificate.canonical import canonical
from claywit.certificate.identity import time_of
from claywit.certificate.proof import with_proof
from claywit.certificate.status import status_list
from claywit.certificate.words import SHOWN_BY_SIGNATURE
from claywit.report.digest import plain


@pytest.fixture(scope="module")
def made():
    return small_certificate()


@pytest.fixture(scope="module")
def demo():
    return issue(*demo_case())


def test_a_good_certificate_is_valid(demo):
    verdict = verify(demo.text, signer=SIGNER.multikey)
    assert verdict.valid
    assert states(verdict) == {
        "file and signature": "passed", "signer": "passed", "time": "passed", "digests": "passed",
        "status": "not checked", "numbers": "passed", "other figures": "passed",
    }  # fmt: skip
    assert verdict.digest == demo.digest


def test_it_is_always_said_what_a_signature_does_not_show(made):
    for text in (made.text, b"", b"{}"):
        assert SHOWN_BY_SIGNATURE in verify(text, recompute=False).notes


def test_without_a_key_the_signer_is_not_established(made):
    check = next(c for c in verify(made.text, recompute=False).checks if c.name == "signer")
    assert check.state == "not checked"
    assert check.sentence.startswith("intact; signer not established")


def test_another_key_is_a_wrong_key(made):
    assert codes(verify(made.text, signer=a_signer(b"o").multikey, recompute=False)) == [
        "wrong_key"
    ]


@pytest.mark.parametrize("cut", [1, 100, -1])
def test_a_certificate_cut_short_or_with_more_behind_it_is_rejected(made, cut):
    assert codes(verify(made.text[:cut], recompute=False)) == ["not_json"]
    assert not verify(made.text + made.text[:1], recompute=False).valid


HOSTILE = [
    (put("proof", "cryptosuite", value="eddsa-rdfc-2022"), "other_suite"),
    (put("proof", "cryptosuite", value="none"), "other_suite"),
    (put("proof", "type", value="Ed25519Signature2020"), "other_suite"),
    (put("proof", value=[]), "no_proof"),
    (put("extra", value=1.0), "unknown_field"),
    (put("proof", "extra", value=1.0), "unknown_field"),
    (put("credentialSubject", "trace", "extra", value=1.0), "unknown_field"),
    (put("credentialSubject", "trace", "report", "extra", value=1.0), "tampered"),
    (put("type", value=["VerifiableCredential", "PieceOpinion", "More"]), "other_document"),
    (put("type", value=["VerifiableCredential"]), "other_document"),
    (put("type", value="PieceOpinion"), "other_document"),
    (put("credentialSubject", value={}), "other_document"),
    (put("credentialSubject", "trace", "format", value="claywit-certificate/2"), "other_format"),
    (put("credentialSubject", "trace", "report", value={}), "missing_field"),
    (put("validFrom", value=1.0), "schema"),
    (put("issuer", value="did:web:vc.example"), "schema"),
    (put("@context", value=["https://www.w3.org/ns/credentials/v2"]), "other_context"),
    (put("proof", "@context", value=[]), "other_context"),
    (put("proof", "verificationMethod", value=f"{SIGNER.did}#{a_signer(b'o').multikey}"), "other_method"),
    (put("issuer", value=a_signer(b"o").did), "other_method"),
    (put("proof", "proofValue", value="z" + "1" * 64), "signature_form"),
    (put("proof", "proofValue", value="z" + "2" * 100_000), "signature_form"),
    (put("proof", "created", value="2026-01-20T12:00:01Z"), "tampered"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "code"), HOSTILE)
def test_each_hostile_change_has_its_code(made, change, code):
    assert codes(verify(unsigned(made.text, change), recompute=False)) == [code]


@pytest.mark.parametrize(
    "text", [b"[]", b"1", b'"a"', b"null", b"{}", b'{"type":["PieceOpinion"]}', b"[" * 50_000]
)
def test_what_is_no_certificate_at_all_is_rejected(text):
    assert codes(verify(text, recompute=False))[0] in ("other_document", "too_deep")


def test_a_status_list_is_no_certificate():
    assert codes(verify(status_list([], SIGNER, NOW))) == ["other_document"]


def test_a_certificate_by_another_signer_over_the_same_content_has_another_name(made):
    other = a_signer(b"o")
    text = signed_again(made.text, put("issuer", value=other.did), signer=other)
    verdict = verify(text, recompute=False)
    assert verdict.valid
    assert verdict.certificate.id != made.id
    assert codes(verify(text, signer=SIGNER.multikey, recompute=False)) == ["wrong_key"]


def test_an_identifier_of_the_signers_own_choice_is_refused(made):
    change = put("id", value="urn:uuid:00000000-0000-8000-8000-000000000000")
    assert codes(verify(signed_again(made.text, change, name=False), recompute=False)) == [
        "other_id"
    ]


def test_two_times_of_signing_are_refused(made):
    change = put("validFrom", value="2026-01-19T12:00:00Z")
    assert codes(verify(signed_again(made.text, change), recompute=False)) == ["other_time"]


def test_a_certificate_ends_with_its_last_day():
    text = small_certificate(valid_until="2026-02-28T23:59:59Z").text
    assert codes(verify(text, now=LATER, recompute=False)) == ["expired"]
    assert verify(text, now=LATER - timedelta(seconds=1), recompute=False).valid


def test_a_certificate_from_the_future_is_refused_but_for_a_few_minutes(made):
    assert verify(made.text, now=NOW - timedelta(minutes=4), recompute=False).valid
    assert codes(verify(made.text, now=NOW - timedelta(minutes=6), recompute=False)) == [
        "from_the_future"
    ]


def test_a_report_without_its_core_says_which_part_is_missing(made):
    change = in_trace("report", value={})
    failure = verify(unsigned(made.text, change), recompute=False).failures[0]
    assert failure.sentence == "credentialSubject.trace.report.question: field required"


@pytest.mark.parametrize(
    "text",
    ["2026-02-31T12:00:00Z", "2026-01-20T24:60:00Z", "٢٠٢٠-01-01T00:00:00Z", "2026-01-20T12:00:00"],
)
@pytest.mark.parametrize("part", ["validFrom", "validUntil"])
def test_a_time_that_is_none_is_refused(made, text, part):
    """Digits of another script sort behind all others, so such a certificate would never end."""
    verdict = verify(unsigned(made.text, put(part, value=text)), recompute=False)
    assert codes(verdict) == ["schema"]


def test_the_credential_is_of_the_form_of_the_standard(made):
    """Verifiable Credentials Data Model v2.0, sections 4.3 to 4.9 and 4.12 (from memory)."""
    raw = json.loads(made.text)
    assert raw["@context"][0] == "https://www.w3.org/ns/credentials/v2"
    assert raw["type"][0] == "VerifiableCredential"
    assert raw["issuer"].startswith("did:key:z6Mk")
    assert raw["proof"]["verificationMethod"] == f"{raw['issuer']}#{raw['issuer'][8:]}"
    assert raw["proof"]["@context"] == raw["@context"]
    assert set(raw["credentialSubject"]) == {"trace"}
    assert raw["@context"][1]["trace"]["@type"] == "@json"


def test_the_model_reads_back_as_itself():
    known, piece = demo_case()
    assert plain(type(known).model_validate(plain(known))) == plain(known)
    assert plain(type(piece.evidence).model_validate(plain(piece.evidence))) == plain(
        piece.evidence
    )


def test_a_good_signature_of_another_kind_of_document_is_no_certificate():
    document = {"@context": ["https://www.w3.org/ns/credentials/v2"], "type": ["VerifiableCredential"],
                "issuer": SIGNER.did, "credentialSubject": {"trace": {}}}  # fmt: skip
    assert codes(verify(canonical(with_proof(document, SIGNER, time_of(NOW))))) == [
        "other_document"
    ]
