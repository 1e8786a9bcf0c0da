"""What nobody waits for any more: it is never begun, or broken off, and holds up nobody."""

import asyncio
import os
import threading
from types import SimpleNamespace

import pytest
from bench import laid
from bench.asking import Asking
from patience import HANGS, in_loop

from claywit import assessment
from claywit.bench.judge import Judge
from claywit.bench.web import Refused, studied, waited
from claywit.evidence.binding import bind
from claywit.evidence.written import read_evidence


class Page:
    """A request whose page can leave."""

    def __init__(self, desk=None):
        self.app = SimpleNamespace(state=SimpleNamespace(desk=desk))
        self.gone = asyncio.Event()

    async def receive(self):
        await self.gone.wait()
        return {"type": "http.disconnect"}


async def left(answer):
    with pytest.raises(Refused) as refused:
        await answer
    return refused.value.status == 499


@pytest.fixture
def desk(tmp_path):
    return Asking(tmp_path).desk


def test_whose_page_leaves_before_its_turn_is_never_begun(desk):
    begun, done, held = [], [], threading.Event()

    async def three():
        pages = [Page(desk) for _ in range(3)]

        def study(number):
            begun.append(number)
            held.wait(HANGS)
            done.append(number)
            return number

        answers = [asyncio.ensure_future(studied(p, study, i)) for i, p in enumerate(pages)]
        await asyncio.sleep(0.05)
        pages[1].gone.set()
        assert await left(answers[1])
        held.set()
        assert [await answers[0], await answers[2]] == [0, 2]

    in_loop(asyncio.wait_for(three(), HANGS))
    assert begun == done == [0, 2]


def test_a_quick_question_whose_page_leaves_before_its_turn_is_never_begun(desk):
    begun, held = [], threading.Event()

    async def four():
        busy = [asyncio.ensure_future(desk.work(held.wait, HANGS)) for _ in range(2)]
        page = Page(desk)
        answer = asyncio.ensure_future(waited(page, desk.work(begun.append, 1)))
        await asyncio.sleep(0.05)
        page.gone.set()
        assert await left(answer)
        held.set()
        await asyncio.gather(*busy)
        await desk.work(begun.append, 2)

    in_loop(asyncio.wait_for(four(), HANGS))
    assert begun == [2]


@pytest.mark.skipif(os.name != "posix", reason="broken off by a signal")
def test_whose_page_leaves_while_it_is_judged_is_broken_off_and_the_next_is_judged(desk):
    judge = Judge(desk.model)
    object.__setattr__(desk, "judging", judge)

    evidence, document = read_evidence(laid.example("04-marrable"), "e.yaml")
    piece = bind(evidence, desk.model, document.place)

    async def two():
        first, second = Page(desk), Page(desk)
        long = desk.judge(assessment.assess, piece, desk.standards)
        long = asyncio.ensure_future(waited(first, long))
        short = asyncio.ensure_future(
            waited(second, desk.judge(assessment.ask, piece, "mould", None, None))
        )
        await asyncio.sleep(0.3)
        first.gone.set()
        assert await left(long)
        return await short

    try:
        assert in_loop(asyncio.wait_for(two(), HANGS))[0].question == "mould"
    finally:
        judge.close()


def test_saves_that_wait_for_the_disk_keep_no_opinion_waiting(desk):
    held = threading.Event()

    async def three():
        saves = [asyncio.ensure_future(desk.save(held.wait, HANGS)) for _ in range(2)]
        await asyncio.sleep(0.05)
        told = await desk.work(len, "abc")
        held.set()
        return told, await asyncio.gather(*saves)

    assert in_loop(asyncio.wait_for(three(), HANGS)) == (3, [True, True])
