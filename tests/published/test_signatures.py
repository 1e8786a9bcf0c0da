"""The published vectors of what a certificate is built on, byte for byte.

W3C Data Integrity EdDSA Cryptosuites v1.0 (eddsa-jcs-2022), RFC 8785 and RFC 8032; each file
of vectors says where its values were seen.
"""

import json
import struct
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from claywit.certificate.canonical import canonical, members
from claywit.certificate.outcome import Refused
from claywit.certificate.proof import (
    Signer,
    base58,
    from_base58,
    hash_data,
    multikey,
    public_key,
    refuse_unsigned,
    with_proof,
)

HERE = Path(__file__).parent
W3C = json.loads((HERE / "vc_di_eddsa_jcs_2022.json").read_text(encoding="utf-8"))
JCS = json.loads((HERE / "rfc8785.json").read_text(encoding="utf-8"))
EDDSA = json.loads((HERE / "rfc8032.json").read_text(encoding="utf-8"))["vectors"]
PUBLIC = W3C["key"]["publicKeyMultibase"]
CREATED = "2023-02-24T23:36:38Z"


@pytest.fixture
def signer():
    secret = from_base58(W3C["key"]["secretKeyMultibase"])
    assert secret[:2] == b"\x80\x26"  # the multicodec of an Ed25519 private key
    return Signer(PUBLIC, Ed25519PrivateKey.from_private_bytes(secret[2:]).sign)


def is_signed_by(signed, key):
    try:
        refuse_unsigned(signed["proof"], members(signed), key)
    except Refused:
        return False
    return True


def options(form):
    return {
        "type": "DataIntegrityProof", "cryptosuite": "eddsa-jcs-2022", "created": CREATED,
        "verificationMethod": W3C[form]["verificationMethod"], "proofPurpose": "assertionMethod",
        "@context": W3C["document"]["@context"],
    }  # fmt: skip


def test_the_w3c_document_and_options_have_their_canonical_bytes():
    assert canonical(W3C["document"]).decode() == W3C["canonical_document"]
    assert canonical(options("did_key")).decode() == W3C["did_key"]["canonical_options"]


def test_the_w3c_key_pair_has_its_multikeys():
    secret = from_base58(W3C["key"]["secretKeyMultibase"])[2:]
    public = Ed25519PrivateKey.from_private_bytes(secret).public_key().public_bytes_raw()
    assert multikey(public) == PUBLIC
    assert public_key(PUBLIC) == public


def test_the_w3c_credential_gets_its_published_proof(signer):
    signed = with_proof(W3C["document"], signer, CREATED)
    assert hash_data(W3C["document"], options("did_key")).hex() == W3C["did_key"]["hash_data"]
    assert signed["proof"]["proofValue"] == W3C["did_key"]["proofValue"]
    assert from_base58(signed["proof"]["proofValue"]).hex() == W3C["did_key"]["signature"]
    assert is_signed_by(signed, PUBLIC)


@pytest.mark.parametrize("form", ["did_key", "controller"])
def test_the_w3c_proofs_are_accepted_and_refused_once_anything_is_changed(form):
    proof = {**options(form), "proofValue": W3C[form]["proofValue"]}
    signed = {**W3C["document"], "proof": proof}
    assert is_signed_by(signed, PUBLIC)
    assert base58(bytes.fromhex(W3C[form]["signature"])) == W3C[form]["proofValue"]
    assert not is_signed_by({**signed, "name": "Alumni credential"}, PUBLIC)
    assert not is_signed_by({**signed, "proof": {**proof, "created": CREATED[:-3] + "9Z"}}, PUBLIC)


@pytest.mark.parametrize(("bits", "text"), JCS["numbers"])
def test_the_numbers_of_rfc_8785_appendix_b_are_written_as_published(bits, text):
    assert canonical(struct.unpack(">d", bytes.fromhex(bits))[0]) == text.encode()


@pytest.mark.parametrize("bits", JCS["not_numbers"])
def test_what_is_no_number_has_no_canonical_form(bits):
    with pytest.raises(ValueError, match="representable in JCS"):
        canonical(struct.unpack(">d", bytes.fromhex(bits))[0])


def test_the_sample_of_rfc_8785_section_3_2_2_has_the_bytes_of_section_3_2_4():
    data = json.loads(JCS["section_3_2_2"])
    assert canonical(data) == bytes.fromhex(JCS["section_3_2_4"])


@pytest.mark.parametrize("name", JCS["samples"])
def test_the_samples_of_the_authors_of_rfc_8785_have_their_canonical_bytes(name):
    text, wanted = JCS["samples"][name]
    assert canonical(json.loads(text)).decode() == wanted


@pytest.mark.parametrize("vector", EDDSA, ids=lambda vector: vector[0])
def test_the_vectors_of_rfc_8032_section_7_1_hold(vector):
    secret, public, message, signature = map(bytes.fromhex, vector[1:])
    private = Ed25519PrivateKey.from_private_bytes(secret)
    assert private.public_key().public_bytes_raw() == public
    assert private.sign(message) == signature
    assert public_key(multikey(public)) == public
