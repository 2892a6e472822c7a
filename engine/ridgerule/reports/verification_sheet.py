"""What came of verifying a report, as a sheet: what was held against what, and what differs."""

from __future__ import annotations

from collections import Counter
from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.audit.findings import Outcome
from ridgerule.reports.sheet import Badge, Heading, Items, Pairs, Sheet, Table, Words
from ridgerule.review.finding_changes import ChangeKind
from ridgerule.review.verification import Validity

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridgerule.reports.sheet import Block, Cell
    from ridgerule.review.finding_changes import Change
    from ridgerule.review.verification import FileCheck, SignatureCheck, Verification

SAME, DIFFERS, OPEN = "same", "differs", "open"
_SAME = Badge(Outcome.PASS, SAME)
_DIFFERS = Badge(Outcome.FAIL, DIFFERS)
_VALIDITIES: Mapping[Validity, Badge] = MappingProxyType(
    {
        Validity.VALID: Badge(Outcome.PASS, "valid"),
        Validity.OTHER_REPORT: _DIFFERS,
        Validity.NOT_VALID: Badge(Outcome.FAIL, "not valid"),
        Validity.OTHER_KEY: Badge(Outcome.FAIL, "other key"),
        Validity.KEY_NOT_GIVEN: Badge(Outcome.NOT_VERIFIED, OPEN),
    }
)
_AS_MADE = "its findings match their digest"
_EDITED = "its findings don't match their digest"
WHAT_IT_SHOWS = (
    "That a report follows from its record and its rulebooks. Whether the record is true to the "
    "roof, whoever went up answers for. Photos count as far as the record gives their SHA-256."
)


def verification_sheet(done: Verification, signature: SignatureCheck | None, *, file: str) -> Sheet:
    """Return what was held against what, and all that differs; `file` is the report's."""
    roof = f"{done.roof_name} ({done.roof})" if done.roof_name else done.roof
    blocks: list[Block] = [
        Words(verdict(done, signature)),
        Pairs(
            (
                ("report", file),
                ("record", done.record.name),
                ("ridgerule", _versions(done)),
                ("signing key", signature.public_key if signature else ""),
            )
        ),
        Table(("", "what", "how it is now"), tuple(_rows(done, signature))),
    ]
    blocks.extend(_digests(done))
    blocks.extend(_differences(done))
    if done.left_out:
        blocks.append(Heading("Editions left out"))
        blocks.append(Words("At hand then, not in use, and not to be found now:"))
        blocks.append(Items(done.left_out))
    blocks.append(Heading("What this shows"))
    blocks.append(Words(WHAT_IT_SHOWS))
    return Sheet(f"Verification: {roof}", tuple(blocks))


def verdict(done: Verification, signature: SignatureCheck | None) -> str:
    """Return in one sentence whether all is the same, or what is not."""
    wrong = [*_wrong(done)]
    if signature is not None and _VALIDITIES[signature.validity].outcome is Outcome.FAIL:
        wrong.append(f"the signature is {signature.validity}")
    if wrong:
        return f"Not the same: {'; '.join(wrong)}."
    said = f"The same: record and rulebooks give the report's {_counted(done.count)} again"
    if signature is None:
        return f"{said}."
    if signature.validity is Validity.VALID:
        return f"{said}, and the signature is valid."
    advice = "name the signer's key with `--public-key`"
    return f"{said}. Whose signature it is, is not verified: {advice}."


def _wrong(done: Verification) -> Iterator[str]:
    if not done.is_as_made:
        yield "the report was changed after it was made"
    if not done.record.sameness.is_same:
        yield f"the record has {done.record.sameness}"
    others = [book for book in done.rulebooks if not book.sameness.is_same]
    if others:
        yield "rulebooks differ" if len(others) > 1 else f"rulebook {others[0].name} differs"
    if done.findings:
        yield f"findings differ ({_tally(done)})"
    elif done.parts:
        yield "what the report says differs"


def _counted(count: int) -> str:
    return f"{count} finding" if count == 1 else f"{count} findings"


def _tally(done: Verification) -> str:
    counts = Counter(finding.kind for finding in done.findings)
    listed = ", ".join(f"{counts[kind]} {kind}" for kind in ChangeKind if counts[kind])
    return f"{listed}, of {done.count}"


def _versions(done: Verification) -> str:
    if done.version_then == done.version_now:
        return f"{done.version_now}, then and now"
    return f"{done.version_then} then, {done.version_now} now: wordings can differ by that alone"


def _rows(done: Verification, signature: SignatureCheck | None) -> Iterator[tuple[Cell, ...]]:
    yield _badge(is_same=done.is_as_made), "the report", _AS_MADE if done.is_as_made else _EDITED
    yield _file_row("the record", done.record)
    for book in done.rulebooks:
        yield _file_row(book.name, book)
    again = _tally(done) if done.findings else f"{_counted(done.count)}, the same again"
    yield _badge(is_same=not done.findings), "the findings", again
    said = f"{len(done.parts)} differ" if done.parts else "the same again"
    yield _badge(is_same=not done.parts), "what else it says", said
    if signature is not None:
        yield _VALIDITIES[signature.validity], "the signature", signature.validity.value


def _badge(*, is_same: bool) -> Badge:
    return _SAME if is_same else _DIFFERS


def _file_row(what: str, check: FileCheck) -> tuple[Cell, ...]:
    return _badge(is_same=check.sameness.is_same), what, check.sameness.value


def _digests(done: Verification) -> Iterator[Block]:
    """Yield the digests of the files that are not byte for byte what they were."""
    checks = [("the record", done.record), *((book.name, book) for book in done.rulebooks)]
    others = [(what, check) for what, check in checks if check.then != check.now]
    if others:
        yield Heading("Digests (SHA-256)")
    for what, check in others:
        then, now = check.then, check.now
        is_other = then.canonical != now.canonical
        yield Heading(what, level=3)
        yield Pairs(
            (
                ("file then", then.of_file or "none"),
                ("file now", now.of_file or "none"),
                ("content then", then.canonical or "none" if is_other else ""),
                ("content now", now.canonical or "none" if is_other else ""),
            )
        )


def _differences(done: Verification) -> Iterator[Block]:
    if done.findings or done.parts:
        yield Heading("What differs")
    for finding in done.findings:
        books = ", ".join(finding.rulebooks)
        yield Heading(f"{finding.rule} on {finding.place}: {finding.kind}", level=3)
        yield Words(f"{finding.title} ({books})" if books else finding.title)
        yield _table(_said_once(finding.changes))
    if done.parts:
        yield Heading("Of the report as a whole", level=3)
        yield _table(done.parts)


def _said_once(changes: tuple[Change, ...]) -> tuple[Change, ...]:
    """Return changes without those that follow from another: a statement, a trace of readings."""
    by_field = {change.field: (change.then, change.now) for change in changes}
    return tuple(
        change
        for change in changes
        if not (change.field == "statement" and "outcome" in by_field)
        and not (change.field == "trace" and by_field["trace"] == by_field.get("measured"))
    )


def _table(changes: tuple[Change, ...]) -> Table:
    return Table(("", "then", "now"), tuple((c.field, c.then, c.now) for c in changes))
