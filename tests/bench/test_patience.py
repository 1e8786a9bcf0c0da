"""Connections of strangers: slow, silent, greedy or many, they never keep others out."""

import contextlib
import socket
import threading
import time

import pytest
import uvicorn

from claywit.bench.patience import Patient

LONG = 30_000_000


class Hasty(Patient):
    """As patient as a test can wait."""

    asks, takes, most = 0.4, 0.4, 12


async def app(scope, _, send):
    """Answer with the path, or with far more than fits between the two ends."""
    name = scope["path"].encode()
    await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"%d" % (LONG if name == b"/long" else len(name)))]})  # fmt: skip
    for start in range(0, LONG if name == b"/long" else 0, 100_000):
        del start
        await send({"type": "http.response.body", "body": b"x" * 100_000, "more_body": True})
    await send({"type": "http.response.body", "body": b"" if name == b"/long" else name})


@pytest.fixture(scope="module")
def server():
    config = uvicorn.Config(app, port=0, http=Hasty, ws="none", lifespan="off", log_level="error")
    found = uvicorn.Server(config)
    found.install_signal_handlers = lambda: None
    runs = threading.Thread(target=found.run)
    runs.start()
    while not found.started:
        time.sleep(0.01)
    yield found
    found.should_exit = True
    runs.join(20)


def reach(server):
    wire = socket.create_connection(server.servers[0].sockets[0].getsockname()[:2], timeout=20)
    wire.settimeout(20)
    return wire


def get(path):
    return f"GET {path} HTTP/1.1\r\nHost: x\r\n\r\n".encode()


def read_to(wire, end):
    got = b""
    while not got.endswith(end):
        part = wire.recv(100_000)
        assert part, "closed before the end of the answer"
        got += part
    return got


def is_closed(wire):
    with contextlib.suppress(ConnectionError):
        return wire.recv(1000) == b""
    return True


@pytest.mark.parametrize("said", [b"", b"G", b"GET / HTTP/1.1\r\nHost: x\r\n"])
def test_who_does_not_ask_to_the_end_is_not_waited_for(server, said):
    with reach(server) as wire:
        wire.sendall(said)
        assert is_closed(wire)


def test_a_letter_at_a_time_gains_nothing(server):
    with reach(server) as wire, contextlib.suppress(ConnectionError):
        for letter in range(100):
            wire.sendall(b"GET /"[letter : letter + 1] or b"a")
            time.sleep(0.05)
        pytest.fail("the connection was kept for five seconds")


def test_the_next_request_of_a_connection_is_not_waited_for_longer(server):
    with reach(server) as wire:
        wire.sendall(get("/one") + b"GET /tw")
        read_to(wire, b"/one")
        assert is_closed(wire)


def test_an_answer_that_nobody_takes_is_given_up(server):
    with reach(server) as wire:
        wire.sendall(get("/long"))
        end = time.monotonic() + 20
        while server.server_state.connections:
            assert time.monotonic() < end, "the answer is still held"
            time.sleep(0.05)


def test_a_long_answer_that_is_taken_comes_whole(server):
    with reach(server) as wire:
        wire.sendall(get("/long").replace(b"\r\n\r\n", b"\r\nConnection: close\r\n\r\n"))
        got = 0
        while part := wire.recv(1_000_000):
            got += len(part)
    assert got > LONG


def test_among_many_that_ask_nothing_the_next_is_still_answered(server):
    with contextlib.ExitStack() as held:
        silent = [held.enter_context(reach(server)) for _ in range(40)]
        with reach(server) as wire:
            wire.sendall(get("/in"))
            read_to(wire, b"/in")
        assert len(server.server_state.connections) <= Hasty.most
        assert is_closed(silent[0])


def test_requests_sent_one_after_the_other_without_waiting_are_answered_in_order(server):
    names = [f"/{i:03}" for i in range(200)]
    with reach(server) as wire:
        wire.sendall(b"".join(map(get, names)))
        got = read_to(wire, names[-1].encode())
    places = [got.index(name.encode()) for name in names]
    assert places == sorted(places)
