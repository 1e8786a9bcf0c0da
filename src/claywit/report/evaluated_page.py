"""An evaluation as one self-contained page: no script, no request, prints well."""

from typing import Any

from claywit.report.evaluated import Evaluation
from claywit.report.evaluated_wording import how_said, odd_said, sides, state_name
from claywit.report.plots import abstention_plot, entropy_plot, reliability_plot, tippett_plot
from claywit.report.templating import template

ODD = 50  # odd values that the page lists


def evaluation_page(found: Evaluation) -> str:
    """Return the evaluation as an HTML page that needs nothing beside it."""
    return template("evaluation.html.j2").render(**evaluation_values(found))


def evaluation_values(found: Evaluation) -> dict[str, Any]:
    """Return what the body of that page, `evaluation_body.html.j2`, is filled with."""
    one, other = sides(found)
    answers, ratios = found.answers, found.ratios
    return {
        "found": found,
        "label": found.nodes[found.question].label,
        "one": one,
        "other": other,
        "how": how_said(found),
        "names": [state_name(found, state) for state in found.states],
        "reliability": reliability_plot(answers) if answers else None,
        "abstention": abstention_plot(answers) if answers else None,
        "tippett": tippett_plot(ratios) if ratios else None,
        "entropy": entropy_plot(ratios) if ratios else None,
        "odd": [odd_said(found, odd) for odd in found.odd[:ODD]],
    }
