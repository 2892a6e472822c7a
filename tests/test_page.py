"""The page of a text report: where its lines may break."""

from __future__ import annotations

import pytest

from ridgerule.reports.page import Page

NARROWEST = 13
"""Cells in which no two of the words below fit beside each other, were they not tied."""


@pytest.mark.parametrize("text", ["about ≈ 12.3456 in", "about ≈ -0.25 in", "about ≈ 7 ft 3.1 in"])
@pytest.mark.parametrize("unicode", [True, False])
def test_no_line_ends_between_the_sign_of_a_rounded_number_and_the_number(
    text: str, *, unicode: bool
) -> None:
    """`≈`, and `~` where it can't be shown, stays on the line of its number at every width."""
    sign = "≈" if unicode else "~"
    for width in range(NARROWEST, 30):
        page = Page(width=width, colour=False, unicode=unicode)
        lines = page.printed([page.flow(page.text(text))]).splitlines()
        assert any(f"{sign} " in line for line in lines)
        assert not any(line.endswith(sign) for line in lines), width


def test_the_sign_alone_ties_nothing() -> None:
    """A sign before a word may end its line, so that prose still wraps."""
    page = Page(width=NARROWEST, colour=False, unicode=True)
    lines = page.printed([page.flow(page.text("the sign ≈ stands before"))]).splitlines()
    assert lines == ["the sign ≈", "stands before"]
