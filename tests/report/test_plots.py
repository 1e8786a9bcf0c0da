"""The pictures lie where the figures say."""

import re

import numpy as np
import pytest

from claywit.learning import evaluation
from claywit.learning.scoring import Scored
from claywit.report.charts import ticks_of
from claywit.report.figures import answer_figures, ratio_figures
from claywit.report.plots import abstention_plot, entropy_plot, reliability_plot, tippett_plot


def scored(seed=1, pieces=80, states=3, spread=2.0):
    rng = np.random.default_rng(seed)
    truth = rng.integers(0, states, pieces)
    logits = spread * rng.standard_normal((pieces, states)) + 2 * np.eye(states)[truth]
    log_p = logits - np.logaddexp.reduce(logits, axis=1)[:, np.newaxis]
    names = tuple(f"p{i:03d}" for i in range(pieces))
    prior = np.full_like(log_p, -np.log(states))
    log_lr = log_p[:, 0] - np.logaddexp(log_p[:, 1], log_p[:, 2]) + np.log(2)
    return Scored(("a", "b", "c"), names, ("",) * pieces, truth, log_p, prior, log_lr,
                  np.where(truth == 0, 1, 2), ())  # fmt: skip


ANSWERS = answer_figures(evaluation.answers(scored(), np.random.default_rng(1)))
RATIOS = ratio_figures(evaluation.likelihood_ratios(scored(), np.random.default_rng(1)))
PLOTS = [
    reliability_plot(ANSWERS),
    abstention_plot(ANSWERS),
    tippett_plot(RATIOS),
    entropy_plot(RATIOS),
]


def points(path):
    return np.array([[float(v) for v in pair.split()] for pair in re.split("[ML]", path)[1:]])


@pytest.mark.parametrize("plot", PLOTS, ids=lambda plot: plot.name)
def test_every_mark_lies_inside_the_frame(plot):
    for line in plot.lines:
        x, y = points(line.path).T
        assert plot.left <= x.min() <= x.max() <= plot.right
        assert plot.top <= y.min() <= y.max() <= plot.bottom
    for mark in plot.marks:
        assert plot.left <= mark.x <= plot.right
        assert plot.top <= mark.y <= plot.bottom
    for block in plot.blocks:
        assert block.width > 0
        assert block.height > 0


def test_a_point_of_the_reliability_diagram_lies_above_the_line_when_more_is_right_than_said():
    plot = PLOTS[0]
    (x0, y0), (x1, y1) = points(plot.lines[0].path)
    for mark, b in zip(plot.marks, ANSWERS.reliability, strict=True):
        on_line = y0 + (mark.x - x0) * (y1 - y0) / (x1 - x0)
        assert (mark.y < on_line - 0.2) == (b.right / b.pieces > b.said + 0.001) or abs(
            mark.y - on_line
        ) < 1


def test_the_tippett_curves_cross_even_at_the_share_that_is_not_misleading():
    plot = PLOTS[2]
    zero = points(plot.lines[0].path)[0][0]
    for line, lrs in zip(plot.lines[1:], (RATIOS.lr_for, RATIOS.lr_against), strict=True):
        path = points(line.path)
        at = path[path[:, 0] <= zero][-1][1]
        share = (plot.bottom - at) / (plot.bottom - plot.top)
        assert share == pytest.approx(np.mean([b > 0 for b in lrs]), abs=0.01)


def test_the_curves_fall_or_rise_as_they_must():
    for line in PLOTS[2].lines[1:]:
        assert (np.diff(points(line.path)[:, 1]) >= 0).all()  # down the page
    given, best = (
        next(line for line in PLOTS[3].lines if line.name == n) for n in ("as given", "at best")
    )
    assert (points(best.path)[:, 1] >= points(given.path)[:, 1] - 0.1).all()


def test_lrs_without_limit_are_drawn_at_the_edge():
    far = scored()
    far.log_lr[:2] = np.inf, -np.inf
    found = ratio_figures(evaluation.likelihood_ratios(far, np.random.default_rng(1)))
    every = [*found.lr_for, *found.lr_against]
    assert max(every) == 300
    assert min(every) == -300
    plot = tippett_plot(found)
    assert all(np.isfinite(points(line.path)).all() for line in plot.lines)
    entropy_plot(found)


@pytest.mark.parametrize(("low", "high"), [(-3, 5), (-1, 1), (0, 17), (-40, 3), (-1, 4 * 10**9)])
def test_an_axis_has_a_handful_of_lines_however_far_it_goes(low, high):
    ticks = ticks_of(low, high, float)
    assert 2 <= len(ticks) <= 10
    assert "even" in [tick.label for tick in ticks]
    assert all(low <= tick.x <= high for tick in ticks)
