"""The findings of one piece on the compiled network: which subsets of them say what."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claywit.errors import ImpossibleEvidence
from claywit.evidence.findings import Finding
from claywit.inference.elimination import Changes
from claywit.inference.likelihood import LogTable, own_table, parent_tables
from claywit.inference.network import Floats, Network
from claywit.inference.propagation import Loaded, load, propagate
from claywit.inference.tree import Bools, Ints, Tree, compile_tree
from claywit.model.propositions import Proposition

KEPT = 24  # trees of a network
SMALL = 20_000  # entries of a tree that is kept, half a megabyte
TOLD = 11  # decimals of a log: shares that agree in 12 digits are printed alike, and are equal
NEAR = 1 - 1e-10  # of the largest share: what is smaller is told from it in so many decimals


@dataclass(frozen=True)
class Piece:
    """Findings compiled against a network, with the joint of *roots* at hand.

    loaded: the compiled tree; each evidence slot has two tables, all zeros for "not
        weighed", then the finding's logarithms.
    owner: for each slot the number of the finding it belongs to.
    """

    network: Network
    findings: tuple[Finding, ...]
    loaded: Loaded
    owner: Ints

    @property
    def tree(self) -> Tree:
        """Return the compiled tree."""
        return self.loaded.tree

    def log_joint(self, subsets: Bools) -> Floats:
        """Return log P(joint state of the roots, findings in the subset).

        Args:
            subsets: shape (columns, findings); which findings each column weighs.

        Returns:
            Shape (joint states, columns); the states are `tree.root_states`.
        """
        picks = subsets.T[self.owner].astype(np.intp)
        return propagate(self.loaded, picks.reshape(len(self.owner), len(subsets)))

    def holds(self, proposition: Proposition) -> Bools:
        """Return which joint states of the roots satisfy *proposition*, about roots only."""
        return holds(self.network, self.tree, proposition)


def compile_piece(network: Network, findings: Sequence[Finding], roots: Sequence[str]) -> Piece:
    """Compile *findings* so that the joint of *roots* follows from any subset of them.

    Nodes that neither a finding nor a root needs are left out: they sum to 1.

    Raises:
        ModelError: the network is too entangled to be held in memory.
    """
    tables, owner = evidence_tables(network, findings, frozenset(roots))
    tree = compile_scopes(network, [table.scope for table in tables], tuple(roots))
    return Piece(network, tuple(findings), load(tree, switches(tables)), owner)


def evidence_tables(
    network: Network, findings: Sequence[Finding], asked: frozenset[str]
) -> tuple[list[LogTable], Ints]:
    """Return what the findings say, and for each table the number of its finding.

    A finding on a leaf is folded into its parents unless the leaf itself is *asked* for.
    """
    tables: list[LogTable] = []
    owner: list[int] = []
    for i, finding in enumerate(findings):
        found = tables_of(network, finding, asked)
        tables += found
        owner += [i] * len(found)
    for table in tables:
        if np.isnan(table.values).any() or (table.values == np.inf).any():
            raise ArithmeticError(f"a finding over {table.scope} has no probability")  # our bug
    return tables, np.array(owner, dtype=np.intp)


def tables_of(network: Network, finding: Finding, asked: Collection[str]) -> tuple[LogTable, ...]:
    """Return what one finding says, of its parents if it is a leaf that is not *asked* for."""
    if finding.node in network.leaves and finding.node not in asked:
        return parent_tables(network, finding)
    return (own_table(network, finding),)


def holds(network: Network, tree: Tree, proposition: Proposition) -> Bools:
    """Return which joint states of the roots of *tree* satisfy *proposition*, about roots only."""
    held = np.ones(len(tree.root_states), dtype=np.bool_)
    for name, allowed in proposition.items():
        states = tree.root_states[:, tree.roots.index(name)]
        held &= np.array([s in allowed for s in network.states[name]])[states]
    return held


def switches(tables: Sequence[LogTable]) -> tuple[Floats, ...]:
    """Return each table beside a table of zeros, the logarithms of "not weighed"."""
    flat = [np.ravel(table.values) for table in tables]
    return tuple(np.stack([np.zeros_like(values), values], axis=1) for values in flat)


def compile_scopes(
    network: Network,
    scopes: Sequence[tuple[str, ...]],
    roots: tuple[str, ...],
    versions: Sequence[int] | Changes | None = None,
) -> Tree:
    """Return the tree for evidence on *scopes*, without the nodes that nothing needs.

    *versions* says how many tables each scope has, where thousands of columns are to be run, or
    that these are changes of one piece.
    What is small is kept with the network: the next reading of a trait asks for the same tree.
    """
    made_for = tuple(versions) if isinstance(versions, Sequence) else versions
    asked = tuple(scopes), roots, made_for
    known = network.trees.get(asked)
    if known is not None:
        return known
    tree = _compiled(network, scopes, roots, versions)
    if tree.entries <= SMALL:
        if len(network.trees) >= KEPT:
            network.trees.clear()
        network.trees[asked] = tree
    return tree


def _compiled(
    network: Network,
    scopes: Sequence[tuple[str, ...]],
    roots: tuple[str, ...],
    versions: Sequence[int] | Changes | None,
) -> Tree:
    asked = frozenset(name for scope in scopes for name in scope) | frozenset(roots)
    # Sorted by name: the answer must not depend on the order of the file's nodes.
    needed = sorted(network.ancestors(asked))
    cards = {name: len(network.states[name]) for name in needed}
    return compile_tree(cards, [network.table(name) for name in needed], scopes, roots, versions)


def log_total(log_joint: Floats, held: NDArray[np.bool_] | None = None) -> Floats:
    """Return the log of the sum over joint states, of those *held* if given; shape (columns,)."""
    chosen = log_joint if held is None else log_joint[held]
    if not len(chosen):
        return np.full(log_joint.shape[1], -np.inf)
    greatest = chosen.max(axis=0)
    shift = np.where(greatest == -np.inf, 0.0, greatest)
    with np.errstate(divide="ignore"):
        total: Floats = np.log(np.exp(chosen - shift).sum(axis=0)) + shift
    return total


def log_shares(logs: Floats) -> Floats:
    """Return *logs*, on any scale, as the logs of shares that sum to 1 down the first axis.

    nan in columns that are -inf throughout.
    """
    # The largest is taken off first: the logs of a reading a million sd out are so large that
    # the log of a sum of them is lost in their last digit.
    with np.errstate(invalid="ignore", divide="ignore"):
        near = logs - logs.max(axis=0)
        shares: Floats = near - np.log(np.exp(near).sum(axis=0))
    return shares


def ranked(logs: Floats, log_prior: Floats) -> Ints:
    """Return the states, on the first axis, likeliest first; of equals the first of the model.

    States are equal where no report could tell them apart. Of those that are excluded the one
    with the larger prior comes first.
    """
    told = np.round(log_shares(logs), TOLD)
    before = np.where(told == -np.inf, -log_prior, 0.0)
    order: Ints = np.lexsort((before, -told), axis=0)
    return order


def likeliest(shares: Sequence[float] | Floats) -> int:
    """Return the first of the likeliest states, as `ranked`; *shares* are on any scale."""
    most = max(shares)
    near = [i for i, share in enumerate(shares) if share >= NEAR * most]
    if len(near) == 1:  # as nearly always; to round the logarithms of a dozen shares takes longer
        return near[0]
    with np.errstate(divide="ignore"):
        return int(np.argmax(np.round(log_shares(np.log(shares)), TOLD)))


def leaders(log_posteriors: Floats) -> Ints:
    """Return the first of the likeliest states in each column of logs, as `ranked`; 0 for nan."""
    told = np.nan_to_num(np.round(log_shares(log_posteriors), TOLD), nan=-np.inf)
    found: Ints = np.argmax(told, axis=0)
    return found


def log_odds(log_joint: Floats, for_: Bools, against: Bools) -> Floats:
    """Return the natural log odds of two sets of joint states, in each column.

    Infinite where one side is excluded, nan where both are: then there is nothing to weigh.
    """
    one, other = log_total(log_joint, for_), log_total(log_joint, against)
    with np.errstate(invalid="ignore"):
        odds: Floats = one - other
    return odds


def log_marginals(
    network: Network, findings: Sequence[Finding], names: Sequence[str]
) -> tuple[Mapping[str, Floats], Mapping[str, Floats]]:
    """Return log P(node = state, no findings) and log P(node = state, all findings).

    One pass: a table that names one state is one more column of evidence, and columns
    that agree below a bucket share the work there.
    """
    if not names:
        return {}, {}
    tables, _ = evidence_tables(network, findings, frozenset(names))
    scopes = [table.scope for table in tables]
    cards = [len(network.states[name]) for name in names]
    tree = compile_scopes(network, [*scopes, *[(name,) for name in names]], ())
    with np.errstate(divide="ignore"):
        which = [np.log(np.concatenate([np.ones((k, 1)), np.eye(k)], axis=1)) for k in cards]
    offsets = np.concatenate([[0], np.cumsum(cards)]).astype(np.intp)
    columns = int(offsets[-1])
    states = np.zeros((len(names), 2 * columns), dtype=np.intp)
    for i, k in enumerate(cards):
        for half in (0, columns):
            at = half + offsets[i]
            states[i, at : at + k] = np.arange(1, k + 1)
    weighed = np.zeros((len(scopes), 2 * columns), dtype=np.intp)
    weighed[:, columns:] = 1
    picks = np.concatenate([weighed, states])
    joint = propagate(load(tree, [*switches(tables), *which]), picks)[0]
    parts = {name: slice(offsets[i], offsets[i + 1]) for i, name in enumerate(names)}
    return (
        {name: joint[:columns][part] for name, part in parts.items()},
        {name: joint[columns:][part] for name, part in parts.items()},
    )


def conflicting(piece: Piece) -> tuple[str, ...]:
    """Return findings that together have probability 0, and of which none can be spared.

    A deletion filter: from the last finding to the first, each is left out and stays out
    if the rest are still impossible.
    """
    kept = np.ones(len(piece.findings), dtype=np.bool_)
    for i in reversed(range(len(piece.findings))):
        kept[i] = False
        if log_total(piece.log_joint(kept[np.newaxis]))[0] > -np.inf:
            kept[i] = True
    return tuple(f.node for f, keep in zip(piece.findings, kept, strict=True) if keep)


def refuse_impossible(piece: Piece, log_evidence: float) -> None:
    """Raise if log P(all findings) says that they cannot stand together.

    Raises:
        ImpossibleEvidence: naming findings that exclude one another, none of them to spare.
    """
    if log_evidence > -np.inf:
        return
    names = conflicting(piece)
    raise ImpossibleEvidence(
        f"{' and '.join(names)} cannot stand together: the model gives them probability 0;"
        " none of these can be spared from the conflict (left out from the last to the"
        " first), so look again at each, or at the zeros in the model's rows",
        names,
    )
