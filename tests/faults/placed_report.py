"""Where the numbers of a report stand on its page and on a terminal."""

from placed import Table, odds, percent, row, said, signed

from claywit.model.dates import period
from claywit.report.labels import group_label, proposition_label, state_label
from claywit.report.trust import row_said

FIXED = (
    "+1 makes the odds ten times better, −1 ten times worse", "no prior of it above 0.1% would",
    "no reference pieces", "the thin line is the middle 95% of",
)  # fmt: skip
SMALL = 0.0005  # below which a share is not told as a rival's
MOST_ODDS = 1_000
TIMES = ("1", "10", "100", "1,000", "10,000")


def places(report):
    """Yield the place of each number that a report may print."""
    yield from said(*FIXED, *_head(report), *_scale(report))
    yield from said(*_names(report), *_answer(report), *_sure(report), *_of_reasons(report))
    yield from said(*_rivals(report), *_next(report), *_agreement(report), *_robust(report))
    yield from said(*_cautions(report))
    for name in report.posterior:
        yield from _shares(report, name)
    yield from _weights(report)
    yield from _tables(report)
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


def _scale(report):
    """Yield the odds beside the ladder: whole bans at equal steps, about eight of them."""
    why = report.explanation
    ends = [why.prior_bans or 0.0]
    for one in why.findings:
        ends.append(ends[-1] + (one.bans or 0.0))
    low, high = int(min(*ends, 0)) - 2, int(max(*ends, 0)) + 2
    step = 1
    while step < 64:
        for first in range(low, low + 2 * step + 4):
            ticks = [k for k in range(first, high + 1) if k % step == 0]
            for last in range(max(0, len(ticks) - 4), len(ticks) + 1):
                yield " ".join(_odds(k) for k in ticks[:last])
        step += 1


def _odds(bans):
    if bans == 0:
        return "even"
    times = TIMES[abs(bans)] if abs(bans) <= 4 else f"10{_raised(abs(bans))}"
    return f"{times} : 1" if bans > 0 else f"1 : {times}"


def _raised(number):
    return str(number).translate(str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹"))


def in_order(shares):
    return sorted(shares, key=lambda s: (-float(shares[s]), list(shares).index(s)))


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
            f"{label} would have {_between(drawn.shares[report.question][lead])} (95% of"
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
            f" {_between(outer.shares[lead])}"
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


def _between(ends):
    low, high = (percent(p) for p in ends)
    return low if low == high else f"{low} to {high}"


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


def part(p):
    shown = f"{p:.3g}"
    return "above 0.999" if shown == "1" and p < 1 else shown


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


def _shares(report, name):
    """Yield the table of a node's shares, as a page and as a terminal head it."""
    now, before = report.posterior[name], report.prior[name]
    drawn = report.intervals.shares.get(name, {}) if report.intervals else {}
    order = in_order(now)
    kept = [s for k, s in enumerate(order) if k < 2 or float(now[s]) >= 0.005]
    left = [s for s in order if s not in kept]
    label = report.nodes[name].label
    for sign in (True, False):
        rows = [
            row(state_label(report, name, s), percent(now[s]),
                _span(drawn[s], sign) if drawn else "", percent(before[s]))
            for s in kept
        ]  # fmt: skip
        if left:
            told = "1 other" if len(left) == 1 else f"{len(left)} others together"
            sums = [percent(sum(float(side[s]) for s in left)) for side in (now, before)]
            rows.append(row(told, *sums))
        head = "now 95% before" if drawn else "now before"
        yield Table(f"{label} {head}" if sign else f"{label} State Picture {head}", tuple(rows))


def _span(ends, sign):
    told = _between(ends).replace(" to ", "–")
    return told.replace("above ", ">").replace("below ", "<") if sign else told


def _weights(report):
    """Yield the table of weights as a page and as a terminal have it, and the ladder's rungs."""
    yield Table("in turn left out alone", tuple(_weighed(report, on_page=False)))
    yield Table("Finding in turn left out alone share", tuple(_weighed(report, on_page=True)))
    why = report.explanation
    yield row("Prior odds", signed(why.prior_bans))
    yield row("Posterior odds", _outcome(why))
    for group in why.groups:
        yield row(group.label, signed(group.bans))
        yield row(*_hardly(report, group), "≈ 0")
    for one in why.findings:
        told = f"{report.nodes[one.node].label}: {one.reading}"
        told = told if len(told) <= 92 else f"{told[:91]}…"
        yield row(told, _excluding(one.bans, one.excludes))


def _outcome(why):
    sides = {one.excludes for one in why.findings} - {"neither"}
    return _excluding(why.posterior_bans, next(iter(sides)) if len(sides) == 1 else "neither")


def _hardly(report, group):
    """Yield the names of what hardly moves the odds, if anything of a group does not."""
    still = [
        report.nodes[one.node].label for one in report.explanation.findings
        if one.group == group.name and not _moves(one)
    ]  # fmt: skip
    yield f"hardly: {', '.join(still)}" if still else "hardly"


def _moves(one):
    return any(bans is None or abs(bans) >= 0.005 for bans in (one.bans, one.left_out_bans))


def _excluding(bans, excludes):
    return signed(bans, {"against": "+∞", "for": "−∞"}.get(excludes, "–"))


def _weighed(report, *, on_page):
    why = report.explanation
    yield row("Prior", signed(why.prior_bans))
    for group in why.groups:
        figures = [signed(b) for b in (group.bans, group.left_out_bans, group.alone_bans)]
        share = signed(group.share_bans)
        if on_page:
            yield row(group.label, *figures, share)
        else:
            told = "" if group.share_bans is None else f"share {share}"
            yield row(group.label, told, *figures)
        members = [one for one in why.findings if one.group == group.name]
        for one in members:
            label = report.nodes[one.node].label
            if not _moves(one) and not on_page:
                continue
            over = ", ".join(report.nodes[n].label.lower() for n in one.averages_over)
            behind = f" averages over {over}" if on_page and over else ""
            yield row(
                f"{label}: {one.reading}{behind}", _excluding(one.bans, one.excludes),
                signed(one.left_out_bans), _excluding(one.alone_bans, one.excludes),
            )  # fmt: skip
        if not on_page and not all(map(_moves, members)):
            yield row(*_hardly(report, group), "≈ 0", "≈ 0")
    yield row("Posterior", signed(why.posterior_bans) if on_page else _outcome(why))


def _tables(report):
    if typical := report.typicality:
        yield Table(
            "Group Picture apart (bans) as ill-fitting, all pieces under the leader",
            tuple(
                row(g.label, signed(g.apart_bans), percent(g.overall),
                    "–" if g.under_leader is None else percent(g.under_leader))
                for g in typical.groups
            ),
        )  # fmt: skip
    if found := report.sensitivity:
        yield Table("Row Picture n ± bans", tuple(
            row(row_said(report.nodes, d.node, d.row), f"{d.n:g}", f"{d.sd_bans:.2f}")
            for d in found.doubts
        ))  # fmt: skip
        yield Table("Number now at which it turns then leads", tuple(
            row(_turning(report, t), "" if t.now is None else part(t.now),
                f"× {t.times:g}" if t.then is None else part(t.then),
                state_label(report, report.question, t.leader))
            for t in found.turning
        ))  # fmt: skip


def _turning(report, turn):
    told = row_said(report.nodes, turn.node, turn.row)
    return f"{told}: {turn.state.replace('_', ' ')}" if turn.state else told
