"""What is learned from pieces, readings and experts, each number of it: in the text as in the data."""

import re
from collections import Counter

import numpy as np
import pytest
from faults.answering import MAKERS, NothingReadError
from spoken import Told, never_said, numbers_in
from trials import times

from claywit.errors import ClaywitError


def share(p):
    return {f"{100 * p:.1f}", "0.1", "99.9"}


def four(x):
    return {f"{x:.4f}", f"−{abs(x):.4f}"}


def three(x):
    return {f"{x:.3f}", "0.001", "0.999"}


def percent(p):
    return {f"{100 * p:.1f}%", "<0.1%", ">99.9%"}


def two(x):
    return {f"{x:.2f}".replace("-", "−"), f"{x:.2f}"}


def count_of(x):
    return {f"{x:,}", f"{x}"}


FIGURE = ("value", "low", "high")
WAYS = {
    "answers of `moulds`": {
        **dict.fromkeys(("covered", "covered_low", "covered_high"), three),
        **dict.fromkeys(("moulds", "low", "high"), lambda x: {f"{x:.1f}", f"{x:.0f}", f"{x:,}"}),
    },
    "answers of `fit`": {
        **dict.fromkeys(("before", "after"), lambda x: {f"{x:.4g}", "0.9999"}),
        "elicited_n": lambda x: {f"{x:g}"},
        "counted_n": lambda x: {f"{x:.1f}"},
        **dict.fromkeys(("uncovered", "low", "high", "elicited", "counted", "now"), share),
        "enough": lambda x: {f"{x:.0e}"}, "last_gain": lambda x: {f"{x:.1e}"},
        "scales": lambda x: {f"{x:.3g}"},
        **dict.fromkeys(("log_likelihood", "log_likelihood_before", "moved"), lambda _: set()),
    },
    "answers of `examiners`": {
        **dict.fromkeys(FIGURE, lambda x: {*two(x), f"{100 * x:.0f}"}),
        "p": lambda x: {f"{100 * x:.1f}", "<0.1", ">99.9"},
    },
    "answers of `elicit`": {
        **dict.fromkeys(("before", "p"), lambda x: {f"{100 * x:.2f}"}),
        "stated": lambda x: {f"{x:.3g}", f"{x:.0f}"},
        "fitted": lambda x: {f"{x:.1f}", f"{x:.0f}", "<0.1", ">99"},
        **dict.fromkeys(("weight", "weight_range", "information"), lambda x: {f"{x:.2f}"}),
        **dict.fromkeys(("calibration", "cutoff"), lambda x: {f"{x:.2g}"}),
        **dict.fromkeys(("pool", "equal_pool"), lambda x: {f"{x:.2f}", f"{x:.2g}"}),
    },
    "answers of `evaluate`, terminal and page": {
        **dict.fromkeys(FIGURE, lambda x: {*four(x), f"{x:.3f}", *percent(x), f"{x:.1f}"}),
        **dict.fromkeys(("said", "given", "least"), lambda x: {*percent(x), *count_of(x)}),
        **dict.fromkeys(("pieces", "right", "most"), count_of),
        **dict.fromkeys(("cllr", "least_cllr", "calibration_loss", "prior_log_score"), lambda x: {*four(x), f"{x:.3f}"}),
        **dict.fromkeys(("reliability", "resolution", "uncertainty", "within", "calibration_error", "calibration_error_by_chance"), four),
        **dict.fromkeys(("least_bans", "most_bans"), lambda x: {f"{x:+.2f}".replace("-", "−")}),
        **dict.fromkeys(("lr_for", "lr_against", "cross_entropy"), lambda _: set()),
    },
}  # fmt: skip
# Numbers of the sentences themselves: limits, shares of intervals, how a figure is read.
SENTENCES = {
    "answers of `moulds`": ("95",),
    "answers of `fit`": ("95", "30", "50", "1"),
    "answers of `examiners`": ("95", "30", "0.5", "1", "99"),
    "answers of `elicit`": ("100",),
    "answers of `evaluate`, terminal and page": (
        "95%", "95", "0", "1", "2", "1,000", "100", "5", "10", "0.2", "0.4", "0.6", "0.8",
        "25%", "50%", "75%", "90%", "20%", "40%", "60%", "80%", "1,000,000", "10,000", "0.5", "1.5", "0.7", "0.85", "0.9", "0.95",
    ),
}  # fmt: skip
RANGE = re.compile(r"(?<![\d.])([−-]?\d+\.\d+) to ([−-]?\d+\.\d+)")


def falling(text):
    """Return the ranges of *text* whose ends changed places."""
    ends = [
        (m[0], *(float(one.replace("−", "-")) for one in m.groups())) for m in RANGE.finditer(text)
    ]
    return [said for said, low, high in ends if low > high]


@pytest.mark.parametrize("kind", MAKERS)
def test_every_number_of_what_is_learned_is_in_its_data(kind, tried):
    seen, rng = Counter(), np.random.default_rng(18)
    for seed in range(times(4, 12)):
        try:
            made = MAKERS[kind](np.random.default_rng([18, seed]), seed)
        except (ClaywitError, NothingReadError):
            seen["refused"] += 1
            continue
        held = Told(made.data, WAYS[kind], (*made.more, *SENTENCES[kind]))
        for text in made.texts:
            assert held.missing(text) == [], (kind, seed, text)
            assert never_said(text) == [], (kind, seed, text)
            assert falling(text) == [], (kind, seed)
            seen["numbers"] += len(numbers_in(text))
            seen["altered"] += 1
            seen["noticed"] += bool(held.missing(altered(rng, text)))
        seen["told"] += 1
    assert seen["told"] > seen["refused"]
    tried(
        f"{kind}, of random data", seen["told"] + seen["refused"],
        f"{seen['numbers']:,} printed numbers, each one of the data; {seen['refused']:,} refused;"
        f" no range with its ends changed; of {seen['altered']:,} digits altered"
        f" {seen['noticed']:,} noticed",
    )  # fmt: skip


def altered(rng, text):
    """Return *text* with one digit of one number of at least three digits changed."""
    places = list(re.finditer(r"\d*\.\d\d+", text))
    if not places:
        return text
    match = places[rng.integers(len(places))]
    at = int(rng.choice([match.start() + i for i, c in enumerate(match[0]) if c.isdigit()]))
    other = rng.choice([d for d in "0123456789" if d != text[at]])
    return text[:at] + str(other) + text[at + 1 :]
