"""`ridgerule verify`: make a report's findings again from its record and rulebooks."""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated

import typer

from ridgerule.cli.app import OutputOption
from ridgerule.cli.exits import Exit
from ridgerule.cli.keys import need_cryptography, public_key
from ridgerule.cli.options import ListFormat, SheetFormat, put_sheet
from ridgerule.cli.outputs import put
from ridgerule.cli.remaking import both, given, remade
from ridgerule.reports.verification_data import verification_json
from ridgerule.reports.verification_sheet import verification_sheet
from ridgerule.review.report_documents import load_report
from ridgerule.review.verification import SignatureCheck, Validity, verification

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.cli.remaking import Given
    from ridgerule.review.signatures import Signature
    from ridgerule.review.verification import Verification

app = typer.Typer(add_completion=False)

_RESULTS: Mapping[Exit, str] = MappingProxyType(
    {Exit.PASS: "same", Exit.FAIL: "different", Exit.NOT_VERIFIED: "not verified"}
)


RulebookPaths = Annotated[
    list[Path] | None,
    typer.Option(
        "--rulebooks",
        metavar="PATH",
        help="Folder to find its rulebooks in, besides the record's own and those shipped; or the "
        "file of a rulebook. Repeat for several.",
    ),
]
PublicKey = Annotated[
    Path | None,
    typer.Option(
        "--public-key", metavar="KEY.pub.pem", help="Key of whoever should have signed it."
    ),
]


@app.command(
    help="Make a report's findings again from its record and rulebooks, and say what differs.\n\n"
    "The rulebooks are those that the report names, in the same editions. Of a list of reports it "
    "is the one on the record's roof. A signature is checked besides, where one is named.",
    epilog="Exit status: 0 the same again, 1 something differs or the signature is not good, 4 "
    "all is the same but nothing shows whose signature it is, 2 a file can't be used.",
)
def verify(  # noqa: PLR0913 - one parameter an option
    report: Annotated[
        Path,
        typer.Argument(metavar="REPORT.json", help="Report to verify, made with `--format json`."),
    ],
    *,
    record: Annotated[
        Path, typer.Option("--record", metavar="RECORD", help="Record that it was made from.")
    ],
    rulebooks: RulebookPaths = None,
    signature: Annotated[
        Path | None,
        typer.Option("--signature", metavar="FILE", help="Signature of the report to check."),
    ] = None,
    key: PublicKey = None,
    form: Annotated[
        ListFormat, typer.Option("--format", help="Form of the answer.")
    ] = ListFormat.TEXT,
    output: OutputOption = None,
) -> None:
    """Make a report's findings again, and end with the status that says whether they are."""
    if key is not None and signature is None:
        raise typer.BadParameter("a key checks a `--signature`", param_hint="--public-key")
    of, signed = both(lambda: given(report, record), lambda: _signed(signature, key))
    again = remade(of, record.parent, tuple(rulebooks or ()))
    done = verification(of.report, again.report, left_out=again.left_out)
    checked = _checked(of, *signed) if signed is not None else None
    status = _status(done, checked)
    _put(done, checked, of.document.name, status, form, output)
    raise typer.Exit(status)


def _put(  # noqa: PLR0913, PLR0917 - what there is to say, and where to
    done: Verification,
    checked: SignatureCheck | None,
    file: str,
    status: Exit,
    form: ListFormat,
    output: Path | None,
) -> None:
    if form is ListFormat.JSON:
        put(verification_json(done, checked, file=file, result=_RESULTS[status]), output)
    else:
        put_sheet(verification_sheet(done, checked, file=file), SheetFormat.TEXT, output)


def _signed(signature: Path | None, key: Path | None) -> tuple[Signature, bytes | None] | None:
    """Return a signature and the key it should be by, None where none is to be checked."""
    if signature is None:
        return None
    need_cryptography("--signature")
    from ridgerule.review.signatures import read_signature  # noqa: PLC0415 - an extra

    return both(
        lambda: read_signature(load_report(signature)),
        lambda: public_key(key) if key is not None else None,
    )


def _checked(of: Given, signature: Signature, key: bytes | None) -> SignatureCheck:
    from ridgerule.review.signatures import validity  # noqa: PLC0415 - an extra

    found = validity(signature, of.document.data, key)
    return SignatureCheck(found, signature.public_key_text)


def _status(done: Verification, checked: SignatureCheck | None) -> Exit:
    """Return 1 where anything differs, else 4 where nobody vouches for the key, else 0."""
    found = checked.validity if checked is not None else Validity.VALID
    if not done.is_same or found not in (Validity.VALID, Validity.KEY_NOT_GIVEN):
        return Exit.FAIL
    return Exit.PASS if found is Validity.VALID else Exit.NOT_VERIFIED
