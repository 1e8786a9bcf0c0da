"""Whose turn it is: a key before a page, the newest before the older, by the order of events."""

import asyncio
import os
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from bench import laid
from bench.asking import Asking
from patience import HANGS, in_loop

from claywit import assessment
from claywit.bench.judge import Dropped, Judge
from claywit.bench.turns import Turns
from claywit.evidence.binding import bind
from claywit.evidence.written import read_evidence
from claywit.records import opening
from claywit.records.case import read_case


class Work:
    """Work that goes on until it is let go, or is broken off; it tells when it begins and ends."""

    def __init__(self, name, told):
        self.name, self.told = name, told
        self.begun, self.goes = threading.Event(), threading.Event()
        self.is_dropped = False

    def __call__(self):
        self.told.append(f"{self.name} begins")
        self.begun.set()
        assert self.goes.wait(HANGS)
        self.goes.clear()
        if self.is_dropped:
            self.is_dropped = False
            self.told.append(f"{self.name} leaves off")
            raise Dropped
        self.told.append(f"{self.name} is done")
        return self.name

    def drop(self):
        self.is_dropped = True
        self.goes.set()

    def asked(self, turns, **how):
        return asyncio.ensure_future(turns.take(self, self.drop, **how))


async def begun(work):
    assert await asyncio.to_thread(work.begun.wait, HANGS)


async def given_way(turns, work):
    """Return a page that gave way to a key that has begun, and what waits for each."""
    page, key = work("page"), work("key")
    first = page.asked(turns)
    await begun(page)
    second = key.asked(turns, is_first=True)
    await begun(key)
    return page, key, first, second


def told_by(scene):
    told = []
    in_loop(asyncio.wait_for(scene(Turns(), lambda name: Work(name, told)), HANGS))
    return told


def test_a_key_breaks_off_a_page_which_is_begun_again_after_it():
    async def scene(turns, work):
        page, key, first, second = await given_way(turns, work)
        key.goes.set()
        assert await second == "key"
        assert not first.done()
        page.goes.set()
        assert await first == "page"

    assert told_by(scene) == [
        "page begins", "page leaves off", "key begins", "key is done", "page begins", "page is done",
    ]  # fmt: skip


def test_what_stands_beside_a_key_is_broken_off_for_nobody_and_the_newest_that_wait_is_next():
    async def scene(turns, work):
        key, older, newer, other = (work(name) for name in ("key", "older", "newer", "other key"))
        asked = [key.asked(turns, is_first=True)]
        await begun(key)
        asked += [older.asked(turns), other.asked(turns, is_first=True), newer.asked(turns)]
        for one in (key, other, newer, older):
            one.goes.set()
        assert await asyncio.gather(*asked) == ["key", "older", "other key", "newer"]

    assert told_by(scene)[::2] == ["key begins", "other key begins", "newer begins", "older begins"]


def test_what_nobody_waits_for_is_broken_off_or_never_begun():
    async def scene(turns, work):
        one, other, last = (work(name) for name in ("one", "other", "last"))
        asked = [one.asked(turns, is_first=True)]
        await begun(one)
        asked += [other.asked(turns), last.asked(turns)]
        await asyncio.sleep(0)
        for left in asked[:2]:
            left.cancel()
        last.goes.set()
        assert await asked[2] == "last"
        await asyncio.wait(asked)
        assert [left.cancelled() for left in asked] == [True, True, False]

    assert told_by(scene) == ["one begins", "one leaves off", "last begins", "last is done"]


def test_who_gave_way_and_is_left_meanwhile_is_not_begun_again():
    async def scene(turns, work):
        _, key, first, second = await given_way(turns, work)
        first.cancel()
        await asyncio.wait({first})
        key.goes.set()
        assert await second == "key"

    assert told_by(scene)[1:] == ["page leaves off", "key begins", "key is done"]


@pytest.mark.skipif(os.name != "posix", reason="broken off by a signal")
def test_while_a_whole_report_is_formed_what_stands_beside_a_key_comes_first(tmp_path):
    desk = Asking(tmp_path).desk
    judge = Judge(desk.model)
    object.__setattr__(desk, "judging", judge)
    evidence, document = read_evidence(laid.example("04-marrable"), "e.yaml")
    piece = bind(evidence, desk.model, document.place)
    done = []

    async def scene():
        asked = [
            asyncio.ensure_future(desk.judge(assessment.assess, piece, desk.standards)),
            asyncio.ensure_future(desk.judge(assessment.ask, piece, "period", None, None)),
            asyncio.ensure_future(desk.judge_first(assessment.ask, piece, "mould", None, None)),
        ]
        for name, one in zip(("report", "page", "key"), asked, strict=True):
            one.add_done_callback(lambda _, name=name: done.append(name))
        return (await asyncio.gather(*asked))[0]

    try:
        report = in_loop(asyncio.wait_for(scene(), HANGS))
    finally:
        judge.close()
    assert done == ["key", "page", "report"]
    assert report == assessment.assess(desk.model, piece, desk.standards)


def test_a_key_of_another_piece_waits_for_no_lock_whose_opinion_is_being_formed(
    tmp_path, monkeypatch
):
    asking = Asking(tmp_path)
    locked, other = asking.examine("weir-021"), asking.practise()
    asking.see(locked, grog="present")
    begins, goes = threading.Event(), threading.Event()
    assess = assessment.assess

    def held(*args, **named):
        begins.set()
        assert goes.wait(HANGS)
        return assess(*args, **named)

    monkeypatch.setattr(assessment, "assess", held)
    with ThreadPoolExecutor(1) as pool:
        lock = pool.submit(asking.post, f"{locked}/lock", {"version": 2})
        assert begins.wait(HANGS)
        assert asking.answer(other, "wear", {"way": "seen", "state": "none"}, about="").is_success
        assert not lock.done()
        goes.set()
        assert lock.result(HANGS).is_success
    assert asking.get(f"{locked}/opinion").is_success
    with opening.opened(asking.casebook) as store, store.reading():
        assert len(read_case(store, "weir-021").opinions) == 1
