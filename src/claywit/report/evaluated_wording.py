"""What an evaluation says, in sentences, and what it does not say."""

from collections.abc import Callable, Iterator, Sequence

from claywit.report.evaluated import (
    AnswerFigures,
    Evaluation,
    Figure,
    OddValue,
    RatioFigures,
    StateFigures,
)
from claywit.report.labels import label_of
from claywit.report.limits import grounds, limits
from claywit.report.numbers import percent, times

FEW = 10  # pieces of a state, below which its own figures say little
LEARNED = 5  # pieces of a state, below which little can have been learned of it
SOURCES = 30  # below which bands of sets drawn again are too narrow
COUNTED = 1_000_000  # to 1: where the words of a bound end that pieces were counted for
NAMED = 8  # pieces or states that are named in one sentence


def with_words(found: Evaluation) -> Evaluation:
    """Return the evaluation with its sentences and cautions."""
    return found.model_copy(
        update={"said": tuple(_said(found)), "cautions": tuple(_cautions(found))}
    )


def sides(found: Evaluation) -> tuple[str, str]:
    """Return the two propositions as a reader knows them; all other states are `any other`."""
    one = label_of(found.nodes, found.for_)
    if found.chosen == "commonest" and len(found.states) > 2:
        return one, f"any other {found.nodes[found.question].label.lower()}"
    return one, label_of(found.nodes, found.against)


def how_said(found: Evaluation) -> str:
    """Return how the pieces were judged."""
    how = found.how
    if how.parts == "none":
        return "Each piece judged by the model as it is."
    parted = {
        "groups": "one for each group",
        "one_out": "one for each source",
        "folds": f"drawn with seed {how.seed}",
    }[how.parts]
    return (
        f"Each piece judged by a model learned without it: {how.folds} parts, {parted}; no source"
        " is in both what was learned from and what was judged."
    )


def _said(found: Evaluation) -> Iterator[str]:
    label = found.nodes[found.question].label.lower()
    if found.answers:
        yield from _answers(found.answers, label)
    else:
        yield f"No piece of known {label} could be judged, so there are no figures for its answers."
    if found.ratios:
        yield from _ratios(found, found.ratios)
    else:
        one, other = sides(found)
        yield f"No LR can be judged: that takes pieces known to be {one}, and some to be {other}."


def _answers(found: AnswerFigures, label: str) -> Iterator[str]:
    yield (
        f"The leading {label} was the right one for {found.right:,} of {counted(found.pieces)}"
        f" ({share_right(found.right, found.pieces)}{_band(found.accuracy, percent)})."
    )
    if found.log_score.value is None:
        yield (
            f"Log score without limit: the model gave probability 0 to what is true of"
            f" {_some(found.excluded)}. A zero is a promise; look at the rows behind it."
        )
    else:
        alone = found.prior_log_score
        beside = f"; its priors alone score {alone:.3f}" if alone is not None else ""
        yield (
            f"Log score {found.log_score.value:.3f} nats a piece{_band(found.log_score, _three)}"
            f"{beside}. Lower is better, 0 would be foresight."
        )
    yield (
        "What it says and what is right differ by"
        f" {_points(found.calibration_error)} on average; faultless probabilities would show"
        f" {_points(found.calibration_error_by_chance)} on as many pieces."
    )


def _ratios(found: Evaluation, ratios: RatioFigures) -> Iterator[str]:
    one, other = sides(found)
    yield f"{one} against {other}: {ratios.pieces_for:,} and {counted(ratios.pieces_against)}."
    if ratios.cllr.value is None:
        yield "Cllr without limit: an LR of 0 or without limit spoke against what is true."
    else:
        yield (
            f"Cllr {ratios.cllr.value:.3f} bits{_band(ratios.cllr, _three)}:"
            f" {ratios.least_cllr:.3f} because the LRs do not tell the two apart,"
            f" {ratios.calibration_loss or 0:.3f} because they are too large or too small."
            " 1 is no better than no LR at all."
        )
    fewest = min(ratios.sources_for, ratios.sources_against)
    yield (
        f"The smaller side has {counted(fewest, 'source')}. An LR that passes {fewest:,} to 1"
        " either way is larger than these pieces can support: it rests on the shape of a table or"
        f" curve, and should not be printed as it stands. {_of(ratios.by_sources.beyond, ratios)}."
    )
    low, high = ratios.empirical.least_bans, ratios.empirical.most_bans
    yield (
        f"By their own errors (ELUB) the LRs are good from {times(10**low, COUNTED)} up to"
        f" {times(10**high, COUNTED)}. {_of(ratios.empirical.beyond, ratios)}."
    )


def _of(beyond: int, ratios: RatioFigures) -> str:
    pieces = ratios.pieces_for + ratios.pieces_against
    return f"{beyond:,} of {pieces:,} {'passes' if beyond == 1 else 'pass'} that"


def _cautions(found: Evaluation) -> Iterator[str]:
    label = found.nodes[found.question].label.lower()
    how = found.how
    if how.taught:
        yield (
            "The model has counted these very pieces: the figures flatter it. Judge the model from"
            " before it was fitted, with --folds, --by-group or --one-out."
        )
    elif how.parts == "none" and found.model.reference_pieces:
        yield (
            "The model was fitted. If these pieces were among those it has counted, the figures"
            " flatter it."
        )
    if how.drawn:
        yield (
            f"{counted(how.drawn)} of known {label} bear ids as `claywit simulate` gives them."
            " Drawn pieces rehearse the work; they say nothing of whether the model is right."
        )
    yield (
        "The figures hold for pieces chosen and mixed as these were. Somebody chose them; where"
        " doubtful pieces were kept out of the set, the figures flatter."
    )
    yield from _few(found, label)
    yield from _sources(found)
    yield from _left_out(found, label)
    if found.unseen:
        yield f"Never seen in this set: {_unseen(found)}."
    if found.odd:
        yield (
            f"{counted(len(found.odd), 'measured value')} may be slips or pieces apart; all of them"
            " count in the figures. Look at them again."
        )
    if found.model.status == "demonstration":
        yield grounds([found.model])[0]
    yield limits([found.model])[-2]


def _left_out(found: Evaluation, label: str) -> Iterator[str]:
    how = found.how
    if how.without_truth:
        yield f"{counted(how.without_truth)} of unknown {label} left out."
    if how.refused:
        yield f"{counted(how.refused, 'row')} of the file could not be read and were left out."
    if how.impossible:
        yield (
            f"{_some(how.impossible)}: the model gives these findings probability 0, so nothing is"
            " said and no figure counts it. It is the model that is wrong there, or a reading."
        )
    if found.ratios and found.ratios.undefined:
        yield (
            f"{counted(found.ratios.undefined)} without an LR: neither proposition can explain"
            " what was found."
        )


def _sources(found: Evaluation) -> Iterator[str]:
    if not found.answers:
        return
    count = found.answers.sources
    if count < SOURCES and found.answers.accuracy.low is not None:
        yield (
            f"Only {counted(count, 'source')}: the 95% bands are drawn from so few that they are"
            " too narrow. Take them for the least doubt there is."
        )
    if found.how.without_group:
        which = (
            "Each piece counts"
            if found.answers.pieces == count
            else (f"{counted(found.how.without_group)} without a group, each of which counts")
        )
        yield (
            f"{which} as a source of its own. Pieces of one collection look alike, so if some are,"
            " name it in the column `group`: the figures may flatter."
        )


def _few(found: Evaluation, label: str) -> Iterator[str]:
    absent = [state_name(found, s) for s in found.states if not s.pieces]
    if absent:
        yield (
            f"No piece of the set is {_any(absent)}; of how the model treats such a {label} the"
            " figures say nothing."
        )
    few = [s for s in found.states if 0 < s.pieces < FEW]
    if few:
        named = ", ".join(f"{state_name(found, s)} {s.pieces}" for s in few)
        worst = max(100 / s.pieces for s in few)
        yield (
            f"Few pieces of {named}: their own figures say little, since one piece moves"
            f" a share by up to {worst:.0f} points."
        )
    thin = [s for s in found.states if s.learned_from is not None and s.learned_from < LEARNED]
    if thin:
        named = ", ".join(f"{state_name(found, s)} {s.learned_from}" for s in thin)
        yield (
            f"Learned from fewer than {LEARNED} pieces in some part: {named}; there it is the"
            " model's prior that speaks."
        )


def odd_said(found: Evaluation, odd: OddValue) -> str:
    """Return an odd value in words: which, how far off, and where it stands."""
    label = found.nodes[odd.node].label.lower()
    measure = f"{label} ({odd.measure})" if odd.measure else label
    kind = " and ".join(found.nodes[node].states[state].label for node, state in odd.kind.items())
    among = f" of {kind}" if kind else ""
    return (
        f"{odd.piece}, line {odd.line}, {measure} {odd.value:g} where {odd.others} others{among}"
        f" have {odd.middle:.3g} ± {odd.spread:.2g}"
    )


def _unseen(found: Evaluation) -> str:
    parts = []
    for unseen in found.unseen[:NAMED]:
        node = found.nodes[unseen.node]
        parts.append(f"{node.label.lower()} {_any([node.states[s].label for s in unseen.states])}")
    more = len(found.unseen) - len(parts)
    return "; ".join(
        [*parts, *([f"and states of {counted(more, 'more node')}"] if more > 0 else [])]
    )


def _any(words: Sequence[str]) -> str:
    shown = list(words[:NAMED])
    if len(words) > NAMED:
        return f"{', '.join(shown)} or {len(words) - NAMED} others"
    return f"{', '.join(shown[:-1])} or {shown[-1]}" if len(shown) > 1 else shown[0]


def _some(names: Sequence[str]) -> str:
    shown = ", ".join(names[:NAMED])
    more = len(names) - NAMED
    return f"{counted(len(names))} ({shown}{f' and {more} more' if more > 0 else ''})"


def counted(count: int, what: str = "piece") -> str:
    """Return a count with its noun: `1 piece`, `12,000 pieces`."""
    return f"{count:,} {what}{'' if count == 1 else 's'}"


def _band(figure: Figure, shown: Callable[[float], str]) -> str:
    if figure.low is None or figure.high is None:
        return ""
    return f", 95% band {shown(figure.low)} to {shown(figure.high)}"


def _three(value: float) -> str:
    return f"{value:.3f}"


def share_right(right: int, pieces: int) -> str:
    """Return a share that was counted: all and none are what they are, and no probability."""
    if right in {0, pieces}:
        return "all" if right else "none"
    return percent(right / pieces)


def _points(value: float) -> str:
    return f"{100 * value:.1f} points"


def state_name(found: Evaluation, state: StateFigures) -> str:
    """Return the label of a state of the question."""
    return label_of(found.nodes, f"{found.question}={state.state}")
