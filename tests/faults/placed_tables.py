"""Where the numbers of the tables of a report stand, on its page and on a terminal."""

from placed import Table, percent, row, signed

from claywit.report.labels import state_label
from claywit.report.trust import row_said


def tables(report):
    """Yield the tables of a report, and the rungs of its ladder."""
    for name in report.posterior:
        yield from _shares(report, name)
    yield from _weights(report)
    yield from _judged(report)


def in_order(shares):
    return sorted(shares, key=lambda s: (-float(shares[s]), list(shares).index(s)))


def between(ends):
    low, high = (percent(p) for p in ends)
    return low if low == high else f"{low} to {high}"


def part(p):
    shown = f"{p:.3g}"
    return "above 0.999" if shown == "1" and p < 1 else shown


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
    told = between(ends).replace(" to ", "–")
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


def _judged(report):
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
