"""Signed JSON is read strictly: each way of hiding something is refused with its code."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from claywit.certificate.canonical import (
    MAX_BYTES,
    MAX_DEPTH,
    canonical,
    joined,
    members,
    read_canonical,
)
from claywit.certificate.outcome import Refused
from claywit.certificate.proof import ALPHABET, base58, from_base58, multikey, public_key


def code(text):
    with pytest.raises(Refused) as raised:
        read_canonical(text)
    return raised.value.failure.code


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        (b'{"a":1,"a":1}', "duplicate_key"),
        (b'{"a":1,"\\u0061":2}', "duplicate_key"),
        (b'{"a": 1}', "not_canonical"),
        (b'{"a":1}\n', "not_canonical"),
        (b'{"b":1,"a":2}', "not_canonical"),
        (b'{"a":1.0}', "not_canonical"),
        (b'{"a":-0}', "not_canonical"),
        (b'{"a":"\\u0062"}', "not_canonical"),
        (b'\xef\xbb\xbf{"a":1}', "not_json"),
        (b'{"a":NaN}', "not_json"),
        (b'{"a":-Infinity}', "not_json"),
        (b'{"a":1e999}', "not_json"),
        (b'{"a":' + b"9" * 5000 + b"}", "not_json"),
        (b'{"a":"\\ud800"}', "not_json"),
        (b'{"a":"\xff"}', "not_json"),
        (b"{", "not_json"),
        (b"", "not_json"),
        (b"\x00", "not_json"),
        (b"[" * 100_000, "too_deep"),
        (b'{"a":' * (MAX_DEPTH + 1), "too_deep"),
        (b" " * (MAX_BYTES + 1), "too_large"),
    ],
)
def test_each_way_of_hiding_something_has_its_code(text, wanted):
    assert code(text) == wanted


def test_a_pdf_says_where_the_signed_file_is():
    with pytest.raises(Refused, match="attached to it"):
        read_canonical(b"%PDF-1.7 and so on")


def test_brackets_inside_a_string_are_not_depth():
    text = b'{"a":"' + b"[" * 1000 + b'\\"{"}'
    assert read_canonical(text) == {"a": "[" * 1000 + '"{'}


json_values = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=False, allow_infinity=False) | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"]), max_size=5), inner, max_size=4),
    max_leaves=20,
)  # fmt: skip


@given(json_values)
def test_canonical_bytes_read_back_as_the_same_value(value):
    assert read_canonical(canonical(value)) == value
    assert canonical(read_canonical(canonical(value))) == canonical(value)


@given(st.dictionaries(st.text(st.characters(exclude_categories=["Cs"]), max_size=3), json_values))
def test_an_object_joined_from_its_members_is_the_object(document):
    assert joined(members(document)) == canonical(document)
    without = {name: value for name, value in document.items() if name != "a"}
    assert joined(members(document), "a") == canonical(without)


@given(st.binary(max_size=70))
def test_base58_reads_back_as_the_same_bytes(data):
    if data:
        assert from_base58(base58(data)) == data


@given(st.text(ALPHABET, min_size=1, max_size=100))
def test_no_two_base58_texts_are_the_same_bytes(digits):
    assert base58(from_base58("z" + digits)) == "z" + digits


# The encodings of small order that libsodium lists (from memory); 8 times each is the identity.
SMALL = [
    "00" * 32,
    "01" + "00" * 31,
    "ec" + "ff" * 30 + "7f",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a",
    "ed" + "ff" * 30 + "7f",
    "ee" + "ff" * 30 + "7f",
    "00" * 31 + "80",
]


@pytest.mark.parametrize("point", SMALL)
def test_a_key_for_which_any_signature_would_do_is_refused(point):
    with pytest.raises(ValueError, match="no point of prime order"):
        public_key(multikey(bytes.fromhex(point)))


@pytest.mark.parametrize(
    "text",
    [
        "",
        "z",
        "m123",
        "z0OIl",
        "z" + "2" * 200,
        multikey(b"\1" * 31),
        "zQ3shokFTS3brHcDQrn82RUDfCZESWL1ZdCEJwekUDPQiYBme",
    ],
)
def test_what_is_no_ed25519_multikey_is_refused(text):
    with pytest.raises(ValueError, match=r"multibase|Multikey"):
        public_key(text)
