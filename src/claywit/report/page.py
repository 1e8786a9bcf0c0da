"""The report as one self-contained page: no script, no request, prints well."""

from functools import partial
from typing import Any

from claywit.report.charts import ladder, shares
from claywit.report.contrast import Contrast, flip_said
from claywit.report.labels import label_of, proposition_label, state_label
from claywit.report.numbers import chance, odds_said
from claywit.report.report import Report, Seen
from claywit.report.templating import template
from claywit.report.trust import (
    agreement_said,
    between,
    how_sure,
    next_said,
    rivals_said,
    robust_said,
    row_said,
)
from claywit.report.wording import conditions_said, excluded_side, rests_said, verbal_said


def page(report: Report) -> str:
    """Return *report* as an HTML page that needs nothing beside it."""
    return template("report.html.j2").render(**report_values(report))


def report_values(report: Report) -> dict[str, Any]:
    """Return what the body of that page, `report_body.html.j2`, is filled with."""
    why = report.explanation
    return {
        "report": report,
        "why": why,
        "ladder": ladder(report),
        "shares": {name: shares(report, name) for name in report.posterior},
        "state": partial(state_label, report),
        "labels": lambda names: ", ".join(report.nodes[n].label.lower() for n in names),
        "one": proposition_label(report, why.for_),
        "other": proposition_label(report, why.against),
        "asked": [report.question, *(n for n in report.log10_odds if n != report.question)],
        "others": [n for n in report.posterior if n not in report.log10_odds],
        "conditions": conditions_said(report),
        "rests": rests_said(report),
        "findings": _by_group(report),
        "drawn": report.intervals.shares if report.intervals else {},
        "between": between,
        "row_said": row_said,
        "sure": how_sure(report),
        "rivals": rivals_said(report),
        "next": next_said(report),
        "agreement": agreement_said(report),
        "robust": robust_said(report),
        "apart": _farthest(report),
    }


def _by_group(report: Report) -> list[Seen]:
    """Return the findings in the order in which they are weighed."""
    order = {weighed.node: i for i, weighed in enumerate(report.explanation.findings)}
    return sorted(report.findings, key=lambda seen: order.get(seen.node, len(order)))


def _farthest(report: Report) -> float:
    """Return the length of the longest bar of the groups' picture, in bans."""
    groups = report.typicality.groups if report.typicality else ()
    return max((abs(group.apart_bans) for group in groups), default=0.0) or 1.0


def contrast_page(contrast: Contrast) -> str:
    """Return two attributions side by side as an HTML page that needs nothing beside it."""
    return template("contrast.html.j2").render(**contrast_values(contrast))


def contrast_values(contrast: Contrast) -> dict[str, Any]:
    """Return what the body of that page, `contrast_body.html.j2`, is filled with."""
    why = contrast.explanation
    longest = max((abs(side.alone_bans or 0.0) for side in contrast.sides), default=0.0) or 1.0
    return {
        "contrast": contrast,
        "why": why,
        "one": label_of(contrast.nodes, why.for_),
        "other": label_of(contrast.nodes, why.against),
        "ruled_out": excluded_side(why),
        "odds_said": odds_said,
        "chance": chance,
        "bar": lambda weight: (weight or 0.0) / longest * 98,
        "verbal": verbal_said(why),
        "flip": flip_said(contrast),
    }
