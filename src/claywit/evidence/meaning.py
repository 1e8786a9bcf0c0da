"""What one written finding means on one node of a model."""

from collections.abc import Mapping

from claywit.errors import did_you_mean
from claywit.evidence.findings import Finding, Measure
from claywit.evidence.written import Written, WrittenMeasure
from claywit.model.quantities import UNITS, quantity
from claywit.model.schema import NOT_VISIBLE, Model, Node

NOT_APPLICABLE = "not_applicable"
FINEST = 1e-6  # of the value; finer, and the sizes of a piece would determine each other


def meaning(node: Node, written: Written, model: Model) -> Finding:
    """Return the finding that *written* states on *node*.

    Raises:
        ValueError: it names a state, measure, unit or matrix that the node does not have,
            or a reliability no better than a guess.
    """
    said = written.says if written.says is not None else written.state
    if said is not None and not said.strip():
        raise ValueError("nothing is written; write what was seen, or put it under not_examined")
    if said in (NOT_APPLICABLE, NOT_VISIBLE) and (written.sure is not None or written.reading):
        raise ValueError(f"`sure` and `reading` are about a state that was seen, not {said}")
    if said == NOT_APPLICABLE:
        return _finding(node, written, not_applicable=True)
    if said == NOT_VISIBLE or written.not_visible is not None:
        return _not_visible(node, written)
    if written.likelihood is not None:
        return _finding(node, written, likelihood=_likelihood(node, written.likelihood))
    if node.measured:
        return _finding(node, written, measures=_measures(node, written))
    if written.measures or written.measure:
        unknown = next(iter(written.measures), "a value")
        raise ValueError(f"is not measured, so it takes a state, not {unknown}")
    return _state(node, written, str(said), model)


def _finding(node: Node, written: Written, **form: object) -> Finding:
    return Finding(node.name, method=written.method, where=written.where, note=written.note, **form)  # type: ignore[arg-type]


def _not_visible(node: Node, written: Written) -> Finding:
    if not node.visibility:
        raise ValueError(
            "has no visibility in this model, so not_visible says nothing;"
            " put it under not_examined with the reason"
        )
    return _finding(node, written, not_visible=True, why=written.not_visible or "")


def _state(node: Node, written: Written, state: str, model: Model) -> Finding:
    if state not in node.state_names:
        raise ValueError(f"no state {state}; {_hint(node, state)}")
    k = len(node.states)
    if written.sure is not None and written.sure < 1 / k:
        raise ValueError(
            f"sure: {written.sure:g} is below 1/{k}, what a guess among {k} states would reach;"
            " name the likelier state, or use not_examined"
        )
    if written.reading:
        known = [name for name, m in model.reading_matrices.items() if m.node == node.name]
        if written.reading not in known:
            hint = did_you_mean(written.reading, known)
            raise ValueError(f"no reading matrix {written.reading} for this node; {hint}")
    sure = None if written.sure == 1 and node.reading_error == "separate" else written.sure
    return _finding(node, written, state=state, sure=sure, matrix=written.reading)


def _hint(node: Node, state: str) -> str:
    """Return what somebody who wrote *state* most likely meant."""
    if state.replace(" ", "_") == "not_examined":
        return f"move it to `not_examined: {{{node.name}: why}}`"
    options = [*node.state_names, NOT_VISIBLE, NOT_APPLICABLE]
    if state == "none" and "absent" in options:
        return "did you mean absent?"
    return did_you_mean(state.replace(" ", "_"), options)


def _likelihood(node: Node, stated: Mapping[str, float]) -> dict[str, float]:
    if node.measured:
        raise ValueError("is measured; a likelihood names states")
    rest = stated.get("other") if "other" not in node.state_names else None
    for state in stated:
        if state not in node.state_names and not (state == "other" and rest is not None):
            raise ValueError(f"no state {state}; {did_you_mean(state, node.state_names)}")
    missing = [state for state in node.state_names if state not in stated]
    if missing and rest is None:
        raise ValueError(
            f"the likelihood says nothing of {', '.join(missing)}; name every state,"
            " or add `other:` for the rest"
        )
    values = {s: stated[s] if s in stated else float(rest or 0) for s in node.state_names}
    largest = max(values.values())
    if largest <= 0:
        raise ValueError("the likelihood is 0 for every state; one must be possible")
    return {state: value / largest for state, value in values.items()}


def _measures(node: Node, written: Written) -> dict[str, Measure]:
    stated = dict(written.measures)
    if written.says is not None:
        stated = {"": WrittenMeasure(value=written.says)}
    elif written.measure:
        stated = {"": written.measure}
    if not stated:
        raise ValueError(
            f"is measured; write a value, as 43.5 {next(iter(node.measured.values()))}"
        )
    if "" in stated:
        if len(node.measured) > 1:
            raise ValueError(f"has several measures; name them: {', '.join(node.measured)}")
        stated = {next(iter(node.measured)): stated[""]}
    for name in stated:
        if name not in node.measured:
            raise ValueError(f"no measure {name}; {did_you_mean(name, node.measured)}")
    measures = {name: _measure(node.measured[name], one) for name, one in stated.items()}
    if len(measures) > 1 and any(m.value is None for m in measures.values()):
        raise ValueError(
            "limits cannot stand beside another measure of the same piece, since they shrink"
            " together; give values, or only the one that is bounded"
        )
    return measures


def _measure(unit: str, written: WrittenMeasure) -> Measure:
    if written.value is not None:
        value = quantity(written.value, unit)
        u = None if written.u is None else quantity(written.u, unit)
        if u is not None and u <= 0:
            raise ValueError(f"u: {written.u} must be above 0")
        if u is not None and u < FINEST * abs(value):
            raise ValueError(f"u: {written.u} is finer than anything that can be measured")
        if value <= 0 and UNITS[unit].kind in ("length", "mass"):
            raise ValueError(f"{written.value} must be above 0")
        return Measure(value=value, u=u)
    low, high = written.between or (written.above, written.below)
    limits = [None if limit is None else quantity(limit, unit) for limit in (low, high)]
    if limits[0] is not None and limits[1] is not None and limits[0] >= limits[1]:
        raise ValueError(f"between {low} and {high}: the first must be the smaller")
    if UNITS[unit].kind in ("length", "mass"):
        for limit, text in zip(limits, (low, high), strict=True):
            if limit is not None and limit <= 0:
                raise ValueError(f"{text}: a limit must be above 0")
    return Measure(low=limits[0], high=limits[1])
