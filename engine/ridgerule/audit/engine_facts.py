"""The engine's own computed facts: the trade's computations over facts that a record can hold.

None holds a maker's or a code's figure; what needs one is computed in a rulebook's `derive:`.
"""

from __future__ import annotations

from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.audit.derivations import Derive, with_derived
from ridgerule.documents import Document
from ridgerule.rulebook import Field
from ridgerule.vocabulary import VOCABULARY

if TYPE_CHECKING:
    from ridgerule.documents import Data
    from ridgerule.facts import Vocabulary

_ENTRIES: dict[str, dict[str, Data]] = {}


@lru_cache(1)
def engine_vocabulary() -> Vocabulary:
    """Return the facts that every rulebook knows: those recorded and those computed."""
    data: dict[str, Data] = dict(_ENTRIES)
    document = Document("engine", data, "", MappingProxyType({}), MappingProxyType({}))
    entries = [
        Derive(name, Field(entry, document, (name,), "engine")) for name, entry in data.items()
    ]
    vocabulary, problems = with_derived(VOCABULARY, entries)
    if problems:
        raise TypeError(f"the engine's own computed facts: {problems}")
    return vocabulary
