"""What is wrong with a certificate is found, named by a code and said in a sentence."""

import json
from datetime import timedelta

import pytest
from made import (
    LATER,
    NOW,
    ROOT,
    SIGNER,
    a_signer,
    codes,
    demo_case,
    issue,
    signed_again,
    small_case,
    small_certificate,
    verify,
)

from claywit import __version__
from claywit.certificate import replay as replay_module
from claywit.certificate.canonical import canonical, digest_of, read_canonical
from claywit.certificate.identity import time_of
from claywit.certificate.proof import with_proof
from claywit.certificate.schema import Earlier
from claywit.certificate.shipped import SHIPPED
from claywit.certificate.status import Entry, status_list, with_entry
from claywit.certificate.words import SHOWN_BY_SIGNATURE
from claywit.records import files
from claywit.report.digest import digest, plain


@pytest.fixture(scope="module")
def made():
    return small_certificate()


@pytest.fixture(scope="module")
def demo():
    return issue(*demo_case())


def states(verdict):
    return {check.name: check.state for check in verdict.checks}


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


def unsigned(text, change):
    """Return *text* after a change that its signer did not sign."""
    raw = read_canonical(text)
    change(raw)
    return canonical(raw)


def put(*path, value):
    def change(raw):
        at = raw
        for step in path[:-1]:
            at = at[step]
        at[path[-1]] = value

    return change


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


def in_trace(*path, value):
    return put("credentialSubject", "trace", *path, value=value)


def change_model(raw):
    model = raw["credentialSubject"]["trace"]["model"]["source"]
    model["title"] = "another"


def change_evidence(raw):
    raw["credentialSubject"]["trace"]["evidence"]["source"]["findings"]["rim"] = {"says": "flat"}


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (change_model, "model_differs"),
        (in_trace("model", "digest", value="0" * 64), "model_differs"),
        (in_trace("report", "model", "digest", value="0" * 64), "model_differs"),
        (change_evidence, "findings_differ"),
        (in_trace("report", "evidence", "digest", value="0" * 64), "findings_differ"),
        (in_trace("scale", "digest", value="0" * 64), "data_differ"),
        (in_trace("policy", "digest", value="0" * 64), "data_differ"),
    ],
)
def test_a_digest_that_does_not_fit_is_found_without_recomputing(made, change, code):
    """A careless or dishonest signer: the signature is good, the content is not."""
    assert code in codes(verify(signed_again(made.text, change), recompute=False))


def redigest(raw):
    """Put the right digests on a changed model and evidence."""
    trace = raw["credentialSubject"]["trace"]
    for part in ("model", "evidence"):
        trace[part]["digest"] = trace["report"][part]["digest"] = digest_of(trace[part]["source"])


def then(*changes):
    def change(raw):
        for one in changes:
            one(raw)

    return change


def change_prior(raw):
    rows = raw["credentialSubject"]["trace"]["model"]["source"]["nodes"][0]["rows"]
    rows[0]["p"] = {"north": 0.4, "south": 0.5, "other": 0.1}


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (in_trace("report", "posterior", "shop", "north", value="0.900000000000"), "numbers_do_not_follow"),
        (in_trace("report", "explanation", "total_bans", value=2.0), "numbers_do_not_follow"),
        (in_trace("report", "log10_evidence", value=-3.0), "numbers_do_not_follow"),
        (in_trace("report", "explanation", "groups", 0, "share_bans", value=1.0), "numbers_do_not_follow"),
        (in_trace("report", "next", value=None), "numbers_do_not_follow"),
        (in_trace("report", "intervals", "leads", value="0.999"), "draws_differ"),
        (in_trace("report", "intervals", "seed", value=7.0), "draws_differ"),
        (then(change_prior, redigest), "numbers_do_not_follow"),
        (then(change_evidence, redigest), "findings_differ"),
        (in_trace("report", "findings", 0, "reading", value="flat"), "findings_differ"),
        (in_trace("reliability", "mark", "sure", value=0.99), "findings_differ"),
        (in_trace("not_recorded", value=[]), "findings_differ"),
        (in_trace("report", "statement", 0, value="Workshop: North, certainly."), "words_differ"),
        (in_trace("limits", value=["None."]), "words_differ"),
        (in_trace("notices", value=["Tested on all pieces."]), "words_differ"),
        (in_trace("report", "question", value="rim"), "question_differs"),
        (in_trace("report", "more", value=1.0), "numbers_do_not_follow"),
    ],
)  # fmt: skip
def test_what_a_dishonest_signer_wrote_is_found_by_forming_the_opinion_anew(made, change, code):
    text = signed_again(made.text, change)
    assert code in codes(verify(text))
    if code == "numbers_do_not_follow":
        assert verify(text, recompute=False).valid


@pytest.mark.parametrize(
    "change",
    [
        in_trace("model", "source", "nodes", 1, "parents", value=["nobody"]),
        in_trace("model", "source", "nodes", value=[]),
        in_trace("evidence", "source", "findings", "rim", value={"says": "round"}),
        in_trace("evidence", "source", "propositions", value=None),
        in_trace("scale", "source", value={}),
    ],
)
def test_content_that_no_opinion_can_come_from_is_refused_not_a_crash(made, change):
    def whole(raw):
        change(raw)
        redigest(raw)
        scale = raw["credentialSubject"]["trace"]["scale"]
        scale["digest"] = digest_of(scale["source"])

    verdict = verify(signed_again(made.text, whole))
    # A scale without a name is found by its name, too.
    assert codes(verdict)[-1] == "numbers_do_not_follow"


def drop_interest(raw):
    del raw["credentialSubject"]["trace"]["evidence"]["source"]["engagement"]["interest"]


def drop_prior_source(raw):
    del raw["credentialSubject"]["trace"]["model"]["source"]["nodes"][0]["rows"][0]["source"]


def call_it_measured(raw):
    trace = raw["credentialSubject"]["trace"]
    for model in (trace["model"]["source"], trace["model"], trace["report"]["model"]):
        model["status"] = "measured"


@pytest.mark.parametrize("change", [drop_interest, drop_prior_source, call_it_measured])
def test_what_would_not_have_been_issued_is_found_incomplete(made, change):
    assert "incomplete" in codes(verify(signed_again(made.text, then(change, redigest))))


def test_the_second_engine_alone_finds_what_claywit_itself_would_repeat(made, monkeypatch):
    """A slip in claywit's own engine would be signed and replayed alike; pgmpy is not fooled."""
    stored = made.certificate.trace.report

    def slip(raw):
        raw["credentialSubject"]["trace"]["report"]["log10_evidence"] += 1e-6

    monkeypatch.setattr(replay_module, "_beside", lambda stored, fresh: iter(()))
    verdict = verify(signed_again(made.text, slip))
    assert codes(verdict) == ["numbers_do_not_follow"]
    assert f"{stored['log10_evidence'] + 1e-6}"[:8] in verdict.failures[0].sentence
    assert verify(made.text).valid


def test_a_model_by_digest_is_checked_against_the_one_given():
    text = small_certificate(embed=False).text
    known, _ = small_case()
    alone = verify(text)
    assert alone.valid
    assert states(alone)["numbers"] == "not checked"
    assert states(verify(text, model=known)) | {"numbers": "passed", "model": "passed"} == states(
        verify(text, model=known)
    )
    for update, code in [
        ({"version": "1.0.1"}, "older_model"),
        ({"version": "0.9.9"}, "model_differs"),
        ({"title": "another"}, "model_differs"),
        ({"name": "other", "version": "2.0.0"}, "model_differs"),
    ]:
        other = known.model_copy(update=update)
        assert codes(verify(text, model=other)) == [code]


def test_the_words_of_another_version_are_not_held_against_it(made):
    def older(raw):
        trace = raw["credentialSubject"]["trace"]
        trace["method"]["version"] = f"{__version__}.older"
        trace["report"]["statement"][0] = "Said otherwise."
        del trace["report"]["explanation"]["groups"][0]["share_bans"]

    verdict = verify(signed_again(made.text, older))
    assert verdict.valid
    assert "share_bans" in "".join(check.sentence for check in verdict.checks)

    def wrong(raw):
        older(raw)
        raw["credentialSubject"]["trace"]["report"]["explanation"]["total_bans"] = 1.0

    assert codes(verify(signed_again(made.text, wrong))) == ["numbers_do_not_follow"]


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (in_trace("model", "version", value="9.9.9"), "model_differs"),
        (in_trace("model", "name", value="other"), "model_differs"),
        # The mark "Demonstration" on every page hangs on it.
        (in_trace("model", "status", value="measured"), "model_differs"),
        (in_trace("report", "model", "version", value="9.9.9"), "model_differs"),
        (in_trace("model", "version", value="9" * 5000 + ".0.0"), "schema"),
    ],
)
@pytest.mark.parametrize("embed", [True, False])
def test_name_version_and_status_of_the_model_are_those_of_the_model(change, code, embed):
    text = signed_again(small_certificate(embed=embed).text, change)
    assert set(codes(verify(text, recompute=False))) == {code}


def test_a_method_that_claywit_does_not_state_is_found(made):
    change = in_trace("method", "inference", value="exact, and approved by all")
    assert codes(verify(signed_again(made.text, change))) == ["words_differ"]


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


def test_a_scale_under_the_name_of_a_shipped_one_is_the_shipped_one(made):
    def change(raw):
        scale = raw["credentialSubject"]["trace"]["scale"]
        scale["source"]["bands"] = {"certain": None}
        scale["digest"] = digest_of(scale["source"])

    assert codes(verify(signed_again(made.text, change), recompute=False)) == ["not_as_shipped"]

    def rename(raw):
        change(raw)
        scale = raw["credentialSubject"]["trace"]["scale"]
        scale["id"] = scale["source"]["id"] = "my-own"
        scale["digest"] = digest_of(scale["source"])

    assert verify(signed_again(made.text, rename), recompute=False).valid


def test_what_ships_under_a_name_never_changes():
    """A changed scale or policy gets a new name, and a new line in `SHIPPED`."""
    kept = {files.DEFAULT_SCALE: files.read_scale(), files.DEFAULT_POLICY: files.read_policy()}
    for name, value in kept.items():
        assert value.id == name
        assert SHIPPED[name] == digest(value)
    data = {path.stem for path in (ROOT / "src/claywit/data").glob("*.yaml")}
    assert data <= set(SHIPPED)


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
    entries = with_entry([], entry(made.id))
    with pytest.raises(ValueError, match="in the list already"):
        with_entry(entries, entry(made.id, "superseded"))
    assert len(with_entry(entries, entry(None))) == 2


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
