"""An expert is quoted as he wrote, and one of a kind is not told as many."""

from faults.answering import printed
from sheets import count, party, sheet
from small import model

from claywit.learning.answers import opinions_of
from claywit.learning.moulds import sightings
from claywit.learning.opinions import fit_rows
from claywit.report.counted import counted
from claywit.report.elicited import elicited
from claywit.report.elicited_text import show_elicited


def test_an_expert_who_wrote_half_pieces_is_quoted_with_them():
    known = model()
    told = party(sheet([("wear", "{}", f"{{much: {count(22, 53.5, 54.5)}}}")]))
    opinions = opinions_of(known, told)
    text = printed(
        show_elicited, elicited(known, opinions, fit_rows(opinions, {"Edda": 1.0}), {"Edda": 1.0})
    )
    assert "much: you said 22, 53.5, 54.5; the row gives" in " ".join(text.split())


def test_one_piece_and_one_mould_are_no_pieces_and_moulds():
    text = counted("mould", sightings([40]), 1).text()
    assert text.startswith("40 pieces of 1 mould, 0 of them met once\n1 piece left apart")
    assert "About 1 mould, by" in text
