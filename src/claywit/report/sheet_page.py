"""A question sheet to be printed and filled in with a pen."""

from claywit.learning.blank import HOW, SURE, Blank, told
from claywit.report.templating import template


def sheet_page(blank: Blank) -> str:
    """Return the sheet as a page of its own: no script, no request."""
    return template("sheet.html.j2").render(
        title=blank.model.title or blank.model.name,
        model=blank.model,
        expert=blank.expert,
        how=HOW,
        sure=SURE,
        questions=[
            (question, [told(question, state) for state in question.listed])
            for question in blank.questions
        ],
        seeds=blank.seeds,
    )
