"""What was done at the bench, written into the job file: steps done with what their gates read, stops gone on against."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from getpass import getuser
from pathlib import Path
from typing import TYPE_CHECKING

from scribeline.cli.files import write_all
from scribeline.findings import may_happen
from scribeline.job import (
    LEAST_REASON,
    LONGEST_REASON,
    Cut,
    Done,
    FileText,
    GateRead,
    Override,
    Record,
    dated_ahead,
    file_text,
    parse_job,
    with_tables,
    without_tables,
)
from scribeline.layout import Doubtful, Typed, measurement
from scribeline.lengths import LengthError, between, in_unit, quoted, read_length, said
from scribeline.operations import cuts_of, done_steps, made_by_now
from scribeline.plan import plan_held, read_held
from scribeline.steps import (
    Answer,
    Gate,
    accepted,
    answered,
    as_measured,
    lets_on,
    standings,
    verdict,
)

if TYPE_CHECKING:
    from scribeline.findings import Finding
    from scribeline.plan import Plan
    from scribeline.steps import Card, Standing


class Refused(Exception):  # noqa: N818 - reads as what it is
    """What cannot be kept; its text is for the person who typed it."""


def who(by: str | None) -> str:
    """Who stands in the record: as named, else as the account is called."""
    if by is not None and by.strip():
        return by.strip()
    try:
        return getuser()
    except (OSError, KeyError):  # an account without a name
        return "the shop's PC"


def stop_called(plan: Plan, code: str, cut: str | None) -> Finding:
    """The stop of that code that stands; the one about a cut, where several do.

    Raises:
        Refused: there is none, there are several, or it is a gate's.
    """
    found = [stop for stop in plan.stops if stop.code == code]
    if cut is not None:
        found = [stop for stop in found if cut in stop.features]
    if not found:
        standing = ", ".join(dict.fromkeys(stop.code for stop in plan.stops)) or "none"
        about = "" if cut is None else f" about {quoted(cut)}"
        message = f"no DO NOT CUT is called {quoted(code)}{about}; there are: {standing}"
        raise Refused(message)
    if len(found) > 1:
        cuts = ", ".join(dict.fromkeys(name for stop in found for name in stop.features))
        message = (
            f"{len(found)} findings are called {code}; say which with --cut and one of: {cuts or 'none'}"
        )
        raise Refused(message)
    if found[0].concerns == ():
        message = f"a gate cannot be overridden: {found[0].cure}"
        raise Refused(message)
    return found[0]


def go_on(path: Path, plan: Plan, stop: Finding, *, reason: str, by: str) -> str:
    """Write an override into the job file, and say what may happen and which steps may be begun.

    Raises:
        Refused: the reason is too short, or too long.
    """
    why = _reason(reason)
    given = Override(
        code=stop.code,
        features=stop.features,
        value=stop.value,
        limit=stop.limit,
        says=stop.message,
        reason=why,
        by=by,
        at=datetime.now(UTC),
    )
    after = _kept(path, Record(overrides=(given,)))
    opened = [card for card in plan.cards if stop in plan.stopped.get(card.id, ())]
    names = ", ".join(f"{card.no} {card.title}" for card in opened if card.id not in after.stopped)
    return (
        f"What may happen: {may_happen(stop.code)}\n"
        f"Kept in {path} with your reason. The cards say so, and it holds until the checks say more than now.\n"
        f"Steps it no longer holds back: {names or 'none, for others still do'}.\n"
    )


def _reason(typed: str) -> str:
    why = " ".join(typed.split())
    if not LEAST_REASON <= len(why) <= LONGEST_REASON:
        message = f"a reason of {LEAST_REASON} to {LONGEST_REASON} characters is kept and printed. Say why the work goes on"
        raise Refused(message)
    return why


def step_called(plan: Plan, name: str) -> Standing:
    """A step by its number or its id, as it stands in the job's record.

    Raises:
        Refused: there is no such step.
    """
    found = standings(
        plan.cards,
        done_steps(plan.operations, plan.record),
        {each.card: Answer.of(each) for each in plan.record.readings},
        plan.stopped,
    )
    for each in found:
        if name in (each.card.id, str(each.card.no)):
            return each
    message = f"there is no step {quoted(name)}; name it by its number, 1 to {len(found)}, or by its id in plan.json"
    raise Refused(message)


def call_done(
    path: Path, plan: Plan, step: Standing, *, read: str | None, by: str, risk: str | None = None
) -> str:
    """Write a step done into the job file, with what its gate read; a reading that does not pass is kept alone.

    With a reason for going on at the builder's own risk it is done all the same, and the reason is kept with the reading.

    Raises:
        Refused: a stop, an earlier step or its gate keeps it from being done.
    """
    card = step.card
    if step.stopped_by:
        told = "; ".join(f"{stop.message} ({stop.code})" for stop in step.stopped_by)
        message = (
            f"step {card.no} is held back by DO NOT CUT: {told}. Fix it, or cut all the same with a reason: "
            "scribeline override"
        )
        raise Refused(message)
    if step.waits_for:
        number = {each.id: each.no for each in plan.cards}
        first = "; ".join(f"step {number[need.first]}, {need.because}" for need in step.waits_for)
        message = f"step {card.no} waits for what must come first: {first}"
        raise Refused(message)
    answer = step.answer
    readings: tuple[GateRead, ...] = ()
    if read is not None:
        answer = _answer(plan, card, card.gate, read)
        readings = (_reading(card, answer, by),)
    if risk is not None and answer is not None and not lets_on(card.gate, answer):
        answer = accepted(card.gate, answer, _reason(risk))
        readings = (*readings, _reading(card, answer, by))
    again = _read_again(plan, card, answer) if readings else ()
    if not lets_on(card.gate, answer):
        if readings:
            _kept(path, Record(done=_done(card, again, by), readings=readings))
        message = f"step {card.no} is not done: {_missing(plan, card.gate, answer)}"
        raise Refused(message)
    if step.state == "done" and not readings:
        return f"Step {card.no}, {card.title}, is done already.\n"
    called = card.id in {each.card for each in plan.record.done}
    made = made_by_now(card, plan.record)
    cuts = as_measured(
        (cut for cut in cuts_of(card, plan.every_cut) if cut.id not in made), card.gate, answer
    )
    done = _done(card, (*cuts, *again), by, bare=not called)
    _kept(path, Record(done=done, readings=readings))
    stays = " What it cut stays where it was cut." if cuts else ""
    return f"Step {card.no}, {card.title}, is done; kept in {path}.{stays}\n"


def _done(card: Card, cuts: tuple[Cut, ...], by: str, *, bare: bool = False) -> tuple[Done, ...]:
    """That a step is done, where it has made any of these cuts, or is so without any."""
    return (Done(card=card.id, by=by, at=datetime.now(UTC), cuts=cuts),) if cuts or bare else ()


def _read_again(plan: Plan, card: Card, answer: Answer | None) -> tuple[Cut, ...]:
    """What a new reading tells of cuts that a step has made already."""
    made = plan.record.made_pockets
    mine = [made[name] for name in card.features if name in made]
    return tuple(
        new for old, new in zip(mine, as_measured(mine, card.gate, answer), strict=True) if new != old
    )


def _reading(card: Card, answer: Answer, by: str) -> GateRead:
    return GateRead(
        card=card.id,
        value_mm=answer.value,
        yes=answer.yes,
        by=by,
        at=datetime.now(UTC),
        risk=answer.risk,
        low=answer.low,
        high=answer.high,
        values=answer.values,
    )


def _answer(plan: Plan, card: Card, gate: Gate, read: str) -> Answer:
    if gate.value is None:
        if read.strip().lower() not in {"yes", "no"}:
            message = f"the gate of step {card.no} asks for yes or no: {gate.ask}"
            raise Refused(message)
        return Answer(yes=read.strip().lower() == "yes")
    try:
        return answered(gate, [read_length(each, unit=plan.unit).mm for each in read.split(";")])
    except ValueError as fault:
        message = f"step {card.no}: {fault}" if not isinstance(fault, LengthError) else str(fault)
        raise Refused(message) from fault


def _missing(plan: Plan, gate: Gate, answer: Answer | None) -> str:
    limits = [
        f"{word} {said(level)}"
        for word, level in (("at least", gate.low), ("at most", gate.high))
        if level is not None
    ]
    wanted = "a yes" if gate.value is None else " and ".join(limits) or said(gate.value)
    told = (
        "nothing was read at its gate yet, say it with --read"
        if answer is None
        else f'"{verdict(gate, answer)}" at its gate'
    )
    return in_unit(f"{told} ({gate.ask}); it wants {wanted}", plan.unit)


def _kept(path: Path, more: Record) -> Plan:
    """The job's plan with more in its record, which is written into its file once the file can be read with it."""
    stands = file_text(path, missing=f"there is no file {path}; check the name")
    return _written(path, stands, with_tables(stands.text, more.tables))


def _written(path: Path, stands: FileText, text: str) -> Plan:
    """The plan of a job's new text, which is written once it can be read."""
    read = read_held(lambda: parse_job(text, source=str(path), folder=path.parent), str(path))
    after = plan_held(read, str(path))
    write_all(path.parent, {path.name: stands.encoded(text)})
    return after


def measured(path: Path, plan: Plan, what: str, typed: Typed) -> tuple[Plan, str]:
    """Keep a measurement of one of the plan's numbers in the job file's record.

    Returns:
        The plan with it, and what is to be said.

    Raises:
        Refused: it is no length, or so far from what is expected that somebody must say that it is so.
        JobError: something else of it cannot be kept.
    """
    check = plan.check(what)
    assert check is not None
    try:
        entry = measurement(check, typed, unit=plan.unit, at=datetime.now(UTC))
    except LengthError as fault:
        raise Refused(str(fault)) from fault
    except Doubtful as fault:
        raise Refused(
            in_unit(f"nothing is kept yet: {fault}. If it is right, add --sure", plan.unit)
        ) from fault
    if faults := dated_ahead(plan.record, datetime.now(UTC)):
        raise Refused(
            f"nothing is kept yet, for the record is wrong: {'; '.join(str(each) for each in faults)}"
        )
    after = _kept(path, Record(measured=(entry,)))
    no = len(after.record.measured)
    words = f"{what} is measurement no. {no} of the record in {path}: {said(entry.value_mm)}"
    if check.cut:
        words += f", planned {said(check.value)}; it is {after.found(check.cut)}"
        return after, in_unit(words, plan.unit) + ".\n"
    read = after.as_read[what]
    words += f", expected {said(check.value)} ({between(check.low, check.high)})"
    if len(read.numbers) > 1:
        words += f"; {len(read.numbers)} readings together: {said(read.value)}"
    return after, in_unit(words, plan.unit) + ".\n"


def struck(path: Path, plan: Plan, number: int, *, why: str, by: str) -> tuple[Plan, str]:
    """Strike a measurement of the job file's record through.

    Raises:
        Refused: there is no such measurement, it is struck through already, or no reason is given.
    """
    entries = plan.record.measured
    if not 1 <= number <= len(entries) or entries[number - 1].struck:
        standing = ", ".join(str(no) for no, _ in plan.record.standing) or "none"
        message = f"there is no measurement no. {number} that still counts; those that do: {standing}"
        raise Refused(message)
    reason = _reason(why)
    entry = entries[number - 1].model_copy(
        update={"struck": reason, "struck_by": by, "struck_at": datetime.now(UTC)}
    )
    stands = file_text(path, missing=f"there is no file {path}; check the name")
    text, tables = without_tables(stands.text)
    tables["measured"][number - 1] = entry.model_dump(exclude_defaults=True, exclude_none=True)
    after = _written(path, stands, with_tables(text, tables))
    return after, f"Measurement no. {number}, {entry.what}, is struck through in {path}; it stays there.\n"


def say(words: str) -> None:
    """Write for a person."""
    from scribeline.lengths import visible

    sys.stdout.write("".join(f"{visible(line)}\n" for line in words.splitlines()))
