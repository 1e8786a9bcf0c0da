from itertools import combinations

from small import SHOPS, model

from claywit.bench.graph import WIDE, children, drawing
from claywit.records.files import read_demonstration

DEMO = read_demonstration()


def test_every_line_runs_from_left_to_right():
    places = {box.name: box.x for box in drawing(DEMO, None).boxes}
    assert all(places[p] < places[n.name] for n in DEMO.nodes for p in n.all_parents)


def test_no_two_nodes_overlap_and_all_lie_on_the_sheet():
    sheet = drawing(DEMO, None)
    for one, other in combinations(sheet.boxes, 2):
        assert one.x != other.x or one.y + one.height < other.y or other.y + other.height < one.y
    assert all(box.x + WIDE <= sheet.width for box in sheet.boxes)
    assert all(box.y + box.height <= sheet.height for box in sheet.boxes)


def test_what_is_joined_to_the_chosen_node_is_marked_and_nothing_else():
    sheet = drawing(DEMO, "paste")
    joined = {"paste", *children(DEMO)["paste"], *DEMO.node("paste").all_parents}
    assert {box.name for box in sheet.boxes if box.near} == joined
    assert sum(line.near for line in sheet.lines) == len(joined) - 1


def test_a_drawing_is_the_same_each_time():
    assert drawing(model(SHOPS), "rim") == drawing(model(SHOPS), "rim")
