"""A record with what tables say put in, so located that the record's reader tells of cells."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.documents import Document

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.documents import Path
    from ridgerule.problems import Location
    from ridgerule.tables.drafts import Draft


class TableDocument(Document, frozen=True):
    """A record whose parts are located in the cells that say them, or in the file they were in."""

    origins: Mapping[Path, Location]
    named: Mapping[Path, Location]
    under: Document | None
    """The record that tables were put into."""
    begins: Location
    """What is located nowhere else."""

    def location(self, path: Path = ()) -> Location:
        """Return the cell, or the line of the record, that says what is at a path."""
        while path:
            if path in self.origins:
                return self.origins[path]
            if self.under is not None and path in self.under.positions:
                return self.under.location(path)
            path = path[:-1]
        return self.begins if self.under is None else self.under.location()

    def key_location(self, path: Path) -> Location:
        """Return the cell that names the key that a path ends in, or the line that has it."""
        if path in self.named:
            return self.named[path]
        if path not in self.origins and self.under is not None and path in self.under.keys:
            return self.under.key_location(path)
        return self.location(path)


def located(draft: Draft, begins: Location) -> TableDocument:
    """Return a draft as a document, to be read as any record is."""
    return TableDocument(
        name=begins.file if draft.document is None else draft.document.name,
        data=draft.data,
        digest="",
        positions=MappingProxyType({}),
        keys=MappingProxyType({}),
        origins=MappingProxyType(draft.origins),
        named=MappingProxyType(draft.keys),
        under=draft.document,
        begins=begins,
    )
