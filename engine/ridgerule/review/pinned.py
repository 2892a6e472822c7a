"""Rulebooks of the editions that a report was made with, and of no others.

A rulebook asked for without an edition stands for those that were at hand: an edition that has
come to lie in the folder since must not change what is found again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.problems import InputRejected, Problem
from ridgerule.shelf import Shelf

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from ridgerule.problems import Location
    from ridgerule.rulebook import Rulebook


class Pin(Struct, frozen=True):
    """One edition that was at hand."""

    name: str
    """As `id@edition`."""
    asked_at: Location
    """Where the report names it."""
    is_needed: bool
    """Whether it was the one in use."""


class PinnedShelf(Shelf):
    """A shelf on which a rulebook asked for has the editions it had then."""

    def __init__(
        self,
        pins: Mapping[str, tuple[Pin, ...]],
        *,
        folders: tuple[Path, ...] = (),
        files: tuple[Path, ...] = (),
    ) -> None:
        """Take the editions of each rulebook asked for, by the reference it was asked for by.

        Raises `InputRejected` with the problems of rulebooks named as files.
        """
        super().__init__(folders=folders, files=files)
        self._pins = pins
        self.left_out: tuple[Pin, ...] = ()
        """Editions that were at hand and not in use, and that can't be found or read now."""

    def editions(self, reference: str, *, asked_at: Location) -> tuple[Rulebook, ...]:
        """Return the editions that `reference` meant then, in the order they had.

        Raises `InputRejected`, located in the report, where one that was in use can't be found.
        """
        if reference not in self._pins:
            return super().editions(reference, asked_at=asked_at)
        found: list[Rulebook] = []
        gone: list[Pin] = []
        problems: list[Problem] = []
        for pin in self._pins[reference]:
            try:
                found.extend(super().editions(pin.name, asked_at=pin.asked_at))
            except InputRejected as rejected:
                gone.append(pin)
                if pin.is_needed or len(self._pins[reference]) == len(gone):
                    problems.extend(rejected.problems)
        if problems:
            raise InputRejected(problems)
        self.left_out = tuple(dict.fromkeys((*self.left_out, *gone)))
        return tuple(found)
