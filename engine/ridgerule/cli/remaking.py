"""A report made again: its record and its rulebooks read as they are now, and held together."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from msgspec import Struct

from ridgerule.audit.compile import facts_of, plan_for
from ridgerule.audit.evaluate import evaluate
from ridgerule.documents import load_document
from ridgerule.photos import with_photos
from ridgerule.plain_data import mapping_in, words_in
from ridgerule.problems import InputRejected, Problem, shown
from ridgerule.quantities import Units
from ridgerule.record_reader import read_record, rulebooks_named
from ridgerule.reports.json_report import report_data
from ridgerule.reports.view import Settings, view_of
from ridgerule.review.pinned import Pin, PinnedShelf
from ridgerule.review.report_documents import load_report
from ridgerule.review.report_schema import reports_in
from ridgerule.schemas import check

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from ridgerule.documents import Document
    from ridgerule.documents import Path as DataPath
    from ridgerule.facts import Vocabulary
    from ridgerule.record import Record

_A = TypeVar("_A")
_B = TypeVar("_B")


class Given(Struct, frozen=True):
    """A report and the record that it should be of, as they were read."""

    document: Document
    """The report's file."""
    path: DataPath
    """Where in its file the report stands: in a list, its index."""
    report: dict[str, Any]
    record: Document


class Remade(Struct, frozen=True):
    """The report that a record and the rulebooks of another report give now."""

    report: dict[str, Any]
    left_out: tuple[str, ...]
    """Editions that were at hand then and not in use, and can't be found now."""


def given(report: Path, record: Path) -> Given:
    """Return a report and its record, both read; of a list the report on the record's roof.

    Raises `InputRejected` with what is wrong with either, or where they are of two roofs.
    """
    (document, reports), of = both(lambda: _reports(report), lambda: _record(record))
    roof = words_in(mapping_in(mapping_in(of.data).get("roof")).get("id"))
    same_roof = {path: each for path, each in reports.items() if each["roof"]["id"] == roof}
    if not same_roof:
        names = dict.fromkeys(f"`{shown(each['roof']['id'])}`" for each in reports.values())
        told = f"the roof that {shown(report)} is a report on, {' or '.join(names)}"
        advice = "name the record of that roof"
        where = of.location(("roof", "id"))
        raise InputRejected([Problem(where, told, f"`{shown(roof)}`", advice)])
    # Of two reports on one roof, that on this very file.
    digests = {path: each["record"]["file_digest"] for path, each in same_roof.items()}
    path = next((p for p, digest in digests.items() if digest == of.digest), next(iter(same_roof)))
    return Given(document, path, same_roof[path], of)


def _reports(path: Path) -> tuple[Document, dict[DataPath, dict[str, Any]]]:
    document = load_report(path)
    return document, reports_in(document)


def _record(path: Path) -> Document:
    document = load_document(path)
    if problems := check(document, "record"):
        raise InputRejected(problems)
    return document


def both(first: Callable[[], _A], second: Callable[[], _B]) -> tuple[_A, _B]:
    """Return what two readings give; raises `InputRejected` with the problems of both."""
    problems: list[Problem] = []
    try:
        one = first()
    except InputRejected as rejected:
        problems.extend(rejected.problems)
    try:
        other = second()
    except InputRejected as rejected:
        problems.extend(rejected.problems)
    if problems:
        raise InputRejected(problems)
    return one, other


def remade(of: Given, folder: Path, paths: tuple[Path, ...]) -> Remade:
    """Return the report that a record gives now, held against the rulebooks of its report.

    `folder` is the record's. `paths` are folders to find rulebooks in, and files of rulebooks.
    Raises `InputRejected` with every problem of the record and the rulebooks.
    """
    folders = (*(path for path in paths if path.is_dir()), folder)
    files = tuple(path for path in paths if not path.is_dir())
    shelf = PinnedShelf(_pins(of), folders=folders, files=files)
    asked = of.report["asked"]
    where = (*of.path, "asked", "rulebooks")
    plan = plan_for(
        [
            (each["rulebook"], of.document.location((*where, i, "rulebook")))
            for i, each in enumerate(asked["rulebooks"])
        ],
        shelf,
    )
    record = with_photos(_read(of.record, plan.vocabulary, shelf), folder)
    settings = Settings(units=Units(asked["units"]) if asked["units"] else None)
    report = report_data(view_of(evaluate(plan, record), settings=settings))
    return Remade(report, tuple(pin.name for pin in shelf.left_out))


def _pins(of: Given) -> Mapping[str, tuple[Pin, ...]]:
    """Return the editions that were at hand of each rulebook asked for."""
    used = {book["rulebook"] for book in of.report["by_rulebook"]}
    where = (*of.path, "asked", "rulebooks")
    return {
        each["rulebook"]: tuple(
            Pin(name, of.document.location((*where, i, "editions", j)), is_needed=name in used)
            for j, name in enumerate(each["editions"])
        )
        for i, each in enumerate(of.report["asked"]["rulebooks"])
    }


def _read(document: Document, vocabulary: Vocabulary, shelf: PinnedShelf) -> Record:
    """Return the record in a document.

    Held against other rulebooks than its own, it may still speak of its own's facts. Those of its
    own that can't be found are no matter, unless it does: then both are told.
    """
    names = rulebooks_named(document)
    references = [(name, document.location(("rulebooks", i))) for i, name in enumerate(names)]
    told: tuple[Problem, ...] = ()
    try:
        vocabulary = vocabulary.extended(facts_of(references, shelf))
    except InputRejected as rejected:
        told = rejected.problems
    try:
        return read_record(document, vocabulary)
    except InputRejected as rejected:
        raise InputRejected((*rejected.problems, *told)) from None
