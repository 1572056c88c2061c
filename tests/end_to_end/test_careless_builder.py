"""What measuring back is worth: whole instruments by a careless builder, with the real app, judged by plain geometry.

`SCRIBELINE_TORTURE=1` builds 500 and prints the table of docs/as-built.md; `SCRIBELINE_BUILDS` asks for another number.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from math import radians, sqrt

import pytest
from playwright.sync_api import expect
from tests.careless_builder import (
    CAUTIONED,
    COMPLAINED,
    LIMITS,
    ROW,
    SEEN,
    TRAVEL,
    WAYS,
    AppDoor,
    Builder,
    Draws,
    Judged,
    Lie,
    Parts,
    Plan,
    Step,
    Way,
    by_printed_plan,
    by_the_record,
    judged,
)
from tests.conftest import DEMO
from tests.torture import EVERYTHING
from tests.trial_bench import BUILDS

from .careless_screen import ScreenDoor
from .conftest import Screens, Served

MANY = int(os.environ.get("SCRIBELINE_BUILDS", str(BUILDS if EVERYTHING else 6)))

ON_A_SCREEN = (0, 2, 3, 4, 5)
"""Instruments built before the screen."""

CLIENTS = 2
"""So many threads build at once."""

Printed = tuple[Plan, Sequence[Step]]


@pytest.fixture(scope="module")
def printed(app: Served) -> Printed:
    """The demo's plan and its steps as they are printed before anything is made."""
    door = AppDoor(app.port, DEMO)
    plan, steps = door.plan(), door.steps()
    door.close()
    return plan, steps


class Exact(Draws):
    """Hands and wood without any error."""

    def spread(self, name: str, sd: float) -> float:
        del name, sd
        return 0.0

    def even(self, name: str, half: float) -> float:
        del name, half
        return 0.0

    def slip(self, name: str, *, has_edge: bool = True) -> float:
        del name, has_edge
        return 0.0

    def skips(self, name: str) -> bool:
        del name
        return False


class NeckOff(Exact):
    """The same, with a neck 0.8 mm off to the treble at the end wall and turned 0.3 degrees that way."""

    def spread(self, name: str, sd: float) -> float:
        del sd
        return {"neck off 0": 0.8, "neck turned 0": radians(0.3)}.get(name, 0.0)


def test_exact_hands_make_what_is_planned(printed: Printed) -> None:
    """Margins as the plan has them, 3.98 and 4.11, to its 0.05 (it has strings end on the scale line); saddles 2.8 from the end
    of their travel, 5.9 under the control cavity: all of it as printed.
    """
    builder = Builder("gates", Exact(0), Parts(printed[0]), printed[1])
    made = {(each.limit, each.of): each for each in judged(builder.parts, builder.build())}
    assert not [each for each in made.values() if each.fails]
    margins = [builder.wood.margin(builder.parts, side) for side in (1, -1)]
    assert margins == pytest.approx([3.98, 4.11], abs=0.05)
    assert made[SEEN, ""].value == pytest.approx(0.0, abs=1e-6)
    assert min(each.value for each in made.values() if each.limit == TRAVEL) == pytest.approx(2.8, abs=0.005)
    assert made["wood under a cavity", "control-cavity"].value == pytest.approx(44.4 - 38.5)
    assert made["string hole and ferrule meet", "all"].value == pytest.approx(34.0 + 12.78 - 44.4, abs=0.005)
    assert made[ROW, "all"].value == pytest.approx(0.0, abs=1e-9)
    assert not builder.told


def test_a_neck_off_its_line_costs_a_margin_unless_it_is_read(printed: Printed, app: Served) -> None:
    """Worked by hand: 0.8 + 173.4 tan 0.3° is 1.71 at the saddles, and 1.71 · 460.4 / 641.4 is 1.23 at the last fret."""
    parts = Parts(printed[0])
    planned = Builder("paper", Exact(0), parts, printed[1]).build()
    paper = Builder("paper", NeckOff(0), parts, printed[1]).build()
    for side, by in ((1, 1.23), (-1, -1.23)):
        assert paper.margin(parts, side) - planned.margin(parts, side) == pytest.approx(by, abs=0.01)
    door = AppDoor(app.port, DEMO)
    reads = Builder("record", NeckOff(0), parts, printed[1], door, brisk=True)
    wood = reads.build()
    door.close()
    for side in (1, -1):
        assert wood.margin(parts, side) == pytest.approx(planned.margin(parts, side), abs=0.02)
    assert not [each for each in judged(parts, wood) if each.fails]


def test_a_plate_s_lie_is_found_from_its_holes() -> None:
    lie, pattern = Lie(629.4, 1.5, 0.01), [(38.0, -29.0), (38.0, -10.6), (38.0, 10.6), (38.0, 29.0)]
    for own in pattern:
        assert lie.into(*lie.out(*own)) == pytest.approx(own)


@dataclass
class Counted:
    """What came of the instruments of one way of working.

    Attributes:
        made: how many.
        off_middle: by how much the sides differ, all of them together, mm.
        failing: of these by each limit, and by any.
        told: what happened on the way.
    """

    made: int = 0
    off_middle: float = 0.0
    failing: Counter[str] = field(default_factory=Counter)
    told: Counter[str] = field(default_factory=Counter)

    def add(self, builder: Builder, found: Sequence[Judged]) -> None:
        self.made += 1
        self.off_middle += next(each.value for each in found if each.limit == SEEN)
        fails = {each.limit for each in found if each.fails}
        self.failing.update(fails)
        self.failing["any"] += bool(fails & {*LIMITS})
        self.failing["any but the row"] += bool(fails & ({*LIMITS} - {ROW}))
        self.told.update(set(builder.told))

    def share(self, name: str) -> str:
        """Share and its binomial standard error, of a hundred."""
        share = self.failing[name] / self.made
        return f"{100 * share:.1f} ± {100 * sqrt(share * (1 - share) / self.made):.1f} %"


def in_every_way(printed: Printed, port: int, build: int) -> Iterator[tuple[Way, Builder, list[Judged]]]:
    """One instrument in each way; heeding what the app says is the same where it says nothing."""
    for way in ("paper", "gates"):
        yield way, *by_printed_plan(*printed, build, way)
    plain = by_the_record(port, DEMO, build, brisk=True)
    yield "record", *plain
    heeds = CAUTIONED in plain[0].told
    yield "heeded", *(by_the_record(port, DEMO, build, "heeded", brisk=True) if heeds else plain)


def test_measuring_back_leaves_fewer_instruments_out_of_limits(printed: Printed, app: Served) -> None:
    counted = {way: Counted() for way in WAYS}
    with ThreadPoolExecutor(CLIENTS) as clients:
        for ways in clients.map(lambda build: [*in_every_way(printed, app.port, build)], range(MANY)):
            for way, builder, found in ways:
                counted[way].add(builder, found)
    names = ("any", "any but the row", *LIMITS, SEEN, COMPLAINED)
    print(f"\n{MANY} instruments: {', '.join(WAYS)}")  # noqa: T201 - the measured run is read by a person
    for name in names:
        print(f"| {name} | {' | '.join(counted[way].share(name) for way in WAYS)} |")  # noqa: T201
    for way in WAYS:
        print(way, counted[way].told.most_common(20))  # noqa: T201
    assert all(each.made == MANY for each in counted.values())
    paper, record = counted["paper"], counted["record"]
    assert record.off_middle < paper.off_middle / 2
    if EVERYTHING:
        assert record.failing["any but the row"] < paper.failing["any but the row"]
        assert record.failing[COMPLAINED] < paper.failing[COMPLAINED] / 3


@pytest.mark.parametrize("build", [0, *(range(1, 6) if EVERYTHING else ())])
def test_telling_the_app_everything_makes_the_same_instrument(app: Served, build: int) -> None:
    """What his plan does not hang on changes nothing; every step is done in the app in the end."""
    brisk, _ = by_the_record(app.port, DEMO, build, brisk=True)
    door = AppDoor(app.port, DEMO)
    whole = Builder("record", Draws(build), Parts(door.plan()), door.steps(), door)
    whole.build()
    assert {each["state"] for each in door.steps()} == {"done"}
    door.close()
    assert whole.wood.plate == brisk.wood.plate
    assert whole.wood.centres == brisk.wood.centres
    assert whole.wood.holes == brisk.wood.holes


@pytest.mark.parametrize("build", ON_A_SCREEN if EVERYTHING else ON_A_SCREEN[:1])
def test_a_whole_instrument_before_the_screen(
    printed: Printed, app: Served, screens: Screens, build: int
) -> None:
    """By what stands on buttons, links and fields; the same comes of it as by the JSON side, and no script complains."""
    door = ScreenDoor(screens("tablet"), app.port, DEMO)
    builder = Builder("record", Draws(build), Parts(printed[0]), printed[1], door)
    wood = builder.build()
    assert {each["state"] for each in door.steps()} == {"done"}
    door.page.reload()
    door.to_page("Steps")
    expect(door.page.locator("main")).to_contain_text("Every step is done.")
    door.close()
    other, _ = by_the_record(app.port, DEMO, build, brisk=True)
    assert wood.plate == other.wood.plate
    assert wood.centres == other.wood.centres
    assert not screens.said
