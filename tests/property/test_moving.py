"""Moving a cut by what the job states of its place: it moves by as much, and nothing else does."""

from __future__ import annotations

from math import dist
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.torture import long

from scribeline.features import Bore, Feature, Features, make_features
from scribeline.job import Job, JobError, moved, parse_job, stated_place
from scribeline.layout import lay_out
from scribeline.scenario import demo_jobs, examples

INCHES = (Path(__file__).parents[1] / "jobs" / "inch_left.toml").read_text(encoding="utf-8")
TEXTS = {**demo_jobs(), "inch_left.toml": INCHES, **{name: each.text for name, each in examples().items()}}
FAR = {"mm": 0.005, "in": 0.0127}
"""What is written is rounded to the hundredth of a millimetre, or to the thousandth of an inch, mm."""


def cuts(text: str) -> tuple[Job, dict[str, Feature]]:
    job = parse_job(text).job
    layout = lay_out(job)
    made: Features = make_features(job.document, layout)
    return job, {each.id: each for each in made}


def middle(cut: Feature) -> tuple[float, float]:
    """Of a cavity, whose outline may turn as a fan's frets do where it goes, or of a hole's mouth."""
    if isinstance(cut, Bore):
        return cut.at.x, cut.at.y
    xs, ys = zip(*cut.outline, strict=True)
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


DAILY = ("marram.toml", "inch_left.toml", "seven-strings-fanned")


@pytest.mark.parametrize("name", [*DAILY, *long(*(name for name in TEXTS if name not in DAILY))])
def test_every_stated_cut_moves_by_as_much_and_nothing_else_does(name: str) -> None:
    job, before = cuts(TEXTS[name])
    treble = 1 if job.document.handed == "right" else -1
    moves = {cut.stated for cut in before.values() if cut.stated and not at_the_edge(cut)}
    assert moves
    for key in sorted(moves):
        try:
            _, after = cuts(moved(TEXTS[name], job.document, [key], 2.0, -1.5))
        except JobError:
            continue  # it can be stated nowhere else, such as an inlay's slot at its limit
        place = stated_place(job.document, key)
        assert place is not None
        own = {cut.id for cut in before.values() if cut.stated == key}
        # A cover's screws go with their cavity; a row and one of its places have keys of their own.
        along = {cut.id for cut in before.values() if cut.stated.startswith(f"{key}.")}
        for cut in before.values():
            by = (2.0, -1.5 * treble) if cut.id in own | along else (0.0, 0.0)
            if cut.stated == "" or at_the_edge(cut):
                continue  # worked out from others, or led back to the edge
            was, now = middle(cut), middle(after[cut.id])
            assert dist((was[0] + by[0], was[1] + by[1]), now) <= FAR[job.document.units] + 1e-6, (
                key,
                cut.id,
            )


def at_the_edge(cut: Feature) -> bool:
    return isinstance(cut, Bore) and cut.face == "edge"


@given(along=st.integers(-150, 150), across=st.integers(-150, 150))
def test_there_and_back_says_the_same(along: int, across: int) -> None:
    text, by = TEXTS["marram.toml"], (along / 100, across / 100)
    document = parse_job(text).job.document
    # A place of a row that moves with its row moves once.
    keys = (
        "pockets[3]",
        "controls[1]",
        "holes[2]",
        "holes[2].places[1]",
        "jack.near",
        "neck_screws.places[2]",
    )
    there = moved(text, document, keys, *by)
    after = parse_job(there).job.document
    assert after.holes[1].places[0] == pytest.approx(
        [a + b for a, b in zip(document.holes[1].places[0], by, strict=True)]
    )
    assert parse_job(moved(there, after, keys, -by[0], -by[1])).job.document == document


def test_what_is_worked_out_cannot_be_moved() -> None:
    document = parse_job(TEXTS["marram.toml"]).job.document
    assert stated_place(document, "bridge") is None
    with pytest.raises(JobError, match="move what it follows"):
        moved(TEXTS["marram.toml"], document, ["bridge"], 1.0, 0.0)
