"""A name that looks like another one is found; an honest name of any alphabet is not."""

import pytest
from made import codes, issue, signed_again, small_case, small_certificate, verify

from claywit.certificate.canonical import digest_of
from claywit.certificate.letters import resembles, strange_letters
from claywit.errors import CertificateError

PLAIN = [
    "", "Anna Merk", "Анна Мерк", "Άννα Μέρκου", "Anna (Анна) Merk", "Anna-Мария", "Zoë Ångström", "Zoe\u0308",
    "O'Brien & Söhne, Weir 4", "森 花子", "אנה", "می\u200cخواهم", "क्\u200dष", "ＮＴＴ", "Mª Ángeles", "№ 5",
]  # fmt: skip
STRANGE = {
    "\u0410nna": "Cyrillic and Latin",
    "Merk\u03bf": "Greek and Latin",
    "\u0555tto": "Armenian and Latin",
    "An\u200bna": "U+200B",
    "An\u200dna": "U+200D",
    "Anna\u202eMerk": "U+202E",
    "Anna\ufeff": "U+FEFF",
    "\u3164": "U+3164",
    "Anna\n": "U+000A",
    "A\U000e0041nna": "U+E0041",
    "\uff21nna": "Fullwidth and Latin",
    "𝐀nna": "Latin and Mathematical",
}


@pytest.mark.parametrize("name", PLAIN)
def test_an_honest_name_is_plain(name):
    assert strange_letters(name) == ""


@pytest.mark.parametrize("name", STRANGE)
def test_a_name_that_looks_like_another_says_why(name):
    assert STRANGE[name] in strange_letters(name)


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("examiner: A", "examiner: \u0410nna"),
        ("client: C", "client: C\u200b"),
        ("[C]", "[C\u0421]"),
    ],
)
def test_no_certificate_is_issued_with_such_a_name(before, after):
    from made import STATED

    with pytest.raises(CertificateError, match="no certificate is issued"):
        issue(*small_case(more=STATED.replace(before, after)))


def test_and_one_that_was_signed_all_the_same_is_found():
    def change(raw):
        trace = raw["credentialSubject"]["trace"]
        trace["examiner"] = trace["evidence"]["source"]["examiner"] = "\u0410nna"

    text = signed_again(small_certificate().text, change)
    assert "look_alike" in codes(verify(text, recompute=False))


@pytest.fixture(scope="module")
def small():
    return small_certificate()


ALIKE = [
    "enfsi-2O15",
    "ENFSI-2015",
    "enfsi_2015",
    "enfsi 2015",
    "enfsí-2015",
    "enfsl-20l5",
    "ｅｎｆｓｉ-2015",
]
OTHER = ["enfsi-2015", "enfsi-2016", "my-own", "plaques-2026", ""]


@pytest.mark.parametrize("name", [*ALIKE, *OTHER])
def test_what_can_be_read_as_a_known_name_resembles_it(name):
    assert resembles(name, "enfsi-2015") == (name in ALIKE)


@pytest.mark.parametrize("name", [*ALIKE, "\u0435nfsi-2015", "enfsi-2015\u200b"])
def test_a_scale_called_nearly_as_a_shipped_one_is_remarked_on(small, name):
    verdict = verify(signed_again(small.text, scale_called(name)), recompute=False)
    assert codes(verdict) == ["look_alike"] * len(verdict.failures) != []


def test_a_scale_of_ones_own_is_told_from_those_of_claywit(small):
    verdict = verify(signed_again(small.text, scale_called("guild-2020")), recompute=False)
    assert verdict.valid
    assert (
        "The scale 'guild-2020' is not one that claywit ships: its words and limits are the"
        " signer's own." in verdict.notes
    )
    assert not [said for said in verify(small.text, recompute=False).notes if "ships" in said]


def scale_called(name):
    def change(raw):
        scale = raw["credentialSubject"]["trace"]["scale"]
        scale["id"] = scale["source"]["id"] = name
        scale["source"]["bands"] = {"certain": None}
        scale["digest"] = digest_of(scale["source"])

    return change
