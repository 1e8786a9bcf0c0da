"""The other answers on a terminal: two attributions side by side, and what to look at next."""

from rich.console import Console, Group
from rich.table import Table
from rich.text import Text

from claywit.report.advised import Next
from claywit.report.contrast import Contrast, flip_said
from claywit.report.judgement import Look
from claywit.report.numbers import percent, signed_bans, times
from claywit.report.terminal import WIDEST, bullet, plain_console, table_of
from claywit.report.wording import excluded_side, label_of, verbal_said

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
        odds.add_row(name, times(ratio), f"{signed_bans(weight, excluded_side(why))} bans")
    parts = (
        Group(Text(contrast.evidence.piece, style="bold"), Text(contrast.sentence)),
        odds,
        Group(Text(f"{one} (A) against {other} (B)", style="bold"), _sides(contrast)),
        Text(
            "A, B: the probability of the finding under each, if it were the only one; for a"
            " measure (~) a density, of which only the ratio means something. LR alone: their"
            " ratio in bans. In turn: what it adds after the findings above it.",
            style="dim",
        ),
        Text(flip_said(contrast)),
        Text(verbal_said(why), style="dim"),
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
                _chance(side.p_for, density=side.is_density),
                _chance(side.p_against, density=side.is_density),
                signed_bans(side.alone_bans),
                signed_bans(side.bans),
            )
    return table


def _chance(p: float | None, *, density: bool) -> str:
    if p is None:
        return "–"
    return f"~{p:.2g}" if density else percent(p)


def show_next(answer: Next, console: Console | None = None) -> None:
    """Print what to look at next, one by one and in pairs, the best per minute first."""
    out = console or plain_console()
    width = min(out.width, WIDEST)
    risky = ", ".join(answer.nodes[name].label for name in answer.too_risky)
    parts = (
        Group(Text(answer.evidence.piece, style="bold"), Text(answer.statement)),
        _looks("One by one", answer.next[:SHOWN]),
        _looks("Two together", answer.pairs[:3]),
        Text(
            "Bits: the expected gain on the question; one bit halves the doubt between two equal"
            " answers. New leader: the chance that another answer leads afterwards.",
            style="dim",
        ),
        Text(f"Left out as too risky: {risky}.") if risky else Text(),
    )
    for part in parts:
        out.print(part, width=width)
        out.print()


def _looks(title: str, looks: tuple[Look, ...]) -> Table:
    table = table_of(title, "where", "min", "bits", "bits/min", "new leader")
    for look in looks:
        table.add_row(
            " and ".join(look.labels),
            ", ".join(dict.fromkeys(look.views)),
            f"{look.minutes:g}",
            f"{look.bits:.2f}",
            f"{look.bits_per_minute:.2f}",
            percent(look.overturns),
        )
    return table
