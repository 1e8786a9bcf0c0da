import pytest

from claywit.errors import ModelError
from claywit.model.rewriting import rewrite
from claywit.model.source import read_document

TEXT = """# The head stays.
format: claywit-model/1
version: 1.0.0
sources:
  # how we know
  elicited: Elicited; no pieces
nodes:
  rim:
    # before the rows
    rows:
      - {given: {shop: north}, p: {bevelled: 0.8,  flat: 0.2}, source: elicited, n: 20}  # beside
      - given: {shop: south}
        p:
          bevelled: 0.1   # rare
          flat: 0.9
        n: 5  # few

  mark: {label: "Mark, or not", rows: [{p: {a: 0.5, b: 0.5}}]}
# The foot stays.
"""


def data(text):
    return read_document(text.encode(), "m.yaml", ModelError).data


def test_nothing_to_change_leaves_every_byte():
    assert rewrite(TEXT, {}, "m.yaml") == TEXT


def test_a_value_is_written_over_the_old_one_and_nothing_else_is_touched():
    new = rewrite(TEXT, {("nodes", "rim", "rows", 0, "p"): {"bevelled": 0.75, "flat": 0.25}}, "m")
    assert new == TEXT.replace("{bevelled: 0.8,  flat: 0.2}", "{bevelled: 0.75,  flat: 0.25}")


def test_comments_inside_a_block_survive_byte_for_byte():
    changes = {
        ("nodes", "rim", "rows", 1, "p"): {"bevelled": 0.125, "flat": 0.875},
        ("nodes", "rim", "rows", 1, "n"): 9.5,
        ("version",): "1.1.0",
    }
    new = rewrite(TEXT, changes, "m.yaml")
    expected = TEXT.replace("0.1   # rare", "0.125   # rare").replace(
        "flat: 0.9\n", "flat: 0.875\n"
    )
    assert new == expected.replace("n: 5  # few", "n: 9.5  # few").replace("1.0.0", "1.1.0")


def test_a_new_key_stands_last_in_a_row_whether_flow_or_block():
    changes = {("nodes", "rim", "rows", i, "counted"): 4 for i in (0, 1)}
    new = rewrite(TEXT, changes, "m.yaml")
    assert "n: 20, counted: 4}  # beside\n" in new
    assert "        n: 5  # few\n        counted: 4\n" in new
    assert [row["counted"] for row in data(new)["nodes"]["rim"]["rows"]] == ["4", "4"]


def test_new_entries_find_or_make_their_top_level_mapping():
    changes = {
        ("sources", "counted"): "Counted: 12 pieces, by hand",
        ("reading_matrices", "H", "p"): {"a": {"a": 0.9, "b": 0.1}},
        ("reading_matrices", "H", "n"): 8,
    }
    new = rewrite(TEXT, changes, "m.yaml")
    assert 'no pieces\n  counted: "Counted: 12 pieces, by hand"\nnodes:' in new
    assert data(new)["reading_matrices"] == {
        "H": {"p": {"a": {"a": "0.9", "b": "0.1"}}, "n": "8"}
    }  # fmt: skip
    assert "# The foot stays.\n" in new


def test_other_keys_than_before_take_the_place_of_the_whole_mapping():
    new = rewrite(TEXT, {("nodes", "rim", "rows", 1, "p"): {"flat": 1}}, "m.yaml")
    row = data(new)["nodes"]["rim"]["rows"][1]
    assert row == {"given": {"shop": "south"}, "p": {"flat": "1"}, "n": "5"}


def test_a_file_without_a_last_newline_can_grow():
    new = rewrite("a: 1\nb: 2", {("c",): "x"}, "m.yaml")
    assert data(new) == {"a": "1", "b": "2", "c": "x"}


def test_letters_of_several_bytes_do_not_shift_the_places():
    new = rewrite("\ufefftitle: Größe – ½ 𐌰\nn: 1\n", {("n",): 2}, "m.yaml")
    assert new == "title: Größe – ½ 𐌰\nn: 2\n"


def test_what_is_not_there_cannot_be_written_to():
    with pytest.raises(ModelError, match=r"m\.yaml: nodes, rim, rows, 7, n: there is no such"):
        rewrite(TEXT, {("nodes", "rim", "rows", 7, "n"): 1}, "m.yaml")


@pytest.mark.parametrize("words", ["a, b", "it: is", "# no", " x", "", "ü", "a #b", "'q'", "- a"])
def test_text_is_quoted_where_a_reader_would_take_it_for_something_else(words):
    for text in ("sources: {a: b}\n", "sources:\n  a: b\n"):
        new = rewrite(text, {("sources", "a"): words, ("sources", "c"): words}, "m.yaml")
        assert data(new)["sources"] == {"a": words, "c": words}
