"""Exchange files that are cut off, damaged or hostile are refused, with the place."""

import logging
from pathlib import Path

import pytest
from exchanged import BIF, back, written
from golden import REWRITE
from networks import published
from pgmpy.readwrite import BIFReader, UAIReader

from claywit.inference.flattened import flatten
from claywit.model import exchange
from claywit.report.digest import digest

HERE = Path(__file__).parent
KINDS = ["bif", "xmlbif", "uai", "json"]


# ---- Cut off anywhere ---------------------------------------------------------------------


def asia(kind):
    """Return the stored file of the Asia network (Lauritzen & Spiegelhalter 1988)."""
    file = HERE / "golden" / f"asia.{kind}"
    if REWRITE:
        file.write_bytes(written(published("asia")[0], kind))
    return file.read_bytes()


@pytest.mark.parametrize("kind", KINDS)
def test_the_stored_file_is_what_is_written(kind):
    assert written(published("asia")[0], kind) == asia(kind)


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_cut_off_at_any_byte_is_refused_or_gives_the_same_network(kind):
    whole = asia(kind)
    expected = digest(back(whole, kind))
    refused = 0
    for end in range(len(whole)):
        try:
            found = digest(back(whole[:end], kind))
        except exchange.ModelError:
            refused += 1
        else:
            assert found == expected, end
    assert refused >= len(whole) - 3  # all but the white space at the end


# ---- What others let pass -------------------------------------------------------------------

XML = """<?xml version="1.0"?>
<BIF VERSION="0.3"><NETWORK><NAME>n</NAME>
<VARIABLE TYPE="nature"><NAME>a</NAME><OUTCOME>yes</OUTCOME><OUTCOME>no</OUTCOME></VARIABLE>
<VARIABLE TYPE="nature"><NAME>b</NAME><OUTCOME>low</OUTCOME><OUTCOME>high</OUTCOME></VARIABLE>
<DEFINITION><FOR>a</FOR><TABLE>0.25 0.75</TABLE></DEFINITION>
<DEFINITION><FOR>b</FOR><GIVEN>a</GIVEN><TABLE>0.5 0.5 0.125 0.875</TABLE></DEFINITION>
</NETWORK></BIF>
"""
UAI = "BAYES\n2\n2 3\n2\n1 0\n2 0 1\n\n2\n0.25 0.75\n\n6\n0.5 0.25 0.25\n0.125 0.125 0.75\n"
DAMAGED = {
    ("bif", "0.25, 0.75;", "0.25, 0.7;"): r"a: sums to 0.95, must be 1",
    ("bif", "[ 3 ]", "[ 4 ]"): r"network.bif:8: variable b: 4 states announced, 3 listed",
    ("bif", "variable b", "variable a"): r"network.bif:6: variable a stands twice",
    ("bif", "  (no) 0.125, 0.125, 0.75;\n", ""): r"b: no row for no",
    ("bif", "(no)", "(yes)"): r"b, given yes: a second row",
    ("bif", "(no)", "(nay)"): r"a has no state nay; known: yes, no",
    ("bif", "0.5, 0.25, 0.25", "0.5, 0.5"): r"b: 2 numbers, expected 3",
    (
        "bif",
        "probability ( a )",
        "probability ( b )",
    ): r"b: 2 numbers, expected 6|b: 2 numbers, expected 3",
    ("bif", "probability ( a ) {\n  table 0.25, 0.75;\n}\n", ""): r"no table for a",
    ("bif", "b | a", "b | c"): r"no variable c before its table; known: a, b",
    ("bif", "b | a", "b | b"): r"b, given yes: b has no state yes",
    ("bif", "0.25, 0.75;", "nan, 0.75;"): r"'nan' where a probability is expected",
    ("bif", "0.25, 0.75;", "-0.25, 1.25;"): r"'-0.25' where a probability",
    ("bif", "{ yes, no }", "{ yes, yes }"): r"a: a state stands twice among yes, yes",
    ("bif", "network n {", "network n { /*"): r"a comment or quote that never ends",
    ("bif", "(yes) 0.5", "(yes) 0..5"): r"'0..5' where a probability",
    ("xmlbif", "0.5 0.5 0.125 0.875", "0.5 0.5 0.125"): r"b: 3 numbers, expected 4",
    ("xmlbif", "0.5 0.5 0.125", "0.5 0.4 0.125"): r"b, given a=yes: sums to 0.9, must be 1",
    ("xmlbif", "<NAME>b</NAME>", "<NAME>a</NAME>"): r"variable a stands twice",
    ("xmlbif", "<FOR>b</FOR><GIVEN>a</GIVEN>", "<FOR>a</FOR>"): r"a: 4 numbers, expected 2",
    ("xmlbif", "<GIVEN>a</GIVEN>", "<GIVEN>c</GIVEN>"): r"no variable c; known: a, b",
    (
        "xmlbif",
        "<OUTCOME>low</OUTCOME>",
        "<STATE>low</STATE>",
    ): r"<STATE> within <VARIABLE>; expected NAME",
    ("xmlbif", 'TYPE="nature"><NAME>b', 'TYPE="decision"><NAME>b'): r"only nature is read",
    ("xmlbif", "</NETWORK></BIF>", "</NETWORK>"): r"not whole XML",
    ("xmlbif", "0.25 0.75", "0.25 inf"): r"'inf' is no probability",
    (
        "xmlbif",
        "<DEFINITION><FOR>a</FOR><TABLE>0.25 0.75</TABLE></DEFINITION>\n",
        "",
    ): r"no <DEFINITION> for a",
    (
        "xmlbif",
        "</VARIABLE>\n<DEF",
        "</VARIABLE>stray\n<DEF",
    ): r"stray text within <NETWORK>: 'stray'",
    ("uai", "BAYES", "MARKOV"): r"'MARKOV' where 'BAYES' is expected",
    ("uai", "\n2\n1 0", "\n3\n1 0"): r"a network of 2 nodes has as many tables",
    ("uai", "2 0 1", "2 1 0"): r"2 tables end in node 0, expected one",
    ("uai", "2 0 1", "2 0 7"): r"the scope 0 7 names no node, or one twice",
    ("uai", "\n6\n", "\n5\n"): r"the table of node 1 has 6 numbers",
    (
        "uai",
        "0.125 0.75\n",
        "0.75\n",
    ): r"the file ends where a probability is expected; it is cut off",
    ("uai", "0.125 0.75\n", "0.125 0.75 1\n"): r"something follows the last table",
    ("uai", "0.75\n\n6", "0.7\n\n6"): r"v0: sums to 0.95, must be 1",
    (
        "uai",
        "2\n2 3",
        "999999999\n2 3",
    ): r"node 3 has 1 states; 2 to 10,000 are read",
}
WHOLE = {"bif": BIF, "xmlbif": XML, "uai": UAI}


@pytest.mark.parametrize("kind", WHOLE)
def test_the_undamaged_file_is_read(kind):
    assert len(back(WHOLE[kind].encode(), kind).nodes) == 2


@pytest.mark.parametrize("case", DAMAGED)
def test_damage_is_refused_with_its_place(case):
    kind, before, after = case
    assert WHOLE[kind].count(before) >= 1, before
    damaged = WHOLE[kind].replace(before, after, 1)
    with pytest.raises(exchange.ModelError, match=DAMAGED[case]):
        back(damaged.encode(), kind)


def test_pgmpy_alone_would_have_let_a_missing_row_pass():
    """The row of `no` is gone, and pgmpy fills it with zeros or drops the table's meaning."""
    logging.getLogger("pgmpy").setLevel(logging.ERROR)
    damaged = BIF.replace("  (no) 0.125, 0.125, 0.75;\n", "")
    table = BIFReader(string=damaged).variable_cpds["b"]
    assert table[:, 1].tolist() == [0, 0, 0]


def test_pgmpy_alone_would_have_read_a_uai_table_crosswise():
    """P(y|x) of the UAI'08 example: .128 .872 given x0, .920 .080 given x1."""
    text = "BAYES\n2\n2 2\n2\n1 0\n2 0 1\n\n2\n0.436 0.564\n\n4\n0.128 0.872\n0.920 0.080\n"
    table = UAIReader(string=text).get_model().get_cpds("var_1").get_values()
    assert table[:, 0].tolist() == [0.128, 0.92]  # sums to 1.048
    assert flatten(back(text.encode(), "uai")).variables[1].shares[0] == (0.128, 0.872)


def test_a_bif_default_a_table_of_all_rows_and_the_last_line_unended_are_read():
    rows = "  (yes) 0.5, 0.25, 0.25;\n  (no) 0.125, 0.125, 0.75;\n"
    expected = flatten(back(BIF.encode(), "bif"))
    by_default = "  default 0.125 0.125 0.75;\n  (yes) 0.5, 0.25, 0.25;\n"
    by_table = "  table 0.5 0.125 0.25 0.125 0.25 0.75;\n"
    for other in (by_default, by_table):
        assert flatten(back(BIF.replace(rows, other).rstrip().encode(), "bif")) == expected


# ---- Hostile XML ----------------------------------------------------------------------------

LAUGHS = "".join(f'<!ENTITY l{i} "{f"&l{i - 1};" * 10 if i else "ha"}">' for i in range(10))
HOSTILE = {
    "a bomb of entities": (f"<!DOCTYPE BIF [{LAUGHS}]>", "&l9;"),
    "an entity from a file": ('<!DOCTYPE BIF [<!ENTITY x SYSTEM "file:///etc/hostname">]>', "&x;"),
    "a parameter entity": ('<!DOCTYPE BIF [<!ENTITY % x SYSTEM "http://localhost/x"> %x;]>', "n"),
    "a document type from elsewhere": ('<!DOCTYPE BIF SYSTEM "http://localhost/bif.dtd">', "n"),
}


@pytest.mark.parametrize("case", HOSTILE)
def test_nothing_is_expanded_or_fetched_from_xml(case):
    kind, name = HOSTILE[case]
    text = XML.replace("<BIF ", f"{kind}<BIF ", 1).replace("<NAME>n<", f"<NAME>{name}<")
    with pytest.raises(exchange.ModelError, match=r"network.xmlbif:\d+: (entity|a document type)"):
        back(text.encode(), "xmlbif")


def test_a_document_type_within_the_file_is_read():
    """The published form of the format carries one."""
    inside = "<!DOCTYPE BIF [<!ELEMENT BIF (NETWORK)*><!ATTLIST BIF VERSION CDATA #REQUIRED>]>"
    text = XML.replace("<BIF ", f"{inside}<BIF ", 1)
    assert flatten(back(text.encode(), "xmlbif")) == flatten(back(XML.encode(), "xmlbif"))


def test_a_row_of_defaults_over_too_many_parents_is_refused_at_once():
    parents = [f"p{i}" for i in range(40)]
    head = "".join(f"variable {p} {{ type discrete [ 2 ] {{ y, n }}; }}\n" for p in [*parents, "c"])
    text = (
        f"network n {{ }}\n{head}probability ( c | {', '.join(parents)} ) {{ default 0.5, 0.5; }}\n"
    )
    with pytest.raises(exchange.ModelError, match=r"c: 2,199,023,255,552 numbers; at most 500,000"):
        back(text.encode(), "bif")
