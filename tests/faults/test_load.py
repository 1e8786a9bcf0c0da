"""The bench under many at once: busy, slow, silent, greedy or strange, and ended in the middle."""

import asyncio
import contextlib
import json
import random
import re
import resource
import socket
import time
from collections import Counter

import httpx
import pytest
from bench.browser import running
from memory import watched
from patience import in_loop
from trials import times

from claywit.bench.draft import Draft
from claywit.bench.patience import ASKS, MOST

SEED = 20261127
SECONDS = times(6, 120)
CLIENTS = 50
MOST_MEMORY = 300  # MB, all processes
PACE = 1.2  # seconds between two keys of somebody who examines
STATES = {"grog": ("absent", "present"), "shell": ("absent", "present")}


@contextlib.asynccontextmanager
async def asking(bench, most=CLIENTS + 10):
    """Give a client that plays by the rules, and the headers of a change."""
    limits = httpx.Limits(max_connections=most, max_keepalive_connections=most)
    async with httpx.AsyncClient(timeout=300, limits=limits, base_url=bench.root) as client:
        await entered(client, bench)
        yield client


async def entered(client, bench):
    """Open the bench in a client: its cookie, and the key of its pages."""
    front = await client.get(bench.opens, follow_redirects=True)
    key = re.search(r'claywit-page" content="([^"]+)', front.text)[1]
    client.headers.update({"origin": bench.root, "x-claywit-page": key})


class Examiner:
    """One client with a practice piece of its own, who remembers what was called saved."""

    def __init__(self, client, number):
        self.client, self.number, self.at = client, number, 0
        self.rng = random.Random(SEED + number)  # noqa: S311 - a seed in sight
        self.version, self.saved, self.took, self.codes = 1, {}, [], Counter()

    async def begin(self):
        begun = await self.client.post("/practise", json={"piece": f"load-{self.number}"})
        self.piece = begun.json()["go"]

    async def save(self):
        node = self.rng.choice(list(STATES))
        self.at += 1
        reading = {"way": "seen", "state": self.rng.choice(STATES[node]), "note": f"{self.at}"}
        data = {"version": self.version, "node": node, "reading": reading, "about": "mould"}
        start = time.monotonic()
        answer = await self.client.post(f"{self.piece}/answer", json=data)
        self.took.append(time.monotonic() - start)
        self.codes[answer.status_code] += 1
        if answer.status_code == 200:
            self.version = answer.json()["version"]
            self.saved[node] = reading

    async def look(self):
        page = self.rng.choice(("/opinion?q=class", "", "/judged", "/state"))
        answer = await self.client.get(f"{self.piece}{page}")
        self.codes[answer.status_code] += 1

    async def work(self, end, pace=0.0):
        with contextlib.suppress(httpx.TransportError):  # the bench was ended
            while time.monotonic() < end:
                await asyncio.sleep(pace * self.rng.uniform(0.5, 1.5))
                await self.save()
                if self.rng.random() < 0.3:
                    await self.look()

    def lost(self, folder):
        """Return what was called saved and does not stand in the newest draft, which is whole."""
        name = self.piece.rpartition("/")[2]
        files = sorted(folder.glob(f"{name}.*.json"))
        drafts = [Draft.model_validate_json(path.read_bytes()) for path in files]
        held = drafts[-1].readings
        return [
            node
            for node, reading in self.saved.items()
            if node not in held or int(held[node].note) < int(reading["note"])
        ]


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


def drafts_of(bench):
    return bench.casebook.with_name("casebook-bench")


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


def port(bench):
    return int(bench.root.rpartition(":")[2])


async def closed_after(bench, said, letters=b""):
    """Say something, then a letter a second; return after how many seconds the bench hangs up."""
    start = time.monotonic()
    reader, writer = await asyncio.open_connection("127.0.0.1", port(bench))
    with contextlib.suppress(ConnectionError):
        writer.write(said)
        while time.monotonic() - start < 90:
            try:
                if not await asyncio.wait_for(reader.read(65536), 1):
                    break
            except TimeoutError:
                writer.write(letters)
                await writer.drain()
    writer.close()
    return time.monotonic() - start


async def among(bench, strangers, seconds):
    """Let two examine while strangers hold connections; return both sides."""
    held = [asyncio.ensure_future(one) for one in strangers]
    await asyncio.sleep(0.2)
    async with asking(bench) as client:
        examiners = [Examiner(client, i) for i in range(2)]
        await asyncio.gather(*(one.begin() for one in examiners))
        await asyncio.gather(*(one.work(time.monotonic() + seconds) for one in examiners))
    return examiners, await asyncio.gather(*held)


def test_slow_and_silent_strangers_are_hung_up_on_and_hold_nobody_up(tmp_path, tried):
    count = times(10, 60)
    with running(tmp_path) as bench:
        head = b"GET / HTTP/1.1\r\nHost: x\r\nX: "
        strangers = [closed_after(bench, b"") for _ in range(count)]
        strangers += [closed_after(bench, head) for _ in range(count)]
        strangers += [closed_after(bench, head, b"a") for _ in range(count)]
        examiners, held = in_loop(among(bench, strangers, times(4, 20)))
        lost = [node for one in examiners for node in one.lost(drafts_of(bench))]
    saves = sum(one.codes[200] for one in examiners)
    tried(
        "connections that ask nothing, half a request, or a letter a second, while two examine",
        3 * count,
        f"each closed within {ASKS + 5:g} s; {saves:,} saves meanwhile, {len(lost)} lost",
    )
    assert max(held) < ASKS + 5
    assert lost == []
    assert saves > 2


async def slow_bodies(bench, count):
    async with asking(bench) as client:
        rules = "".join(f"{n}: {client.headers[n]}\r\n" for n in ("origin", "x-claywit-page"))
        cookie = "; ".join(f"{n}={v}" for n, v in client.cookies.items())
    head = (
        f"POST /practise HTTP/1.1\r\nHost: 127.0.0.1:{port(bench)}\r\nCookie: {cookie}\r\n{rules}"
        "Content-Type: application/json\r\nContent-Length: 100000\r\n\r\n"
    ).encode()
    return await among(bench, [closed_after(bench, head, b"a") for _ in range(count)], 5)


@pytest.mark.skipif(times(1, 0), reason="a minute of waiting: make faults")
def test_bodies_that_never_end_are_given_up_after_a_minute(tmp_path, tried):
    with running(tmp_path) as bench:
        examiners, held = in_loop(slow_bodies(bench, 40))
        lost = [node for one in examiners for node in one.lost(drafts_of(bench))]
    saves = sum(one.codes[200] for one in examiners)
    tried(
        "bodies of a letter a second, from the bench's own pages, while two examine",
        len(held),
        f"each given up within {80:g} s; {saves:,} saves meanwhile, {len(lost)} lost",
    )
    assert max(held) < 80
    assert lost == []
    assert saves > 2


def test_ten_thousand_connections_that_ask_nothing_keep_no_browser_out(tmp_path, tried):
    count, held = times(1_200, 10_000), []
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, max(soft, 20_000)), hard))
    with running(tmp_path) as bench, watched(bench.process.pid, every=0.2) as peak:
        took, opened = [], 0
        for i in range(count):
            with contextlib.suppress(OSError):
                held.append(socket.create_connection(("127.0.0.1", port(bench)), timeout=5))
                opened += 1
            if i % 100 == 99:
                start = time.monotonic()
                assert httpx.get(bench.opens, timeout=30).status_code == 303
                took.append(time.monotonic() - start)
        for wire in held:
            wire.close()
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
    tried(
        f"connections that ask nothing, all held open; {MOST} are kept",
        count,
        f"{opened:,} were let in, and after every hundred of them a page was answered, the slowest"
        f" in {max(took):.1f} s; {peak[0]:.0f} MB at most",
    )
    assert peak[0] < MOST_MEMORY


def test_answers_that_nobody_takes_hold_nobody_up(tmp_path, tried):
    count = times(80, 300)
    with running(tmp_path) as bench:
        with httpx.Client(base_url=bench.root, timeout=60) as client:
            client.get(bench.opens, follow_redirects=True)
            piece = client.get("/static/examine.js")
            cookie = "; ".join(f"{n}={v}" for n, v in client.cookies.items())
            assert piece.status_code == 200
            asked = (
                f"GET /static/overlay.js HTTP/1.1\r\nHost: 127.0.0.1:{port(bench)}\r\n"
                f"Cookie: {cookie}\r\n\r\n"
            ).encode() * 200
            held = []
            for _ in range(count):
                wire = socket.create_connection(("127.0.0.1", port(bench)), timeout=5)
                wire.setblocking(False)
                with contextlib.suppress(BlockingIOError):
                    wire.send(asked)
                held.append(wire)
            start = time.monotonic()
            assert client.get("/").status_code == 200
            took = time.monotonic() - start
        for wire in held:
            wire.close()
    tried(
        "clients that ask for two hundred files in one go and take no answer",
        count,
        f"a page is answered meanwhile, in {took:.1f} s",
    )


FORMS = ("/practise", "/begin", "/intake", "/verify", "/keys")


def test_forms_of_a_thousand_fields_get_one_clear_answer(tmp_path, tried):
    async def ask(bench):
        async with asking(bench) as client:
            piece = (await client.post("/practise", json={})).json()["go"]
            many = {f"field_{i}": "x" * 20 for i in range(1000)}
            own = ("answer", "terms", "undo", "lock", "amend", "dispute", "certificate")
            found = []
            for address in (*FORMS, *(f"{piece}/{name}" for name in own)):
                reading = {"way": "measured", "measures": {n: {"value": "1"} for n in many}}
                for data in (
                    {},
                    {"version": 1},
                    {"version": 1, "node": "size", "reading": reading},
                ):
                    answer = await client.post(address, json={**many, **data})
                    found.append((address, answer.status_code, answer.text))
            version = (await client.get(f"{piece}/state")).json()["version"]
        return found, version

    with running(tmp_path) as bench:
        found, version = in_loop(ask(bench))
    refused = [code for _, code, _ in found if code >= 400]
    tried(
        "forms of a thousand fields that nobody asked for",
        len(found),
        f"{len(refused)} refused with one error, {len(found) - len(refused)} read for the fields"
        " that are known; no draft changed",
    )
    assert [one for one in found if one[1] >= 500] == []
    assert all(json.loads(text)["error"] for _, code, text in found if code >= 400)
    assert version == 1


def test_heads_that_are_too_large_are_refused(tmp_path, tried):
    count, codes = times(10, 200), Counter()
    rng = random.Random(SEED)  # noqa: S311
    with running(tmp_path) as bench:
        for _ in range(count):
            size = rng.randint(33_000, 400_000)
            lines = rng.choice((1, 2, 500))
            value = "y" * (size // lines)
            text = "GET / HTTP/1.1\r\n" + f"X: {value}\r\n" * lines + "\r\n"
            with socket.create_connection(("127.0.0.1", port(bench)), timeout=20) as wire:
                got = b""
                with contextlib.suppress(ConnectionError):
                    wire.sendall(text.encode())
                    got = wire.recv(100)
                codes[got[9:12].decode() or "hung up"] += 1
        assert httpx.get(bench.opens).status_code == 303
    tried(
        "heads of requests of 33 kB to 400 kB, as one line or as many",
        count,
        ", ".join(f"{n} answered {code}" if code != "hung up" else f"{n} hung up on"
                  for code, n in sorted(codes.items())),
    )  # fmt: skip
    assert set(codes) <= {"400", "431", "403", "hung up"}


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
