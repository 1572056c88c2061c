"""Cards of the wire tunnels: the guide block, the mark on the bit, what wood is left, and what to look for."""

from __future__ import annotations

from collections.abc import Iterator
from math import atan2, degrees, hypot

from scribeline.features import Bore, Pocket, angle_from_face_deg, entry_ellipse
from scribeline.job import feature_id
from scribeline.lengths import trimmed
from scribeline.solid.tunnels import Course, Tunnel, angle_deg, drift_words
from scribeline.steps.bench import Bench
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import BY_MACHINE, DUST, LARGE_BIT, LARGE_BIT_FROM, LONG_BIT, TILTED


def tunnel_cards(bench: Bench) -> Iterator[Card]:
    """One card a tunnel, in the job's order."""
    for tunnel in bench.tunnels:
        if tunnel.bore is not None and tunnel.course is not None:
            yield _card(bench, tunnel, tunnel.bore, tunnel.course)


def _card(bench: Bench, tunnel: Tunnel, bore: Bore, course: Course) -> Card:
    into = bench.features.pocket(feature_id(tunnel.place.into))
    step = bore.deepest
    return Card(
        id=f"drill-{bore.id}",
        title="Drill the ground-wire hole at its angle"
        if bore.id == "ground-wire"
        else f"Drill the tunnel: {tunnel.place.name}",
        machine="hand drill",
        face=bore.face if bore.face in {"top", "back"} else _open_face(bench, tunnel),
        features=(bore.id,),
        bit=step.bit,
        depth=step.depth,
        point_reaches=step.point_reaches,
        # Inside a pocket or on the edge the start is told in words: a drawing from above does not show its height.
        places=bench.places((bore,)) if bore.face in {"top", "back"} else (),
        do=tuple(_do(bench, tunnel, bore, course, into)),
        gate=_gate(bench, course, into),
        cautions=(
            *BY_MACHINE["hand drill"],
            TILTED if bore.face in {"top", "back"} else LONG_BIT,
            *((LARGE_BIT,) if step.diameter >= LARGE_BIT_FROM else ()),
            DUST,
        ),
    )


def _open_face(bench: Bench, tunnel: Tunnel) -> str:
    if tunnel.place.start == "pocket":
        return bench.features.pocket(feature_id(tunnel.place.pocket)).face
    return "top"


def _do(bench: Bench, tunnel: Tunnel, bore: Bore, course: Course, into: Pocket) -> Iterator[str]:
    place, layout = tunnel.place, bench.layout
    if place.start == "face":
        length, width = entry_ellipse(bore)
        yield (
            "Take the plate off; its screw holes keep its place."
            if place.hidden_by == "the bridge plate"
            else f"Mark where the part goes that hides the mouth, and the mouth {_where(bench, course.start)}."
        )
        angle = angle_from_face_deg(bore)
        yield (
            f"Guide block: cut its end to {angle:.1f}° from the face ({90 - angle:.1f}° from upright) and drill it "
            f"{step_words(bore)} for the bit; {_towards(course, layout.treble)}, into the wall of the {into.role}."
        )
        yield f"First contact is an ellipse {length:.1f} × {width:.1f} mm round the mark: start a flat with a knife or a gouge."
    else:
        depth = -course.start[2] if _open_face(bench, tunnel) == "top" else layout.thickness + course.start[2]
        face = _open_face(bench, tunnel)
        inside = f"on the wall of the {place.pocket}" if place.start == "pocket" else "on the body's edge"
        yield f"Mark the start {inside}, {depth:.2f} mm below the {face}, {_where(bench, course.start)}; prick it."
        crossed = f", across the {' and the '.join(place.through)}," if place.through else ""
        slope = angle_deg(course)
        lean = (
            "level with the faces"
            if abs(slope) < 0.05
            else f"{abs(slope):.1f}° {'down' if (slope > 0) == (face == 'top') else 'up'} from the {face}"
        )
        yield f"Guide block: {lean}{crossed} {_towards(course, layout.treble)}, into the wall of the {into.role}."
        if place.start == "pocket":
            yield f"Lay a strip of wood over the rim of the {place.pocket} against the bit."
    yield (
        f"Tape the bit {course.depth + course.bit.point:.1f} mm from its point. It needs {course.bit_length:.0f} mm to the chuck "
        f"({trimmed(tunnel.wants.chuck)} mm radius)."
    )
    yield f"Wood left: {course.cover:.1f} mm to the {_near(bench, course)}, a drift of {drift_words(course.bit)} taken off."
    if tunnel.leaves is not None:
        where, far = tunnel.leaves
        side = "back" if abs(where.z + layout.thickness) < 0.01 else "top" if abs(where.z) < 0.01 else "edge"
        yield f"Do not lean on it: it would come out of the {side} at {far:.0f} mm."


def step_words(bore: Bore) -> str:
    """The size of the hole in a guide block."""
    return f"{trimmed(bore.deepest.diameter)} mm"


def _towards(course: Course, treble: int) -> str:
    """Which way it heads, seen from above, from a line parallel to the centreline."""
    along, across = course.axis[0], course.axis[1] * treble
    if hypot(along, across) < 1e-6:
        return "square to the face"
    off = degrees(atan2(abs(across), abs(along)))
    end = "tail" if along > 0 else "neck"
    side = "treble" if across > 0 else "bass"
    if off < 0.05:
        return f"straight to the {end}"
    if off > 89.95:
        return f"square across to the {side}"
    return f"to the {end}, {off:.1f}° off the centreline to the {side}"


def _where(bench: Bench, place: tuple[float, float, float]) -> str:
    layout = bench.layout
    across = place[1] * layout.treble
    side = (
        "on the centreline"
        if abs(across) < 0.005
        else f"{abs(across):.2f} mm to the {'treble' if across > 0 else 'bass'}"
    )
    return f"{place[0] - layout.pocket_end:.2f} mm from the pocket's end wall, {side}"


def _near(bench: Bench, course: Course) -> str:
    if course.nearest in {"top", "back", "edge"}:
        return {"edge": "body's edge"}.get(course.nearest, course.nearest)
    feature = next((f for f in bench.features if f.id == course.nearest), None)
    return course.nearest if feature is None else feature.role


def _gate(bench: Bench, course: Course, into: Pocket) -> Gate:
    """The hole's middle in the wall, from the face the pocket is cut from."""
    depth = -course.end[2] if into.face == "top" else bench.layout.thickness + course.end[2]
    rate = 0.01 if course.bit.drift is None else course.bit.drift
    doubt = max(1.0, rate * course.to_wall)
    return Gate(
        f"the hole's middle below the {into.face}; it opens wholly in the wall of the {into.role}",
        depth,
        depth - doubt,
        depth + doubt,
    )
