"""The report on a terminal: the answer, what drove it, what speaks against it, the limits."""

from typing import Any

from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from claywit.report.charts import shares
from claywit.report.labels import proposition_label, state_label
from claywit.report.numbers import percent, signed_bans
from claywit.report.report import Report, Seen, Weighed
from claywit.report.trust import (
    agreement_said,
    between,
    how_sure,
    next_said,
    rivals_said,
    robust_said,
)
from claywit.report.wording import (
    conditions_said,
    excluded_side,
    hardly_said,
    rests_said,
    told_apart,
)

BAR = 16
WIDEST = 100
FIGURES = 8  # cells kept for a column of figures


def plain_console(**settings: Any) -> Console:
    """Return a console that takes every text as it stands: no markup, no emoji codes."""
    return Console(highlight=False, markup=False, emoji=False, **settings)


def show(report: Report, console: Console | None = None) -> None:
    """Print *report*; width and colour are the console's."""
    out = console or plain_console()
    width = min(out.width, WIDEST)
    parts = (
        _head(report),
        _answers(report),
        _listed("How sure", how_sure(report)),
        _why(report),
        _listed("What else it could be", rivals_said(report)),
        _listed("What to look at next", next_said(report)),
        _listed("Whether it hangs together", agreement_said(report)),
        _listed("What would turn it", robust_said(report)),
        _limits(report),
    )
    for part in parts:
        if part:
            out.print(part, width=width)
            out.print()


def _listed(title: str, sentences: list[str]) -> RenderableType | None:
    if not sentences:
        return None
    return Group(Text(title, style="bold"), *(bullet(sentence) for sentence in sentences))


def _head(report: Report) -> RenderableType:
    model, evidence = report.model, report.evidence
    by = f", read by {evidence.examiner}" if evidence.examiner else ""
    return Group(
        Text(f"{evidence.piece}{by}", style="bold"),
        *([Text(conditions_said(report), style="dim")] if conditions_said(report) else []),
        Text(
            f"{model.title or model.name} {model.version} · {model.status} model · "
            f"{model.reference_pieces:g} reference pieces",
            style="dim",
        ),
    )


def _answers(report: Report) -> RenderableType:
    asked = [report.question, *(n for n in report.log10_odds if n != report.question)]
    parts: list[RenderableType] = [_sentences(report.statement)]
    for name in asked:
        parts += [Text(), _shares(report, name)]
    return Group(*parts)


def _sentences(sentences: tuple[str, ...]) -> RenderableType:
    first, *rest = sentences
    return Group(Text(first, style="bold"), *(Text(sentence) for sentence in rest))


def _shares(report: Report, name: str) -> Table:
    drawn = report.intervals.shares.get(name, {}) if report.intervals else {}
    table = table_of(report.nodes[name].label, "", "now", *(["95%"] if drawn else []), "before")
    bars, rest = shares(report, name)
    for bar in bars:
        label = state_label(report, name, bar.state)
        span = [_short(between(drawn[bar.state]))] if drawn else []
        table.add_row(label, _bar(bar.now), percent(bar.now), *span, percent(bar.before))
    if rest:
        table.add_row(rest.state, "", percent(rest.now), *[""] * bool(drawn), percent(rest.before))
    return table


def _short(said: str) -> str:
    for word, sign in ((" to ", "–"), ("above ", ">"), ("below ", "<")):
        said = said.replace(word, sign)
    return said


def table_of(title: str, *headers: str) -> Table:
    """Return an empty table: a title over the words, then columns of figures."""
    table = Table(box=None, padding=(0, 1, 0, 0), header_style="dim", expand=True)
    table.add_column(title, header_style="bold", ratio=1)
    for header in headers:
        table.add_column(
            header, justify="right" if header else "left", no_wrap=True, min_width=FIGURES
        )
    return table


def _bar(share: float) -> Text:
    cells = share * BAR
    whole = int(cells)
    part = "" if cells - whole < 0.5 else "▌"
    return Text(("█" * whole + part).ljust(BAR, "·"))


def _why(report: Report) -> RenderableType:
    why = report.explanation
    one, other = proposition_label(report, why.for_), proposition_label(report, why.against)
    title = Text(f"Why {one} rather than {other}", style="bold")
    table = table_of("", "", "in turn", "left out", "alone")
    scale = max([abs(w.bans or 0) for w in why.findings], default=1) or 1
    table.add_row("Prior", "", signed_bans(why.prior_bans), "", "")
    for group in why.groups:
        table.add_row(
            Text(group.label, style="bold"),
            "" if group.share_bans is None else f"share {signed_bans(group.share_bans)}",
            Text(signed_bans(group.bans), "bold"),
            signed_bans(group.left_out_bans),
            signed_bans(group.alone_bans),
        )
        moving, still = told_apart(why, group)
        for weighed in moving:
            table.add_row(*_weighed(report, weighed, scale))
        if still:
            said = Text(f"  {hardly_said(report, still)}", style="dim")
            table.add_row(said, "", "≈ 0", "≈ 0", "")
    table.add_row(
        Text("Posterior", style="bold"),
        "",
        Text(signed_bans(why.posterior_bans, excluded_side(why)), "bold"),
        "",
        "",
    )
    note = Text(
        "Weights of evidence in bans: +1 makes the odds ten times better, −1 ten times worse. "
        "In turn: adds up from prior to posterior in the order shown. Left out: what would be "
        "lost without the finding. Alone: what it says by itself. Share: a group's part of the "
        "whole move on the average over all orders; the shares add up too.",
        style="dim",
    )
    return Group(title, table, Text(), note, Text(rests_said(report), style="dim"))


def _weighed(report: Report, weighed: Weighed, scale: float) -> list[RenderableType]:
    label = f"  {report.nodes[weighed.node].label}: {weighed.reading}"
    bans = weighed.bans
    return [
        label,
        _two_sided(bans or 0.0, scale),
        signed_bans(bans, weighed.excludes),
        signed_bans(weighed.left_out_bans),
        signed_bans(weighed.alone_bans, weighed.excludes),
    ]


def _two_sided(bans: float, scale: float) -> str:
    half = BAR // 2
    cells = round(abs(bans) / scale * half)
    if bans < 0:
        return ("░" * cells).rjust(half) + "│" + " " * half
    return " " * half + "│" + ("█" * cells).ljust(half)


def _limits(report: Report) -> RenderableType:
    parts: list[RenderableType] = []
    hidden = [s for s in report.findings if s.form == "not_visible"]
    rows = [
        ("Not visible", [_why_hidden(s) for s in hidden]),
        ("Not examined", [f"{e.label} ({e.why})" for e in report.not_examined]),
        ("Not applicable", [f"{e.label} ({e.why})" for e in report.not_applicable]),
        ("Order of events not used", [f"{a} under {b}" for a, b in report.not_used]),
    ]
    for title, entries in rows:
        if entries:
            parts.append(Text.assemble((f"{title}: ", "bold"), "; ".join(entries)))
    parts.append(Text("How far to trust this", style="bold"))
    parts += [bullet(caution) for caution in report.cautions]
    return Group(*parts)


def _why_hidden(seen: Seen) -> str:
    why = seen.reading.removeprefix("not visible").strip()
    return f"{seen.label} {why}" if why else seen.label


def bullet(text: str) -> Table:
    """Return *text* behind a point, its lines aligned."""
    grid = Table.grid(padding=(0, 1))
    grid.add_row(" ·", text)
    return grid
