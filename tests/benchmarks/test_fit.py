"""How long it takes to learn from 5,000 pieces, most of them with gaps."""

import sys
import time
from pathlib import Path

import numpy as np
import pytest

from claywit.inference.network import compile_network
from claywit.inference.rehearsal import Plan, rehearse
from claywit.learning.effective import effective
from claywit.learning.fit import Terms, fit
from claywit.records.files import read_model

ROOT = Path(__file__).parents[2]
PIECES, MISSING = 5_000, 0.3
KNOWN = {"period", "class", "workshop", "mould"}


@pytest.mark.benchmark
def test_five_thousand_pieces_with_gaps_are_learned_from(capsys):
    model = read_model(ROOT / "models/oskervane.yaml")
    hidden = frozenset(n.name for n in model.nodes if not n.is_trait) - KNOWN
    network = compile_network(model)
    cases = rehearse(network, Plan(MISSING, hidden), 1, PIECES, np.random.default_rng(1))
    begun, busy = time.perf_counter(), time.process_time()
    found = fit(model, cases, Terms(workers=2))
    effective(found)
    took, busy = time.perf_counter() - begun, time.process_time() - busy
    with capsys.disabled():
        sys.stdout.write(f"\nfit: {PIECES:,} pieces, {len(model.nodes)} nodes, {MISSING:.0%} missing:"
              f" {took:.0f} s, {busy:.0f} s of processor, {len(found.objective) - 1} rounds\n")  # fmt: skip
    assert found.converged
