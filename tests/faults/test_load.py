"""The bench under many who examine at once, and ended in the middle."""

import asyncio
import contextlib
import random
import time
from collections import Counter

from bench.browser import running
from faults.examining import (
    CLIENTS,
    MOST_MEMORY,
    PACE,
    SECONDS,
    SEED,
    Examiner,
    asking,
    drafts_of,
)
from memory import watched
from patience import in_loop
from trials import times


def percentile(took):
    return sorted(took)[int(0.95 * len(took))]


async def busy(bench, seconds, *, end_it=None, pace=0.0):
    """Let fifty examine for so long, each with a *pace*, in seconds; end the bench in the middle."""
    async with asking(bench) as client:
        examiners = [Examiner(client, i) for i in range(CLIENTS)]
        await asyncio.gather(*(one.begin() for one in examiners))
        work = asyncio.gather(*(one.work(time.monotonic() + seconds, pace) for one in examiners))
        if end_it:
            await asyncio.sleep(end_it)
            bench.process.kill()
        await work
    return examiners


def test_fifty_at_a_time_lose_no_answer_that_was_called_saved(tmp_path, tried):
    with running(tmp_path) as bench, watched(bench.process.pid, every=0.2) as peak:
        examiners = in_loop(busy(bench, SECONDS))
        lost = [node for one in examiners for node in one.lost(drafts_of(bench))]
    took = [seconds for one in examiners for seconds in one.took]
    codes = sum((one.codes for one in examiners), Counter())
    saves = sum(one.at for one in examiners)
    tried(
        f"{CLIENTS} clients at once, saves with their opinions, pages, judgements",
        codes.total(),
        f"{saves:,} saves, {len(lost)} lost; 95th percentile of a save {percentile(took):.1f} s;"
        f" {codes.total() - codes[200] - codes[204]} answers were errors; {peak[0]:.0f} MB at most",
    )
    assert lost == []
    assert set(codes) <= {200, 204}
    assert peak[0] < MOST_MEMORY


def test_fifty_at_the_pace_of_a_person_wait_for_no_key(tmp_path, tried):
    with running(tmp_path) as bench, watched(bench.process.pid, every=0.2) as peak:
        examiners = in_loop(busy(bench, SECONDS, pace=PACE))
        lost = [node for one in examiners for node in one.lost(drafts_of(bench))]
    took = sorted(seconds for one in examiners for seconds in one.took)
    tried(
        f"{CLIENTS} clients at once, each with a key about every {PACE:g} s; the same",
        sum(one.codes.total() for one in examiners),
        f"{len(took):,} saves, {len(lost)} lost; median and 95th percentile of a save"
        f" {1000 * took[len(took) // 2]:.0f} and {1000 * percentile(took):.0f} ms;"
        f" {peak[0]:.0f} MB at most",
    )
    assert lost == []
    assert peak[0] < MOST_MEMORY


def test_a_bench_that_is_killed_in_the_middle_loses_no_answer_that_was_called_saved(
    tmp_path, tried
):
    rng, lost, saves, kills = random.Random(SEED), [], 0, times(1, 20)  # noqa: S311
    for i in range(kills):
        folder = tmp_path / str(i)
        folder.mkdir()
        with running(folder) as bench:
            found = in_loop(busy(bench, 60, end_it=rng.uniform(0.5, 3)))
        saves += sum(one.codes[200] for one in found)
        lost += [node for one in found for node in one.lost(drafts_of(bench))]
    tried(
        f"kill the bench while {CLIENTS} clients save",
        kills,
        f"{saves:,} saves were acknowledged, {len(lost)} lost; every draft is whole",
    )
    assert lost == []
    assert saves


async def fight(benches, rounds):
    """Let several runs and tabs save into one draft, each its own trait; return all of them."""
    async with contextlib.AsyncExitStack() as stack:
        clients = [await stack.enter_async_context(asking(bench)) for bench in benches]
        first = Examiner(clients[0], 0)
        await first.begin()
        traits = ("grog", "shell", "bubbles", "wear", "recut", "crack_lip")
        saved, codes = {}, Counter()

        async def tab(client, node):
            for i in range(rounds):
                while True:
                    state = (await client.get(f"{first.piece}/state")).json()
                    reading = {"way": "unexamined", "why": "x", "note": f"{i}"}
                    data = {"version": state["version"], "node": node, "reading": reading}
                    answer = await client.post(f"{first.piece}/answer", json=data)
                    codes[answer.status_code] += 1
                    if answer.status_code == 200:
                        saved[node] = i
                        break
                    assert answer.status_code == 409, answer.text

        await asyncio.gather(
            *(tab(clients[i % len(clients)], node) for i, node in enumerate(traits))
        )
        state = (await clients[-1].get(f"{first.piece}/state")).json()
    lost = [n for n, i in saved.items() if state["readings"].get(n, {}).get("note") != f"{i}"]
    return codes, lost, state["version"]


def test_two_runs_with_three_tabs_each_on_one_draft_lose_nothing(tmp_path, tried):
    rounds = times(5, 100)
    with running(tmp_path) as one, running(tmp_path) as other:
        codes, lost, version = in_loop(fight((one, other), rounds))
    tried(
        "two runs of the bench on one folder, three tabs of each saving into one draft",
        codes.total(),
        f"{codes[200]:,} saved as versions of their own, {codes[409]:,} told that another was"
        f" first and saved then; {len(lost)} lost",
    )
    assert lost == []
    assert version == codes[200] + 1
