"""Run a function in a process of its own, and disturb it at a chosen change of a folder.

The kernel itself stops the process before each system call that could change something (seccomp
user notification, Linux 5.5 and later), so SQLite and Arrow are disturbed as Python is. Whoever
asks then lets the call go on, lets it fail with an error number, or kills the process there.
"""

import ctypes
import errno
import fcntl
import os
import platform
import select
import signal
import socket
import struct
import sys
import traceback
from dataclasses import dataclass, field
from pathlib import Path

KILL = "kill"
WAIT = 120_000  # milliseconds without any call, after which a process is looked at
BUSY = 120.0  # seconds of the processor without any call: a process that hangs

# What changes a file, by its number on x86-64.
BY_FILE = {1: "write", 18: "write", 20: "write", 296: "write", 40: "write", 326: "write",
           74: "sync", 75: "sync", 77: "resize", 285: "resize", 91: "chmod"}  # fmt: skip
BY_NAME = {2: "open", 85: "open", 257: "open", 82: "rename", 264: "rename", 316: "rename",
           86: "link", 265: "link", 87: "remove", 263: "remove", 84: "remove", 83: "folder",
           258: "folder", 76: "resize", 90: "chmod", 268: "chmod", 88: "link", 266: "link"}  # fmt: skip
AT = {257, 264, 316, 265, 263, 258, 268}  # the first argument is an open folder
TWO_FILES = {40: 0, 326: 2}  # the argument that is written to
TO = {82: 1, 264: 3, 316: 3, 86: 1, 265: 3}  # the argument that holds the new name
TAKES = {0: "take", 17: "take"}
OPENAT = 257
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT


@dataclass(frozen=True)
class Send:
    """A signal to send before a call goes on."""

    signal: int


CAN_DISTURB = sys.platform == "linux" and platform.machine() == "x86_64"


@dataclass(frozen=True)
class Call:
    """A change that is about to be made: what, to which file of the folder, with what in it."""

    what: str
    path: str
    to: str = ""
    data: bytes = b""
    at: int = 0


@dataclass
class Ended:
    """How a process ended: its exit status (negative for a signal), and what it had said."""

    status: int = 0
    out: str = ""
    err: str = ""
    calls: list = field(default_factory=list)


class _Line(ctypes.Structure):
    _fields_ = [("code", ctypes.c_ushort), ("yes", ctypes.c_ubyte), ("no", ctypes.c_ubyte), ("k", ctypes.c_uint)]  # fmt: skip


class _Program(ctypes.Structure):
    _fields_ = [("len", ctypes.c_ushort), ("lines", ctypes.POINTER(_Line))]


def _listener(*, reads):
    """Stop this process, and all that it starts, before each call that could change something.

    reads: stop it before each call that only opens or reads a file too.
    """
    numbers = [number for number in (*BY_FILE, *BY_NAME) if number != OPENAT]
    numbers += [OPENAT, *TAKES] if reads else []
    count = len(numbers)
    lines = [_Line(0x20, 0, 0, 0)]  # load the number of the call
    lines += [_Line(0x15, count - i + 3, 0, number) for i, number in enumerate(numbers)]
    # To open for reading changes nothing, and there is much of it: look at the flags.
    lines += [_Line(0x15, 0, 2, OPENAT), _Line(0x20, 0, 0, 32), _Line(0x45, 1, 0, WRITES)]
    lines += [_Line(6, 0, 0, 0x7FFF0000), _Line(6, 0, 0, 0x7FC00000)]  # go on; or ask
    program = _Program(len(lines), (_Line * len(lines))(*lines))
    libc = ctypes.CDLL(None, use_errno=True)
    libc.prctl(38, 1, 0, 0, 0)
    found = libc.syscall(317, 1, 8, ctypes.byref(program))
    if found < 0:
        raise OSError(ctypes.get_errno(), "seccomp")
    return found


def undisturbed(act, folder):
    """Return how *act* ended in a process of its own, whose working folder is *folder*."""
    return disturbed(act, folder, None)


def disturbed(act, folder, judge=lambda number, call: None, *, reads=False):
    """Return how *act* ended in a process of its own, whose working folder is *folder*.

    judge: is shown each change within the folder with its number, and returns None to let it be
    made, an error number to let it fail, KILL, or a signal to Send. What *act* returns is the
    exit status.
    reads: *judge* is shown each file that is opened to be read (`read`), and each read (`take`).
    """
    folder, ended = Path(folder).resolve(), Ended()
    ours, theirs = socket.socketpair()
    pipes = [_pipe(), _pipe()]  # not files, which may be what is limited
    child = os.fork()
    if child == 0:
        ours.close()
        _run(act, folder, theirs if judge else None, [end for _, end in pipes], reads=reads)
    theirs.close()
    for _, end in pipes:
        os.close(end)
    try:
        if judge:
            _, (listener,), _, _ = socket.recv_fds(ours, 1, 1)
            _judge_all(listener, child, folder, judge, ended)
            os.close(listener)
    finally:
        _, status = os.waitpid(child, 0)
        ours.close()
        ended.out, ended.err = (_said(end) for end, _ in pipes)
    ended.status = os.waitstatus_to_exitcode(status)
    return ended


def _pipe():
    ends = os.pipe()
    fcntl.fcntl(ends[1], fcntl.F_SETPIPE_SZ, 1 << 20)  # room for all that is said; none reads yet
    return ends


def _said(end):
    """Return what was said into a pipe by a process that has ended."""
    os.set_blocking(end, False)
    with os.fdopen(end, "rb") as stream:
        return (stream.read() or b"").decode()


def _run(act, folder, theirs, streams, *, reads):
    status = 70
    try:
        os.setsid()
        os.chdir(folder)
        for number, stream in enumerate(streams, 1):
            os.dup2(stream, number)
        sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
        sys.stderr = os.fdopen(2, "w", encoding="utf-8", closefd=False, buffering=1)
        if theirs:
            listener = _listener(reads=reads)
            socket.send_fds(theirs, [b"l"], [listener])
            os.close(listener)
        status = act()
    except SystemExit as end:
        status = end.code
    except BaseException:  # noqa: BLE001 - shown to whoever looks at the status
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        os._exit(status or 0)


def _judge_all(listener, child, folder, judge, ended):
    waiting = select.poll()
    waiting.register(listener, select.POLLIN)
    while True:
        events = _awaited(waiting, child)
        if not events:
            os.killpg(child, signal.SIGKILL)
            raise AssertionError(f"hangs after {len(ended.calls)} changes of {folder}")
        if not events[0][1] & select.POLLIN:
            return
        asked = bytearray(80)
        try:
            fcntl.ioctl(listener, 0xC0502100, asked)
        except OSError:
            continue  # it was killed, or has gone on after a signal
        number, process, _, call, _, _, *values = struct.unpack("QIIiIQ6Q", asked)
        found = _call(process, call, values, folder)
        verdict = judge(len(ended.calls), found) if found else None
        if found:
            ended.calls.append(found)
        if verdict == KILL:
            ended.status = KILL
            os.killpg(child, signal.SIGKILL)
            return
        if isinstance(verdict, Send):
            os.kill(child, verdict.signal)
            verdict = None
        answer = (0, -verdict, 0) if verdict else (0, 0, 1)
        try:
            fcntl.ioctl(listener, 0xC0182101, struct.pack("QqiI", number, *answer))
        except OSError as wrong:
            if wrong.errno != errno.ENOENT:
                raise


def _awaited(waiting, child):
    """Return what comes next from a process; nothing if it hangs, not if others keep it waiting."""
    (began, _), spent = _spent(child), -1.0
    while not (events := waiting.poll(WAIT)):
        before, (spent, runs) = spent, _spent(child)
        if spent - began > BUSY or (spent == before and not runs):
            break
    return events


def _spent(child):
    """Return a process's seconds of the processor, and whether it could go on if it had one."""
    stat = Path(f"/proc/{child}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(stat[11]) + int(stat[12])) / os.sysconf("SC_CLK_TCK"), stat[0] == "R"


def _call(process, call, values, folder):
    """Return what a call would change within *folder*, None where it changes nothing there."""
    if call in BY_FILE or call in TAKES:
        handle = values[TWO_FILES.get(call, 0)]
        try:
            path = _within(str(Path(f"/proc/{process}/fd/{handle}").readlink()), folder)
        except OSError:
            return None
        if path is None:
            return None
        data, at = b"", 0
        if call in {1, 18}:
            data = _memory(process, values[1], values[2])
            at = values[3] if call == 18 else _position(process, handle)
        return Call((BY_FILE | TAKES)[call], path, data=data, at=values[1] if call == 77 else at)
    what = BY_NAME[call]
    if what == "open":
        flags = values[2 if call == 257 else 1] if call != 85 else os.O_CREAT
        what = "open" if flags & WRITES else "read"
    path = _named(process, values[1 if call in AT else 0], values[0] if call in AT else None)
    path = _within(path, folder)
    if path is None:
        return None
    to = TO.get(call)
    at = values[to - 1] if to == 3 else None
    return Call(what, path, _within(_named(process, values[to], at), folder) or "" if to else "")


def _within(path, folder):
    path = path.removesuffix(" (deleted)")
    return (
        os.path.relpath(path, folder)
        if path.startswith(f"{folder}/") or path == str(folder)
        else None
    )


def _named(process, address, handle):
    name = os.fsdecode(_memory(process, address, 4096, is_name=True).split(b"\0", 1)[0])
    low = None if handle is None else handle & 0xFFFFFFFF
    base = f"/proc/{process}/cwd" if low in (None, 0xFFFFFF9C) else f"/proc/{process}/fd/{low}"
    return os.path.normpath(os.path.join(Path(base).readlink(), name))  # noqa: PTH118


def _memory(process, address, length, *, is_name=False):
    with open(f"/proc/{process}/mem", "rb", buffering=0) as memory:  # noqa: PTH123
        found = b""
        while len(found) < length:  # a name may end where the memory does
            step = min(length - len(found), 4096 - (address + len(found)) % 4096)
            try:
                memory.seek(address + len(found))
                found += memory.read(step)
            except OSError:
                break
            if is_name and b"\0" in found:
                break
        return found


def _position(process, handle):
    text = Path(f"/proc/{process}/fdinfo/{handle}").read_text(encoding="ascii")
    return int(text.split("pos:", 1)[1].split()[0])
