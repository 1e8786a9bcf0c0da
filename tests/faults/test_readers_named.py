"""The faults that have a name, one by one: each is refused with its place, at once and in little room."""

import io
import re
import stat
import struct
import zipfile
import zlib

import pytest
from readers import READERS, reader, told
from small import SHOPS

EVIDENCE = "format: claywit-evidence/1\npiece: {id: p-1}\n"
DEEP = 20_000
BOMB = "".join(f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9) if i else 'x'}]\n" for i in range(12))
LAUGHS = "".join(f'<!ENTITY l{i} "{f"&l{i - 1};" * 10 if i else "ha"}">' for i in range(10))
XML = '<?xml version="1.0"?>{}<BIF VERSION="0.3"><NETWORK><NAME>{}</NAME></NETWORK></BIF>\n'
YAML = [name for name in READERS if "(YAML)" in name]
JSON = [
    "model (JSON)",
    "certificate",
    "status list",
    "figures (canonical JSON)",
    "draft of the bench",
    "typed at the bench",
    "request to the bench (JSON)",
]
LINES = ["pieces (JSONL)", "counts (JSONL)"]
TABLES = [name for name in READERS if "(CSV" in name]
TEXTS = [
    *YAML,
    *JSON,
    *LINES,
    *TABLES,
    "model (BIF)",
    "model (XMLBIF)",
    "model (UAI)",
    "head of a log",
]


def whole(name):
    return reader(name).whole[0]


def jsonl(text):
    return f'{{"id": "a", "mould": "M", "rim": {text}}}\n'.encode()


# What it is, in whose files, made of a whole file. `refused` is what all of them must be.
REFUSED = {
    "a bomb of aliases": (YAML, lambda _: BOMB.encode()),
    "a merge key": (YAML, lambda c: c + b"<<: {a: 1}\n"),
    "a tag": (YAML, lambda c: c + b"x: !!python/object/apply:os.system [ls]\n"),
    "20,000 lists in each other (YAML)": (YAML, lambda _: b"[" * DEEP + b"]" * DEEP),
    "20,000 mappings in each other (YAML)": (YAML, lambda _: b"{a: " * DEEP + b"}" * DEEP),
    "20,000 indents (YAML)": (YAML, lambda _: b"".join(b" " * (i % 1500) + b"- \n" for i in range(1500)) + b"- " * DEEP),
    "20,000 lists in each other (JSON)": (JSON, lambda _: b"[" * DEEP + b"]" * DEEP),
    "20,000 objects in each other (JSON)": (JSON, lambda _: b'{"a":' * DEEP + b"1" + b"}" * DEEP),
    "20,000 elements in each other (XML)": (["model (XMLBIF)"], lambda _: b"<BIF>" * DEEP + b"</BIF>" * DEEP),
    "a key twice (YAML)": (YAML, lambda c: c + b"format: again\n"),
    "a key twice (JSON)": (["model (JSON)", "certificate", "status list", "figures (canonical JSON)"], lambda c: c.rstrip()[:-1] + b',"format":1,"format":2}'),
    "a tab as indent (YAML)": (YAML, lambda c: c + b"x:\n\ty: 1\n"),
    "a NUL": ([*YAML, *JSON, "model (XMLBIF)"], lambda c: c[:20] + b"\0" + c[20:]),
    "a character that turns text round": (YAML, lambda c: c + "x: '\u202e'\n".encode()),
    "an escape of a terminal, spelt out": (YAML, lambda c: c + b'x: "\\e[2J"\n'),
    "half a character, spelt out (JSON)": (["model (JSON)", "certificate", "figures (canonical JSON)", "request to the bench (JSON)"], lambda _: b'{"a":"\\ud800"}'),
    "half a character in bytes": ([*YAML, *JSON, *LINES, "model (XMLBIF)", "model (BIF)"], lambda c: c[:1] + b"\xed\xa0\x80" + c[1:]),
    "UTF-16": ([n for n in TEXTS if n != "head of a log"], lambda c: c.decode("utf-8-sig").encode("utf-16")),
    "UTF-32": (YAML, lambda c: c.decode().encode("utf-32")),
    "no bytes at all": ([n for n in TEXTS if n != "pieces (JSONL)"], lambda _: b""),
    "a second document (YAML)": (YAML, lambda c: c + b"---\nformat: x\n"),
    "NaN (JSON)": (["model (JSON)", "certificate", "figures (canonical JSON)"], lambda _: b'{"a":NaN}'),
    "infinity (JSON)": (["model (JSON)", "certificate", "figures (canonical JSON)"], lambda _: b'{"a":-Infinity}'),
    "1e999 (JSON)": (["model (JSON)", "certificate", "figures (canonical JSON)"], lambda _: b'{"a":1e999}'),
    "an integer of 5,000 digits (JSON)": (["model (JSON)", "certificate", "figures (canonical JSON)", "request to the bench (JSON)"], lambda _: b'{"a":' + b"9" * 5000 + b"}"),
    "a bomb of entities": (["model (XMLBIF)"], lambda _: XML.format(f"<!DOCTYPE BIF [{LAUGHS}]>", "&l9;").encode()),
    "an entity from a file": (["model (XMLBIF)"], lambda _: XML.format('<!DOCTYPE BIF [<!ENTITY x SYSTEM "file:///etc/hostname">]>', "&x;").encode()),
    "a PDF in place of a certificate": (["certificate"], lambda _: b"%PDF-1.7\n" + b"x" * 100),
    "a line of 10 MB": ([n for n in TEXTS if n not in (*LINES, "pieces (CSV)", "measured pieces (CSV, TSV)")], lambda c: c.rstrip() + b" " + b"x" * 10_000_000),
}  # fmt: skip


@pytest.mark.parametrize("what", REFUSED)
def test_a_fault_with_a_name_is_refused_by_every_reader_of_such_files(what, tried):
    names, make = REFUSED[what]
    for name in names:
        one = told(reader(name), make(whole(name)))
        lost = one.read[1].rejected if isinstance(one.read, tuple) else 0
        assert one.error or lost, f"{name} was read all the same"
        error = one.error
        assert "Traceback" not in error
        assert not re.search(r"[a-z]Error\b|pydantic|expat|<class", error), error
    tried(what, len(names), "refused by all readers of such files")


# A number or a word that other programs take for something else, where a number or a state stands.
WORDS = [".nan", ".NaN", ".inf", "-.inf", "0o17", "0x1F", "0b1", "1_000", "1:30", "190:20:30", "yes", "no", "on", "Off", "NO", "~", "null", "1e400", "-1e400",
         "٣", "१", "½", "1,5", "1e-400000", "9" * 5000, "0." + "3" * 5000, "1e" + "9" * 300, "+1", "−1", " ", "NaN", "Infinity"]  # fmt: skip


@pytest.mark.parametrize("word", WORDS, ids=lambda word: word[:8])
def test_no_word_is_taken_for_a_number_that_it_is_not(word, tried):
    """A share, a mean, a certainty, a size and a cell: what is read is what decimal digits say."""
    known = ascii(word[:12])
    model = SHOPS.replace(
        "north: 0.5, south: 0.4, other: 0.1", f"north: 0.5, south: 0.4, other: {word}"
    )
    evidence = f"{EVIDENCE}findings: {{rim: {{state: flat, sure: {word}}}}}\n"
    cells = f"id,rim,rim.sure\np-1,flat,{word}\n".replace("1,5", "'1,5'")
    size = f"id,size.h\np-1,{word} mm\n".replace("1,5 mm", '"1,5 mm"')
    for name, content in (
        ("model (YAML)", model),
        ("evidence (YAML)", evidence),
        ("pieces (CSV)", cells),
        ("measured pieces (CSV, TSV)", size),
    ):
        one = told(reader(name), content.encode())
        if not one.error and isinstance(one.read, tuple):
            pieces, account = one.read
            assert account.rejected == 1 or word in (" ", "+1", "1e-400000", "0." + "3" * 5000), (
                name,
                known,
                pieces,
            )
        else:
            read = bool(one.read) and not one.error
            assert not read or word in ("+1", "0." + "3" * 5000), (name, known, one.read)
    tried(f"a number written {known}", 4, "refused, or read as the decimal number that it is")


LOOKS = {"rim": "r\u0456m", "flat": "fl\u0430t", "north": "nort\u04bb", "mark": "m\u0430rk"}


def test_a_name_that_only_looks_like_another_is_another(tried):
    """Letters of Cyrillic for those of Latin: refused, since names are made of ASCII letters."""
    count = 0
    for true, other in LOOKS.items():
        for name, content in (
            ("model (YAML)", SHOPS),
            ("evidence (YAML)", f"{EVIDENCE}findings: {{rim: flat, mark: stroke}}\n"),
            ("pieces (CSV)", "id,shop,rim,mark\nx-1,north,flat,stroke\n"),
        ):
            altered = re.sub(rf"\b{true}\b", other, content)
            if altered != content:
                one = told(reader(name), altered.encode())
                assert one.error or one.read[1].rejected, (name, true)
                count += 1
    tried("a name with letters that only look like Latin ones", count, "refused")


# ---- Lines of many pieces: one bad line costs one piece ---------------------------------------

ROWS = {
    "an integer of 5,000 digits": jsonl("9" * 5000),
    "half a character": jsonl('"\\ud800"'),
    "1e999": jsonl("1e999"),
    "NaN": jsonl("NaN"),
    "20,000 lists in each other": jsonl("[" * DEEP),
    "a key twice": b'{"id": "a", "id": "b"}\n',
    "UTF-16": '{"id": "a"}'.encode("utf-16") + b"\n",
    "a NUL": b'{"id": "a\0"}\n',
    "a line of 10 MB": jsonl('"' + "x" * 10_000_000 + '"'),
    "an escape of a terminal": jsonl('"\\u001b[2J"'),
    "a name of 10,000 letters": b'{"id": "' + b"x" * 10_000 + b'"}\n',
}


@pytest.mark.parametrize("what", ROWS)
def test_a_bad_line_costs_one_piece_and_is_in_the_account(what, tried):
    good = b'{"id": "good", "rim": "flat"}\n'
    pieces, account = told(reader("pieces (JSONL)"), ROWS[what] + good).read
    assert [name for name, _, _ in pieces] == ["good"]
    assert account.rejected >= 1
    assert account.read == account.used + account.rejected
    tried(
        f"a line of JSONL with {what}",
        1,
        "one piece rejected, with its line and reason; the next one read",
    )


CELLS = {
    "a NUL": b"a,fl\0at\n",
    "bytes that are no UTF-8": b"a,\xff\n",
    "a line of 10 MB": b"a," + b"x" * 10_000_000 + b"\n",
    "an open quotation mark": b'a,"flat\n',
    "too many cells": b"a,flat,flat\n",
    "a carriage return alone": b"a,flat\rb,flat\n",
    "an escape of a terminal": b"a,\x1b[2J\n",
}


@pytest.mark.parametrize("what", CELLS)
def test_a_bad_row_costs_one_piece_and_is_in_the_account(what, tried):
    content = b"id,rim\n" + CELLS[what] + b"good,flat\n"
    pieces, account = told(reader("pieces (CSV)"), content).read
    assert [name for name, _, _ in pieces] == ["good"]
    assert account.rejected == 1
    tried(
        f"a line of CSV with {what}",
        1,
        "one piece rejected, with its line and reason; the next one read",
    )


# ---- Archives and bombs ------------------------------------------------------------------------


def zipped(*files, kind=zipfile.ZIP_DEFLATED, mode=stat.S_IFREG):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, content in files:
            info = zipfile.ZipInfo(name)
            info.external_attr, info.compress_type = (mode | 0o644) << 16, kind
            archive.writestr(info, content)
    return stream.getvalue()


A = "objects/" + "a" * 64
ARCHIVES = {
    "names that lead out": lambda: [zipped((n, b"x")) for n in ("../x", "/etc/x", "..\\x", "C:\\x", "objects/../../x", "objects//" + "a" * 64)],
    "links and devices": lambda: [zipped((A, b"/etc/passwd"), mode=m) for m in (stat.S_IFLNK, stat.S_IFIFO, stat.S_IFCHR, stat.S_IFDIR)],
    "look-alike names": lambda: [zipped((n, b"x")) for n in ("manifest.js\u043en", "MANIFEST.JSON", "manifest.json ", "objects/" + "\uff41" * 64, "manifest.json\x1b[2J")],
    "100 MB that lie in 100 kB": lambda: [zipped((A, bytes(100_000_000)))],
    "a manifest of 50 MB": lambda: [zipped(("manifest.json", b" " * 50_000_000))],
    "20,000 files": lambda: [zipped(*((f"objects/{i:064x}", b"") for i in range(20_000)), kind=zipfile.ZIP_STORED)],
    "an archive in an archive": lambda: [zipped(("manifest.json", zipped(("manifest.json", b"{}"))))],
    "an unusual packing": lambda: [zipped(("manifest.json", b"{}"), kind=k) for k in (zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA)],
}  # fmt: skip


@pytest.mark.parametrize("what", ARCHIVES)
def test_a_hostile_archive_is_refused_before_it_is_unpacked(what, tried):
    made = ARCHIVES[what]()
    for content in made:
        assert told(reader("bundle"), content).error
    tried(f"a bundle with {what}", len(made), "refused, nothing unpacked")


def png(width, height):
    def chunk(kind, data):
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(bytes(9_000_000)))
        + chunk(b"IEND", b"")
    )


def test_a_picture_that_is_huge_once_decoded_is_refused_from_its_header(tried):
    sizes = [
        (60_000, 60_000),
        (65_501, 1),
        (1, 65_501),
        (0, 5),
        (2**31 - 1, 2**31 - 1),
        (12_000, 12_000),
    ]
    for width, height in sizes:
        assert told(reader("photograph"), png(width, height)).error
    tried(
        "a photograph that is huge once decoded, or has no size", len(sizes), "refused, not decoded"
    )
