"""A certificate as plain data for paper and screen: first what a client needs, then the reasons.

Everything is read from the signed trace, so that nothing is shown that was not signed.
"""

from collections.abc import Iterator, Sequence
from typing import Any

from claywit.certificate.issue import Issued
from claywit.certificate.schema import Reliability, Trace
from claywit.certificate.words import REVIEW, SHOWN_BY_SIGNATURE, TIME_CLAIMED
from claywit.report.labels import proposition_label, state_label
from claywit.report.numbers import percent, ranked, row_part, signed_bans
from claywit.report.report import Report, Seen, Weighed
from claywit.report.trust import agreement_said, between, how_sure, next_said
from claywit.report.wording import SPEAKS, conditions_said, rests_said

REPEATED = "What drove it"  # said by the lists of reasons already
SURE_SHOWN = 2
REASONS = 4  # on the face; all of them stand behind it
RIVALS = 4
PARTS = {
    "client": "Client",
    "intended_use": "Intended use",
    "intended_users": "Intended users",
    "effective_date": "Effective date",
    "interest": "Examiner's interest in the piece",
    "told_beforehand": "Told before reading",
}


def face(made: Issued) -> dict[str, Any]:
    """Return what the documents show, as strings and lists of strings."""
    trace = made.certificate.trace
    return {
        **face_of(trace),
        "signature": f"{SHOWN_BY_SIGNATURE} {TIME_CLAIMED}",
        "id": made.id,
        "digest": made.digest,
        "issuer": made.certificate.issuer,
        "signed": made.certificate.validFrom,
        "until": made.certificate.validUntil or "no end stated",
        "supersedes": trace.supersedes.id if trace.supersedes else "",
    }


def face_of(trace: Trace) -> dict[str, Any]:
    """Return what the documents show of a trace, signed or not signed yet."""
    report = Report.model_validate(trace.report)
    why = report.explanation
    one, other = (proposition_label(report, text) for text in (why.for_, why.against))
    return {
        "notices": list(trace.notices),
        "demonstration": trace.model.status == "demonstration",
        "piece": trace.piece,
        "kind": str(report.evidence.object.get("type", "Moulded piece")),
        "examiner": trace.examiner,
        "answer": report.statement[0],
        "sure": how_sure(report)[:SURE_SHOWN],
        "move": [s for s in report.statement[1:-1] if not s.startswith(REPEATED)],
        "one": one,
        "other": other,
        "because": _reasons(report, 1),
        "although": _reasons(report, -1),
        "rivals": _rivals(report),
        "engagement": _engagement(trace, f"{one} against {other}"),
        "limits": list(trace.limits),
        "review": REVIEW,
        **_behind(trace, report),
    }


def _behind(trace: Trace, report: Report) -> dict[str, Any]:
    """Return the reasons behind the face."""
    return {
        "conditions": conditions_said(report),
        "weights": list(_weights(report)),
        "rests": rests_said(report),
        "seen": [_seen(trace, seen) for seen in report.findings],
        "amended": list(_amended(trace, report)),
        "left": list(_left(trace, report)),
        "next": next_said(report),
        "agreement": agreement_said(report),
        "cautions": list(report.cautions),
        "object": [
            [key.replace("_", " ").capitalize(), _text(value)]
            for key, value in report.evidence.object.items()
        ],
        "definitions": [[term, text] for term, text in _definitions(trace, report).items()],
        "sure_all": how_sure(report),
        "made_with": list(_made_with(trace)),
    }


def _definitions(trace: Trace, report: Report) -> dict[str, str]:
    """Return what the words mean: those of the attribution first, as the policy has them."""
    attribution = report.attribution.definitions if report.attribution else {}
    return {**attribution, **trace.definitions}


def _reasons(report: Report, side: int) -> list[str]:
    """Return the findings that speak loudest for (1) or against (-1), by what would be lost."""
    spoken = [w for w in report.explanation.findings if side * _bans(w) >= SPEAKS]
    ranked = sorted(spoken, key=lambda w: -side * _bans(w))
    return [
        f"{report.nodes[w.node].label}: {w.reading} ({_shown(w)} bans)" for w in ranked[:REASONS]
    ]


def _bans(weighed: Weighed) -> float:
    """Return the weight that is lost without it, else in turn; no limit is more than any."""
    for bans in (weighed.left_out_bans, weighed.bans):
        if bans is not None:
            return bans
    return {"against": 1e9, "for": -1e9, "neither": 0.0}[weighed.excludes]


def _shown(weighed: Weighed) -> str:
    bans = weighed.bans if weighed.left_out_bans is None else weighed.left_out_bans
    return signed_bans(bans, weighed.excludes)


def _rivals(report: Report) -> list[dict[str, Any]]:
    """Return the likeliest states of the question, with the probability before and after."""
    shares = report.posterior[report.question]
    prior = report.prior[report.question]
    drawn = report.intervals.shares.get(report.question, {}) if report.intervals else {}
    return [
        {
            "label": state_label(report, report.question, state),
            "now": percent(shares[state]),
            "range": between(drawn[state]) if state in drawn else "",
            "before": percent(prior[state]),
            "share": round(float(shares[state]), 4),
        }
        for state in ranked(shares)[:RIVALS]
    ]


def _engagement(trace: Trace, weighed: str) -> list[list[str]]:
    evidence = trace.evidence.source
    said, stated = evidence["engagement"], evidence["propositions"]
    rows = [[title, _text(said[part])] for part, title in PARTS.items()]
    return [*rows, ["Propositions stated", f"{weighed}, on {stated['stated_at']}"]]


def _weights(report: Report) -> Iterator[dict[str, Any]]:
    """Yield the way from the prior to the posterior: group by group, finding by finding."""
    why = report.explanation
    yield {"kind": "sum", "cells": ["Prior", signed_bans(why.prior_bans), "", ""]}
    for group in why.groups:
        share = "" if group.share_bans is None else signed_bans(group.share_bans)
        left_out = signed_bans(group.left_out_bans)
        yield {"kind": "group", "cells": [group.label, signed_bans(group.bans), left_out, share]}
        for w in why.findings:
            if w.group == group.name:
                label = f"{report.nodes[w.node].label}: {w.reading}"
                in_turn = signed_bans(w.bans, w.excludes)
                cells = [label, in_turn, signed_bans(w.left_out_bans), ""]
                yield {"kind": "finding", "cells": cells}
    yield {"kind": "sum", "cells": ["Posterior", signed_bans(why.posterior_bans), "", ""]}


def _seen(trace: Trace, seen: Seen) -> list[str]:
    where = "; ".join(part for part in (seen.method, seen.where, seen.note) if part)
    if seen.implied_by:
        where = "; ".join(filter(None, (where, f"from {' under '.join(seen.implied_by)}")))
    return [seen.label, seen.reading, _reliable(trace.reliability[seen.node]), where]


def _reliable(kept: Reliability) -> str:
    """Return how far a reading can be trusted, in words."""
    if not kept.visible:
        return "hidden"
    if kept.form == "measured":
        return "u as shown" if any(kept.u.values()) else "in the model's spread"
    if kept.sure is not None:
        return f"sure {row_part(kept.sure)}"
    if kept.matrix:
        return f"by {kept.matrix}"
    if kept.form == "likelihood":
        return "as stated"
    return "error in the rows" if kept.in_model else "taken as right"


def _left(trace: Trace, report: Report) -> Iterator[list[str]]:
    for title, entries in (("not examined", report.not_examined),
                           ("not applicable", report.not_applicable)):  # fmt: skip
        for left in entries:
            yield [left.label, f"{title}: {left.why}"]
    for name in trace.not_recorded:
        yield [report.nodes[name].label, "not mentioned in the evidence"]


def _amended(trace: Trace, report: Report) -> Iterator[list[str]]:
    """Yield the readings that were changed after they were locked: which, when, how and why."""
    readings = trace.evidence.source.get("readings") or {}
    for one in readings.get("amendments", ()):
        name = str(one["about"])
        label = report.nodes[name].label if name in report.nodes else "Beside the readings"
        when = "after an opinion was formed" if one["opinion_seen"] else "before any opinion"
        yield [label, f"{one['at']}, {when}", f"{one['was']} → {one['now']}", str(one["reason"])]


def _made_with(trace: Trace) -> Iterator[list[str]]:
    embedded = "carried in the certificate" if trace.model.source else "named by its digest"
    model = f"{trace.model.name} {trace.model.version}, {trace.model.status}, {embedded}"
    yield ["Model", f"{model}, SHA-256 {trace.model.digest}"]
    yield ["Evidence", f"SHA-256 {trace.evidence.digest}"]
    for title, part in (("Verbal scale", trace.scale), ("Policy", trace.policy),
                        ("Evaluation", trace.evaluation)):  # fmt: skip
        if part is not None:
            yield [title, f"{part.id}, SHA-256 {part.digest}"]
    yield ["Method", f"{trace.method.program} {trace.method.version}, {trace.method.inference}"]


def _text(value: str | Sequence[str]) -> str:
    return value if isinstance(value, str) else "; ".join(value)
