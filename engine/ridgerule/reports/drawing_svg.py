"""Small SVG building blocks: everything escaped in one place, no id, no script, no outside file.

Colours are never written here: a class or `currentColor` takes them from the page, so that a
drawing follows light, dark and print. Fonts are the page's own. No element has an id, so any
number of drawings stand on one page.
"""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING, NewType

from ridgerule.audit.findings import Outcome
from ridgerule.reports.page import WORDS, Page
from ridgerule.reports.visible import visible

if TYPE_CHECKING:
    from collections.abc import Iterable

Svg = NewType("Svg", str)
"""Markup that is well formed; plain text becomes it through `words` or an attribute only."""

Point = tuple[float, float]

DRAWING_STYLE = """\
.drawing {
  display: block;
  width: 100%;
  max-width: 36rem;
  height: auto;
  color: var(--ink, currentColor);
  font-variant-numeric: lining-nums tabular-nums;
}
.drawing.wide { max-width: none; min-width: 44rem; }
.drawing text { fill: currentColor; stroke: none; }
.drawing .ink { color: var(--ink, currentColor); }
.drawing .faint { color: var(--quiet, currentColor); }
.drawing .hair { color: var(--quiet, currentColor); opacity: 0.42; }
.drawing .outcome-fail { color: var(--fail, currentColor); }
.drawing .outcome-open { color: var(--open, currentColor); }
.drawing .outcome-pass { color: var(--pass, currentColor); }
.drawing .outcome-apart { color: var(--quiet, currentColor); }
.drawing .paper { fill: var(--paper, Canvas); }
.drawing .on-ink { color: var(--paper, Canvas); }
.drawing .halo {
  paint-order: stroke;
  stroke: var(--paper, Canvas);
  stroke-width: 4px;
  stroke-linejoin: round;
}
.drawing a { color: inherit; text-decoration: none; }
.drawing a title { display: none; }
.drawing a:hover .frame, .drawing a:focus-visible .frame { stroke-width: 2.5px; }
.drawing a:focus-visible { outline: 2px solid var(--accent, currentColor); outline-offset: 2px; }
@media print { .drawing { break-inside: avoid; } }
"""
"""The rules that a page's stylesheet needs for every drawing in this folder."""

PAPER_STYLE = """\
.drawing { color: #1e2225; font-family: Charter,"Noto Serif","Liberation Serif",serif; }
.drawing .ink { color: #1e2225; }
.drawing .faint, .drawing .outcome-apart { color: #565c61; }
.drawing .hair { color: #b8babc; opacity: 1; }
.drawing .outcome-fail { color: #9c1c16; }
.drawing .outcome-open { color: #6a3a97; }
.drawing .outcome-pass { color: #1c6437; }
.drawing .paper { fill: #fff; }
.drawing .on-ink { color: #fff; }
"""
"""What a page puts into each drawing for paper: the colours of `style.css` when it is printed.

A page's own style and its variables do not reach a drawing where WeasyPrint lays it out; it reads
a list of fonts only where no space stands between them.
"""

CLASSES = {
    Outcome.FAIL: "outcome-fail",
    Outcome.NOT_VERIFIED: "outcome-open",
    Outcome.PASS: "outcome-pass",
    Outcome.NOT_APPLICABLE: "outcome-apart",
}
"""What a drawing calls each outcome; `WORDS` has what it is read as."""

SIZE, SMALL = 13.0, 11.5
"""Heights of text, in the drawing's own units."""

_PAGE = Page(width=80, colour=False, unicode=True)
_TIE = _PAGE.words("1 in")[1]
"""What stands for a space inside a quantity, which no line may break at."""
_PLACES = 100
_NARROW, _WIDE = frozenset("iljtfrI.,:;'|!()[]/ -"), frozenset("mwMW%@—…")


def number(value: float) -> str:
    """Return a coordinate with at most two decimals, the same on every machine."""
    units = round(value * _PLACES)
    whole, rest = divmod(abs(units), _PLACES)
    sign = "-" if units < 0 else ""
    return f"{sign}{whole}" + (f".{rest:02}".rstrip("0") if rest else "")


def clipped(text: str, most: int) -> str:
    """Return text on one line, fit to be seen, of at most so many characters."""
    shown = visible(text[: most * 4])
    is_whole = len(text) <= most * 4 and len(shown) <= most
    return shown if is_whole else f"{shown[: most - 1].rstrip()}…"


def escaped(text: str) -> str:
    """Return text as it stands in XML, nothing in it that can't be seen; the one place for it."""
    shown = visible(text)
    for char, entity in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")):
        shown = shown.replace(char, entity)
    return shown.replace("'", "&#39;")


def element(name: str, *children: Svg, **attributes: str | float | None) -> Svg:
    """Return an element; `class_` and `stroke_width` are written `class` and `stroke-width`."""
    said = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{_attribute(value)}"'
        for key, value in attributes.items()
        if value is not None
    )
    inside = "".join(children)
    return Svg(f"<{name}{said}>{inside}</{name}>" if inside else f"<{name}{said}/>")


def _attribute(value: str | float) -> str:
    return escaped(value) if isinstance(value, str) else number(value)


def words(text: str, name: str = "title") -> Svg:
    """Return a title or a description, which a reader is told and a pointer shows."""
    return Svg(f"<{name}>{escaped(text)}</{name}>")


def group(*children: Svg, **attributes: str | float | None) -> Svg:
    """Return children that share attributes; nothing where there are none."""
    return element("g", *children, **attributes) if any(children) else Svg("")


def stroke(
    points: Iterable[Point],
    *,
    width: float = 1,
    dashes: str | None = None,
    class_: str | None = None,
    cap: str | None = None,
) -> Svg:
    """Return a line through points, in the colour of its class."""
    return element(
        "path",
        d=trace(points),
        fill="none",
        stroke="currentColor",
        stroke_width=width,
        stroke_dasharray=dashes,
        stroke_linecap=cap,
        class_=class_,
    )


def trace(points: Iterable[Point], *, closed: bool = False) -> str:
    """Return the path data that runs through points."""
    steps = [f"{number(x)} {number(y)}" for x, y in points]
    return f"M{' L'.join(steps)}{'Z' if closed else ''}"


def text(  # noqa: PLR0913 - what a piece of text is made of
    x: float,
    y: float,
    said: str,
    *,
    size: float = SIZE,
    anchor: str | None = None,
    class_: str | None = None,
    weight: str | None = None,
    style: str | None = None,
    halo: bool = False,
) -> Svg:
    """Return words that start at, are centred on or end at a point of their base line."""
    return Svg(
        element(
            "text",
            Svg(escaped(said)),
            x=x,
            y=y,
            font_size=size,
            text_anchor=anchor,
            font_weight=weight,
            font_style=style,
            fill="currentColor",
            class_=" ".join(filter(None, (class_, "halo" if halo else ""))) or None,
        )
    )


def text_width(said: str, size: float = SIZE) -> float:
    """Return about how wide words are, a little over rather than under; no font is asked."""
    em = 0.0
    for char in said:
        if not char.isascii():
            em += 0.62 if char < "\u2e80" else 1.05
        elif char in _NARROW:
            em += 0.33
        elif char in _WIDE:
            em += 0.9
        else:
            em += 0.7 if char.isupper() else 0.54
    return em * size


def wrapped(said: str, width: float, *, size: float = SIZE, most: int = 3) -> list[str]:
    """Return words on lines of about so many units, the last cut off where they are too many."""
    lines, line = [], ""
    for word in _PAGE.words(said[: most * 400]).split():
        tried = f"{line} {word}".strip()
        if line and text_width(tried, size) > width:
            lines.append(line)
            line = word
        else:
            line = tried
    lines.append(line)
    fits = [_cut(part, width, size) for part in lines[:most]]
    if len(lines) > most:
        fits[-1] = _cut(f"{fits[-1]} …", width, size)
    return [part.replace(_TIE, " ") for part in fits]


def _cut(said: str, width: float, size: float) -> str:
    if text_width(said, size) <= width:
        return said
    kept = said.rstrip("…").rstrip()
    while kept and text_width(f"{kept}…", size) > width:
        kept = kept[:-1]
    return f"{kept.rstrip()}…"


def mark(outcome: Outcome, x: float, y: float, *, size: float = 5, width: float = 2.2) -> Svg:
    """Return the shape that stands for an outcome, about a point, as every report draws it."""
    s = size
    match outcome:
        case Outcome.FAIL:
            return element(
                "path", d=f"{trace([(x - s, y - s), (x + s, y + s)])}"
                f"{trace([(x - s, y + s), (x + s, y - s)])}",
                fill="none", stroke="currentColor", stroke_width=width, stroke_linecap="round",
            )  # fmt: skip
        case Outcome.PASS:
            ends = [(x - s, y + 0.1 * s), (x - 0.25 * s, y + 0.85 * s), (x + s, y - 0.9 * s)]
            return element(
                "path", d=trace(ends), fill="none", stroke="currentColor", stroke_width=width,
                stroke_linecap="round", stroke_linejoin="round",
            )  # fmt: skip
        case Outcome.NOT_APPLICABLE:
            return stroke([(x - s, y), (x + s, y)], width=width, cap="round")
        case Outcome.NOT_VERIFIED:
            return text(x, y + 0.95 * s, "?", size=2.7 * s, anchor="middle", weight="700")


def arrow(tail: Point, tip: Point, *, size: float = 4, width: float = 1) -> Svg:
    """Return a line with a filled head at its tip."""
    (x0, y0), (x1, y1) = tail, tip
    length = sqrt((x1 - x0) ** 2 + (y1 - y0) ** 2) or 1.0
    dx, dy = (x1 - x0) / length, (y1 - y0) / length
    base = x1 - dx * size * 1.8, y1 - dy * size * 1.8
    sides = [
        (base[0] - dy * size * 0.75, base[1] + dx * size * 0.75),
        tip,
        (base[0] + dy * size * 0.75, base[1] - dx * size * 0.75),
    ]
    head = element("path", d=trace(sides, closed=True), fill="currentColor", stroke="none")
    return Svg(stroke([tail, base], width=width) + head)


def hatch(x0: float, y0: float, x1: float, y1: float, *, step: float = 7) -> Svg:
    """Return slanting lines that fill a rectangle, cut off at its edges; a pattern needs an id."""
    lines = []
    at = x0 + step - (y1 - y0)
    while at < x1:
        # From the lower edge up to the right, at 45 deg.
        left, right = max(at, x0), min(at + y1 - y0, x1)
        if right - left > 1:
            lines.append(trace([(left, y1 - (left - at)), (right, y1 - (right - at))]))
        at += step
    if not lines:
        return Svg("")
    return element(
        "path", d="".join(lines), fill="none", stroke="currentColor", stroke_width=0.8,
        class_="hair",
    )  # fmt: skip


def drawing(
    *children: Svg,
    box: tuple[float, float, float, float],
    title: str,
    described: str,
    kind: str,
    has_links: bool = False,
) -> str:
    """Return a drawing: `box` is its left, top, width and height.

    One with links is a group, so that they are told one by one; any other is one image.
    """
    return element(
        "svg",
        words(title),
        words(described, "desc"),
        *children,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=" ".join(number(edge) for edge in box),
        class_=f"drawing {kind}",
        role="group" if has_links else "img",
        aria_label=None if not has_links else clipped(title, 200),
    )


def outcome_word(outcome: Outcome) -> str:
    """Return the word that a drawing says an outcome with."""
    return WORDS[outcome].lower()
