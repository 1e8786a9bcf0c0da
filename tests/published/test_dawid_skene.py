"""Dawid & Skene (1979), Applied Statistics 28, 20-28: 45 patients, 5 anaesthetists.

The readings of their Table 1 are in dawid_skene_1979.csv (from memory, and the same in a public
implementation that names the paper as its source). The figures of their Table 2 are from memory,
C: shares of the four classes .40 .42 .11 .07, and for the first observer, who read three times,
.89 .11 .00 .00 / .07 .88 .05 .00 / .00 .34 .66 .00 / .00 .00 .56 .44.
"""

from pathlib import Path

import numpy as np
import pytest

from claywit.learning.dawid_skene import estimate
from claywit.records.readings import read_readings
from claywit.records.rejects import Rejects

READINGS = Path(__file__).parent / "dawid_skene_1979.csv"


@pytest.fixture(scope="module")
def readings():
    (only,) = read_readings(READINGS, None, Rejects(None)).traits()
    return only


def test_the_file_holds_45_patients_and_315_readings(readings):
    assert (len(readings.pieces), len(readings.state)) == (45, 315)
    assert readings.states == ("1", "2", "3", "4")


def test_shares_and_error_rates_are_the_published_ones(readings):
    found = estimate(readings.counts())
    assert np.round(found.shares, 2).tolist() == [0.40, 0.42, 0.11, 0.07]
    assert np.round(found.matrices[0], 2).tolist() == [
        [0.89, 0.11, 0.00, 0.00],
        [0.07, 0.88, 0.05, 0.00],
        [0.00, 0.34, 0.66, 0.00],
        [0.00, 0.00, 0.56, 0.44],
    ]
    assert found.converged


def step_by_step(counts, steps):
    """The same estimate in plain loops, written from the formulas 2.3 to 2.5 of the paper."""
    patients, observers, states = counts.shape
    belief = [counts[i].sum(axis=0) / counts[i].sum() for i in range(patients)]
    for _ in range(steps):
        shares = [sum(belief[i][j] for i in range(patients)) / patients for j in range(states)]
        rates = np.zeros((observers, states, states))
        for k in range(observers):
            for j in range(states):
                row = [
                    sum(belief[i][j] * counts[i, k, m] for i in range(patients))
                    for m in range(states)
                ]
                rates[k, j] = np.array(row) / sum(row)
        for i in range(patients):
            weight = [
                shares[j]
                * np.prod(
                    [
                        rates[k, j, m] ** counts[i, k, m]
                        for k in range(observers)
                        for m in range(states)
                    ]
                )
                for j in range(states)
            ]
            belief[i] = np.array(weight) / sum(weight)
    return np.array(shares), rates


def test_plain_loops_come_to_the_same_rates(readings):
    shares, rates = step_by_step(readings.counts(), 60)
    found = estimate(readings.counts())
    assert found.shares == pytest.approx(shares, abs=1e-5)
    assert found.matrices == pytest.approx(rates, abs=1e-5)
