"""The server itself, asked over sockets as a stranger would."""

import asyncio
import re
import signal
import socket
import stat
import subprocess
import sys
import webbrowser

import pytest
from bench.browser import ROOT, running
from patience import HANGS, in_loop

from claywit.bench import serving
from claywit.commands.bench import bench as bench_command


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    with running(tmp_path_factory.mktemp("serving")) as found:
        yield found


def port(bench):
    return int(bench.root.rpartition(":")[2])


def ask(bench, text, host="127.0.0.1"):
    with socket.create_connection((host, port(bench)), timeout=5) as wire:
        wire.sendall(text.encode())
        wire.shutdown(socket.SHUT_WR)
        return b"".join(iter(lambda: wire.recv(65536), b"")).decode()


@pytest.mark.parametrize(
    "head",
    [
        "GET / HTTP/1.0\r\n\r\n",
        "GET / HTTP/1.1\r\nHost: evil.example\r\n\r\n",
        "GET / HTTP/1.1\r\nHost: HERE\r\nHost: HERE\r\n\r\n",
        "GET / HTTP/1.1\r\nHost: HERE\r\nHost: evil.example\r\n\r\n",
        "GET http://evil.example/ HTTP/1.1\r\nHost: HERE\r\n\r\n",
        "GET / HTTP/1.1\r\nHost : HERE\r\n\r\n",
        "GET / HTTP/1.1\r\nX: " + "y" * 40_000 + "\r\nHost: HERE\r\n\r\n",
        "OPTIONS / HTTP/1.1\r\nHost: HERE\r\nOrigin: http://evil.example\r\n\r\n",
        "GET / HTTP/1.1\r\nHost: HERE\r\nUpgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Key: eHh4eHh4eHh4eHh4eHh4eA==\r\nSec-WebSocket-Version: 13\r\n\r\n",
        "nonsense\r\n\r\n",
    ],
)
def test_a_strange_request_gets_no_page(bench, head):
    answer = ask(bench, head.replace("HERE", f"127.0.0.1:{port(bench)}"))
    status = re.match(r"HTTP/1.1 (\d+)", answer)
    assert status is None or int(status[1]) >= 400
    assert "Pieces on the bench" not in answer
    assert "access-control-allow" not in answer.lower()


def test_the_server_does_not_say_what_it_is(bench):
    answer = ask(bench, "GET / HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n").lower()
    assert "server:" not in answer
    assert "uvicorn" not in answer


def test_it_listens_on_loopback_alone(bench):
    for other in ("127.0.0.2", "127.255.255.254"):
        with pytest.raises(OSError, match=r"refused|timed out"):
            ask(bench, "GET / HTTP/1.0\r\n\r\n", host=other)


@pytest.mark.skipif(not socket.has_ipv6, reason="no IPv6 in this Python")
def test_the_ipv6_loopback_is_guarded_too(bench):
    try:
        answer = ask(
            bench,
            f"GET / HTTP/1.1\r\nHost: [::1]:{port(bench)}\r\nConnection: close\r\n\r\n",
            host="::1",
        )
    except OSError:
        pytest.skip("no IPv6 loopback on this machine")
    assert "open the bench with the address" in answer


def test_a_port_that_is_taken_is_one_clear_error(bench, tmp_path):
    command = [
        sys.executable,
        "-c",
        "from claywit.cli import main; main()",
        "bench",
        "--no-open",
        "--casebook",
        str(tmp_path / "c.db"),
        "--port",
        str(port(bench)),
    ]
    done = subprocess.run(
        command, capture_output=True, text=True, timeout=HANGS, cwd=ROOT, check=False
    )
    assert done.returncode == 2
    assert f"port {port(bench)} of this machine cannot be used" in done.stderr
    assert "Traceback" not in done.stderr


def test_what_the_list_of_processes_shows_does_not_open_the_bench_again(
    tmp_path, monkeypatch, capsys
):
    started = []
    monkeypatch.setattr(webbrowser, "open", started.append)
    monkeypatch.setattr(serving, "serve", lambda app, sockets, opened: opened())
    bench_command(casebook=tmp_path / "c.db")
    printed = re.search(r"http://\S+", capsys.readouterr().out)[0]
    (address,) = started
    assert address != printed
    assert address.partition("?")[0] == printed.partition("?")[0]
    assert stat.S_IMODE((tmp_path / "c-bench").stat().st_mode) == 0o700


def test_ctrl_c_closes_it_without_a_traceback(tmp_path):
    with running(tmp_path) as found:
        found.process.send_signal(signal.SIGINT)
        assert found.process.wait(HANGS) in {0, 130, -2}
        assert "Traceback" not in found.process.stdout.read()


def test_the_body_of_an_answer_waits_for_no_acknowledgement_of_its_head(tmp_path, monkeypatch):
    async def is_let_go_at_once(listening):
        accepted = asyncio.get_running_loop().create_future()
        server = await asyncio.start_server(
            lambda _, wire: accepted.set_result(wire), sock=listening
        )
        _, asking = await asyncio.open_connection(*listening.getsockname()[:2])
        wire = await accepted
        asking.close()
        wire.close()
        server.close()
        return wire.get_extra_info("socket").getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)

    held = []
    monkeypatch.setattr(serving, "serve", lambda app, sockets, opened: held.extend(sockets))
    bench_command(casebook=tmp_path / "c.db", no_open=True)
    assert held
    assert all(in_loop(is_let_go_at_once(listening)) for listening in held)
