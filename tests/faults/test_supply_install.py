"""What a plain install brings along: all of it fits, and none of it binds its user."""

import re
import subprocess
import sys
from importlib.metadata import PackageNotFoundError, distributions, version
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from supply import asked_for, binds, installed, licence
from trials import LONG

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "reference" / "dependencies.md").read_text(encoding="utf-8")
BUNDLED = re.compile(r"([\w.-]+)\.libs/(lib[a-zA-Z_0-9]+?)(?:[-.]|64)")
# Compiled parts in the wheels of others that are under the GPL with an exception, or the LGPL.
COPYLEFT = ("libgfortran", "libgomp", "libquadmath")


def unmet(found):
    """Return what *found*, some distributions, ask for and do not have."""
    wrong = []
    for name, held in found.items():
        for line in held.requires or []:
            wanted = Requirement(line)
            if wanted.marker is not None and not wanted.marker.evaluate({"extra": ""}):
                continue
            try:
                fits = wanted.specifier.contains(version(wanted.name), prereleases=True)
            except PackageNotFoundError:
                fits = False
            if not fits:
                wrong.append(f"{name} wants {line}")
    return wrong


def test_everything_that_is_installed_fits_together(tried):
    every = installed(asked_for())
    assert unmet(every) == []
    if LONG:
        done = subprocess.run(
            [sys.executable, "-m", "pip", "check"], capture_output=True, text=True, check=False
        )
        assert (done.returncode, done.stdout.strip()) == (0, "No broken requirements found.")
    tried(
        "libraries of a plain install held against what each asks for",
        len(every),
        "all fit (`pip check` too)",
    )


class Held:
    requires = ("numpy<1", "nobody-has-this", "numpy>=1", "nothing; python_version < '3'")


def test_and_what_does_not_fit_would_be_found():
    assert unmet({"it": Held}) == ["it wants numpy<1", "it wants nobody-has-this"]


def test_no_licence_of_a_plain_install_binds_its_user(tried):
    every = installed(asked_for())
    bound = [name for name, found in every.items() if binds(licence(found))]
    assert not bound
    tried("licences of a plain install", len(every), "no GPL, no AGPL, no LGPL")


@pytest.mark.parametrize(
    "text",
    ["GPL-3.0-or-later", "AGPL-3.0-only", "GPLv3+", "LGPL-2.1-only", "MIT AND GPL-2.0-only",
     "License :: OSI Approved :: GNU General Public License v3 (GPLv3)",
     "License :: OSI Approved :: GNU Lesser General Public License v2 (LGPLv2)",
     "GNU Affero General Public License v3", "SSPL-1.0", "CC-BY-NC-4.0", "BUSL-1.1", "EUPL-1.2"],
)  # fmt: skip
def test_and_one_that_does_would_be_found(text):
    assert binds(text)


@pytest.mark.parametrize(
    "text", ["MIT", "BSD-3-Clause AND Zlib", "MPL-2.0 AND MIT", "Apache-2.0", "PSF-2.0"]
)
def test_and_no_other(text):
    assert not binds(text)


@pytest.mark.skipif(sys.platform != "linux", reason="wheels of other systems bring other parts")
def test_compiled_parts_under_a_copyleft_licence_are_listed(tried):
    """A wheel's own metadata need not name what was compiled into it."""
    files = [str(f) for held in installed(asked_for()).values() for f in held.files or []]
    parts = {m.groups() for f in files if (m := BUNDLED.search(f))}
    assert len(parts) > 3
    bound = sorted((wheel.replace("_", "-"), lib) for wheel, lib in parts if lib in COPYLEFT)
    for wheel, lib in bound:
        assert re.search(rf"^\| {wheel} \|.*\b{lib}\b", PAGE, re.MULTILINE), (wheel, lib)
    tried(
        "compiled parts inside the wheels of others",
        len(parts),
        f"{len(bound)} under the LGPL or the GPL with its exception, each listed with its reason",
    )


def test_each_library_that_is_installed_is_pinned():
    text = (ROOT / "constraints.txt").read_text(encoding="utf-8")
    pins = {re.sub(r"[-_.]+", "-", line.partition("==")[0]).lower() for line in text.split()}
    assert set(installed(asked_for())) <= pins
    assert all(re.fullmatch(r"[\w.-]+==[\w.]+", line) for line in text.split())
    assert "claywit" in {held.metadata["Name"] for held in distributions()}
