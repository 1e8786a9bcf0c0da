"""The largest files that are read, each in a process of its own, take bounded room."""

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest
from made import ROOT
from trials import LONG

MEASURE = """
import sys, re, warnings
warnings.simplefilter("ignore")
from pathlib import Path
from readers import reader
import test_readers_room as room
from claywit.errors import ClaywitError
which = reader(sys.argv[1])
before = int(re.search(r"VmRSS:\\s+(\\d+)", Path("/proc/self/status").read_text())[1])
Path("/proc/self/clear_refs").write_text("5")
content = room.BOMBS[sys.argv[2]][1]()
try:
    error = bool(which.read(content) is None)
except ClaywitError:
    error = True
peak = int(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1])
print((peak - before) // 1024, error)
"""


def _parquet_bomb():
    import pyarrow as pa
    import pyarrow.parquet as pq

    stream = io.BytesIO()
    count = 3_000_000
    table = pa.table(
        {
            "id": pa.array(["x" * 900] * count).dictionary_encode(),
            "rim": pa.array(["flat"] * count).dictionary_encode(),
        }
    )
    pq.write_table(table, stream, compression="gzip", row_group_size=count)
    return stream.getvalue()


MOST = 600  # MB that the largest file which is read may take beside the interpreter
BOMBS = {
    "4 MB of empty lists (YAML)": ("model (YAML)", lambda: b"a: [" + b"[]," * 1_300_000 + b"[]]\n"),
    "4 MB of keys (YAML)": ("evidence (YAML)", lambda: b"".join(b"k%d: 1\n" % i for i in range(330_000))),
    "4 MB of empty lists (JSON)": ("model (JSON)", lambda: b'{"a":[' + b"[]," * 1_300_000 + b"[]]}"),
    "4 MB of elements (XML)": ("model (XMLBIF)", lambda: b"<BIF><NETWORK>" + b"<PROPERTY/>" * 330_000 + b"</NETWORK></BIF>"),
    "4 MB of words (BIF)": ("model (BIF)", lambda: b"network n { property " + b"a " * 1_900_000 + b"; }\n"),
    "4 MB of numbers (UAI)": ("model (UAI)", lambda: b"BAYES\n" + b"2 " * 1_900_000 + b"\n"),
    "16 MB of empty lists (certificate)": ("certificate", lambda: b'{"a":[' + b"[]," * 5_300_000 + b"[]]}"),
    "50 MB of JSONL": ("pieces (JSONL)", lambda: b"".join(b'{"id": "p-%d", "rim": "flat"}\n' % i for i in range(1_600_000))),
    "3,000,000 pieces in 20 kB (Parquet)": ("pieces (Parquet)", _parquet_bomb),
}  # fmt: skip


@pytest.mark.skipif(not LONG or sys.platform != "linux", reason="takes long; the peak is in /proc")
@pytest.mark.parametrize("what", BOMBS)
def test_the_largest_files_that_are_read_take_bounded_room(what, tried):
    path = os.pathsep.join((str(ROOT / "src"), str(ROOT / "tests"), str(Path(__file__).parent)))
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, BOMBS[what][0], what], capture_output=True, text=True,
        check=True, env={**os.environ, "PYTHONPATH": path},
    )  # fmt: skip
    megabytes, refused = done.stdout.split()
    assert int(megabytes) < MOST
    tried(what, 1, f"{'refused' if refused == 'True' else 'read'}, {megabytes} MB")
