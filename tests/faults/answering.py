"""Answers on random data, each with its texts and its plain data: what `fit` and its like say.

A maker takes a generator and a seed, and returns an `Answer`, or raises what the command says.
"""

import io
import json
from dataclasses import dataclass

import learnt
import numpy as np
import yaml
from counted import learn
from sheets import count, party, sheet
from small import model
from spoken import shown_of_page

from claywit.evidence.cases import Cases
from claywit.inference.rehearsal import drawn_among
from claywit.learning.answers import opinions_of
from claywit.learning.cooke import weigh_experts, weights_without_one
from claywit.learning.elicitation import filled, round_n
from claywit.learning.examiners import examine
from claywit.learning.fit import fit
from claywit.learning.moulds import sightings
from claywit.learning.opinions import fit_rows, seeds_of
from claywit.learning.readings import Collected, Reading
from claywit.learning.refit import refitted
from claywit.learning.sheet import read_seeds
from claywit.learning.strays import strays
from claywit.measuring import Plan, measure
from claywit.model.soundness import read_model
from claywit.report.counted import counted
from claywit.report.elicited import elicited
from claywit.report.elicited_text import show_elicited
from claywit.report.evaluated_page import evaluation_page
from claywit.report.evaluated_text import show_evaluation
from claywit.report.examined import CAUTIONS, Examined, trait_read
from claywit.report.examined_text import show_examined
from claywit.report.fitted import Account, fitted
from claywit.report.terminal import plain_console


@dataclass(frozen=True)
class Answer:
    """What was answered: its texts, its plain data, and phrases that rest on more than these."""

    texts: tuple
    data: dict
    phrases: tuple = ()


def printed(show, *answer, **options):
    console = plain_console(width=100, no_color=True, file=io.StringIO())
    show(*answer, console, **options)
    return console.file.getvalue()


def plain(found):
    return json.loads(found.model_dump_json(by_alias=True))


def of_moulds(rng, _):
    many = int(rng.choice([1, 2, 5, 40, 300]))
    often = rng.geometric(float(rng.uniform(0.02, 1)), many)
    if rng.random() < 0.1:
        often = often * int(rng.integers(1, 100_000))
    found = counted("mould", sightings(often.tolist()), int(rng.integers(0, 3)))
    return Answer((found.text(),), plain(found))


def of_a_fit(rng, seed):
    known, read = learnt.random_fit(seed, size=5, count=int(rng.integers(1, 60)))
    if rng.random() < 0.3:
        read = Cases(
            known,
            tuple(f"q-{i}" for i in range(len(read))),
            read.groups,
            read.lines,
            read.codes,
            read.values,
            read.doubts,
            read.special,
        )
    text = yaml.safe_dump(
        known.model_dump(mode="json", by_alias=True, exclude_defaults=True), sort_keys=False
    )
    found = fit(known, read)
    used = read.take(found.used.nonzero()[0])
    new = refitted(text, found, used, ("c.csv", "0" * 64))
    sound = read_model(new.text.encode(), "new.yaml")
    of = Account(
        "c.csv",
        "0" * 64,
        len(read),
        int((~found.used).sum()),
        sound.version,
        sound.status,
        0,
        drawn_among(used.names),
    )
    answer = fitted(found, new, strays(found, read), of)
    return Answer((answer.text(),), plain(answer))


def of_readings(rng, seed):
    states, pieces, people = (
        int(rng.integers(1, 4)),
        int(rng.integers(1, 60)),
        int(rng.integers(1, 5)),
    )
    slips = rng.choice([0.0, 0.003, 0.1, 0.4], people)
    truth = rng.choice(states, pieces, p=rng.dirichlet(np.full(states, 0.4)))
    collected = Collected(None)
    for e in range(people):
        for i in range(pieces):
            read = rng.integers(states) if rng.random() < slips[e] else truth[i]
            name = "truth" if e == 3 else f"E{'abcd'[e]}"
            said = "not_visible" if name != "truth" and rng.random() < 0.03 else f"s{'xyz'[read]}"
            if rng.random() < 0.9:
                collected.add_all([Reading(f"p{i}", name, "rim", said)])
    found = [
        examine(one, seed=seed, prior=float(rng.choice([0.01, 1, 2.5])), ordered=seed % 2 == 0)
        for one in collected.traits()
    ]
    if not found:
        raise NothingReadError
    answer = Examined(
        seed=seed,
        prior=1,
        read=1,
        used=1,
        rejected=0,
        traits=tuple(trait_read(one, None) for one in found),
        cautions=CAUTIONS,
    )
    return Answer((printed(show_examined, answer),), plain(answer))


class NothingReadError(Exception):
    """Nothing was read."""


def of_experts(rng, seed):
    known, texts = model(), []
    seeds = seed % 3 == 0
    experts = ["Edda", "Bruno", "Cato"][: int(rng.integers(1, 4))]
    for name in experts:
        asked = [(node, given, f"{{{state}: {counts(rng)}}}") for node, given, state in
                 (("rim", "{shop: north}", "flat"), ("mark", "{shop: south}", "stroke"), ("seal", "{shop: south}", "pressed"), ("wear", "{}", "much"))
                 if rng.random() < 0.8]  # fmt: skip
        if seed % 5 == 0:
            asked.append(
                (
                    "shop",
                    "{}",
                    f"{{north: {counts(rng, 50)}, south: {counts(rng, 50)}, other: {counts(rng, 50)}}}",
                )
            )
        held = "".join(f"  - {{id: s{k}, lowest: {low:.4g}, best: {best:.4g}, highest: {high:.4g}}}\n" for k, (low, best, high) in
                       enumerate(np.sort(rng.lognormal(3, 0.5, (8, 3)), axis=1)))  # fmt: skip
        texts.append(sheet(asked, expert=name, seeds=f"seeds:\n{held}" if seeds else ""))
    panel = [party(text, f"{name}.yaml") for name, text in zip(experts, texts, strict=True)]
    opinions = [one for each in panel for one in opinions_of(known, each)]
    weights, judged = dict.fromkeys(experts, 1 / len(experts)), None
    if seeds:
        told = read_seeds(SEEDS, "seeds.yaml")
        of = seeds_of(panel, told)
        judged = (weigh_experts(of, None), weights_without_one(of))
        weights = dict(zip(experts, judged[0].weights.tolist(), strict=True))
    answer = elicited(known, opinions, fit_rows(opinions, weights), weights, judged)
    return Answer(
        (printed(show_elicited, answer), printed(show_elicited, answer, review=True)),
        plain(answer),
        tuple(said_of(opinions)),
    )


def said_of(opinions):
    """Yield what may be said of the answers of single experts, which the plain data do not keep."""
    for one in opinions:
        yield f"best guesses add to {one.answer.best_sum:g} of 100; the shares here add to 100"
        margins = dict(zip(one.answer.states, one.alone.margins.tolist(), strict=True))
        for state, n in margins.items():
            if not np.isnan(n):
                label = one.question.label(state)
                yield f"range for {label} is as narrow as {round_n(n):g} pieces would give"
                yield f"for {label} as wide as {round_n(n):g}; the row takes {round_n(one.alone.n):g}"
        for low, _, high in (100 * filled(one.answer.quantiles)).tolist():
            yield f"{one.expert} {low:.0f} to {high:.0f}"


SEEDS = b"format: claywit-seeds/1\nseeds:\n" + b"".join(
    f"  - {{id: s{k}, ask: How many?, truth: {12 + k}}}\n".encode() for k in range(8)
)


def counts(rng, most=100):
    kind = rng.integers(5)
    if kind == 0:
        best = int(rng.integers(0, most + 1))
        return count(max(0, best - 1), best, min(100, best + 1))
    low, best, high = np.sort(rng.choice(np.arange(0, most + 0.5, 0.5), 3, replace=False)).tolist()
    return count(low, best, high)


def of_an_evaluation(rng, seed):
    known = model()
    read = learnt.drawn(known, int(rng.integers(2, 120)), seed, missing=float(rng.choice([0, 0.3])))
    plan = Plan(
        seed=seed,
        folds=4 if seed % 2 and len(read) > 8 else None,
        **({"for_": "shop=south", "against": "shop=north"} if seed % 3 == 0 else {}),
    )
    found = measure(known, read, plan, learn=learn)
    return Answer(
        (printed(show_evaluation, found), *shown_of_page(evaluation_page(found)).values()),
        plain(found),
    )


MAKERS = {
    "answers of `moulds`": of_moulds,
    "answers of `fit`": of_a_fit,
    "answers of `examiners`": of_readings,
    "answers of `elicit`": of_experts,
    "answers of `evaluate`, terminal and page": of_an_evaluation,
}
