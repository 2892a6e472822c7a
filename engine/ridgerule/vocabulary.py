"""The engine's own facts, one visible table an element, each with its measuring definition.

The definitions are common practice, no source; a rulebook that measures otherwise declares a
fact of its own. A maker's or a code's figure never stands here, only what can't be right at all.
"""

from __future__ import annotations

from ridgerule.facts import Element, Fact, Host, How, LineKind, Plain, Vocabulary, value_range
from ridgerule.quantities import Dimension, Mistake

LENGTH, AREA, ANGLE = Dimension.LENGTH, Dimension.AREA, Dimension.ANGLE
YES_NO, CHOICE, TEXT, DATE = Plain.YES_NO, Plain.CHOICE, Plain.TEXT, Plain.DATE

COVERINGS = (
    "composite slate",
    "natural slate",
    "fibre-cement slate",
    "asphalt shingle",
    "wood shingle",
    "wood shake",
    "clay tile",
    "concrete tile",
    "metal shingle",
    "metal panel",
)
"""`roof.covering` is a closed list: a section written for one covering never judges another."""

BUILDINGS = ("dwelling", "townhouse", "multi-family", "commercial", "public", "outbuilding")
DECKS = ("plywood", "oriented strand board", "boards", "planks", "concrete", "steel")
PANEL_MARKS = ("3/8", "7/16", "15/32", "1/2", "19/32", "5/8", "23/32", "3/4", "7/8", "1-1/8")
SHEETS = ("D1970", "D226 type I", "D226 type II", "D4869", "D6757", "D8257", "none")
FASTENERS = ("ring-shank nail", "smooth-shank nail", "screw", "staple")
FASTENER_METALS = (
    "galvanised steel",
    "stainless steel",
    "aluminium",
    "copper",
    "bronze",
    "bare steel",
)


def _fact(  # noqa: PLR0913 - a row of the table: every column is named
    full_name: str,
    dimension: Dimension | Plain,
    measure: str,
    ask: str,
    *,
    tool: str = "",
    choices: tuple[str, ...] = (),
    least: str | None = None,
    greatest: str | None = None,
    per_side: bool = False,
    host: Host = Host.EITHER,
    section: str = "",
    key: str = "",
    short_form: How | None = None,
) -> Fact:
    element, name = full_name.split(".")
    bounds = value_range(dimension, least=least, greatest=greatest)
    if isinstance(bounds, Mistake):
        raise TypeError(f"{full_name} in the engine's table: expected {bounds.expected}")
    return Fact(
        element=Element(element),
        name=name,
        dimension=dimension,
        measure=measure,
        ask=ask,
        tool=tool or ("tape" if dimension is LENGTH else ""),
        choices=choices,
        least=bounds[0],
        greatest=bounds[1],
        per_side=per_side,
        host=host,
        short_form=short_form or (How.MEASURED if isinstance(dimension, Dimension) else How.SEEN),
        section=section,
        key=key or (name if section else ""),
    )


# A table: one row a fact reads better than one line an argument.
# fmt: off
_ROOF = (
    _fact("roof.place", TEXT, "town or county whose code governs", "Where does the roof stand?"),
    _fact("roof.covering", CHOICE, "what the field of the roof is covered with",
          "What is the roof covered with?", choices=COVERINGS),
    _fact("roof.building", CHOICE, "kind of building under the roof",
          "What kind of building is it?", choices=BUILDINGS),
    _fact("roof.climate_zone", CHOICE, "climate zone of the energy code in force, without letter",
          "Which climate zone is it in?", choices=tuple("12345678"), short_form=How.DOCUMENT),
    _fact("roof.ice_dams", YES_NO, "the authority has ice dams on record for the place",
          "Are ice dams on record here?", short_form=How.DOCUMENT),
    _fact("roof.code_edition", CHOICE, "edition of the model residential code in force",
          "Which edition of the model code is in force?", short_form=How.DOCUMENT,
          choices=("2009", "2012", "2015", "2018", "2021", "2024")),
    _fact("roof.permit_date", DATE, "day the permit was applied for", "When was the permit filed?",
          section="dates", key="permit", short_form=How.DOCUMENT),
    _fact("roof.installation_date", DATE, "day the covering was finished",
          "When was the covering finished?",
          section="dates", key="installation", short_form=How.DOCUMENT),
    _fact("roof.registration_date", DATE, "day the warranty was registered",
          "When was the warranty registered?",
          section="dates", key="registration", short_form=How.DOCUMENT),
    _fact("roof.inspection_date", DATE, "day of the visit", "What day is it?",
          section="inspection", key="date", short_form=How.STATED),
    _fact("roof.air_temperature", Dimension.TEMPERATURE, "air in the shade during the visit",
          "How warm is the air?", tool="thermometer", section="inspection", key="temperature"),
    _fact("roof.installed_by", TEXT, "crew or firm that laid the covering", "Who laid it?",
          section="installation", key="by", short_form=How.DOCUMENT),
    _fact("roof.installer_trained", YES_NO, "the installer holds the maker's training record",
          "Does the installer hold the maker's training record?",
          section="installation", key="trained", short_form=How.DOCUMENT),
    _fact("roof.warranty_registered", YES_NO, "the warranty is registered with the warrantor",
          "Is the warranty registered?",
          section="warranty", key="registered", short_form=How.DOCUMENT),
    _fact("roof.warranty_transferred", YES_NO, "the warranty has passed to a later owner",
          "Has the warranty been transferred?",
          section="warranty", key="transferred", short_form=How.DOCUMENT),
)

_ROOF_FIGURES = (
    _fact("roof.expansion_least", Dimension.EXPANSION,
          "least coefficient of linear expansion of the slates, along the slate",
          "What is the least expansion coefficient of the slates?", short_form=How.DOCUMENT),
    _fact("roof.expansion_greatest", Dimension.EXPANSION,
          "greatest coefficient of linear expansion of the slates, along the slate",
          "What is the greatest expansion coefficient of the slates?", short_form=How.DOCUMENT),
    _fact("roof.hottest_surface", Dimension.TEMPERATURE, "slate surface, hottest day reckoned with",
          "How hot do the slates get?", short_form=How.DOCUMENT),
    _fact("roof.coldest_surface", Dimension.TEMPERATURE, "slate surface, coldest day reckoned with",
          "How cold do the slates get?", short_form=How.DOCUMENT),
    _fact("roof.cap_waste", Dimension.SHARE, "share of caps added for waste",
          "What share is added for waste?", short_form=How.DOCUMENT),
)

_PLANE = (
    _fact("plane.slope", Dimension.SLOPE, "rise over level run, along the line of steepest fall",
          "What is the slope?", tool="slope gauge"),
    _fact("plane.faces", ANGLE, "compass direction down the slope, clockwise from north",
          "Which way does it face?", tool="compass", greatest="360 deg"),
    _fact("plane.area", AREA, "area along the slope", "How large is it?"),
    _fact("plane.deck", CHOICE, "what the fasteners are driven into", "What is the deck?",
          choices=DECKS),
    _fact("plane.deck_thickness", LENGTH, "solid deck alone, by caliper at a cut edge or hole",
          "How thick is the deck?", tool="caliper", greatest="6 in"),
    _fact("plane.deck_panel", CHOICE, "thickness mark stamped on the panel, in inches",
          "Which thickness is stamped on the panels?", choices=PANEL_MARKS),
    _fact("plane.underlayment", CHOICE, "ASTM standard printed on the sheet under the field",
          "Which standard is printed on the underlayment?", choices=SHEETS),
    _fact("plane.exposure", LENGTH, "field slate exposure as laid out, butt to butt up the slope",
          "What exposure was laid out?", greatest="36 in"),
    _fact("plane.fastener", CHOICE, "kind of fastener in the field", "Nails or screws?",
          choices=FASTENERS),
    _fact("plane.fastener_metal", CHOICE, "metal of the fastener, or of its coating",
          "What are they made of?", choices=FASTENER_METALS),
    _fact("plane.fastener_shank", LENGTH, "diameter of the shank, clear of the rings",
          "How thick is the shank?", tool="caliper", greatest="1 in"),
    _fact("plane.fastener_head", LENGTH, "diameter of the head", "How wide is the head?",
          tool="caliper", greatest="3 in"),
    _fact("plane.fastener_length", LENGTH, "under the head to the point", "How long is it?",
          greatest="12 in"),
    _fact("plane.ice_barrier", YES_NO, "an ice barrier lies along the lowest edge",
          "Is there an ice barrier at the eave?"),
    _fact("plane.ice_barrier_inside", LENGTH,
          "from the exterior wall line to the barrier's upper edge, measured level",
          "How far inside the wall line does the ice barrier reach?", greatest="60 ft"),
    _fact("plane.ice_barrier_up", LENGTH,
          "from the lowest edge to the barrier's upper edge, along the slope",
          "How far up the slope does the ice barrier reach?", greatest="60 ft"),
    _fact("plane.fasteners_hidden", YES_NO, "no fastener shows anywhere in the field",
          "Are all field fasteners covered?"),
)

_LINE = (
    _fact("line.kind", CHOICE, "where planes end", "Hip, ridge, valley, eave or rake?",
          choices=tuple(LineKind)),
    _fact("line.length", LENGTH, "from end to end along the line", "How long is it?"),
    _fact("line.vented", YES_NO, "air leaves the roof along the line", "Is it vented?"),
    _fact("line.vent_instructions", YES_NO, "the vent is fitted as its maker's instructions say",
          "Does the vent follow its maker's instructions?"),
    _fact("line.vent_area", AREA, "net free area of the vent over the whole line",
          "How much net free area does the vent give?", short_form=How.DOCUMENT),
    _fact("line.corner", ANGLE, "angle in plan between the eaves that the line runs from",
          "What is the corner in plan?", greatest="360 deg"),
    _fact("line.angle", ANGLE, "between the two planes, inside the roof, square to the line",
          "What does the angle finder say?", tool="angle finder", greatest="360 deg"),
    _fact("line.angle_taken", YES_NO, "an angle finder was held to the line",
          "Was the angle measured?"),
    _fact("line.common_run", LENGTH, "level run of the common rafter of the first plane named",
          "What is the run of the common rafter?"),
    _fact("line.membrane", YES_NO, "a self-adhering membrane strip lies under the line",
          "Is there a membrane strip under it?"),
    _fact("line.membrane_width", LENGTH, "strip edge to strip edge across the line, total",
          "How wide is the membrane?", greatest="120 in"),
    _fact("line.membrane_standard", CHOICE, "ASTM standard printed on the strip",
          "Which standard is printed on the membrane?", choices=SHEETS),
    _fact("line.cap_profile", ANGLE, "included angle the cap is made for, as named by its maker",
          "Which cap is on it?", tool="cap gauge", greatest="180 deg"),
    _fact("line.cap_exposure", LENGTH, "cap exposure as laid out, butt to butt",
          "What cap exposure was laid out?", greatest="36 in"),
    _fact("line.cap_starts", Dimension.COUNT, "first caps beside those that the length gives",
          "How many first caps?"),
    _fact("line.cap_mitres", Dimension.COUNT, "caps cut to mitres beside those from the length",
          "How many mitred caps?"),
    _fact("line.vent_per_length", Dimension.NET_FREE_AREA_PER_LENGTH,
          "net free area of the vent for each length of it", "What is the vent rated at?",
          short_form=How.DOCUMENT),
    _fact("line.vent_closed", LENGTH, "length of the line whose slot is blocked or not cut, in all",
          "How much of the slot is closed?"),
    _fact("line.caps_at_marks", YES_NO, "caps are fastened at their marked points",
          "Are the caps fastened at the marks?"),
    _fact("line.fasteners_hidden", YES_NO, "no fastener shows along the line",
          "Are all cap fasteners covered?"),
    _fact("line.cut_straight", YES_NO, "starters and slates along the line are cut straight, even",
          "Are the cut edges straight and even?"),
    _fact("line.flashed", YES_NO, "flashing or sealant covers the change of plane",
          "Is the change of plane flashed or sealed?"),
    _fact("line.colour_matched", YES_NO, "flashing or sealant matches the covering in colour",
          "Does the flashing or sealant match in colour?"),
    _fact("line.drip_edge", YES_NO, "metal drip edge along an eave or rake",
          "Is there a drip edge?"),
    _fact("line.drip_edge_lap", LENGTH, "overlap of neighbouring lengths, least found",
          "How far do its lengths lap?", greatest="24 in"),
    _fact("line.drip_edge_below", LENGTH, "how far it hangs below the sheathing",
          "How far below the sheathing does it reach?", greatest="12 in"),
    _fact("line.drip_edge_back", LENGTH, "how far it runs back on the deck",
          "How far back on the deck does it run?", greatest="24 in"),
    _fact("line.drip_edge_spacing", LENGTH, "centre to centre of its fasteners, greatest found",
          "How far apart are its fasteners?", greatest="10 ft"),
)

_STATION = (
    _fact("station.gap", LENGTH,
          "clear between the cut edges of the field slates, square to the line, both sides in all",
          "How wide is the open space across the centreline?", host=Host.LINE, greatest="36 in"),
    _fact("station.setback", LENGTH,
          "from the centreline to the slates' cut edge, along the slope, each side by itself",
          "How far back from the centreline do the slates stop?",
          host=Host.LINE, per_side=True, greatest="36 in"),
    _fact("station.fastener_to_edge", LENGTH,
          "from the slate's nearest fastener to its cut edge, square to the line, each side",
          "How far is the nearest fastener from the cut edge?",
          host=Host.LINE, per_side=True, greatest="36 in"),
    _fact("station.cap_exposure", LENGTH, "cap butt to cap butt along the line",
          "What is the cap exposure?", host=Host.LINE, greatest="36 in"),
    _fact("station.cap_fasteners", Dimension.COUNT, "fasteners in one cap",
          "How many fasteners are in the cap?", host=Host.LINE),
    _fact("station.exposure", LENGTH, "field slate butt to butt up the slope",
          "What is the field exposure?", host=Host.PLANE, greatest="36 in"),
    _fact("station.fasteners", Dimension.COUNT, "fasteners in one field slate",
          "How many fasteners are in the slate?"),
    _fact("station.penetration", LENGTH, "from the deck's upper face to the fastener's point",
          "How deep does the fastener go into the deck?", greatest="12 in"),
    _fact("station.passed", LENGTH, "thickness of all that the fastener passes before the deck",
          "How thick is what the fastener passes?", tool="caliper", greatest="12 in"),
    _fact("station.protrusion", LENGTH, "from the deck's underside to the fastener's point",
          "How far does the point stand out below?", greatest="12 in"),
    _fact("station.through_deck", YES_NO, "the fastener's point shows under the deck",
          "Does the point come through the deck?"),
    _fact("station.overdriven", YES_NO, "the head is sunk into the slate or cap",
          "Is the head sunk in?"),
    _fact("station.surface_temperature", Dimension.TEMPERATURE, "of the slate beside the reading",
          "How warm is the slate's surface?", tool="surface thermometer"),
)

_JOINT = (
    _fact("joint.kind", CHOICE, "what meets here", "What kind of joint is it?",
          choices=("first cap", "gable start", "hips at ridge", "ridge into slope")),
    _fact("joint.overhang", LENGTH, "how far the first cap overhangs, at its centre",
          "How far does the first cap overhang?", greatest="12 in"),
    _fact("joint.starts_at_gable", YES_NO, "the ridge caps start at the gable end",
          "Do the ridge caps start here?"),
    _fact("joint.dry_fitted", YES_NO, "the caps were fitted dry before they were cut and fastened",
          "Were the caps dry-fitted?"),
    _fact("joint.trimmed", YES_NO, "the caps are trimmed to each other", "Are the caps trimmed?"),
    _fact("joint.mitred", YES_NO, "the caps meet in a mitre", "Are the caps mitred?"),
    _fact("joint.fasteners_sealed", YES_NO, "the fasteners at the joint are sealed over",
          "Are the fasteners sealed?"),
)

_OPENING = (
    _fact("opening.kind", CHOICE, "what comes through the roof", "What is it?",
          choices=("chimney", "skylight", "pipe", "vent", "hatch", "other")),
    _fact("opening.width", LENGTH, "across the slope, outside the covering",
          "How wide is it across the slope?", greatest="60 ft"),
    _fact("opening.cricket", YES_NO, "a cricket or saddle stands on its upper side",
          "Is there a cricket above it?"),
    _fact("opening.flashed", YES_NO, "flashing on every side", "Is it flashed on every side?"),
    _fact("opening.flashing_thickness", LENGTH, "thickness of the sheet metal, by micrometer",
          "How thick is the flashing?", tool="micrometer", greatest="1/2 in"),
)

_WALL = (
    _fact("wall.kind", CHOICE, "how the wall meets the roof", "How does the wall meet the roof?",
          choices=("side wall", "head wall", "parapet")),
    _fact("wall.flashed", YES_NO, "flashing along the whole wall", "Is the wall flashed?"),
    _fact("wall.flashing_thickness", LENGTH, "thickness of the sheet metal, by micrometer",
          "How thick is the flashing?", tool="micrometer", greatest="1/2 in"),
)

_ATTIC = (
    _fact("attic.vented_area", AREA, "floor area of the space, measured level",
          "How large is the vented space?"),
    _fact("attic.free_area_high", AREA, "net free area within 3 ft of the ridge or highest point",
          "How much net free area is up high?", short_form=How.DOCUMENT),
    _fact("attic.free_area_low", AREA, "net free area at the eaves or in the lower part",
          "How much net free area is down low?", short_form=How.DOCUMENT),
    _fact("attic.high_vents_below_ridge", LENGTH, "from the ridge down to the high vents, plumb",
          "How far below the ridge are the high vents?", greatest="60 ft"),
    _fact("attic.retarder_class", CHOICE, "vapour retarder class on the warm-in-winter side",
          "Which class is the vapour retarder?", choices=("I", "II", "III", "none")),
    _fact("attic.air_space", LENGTH, "clear between insulation and sheathing, least found",
          "How much air is there over the insulation?", greatest="10 ft"),
    _fact("attic.opening_size", LENGTH, "least width of the vents' openings or mesh",
          "How wide are the vents' openings?", greatest="12 in"),
)

_DELIVERY = (
    _fact("delivery.date", DATE, "day on the delivery note", "When was it delivered?",
          short_form=How.DOCUMENT),
    _fact("delivery.cap_profile", ANGLE, "included angle the delivered caps are made for",
          "Which cap is it?", greatest="180 deg", short_form=How.DOCUMENT),
    _fact("delivery.caps", Dimension.COUNT, "caps listed on the note", "How many caps?",
          short_form=How.DOCUMENT),
    _fact("delivery.membrane_standard", CHOICE, "ASTM standard named for the membrane",
          "Which standard is named for the membrane?", choices=SHEETS, short_form=How.DOCUMENT),
)

_SAMPLE = (
    _fact("sample.of", TEXT, "what was counted", "What was counted?"),
    _fact("sample.lot", Dimension.COUNT, "pieces there are in all", "How many are there?"),
    _fact("sample.inspected", Dimension.COUNT, "pieces looked at", "How many were looked at?"),
    _fact("sample.faulty", Dimension.COUNT, "pieces found faulty", "How many were faulty?"),
)
# fmt: on

VOCABULARY = Vocabulary(
    (
        *_ROOF,
        *_ROOF_FIGURES,
        *_PLANE,
        *_LINE,
        *_STATION,
        *_JOINT,
        *_OPENING,
        *_WALL,
        *_ATTIC,
        *_DELIVERY,
        *_SAMPLE,
    )
)
"""The engine's facts."""
