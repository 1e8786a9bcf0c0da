"""The report in sentences: every number in them stands in the report itself."""

import math
from collections.abc import Sequence

from claywit.report.cautions import alarms, case_cautions
from claywit.report.labels import proposition_label, state_label
from claywit.report.limits import ALWAYS, ELICITED, grounds
from claywit.report.numbers import odds_said, percent, ranked, signed_bans
from claywit.report.report import Explained, GroupWeighed, Report, Weighed
from claywit.report.trust import attribution_said

MANY_HIDDEN = 5
SPEAKS = 0.05  # bans below which a finding is not called a reason
NOISE = 0.005  # bans below which it hardly moves anything
HALF = 0.5


def with_words(report: Report, behind: float) -> Report:
    """Return *report* with its statement and cautions filled in.

    Args:
        report: without words.
        behind: how many reference pieces stand behind the two propositions that it explains.
    """
    statement = tuple(_statement(report, behind))
    return report.model_copy(update={"statement": statement, "cautions": tuple(_cautions(report))})


def _statement(report: Report, behind: float) -> list[str]:
    if not report.findings:
        return [_answer(report), "Nothing has been read yet: these are the model's own shares."]
    return [
        _answer(report),
        *([attribution_said(report)] if report.attribution else []),
        *_second_looks(report),
        *_move(report, behind),
        *_reasons(report),
        _contrary(report),
    ]


def _answer(report: Report) -> str:
    shares = report.posterior[report.question]
    label = report.nodes[report.question].label
    lead, rival, *_ = ranked(shares)
    prior = report.prior[report.question][lead]
    answer = (
        f"{label}: {state_label(report, report.question, lead)}, {percent(shares[lead])}"
        f" (before the findings {percent(prior)})"
    )
    if rival in report.excluded_by_model.get(report.question, ()):
        return f"{answer}; the model excludes every other."
    answer = (
        f"{answer}; next {state_label(report, report.question, rival)}, {percent(shares[rival])}"
    )
    return (
        f"{answer}." if float(shares[lead]) >= HALF else f"Open. {answer}; none reaches one half."
    )


def _second_looks(report: Report) -> list[str]:
    """Say first what looks like a slip of the pen, since it would make all the rest worthless."""
    said = []
    for misfit in report.misfits:
        labels = " and ".join(report.nodes[name].label.lower() for name in misfit.nodes)
        if misfit.kind == "far_measure":
            far = f"{labels}: {misfit.size:g} scale units from everything in the file"
            check = "check the decimal point, the unit, and whether two measures are swapped"
            said.append(f"Look again: {far}; {check}.")
        else:
            rare = f"met together {misfit.size:g} times less often than their parts would have it"
            said.append(f"Look again: {labels}, as read, are {rare}.")
    return said + [f"Look again: {alarm[0].lower()}{alarm[1:]}" for alarm in alarms(report)]


def _move(report: Report, behind: float) -> list[str]:
    why = report.explanation
    one, other = proposition_label(report, why.for_), proposition_label(report, why.against)
    if why.total_bans is None:
        ruled_out = excluded_side(why)
        if ruled_out == "both":
            return [f"The findings exclude both {one} and {other}; weigh other attributions."]
        return [f"The findings leave no room for {other if ruled_out == 'against' else one}."]
    moved = f"{signed_bans(why.total_bans)} bans"
    before = odds_said(why.prior_odds, why.prior_bans)
    after = odds_said(why.posterior_odds, why.posterior_bans)
    move = f"The findings move the odds of {one} against {other} by {moved}"
    said = [f"{move}: {before} before, {after} after{_standing(why.total_bans, behind)}."]
    if abs(why.total_bans) < SPEAKS and report.findings:
        said.append("The findings decide nothing between the two.")
    elif why.total_bans < 0 < (why.posterior_bans or 0):
        said.append(f"By its prior {one} leads; the findings speak for {other}.")
    return said


def _standing(total_bans: float, behind: float) -> str:
    """Return what stands behind the odds; *n* pieces support no LR beyond *n* to 1."""
    if behind < 1:
        return f" ({ELICITED})"
    if abs(total_bans) <= math.log10(behind):
        return ""
    return f" (larger than the {behind:g} reference pieces behind it can support)"


def excluded_side(why: Explained) -> str:
    """Return which side the findings exclude: for, against, both or neither."""
    sides = {weighed.excludes for weighed in why.findings} - {"neither"}
    return "both" if len(sides) == 2 else next(iter(sides), "neither")


def _reasons(report: Report) -> list[str]:
    why = report.explanation
    strong = sorted(why.findings, key=lambda w: -loss(w))
    speaking = [w for w in strong if loss(w) >= SPEAKS][:3]
    subject = _subject(report)
    if not speaking:
        return [f"No single finding speaks clearly for {subject}."]
    drove = subject == "it" and (why.total_bans is None or why.total_bans > 0)
    opening = "What drove it" if drove else f"For {subject} speak"
    return [f"{opening}: " + "; ".join(_named(report, w) for w in speaking) + "."]


def _subject(report: Report) -> str:
    """Return `it` for the leading state, and the proposition where it is another."""
    why = report.explanation
    is_leader = why.for_ == f"{report.question}={report.leading}"
    return "it" if is_leader else proposition_label(report, why.for_)


def loss(weighed: Weighed) -> float:
    """Return what would be lost without a finding, in bans; no limit where it excludes a side."""
    if weighed.left_out_bans is not None:
        return weighed.left_out_bans
    if weighed.excludes != "neither":
        return math.inf if weighed.excludes == "against" else -math.inf
    return next((w for w in (weighed.bans, weighed.alone_bans) if w is not None), 0.0)


def _named(report: Report, weighed: Weighed) -> str:
    label = report.nodes[weighed.node].label
    if math.isinf(loss(weighed)):
        side = report.explanation.against if loss(weighed) > 0 else report.explanation.for_
        return f"{label.lower()}: {weighed.reading} (excludes {proposition_label(report, side)})"
    return f"{label.lower()}: {weighed.reading} ({signed_bans(loss(weighed))} bans)"


def _contrary(report: Report) -> str:
    why = report.explanation
    name = why.strongest_against
    if name is None:
        rival = proposition_label(report, why.against)
        return f"No finding speaks against {_subject(report)}, in favour of {rival}."
    against = next(w for w in why.findings if w.node == name)
    if -loss(against) < NOISE:
        label = report.nodes[against.node].label.lower()
        most = f"most: {label}, {against.reading}"
        return f"Nothing to speak of speaks against {_subject(report)}; {most}."
    hardly = ", though hardly" if -loss(against) < SPEAKS else ""
    return f"What speaks against {_subject(report)} most{hardly}: {_named(report, against)}."


def _cautions(report: Report) -> list[str]:
    return [
        *case_cautions(report),
        *_about_model(report),
        *_about_evidence(report),
        *ALWAYS,
    ]


def _about_model(report: Report) -> list[str]:
    found = grounds([report.model])
    if report.priors_from_client:
        names = ", ".join(report.nodes[n].label.lower() for n in report.priors_from_client)
        found.append(f"The prior of {names} is the client's, not the model's.")
    if report.nodes[report.question].states[report.leading].open:
        found.append("The likeliest answer is that the piece matches nothing in the file.")
    return found


def _about_evidence(report: Report) -> list[str]:
    found = []
    hidden = [seen for seen in report.findings if seen.form == "not_visible"]
    if len(hidden) >= MANY_HIDDEN:
        found.append(f"{len(hidden)} traits could not be seen; the opinion rests on the rest.")
    if report.explanation.chosen == "leading":
        found.append("The two attributions compared were chosen after the result was seen.")
    elif not _is_leader_named(report):
        found.append("The likeliest answer is neither of the two propositions.")
    if any(seen.form in ("half_certain", "matrix", "likelihood") for seen in report.findings):
        found.append("Some readings are half certain; the weights already allow for that.")
    given = [report.nodes[s.node].label.lower() for s in report.findings if s.hidden]
    if given:
        found.append(f"Taken as given, not read from the piece: {', '.join(given)}.")
    found += [
        f"The model knows no event {event} ({hint}), so its order was not used."
        for event, hint in report.unknown_events
    ]
    if not report.conditions.masked:
        found.append("Nothing says that provenance was masked while the piece was read.")
    return found


def told_apart(why: Explained, group: GroupWeighed) -> tuple[list[Weighed], list[Weighed]]:
    """Return the findings of a group that move the odds, and those that hardly do."""
    members = [weighed for weighed in why.findings if weighed.group == group.name]
    return [w for w in members if moves(w)], [w for w in members if not moves(w)]


def hardly_said(report: Report, still: Sequence[Weighed]) -> str:
    """Return one line for findings that hardly move the odds."""
    return f"hardly: {', '.join(report.nodes[w.node].label for w in still)}"


def rests_said(report: Report) -> str:
    """Return the priors on which all weights rest, with the words of the verbal scale."""
    why = report.explanation
    priors = [
        f"the {rest.origin}'s prior of {report.nodes[rest.node].label.lower()}: "
        + ", ".join(f"{state_label(report, rest.node, s)} {percent(p)}" for s, p in rest.p.items())
        for rest in why.rests_on
    ]
    words = verbal_said(why)
    return f"All weights rest on {'; on '.join(priors)}. {words}" if priors else words


def moves(weighed: Weighed) -> bool:
    """Return whether a finding moves the odds, in turn or by being left out."""
    weights = (weighed.bans, weighed.left_out_bans)
    return any(weight is None or abs(weight) >= NOISE for weight in weights)


def verbal_said(why: Explained) -> str:
    """Return what the verbal scale says, with its cut-points, or why it says nothing."""
    verbal = why.verbal
    if verbal.term is None:
        return f"No verbal grade is given ({ELICITED})."
    bands = ", ".join(
        f"{word} up to {limit:,.0f}" if limit else f"{word} above"
        for word, limit in verbal.bands.items()
    )
    return f"In words: {verbal.why} (scale {verbal.scale}: {bands})."


def conditions_said(report: Report) -> str:
    """Return under what conditions the readings were made, as far as the evidence says."""
    conditions = report.conditions
    said = []
    if conditions.masked is not None:
        said.append("Read with provenance masked" if conditions.masked else "Provenance not masked")
    if conditions.locked_at:
        said.append(f"readings locked {conditions.locked_at}")
    if conditions.stated_at:
        said.append(f"propositions stated {conditions.stated_at}")
    told = ("client", "intended_use", "effective_date", "interest", "told_beforehand")
    said += [
        f"{key.replace('_', ' ')} {conditions.engagement[key]}"
        for key in told
        if conditions.engagement.get(key)
    ]
    return " · ".join(said)


def _is_leader_named(report: Report) -> bool:
    """Return whether the leading state of the question stands in one of the propositions."""
    why = report.explanation
    stated = [part.partition("=") for text in (why.for_, why.against) for part in text.split(",")]
    about = [states.split("|") for node, _, states in stated if node == report.question]
    return not about or any(report.leading in states for states in about)
