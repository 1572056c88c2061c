"""Jobs from a seed: a sound one of some kind, other measures, tables made from the schema, then slips.

Most are to reach planning. So measures move a little and together, a table that the schema allows is put in where the
job still reads with it (and left in now and then where it does not), and no more than a share of the jobs have slips.
"""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Iterator
from functools import cache
from random import Random
from typing import Any, get_args

from scribeline.job import Instrument, Loading, parse_job, starter_job
from scribeline.lengths import JobUnit
from scribeline.scenario import demo_jobs

from ..pack_jobs import EVERY_JOB
from .schema_values import Key, Maker, node_at, schema
from .toml_writing import stated, written

Tree = dict[str, Any]

SHIPPED = {
    **demo_jobs(),
    **{name: text for name, text in EVERY_JOB.items() if name != "demo"},
}


@cache
def _starter(instrument: Instrument, units: JobUnit, handed: str, loading: Loading) -> str:
    return starter_job(name="First", units=units, handed=handed, instrument=instrument, loading=loading)


def _examples(text: str) -> list[str]:
    """The tables that a starter explains in comments."""
    shown = []
    for paragraph in text.split("\n\n"):
        lines = paragraph.strip().splitlines()
        heads = [number for number, line in enumerate(lines) if line.startswith("# [")]
        if heads and all(line.startswith("#") for line in lines):
            shown.append("\n".join(line.removeprefix("# ") for line in lines[heads[0] :]))
    return shown


def sound(random: Random, *, tunnels: float = 0.05) -> Tree:
    """A job that can be planned as it stands.

    Args:
        random: the source of chance.
        tunnels: share of the jobs with tunnels that keep them: finding their ways takes nine tenths of a plan.
    """
    if random.random() < 0.3:
        tree = tomllib.loads(random.choice(list(SHIPPED.values())))
        if "bevels" not in tree["body"] and random.random() < 0.3:
            tree["handed"] = random.choice(("left", "right"))
    else:
        units: JobUnit = random.choice(("mm", "mm", "in"))
        text = _starter(
            random.choice(get_args(Instrument)),
            units,
            random.choice(("right", "left")),
            random.choice(get_args(Loading)),
        )
        tree = tomllib.loads(text)
        for example in _examples(text):
            carved = example.startswith(("[body", "[[body"))
            if random.random() < (
                0.06 if carved else 0.25
            ):  # the wood of a carved body takes ten times as long to look at
                more = copy.deepcopy(tree)
                _joined(more, tomllib.loads(example))
                tree = more if _reads(more) else tree  # what is explained to six strings may not suit four
    if random.random() >= tunnels:
        tree.pop("tunnels", None)
    return tree


def _joined(tree: Tree, more: Tree) -> None:
    for key, value in more.items():
        if isinstance(value, dict) and isinstance(tree.get(key), dict):
            _joined(tree[key], value)
        elif isinstance(value, list) and isinstance(tree.get(key), list):
            tree[key] += [each for each in value if each not in tree[key]]
        else:
            tree[key] = value


# Measures

_ALONG = re.compile(
    r"scale\.length|fingerboard\.end|neck\.pocket_end|body\.outline\.tail|.*\.(outline|near|at|line|places|centre|ends|hide)"
)


def leaves(value: Any, key: Key = ()) -> Iterator[tuple[Key, Any]]:
    """Every single value and its place."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from leaves(inner, (*key, name))
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from leaves(inner, (*key, number))
    else:
        yield key, value


def holder(tree: Any, key: Key) -> Any:
    """What a place lies in."""
    for part in key[:-1]:
        tree = tree[part]
    return tree


_PLAIN = re.compile(r"(-?\d+(?:\.\d+)?)(.*)", re.S)


def times(value: Any, by: float) -> Any:
    """A length that much longer, stated as before; a fraction stays as it is."""
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return round(value * by, 4)
    found = _PLAIN.fullmatch(value) if isinstance(value, str) else None
    if found is None or "/" in found[2].replace("+/-", "") or " " in found[1]:
        return value
    return f"{float(found[1]) * by:.4g}{found[2]}"


def measured(random: Random, tree: Tree) -> None:
    """Give a job other measures that still go together."""
    if random.random() < 0.4:  # a longer or shorter instrument: everything counted from the nut moves with it
        by = random.uniform(0.985, 1.015)
        for key, value in list(leaves(tree)):
            path = ".".join(str(part) for part in key if isinstance(part, str))
            first = not isinstance(key[-1], int) or key[-1] == 0
            if first and _ALONG.fullmatch(path) and _counted_from_the_nut(tree, key):
                holder(tree, key)[key[-1]] = times(value, by)
    share = random.choice((0.0, 0.1, 0.4))
    for key, value in list(leaves(tree)):
        node = node_at(key)
        if node is not None and "x-millimetres" in node and random.random() < share and key[0] != "bits":
            holder(tree, key)[key[-1]] = times(value, random.gauss(1.0, 0.006))
    layers = tree["body"].get("layers")
    if layers:
        tree["body"]["thickness"] = (
            f"{sum(_mm(each['thickness'], tree['units']) for each in layers):.4f} mm +/- 0.2 mm"
        )


def _counted_from_the_nut(tree: Tree, key: Key) -> bool:
    here: Any = tree
    for part in key[:-1]:
        if isinstance(here, dict) and here.get("x_from", "nut") != "nut":
            return False
        here = here[part]
    return not (isinstance(here, dict) and here.get("x_from", "nut") != "nut") and key[0] not in {
        "bridge",
        "neck_screws",
    }


def _mm(value: Any, unit: str) -> float:
    from scribeline.lengths import read_length

    return read_length(value, unit="in" if unit == "in" else "mm").mm


# Tables from the schema

_TABLES: tuple[tuple[Key, bool], ...] = (
    (("holes",), True),
    (("pockets",), True),
    (("controls",), True),
    (("strap_buttons",), True),
    (("masses",), True),
    (("string_sets",), True),
    (("body", "bevels"), True),
    (("body", "roundover"), False),
    (("body", "top"), False),
    (("body", "outline", "dimensions"), False),
    (("jack",), False),
    (("neck_screws",), False),
    (("ground_wire",), False),
    (("limits",), False),
    (("setup",), False),
    (("bench",), False),
    (("finish",), False),
    (("print",), False),
    (("bits", "countersink"), True),
    (("bits", "twist"), True),
    (("bits", "router"), True),
)


def pockets_of(tree: Tree) -> tuple[str, ...]:
    """Names of the pockets a job has."""
    found = tree.get("pockets")
    return (
        tuple(str(each.get("name")) for each in found if isinstance(each, dict))
        if isinstance(found, list)
        else ()
    )


def with_more(random: Random, tree: Tree) -> Tree:
    """The job with one more table, or another in the place of one, that the schema allows; kept where the job still reads."""
    for _ in range(3):
        trial = copy.deepcopy(tree)
        key, is_list = random.choice(_TABLES if random.random() < 0.4 else _TABLES[:6])
        node = node_at(key)
        assert node is not None
        maker = Maker(random, unit=str(tree["units"]), pockets=pockets_of(tree))
        here = trial
        for part in key[:-1]:
            here = here.setdefault(str(part), {})
        last = str(key[-1])
        if is_list:
            here.setdefault(last, []).append(_one(random, maker, dict(node["items"]), last))
        else:
            here[last] = {**here.get(last, {}), **_one(random, maker, node, last)}
        if random.random() < 0.1 or _reads(trial):
            return trial
    return tree


def _one(random: Random, maker: Maker, node: dict[str, Any], name: str) -> Any:
    """One table; of those that come in several forms, one form."""
    made = maker.value(node, name)
    if name == "pockets":
        form = random.choice((("centre", "size"), ("outline",), ("slot",)))
        _only(made, form, {"centre", "size", "outline", "slot"})
        made.pop("cover_screws", None)
        made["corner_radius"] = maker.stated(random.uniform(0.5, 6))
        made["depth"] = maker.stated(random.uniform(2, 40))
        if "size" in form:
            made |= {"centre": maker.ring()[0], "size": [maker.stated(random.uniform(8, 80)) for _ in "xy"]}
        if "outline" in form:
            made["outline"] = maker.ring()
        if "slot" in form:
            made["slot"] = {"ends": maker.ring()[:2], "width": maker.stated(random.uniform(2, 12))}
        made.pop("islands", None)
    if name == "holes":
        form = random.choice((("diameter", "depth"), ("diameter", "through"), ("steps",), ("screw",)))
        _only(made, (*form, "at"), {"diameter", "depth", "through", "steps", "screw", "at", "places"})
        made["at"] = maker.ring()[0]
        size = random.uniform(2, 14)
        if "diameter" in form:
            made["diameter"] = maker.stated(size)
        if "depth" in form:
            made["depth"] = maker.stated(random.uniform(2, 40))
        if "through" in form:
            made["through"] = True
        if "steps" in form:
            depth = random.uniform(1, 12)
            made["steps"] = [
                {"diameter": maker.stated(2 * size), "depth": maker.stated(depth)},
                {"diameter": maker.stated(size), "depth": maker.stated(depth + random.uniform(1, 25))},
            ]
        if "screw" in form:
            made["screw"] = {
                "thread": "3.5 mm",
                "root": "2.4 mm",
                "length": maker.stated(random.uniform(10, 40)),
            }
        if random.random() < 0.6:
            made.pop("lean", None)
        elif "lean" in made:
            made["heading"] = random.randint(-180, 180)
    if name == "bevels":
        made.pop(random.choice(("angle", "depth")), None)
        made.setdefault("angle" if "depth" not in made else "depth", 10)
        if "angle" in made:
            made.pop("depth", None)
    if name == "top":
        return _top(random, maker)
    return made


def _only(made: Tree, form: tuple[str, ...], among: set[str]) -> None:
    for key in among - set(form):
        made.pop(key, None)


def _top(random: Random, maker: Maker) -> Tree:
    if random.random() < 0.5:
        areas = [
            {"name": f"shelf {n}", "outline": maker.ring(), "height": maker.stated(random.uniform(-12, 8))}
            for n in range(random.randint(1, 3))
        ]
        return {"kind": "stepped", "areas": areas}
    edge = random.uniform(-12, -2)
    rows = [(0.0, edge), (random.uniform(5, 20), edge * 0.8), (random.uniform(25, 80), 0.0)]
    return {"kind": "arched", "profile": [[maker.stated(a), maker.stated(b)] for a, b in rows]}


def _reads(tree: Tree) -> bool:
    try:
        parse_job(written(tree))
    except ValueError:
        return False
    except Exception:  # noqa: BLE001 - it is for the run itself to find and to tell
        return True
    return True


# Slips

LONG = "a long thought of the builder that goes on and on without an end " * 60
NONSENSE: tuple[Any, ...] = (
    0, -1, 1, 1e308, -1e308, 1e-300, 5e-324, 10**30, 10**60, float("nan"), float("inf"), float("-inf"), True, False, "", " ",
    "nan", "inf", "-", "12 mmm", "1/0", "0/0 in", "1 1/2 1/2 in", "45 ± 40", "25.2 ± 100", "10 +/- 0", "10 +/- -1", "44,4",
    "1e5", "0x10", "４５ mm", "½ in", "1½\"", "12'", "10.6.2", "--3", "+5", "5 +/- nan", "1 mm in", "99999999999999999999 mm",
    "x" * 300, LONG, "y" * 5000, "貓" * 80, "a\tb", "a\nb", "\u0000", "\u001b[31m", "\u202e", "\ud7ff", "\u2028", "#7", "#99",
    [], {}, [1], [[1]], {"a": 1}, [[], []], [None], "typical", "3 typical", "10 mm typical", "1" * 400, 3.0000000001, -0.0,
)  # fmt: skip
"""What stands where a value should: edges, slips and nonsense."""


def slip(random: Random, tree: Tree) -> None:
    """Change one thing as a builder might, or might not."""
    slips = (_value, _in_range, _not_stated, _scaled, _key, _list, _swap, _name)
    random.choices(slips, (2, 5, 4, 2, 1, 1, 1, 1))[0](random, tree)


def _any_leaf(random: Random, tree: Tree) -> tuple[Key, Any]:
    """A single value, each kind of it as likely as another: a list of places is one kind."""
    kinds: dict[Key, list[tuple[Key, Any]]] = {}
    for key, value in leaves(tree):
        kinds.setdefault(tuple(part for part in key if isinstance(part, str)), []).append((key, value))
    return random.choice(random.choice(list(kinds.values()))) if kinds else (("name",), "")


def _value(random: Random, tree: Tree) -> None:
    key, _ = _any_leaf(random, tree)
    holder(tree, key)[key[-1]] = copy.deepcopy(random.choice(NONSENSE))


def _in_range(random: Random, tree: Tree) -> None:
    """Another value that the schema allows: it reads, and may make no sense."""
    for _ in range(5):
        key, value = _any_leaf(random, tree)
        node = node_at(key)
        if node is None or isinstance(value, bool):
            continue
        maker = Maker(random, unit=str(tree.get("units")), pockets=pockets_of(tree), wild=0.4)
        holder(tree, key)[key[-1]] = maker.value(
            node, str(next((p for p in reversed(key) if isinstance(p, str)), ""))
        )
        return


def _not_stated(random: Random, tree: Tree) -> None:
    """State something that the job leaves to be usual."""
    for _ in range(5):
        key, table = random.choice(list(_keyed_tables(tree, ())))
        node = node_at(key) if key else schema()
        absent = [each for each in (node or {}).get("properties", {}) if each not in table]
        if absent and isinstance(node, dict):
            name = random.choice(absent)
            maker = Maker(random, unit=str(tree.get("units")), pockets=pockets_of(tree), wild=0.2)
            table[name] = maker.value(node["properties"][name], name)
            return


def _keyed_tables(value: Any, key: Key) -> Iterator[tuple[Key, Tree]]:
    if isinstance(value, dict):
        yield key, value
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for part, each in inner:
        yield from _keyed_tables(each, (*key, part))


def _scaled(random: Random, tree: Tree) -> None:
    key, value = _any_leaf(random, tree)
    by = random.choice((0.0, -1.0, 0.1, 10.0, 25.4, 1 / 25.4, 0.5, 2.0, 1.1, 0.9, 1.001))
    holder(tree, key)[key[-1]] = times(value, by)


def _tables(value: Any) -> Iterator[Tree]:
    if isinstance(value, dict):
        yield value
        for inner in value.values():
            yield from _tables(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _tables(inner)


def _key(random: Random, tree: Tree) -> None:
    """Drop a key, misspell it, or put one in that is none."""
    tables = [each for each in _tables(tree) if each]
    if not tables:
        return
    table = random.choice(tables)
    key = random.choice(list(table))
    how = random.random()
    if how < 0.5:
        del table[key]
    elif how < 0.8:
        at = random.randrange(len(key))
        table[key[:at] + random.choice(("", "x", "é", "_", " ")) + key[at + 1 :]] = table.pop(key)
    else:
        table[random.choice(("colour", "", "a.b", "x" * 200, "\u001b", "name ", "貓"))] = random.choice(
            NONSENSE
        )


def _lists(value: Any) -> Iterator[list[Any]]:
    if isinstance(value, list):
        yield value
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from _lists(inner)


def _list(random: Random, tree: Tree) -> None:
    """Drop, repeat, turn round or empty what is listed."""
    found = [each for each in _lists(tree) if each]
    if not found:
        return
    chosen = random.choice(found)
    at = random.randrange(len(chosen))
    match random.randrange(5):
        case 0:
            del chosen[at]
        case 1:
            chosen.insert(at, copy.deepcopy(chosen[at]))
        case 2:
            chosen.reverse()
        case 3:
            random.shuffle(chosen)
        case _:
            del chosen[random.randrange(len(chosen)) :]


def _swap(random: Random, tree: Tree) -> None:
    """Put one thing where another of its kind stands."""
    tables = [each for each in _tables(tree) if each]
    one, other = random.choice(tables), random.choice(tables)
    a, b = random.choice(list(one)), random.choice(list(other))
    if isinstance(one[a], dict | list) or isinstance(other[b], dict | list):
        other[b] = copy.deepcopy(one[a])  # never a table inside itself
    else:
        one[a], other[b] = other[b], one[a]


def _name(random: Random, tree: Tree) -> None:
    texts = [
        (key, value)
        for key, value in leaves(tree)
        if isinstance(value, str) and key[-1] in {"name", "part", "into"}
    ]
    if texts:
        key, _ = random.choice(texts)
        holder(tree, key)[key[-1]] = random.choice((*WORDS_OF_NAMES, *(value for _, value in texts)))


WORDS_OF_NAMES = (
    "nan",
    "inf",
    "jack",
    "neck pocket",
    "NECK POCKET",
    "貓",
    "ß",
    "a/b",
    "..",
    "İ",
    "🎸" * 20,
    "[bold]",
    "x" * 60,
    "%d",
    "—",
)


_QUOTES = {'"': "“", "=": ":", "[": "(", "]": "", "{": "[", ".": ",", ",": ".", "\n": "\r", " ": "\t"}


def text_slip(random: Random, text: str) -> bytes:
    """The text with a slip of the keyboard or of the editor."""
    at = random.randrange(len(text)) if text else 0
    lines = text.splitlines(keepends=True) or [""]
    line = random.randrange(len(lines))
    match random.randrange(12):
        case 0:
            text = text[:at] + text[at + 1 :]
        case 1:
            text = text[:at] + random.choice("[]{}\"'=#,.\\\n\t\0\x1b\x7f“é貓\u2028½") + text[at:]
        case 2:
            text = text[:at]
        case 3:
            lines.insert(line, lines[line])
            text = "".join(lines)
        case 4:
            lines[line] = lines[line].rstrip("\n") + " "
            text = "".join(lines)
        case 5:
            mark = random.choice(list(_QUOTES))
            text = text[:at] + text[at:].replace(mark, _QUOTES[mark], 1)
        case 6:
            other = random.randrange(len(lines))
            lines[line], lines[other] = lines[other], lines[line]
            text = "".join(lines)
        case 7:
            return text.encode(random.choice(("utf-16", "latin-1", "utf-32", "cp037")), "replace")
        case 8:
            return text[:at].encode() + bytes(random.randrange(256) for _ in range(3)) + text[at:].encode()
        case 9:
            text = "\ufeff" + text.replace("\n", "\r\n")
        case 10:
            deep = random.choice((3, 50, 2000))
            text = text + f"\nx = {'[' * deep}{']' * random.choice((deep, deep - 1))}\n"
        case _:
            text = text[:at] + random.choice(("1" * 5000, "x" * 5000, "a." * 500, "-" * 300)) + text[at:]
    return text.encode("utf-8", "surrogatepass")


def job_tree(random: Random, *, slips: float = 0.6, tunnels: float = 0.05) -> Tree:
    """A job as values: sound, measured anew, with more tables, and in a share of them with slips."""
    tree = sound(random, tunnels=tunnels)
    measured(random, tree)
    for _ in range(random.choice((0, 0, 1, 1, 2, 3))):
        tree = with_more(random, tree)
    if random.random() < slips:
        for _ in range(random.choice((1, 1, 1, 2, 3))):
            slip(random, tree)
    return tree


__all__ = ["Tree", "job_tree", "leaves", "schema", "slip", "sound", "stated", "text_slip", "written"]
