"""The lowest version of each dependency that pyproject.toml allows, one a line as pip takes them.

`make oldest` installs just these, so that a bound that does not work is found.
"""

import re
import tomllib
from pathlib import Path


def lowest(*extras):
    """Return `name==version` of each dependency and of those of the *extras*."""
    text = (Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8")
    project = tomllib.loads(text)["project"]
    listed = [*project["dependencies"]]
    for extra in extras:
        listed += project["optional-dependencies"][extra]
    return [f"{name}=={version}" for name, version in map(_bound, listed)]


def _bound(requirement):
    found = re.fullmatch(r"([A-Za-z0-9_.-]+)>=([0-9.]+)", requirement)
    assert found, f"{requirement}: give it a lower bound, as name>=version"
    return found.groups()


if __name__ == "__main__":
    print("\n".join(lowest("parquet")))  # noqa: T201
