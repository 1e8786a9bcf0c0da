"""Pinned versions held against advisories that are handed in: `make audit ADVISORIES=FILE`.

For a machine that reaches no service. FILE holds advisories in the OSV format of the Open Source
Security Foundation (ossf.github.io/osv-schema): one as JSON, a list of them, or a zip of many, as
OSV hands them out for PyPI. Ends with 1 if a pinned version is affected, with 2 if the file says
nothing that could be held against anything.
"""

import json
import re
import sys
import zipfile
from pathlib import Path

from packaging.version import InvalidVersion, Version


def advisories(path):
    """Yield each advisory of a file."""
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as packed:
            for name in packed.namelist():
                if name.endswith(".json"):
                    yield json.loads(packed.read(name))
        return
    held = json.loads(Path(path).read_text(encoding="utf-8"))
    yield from held if isinstance(held, list) else [held]


def pinned(text):
    """Return the version of each `name==version` line, by its plain name."""
    lines = (line.partition("#")[0].partition(";")[0].strip() for line in text.splitlines())
    return {plain(name): Version(version) for name, _, version in
            (line.partition("==") for line in lines if "==" in line)}  # fmt: skip


def plain(name):
    """Return the name of a package as PEP 503 compares it."""
    return re.sub(r"[-_.]+", "-", name.split("[")[0].strip()).lower()


def affected(advisory, pins):
    """Yield the pinned packages that an advisory names with their very version."""
    for one in advisory.get("affected", ()) if "withdrawn" not in advisory else ():
        package = one.get("package", {})
        name = plain(package.get("name", ""))
        if package.get("ecosystem") == "PyPI" and name in pins and _hit(one, pins[name]):
            yield name


def _hit(one, version):
    if any(_version(text) == version for text in one.get("versions", ())):
        return True
    ranges = (r["events"] for r in one.get("ranges", ()) if r.get("type") == "ECOSYSTEM")
    return any(_within(events, version) for events in ranges)


def _within(events, version):
    """Return whether the last event up to *version* began or ended the weakness."""
    weak = False
    known = [(_version(text), kind) for event in events for kind, text in event.items()]
    for at, kind in sorted(known, key=lambda found: (found[0], found[1] == "introduced")):
        if kind == "introduced" and at <= version:
            weak = True
        if (kind == "fixed" and at <= version) or (kind == "last_affected" and at < version):
            weak = False
    return weak


def _version(text):
    try:
        return Version(text)
    except InvalidVersion:  # of a time before PEP 440; no pinned one is such
        return Version("0.dev0")


def main(path, constraints):
    """Print what is affected, and return the status."""
    pins, told, found = pinned(Path(constraints).read_text(encoding="utf-8")), 0, 0
    for advisory in advisories(path):
        told += any(
            a.get("package", {}).get("ecosystem") == "PyPI" for a in advisory.get("affected", ())
        )
        for name in affected(advisory, pins):
            found += 1
            print(f"{name} {pins[name]}: {advisory['id']} {advisory.get('summary', '')}".rstrip())  # noqa: T201
    print(f"{len(pins)} pinned versions, {told:,} advisories on PyPI, {found} affected")  # noqa: T201
    return 2 if not (told and pins) else int(found > 0)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
