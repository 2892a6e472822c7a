"""Reckonings of an attic's net free area: required, provided, in balance, and the cure."""

from __future__ import annotations

from ridgerule.enclosures import compare, divide
from ridgerule.facts import Plain
from ridgerule.trade import ventilation
from ridgerule.trade.arithmetic import excess, total
from ridgerule.trade.certainty import lesser, not_negative, positive
from ridgerule.trade.reckoning import Found, Given, Input, Reckoning, reckoning
from ridgerule.trade.working import Step, given
from ridgerule.units import Dimension

_AREA, _LENGTH, _SHARE = Dimension.AREA, Dimension.LENGTH, Dimension.SHARE
_COUNT, _PER_LENGTH = Dimension.COUNT, Dimension.NET_FREE_AREA_PER_LENGTH
_CODE = "form of IRC R806.2 (recalled); divisors and shares are the rulebook's"
_SUMS = "arithmetic on the makers' rated areas; common practice, no source"

_PER = Input("area per length", _PER_LENGTH, "net free area per length of the vent, as rated")
_REQUIRED = Input("required area", _AREA, "the net free area the attic needs")
_HIGH = Input("high area", _AREA, "net free area of the vents up high")
_LOW = Input("low area", _AREA, "net free area of the vents down low")
_ELSEWHERE = Input("area elsewhere", _AREA, "net free area of any other vents", optional=True)


def _divisor(found: Given) -> Found:
    conditions = {f"condition {n}": yes for n, yes in enumerate(found.answers("conditions"), 1)}
    divisor = ventilation.ventilation_divisor(
        conditions,
        usual=found.exact("usual divisor"),
        with_conditions=found.exact("divisor with conditions"),
        needs=ventilation.Needs(found.words("needs")[0]),
    )
    return divisor.amount, divisor.steps


def _required(found: Given) -> Found:
    area = ventilation.required_area(found.amount("vented area"), divisor=found.amount("divisor"))
    return area.area, area.steps


def _open_length(found: Given) -> Found:
    length, closed = found.amount("length"), total(found.amounts("closed"))
    run = ventilation.VentRun(
        name="vent", length=length, per_length=1, closed=found.amounts("closed")
    )
    left = excess(run.length, over=closed)
    steps = (
        given("length", length, _LENGTH),
        Step("closed pieces", "their sum", closed, _LENGTH),
        Step("length open", "length less closed pieces", left, _LENGTH),
    )
    return left, steps


def _run(found: Given) -> Found:
    slot = found.amount("slot") if "slot" in found else None
    run = ventilation.VentRun(
        name="vent",
        length=found.amount("open length"),
        per_length=found.amount("area per length"),
        slot=slot,
    )
    area = ventilation.free_area(run)
    return area.area, area.steps


def _counted(found: Given) -> Found:
    vents = ventilation.CountedVents(
        name="vents", count=found.whole("count"), area=found.amount("area of each")
    )
    area = ventilation.free_area(vents)
    return area.area, area.steps


def _screened(found: Given) -> Found:
    openings = ventilation.ScreenedOpenings(
        name="openings",
        gross=found.amount("gross area"),
        free_share=found.amount("free share"),
        count=found.whole("count", default=1),
    )
    area = ventilation.free_area(openings)
    return area.area, area.steps


def _shortfall(found: Given) -> Found:
    needed = positive(found.amount("required area"), name="a required area")
    parts = [not_negative(a, name="a provided area") for a in found.amounts("provided areas")]
    provided = total(parts)
    lacking = excess(needed, over=provided)
    steps = (
        given("required", needed, _AREA),
        Step("provided in all", "sum of the provided areas", provided, _AREA),
        Step("shortfall", "required less provided in all, at least 0", lacking, _AREA),
    )
    return lacking, steps


def _cure(found: Given) -> Found:
    cure = ventilation.length_to_cure(
        found.amount("shortfall"), per_length=found.amount("area per length")
    )
    return cure.length, cure.steps[:-1]


def _share_of_required(found: Given, where: str) -> Found:
    part = not_negative(found.amount(f"{where} area"), name=f"a {where} area")
    needed = positive(found.amount("required area"), name="a required area")
    share = divide(part, needed)
    steps = (
        given(f"provided {where}", part, _AREA),
        given("required", needed, _AREA),
        Step(f"{where}, share of required", f"provided {where} / required", share, _SHARE),
    )
    return share, steps


def _share_of_provided(found: Given, where: str) -> Found:
    names = ("high area", "low area", "area elsewhere")
    areas = {n: not_negative(found.amount(n), name=f"the {n}") for n in names if n in found}
    whole = total(areas.values())
    steps = (
        *(given(name, area, _AREA) for name, area in areas.items()),
        Step("provided in all", "their sum", whole, _AREA),
    )
    if compare(whole, 0) == 0:
        return None, steps  # no share of nothing
    # A part is no more than its whole, though their intervals by themselves don't say so.
    share = lesser(not_negative(divide(areas[f"{where} area"], whole), name="a share"), 1)
    last = Step(f"{where}, share of provided", f"{where} area / provided in all", share, _SHARE)
    return share, (*steps, last)


def _shares(where: str, own: Input) -> tuple[Reckoning, Reckoning]:
    return (
        reckoning(
            f"{where} share of required",
            inputs=(own, _REQUIRED),
            dimension=_SHARE,
            formula=f"{where} area / required area",
            source=_CODE,
            work=lambda found: _share_of_required(found, where),
        ),
        reckoning(
            f"{where} share of provided",
            inputs=(_HIGH, _LOW, _ELSEWHERE),
            dimension=_SHARE,
            formula=f"{where} area / the sum of all areas; where nothing is provided it cannot be "
            "told",
            source=_SUMS,
            work=lambda found: _share_of_provided(found, where),
        ),
    )


VENTILATION = (
    reckoning(
        "ventilation divisor",
        inputs=(
            Input("conditions", Plain.YES_NO, "whether each condition holds", many=True),
            Input("usual divisor", _COUNT, "the divisor without the conditions"),
            Input("divisor with conditions", _COUNT, "the divisor where they hold"),
            Input(
                "needs",
                Plain.CHOICE,
                "whether all of the conditions are needed or any of them",
                choices=tuple(ventilation.Needs),
            ),
        ),
        dimension=_COUNT,
        formula="the divisor with conditions where as many hold as are needed, else the usual one",
        source=_CODE,
        work=_divisor,
    ),
    reckoning(
        "required free area",
        inputs=(
            Input("vented area", _AREA, "floor area of the attic, measured level"),
            Input("divisor", _COUNT, "what it is divided by"),
        ),
        dimension=_AREA,
        formula="vented area / divisor",
        source=_CODE,
        work=_required,
    ),
    reckoning(
        "open length of a run",
        inputs=(
            Input("length", _LENGTH, "the whole length of the vent"),
            Input("closed", _LENGTH, "each piece with no opening under it", many=True),
        ),
        dimension=_LENGTH,
        formula="length less the closed pieces",
        source=_SUMS,
        work=_open_length,
    ),
    reckoning(
        "free area of a run",
        inputs=(
            _PER,
            Input("open length", _LENGTH, "length of the vent with an open slot under it"),
            Input("slot", _LENGTH, "the slot's width in all", optional=True),
        ),
        dimension=_AREA,
        formula="open length x the lesser of area per length and slot",
        source=_SUMS,
        work=_run,
    ),
    reckoning(
        "free area of counted vents",
        inputs=(
            Input("area of each", _AREA, "net free area of one vent"),
            Input("count", _COUNT, "how many there are"),
        ),
        dimension=_AREA,
        formula="area of each x count",
        source=_SUMS,
        work=_counted,
    ),
    reckoning(
        "free area of screened openings",
        inputs=(
            Input("gross area", _AREA, "the area of one opening without its screen"),
            Input("free share", _SHARE, "what screen or louvre leaves free of it"),
            Input("count", _COUNT, "how many there are; 1 where not said", optional=True),
        ),
        dimension=_AREA,
        formula="gross area x free share x count",
        source=_SUMS,
        work=_screened,
    ),
    *_shares("high", _HIGH),
    *_shares("low", _LOW),
    reckoning(
        "ventilation shortfall",
        inputs=(_REQUIRED, Input("provided areas", _AREA, "the areas provided", many=True)),
        dimension=_AREA,
        formula="required area less the sum of the provided ones, at least 0",
        source=_SUMS,
        work=_shortfall,
    ),
    reckoning(
        "length of vent to cure a shortfall",
        inputs=(Input("shortfall", _AREA, "the net free area that is lacking"), _PER),
        dimension=_LENGTH,
        formula="shortfall / area per length",
        source=_SUMS,
        work=_cure,
    ),
)
