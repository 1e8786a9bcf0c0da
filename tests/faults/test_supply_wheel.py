"""What is shipped: a wheel that comes out the same wherever it is built, and holds what it must."""

import base64
import os
import shutil
import subprocess
import sys
import tarfile
import zipfile
from hashlib import sha256
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PARTS = ("src", "models", "evidence_examples", "case_files", "docs", "LICENSE", "README.md", "pyproject.toml",
         "DEVELOPERS.md", "constraints.txt", "Makefile", ".gitignore")  # fmt: skip
FIRST = {"TZ": "UTC", "PYTHONHASHSEED": "1", "LC_ALL": "C"}
SECOND = {"TZ": "Pacific/Apia", "PYTHONHASHSEED": "2", "LC_ALL": "C.UTF-8"}


def build(tree, kind, to, env, umask=0o022):
    done = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "--target", kind, "--directory", to],
        cwd=tree, env=os.environ | env, umask=umask, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    (made,) = to.iterdir()
    return made


def copied(to, mode):
    to.mkdir(parents=True)
    for part in PARTS:
        path = ROOT / part
        if path.is_dir():
            shutil.copytree(
                path, to / part, ignore=shutil.ignore_patterns("__pycache__", "*.egg-info")
            )
        else:
            shutil.copy(path, to / part)
    for path in to.rglob("*"):  # as another machine's clone has them
        os.utime(path, (1e9 + mode, 1e9 + mode))
        path.chmod(mode | 0o100 if path.is_dir() else mode)
    return to


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Return a wheel built thrice: in two unlike places, and out of the source archive."""
    here = tmp_path_factory.mktemp("here")
    one = copied(here / "one", 0o644)
    two = copied(here / "deeper" / "in" / "two", 0o600)
    for folder in ("a", "b", "c", "d"):
        (here / folder).mkdir()
    first = build(one, "wheel", here / "a", FIRST)
    second = build(two, "wheel", here / "b", SECOND, 0o077)
    archive = build(two, "sdist", here / "c", SECOND)
    with tarfile.open(archive) as packed:
        packed.extractall(here / "out", filter="data")
    (tree,) = (here / "out").iterdir()
    return first, second, build(tree, "wheel", here / "d", FIRST), archive


def names(wheel):
    with zipfile.ZipFile(wheel) as packed:
        return set(packed.namelist())


def test_a_wheel_has_the_same_bytes_wherever_it_is_built(made, tried):
    digests = {sha256(wheel.read_bytes()).hexdigest() for wheel in made[:3]}
    assert len(digests) == 1
    tried(
        "the wheel built in two places and out of the source archive", 3,
        f"{len(digests)} file, byte for byte",
    )  # fmt: skip


def test_it_is_small_and_holds_what_runs_and_the_licence_and_nothing_else(made, tried):
    size, held = made[0].stat().st_size, names(made[0])
    assert size < 2_000_000
    source = {
        path.relative_to(ROOT / "src").as_posix()
        for path in (ROOT / "src").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts and "egg-info" not in str(path)
    }
    info = {name for name in held if ".dist-info/" in name}
    assert held - info == source | {"claywit/data/oskervane.yaml"}
    assert {name.rpartition("dist-info/")[2] for name in info} == {
        "METADATA", "WHEEL", "RECORD", "entry_points.txt", "licenses/LICENSE",
    }  # fmt: skip
    tried(
        "files of the wheel",
        len(held),
        f"the source, the demonstration, the licence; {size / 1e6:.2f} MB of 2 MB",
    )


def test_its_record_names_each_file_with_its_digest(made):
    with zipfile.ZipFile(made[0]) as packed:
        (name,) = [n for n in packed.namelist() if n.endswith("RECORD")]
        rows = [line.split(",") for line in packed.read(name).decode().splitlines()]
        for path, digest, size in rows:
            if path != name:
                content = packed.read(path)
                said = base64.urlsafe_b64encode(sha256(content).digest()).rstrip(b"=").decode()
                assert (digest, int(size)) == (f"sha256={said}", len(content))
    assert {row[0] for row in rows} == names(made[0])


def test_no_place_of_the_machine_that_built_it_is_in_it(made):
    with zipfile.ZipFile(made[0]) as packed:
        for name in packed.namelist():
            assert str(made[0].parents[1]).encode() not in packed.read(name), name
            assert str(ROOT).encode() not in packed.read(name), name


def test_the_source_archive_holds_no_key_and_nothing_hidden(made):
    with tarfile.open(made[3]) as packed:
        held = [Path(*Path(member.name).parts[1:]) for member in packed.getmembers()]
    hidden = [p for p in held if any(part.startswith(".") for part in p.parts)]
    assert hidden == [Path(".gitignore")]
    assert not [p for p in held if p.suffix in (".key", ".pem", ".db")]
