"""Numbers of seven jobs as they were planned before the house was rebuilt, so that no rebuilding moves one.

`python -m tests.regression.kept_plans` writes them anew from the plans of the code at hand: only where a number was wrong,
with the reason in `MOVED`.
"""

from __future__ import annotations

import json
import lzma
import re
from pathlib import Path
from typing import Any

from scribeline.job import parse_job
from scribeline.plan import plan
from scribeline.plan.record import as_json

from ..pack_jobs import PACK_JOBS

_JOBS = Path(__file__).parents[1] / "jobs"
_KEPT = Path(__file__).with_suffix(".json.xz")

_SEARCHED = re.compile(r"(?ms)^\[\[tunnels\]\].*?(?=^\[(?!\[tunnels))")

_TEXTS = {
    **{name: PACK_JOBS[name] for name in ("demo", "inch_left", "stepped", "arched")},
    **{
        name: (_JOBS / f"{name}.toml").read_text(encoding="utf-8")
        for name in ("left_handed", "seven", "bass")
    },
}
JOBS = {name: _SEARCHED.sub("", text) for name, text in _TEXTS.items()}
"""The text of each job by its name: the demo and six further ones, without the wire holes whose way is searched for.

It went other ways on other processors when these were kept. Its own tests hold it, `test_tunnels_anywhere` among them.
"""

_LEFT_OUT = frozenset(
    {
        "why",
        "how",
        "message",
        "cure",
        "source",
        "steps",
        "operations",
        "schema",
        "job",
        "may_happen",
        "quantities",
        "value_id",
        "limit_id",
    }
)
"""What may change while the house is rebuilt: prose, the steps, and the derivations of numbers that stand elsewhere in the
plan. Geometry, measurables, codes, values and limits stay."""

IDS: dict[str, str] = {
    "jack bore": "jack hole",
    "level with the floor of the recess": "level with the floor of the counterbore",
    "pickup switch shaft hole": "pickup switch hole",
    "tone shaft hole": "tone pot hole",
    "volume shaft hole": "volume pot hole",
}
"""What is called otherwise since: as it was, and as it is."""

MOVED: dict[tuple[str, str], str] = {}
"""Numbers that were wrong, by job and place, each with the reason."""

ADDED = ("bridge.kind", "bridge.footprint", "heights.", "neck.")
"""What plan.json tells since that it did not."""


def numbers_of(text: str) -> dict[str, Any]:
    """What must stay of a job's plan, flat: the place of each value in plan.json and the value."""
    found: dict[str, Any] = {}
    whole = json.loads(as_json(plan(*parse_job(text))))
    whole["measurables"] = [each for each in whole["measurables"] if not each["id"].startswith(LATER)]
    _flatten(whole, "", found)
    return found


LATER = "neck-"
"""How the measurables begin that there are since: those that find the neck's line."""


def _flatten(value: Any, place: str, found: dict[str, Any]) -> None:
    if isinstance(value, dict):
        for key, inner in value.items():
            if place or key not in {"steps", "operations"}:
                _flatten_named(key, inner, place, found)
    elif isinstance(value, list):
        found[f"{place}#"] = len(value)
        for n, inner in enumerate(value):
            _flatten(inner, f"{place}[{n}]", found)
    else:
        found[place] = value


def _flatten_named(key: str, inner: Any, place: str, found: dict[str, Any]) -> None:
    # The diameters of a hole are called steps as well, and those stay.
    if key not in _LEFT_OUT or (key == "steps" and place.startswith("bores")):
        _flatten(inner, f"{place}.{key}" if place else key, found)


def kept() -> dict[str, dict[str, Any]]:
    """By job, what was kept."""
    return json.loads(lzma.decompress(_KEPT.read_bytes()))  # type: ignore[no-any-return]  # as it was written


def main() -> None:
    """Keep the numbers as they are now."""
    text = json.dumps({name: numbers_of(text) for name, text in JOBS.items()}, separators=(",", ":"))
    _KEPT.write_bytes(lzma.compress(text.encode(), preset=9))


if __name__ == "__main__":
    main()
