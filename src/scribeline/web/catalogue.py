"""What is asked about each part, and how to measure it: the words and letters of every page of parts.

The letters are those of the measuring pictures in `pictures`. Which of these a job has, and what stands in them, is
for `fields` to say.
"""

from __future__ import annotations

from typing import Any

from scribeline.web.field import Family, Field


def length(key: str, label: str, letter: str = "", **rest: Any) -> Field:
    """A length in any shop form."""
    return Field(key, label, letter, **rest)


_IN_PROPORTION = "leave it out, and it follows the shape's own proportion"

SCALE = Family(
    "scale",
    "Scale and frets",
    "The scale is what the fret slots were cut to. If you have only the neck, measure nut to 12th fret and double it.",
    (
        length(
            "scale.length",
            "Scale length",
            "L",
            hint="nut's front edge to the scale line, twice the 12th fret",
        ),
        Field("scale.frets", "Number of frets", kind="whole"),
        length("nut.width", "Nut width", "N"),
        length("nut.edge", "Nut's edge to the outer string's side", "E"),
        Field(
            "nut.spacing",
            "Nut slots",
            kind="choice",
            choices=(("equal gaps", "equal gaps between strings"), ("equal centres", "equal centres")),
            needed=False,
        ),
        length("nut.height_over_frets", "String over the fret plane at the nut", needed=False),
        length("fingerboard.end", "Fingerboard's end, from the nut", "F"),
        length("fingerboard.width_at_end", "Fingerboard's width at its end", "W"),
        length("fingerboard.fret_end_bevel", "Bevel of the fret ends", needed=False),
    ),
    picture="scale",
)

FRETS = Family(
    "fret-wire",
    "Fret wire",
    "It tells which mark of the 12th fret you measured from: its centre, its slot or one of its sides.",
    (
        length("fret_wire.crown_width", "Crown width", "A", needed=False),
        length("fret_wire.crown_height", "Crown height", "B", needed=False),
        length("fret_wire.slot", "Slot width", "C", needed=False),
    ),
    picture="fret-wire",
)

SETUP = Family(
    "setup",
    "Set-up",
    "How it will be set up. The saddles' places are worked out from it.",
    (
        length("setup.action_treble", "Action, first string, at the 12th fret", "A", needed=False),
        length("setup.action_bass", "Action, last string, at the 12th fret", "B", needed=False),
        length("setup.relief", "Relief of the neck", "R", needed=False),
        Field("setup.relief_fret", "Fret from which the board is straight", kind="whole", needed=False),
        length("setup.free_length", "String beyond nut and saddle, together", needed=False),
    ),
    picture="setup",
)

NECK = Family(
    "neck",
    "Neck and its pocket",
    "Measure the heel with a caliper, at its end and where the pocket will open.",
    (
        Field(
            "neck.joint",
            "Joint",
            kind="choice",
            choices=(("bolt-on", "bolt-on"), ("set", "set: glued in")),
        ),
        length("neck.pocket_end", "Nut to the pocket's end wall", "P"),
        length("neck.pocket_length", "Pocket's length", "A"),
        length("neck.heel_width_at_end", "Heel's width at the end wall", "B"),
        length("neck.heel_width_at_mouth", "Heel's width where the pocket opens", "C"),
        length("neck.heel_thickness", "Heel's thickness with the fingerboard", "D"),
        length("neck.pocket_depth", "Pocket's depth", "E"),
        length("neck.corner_radius", "Pocket's corner radius", "R", needed=False),
        length("neck.slip", "Clearance, both sides together", needed=False),
        length("neck.heel_film", "Finish thickness on the heel", needed=False),
    ),
    picture="neck",
)

BODY = Family(
    "body",
    "Body",
    "Measure the blank's thickness in four places and use the least.",
    (
        length("body.thickness", "Thickness of the blank", "T"),
        Field("body.timber", "Timber", kind="choice"),
        length("body.outline.tail", "Tail edge, from the nut", "A", needed=False),
        length("body.outline.dimensions.length", "Overall length", "B", needed=False),
        length(
            "body.outline.dimensions.lower_width",
            "Lower bout's width",
            "C",
            needed=False,
            hint=_IN_PROPORTION,
        ),
        length(
            "body.outline.dimensions.waist_width", "Waist's width", "D", needed=False, hint=_IN_PROPORTION
        ),
        length(
            "body.outline.dimensions.upper_width",
            "Upper bout's width",
            "E",
            needed=False,
            hint=_IN_PROPORTION,
        ),
        length("finish.film", "Finish thickness on one surface", needed=False),
        Field(
            "finish.holes",
            "The holes while finishing",
            kind="choice",
            choices=(("masked", "kept clear of finish"), ("sprayed", "sprayed with the body")),
            needed=False,
        ),
    ),
    picture="body",
)

BRIDGE = Family(
    "bridge",
    "Bridge plate",
    "Everything is measured from the plate's front edge, and across from its middle. Wind a saddle fully forward and "
    "fully back to find the two ends of its travel.",
    (
        Field(
            "bridge.loading",
            "The strings end",
            kind="choice",
            choices=(
                ("through-body", "behind the body, in ferrules"),
                ("top-load", "in the plate: top-load"),
            ),
            needed=False,
        ),
        length("bridge.plate_length", "Plate's length along the strings", "A"),
        length("bridge.plate_width", "Plate's width", "B"),
        length("bridge.plate_thickness", "Plate's thickness", "C"),
        length(
            "bridge.saddle_forward",
            "Front edge to where the string leaves the saddle, saddle fully forward",
            "D",
        ),
        length(
            "bridge.saddle_back", "Front edge to where the string leaves the saddle, saddle fully back", "E"
        ),
        length("bridge.saddle_height", "String over the body at the saddle", "F"),
        length("bridge.saddle_lowest", "The same with the saddle wound fully down", needed=False),
        length("bridge.saddle_highest", "The same with the saddle wound fully up", needed=False),
        length(
            "bridge.spacing",
            "Spacing of neighbouring strings",
            "G",
            hint="measure the outer two and divide by the gaps",
        ),
        length("bridge.string_holes_from_front", "Front edge to the row of string holes", "H"),
        length("bridge.string_hole", "Plate's string hole", "J"),
        length("bridge.screw_hole", "Plate's screw hole", "K"),
    ),
    picture="bridge",
    shelf="bridge",
    table="bridge",
)

SCREWS = Family(
    "screws",
    "Bridge screws",
    "Thread over the crests, root in the valley between two turns, length under the head; of a countersunk one the whole length.",
    (
        length("bridge_screw.thread", "Thread diameter", "A"),
        length("bridge_screw.root", "Root diameter", "B"),
        length("bridge_screw.length", "Length", "C"),
    ),
    picture="screw",
    shelf="bridge screw",
    table="bridge_screw",
)

FERRULES = Family(
    "ferrules",
    "Ferrules and string holes",
    "Measure one of yours: lip and body each across, lip and body each along.",
    (
        length("ferrules.lip_diameter", "Lip's diameter", "A"),
        length("ferrules.lip_height", "Lip's height", "B"),
        length("ferrules.body_diameter", "Body's diameter", "C"),
        length("ferrules.body_length", "Body's length under the lip", "D"),
        length("ferrules.recess", "Lip below the finished back", "E", needed=False),
        length("string_holes.diameter", "String hole through the body", "F", needed=False),
        Field(
            "string_holes.top_share",
            "Share of the thickness drilled from the top",
            kind="share",
            needed=False,
        ),
        length("string_holes.relief", "Depth left free under the ferrule", "G", needed=False),
    ),
    picture="ferrule",
    shelf="ferrule",
    table="ferrules",
)

GROUND_WIRE = Family(
    "ground-wire",
    "Ground wire",
    "A slanting hole from under the plate into a cavity.",
    (
        Field("ground_wire.into", "Cavity it leads into", kind="text"),
        length("ground_wire.diameter", "Hole", "A"),
        length("ground_wire.from_front", "Start behind the plate's front edge", "B"),
        length("ground_wire.across", "Start from the centreline, towards the treble", "C", needed=False),
        length("ground_wire.lands", "Depth at which its centre meets the cavity's wall", "D"),
        Field(
            "ground_wire.heading",
            "Direction, from straight to the neck towards the treble",
            kind="angle",
            needed=False,
        ),
    ),
    picture="ground-wire",
)

JACK = Family(
    "jack",
    "Jack",
    "The hole from the body's edge. Its place is any point on the edge or near it: along from the nut, across to the treble.",
    (
        Field("jack.near", "Its place: along, across", kind="place"),
        length("jack.diameter", "Hole", "A"),
        Field("jack.into", "Cavity it opens into", kind="text", needed=False),
        length("jack.depth", "Depth, where it opens into none", "B", needed=False),
        length("jack.recess_diameter", "Counterbore, diameter", "C", needed=False),
        length("jack.recess_depth", "Counterbore, depth", "D", needed=False),
        length("jack.from_top", "Centre below the top", "E", needed=False),
        length("jack.plate_thickness", "Plate's thickness", "F", needed=False),
    ),
    picture="jack",
)

BITS = Family(
    "bits",
    "Bits you own",
    "The plan chooses from these and says which bit is missing. Write sizes as they are marked, with a comma and a space "
    "between: 2.5 mm, 15/64, #43.",
    (
        Field("bits.twist", "Twist bits", kind="bits", needed=False),
        Field("bits.brad_point", "Brad-point bits", kind="bits", needed=False),
        Field("bits.flat_bottomed", "Flat-bottomed bits (Forstner)", kind="bits", needed=False),
        Field("bits.router", "Router bits", kind="bits", needed=False),
        Field("bits.point_angle", "Point angle of the twist bits", kind="angle", needed=False),
        length("bits.chuck_radius", "Radius of the drill's chuck", needed=False),
    ),
    picture="bits",
)

BENCH = Family(
    "bench",
    "This job and this bench",
    "How you measure, what is kept in hand, and what the sheets are printed on.",
    (
        Field("name", "Name of the job", kind="text"),
        Field("revision", "Revision", kind="text", needed=False),
        Field(
            "handed",
            "Hand",
            kind="choice",
            choices=(("right", "right-handed"), ("left", "left-handed")),
            needed=False,
        ),
        Field(
            "bench.twelfth_read_to",
            "Mark of the 12th fret you measure to",
            kind="choice",
            choices=(
                ("crown", "centre of the fret"),
                ("slot", "slot"),
                ("near edge", "nut side of the fret"),
                ("far edge", "bridge side of the fret"),
            ),
            needed=False,
        ),
        length("bench.saddle_reserve", "Saddle travel kept in hand at each end", needed=False),
        Field(
            "bench.saddle_deviations",
            "Standard deviations of a compensation to cover",
            kind="share",
            needed=False,
        ),
        Field(
            "print.paper",
            "Paper of the full-size prints",
            kind="text",
            hint="A4, Letter, another ISO or ANSI size, or a roll by its width, such as 610 mm",
            needed=False,
        ),
    ),
)


def strings_family(count: int) -> Family:
    """The strings, from the treble."""
    fields: list[Field] = []
    for number in range(1, count + 1):
        side = " (treble)" if number == 1 else " (bass)" if number == count else ""
        fields += [
            Field(f"strings[{number}].note", f"String {number}{side}: note", str(number), kind="text"),
            Field(f"strings[{number}].gauge", f"String {number}: gauge", str(number), kind="gauge"),
        ]
    return Family(
        "strings",
        "Strings",
        "From the treble. Gauges as the packet says: .010, 10 or 0.26 mm. Where the saddles are wanted is worked out "
        "from them.",
        tuple(fields),
        picture="strings",
    )


def pocket_family(number: int, name: str) -> Family:
    """One pocket of the job; number counts from 1."""
    at = f"pockets[{number}]"
    return Family(
        f"pocket-{number}",
        name[:1].upper() + name[1:],
        "Measure along the centreline from its datum, and across towards the treble.",
        (
            Field(f"{at}.name", "Name", kind="text"),
            length(f"{at}.depth", "Depth", "A"),
            length(f"{at}.corner_radius", "Corner radius", "R"),
            length(f"{at}.centre[1]", "Its centre along, from the datum", "B"),
            length(f"{at}.centre[2]", "Its centre across, towards the treble", "C"),
            length(f"{at}.size[1]", "Size along the strings", "D"),
            length(f"{at}.size[2]", "Size across the strings", "E"),
            Field(
                f"{at}.x_from",
                "Datum along",
                kind="choice",
                choices=tuple((each, each) for each in ("nut", "12th fret", "pocket end", "scale line")),
                needed=False,
            ),
            Field(
                f"{at}.face",
                "Cut from",
                kind="choice",
                choices=(("top", "the top"), ("back", "the back")),
                needed=False,
            ),
            Field(f"{at}.turn", "Turned, towards the tail on the treble side", kind="angle", needed=False),
        ),
        picture="pocket",
    )


def strap_family(number: int, name: str) -> Family:
    """One strap button of the job; number counts from 1."""
    at = f"strap_buttons[{number}]"
    return Family(
        f"strap-button-{number}",
        f"Strap button: {name}",
        "Its place is any point on the body's edge or near it: along from the nut, across to the treble.",
        (
            Field(f"{at}.near", "Its place: along, across", kind="place"),
            length(f"{at}.base_diameter", "Button's base", "A", needed=False),
            length(f"{at}.under_head", "What the button takes up of the screw", "B", needed=False),
            length(f"{at}.screw.length", "Screw's length", "C"),
            length(f"{at}.screw.thread", "Screw's thread", "D"),
            length(f"{at}.screw.root", "Screw's root, in the valley between two turns"),
        ),
        picture="strap",
    )
