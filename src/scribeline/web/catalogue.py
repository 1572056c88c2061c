"""What the job's models cannot know of a form: which keys share a page, how to measure, which letter a key has.

The letters are those of the measuring pictures in `pictures`. Keys with a letter, or named here without one, stand
first on their page, in this order; whatever else a table may hold follows as the models have it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Part:
    """One page of the job, or of each table of a list.

    Attributes:
        slug: in addresses; of a list the number follows it.
        title: as its heading says; of a list what one of it is called.
        tables: of the job that it holds; of a list its key.
        lead: how to go about measuring; "" for what the model says of itself.
        first: keys that stand first, each with its letter; of a list from the table's own key on.
        picture: the measuring picture.
        shelf: the parts book's shelf, of the first table.
        kind: of a table that comes in kinds, the one that lead, letters, picture and shelf are of.
    """

    slug: str
    title: str
    tables: tuple[str, ...]
    lead: str = ""
    first: Mapping[str, str] = field(default_factory=dict)
    picture: str = ""
    shelf: str = ""
    kind: str = ""


def _lettered(table: str, **letters: str) -> dict[str, str]:
    return {f"{table}.{key}": letter for key, letter in letters.items()}


PARTS = (
    Part(
        "scale",
        "Scale and frets",
        ("scale", "nut", "fingerboard"),
        "The scale is what the fret slots were cut to. If you have only the neck, measure nut to 12th fret and double it.",
        {
            **_lettered("scale", length="L", frets=""),
            **_lettered("nut", width="N", edge="E"),
            **_lettered("fingerboard", end="F", width_at_end="W"),
        },
        "scale",
    ),
    Part(
        "strings",
        "Strings",
        ("strings",),
        "From the treble. Gauges as the packet says: .010, 10 or 0.26 mm. Where the saddles are wanted is worked out "
        "from them.",
        picture="strings",
    ),
    Part(
        "neck",
        "Neck and its pocket",
        ("neck",),
        "Measure the heel with a caliper, at its end and where the pocket will open.",
        _lettered(
            "neck",
            joint="",
            pocket_end="P",
            pocket_length="A",
            heel_width_at_end="B",
            heel_width_at_mouth="C",
            heel_thickness="D",
            pocket_depth="E",
            core_width="F",
            core_width_at_tail="G",
            board_over_body="H",
            corner_radius="R",
        ),
        "neck",
    ),
    Part("neck-screws", "Neck screws", ("neck_screws",), shelf="neck screw"),
    Part(
        "neck-inserts",
        "Neck inserts and their screws",
        ("neck_inserts",),
        "In place of neck screws. Measure an insert over its outside thread and in its valleys.",
        shelf="threaded insert",
    ),
    Part(
        "neck-blank",
        "Neck's back",
        ("neck_blank",),
        "Where you carve the neck here: its thickness with the fingerboard, its section, its heel, and what lies in it.",
    ),
    Part(
        "body",
        "Body",
        ("body", "finish"),
        "Measure the blank's thickness in four places and use the least.",
        {
            "body.thickness": "T",
            "body.timber": "",
            "body.outline.tail": "A",
            **_lettered(
                "body.outline.dimensions", length="B", lower_width="C", waist_width="D", upper_width="E"
            ),
            "finish.film": "",
        },
        "body",
    ),
    Part(
        "bridge",
        "Bridge plate",
        ("bridge",),
        "Everything is measured from the plate's front edge, and across from its middle. Wind a saddle fully forward and "
        "fully back to find the two ends of its travel.",
        _lettered(
            "bridge",
            loading="",
            plate_length="A",
            plate_width="B",
            plate_thickness="C",
            saddle_forward="D",
            saddle_back="E",
            saddle_height="F",
            spacing="G",
            string_holes_from_front="H",
            string_hole="J",
            screw_hole="K",
        ),
        "bridge",
        "bridge",
        "plate",
    ),
    Part(
        "screws",
        "Bridge screws",
        ("bridge_screw",),
        "Thread over the crests, root in the valley between two turns, length under the head; of a countersunk one the "
        "whole length.",
        _lettered("bridge_screw", thread="A", root="B", length="C"),
        "screw",
        "bridge screw",
    ),
    Part(
        "ferrules",
        "Ferrules and string holes",
        ("ferrules", "string_holes"),
        "Measure one of yours: lip and body each across, lip and body each along.",
        {
            **_lettered(
                "ferrules", lip_diameter="A", lip_height="B", body_diameter="C", body_length="D", recess="E"
            ),
            **_lettered("string_holes", diameter="F", relief="G"),
        },
        "ferrule",
        "ferrule",
    ),
    Part(
        "pocket",
        "Cavity",
        ("pockets",),
        "Measure along the centreline from its datum, and across towards the treble.",
        {
            "name": "",
            "depth": "A",
            "corner_radius": "R",
            "centre[1]": "B",
            "centre[2]": "C",
            "size[1]": "D",
            "size[2]": "E",
            "x_from": "",
            "face": "",
        },
        "pocket",
    ),
    Part("control", "Control", ("controls",)),
    Part("hole", "Hole", ("holes",)),
    Part("wire-hole", "Wire hole", ("tunnels",)),
    Part(
        "ground-wire",
        "Ground wire",
        ("ground_wire",),
        "A slanting hole from under the plate into a cavity. On studs or posts: from a cavity to a bushing's hole.",
        _lettered("ground_wire", into="", diameter="A", from_front="B", across="C", lands="D", side=""),
        "ground-wire",
    ),
    Part(
        "jack",
        "Jack",
        ("jack",),
        "The hole from the body's edge. Its place is any point on the edge or near it: along from the nut, across to the "
        "treble.",
        _lettered(
            "jack",
            near="",
            diameter="A",
            into="",
            depth="B",
            recess_diameter="C",
            recess_depth="D",
            from_top="E",
            plate_thickness="F",
            barrel_diameter="",
            barrel_length="",
        ),
        "jack",
    ),
    Part(
        "strap-button",
        "Strap button",
        ("strap_buttons",),
        "Its place is any point on the body's edge or near it: along from the nut, across to the treble.",
        {
            "name": "",
            "near": "",
            "base_diameter": "A",
            "under_head": "B",
            "screw.length": "C",
            "screw.thread": "D",
            "screw.root": "",
        },
        "strap",
    ),
    Part("weight", "Hardware weight", ("masses",)),
    Part("timber", "Timber of your own", ("timbers",)),
    Part(
        "bits",
        "Bits you own",
        ("bits",),
        "The plan chooses from these and says which bit is missing. Write sizes as they are marked, with a comma and a space "
        "between: 2.5 mm, 15/64, #43.",
        _lettered("bits", twist="", brad_point="", flat_bottomed="", router=""),
        "bits",
    ),
    Part(
        "setup",
        "Set-up",
        ("setup",),
        "How it will be set up. The saddles' places are worked out from it.",
        _lettered("setup", action_treble="A", action_bass="B", relief="R"),
        "setup",
    ),
    Part(
        "fret-wire",
        "Fret wire",
        ("fret_wire",),
        "It tells which mark of the 12th fret you measured from: its centre, its slot or one of its sides.",
        _lettered("fret_wire", crown_width="A", crown_height="B", slot="C"),
        "fret-wire",
    ),
    Part("string-set", "String set", ("string_sets",)),
    Part(
        "bench",
        "This job and this bench",
        ("", "bench", "print"),
        "How you measure, what is kept in hand, and what the sheets are printed on.",
        {"name": "", "revision": "", "date": "", "handed": "", "units": "", "print.paper": ""},
    ),
    Part(
        "as-built",
        "Where the neck lies off its line",
        ("as_built",),
        "What is moved for it, once the neck is read at the bench: the bridge, the neck, or both.",
    ),
    Part("limits", "Limits of your own", ("limits",)),
)
"""Every page, in the order of the list of parts. A table that stands in none of them gets a page by its own words."""

GUIDE = ("scale", "strings", "neck", "body", "bridge", "ferrules", "screws", "bits")
"""The pages a newcomer is led through; the rest can wait."""
