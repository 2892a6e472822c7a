"""From audits to the page that is handed over: their photos looked for, the page laid out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.photos import photos_beside
from ridgerule.reports.audit_page import html_report, roof_page
from ridgerule.reports.photo_images import images_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ridgerule.audit.findings import Audit
    from ridgerule.reports.view import Settings


def html_of(audits: Sequence[tuple[Audit, Path]], settings: Settings) -> str:
    """Return one page with the reports of roofs, each given with the folder of its record."""
    return html_report(
        [
            roof_page(
                audit,
                settings=settings,
                images=images_of(photos_beside(audit.record, folder)),
                number=number,
            )
            for number, (audit, folder) in enumerate(audits, start=1)
        ]
    )
