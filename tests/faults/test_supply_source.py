"""The source never runs what a user's file says, and never calls home."""

import ast
import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from trials import LONG, times

ROOT = Path(__file__).parents[2]
SOURCE = sorted((ROOT / "src").rglob("*.py"))
# Modules that turn bytes into running code, or reach past this machine.
MODULES = {"pickle", "cPickle", "dill", "cloudpickle", "joblib", "shelve", "marshal", "code", "codeop",
           "runpy", "imp", "ctypes", "cffi", "ftplib", "smtplib", "telnetlib", "xmlrpc", "http.client",
           "http.server", "urllib.request", "urllib3", "requests", "httpx", "aiohttp", "socketserver",
           "xml.etree", "xml.parsers", "xml.dom", "xml.sax", "lxml", "tarfile", "ssl"}  # fmt: skip
CALLS = {"eval", "exec", "compile", "__import__", "yaml.load", "yaml.load_all", "yaml.full_load",
         "yaml.unsafe_load", "os.system", "os.popen", "os.execv", "os.execvp", "os.spawnv", "numpy.load",
         "np.load", "pd.read_pickle", "tempfile.mktemp"}  # fmt: skip
# What one place may do, and why it is no harm there.
ALLOWED = {
    ("socket", "bench/serving.py"): "listens on loopback",
    ("pickle", "bench/judge.py"): "both ends of the pipe are processes of our own",
    ("subprocess", "bench/judge.py"): "works out what takes long in a process of its own",
    ("subprocess", "bench/pages/photographs.py"): "decodes a photograph in a process of its own",
    ("import_module", "batch/pools.py"): "the one name `distributed`, spelled out",
    ("socket", "batch/pools.py"): "hears who answers at the address that `--scheduler` names",
    ("webbrowser", "commands/bench.py"): "opens the bench",
    ("xml.parsers", "model/xmlbif.py"): "expat, which reads nothing but what it is handed",
    ("xml.sax", "model/xmlbif.py"): "the function `escape` alone",
}  # fmt: skip
LATE = "import_module"
GUARDED = {name for name, _ in ALLOWED}


def dotted(node):
    if isinstance(node, ast.Attribute):
        return f"{dotted(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else ""


def imported(node):
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom):
        return [node.module or "", *(f"{node.module}.{alias.name}" for alias in node.names)]
    return []


def found_in(text):
    """Return what *text* does that needs a reason, each with its line."""
    found = []
    for node in ast.walk(ast.parse(text)):
        for name in imported(node):
            last = name.rpartition(".")[2]
            wrong = [
                m for m in MODULES | GUARDED if f"{name}.".startswith(f"{m}.") or last == m == LATE
            ]
            found += [(m, node.lineno) for m in wrong]
        if isinstance(node, ast.Call):
            name = dotted(node.func)
            if name in CALLS or (name == LATE and not literal(node)):
                found.append((name, node.lineno))
            if any(k.arg == "shell" for k in node.keywords):
                found.append(("shell", node.lineno))
    return found


def literal(call):
    return len(call.args) == 1 and isinstance(call.args[0], ast.Constant)


def test_nothing_in_the_source_runs_what_a_file_says_or_calls_out(tried):
    assert len(SOURCE) > 250
    used, wrong = set(), []
    for path in SOURCE:
        at = path.relative_to(ROOT / "src" / "claywit").as_posix()
        for what, line in found_in(path.read_text(encoding="utf-8")):
            used.add((what, at))
            if (what, at) not in ALLOWED:
                wrong.append(f"{at}:{line}: {what}")
    assert not wrong
    assert used == set(ALLOWED)  # no reason outlives its use
    tried(
        "source files searched for what runs data or calls out", len(SOURCE),
        f"none but {len(used)} uses with a reason",
    )  # fmt: skip


@pytest.mark.parametrize(
    "text",
    ["import pickle", "from urllib import request", "import urllib.request as r", "eval('1')", "yaml.load(x)",
     "from importlib import import_module\nimport_module(name)", "subprocess.run(x, shell=True)", "np.load(f)",
     "import http.client", "from socket import socket", "def f():\n    import joblib"],
)  # fmt: skip
def test_and_the_search_finds_what_it_looks_for(text):
    assert found_in(text)


@pytest.mark.parametrize(
    "text", ["import re\nre.compile('x')", "from starlette.requests import Request", "yaml.compose(x)",
             "from urllib.parse import quote", "typst.Compiler(input=b'').compile()"],
)  # fmt: skip
def test_and_nothing_else(text):
    assert not found_in(text)


EVENTS = ("socket.connect", "socket.getaddrinfo", "socket.gethostbyname", "socket.sendto", "socket.bind",
          "urllib.Request", "http.client.connect", "pickle.find_class", "os.system", "subprocess.Popen",
          "webbrowser.open")  # fmt: skip
WATCHED = """
import sys
seen = []
sys.addaudithook(lambda event, args: seen.append(event) if event in %r else None)
%s
sys.argv = ["claywit", *%r]
from claywit.cli import main
try:
    main()
except SystemExit as ended:
    status = ended.code or 0
else:
    status = 0
print("STATUS", status, "SEEN", *seen, file=sys.stderr)
"""


def watched(folder, *arguments, first=""):
    """Run a command with each of `EVENTS` noted; return its status and what was seen."""
    code = WATCHED % (EVENTS, first, arguments)
    env = {**os.environ, "PYTHONPATH": "", "HOME": str(folder), "NO_COLOR": "1"}
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        cwd=folder,
        env=env,
        check=False,
    )
    last = done.stderr.strip().splitlines()[-1].split()
    assert last[0] == "STATUS", done.stderr
    return int(last[1]), last[3:]


@pytest.fixture
def folder(tmp_path):
    for name in ("models", "evidence_examples"):
        (tmp_path / name).symlink_to(ROOT / name)
    (tmp_path / "keys").mkdir(mode=0o700)
    return tmp_path


def test_no_command_calls_home_or_loads_code_from_data(folder, tried):
    model, piece = "models/oskervane.yaml", "evidence_examples/certified/04-marrable.yaml"
    commands = [("assess", model, piece), ("keys", "new", "keys/k.key", "--no-passphrase")]
    if LONG:  # the rest take long: two of them bring in all of pgmpy
        commands += [
            ("check", model),
            ("certify", model, piece, "--key", "keys/k.key", "-o", "c.json", "--html", "c.html", "--pdf", "c.pdf"),
            ("verify", "c.json", "--signer", "keys/k.pub", "--page", "c.pdf"),
            ("convert", model, "-o", "m.json"),
            ("simulate", model, "-n", "50", "-o", "cases.csv"),
            ("casebook", "new"),
            ("casebook", "check"),
        ]  # fmt: skip
    statuses = {}
    for command in commands:
        status, seen = watched(folder, *command)
        assert seen == [], command
        statuses[command[0:2]] = status
    assert all(status == 0 for status in statuses.values()), statuses
    tried("commands run with every call beyond the machine noted", len(commands), "none called")


def test_and_a_call_would_be_noted(folder):
    first = (
        "import socket\ntry: socket.create_connection(('127.0.0.1', 9), 0.1)\nexcept OSError: pass"
    )
    assert "socket.connect" in watched(folder, "--version", first=first)[1]


MOST_MODULES = 200  # 146 when this was written


def test_help_imports_few_modules_and_none_that_is_heavy(tried):
    """What it costs in time is measured in the long run only: a count is never late."""
    code = "import sys; before = set(sys.modules); import claywit.cli; print(len(set(sys.modules) - before))"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert 20 < int(found.stdout) <= MOST_MODULES
    seconds = min(cpu_of_help() for _ in range(times(1, 20)))
    if LONG:
        assert seconds <= 0.3
    tried(
        "`claywit --help`: modules it imports",
        int(found.stdout),
        f"at most {MOST_MODULES}; 0.3 s of processor at most",
    )


def cpu_of_help():
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    code = "import sys; sys.argv = ['claywit', '--help']; from claywit.cli import main; main()"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "Usage: claywit" in done.stdout
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
