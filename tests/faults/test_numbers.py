"""No NaN and no infinity leaves the engine, whatever a model and a piece may say."""

import json
import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from extremes import extreme_cases, extreme_model
from trials import times

from claywit.assessment import assess
from claywit.batch.rows import columns
from claywit.batch.scorer import compile_scorer, wanted
from claywit.batch.scoring import score
from claywit.errors import ImpossibleEvidence
from claywit.evidence.binding import bind
from claywit.evidence.written import Evidence
from claywit.records.files import read_standards

SAME = 1e-12
NEAR = 500  # nats: where log P(findings) is larger, a double has fewer digits than that to compare
MODELS, PIECES = times(10, 100), times(250, 10_000)
ALONE = times(2, 5)  # pieces of each model that are assessed alone too
WEIGHED = 20  # of so many models one has the weights and the next looks of its pieces worked out
STANDARDS = read_standards()
pytestmark = pytest.mark.filterwarnings("error::RuntimeWarning")


def a_batch(seed):
    """Return a random model at the edge of what a file may say, and pieces: seed [8, *seed*]."""
    rng = np.random.default_rng([8, seed])
    model = extreme_model(rng, int(rng.integers(4, 15)))
    return model, extreme_cases(rng, model, PIECES)


def alone(model, findings, seed):
    """Return the whole report on a piece, through JSON that holds no NaN."""
    empty = Evidence.model_validate({"format": "claywit-evidence/1", "piece": {"id": "x"}})
    report = assess(model, replace(bind(empty, model), findings=findings), STANDARDS, seed=seed)
    return json.loads(json.dumps(json.loads(report.model_dump_json(by_alias=True)),
                                 allow_nan=False))  # fmt: skip


def check_batch(scorer, cases, found):
    """Fail unless every number of every piece, as it is and as a file has it, is a number."""
    for shares in found.posterior.values():
        assert np.isfinite(shares).all()
        assert (shares >= 0).all()
        assert np.abs(shares.sum(axis=1) - 1).max(initial=0) < SAME
    assert np.isfinite(found.log_evidence).all()
    if found.weights:
        for one in (found.weights.prior, found.weights.total, found.weights.posterior):
            assert not np.isnan(one).any()
        assert np.isfinite([found.looks.bits, found.looks.doubt]).all()
    for column in columns(scorer, cases, found):
        if column.is_number:
            assert all(cell is None or math.isfinite(cell) for cell in column.cells), column.name


def check_alone(report, found, row, where):
    """Fail unless the report says what the batch says of its row *row*."""
    for name, shares in found.posterior.items():
        said = [float(p) for p in report["posterior"][name].values()]
        assert sum(said) == pytest.approx(1, abs=SAME * len(said)), where  # 12 digits each
        assert said == pytest.approx(shares[row].tolist(), abs=SAME), where


def test_no_nan_and_no_infinity_leaves_the_engine(tried):
    seen = Counter()
    for seed in range(MODELS):
        model, cases = a_batch(seed)
        whole = seed % WEIGHED == 0
        scorer = compile_scorer(model, wanted(model, None, (), weights=whole, looks=whole))
        found, possible = score(scorer, cases)
        check_batch(scorer, cases.take(np.flatnonzero(possible)), found)
        seen["pieces"] += len(cases)
        seen["weighed"] += whole * int(possible.sum())
        seen["impossible"] += int((~possible).sum())
        place = np.cumsum(possible) - 1
        aside = set(model.by_name) - set(scorer.wanted.weighed)
        for k in range(ALONE):
            row = k * PIECES // ALONE
            where = f"models of seed [8, {seed}], piece {row}"
            try:
                report = alone(model, cases.findings(row, aside), 1 if k % 2 else None)
            except ImpossibleEvidence:
                assert not possible[row], where
                seen["refused alone"] += 1
                continue
            assert possible[row], where
            seen["alone"] += 1
            if abs(found.log_evidence[place[row]]) < NEAR:
                check_alone(report, found, place[row], where)
                seen["compared"] += 1
    assert seen["compared"] > seen["alone"] / 2
    tried(
        "random pieces on random models at the edge of what a file may say, many at once",
        seen["pieces"],
        f"{seen['impossible']:,} called impossible; of all others every number finite and the"
        " shares of each target add up to 1 within 1e-12; of"
        f" {seen['weighed']:,} the weights and the best next look too",
    )
    tried(
        "some of them assessed alone, the whole report",
        seen["alone"] + seen["refused alone"],
        f"{seen['refused alone']:,} refused as impossible, as in the batch; every number of"
        f" {seen['alone']:,} reports finite; {seen['compared']:,} compared, their posteriors"
        " those of the batch within 1e-12",
    )
