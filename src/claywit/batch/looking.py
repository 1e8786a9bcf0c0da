"""What to look at next on many pieces: the single trait that is worth most for its minutes."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from claywit.batch.questions import question_logs
from claywit.batch.scorer import Scorer
from claywit.evidence.cases import Cases
from claywit.inference.network import Floats
from claywit.inference.sheet import Laid
from claywit.inference.tree import Bools, Ints
from claywit.model.schema import Node
from claywit.reasoning.advice import entropy

AT_ONCE = 20_000  # columns of evidence
NOTHING = 1e-12  # bits; what rounding leaves of nothing


@dataclass(frozen=True)
class Looks:
    """The best trait to look at next, a row a piece.

    trait: its place among `candidates`, -1 where nothing is open. bits: the expected gain on
    the question. doubt: the entropy of the question in bits.
    """

    trait: Ints
    bits: Floats
    doubt: Floats


def candidates(scorer: Scorer) -> list[Node]:
    """Return the traits that may be looked at, by name, so that the first of equals is named."""
    nodes = (scorer.network.model.node(name) for name in sorted(scorer.wanted.weighed))
    return [node for node in nodes if node.examine]


def look(scorer: Scorer, cases: Cases, laid: Laid, logs: Floats) -> Looks:
    """Return the best single look at each piece, as `advise` ranks them.

    Args:
        scorer: the model.
        cases: the pieces.
        laid: the pieces on the sheet of the question.
        logs: log P(state of the question, findings), shape (states, pieces).
    """
    count, nodes = len(cases), candidates(scorer)
    doubt = entropy(np.exp(logs - logs.max(axis=0)).T)
    open_at = [_is_open(cases, laid, node) for node in nodes]
    best, bits = np.full(count, -1, dtype=np.intp), np.zeros(count)
    wide = [
        laid.sheet.readings[node.name] * here for node, here in zip(nodes, open_at, strict=True)
    ]
    for part in _parts(np.sum(wide, axis=0, dtype=np.intp) if wide else np.zeros(count, np.intp)):
        gains = _gains(scorer, laid, [part[is_open[part]] for is_open in open_at], (logs, doubt))
        worth = np.full(len(part), -np.inf)
        for number, (node, is_open, gain) in enumerate(zip(nodes, open_at, gains, strict=True)):
            assert node.examine is not None  # noqa: S101 - a candidate
            at = np.flatnonzero(is_open[part])
            better = gain / node.examine.minutes > worth[at]
            chosen = at[better]
            best[part[chosen]], bits[part[chosen]] = number, gain[better]
            worth[chosen] = gain[better] / node.examine.minutes
    return Looks(best, bits, doubt)


def _parts(wide: Ints) -> list[Ints]:
    """Return the pieces in a few parts, each with so many columns as are worked at once."""
    ends = np.cumsum(wide) // AT_ONCE
    parts = np.split(np.arange(len(wide)), np.flatnonzero(np.diff(ends)) + 1)
    return [part for part in parts if len(part)]


def _is_open(cases: Cases, laid: Laid, node: Node) -> Bools:
    """Return where a trait was not read, and another says that there is something to read."""
    found: Bools = ~laid.found(node.name)
    for parent, allowed in node.applies_if.items():
        above = cases.model.node(parent)
        met = [above.all_states.index(state) for state in allowed]
        codes = cases.codes.get(parent)
        applies: Bools = np.isin(codes, met) if codes is not None else np.zeros(len(cases), bool)
        for row, special in cases.special.items():
            if parent in special:
                applies[row] = special[parent].state in allowed
        found &= applies
    return found


def _gains(
    scorer: Scorer, laid: Laid, rows: Sequence[Ints], known: tuple[Floats, Floats]
) -> list[Floats]:
    """Return for each candidate what it is worth in bits on the pieces *rows* where it is open.

    All readings of all traits are columns of one pass, which works out once what they share.

    Args:
        scorer: the model.
        laid: the pieces on the sheet of the question.
        rows: for each candidate the pieces.
        known: log P(state of the question, findings), and the doubt in bits, of all pieces.
    """
    logs, doubt = known
    picks = [np.zeros((len(laid.picks), 0), dtype=np.intp)]
    of = [np.zeros(0, dtype=np.intp)]
    counts: list[int] = []
    for node, at in zip(candidates(scorer), rows, strict=True):
        readings = laid.sheet.readings[node.name]
        own = np.tile(laid.picks[:, at], readings)
        own[list(laid.sheet.slots[node.name])] = np.repeat(np.arange(1, readings + 1), len(at))
        picks.append(own)
        of.append(np.tile(at, readings))
        counts.append(own.shape[1])
    every = np.concatenate(of)
    found = question_logs(laid, np.concatenate(picks, axis=1), every, scorer.wanted.question)
    greatest = logs.max(axis=0)
    joint = np.exp(found - greatest[every])
    total = np.exp(logs - greatest).sum(axis=0)
    expected = joint.sum(axis=0) / total[every] * entropy(joint.T)
    gains = []
    for at, left in zip(rows, np.split(expected, np.cumsum(counts))[:-1], strict=True):
        gain = doubt[at] - left.reshape(-1, len(at)).sum(axis=0) if len(at) else np.zeros(0)
        gains.append(np.where(gain > NOTHING, gain, 0.0))
    return gains
