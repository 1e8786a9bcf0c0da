from datetime import timedelta
from pathlib import Path
from unittest.mock import Mock

import pytest
from bench.asking import Asking

from claywit.assessment import assess
from claywit.bench import drafts
from claywit.bench.draft import Reading, change, undo
from claywit.bench.standing import open_up
from claywit.certificate.face import _amended
from claywit.certificate.trace import Terms, trace
from claywit.errors import ImpossibleEvidence
from claywit.records import opening
from claywit.records.case import read_case
from claywit.records.files import read_model


@pytest.fixture
def bench(tmp_path):
    return Asking(tmp_path)


def test_an_answer_is_on_disk_when_it_is_acknowledged(bench, tmp_path):
    piece = bench.practise()
    bench.see(piece, arch_contact="crown")
    (kept,) = (tmp_path / "casebook-bench").glob("*.000000002.json")
    assert '"state":"crown"' in kept.read_text()


def test_who_has_not_seen_the_newest_version_saves_nothing(bench):
    piece = bench.practise()
    bench.see(piece, arch_contact="crown")
    late = bench.post(
        f"{piece}/answer",
        {"version": 1, "node": "wear", "reading": {"way": "seen", "state": "none"}},
    )
    assert late.status_code == 409
    assert list(bench.state(piece)["readings"]) == ["arch_contact"]


def test_two_saves_of_one_version_at_the_same_moment_leave_one(bench):
    piece = bench.practise()
    name = piece.rpartition("/")[2]
    draft = drafts.read(bench.desk.drafts, name)
    following = draft.model_copy(update={"version": 2})
    drafts.save(bench.desk.drafts, following)
    with pytest.raises(drafts.Stale):
        drafts.save(bench.desk.drafts, following)


def test_undo_brings_back_what_stood_before_and_redo_takes_it_away_again(bench):
    piece = bench.practise()
    bench.see(piece, arch_contact="crown")
    bench.see(piece, arch_contact="none")
    undone = bench.post(f"{piece}/undo", {"version": 3}).json()
    assert (undone["readings"]["arch_contact"]["state"], undone["node"]) == (
        "crown",
        "arch_contact",
    )
    redone = bench.post(f"{piece}/redo", {"version": 4}).json()
    assert redone["readings"]["arch_contact"]["state"] == "none"
    assert not redone["can_redo"]


def test_the_opinion_is_hidden_until_the_readings_are_locked(bench):
    piece = bench.examine()
    bench.see(piece, arch_contact="crown", grog="present")
    for page in ("opinion", "judged", "why/mould"):
        refused = bench.get(f"{piece}/{page}")
        assert refused.status_code == 403
        assert "stays hidden" in refused.text
    version = bench.state(piece)["version"]
    assert bench.post(f"{piece}/lock", {"version": version}).status_code == 200
    assert "Production class" in bench.get(f"{piece}/opinion").text
    assert "draws of the model" in bench.get(f"{piece}/judged").text


def test_before_the_lock_the_page_names_traits_and_no_state_of_the_question(bench):
    piece = bench.examine()
    bench.see(piece, arch_contact="right_shoulder", grog="present")
    shown = bench.get(f"{piece}/next").text
    assert "data-trait=" in shown
    model = bench.desk.model
    for name in model.targets:
        for state in model.node(name).states:
            assert state.name not in shown
            assert not state.label or state.label not in shown
    assert "bits" not in shown
    assert "%" not in shown


def test_story_and_price_stay_sealed_until_the_readings_are_locked(bench):
    piece = bench.examine(story="found in a boat locker", price="40")
    assert "boat locker" not in bench.get(piece).text
    assert bench.post(f"{piece}/unmask").status_code == 403
    bench.see(piece, grog="present")
    bench.post(f"{piece}/lock", {"version": 2})
    told = bench.post(f"{piece}/unmask").json()["stories"]
    assert ["story", "found in a boat locker"] in [list(pair) for pair in told]


def test_an_unfinished_or_unfit_answer_is_kept_named_and_bars_the_lock(bench):
    piece = bench.examine()
    bench.answer(
        piece, "size", {"way": "measured", "measures": {"height": {"value": "43,5", "unit": "mm"}}}
    )
    bench.answer(piece, "wear", {"way": "half", "state": "none"})
    problems = bench.state(piece)["problems"]
    assert "decimal comma" in problems["size"]
    assert "how sure" in problems["wear"]
    refused = bench.post(f"{piece}/lock", {"version": 3})
    assert refused.status_code == 422
    assert "Height and width" in refused.json()["error"]


def test_an_answer_that_another_one_rules_out_is_named_and_the_rest_is_weighed(bench):
    piece = bench.practise()
    bench.see(piece, crack_net="net", crack_lip="sharp", grog="present")
    bench.see(piece, crack_net="none")
    assert "applies only where" in bench.state(piece)["problems"]["crack_lip"]
    assert bench.get(f"{piece}/opinion").status_code == 200


def test_what_is_wrong_with_the_terms_is_refused_before_it_is_saved(bench):
    piece = bench.practise()
    refused = bench.post(
        f"{piece}/terms",
        {"version": 1, "question": "mould", "for.mould": "M99", "against.mould": "M01"},
    )
    assert refused.status_code == 422
    assert "M99" in refused.json()["error"]
    assert bench.state(piece)["version"] == 1


def test_a_locked_reading_changes_only_as_an_amendment_with_its_reason(bench):
    piece = bench.examine()
    bench.see(piece, grog="present", wear="none")
    bench.post(f"{piece}/lock", {"version": 3})
    assert bench.answer(piece, "grog", None).status_code == 423
    changed = {"version": 3, "node": "grog", "reading": {"way": "seen", "state": "absent"}}
    assert bench.post(f"{piece}/amend", changed).status_code == 422
    assert (
        bench.post(f"{piece}/amend", {**changed, "reason": "it was red pigment"}).status_code == 200
    )
    assert bench.state(piece)["readings"]["grog"]["state"] == "absent"


def test_a_practice_piece_is_never_locked(bench):
    piece = bench.practise()
    bench.see(piece, grog="present")
    refused = bench.post(f"{piece}/lock", {"version": 2})
    assert refused.status_code == 422
    assert "never locked" in refused.json()["error"]


def test_the_certificate_prints_what_was_amended_after_the_opinion_was_seen(bench):
    piece = bench.examine()
    bench.see(piece, grog="present", wear="none")
    bench.post(f"{piece}/lock", {"version": 3})
    changed = {"node": "grog", "reading": {"way": "half", "state": "absent", "sure": 0.9}}
    bench.post(f"{piece}/amend", {**changed, "version": 3, "reason": "it was red pigment"})
    examined = open_up(bench.desk, piece.rpartition("/")[2]).examined
    (one,) = examined.evidence.readings.amendments
    assert (one.about, one.was, one.now, one.opinion_seen) == (
        "grog",
        "present",
        "absent (sure 0.9)",
        True,
    )
    assert one.reason == "Grog: it was red pigment"
    report = assess(bench.desk.model, examined, bench.desk.standards)
    found = trace(bench.desk.model, examined, bench.desk.standards, report, Terms())
    (row,) = _amended(found, report)
    assert row[0] == "Grog"
    assert "after an opinion was formed" in row[1]
    assert row[2:] == ["present → absent (sure 0.9)", "Grog: it was red pigment"]


def test_readings_of_the_same_piece_by_another_examiner_are_not_offered(bench):
    first = bench.examine(examiner="A")
    bench.see(first, grog="present")
    second = bench.post("/begin", {"case": "weir-021", "examiner": "B"}).json()["go"]
    practice = bench.practise("other")
    bench.see(practice, wear="none")
    offered = [one["name"] for one in bench.get(f"{second}/others").json()]
    assert offered == ["other (practice)"]


def test_a_second_examiner_sees_no_opinion_before_locking_too(bench):
    first = bench.examine(examiner="A")
    bench.see(first, grog="present")
    bench.post(f"{first}/lock", {"version": 2})
    second = bench.post("/begin", {"case": "weir-021", "examiner": "B"}).json()["go"]
    assert bench.get(f"{second}/opinion").status_code == 403
    assert bench.get(f"{first}/opinion").status_code == 403  # the screen is one for both
    bench.see(second, grog="absent")
    bench.post(f"{second}/lock", {"version": 2})
    assert bench.get(f"{first}/opinion").status_code == 200


def test_whoever_begins_again_goes_on_where_they_left_off(bench):
    piece = bench.examine()
    bench.see(piece, grog="present")
    assert bench.post("/begin", {"case": "weir-021", "examiner": "A"}).json()["go"] == piece


def test_only_what_is_practice_or_empty_is_removed(bench):
    practice, piece = bench.practise(), bench.examine()
    bench.see(piece, grog="present")
    assert bench.post(f"{practice}/remove").status_code == 200
    assert bench.get(practice).status_code == 404
    assert bench.post(f"{piece}/remove").status_code == 422
    assert bench.get(piece).status_code == 200


def test_a_piece_read_by_one_model_is_not_shown_by_another(bench):
    piece = bench.practise()
    other = read_model(Path("models/tarn-loaves.yaml"))
    object.__setattr__(bench.desk, "model", other)
    assert "oskervane" in bench.get(piece).text
    assert piece not in bench.get("/").text


def test_the_oldest_steps_are_forgotten_before_a_draft_grows_too_long(bench):
    piece = bench.practise()
    draft = drafts.read(bench.desk.drafts, piece.rpartition("/")[2])
    for i in range(200):
        draft = change(
            draft,
            "wear",
            Reading(way="hidden", note=f"{i} " + "x" * 3990, where="y" * 4000),
            bench.now(),
        )
    drafts.save(bench.desk.drafts, draft)
    kept = drafts.read(bench.desk.drafts, draft.id)
    assert kept.readings == draft.readings
    assert 0 < len(kept.done) < 200
    assert len(kept.model_dump_json()) < drafts.LONG


def test_typing_without_a_pause_is_one_step(bench):
    piece = bench.practise()
    draft = drafts.read(bench.desk.drafts, piece.rpartition("/")[2])
    start = bench.now()
    for i, text in enumerate(("a", "a c", "a chip")):
        draft = change(
            draft,
            "wear",
            Reading(way="hidden", note=text),
            start + timedelta(seconds=i),
            part="note",
        )
    assert len(draft.done) == 1
    assert undo(draft, start)[0].readings == {}


def test_what_cannot_stand_together_is_said_before_it_is_locked(bench):
    piece = bench.examine()
    bench.see(piece, crack_net="none")
    bench.answer(
        piece, "size", {"way": "measured", "measures": {"height": {"value": "43", "unit": "mm"}}}
    )
    impossible = ImpossibleEvidence(
        "crack_net and size cannot stand together", ["crack_net", "size"]
    )
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("claywit.bench.pages.locking.glance", Mock(side_effect=impossible))
        refused = bench.post(f"{piece}/lock", {"version": 3})
    assert refused.status_code == 422
    assert "cannot stand together" in refused.json()["error"]
    assert not bench.state(piece)["locked"]


def test_where_provenance_is_contested_readings_are_locked_and_no_opinion_is_given(bench):
    piece = bench.examine(more="checklist: {provenance_contested: {answer: 'yes'}}")
    bench.see(piece, grog="present")
    assert bench.post(f"{piece}/lock", {"version": 2}).status_code == 200
    for page in ("opinion", "judged"):
        refused = bench.get(f"{piece}/{page}")
        assert refused.status_code == 403
        assert "contested" in refused.text
    with opening.opened(bench.casebook) as store:
        assert read_case(store, "weir-021").opinions == []
