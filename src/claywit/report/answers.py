"""The other answers on a terminal: two attributions side by side, and what to look at next."""

from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from claywit.report.advised import Next
from claywit.report.contrast import Contrast, flip_said
from claywit.report.judgement import Look
from claywit.report.labels import label_of
from claywit.report.numbers import chance, odds_said, percent, row_part, signed_bans
from claywit.report.terminal import WIDEST, bullet, plain_console, table_of
from claywit.report.trust import row_said
from claywit.report.varying import Sensitivity
from claywit.report.wording import excluded_side, verbal_said

SHOWN = 12  # looks that are printed


def show_contrast(contrast: Contrast, console: Console | None = None) -> None:
    """Print two attributions side by side, and what would flip them."""
    out = console or plain_console()
    width = min(out.width, WIDEST)
    why = contrast.explanation
    one, other = label_of(contrast.nodes, why.for_), label_of(contrast.nodes, why.against)
    odds = Table.grid(padding=(0, 2))
    for name, ratio, weight in (
        ("Prior odds", why.prior_odds, why.prior_bans),
        ("Likelihood ratio", why.total_factor, why.total_bans),
        ("Posterior odds", why.posterior_odds, why.posterior_bans),
    ):
        odds.add_row(
            name, odds_said(ratio, weight), f"{signed_bans(weight, excluded_side(why))} bans"
        )
    parts = (
        Group(Text(contrast.evidence.piece, style="bold"), Text(contrast.sentence)),
        Group(odds, Text(verbal_said(why), style="dim")),
        Group(Text(f"{one} (A) against {other} (B)", style="bold"), _sides(contrast)),
        Text(
            "A, B: the probability of the finding under each, if it were the only one; for a"
            " measure (~) a density, of which only the ratio means something. LR alone: their"
            " ratio in bans. In turn: what it adds after the findings above it.",
            style="dim",
        ),
        Text(flip_said(contrast)),
        Group(*(bullet(caution) for caution in contrast.cautions)),
    )
    for part in parts:
        out.print(part, width=width)
        out.print()


def _sides(contrast: Contrast) -> Table:
    table = table_of("", "A", "B", "LR alone", "in turn")
    sides = {side.node: side for side in contrast.sides}
    for group in contrast.explanation.groups:
        title = Text(group.label, style="bold")
        table.add_row(title, "", "", signed_bans(group.alone_bans), signed_bans(group.bans))
        for side in (sides[name] for name in group.nodes):
            table.add_row(
                f"  {contrast.nodes[side.node].label}: {side.reading}",
                chance(side.p_for, side.is_density),
                chance(side.p_against, side.is_density),
                signed_bans(side.alone_bans),
                signed_bans(side.bans),
            )
    return table


def show_next(answer: Next, console: Console | None = None) -> None:
    """Print what to look at next, one by one and in pairs, the best per minute first."""
    out = console or plain_console()
    width = min(out.width, WIDEST)
    risky = ", ".join(answer.nodes[name].label for name in answer.too_risky)
    parts = (
        Group(Text(answer.evidence.piece, style="bold"), Text(answer.statement)),
        *([] if answer.may_stop else _worth(answer)),
        Text(
            "Bits: the expected gain on the question; one bit settles which of two equal answers it"
            " is. New leader: the chance that another answer leads afterwards. New words: that the"
            " attribution is then worded otherwise.",
            style="dim",
        ),
        *([Text(f"Left out as too risky: {risky}.")] if risky else []),
        Group(*(bullet(caution) for caution in answer.cautions)),
    )
    for part in parts:
        out.print(part, width=width)
        out.print()


def _worth(answer: Next) -> list[RenderableType]:
    plan = (answer.plan,) if answer.plan else ()
    return [
        _looks("One by one", answer.next[:SHOWN]),
        _looks("Two together", answer.pairs[:3]),
        _looks("Three, if there is time", plan),
    ]


def _looks(title: str, looks: tuple[Look, ...]) -> Table:
    table = table_of(title, "where", "min", "bits", "bits/min", "new leader", "new words")
    for look in looks:
        table.add_row(
            " and ".join(look.labels),
            ", ".join(dict.fromkeys(look.views)),
            f"{look.minutes:g}",
            f"{look.bits:.2f}",
            f"{look.bits_per_minute:.2f}",
            percent(look.overturns),
            "" if look.rewords is None else percent(look.rewords),
        )
    return table


def show_sensitivity(found: Sensitivity, console: Console | None = None) -> None:
    """Print what the answer owes to single numbers, and at the values of those chosen."""
    out = console or plain_console()
    width = min(out.width, WIDEST)
    title = f"{found.evidence.piece}: {len(found.sensitivity.doubts)} rows of the most doubt"
    doubts = table_of(title, "n", "± bans")
    for doubt in found.sensitivity.doubts:
        row = row_said(found.nodes, doubt.node, doubt.row)
        doubts.add_row(row, f"{doubt.n:g}", f"{doubt.sd_bans:.2f}")
    turning = table_of("Numbers that would turn it, the nearest first", "now", "turns at", "leads")
    for turn in found.sensitivity.turning:
        name = row_said(found.nodes, turn.node, turn.row)
        turning.add_row(
            f"{name}: {turn.state}" if turn.state else f"{name}: density",
            "" if turn.now is None else row_part(turn.now),
            f"× {turn.times:g}" if turn.then is None else row_part(turn.then),
            turn.leader,
        )
    parts: list[RenderableType] = [_at(found)] if found.at else [doubts, turning]
    parts.append(Group(*(bullet(caution) for caution in found.cautions)))
    for part in parts:
        out.print(part, width=width)
        out.print()


def _at(found: Sensitivity) -> Table:
    """Return the leader and its share at each value of the chosen numbers."""
    names = [f"{row_said(found.nodes, c.node, c.row)}: {c.state}" for c in found.chosen]
    label = found.nodes[found.question].label
    table = table_of(f"{label}, if {' and '.join(names)} were", "leads", "with", "now it has")
    now = tuple(c.now for c in found.chosen)
    for at in found.at:
        values = " and ".join(f"{value:.3g}" for value in at.values)
        mark = (
            "  (as it stands)"
            if all(abs(a - b) < 1e-9 for a, b in zip(at.values, now, strict=True))
            else ""
        )
        table.add_row(
            values + mark,
            at.leader,
            percent(at.posterior[at.leader]),
            percent(at.posterior[found.leading]),
        )
    return table
