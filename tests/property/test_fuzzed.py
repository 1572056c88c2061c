"""What no example thought of: jobs, drawings and records from seeds, and whether accepted plans can be cut.

`make torture` runs 50,000 inputs; here run the cheap kinds and a few of those that plan. `python -m tests.fuzzing
--replay SEED` shows one input and what came of it.
"""

from __future__ import annotations

import ast
import copy
import json
import os
import subprocess
import sys
from collections.abc import Callable
from itertools import count, islice
from pathlib import Path
from typing import Any

import pytest

from scribeline.job import parse_job
from scribeline.plan import plan
from scribeline.plan.record import as_json

from ..fuzzing import plan_geometry
from ..fuzzing.__main__ import Campaign, is_quick
from ..fuzzing.inputs import KINDS, kind_of, made
from ..fuzzing.plan_geometry import faults_of
from ..pack_jobs import PACK_JOBS

INPUTS = int(os.environ.get("SCRIBELINE_FUZZED", "0"))
"""How many inputs of every kind `make torture` runs; none here, but those of the quick round."""

QUICK = 500
"""How many of a quick round, most of them drawings: a quarter of a minute of one processor."""

ROUNDS = range(0, 200_000, 50_000)
"""First seeds of the quick rounds."""

ROOT = Path(__file__).parents[2]

Record = dict[str, Any]


def fuzzed(*words: str) -> tuple[int, str]:
    """The fuzzer's exit code and report, run as a person would."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.fuzzing", *words], cwd=ROOT, capture_output=True, text=True, check=False
    )
    return done.returncode, done.stdout + done.stderr


@pytest.mark.parametrize("first", ROUNDS)
def test_two_thousand_inputs_find_nothing(first: int, tmp_path: Path) -> None:
    code, told = fuzzed("--inputs", str(QUICK), "--quick", "--start", str(first), "--state", str(tmp_path))
    assert code == 0, told
    assert told.startswith(f"{QUICK} inputs")
    counts = json.loads((tmp_path / "state.json").read_text("utf-8"))["counts"]
    assert sum(counts.get(f"{kind} planned", 0) for kind in KINDS) > QUICK / 20


def test_the_quick_rounds_have_every_kind() -> None:
    seeds = (seed for first in ROUNDS for seed in islice(filter(is_quick, count(first)), QUICK))
    assert {kind_of(seed) for seed in seeds} == KINDS.keys()


@pytest.mark.skipif(not INPUTS, reason="`make torture` runs them all")
def test_every_kind_in_the_share_it_has() -> None:
    code, told = fuzzed("--inputs", str(INPUTS), "--workers", "2", "--state", str(ROOT / "out" / "fuzzing"))
    sys.stdout.write(told)
    assert code == 0, told


def test_an_input_follows_from_its_seed_alone() -> None:
    seeds = {kind_of(seed): seed for seed in range(400)}
    assert seeds.keys() == KINDS.keys()
    del seeds["done"]  # which begins with a plan
    assert [made(seed) for seed in seeds.values()] == [made(seed) for seed in seeds.values()]
    assert made(3) != made(4)


def test_a_stopped_round_goes_on_where_it_was(tmp_path: Path) -> None:
    first = Campaign(tmp_path, quick=True, start=5)
    begun = first.batch(7)
    assert begun[0] >= 5
    assert all(is_quick(seed) for seed in begun)
    first.ended("svg", planned=True, accepted=False, seconds=0.5)
    first.fault(begun[0], "svg", "traceback", "somewhere")
    first.keep()
    second = Campaign(tmp_path, quick=True, start=0)
    assert (second.ran, second.counts["svg planned"], second.faults) == (1, 1, first.faults)
    assert second.batch(3) == first.batch(3)
    assert {path.name for path in (tmp_path / "faults" / str(begun[0])).iterdir()} >= {
        "job.toml",
        "command.txt",
    }


# Whether accepted plans can be cut


def test_the_check_knows_nothing_of_the_project() -> None:
    tree = ast.parse(Path(plan_geometry.__file__).read_text("utf-8"))
    froms = [node.module or "." * node.level for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    names = [name.name for node in ast.walk(tree) if isinstance(node, ast.Import) for name in node.names]
    assert {each.partition(".")[0] for each in (*froms, *names)} == {
        "__future__", "collections", "functools", "itertools", "math", "numpy", "shapely", "typing",
    }  # fmt: skip


@pytest.fixture(scope="module")
def good() -> Record:
    found: Record = json.loads(as_json(plan(*parse_job(PACK_JOBS["demo"]))))
    return found


def test_a_good_plan_has_no_faults(good: Record) -> None:
    assert faults_of(good) == []


def bore(plan: Record, name: str) -> Record:
    found: Record = next(each for each in plan["bores"] if each["id"] == name)
    return found


def pocket(plan: Record, name: str) -> Record:
    found: Record = next(each for each in plan["pockets"] if each["id"] == name)
    return found


def moved(name: str, x: float, y: float) -> Callable[[Record], None]:
    def change(plan: Record) -> None:
        at = bore(plan, name)["at"]
        at[0] += x
        at[1] += y

    return change


def deeper(name: str, by: float) -> Callable[[Record], None]:
    def change(plan: Record) -> None:
        hole = bore(plan, name)
        hole["steps"][-1]["depth"] += by
        hole["depth_stop"] += by

    return change


def pocket_deeper(plan: Record) -> None:
    pocket(plan, "control-cavity")["depth"] = 44.4


def pocket_away(plan: Record) -> None:
    for corner in pocket(plan, "bridge-pickup")["outline"]:
        corner[1] += 130


def wide_neck(plan: Record) -> None:
    for corner in pocket(plan, "neck-pocket")["outline"]:
        corner[1] *= 2.2


def small_cover(plan: Record) -> None:
    recess = pocket(plan, "control-cavity-cover-recess")["outline"]
    x, y = (sum(each) / len(recess) for each in zip(*recess, strict=True))
    recess[:] = [[x + 0.5 * (a - x), y + 0.5 * (b - y)] for a, b in recess]


def no_number(plan: Record) -> None:
    bore(plan, "ferrule-hole-3")["steps"][0]["depth"] = float("nan")


def pocket_into_pocket(plan: Record) -> None:
    for corner in pocket(plan, "neck-pickup")["outline"]:
        corner[0] += 60


def jack_up(plan: Record) -> None:
    bore(plan, "jack")["at"][2] = -8.0


def saddle_out(plan: Record) -> None:
    plan["bridge"]["saddles"][2]["slack_back"] = -0.4


def not_through(plan: Record) -> None:
    bore(plan, "neck-screw-1")["steps"][-1]["depth"] = 20.0


def short_jack(plan: Record) -> None:
    bore(plan, "jack")["steps"][-1]["depth"] -= 25.0


def forgotten(plan: Record) -> None:
    for work in plan["operations"]:
        work["cuts"] = [cut for cut in work["cuts"] if cut["feature"] != "string-hole-4"]


BAD: dict[str, tuple[Callable[[Record], None], str]] = {
    "a hole beside the body": (moved("bridge-screw-1", 0, -160), "bridge-screw-1 begins outside the body"),
    "a blind hole that comes out": (deeper("bridge-screw-2", 20.0), "bridge-screw-2 comes out of the other side by 0.2"),
    "a hole that stops short": (not_through, "neck-screw-1 is to go through and ends 8.40 mm before"),  # 28.4 of wood
    "a pocket as deep as the body": (pocket_deeper, "control-cavity goes through the body"),
    "a pocket over the edge": (pocket_away, "bridge-pickup lies outside the body"),
    "a neck wider than its wood": (wide_neck, "neck-pocket has no wood beside it"),
    "a cover smaller than its cavity": (small_cover, "does not lie over the whole of control-cavity"),
    "a cover's screw in the air": (moved("cover-screw-1", 30, 0), "cover-screw-1 stands in no wood"),
    "a hole beside the plate": (moved("string-hole-1", -60, 0), "string-hole-1 does not lie under the bridge"),
    "a string hole beside its ferrule": (moved("string-hole-6", 0.5, 0), "string-hole-6 does not stand over ferrule-hole-6"),
    "pockets that run into each other": (pocket_into_pocket, "run into each other"),
    "a jack that breaks the top": (jack_up, "jack comes out of the top or the back"),
    "a strap button off the edge": (moved("strap-button-1", 3.0, 0), "strap-button-1 begins 2.92 mm from the wall"),  # 3 cos 13°
    "a jack that ends in the wood": (short_jack, "jack does not come as far as control-cavity"),
    "a hole that no step drills": (forgotten, "string-hole-4 has its diameter 1 cut by 0 steps"),
    "a saddle past its travel": (saddle_out, "a saddle is wanted beyond its travel"),
    "a number that is none": (no_number, "is nan"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_a_bad_plan_is_caught(good: Record, case: str) -> None:
    change, words = BAD[case]
    bad = copy.deepcopy(good)
    change(bad)
    faults = faults_of(bad)
    assert any(words in each for each in faults), faults
