"""Rules for what was measured of the plan's numbers: where the neck lies, what can be moved for it, readings that contradict."""

from __future__ import annotations

from collections.abc import Iterator
from math import degrees, hypot, sqrt

from scribeline.findings.finding import GEOMETRY, Facts, Finding
from scribeline.job import cut_reading, number_of, walls
from scribeline.layout import (
    CHI_SQUARED_2,
    DIAGONALS_DIFFER,
    LINE_READINGS,
    SURELY,
    NeckLine,
    Settled,
    strings_over,
)
from scribeline.lengths import between, said
from scribeline.quantities import Adjusted, Sight

TELLS = 0.3
"""A neck whose line meets the bridge no further off than this, mm, is where it should be (common practice, no source)."""


def off_line(facts: Facts) -> Iterator[Finding]:
    """Does the neck's line, as it was read, meet the bridge's line where it was planned?"""
    read, layout = facts.layout.neck_read, facts.layout
    if read is None or not facts.layout.choices:
        return
    off, sd = read.off_at(layout.bridge_line)
    size = abs(off)
    yield Finding(
        code="neck.off-line",
        severity="caution" if size > TELLS else "note",
        features=(),
        value=size,
        limit=TELLS,
        message=f"the neck's line lies {_off(read.off)} at {facts.layout.datum('pocket-end').words} and runs off by "
        f"{abs(degrees(read.turn)):.2f}° to the {_side(read.turn)} on its way to the tail: at the bridge it is {_off(off)} "
        f"(95 times in 100 within {said(sqrt(CHI_SQUARED_2) * sd)}), by {_readings(read)}. {_chosen(facts)}",
        cure="; or ".join(_told(facts, each) for each in layout.choices),
        source=GEOMETRY,
        concerns=(),
        works=(_as_read, {"off": size}),
    )


def _as_read(off: float) -> float:
    return off


def contradicted(facts: Facts) -> Iterator[Finding]:
    """Does every reading agree with the others that tell the same?"""
    for each in facts.as_read.values():
        yield from _disagreeing(each.read)
    for found in facts.record.found.values():
        yield from _disagreeing(found.read)
    read = facts.layout.neck_read
    if read is not None:
        yield from _disagreeing(read.read)


def _named(sight: Sight) -> tuple[str, int]:
    """What a reading is of, and its number in the record; 0 of one that is kept with its cut or was read at a gate."""
    return sight.id.rpartition("#")[0], number_of(sight)


def _disagreeing(read: Adjusted) -> Iterator[Finding]:
    """Readings of one thing that contradict each other."""
    for sight in read.set_aside:
        (name, no), by = _named(sight), abs(sight.off - read.expected(sight))
        others = len(read.sights)
        yield _wrong(
            f"{_which(name, no)} disagrees with the {_NUMBERS.get(others, str(others))} others by {said(by)}, and does not count",
            f"measure {name} again and strike no. {no} through" if no else f"measure {name} again",
            by,
        )
    if doubted := read.in_doubt:
        whole = [_named(each) for each in doubted]
        apart = max(each.off - read.expected(each) for each in doubted)
        apart -= min(each.off - read.expected(each) for each in doubted)
        yield _wrong(
            f"{', '.join(_which(*each) for each in whole[:-1])} and {_which(*whole[-1])} cannot all be right: they are "
            f"{said(apart)} apart, and nothing tells which is wrong, so all count",
            f"measure {', '.join(dict.fromkeys(name for name, _ in whole))} again, and strike through what was wrong",
            apart,
        )


_NUMBERS = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}


def _which(name: str, no: int) -> str:
    return f"measurement no. {no} of the record ({name})" if no else f"what was read of {name} at its step"


def beyond_limits(facts: Facts) -> Iterator[Finding]:
    """Does every number that was measured lie within its limits?"""
    for name, each in facts.as_read.items():
        check = each.check
        if each.is_within or not each.numbers or name in LINE_READINGS:  # a gate says its own word
            continue
        low, high = check.accepted
        limit = low if each.value < low else high
        yield Finding(
            code="record.beyond-limits",
            severity="caution",
            features=(),
            value=each.value,
            limit=limit,
            message=f"{name} was measured as {said(each.value)}, where the plan has {said(check.value)} and allows "
            f"{between(low, high)}",
            cure=f"measure it again; if it is so, put what is really there into the job{_HOW_TO.get(name, '')}",
            source="the limits of the reading (common practice, no source)",
            concerns=(),
            works=(_as_read, {"off": each.value}),
        )


_HOW_TO = {
    "body-thickness": ": body.thickness takes it",
    "nut-to-12th": ": the scale length is twice that, and every fret goes with it",
    "nut-to-last-slot": ": the frets are not where the scale has them; measure the 12th too",
}

EVEN = 0.2
"""Strings no further off the board's middle than this, mm, are left as they are (common practice, no source)."""


def strings_off_the_board(facts: Facts) -> Iterator[Finding]:
    """Does a thread over the outer strings leave the board the same margin on both sides?"""
    layout, bridge = facts.layout, facts.layout.bridge
    treble, bass = (facts.as_read.get(f"margin-{side}") for side in ("treble", "bass"))
    if treble is None or bass is None or bridge is None:
        return
    last = layout.frets[-1].along
    # The margins expected are those over the bridge as its drilled holes hold it: even is where it is wanted.
    wanted = treble.check.value - bass.check.value + 2 * _held_across(facts) * last / bridge.middle.x
    ends = {"bass": bass.value, "treble": treble.value - wanted, "line": bridge.middle.x, "fret": last}
    move = thread_test(**ends)
    if abs(move) <= EVEN:
        return
    held = layout.held is not None
    cure = (
        f"its holes are drilled: see what its play gives, else scribeline rescue; it would move {said(abs(move))}"
        if held
        else f"before its holes are marked, move the {bridge.noun} {said(abs(move))} towards the "
        f"{'bass' if move > 0 else 'treble'}, and stretch the thread again"
    )
    yield Finding(
        code="bridge.thread-test",
        severity="caution",
        features=(),
        value=abs(move),
        limit=EVEN,
        message=f"by the thread the margins at fret {len(layout.frets)} are {said(treble.value)} on the treble side and "
        f"{said(bass.value)} on the bass side: the {bridge.noun} stands {said(abs(move))} too far to the "
        f"{'treble' if move > 0 else 'bass'}",
        cure=cure,
        source=GEOMETRY,
        concerns=(),
        works=(_thread_test_off, ends),
    )


def out_of_square(facts: Facts) -> Iterator[Finding]:
    """Do both diagonals from the board's corners to the bridge's far ones differ as planned?"""
    treble, bass = (facts.as_read.get(f"diagonal-{side}") for side in ("treble", "bass"))
    if treble is None or bass is None or facts.layout.bridge is None:
        return
    noun, planned = facts.layout.bridge.noun, treble.check.value - bass.check.value
    off = diagonals_differ(treble.value, bass.value, planned)
    limit = max(DIAGONALS_DIFFER, SURELY * hypot(treble.sd, bass.sd))
    if off <= limit:
        return
    longer = "treble" if treble.value - bass.value > planned else "bass"
    yield Finding(
        code="bridge.out-of-square",
        severity="caution",
        features=(),
        value=off,
        limit=limit,
        message=f"the diagonal from the {longer} corner was read {said(off)} too long against the other "
        f"({said(treble.value)} from the treble, {said(bass.value)} from the bass): the {noun} is not square to the neck, or "
        "stands beside its line",
        cure=f"stretch the thread first; where its margins are right, turn the {noun} until both diagonals come right"
        + (", or see scribeline rescue, for its holes are drilled" if facts.layout.held is not None else ""),
        source=GEOMETRY,
        concerns=(),
        works=(diagonals_differ, {"treble": treble.value, "bass": bass.value, "planned": planned}),
    )


def diagonals_differ(treble: float, bass: float, planned: float) -> float:
    """How far two diagonals differ beyond the planned difference, mm."""
    return abs(treble - bass - planned)


def _held_across(facts: Facts) -> float:
    """How far the bridge's drilled holes hold the saddles to the treble of where they are wanted, mm."""
    layout = facts.layout
    held, bridge = layout.held, layout.bridge
    if held is None or held.aim is None or bridge is None:
        return 0.0
    behind = sum(string.saddle.x for string in layout.strings) / len(layout.strings) - bridge.middle.x
    return layout.treble * (bridge.middle.y - held.aim.y + behind * held.off_turn)


OFF_PICKUP = 1.0
"""Strings whose middle runs further off the middle of a pickup's cavity than this, mm, leave its poles (common practice, no
source)."""


def strings_off_a_cavity(facts: Facts) -> Iterator[Finding]:
    """Do the strings run over the middle of a cavity under all of them, where it was found?"""
    layout, record = facts.layout, facts.record
    for name, found in record.found.items():
        cut = record.made_pockets.get(name)
        if cut is None or cut.outline is None or cut.face != "top" or not found.telling("across"):
            continue
        across = strings_over(layout, cut.outline)
        if across is None:
            continue
        _, (left, right) = walls(cut.outline)
        ends = {"treble": across[0], "bass": across[1], "cavity": (left + right) / 2}
        off = strings_off(**ends)
        if off <= OFF_PICKUP:
            continue
        side = "treble" if (ends["cavity"] - sum(across) / 2) * layout.treble > 0 else "bass"
        other = "bass" if side == "treble" else "treble"
        yield Finding(
            code="cavity.off-strings",
            severity="caution",
            features=(name,),
            value=off,
            limit=OFF_PICKUP,
            message=f"the {cut.role} cavity as it was found lies {said(off)} to the {side} of the strings' middle over it",
            cure=f"pare its wall on the {other} side until the pickup stands under the strings, or let "
            "as_built.pockets move what is not drilled yet",
            source="common practice, no source",
            concerns=(),
            works=(strings_off, ends),
        )


def strings_off(treble: float, bass: float, cavity: float) -> float:
    """How far the middle of the outer strings runs off a cavity's middle, mm, each by its place across."""
    return abs((treble + bass) / 2 - cavity)


def thread_test(bass: float, treble: float, line: float, fret: float) -> float:
    """How far a bridge must move to the bass for even margins, mm: half their difference, as the strings widen to the bridge.

    Args:
        bass: margin on the bass side at a fret, mm.
        treble: the same on the treble side.
        line: the bridge's line from the nut, mm.
        fret: that fret from the nut, mm.
    """
    return (bass - treble) / 2 * line / fret


def _thread_test_off(bass: float, treble: float, line: float, fret: float) -> float:
    return abs(thread_test(bass, treble, line, fret))


def of_another_job(facts: Facts) -> Iterator[Finding]:
    """Is everything that was measured a number of this job?"""
    known, cuts = set(facts.measurable), facts.record.cuts
    for no, entry in facts.record.standing:
        told = cut_reading(entry.what, cuts)
        if entry.what not in known and (told is None or (told.datum and entry.lies_at is None)):
            yield Finding(
                code="record.unknown",
                severity="caution",
                features=(),
                value=None,
                limit=None,
                message=f"measurement no. {no} of the record is of {entry.what}, which this job does not have or has not made; "
                "it counts for nothing",
                cure="if it is another job's, strike it through; if the job was changed, see what it is called now: "
                "scribeline measure",
                source=GEOMETRY,
                concerns=(),
            )


def _wrong(message: str, cure: str, by: float | None) -> Finding:
    return Finding(
        code="record.contradicted",
        severity="caution",
        features=(),
        value=by,
        limit=None,
        message=message,
        cure=cure,
        source="least squares over all readings (docs/as-built.md)",
        concerns=(),
        works=None if by is None else (_as_read, {"off": by}),
    )


def _side(towards_treble: float) -> str:
    return "treble" if towards_treble > 0 else "bass"


def _off(mm: float) -> str:
    return f"{said(abs(mm))} to the {_side(mm)}" if abs(mm) >= 0.005 else "on the centreline"


def _readings(read: NeckLine) -> str:
    count = len(read.read.sights)
    return "one reading" if count == 1 else f"{count} readings"


def _chosen(facts: Facts) -> str:
    made = facts.layout.held is not None
    match facts.document.as_built.move:
        case "bridge" if made:
            return "The bridge is held by drilled holes and stays; the cavities under the strings follow them"
        case "bridge":
            return "The bridge, its holes and the cavities under the strings are planned on the neck's line; the rest stays"
        case "neck":
            return "All is planned as if the neck were moved back; measure its line anew once it is"
        case _:
            return "The neck is taken as moved within its pocket's play, the bridge as planned for the rest; measure anew then"


def _told(facts: Facts, each: Settled) -> str:
    """What a choice comes to, in words."""
    left = f"the strings then run {said(abs(each.margins))} off the board's middle at the last fret"
    bridge = f"the bridge lies {_off(each.bridge)} of the body's centreline"
    if abs(each.bridge) < 0.005:
        bridge = "the bridge lies on the body's centreline"
    if abs(degrees(each.bridge_turn)) >= 0.05:
        bridge += f", turned {abs(degrees(each.bridge_turn)):.2f}°, which shows against the body"
    heel = f"the heel {_moved(each.at_end)} at the end wall and {_moved(each.at_mouth)} at the pocket's mouth"
    beyond = (
        f"; that is {said(each.beyond_play)} more than its pocket gives: pare one cheek and face the other with veneer"
        if each.beyond_play > 0.005
        else "; its pocket has that play"
    )
    match each.choice:
        case "bridge":
            return f'move the bridge (as_built.move = "bridge"): {bridge}; {left}'
        case "neck":
            return f'move the neck (as_built.move = "neck"): {heel}{beyond}; {left}'
        case _:
            return f'move both (as_built.move = "both"): {heel}, and {bridge}; {left}'


def _moved(mm: float) -> str:
    return f"{said(abs(mm))} to the {_side(mm)}" if abs(mm) >= 0.005 else "stays"
