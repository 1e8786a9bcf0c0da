"""Two rival propositions side by side: what each says of a finding, and what would flip them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product

import numpy as np

from claywit.evidence.findings import Finding
from claywit.inference.network import Floats, Network
from claywit.inference.piece import Piece, log_odds, log_shares, log_total, ranked, tables_of
from claywit.inference.propagation import load, propagate
from claywit.inference.tree import Ints
from claywit.model.propositions import Proposition
from claywit.reasoning.explanation import NATS_PER_BAN, Explanation, subsets

LARGEST_SET = 3
MOST_SETS = 1_000_000  # of one size that are tried; traits of many states make more of them
BLOCK = 4096  # columns tried at once


@dataclass(frozen=True)
class SideBySide:
    """One finding under both propositions, as natural logarithms.

    alone_*: P(finding | proposition). chained_*: P(finding | proposition and the findings
    before it in the chain). For a measured value these are densities per the node's unit;
    only their ratio means something. Nan where the proposition was already ruled out.
    """

    node: str
    alone_for: float
    alone_against: float
    chained_for: float
    chained_against: float


@dataclass(frozen=True)
class Change:
    """One finding lost (*to* is None) or read as another state."""

    node: str
    to: str | None


def side_by_side(piece: Piece, explanation: Explanation) -> tuple[SideBySide, ...]:
    """Return every finding under both propositions, in the order of the explanation's chain."""
    place = {finding.node: i for i, finding in enumerate(piece.findings)}
    order = [place[weight.node] for weight in explanation.weights]
    n = len(order)
    columns = [*(order[:k] for k in range(n + 1)), *([i] for i in order)]
    joint = piece.log_joint(subsets(columns, n))
    sides = []
    for proposition in (explanation.for_, explanation.against):
        total = log_total(joint, piece.holds(proposition))
        with np.errstate(invalid="ignore"):
            sides.append((total[n + 1 :] - total[0], np.diff(total[: n + 1])))
    (alone_for, chained_for), (alone_against, chained_against) = sides
    return tuple(
        SideBySide(
            piece.findings[i].node,
            float(alone_for[step]),
            float(alone_against[step]),
            float(chained_for[step]),
            float(chained_against[step]),
        )
        for step, i in enumerate(order)
    )


def smallest_flip(
    piece: Piece, for_: Proposition, against: Proposition
) -> tuple[Change, ...] | None:
    """Return the smallest set of findings whose loss or reversal turns the order round.

    Every finding may be lost, and a finding that reads a state may have read any other
    state of its node, as surely as it did. All sets of up to `sets_tried` findings are tried;
    of the smallest that flip the order, the one that turns it furthest is returned. None: no
    such set does.
    """
    options = [_others(piece.network, finding) for finding in piece.findings]
    loaded = load(piece.tree, _tables(piece, options))
    held = piece.holds(for_), piece.holds(against)

    def odds(choices: Ints) -> Floats:
        return log_odds(propagate(loaded, choices.T[piece.owner]), *held)

    as_read = np.ones((1, len(options)), dtype=np.intp)
    sign = 1.0 if odds(as_read)[0] >= 0 else -1.0
    for size in range(1, sets_tried(piece) + 1):
        best, turned = None, 0.0
        for block in _blocks([len(others) for others in options], size):
            found = np.nan_to_num(sign * odds(block), nan=np.inf)
            furthest = int(np.argmin(found))
            if found[furthest] < turned:
                best, turned = block[furthest], float(found[furthest])
        if best is not None:
            return tuple(
                Change(piece.findings[i].node, _read(options[i], int(pick)))
                for i, pick in enumerate(best)
                if pick != 1
            )
    return None


def sets_tried(piece: Piece) -> int:
    """Return how large the sets are that `smallest_flip` tries: up to three findings.

    Fewer where there are more than a million sets of a size; those of one are always tried.
    """
    ways = [1]  # of changing so many findings
    for finding in piece.findings:
        own = 1 + len(_others(piece.network, finding))
        ways = [a + own * b for a, b in zip([*ways, 0], [0, *ways], strict=True)]
        ways = ways[: LARGEST_SET + 1]
    too_many = (size for size, count in enumerate(ways) if size > 1 and count > MOST_SETS)
    return next(too_many, LARGEST_SET + 1) - 1


def _others(network: Network, finding: Finding) -> tuple[Finding, ...]:
    """Return what else could have been read: the other states, as surely as this one."""
    if finding.state is None:
        return ()
    names = network.model.node(finding.node).state_names
    return tuple(replace(finding, state=name) for name in names if name != finding.state)


def _tables(piece: Piece, options: Sequence[tuple[Finding, ...]]) -> list[Floats]:
    """Return for each slot the tables "lost", "as read", then one for each other reading."""
    tables: list[Floats] = []
    for finding, others in zip(piece.findings, options, strict=True):
        readings = [tables_of(piece.network, one, piece.tree.roots) for one in (finding, *others)]
        for slot in zip(*readings, strict=True):
            columns = [np.ravel(table.values) for table in slot]
            tables.append(np.stack([np.zeros_like(columns[0]), *columns], axis=1))
    return tables


def _read(others: tuple[Finding, ...], pick: int) -> str | None:
    return None if pick == 0 else others[pick - 2].state


def _blocks(others: Sequence[int], size: int) -> Iterator[Ints]:
    """Yield blocks of choices, shape (columns, findings), that change *size* findings.

    A choice is 0 for lost, 1 for as read, and 2 and more for the other readings.
    """
    changes = [(0, *range(2, count + 2)) for count in others]
    waiting: list[Ints] = []
    for members in combinations(range(len(others)), size):
        picks = np.array(list(product(*(changes[i] for i in members))), dtype=np.intp)
        block = np.ones((len(picks), len(others)), dtype=np.intp)
        block[:, list(members)] = picks
        waiting.append(block)
        if sum(len(one) for one in waiting) >= BLOCK:
            yield np.concatenate(waiting)
            waiting = []
    if waiting:
        yield np.concatenate(waiting)


@dataclass(frozen=True)
class Runner:
    """A state that does not lead: its posterior, and the leader's log10 odds against it.

    strongest: the finding that speaks most for it against the leader, by what would be lost
    without it, in bans; None if none does.
    """

    state: str
    posterior: float
    bans: float
    strongest: str | None
    strongest_bans: float


def runners(piece: Piece, question: str, most: int = 3) -> tuple[Runner, ...]:
    """Return the likeliest states of *question* after the leader, with what speaks for each."""
    n = len(piece.findings)
    everything = np.ones((1, n), dtype=np.bool_)
    joint = piece.log_joint(np.concatenate([everything, ~np.eye(n, dtype=np.bool_)]))
    names = piece.network.states[question]
    column = piece.tree.root_states[:, piece.tree.roots.index(question)]
    totals = np.stack([log_total(joint, column == k) for k in range(len(names))])
    shares = np.exp(log_shares(totals[:, 0]))
    order = [k for k in ranked(totals[:, 0], totals[:, 0]) if shares[k] > 0]
    found = []
    for k in order[1 : most + 1]:
        with np.errstate(invalid="ignore"):
            odds = (totals[k] - totals[order[0]]) / NATS_PER_BAN
            lost = np.nan_to_num(odds[0] - odds[1:], nan=0.0, posinf=0.0, neginf=0.0)
        best = int(np.argmax(lost)) if n else 0
        speaks = n > 0 and lost[best] > 1e-9
        found.append(
            Runner(
                names[k],
                float(shares[k]),
                float(-odds[0]),
                piece.findings[best].node if speaks else None,
                float(lost[best]) if speaks else 0.0,
            )
        )
    return tuple(found)
