"""DXF and SVG drawings from a seed: outlines of every entity that is read, and what may stand beside or in place of one."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from math import cos, pi, sin
from random import Random

Point = tuple[float, float]

ODD_NUMBERS = (
    "0",
    "-0.0",
    "1e308",
    "-1e308",
    "1e-308",
    "nan",
    "NaN",
    "inf",
    "-inf",
    "1e400",
    "1,5",
    "",
    "x",
    "1e",
    "--1",
    "1.5.2",
    "9" * 400,
    "+5",
    "0x1F",
    "1_000",
    "１２",
    "\x1b",
    "%",
    "1e20",
    "1e9",
    "-1e9",
    "0.0000001",
    "2147483648",
    "-1",
)

UNKNOWN = (
    "TEXT",
    "MTEXT",
    "HATCH",
    "DIMENSION",
    "POINT",
    "SOLID",
    "TRACE",
    "3DFACE",
    "MESH",
    "REGION",
    "3DSOLID",
    "BODY",
    "LEADER",
    "MLINE",
    "RAY",
    "XLINE",
    "ATTDEF",
    "ATTRIB",
    "IMAGE",
    "WIPEOUT",
    "VIEWPORT",
    "OLE2FRAME",
    "ACAD_PROXY_ENTITY",
    "TOLERANCE",
    "HELIX",
    "SURFACE",
    "SHAPE",
    "LIGHT",
    "SECTION",
    "MLEADER",
    "ACAD_TABLE",
    "UNDERLAY",
    "NOSUCH",
    "",
    "3DLINE",
)


def whole(random: Random, kind: str) -> bytes:
    """A drawing of one body, with nothing odd about it, where `place` says."""
    ring = [
        (177 * cos(2 * pi * n / 60), (165 + 12 * cos(6 * pi * n / 60)) * sin(2 * pi * n / 60))
        for n in range(60)
    ]
    if kind == "svg":
        path = " ".join(f"{x:.3f},{y:.3f}" for x, y in ring)
        drawn = random.choice(
            (
                f'<path d="M{path}Z"/>',
                f'<polygon points="{path}"/>',
                '<ellipse rx="177" ry="165"/>',
                '<rect x="-177" y="-165" width="354" height="330" rx="60"/>',
                f'<g transform="scale(1,-1)"><path d="M{path}Z"/></g>',
            )
        )
        page = 'width="500mm" height="400mm" viewBox="-250 -200 500 400"'
        return f'<svg xmlns="http://www.w3.org/2000/svg" {page}>{drawn}</svg>'.encode()
    corners = [tag for point in ring for tag in _at(point, z=None)]
    lines = [
        tag
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True)
        for tag in _entity("LINE", "0", _at(a), _at(b, 11))
    ]
    heavy = _entity("POLYLINE", "0", [(66, 1), (70, 1)], _at((0.0, 0.0)))
    heavy += [tag for point in ring for tag in _entity("VERTEX", "0", _at(point))] + [(0, "SEQEND"), (8, "0")]
    knots: Tags = [(40, float(n)) for n in range(67)]
    drawn_tags = random.choice(
        (
            lines,
            heavy,
            _entity("LWPOLYLINE", "0", [(90, len(ring)), (70, 1)], corners),
            _entity("CIRCLE", "0", _at((0.0, 0.0)), [(40, 177.0)]),
            _entity(
                "ELLIPSE", "0", _at((0.0, 0.0)), _at((177.0, 0.0), 11), [(40, 0.95), (41, 0.0), (42, 2 * pi)]
            ),
            _entity(
                "SPLINE",
                "0",
                [(70, 11), (71, 3), (72, 67), (73, 63), (74, 0)],
                knots,
                (tag for point in (*ring, *ring[:3]) for tag in _at(point)),
            ),
        )
    )
    head: Tags = [
        (0, "SECTION"),
        (2, "HEADER"),
        (9, "$ACADVER"),
        (1, "AC1015"),
        (9, "$INSUNITS"),
        (70, 4),
        (0, "ENDSEC"),
    ]
    tags = [*head, (0, "SECTION"), (2, "ENTITIES"), *drawn_tags, (0, "ENDSEC"), (0, "EOF")]
    return "".join(f"{code:>3}\n{value}\n" for code, value in tags).encode()


def place(kind: str) -> dict[str, object]:
    """Where `whole` draws it; an SVG's coordinates count from the page's corner."""
    return {"along": "+x", "centre": 200 if kind == "svg" else 0, "tail": 752, "drawn_for": "right"}


def body(random: Random) -> list[Point]:
    """Corners of something like a body, counter-clockwise round its middle."""
    count = random.choice((3, 4, 6, 12, 40, 40, 150))
    turn = random.uniform(0, 2 * pi)
    size = 1.0 if random.random() < 0.8 else random.choice((1 / 25.4, 0.1, 1000.0, 1e-3))
    x, y = (0.0, 0.0) if random.random() < 0.8 else random.choice(((400.0, 300.0), (-1e5, 3e6)))
    return [
        (
            x + size * 225 * cos(turn + 2 * pi * n / count),
            y + size * (165 + 30 * sin(3 * 2 * pi * n / count)) * sin(turn + 2 * pi * n / count),
        )
        for n in range(count)
    ]


# DXF

Tags = list[tuple[int, object]]


def _at(point: Point, code: int = 10, z: float | None = 0.0) -> Tags:
    flat: Tags = [(code, point[0]), (code + 10, point[1])]
    return flat if z is None else [*flat, (code + 20, z)]


def _entity(kind: str, layer: str, *tags: Iterable[tuple[int, object]]) -> Tags:
    own: Tags = [(100, "AcDbEntity"), (8, layer), (100, _MARKED[kind])] if kind in _MARKED else [(8, layer)]
    return [(0, kind), *own, *(tag for group in tags for tag in group)]


_MARKED = {"LWPOLYLINE": "AcDbPolyline", "SPLINE": "AcDbSpline"}
"""Entities that programs begin with a marker of their class, without which none is read."""


def _lines(random: Random, ring: list[Point], layer: str) -> Tags:
    made: list[Tags] = []
    for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
        start, end = (a, b) if random.random() < 0.8 else (b, a)
        made.append(_entity("LINE", layer, _at(start), _at(end, 11)))
    if random.random() < 0.3:
        random.shuffle(made)
    if random.random() < 0.1:
        made.pop()
    return [tag for each in made for tag in each]


def _light(random: Random, ring: list[Point], layer: str) -> Tags:
    corners: Tags = []
    for point in ring:
        corners += _at(point, z=None)
        if random.random() < 0.2:
            corners.append((42, random.choice((0.1, -0.1, 1.0, 0.0, 50.0, 1e9, -1e-12))))
    closed = random.random() < 0.9
    plane: Tags = [(210, 0.0), (220, 0.0), (230, -1.0)] if random.random() < 0.1 else []
    return _entity("LWPOLYLINE", layer, [(90, len(ring)), (70, int(closed)), (38, 0.0)], corners, plane)


def _heavy(random: Random, ring: list[Point], layer: str) -> Tags:
    flags = random.choice((1, 1, 1, 9, 0, 16, 64, 5, 3))
    made = _entity("POLYLINE", layer, [(66, 1), (70, flags)], _at((0.0, 0.0)))
    for point in ring:
        made += _entity("VERTEX", layer, _at(point), [(70, random.choice((0, 0, 0, 32, 16, 8, 64)))])
    return made + ([(0, "SEQEND"), (8, layer)] if random.random() < 0.97 else [])


def _spline(random: Random, ring: list[Point], layer: str) -> Tags:
    degree = random.choice((1, 2, 3, 3, 3, 5, 11))
    controls = [*ring, *ring[:degree]]
    count = len(controls) + degree + 1
    knots: Tags = [(40, float(n)) for n in range(count)]
    if random.random() < 0.1:
        knots = [(40, 0.0)] * count
    if random.random() < 0.1:
        random.shuffle(knots)
    weights: Tags = (
        [(41, random.choice((1.0, 2.0, 0.0, -1.0))) for _ in controls] if random.random() < 0.2 else []
    )
    head: Tags = [(70, 11), (71, degree), (72, count), (73, len(controls)), (74, 0)]
    if random.random() < 0.1:
        fits = [tag for point in ring for tag in _at(point, 11)]
        return _entity("SPLINE", layer, [(70, 1), (71, 3), (72, 0), (73, 0), (74, len(ring))], fits)
    return _entity("SPLINE", layer, head, knots, weights, (tag for point in controls for tag in _at(point)))


def _circle(random: Random, ring: list[Point], layer: str) -> Tags:
    radius = random.choice((180.0, 220.0, 0.0, -5.0, 1e-9, 1e6))
    return _entity("CIRCLE", layer, _at(_middle(ring)), [(40, radius)])


def _arcs(random: Random, ring: list[Point], layer: str) -> Tags:
    middle, radius = _middle(ring), random.choice((180.0, 200.0, 0.0))
    at = sorted(random.uniform(0, 360) for _ in range(random.randint(2, 5)))
    made = []
    for a, b in zip(at, at[1:] + at[:1], strict=True):
        made += _entity("ARC", layer, _at(middle), [(40, radius), (50, a), (51, b)])
    return made


def _ellipse(random: Random, ring: list[Point], layer: str) -> Tags:
    ratio = random.choice((0.7, 0.8, 1.0, 0.0, 1e-9, 5.0, -0.5))
    end = random.choice((2 * pi, 2 * pi, 2 * pi, pi, 0.0, 1e9))
    return _entity(
        "ELLIPSE", layer, _at(_middle(ring)), _at((220.0, 10.0), 11), [(40, ratio), (41, 0.0), (42, end)]
    )


def _middle(ring: list[Point]) -> Point:
    return sum(x for x, _ in ring) / len(ring), sum(y for _, y in ring) / len(ring)


def _unknown(random: Random, ring: list[Point], layer: str) -> Tags:
    tags: Tags = [
        (1, random.choice(("a note", "x" * 300, "\\P{\\f;"))),
        (40, 5.0),
        (70, 1),
        (100, "AcDbEntity"),
    ]
    return _entity(
        random.choice(UNKNOWN), layer, _at(random.choice(ring)), random.sample(tags, random.randint(0, 4))
    )


def _insert(random: Random, ring: list[Point], layer: str) -> Tags:
    name = random.choice(("B0", "B0", "B1", "B2", "NONE", "*MODEL_SPACE", ""))
    tags: Tags = [(2, name), *_at(random.choice(((0.0, 0.0), ring[0])))]
    if random.random() < 0.5:
        tags += [(code, random.choice((1.0, 1.0, -1.0, 0.0, 2.0, 1e-12, 1e12))) for code in (41, 42, 43)]
    if random.random() < 0.3:
        tags.append((50, random.choice((30.0, 90.0, 1e9))))
    if random.random() < 0.15:
        tags += [
            (70, random.choice((0, 1, 2, 30, 1000, -1))),
            (71, random.choice((1, 2, 30, 1000))),
            (44, 5.0),
            (45, 5.0),
        ]
    if random.random() < 0.1:
        tags += [(210, random.choice((0.0, 1.0))), (220, 0.0), (230, random.choice((0.0, -1.0, 1.0)))]
    return _entity("INSERT", layer, tags)


_Maker = Callable[[Random, list[Point], str], Tags]

_OUTLINES: tuple[_Maker, ...] = (
    _lines,
    _lines,
    _light,
    _light,
    _light,
    _heavy,
    _spline,
    _circle,
    _arcs,
    _ellipse,
)


def dxf(random: Random) -> bytes:
    """A DXF drawing as text."""
    ring, layer = body(random), random.choice(("0", "outline", "Körper", "x" * 300, "OUTLINE"))
    tags: Tags = []
    if random.random() < 0.9:
        version = random.choice(("AC1009", "AC1015", "AC1015", "AC1021", "AC1032", "AC1012", "MC0", "AC9999"))
        tags += [(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, version)]
        if random.random() < 0.8:
            tags += [(9, "$INSUNITS"), (70, random.choice((4, 4, 4, 4, 1, 0, 5, 6, 99, -3, 2)))]
        tags.append((0, "ENDSEC"))
    if random.random() < 0.3:
        tags += [(0, "SECTION"), (2, "TABLES"), (0, "TABLE"), (2, "LAYER"), (70, 1)]
        tags += [
            (0, "LAYER"),
            (2, layer),
            (70, random.choice((0, 1, 4))),
            (62, random.choice((7, -7, 0))),
            (6, "CONTINUOUS"),
        ]
        tags += [(0, "ENDTAB"), (0, "ENDSEC")]
    blocks = random.random() < 0.4
    if blocks:
        tags += [(0, "SECTION"), (2, "BLOCKS")]
        for number in range(random.choice((1, 2, 3))):
            inner = random.choice(_OUTLINES)(random, ring, layer)
            if random.random() < 0.4:
                inner += _insert(random, ring, layer)
            tags += [
                (0, "BLOCK"),
                (8, "0"),
                (2, f"B{number}"),
                (70, 0),
                *_at((0.0, 0.0)),
                *inner,
                (0, "ENDBLK"),
                (8, "0"),
            ]
        tags.append((0, "ENDSEC"))
    tags += [(0, "SECTION"), (2, "ENTITIES")]
    makers: list[_Maker] = [_insert] if blocks and random.random() < 0.7 else [random.choice(_OUTLINES)]
    while random.random() < 0.35:
        makers.append(random.choice((*_OUTLINES, _unknown, _unknown, _unknown, _insert)))
    for make in makers:
        tags += make(random, ring if random.random() < 0.7 else body(random), layer)
    tags += [(0, "ENDSEC"), (0, "EOF")]
    if random.random() < 0.3:
        _spoil(random, tags)
    text = "".join(f"{code:>3}\n{value}\n" for code, value in tags)
    return _spoilt_bytes(random, text) if random.random() < 0.08 else text.encode("utf-8", "surrogatepass")


def _spoil(random: Random, tags: Tags) -> None:
    """Change some of a drawing's pairs."""
    for _ in range(random.choice((1, 1, 2, 5))):
        at = random.randrange(len(tags))
        match random.randrange(6):
            case 0 | 1:
                numbers = [n for n, (code, _) in enumerate(tags) if 10 <= code < 60]
                if numbers:
                    chosen = random.choice(numbers)
                    tags[chosen] = (tags[chosen][0], random.choice(ODD_NUMBERS))
            case 2:
                del tags[at]
            case 3:
                tags.insert(at, random.choice(tags))
            case 4:
                tags[at] = (random.choice((0, 5, 8, 10, 40, 70, 100, 330, 1001, 9999, -5)), tags[at][1])
            case _:
                tags[at] = (
                    tags[at][0],
                    random.choice(("ENDSEC", "SECTION", "EOF", "LINE", "", "x" * 3000, "\ud7ff", "貓")),
                )


def _spoilt_bytes(random: Random, text: str) -> bytes:
    data = text.encode("utf-8", "surrogatepass")
    at = random.randrange(len(data) + 1)
    match random.randrange(7):
        case 0:
            return data[:at]
        case 1:
            return data[:at] + bytes(random.randrange(256) for _ in range(8)) + data[at:]
        case 2:
            return data.replace(b"\n", b"\r\n")
        case 3:
            return b"AutoCAD Binary DXF\r\n\x1a\x00" + data
        case 4:
            return b"AC1032" + data
        case 5:
            return text.encode("utf-16")
    return random.choice(
        (
            b"",
            b"\0" * 1000,
            b"\n" * 500,
            b"0\n",
            b"0\nEOF\n",
            bytes(random.randrange(256) for _ in range(500)),
        )
    )


# SVG

_TRANSFORMS = (
    "translate(10,20)",
    "scale(1)",
    "scale(2,-1)",
    "scale(0)",
    "rotate(30)",
    "rotate(90 200 100)",
    "matrix(1 0 0 1 5 5)",
    "skewX(10)",
    "matrix(0 0 0 0 0 0)",
    "translate(nan)",
    "scale(1e300)",
    "rotate()",
    "wobble(3)",
    "matrix(1 2 3)",
    "scale(1e-300)",
    "translate(1e9 1e9)",
    "skewX(90)",
    "rotate(1e400)",
    "scale(-1)",
    "",
)


def _path(random: Random, ring: list[Point]) -> str:
    """A path of any of the commands."""
    x, y = ring[0]
    parts = [f"M{x:.3f},{y:.3f}"]
    for n, (x, y) in enumerate(ring[1:], start=1):
        a, b = ring[n - 1]
        kind = random.choice("LLLLLHVCQSTAl")
        match kind:
            case "H":
                parts.append(f"H{x:.3f} V{y:.3f}")
            case "V":
                parts.append(f"V{y:.3f} H{x:.3f}")
            case "C":
                parts.append(f"C{a:.2f} {b:.2f} {x:.2f} {y:.2f} {x:.2f} {y:.2f}")
            case "Q" | "S":
                parts.append(f"{kind}{(a + x) / 2:.2f} {(b + y) / 2:.2f} {x:.2f} {y:.2f}")
            case "T":
                parts.append(f"T{x:.2f} {y:.2f}")
            case "A":
                radius = random.choice((50, 500, 0, -5, 1e-9, 1e9))
                parts.append(
                    f"A{radius} {radius} {random.choice((0, 30))} {random.choice('01')} {random.choice('01')} {x:.2f} {y:.2f}"
                )
            case "l":
                parts.append(f"l{x - a:.3f} {y - b:.3f}")
            case _:
                parts.append(f"L{x:.3f} {y:.3f}")
    text = " ".join(parts) + random.choice(("Z", "z", "Z", "Z", "", "ZZ", "Z M0 0 L1 1"))
    if random.random() < 0.15:
        at = random.randrange(len(text))
        text = text[:at] + random.choice((*ODD_NUMBERS, "M", "A", "C 1", "e", ",,", "#", "<")) + text[at:]
    return text


def _shape(random: Random, ring: list[Point]) -> str:
    (x, y), kind = _middle(ring), random.randrange(11)
    transform = f' transform="{random.choice(_TRANSFORMS)}"' if random.random() < 0.15 else ""

    def size(*usual: object) -> object:
        return random.choice(usual if random.random() < 0.8 else ODD_NUMBERS[:19])

    points = " ".join(f"{a:.3f},{b:.3f}" for a, b in ring)
    match kind:
        case 0 | 1 | 2 | 3:
            return f'<path id="p" d="{_path(random, ring)}"{transform}/>'
        case 4:
            return f'<polygon points="{points}"{transform}/>'
        case 5:
            return f'<polyline points="{points} {random.choice((points.split()[0], "", "5"))}"{transform}/>'
        case 6:
            return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{size(200, "180mm")}"{transform}/>'
        case 7:
            return f'<ellipse cx="{x:.2f}" cy="{y:.2f}" rx="{size(220)}" ry="{size(160)}"{transform}/>'
        case 8:
            return f'<rect x="{x:.2f}" y="{y:.2f}" width="{size(450, "100%")}" height="{size(330)}" rx="{size(20)}"{transform}/>'
        case 9:
            lines = zip(ring, ring[1:] + ring[:1], strict=True)
            return "".join(
                f'<line x1="{a[0]:.3f}" y1="{a[1]:.3f}" x2="{b[0]:.3f}" y2="{b[1]:.3f}"/>' for a, b in lines
            )
    return random.choice(
        (
            "<text>word</text>",
            "<image href='x.png'/>",
            '<use href="#p"/>',
            '<use href="#u" id="u"/>',
            "<foreignObject/>",
            "<style>path{display:none}</style>",
            "<defs><path id='d' d='M0 0L9 9'/></defs><use href='#d'/>",
            "<clipPath id='c'><rect/></clipPath>",
            "<switch><g/></switch>",
            "<marker/>",
            "<!-- a note -->",
            "<![CDATA[x]]>",
            "<g style='display:none'><path d='M0 0L5 5Z'/></g>",
            "<symbol><circle r='5'/></symbol>",
            "<script>1</script>",
            "<nosuch a='1'/>",
            "<pattern/>",
            "<title>é貓</title>",
            "<a href='x'><circle r='100'/></a>",
            "<svg x='5'><circle r='50'/></svg>",
        )
    )


def svg(random: Random) -> bytes:
    """An SVG drawing."""
    ring = body(random)
    page = (
        'width="500mm" height="400mm" viewBox="-250 -200 500 400"'
        if random.random() < 0.6
        else random.choice(
            (
                'width="500mm" height="400mm" viewBox="0 0 500 400"',
                'width="500mm" height="400mm"',
                'width="500" height="400"',
                "",
                'viewBox="0 0 0 0"',
                'width="nan" viewBox="1 2"',
                'width="20in" height="16in" viewBox="0 0 20 16" preserveAspectRatio="none"',
                'width="100%" viewBox="-1e9 0 1e300 5"',
                'width="-5mm" height="0mm" viewBox="0 0 10 10"',
            )
        )
    )
    inner = ""
    for _ in range(random.choice((1, 1, 1, 1, 1, 2, 3, 8))):
        shape = _shape(random, ring if random.random() < 0.8 else body(random))
        for _ in range(random.choice((0, 0, 0, 1, 3, 150) if random.random() < 0.2 else (0, 0, 1))):
            told = random.choice(
                (
                    'id="outline"',
                    'transform="scale(1)"',
                    f'transform="{random.choice(_TRANSFORMS)}"',
                    'style="display:none"',
                    "",
                )
            )
            shape = f"<g {told}>{shape}</g>"
        inner += shape
    space = random.choice(('xmlns="http://www.w3.org/2000/svg"',) * 30 + ("", 'xmlns="urn:x"'))
    head = random.choice(
        (
            *[""] * 12,
            *['<?xml version="1.0" encoding="UTF-8"?>'] * 6,
            '<?xml version="1.0" encoding="UTF-8"?>',
            '<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>',
        )
    )
    text = f"{head}<svg {space} {page}>{inner}</svg>"
    if random.random() < 0.08:
        at = random.randrange(len(text))
        text = (
            text[:at]
            + random.choice(("<", ">", "&", '"', "&b;", "\0", "<g>", "</g>", "貓", "\x1b"))
            + text[at:]
        )
    return _spoilt_bytes(random, text) if random.random() < 0.06 else text.encode("utf-8", "surrogatepass")


def statement(random: Random, name: str) -> dict[str, object]:
    """What a job says of a drawing: where the body lies in it, and now and then what it cannot know."""
    made: dict[str, object] = {
        "file": name,
        "along": random.choice(("+x", "+x", "-x", "+y", "-y")),
        "drawn_for": "right",
    }
    if random.random() < 0.8:
        made |= {
            "centre": (200 if name.endswith("svg") else 0)
            if random.random() < 0.8
            else random.choice((300, "200 mm", 1e9, -3, 1e5)),
            "tail": 752,
        }
    else:
        made["origin"] = (
            [-520, 0] if random.random() < 0.7 else random.choice(([0, 0], ["-520 mm", "0 mm"], [1e300, 0]))
        )
    if random.random() < 0.15:
        made["true_length"] = random.choice((450, 445, 330, 1500, 100, 451.2))
    if random.random() < 0.05:
        made["true_width"] = random.choice((330, 340, 450))
    if random.random() < 0.1:
        made["layer"] = random.choice(("outline", "0", "none", "Körper", "x" * 190, "\u202e"))
    if random.random() < 0.1:
        made["seen_from"] = "back"
    return made
