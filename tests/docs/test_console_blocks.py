"""Every console block in the README and the tutorials is run, and prints what it shows."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from golden import REWRITE
from patience import HANGS

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("tutorial*.md")),
         *sorted((ROOT / "docs" / "how-to").glob("*.md"))]  # fmt: skip
BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)


def run(command, folder):
    """Return what a command prints, errors included, as on a terminal 100 columns wide."""
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    environment = {
        **os.environ,
        "PATH": path,
        "COLUMNS": "100",
        "NO_COLOR": "1",
        "LC_ALL": "C.UTF-8",
    }
    done = subprocess.run(
        command, shell=True, cwd=folder, env=environment, check=False, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=HANGS,
    )  # fmt: skip
    return "\n".join(line.rstrip() for line in done.stdout.splitlines()).rstrip("\n")


def replay(block, folder):
    """Return *block* with the output of each of its commands made anew."""
    lines, command = [], ""
    waiting = block.splitlines()
    for i, line in enumerate(waiting):
        if line.startswith("$ ") or (line.startswith("> ") and command):
            lines.append(line)
            command += f"{line[2:]}\n"
            if not "".join(waiting[i + 1 : i + 2]).startswith("> "):
                lines += run(command, folder).splitlines()
                command = ""
    return "\n".join(lines) + "\n"


@pytest.fixture
def bench(tmp_path):
    """A folder that looks like a clone, in which commands may write."""
    for name in ("models", "evidence_examples", "case_files"):
        shutil.copytree(ROOT / name, tmp_path / name)
    return tmp_path


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_console_block_prints_what_the_page_shows(page, bench):
    text = page.read_text(encoding="utf-8")
    blocks = BLOCK.findall(text)
    if page.name == "README.md" or page.name.startswith("tutorial"):
        assert blocks, "the page shows no command"
    for block in blocks:
        fresh = replay(block, bench)
        if REWRITE:
            text = text.replace(block, fresh)
        else:
            assert fresh == block
    if REWRITE:
        page.write_text(text, encoding="utf-8")
