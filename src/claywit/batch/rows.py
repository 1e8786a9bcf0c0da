"""What was scored, as the columns of a file."""

from dataclasses import replace

import numpy as np

from claywit.batch.looking import candidates
from claywit.batch.scorer import Scorer
from claywit.batch.scoring import Scored, score
from claywit.batch.weighing import chain, units
from claywit.evidence.cases import Cases
from claywit.inference.network import Floats
from claywit.reasoning.explanation import NATS_PER_BAN
from claywit.records.flat import Column
from claywit.report.numbers import bans

TOP = 3  # findings named
ATYPICAL = 0.05


def columns(scorer: Scorer, cases: Cases, scored: Scored) -> list[Column]:
    """Return the columns of the answer; probabilities at 12 digits, bans at 9 decimals."""
    return [
        Column("id", is_number=False, cells=list(cases.names)),
        Column("group", is_number=False, cells=[group or None for group in cases.groups]),
        *_attribution(scorer, scored),
        *(
            _shares(f"{name}.{state}", scored.posterior[name][:, i])
            for name in scorer.wanted.targets
            for i, state in enumerate(scorer.network.states[name])
        ),
        *(_weights(scorer, scored) if scorer.wanted.weights else ()),
        *(_hanging_together(scorer, scored) if scorer.wanted.weights else ()),
        *(_looks(scorer, scored) if scorer.wanted.looks else ()),
    ]


def no_rows(scorer: Scorer) -> list[Column]:
    """Return the columns of an answer on no piece at all, so that even that can be read."""
    model = scorer.network.model
    one = Cases(model, ("",), ("",), np.zeros(1, dtype=np.int64), {}, {}, {}, {})
    found, _ = score(scorer, one)
    return [replace(column, cells=[]) for column in columns(scorer, one, found)]


def _attribution(scorer: Scorer, scored: Scored) -> list[Column]:
    names = scorer.states
    return [
        Column("leading", is_number=False, cells=[names[i] for i in scored.leading.tolist()]),
        Column("rival", is_number=False, cells=[names[i] for i in scored.rival.tolist()]),
        Column("findings", is_number=True, cells=scored.counts.tolist()),
        _bans("log10_evidence", scored.log_evidence / NATS_PER_BAN),
    ]


def _weights(scorer: Scorer, scored: Scored) -> list[Column]:
    """Return the move from prior to posterior, and the findings that moved most, either way."""
    found, order = scored.weights, [*chain(scorer), None]
    assert found is not None  # noqa: S101 - the caller looked
    room = [(0, 0), (0, max(0, TOP - found.chained.shape[1]))]  # a file may have fewer traits
    chained = np.pad(found.chained, room, constant_values=np.nan)
    size = np.where(np.isnan(chained), -1.0, np.abs(chained))
    places = np.argsort(-size, axis=1, kind="stable")[:, :TOP]
    top = [
        _bans("prior_bans", found.prior),
        _bans("total_bans", found.total),
        _bans("posterior_bans", found.posterior),
    ]
    for k in range(min(TOP, len(scorer.wanted.weighed))):
        place = places[:, k]
        weight = np.take_along_axis(chained, place[:, np.newaxis], axis=1)[:, 0]
        there = np.take_along_axis(size, place[:, np.newaxis], axis=1)[:, 0] >= 0
        named = [order[i] if seen else None for i, seen in zip(place, there, strict=True)]
        top.append(Column(f"finding_{k + 1}", is_number=False, cells=named))
        top.append(_bans(f"bans_{k + 1}", weight))
    return top


def _hanging_together(scorer: Scorer, scored: Scored) -> list[Column]:
    """Return the flags: findings in conflict, and a group that stands apart from the rest."""
    found, names = scored.weights, [name for name, _ in units(scorer)]
    assert found is not None  # noqa: S101 - the caller looked
    apart = np.where(np.isnan(found.apart), -np.inf, found.apart)
    place = np.argmax(apart, axis=1)
    most = apart[np.arange(len(apart)), place]
    asked = np.count_nonzero(~np.isnan(found.apart), axis=1)
    with np.errstate(over="ignore"):
        p = np.where(asked > 0, np.minimum(asked * 10.0 ** -np.maximum(most, 0.0), 1.0), np.nan)
    strange = p <= ATYPICAL
    flags = np.where(found.conflict > 1e-6, "yes", "no").tolist()
    return [
        _bans("conflict_bans", found.conflict),
        Column("conflict", is_number=False, cells=flags),
        Column(
            "stranger",
            is_number=False,
            cells=[names[i] if n else None for i, n in zip(place, asked, strict=True)],
        ),
        _bans("apart_bans", np.where(asked > 0, most, np.nan)),
        _shares("stranger_p", p),
        Column("atypical", is_number=False, cells=np.where(strange, "yes", "no").tolist()),
    ]


def _looks(scorer: Scorer, scored: Scored) -> list[Column]:
    found, names = scored.looks, [*(node.name for node in candidates(scorer)), None]
    assert found is not None  # noqa: S101 - the caller looked
    bits = np.where(found.trait >= 0, found.bits, np.nan)
    return [
        _bans("doubt_bits", found.doubt),
        Column("next", is_number=False, cells=[names[i] for i in found.trait.tolist()]),
        _bans("next_bits", bits),
    ]


def _bans(name: str, values: Floats) -> Column:
    return Column(name, is_number=True, cells=[bans(value) for value in values.tolist()])


def _shares(name: str, values: Floats) -> Column:
    cells = values.tolist()
    if np.isnan(values).any():
        cells = [None if value != value else value for value in cells]  # noqa: PLR0124 - nan
    return Column(name, is_number=True, cells=cells, digits=12)
