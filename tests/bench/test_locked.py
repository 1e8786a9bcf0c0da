"""What is locked and what the page shows stay one, whoever comes between."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from unittest.mock import Mock

import pytest
from bench.asking import Asking
from patience import HANGS

from claywit.bench import drafts, saving
from claywit.bench.draft import Reading, change
from claywit.bench.pages import front
from claywit.bench.standing import open_up
from claywit.records import casebook, opening
from claywit.records.case import read_case


@pytest.fixture
def bench(tmp_path):
    return Asking(tmp_path)


def locked(bench, **states):
    """Lock a piece of which these states were seen; return its address, and the version."""
    piece = bench.examine()
    bench.see(piece, **states)
    version = 1 + len(states)
    assert bench.post(f"{piece}/lock", {"version": version}).status_code == 200
    return piece, version


def amend(bench, piece, version, node, state):
    reading = {"way": "seen", "state": state}
    said = {"version": version, "node": node, "reading": reading, "reason": "looked again"}
    return bench.post(f"{piece}/amend", said)


def test_an_amendment_never_takes_back_what_another_program_amended(bench):
    piece, version = locked(bench, grog="present", wear="none")
    with opening.opened(bench.casebook, write=True) as store:
        _, record = read_case(store, "weir-021").examination("A")
        written = store.get(record.evidence).replace(b"state: present", b"state: absent")
        casebook.amend(store, "weir-021", written, "by terminal", bench.now(), name="e.yaml")
    refused = amend(bench, piece, version, "wear", "high_points")
    assert refused.status_code == 409
    assert "with an evidence file, on the page of the case" in refused.json()["error"]
    with opening.opened(bench.casebook) as store:
        _, record = read_case(store, "weir-021").examination("A")
        assert store.get(record.evidence) == written


def test_an_amendment_cut_off_before_its_draft_was_saved_is_finished_by_trying_again(
    bench, monkeypatch
):
    piece, version = locked(bench, grog="present", wear="none")
    with monkeypatch.context() as patched:
        patched.setattr(drafts, "save", Mock(side_effect=KeyError("power")))
        assert amend(bench, piece, version, "grog", "absent").status_code == 500
    assert bench.state(piece)["readings"]["grog"]["state"] == "present"
    assert amend(bench, piece, version, "grog", "absent").status_code == 200
    assert bench.state(piece)["readings"]["grog"]["state"] == "absent"
    found = open_up(bench.desk, piece.rpartition("/")[2]).examined.evidence.readings
    assert [one.about for one in found.amendments] == ["grog"]
    assert amend(bench, piece, version + 1, "wear", "high_points").status_code == 200


def test_an_answer_under_way_while_the_readings_are_locked_is_not_saved_beside_them(bench):
    piece = bench.examine()
    bench.see(piece, grog="present")
    name = piece.rpartition("/")[2]
    look, waiting = saving.stand, threading.Event()

    def slowly(desk, draft):
        found = look(desk, draft)
        waiting.set()
        time.sleep(0.3)  # in which the lock would come between
        return found

    with pytest.MonkeyPatch.context() as patched, ThreadPoolExecutor(1) as hand:
        patched.setattr(saving, "stand", slowly)
        make = partial(change, node="wear", after=Reading(way="seen", state="none"))
        answer = hand.submit(saving.save, bench.desk, name, 2, lambda d, at: (make(d, now=at), ""))
        assert waiting.wait(HANGS)
        refused = bench.post(f"{piece}/lock", {"version": 2})
        assert answer.result(HANGS)["version"] == 3
    assert refused.status_code == 409
    assert not bench.state(piece)["locked"]


def test_two_clicks_begin_one_examination(bench):
    piece = bench.examine()
    drafts.remove(bench.desk.drafts, piece.rpartition("/")[2])
    look = front.read_case

    def slowly(*args):
        time.sleep(0.2)
        return look(*args)

    with pytest.MonkeyPatch.context() as patched, ThreadPoolExecutor(2) as hands:
        patched.setattr(front, "read_case", slowly)
        begun = set(hands.map(lambda _: front._begin(bench.desk, "weir-021", "A"), range(2)))
    assert len(begun) == 1


def test_an_opinion_is_kept_before_it_is_shown_even_after_a_crash_or_another_programs_lock(bench):
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(
            "claywit.bench.pages.locking.keep_opinion", Mock(side_effect=KeyError("power"))
        )
        piece = bench.examine()
        bench.see(piece, grog="present")
        assert bench.post(f"{piece}/lock", {"version": 2}).status_code == 500
    with opening.opened(bench.casebook) as store:
        assert read_case(store, "weir-021").opinions == []
    assert bench.get(f"{piece}/opinion").status_code == 200
    assert bench.get(f"{piece}/judged").status_code == 200
    with opening.opened(bench.casebook) as store:
        assert len(read_case(store, "weir-021").opinions) == 1
    assert amend(bench, piece, 2, "grog", "absent").status_code == 200
    found = open_up(bench.desk, piece.rpartition("/")[2]).examined.evidence.readings
    assert [one.opinion_seen for one in found.amendments] == [True]


def test_a_second_examiner_sees_no_story_and_no_reading_of_the_first_before_locking(bench):
    first = bench.examine(story="found in a boat locker", price="40")
    bench.see(first, grog="present")
    assert bench.post(f"{first}/lock", {"version": 2}).status_code == 200
    assert amend(bench, first, 2, "grog", "absent").status_code == 200
    assert bench.post(f"{first}/unmask").status_code == 200
    case = "/casebook/case/weir-021"
    assert "boat locker" in bench.get(case).text
    second = bench.post("/begin", {"case": "weir-021", "examiner": "B"}).json()["go"]
    for address in (case, "/casebook", "/casebook?q=boat", "/", second):
        shown = bench.get(address)
        assert shown.status_code == 200
        assert "boat locker" not in shown.text
        assert "looked again" not in shown.text
    assert "No case holds" in bench.get("/casebook?q=boat").text
    assert bench.post(f"{second}/unmask").status_code == 403
