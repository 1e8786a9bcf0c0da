"""The page that is handed out beside a certificate is held against what was signed."""

import re

import pytest
from made import codes, issue, small_case, small_certificate, verify

from claywit.certificate.documents import documents


@pytest.fixture(scope="module")
def made():
    return small_certificate()


@pytest.fixture(scope="module")
def pages(made):
    return documents(made, html=True, pdf=True)


@pytest.fixture(scope="module")
def others():
    return documents(issue(*small_case("{rim: flat}")), html=True, pdf=True)


def state(verdict):
    return next(check.state for check in verdict.checks if check.name == "page")


@pytest.mark.parametrize("kind", ["html", "pdf"])
def test_its_own_page_is_found_good_and_that_of_another_is_not(made, pages, others, kind):
    own, other = getattr(pages, kind), getattr(others, kind)
    assert state(verify(made.text, page=own)) == "passed"
    assert codes(verify(made.text, page=other)) == ["other_page"]
    assert codes(verify(made.text, page=own + b" ")) == ["other_page"]
    assert codes(verify(made.text, page=b"")) == ["other_page"]


def test_one_changed_letter_of_the_page_is_found(made, pages):
    assert codes(verify(made.text, page=pages.html.replace(b"North", b"South", 1))) == [
        "other_page"
    ]


def test_what_cannot_be_compared_is_said_and_not_called_valid(made, pages):
    elsewhere = re.sub(rb"Typst [0-9]+\.[0-9]+", b"Typst 9.99", pages.pdf)
    verdict = verify(made.text, page=elsewhere)
    assert state(verdict) == "not checked"
    assert verdict.answer != "Valid."
    assert state(verify(made.text, page=pages.html, recompute=False)) == "not checked"
