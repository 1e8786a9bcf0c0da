"""The same numbers on every Python and numpy: stored once, found again by each."""

import json
import os
import subprocess
import sys
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest
from answers import STORED, stored_report, write
from golden import REWRITE, assert_same, compare
from networks import random_findings, random_model, with_n
from oracles import a_piece
from trials import LONG

from claywit.certificate.canonical import canonical

ROOT = Path(__file__).parents[2]
PINNED = "ffe30e49bde259bce5254bde926445941e22290943a054f01e157deeb84723b9"  # SHA-256 of the stored report in canonical form
# CLAYWIT_PYTHONS names further Pythons, each with claywit's dependencies: `make oldest`.
OTHERS = [name for name in os.environ.get("CLAYWIT_PYTHONS", "").split(os.pathsep) if name]
AFRESH = REWRITE and not LONG


def cases():
    """Return random models with findings that can stand together; seeds [9, 0] to [9, 5]."""
    for seed in range(6):
        rng = np.random.default_rng([9, seed])
        model = with_n(random_model(rng, 12, measured=0.2), 9.0)
        seen = random_findings(rng, model, truth=a_piece(rng, model))
        yield model, [one for one in seen if one.node != model.targets[0]]


def same(found):
    """Compare answers with those that are stored; a run that writes the page writes no answers."""
    check = assert_same if AFRESH else stored_alike
    check(found["demo"], STORED / "demo.json")
    check(found["networks"], STORED / "reports.json")


def stored_alike(found, path):
    compare(found, json.loads(path.read_text(encoding="utf-8")), path.stem)


def run(python, **environment):
    """Return the answers that a Python gives, and what it was made with."""
    path = os.pathsep.join(str(ROOT / folder) for folder in ("src", "tests"))
    wanted = {**os.environ, "PYTHONPATH": path, **environment}
    done = subprocess.run([python, ROOT / "tests" / "answers.py"], capture_output=True, env=wanted,
                          check=False, text=True, cwd=ROOT)  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def numbers(value):
    """Return how many numbers stand in plain data, those that are written as text included."""
    if isinstance(value, dict):
        return sum(map(numbers, value.values()))
    if isinstance(value, list):
        return sum(map(numbers, value))
    is_decimal = isinstance(value, str) and value[:2] in ("0.", "1.")
    return int(is_decimal or (isinstance(value, int | float) and not isinstance(value, bool)))


@pytest.fixture(scope="module")
def here():
    if AFRESH:
        STORED.mkdir(exist_ok=True)
        told = json.dumps([write(*case) for case in cases()], ensure_ascii=False)
        (STORED / "networks.json").write_text(told + "\n", encoding="utf-8")
    return run(sys.executable)


def test_the_python_at_hand_gives_the_stored_numbers(here, tried):
    found = here["answers"]
    same(found)
    count = numbers(found["demo"]) + numbers(found["networks"])
    tried("numbers of stored reports, by the Python at hand", count,
          "all the same within 1e-9, what is drawn from a seed included")  # fmt: skip


@pytest.mark.skipif(not OTHERS, reason="CLAYWIT_PYTHONS names no other Python")
@pytest.mark.parametrize("python", OTHERS)
def test_another_python_gives_the_stored_numbers(python, tried):
    made = run(python)
    found = made["answers"]
    stored_alike(found["demo"], STORED / "demo.json")
    stored_alike(found["networks"], STORED / "reports.json")
    count = numbers(found["demo"]) + numbers(found["networks"])
    assert found["canonical"] == sha256((STORED / "report.jcs").read_bytes()).hexdigest()
    tried(f"numbers of stored reports, by {made['made_with']}", count,
          "all the same within 1e-9; the canonical bytes of the stored report the same")  # fmt: skip


def test_the_canonical_bytes_of_a_stored_report_never_change(here, tried):
    """RFC 8785, pinned as bytes; never written anew, not even with CLAYWIT_REWRITE."""
    stored = (STORED / "report.jcs").read_bytes()
    assert canonical(stored_report()) == stored
    assert here["answers"]["canonical"] == sha256(stored).hexdigest() == PINNED
    tried("bytes of a stored report in canonical form", len(stored), "none changed")


@pytest.mark.parametrize("threads", ["1", "2", "4"] if LONG else ["1", "4"])
def test_the_number_of_threads_of_blas_changes_nothing(here, threads):
    kinds = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
    found = run(sys.executable, **dict.fromkeys(kinds, threads))["answers"]
    assert found == here["answers"]


def test_the_hash_seed_changes_nothing_byte_for_byte(here, tried):
    seeds = ["0", "1", "4242", "4294967295"] if LONG else ["4242"]
    for seed in seeds:
        assert run(sys.executable, PYTHONHASHSEED=seed)["answers"] == here["answers"], seed
    count = numbers(here["answers"]) * (len(seeds) + (3 if LONG else 2))
    tried("numbers under other hash seeds and numbers of threads", count, "the same to the last")
