"""The intake form: what it asks, what it lacks, and that any text is a form or one clear error."""

from contextlib import suppress

from hypothesis import given, settings
from hypothesis import strategies as st

from claywit.errors import CasebookError
from claywit.evidence.written import ObjectId
from claywit.records.intake import (
    DEFERENCE,
    OBJECT_FIELDS,
    QUESTIONS,
    empty_form,
    missing,
    open_questions,
    read_intake,
)
from claywit.records.kept import Checklist


def test_the_empty_form_can_be_read_and_asks_every_field():
    written = empty_form("p-1")
    found, _ = read_intake(written.encode(), "form.yaml")
    assert set(OBJECT_FIELDS) | {"id", "photographs"} == set(ObjectId.model_fields)
    assert set(QUESTIONS) == set(Checklist.model_fields)
    assert all(name in written for name in [*OBJECT_FIELDS, *QUESTIONS])
    assert open_questions(found.checklist) == list(QUESTIONS)


def test_what_object_id_still_lacks_is_said():
    piece = ObjectId(id="p", type="tile", materials="clay", measurements="40 mm",
                     distinguishing_features="chip", subject="heron", description="a tile")  # fmt: skip
    assert missing(piece, 0) == ["photographs"]
    assert missing(ObjectId(id="p"), 2)[0] == "type"


def test_the_checklist_defers_to_local_law():
    assert "local law and the authorities come first" in DEFERENCE


@settings(max_examples=60)
@given(st.text())
def test_any_text_is_a_form_or_one_clear_error(text):
    with suppress(CasebookError):
        read_intake(text.encode("utf-8", "surrogatepass"), "form.yaml")
