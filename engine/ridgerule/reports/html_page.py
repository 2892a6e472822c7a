"""The HTML page that reports share: one file, no script, nothing from elsewhere.

`templates/base.html` lays out any report's page and `style.css` is the look of them all; a report
adds a template that extends the base and fills its blocks.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from ridgerule import __version__
from ridgerule.audit.findings import Outcome
from ridgerule.reports.page import WORDS, Page
from ridgerule.reports.sheet import Badge

if TYPE_CHECKING:
    from jinja2 import Template

_HERE = Path(__file__).resolve().parent
_PAGE = Page(width=80, colour=False, unicode=True)
"""Words text and outcomes as every other report does."""
_TIE = _PAGE.words("1 in")[1]
"""What stands for a space that no line may break at: the one inside a quantity."""


def template(name: str) -> Template:
    """Return the template of a name in `templates/`."""
    return _environment().get_template(name)


@lru_cache(1)
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(_HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=_shown,
    )
    environment.globals["style"] = Markup((_HERE / "style.css").read_text("utf-8"))  # noqa: S704 - ours
    environment.globals["version"] = __version__
    environment.filters["shape"] = _PAGE.shape
    environment.filters["kind"] = lambda outcome: outcome.value.replace(" ", "-")
    environment.filters["badge"] = badge
    return environment


def badge(value: object) -> Badge | None:
    """Return what is shown with a shape: an outcome with its word; None for anything else."""
    match value:
        case Outcome():
            return Badge(value, WORDS[value])
        case Badge():
            return value
        case _:
            return None


def _shown(value: object) -> object:
    """Return what a template prints: a user's words with nothing in them that can't be seen."""
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    return _PAGE.words(value).replace(_TIE, "\N{NO-BREAK SPACE}")
