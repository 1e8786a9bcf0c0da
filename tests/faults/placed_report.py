"""Where the numbers of a report stand on its page and on a terminal."""

from faults.placed_tables import between, in_order, part, tables
from placed import odds, percent, said, scales, signed

from claywit.model.dates import period
from claywit.report.labels import group_label, proposition_label, state_label
from claywit.report.trust import row_said

FIXED = (
    "+1 makes the odds ten times better, −1 ten times worse", "no prior of it above 0.1% would",
    "no reference pieces", "the thin line is the middle 95% of",
)  # fmt: skip
MOST_ODDS = 1_000


def places(report):
    """Yield the place of each number that a report may print."""
    yield from said(*FIXED, *_head(report), *_scale(report.explanation))
    yield from said(*_names(report), *_answer(report), *_sure(report), *_of_reasons(report))
    yield from said(*_rivals(report), *_next(report), *_agreement(report), *_robust(report))
    yield from said(*_cautions(report))
    yield from tables(report)
    for text in (report.attribution.definitions if report.attribution else {}).items():
        yield from said(*text)


def _head(report):
    model = report.model
    behind = f"{model.reference_pieces:g} reference pieces"
    yield f"{model.title or model.name} {model.version} {model.status} model {behind}"
    yield f"Model {model.name} {model.version} ({model.status}, {behind}), SHA-256 {model.digest}"
    yield f"Evidence SHA-256 {report.evidence.digest}"
    yield f"log10 P(findings) {report.log10_evidence}"
    yield report.evidence.piece
    if report.attribution:
        yield f"of the policy {report.attribution.policy} {report.attribution.version}"
        yield report.attribution.source
        yield f"“{report.attribution.words}”"
        yield f"That means: {report.attribution.means}"
        yield f"Date: {period(report.attribution.dated.date)}" if report.attribution.dated else ""
    yield f"cannot be seen ({len(report.posterior) - len(report.log10_odds)} nodes)"


def _names(report):
    """Yield the names that hold digits: of nodes, states and what was read."""
    for name, node in report.nodes.items():
        yield from (node.label, node.label.lower())
        for state in node.states:
            yield from (state_label(report, name, state), node.states[state].label)
    for seen in report.findings:
        yield f"{seen.label} {seen.reading}"
        yield f"{seen.label}: {seen.reading}"
        yield f"{seen.label.lower()}: {seen.reading}"


def _scale(why):
    """Yield what may stand over the ladder of a report."""
    ends = [why.prior_bans or 0.0]
    for one in why.findings:
        ends.append(ends[-1] + (one.bans or 0.0))
    yield from scales(ends)


def _answer(report):
    now, before = report.posterior[report.question], report.prior[report.question]
    label = report.nodes[report.question].label
    for lead in now:
        if percent(now[lead]) != percent(max(now.values(), key=float)):
            continue
        yield (
            f"{label}: {state_label(report, report.question, lead)}, {percent(now[lead])}"
            f" (before the findings {percent(before[lead])})"
        )
    for state in in_order(now)[:3]:
        yield f"; next {state_label(report, report.question, state)}, {percent(now[state])}"
    for misfit in report.misfits:
        labels = " and ".join(report.nodes[name].label.lower() for name in misfit.nodes)
        yield f"Look again: {labels}: {misfit.size:g} scale units from everything"
        yield f"as read, are met together {misfit.size:g} times less often"


def _of_reasons(report):
    why = report.explanation
    one, other = proposition_label(report, why.for_), proposition_label(report, why.against)
    if why.total_bans is not None and why.posterior_bans is not None:
        before = _odds_said(why.prior_odds, why.prior_bans)
        after = _odds_said(why.posterior_odds, why.posterior_bans)
        yield (
            f"move the odds of {one} against {other} by {signed(why.total_bans)} bans: {before}"
            f" before, {after} after"
        )
    yield f"larger than the {report.model.reference_pieces:g} reference pieces behind it"
    for weighed in why.findings:
        told = f"{report.nodes[weighed.node].label.lower()}: {weighed.reading}"
        lost = weighed.left_out_bans
        if lost is None:
            lost = next((w for w in (weighed.bans, weighed.alone_bans) if w is not None), 0.0)
        yield f"{told} ({signed(lost)} bans)"
        yield f"{told} (excludes"
        yield f"most: {report.nodes[weighed.node].label.lower()}, {weighed.reading}"
    for rest in why.rests_on:
        shares = (f"{state_label(report, rest.node, s)} {percent(p)}" for s, p in rest.p.items())
        yield (
            f"the {rest.origin}'s prior of {report.nodes[rest.node].label.lower()}:"
            f" {', '.join(shares)}"
        )
    verbal = why.verbal
    bands = [f"{word} up to {limit:,.0f}" if limit else f"{word} above"
             for word, limit in verbal.bands.items()]  # fmt: skip
    yield f"(scale {verbal.scale}: {', '.join(bands)})"
    yield str(verbal.why)


def _odds_said(ratio, bans):
    """Return odds in words, of the three digits that the report holds where it holds them."""
    return odds(10**bans if ratio is None else ratio, MOST_ODDS)


def _sure(report):
    drawn, outer, lead = report.intervals, report.outer, report.leading
    label = state_label(report, report.question, lead)
    if drawn:
        yield (
            f"{label} would have {between(drawn.shares[report.question][lead])} (95% of"
            f" {drawn.draws:,} draws, seed {drawn.seed})"
        )
        yield f"it leads in {percent(drawn.leads)} of them"
        yield f"middle 95% of {drawn.draws:,} draws"
        yield f"{sum(drawn.exact_rows.values())} rows have no n"
        if drawn.total_bans:
            low, high = drawn.total_bans
            yield f"would lie between {signed(low)} and {signed(high)} bans"
    if outer:
        yield f"surely leads as long as at most {100 * outer.holds_to:.2g}% is"
        yield (
            f"Were up to {percent(outer.epsilon)} of every row anything at all, {label} would have"
            f" {between(outer.shares[lead])}"
        )
    prior = report.sensitivity.prior if report.sensitivity else None
    if prior:
        yield (
            f"three times smaller it would have {percent(prior.times['0.333'])}, ten times smaller"
            f" {percent(prior.times['0.1'])}"
        )
    if prior and prior.turns_at is not None:
        rival = state_label(report, report.question, prior.rival)
        own = state_label(report, report.question, prior.state)
        yield (
            f"{rival} would lead if the prior of {own} were under {percent(prior.turns_at)} (it is"
            f" {percent(prior.prior)})"
        )


def _rivals(report):
    for rival in report.rivals:
        told = state_label(report, report.question, rival.state)
        ahead = "" if rival.bans is None else f", the leader {signed(rival.bans)} bans ahead"
        yield f"{told}: {percent(rival.posterior)}{ahead}"
        for seen in report.findings:
            if seen.node == rival.strongest:
                name = report.nodes[seen.node].label.lower()
                most = f"most for it: {name}: {seen.reading}"
                yield f"{most} ({signed(rival.strongest_bans)} bans)"


def _next(report):
    found = report.next
    if not found:
        return
    for look in [*found.looks, *found.pairs, *([found.plan] if found.plan else [])]:
        names = ", then ".join(name.lower() for name in look.labels)
        yield (
            f"{names}: {look.bits:.2f} bits in {look.minutes:g} min, another leader in"
            f" {percent(look.overturns)} of cases"
        )
        yield (
            f"{' and '.join(name.lower() for name in look.labels)} would change the words of the"
            f" attribution in {percent(look.rewords or 0)} of cases"
        )
        if len(look.nodes) > 1:
            continue
        yield (
            f"Look at {look.labels[0].lower()} next ({look.views[0]}, {look.minutes:g} min): it is"
            f" expected to settle {look.bits:.2f} of {found.doubt_bits:.2f} bits of doubt"
        )


def _agreement(report):
    conflict, typical = report.conflict, report.typicality
    if conflict:
        yield f"they are {abs(conflict.total_bans):.2f} bans rarer together than apart"
        yield f"they are {abs(conflict.total_bans):.2f} bans commoner together than apart"
        yield f"contradict each other ({conflict.total_bans:.2f} bans)"
        labels = {group.name: group.label.lower() for group in report.explanation.groups}
        for pair in conflict.between:
            one, other = (labels[name] for name in pair.groups)
            yield f"{one} and {other} ({signed(pair.bans)})"
        if explains := conflict.explained_by:
            yield (
                f"{report.nodes[explains.node].label.lower()}"
                f" {state_label(report, explains.node, explains.state)}, now"
                f" {percent(explains.posterior)}, raised by {signed(explains.bans)} bans"
            )
    if typical:
        yield (
            f"of pieces that the model covers {percent(typical.p)} have a group that stands as far"
            f" apart ({typical.pieces} drawn, seed {typical.seed})"
        )
        yield f"as in {percent(typical.p)} of the pieces that it covers"
        yield group_label(report, typical.stranger)


def _robust(report):
    found = report.sensitivity
    if not found:
        return
    for turn in found.turning:
        told = row_said(report.nodes, turn.node, turn.row)
        yield f"the density of {told}, if it were {turn.times:g} times what it is"
        if turn.now is not None and turn.then is not None and turn.state:
            state = turn.state.replace("_", " ")
            yield f"{told}: {state} {part(turn.then)} instead of {part(turn.now)}"
    for reading in found.readings:
        if reading.least is not None:
            name = report.nodes[reading.node].label.lower()
            yield f"If {name} were less than {percent(reading.least)} sure"
    for doubt in found.doubts:
        yield row_said(report.nodes, doubt.node, doubt.row)


def _cautions(report):
    hidden = sum(seen.form == "not_visible" for seen in report.findings)
    yield f"{hidden} traits could not be seen"
    for entry in (*report.not_examined, *report.not_applicable):
        yield f"{entry.label} ({entry.why})"
