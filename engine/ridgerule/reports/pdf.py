"""A page as a PDF: the same HTML laid out on paper by WeasyPrint, which comes with extra `pdf`.

Nothing is fetched: whatever a page shows is in it. The same page gives the same bytes.
"""

from __future__ import annotations

import hashlib
import importlib.util
import logging
from typing import Any

from ridgerule.problems import InputRejected, Location, Problem

_IDENTIFIER_BYTES = 16
_WHERE = Location("--format pdf")


def as_pdf(html: str) -> bytes:
    """Return a page as PDF, with bookmarks from its headings and page numbers from its style.

    Raises `InputRejected` where WeasyPrint, or what it lays text out with, is not installed.
    """
    weasyprint = _weasyprint()
    identifier = hashlib.sha256(html.encode()).digest()[:_IDENTIFIER_BYTES]
    # The pictures are in the page itself; whatever else it named would be refused.
    fetcher = weasyprint.urls.URLFetcher(allowed_protocols=("data",), fail_on_errors=True)
    page = weasyprint.HTML(string=html, url_fetcher=fetcher)
    document: bytes = page.write_pdf(pdf_identifier=identifier)
    return document


def _weasyprint() -> Any:  # noqa: ANN401 - an extra's module
    if importlib.util.find_spec("weasyprint") is None:
        told = "the extra `pdf`, which lays pages out on paper"
        advice = "install it with `pip install 'ridgerule[pdf]'`, or print `--format html`"
        raise InputRejected([Problem(_WHERE, told, "an installation without it", advice)])
    # It tells of every style that is for screens alone; none of that is for our readers.
    logging.getLogger("weasyprint").setLevel(logging.ERROR)
    try:
        import weasyprint.urls  # noqa: PLC0415 - an extra
    except OSError:
        told = "the library Pango, with which WeasyPrint lays text out"
        advice = "install it from your system's packages, or print `--format html`"
        raise InputRejected([Problem(_WHERE, told, "a system without it", advice)]) from None
    return weasyprint
