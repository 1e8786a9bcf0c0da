"""What a plain install brings in, and its licences, as the installed metadata say."""

import re
import tomllib
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).parents[1]
BINDS = re.compile(r"GPL|General Public|Affero|SSPL|-NC\b|BUSL|EUPL|OSL-|CPAL", re.IGNORECASE)


def plain(name):
    return re.sub(r"[-_.]+", "-", name).lower()


def asked_for():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return {plain(Requirement(line).name) for line in project["dependencies"]}


def installed(names):
    """Return the distributions that *names* bring in, themselves included."""
    found, waiting = {}, list(names)
    while waiting:
        name = plain(waiting.pop())
        if name in found:
            continue
        try:
            found[name] = distribution(name)
        except PackageNotFoundError:  # asked for on another system only
            continue
        for line in found[name].requires or []:
            wanted = Requirement(line)
            if wanted.marker is None or wanted.marker.evaluate({"extra": ""}):
                waiting.append(wanted.name)
    return found


def licence(found):
    said = found.metadata
    kinds = [k for k in said.get_all("Classifier") or [] if k.startswith("License")]
    return " ".join(
        [said.get("License-Expression") or "", *kinds, (said.get("License") or "")[:80]]
    )


def binds(said):
    """Return whether a licence binds whoever uses what is under it, as far as its name tells."""
    return bool(BINDS.search(said))
