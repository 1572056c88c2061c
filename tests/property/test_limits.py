"""A builder's own limits: what they change, what they cannot break, and that every limit stands in the one table."""

import importlib
import pkgutil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scribeline import findings
from scribeline.findings import Finding, Limit, limit_in
from scribeline.job import JobError, parse_job
from scribeline.plan import Plan
from scribeline.tables import LimitRow, limit_rows

from ..conftest import Edit, Planned, change

ROWS = tuple(limit_rows().values())
TWO_LEVELS = tuple(row for row in ROWS if row.stop is not None)


def limits_of_the_rules() -> dict[str, Limit]:
    modules = [
        importlib.import_module(f"{findings.__name__}.{each.name}")
        for each in pkgutil.iter_modules(findings.__path__)
    ]
    return {
        f"{module.__name__}.{name}": value
        for module in modules
        for name, value in vars(module).items()
        if isinstance(value, Limit)
    }


def test_every_limit_of_a_rule_stands_in_the_table() -> None:
    loose = [name for name, limit in limits_of_the_rules().items() if limit.key not in limit_rows()]
    assert not loose, f"{loose}: give each a row in tables/limits.csv and make it with Limit.of(its key)"


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.key)
def test_the_usual_levels_can_be_set(row: LimitRow) -> None:
    # What the table holds must be something a builder may write, else docs/limits.md would mislead.
    assert row.reason
    assert row.source
    for level in (row.stop, row.caution):
        assert level is None or row.least <= level <= row.most
    stated: dict[str, float] = {"caution": row.caution} | ({} if row.stop is None else {"stop": row.stop})
    own = parse_job(change({f"limits.{row.key}": stated})).job.document.limits.own()
    assert own[row.key].caution == row.caution
    assert own[row.key].stop == row.stop


@given(row=st.sampled_from(ROWS), level=st.floats(-1, 101) | st.floats(), table=st.booleans())
def test_a_level_is_taken_or_refused_with_a_sentence(row: LimitRow, level: float, table: bool) -> None:
    text = change({f"limits.{row.key}": {"caution": level} if table else level})
    try:
        own = parse_job(text).job.document.limits.own()[row.key]
    except JobError as error:
        (fault,) = error.faults
        assert fault.path == f"limits.{row.key}"
        assert fault.line is not None
        minus_nothing = level == 0 and str(level).startswith("-")
        assert not row.least <= level <= row.most or "wrong way round" in fault.sentence or minus_nothing
    else:
        assert own.caution == level
        if own.stop is not None:
            assert own.stop <= own.caution if row.worse == "below" else own.stop >= own.caution


@given(row=st.sampled_from(TWO_LEVELS), share=st.floats(0, 1), value=st.floats(-5, 50))
def test_a_laxer_level_never_says_more_and_a_stricter_never_less(
    row: LimitRow, share: float, value: float
) -> None:
    usual, rank = Limit.of(row.key), {None: 0, "caution": 1, "stop": 2}
    laxest, strictest = (row.least, row.most) if row.worse == "below" else (row.most, row.least)
    for goal, sign in ((laxest, -1), (strictest, 1)):
        assert row.stop is not None
        levels = {
            "stop": row.stop + share * (goal - row.stop),
            "caution": row.caution + share * (goal - row.caution),
        }
        mine = limit_in(parse_job(change({f"limits.{row.key}": levels})).job.document, usual)
        assert sign * (rank[mine.severity(value)] - rank[usual.severity(value)]) >= 0


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"limits.bore_wb": 1}, 'there is no key "bore_wb" here; did you mean "bore_web"?'),
        ({"limits.bore_web": "-1 mm"}, "should lie between 0 and 20 mm"),
        ({"limits.bore_web": float("nan")}, "it is not a finite number"),
        ({"limits.screw_hold": float("inf")}, "wanted a number from 0 to 100"),
        ({"limits.screw_hold": True}, "wanted a number from 0 to 100"),
        ({"limits.bore_web": {"stop": 2, "caution": 1}}, "are the wrong way round"),
        ({"limits.bore_web": {"stp": 2}}, "wanted a level, or a table with stop and caution"),
        ({"limits.pilot_error": {"stop": 1}}, "wanted a level, or a table with caution"),
        ({"limits": 3}, "wanted a table of its own"),
    ],
    ids=str,
)
def test_refusals(edited: Edit, changes: dict[str, object], sentence: str) -> None:
    with pytest.raises(JobError) as refused:
        parse_job(edited(changes))
    assert sentence in str(refused.value)


def floor(plan: Plan) -> list[Finding]:
    return [finding for finding in plan.findings if finding.code == "wood.thin-floor"]


# A control cavity 41.2 mm deep in 44.4 mm of wood leaves 3.2 mm; usually that is a caution under 4 mm.
THIN = {"pockets[3].depth": 41.2}


def test_the_usual_limit_speaks(planned: Planned) -> None:
    (usual,) = floor(planned(THIN))
    assert usual.severity == "caution"
    assert usual.value == pytest.approx(3.2)
    assert usual.limit == 4
    assert usual.source == "common practice, no source"
    assert not [f for f in planned(THIN).findings if f.code == "limits.own"]


def test_a_laxer_limit_silences_the_finding_and_is_noted(planned: Planned) -> None:
    plan = planned(THIN | {"limits.pocket_floor": 3.0})
    assert not floor(plan)
    (note,) = [f for f in plan.findings if f.code == "limits.own"]
    assert note.severity == "note"
    assert (
        "pocket_floor: do not cut at 2 mm, caution at 3 mm (usually do not cut at 2 mm, caution at 4 mm)"
        in note.message
    )
    assert "at your own risk" not in note.message


def test_past_the_usual_stop_the_risk_is_told(planned: Planned) -> None:
    plan = planned({"pockets[3].depth": 43.0, "limits.pocket_floor": {"stop": 1.0}})
    (caution,) = floor(plan)
    assert caution.severity == "caution"  # 1.4 mm would stop the work
    assert not plan.stops
    (note,) = [f for f in plan.findings if f.code == "limits.own"]
    assert note.message.endswith(
        "pocket_floor lets work go on past where it would usually stop: at your own risk"
    )


def test_a_stricter_limit_stops_the_work_and_says_whose_it_is(planned: Planned) -> None:
    plan = planned(THIN | {"limits.pocket_floor": {"stop": "3.5 mm", "caution": "5 mm"}})
    (stop,) = floor(plan)
    assert stop.severity == "stop"
    assert stop.limit == 3.5
    assert stop.source == (
        "your own limit, limits.pocket_floor (usually do not cut at 2 mm, caution at 4 mm; common practice, no source)"
    )
    # The cure aims at the builder's own level: 44.4 - 5.
    assert "39.40 mm or less" in stop.cure
