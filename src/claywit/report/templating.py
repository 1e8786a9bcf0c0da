"""The templates of the pages; every value put into one is escaped."""

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from claywit.model.dates import period
from claywit.report.numbers import percent, row_part, signed_bans


@cache
def template(name: str) -> Template:
    """Return the template of that name, loaded once."""
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
