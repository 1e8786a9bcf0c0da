"""An evidence file laid on the bench: its findings as the answers of a draft."""

from claywit.bench.draft import Measured, Reading
from claywit.evidence.meaning import NOT_APPLICABLE
from claywit.evidence.written import Evidence, Written, WrittenMeasure
from claywit.model.quantities import QUANTITY, UNITS, quantity
from claywit.model.schema import NOT_VISIBLE, Model, Node


def answers(evidence: Evidence, model: Model) -> dict[str, Reading]:
    """Return what *evidence* says of each trait, as a page would have entered it.

    The evidence fits the model: it was bound to it before.
    """
    seen = {name: _answer(model.node(name), one) for name, one in evidence.findings.items()}
    rest = {n: Reading(way="unexamined", why=why) for n, why in evidence.not_examined.items()}
    return seen | rest


def _answer(node: Node, one: Written) -> Reading:
    beside = {"where": one.where, "note": one.note, "method": one.method}
    said = one.says or one.state or ""
    if said == NOT_APPLICABLE:
        return Reading(way="nothing", **beside)
    if said == NOT_VISIBLE or one.not_visible is not None:
        return Reading(way="hidden", why=one.not_visible or "", **beside)
    if one.likelihood is not None:
        weights = {state: f"{weight:.12g}" for state, weight in one.likelihood.items()}
        return Reading(way="likelihood", likelihood=weights, **beside)
    if node.measured:
        return Reading(way="measured", measures=_measures(node, one), **beside)
    if one.sure is not None or one.reading:
        return Reading(way="half", state=said, sure=one.sure, matrix=one.reading or "", **beside)
    return Reading(way="seen", state=said, **beside)


def _measures(node: Node, one: Written) -> dict[str, Measured]:
    single = next(iter(node.measured))
    stated = dict(one.measures)
    if one.says is not None:
        stated = {single: WrittenMeasure(value=one.says)}
    elif one.measure:
        stated = {single: one.measure}
    return {name: _measured(node.measured[name], measure) for name, measure in stated.items()}


def _measured(unit: str, one: WrittenMeasure) -> Measured:
    if one.between:
        (low, high), used = _typed(unit, *one.between)
        return Measured(limit="between", value=low, upper=high, unit=used)
    if one.value is None:
        (value,), used = _typed(unit, one.below or one.above or "")
        return Measured(limit="below" if one.below else "above", value=value, unit=used)
    if one.u is None:
        (value,), used = _typed(unit, one.value)
        return Measured(value=value, unit=used)
    (value, u), used = _typed(unit, one.value, one.u)
    return Measured(value=value, u=u, unit=used)


def _typed(unit: str, *texts: str) -> tuple[list[str], str]:
    """Return quantities beside one unit: their own, or where theirs differ that of the node."""
    split = [QUANTITY.fullmatch(text.strip()) for text in texts]
    units = {found[2] for found in split if found}
    if len(units) == 1 and units <= set(UNITS):
        return [found[1] for found in split if found], units.pop()
    return [f"{quantity(text, unit):.12g}" for text in texts], unit
