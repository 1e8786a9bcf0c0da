"""The templates of the pages; every value put into one is escaped."""

from functools import cache
from typing import TYPE_CHECKING

from claywit.model.dates import period
from claywit.report.numbers import percent, row_part, signed_bans

if TYPE_CHECKING:
    from jinja2 import Template


@cache
def template(name: str) -> "Template":
    """Return the template of that name, loaded once."""
    from jinja2 import Environment, PackageLoader, StrictUndefined  # few answers become pages

    environment = Environment(
        loader=PackageLoader("claywit.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "row_part": row_part,
        "percent": percent,
        "bans": signed_bans,
        "period": period,
    }
    return environment.get_template(name)
