"""Every piece judged by a model that was learned without it, and without its source."""

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import Protocol

from claywit.evidence.cases import Cases
from claywit.inference.network import Network
from claywit.learning.fit import fit
from claywit.learning.folds import Fold
from claywit.learning.scoring import Asked, Scored, gathered, score
from claywit.model.schema import Model

Learn = Callable[[Model, Cases], Network]


def learned(model: Model, cases: Cases) -> Network:
    """Return the network of *model* fitted to the *cases*.

    Raises:
        CasesError: as `fit`.
    """
    return fit(model, cases).numbers.network


class RunAll(Protocol):
    """Something that does as `map`: on this machine, or on many."""

    def __call__(
        self, work: Callable[[Fold], Scored], folds: Iterable[Fold], /
    ) -> Iterable[Scored]:
        """Return what *work* makes of each fold, in order."""
        ...


def cross_validate(
    model: Model,
    cases: Cases,
    folds: Sequence[Fold],
    asked: Asked,
    *,
    learn: Learn = learned,
    run_all: RunAll = map,
) -> Scored:
    """Return what was said of the *cases*, each by the model that its fold learned.

    Args:
        model: what is believed before any case is seen.
        cases: pieces whose truth is known.
        folds: the parts, as by `folds`; every piece is judged once.
        asked: the question, and two propositions.
        learn: fits the model to cases; a module's function, so that it can go to other machines.
        run_all: does the folds.
    """
    work = partial(_judge, model, cases, asked, learn)
    return gathered(run_all(work, folds))


def _judge(model: Model, cases: Cases, asked: Asked, learn: Learn, fold: Fold) -> Scored:
    return score(learn(model, cases.take(fold.learn)), cases.take(fold.judge), asked)
