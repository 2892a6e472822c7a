"""All that is wrong in one rulebook's own file, beyond what keeps it from being read.

Only what the file itself wrote is looked at: inherited rules are their own rulebook's affair.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.proof.lint_blanks import blank_remarks
from ridgerule.proof.lint_cases import case_remarks
from ridgerule.proof.lint_changes import change_remarks
from ridgerule.proof.lint_conflicts import conflict_remarks
from ridgerule.proof.lint_coverages import coverage_remarks
from ridgerule.proof.lint_editions import edition_remarks
from ridgerule.proof.lint_facts import fact_remarks
from ridgerule.proof.lint_rules import rule_remarks
from ridgerule.proof.lint_sources import source_remarks

if TYPE_CHECKING:
    from ridgerule.audit.plan import Edition
    from ridgerule.proof.lint_remarks import Remark, Sight


def remarks(edition: Edition, sight: Sight) -> tuple[Remark, ...]:
    """Return what a rulebook that can be read has to be told, in the order of the places."""
    found = {
        *edition_remarks(edition, sight),
        *blank_remarks(edition.book),
        *source_remarks(edition.book),
        *fact_remarks(edition.book),
        *change_remarks(edition),
        *rule_remarks(edition),
        *conflict_remarks(edition),
        *case_remarks(edition),
        *coverage_remarks(edition),
    }
    return tuple(sorted(found))
