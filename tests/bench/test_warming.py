import gc
import sys

from bench.asking import Asking

from claywit.bench.warming import TURN, warm


def test_one_opinion_is_worked_out_and_what_stays_is_not_looked_through_again(tmp_path):
    desk, turn = Asking(tmp_path).desk, sys.getswitchinterval()
    try:
        warm(desk)
        (report,) = desk.reports.values()
        assert report.statement[1].startswith("Nothing has been read yet")
        assert gc.get_freeze_count() > 10_000
        assert sys.getswitchinterval() == TURN
    finally:
        gc.unfreeze()
        sys.setswitchinterval(turn)
