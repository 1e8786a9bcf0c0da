"""Files of pieces for a batch, and the rows of its answer."""

import csv

HEAD = "id,group,shop,rim,mark,seal,wear\n"


def pieces(path, count, first=0):
    rims, marks = ("flat", "bevelled", ""), ("absent", "stroke", "", "absent")
    rows = (
        f"p{i},g{i % 3},north,{rims[i % 3]},{marks[i % 4]},,\n" for i in range(first, first + count)
    )
    path.write_text(HEAD + "".join(rows))
    return path


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
