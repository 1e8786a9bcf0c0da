"""Fuzzing that is guided by what the code did: `python guided.py READER SECONDS [FOLDER]`.

Needs `atheris`, which no test of the routine suite has. It keeps inputs that reach new lines of
claywit, and ends with an error at the first input over which a reader does not keep its word;
the input is then in the file that it names.
"""

import sys
import tempfile
import warnings
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).parents[1]))
with atheris.instrument_imports(include=["claywit"], enable_loader_override=False):
    from readers import reader, told


def main() -> None:
    """Fuzz the reader that the first argument names, for as many seconds as the second says."""
    warnings.simplefilter("ignore")
    which = reader(sys.argv[1])
    folder = Path(sys.argv[3] if len(sys.argv) > 3 else tempfile.mkdtemp())
    folder.mkdir(exist_ok=True)
    for i, whole in enumerate(which.whole):
        (folder / f"whole-{i}").write_bytes(whole)
    words = folder.with_suffix(".words")
    words.write_text("".join(f'"{_quoted(word)}"\n' for word in which.words), encoding="ascii")
    options = [f"-max_total_time={sys.argv[2]}", f"-dict={words}", "-max_len=20000", "-rss_limit_mb=1500",
               "-timeout=20", "-seed=8", "-print_final_stats=1", f"-artifact_prefix={folder.parent}/"]  # fmt: skip
    atheris.Setup([sys.argv[0], *options, str(folder)], lambda content: told(which, content))
    atheris.Fuzz()


def _quoted(word: bytes) -> str:
    return "".join(f"\\x{byte:02x}" for byte in word)


if __name__ == "__main__":
    main()
