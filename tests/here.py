"""Commands run in this process, which saves the start of one of its own."""

import sys
from types import SimpleNamespace

from claywit.cli import main


def runner(folder, monkeypatch, capsys):
    """Return what runs a command in *folder* and tells of its status and what it printed."""
    monkeypatch.chdir(folder)
    monkeypatch.setattr("claywit.cli.end_on_termination", lambda: None)

    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["claywit", *map(str, arguments)])
        status = 0
        try:
            main()
        except SystemExit as end:
            status = end.code or 0
        said = capsys.readouterr()
        return SimpleNamespace(returncode=status, stdout=said.out, stderr=said.err)

    return run
