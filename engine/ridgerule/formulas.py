"""Text that a spreadsheet would take for a formula, and the apostrophe that keeps it text.

A cell that begins like a formula is run by whoever opens the table, so none is ever written. The
apostrophe is taken off again when a table is read: `guarded` loses nothing.
"""

from __future__ import annotations

import re

APOSTROPHE = "'"

# A spreadsheet may drop the blanks before what it takes for a formula. Apostrophes before it are
# passed over as well, so that one more can always be told from those that were there.
_BEGINS_LIKE_ONE = re.compile(
    "[ '\\n]*[=+\\-@\\t\\r"
    "\N{FULLWIDTH EQUALS SIGN}\N{FULLWIDTH PLUS SIGN}"
    "\N{FULLWIDTH HYPHEN-MINUS}\N{FULLWIDTH COMMERCIAL AT}]"
)


def is_taken_for_formula(text: str) -> bool:
    """Tell whether a spreadsheet may take `text` for a formula, apostrophes before it or not."""
    return _BEGINS_LIKE_ONE.match(text) is not None


def guarded(text: str) -> str:
    """Return `text` as no spreadsheet takes it for a formula; `unguarded` gives it back."""
    return f"{APOSTROPHE}{text}" if is_taken_for_formula(text) else text


def unguarded(text: str) -> str:
    """Return what `guarded` made `text` from; other text is returned as it is."""
    bare = text.removeprefix(APOSTROPHE)
    return bare if bare != text and is_taken_for_formula(bare) else text
