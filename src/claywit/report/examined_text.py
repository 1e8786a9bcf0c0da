"""How reliably traits are read, on a terminal."""

from rich.console import Console, Group
from rich.table import Table
from rich.text import Text

from claywit.report.evaluated_wording import counted
from claywit.report.examined import Examined, Figure, MatrixRead, PairRead, TraitRead
from claywit.report.numbers import decimals, of_hundred, seen_share
from claywit.report.terminal import WIDEST, bullet, plain_console, table_of


def show_examined(answer: Examined, console: Console | None = None) -> None:
    """Print what the readings of each trait show."""
    out = console or plain_console()
    width = min(out.width, WIDEST)
    for trait in answer.traits:
        out.print(_trait(trait), width=width)
        out.print()
    out.print(Group(*(bullet(caution) for caution in answer.cautions)), width=width)


def _trait(trait: TraitRead) -> Group:
    title = Text(trait.label, style="bold")
    title.append(
        f"  ({counted(trait.readings, 'reading')} of {counted(trait.pieces, 'piece')})",
        style="not bold",
    )
    parts: list[Text | Table | Group] = [title]
    if trait.pairs or trait.panel:
        parts.append(_agreement(trait))
    weighted = _weighted(trait)
    parts += [weighted] if weighted else []
    parts += [_matrix(matrix, trait.states) for matrix in trait.matrices]
    parts += [bullet(remark) for remark in trait.remarks]
    return Group(*parts)


def _agreement(trait: TraitRead) -> Table:
    table = table_of("", "pieces", "agree", "kappa")
    for pair in trait.pairs:
        agree = _share(pair.agreeing)
        table.add_row(_whose(pair), f"{pair.pieces}", agree, _said(pair.kappa))
    if trait.panel:
        panel = trait.panel
        agree = _share(panel.agreeing)
        table.add_row("all, alpha", f"{panel.pieces}", agree, _said(panel.alpha))
        if panel.fleiss:
            table.add_row("all, Fleiss", "", "", _said(panel.fleiss))
    return table


def _weighted(trait: TraitRead) -> Table | None:
    """Return the coefficients that take the order of the states into account, if asked for."""
    if not trait.panel or not trait.panel.ordered_alpha:
        return None
    table = table_of("by steps between states", "linear kappa", "quadratic kappa")
    for pair in trait.pairs:
        table.add_row(_whose(pair), _said(pair.linear), _said(pair.quadratic))
    table.add_row("all, interval alpha", "", _said(trait.panel.ordered_alpha))
    return table


def _whose(pair: PairRead) -> str:
    return f"{pair.one}, again" if pair.again else f"{pair.one}, {pair.other}"


def _share(figure: Figure) -> str:
    return "–" if figure.value is None else seen_share(figure.value)


def _said(figure: Figure | None) -> str:
    if figure is None or figure.value is None:
        return "–"
    if figure.low is None or figure.high is None:
        return decimals(figure.value, 2)
    low, high = decimals(figure.low, 2), decimals(figure.high, 2)
    return f"{decimals(figure.value, 2)} ({low} to {high})"


def _matrix(matrix: MatrixRead, states: tuple[str, ...]) -> Table:
    table = table_of(f"{matrix.name}: truly", *(f"read {state}" for state in states), "readings")
    for true, row in matrix.p.items():
        cells = [of_hundred(row[state]) for state in states]
        table.add_row(true, *cells, f"{matrix.rests[true]:g}")
    return table
