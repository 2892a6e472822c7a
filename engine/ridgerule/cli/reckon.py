"""`ridgerule reckon`: the trade's computations on figures typed in, with no record."""

from __future__ import annotations

import sys
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from ridgerule.cli import reckon_angles, reckon_cap, reckon_counts, reckon_site, reckon_takeoff
from ridgerule.cli.exits import Exit
from ridgerule.cli.outputs import put, terminal
from ridgerule.cli.reckon_input import ManyAfterOne, Typed
from ridgerule.cli.reckon_sheet import as_json, as_text
from ridgerule.facts import LineKind
from ridgerule.problems import InputRejected
from ridgerule.quantities import Units

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridgerule.cli.reckon_sheet import Sheet


class SheetFormat(StrEnum):
    """The forms a reckoning comes in."""

    TEXT = "text"
    JSON = "json"


class Kind(StrEnum):
    """What runs between two planes."""

    HIP = LineKind.HIP
    RIDGE = LineKind.RIDGE
    VALLEY = LineKind.VALLEY


class CapKind(StrEnum):
    """What carries caps."""

    HIP = LineKind.HIP
    RIDGE = LineKind.RIDGE


class TapeName(StrEnum):
    """The accuracy classes of tapes."""

    I = "I"  # noqa: E741 - the class is called so
    II = "II"
    III = "III"


app = typer.Typer(
    add_completion=False,
    name="reckon",
    help="Reckon angles, lengths, fasteners, ventilation, movement and caps from figures typed "
    "in: no record needed, and every step of the working is shown.",
    epilog="Exit status: 0 reckoned, 4 the figures leave it open, 2 a figure can't be used.",
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _flag(name: str, words: str, metavar: str) -> typer.models.OptionInfo:
    option: typer.models.OptionInfo = typer.Option(
        name, help=words, metavar=metavar, show_default=False
    )
    return option


One = str | None
Many = list[str] | None
FormatOption = Annotated[SheetFormat, typer.Option("--format", help="Form of the sheet.")]
UnitsOption = Annotated[
    Units | None,
    typer.Option("--units", help="Units to print in; those typed where not said."),
]
Slopes = Annotated[
    Many, _flag("--slopes", "Slopes of the two planes; one where they are equal.", "SLOPE...")
]
Corner = Annotated[
    One,
    _flag("--corner", "Corner of the eaves in plan, inside the building: 90 is square.", "ANGLE"),
]
Faces = Annotated[
    Many, _flag("--faces", "Compass directions the planes face, instead of a corner.", "ANGLE...")
]


@app.command(
    cls=ManyAfterOne,
    epilog="Example: ridgerule reckon angle --kind hip --slopes 8:12 10:12 --corner 90",
)
def angle(  # noqa: PLR0913 - one parameter an option
    *,
    kind: Annotated[Kind, typer.Option("--kind", help="What runs between the planes.")],
    slopes: Slopes = None,
    corner: Corner = None,
    faces: Faces = None,
    measured: Annotated[One, _flag("--measured", "What an angle finder read.", "ANGLE")] = None,
    within: Annotated[
        One, _flag("--within", "How far the two angles may be apart.", "ANGLE")
    ] = None,
    form: FormatOption = SheetFormat.TEXT,
    units: UnitsOption = None,
) -> None:
    """Angle between two planes, inside the roof; held against an angle finder if there is one."""

    def reckoned(typed: Typed) -> Sheet:
        asked = reckon_angles.AngleAsked(LineKind(kind.value), slopes, corner, faces)
        return reckon_angles.angle(typed, asked, measured=measured, within=within)

    _run(reckoned, "angle", form, units)


@app.command(
    cls=ManyAfterOne,
    epilog="Example: ridgerule reckon cap --kind hip --slopes 8:12 10:12 --corner 90",
)
def cap(  # noqa: PLR0913 - one parameter an option
    *,
    kind: Annotated[CapKind, typer.Option("--kind", help="What the caps lie on.")],
    slopes: Slopes = None,
    corner: Corner = None,
    faces: Faces = None,
    measured: Annotated[One, _flag("--angle", "What an angle finder read.", "ANGLE")] = None,
    against: Annotated[
        str,
        typer.Option(
            "--against",
            metavar="RULEBOOK",
            help="Rulebook whose chart and profiles are asked: an id, id@edition or file.",
        ),
    ] = reckon_cap.PRACTICE,
    form: FormatOption = SheetFormat.TEXT,
    units: UnitsOption = None,
) -> None:
    """Cap by chart, by nearest angle and by measured angle; which governs, do they agree."""
    asked = reckon_angles.AngleAsked(LineKind(kind.value), slopes, corner, faces)
    _run(
        lambda typed: reckon_cap.cap(typed, asked, measured=measured, against=against),
        "cap", form, units,
    )  # fmt: skip


@app.command(cls=ManyAfterOne, epilog='Example: ridgerule reckon hip --slopes 8:12 --run "15 ft"')
def hip(  # noqa: PLR0913 - one parameter an option
    *,
    slopes: Slopes = None,
    corner: Corner = None,
    run: Annotated[
        One, _flag("--run", "Level run of the common rafters in the first plane.", "LENGTH")
    ] = None,
    plan_run: Annotated[
        One, _flag("--plan-run", "The hip's own level run, as a plan shows it.", "LENGTH")
    ] = None,
    form: FormatOption = SheetFormat.TEXT,
    units: UnitsOption = None,
) -> None:
    """Slope, backing, factor and length of a hip; a square corner where none is given."""
    _run(
        lambda typed: reckon_angles.hip(typed, slopes, corner, run=run, plan_run=plan_run),
        "hip", form, units,
    )  # fmt: skip


@app.command(epilog='Example: ridgerule reckon slope 7:12 --run "8 ft"')
def slope(
    pitch: Annotated[str, typer.Argument(metavar="SLOPE", help="Such as 7:12 or 30deg.")],
    *,
    run: Annotated[One, _flag("--run", "Level run of the common rafter.", "LENGTH")] = None,
    form: FormatOption = SheetFormat.TEXT,
    units: UnitsOption = None,
) -> None:
    """One slope: in degrees, its factor, and a common rafter's length."""
    _run(lambda typed: reckon_angles.slope(typed, pitch, run=run), "slope", form, units)


@app.command(
    cls=ManyAfterOne,
    epilog='Example: ridgerule reckon fastening --length "1 3/4 in" --passes "1/4 in" "1/4 in" '
    '--deck "19/32 in"',
)
def fastening(  # noqa: PLR0913 - one parameter an option
    *,
    length: Annotated[
        One, _flag("--length", "Fastener, from under its head to its point.", "LENGTH")
    ] = None,
    passes: Annotated[
        Many, _flag("--passes", "Thickness of each layer above the deck.", "LENGTH...")
    ] = None,
    deck: Annotated[One, _flag("--deck", "Thickness of the deck, by caliper.", "LENGTH")] = None,
    deck_from: Annotated[
        One, _flag("--deck-from", "Least thickness a marked panel can have.", "LENGTH")
    ] = None,
    deck_to: Annotated[
        One, _flag("--deck-to", "Greatest thickness a marked panel can have.", "LENGTH")
    ] = None,
    protrusion: Annotated[
        One, _flag("--protrusion", "What stands out under the deck, instead.", "LENGTH")
    ] = None,
    least: Annotated[
        One, _flag("--least", "Penetration that will do where it is not through.", "LENGTH")
    ] = None,
    form: FormatOption = SheetFormat.TEXT,
    units: UnitsOption = None,
) -> None:
    """How deep a fastener goes, and whether it is through; the length it would need."""
    decks = reckon_site.DeckAsked(deck, deck_from, deck_to)
    _run(
        lambda typed: reckon_site.fastening(
            typed, decks, length=length, passes=passes, protrusion=protrusion, least=least
        ),
        "fastening", form, units,
    )  # fmt: skip


@app.command(
    cls=ManyAfterOne,
    epilog='Example: ridgerule reckon ventilation --area "2377 ft2" --divisor 1/300 '
    '--high "591 in2" --low "500 in2" --cure "18 in2/ft"',
)
def ventilation(  # noqa: PLR0913 - one parameter an option
    *,
    area: Annotated[One, _flag("--area", "Floor area of the attic, level.", "AREA")] = None,
    divisor: Annotated[
        One, _flag("--divisor", "What the code divides it by: 1/150 or 150.", "DIVISOR")
    ] = None,
    high: Annotated[Many, _flag("--high", "Net free area of each vent up high.", "AREA...")] = None,
    low: Annotated[Many, _flag("--low", "Net free area of each vent down low.", "AREA...")] = None,
    ridge: Annotated[
        Many,
        _flag("--ridge", "A ridge vent: its open length, and area per length.", "LENGTH RATE"),
    ] = None,
    eaves: Annotated[
        Many, _flag("--eaves", "An eave vent: its open length, and area per length.", "LENGTH RATE")
    ] = None,
    cure: Annotated[
        One, _flag("--cure", "Area per length of a vent that would cure a shortfall.", "RATE")
    ] = None,
    form: FormatOption = SheetFormat.TEXT,
    units: UnitsOption = None,
) -> None:
    """Net free area an attic needs and has, high and low, and what would cure a shortfall."""
    vents = reckon_site.VentsAsked(high, low, ridge, eaves)
    _run(
        lambda typed: reckon_site.ventilation(typed, vents, area=area, divisor=divisor, cure=cure),
        "ventilation", form, units,
    )  # fmt: skip


@app.command(
    cls=ManyAfterOne,
    epilog='Example: ridgerule reckon movement --gap "3 in" --edges "9 in" "7 in" --expansion '
    '"81 um/m/degC" "121 um/m/degC" --read-at "68 degF" --to "-10 degF" "160 degF"',
)
def movement(  # noqa: PLR0913 - one parameter an option
    *,
    gap: Annotated[One, _flag("--gap", "Gap between the cut edges, as measured.", "LENGTH")] = None,
    edges: Annotated[
        Many,
        _flag("--edges", "Nearest fastener to cut edge, for the slate on each side.", "LENGTH..."),
    ] = None,
    expansion: Annotated[
        Many,
        _flag("--expansion", "Coefficient; two where the handbooks disagree.", "COEFFICIENT..."),
    ] = None,
    read_at: Annotated[
        One, _flag("--read-at", "Surface of the slate at that reading.", "TEMPERATURE")
    ] = None,
    to: Annotated[Many, _flag("--to", "Surface on the days asked for.", "TEMPERATURE...")] = None,
    form: FormatOption = SheetFormat.TEXT,
    units: UnitsOption = None,
) -> None:
    """Gap left on the coldest and the hottest day, from slates nailed one by one."""
    asked = reckon_counts.MovementAsked(gap, edges, expansion, read_at, to)
    _run(lambda typed: reckon_counts.movement(typed, asked), "movement", form, units)


@app.command(
    cls=ManyAfterOne,
    epilog='Example: ridgerule reckon caps --lengths "18 ft 4 in" "22 ft" --exposure "7 in" '
    '--starts 1 --waste "5 %" --bundle 20 --delivered 60',
)
def caps(  # noqa: PLR0913 - one parameter an option
    *,
    lengths: Annotated[
        Many, _flag("--lengths", "Length of each line that takes the profile.", "LENGTH...")
    ] = None,
    exposure: Annotated[One, _flag("--exposure", "Cap butt to cap butt.", "LENGTH")] = None,
    starts: Annotated[One, _flag("--starts", "Caps more on each line, at starts.", "COUNT")] = None,
    mitres: Annotated[One, _flag("--mitres", "Caps more on each line, at mitres.", "COUNT")] = None,
    waste: Annotated[One, _flag("--waste", "Waste, as a share of the pieces.", "SHARE")] = None,
    bundle: Annotated[One, _flag("--bundle", "Caps in a bundle.", "COUNT")] = None,
    delivered: Annotated[One, _flag("--delivered", "Caps that came.", "COUNT")] = None,
    form: FormatOption = SheetFormat.TEXT,
    units: UnitsOption = None,
) -> None:
    """Caps of one profile that the lines need, and whether enough came."""
    asked = reckon_counts.CapsAsked(lengths, exposure, starts, mitres, waste, bundle, delivered)
    _run(lambda typed: reckon_counts.caps(typed, asked), "caps", form, units)


@app.command(
    cls=ManyAfterOne,
    epilog='Example: ridgerule reckon takeoff --line "H1, 120 deg, 18 ft 4 in, 1" '
    '--line "R1, 160 deg, 22 ft" --exposure "8 in" --waste "5 %" --came "bundle 1, 120 deg, 20"',
)
def takeoff(  # noqa: PLR0913 - one parameter an option
    *,
    line: Annotated[
        Many,
        _flag("--line", "Name, profile, length; then starts and mitres, if any.", "LINE..."),
    ] = None,
    exposure: Annotated[One, _flag("--exposure", "Cap butt to cap butt.", "LENGTH")] = None,
    waste: Annotated[One, _flag("--waste", "Waste, as a share of the pieces.", "SHARE")] = None,
    came: Annotated[Many, _flag("--came", "Each bundle: name, profile, caps.", "BUNDLE...")] = None,
    form: FormatOption = SheetFormat.TEXT,
    units: UnitsOption = None,
) -> None:
    """Caps of every profile, what came short, over or wrong, and the line each belongs on."""
    asked = reckon_takeoff.TakeoffAsked(line, exposure, waste, came)
    _run(lambda typed: reckon_takeoff.takeoff(typed, asked), "takeoff", form, units)


@app.command(epilog='Example: ridgerule reckon tape --length "18 ft" --class II')
def tape(
    *,
    length: Annotated[One, _flag("--length", "Length measured.", "LENGTH")] = None,
    name: Annotated[
        TapeName, typer.Option("--class", help="Accuracy class printed on the tape.")
    ] = TapeName.II,
    graduation: Annotated[
        One, _flag("--graduation", "From mark to mark, read to the nearest.", "LENGTH")
    ] = None,
    form: FormatOption = SheetFormat.TEXT,
    units: UnitsOption = None,
) -> None:
    """How far a reading by tape can be from the length itself."""
    _run(
        lambda typed: reckon_counts.tape(typed, length, name.value, graduation=graduation),
        "tape", form, units,
    )  # fmt: skip


@app.command(
    epilog='Example: ridgerule reckon sample --confidence "95 %" --reliability "95 %" --lot 100'
)
def sample(
    *,
    confidence: Annotated[One, _flag("--confidence", "How sure to be.", "SHARE")] = None,
    reliability: Annotated[
        One, _flag("--reliability", "Share that is to be without fault.", "SHARE")
    ] = None,
    lot: Annotated[One, _flag("--lot", "How many there are in all.", "COUNT")] = None,
    form: FormatOption = SheetFormat.TEXT,
    units: UnitsOption = None,
) -> None:
    """How many pieces to look at; all without fault, they show what was asked."""
    _run(
        lambda typed: reckon_counts.sample(
            typed, confidence=confidence, reliability=reliability, lot=lot
        ),
        "sample", form, units,
    )  # fmt: skip


def _run(
    reckoned: Callable[[Typed], Sheet], name: str, form: SheetFormat, units: Units | None
) -> None:
    """Print the sheet and leave with its status; what can't be used is told on stderr."""
    typed = Typed(units)
    try:
        sheet = reckoned(typed)
    except InputRejected as rejected:
        for problem in rejected.problems:
            print(problem, file=sys.stderr)
        raise typer.Exit(Exit.UNUSABLE) from None
    except ValueError as impossible:
        print(f"reckon {name}: {impossible}; found {typed.as_typed()}", file=sys.stderr)
        raise typer.Exit(Exit.UNUSABLE) from None
    screen = terminal()
    if form is SheetFormat.JSON:
        put(as_json(sheet), None)
    else:
        text = as_text(sheet, width=screen.width, colour=screen.colour, unicode=screen.unicode)
        put(text, None, for_people=True)
    raise typer.Exit(Exit.PASS if sheet.is_told else Exit.NOT_VERIFIED)
