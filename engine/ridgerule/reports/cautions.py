"""What every report says of itself at its end, whatever the roof came to.

The figures behind the cautions differ from country to country, so none is given here: local law
and the employer's rules govern.
"""

from __future__ import annotations

CAUTIONS: tuple[str, ...] = (
    (
        "Falls: work at a height only with the protection that local law and the employer's rules "
        "ask for. A measurement still missing is no reason to go up without it."
    ),
    (
        "Ladders: on firm footing, tied, reaching well above the edge that is stepped off at, and "
        "set at the angle their maker names."
    ),
    (
        "Live lines: keep people, ladders and long tools far away from overhead lines; treat "
        "every line as live."
    ),
    (
        "Weather: stay off a roof that is wet, icy or frosted, in wind that moves a ladder, and "
        "when lightning is near. Coverings hot enough to burn, and heat itself, are hazards too."
    ),
    (
        "Brittle coverings and decks: slates, caps and old sheathing may break underfoot; stand "
        "only where the covering's maker and the deck's state allow it."
    ),
    "Local law and the employer's rules govern over everything said here.",
)
"""Cautions for whoever goes back up, in words that hold anywhere; never part of a verdict."""

DISCLAIMER: str = (
    "This is an inspection record held against the rulebooks named in it. It is no certificate, "
    "no warranty and no approval. Where it differs from the local code, the authority having "
    "jurisdiction or licensed practice, they govern. Values marked as recalled must be confirmed "
    "against the document they are from. What is not verified has not passed."
)
"""What the report is, and what it is not."""
