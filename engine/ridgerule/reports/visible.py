"""User text made fit to print: what can't be seen, or acts on a terminal, is spelt out.

A name with a terminal escape, a control character or a mark that turns the direction of writing
could make a report say something else than it says, so no renderer emits one.
"""

from __future__ import annotations

import re

# Line ends, tabs and the wider and narrower spaces, with the plain spaces around them.
_BREAKS = re.compile(
    " *[\t\n\r\u00a0\u2000-\u200a\u202f\u205f\u3000][\t\n\r\u00a0\u2000-\u200a\u202f\u205f\u3000 ]*"
)

_PLAIN = str.maketrans(
    {
        "≈": "~",
        "…": "...",
        "\N{EN DASH}": "-",
        "—": "-",
        "\N{MINUS SIGN}": "-",
        "·": "-",
        "\N{MULTIPLICATION SIGN}": "x",
        "→": "->",
        "²": "2",
        "°": " deg",
        "\N{LEFT SINGLE QUOTATION MARK}": "'",
        "\N{RIGHT SINGLE QUOTATION MARK}": "'",
        "\N{LEFT DOUBLE QUOTATION MARK}": '"',
        "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
    }
)


def visible(text: str) -> str:
    """Return `text` on one line, each character that is not printable as its escape."""
    folded = _BREAKS.sub(" ", text)
    if folded.isprintable():
        return folded
    return "".join(c if c.isprintable() else escaped(c) for c in folded)


def escaped(char: str) -> str:
    r"""Return one character as a backslash escape: `\x1b`, `\u202e`."""
    return char.encode("unicode_escape").decode("ascii")


def in_ascii(text: str) -> str:
    """Return `text` for an output that can't show more than ASCII."""
    return text.translate(_PLAIN).encode("ascii", "backslashreplace").decode("ascii")
