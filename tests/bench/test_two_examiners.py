"""Two examiners of one piece at one bench, and other ways to an opinion before the lock."""

import pytest
from bench import laid
from bench.asking import Asking

CASE, OPEN = (f"/piece/{letter * 16}" for letter in "ac")
SAID = (
    *("", "/state", "/opinion", "/judged", "/report", "/report.html", "/stories", "/contrast"),
    *("/dispute", "/certificate", "/moulds", "/why/shell", "/evidence.yaml"),
)


@pytest.fixture
def asking(copied, tmp_path, monkeypatch):
    """Give a bench on which pieces lie, one of them locked."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    return Asking(copied(tmp_path))


def test_while_a_second_examiner_reads_nothing_the_first_read_or_was_told_is_shown(asking):
    assert asking.get(f"{CASE}/state").status_code == 200
    second = asking.post("/begin", {"case": "weir-004", "examiner": "B"}).json()["go"]
    for page in SAID:
        assert asking.get(f"{CASE}{page}").status_code == 403, page
    assert asking.get(f"/model?piece={'a' * 16}").status_code == 403
    assert "a" * 16 not in asking.get("/model").text
    practice = asking.practise()
    assert "a" * 16 not in asking.get(f"{practice}/others").text
    assert asking.get(second).status_code == 200


def test_a_reading_that_was_begun_by_mistake_is_taken_off_the_bench_and_hides_nothing_more(asking):
    second = asking.post("/begin", {"case": "weir-004", "examiner": "B"}).json()["go"]
    assert f"{second}/remove" in asking.get("/").text
    asking.see(second, grog="present")
    assert f"{second}/remove" not in asking.get("/").text
    assert asking.post(f"{second}/remove").status_code == 422
    version = asking.state(second)["version"]
    answer = {"version": version, "node": "grog", "reading": None}
    assert asking.post(f"{second}/answer", answer).status_code == 200
    assert asking.post(f"{second}/remove").status_code == 200
    assert asking.get(f"{CASE}/state").status_code == 200
    assert asking.post(f"{CASE}/remove").status_code == 422


def test_ones_own_file_is_not_laid_as_practice_while_the_piece_is_read(asking):
    laid.lay(asking.casebook.parent, "07-cleaned", "c" * 16)
    own = asking.get(f"{OPEN}/evidence.yaml").content
    refused = asking.post("/lay", content=own)
    assert refused.status_code == 403
    assert "Lock the readings first" in refused.json()["error"]
    assert asking.post("/lay", content=own.replace(b"weir-007", b"else-007")).status_code == 200
