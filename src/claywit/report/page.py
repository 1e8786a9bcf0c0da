"""The report as one self-contained page: no script, no request, prints well."""

from functools import cache, partial

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from claywit.report.charts import ladder, shares
from claywit.report.labels import proposition_label, state_label
from claywit.report.numbers import percent, period, signed_bans
from claywit.report.report import Report, Seen
from claywit.report.trust import (
    agreement_said,
    between,
    how_sure,
    next_said,
    rivals_said,
    robust_said,
    row_said,
)
from claywit.report.wording import conditions_said, rests_said


@cache
def _template() -> Template:
    """Load the template once; every value put into it is escaped."""
    environment = Environment(
        loader=PackageLoader("claywit.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {"percent": percent, "bans": signed_bans, "period": period}
    return environment.get_template("report.html.j2")


def page(report: Report) -> str:
    """Return *report* as an HTML page that needs nothing beside it."""
    why = report.explanation
    return _template().render(
        report=report,
        why=why,
        ladder=ladder(report),
        shares={name: shares(report, name) for name in report.posterior},
        state=partial(state_label, report),
        labels=lambda names: ", ".join(report.nodes[n].label.lower() for n in names),
        one=proposition_label(report, why.for_),
        other=proposition_label(report, why.against),
        asked=[report.question, *(n for n in report.log10_odds if n != report.question)],
        others=[n for n in report.posterior if n not in report.log10_odds],
        conditions=conditions_said(report),
        rests=rests_said(report),
        findings=_by_group(report),
        drawn=report.intervals.shares if report.intervals else {},
        between=between,
        row_said=row_said,
        sure=how_sure(report),
        rivals=rivals_said(report),
        next=next_said(report),
        agreement=agreement_said(report),
        robust=robust_said(report),
        apart=_farthest(report),
    )


def _by_group(report: Report) -> list[Seen]:
    """Return the findings in the order in which they are weighed."""
    order = {weighed.node: i for i, weighed in enumerate(report.explanation.findings)}
    return sorted(report.findings, key=lambda seen: order.get(seen.node, len(order)))


def _farthest(report: Report) -> float:
    """Return the length of the longest bar of the groups' picture, in bans."""
    groups = report.typicality.groups if report.typicality else ()
    return max((abs(group.apart_bans) for group in groups), default=0.0) or 1.0
