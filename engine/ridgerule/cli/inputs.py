"""From what was typed to audits: records read, rulebooks found, each plan compiled once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.compile import plan_for
from ridgerule.audit.evaluate import evaluate
from ridgerule.documents import load_document
from ridgerule.problems import InputRejected, Location, Problem
from ridgerule.record_reader import read_record, rulebooks_named
from ridgerule.schemas import check, is_kind
from ridgerule.shelf import SUFFIXES, Shelf

if TYPE_CHECKING:
    from ridgerule.audit.findings import Audit
    from ridgerule.audit.plan import Plan
    from ridgerule.documents import Document

ON_THE_COMMAND_LINE = Location("--against")


class Asked(Struct, frozen=True):
    """What a command was asked to hold records against."""

    against: tuple[str, ...] = ()
    """Rulebooks that replace the records' own lists: ids or files."""
    folders: tuple[Path, ...] = ()


class Auditor:
    """Audits records one after the other; records that name the same rulebooks share a plan."""

    def __init__(self, asked: Asked) -> None:
        self._asked = asked
        self._plans: dict[tuple[Path, tuple[str, ...]], Plan] = {}

    def audit(self, path: Path, *, name: str | None = None) -> Audit:
        """Return the audit of the record in a file.

        Raises `InputRejected` with every problem of the record and of its rulebooks.
        """
        document = load_document(path, name=name)
        if not is_kind(document, "record"):
            raise InputRejected(check(document, "record"))
        try:
            plan = self._plan(document, path.parent)
        except InputRejected as rejected:
            raise InputRejected((*rejected.problems, *check(document, "record"))) from None
        return evaluate(plan, read_record(document, plan.vocabulary))

    def _plan(self, document: Document, beside: Path) -> Plan:
        wanted = self._asked.against or rulebooks_named(document)
        if not wanted:
            where = document.location(("rulebooks",))
            advice = "list them under `rulebooks:`, or name them with `--against`"
            raise InputRejected([Problem(where, "at least one rulebook", "none", advice)])
        key = (beside, wanted)
        if key not in self._plans:
            self._plans[key] = self._compiled(wanted, document, beside)
        return self._plans[key]

    def _compiled(self, wanted: tuple[str, ...], document: Document, beside: Path) -> Plan:
        if self._asked.against:
            return plan_against(self._asked, beside)
        shelf = Shelf(folders=(*self._asked.folders, beside))
        where = (document.location(("rulebooks", i)) for i in range(len(wanted)))
        return plan_for(zip(wanted, where, strict=True), shelf)


def plan_against(asked: Asked, beside: Path) -> Plan:
    """Return the plan of the rulebooks named on the command line, found also in a folder.

    Raises `InputRejected` with every problem of theirs.
    """
    files = tuple(Path(name) for name in asked.against if _is_file(name))
    shelf = Shelf(folders=(*asked.folders, beside), files=files)
    given = {str(file): book.name for file, book in zip(files, shelf.given, strict=True)}
    names = (given.get(str(Path(name)), name) for name in asked.against)
    return plan_for([(name, ON_THE_COMMAND_LINE) for name in names], shelf)


def _is_file(name: str) -> bool:
    """Tell whether a rulebook is named by its file rather than by its id."""
    return name.endswith(SUFFIXES)
