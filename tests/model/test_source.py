"""YAML is read as plain text and structure; everything else in it is refused with its line."""

import time
from pathlib import Path

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
        ("a: !!float 1\n", "m.yaml:1: an anchor or tag (!!float); leave it out"),
        ("a:\n  <<: {b: 1}\n", "m.yaml:2: a merge key (<<); write the keys out"),
        ("a: 1\n---\nb: 2\n", "m.yaml:2: a second document begins here"),
        ("", "the file is empty"),
        ("# nothing\n", "the file is empty"),
        ("a: [1, 2\n\n", "a list in [ ] lacks a comma or its end (what begins on line 1)"),
        ("a: {b: 1\nc: 2\n", "m.yaml:2: not readable as YAML: a mapping in { } lacks a comma"),
        ("a: 1\nb: 'x\n", "a quotation mark is not closed (what begins on line 2)"),
        ("a: b: c\n", "m.yaml:1: not readable as YAML: a second colon on this line"),
        ("a: 1\nb: @x\n", "m.yaml:2: not readable as YAML: a value cannot begin with this"),
        ("a:\n    b: 1\n  c: 2\n", "m.yaml:3: not readable as YAML: the indentation does not fit"),
        ("a:\n\t- 1\n", "m.yaml:2: not readable as YAML: the line begins with a tab; indent with"),
        (
            "a: 1\nb: \x00\n",
            "m.yaml:2: a character that cannot be seen (U+0000); save the file as UTF-8",
        ),
        ("? [a, b]\n: 1\n", "m.yaml:1: a key must be a plain name"),
        ("'': 1\n", "m.yaml:1: a key must be a plain name"),
        ("a: b".encode("utf-16-le"), "m.yaml:1: a character that cannot be seen (U+0000); save"),
        (b"a: 1\nb: \x1b[31m\n", "m.yaml:2: a character that cannot be seen (U+001B); delete it"),
        (b"\xff\xfea\x00:\x00", "byte 0 is not UTF-8; save the file as UTF-8"),
        (b"a: \xc3\x28\n", "m.yaml:1: byte 3 is not UTF-8"),
        (b"a: 1\nb: r\xe9\n", "m.yaml:2: byte 9 is not UTF-8; save the file as UTF-8"),
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
    with pytest.raises(ModelError, match=r"nested deeper than 24 levels|nested too deep"):
        read(text)


def test_a_file_that_is_too_large_is_refused_unread():
    with pytest.raises(ModelError, match="4,000,001 bytes, at most 4,000,000 are read"):
        read(b"a" * (MAX_BYTES + 1))


def test_a_large_file_is_read_in_linear_time():
    """A list of 200,000 entries, and 100,000 keys: two megabytes that nobody writes by hand."""
    start = time.process_time()
    assert len(read("a: [" + "x, " * 200_000 + "x]").data["a"]) == 200_001
    assert len(read("".join(f"key{i}: x\n" for i in range(100_000))).data) == 100_000
    assert time.process_time() - start < 20


@pytest.mark.parametrize("name", ["oskervane", "tarn-loaves"])
def test_every_line_number_of_a_shipped_model_is_right(name):
    """The line that a path begins on holds the last step of the path, or opens its list entry."""
    text = (Path(__file__).parents[2] / "models" / f"{name}.yaml").read_text(encoding="utf-8")
    lines = text.split("\n")
    for path, line in read(text).lines.items():
        if path and isinstance(path[-1], str):
            assert path[-1] in lines[line - 1]


def test_a_bomb_of_aliases_is_refused_at_its_first_anchor():
    text = "a: &a [x, x]\nb: &b [*a, *a]\nc: [*b, *b]\n"
    with pytest.raises(ModelError, match=r"m\.yaml:1: an anchor"):
        read(text)
