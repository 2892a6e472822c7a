"""Exit statuses, and how a fault of our own is told."""

from __future__ import annotations

import os
import sys
from enum import IntEnum
from typing import TYPE_CHECKING

from ridgerule.audit.findings import Outcome

if TYPE_CHECKING:
    from collections.abc import Iterable


class Exit(IntEnum):
    """What the process's status says."""

    PASS = 0
    FAIL = 1
    UNUSABLE = 2
    OURS = 3
    NOT_VERIFIED = 4


def status_of(outcomes: Iterable[Outcome]) -> Exit:
    """Return the status for the roofs audited together: the gravest outcome of them."""
    came = set(outcomes)
    if Outcome.FAIL in came:
        return Exit.FAIL
    return Exit.PASS if came == {Outcome.PASS} else Exit.NOT_VERIFIED


def told_as_ours(error: Exception) -> Exit:
    """Say that a fault is ours, with the trace only where it was asked for; return its status."""
    print(f"ridgerule has a fault of its own: {type(error).__name__}: {error}", file=sys.stderr)
    if os.environ.get("RIDGERULE_TRACE"):
        import traceback  # noqa: PLC0415 - only where a trace is asked for

        traceback.print_exception(error, file=sys.stderr)
    else:
        print(
            "No report was made. RIDGERULE_TRACE=1 before the command shows where; "
            "please send that with the files to the developers.",
            file=sys.stderr,
        )
    return Exit.OURS
