"""Cases as a rulebook writes them, ready to be put in one."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

from ridgerule.problems import shown

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.audit.plan import Case
    from ridgerule.documents import Data

_PLAIN = re.compile(r"[A-Za-z0-9.][A-Za-z0-9 ./%'²-]*", re.ASCII)
_READ_OTHERWISE = frozenset({"true", "false", "on", "off", "null", "~"})


WIDEST = 90
"""Longer lines are broken, as they would be in a rulebook."""


def case_text(case: Case) -> str:
    """Return a case as YAML, an item of the list under `cases:`, on one line if it fits."""
    given = _flow(dict(case.given))
    line = f"- {{given: {given}, expect: {case.expect}}}"
    if len(line) <= WIDEST:
        return line
    if len(f"- given: {given}") <= WIDEST:
        return f"- given: {given}\n  expect: {case.expect}"
    facts = "".join(f"    {name}: {_flow(data)}\n" for name, data in case.given.items())
    return f"- given:\n{facts}  expect: {case.expect}"


def given_words(given: Mapping[str, Data]) -> str:
    """Return what a case gives, in words: `line.kind hip, station.gap 3 in`."""
    return ", ".join(f"{name} {_words(data)}" for name, data in given.items())


def _flow(data: Data) -> str:
    match data:
        case None:
            return "null"
        case bool():
            return "yes" if data else "no"
        case list():
            return f"[{', '.join(map(_flow, data))}]"
        case dict():
            return f"{{{', '.join(f'{key}: {_flow(item)}' for key, item in data.items())}}}"
        case int():
            return str(data)
        case str():
            plain = _PLAIN.fullmatch(data) and data.lower() not in _READ_OTHERWISE
            return data if plain else json.dumps(data, ensure_ascii=False)


def _words(data: Data) -> str:
    match data:
        case None:
            return "nothing"
        case bool():
            return "yes" if data else "no"
        case list():
            return " and ".join(map(_words, data))
        case dict():
            more = [f"{key} {_words(item)}" for key, item in data.items() if key != "value"]
            return f"{_words(data.get('value'))} ({', '.join(more)})"
        case _:
            return shown(data)
