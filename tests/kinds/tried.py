"""Plans a job with the kind from outside and tells what came of it: `python -m tests.kinds.tried` prints JSON."""

from __future__ import annotations

import json
from typing import Any

from tests.kinds import beside

AXLE = """blocks_apart = 80.0
foot_front = 12.0
screw_front = 7.0
screw_back = 9.0
foot_thickness = 3.0
"""
PIVOT = ("screw_count", "screw_spread", "screws_bearing", "knife_behind_screw", "front_bevel")


def text() -> str:
    """A job with such a bridge, without the cavities that it needs."""
    from tests.kind_jobs import example  # which reads the package in: after `beside`

    lines = [line for line in example("vibrato-six-screws").splitlines() if not line.startswith(PIVOT)]
    made = "\n".join(lines).replace('kind = "vibrato_screws"\n', f'kind = "axle"\n{AXLE}') + "\n"
    # Its plate ends 2.5 mm before the axle and needs no bevel; its claw's screws are shorter.
    made = made.replace("reach_forward = 4.5", "reach_forward = 2.5").replace(
        "length = 44 }", "length = 40 }"
    )
    start, _, rest = made.partition('[[pockets]]\nname = "block slot"')
    return start + '[[pockets]]\nname = "bridge pickup"' + rest.partition('name = "bridge pickup"')[2]


def tried() -> dict[str, Any]:
    """What the package makes of it, from the text to the paper."""
    from scribeline.drawing.pack import draw
    from scribeline.features import holdings
    from scribeline.job import parse_job, set_value
    from scribeline.layout.bridges.sprung import balance
    from scribeline.plan import plan
    from scribeline.plan.cavities import with_cavities
    from scribeline.plan.named import quantities
    from scribeline.web import pictures
    from scribeline.web.fields import families

    whole, written = with_cavities(text())
    made = plan(*parse_job(whole))
    place, found = made.layout.bridge, balance(made.job.document, made.layout)
    assert place is not None
    assert found is not None
    held = next(
        each
        for each in holdings(made.job.document, made.layout, made.features.bores)
        if each.group == "bearing screws"
    )
    page = next(each for each in families(made.job.document) if each.slug == "bridge")
    named = quantities(made)
    # Half a millimetre too tight at the tail end of the slot: its size and its middle, written by the command.
    slot = next(n for n, each in enumerate(made.job.document.pockets, 1) if each.name == "block slot")
    size, centre = made.job.document.pockets[slot - 1].size, made.job.document.pockets[slot - 1].centre
    assert size is not None
    assert centre is not None
    tight = whole
    for key, pair in (("size", (size[0] - 3.5, size[1])), ("centre", (centre[0] - 1.75, centre[1]))):
        tight, _ = set_value(tight, f"pockets[{slot}].{key}", list(pair))
    return {
        "written": written,
        "stops": [each.message for each in made.stops],
        "cautions": [each.code for each in made.findings if each.severity == "caution"],
        "anchors": [[bore.at.x - place.middle.x, bore.at.y] for bore in made.features.anchors],
        "named": all(abs(named[f"{bore.id}.x"].value - bore.at.x) < 1e-9 for bore in made.features.anchors),
        "push": found.forward + found.springs,
        "holds": [[hold.pull, hold.side] for hold in held.holds],
        "cards": [card.title for card in made.cards],
        "do": [line for card in made.cards for line in card.do],
        "letters": sorted(field.letter for field in page.fields if field.letter),
        "pictured": sorted(pictures.letters(page.picture)),
        "heading": page.title,
        "swept": max(at.x for at in place.swept) - place.middle.x,
        "pack": {name: len(content) for name, content in draw(made).items()},
        "tight": [each.code for each in plan(*parse_job(tight)).stops],
    }


if __name__ == "__main__":
    beside()
    print(json.dumps(tried()))  # noqa: T201
