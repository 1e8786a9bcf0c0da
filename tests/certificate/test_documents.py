"""The documents of a certificate: whole, self-contained, the same each time, for any script."""

import io
import re
import shutil
import subprocess

import pikepdf
import pytest
from made import STATED, demo_case, issue, small_case
from small import SHOPS

from claywit.certificate.documents import documents, qr_code
from claywit.certificate.paper import missing_characters
from claywit.errors import CertificateError

PDFTOTEXT = shutil.which("pdftotext") or ""
pdftotext = pytest.mark.skipif(not PDFTOTEXT, reason="needs pdftotext")


@pytest.fixture(scope="module")
def demo():
    made = issue(*demo_case())
    return made, documents(made, html=True, pdf=True)


def opened(content):
    return pikepdf.open(io.BytesIO(content))


def words(content, tmp_path):
    (tmp_path / "a.pdf").write_bytes(content)
    done = subprocess.run(
        [PDFTOTEXT, "-layout", tmp_path / "a.pdf", "-"],
        capture_output=True,
        check=True,
        text=True,
    )
    return re.sub(r"\s+", " ", done.stdout)


def test_the_same_certificate_gives_the_same_bytes(demo):
    made, pages = demo
    assert documents(made, html=True, pdf=True) == pages


def test_the_paper_says_that_it_is_pdf_a_3(demo):
    with opened(demo[1].pdf) as pdf, pdf.open_metadata() as about:
        assert about.pdfa_status == "3A"


def test_the_signed_file_is_attached_to_the_byte(demo):
    made, pages = demo
    with opened(pages.pdf) as pdf:
        attached = pdf.attachments["certificate.json"].get_file().read_bytes()
    assert attached == made.text


def test_every_font_is_embedded(demo):
    with opened(demo[1].pdf) as pdf:
        fonts = [
            o
            for o in pdf.objects
            if isinstance(o, pikepdf.Dictionary) and o.get("/Type") == "/FontDescriptor"
        ]
        assert fonts
        assert all({"/FontFile", "/FontFile2", "/FontFile3"} & set(font.keys()) for font in fonts)


@pdftotext
def test_the_face_is_one_page_and_every_page_says_what_it_rests_on(demo, tmp_path):
    with opened(demo[1].pdf) as pdf:
        count = len(pdf.pages)
    (tmp_path / "a.pdf").write_bytes(demo[1].pdf)
    pages = [
        subprocess.run([PDFTOTEXT, "-f", str(n), "-l", str(n), tmp_path / "a.pdf", "-"],
                       capture_output=True, check=True, text=True).stdout
        for n in range(1, count + 1)
    ]  # fmt: skip
    assert all(page.lstrip().startswith("Demonstration, no real piece") for page in pages)
    first = re.sub(r"\s+", " ", pages[0])
    for part in ("What is claimed", "Because of what", "Alternatives", "For whom", "Limits",
                 "local lawyer", "does not show that the attribution is right", "SHA-256"):  # fmt: skip
        assert part in first
    assert "Why M04" not in first


@pdftotext
@pytest.mark.parametrize("count", [0, 200])
def test_nothing_is_lost_with_no_or_two_hundred_findings(count, tmp_path):
    nodes = "".join(
        f"  t{i}:\n    label: Trait number {i}\n    states: [yes, no]\n    parents: [shop]\n    examine: {{}}\n"
        "    rows:\n      - {given: {shop: north}, p: {yes: 0.6, no: 0.4}, source: test, n: 20}\n"
        "      - {given: {shop: [south, other]}, p: {yes: 0.5, no: 0.5}, source: test, n: 20}\n"
        for i in range(200)
    )  # fmt: skip
    found = ", ".join(f"t{i}: {{state: yes, note: note {i}}}" for i in range(count))
    made = issue(*small_case("{" + found + "}", text=SHOPS + nodes))
    pages = documents(made, html=True, pdf=True)
    text = words(pages.pdf, tmp_path)
    html = pages.html.decode()
    for i in range(200):
        assert f"Trait number {i}" in text
        assert f"Trait number {i}<" in html or f"Trait number {i}:" in html
    for i in range(count):
        assert f"note {i}" in text
    assert "never tested on known pieces" in text


@pdftotext
@pytest.mark.parametrize(
    "name", ["Ελένη Κυριακού", "Жанна Цветкова", "Zoë Čapková-Łęcka", "Nguyễn Thị"]
)
def test_latin_greek_and_cyrillic_need_no_installed_font(name, tmp_path):
    made = issue(*small_case(more=STATED.replace("client: C", f"client: {name}")))
    assert name in words(documents(made, html=False, pdf=True).pdf, tmp_path)


def test_a_character_without_a_font_stops_the_document_and_is_named():
    made = issue(*small_case(more=STATED.replace("client: C", "client: Ann \U00013000\U0001d11e")))
    if not missing_characters("\U00013000"):
        pytest.skip("a font with hieroglyphs is installed here")
    with pytest.raises(CertificateError, match=r"U\+13000.*apt install fonts-"):
        documents(made, html=False, pdf=True)


def test_text_of_a_user_is_never_read_as_source(tmp_path):
    hostile = '#panic("read") $x$ *b* ] ) \\\\ @here <b>x</b> {{ 7 * 7 }} https://x.example'
    made = issue(*small_case(more=STATED.replace("client: C", f"client: '{hostile}'")))
    pages = documents(made, html=True, pdf=True)
    assert "<b>x</b>" not in pages.html.decode()
    assert "{{ 7 * 7 }}" in pages.html.decode()
    if PDFTOTEXT:
        assert '#panic("read")' in words(pages.pdf, tmp_path)


def test_a_long_word_stays_on_the_page(tmp_path):
    long = "x" * 300
    made = issue(*small_case(more=STATED.replace("client: C", f"client: {long}")))
    pdf = documents(made, html=False, pdf=True).pdf
    if PDFTOTEXT:
        assert words(pdf, tmp_path).replace(" ", "").replace("\u200b", "").count("x" * 24) >= 12


def test_the_page_needs_nothing_beside_it(demo):
    html = demo[1].html.decode()
    assert "<script" not in html
    assert not re.search(r"(?:src|href|url)\s*[=(]\s*[\"']?(?!#)(?:https?:)?//", html)
    assert "default-src 'none'" in html
    assert html.index("no real piece") < html.index("<h1")


def test_page_and_paper_carry_identifier_and_digest(demo):
    made, pages = demo
    html = pages.html.decode()
    assert made.id in html
    assert made.digest in html
    assert qr_code(made).startswith("<svg")


def test_no_probability_is_printed_as_certain(demo):
    html = demo[1].html.decode().split("</style>")[1].replace("width:30%", "")
    assert not re.search(r"(?<![\d.])(0|100|0\.0|100\.0)%", html)
