"""Reckonings of rafters and hips, and of the gap that temperature leaves."""

from __future__ import annotations

from ridgerule.trade import geometry, movement
from ridgerule.trade.reckoned_angles import CORNER, SLOPES
from ridgerule.trade.reckoning import Found, Given, Input, reckoning
from ridgerule.units import Dimension

_LENGTH, _SHARE = Dimension.LENGTH, Dimension.SHARE
_TABLES = "framing-square and roof-slope tables of trade handbooks"
_SLOPE = Input("slope", Dimension.SLOPE, "the slope of the plane")
_EXPANSION = Input(
    "expansion",
    Dimension.EXPANSION,
    "the expansion coefficient, an interval where the handbooks disagree",
)


def _slope_factor(given: Given) -> Found:
    found = geometry.slope_factor(given.amount("slope"))
    return found.ratio, found.steps


def _rafter(given: Given) -> Found:
    found = geometry.rafter_length(given.amount("run"), slope=given.amount("slope"))
    return found.length, found.steps


def _hip_factor(given: Given) -> Found:
    found = geometry.hip_factor(*given.amounts("slopes"), corner=given.amount("corner"))
    return found.ratio, found.steps


def _hip_from_common(given: Given) -> Found:
    slope_a, slope_b = given.amounts("slopes")
    run, corner = given.amount("common run"), given.amount("corner")
    found = geometry.hip_length(run, slope_a=slope_a, slope_b=slope_b, corner=corner)
    return found.length, found.steps


def _hip_from_plan(given: Given) -> Found:
    slope_a, slope_b = given.amounts("slopes")
    run, corner = given.amount("plan run"), given.amount("corner")
    found = geometry.hip_length_from_plan(run, slope_a=slope_a, slope_b=slope_b, corner=corner)
    return found.length, found.steps


LENGTHS = (
    reckoning(
        "slope factor",
        inputs=(_SLOPE,),
        dimension=_SHARE,
        formula="square root of (1 + slope x slope): rafter length per length of its run",
        source=_TABLES,
        work=_slope_factor,
    ),
    reckoning(
        "rafter length",
        inputs=(Input("run", _LENGTH, "the rafter's level run"), _SLOPE),
        dimension=_LENGTH,
        formula="run x slope factor",
        source=_TABLES,
        work=_rafter,
    ),
    reckoning(
        "hip factor",
        inputs=(SLOPES, CORNER),
        dimension=_SHARE,
        formula="hip length per length of the common run on the first plane's side",
        source=_TABLES,
        work=_hip_factor,
    ),
    reckoning(
        "hip length from common run",
        inputs=(
            Input("common run", _LENGTH, "the level run of common rafters in the first plane"),
            SLOPES,
            CORNER,
        ),
        dimension=_LENGTH,
        formula="common run x hip factor",
        source=_TABLES,
        work=_hip_from_common,
    ),
    reckoning(
        "hip length from plan run",
        inputs=(
            Input("plan run", _LENGTH, "the hip's own level run, as a plan shows it"),
            SLOPES,
            CORNER,
        ),
        dimension=_LENGTH,
        formula="plan run x square root of (1 + hip slope x hip slope)",
        source=_TABLES,
        work=_hip_from_plan,
    ),
)


def _growth(given: Given) -> Found:
    found = movement.growth(
        given.amount("length"),
        expansion=given.amount("expansion"),
        difference=given.amount("temperature difference"),
    )
    return found.length, found.steps


def _gap_left(given: Given) -> Found:
    found = movement.gap_at(
        given.amount("gap"),
        edge_distances=given.amounts("edge distances"),
        expansion=given.amount("expansion"),
        surface_temperature=given.amount("surface temperature"),
        target_temperature=given.amount("target temperature"),
    )
    return found.gap, found.steps


MOVEMENT = (
    reckoning(
        "gap left at a temperature",
        inputs=(
            Input("gap", _LENGTH, "the gap between the cut edges, as measured"),
            Input(
                "edge distances",
                _LENGTH,
                "from each slate's nearest fastener to its cut edge, one for each side",
                many=True,
                counts=(1, 2),
            ),
            _EXPANSION,
            Input(
                "surface temperature", Dimension.TEMPERATURE, "of the slate when it was measured"
            ),
            Input("target temperature", Dimension.TEMPERATURE, "of the slate on the day asked for"),
        ),
        dimension=_LENGTH,
        formula="gap less expansion coefficient x sum of the edge distances x (target less "
        "surface temperature)",
        source="linear thermal expansion (OpenStax, College Physics)",
        work=_gap_left,
    ),
    reckoning(
        "growth",
        inputs=(
            Input("length", _LENGTH, "the length that grows"),
            _EXPANSION,
            Input(
                "temperature difference",
                Dimension.TEMPERATURE_DIFFERENCE,
                "from the first temperature to the second, below 0 where it cools",
            ),
        ),
        dimension=_LENGTH,
        formula="expansion coefficient x length x temperature difference",
        source="linear thermal expansion (OpenStax, College Physics)",
        work=_growth,
    ),
)
