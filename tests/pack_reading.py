"""A whole pack made once and read back: PDFs by PDFium, DXF by ezdxf, SVG and screens by XML and HTML parsers."""

from __future__ import annotations

import asyncio
import io
import json
import re
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import redirect_stdout
from dataclasses import dataclass
from html.parser import HTMLParser
from math import hypot
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import ezdxf
import httpx
import numpy as np
import pytest
from tests import pack_neck
from tests import pack_rules as rules
from tests.pack_figures import Figure, Reading, read
from tests.pack_rules import Text
from tests.pack_text import cards_on, paragraphs, runs
from tests.pack_truth import Truth

from scribeline.cli import report
from scribeline.drawing.pack import drawn
from scribeline.job import parse_job
from scribeline.plan import Plan, plan
from scribeline.store import open_store
from scribeline.web.app import create_app
from scribeline.web.shop import Shop

STANDS_FOR = {
    "scrap-screw": "bridge screw pilot",
    "scrap-two-sided": "string hole",
    "chase": "ferrule hole",
}
"""Cards that cut nothing in the body, and the holes whose numbers they tell."""

PRESSED = ("bridge-stud", "bridge-post", "tailpiece-stud")
"""Holes that bushings are pressed into."""

DRAWN = {
    "Bridge set-out": ("bridge", ("across",)),
    "Heights": ("strings", ("wanted",)),
    "Section through the bridge": ("page", ("depth", "point", "thickness", "overlap")),
}
"""Drawing sheets with dimensions that no word explains, and which cuts' numbers of which kinds they may be."""


@dataclass(frozen=True)
class Pack:
    """One job's pack as bytes, and what its plan.json says."""

    truth: Truth
    files: dict[str, bytes]
    plan_text: str
    screens: dict[str, str]


def made(text: str, folder: Path) -> Pack:
    """Make everything a job's numbers are printed in.

    Args:
        text: the job.
        folder: an empty one.
    """
    files: dict[str, bytes] = {}
    planned = plan(*parse_job(text))
    for name, content in drawn(planned):
        files[name] = content
        if name == "plan.json":
            break  # the solids come after it, slowly, and say no number
    truth = Truth(json.loads(files["plan.json"]), text)
    return Pack(truth, files, _said(planned), _screens(text, folder, truth))


def _said(planned: Plan) -> str:
    """What `scribeline plan` says, on a terminal so wide that nothing is broken but in tables."""
    told = io.StringIO()
    with pytest.MonkeyPatch.context() as patched, redirect_stdout(told):
        patched.setenv("COLUMNS", "300")
        patched.setattr(report, "WIDTH", 300)
        report.numbers(planned)
    return told.getvalue()


def _screens(text: str, folder: Path, truth: Truth) -> dict[str, str]:
    """The app's pages that show numbers of the plan, by address."""
    store = open_store(folder / "shop.db")
    app = create_app(Shop(store, folder, port=8437))
    store.create(text, by="Ann")
    addresses = ["plan", "steps", "strings", "heights", "checks"]
    one_of_each = {cut["role"]: cut["id"] for cut in (*truth.bores.values(), *truth.pockets.values())}
    addresses += [f"plan?at={cut}" for cut in one_of_each.values()]
    for card in truth.plan["steps"]:
        holes = len(card["features"]) or 1
        addresses += [f"steps/{card['id']}?hole={n}" for n in range(1, holes + 1)]

    async def ask() -> dict[str, str]:
        transport = httpx.ASGITransport(app, client=("127.0.0.1", 4711))
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1:8437") as client:
            answers = {each: await client.get(f"/jobs/1/{each}", timeout=600) for each in addresses}
            return {each: answer.raise_for_status().text for each, answer in answers.items()}

    with ThreadPoolExecutor(1) as aside:  # this thread may have a browser's loop running
        pages = aside.submit(asyncio.run, ask()).result()
    store.close()
    return pages


def pages_of(pack: Pack, name: str) -> Iterator[str]:
    """Each page of a PDF of the pack as text."""
    for page in runs(pack.files[name]):
        yield " | ".join(each.text for each in paragraphs(page))


def templates(pack: Pack) -> Iterator[Text]:
    """templates.pdf, read."""
    for n, raw in enumerate(pages_of(pack, "templates.pdf"), 1):
        text = Text(pack.truth, f"templates.pdf, page {n}", *read(raw, pack.truth.unit))
        pack_neck.read_template(text)
        rules.apply(text, rules.templates(pack.truth), [""])
        yield text


def sheets(pack: Pack) -> Iterator[Text]:
    """sheets.pdf, read."""
    truth, before = pack.truth, tuple[str, ...]()
    for n, page in enumerate(pages_of(pack, "sheets.pdf"), 1):
        raw, said = page, list[str]()
        title = re.search(r"Title (?:\| )?(.*?) \| View", raw)
        assert title, raw
        if title[1].startswith(("What to get", "Height card")):
            raw, said = rules.without(raw, truth.sentences)
        text = Text(
            truth, f"sheets.pdf, page {n}, {title[1]}", *read(raw, truth.unit), before=before, said=said
        )
        pack_neck.read_sheet(text)
        rules.apply(text, rules.sheets(truth, title[1]), [""])
        if title[1] in DRAWN:
            which, kinds = DRAWN[title[1]]
            rules.drawn(text, _shown(truth, which, text.marked), kinds)
        rows = re.findall(rules.NUMBERS + r"(?= [a-z])", text.marked)
        before = tuple(truth.numbers(rows[-1])) if rows else ()
        yield text


def _shown(truth: Truth, which: str, marked: str) -> list[str]:
    if which == "pockets":
        return [each["id"] for each in truth.pockets.values() if each["face"] == "top"]
    if which == "page":
        return ["", *truth.numbers(marked), *(p["id"] for p in truth.pockets.values() if p["role"] in marked)]
    if which == "strings":
        return [f"string {each['no']}" for each in truth.plan["strings"]]
    if which == "bridge" and truth.units:
        return [f"base {each['id'].removeprefix('unit-')}" for each in truth.units]
    stems = ("ferrule",) if which == "ferrules" else ("bridge-screw", "string-hole", "ground-wire")
    return ["", *(each for each in truth.bores if each.startswith(stems))]


def cards(pack: Pack) -> Iterator[Text]:
    """steps.pdf, read: the order of work row by row, each card with its own cuts."""
    truth = pack.truth
    pages = runs(pack.files["steps.pdf"])
    order = [each.text for page in pages if not list(cards_on(page)) for each in paragraphs(page)]
    for card, raw in _rows_of_order(truth, " | ".join(order)):
        text = Text(truth, f"steps.pdf, order of work, step {card['no']}", *read(raw, truth.unit))
        rules.apply(text, (*rules.ORDER, *rules.listed(card), *rules.CARDS), scope(truth, card) or [""])
        yield text
    for raw in (
        " | ".join(each.text for each in paragraphs(part)) for page in pages for part in cards_on(page)
    ):
        marked, figures = read(raw, truth.unit)
        number = re.search(r"step (\d+) of", marked)
        assert number, raw
        card = truth.plan["steps"][int(number[1]) - 1]
        text = Text(truth, f"steps.pdf, step {number[1]}", marked, figures)
        rules.apply(text, rules.GATES, [card["id"]])
        rules.apply(text, rules.BIT, scope(truth, card))
        pack_neck.read_card(text, scope(truth, card))
        cuts = scope(truth, card)
        rules.apply(text, _section(truth, cuts), _shown_at(text) or (cuts if card["features"] else cuts[:1]))
        rules.apply(text, rules.CARDS, scope(truth, card) or [""])
        yield text


def _rows_of_order(truth: Truth, raw: str) -> Iterator[tuple[dict[str, Any], str]]:
    """The order of work in rows: each begins with a card's number and its title."""
    flat = re.sub(r"[\s|]+", " ", raw)
    at = 0
    found: list[tuple[dict[str, Any], int]] = []
    for card in truth.plan["steps"]:
        at = flat.find(f" {card['no']} {card['title'].split()[0]}", at)
        assert at >= 0, card["title"]
        found.append((card, at))
    ends = [*(start for _, start in found[1:]), len(flat)]
    for (card, start), end in zip(found, ends, strict=True):
        yield card, flat[start:end].partition(" CAUTION ")[0]


def _section(truth: Truth, cuts: Sequence[str]) -> tuple[rules.Rule, ...]:
    """The rules of a section through these cuts."""
    return (*(rules.FLOOR if set(cuts) <= truth.pockets.keys() else ()), *rules.SECTION)


def _shown_at(text: Text) -> list[str]:
    """The hole at which a card's section is drawn, where it says so."""
    found = re.search(r"Section, [^«»]*?, at ([A-Z]\d*)\b", text.marked)
    return text.truth.numbers(found[1]) if found else []


def scope(truth: Truth, card: dict[str, Any]) -> list[str]:
    """The cuts that a card is about."""
    if "bushing" in card["id"] and not card["features"]:
        pressed = [b for b in truth.bores.values() if b["id"].startswith(PRESSED)]
        return [b["id"] for b in pressed if card["bit"] in {None, b["steps"][0]["bit"]}]
    if card["features"] or card["id"] not in STANDS_FOR:
        return list(card["features"])
    return truth.by_role(STANDS_FOR[card["id"]])


def plan_text(pack: Pack) -> Iterator[Text]:
    """What `scribeline plan` says, read: each block of holes with its own."""
    for n, block in enumerate(pack.plan_text.split("\n\n"), 1):
        raw = re.sub(r" +", " ", " | ".join(_unwrapped(block) if n == 1 else block.splitlines()))
        said: list[str] = []
        if "Limit from:" in raw:
            raw, said = rules.without(raw, pack.truth.sentences)
        text = Text(pack.truth, f"plan, block {n}", *read(raw, pack.truth.unit), said=said)
        ids = pack.truth.numbers(", ".join(re.findall(r"^  ([A-Z]\d*) ", block, re.MULTILINE)))
        rules.apply(text, (*rules.measured(pack.truth), *rules.PLAN), ids or [""])
        yield text


_OF_THE_BRIDGE = re.compile(r"^[A-Z][a-z ]+, its .* from the 12th fret$", re.MULTILINE)


def _unwrapped(block: str) -> Iterator[str]:
    """The rows of the table of what is to be measured: what runs over in its first column drawn together."""
    head = next(line for line in block.splitlines() if line.startswith("what"))
    column = re.search(r" (?:mm|inch)\b", head)
    assert column
    left, right = "", ""
    for line in block.splitlines():
        if _OF_THE_BRIDGE.match(line):
            break
        told, numbers = line[: column.start()].strip(), line[column.start() :].strip()
        if not line.startswith(" ") and column.start() > len(line.rstrip()) and right:
            left = f"{left} {told}"
            continue
        yield f"{left} {right}"
        left, right = told, numbers
    yield f"{left} {right}"
    below = _OF_THE_BRIDGE.search(block)
    assert below
    yield from block[below.start() :].splitlines()


class _Words(HTMLParser):
    """The words of a page that a person sees."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []
        self._hidden = 0

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self._hidden += tag in {"script", "style", "nav"}

    def handle_endtag(self, tag: str) -> None:
        self._hidden -= tag in {"script", "style", "nav"}

    def handle_data(self, data: str) -> None:
        if not self._hidden and data.strip():
            self.said.append(re.sub(r"\s+", " ", data.strip()))


def screens(pack: Pack) -> Iterator[Text]:
    """The app's pages, read."""
    truth = pack.truth
    for address, page in pack.screens.items():
        words = _Words()
        words.feed(page)
        raw, said = " | ".join(words.said), list[str]()
        if address.startswith(("checks", "heights", "plan")):
            raw, said = rules.without(raw, truth.sentences)
        if address == "strings":
            # Cents, tensions and other sets are not in plan.json.
            raw = re.sub(
                r"Cents at every fret.*?(?=Saddle travel)", "", raw.partition("The job's strings")[0]
            )
        text = Text(truth, f"app, {address}", *read(raw, truth.unit), said=said)
        if address.startswith("steps/"):
            card = truth.cards[address.split("?")[0].removeprefix("steps/")]
            ids = scope(truth, card)
            if card["features"]:
                ids = [ids[int(address.rpartition("=")[2]) - 1]]
            rules.apply(text, rules.GATES, [card["id"]])
            rules.apply(text, rules.BIT, ids)
            pack_neck.read_card(text, ids)
            rules.apply(text, _section(truth, ids), _shown_at(text) or (ids if card["features"] else ids[:1]))
            place = rules.ROUTED if ids and ids[0] in truth.pockets else rules.DRILLED
            rules.apply(text, (*place, *rules.SCREENS, *rules.CARDS), ids or [""])
        elif address == "heights":
            rules.apply(text, rules.heights_page(truth), [""])
            rules.drawn(text, _shown(truth, "strings", text.marked), ("wanted",))
        elif address == "steps":
            for card in truth.cards.values():
                rules.apply(text, rules.listed(card), scope(truth, card) or [""])
        else:
            if address == "strings":
                rules.apply(text, rules.WINDOW_LINE, [""])
            rules.apply(
                text, (*rules.PICKED, *rules.sheets(truth, "Saddle travel")), [address.rpartition("at=")[2]]
            )
            rules.apply(text, rules.pictures(truth), [""])
        yield text


def _number(text: str, value: float) -> Figure:
    """A number of a drawing, which says a tenth of what plan.json can: a file's last place is altered by two."""
    return Figure((Reading(text, value, 5e-5, 2e-4),), 0)


@dataclass
class _Cut:
    """One shape of a drawing of the cuts: its layer's words, and its centre, mm, in the instrument's frame."""

    id: str
    layer: str
    centre: tuple[float, float] | None
    radius: float | None
    corners: Sequence[tuple[float, float]] = ()


def cut_file(pack: Pack, name: str) -> Iterator[Text]:
    """body.dxf or body.svg, read: each shape with the numbers of its layer's name."""
    truth = pack.truth
    for cut in _svg(pack) if name == "body.svg" else _dxf(pack):
        marked, figures = read(
            re.sub(r"(\d) degrees", r"\1°", re.sub(r"(\d\.\d\d)", r"\1 mm", cut.layer)), "mm"
        )
        text = Text(truth, f"{name}, {cut.layer}, {cut.id}", marked, figures)
        rules.apply(text, rules.LAYERS, [cut.id])
        for kind, value in (
            ("mouth nut", cut.centre and cut.centre[0]),
            ("mouth across", cut.centre and cut.centre[1] * truth.side),
            ("radius", cut.radius),
        ):
            if value is not None:
                text.figures.append(_number(f"{kind} {value:.4f}", value))
                text.claim([cut.id], kind, len(text.figures) - 1)
        for place, corner in enumerate(cut.corners):
            for axis, value in zip("xy", corner, strict=True):
                text.figures.append(_number(f"corner {place} {axis} {value:.4f}", value))
                text.claim([cut.id], f"corner {place} {axis}", len(text.figures) - 1)
        yield text


def _dxf(pack: Pack) -> Iterator[_Cut]:
    drawing = ezdxf.read(io.StringIO(pack.files["body.dxf"].decode()))  # type: ignore[attr-defined]
    for shape in drawing.modelspace():
        layer = shape.dxf.layer
        if shape.dxftype() == "CIRCLE":
            centre = (shape.dxf.center.x, shape.dxf.center.y)
            yield _Cut(_nearest(pack.truth, layer, centre), layer, centre, shape.dxf.radius)
        elif shape.dxftype() == "LWPOLYLINE":
            corners = [(x, y) for x, y, *_ in shape.get_points()]  # type: ignore[attr-defined]
            yield from _outlined(pack.truth, layer, corners, "")


def _svg(pack: Pack) -> Iterator[_Cut]:
    root = ElementTree.fromstring(pack.files["body.svg"])
    space = "{http://www.w3.org/2000/svg}"
    groups = {each.get("data-layer", ""): each for each in root.iter(f"{space}g")}
    paths = [_corners(each.get("d", "")) for each in groups["outline"].iter(f"{space}path")]
    drawn_at, truly = np.array(paths[0]), np.array(pack.truth.plan["body"]["outline"])
    # The mean over all corners, for each is rounded by itself.
    left = float(np.mean(np.sort(truly[:, 0]) - np.sort(drawn_at[:, 0])))
    top = float(np.mean(np.sort(truly[:, 1]) + np.sort(drawn_at[:, 1])[::-1]))

    def placed(x: float, y: float) -> tuple[float, float]:
        return float(x + left), float(top - y)

    for layer, group in groups.items():
        for shape in group.iter():
            cut = shape.get("data-ref", "")
            if shape.tag == f"{space}circle":
                centre = placed(float(shape.get("cx", "")), float(shape.get("cy", "")))
                yield _Cut(cut, layer, centre, float(shape.get("r", "")))
            elif shape.tag == f"{space}path" and cut in pack.truth.cuts:
                corners = [placed(*corner) for corner in _corners(shape.get("d", ""))]
                if len(corners) > 2:
                    yield from _outlined(pack.truth, layer, corners, cut)


def _corners(path: str) -> list[tuple[float, float]]:
    numbers = [float(each) for each in re.findall(r"-?[\d.]+", path)]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def _outlined(truth: Truth, layer: str, corners: Sequence[tuple[float, float]], cut: str) -> Iterator[_Cut]:
    """A pocket with its corners; a level bore with the middle and the width of its mouth; a slanting one with its middle."""
    if " pocket " in layer and layer.split()[1] == "pocket":
        for each in truth.pockets.values():
            if each["role"] in layer and len(each["outline"]) == len(corners) and cut in {"", each["id"]}:
                yield _Cut(each["id"], layer, None, None, corners)
                return
    elif " bore " in layer or " counterbore " in layer:
        (ax, ay), (bx, by) = corners[0], corners[-1]
        middle, radius = ((ax + bx) / 2, (ay + by) / 2), hypot(ax - bx, ay - by) / 2
        slanting = "degrees from" in layer
        if slanting:
            x, y = (np.array(corners).min(axis=0) + np.array(corners).max(axis=0)) / 2
            middle = (float(x), float(y))
        yield _Cut(cut or _nearest(truth, layer, middle), layer, middle, None if slanting else radius)


def _nearest(truth: Truth, layer: str, place: tuple[float, float]) -> str:
    """The bore of this layer's face whose axis meets it nearest to a place."""
    face = layer.split(maxsplit=1)[0]
    on = [each for each in truth.bores.values() if each["face"] == face]
    return str(min(on, key=lambda each: hypot(each["at"][0] - place[0], each["at"][1] - place[1]))["id"])


def everything(pack: Pack) -> dict[str, list[Text]]:
    """Every output by name, read."""
    return {
        "templates.pdf": list(templates(pack)),
        "sheets.pdf": list(sheets(pack)),
        "steps.pdf": list(cards(pack)),
        "plan": list(plan_text(pack)),
        "app": list(screens(pack)),
        "body.dxf": list(cut_file(pack, "body.dxf")),
        "body.svg": list(cut_file(pack, "body.svg")),
    }
