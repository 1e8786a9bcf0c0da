"""Small files that once cost minutes, gigabytes or a traceback are refused in one line."""

import pytest
from small import SHOPS

from claywit.errors import COMPARED, ModelError, did_you_mean
from claywit.evidence.askable import check_question
from claywit.evidence.sequence import MOST_EVENTS, order_of_events
from claywit.model.bif import read_bif
from claywit.model.soundness import read_model
from claywit.model.typed import MOST_MESSAGES
from claywit.model.uai import read_uai
from claywit.model.xmlbif import read_xmlbif

MANY = 15_000  # two states each: 2 to that power has more digits than Python writes out


def with_nodes(nodes):
    return SHOPS.replace("nodes:\n", f"nodes:\n{nodes}", 1).encode()


@pytest.mark.parametrize("table", ["rows: [{p: {x: 1}}]", "noisy_or: {leak: {p: {y: 0.1}}}"])
def test_configurations_too_many_to_be_counted_are_refused(table):
    names = [f"f{i}" for i in range(120)]
    free = "".join(f"  {n}: {{states: [a, b], rows: [{{p: {{a: 1}}}}]}}\n" for n in names)
    node = f"  a: {{states: [x, y], parents: [{', '.join(names)}], {table}}}\n"
    with pytest.raises(ModelError, match=r"a: more than 10\^30 parent configurations"):
        read_model(with_nodes(free + node), "m.yaml")


def test_a_parent_named_thousands_of_times_is_refused_by_every_format():
    head = "network x {}\nvariable a { type discrete [2] {y, n}; }\n"
    bif = f"{head}probability (a | {'a, ' * MANY}) {{ table 1, 0; }}\n"
    with pytest.raises(ModelError, match=r"x\.bif:3: a: .* numbers; at most 500,000 are read"):
        read_bif(bif, "x.bif")
    variable = "<VARIABLE><NAME>a</NAME><OUTCOME>y</OUTCOME><OUTCOME>n</OUTCOME></VARIABLE>"
    given = "<GIVEN>a</GIVEN>" * MANY
    table = f"<DEFINITION><FOR>a</FOR>{given}<TABLE>1 0</TABLE></DEFINITION>"
    with pytest.raises(ModelError, match=r"a: 2 numbers, expected \d{31}"):
        read_xmlbif(f"<BIF><NETWORK>{variable}{table}</NETWORK></BIF>", "x.xml")
    nodes = 2_000
    scopes = [f"{nodes} {' '.join(map(str, range(nodes)))}", *(f"1 {i}" for i in range(nodes - 1))]
    uai = "\n".join(["BAYES", str(nodes), "200 " * nodes, str(nodes), *scopes, "1", "1"])
    with pytest.raises(ModelError, match=r"the table of node 1999 has \d{30,40} numbers"):
        read_uai(f"{uai}\n", "x.uai")


def test_states_that_no_table_could_hold_are_not_named_one_by_one():
    text = f"BAYES\n1000\n{'9999 ' * 1000}\n"  # 5 KB that took half a gigabyte
    with pytest.raises(ModelError, match=r"more than 500,000 states up to node 50"):
        read_uai(text, "x.uai")


def test_a_table_of_many_lines_comes_as_one_text():
    variable = "<VARIABLE><NAME>a</NAME><OUTCOME>y</OUTCOME><OUTCOME>n</OUTCOME></VARIABLE>"
    table = "1\n" * 300_000  # a text for each line took as many copies of all before it
    text = f"{variable}<DEFINITION><FOR>a</FOR><TABLE>{table}</TABLE></DEFINITION>"
    with pytest.raises(ModelError, match=r"a: 300000 numbers, expected 2"):
        read_xmlbif(f"<BIF><NETWORK>{text}</NETWORK></BIF>", "x.xml")


@pytest.mark.parametrize(
    "line", ["  n{0}: {{sttes: [a, b]}}\n", "  n{0}: {{states: [a, b], parents: [m{0}]}}\n"]
)
def test_a_file_that_is_wrong_throughout_is_told_of_as_far_as_anybody_reads(line):
    wrong = "".join(line.format(i) for i in range(3_000))
    with pytest.raises(ModelError, match=r"and at least 199 more") as raised:
        read_model(with_nodes(wrong), "m.yaml")
    assert len(raised.value.details) == MOST_MESSAGES


def test_a_near_name_is_looked_for_among_so_many_names_and_for_names_of_such_a_length():
    assert did_you_mean("rimm", ["mark", "rim"]) == "did you mean rim?"
    names = [f"n{i}" for i in range(COMPARED)]
    assert did_you_mean("rimm", [*names, "rim"]).startswith("known: n0, n1")
    assert did_you_mean("rim" * 1_000_000, ["rim" * 999_999]).startswith("known: rimrim")


def test_states_that_name_other_states_are_looked_up():
    states = "".join(f"      s{i}: {{after: s{9_999 - i}}}\n" for i in range(10_000))
    node = f"  m:\n    rows: [{{p: {{s0: 1}}}}]\n    states:\n{states}"
    assert len(read_model(with_nodes(node), "m.yaml").node("m").states) == 10_000


def test_more_states_than_a_column_of_cases_can_tell_apart_are_refused():
    states = ", ".join(f"s{i}" for i in range(10_001))
    node = f"  m: {{rows: [{{p: {{s0: 1}}}}], states: [{states}]}}\n"
    with pytest.raises(ModelError, match="m: 10,001 states; at most 10,000 are read"):
        read_model(with_nodes(node), "m.yaml")


def test_more_events_than_can_be_put_in_order_are_refused():
    known = read_model(SHOPS.encode(), "m.yaml")
    events = [f"e{i}" for i in range(MOST_EVENTS + 1)]
    with pytest.raises(ValueError, match="501 events; at most 500 can be put in order"):
        order_of_events([events], known)
    assert len(order_of_events([events[1:]], known).not_used) == MOST_EVENTS - 1


def test_a_target_that_can_be_hidden_is_told_of_as_what_it_is():
    hidden = (
        "  veil: {states: [clear, thick], rows: [{p: {clear: 0.5, thick: 0.5}}]}\n"
        "  sign: {states: [a, b], rows: [{p: {a: 0.5, b: 0.5}}],"
        " visibility: {parent: veil, p: {clear: 0.1, thick: 0.9}}}\n"
    )
    text = with_nodes(hidden).replace(b"targets: [shop]", b"targets: [sign]")
    known = read_model(text.replace(b"[sign]", b"[sign, shop]"), "m.yaml")
    said = "question sign: it can be not visible, and a question is about a state; ask about shop$"
    with pytest.raises(ValueError, match=said):  # it said that there is no node of this name
        check_question("sign", known, {})
