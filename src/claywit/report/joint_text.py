"""A joint statement on a terminal, on one page, with lines to sign on."""

from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from claywit.report.joint import Joint
from claywit.report.joint_page import likeliest
from claywit.report.joint_wording import graded, lead_alike, look_said, worth_said
from claywit.report.labels import label_of
from claywit.report.numbers import percent, signed_bans
from claywit.report.terminal import WIDEST, bullet, plain_console, table_of

LOOKS = 3  # readings to settle that are printed
LEAST = 0.05  # of the difference: what settles less is not printed
LINE = "_" * 34


def show_joint(joint: Joint, console: Console | None = None) -> None:
    """Print a joint statement: agreed, disagreed, what would settle it, both opinions."""
    out = console or plain_console()
    width = min(out.width, WIDEST)
    for part in (
        _head(joint),
        _agreed(joint),
        _disagreed(joint),
        _settling(joint),
        _opinions(joint),
        _end(joint),
    ):
        out.print(part, width=width)
        out.print()


def _head(joint: Joint) -> RenderableType:
    a, b = joint.parties
    return Group(
        Text(f"Joint statement on {joint.piece}: {a.name} and {b.name}", style="bold"),
        Text(joint.answer, style="bold"),
        *(Text(f"Because {reason}.") for reason in joint.because),
        Text(joint.statement[0]),
    )


def _agreed(joint: Joint) -> RenderableType:
    same = [f"{point.label}: {point.reading_a}" for point in joint.agreed if point.kind == "same"]
    within = [
        f"{point.label}: {point.reading_a}, and {point.reading_b}"
        for point in joint.agreed
        if point.kind == "within"
    ]
    parts = [Text("1. Agreed", style="bold"), Text(f"{'; '.join(same) or 'No reading'}.")]
    if within:
        parts.append(Text(f"Alike within uncertainty: {'; '.join(within)}."))
    a, b = (party.model for party in joint.parties)
    if a.digest == b.digest:
        parts.append(Text(f"The model: {a.title or a.name} {a.version}."))
    return Group(*parts)


def _disagreed(joint: Joint) -> RenderableType:
    title = Text("2. Disagreed, and why it matters", style="bold")
    if not joint.disagreed:
        return Group(title, Text("Nothing."))
    a, b = (party.name for party in joint.parties)
    one, other = label_of(joint.nodes, joint.for_), label_of(joint.nodes, joint.against)
    table = Table(box=None, padding=(0, 1, 0, 0), header_style="dim", expand=True)
    for header, ratio in (("", 4), (a, 4), (b, 4)):
        table.add_column(header, ratio=ratio)
    table.add_column("share", justify="right", no_wrap=True)
    for point in joint.disagreed:
        why = f" ({point.why})" if point.why else ""
        share = signed_bans(point.share_bans)
        table.add_row(f"{point.label}{why}", point.reading_a, point.reading_b, share)
    note = (
        f"Share: how many bans of the difference go with it, from {a}'s opinion to {b}'s; plus is"
        f" for {one}, minus for {other}{_added_up(joint)}."
    )
    return Group(title, table, Text(note, style="dim"), *(Text(s) for s in joint.statement[1:-1]))


def _added_up(joint: Joint) -> str:
    if joint.difference_bans is None:
        return ""
    return (
        f". The shares add up to {signed_bans(joint.difference_bans)} (on the average over all"
        " orders of going over from the one to the other)"
    )


def _settling(joint: Joint) -> RenderableType:
    title = Text("3. What would settle it", style="bold")
    already = lead_alike(joint)
    others = [
        bullet(f"{s.label} ({look_said(s)}): {worth_said(s, already=already)}.")
        for s in joint.settles[1:LOOKS]
        if s.closes >= LEAST
    ]
    how = "Look apart from one another, and write down what you see before you talk."
    return Group(title, Text(joint.statement[-1]), *others, *([Text(how)] if joint.settles else []))


def _opinions(joint: Joint) -> RenderableType:
    label = joint.nodes[joint.question].label
    names = [party.name for party in joint.parties]
    table = table_of(label, *names, "linear", "log")
    columns = [*joint.opinions, joint.linear, joint.logarithmic]
    for state in likeliest(joint):
        cells = [percent(o.shares[state]) if o.shares else "–" for o in columns]
        table.add_row(label_of(joint.nodes, f"{joint.question}={state}"), *cells)
    words = "; ".join(f"{o.by}: {graded(o)}" for o in columns)
    note = (
        f"Pooled with a weight of {joint.weight:g} for {names[0]}. Linear: the mean of the"
        " probabilities. Log: their geometric mean, made to sum to 1."
    )
    title = Text("4. The two opinions, and both pooled", style="bold")
    return Group(title, table, Text(f"In words: {words}."), Text(note, style="dim"))


def _end(joint: Joint) -> RenderableType:
    signed = Table.grid(padding=(0, 3))
    signed.add_row(LINE, LINE)
    signed.add_row(*(f"{party.name}, date" for party in joint.parties))
    return Group(
        *(bullet(caution) for caution in joint.cautions),
        Text(),
        Text("5. Signatures", style="bold"),
        Text(),
        signed,
    )
