"""The report as one self-contained page: no script, no request, prints well."""

from functools import cache, partial

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from claywit.report.charts import ladder, shares
from claywit.report.numbers import percent, period, signed_bans
from claywit.report.report import Report, Seen
from claywit.report.wording import conditions_said, proposition_label, rests_said, state_label


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
    )


def _by_group(report: Report) -> list[Seen]:
    """Return the findings in the order in which they are weighed."""
    order = {weighed.node: i for i, weighed in enumerate(report.explanation.findings)}
    return sorted(report.findings, key=lambda seen: order.get(seen.node, len(order)))
