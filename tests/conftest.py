"""What many tests share: the demo's job text, and a way to change single keys of it."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

import pytest
import tomlkit
from hypothesis import settings

from scribeline.job import Job, parse_job
from scribeline.plan import Plan, plan
from scribeline.scenario import demo_jobs
from scribeline.strings import Saddles, Wanted, Window, place_bridge

from .torture import examples

settings.register_profile(
    "untimed", deadline=None, max_examples=examples(100)
)  # how fast a machine is is no business of a test
settings.load_profile("untimed")


def pytest_xdist_auto_num_workers() -> int:
    """Two more than there are processors: the tests of the app often wait for a browser, an app or a disk."""
    return (os.cpu_count() or 1) + 2


KEPT_SETTINGS = 11
"""Settings after which the typesetter has let go of what earlier ones gave it to keep; ten are not enough."""


@pytest.fixture(autouse=True, scope="module")
def forgetful_typesetter() -> Iterator[None]:
    """What the typesetter keeps of a module's packs goes with the module: half a gigabyte each, ten of them and more."""
    yield
    if "typst" in sys.modules:
        import typst

        fonts = typst.Fonts(include_system_fonts=False)
        for _ in range(KEPT_SETTINGS):
            typst.compile(b"forget", font_paths=fonts)


LONGEST = (
    *(
        "test_fuzzed",
        "test_app_steps",
        "test_app_editing",
        "test_sheets",
        "test_app_sheets",
        "test_templates",
    ),
    *(
        "test_app_stops",
        "test_app_live",
        "test_app_awaits",
        "test_app_story",
        "test_step_cards",
        "test_tiles",
    ),
    *("test_app_offline", "test_app_press"),
    *("test_bounds", "test_pack_ties", "test_disk", "test_app_api", "test_app_pages", "test_app_serve"),
    *("test_planted_mistakes", "test_clearance_oracle", "test_clearance_kernel", "test_bench_simulator"),
)
"""Files of tests that take long, the longest first."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let every process begin with long files and end with quick tests, which are what others take over from it."""
    hands = int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))
    if hands > 1:
        items[:] = dealt(items, hands)


def dealt(items: Sequence[pytest.Item], hands: int) -> list[pytest.Item]:
    """Tests in the order in which the processes get a like number each, one after the other.

    Long files are dealt whole, to and fro; quick tests fill up each share.
    """
    files: dict[str, list[pytest.Item]] = {}
    for item in items:
        files.setdefault(item.path.stem, []).append(item)
    shares: list[list[pytest.Item]] = [[] for _ in range(hands)]
    for n, name in enumerate(name for name in LONGEST if name in files):
        turn, place = divmod(n, hands)
        shares[place if turn % 2 == 0 else hands - 1 - place] += files.pop(name)
    quick = [item for file in files.values() for item in file]
    for n, share in enumerate(shares):
        left = len(items) - sum(map(len, shares[:n]))
        taken = max(0, left // (hands - n) - len(share))
        share.extend(quick[:taken])
        del quick[:taken]
    return [item for share in shares for item in share] + quick


SHIPPED = demo_jobs()["marram.toml"]

WITHOUT_TUNNELS = re.sub(r"\[\[tunnels\]\]\n(?:[^\[\n].*\n|\n)*", "", SHIPPED)
"""The demo with no wire way to be looked for: it is planned at once."""

SETBACKS = (1.4, 2.2, 3.5, 2.7, 3.2, 4.2)


def _with_stated_setbacks(text: str) -> str:
    """The demo with its setbacks stated and one string set, so that its numbers can be worked by hand."""
    stated = iter(SETBACKS)
    text = re.sub(r"\n\[\[string_sets\]\].*?\n\]\n", "\n", text, flags=re.DOTALL)
    return re.sub(r"(\[\[strings\]\]\n.*\n.*\n)", lambda found: f"{found[0]}setback = {next(stated)}\n", text)


def _bare(text: str) -> str:
    """A job without the parts that hang on bridge, strings, neck and pockets, and without the bits bought for them."""
    tables = "jack|strap_buttons|neck_screws|controls|holes|tunnels"
    text = re.sub(rf"(#.*\n)*\[\[?({tables})\]\]?\n(\w.*\n|\n|#.*\n(?=\w))*", "", text)
    text = re.sub(r"^(board_thickness|timber = \"maple|ledge|cover_screws).*\n", "", text, flags=re.MULTILINE)
    for bit in (" 3.6,", " 4.5,", ", 10.0, 12.0", ", 22.0, 24.0"):
        text = text.replace(bit, "", 1)
    return text.replace("{ diameter = 6.0, reach = 220 }", "6.0", 1)


FULL = _with_stated_setbacks(SHIPPED)
"""The demo with everything it has."""

DEMO = _bare(FULL)
"""What most tests change: bridge, strings, neck and three pockets, and nothing that hangs on them."""


class Edit(Protocol):
    """Changes keys of a job's text, as in {"bridge.spacing": 9.5, "strings[2].gauge": None}."""

    def __call__(self, changes: Mapping[str, Any], base: str = DEMO) -> str:
        """Set each key to its value; None takes the key out; one past a list's end appends."""


class Planned(Protocol):
    """Plans the demo with keys changed."""

    def __call__(self, changes: Mapping[str, Any] | None = None, base: str = DEMO) -> Plan:
        """Read the changed text and plan it."""


def change(changes: Mapping[str, Any], base: str = DEMO) -> str:
    document = tomlkit.parse(base).unwrap()
    for path, value in changes.items():
        keys: list[str | int] = [
            int(part[1:-1]) - 1 if part.startswith("[") else part
            for part in re.findall(r"\[\d+\]|[^.\[\]]+", path)
        ]
        here: Any = document
        for key in keys[:-1]:
            here = here.setdefault(key, {}) if isinstance(key, str) else here[key]
        last = keys[-1]
        if value is None:
            del here[last]
        elif isinstance(last, int) and last == len(here):
            here.append(value)
        else:
            here[last] = value
    return tomlkit.dumps(document)


def in_inches(text: str) -> str:
    """The same lengths in a job in inches: what stands bare gets its unit."""
    counted = {"scribeline", "frets", "top_share", "turn", "angle", "heading", "saddle_deviations"}
    counted |= {"square_fret", "dots", "double_dots", "bass_side", "treble_side"}

    def stated(value: Any, key: str) -> Any:
        if isinstance(value, dict):
            return {k: stated(v, k) for k, v in value.items()}
        if isinstance(value, list):
            return [stated(v, key) for v in value]
        if isinstance(value, bool) or key in counted:
            return value
        if isinstance(value, int | float):
            return f"{value} mm"
        found = re.fullmatch(r"([\d.]+) \+/- ([\d.]+)", value) if isinstance(value, str) else None
        return f"{found[1]} mm +/- {found[2]} mm" if found else value

    document = stated(tomlkit.parse(text).unwrap(), "")
    return tomlkit.dumps({**document, "units": "in"})


def place_plate(wanted: Sequence[float], *, forward_stop: float, back_stop: float, reserve: float) -> Window:
    """The window of one string set whose setbacks are stated, so that they have no spread."""
    count = len(wanted)
    stated = Wanted("stated", tuple(float(each) for each in wanted), (0.0,) * count)
    row = tuple(10.5 * ((count - 1) / 2 - n) for n in range(count))
    return place_bridge([stated], Saddles(forward_stop, back_stop, row), reserve=reserve)


@pytest.fixture(scope="session")
def demo_text() -> str:
    return DEMO


@pytest.fixture(scope="session")
def edited() -> Edit:
    return change


@pytest.fixture(scope="session")
def planned() -> Planned:
    def made(changes: Mapping[str, Any] | None = None, base: str = DEMO) -> Plan:
        return plan(*parse_job(change(changes or {}, base)))

    return made


@pytest.fixture(scope="session")
def demo_job() -> Job:
    return parse_job(DEMO).job


@pytest.fixture(scope="session")
def demo_plan(demo_job: Job) -> Plan:
    return plan(demo_job)


@pytest.fixture(scope="session")
def shipped_plan() -> Plan:
    """The demo just as it is shipped: setbacks worked out from its strings."""
    return plan(*parse_job(SHIPPED))


@pytest.fixture
def demo_file(tmp_path: Path) -> Path:
    path = tmp_path / "marram.toml"
    path.write_text(DEMO, encoding="utf-8")
    return path
