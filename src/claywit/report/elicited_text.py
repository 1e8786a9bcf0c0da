"""What filled sheets amount to, on a terminal."""

from rich.console import Console, Group
from rich.table import Table
from rich.text import Text

from claywit.report.elicited import Elicited, ElicitedRow, StateFit
from claywit.report.terminal import WIDEST, bullet, plain_console, table_of


def show_elicited(
    answer: Elicited, console: Console | None = None, *, review: bool = False
) -> None:
    """Print the rows that came of some sheets; a *review* leaves out what the model said before.

    An expert who revises his numbers should not see those of the model.
    """
    out = console or plain_console()
    width = min(out.width, WIDEST)
    parts = [_row(row, review=review) for row in answer.rows]
    if not review:
        parts.insert(0, _weights(answer))
    if answer.unasked:
        left = ", ".join(answer.unasked)
        text = f"Left as before, since only experts without weight answered: {left}"
        parts.append(Group(bullet(text)))
    parts.append(Group(*(bullet(caution) for caution in answer.cautions)))
    for part in parts:
        out.print(part, width=width)
        out.print()


def _weights(answer: Elicited) -> Group:
    used, experts = answer.weights, answer.experts
    if used.rule != "performance":
        many = "" if used.rule == "one" else ", weighed equally"
        return Group(Text(f"From {', '.join(e.name for e in experts)}{many}", style="bold"))
    table = table_of(
        f"Weights from {used.seeds} seed questions",
        "weight", "with one seed left out", "calibration", "information", "answered",
    )  # fmt: skip
    for e in experts:
        low, high = e.weight_range or (e.weight, e.weight)
        table.add_row(
            e.name, f"{e.weight:.2f}", f"{low:.2f} to {high:.2f}", f"{e.calibration:.2g}",
            f"{e.information:.2f}", f"{e.answered}",
        )  # fmt: skip
    for name, scores in (("the pool", used.pool), ("with equal weights", used.equal_pool)):
        if scores:
            table.add_row(name, "", "", f"{scores[0]:.2g}", f"{scores[1]:.2f}", "")
    note = (
        "Calibration: how likely ranges as good as these would miss the truths so badly; below"
        f" {used.cutoff:.2g} an expert has no weight. Information: how much narrower the ranges are"
        " than knowing nothing, in nats. The weight is their product."
    )
    return Group(table, Text(note, style="dim"))


def _row(row: ElicitedRow, *, review: bool) -> Group:
    if review:
        worth = f"your ranges fit a sample of {row.n:g} piece{'' if row.n == 1 else 's'}"
    else:
        before = f", {row.n_before:g} before" if row.n_before else ""
        worth = f"n {row.n:g}{before}; {', '.join(row.experts)}"
    title = Text(row.name, style="bold")
    title.append(f"  ({worth})", style="not bold")
    return Group(title, _figures(row, review=review), *(bullet(said) for said in row.remarks))


def _figures(row: ElicitedRow, *, review: bool) -> Table:
    columns = ["of 100", "stated", "the row gives"]
    table = table_of("", *columns) if review else table_of("", "before", *columns)
    for state in row.states:
        cells = [f"{100 * state.p:.2f}", _stated(state), _three(state.fitted)]
        before = "" if state.before is None else f"{100 * state.before:.2f}"
        table.add_row(state.label, *(cells if review else [before, *cells]))
    return table


def _stated(state: StateFit) -> str:
    if state.stated[1] is None:
        return "the rest"
    low, best, high = state.stated
    ends = ("none" if low is None else f"{low:.3g}", "all" if high is None else f"{high:.3g}")
    return f"{ends[0]} {best:.3g} {ends[1]}"


def _three(values: tuple[float, ...]) -> str:
    return " ".join(map(_of_hundred, values))


def _of_hundred(value: float) -> str:
    """Return pieces of a hundred, and neither none nor all where a few might be otherwise."""
    if value < 0.05:
        return "<0.1"
    if value >= 99.5:
        return ">99"
    return f"{value:.0f}" if value >= 10 else f"{value:.1f}"
