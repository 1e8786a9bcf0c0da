"""What a whole batch costs: the way from columns of cases to posteriors, the answer, the process.

The engine alone is measured in `test_engine`. Times are the least processor time of several repeats.
"""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pyagrum
import pytest
from engines import Pyagrum
from figures import figure, least
from memory import watched

from claywit.batch.scorer import Scorer, Wanted, compile_scorer, wanted
from claywit.batch.scoring import score
from claywit.inference.network import compile_network
from claywit.inference.rehearsal import Plan, rehearse
from claywit.inference.sheet import compile_sheet
from claywit.reasoning.readings import readings_of

pytestmark = pytest.mark.benchmark
MODEL = Path(__file__).parents[2] / "models" / "oskervane.yaml"
BATCH, ALONE = 10_000, 60


@pytest.fixture(scope="module")
def network(demo_model):
    return compile_network(demo_model)


def drawn(network, count, missing):
    return rehearse(network, Plan(missing=missing), 1, count, np.random.default_rng(1))


def posteriors_alone(network, read):
    """Return a scorer of the discrete traits only, for the posteriors of all targets."""
    targets = network.model.targets
    readings = {n: readings_of(network, network.model.node(n), targets) for n in read}
    asked = Wanted("mould", targets, tuple(read), weights=False, looks=False)
    return Scorer(network, asked, (compile_sheet(network, readings, targets),), None, ())


@pytest.mark.parametrize("missing", [0.0, 0.3])
def test_a_batch_of_cases_beside_pyagrum(network, missing, figures):
    """claywit: all that `batch --quick` works out of the columns of a file, equal evidence once."""
    read = [n.name for n in network.model.nodes if n.is_trait and n.states]
    cases, scorer = drawn(network, BATCH, missing), posteriors_alone(network, read)
    other = Pyagrum(network, read, network.model.targets)
    evidence = [
        {n: network.states[n][cases.codes[n][row]] for n in read if cases.codes[n][row] >= 0}
        for row in range(ALONE)
    ]

    def theirs():
        return [other.given(each) for each in evidence]

    found, _ = score(scorer, cases)
    for row, shares in enumerate(theirs()):
        for name, share in zip(network.model.targets, shares, strict=True):
            assert found.posterior[name][row] == pytest.approx(share, abs=1e-9)
    mine, alone = least(lambda: score(scorer, cases), 5) / BATCH, least(theirs, 3) / ALONE
    figure(figures, f"{BATCH:,} cases of the demo model's discrete part, {missing:.0%} of the traits not "
           "examined, from columns to posteriors of all targets: a piece",
           f"{mine * 1e6:.1f} µs; pyagrum {pyagrum.__version__}, LazyPropagation kept between pieces, targets "
           f"declared: {alone * 1e6:,.0f} µs, so {alone / mine:.0f} times as fast", "120 times")  # fmt: skip
    assert alone / mine >= 40


@pytest.mark.parametrize(
    ("what", "weights", "looks"),
    [
        ("posteriors", False, False),
        ("posteriors, weights and flags", True, False),
        ("posteriors, weights, flags and what to look at next", True, True),
    ],
)
def test_what_a_whole_answer_costs(network, what, weights, looks, figures):
    cases = drawn(network, 2_000, 0.3)
    asked = wanted(network.model, "mould", (), weights=weights, looks=looks)
    scorer = compile_scorer(network.model, asked)
    taken = least(lambda: score(scorer, cases), 2) / len(cases)
    figure(figures, f"a case of the demo model, measures too, 30% not examined: {what}",
           f"{taken * 1e6:.0f} µs", "")  # fmt: skip


def test_memory_does_not_grow_with_the_file(tmp_path, figures):
    """Whole processes; the ids that were seen stay, 8 bytes each, twice while they are merged."""
    claywit, peaks, counts = Path(sys.executable).parent / "claywit", [], (50_000, 250_000)
    for count in counts:
        cases, out = tmp_path / f"{count}.csv", tmp_path / f"{count}.out.csv"
        drawing = [claywit, "simulate", MODEL, "-n", str(count), "--missing", "0.3", "-o", cases]
        subprocess.run(drawing, check=True, stderr=subprocess.DEVNULL)
        process = subprocess.Popen(
            [claywit, "batch", MODEL, cases, "-o", out, "--quick", "--workers", "1"],
            stderr=subprocess.DEVNULL,
        )
        with watched(process.pid) as peak:
            _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        assert process.returncode == 0
        peaks.append(peak[0])
        used = usage.ru_utime + usage.ru_stime
        figure(figures, f"`batch --quick` on {count:,} cases, a whole process",
               f"{used / count * 1e6:.0f} µs a piece, {peaks[-1]:.0f} MB", "600 MB for ten million")  # fmt: skip
    assert peaks[1] - peaks[0] < 60
