"""`ridgerule sign`: sign a report, or make a key to sign with."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ridgerule.cli.keys import need_cryptography, private_key, write_new_key
from ridgerule.cli.outputs import put
from ridgerule.problems import InputRejected, Location, Problem, shown
from ridgerule.review.findings_digest import findings_digest
from ridgerule.review.report_documents import load_report
from ridgerule.review.report_schema import reports_in

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.documents import Document

SUFFIX = ".sig"
"""Put after a report's name to name its signature."""

app = typer.Typer(add_completion=False)


@app.command(
    help="Sign a report with Ed25519, or make a key to sign with.\n\n"
    "The signature is of the report's data, not of its layout, and lies in a file of its own. "
    "`ridgerule verify --signature` checks it.",
    epilog="Exit status: 0 signed, or a key made; 2 a file can't be used.",
)
def sign(
    report: Annotated[
        Path | None,
        typer.Argument(metavar="REPORT.json", help="Report to sign, made with `--format json`."),
    ] = None,
    *,
    key: Annotated[
        Path | None,
        typer.Option("--key", metavar="KEY.pem", help="Private key to sign with."),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output", "-o", metavar="PATH", help="Signature to write; else REPORT.json.sig."
        ),
    ] = None,
    new_key: Annotated[
        Path | None,
        typer.Option(
            "--new-key",
            metavar="KEY.pem",
            help="Make a key instead: KEY.pem to keep, KEY.pub.pem to hand out. Never written "
            "over another.",
        ),
    ] = None,
) -> None:
    """Sign a report, or make a key to sign with."""
    if new_key is not None:
        if report is not None or key is not None or output is not None:
            raise typer.BadParameter("a key is made by itself", param_hint="--new-key")
        need_cryptography("--new-key")
        public = write_new_key(new_key)
        print(f"{shown(new_key)}: the private key; whoever has it can sign as you")
        print(f"{shown(public)}: the public key; hand it to whoever is to check your signatures")
        return
    if report is None or key is None:
        lacking = "REPORT.json" if report is None else "--key"
        raise typer.BadParameter("a report and a key are needed to sign", param_hint=lacking)
    need_cryptography("--key")
    _sign(report, key, output or report.with_name(f"{report.name}{SUFFIX}"))


def _sign(report: Path, key: Path, output: Path) -> None:
    from ridgerule.review.signatures import as_file, signature_of  # noqa: PLC0415 - an extra

    document = load_report(report)
    if problems := tuple(_told_edited(document)):
        raise InputRejected(problems)
    signer = private_key(key)
    for kept in (report, key):
        if output.exists() and output.samefile(kept):
            told = "a place of the signature's own"
            advice = "choose another place with `--output`"
            raise InputRejected([Problem(Location("--output"), told, f"`{shown(kept)}`", advice)])
    signature = signature_of(document.data, signer)
    put(as_file(signature), output)
    print(f"{shown(output)}: signature of {shown(report)}, public key {signature.public_key_text}")


def _told_edited(document: Document) -> Iterator[Problem]:
    """Yield where a report's findings are not those that its own digest is of."""
    for path, report in reports_in(document).items():
        found = findings_digest(report)
        if found != (stated := report["findings_digest"]):
            where = document.location((*path, "findings_digest"))
            told = f"the digest of the findings in this report, `{found}`"
            advice = "the report was changed after it was made: make it again"
            yield Problem(where, told, f"`{stated}`", advice)
