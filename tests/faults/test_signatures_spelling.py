"""The same data in another spelling: a signed file has one, and no other is taken."""

import json
import re
from collections import Counter
from random import Random

from forged import golden
from made import codes, verify
from trials import times

TOKEN = re.compile(rb'"(?:[^"\\]|\\.)*"|-?[0-9][0-9.eE+-]*|[\[\]{},:]|true|false|null')
AROUND = (b" ", b"\t", b"\n", b"\r\n", b"\xc2\xa0", b"\x00", b"/**/", b"\xef\xbb\xbf")


def number_spelled(token):
    yield token + b".0" if token.isdigit() else token + b"0"
    yield token + b"e0"
    yield token + b"E+0"
    yield b"+" + token
    yield b"0" + token
    if token == b"0":
        yield b"-0"


def text_spelled(token):
    first = token[1:2]
    if first.isalnum():
        yield b'"\\u%04x' % first[0] + token[2:]
        yield b'"\\u%04X' % first[0] + token[2:]
    yield b"'" + token[1:-1] + b"'"
    if b"/" in token:
        yield token.replace(b"/", b"\\/", 1)
    for character in re.findall("[^\x00-\x7f]", token.decode())[:1]:
        yield token.replace(character.encode(), json.dumps(character)[1:-1].encode(), 1)


def respelled(text):
    """Yield *text* with one token spelled otherwise, and the kind of it."""
    for found in TOKEN.finditer(text):
        token, (start, end) = found[0], found.span()
        spellings = text_spelled(token) if token[:1] == b'"' else ()
        if token[:1] in b"-0123456789":
            spellings = number_spelled(token)
        for other in spellings:
            yield text[:start] + other + text[end:]
        for around in AROUND:
            yield text[:start] + around + text[start:]


def test_one_token_in_another_spelling_is_refused(tried):
    text, found = golden().text, Counter()
    every = list(respelled(text))
    count = times(100, 1500)
    for other in Random(11).sample(every, count):  # noqa: S311 - which are tried
        assert other != text
        verdict = verify(other, recompute=False)
        assert not verdict.valid, other[:200]
        found.update(codes(verdict))
    assert set(found) <= {"not_canonical", "not_json", "duplicate_key"}
    said = ", ".join(f"{n:,} `{code}`" for code, n in found.most_common())
    tried(
        "one token spelled otherwise: numbers, escapes, quotes, white space",
        sum(found.values()),
        f"all rejected: {said}",
    )


def test_the_whole_file_in_another_spelling_is_refused(tried):
    text = golden().text
    data = json.loads(text)
    whole = [
        json.dumps(data, indent=2).encode(),
        json.dumps(data, separators=(",", ":")).encode(),
        json.dumps(data, separators=(",", ":"), ensure_ascii=False, sort_keys=False).encode() + b"\n",
        json.dumps(dict(reversed(data.items())), separators=(",", ":"), ensure_ascii=False).encode(),
        *(text.decode().encode(code) for code in ("utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-8-sig", "utf-7")),
        text + text, b"[" + text + b"]", text.replace(b"shop", "ſhop".encode()), text[::-1],
        *(text + bytes([byte]) for byte in range(256)),
    ]  # fmt: skip
    refused = sum(not verify(other, recompute=False).valid for other in whole if other != text)
    assert refused == len([other for other in whole if other != text]) > 260
    tried("the whole file spelled otherwise, or with one byte behind it", refused, "all rejected")


def test_a_certificate_cut_anywhere_is_refused(tried):
    text = golden().text
    step = times(211, 7)
    cuts = [verify(text[:at], recompute=False).valid for at in range(0, len(text), step)]
    assert not any(cuts)
    tried("cut short, at places all through the file", len(cuts), "all rejected")


def test_every_single_byte_counts(tried):
    """One bit of each byte is turned, in the routine suite of each eighth byte."""
    text, step, found = golden().text, times(8, 1), Counter()
    assert verify(text, recompute=False).valid
    for i in range(0, len(text), step):
        flipped = text[:i] + bytes([text[i] ^ (1 << (i // step % 8))]) + text[i + 1 :]
        (failure,) = codes(verify(flipped, recompute=False))
        found[failure] += 1
    tried(
        "one bit of a byte turned, at places all through the file",
        sum(found.values()),
        f"all rejected, by {len(found)} codes",
    )
