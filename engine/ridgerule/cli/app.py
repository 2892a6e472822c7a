"""The commands, each a few named steps; what they do lives in the rooms below."""

from __future__ import annotations

import sys
from enum import StrEnum
from importlib import import_module
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from ridgerule import __version__
from ridgerule.audit.findings import Audit
from ridgerule.cli.exits import Exit, status_of
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.cli.outputs import put, put_bytes, terminal
from ridgerule.problems import InputRejected, Problem
from ridgerule.quantities import Units
from ridgerule.shipped import shipped

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.reports.drawing_strip import Strip
    from ridgerule.reports.view import Settings, View


class Format(StrEnum):
    """The forms a report comes in."""

    TEXT = "text"
    JSON = "json"
    CSV = "csv"
    JUNIT = "junit"
    HTML = "html"
    PDF = "pdf"


LATER: Mapping[str, str] = MappingProxyType(
    {
        "plan": "ridgerule.cli.plan",
        "import": "ridgerule.cli.import_table",
        "export": "ridgerule.cli.export_table",
        "measure": "ridgerule.cli.measure",
        "warranty": "ridgerule.cli.warranty",
        "reinspect": "ridgerule.cli.reinspect",
        "verify": "ridgerule.cli.verify",
        "sign": "ridgerule.cli.sign",
        "book": "ridgerule.cli.book",
        "survey": "ridgerule.cli.survey",
        "reckon": "ridgerule.cli.reckon",
    }
)
"""Commands and groups of commands with a module of their own each, whose `app` it is."""


class Commands(TyperGroup):
    """The commands, those of `LATER` loaded only where asked for: an audit needs none of them."""

    def list_commands(self, ctx: Any) -> list[str]:  # noqa: ANN401 - typer's context
        """Return the commands in the order that `--help` lists them."""
        return [*dict.fromkeys((*super().list_commands(ctx), *LATER))]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:  # noqa: ANN401 - typer's own
        """Return the command of a name, None where there is none."""
        if cmd_name in LATER and cmd_name not in self.commands:
            self.add_command(typer.main.get_command(import_module(LATER[cmd_name]).app), cmd_name)
        return super().get_command(ctx, cmd_name)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:  # noqa: ANN401 - typer's own
        """Return the command that `args` begin with; a slip is told with those near to it."""
        if args[0] not in self.list_commands(ctx):
            for name in LATER:  # so that they can be suggested as well
                self.get_command(ctx, name)
        return super().resolve_command(ctx, args)


app = typer.Typer(
    name="ridgerule",
    cls=Commands,
    help="Hold a finished steep-slope roof against trade practice, the local code and the "
    "warranty, and get a verdict that can be traced.",
    epilog="Exit status: 0 pass, 1 something failed, 4 nothing failed but something is not "
    "verified, 2 a file can't be used, 3 a fault of ridgerule's own.",
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

Against = Annotated[
    list[str] | None,
    typer.Option(
        "--against",
        metavar="RULEBOOK",
        help="Rulebook to hold it against, an id, id@edition or file; replaces the record's own "
        "list. Repeat for several.",
    ),
]
RulebookFolders = Annotated[
    list[Path] | None,
    typer.Option(
        "--rulebooks",
        metavar="FOLDER",
        file_okay=False,
        help="Folder to find rulebooks in, besides the record's own and those shipped.",
    ),
]
FormatOption = Annotated[Format, typer.Option("--format", help="Form of the report.")]
OutputOption = Annotated[
    Path | None,
    typer.Option("--output", "-o", metavar="PATH", help="File to write instead of the terminal."),
]
UnitsOption = Annotated[
    Units | None,
    typer.Option("--units", help="Units to print in; as written where not said."),
]
AllOption = Annotated[
    bool,
    typer.Option("--all", help="Show every pass and what is not applicable, place by place."),
]

StripsOption = Annotated[
    bool,
    typer.Option(
        "--strips",
        help="Draw the readings of whatever failed or is open along its line, in a text report.",
    ),
]


def _version(*, wanted: bool) -> None:
    if wanted:
        print(f"ridgerule {__version__}")
        raise typer.Exit


@app.callback()
def top(
    *,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say the version.")
    ] = False,
) -> None:
    """Hold a finished steep-slope roof against rulebooks."""


@app.command()
def audit(  # noqa: PLR0913 - one parameter an option
    records: Annotated[
        list[Path], typer.Argument(metavar="RECORD...", help="Records of roofs, YAML or JSON.")
    ],
    *,
    against: Against = None,
    rulebooks: RulebookFolders = None,
    form: FormatOption = Format.TEXT,
    output: OutputOption = None,
    units: UnitsOption = None,
    show_all: AllOption = False,
    strips: StripsOption = False,
) -> None:
    """Audit finished roofs: pass, fail or not verified, rule by rule and place by place."""
    auditor = Auditor(Asked(tuple(against or ()), tuple(rulebooks or ())))
    audits, problems = _audited(auditor, records)
    for problem in problems:
        print(problem, file=sys.stderr)
    if audits:
        _report(audits, form, output, units=units, show_all=show_all, strips=strips)
    raise typer.Exit(Exit.UNUSABLE if problems else status_of(a.outcome for a, _ in audits))


@app.command()
def demo(
    *,
    form: FormatOption = Format.TEXT,
    output: OutputOption = None,
    units: UnitsOption = None,
    show_all: AllOption = False,
    strips: StripsOption = False,
) -> None:
    """Audit the demo roof that comes with ridgerule, an invented one; ends with status 0."""
    path = shipped("demo") / "harrow-lane.yaml"
    audited = Auditor(Asked()).audit(path, name=path.name)
    _report([(audited, path.parent)], form, output, units=units, show_all=show_all, strips=strips)
    status = status_of([audited.outcome])
    print(
        f"(An invented roof. `ridgerule audit {path}` gives this report and ends with "
        f"status {status.value}.)",
        file=sys.stderr,
    )


def _audited(
    auditor: Auditor, records: list[Path]
) -> tuple[list[tuple[Audit, Path]], list[Problem]]:
    """Return the audits of the records that can be read, with their folders, and the problems."""
    audits: list[tuple[Audit, Path]] = []
    problems: list[Problem] = []
    for path in dict.fromkeys(records):
        try:
            audits.append((auditor.audit(path), path.parent))
        except InputRejected as rejected:
            problems.extend(rejected.problems)
    return audits, list(dict.fromkeys(problems))


def _report(  # noqa: PLR0913 - one parameter an option
    audits: list[tuple[Audit, Path]],
    form: Format,
    output: Path | None,
    *,
    units: Units | None,
    show_all: bool,
    strips: bool,
) -> None:
    from ridgerule.reports import view  # noqa: PLC0415 - `--help` needs no report
    from ridgerule.reports.text import text_report  # noqa: PLC0415

    for_data = form not in (Format.TEXT, Format.HTML, Format.PDF)
    on_page = form in (Format.HTML, Format.PDF)
    settings = view.Settings(
        units=units, show_all=show_all, for_data=for_data, with_decisions=on_page
    )
    if form in (Format.HTML, Format.PDF):
        _page(audits, settings, output, on_paper=form is Format.PDF)
        return
    views = [view.view_of(audit, settings=settings) for audit, _ in audits]
    if form is Format.TEXT:
        screen = terminal()
        to_file = output is not None
        text = "\n".join(
            text_report(
                shown,
                width=100 if to_file else screen.width,
                colour=screen.colour and not to_file,
                show_all=show_all,
                unicode=screen.unicode or to_file,
                strips=_strips(audit, shown) if strips else (),
            )
            for (audit, _), shown in zip(audits, views, strict=True)
        )
        put(text, output, for_people=True)
        return
    from ridgerule.reports.formats import FORMATS  # noqa: PLC0415

    put(FORMATS[form](views), output)


def _strips(audit: Audit, shown: View) -> tuple[Strip, ...]:
    from ridgerule.reports.drawing_strip import strips_of  # noqa: PLC0415 - only if asked for

    return strips_of(audit, shown)


def _page(
    audits: list[tuple[Audit, Path]], settings: Settings, output: Path | None, *, on_paper: bool
) -> None:
    from ridgerule.cli.pages import html_of  # noqa: PLC0415 - only where a page is asked for

    html = html_of(audits, settings)
    if on_paper:
        from ridgerule.reports.pdf import as_pdf  # noqa: PLC0415 - an extra

        put_bytes(as_pdf(html), output)
    else:
        put(html, output)


def run(arguments: list[str]) -> int:
    """Run the command that `arguments` name; return its exit status.

    Raises `BrokenPipeError` where the reader of the output went away, which typer would call
    status 1: that is ours for a roof that failed.
    """
    try:
        app(arguments, prog_name="ridgerule")
    except SystemExit as left:
        if isinstance(left.__context__, BrokenPipeError):
            raise left.__context__ from None
        return left.code if isinstance(left.code, int) else Exit.PASS
    return Exit.PASS
