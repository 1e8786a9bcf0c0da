"""Files of pieces, of counts and of readings, and how they are read."""

import io
import json
from functools import cache

from reading import FOLDER, put

from claywit.records.cases import read_cases
from claywit.records.readings import read_readings
from claywit.records.rejects import Rejects


def cases(name, known):
    """Read a file of pieces as `claywit fit` does with --rejects."""

    def read(content):
        path, noted = put(name, content), FOLDER / "rejects.csv"
        with Rejects(noted) as rejects:
            blocks = list(read_cases(path, known, rejects))
        lines = noted.read_text(encoding="utf-8")
        assert lines.count("\n") > rejects.account.rejected, "a reject was lost"
        pieces = [
            (block.names[i], block.groups[i], repr(block.findings(i)))
            for block in blocks for i in range(len(block))
        ]  # fmt: skip
        return pieces, rejects.account

    return read


PIECES = [
    {"id": "p-1", "group": "g1", "shop": "north", "rim": "flat", "mark": "stroke"},
    {"id": "p-2", "group": "g1", "rim": {"state": "bevelled", "sure": 0.9}, "wear": "much"},
    {
        "id": "p-3",
        "group": "",
        "shop": "south",
        "rim": {"likelihood": {"flat": 1, "bevelled": 0.2}},
    },
]
CSV = (
    b"id,group,shop,rim,rim.sure,mark\np-1,g1,north,flat,,stroke\np-2,g1,,bevelled,0.9,\n"
    b"p-3,,south,flat,0.75,absent\n",
    b'\xef\xbb\xbfid;#note;rim;seal\r\np-1;"two\r\nlines; of it";flat;absent\r\np-2;;bevelled;pressed\r\n',
    b'id,wear,mark\n"p-1",much,"stroke"\n"p-2","little",absent\n"p-3",,\n',
)
MEASURED = (
    b"id,r,size,size.u\np-1,a,5.25 mm,0.1 mm\np-2,,6.125 mm,\np-3,b,,\n",
    b"id\tsize.above\tsize.below\np-1\t5 mm\t\np-2\t\t12.5 mm\n",
    b'id,size.h\n"p-1","5.5 mm"\n"p-2",6 mm\n',
)
JSONL = tuple(
    "".join(json.dumps(one, ensure_ascii=False) + "\n" for one in pieces).encode()
    for pieces in (PIECES, PIECES[:1], [{"id": 7, "#note": "…", "wear": None}, *PIECES[1:]])
)


@cache
def parquet():
    import pyarrow as pa
    import pyarrow.parquet as pq

    files = []
    for columns, more in (
        ({"id": ["p-1", "p-2"], "rim": ["flat", None], "mark": ["stroke", "absent"]}, {}),
        ({"id": ["p-1", "p-2"], "group": ["a", "a"], "rim.sure": [0.9, None], "rim": ["flat"] * 2},
         {"compression": "gzip", "row_group_size": 1}),
        ({"id": [1, 2, 3], "wear": ["much", "little", "much"]},
         {"compression": "none", "use_dictionary": False}),
    ):  # fmt: skip
        stream = io.BytesIO()
        pq.write_table(pa.table(columns), stream, **more)
        files.append(stream.getvalue())
    return tuple(files)


def readings(content):
    with Rejects(FOLDER / "rejects.csv") as rejects:
        found = read_readings(put("readings.csv", content), None, rejects)
        return [repr(one) for one in found.traits()], rejects.account
