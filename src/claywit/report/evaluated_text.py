"""An evaluation on a terminal: what was right, by how much to trust it, and the figures."""

from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from claywit.report.evaluated import AnswerFigures, Evaluation, Figure, RatioFigures
from claywit.report.evaluated_wording import (
    counted,
    how_said,
    odd_said,
    share_right,
    sides,
    state_name,
)
from claywit.report.numbers import decimals, percent, signed_bans
from claywit.report.terminal import WIDEST, bullet, plain_console, table_of

ODD = 8  # odd values that are printed
WIDE = 7  # states beyond which the confusion is left to the page
COVERAGES = (0.25, 0.5, 0.75, 0.9, 1.0)


def show_evaluation(found: Evaluation, console: Console | None = None) -> None:
    """Print how good a model is on pieces of known truth."""
    out = console or plain_console()
    width = min(out.width, WIDEST)
    parts: list[RenderableType] = [
        _head(found),
        Group(*(bullet(sentence) for sentence in found.said)),
        _figures(found),
        _states(found),
    ]
    if found.answers:
        if len(found.states) <= WIDE:
            parts.append(_confusion(found, found.answers))
        parts += [_calibration(found.answers), _abstention(found, found.answers)]
    if found.odd:
        parts.append(_odd(found))
    parts.append(
        Group(
            Text("How far to trust this", style="bold"),
            *(bullet(caution) for caution in found.cautions),
        )
    )
    for part in parts:
        out.print(part, width=width)
        out.print()


def _odd(found: Evaluation) -> RenderableType:
    more = len(found.odd) - ODD
    return Group(
        Text("Worth another look", style="bold"),
        *(bullet(odd_said(found, odd)) for odd in found.odd[:ODD]),
        *([bullet(f"and {more:,} more; --json has them all")] if more > 0 else []),
    )


def _head(found: Evaluation) -> RenderableType:
    model = found.model
    label = found.nodes[found.question].label
    judged = counted(found.answers.pieces if found.answers else 0)
    return Group(
        Text(f"{model.title or model.name} {model.version}: {label}, {judged}", style="bold"),
        Text(how_said(found), style="dim"),
    )


def _figures(found: Evaluation) -> Table:
    table = table_of("Figures", "value", "95% from", "to", "best")
    if found.answers:
        answers, parts = found.answers, found.answers.parts
        _row(table, "Accuracy", answers.accuracy, "1")
        _row(table, "Log score, nats", answers.log_score, "0")
        _row(table, "Brier score over all states, 0 to 2", answers.brier, "0")
        table.add_row("  reliability", _four(parts.reliability), "", "", "0")
        table.add_row("  resolution (taken off)", _four(parts.resolution), "", "", "large")
        table.add_row("  uncertainty of the set", _four(parts.uncertainty), "", "", "")
        table.add_row("  within bins", _four(parts.within), "", "", "")
        error = f"{answers.calibration_error:.4f}"
        table.add_row("Expected calibration error", error, "", "", "0")
        chance = f"{answers.calibration_error_by_chance:.4f}"
        table.add_row("  by chance alone", chance, "", "", "")
    if found.ratios:
        _ratios(table, found, found.ratios)
    return table


def _ratios(table: Table, found: Evaluation, ratios: RatioFigures) -> None:
    one, other = sides(found)
    table.add_row(Text(f"LR of {one} against {other}", style="bold"))
    _row(table, "Cllr, bits", ratios.cllr, "0")
    table.add_row("  least, with the same order", _four(ratios.least_cllr), "", "", "0")
    table.add_row("  calibration loss", _four(ratios.calibration_loss), "", "", "0")
    table.add_row(
        f"  misleading, of {ratios.pieces_for:,}", f"{ratios.misleading_for:,}", "", "", "0"
    )
    against = f"{ratios.misleading_against:,}"
    table.add_row(f"  misleading, of {ratios.pieces_against:,} others", against, "", "", "0")
    for name, span in (("n sources", ratios.by_sources), ("ELUB", ratios.empirical)):
        low, high = signed_bans(span.least_bans), signed_bans(span.most_bans)
        table.add_row(f"  bounds in bans, {name}", "", low, high, "")


def _row(table: Table, name: str, figure: Figure, best: str) -> None:
    table.add_row(name, _four(figure.value), _four(figure.low), _four(figure.high), best)


def _four(value: float | None) -> str:
    return "" if value is None else decimals(value, 4)


def _states(found: Evaluation) -> Table:
    learned = any(state.learned_from is not None for state in found.states)
    headers = [
        "pieces",
        "sources",
        "right",
        "led",
        "given",
        "Cllr",
        *(["learned"] if learned else []),
    ]
    table = table_of(found.nodes[found.question].label, *headers)
    for state in found.states:
        table.add_row(
            state_name(found, state),
            f"{state.pieces:,}",
            f"{state.sources:,}",
            f"{state.right:,}" if state.pieces else "–",
            f"{state.led:,}",
            percent(state.given) if state.given is not None else "–",
            f"{state.cllr:.3f}" if state.cllr is not None else "–",
            *([f"{state.learned_from:,}"] if learned else []),
        )
    return table


def _confusion(found: Evaluation, answers: AnswerFigures) -> Table:
    names = [state_name(found, state) for state in found.states]
    table = table_of("True (down), led (across)", *(_short(name) for name in names))
    for name, row in zip(names, answers.confusion, strict=True):
        table.add_row(name, *(f"{count:,}" if count else "·" for count in row))
    return table


def _short(name: str) -> str:
    return name if len(name) <= 10 else f"{name[:9]}…"


def _calibration(answers: AnswerFigures) -> Table:
    table = table_of("Leading share", "pieces", "said", "right", "expected")
    for b in answers.reliability:
        expected = f"{b.least:,}–{b.most:,}" if b.least != b.most else f"{b.least:,}"
        inside = b.least <= b.right <= b.most
        table.add_row(
            f"{b.low:.1f} to {b.high:.1f}{'' if inside else '  (outside)'}",
            f"{b.pieces:,}",
            percent(b.said),
            f"{b.right:,}",
            expected,
        )
    return table


def _abstention(found: Evaluation, answers: AnswerFigures) -> Table:
    label = found.nodes[found.question].label.lower()
    table = table_of(f"If the {label} is named only where it leads with", "named", "right", "share")
    for coverage in COVERAGES:
        point = next(
            a for a in answers.abstention if a.answered >= coverage * answers.pieces - 1e-9
        )
        table.add_row(
            f"{percent(point.least)} or more",
            f"{point.answered:,} of {answers.pieces:,}",
            f"{point.right:,}",
            share_right(point.right, point.answered),
        )
    return table
