"""A command loads what it needs and no more: what is loaded is what its start costs."""

import json
import subprocess
import sys

from networks import entangled
from patience import HANGS
from test_cli import EVIDENCE, MODEL, ROOT

from claywit.report.digest import plain

LOADED = """
import atexit, sys
from claywit.cli import main
atexit.register(lambda: sys.stderr.write("\\n" + " ".join(sys.modules)))
main()
"""


def loaded_by(*arguments, folder=ROOT):
    """Return the status of a command, what it said, and the modules that were loaded at its end."""
    done = subprocess.run(
        [sys.executable, "-c", LOADED, *map(str, arguments)], cwd=folder, capture_output=True,
        text=True, check=False, timeout=HANGS,
    )  # fmt: skip
    said, _, modules = done.stderr.rpartition("\n")
    return done.returncode, said, set(modules.split())


def test_an_assessment_loads_neither_templates_nor_processes_nor_what_others_ask():
    status, said, modules = loaded_by("assess", MODEL, EVIDENCE, "--quick")
    assert (status, said) == (0, "")
    assert {"claywit.judging", "claywit.report.terminal"} <= modules
    spared = {"claywit.batch.pools", "claywit.reasoning.disputes", "claywit.reasoning.stories",
              "concurrent.futures", "jinja2", "multiprocessing", "pgmpy", "scipy"}  # fmt: skip
    assert not spared & modules


def test_a_batch_too_large_is_refused_before_the_records_of_cases_are_loaded(tmp_path):
    network, _ = entangled(60)
    (tmp_path / "big.yaml").write_text(json.dumps(plain(network.model)) + "\n", encoding="utf-8")
    (tmp_path / "c.csv").write_text("id,t0\na,x\n", encoding="utf-8")
    status, said, modules = loaded_by("batch", "big.yaml", "c.csv", "-o", "o.csv", folder=tmp_path)
    assert status == 2
    assert said.startswith("error: big.yaml: the nodes r0, r1")
    assert said.endswith("makes room only for the traits in the file\n")
    spared = {
        "claywit.batch.run",
        "claywit.evidence.written",
        "claywit.records.cases",
        "rich",
        "scipy",
    }
    assert not spared & modules
