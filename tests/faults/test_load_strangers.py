"""The bench among strangers: slow, silent, greedy, or with forms and heads without measure."""

import asyncio
import contextlib
import json
import random
import resource
import socket
import time
from collections import Counter

import httpx
import pytest
from bench.browser import running
from faults.examining import (
    MOST_MEMORY,
    SEED,
    Examiner,
    asking,
    drafts_of,
    port,
)
from memory import watched
from patience import in_loop
from trials import times

from claywit.bench.patience import ASKS, MOST


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
