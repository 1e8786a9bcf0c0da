"""Each known way to attack a signed file, and the code by which it is refused."""

import re
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import get_args

import pytest
from damage import replaced
from edwards import ZERO, encoded
from forged import OTHER_ID, beside, golden, with_right_digests, without
from made import LATER, NOW, SIGNER, a_signer, codes, signed_again, small_case, verify

from claywit.certificate.canonical import MAX_BYTES, canonical, read_canonical
from claywit.certificate.documents import documents
from claywit.certificate.identity import time_of
from claywit.certificate.outcome import Unsound, Wrong
from claywit.certificate.proof import Signer, base58, from_base58, multikey, with_proof
from claywit.certificate.status import Entry, status_list

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "certificate.md"
THIEF = a_signer(b"o")
TRACE = ("credentialSubject", "trace")
LISTED = status_list([], SIGNER, LATER)


def edited(*path, value, text=None):
    """Return a signed file changed by somebody without the key."""
    return canonical(replaced(read_canonical(text or golden().text), path, value))


def signed(*path, value):
    """Return the certificate changed and signed anew by a dishonest signer."""
    change = lambda raw: with_right_digests(replaced(raw, path, value))  # noqa: E731
    return signed_again(golden().text, change)


def taken_back(certificate, state="revoked"):
    return status_list(
        [Entry(certificate=certificate, state=state, at=time_of(LATER))], SIGNER, LATER
    )


def second_form(signature):
    number = (
        int.from_bytes(signature[32:], "little") + 2**252 + 27742317777372353535851937790883648493
    )
    return signature[:32] + number.to_bytes(32, "little")


def renamed_proof(text, **parts):
    raw = read_canonical(text)
    return canonical(raw | {"proof": raw["proof"] | parts})


def readings(text, form, other):
    """Return the ways in which any signed file *text* can be unsound, by code.

    Args:
        text: a good one.
        form: its format.
        other: a good one of the other kind.
    """
    raw = read_canonical(text)
    value = from_base58(raw["proof"]["proofValue"])
    small = Signer(multikey(encoded(ZERO)), lambda data: encoded(ZERO) + bytes(32))
    stranger = with_proof(
        {key: raw[key] for key in raw if key != "proof"}, THIEF, raw["proof"]["created"]
    )
    return {
        "a file of more than 16 MB": ("too_large", b" " * (MAX_BYTES + 1)),
        "20,000 brackets deep": ("too_deep", b"[" * 20_000),
        "cut short": ("not_json", text[:-1]),
        "something behind it": ("not_json", text + b"}"),
        "the signed file inside a PDF": ("not_json", b"%PDF-1.7\n" + text),
        "NaN": ("not_json", text.replace(b'"format"', b'"a":NaN,"format"', 1)),
        "a key twice": ("duplicate_key", text[:-1] + b',"id":"x"}'),
        "a key twice, once as an escape": ("duplicate_key", text[:-1] + b',"\\u0069d":"x"}'),
        "a line end": ("not_canonical", text + b"\n"),
        "another order of keys": ("not_canonical", text.replace(b"{", b'{"zz":1,', 1)),
        "another kind, signed with the same key": ("other_document", other),
        "a later format": ("other_format", text.replace(form, form[:-1] + b"9")),
        "no proof": ("no_proof", canonical({k: v for k, v in raw.items() if k != "proof"})),
        "two proofs, the good one first": ("no_proof", canonical(raw | {"proof": [raw["proof"]] * 2})),
        "a proof of nothing": ("no_proof", canonical(raw | {"proof": None})),
        "algorithm none": ("other_suite", renamed_proof(text, cryptosuite="none")),
        "algorithm swapped": ("other_suite", renamed_proof(text, cryptosuite="ecdsa-jcs-2019")),
        "algorithm in capitals": ("other_suite", renamed_proof(text, cryptosuite="EdDSA-JCS-2022")),
        "a field missing": ("missing_field", canonical({k: v for k, v in raw.items() if k != "validFrom"})),
        "an unsigned field more": ("unknown_field", canonical(raw | {"zz": 1.0})),
        "a field more in the proof": ("unknown_field", renamed_proof(text, nonce="1")),
        "a proof chained to another": ("unknown_field", renamed_proof(text, previousProof="urn:x")),
        "signed for another purpose": ("schema", renamed_proof(text, proofPurpose="authentication")),
        "a day that is none": ("schema", canonical(raw | {"validFrom": "2026-02-30T00:00:00Z"})),
        "another context": ("other_context", canonical(raw | {"@context": []})),
        "a key of another's": ("other_method", renamed_proof(text, verificationMethod=f"{THIEF.did}#{THIEF.multikey}")),
        "the issuer swapped": ("other_method", canonical(raw | {"issuer": THIEF.did})),
        "signed by another key": ("other_method", canonical(stranger)),
        "an all-zero signature": ("signature_form", renamed_proof(text, proofValue=base58(bytes(64)))),
        "a signature cut short": ("signature_form", renamed_proof(text, proofValue=base58(value[:63]))),
        "a longer signature": ("signature_form", renamed_proof(text, proofValue=base58(value + b"\1"))),
        "S + L, a second form": ("signature_form", renamed_proof(text, proofValue=base58(second_form(value)))),
        "base64 for base58": ("signature_form", renamed_proof(text, proofValue="u" + "A" * 86)),
        "white space in it": ("signature_form", renamed_proof(text, proofValue=raw["proof"]["proofValue"] + " ")),
        "hexadecimal": ("signature_form", renamed_proof(text, proofValue="f" + value.hex())),
        "a key of small order": ("weak_key", signed_again(text, lambda r: r | {"issuer": small.did}, signer=small)),
        "the signature of another file": ("tampered", renamed_proof(text, proofValue=base58(THIEF.sign(b"m")))),
        "the time of the proof moved": ("tampered", renamed_proof(text, created="2026-01-21T12:00:00Z")),
        "an identifier of one's own": ("other_id", signed_again(text, lambda r: r | {"id": OTHER_ID}, name=False)),
        "two times of signing": ("other_time", signed_again(text, lambda r: r | {"validFrom": "2026-01-19T12:00:00Z"})),
    }  # fmt: skip


@cache
def attacks():
    """Return every attack: what it is, the code, the bytes, and what the reader holds against it."""
    good = golden().text
    found = {
        what: (code, text, {"recompute": False})
        for what, (code, text) in readings(good, b"claywit-certificate/1", LISTED).items()
    }
    for what, (code, text) in readings(LISTED, b"claywit-status/1", good).items():
        found[f"status list: {what}"] = (
            f"status_{code}",
            good,
            {"status": text, "recompute": False},
        )
    return found | on_content() | by_the_reader()


def on_content():
    """Return what only somebody with the key can try."""
    trace = read_canonical(golden().text)["credentialSubject"]["trace"]
    other = read_canonical(golden("{rim: flat}").text)["credentialSubject"]["trace"]
    scale = replaced(trace["scale"], ("source", "bands"), {"certain": None})
    tries = {
        "the model of another": ("model_differs", (*TRACE, "model", "version"), "9.0.0"),
        "a demonstration called measured": ("model_differs", (*TRACE, "model", "status"), "measured"),
        "the evidence of another": ("findings_differ", (*TRACE, "evidence"), other["evidence"]),
        "the report of another": ("findings_differ", (*TRACE, "report"), other["report"]),
        "the policy under the scale's name": ("data_differ", (*TRACE, "scale"), trace["policy"] | {"id": "enfsi-2015"}),
        "other words under a shipped name": ("not_as_shipped", (*TRACE, "scale"), scale),
        "a name in two alphabets": ("look_alike", (*TRACE, "examiner"), "\u0410nna"),
        "a name with a letter that is not seen": ("look_alike", (*TRACE, "piece"), "p-1\u200b"),
        "another question": ("question_differs", (*TRACE, "report", "question"), "rim"),
        "no interest stated": ("incomplete", (*TRACE, "evidence", "source", "engagement", "interest"), ""),
        "a posterior of one's own": ("numbers_do_not_follow", (*TRACE, "report", "posterior", "shop", "north"), "0.900000000000"),
        "draws of one's own": ("draws_differ", (*TRACE, "report", "intervals", "leads"), "0.999"),
        "words of one's own": ("words_differ", (*TRACE, "report", "statement", 0), "Certain."),
        "limits left out": ("words_differ", (*TRACE, "limits"), ["None."]),
    }  # fmt: skip
    return {
        what: (code, signed(*path, value=value), {}) for what, (code, path, value) in tries.items()
    }


def by_the_reader():
    """Return what a good signature hides, and the reader's clock, key, lists, model or page show."""
    made, known = golden(), small_case()[0]
    early, late = {"now": NOW - timedelta(minutes=6)}, {"now": NOW + timedelta(days=366)}
    later = known.model_copy(update={"version": "1.0.1"})
    kept = taken_back(OTHER_ID)
    foreign = status_list([], THIEF, LATER)
    page = documents(golden("{rim: flat}"), html=True, pdf=False).html
    quick = {
        "a key that the reader does not know": ("wrong_key", {"signer": THIEF.multikey}),
        "not valid yet": ("from_the_future", early),
        "no longer valid": ("expired", late),
        "rolled back to an older model": ("older_model", {"model": later}),
        "taken back": ("revoked", {"status": taken_back(made.id)}),
        "rolled back to an older certificate": ("superseded", {"status": taken_back(made.id, "superseded")}),
        "a key taken back": ("key_revoked", {"status": taken_back(None)}),
        "another's status list": ("status_wrong_key", {"status": foreign}),
        "a status list dated ahead": ("status_from_the_future", {"status": LISTED, "now": LATER - timedelta(days=1)}),
        "an old status list again": ("status_stale", {"status": LISTED, "since": LATER + timedelta(days=1)}),
        "an entry left out of a list": ("status_cut", {"status": LISTED, "kept": kept}),
    }  # fmt: skip
    found = {
        what: (code, made.text, {"recompute": False, **held})
        for what, (code, held) in quick.items()
    }
    return found | {"the page of another certificate": ("other_page", made.text, {"page": page})}


EVERY = {*get_args(Unsound), *get_args(Wrong), *(f"status_{code}" for code in get_args(Unsound))}


def test_the_file_under_attack_is_good_itself():
    assert verify(golden().text, signer=SIGNER.multikey, status=LISTED).answer == "Valid."


def test_each_attack_is_refused_by_its_code(tried):
    for what, (code, text, against) in attacks().items():
        assert code in codes(verify(text, **against)), what
    tried(
        "one attack of each known class on a certificate and on a status list", len(attacks()),
        f"all refused, by {len(EVERY)} different codes",
    )  # fmt: skip


def test_every_code_is_reached_by_an_attack():
    assert {code for code, _, _ in attacks().values()} == EVERY


def test_every_code_stands_in_the_reference_with_a_line_of_its_own():
    page = (
        PAGE.read_text(encoding="utf-8")
        .partition("## The codes of `verify`")[2]
        .partition("\n## ")[0]
    )
    rows = re.findall(r"^\| `([a-z_]+)` \| ([^|]+) \|$", page, re.MULTILINE)
    told = {code for code, _ in rows}
    assert len(told) == len(rows)
    alike = {f"status_{code}" for code in get_args(Unsound)}
    assert told == EVERY - alike


@pytest.mark.parametrize("change", [without, beside])
def test_no_field_of_the_envelope_can_be_missing_or_more(change, tried):
    raw, count = read_canonical(golden().text), 0
    places = [(key,) for key in raw] + [("proof", key) for key in raw["proof"]]
    places += [("credentialSubject", "trace")] + [
        (*TRACE, key) for key in raw["credentialSubject"]["trace"]
    ]
    for place in places:
        text = canonical(change(raw, place))
        wanted = {"missing_field", "other_document", "no_proof", "other_suite", "tampered"}
        found = codes(verify(text, recompute=False))
        assert found[0] in (wanted if change is without else {"unknown_field"}), place
        count += 1
    what = "removed" if change is without else "added beside"
    tried(f"each field of envelope, proof and trace {what}", count, "all refused")
