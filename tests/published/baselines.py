"""Published sets of real pieces, and how the learners of scikit-learn do on them."""

import csv
from functools import cache
from pathlib import Path

import numpy as np
from sklearn.naive_bayes import CategoricalNB

from claywit.evidence.cases import joined
from claywit.learning.folds import in_parts, one_out
from claywit.measuring import Plan, measure
from claywit.records import files
from claywit.records.cases import read_cases

HERE = Path(__file__).parent
ROOT = HERE.parents[1]


@cache
def model(name):
    return files.read_model(ROOT / "models" / f"{name}.yaml")


@cache
def cases(name):
    return joined(model(name), read_cases(ROOT / "case_files" / f"{name}.csv", model(name)))


@cache
def measured(name, **plan):
    return measure(model(name), cases(name), Plan(**plan))


def rows(name):
    with (HERE / f"{name}.csv").open(encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def judged(p, truth):
    """Return what is right, the log score clipped at 1e-15, and the Brier score."""
    given = p[np.arange(len(truth)), truth]
    brier = ((p - np.eye(p.shape[1])[truth]) ** 2).sum(axis=1).mean()
    return (
        int((p.argmax(axis=1) == truth).sum()),
        float(-np.log(np.clip(given, 1e-15, 1)).mean()),
        float(brier),
    )


OXIDES = {"Al2O3": "alumina", "Fe2O3": "iron_oxide", "MgO": "magnesia", "CaO": "lime", "Na2O": "soda",
          "K2O": "potash", "TiO2": "titania", "MnO": "manganese_oxide", "BaO": "baria"}  # fmt: skip


@cache
def pots(question, kind, parts=None):
    """Return the scores of a learner of scikit-learn, one pot left out at a time, or in *parts*."""
    pieces = cases("romano-british")
    truth = pieces.codes[question].astype(int)
    folds = (
        in_parts(pieces.groups, pieces.names, truth, count=parts, seed=1)
        if parts
        else one_out(pieces.groups, pieces.names)
    )
    x = np.concatenate([pieces.values[node] for node in OXIDES.values()], axis=1)
    p = np.zeros((len(x), truth.max() + 1))
    for fold in folds:
        fitted = kind().fit(x[fold.learn], truth[fold.learn])
        p[np.ix_(fold.judge, fitted.classes_)] = fitted.predict_proba(x[fold.judge])
    return judged(p, truth)


TRAITS = ("Blade.Sh", "Base.Sh", "Should.Sh", "Should.Or", "Haft.Sh", "Haft.Or")


@cache
def points():
    """Return the scores of categorical naive Bayes (alpha 1), one point left out at a time.

    A gap says nothing: each trait is learned from the points that have it, and adds its logs.
    """
    table = rows("dart_points")
    names = sorted({row["Name"] for row in table})
    truth = np.array([names.index(row["Name"]) for row in table])
    levels = {t: sorted({row[t] for row in table} - {""}) for t in TRAITS}
    codes = {
        t: np.array([levels[t].index(row[t]) if row[t] else -1 for row in table]) for t in TRAITS
    }
    p = np.zeros((len(table), len(names)))
    for i in range(len(table)):
        rest = np.arange(len(table)) != i
        logs = np.log(np.bincount(truth[rest], minlength=len(names)) + 1.0)
        for trait in TRAITS:
            if codes[trait][i] >= 0:
                seen = rest & (codes[trait] >= 0)
                bayes = CategoricalNB(alpha=1, min_categories=len(levels[trait]))
                bayes.fit(codes[trait][seen, np.newaxis], truth[seen])
                logs += bayes.feature_log_prob_[0][:, codes[trait][i]]
        p[i] = np.exp(logs - logs.max())
        p[i] /= p[i].sum()
    return judged(p, truth)
