"""What a plain install brings in: each library with a reason, none that binds its user."""

import io
import re
import subprocess
import sys
import tomllib
import zipfile
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "reference" / "dependencies.md"
HEAVY = ("jinja2", "numpy", "pandas", "pgmpy", "PIL", "pydantic", "rich", "scipy", "starlette",
         "typst", "uvicorn", "yaml")  # fmt: skip


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


def test_every_library_that_is_asked_for_has_its_reason_and_licence():
    rows = re.findall(
        r"^\| (\S+) \| (.+) \| (.+) \|$", PAGE.read_text(encoding="utf-8"), re.MULTILINE
    )
    named = {plain(name): said for name, _, said in rows if name not in ("library", "---")}
    assert set(named) == asked_for()
    for name, said in named.items():
        first = re.split(r"[- ]", said)[0]
        assert first.lower() in licence(distribution(name)).lower(), name


def test_nothing_that_comes_along_is_under_a_licence_that_binds_its_user():
    every = installed(asked_for())
    assert len(every) > len(asked_for())
    unsaid = [name for name, found in every.items() if not licence(found).strip()]
    assert not unsaid
    bound = [n for n, f in every.items() if re.search(r"\bA?GPL|General Public", licence(f))]
    assert not bound


def test_a_plain_install_stays_below_900_megabytes():
    files = [f for found in installed(asked_for()).values() for f in found.files or []]
    sizes = [path.stat().st_size for file in files if (path := Path(file.locate())).is_file()]
    assert 100e6 < sum(sizes) < 900e6


def test_the_package_itself_stays_below_two_megabytes():
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in (ROOT / "src").rglob("*"):
            if path.is_file() and "__pycache__" not in path.parts:
                archive.write(path, path.relative_to(ROOT))
    assert 100_000 < packed.tell() < 2_000_000


def test_help_imports_nothing_heavy():
    """So it is there in a blink; how long it takes is measured by `make bench`."""
    code = "import sys, claywit.cli; print('\\n'.join(sys.modules))"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "claywit.cli" in found.stdout.split()
    assert not set(HEAVY) & {name.partition(".")[0] for name in found.stdout.split()}
