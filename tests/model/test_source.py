"""YAML is read as plain text and structure; everything else in it is refused with its line."""

import pytest

from claywit.errors import ModelError
from claywit.model.source import MAX_BYTES, read_document


def read(text):
    data = text if isinstance(text, bytes) else text.encode()
    return read_document(data, "m.yaml", ModelError)


def test_scalars_stay_text():
    document = read("a: no\nb: 010\nc: 1.0\nd: .nan\ne: 2026-01-10\nf: ~\n")
    assert document.data == {
        "a": "no",
        "b": "010",
        "c": "1.0",
        "d": ".nan",
        "e": "2026-01-10",
        "f": "~",
    }


def test_every_path_knows_its_line():
    document = read("a:\n  b:\n    - x\n    - {c: y}\n")
    assert document.place(("a", "b", 1, "c")) == "m.yaml:4"
    assert document.place(("a", "b", 1, "missing")) == "m.yaml:4"
    assert document.place(("nowhere",)) == "m.yaml:1"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a: 1\nb: 2\na: 3\n", "m.yaml:3: key a stands twice (first on line 1)"),
        ("a: &x 1\nb: 2\n", "m.yaml:1: an anchor or tag (x); leave it out"),
        ("a: 1\nb: *x\n", "m.yaml:2: an alias (*x); write the value out"),
        ("a: !!python/object:os.system x\n", "m.yaml:1: an anchor or tag"),
        ("a: !!float 1\n", "m.yaml:1: an anchor or tag"),
        ("a: 1\n---\nb: 2\n", "m.yaml:2: a second document begins here"),
        ("", "the file is empty"),
        ("# nothing\n", "the file is empty"),
        ("a: [1, 2\n", "not readable as YAML"),
        ("a:\n\t- 1\n", "m.yaml:2: not readable as YAML"),
        ("a: \x00\n", "not readable as YAML"),
        ("? [a, b]\n: 1\n", "m.yaml:1: a key must be a plain name"),
        ("'': 1\n", "m.yaml:1: a key must be a plain name"),
        (b"\xff\xfea\x00:\x00", "byte 0 is not UTF-8; save the file as UTF-8"),
        (b"a: \xc3\x28\n", "byte 3 is not UTF-8"),
    ],
)
def test_what_needs_interpretation_is_refused(text, said):
    with pytest.raises(ModelError) as raised:
        read(text)
    assert said in str(raised.value)
    assert "\n" not in str(raised.value)


def test_a_byte_order_mark_is_no_part_of_the_text():
    assert read(b"\xef\xbb\xbfa: 1\n").data == {"a": "1"}


@pytest.mark.parametrize("text", ["[" * 20_000, "a: " + "{b: " * 20_000, "- " * 20_000])
def test_deep_nesting_is_refused_without_deep_recursion(text):
    with pytest.raises(ModelError, match="nested deeper than 24 levels|not readable as YAML"):
        read(text)


def test_a_file_that_is_too_large_is_refused_unread():
    with pytest.raises(ModelError, match="4,000,001 bytes, at most 4,000,000 are read"):
        read(b"a" * (MAX_BYTES + 1))


def test_a_bomb_of_aliases_is_refused_at_its_first_anchor():
    text = "a: &a [x, x]\nb: &b [*a, *a]\nc: [*b, *b]\n"
    with pytest.raises(ModelError, match=r"m\.yaml:1: an anchor"):
        read(text)
