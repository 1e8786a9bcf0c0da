"""Whole stories on a terminal: the likeliest, what explains best, and everything at once."""

from rich.console import Console, Group
from rich.text import Text

from claywit.report.numbers import percent, signed_bans
from claywit.report.report import NodeText
from claywit.report.terminal import WIDEST, bullet, plain_console, table_of
from claywit.report.told import StoriesAnswer, StoriesTold, story_said


def show_stories(answer: StoriesAnswer, console: Console | None = None) -> None:
    """Print the best stories, what explains best, and the likeliest state of everything."""
    out = console or plain_console()
    width = min(out.width, WIDEST)
    told = answer.stories
    first, *rest = told.statement
    parts = (
        Group(
            Text(answer.evidence.piece, style="bold"),
            Text(first, style="bold"),
            *(Text(sentence) for sentence in rest),
        ),
        _best_stories(told),
        _speaking(told),
        _everything(told, answer.nodes),
        Group(*(bullet(caution) for caution in answer.cautions)),
    )
    for part in parts:
        out.print(part, width=width)
        out.print()


def _best_stories(told: StoriesTold) -> Group:
    table = table_of("The likeliest stories", "now", "before")
    for story in told.best:
        table.add_row(story.said, percent(story.posterior), percent(story.prior))
    note = f"Together these have {percent(told.covered)}; the rest is spread over other stories."
    return Group(table, Text(note, style="dim"))


def _speaking(told: StoriesTold) -> Group:
    table = table_of("What the findings speak for most", "bans", "now", "before")
    for story in told.relevant:
        weight = signed_bans(story.bans, "against")
        table.add_row(story.said, weight, percent(story.posterior), percent(story.prior))
    note = (
        "Bans: how far the findings move its odds against everything else; +1 makes them ten"
        " times better. Nothing is named that does not make the findings likelier."
    )
    return Group(table, Text(note, style="dim"))


def _everything(told: StoriesTold, nodes: dict[str, NodeText]) -> Group:
    whole = told.whole
    parts = [Text("Everything at once, in its single likeliest state", style="bold")]
    for title, states in (
        ("Behind it", whole.hidden),
        ("To be seen, if you looked", whole.traits),
    ):
        if states:
            listed = "; ".join(
                f"{nodes[name].label.lower()}: {story_said(nodes, {name: state})}"
                for name, state in states.items()
            )
            parts.append(Text.assemble((f"{title}: ", "bold"), listed))
    if whole.differs:
        named = ", ".join(nodes[name].label.lower() for name in whole.differs)
        parts.append(Text(f"It is not the likeliest story in {named}: one whole is not a sum."))
    note = (
        "A picture to think with, not a finding: it is the likeliest of very many such wholes,"
        f" and its probability is {percent(whole.posterior)}."
    )
    return Group(*parts, Text(note, style="dim"))
