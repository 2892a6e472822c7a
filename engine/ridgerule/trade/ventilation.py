"""Net free ventilating area of an attic: what is required, what is provided, what would cure it.

Formulas only: divisors, shares and distances are a code's figures and come from a rulebook
(the form follows IRC R806.2: vented area over a divisor). Lengths are in nm, areas in nm2.
Every sum is exact; nothing is rounded before it is held against a limit (see `rounded`).
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, TypeAlias

from msgspec import Struct

from ridgerule.enclosures import Amount, Exact, Span, compare, divide, multiply
from ridgerule.trade.arithmetic import excess, nearest, total, whole_up
from ridgerule.trade.certainty import is_at_most, lesser, not_negative, positive
from ridgerule.trade.working import Step, given
from ridgerule.units import NM_PER_INCH, Dimension

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

SQUARE_INCH = NM_PER_INCH**2

_AREA, _LENGTH, _SHARE = Dimension.AREA, Dimension.LENGTH, Dimension.SHARE
_PER_LENGTH = Dimension.NET_FREE_AREA_PER_LENGTH


def rounded(area: Amount, *, to: Exact = SQUARE_INCH) -> Amount:
    """Return an area in whole units of `to`, midway to the even one.

    The rounding policy: permits and makers print whole square inches, so this is for printing
    and for comparing with what they print. Limits are held against the unrounded area.
    """
    return nearest(area, to=to)


# required


class Needs(StrEnum):
    """How many of its conditions a lower requirement rests on; editions differ."""

    ALL = "all"
    ANY = "any"


class Divisor(Struct, frozen=True):
    """What the vented area is divided by: a span from one divisor to the other where unknown."""

    amount: Amount
    conditions_hold: bool | None
    steps: tuple[Step, ...]


def ventilation_divisor(
    conditions: Mapping[str, bool | None], *, usual: Exact, with_conditions: Exact, needs: Needs
) -> Divisor:
    """Return the divisor for an attic whose `conditions` hold, don't, or (None) are not known.

    Where it can't be told, what is required lies between the two requirements: an area that
    meets the greater of them still passes, one below the lesser still fails. ValueError without
    any condition, or unless 0 < `usual` <= `with_conditions`.
    """
    if not conditions:
        raise ValueError("a divisor with conditions needs at least one condition")
    if not 0 < usual <= with_conditions:
        raise ValueError("the usual divisor must be more than 0 and at most the other one")
    by_truth: dict[bool | None, list[str]] = {True: [], False: [], None: []}
    for name, truth in conditions.items():
        by_truth[truth].append(name)
    decisive, idle = (False, True) if needs is Needs.ALL else (True, False)
    truth = decisive if by_truth[decisive] else None if by_truth[None] else idle
    said = {True: "holds", False: "does not hold", None: "not known"}[truth]
    formula = f"{needs} of its conditions needed; {said}: {', '.join(by_truth[truth])}"
    either = usual if usual == with_conditions else Span(usual, with_conditions)
    amount = either if truth is None else with_conditions if truth else usual
    return Divisor(amount, truth, (Step("divisor", formula, amount, Dimension.COUNT),))


class RequiredArea(Struct, frozen=True):
    """The net free area an attic needs."""

    area: Amount
    steps: tuple[Step, ...]


def required_area(vented_area: Amount, *, divisor: Amount) -> RequiredArea:
    """Return the net free area that `vented_area` needs, both in nm2.

    ValueError where either can't be above 0.
    """
    vented = positive(vented_area, name="a vented area")
    parts = positive(divisor, name="a divisor")
    area = divide(vented, parts)
    steps = (
        given("vented area", vented, _AREA),
        given("divisor", parts, Dimension.COUNT),
        Step("required net free area", "vented area / divisor", area, _AREA),
    )
    return RequiredArea(area, steps)


def counts_as_high(below_ridge: Amount, *, at_most: Exact) -> bool | None:
    """Tell whether a vent so far below the ridge is high; None where too close to compute."""
    return is_at_most(below_ridge, at_most)


def is_share_between(share: Amount, *, least: Exact, most: Exact) -> bool | None:
    """Tell whether a share is in its closed range; None where too close to compute.

    ValueError where `least` is above `most`.
    """
    if least > most:
        raise ValueError("the least share can't be more than the most")
    parts = is_at_most(least, share), is_at_most(share, most)
    return False if False in parts else None if None in parts else True


# provided


class CountedVents(Struct, frozen=True, kw_only=True):
    """Vents of one make: so many, each of so much net free area. ValueError below 0."""

    name: str
    count: int
    area: Amount

    def __post_init__(self) -> None:
        not_negative(self.count, name="a count of vents")
        not_negative(self.area, name="a vent's area")


class VentRun(Struct, frozen=True, kw_only=True):
    """A run of ridge or eave vent, of so much net free area per length (nm2 per nm).

    `closed` are the pieces of it with no opening under them: blocked, or never cut. `slot` is
    the slot's width in all: no more air passes a vent than the slot below it lets through.
    ValueError below 0, or where more is closed than there is.
    """

    name: str
    length: Amount
    per_length: Amount
    closed: tuple[Amount, ...] = ()
    slot: Amount | None = None

    def __post_init__(self) -> None:
        not_negative(self.length, name="a run's length")
        not_negative(self.per_length, name="a run's area per length")
        for piece in self.closed:
            not_negative(piece, name="a closed piece's length")
        if self.slot is not None:
            not_negative(self.slot, name="a slot's width")
        if compare(total(self.closed), self.length) == 1:
            raise ValueError("more of a run is closed than its length")


class ScreenedOpenings(Struct, frozen=True, kw_only=True):
    """Openings of so much gross area, of which screen or louvre leave `free_share` free.

    ValueError below 0, or where the share is above 1.
    """

    name: str
    gross: Amount
    free_share: Amount
    count: int = 1

    def __post_init__(self) -> None:
        not_negative(self.gross, name="a gross area")
        not_negative(self.free_share, name="a free share")
        not_negative(self.count, name="a count of openings")
        if compare(self.free_share, 1) == 1:
            raise ValueError("no more of an opening can be free than there is")


Vent: TypeAlias = CountedVents | VentRun | ScreenedOpenings


class FreeArea(Struct, frozen=True):
    """The net free area of one vent entry."""

    area: Amount
    steps: tuple[Step, ...]


def free_area(vent: Vent) -> FreeArea:
    """Return the net free area of a vent entry, in nm2."""
    match vent:
        case CountedVents(name=name, count=count, area=area):
            each = not_negative(area, name="a vent's area")
            return _working(
                given(f"{name}, area of each", each, _AREA),
                given(f"{name}, count", count, Dimension.COUNT),
                Step(name, "area of each x count", multiply(each, count), _AREA),
            )
        case ScreenedOpenings(name=name, gross=gross, free_share=share, count=count):
            area = multiply(multiply(gross, share), count)
            return _working(
                given(f"{name}, gross area", gross, _AREA),
                given(f"{name}, free share", share, _SHARE),
                given(f"{name}, count", count, Dimension.COUNT),
                Step(name, "gross area x free share x count", area, _AREA),
            )
        case VentRun():
            return _run_area(vent)


def _working(*steps: Step) -> FreeArea:
    return FreeArea(steps[-1].amount, steps)


def _run_area(run: VentRun) -> FreeArea:
    closed = total(run.closed)
    length = excess(run.length, over=closed)
    per_length = run.per_length if run.slot is None else lesser(run.per_length, run.slot)
    formula = "as rated" if run.slot is None else "the lesser of vent as rated and slot's width"
    return _working(
        given(f"{run.name}, length", run.length, _LENGTH),
        Step(f"{run.name}, closed pieces", "their sum", closed, _LENGTH),
        Step(f"{run.name}, length open", "length less closed pieces", length, _LENGTH),
        Step(f"{run.name}, area per length", formula, per_length, _PER_LENGTH),
        Step(run.name, "length open x area per length", multiply(length, per_length), _AREA),
    )


class ProvidedArea(Struct, frozen=True):
    """Net free area by where it is; `elsewhere` counts in the total only."""

    high: Amount
    low: Amount
    elsewhere: Amount
    total: Amount
    steps: tuple[Step, ...]


def provided_area(
    *, high_vents: Sequence[Vent], low_vents: Sequence[Vent], elsewhere: Sequence[Vent] = ()
) -> ProvidedArea:
    """Return the net free area of the vents of one attic, by where they are, in nm2."""
    high = _area_there("high", high_vents)
    low = _area_there("low", low_vents)
    other = _area_there("elsewhere", elsewhere)
    whole = total((high.area, low.area, other.area))
    last = Step("provided in all", "high + low + elsewhere", whole, _AREA)
    steps = (*high.steps, *low.steps, *other.steps, last)
    return ProvidedArea(high.area, low.area, other.area, whole, steps)


def _area_there(where: str, vents: Sequence[Vent]) -> FreeArea:
    areas = [free_area(vent) for vent in vents]
    area = total(found.area for found in areas)
    last = Step(f"provided {where}", "sum of the vents there", area, _AREA)
    return FreeArea(area, (*(step for found in areas for step in found.steps), last))


# balance and cure


class Balance(Struct, frozen=True):
    """What is lacking, and the shares of high and low vents.

    Codes ask for shares of the *required* area, many makers for shares of the *provided*: both
    are here. Shares of the provided area are None where nothing is provided.
    """

    shortfall: Amount
    high_of_required: Amount
    low_of_required: Amount
    high_of_provided: Amount | None
    low_of_provided: Amount | None
    steps: tuple[Step, ...]


def balance(provided: ProvidedArea, *, required: Amount) -> Balance:
    """Return shortfall and shares of `provided` against the `required` area, in nm2.

    ValueError where `required` can't be above 0.
    """
    needed = positive(required, name="a required area")
    lacking = excess(needed, over=provided.total)
    high_of_required = divide(provided.high, needed)
    low_of_required = divide(provided.low, needed)
    steps = [
        given("required", needed, _AREA),
        given("provided high", provided.high, _AREA),
        given("provided low", provided.low, _AREA),
        given("provided in all", provided.total, _AREA),
        Step("shortfall", "required less provided in all, at least 0", lacking, _AREA),
        Step("high, share of required", "provided high / required", high_of_required, _SHARE),
        Step("low, share of required", "provided low / required", low_of_required, _SHARE),
    ]
    if compare(provided.total, 0) == 0:
        return Balance(lacking, high_of_required, low_of_required, None, None, tuple(steps))
    high = _share_of_whole(provided.high, provided.total)
    low = _share_of_whole(provided.low, provided.total)
    steps += [
        Step("high, share of provided", "provided high / provided in all", high, _SHARE),
        Step("low, share of provided", "provided low / provided in all", low, _SHARE),
    ]
    return Balance(lacking, high_of_required, low_of_required, high, low, tuple(steps))


def _share_of_whole(part: Amount, whole: Amount) -> Amount:
    """Return part / whole without what no share can be: the whole holds the part."""
    return lesser(not_negative(divide(part, whole), name="a share"), 1)


class Cure(Struct, frozen=True):
    """The length of vent that would make good a shortfall, and what to cut."""

    length: Amount
    to_cut: Amount
    steps: tuple[Step, ...]


def length_to_cure(shortfall: Amount, *, per_length: Amount, whole: Exact = NM_PER_INCH) -> Cure:
    """Return the length in nm of a vent of `per_length` that makes good `shortfall`.

    `to_cut` is that length up to the next multiple of `whole`. ValueError for a shortfall below
    0, a vent without free area, or a unit not above 0.
    """
    lacking = not_negative(shortfall, name="a shortfall")
    rate = positive(per_length, name="a vent's area per length")
    length = divide(lacking, rate)
    to_cut = whole_up(length, to=whole)
    steps = (
        given("shortfall", lacking, _AREA),
        given("area per length", rate, _PER_LENGTH),
        Step("length that cures it", "shortfall / area per length", length, _LENGTH),
        Step("length to cut", "up to the next whole unit", to_cut, _LENGTH),
    )
    return Cure(length, to_cut, steps)
