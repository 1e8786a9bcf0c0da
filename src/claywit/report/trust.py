"""How far to trust the answer, in sentences: every number in them stands in the report itself."""

from collections.abc import Mapping, Sequence

from claywit.model.dates import period
from claywit.report.judgement import Look, Rival, Turning
from claywit.report.labels import group_label, state_label
from claywit.report.numbers import percent, row_part, signed_bans
from claywit.report.report import NodeText, Report
from claywit.report.values import Range, Span

SURE = 3.0  # bans: beyond a thousand to one a turning point is called out of reach
PLAIN = {"prior": "its prior", "otherwise": "where no other row holds", "leak": "its leak"}
LEAST_HELD = 0.0001  # of a row; what is not sure even then is not sure at all
SMALL = 0.0005  # shown as below 0.1%
NOTABLE = 0.1  # bans of conflict that are worth a word


def attribution_said(report: Report) -> str:
    """Return the words that the policy allows, and what they mean."""
    said = report.attribution
    assert said  # noqa: S101 - every assessment has one
    when = period(said.dated.date) if said.dated else ""
    dated = f" Date: {when}." if when and when not in said.words else ""
    return f"In words: “{said.words}”.{dated} That means: {said.means}."


def between(low_high: Range) -> str:
    """Return an interval of a probability for a reader: `92.1% to 99.8%`."""
    low, high = (percent(p) for p in low_high)
    return low if low == high else f"{low} to {high}"


def spanned(span: Span) -> str:
    """Return an interval of a weight for a reader: `+2.10 and +4.35`."""
    return f"{signed_bans(span[0])} and {signed_bans(span[1])}"


def how_sure(report: Report) -> list[str]:
    """Return how sure the answer is: intervals, outer bounds, the prior."""
    said = []
    drawn, outer = report.intervals, report.outer
    lead = state_label(report, report.question, report.leading)
    if drawn:
        shares = between(drawn.shares[report.question][report.leading])
        said.append(
            f"With the model's numbers as uncertain as what stands behind them (n), {lead} would"
            f" have {shares} (95% of {drawn.draws:,} draws, seed {drawn.seed}); it leads in"
            f" {_of_draws(drawn.leads)}."
        )
        if drawn.total_bans and report.findings:
            said.append(f"The weight of the findings would lie between {spanned(drawn.total_bans)}"
                        " bans.")  # fmt: skip
        exact = sum(drawn.exact_rows.values())
        if exact:
            said.append(f"{exact} rows have no n and were taken as exact; the intervals are too"
                        " narrow by what they hide.")  # fmt: skip
    if outer:
        held = (
            f"the leader surely leads as long as at most {100 * outer.holds_to:.2g}% is"
            if outer.holds_to >= LEAST_HELD
            else "the order could turn with far less than that"
        )
        said.append(
            f"Were up to {percent(outer.epsilon)} of every row anything at all, {lead} would have"
            f" {between(outer.shares[report.leading])}; {held}."
        )
    return said + _of_prior(report)


def _of_draws(leads: str) -> str:
    return "all of them" if float(leads) >= 1 else f"{percent(leads)} of them"


def _of_prior(report: Report) -> list[str]:
    prior = report.sensitivity.prior if report.sensitivity else None
    if not prior:
        return []
    third, tenth = (percent(prior.times[factor]) for factor in ("0.333", "0.1"))
    said = f"With prior odds three times smaller it would have {third}, ten times smaller {tenth}"
    if prior.turns_at is None:
        return [f"{said}."]
    rival = state_label(report, report.question, prior.rival)
    if float(prior.turns_at) < SMALL:
        return [f"{said}; no prior of it above 0.1% would let {rival} lead."]
    own = state_label(report, report.question, prior.state)
    turn = f"{rival} would lead if the prior of {own} were under {percent(prior.turns_at)}"
    return [f"{said}; {turn} (it is {percent(prior.prior)})."]


def rivals_said(report: Report) -> list[str]:
    """Return what else it could be, and what each rival has on its side."""
    near = [rival for rival in report.rivals if float(rival.posterior) >= SMALL]
    if not near and report.rivals:
        return ["Nothing else comes near."]
    return [_rival(report, rival) for rival in near]


def _rival(report: Report, rival: Rival) -> str:
    label = state_label(report, report.question, rival.state)
    said = f"{label}: {percent(rival.posterior)}"
    if rival.bans is not None:
        said += f", the leader {signed_bans(rival.bans)} bans ahead"
    if rival.strongest is None:
        return f"{said}; no finding speaks for it rather than the leader."
    reading = next(s.reading for s in report.findings if s.node == rival.strongest)
    name = report.nodes[rival.strongest].label.lower()
    return f"{said}; most for it: {name}: {reading} ({signed_bans(rival.strongest_bans)} bans)."


def next_said(report: Report) -> list[str]:
    """Return what to look at next, and the three best looks."""
    found = report.next
    if not found:
        return []
    worth = [look for look in found.looks if look.bits >= 0.01][:3]
    plan = [found.plan] if found.plan and worth else []
    return [found.statement, *(_look(look) for look in [*worth, *plan])]


def _look(look: Look) -> str:
    names = ", then ".join(name.lower() for name in look.labels)
    said = f"{names}: {look.bits:.2f} bits in {look.minutes:g} min"
    chance = f", another leader in {percent(look.overturns)} of cases"
    return said + chance


def agreement_said(report: Report) -> list[str]:
    """Return whether the findings agree with each other and with anything the model knows."""
    return [*_conflict(report), *_typical(report)]


def _conflict(report: Report) -> list[str]:
    found = report.conflict
    if not found or len(report.findings) < 2:
        return []
    labels = {group.name: group.label.lower() for group in report.explanation.groups}
    size = f"{abs(found.total_bans):.2f} bans"
    hidden = sum(seen.form == "not_visible" for seen in report.findings)
    if abs(found.total_bans) < NOTABLE:
        first = "On the whole the findings neither support nor contradict each other"
    elif found.total_bans > 0:
        first = f"The findings contradict each other: they are {size} rarer together than apart"
    else:
        first = f"The findings agree: they are {size} commoner together than apart"
        if 2 * hidden > len(report.findings):
            first += ", mostly because one thing hides many traits"
    worst = next((pair for pair in found.between if pair.bans >= NOTABLE), None)
    if worst:
        one, other = (labels[name] for name in worst.groups)
        first += f"; least at ease with each other: {one} and {other} ({signed_bans(worst.bans)})"
    said = [f"{first}."]
    explains = found.explained_by
    if explains and (worst or found.total_bans >= NOTABLE):
        name = report.nodes[explains.node].label.lower()
        state = state_label(report, explains.node, explains.state)
        said.append(
            f"What would explain that: {name} {state}, now {percent(explains.posterior)},"
            f" raised by {signed_bans(explains.bans)} bans."
        )
    return said


def _typical(report: Report) -> list[str]:
    found = report.typicality
    if not found:
        return []
    if len(found.groups) < 2:
        return ["Whether the findings go together cannot be checked: they are one group."]
    label = group_label(report, found.stranger)
    rank = (
        f"of pieces that the model covers {percent(found.p)} have a group that stands as far apart"
        f" ({found.pieces} drawn, seed {found.seed})"
    )
    said = [
        f"Nothing unusual: findings of {label} stand farthest apart from the rest, but {rank}."
        if not found.alarm
        else f"Findings of {label} do not go with the others: {rank}."
    ]
    if found.unchecked:
        names = ", ".join(report.nodes[n].label.lower() for n in found.unchecked)
        said.append(f"Not part of that check, since such readings cannot be drawn: {names}.")
    return said


def robust_said(report: Report) -> list[str]:
    """Return which numbers and readings would turn the answer, and which rows to firm up."""
    found = report.sensitivity
    if not found:
        return []
    said = [_turning(report, found.turning)]
    if found.not_varied:
        names = ", ".join(report.nodes[n].label.lower() for n in found.not_varied)
        said.append(
            f"Not varied, their rows being bent by a half-certain reading or too many: {names}."
        )
    fragile = [r for r in found.readings if r.least is not None]
    for reading in sorted(fragile, key=lambda r: -(r.least or 0))[:3]:
        name = report.nodes[reading.node].label.lower()
        rival = state_label(report, report.question, str(reading.leader))
        least = percent(str(reading.least))
        said.append(f"If {name} were less than {least} sure, {rival} would lead.")
    if not fragile and found.readings:
        said.append("No single reading turns the answer, however unsure.")
    if found.doubts:
        rows = "; ".join(row_said(report.nodes, d.node, d.row) for d in found.doubts[:3])
        said.append(
            f"Most of the doubt in the numbers comes from: {rows}. Reference pieces would tell most"
            " there."
        )
    return said


def _turning(report: Report, turning: Sequence[Turning]) -> str:
    near = [t for t in turning if 10**-SURE < t.times < 10**SURE]
    if not near:
        return (
            "No single number of the model turns the answer unless its odds change more than a"
            " thousandfold."
        )
    first = near[0]
    rival = state_label(report, report.question, first.leader)
    row = row_said(report.nodes, first.node, first.row)
    if first.now is None or first.then is None or first.state is None:
        return (
            f"The number that would turn it soonest: the density of {row}, if it were"
            f" {first.times:g} times what it is; then {rival} would lead."
        )
    what = f"{row}: {first.state.replace('_', ' ')}"
    return (
        f"The number that would turn it soonest: {what} {row_part(first.then)} instead of"
        f" {row_part(first.now)}; then {rival} would lead."
    )


def row_said(nodes: Mapping[str, NodeText], node: str, row: str) -> str:
    """Return a row of a node as a reader knows it: `shell grains (where paste is A or C)`."""
    label = nodes[node].label.lower()
    if row in PLAIN:
        return f"{label} ({PLAIN[row]})"
    if "=" not in row or "," in row.partition("=")[0]:
        return f"{label} ({row})"
    given = [part.partition("=") for part in row.split(",")]
    said = [
        f"{nodes[parent].label.lower()} is {' or '.join(states.split('|'))}"
        for parent, _, states in given
    ]
    return f"{label} (where {', '.join(said)})"
