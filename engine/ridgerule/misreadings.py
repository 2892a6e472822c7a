"""What is wrong with a reading that can't be read, and how to write it instead."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.problems import shown, suggestion
from ridgerule.units import EXPECTED, FOOT, INCH, MINUS_SIGNS, OFFERED, UNITS, Dimension

if TYPE_CHECKING:
    from collections.abc import Callable

LONGEST = 64
MOST_DIGITS = 12


class Mistake(Struct, frozen=True):
    """Why a reading can't be read: what was expected and found, and what to do."""

    expected: str
    found: str
    advice: str


_DIGITS = re.compile(r"[0-9][0-9.,]*")
_FRACTION = re.compile(r"(?:([0-9]+)[ -])?([0-9]+)/([0-9]+)")
_EXPONENT = re.compile(r"[0-9.][eE][-+]?[0-9]")
_NO_NUMBER = re.compile(r"[-+.]?(nan|inf|infinity)\b.*", re.IGNORECASE)
_THOUSANDS = re.compile(r"(?<![0-9,])[0-9]{1,3}(,[0-9]{3})+(?![0-9,])")
_NUMBER = r"(?:[0-9]*\.?[0-9]+|(?:[0-9]+[ -])?[0-9]+/[0-9]+|[0-9]* ?[½¼¾⅛⅜⅝⅞])"
_BARE = re.compile(rf"[{MINUS_SIGNS}]?{_NUMBER}")
_WITH_UNIT = re.compile(rf"([{MINUS_SIGNS}]?{_NUMBER}) ?([^-0-9 ,./:].*)")
_RATIO = re.compile(rf"({_NUMBER})(?: ?: ?| in )({_NUMBER})")
_FEET = re.compile(rf"[{MINUS_SIGNS}]?({_NUMBER}) ?(?:{FOOT})[ -]?({_NUMBER}) ?(\D*)")

_STEEPNESS = {*UNITS[Dimension.ANGLE], *UNITS[Dimension.SLOPE]}

# The words for what a unit measures, where one reading fits several dimensions.
_KINDS = (
    (frozenset({Dimension.ANGLE}), "an angle or a slope"),
    (frozenset({Dimension.SHARE, Dimension.SLOPE}), "a share or a slope"),
    (frozenset({Dimension.TEMPERATURE, Dimension.TEMPERATURE_DIFFERENCE}), "a temperature"),
    (frozenset({Dimension.LENGTH}), "a length"),
    (frozenset({Dimension.AREA}), "an area"),
    (frozenset({Dimension.EXPANSION}), "an expansion coefficient"),
    (frozenset({Dimension.NET_FREE_AREA_PER_LENGTH}), "an area per length"),
    (frozenset({Dimension.DURATION}), "a number of days or weeks"),
    (frozenset({Dimension.CALENDAR_MONTHS}), "a number of months or years"),
)

# What was found, and what to do about it.
_Told = tuple[str, str]


def mistake_in(text: str, dimension: Dimension) -> Mistake:
    """Return why `text` is no quantity of `dimension`: the first reason that holds."""
    for reason in _REASONS:
        told = reason(text, dimension)
        if told is not None:
            return Mistake(EXPECTED[dimension], *told)
    found = f"`{shown(text)}`, which is not a number with a unit"
    if dimension is Dimension.COUNT:
        found = f"`{shown(text)}`, which is not a whole number"
    return Mistake(EXPECTED[dimension], found, f"write it as in {_offer('3', dimension)}")


def _offer(number: str, dimension: Dimension) -> str:
    return " or ".join(f"`{number}{ending}`" for ending in OFFERED[dimension])


def _empty(text: str, dimension: Dimension) -> _Told | None:
    return None if text else ("nothing", f"write it as in {_offer('3', dimension)}")


def _too_long(text: str, _: Dimension) -> _Told | None:
    if len(text) <= LONGEST:
        return None
    found = f"`{shown(text, most=24)}`, {len(text)} characters long"
    return found, f"write at most {LONGEST} characters"


def _foreign_digits(text: str, _: Dimension) -> _Told | None:
    if not any(c.isdecimal() and not c.isascii() for c in text):
        return None
    return f"`{shown(text)}` with digits other than 0 to 9", "write it with the digits 0 to 9"


def _no_number(text: str, _: Dimension) -> _Told | None:
    if not _NO_NUMBER.fullmatch(text):
        return None
    return f"`{shown(text)}`, which is no measurement", "write the number that was read"


def _exponent(text: str, _: Dimension) -> _Told | None:
    if not _EXPONENT.search(text):
        return None
    return f"`{shown(text)}` with an exponent", "write the number out in digits"


def _too_many_digits(text: str, _: Dimension) -> _Told | None:
    if all(sum(c.isdigit() for c in run) <= MOST_DIGITS for run in _DIGITS.findall(text)):
        return None
    found = f"`{shown(text)}` with more than {MOST_DIGITS} digits in a number"
    return found, f"write at most {MOST_DIGITS} digits"


def _over_nothing(text: str, dimension: Dimension) -> _Told | None:
    ratio = _RATIO.fullmatch(text) if dimension in {Dimension.SLOPE, Dimension.SHARE} else None
    if ratio is not None and not _says_nothing(ratio[2]):
        ratio = None
    if ratio is None and not any(not int(m[3]) for m in _FRACTION.finditer(text)):
        return None
    return f"`{shown(text)}`, which divides by 0", "divide by a number other than 0"


def _says_nothing(number: str) -> bool:
    """Return whether the digits of `number` say nothing but 0."""
    return not any(c in "123456789½¼¾⅛⅜⅝⅞" for c in number)


def _improper(text: str, _: Dimension) -> _Told | None:
    for match in _FRACTION.finditer(text):
        if match[1] is not None and int(match[2]) >= int(match[3]):
            part = f"{match[2]}/{match[3]}"
            found = f"`{shown(text)}`, whose fraction `{part}` is 1 or more"
            return found, "beside a whole number write a fraction under 1"
    return None


def _comma(text: str, _: Dimension) -> _Told | None:
    if "," not in _THOUSANDS.sub("", text):
        return None
    pointed = text.replace(",", ".")
    found = f"`{shown(text)}` with a comma that does not part thousands"
    if pointed.count(".") > 1:
        return found, "write thousands as `10,600` and decimals with a point"
    return found, f"write decimals with a point, `{shown(pointed)}`"


def _feet_and_inches(text: str, dimension: Dimension) -> _Told | None:
    match = _FEET.fullmatch(text) if dimension is Dimension.LENGTH else None
    if match is None:
        return None
    feet, inches, unit = match.groups()
    if not unit:
        return f"`{text}`, inches without a unit", f"write `{feet} ft {inches} in`"
    if not re.fullmatch(INCH, unit):
        return f"`{shown(text)}`, with `{shown(unit)}` after feet", "after feet write inches"
    if not feet.isdigit():
        return f"`{text}`, with a part of a foot beside inches", "write whole feet"
    found = f"`{text}`, with 12 inches or more beside feet"
    return found, "beside feet write inches from 0 to under 12"


def _bare(text: str, dimension: Dimension) -> _Told | None:
    if dimension is Dimension.COUNT or not _BARE.fullmatch(text):
        return None
    if dimension is Dimension.SHARE:  # 0.4 may be meant as 40 % or as 0.4 %: offer neither
        return f"`{text}` without a unit", "write a percentage as `40 %` or a ratio as `1/150`"
    return f"`{text}` without a unit", f"write {_offer(text, dimension)}"


def _not_whole(text: str, dimension: Dimension) -> _Told | None:
    if dimension is not Dimension.COUNT or not _BARE.fullmatch(text):
        return None
    if text[0] in MINUS_SIGNS:
        return f"`{text}`, which is less than 0", "write how many there are, 0 or more"
    return f"`{text}`, which is not whole", "write how many there are, in digits"


def _out_of_slope(text: str, dimension: Dimension) -> _Told | None:
    match = _WITH_UNIT.fullmatch(text) if dimension is Dimension.SLOPE else None
    if match is None or match[2] not in _STEEPNESS:
        return None
    if text[0] in MINUS_SIGNS:
        return f"`{text}`, a slope below 0", "write how steep it is, without a sign"
    return f"`{text}`, as steep as a wall or steeper", "write a slope under 90 deg"


def _signed_ratio(text: str, dimension: Dimension) -> _Told | None:
    if dimension not in {Dimension.SLOPE, Dimension.SHARE} or text[0] not in MINUS_SIGNS:
        return None
    ratio = text[1:].strip()
    if not (_RATIO.fullmatch(ratio) or _FRACTION.fullmatch(ratio)):
        return None
    return f"`{text}`, a ratio below 0", "write the ratio without a sign"


def _another_kind(text: str, dimension: Dimension) -> _Told | None:
    if dimension is not Dimension.SLOPE and _RATIO.fullmatch(text):
        return f"`{text}`, a slope or a ratio", f"write it as in {_offer('3', dimension)}"
    feet = _FEET.fullmatch(text)
    if dimension is not Dimension.LENGTH and feet is not None and re.fullmatch(INCH, feet[3]):
        return f"`{text}`, a length", f"write it as in {_offer('3', dimension)}"
    match = _WITH_UNIT.fullmatch(text)
    if match is None:
        return None
    unit = match[2]
    kinds = {kind for kind in Dimension if unit in UNITS[kind]}
    word = next((word for of, word in _KINDS if of <= kinds), None)
    if word is not None:
        return f"`{text}`, {word}", f"write it as in {_offer('3', dimension)}"
    return None


def _unknown_unit(text: str, dimension: Dimension) -> _Told | None:
    match = _WITH_UNIT.fullmatch(text)
    if match is None:
        return None
    unit = match[2]
    near = suggestion(unit.lower(), UNITS[dimension])
    if not near:
        near = f"write it as in {_offer('3', dimension)}"
    return f"`{shown(text)}`, whose unit `{shown(unit)}` is not known", near


# Asked in this order; the first that has something to say is told.
_REASONS: tuple[Callable[[str, Dimension], _Told | None], ...] = (
    _empty,
    _too_long,
    _foreign_digits,
    _no_number,
    _exponent,
    _too_many_digits,
    _over_nothing,
    _improper,
    _comma,
    _signed_ratio,
    _out_of_slope,
    _another_kind,
    _feet_and_inches,
    _bare,
    _not_whole,
    _unknown_unit,
)
