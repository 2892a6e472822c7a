"""A report held against the one that the same files give now: what differs, and since when.

Both are plain data in the form of `schemas/report.schema.json`. The names of files, and the line
numbers in those of other bytes, say where something stands and are not held against each other;
nor are a disclaimer and cautions that came with another version of ridgerule.
"""

from __future__ import annotations

from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from ridgerule.review.finding_changes import Change, FindingChange, changed, finding_changes
from ridgerule.review.findings_digest import findings_digest, without_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

_Report = dict[str, Any]
_NUMBER = frozenset({"number"})
_NUMBER_AND_PATH = _NUMBER | {"path"}


class Sameness(StrEnum):
    """How a file now is to the file that a report was made from."""

    SAME_FILE = "the same file"
    SAME_CONTENT = "the same content in other bytes"
    OTHER_CONTENT = "other content"
    NOT_ITS_DIGESTS = "digests that are not of one file"
    NOT_USED_NOW = "no longer in use"
    NOT_USED_THEN = "not in use then"

    @property
    def is_same(self) -> bool:
        """Whether what it says is the same, to whoever reads it."""
        return self in (Sameness.SAME_FILE, Sameness.SAME_CONTENT)


class Digests(Struct, frozen=True):
    """Both digests of a file; empty where there is none."""

    of_file: str = ""
    canonical: str = ""


class FileCheck(Struct, frozen=True):
    """The record or a rulebook, then and now."""

    name: str
    """A rulebook as `id@edition`; the record's file as it is called now."""
    sameness: Sameness
    then: Digests
    now: Digests


class Validity(StrEnum):
    """What a signature shows of a report."""

    VALID = "valid"
    OTHER_REPORT = "not valid: of other content"
    NOT_VALID = "not valid: not by the key it names"
    OTHER_KEY = "valid, but by another key"
    KEY_NOT_GIVEN = "valid, by a key not vouched for"


class SignatureCheck(Struct, frozen=True):
    """What came of a signature, and by which key it was made."""

    validity: Validity
    public_key: str
    """In Base64."""


class Verification(Struct, frozen=True):
    """What came of holding a report against the one that its files give now."""

    roof: str
    """Its id."""
    roof_name: str
    version_then: str
    """Of ridgerule, as the report says."""
    version_now: str
    record: FileCheck
    rulebooks: tuple[FileCheck, ...]
    digest_stated: str
    """Of the findings, as the report says."""
    digest_then: str
    """Of the findings that stand in the report."""
    digest_now: str
    count: int
    """Findings that were held against each other."""
    findings: tuple[FindingChange, ...]
    parts: tuple[Change, ...]
    """Other parts of the report that are not as they would be."""
    left_out: tuple[str, ...] = ()
    """Editions that were at hand and not in use, and can't be found now."""

    @property
    def is_as_made(self) -> bool:
        """Whether the report's findings are those that its own digest is of."""
        return self.digest_stated == self.digest_then

    @property
    def has_same_findings(self) -> bool:
        """Whether the same was found again."""
        return not self.findings and self.digest_then == self.digest_now

    @property
    def is_same(self) -> bool:
        """Whether the same inputs gave the same findings, and the report says what it said."""
        return (
            self.is_as_made
            and self.has_same_findings
            and not self.parts
            and all(check.sameness.is_same for check in (self.record, *self.rulebooks))
        )


def verification(then: _Report, now: _Report, *, left_out: tuple[str, ...] = ()) -> Verification:
    """Return what differs between a report and the one that its files give now.

    Both have to keep to the report's schema, and to be of one roof.
    """
    record = _file_check(now["record"]["file"], then["record"], now["record"])
    rulebooks = tuple(_rulebooks(then, now))
    findings = _findings(then, now, (record, *rulebooks))
    parts = tuple(_parts(then, now))
    digest_then, digest_now = findings_digest(then), findings_digest(now)
    if digest_then != digest_now and not findings and not parts:
        parts = (_ORDER if record.sameness.is_same else _PATHS,)
    return Verification(
        roof=then["roof"]["id"],
        roof_name=then["roof"]["name"],
        version_then=then["tool"]["version"],
        version_now=now["tool"]["version"],
        record=record,
        rulebooks=rulebooks,
        digest_stated=then["findings_digest"],
        digest_then=digest_then,
        digest_now=digest_now,
        count=len(then["findings"]),
        findings=findings,
        parts=parts,
        left_out=left_out,
    )


_ORDER = Change("findings", "in this order, with these numbers", "in another, or with others")
_PATHS = Change("findings", "at these paths of the record", "at others")


def _findings(
    then: _Report, now: _Report, files: tuple[FileCheck, ...]
) -> tuple[FindingChange, ...]:
    """Return the findings that differ, by all that these files can't have moved.

    Other bytes may have moved lines, and other content of the record, the first of them, paths.
    """
    before, after = then["findings"], now["findings"]
    if any(file.sameness is not Sameness.SAME_FILE for file in files):
        before, after = without_lines(before), without_lines(after)
    ignored = _NUMBER if files[0].sameness.is_same else _NUMBER_AND_PATH
    return finding_changes(before, after, ignored=ignored)


def _rulebooks(then: _Report, now: _Report) -> Iterator[FileCheck]:
    before, after = _by_name(then), _by_name(now)
    for name in dict.fromkeys((*before, *after)):
        yield _file_check(name, before.get(name), after.get(name))


def _by_name(report: _Report) -> dict[str, _Report]:
    return dict(zip(_names(report), report["rulebooks"], strict=True))


def _names(report: _Report) -> Iterator[str]:
    return (f"{book['id']}@{book['edition']}" for book in report["rulebooks"])


def _file_check(
    name: str, then: Mapping[str, Any] | None, now: Mapping[str, Any] | None
) -> FileCheck:
    before, after = _digests(then), _digests(now)
    if now is None:
        sameness = Sameness.NOT_USED_NOW
    elif then is None:
        sameness = Sameness.NOT_USED_THEN
    elif before == after:
        sameness = Sameness.SAME_FILE
    elif before.of_file == after.of_file:
        sameness = Sameness.NOT_ITS_DIGESTS
    elif before.canonical == after.canonical:
        sameness = Sameness.SAME_CONTENT
    else:
        sameness = Sameness.OTHER_CONTENT
    return FileCheck(name, sameness, before, after)


def _digests(entry: Mapping[str, Any] | None) -> Digests:
    if entry is None:
        return Digests()
    return Digests(entry["file_digest"], entry["canonical_digest"])


_WITH_THE_VERSION = ("disclaimer", "cautions")
_RULEBOOK = "rulebook"
_DIGESTS = frozenset({"file", "file_digest", "canonical_digest"})


def _parts(then: _Report, now: _Report) -> Iterator[Change]:
    """Yield the parts of a report, besides its findings, that are not as they would be."""
    yield from changed("outcome", then["outcome"], now["outcome"])
    for part, told in _TOLD.items():
        before, after = told(then), told(now)
        for key in dict.fromkeys((*before, *after)):
            # That a rulebook is in one report alone is told with the rulebooks themselves.
            if part != _RULEBOOK or (key in before and key in after):
                yield from changed(f"{part}, {key}", before.get(key), after.get(key))
    names, names_now = [*_names(then)], [*_names(now)]
    if set(names) == set(names_now):
        yield from changed("rulebooks", names, names_now)
    if then["tool"]["version"] == now["tool"]["version"]:
        for part in _WITH_THE_VERSION:
            yield from changed(part, then[part], now[part])


def _outcomes(report: _Report) -> _Report:
    """Return the outcome, the counts and the note of each rulebook."""
    told: _Report = {}
    for book in report["by_rulebook"]:
        said = {"outcome": book["outcome"], "note": book["note"]} | book["counts"]
        told |= {f"{book['rulebook']}, {key}": value for key, value in said.items()}
    return told


def _titles(report: _Report) -> _Report:
    """Return what a report says of each rulebook, its digests apart."""
    return {
        f"{name}, {key.replace('_', ' ')}": value
        for name, book in _by_name(report).items()
        for key, value in book.items()
        if key not in _DIGESTS
    }


def _together(report: _Report) -> _Report:
    """Return how several limits on one fact lie to each other, by fact and place."""
    told: _Report = {}
    for together in report["limits_together"]:
        limits = "; ".join(f"{each['rule']}: {each['limit']}" for each in together["limits"])
        for here in together["places"]:
            told[f"{together['fact']} on {here['place']}"] = f"{together['relation']} ({limits})"
    return told


_TOLD: Mapping[str, Callable[[_Report], _Report]] = MappingProxyType(
    {
        "roof": lambda report: report["roof"],
        "inspection": lambda report: report["inspection"],
        "counts": lambda report: report["counts"],
        "by rulebook": _outcomes,
        _RULEBOOK: _titles,
        "limits together": _together,
    }
)
"""What is said in a part of a report, by short names, each to be held against the other's."""
