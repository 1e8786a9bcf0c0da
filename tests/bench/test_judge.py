"""The process that judges: it answers as the bench itself would, gives way, and comes back."""

import os
import signal
import sys
import threading
from importlib import import_module

import pytest
from bench import laid
from patience import HANGS

from claywit import assessment
from claywit.bench.judge import Dropped, Judge, _Work
from claywit.errors import ClaywitError
from claywit.evidence.binding import bind
from claywit.evidence.written import read_evidence
from claywit.records.files import read_demonstration, read_standards

MODEL = read_demonstration()


def examined(name="04-marrable"):
    evidence, document = read_evidence(laid.example(name), "e.yaml")
    return bind(evidence, MODEL, document.place)


@pytest.fixture(scope="module")
def judge():
    found = Judge(MODEL)
    yield found
    found.close()


def test_it_judges_as_the_bench_itself_would(judge):
    piece, standards = examined(), read_standards()
    found = judge.ask(assessment.look_next, piece, standards.policy)
    assert found == assessment.look_next(MODEL, piece, standards.policy)


def test_what_a_person_can_put_right_stays_that(judge):
    with pytest.raises(ClaywitError, match="no_such_node"):
        judge.ask(assessment.ask, examined(), "no_such_node", None, None)


def test_a_fault_of_ours_stays_one_and_it_goes_on(judge):
    with pytest.raises(RuntimeError, match="Traceback"):
        judge.ask(assessment.ask, None, "mould", None, None)
    asked = judge.ask(assessment.ask, examined(), "mould", None, None)
    assert asked[0].question == "mould"


@pytest.mark.skipif(os.name != "posix", reason="broken off by a signal")
def test_it_leaves_off_and_takes_the_next_question(judge):
    over = threading.Event()

    def drop():
        while not over.wait(0.02):  # before there is anything to break off, nothing happens
            judge.drop()

    nobody = threading.Thread(target=drop)
    nobody.start()
    with pytest.raises(Dropped):
        judge.ask(assessment.assess, examined(), read_standards())
    over.set()
    nobody.join()
    judge.drop()
    assert judge.ask(assessment.ask, examined(), "mould", None, None)[0].question == "mould"


class _SlowError(ClaywitError):
    def __str__(self):
        os.kill(os.getpid(), signal.SIGUSR1)  # as it is put into words, nobody waits any more
        return "too slow"


@pytest.mark.skipif(os.name != "posix", reason="broken off by a signal")
def test_what_is_broken_off_while_a_refusal_is_put_into_words_ends_nothing():
    def refuse(_):
        raise _SlowError("too slow")

    work = _Work()
    before = signal.signal(signal.SIGUSR1, work.broken_off)
    try:
        assert work.done(MODEL, (refuse, (), {})) == ("dropped", None)
        assert work.done(MODEL, (lambda _: 7, (), {})) == ("found", 7)
    finally:
        signal.signal(signal.SIGUSR1, before)


@pytest.mark.skipif(os.name != "posix", reason="broken off by a signal")
def test_no_library_is_left_half_loaded_by_what_is_broken_off(tmp_path, monkeypatch):
    lines = "import os, signal", "os.kill(os.getpid(), signal.SIGUSR1)", "whole = True"
    (tmp_path / "slow_library.py").write_text("\n".join(lines))
    monkeypatch.syspath_prepend(tmp_path)
    work = _Work()
    before = signal.signal(signal.SIGUSR1, work.broken_off)
    try:
        load = work.done(MODEL, (lambda _: import_module("slow_library").whole, (), {}))
    finally:
        signal.signal(signal.SIGUSR1, before)
        sys.modules.pop("slow_library", None)
    assert load == ("found", True)


def test_where_it_was_ended_from_outside_it_comes_back():
    judge = Judge(MODEL)
    judge.begin()
    judge._process.kill()
    judge._process.wait(HANGS)
    assert judge.ask(assessment.look_next, examined(), read_standards().policy).next
    judge.close()


def test_what_is_asked_while_the_bench_closes_is_dropped_and_starts_nothing_anew():
    judge = Judge(MODEL)
    judge.ask(assessment.ask, examined(), "mould", None, None)
    threading.Timer(0.1, judge.close).start()
    with pytest.raises(Dropped):
        judge.ask(assessment.assess, examined(), read_standards())
    with pytest.raises(Dropped):
        judge.ask(assessment.look_next, examined(), read_standards().policy)
    assert judge._process.poll() is not None


@pytest.mark.skipif(os.name != "posix", reason="a signal")
def test_it_ends_with_the_bench():
    judge = Judge(MODEL)
    judge.begin()
    judge._process.stdin.close()
    assert judge._process.wait(HANGS) == 0


@pytest.mark.skipif(os.name != "posix", reason="a signal")
def test_ctrl_c_in_the_terminal_does_not_reach_it(judge):
    assert os.getpgid(judge._process.pid) != os.getpgid(0)
