"""A joint statement in sentences: every number in them stands in the statement itself."""

from collections.abc import Iterator

from claywit.reasoning.policy import UNATTRIBUTED
from claywit.report.joint import Joint, Opinion, Settles
from claywit.report.labels import label_of
from claywit.report.limits import ELICITED, limits
from claywit.report.numbers import odds_said, percent, signed_bans

HARDLY = 0.005  # bans: what no figure shows
WORTH = 0.1  # of the difference: below it a look settles nothing to speak of


def with_joint_words(joint: Joint) -> Joint:
    """Return *joint* with its answer, statement and cautions filled in."""
    because = tuple(_because(joint))
    return joint.model_copy(
        update={
            "examiners_disagree": bool(because),
            "because": because,
            "answer": _answer(joint, disagree=bool(because)),
            "statement": (_apart(joint), *_made_of(joint), _settled(joint)),
            "cautions": tuple(_cautions(joint)),
        }
    )


def graded(opinion: Opinion) -> str:
    """Return an opinion with the word that it would carry: `M04 …, 88.1% (attributed)`."""
    return f"{opinion.said} ({opinion.grade})"


def _because(joint: Joint) -> Iterator[str]:
    """Give each reason why no average of the two opinions is an answer.

    The pools differ by more than one grade or lead elsewhere; or the examiners themselves
    attribute the piece, each with a word, to different things: a mean of these is nobody's.
    """
    one, other = joint.linear, joint.logarithmic
    if other.leading is None:
        yield "each rules out what the other finds possible"
    elif one.leading != other.leading:
        yield f"the linear pool leads to {one.said}, the logarithmic to {other.said}"
    elif abs(_rank(joint, one) - _rank(joint, other)) > 1:
        yield (  # no average is an answer where the way of averaging decides
            "the two ways of pooling differ by more than one grade: the linear pool gives"
            f" {graded(one)}, the logarithmic {graded(other)}"
        )
    a, b = joint.opinions
    if a.leading != b.leading and UNATTRIBUTED not in (a.grade, b.grade):
        yield f"{a.by} holds {graded(a)}, {b.by} {graded(b)}"


def _answer(joint: Joint, *, disagree: bool) -> str:
    if disagree:
        return "The examiners disagree."
    lower = min((joint.linear, joint.logarithmic), key=lambda opinion: _rank(joint, opinion))
    label = label_of(joint.nodes, f"{joint.question}={lower.leading}")
    node = joint.nodes[joint.question].label.lower()
    if lower.grade == UNATTRIBUTED:
        return f"Together the two opinions attribute no {node}; likeliest is {label}."
    return f"Together the two opinions say, of the {node}: {lower.words}."


def _rank(joint: Joint, opinion: Opinion) -> int:
    """Return how high a grade stands: 0 for none, 1 for the lowest."""
    rising = [UNATTRIBUTED, *reversed(joint.grades)]
    return rising.index(opinion.grade)


def _apart(joint: Joint) -> str:
    a, b = joint.parties
    one, other = label_of(joint.nodes, joint.for_), label_of(joint.nodes, joint.against)
    head = (
        f"Odds of {one} against {other}: {a.name} {_odds(joint, 'a')}, {b.name} {_odds(joint, 'b')}"
    )
    models = [party.model for party in joint.parties]
    if not all(model.reference_pieces for model in models):
        head += f"; {ELICITED}"
    if joint.difference_bans is None:
        return f"{head}. One of them leaves no room for one side, so no figure tells them apart."
    if abs(joint.difference_bans) < HARDLY:
        return f"{head}. The opinions are the same."
    return f"{head}. They are {abs(joint.difference_bans):.2f} bans apart."


def _odds(joint: Joint, side: str) -> str:
    odds, weight = (joint.a_odds, joint.a_bans) if side == "a" else (joint.b_odds, joint.b_bans)
    if weight is None:
        return "without limit"
    return f"{odds_said(odds, weight)} ({signed_bans(weight)} bans)"


def _made_of(joint: Joint) -> list[str]:
    if joint.difference_bans is None or abs(joint.difference_bans) < HARDLY:
        return []
    told = [d for d in joint.disagreed if d.share_bans is not None]
    if not told:
        why = "some mixture of the two sets of readings is impossible under the model"
        return [f"The difference cannot be shared out: {why}."]
    weighty = [d for d in told if abs(d.share_bans or 0) >= HARDLY][:3]
    listed = ", ".join(f"{d.label.lower()} {signed_bans(d.share_bans)}" for d in weighty)
    said = f"Of the {signed_bans(joint.difference_bans)} bans from the one to the other, {listed}."
    if joint.grouped == "many":
        said += " More than twelve things differ, so readings are shared out by group."
    elif joint.grouped == "impossible":
        said += " Some of these readings cannot be mixed, so they are shared out by group."
    return [said]


def _settled(joint: Joint) -> str:
    if not joint.disagreed:
        return "Nothing: the two agree in every point."
    if not joint.settles:
        readings = any(d.kind in ("reading", "group") for d in joint.disagreed)
        if readings:
            return "What settling one reading would leave cannot be told in figures."
        return "No second look at the piece would settle this: the readings agree."
    if joint.difference_bans is not None and abs(joint.difference_bans) < HARDLY:
        return "Nothing needs settling: what differs hardly matters, or cancels out."
    return _settled_by_looking(joint)


def _settled_by_looking(joint: Joint) -> str:
    best = joint.settles[0]
    if best.closes <= 0:
        return (
            "No single second look would settle this: each could leave the two as far apart, or"
            f" further.{_accord(joint)}"
        )
    if best.closes < WORTH:
        return (
            f"No single second look would settle this: after the best, at {best.label.lower()},"
            f" {percent(1 - best.closes)} of the difference can be left.{_accord(joint)}"
        )
    look = f"Look again at {best.label.lower()} first ({look_said(best)})"
    return f"{look}: {worth_said(best, already=lead_alike(joint))}.{_accord(joint)}"


def _accord(joint: Joint) -> str:
    """Say how many readings it takes until both name the same, where one is too few."""
    if joint.accord is None:
        return " Even with every reading settled, priors or models can keep the two apart."
    if len(joint.accord) < 2:
        return ""
    labels = [label.lower() for label in joint.accord]
    readings = [d for d in joint.disagreed if d.kind in ("reading", "group")]
    named = f"these {len(labels)}: {', '.join(labels[:-1])} and {labels[-1]}"
    it_takes = "all of them" if len(labels) == len(readings) else named
    return (
        f" To be sure that both then name the same, whichever way each reading is settled, it takes"
        f" {it_takes}."
    )


def look_said(settles: Settles) -> str:
    """Return where and how long to look: `lens, 3 min`."""
    minutes = f"{settles.minutes:g} min" if settles.minutes else ""
    return ", ".join([*settles.views, *([minutes] if minutes else [])]) or "again"


def lead_alike(joint: Joint) -> bool:
    """Return whether both find the same state likeliest already."""
    one, other = joint.opinions
    return one.leading == other.leading


def worth_said(settles: Settles, *, already: bool) -> str:
    """Return in words what settling a reading would be worth; *already* if both lead alike."""
    left = max(settles.left_if_a_bans, settles.left_if_b_bans)
    if settles.closes <= 0:
        return "settled one way it would leave the two further apart"
    said = (
        f"whichever way it is settled, {_part(settles.closes)} of the difference goes"
        f" ({percent(settles.closes)} at least; {left:.2f} bans stay at most)"
    )
    then = {
        "either way": "" if already else ", and both then name the same",
        "if a": ", and both then name the same only if it is as the first had it",
        "if b": ", and both then name the same only if it is as the second had it",
        "never": ", though the two still name different things",
    }
    return said + then[settles.same_answer]


def _part(share: float) -> str:
    words = (("nearly all", 0.9), ("most", 0.6), ("about half", 0.4), ("a part", 0.2))
    return next((word for word, least in words if share >= least), "a small part")


def _cautions(joint: Joint) -> Iterator[str]:
    a, b = joint.parties
    read_twice = any(d.nodes for d in joint.disagreed)
    if read_twice and a.evidence.examiner and a.evidence.examiner == b.evidence.examiner:
        yield (
            f"Both files bear the same examiner's name ({a.evidence.examiner}): this compares one"
            " person with himself or herself, not two."
        )
    if a.evidence.digest == b.evidence.digest and a.model.digest == b.model.digest:
        yield "The two sides are the same in every point, so there is nothing to state jointly."
    for party in joint.parties:
        if party.question != joint.question:
            asked, here = (joint.nodes[n].label.lower() for n in (party.question, joint.question))
            told = f"The file of {party.name} asks about the {asked}"
            yield f"{told}; here both are asked about the {here}."
    if b.stated and b.stated != (joint.for_, joint.against):
        yield f"The propositions that {b.name} states are not those that are weighed here."
    if not (a.masked and b.masked):
        yield "Nothing says that both read the piece with provenance masked."
    if joint.chosen == "leading":
        yield "The two attributions compared were chosen after the result was seen."
    yield "Pooling averages opinions; it settles no reading. Look again first, then pool."
    yield (
        "Both opinions rest on one piece and share a model; that they agree is no second proof."
        if a.model.digest == b.model.digest
        else "Both opinions rest on one piece; that they agree is no second proof."
    )
    steps = "; ".join(f"{name}: {means}" for name, means in joint.grades.items())
    yield f"Grades by probability alone, policy {joint.policy}. {steps}."
    yield from limits([a.model, b.model])
