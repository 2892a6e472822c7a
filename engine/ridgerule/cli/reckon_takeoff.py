"""Sheet of a roof's take-off: caps by line, held against what came, and where it belongs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridgerule.cli.reckon_input import with_degrees
from ridgerule.cli.reckon_sheet import Answer, Remark, Result, Sheet, sheet
from ridgerule.enclosures import Amount, compare
from ridgerule.misreadings import Mistake
from ridgerule.problems import shown
from ridgerule.quantities import read, write
from ridgerule.reports.page import cells
from ridgerule.trade import takeoff as roof
from ridgerule.trade.arithmetic import excess, total
from ridgerule.trade.working import Step
from ridgerule.units import Dimension, Units

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridgerule.cli.reckon_input import Typed

_ANGLE, _LENGTH, _COUNT = Dimension.ANGLE, Dimension.LENGTH, Dimension.COUNT
_FLAT = 180
_LONGEST_NAME = 24
"""Cells of a line's or a bundle's name: two of them and a figure fit on 80."""


@dataclass(frozen=True, slots=True)
class TakeoffAsked:
    """Lines and bundles as they were typed, one text each."""

    lines: Sequence[str] | None
    exposure: str | None
    waste: str | None
    came: Sequence[str] | None


def takeoff(typed: Typed, asked: TakeoffAsked) -> Sheet:
    """Return caps by line and profile, held against what came. InputRejected for mistakes."""
    entries = _entries(typed, _LINE, asked.lines)
    if not asked.lines:
        typed.wrong("--line", _LINE.expected, "nothing", _LINE.advice)
    exposure, waste = _exposure(typed, asked.exposure), _waste(typed, asked.waste)
    bundles = [
        roof.Bundle(entry.name, entry.profile, _whole(entry.amounts[0]))
        for entry in _entries(typed, _CAME, asked.came)
    ]
    typed.refuse()
    taken = roof.takeoff([_line(entry, exposure, waste) for entry in entries])
    steps, results = list(taken.steps), _needs(taken)
    if bundles:
        held = roof.held_against(taken, bundles)
        results = [*_supplies(held), *_places(taken, held, bundles)]
        steps += held.steps
    return sheet(
        typed,
        name="takeoff",
        title="Caps of a roof, line by line",
        results=results,
        steps=steps,
        reckonings=("caps needed on a line",),
        table=_table(typed, taken),
        notes=tuple(_notes(entries, asked)),
    )


# what is shown


def _needs(taken: roof.TakeOff) -> list[Result]:
    return [
        Step(f"{found.profile}, caps needed", "", found.caps, _COUNT) for found in taken.profiles
    ]


def _supplies(held: roof.Delivery) -> Iterator[Result]:
    """Yield an answer for each profile a line takes, then the profiles that none takes."""
    for supply in held.supplies:
        if supply.is_wanted:
            yield enough_of(supply)
    for supply in held.wrong:
        yield Remark(
            "wrong profile", f"{supply.profile}: {supply.delivered} came, and no line takes it"
        )
    if not held.wrong:
        yield Remark("wrong profile", "none came")


def enough_of(supply: roof.Supply) -> Answer:
    """Return whether enough of one profile came, with how many are short or over in words."""
    if supply.is_enough is not True:
        rest = f"{_count(supply.short)} short"
    elif compare(supply.surplus, 0) == 0:
        rest = "none over"
    else:
        rest = f"{_count(supply.surplus)} over"
    words = f"needed {_count(supply.needed)}, came {supply.delivered}, {rest}"
    return Answer(f"enough of {supply.profile}", supply.is_enough, words)


def _places(
    taken: roof.TakeOff, held: roof.Delivery, bundles: Sequence[roof.Bundle]
) -> Iterator[Result]:
    """Yield the caps of each bundle that belong on each line, then those that go on none."""
    for item in taken.lines:
        name = item.line.name
        own = [laid for laid in held.allotments if laid.line == name]
        for laid in own:
            yield Step(f"{name}, from {laid.bundle}", "", laid.caps, _COUNT)
        lacking = excess(item.caps, over=total(laid.caps for laid in own))
        if compare(lacking, 0) != 0:
            yield Step(f"{name}, still lacking", "", lacking, _COUNT)
    wrong = {supply.profile for supply in held.wrong}
    odd = {bundle.name for bundle in bundles if bundle.profile in wrong}
    for left in held.allotments:
        if left.line is None:
            why = "of a wrong profile" if left.bundle in odd else "on no line"
            yield Step(f"{left.bundle}, {why}", "", left.caps, _COUNT)


def _table(typed: Typed, taken: roof.TakeOff) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = [("line", "profile", "length", "caps")]
    for item in taken.lines:
        length = write(item.line.length, _LENGTH, units=typed.units)
        rows.append((item.line.name, str(item.line.profile), length, _count(item.caps)))
    return rows


def _notes(entries: Sequence[_Entry], asked: TakeoffAsked) -> Iterator[str]:
    """Yield what was taken for granted, so that no 0 goes unseen."""
    for position, extra in ((1, "starts"), (2, "mitres")):
        silent = [entry.name for entry in entries if len(entry.amounts) <= position]
        if silent:
            yield f"No {extra} were said for {', '.join(silent)}: none are counted."
    if asked.waste is None:
        yield "No waste was said: none is counted."
    if asked.came:
        yield "Bundles are laid in the order typed, on the lines in theirs."
    else:
        yield "Nothing was said to have come: only the need is told."


def _count(amount: Amount) -> str:
    return write(amount, _COUNT, units=Units.INCH)  # a count has no system of units


# what was typed


@dataclass(frozen=True, slots=True)
class _Profile:
    """The angle a cap is made for: `120deg` and `120.0 deg` are one profile."""

    angle: Amount

    def __str__(self) -> str:
        return write(self.angle, _ANGLE, units=Units.INCH)  # degrees in either system


@dataclass(frozen=True, slots=True)
class _Form:
    """What one flag's text is made of: a name, a profile, then amounts of `dimensions`."""

    flag: str
    expected: str
    example: str
    dimensions: tuple[Dimension, ...]
    """Those of the amounts; only the first has to be there."""

    @property
    def advice(self) -> str:
        return f"write it as in `{self.flag} '{self.example}'`"


_LINE = _Form(
    "--line",
    "name, profile and length, and after them the counts of starts and mitres if there are any, "
    "with commas between",
    "H1, 120 deg, 18 ft 4 in",
    (_LENGTH, _COUNT, _COUNT),
)
_CAME = _Form(
    "--came",
    "name, profile and count of caps, with commas between",
    "bundle 1, 120 deg, 20",
    (_COUNT,),
)


@dataclass(frozen=True, slots=True)
class _Entry:
    """One text that could be read."""

    name: str
    profile: _Profile
    amounts: tuple[Amount, ...]


def _exposure(typed: Typed, text: str | None) -> Amount:
    """Return the exposure; 0 for one that can't be used, which is told."""
    if text is None:
        return typed.one("--exposure", text, _LENGTH)
    exposure = typed.maybe("--exposure", text, _LENGTH)
    if exposure is not None and not _is_above_0(exposure):
        typed.wrong(
            "--exposure", "a length of more than 0", f"`{shown(text)}`", "measure butt to butt"
        )
    return exposure or 0


def _waste(typed: Typed, text: str | None) -> Amount:
    waste = typed.maybe("--waste", text, Dimension.SHARE) or 0
    if compare(waste, 0) == -1:
        typed.wrong("--waste", "a share of 0 or more", f"`{shown(text)}`", "leave the minus out")
    return waste


def _is_above_0(amount: Amount) -> bool:
    return compare(amount, 0) == 1


def _line(entry: _Entry, exposure: Amount, waste: Amount) -> roof.CapLine:
    length, starts, mitres = (*entry.amounts, 0, 0)[:3]
    return roof.CapLine(
        name=entry.name,
        profile=entry.profile,
        length=length,
        exposure=exposure,
        starts=_whole(starts),
        mitres=_whole(mitres),
        waste=waste,
    )


def _whole(amount: Amount) -> int:
    if not isinstance(amount, int):
        raise TypeError("a count is read as a whole number")
    return amount


def _entries(typed: Typed, form: _Form, texts: Sequence[str] | None) -> list[_Entry]:
    """Return the texts that can be read; the mistakes in the others are kept by `typed`."""
    found = []
    names = list[str]()
    for text in texts or ():
        typed.given.append((form.flag, text))
        name, *parts = _parts(text)
        names.append(name)
        told = list(_mistakes(form, name, parts))
        for expected, what, advice in told:
            typed.wrong(form.flag, expected, f"{what}, in `{shown(text)}`", advice)
        if not told:
            profile, *amounts = _amounts(form, parts)
            found.append(_Entry(name, _Profile(profile), tuple(amounts)))
    for name in dict.fromkeys(name for name in names if name and names.count(name) > 1):
        typed.wrong(
            form.flag,
            "a name for each that no other has",
            f"`{shown(name)}` {names.count(name)} times",
            "bundles go to lines by name: tell them apart",
        )
    return found


def _parts(text: str) -> list[str]:
    """Return the parts between commas; where one has a space after it, `1,200 mm` is one part."""
    plain = " ".join(text.split())
    return [part.strip() for part in plain.split(", " if ", " in plain else ",")]


def _mistakes(form: _Form, name: str, parts: Sequence[str]) -> Iterator[tuple[str, str, str]]:
    """Yield what was expected, what was found, and what to do."""
    if not 1 <= len(parts) - 1 <= len(form.dimensions):
        count = len(parts) + 1
        yield form.expected, f"{count} part{'' if count == 1 else 's'}", form.advice
        return
    if not name or not name.isprintable() or cells(name) > _LONGEST_NAME:
        expected = f"a name of 1 to {_LONGEST_NAME} characters that can be printed"
        yield expected, f"`{shown(name)}`" if name else "no name", form.advice
    for part, dimension in _dimensioned(form, parts):
        found = read(part, dimension)
        if isinstance(found, Mistake):
            yield found.expected, found.found, found.advice
        elif dimension is _ANGLE and not (
            _is_above_0(found.amount) and compare(found.amount, _FLAT) == -1
        ):
            yield "a profile between 0 and 180 deg", f"`{shown(part)}`", "give the cap's angle"
        elif dimension is _LENGTH and not _is_above_0(found.amount):
            yield "a length of more than 0", f"`{shown(part)}`", "give the line's length"


def _amounts(form: _Form, parts: Sequence[str]) -> Iterator[Amount]:
    for part, dimension in _dimensioned(form, parts):
        found = read(part, dimension)
        if isinstance(found, Mistake):
            raise TypeError(found.found)
        yield found.amount


def _dimensioned(form: _Form, parts: Sequence[str]) -> Iterable[tuple[str, Dimension]]:
    """Return each part after the name with its dimension; a bare profile is in degrees."""
    profile, *rest = parts
    return ((with_degrees(profile), _ANGLE), *zip(rest, form.dimensions, strict=False))
