"""`claywit certify` and `claywit verify`."""

from datetime import UTC, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from claywit.commands.arguments import AsJson, EvidenceFile, ModelFile
from claywit.commands.secrets import PassphraseFd, PassphraseFile, passphrase
from claywit.errors import CertificateError

if TYPE_CHECKING:
    from claywit.certificate.schema import Log


def certify(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    model: ModelFile,
    evidence: EvidenceFile,
    key: Annotated[
        str, typer.Option("--key", "-k", metavar="KEY", help="The key that signs: name or path.")
    ],
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="FILE", help="Where the certificate goes.")
    ],
    html: Annotated[
        Path | None, typer.Option("--html", metavar="FILE", help="Write it as a page as well.")
    ] = None,
    pdf: Annotated[
        Path | None, typer.Option("--pdf", metavar="FILE", help="Write it as PDF/A-3 as well.")
    ] = None,
    valid_until: Annotated[
        str | None, typer.Option("--valid-until", metavar="DATE", help="Its last day.")
    ] = None,
    supersedes: Annotated[
        Path | None,
        typer.Option("--supersedes", metavar="CERT", help="The certificate it takes the place of."),
    ] = None,
    evaluation: Annotated[
        Path | None,
        typer.Option("--evaluation", metavar="FILE", help="Figures of a test on known pieces."),
    ] = None,
    casebook: Annotated[
        Path | None,
        typer.Option("--casebook", metavar="FILE", help="Say where the log of FILE stood."),
    ] = None,
    by_digest: Annotated[
        bool,
        typer.Option("--model-by-digest", help="Name the model by its digest, do not embed it."),
    ] = False,
    passphrase_file: PassphraseFile = None,
    passphrase_fd: PassphraseFd = None,
) -> None:
    """Sign the opinion on a piece, with all that it rests on, so that anyone can check it."""
    from claywit.certificate.documents import documents
    from claywit.certificate.identity import end_of_day
    from claywit.certificate.issue import certify as issue
    from claywit.certificate.trace import Terms
    from claywit.records import disk, files, issued, keys

    issued.refuse_existing(output, html, pdf)
    terms = Terms(
        embed=not by_digest,
        valid_until=end_of_day(valid_until) if valid_until else None,
        evaluation=issued.read_figures(evaluation) if evaluation else None,
        supersedes=issued.read_earlier(supersedes) if supersedes else None,
        log=_log_of(casebook) if casebook else None,
    )
    known, examined = files.read_piece(model, evidence)
    path = keys.key_path(key)
    secret = passphrase(passphrase_file, passphrase_fd) if keys.needs_passphrase(path) else None
    signer = keys.signer(path, secret)
    try:
        made = issue(
            known,
            examined,
            files.read_standards(),
            signer=signer,
            now=datetime.now(UTC),
            terms=terms,
        )
    except CertificateError as missing:
        typer.echo("\n".join(f"missing  {lack}" for lack in missing.details))
        raise
    pages = documents(made, html=html is not None, pdf=pdf is not None)
    # The certificate itself appears last: where it is there, so are its pages.
    files_new = {
        file: page for file, page in ((html, pages.html), (pdf, pages.pdf)) if file and page
    }
    disk.write_all_new({**files_new, output: made.text})
    for file in (output, *files_new):
        typer.echo(f"written      {file}")
    typer.echo(f"certificate  {made.id}\nSHA-256      {made.digest}")
    typer.echo(f"signed by    {made.certificate.issuer}")


def _log_of(casebook: Path) -> "Log":
    from claywit.certificate.schema import Log
    from claywit.records import opening

    with opening.opened(casebook) as kept, kept.reading():
        head = kept.head()
    return Log(head=head.hash, length=head.length)


def _start_of(text: str) -> datetime:
    from claywit.commands.days import day_of

    return datetime.combine(day_of(text, "--status-since"), time(), UTC)


def verify(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    certificate: Annotated[Path, typer.Argument(metavar="CERT", help="A certificate file.")],
    signer: Annotated[
        str | None,
        typer.Option("--signer", metavar="PUBKEY", help="The key you expect: did:key:… or a file."),
    ] = None,
    status: Annotated[
        Path | None,
        typer.Option("--status", metavar="FILE", help="The signer's status list of today."),
    ] = None,
    status_kept: Annotated[
        Path | None,
        typer.Option(
            "--status-kept", metavar="FILE", help="A list from before; today's must go on from it."
        ),
    ] = None,
    status_since: Annotated[
        str | None,
        typer.Option("--status-since", metavar="DATE", help="Take no list from before that day."),
    ] = None,
    model: Annotated[
        Path | None, typer.Option("--model", metavar="FILE", help="The model you expect (YAML).")
    ] = None,
    page: Annotated[
        Path | None,
        typer.Option("--page", metavar="FILE", help="The page or PDF that came with it."),
    ] = None,
    no_recheck: Annotated[
        bool, typer.Option("--no-recheck", help="Leave the numbers; takes a blink.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Check a certificate without any network: who signed, what was changed, do the numbers follow.

    Exit status: 0 nothing that was looked at is wrong, 1 something is, 2 a file cannot be read.
    """
    from claywit.certificate.check import Against
    from claywit.certificate.check import verify as check
    from claywit.certificate.standing import Lists
    from claywit.certificate.verify import as_data
    from claywit.commands.verdict import as_text
    from claywit.records import issued, keys

    if status is None and (status_kept or status_since):
        raise CertificateError("--status-kept and --status-since go with --status")
    lists = Lists(
        today=issued.read_signed(status) if status else None,
        kept=issued.read_signed(status_kept) if status_kept else None,
        since=_start_of(status_since) if status_since else None,
    )
    expected = None
    if model:
        from claywit.records.files import read_model

        expected = read_model(model)
    against = Against(
        signer=keys.read_public(signer) if signer else None,
        status=lists,
        model=expected,
        page=issued.read_page(page) if page else None,
        recompute=not no_recheck,
    )
    verdict = check(issued.read_signed(certificate), against, now=datetime.now(UTC))
    typer.echo(as_data(verdict) if as_json else as_text(verdict))
    if not verdict.valid:
        raise typer.Exit(1)
