"""The report in sentences: every number in them stands in the report itself."""

from claywit.report.numbers import percent, period, signed_bans, times
from claywit.report.report import Explained, Report, Weighed

ALWAYS = (
    (
        "This is a statistical opinion about manufacture, not a guarantee, a valuation, or a"
        " statement of title or export status."
    ),
    (
        "Cultural-property law, appraisal standards and licensed practice come first."
        " Examine without harm: no wetting, scratching, tape, solvent or sampling."
    ),
)
MANY_HIDDEN = 5
SPEAKS = 0.05  # bans below which a finding is not called a reason


def with_words(report: Report) -> Report:
    """Return *report* with its statement and cautions filled in."""
    return report.model_copy(
        update={"statement": tuple(_statement(report)), "cautions": tuple(_cautions(report))}
    )


def state_label(report: Report, node: str, state: str, *, dated: bool = True) -> str:
    """Return a state as a reader knows it: `P2 Rebuilding (1812–1846)`, or just its label."""
    text = report.nodes[node].states.get(state)
    if text is None:
        return state.replace("_", " ")
    is_code = state != state.lower()
    label = f"{state} {text.label}" if is_code and text.label != state else text.label
    return f"{label} ({period(text.date)})" if dated and text.date else label


def proposition_label(report: Report, text: str) -> str:
    """Return a typed proposition as a reader knows it, without dates."""
    parts = [part.partition("=") for part in text.split(",")]
    shown = [
        " or ".join(state_label(report, node, state, dated=False) for state in states.split("|"))
        for node, _, states in parts
    ]
    return " and ".join(shown)


def _statement(report: Report) -> list[str]:
    return [_answer(report), *_move(report), *_reasons(report), _contrary(report)]


def _answer(report: Report) -> str:
    shares = report.posterior[report.question]
    ranked = sorted(shares, key=lambda s: -float(shares[s]))
    label = report.nodes[report.question].label
    lead, rival = ranked[0], ranked[1]
    prior = report.prior[report.question][lead]
    answer = (
        f"{label}: {state_label(report, report.question, lead)}, {percent(shares[lead])}"
        f" (before the findings {percent(prior)})"
    )
    if rival in report.excluded_by_model.get(report.question, ()):
        return f"{answer}; the model excludes every other."
    return (
        f"{answer}; next {state_label(report, report.question, rival)}, {percent(shares[rival])}."
    )


def _move(report: Report) -> list[str]:
    why = report.explanation
    one, other = proposition_label(report, why.for_), proposition_label(report, why.against)
    if why.total_bans is None:
        return [f"The findings leave no room for {other if _excludes(why) else one}."]
    moved = f"{signed_bans(why.total_bans)} bans"
    before, after = times(why.prior_odds), times(why.posterior_odds)
    move = f"The findings move the odds of {one} against {other} by {moved}"
    return [f"{move}: {before} before, {after} after."]


def _excludes(why: Explained) -> bool:
    return any(weighed.excludes == "against" for weighed in why.findings)


def _reasons(report: Report) -> list[str]:
    strong = sorted(report.explanation.findings, key=lambda w: -_size(w))
    speaking = [w for w in strong if _size(w) >= SPEAKS][:3]
    if not speaking:
        return ["No single finding speaks clearly for it."]
    return ["What drove it: " + "; ".join(_named(report, w) for w in speaking) + "."]


def _size(weighed: Weighed) -> float:
    if weighed.left_out_bans is None:
        return 1e9 if weighed.excludes == "against" else 0.0
    return weighed.left_out_bans


def _named(report: Report, weighed: Weighed) -> str:
    label = report.nodes[weighed.node].label
    if weighed.left_out_bans is None:
        return f"{label.lower()}: {weighed.reading} (excludes the other)"
    return f"{label.lower()}: {weighed.reading} ({signed_bans(weighed.left_out_bans)} bans)"


def _contrary(report: Report) -> str:
    name = report.explanation.strongest_against
    if name is None:
        return "No finding speaks against it."
    against = next(w for w in report.explanation.findings if w.node == name)
    hardly = ", though hardly" if -_size(against) < SPEAKS else ""
    return f"What speaks against it most{hardly}: {_named(report, against)}."


def _cautions(report: Report) -> list[str]:
    found: list[str] = []
    if report.model.status == "demonstration":
        found.append(
            "Demonstration model of an invented tradition: no real piece, no real opinion."
        )
    if not report.model.reference_pieces:
        found.append(
            "The model's numbers are elicited judgement; no reference pieces stand behind them."
        )
    if report.priors_from_client:
        names = ", ".join(report.nodes[n].label.lower() for n in report.priors_from_client)
        found.append(f"The prior of {names} is the client's, not the model's.")
    hidden = [seen for seen in report.findings if seen.form == "not_visible"]
    if len(hidden) >= MANY_HIDDEN:
        found.append(f"{len(hidden)} traits could not be seen; the opinion rests on the rest.")
    if report.explanation.chosen == "leading":
        found.append("The two attributions compared were chosen after the result was seen.")
    if any(seen.form in ("half_certain", "matrix", "likelihood") for seen in report.findings):
        found.append("Some readings are half certain; the weights already allow for that.")
    if report.nodes[report.question].states[report.leading].open:
        found.append("The likeliest answer is that the piece matches nothing in the file.")
    return [*found, *ALWAYS]
