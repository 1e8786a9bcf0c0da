"""A model goes out as JSON and comes back the same; no text at all brings the reader down."""

import json
from pathlib import Path

import pytest
from damage import places, replaced
from hypothesis import given, settings
from hypothesis import strategies as st
from lint_changes import CLEAN
from pydantic import ValidationError
from small import SHOPS, model

from claywit.errors import ClaywitError, ModelError
from claywit.model.lint import lint
from claywit.model.schema import Model
from claywit.model.soundness import read_model, sound
from claywit.model.source import read_document
from claywit.report.digest import plain

MODELS = Path(__file__).parents[2] / "models"


def refusal(data):
    """Return why *data* is no sound model, or nothing; any other error is a bug and goes through."""
    try:
        read_model(data, "m.yaml")
    except ClaywitError as error:
        return str(error)
    return ""


def test_a_model_reads_back_from_its_json():
    assert Model.model_validate(plain(model())) == model()


@pytest.mark.parametrize("name", ["oskervane", "tarn-loaves"])
def test_a_shipped_model_reads_back_from_its_json_text(name):
    known = read_model((MODELS / f"{name}.yaml").read_bytes(), name)
    written = known.model_dump_json(exclude_defaults=True)
    assert Model.model_validate(json.loads(written)) == known
    assert [node.name for node in Model.model_validate_json(written).nodes] == list(known.by_name)


def test_a_model_that_came_as_json_is_checked_too():
    """A mapping cannot name a node or a group twice; a list of a JSON file can."""
    data = plain(model())
    with pytest.raises(ModelError, match="shops: group shape stands twice"):
        sound(
            Model.model_validate(
                {**data, "groups": [*data["groups"], {"name": "shape", "nodes": []}]}
            ),
            "shops",
        )
    with pytest.raises(ValidationError, match="node wear stands twice"):
        Model.model_validate({**data, "nodes": [*data["nodes"], data["nodes"][-1]]})


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=200) | st.binary(max_size=200))
def test_no_text_brings_the_reader_down(text):
    data = text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")
    assert "\n" not in refusal(data)


lines = SHOPS.splitlines()


@settings(max_examples=300, deadline=None)
@given(
    st.integers(0, len(lines) - 1),
    st.sampled_from(["", "  x: 1", "- y", "nodes: 3", "  rows: []", "{", "'"]),
)
def test_no_damaged_line_brings_the_reader_down(at, damage):
    text = "\n".join([*lines[:at], damage, *lines[at + 1 :]])
    assert "\n" not in refusal(text.encode())


scraps = st.sampled_from(
    ["", "north", "0.5", "2", "-1", "1e-40", "nan", "a b", [], {}, ["north"], [[]], {"north": "1"},
     {"p": {"north": "1"}}, [{"p": {"north": "1"}}], {"leak": {"p": {"much": "0.1"}}}, {"height": "mm"},
     {"parent": "shop", "p": {"north": "0.1"}}, {"given": {"shop": ["north", "x"]}}, {"normal": {"mean": "0", "sd": "1"}}]
)  # fmt: skip
RICH = CLEAN.replace("  veil:\n", "  veil:\n    noisy_max: {leak: {p: {thick: 0.1}}}\n", 1).replace(
    "    rows: [{p: {clear: 0.8, thick: 0.2}, source: notes, n: 9}]\n", "", 1
)


def test_the_models_to_be_damaged_are_sound():
    assert (refusal(SHOPS.encode()), refusal(RICH.encode())) == ("", "")


BASES = [read_document(text.encode(), "base", ModelError).data for text in (SHOPS, RICH)]


@settings(max_examples=500, deadline=None)
@given(st.data())
def test_no_value_in_the_wrong_place_brings_the_reader_down(data):
    base = data.draw(st.sampled_from(BASES))
    for _ in range(data.draw(st.integers(1, 3))):
        base = replaced(base, data.draw(st.sampled_from(places(base))), data.draw(scraps))
        if not isinstance(base, dict):
            break
    text = json.dumps(base).encode()
    said = refusal(text)
    assert "\n" not in said
    assert "pydantic" not in said.lower()
    if not said:  # the value fits there; then the rules of `check` can look at it
        assert all(fault.text for fault in lint(read_model(text, "m.yaml")))


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_no_strange_key_brings_the_reader_down(data):
    base = data.draw(st.sampled_from(BASES))
    at = data.draw(st.sampled_from([p for p in places(base) if isinstance(p[-1], str)]))
    holder = base
    for step in at[:-1]:
        holder = holder[step]
    key = data.draw(
        st.sampled_from(["x", "name", "nodes", "[key]", "0", "p", "given", "öffnung", "a b"])
    )
    changed = {key if k == at[-1] else k: v for k, v in holder.items()}
    assert "\n" not in refusal(json.dumps(replaced(base, at[:-1], changed)).encode())
