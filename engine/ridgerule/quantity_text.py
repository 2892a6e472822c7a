"""Quantities printed as the trade writes them.

What is printed plainly is exact and reads back to the same amount; what had to be rounded
carries the mark `≈`.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from ridgerule.enclosures import Amount, Exact, Span
from ridgerule.units import NM_PER_FOOT, NM_PER_INCH, NM_PER_M, NM_PER_MM, Dimension, Units

_MOST_PLACES = 12
_SIXTY_FOURTHS = 64
_FEET_FROM = 24 * NM_PER_INCH


class _Print(NamedTuple):
    """Number = amount / scale + zero, rounded to `places` where `exact_places` can't hold it."""

    ending: str
    scale: Exact
    places: int = 2
    zero: int = 0
    exact_places: int = 4
    least: int = 0  # smaller amounts, in base units, are left to the next entry


_BOTH: dict[Dimension, tuple[_Print, ...]] = {
    Dimension.SLOPE: (_Print(":12", Fraction(1, 12)),),
    Dimension.ANGLE: (_Print(" deg", 1),),
    Dimension.COUNT: (_Print("", 1),),
    Dimension.SHARE: (_Print(" %", Fraction(1, 100)),),
    Dimension.DURATION: (_Print(" days", 1),),
    Dimension.CALENDAR_MONTHS: (_Print(" months", 1),),
}
_PRINTS: dict[Units, dict[Dimension, tuple[_Print, ...]]] = {
    Units.INCH: _BOTH
    | {
        Dimension.LENGTH: (_Print(" in", NM_PER_INCH, 3),),
        Dimension.AREA: (
            # Vents are rated in square inches, however many: floors and roofs start far above.
            _Print(" ft²", NM_PER_FOOT**2, least=50 * NM_PER_FOOT**2),
            _Print(" in²", NM_PER_INCH**2),
        ),
        Dimension.TEMPERATURE: (_Print(" degF", Fraction(5, 9), 1, zero=32),),
        Dimension.TEMPERATURE_DIFFERENCE: (_Print(" degF", Fraction(5, 9), 1),),
        Dimension.EXPANSION: (_Print(" ppm/degF", Fraction(9, 5_000_000)),),
        Dimension.NET_FREE_AREA_PER_LENGTH: (
            _Print(" in²/ft", Fraction(NM_PER_INCH**2, NM_PER_FOOT)),
        ),
    },
    Units.METRIC: _BOTH
    | {
        Dimension.LENGTH: (
            _Print(" m", NM_PER_M, 3, exact_places=7, least=NM_PER_M),
            _Print(" mm", NM_PER_MM),
        ),
        Dimension.AREA: (
            _Print(" m²", NM_PER_M**2, least=NM_PER_M**2),
            _Print(" cm²", 100 * NM_PER_MM**2),
        ),
        Dimension.TEMPERATURE: (_Print(" degC", 1, 1),),
        Dimension.TEMPERATURE_DIFFERENCE: (_Print(" degC", 1, 1),),
        Dimension.EXPANSION: (_Print(" um/m/degC", Fraction(1, 1_000_000)),),
        Dimension.NET_FREE_AREA_PER_LENGTH: (_Print(" cm²/m", 100 * NM_PER_MM**2 // NM_PER_M),),
    },
}


def write(amount: Amount, dimension: Dimension, *, units: Units) -> str:
    """Return `amount`, in base units, as the trade writes it in `units`.

    A span too narrow to show prints as one rounded value, a wider one as its two ends, one
    with an open side as `at least` or `at most` its other end.
    """
    if not isinstance(amount, Span):
        return _one(amount, dimension, units)
    least, most = amount.low, amount.high
    if least is None or most is None:
        if most is not None:
            return f"at most {_one(most, dimension, units)}"
        return "not known" if least is None else f"at least {_one(least, dimension, units)}"
    middle = Fraction(least + most) / 2
    style = _style(middle, dimension, units)
    if Fraction(most - least) / style.scale * 10**style.places < 1:
        return _rounded(middle, style)
    return f"{_one(least, dimension, units)} to {_one(most, dimension, units)}"


def _style(amount: Exact, dimension: Dimension, units: Units) -> _Print:
    styles = _PRINTS[units][dimension]
    return next((s for s in styles if abs(Fraction(amount)) >= s.least), styles[-1])


def _one(amount: Exact, dimension: Dimension, units: Units) -> str:
    """Return an exact amount, marked `≈` where it had to be rounded."""
    style = _style(amount, dimension, units)
    if dimension is Dimension.LENGTH and units is Units.INCH:
        sixty_fourths = Fraction(amount) * _SIXTY_FOURTHS / NM_PER_INCH
        if sixty_fourths.denominator == 1:
            return _tape(sixty_fourths.numerator)
    number = Fraction(amount) / style.scale + style.zero
    scaled = number * 10**style.exact_places
    if scaled.denominator == 1:
        digits = decimal_text(scaled.numerator, style.exact_places)
        return digits.rstrip("0").rstrip(".") + _singular(style.ending, number)
    ratio = Fraction(amount)
    if dimension is Dimension.SHARE and ratio.numerator == 1 and ratio.denominator % 50 == 0:
        return str(amount)  # 1/150, as the trade says a ventilation ratio
    return _rounded(amount, style)


def _rounded(amount: Exact, style: _Print) -> str:
    number = Fraction(amount) / style.scale + style.zero
    # A small amount keeps the places that show it: something is not printed as nothing.
    tried = range(style.places, _MOST_PLACES + 1)
    places = next((p for p in tried if round(number * 10**p)), style.places)
    last = round(number * 10**places)
    foot = 12 * 10**places
    if style.ending == " in" and abs(last) >= 2 * foot:
        feet, inches = divmod(abs(last), foot)
        return f"≈ {'-' if last < 0 else ''}{feet} ft {decimal_text(inches, places)} in"
    return f"≈ {decimal_text(last, places)}{style.ending}"


def _tape(sixty_fourths: int) -> str:
    """Return `2 7/8 in`, and from 24 in up `2 ft 4 1/2 in`."""
    sign = "-" if sixty_fourths < 0 else ""
    whole, rest = divmod(abs(sixty_fourths), _SIXTY_FOURTHS)
    feet, inches = divmod(whole, 12) if whole >= 24 else (0, whole)
    words = [f"{feet} ft"] if feet else []
    part = [str(inches)] if inches else []
    if rest:
        part.append(str(Fraction(rest, _SIXTY_FOURTHS)))
    if part or not feet:
        words.append(f"{' '.join(part) or '0'} in")
    return sign + " ".join(words)


def decimal_text(units: int, places: int) -> str:
    """Return `units` of the last place as a decimal; a rounded nothing has no sign."""
    digits = f"{abs(units):0{places + 1}}"
    return f"{'-' if units < 0 else ''}{digits[:-places]}.{digits[-places:]}"


def _singular(ending: str, number: Fraction) -> str:
    return ending[:-1] if number == 1 and ending in {" days", " months"} else ending
