"""Fuzzing that is guided by what the code did: `python guided.py FOLDER SECONDS READER`.

Needs `atheris`, which no test of the routine suite has. In the folder it keeps inputs that reach
new lines of claywit, its `log`, and the first input over which the reader does not keep its word,
which ends it.
"""

import json
import os
import sys
import warnings
from dataclasses import replace
from pathlib import Path
from random import Random

import atheris
import yaml

sys.path.insert(0, str(Path(__file__).parents[1]))
with atheris.instrument_imports(include=["claywit"], enable_loader_override=False):
    from mutants import mutant
    from readers import SLOWEST, reader, told

INSTRUMENTED = 4.0  # how much longer a file takes while each line is noted, at most
BOMBS = (b"*", b"<<", b"[[[[[[[[", b"{{{{{{{{")  # a tree that must not be walked to be altered


def main(folder: Path, seconds: str, name: str) -> None:
    """Fuzz a reader for so many seconds, and end the process."""
    warnings.simplefilter("ignore")
    kept = folder / "kept"
    kept.mkdir(parents=True)
    which = reader(name)
    os.dup2(os.open(folder / "log", os.O_WRONLY | os.O_CREAT), 2)
    for i, whole in enumerate(which.whole):
        (kept / f"whole-{i}").write_bytes(whole)
    words, given = folder / "words", []
    if which.words:  # a file without any ends it
        words.write_text("".join(f'"{_quoted(word)}"\n' for word in which.words), encoding="ascii")
        given = [f"-dict={words}"]
    longest = max(20_000, 2 * max(map(len, which.whole)))
    # Of the wall clock; `told` counts the processor's time.
    options = [*given, f"-max_total_time={seconds}", f"-max_len={longest}", "-rss_limit_mb=1500",
               "-timeout=600", "-seed=8", "-print_final_stats=1", f"-artifact_prefix={folder}/"]  # fmt: skip
    atheris.Setup(
        [sys.argv[0], *options, str(kept)],
        lambda content: told(which, content, slowest=INSTRUMENTED * SLOWEST),
        custom_mutator=lambda content, most, seed: _altered(which, content, most, seed),
    )
    atheris.Fuzz()


def _altered(which, content, most, seed):
    """Return *content* altered as the fuzzer does it, or by parts of its tree and its words."""
    rng = Random(seed)  # noqa: S311 - given by the fuzzer, from a seed in sight
    if rng.random() < 0.5 or (which.tree and any(bomb in content for bomb in BOMBS)):
        return atheris.Mutate(content, most)
    try:
        return mutant(rng, replace(which, whole=(content, rng.choice(which.whole))))[:most]
    except (ValueError, IndexError, RecursionError, yaml.YAMLError, json.JSONDecodeError):
        return atheris.Mutate(content, most)  # what has no tree any more


def _quoted(word: bytes) -> str:
    return "".join(f"\\x{byte:02x}" for byte in word)


if __name__ == "__main__":
    main(Path(sys.argv[1]), *sys.argv[2:])
