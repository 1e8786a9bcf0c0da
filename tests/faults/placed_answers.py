"""Where the numbers of the other answers stand in their texts: contrasts, looks, joint statements."""

from itertools import accumulate

from placed import Table, odds, percent, row, said, scales, signed

from claywit.report.labels import label_of

MOST_ODDS = 1_000
FIXED = ("1. Agreed", "2. Disagreed", "3. What would settle it", "4. The two", "5. Signatures",
         "made to sum to 1")  # fmt: skip


def told(ratio, bans):
    """Return odds in words, where there is a number for them."""
    if ratio is None:
        return "beyond any figure" if bans is None else odds(10.0**bans, MOST_ODDS)
    return odds(ratio, MOST_ODDS)


def of_contrast(found):
    """Yield the place of each number of a contrast."""
    why, nodes = found.explanation, found.nodes
    yield from said(found.evidence.piece, found.sentence, *found.cautions, *_flip(found))
    for name, ratio, bans in (("Prior odds", why.prior_odds, why.prior_bans),
                              ("Likelihood ratio", why.total_factor, why.total_bans),
                              ("Likelihood ratio of all findings", why.total_factor, why.total_bans),
                              ("Posterior odds", why.posterior_odds, why.posterior_bans)):  # fmt: skip
        yield row(name, told(ratio, bans), signed(bans), "bans")
    for weighed in why.findings:
        lost = signed(weighed.left_out_bans)
        name = nodes[weighed.node].label.lower()
        yield from said(f"{name}: {weighed.reading} ({lost} bans)", f"{name}: {weighed.reading}")
    rows, sides = [], {side.node: side for side in found.sides}
    for group in why.groups:
        rows.append(row(group.label, signed(group.alone_bans), signed(group.bans)))
        for side in map(sides.__getitem__, group.nodes):
            label = f"{nodes[side.node].label}: {side.reading}"
            chances = [_chance(p, side) for p in (side.p_for, side.p_against)]
            rows.append(row(label, *chances, signed(side.alone_bans), signed(side.bans)))
    for head in ("A B LR alone in turn", "Finding under A under B Picture LR alone in turn"):
        yield Table(head, tuple(rows))
    yield from said(f"{_named(found.model)}, SHA-256 {found.model.digest}",
                    f"Evidence SHA-256 {found.evidence.digest}")  # fmt: skip


def _named(model):
    return f"{model.name} {model.version}"


def _chance(p, side):
    if p is None:
        return "–"
    return f"~{p:.2g}" if side.is_density else percent(p)


def _flip(found):
    yield f"No loss or reversal of up to {found.flip.tried_up_to} findings would turn"
    yield f"Nothing smaller than these {len(found.flip.changes)} would"
    for change in found.flip.changes:
        yield f"(read as {change.reading})"


def of_next(found):
    """Yield the place of each number of what to look at next."""
    looks = [*found.next, *found.pairs, *([found.plan] if found.plan else [])]
    yield from said(found.evidence.piece, found.statement, *found.cautions)
    for look in looks:
        yield row(
            " and ".join(look.labels), ", ".join(dict.fromkeys(look.views)), f"{look.minutes:g}",
            f"{look.bits:.2f}", f"{look.bits_per_minute:.2f}", percent(look.overturns),
            "" if look.rewords is None else percent(look.rewords),
        )  # fmt: skip


def of_joint(found):
    """Yield the place of each number of a joint statement."""
    names = [party.name for party in found.parties]
    opinions = [*found.opinions, found.linear, found.logarithmic]
    yield from said(*FIXED, *_apart(found, names), *found.cautions)
    for one in opinions:
        best = max(one.shares.items(), key=lambda pair: float(pair[1])) if one.shares else None
        if best:
            label = label_of(found.nodes, f"{found.question}={best[0]}")
            yield from said(f"{label}, {percent(best[1])}")
    shown = [[percent(o.shares[s]) if o.shares else "–" for o in opinions]
             for s in found.nodes[found.question].states]  # fmt: skip
    states = zip(found.nodes[found.question].states, shown, strict=True)
    for state, cells in states:
        yield row(label_of(found.nodes, f"{found.question}={state}"), *cells)
    for point in (*found.agreed, *found.disagreed):
        yield from said(f"{point.label}: {point.reading_a}", f"and {point.reading_b}",
                        point.reading_a, point.reading_b)  # fmt: skip
    for point in found.disagreed:
        share = signed(point.share_bans)
        yield from said(f"{point.label} {point.why} {point.reading_a} {point.reading_b} {share}")
        yield row(f"{point.reading_a} {point.reading_b}", share)
        yield from said(f"{point.label.lower()} {share}")
    yield from _bridge(found, names)
    for settled in found.settles:
        yield from said(*_settled(settled))
    for party in found.parties:
        model = f"{_named(party.model)} SHA-256 {party.model.digest}"
        yield from said(f"{party.name}: evidence SHA-256 {party.evidence.digest}, model {model}")


def _bridge(found, names):
    """Yield the picture of the way from one opinion to the other, and what may stand over it."""
    shares = [point.share_bans for point in found.disagreed]
    if None in (*shares, found.a_bans, found.b_bans):
        return
    points = [row(point.label, signed(point.share_bans)) for point in found.disagreed]
    first, last = (
        f"{name} {signed(bans)}"
        for name, bans in zip(names, (found.a_bans, found.b_bans), strict=True)
    )
    yield Table(first, (*points, *said(last)))
    yield from said(*scales(list(accumulate(shares, initial=found.a_bans))))


def _apart(found, names):
    one, other = (label_of(found.nodes, text) for text in (found.for_, found.against))
    sides = ((names[0], found.a_odds, found.a_bans), (names[1], found.b_odds, found.b_bans))
    for name, ratio, bans in sides:
        if bans is not None:
            yield f"{name} {told(ratio, bans)} ({signed(bans)} bans)"
    yield f"{one} against {other}"
    yield f"Pooled with a weight of {found.weight:g} for {names[0]}"
    model = found.parties[0].model
    yield f"{model.title or model.name} {model.version}"
    if found.difference_bans is not None:
        yield f"They are {abs(found.difference_bans):.2f} bans apart"
        yield f"The shares add up to {signed(found.difference_bans)}"
        yield f"the shares add up to {signed(found.difference_bans)}"
        yield f"Of the {signed(found.difference_bans)} bans from"
    if found.accord:
        yield f"these {len(found.accord)}: "


def _settled(settled):
    name = settled.label
    minutes = f"{settled.minutes:g} min" if settled.minutes else ""
    look = ", ".join([*settled.views, *([minutes] if minutes else [])])
    left = max(settled.left_if_a_bans, settled.left_if_b_bans)
    yield f"{name} ({look})"
    yield f"{name.lower()} first ({look})"
    yield f"({percent(settled.closes)} at least; {left:.2f} bans stay at most)"
    yield f"at {name.lower()}, {percent(1 - settled.closes)} of the difference can be left"
