"""What is typed into a form and not sent yet: kept on disk, and shown to nobody who may not see it."""

import json

import pytest
from bench.asking import Asking
from bench.payloads import PAYLOADS

CASE = f"/piece/{'a' * 16}"
INTAKE = "case/weir-021/intake"


def typed(asking, base="", form="terms"):
    return asking.get(f"{base}/typed?form={form}").json()


def keep(asking, fields, base="", form="terms"):
    return asking.post(f"{base}/typed", {"form": form, "fields": fields})


def test_what_is_typed_comes_back_field_by_field_until_the_form_is_sent(tmp_path):
    asking = Asking(tmp_path)
    piece = asking.practise()
    assert keep(asking, {"client": ["C"], "under": ["coating", ""]}, piece).status_code == 200
    keep(asking, {"notes": ["two words"]}, piece)
    keep(asking, {"client": None}, piece)
    keep(asking, {"story": ["of another form"]}, piece, "amend")
    again = Asking(tmp_path)  # the bench ended, and was started again
    assert typed(again, piece) == {"fields": {"under": ["coating", ""], "notes": ["two words"]}}
    keep(again, None, piece)
    assert typed(again, piece) == {"fields": {}}
    assert typed(again, piece, "amend") == {"fields": {"story": ["of another form"]}}


def test_what_is_typed_is_gone_with_its_piece(tmp_path):
    asking = Asking(tmp_path)
    piece = asking.practise()
    keep(asking, {"client": ["C"]}, piece)
    asking.post(f"{piece}/remove")
    assert not [path for path in asking.desk.drafts.iterdir() if piece[-16:] in path.name]
    assert keep(asking, {"client": ["C"]}, piece).status_code == 404


def test_hostile_words_come_back_letter_for_letter_as_data(tmp_path):
    asking = Asking(tmp_path)
    said = {f"field {i}": [text] for i, text in enumerate(PAYLOADS)}
    assert keep(asking, said, form="intake").status_code == 200
    answer = asking.get("/typed?form=intake")
    assert answer.headers["content-type"] == "application/json"
    assert answer.json() == {"fields": said}


@pytest.mark.parametrize(
    "sent",
    [
        {"form": "../casebook", "fields": {}},
        {"form": "terms"},
        {"form": "terms", "fields": {"client": "C"}},
        {"form": "terms", "fields": {"client": []}},
        {"form": "terms", "fields": {"": ["C"]}},
        {"form": "terms", "fields": {"client": ["C" * 60_001]}},
        {"form": "terms", "fields": {}, "more": 1},
    ],
)
def test_what_no_form_would_say_is_refused(tmp_path, sent):
    asking = Asking(tmp_path)
    piece = asking.practise()
    assert asking.post(f"{piece}/typed", sent).status_code == 422
    assert asking.post("/piece/bench/typed", {"form": "terms", "fields": {}}).status_code == 404


def test_more_than_is_kept_is_refused_and_what_was_kept_stays(tmp_path):
    asking = Asking(tmp_path)
    for i in range(3):
        keep(asking, {"notes": ["x" * 50_000] * 12}, form=f"case/c{i}/seal")
    told = keep(asking, {"notes": ["x" * 50_000] * 12}, form="intake")
    assert told.status_code == 422
    assert "send this form, or take back" in told.json()["error"].lower()
    assert len(typed(asking, form="case/c2/seal")["fields"]["notes"]) == 12


def test_a_damaged_file_is_named_and_not_written_over(tmp_path):
    asking = Asking(tmp_path)
    keep(asking, {"client": ["C"]}, form="intake")
    path = asking.desk.drafts / "bench.typed"
    path.write_text(path.read_text()[:-3])
    for answer in (asking.get("/typed?form=intake"), keep(asking, {"client": ["D"]})):
        assert answer.status_code == 422
        assert "bench.typed: is damaged; move it away" in answer.text
    path.write_text(json.dumps({"format": "claywit-typed/2"}))
    assert "newer than this claywit" in asking.get("/typed?form=intake").text


def test_who_reads_a_piece_sees_no_story_that_somebody_was_about_to_write(tmp_path):
    asking = Asking(tmp_path)
    asking.examine("weir-021")
    keep(asking, {"story": ["found in a boat locker"]}, form=INTAKE)
    told = typed(asking, form=INTAKE)
    assert told["fields"] == {}
    assert "hidden while readings of this piece are open" in told["hidden"]


def test_who_reads_a_piece_sees_no_reading_that_another_was_about_to_amend(asking):
    keep(asking, {"wear": ["{}", "because"]}, CASE, "amend")
    assert typed(asking, CASE, "amend")["fields"] == {"wear": ["{}", "because"]}
    asking.post("/begin", {"case": "weir-004", "examiner": "B"})
    assert typed(asking, CASE, "amend")["fields"] == {}


def test_what_is_hidden_is_neither_typed_over_nor_thrown_away_by_who_may_not_see_it(asking):
    form = "case/weir-007/seal"
    asking.post("/typed", {"form": form, "fields": {"story": ["of A"]}})
    assert asking.post("/begin", {"case": "weir-007", "examiner": "B"}).status_code == 200
    for fields in ({"story": ["of B"]}, None):
        told = asking.post("/typed", {"form": form, "fields": fields})
        assert (told.status_code, "is hidden" in told.json()["error"]) == (422, True)
    kept = json.loads((asking.desk.drafts / "bench.typed").read_text())
    assert kept["forms"][form] == {"story": ["of A"]}
