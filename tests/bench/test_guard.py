import json

import pytest
from bench.asking import PORT, ROOT, Asking

from claywit.bench.guard import PAGE_KEY


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    return Asking(tmp_path_factory.mktemp("guard"))


@pytest.mark.parametrize(
    "host",
    [
        "127.0.0.1",
        f"127.0.0.1:{PORT + 1}",
        f"evil.example:{PORT}",
        f"127.0.0.1.evil.example:{PORT}",
        f"localhost.:{PORT}",
        f"127.0.0.2:{PORT}",
        f"0.0.0.0:{PORT}",
        f"[::]:{PORT}",
        f"127.1:{PORT}",
        f"user@127.0.0.1:{PORT}",
        f" 127.0.0.1:{PORT}",
        "",
        f"127.0.0.1:{PORT}, evil.example",
    ],
)
def test_a_host_name_that_is_not_the_bench_is_refused(bench, host):
    refused = bench.get("/", host=host)
    assert refused.status_code == 403
    assert "host" in refused.text


@pytest.mark.parametrize("host", [f"127.0.0.1:{PORT}", f"[::1]:{PORT}", f"localhost:{PORT}"])
def test_the_three_names_of_loopback_are_answered(bench, host):
    assert bench.get("/", host=host).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": f"https://127.0.0.1:{PORT}"},
        {"origin": f"http://127.0.0.1:{PORT + 1}"},
        {"origin": f"http://localhost:{PORT}"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {PAGE_KEY: "guess"},
        {PAGE_KEY: ""},
    ],
)
def test_a_forged_change_is_refused_and_changes_nothing(bench, headers):
    before = bench.get("/").text
    refused = bench.post("/practise", {"piece": "forged"}, **headers)
    assert refused.status_code == 403
    assert bench.get("/").text == before


def test_a_change_that_does_not_say_where_it_comes_from_is_refused(bench):
    refused = bench.client.post("/practise", json={}, headers={PAGE_KEY: bench.held.page})
    assert refused.status_code == 403


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""]
)
def test_a_form_of_another_page_cannot_be_a_change(bench, kind):
    refused = bench.post("/practise", content=b'{"piece": "forged"}', **{"content-type": kind})
    assert refused.status_code == 415


def test_a_page_of_another_site_cannot_even_read(bench):
    assert bench.get("/", **{"sec-fetch-site": "cross-site"}).status_code == 403
    assert bench.get("/static/bench.css", **{"sec-fetch-site": "cross-site"}).status_code == 403


def test_without_the_secret_of_this_run_nothing_is_answered(bench):
    for cookie in ({}, {bench.held.cookie: "guess"}, {f"claywit-{PORT + 1}": "session"}):
        bench.client.cookies.clear()
        for name, value in cookie.items():
            bench.client.cookies.set(name, value)
        for address in ("/", "/static/wire.js", "/piece/0123456789abcdef", "/nothing"):
            refused = bench.get(address)
            assert refused.status_code == 403
            assert "claywit bench" in refused.text
    bench.client.cookies.set(bench.held.cookie, bench.held.session)


@pytest.mark.parametrize("other", ['{"a": [1, "b"]}', '"', "=;,", "\\xe9", "a b c"])
def test_a_strange_cookie_of_another_port_does_not_lock_out(bench, other):
    both = f"prefs={other}; {bench.held.cookie}={bench.held.session}"
    assert bench.get("/", cookie=both).status_code == 200


def test_the_printed_address_lets_in_and_any_other_key_does_not(bench):
    wrong = bench.client.get("/start?key=guess", follow_redirects=False)
    assert (wrong.status_code, "set-cookie" in wrong.headers) == (403, False)
    right = bench.client.get("/start?key=start", follow_redirects=False)
    assert (right.status_code, right.headers["location"]) == (303, "/")
    cookie = right.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


def test_the_address_a_browser_is_started_with_lets_in_a_single_time(tmp_path):
    bench = Asking(tmp_path)
    address = bench.held.address_once
    assert bench.client.head(address, follow_redirects=False).status_code == 403
    assert bench.client.get(address, follow_redirects=False).status_code == 303
    stolen = bench.client.get(address, follow_redirects=False)
    assert (stolen.status_code, "set-cookie" in stolen.headers) == (403, False)
    assert bench.client.get(bench.held.address, follow_redirects=False).status_code == 303


def test_every_answer_carries_the_policy_refusals_and_faults_too(bench):
    answers = [
        bench.get("/"),
        bench.get("/nothing"),
        bench.get("/", host="evil.example"),
        bench.get("/static/wire.js"),
        bench.post("/practise", content=b"[", **{"content-type": "application/json"}),
    ]
    for answer in answers:
        policy = answer.headers["content-security-policy"]
        assert "unsafe" not in policy
        assert "default-src 'none'" in policy
        assert "require-trusted-types-for 'script'" in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["cache-control"] == "no-store"
        assert answer.headers["referrer-policy"] == "no-referrer"


def test_a_page_holds_no_script_and_no_style_of_its_own(bench):
    pages = [bench.get("/"), bench.get("/intake"), bench.get(bench.practise())]
    for page in pages:
        assert page.status_code == 200
        assert "<style" not in page.text
        assert ' style="' not in page.text
        assert "<script>" not in page.text
        assert " onclick" not in page.text


def test_a_body_over_its_cap_is_refused_before_it_is_read(bench):
    long = b'{"piece": "' + b"x" * 1_000_001 + b'"}'
    refused = bench.post("/practise", content=long, **{"content-type": "application/json"})
    assert refused.status_code == 413
    lied = bench.post("/practise", content=iter([long]), **{"content-type": "application/json"})
    assert lied.status_code == 413


@pytest.mark.parametrize(
    "body", [b"", b"[]", b"null", b'{"a":', b"[" * 100_000, b"\xff\xfe", b'{"piece": {"$ne": 1}}']
)
def test_a_body_that_is_no_object_is_one_clear_error(bench, body):
    refused = bench.post("/begin", content=body, **{"content-type": "application/json"})
    assert refused.status_code in {400, 422}
    assert refused.json()["error"]


@pytest.mark.parametrize(
    "address",
    ["/begin", "/practise", "/keys", "/verify", "/intake", "/piece/0123456789abcdef/certificate"],
)
def test_half_a_character_is_refused_wherever_it_is_sent(bench, address):
    names = "case examiner piece name passphrase again key valid_until supersedes signer id"
    text = json.dumps(dict.fromkeys(names.split(), "seven grey herons \ud800"))
    for body in (text.encode(), text.encode("utf-16")):
        refused = bench.post(address, content=body, **{"content-type": "application/json"})
        assert refused.status_code == 400
        assert "not readable" in refused.json()["error"]
    whole = json.dumps({"piece": "h\u00e9ron \U0001f3fa"}).encode()
    begun = bench.post("/practise", content=whole, **{"content-type": "application/json"})
    assert begun.status_code == 200


@pytest.mark.parametrize(
    "name", ["*", "%2e%2e", "0123456789abcde?", "[0-9]", "0123456789ABCDEF", "a" * 400]
)
def test_a_name_that_is_no_draft_finds_no_file(bench, name):
    bench.practise()
    found = bench.get(f"/piece/{name}")
    assert found.status_code in {403, 404, 422}
    assert "/tmp" not in found.text  # noqa: S108 - no folder of the machine is shown


@pytest.mark.parametrize(
    "path",
    [
        "/static/../guard.py",
        "/static/%2e%2e/guard.py",
        "/static/..%2fguard.py",
        "/static//etc/passwd",
    ],
)
def test_the_static_folder_gives_nothing_beside_itself(bench, path):
    assert bench.get(path).status_code in {404, 405}


def test_no_page_names_a_folder_of_the_machine(bench):
    bench.casebook.rename(bench.casebook.with_suffix(".away"))
    try:
        shown = bench.get("/")
    finally:
        bench.casebook.with_suffix(".away").rename(bench.casebook)
    assert shown.status_code == 422
    assert "casebook.db" in shown.text
    assert str(bench.casebook.parent) not in shown.text


def test_a_fault_of_ours_shows_no_traceback(bench, monkeypatch):
    monkeypatch.setattr("claywit.bench.pages.front.read_cases", lambda store: 1 / 0)
    shown = bench.get("/")
    assert shown.status_code == 500
    assert "Traceback" not in shown.text
    assert "division" not in shown.text
    assert shown.headers["content-security-policy"]


def test_the_same_origin_is_needed_exactly(bench):
    assert bench.post("/practise", {"piece": "own"}, origin=ROOT).status_code == 200
