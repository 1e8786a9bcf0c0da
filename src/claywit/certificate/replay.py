"""The opinion formed anew from the certificate's own model and evidence, and set beside it.

What a general engine can be asked is asked of pgmpy (`inference.recheck`); all else claywit
works out again itself, and says so.
"""

import json
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pydantic import ValidationError

from claywit import __version__
from claywit.assessment import SEED
from claywit.certificate import trace as tracing
from claywit.certificate.issue import (
    missing_from_evidence,
    missing_from_report,
    missing_from_terms,
)
from claywit.certificate.outcome import Wrong
from claywit.certificate.schema import Certificate, Trace
from claywit.errors import ClaywitError
from claywit.evidence.binding import Examined, bind
from claywit.evidence.written import Evidence
from claywit.inference.recheck import Rechecked, recheck
from claywit.model.schema import Model
from claywit.model.soundness import read_data, sound
from claywit.reasoning.policy import Policy
from claywit.report.report import Report
from claywit.report.scale import Scale
from claywit.report.standards import Standards

CARRIED = "the model in the certificate"
WITHIN = 1e-9
DECIMAL = re.compile(r"[0-9]\.[0-9]+(e[+-][0-9]+)?|0|[0-9]")
PARTS: Mapping[str, Wrong] = {
    "model": "model_differs",
    "evidence": "findings_differ",
    "findings": "findings_differ",
    "not_examined": "findings_differ",
    "not_applicable": "findings_differ",
    "not_used": "findings_differ",
    "unknown_events": "findings_differ",
    "conditions": "findings_differ",
    "priors_from_client": "findings_differ",
    "statement": "words_differ",
    "cautions": "words_differ",
    "nodes": "words_differ",
    "question": "question_differs",
    "intervals": "draws_differ",
    "typicality": "draws_differ",
}
NUMBERS: Wrong = "numbers_do_not_follow"
SAID: Mapping[Wrong, str] = {
    "incomplete": "it lacks what no certificate is issued without",
    "model_differs": "the report is not about the model in the certificate",
    "findings_differ": "the findings of the report are not those of the evidence in it",
    "words_differ": "the words of the report are not those that its numbers call for",
    "question_differs": "the report answers another question than the evidence puts",
    "draws_differ": "the drawn figures do not come again from the printed seed",
    NUMBERS: "the numbers do not follow from the model and the findings in it",
}


@dataclass(frozen=True)
class Difference:
    """One place where the certificate and the opinion formed anew do not agree.

    one_sided: only one of them says anything there, as when another version of claywit made it.
    """

    code: Wrong
    where: str
    stored: str
    fresh: str
    one_sided: bool = False


@dataclass(frozen=True)
class Replayed:
    """What came of forming the opinion anew.

    figures: how many numbers the second engine confirmed.
    unmatched: places of which only the certificate or only this version of claywit speaks.
    other_version: the version that made the certificate, if it is not this one.
    """

    differences: tuple[Difference, ...]
    figures: int = 0
    unmatched: tuple[str, ...] = ()
    other_version: str = ""


def parts_of(trace: Trace, model: Model | None) -> tuple[Model, Examined, Standards]:
    """Return model, evidence and standards of *trace* as values; *model* where it is not embedded.

    Raises:
        ClaywitError: they do not fit each other, or the model is not sound.
        ValidationError: one of them is not of its form.
    """
    if model is None:
        model = sound(read_data(trace.model.source, CARRIED), CARRIED)
    evidence = Evidence.model_validate(trace.evidence.source)
    standards = Standards(
        Scale.model_validate(trace.scale.source), Policy.model_validate(trace.policy.source)
    )
    return model, bind(evidence, model), standards


def seed_of(report: Mapping[str, Any]) -> int:
    """Return the seed that the report prints, from which its draws come again."""
    drawn = report.get("intervals")
    seed = drawn.get("seed") if isinstance(drawn, Mapping) else None
    known = isinstance(seed, float) and seed.is_integer() and 0 <= seed < 2**53
    return int(seed) if known and seed is not None else SEED


def replay(value: Certificate, model: Model | None, *, second_engine: bool = True) -> Replayed:
    """Form the opinion of *value* anew and return where the two differ.

    Args:
        value: a certificate whose signature is good.
        model: the model, where the certificate holds only its digest.
        second_engine: put the question to pgmpy too.
    """
    trace = value.trace
    try:
        known, examined, standards = parts_of(trace, model)
        report = tracing.opinion(known, examined, standards, seed=seed_of(trace.report))
        fresh = tracing.trace(known, examined, standards, report, tracing.Terms())
        if examined.for_ is None:
            return _refused("its evidence states no propositions")
    except (ClaywitError, ValidationError) as wrong:
        return _refused(str(wrong).splitlines()[0])
    found = [*_lacking(value, known, examined, report), *_beside(trace, fresh)]
    other = "" if trace.method.version == __version__ else trace.method.version
    unmatched = tuple(d.where for d in found if d.one_sided) if other else ()
    if other:
        found = [d for d in found if not d.one_sided and d.code != "words_differ"]
    if found or not second_engine:
        return Replayed(tuple(found), 0, unmatched, other)
    asked = [node for node in trace.report["posterior"] if node in fresh.report["posterior"]]
    second = _second(known, examined, asked)
    checked = list(_confirmed(trace.report, second))
    found = [difference for difference in checked if difference]
    return Replayed(tuple(found), len(checked), unmatched, other)


def _lacking(
    value: Certificate, model: Model, examined: Examined, report: Report
) -> Iterator[Difference]:
    """Yield what claywit would not have issued a certificate without."""
    signed = datetime.fromisoformat(value.validFrom)
    evaluation = value.trace.evaluation
    terms = tracing.Terms(evaluation=evaluation.source if evaluation else None)
    lacks = [
        *missing_from_evidence(model, examined, signed),
        *missing_from_terms(model, terms, signed),
        *missing_from_report(model, report),
    ]
    for lack in lacks:
        yield Difference("incomplete", lack.partition(":")[0], "nothing", "none of it")


def _refused(why: str) -> Replayed:
    return Replayed((Difference(NUMBERS, "model and evidence", "an opinion", why),))


def _beside(stored: Trace, fresh: Trace) -> Iterator[Difference]:
    """Yield where the stored trace and the fresh one differ, part by part of the report."""
    for key in sorted({*stored.report, *fresh.report}):
        code = PARTS.get(key, NUMBERS)
        yield from _at(code, key, stored.report, fresh.report, key)
    for key, code in TRACE_PARTS.items():
        one, other = (json.loads(t.model_dump_json(include={key})) for t in (stored, fresh))
        yield from differences(code, key, one[key], other[key])


TRACE_PARTS: Mapping[str, Wrong] = {
    "piece": "findings_differ",
    "examiner": "findings_differ",
    "reliability": "findings_differ",
    "not_recorded": "findings_differ",
    "notices": "words_differ",
    "definitions": "words_differ",
    "limits": "words_differ",
    "method": "words_differ",
}


def differences(code: Wrong, where: str, stored: Any, fresh: Any) -> Iterator[Difference]:
    """Yield where two pieces of JSON differ: numbers by more than 1e-9, all else at all."""
    if isinstance(stored, Mapping) and isinstance(fresh, Mapping):
        for key in sorted({*stored, *fresh}):
            yield from _at(code, f"{where}.{key}", stored, fresh, key)
    elif isinstance(stored, list) and isinstance(fresh, list) and len(stored) == len(fresh):
        for i, (one, other) in enumerate(zip(stored, fresh, strict=True)):
            yield from differences(code, f"{where}[{i}]", one, other)
    elif not _same(stored, fresh):
        yield Difference(code, where, str(stored)[:120], str(fresh)[:120])


def _at(
    code: Wrong, where: str, stored: Mapping[str, Any], fresh: Mapping[str, Any], key: str
) -> Iterator[Difference]:
    if key in stored and key in fresh:
        yield from differences(code, where, stored[key], fresh[key])
    else:
        one, other = (str(part.get(key, "nothing"))[:120] for part in (stored, fresh))
        yield Difference(code, where, one, other, one_sided=True)


def _same(stored: Any, fresh: Any) -> bool:
    one, other = _number(stored), _number(fresh)
    if one is None or other is None:
        return bool(stored == fresh)
    return abs(one - other) <= WITHIN


def _number(value: Any) -> float | None:
    """Return a JSON number, or the number that a decimal string holds."""
    if isinstance(value, str) and DECIMAL.fullmatch(value):
        return float(value)
    plain = isinstance(value, int | float) and not isinstance(value, bool)
    return float(value) if plain else None


def _second(model: Model, examined: Examined, asked: Sequence[str]) -> Rechecked:
    if examined.for_ is None or examined.against is None:
        raise ValueError("a certificate states its propositions")  # the replay found them
    return recheck(
        model,
        examined.findings,
        asked,
        examined.for_,
        examined.against,
        priors=examined.priors,
    )


def _confirmed(report: Mapping[str, Any], second: Rechecked) -> Iterator[Difference | None]:
    """Yield, for each number of which pgmpy can be asked, None or how it differs."""
    for part, shares in (("prior", second.prior), ("posterior", second.posterior)):
        for node, states in shares.items():
            for state, p in states.items():
                yield _near(f"{part}.{node}.{state}", report[part][node][state], p)
    why = report["explanation"]
    yield _near("log10_evidence", report["log10_evidence"], second.log10_evidence)
    yield _near("explanation.prior_bans", why["prior_bans"], second.prior_bans)
    yield _near("explanation.total_bans", why["total_bans"], second.total_bans)
    stated = {weighed["node"]: weighed["left_out_bans"] for weighed in why["findings"]}
    for node, bans in second.left_out_bans.items():
        yield _near(f"explanation.findings.{node}.left_out_bans", stated.get(node), bans)


def _near(where: str, stored: Any, found: float) -> Difference | None:
    """Return None where the two agree; a weight that is not finite is stored as null."""
    if not math.isfinite(found):
        same = stored is None
    else:
        same = stored is not None and abs(float(stored) - found) <= WITHIN
    return None if same else Difference(NUMBERS, where, str(stored)[:40], f"{found:.12g}")


def summed_up(found: Sequence[Difference]) -> Iterator[tuple[Wrong, str]]:
    """Yield for each kind of difference its code and one sentence with the first place."""
    for code in dict.fromkeys(difference.code for difference in found):
        first, *rest = [d for d in found if d.code == code]
        more = f" and {len(rest)} more" if rest else ""
        place = f"{first.where}: {first.stored}, found {first.fresh}"
        if code == "incomplete":
            place = first.where
        yield code, f"{SAID[code]} ({place}{more})"
