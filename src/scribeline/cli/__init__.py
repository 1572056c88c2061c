"""The commands: thin shells round reading a job, planning it, and writing what goes to the bench.

Exit codes: 0 when nothing stops the work, 1 when the checks say DO NOT CUT, 2 when the input cannot be used, 130 when Ctrl+C
ended it.
"""

from __future__ import annotations

import gc
import os
import re
import sys
from collections.abc import Sequence
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import App, CycloptsError, Parameter

from scribeline.lengths import JobUnit

if TYPE_CHECKING:
    from datetime import date

    from scribeline.job import JobFile, NewTest
    from scribeline.plan import Plan
    from scribeline.strings import Vibrato

OK, STOPPED, UNUSABLE, INTERRUPTED = 0, 1, 2, 130

JobPath = Annotated[Path, Parameter(help="The job file.")]
AsJson = Annotated[
    bool, Parameter(name="--json", negative="", help="Write JSON for another program to read.")
]
Folder = Annotated[Path, Parameter(name=["--out", "-o"], help="Folder to write into; made if missing.")]

app = App(
    name="scribeline",
    help="Sets out, checks and prints every hole and cavity of a solid-body guitar or bass, from what you measured.",
    help_format="plaintext",
    version_flags=["--version"],
    suppress_keyboard_interrupt=False,
)


class Unusable(Exception):  # noqa: N818 - reads as what it is
    """Input that cannot be used; its text is for the person who typed it."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; nothing a person types ends in a traceback."""
    from scribeline.job import JobError
    from scribeline.lengths import quoted

    words = list(sys.argv[1:] if arguments is None else arguments)
    as_json = "--json" in words
    if words[:1] == ["new"] and words[-1] == "--like":
        words.append("")  # asks which there are
    try:
        code = app(words, exit_on_error=False, print_error=False, result_action="return_value")
    except CycloptsError as fault:
        # What was typed stands in it between quotes, however long it is.
        said = re.sub(r'"[^"]{60,}"', lambda found: quoted(found[0][1:-1]), str(fault))
        _say_unusable(f"{said} Try: scribeline --help", as_json=as_json)
        return UNUSABLE
    except JobError as fault:
        from scribeline.cli import report

        report.faults(fault, as_json=as_json)
        return UNUSABLE
    except Unusable as fault:
        _say_unusable(str(fault), as_json=as_json)
        return UNUSABLE
    except OSError as fault:
        from scribeline.files import told

        _say_unusable(told(fault), as_json=as_json)
        return UNUSABLE
    except KeyboardInterrupt:
        _say_unusable("stopped by Ctrl+C. What was not reported as written was not written.", as_json=as_json)
        return INTERRUPTED
    return code if isinstance(code, int) else OK


def _say_unusable(sentence: str, *, as_json: bool) -> None:
    if as_json:
        from scribeline.cli import report
        from scribeline.job import Fault, JobError

        report.faults(JobError([Fault("", sentence)]), as_json=True)
    else:
        from scribeline.lengths import visible

        sys.stderr.write(f"scribeline: {visible(sentence)}\n")


def _planned(job: Path) -> Plan:
    from scribeline.plan import plan_held

    return plan_held(_read(job), str(job))


def _read(job: Path) -> JobFile:
    from scribeline.job import read_job
    from scribeline.plan import read_held

    return read_held(lambda: read_job(job), str(job))


def _given(job: Path, plan: Plan) -> tuple[Path, ...]:
    """The files a plan was made from: the job, and the drawings, the records and the tests that it names."""
    document = plan.job.document
    head = document.head.drawing if document.head else None
    named = (
        document.body.outline.file,
        head.file if head else None,
        document.bench.records,
        document.bench.shop,
    )
    return (job, *(job.parent / each for each in named if each is not None))


def _code(plan: Plan) -> int:
    return STOPPED if plan.stops else OK


@app.command
def new(
    job: Annotated[Path | None, Parameter(help="The file to make.")] = None,
    *,
    units: Annotated[JobUnit | None, Parameter(help="Unit of bare numbers; mm when left out.")] = None,
    hand: Annotated[
        Literal["right", "left"] | None, Parameter(help="The hand it is for; right when left out.")
    ] = None,
    instrument: Annotated[
        Literal["six-string", "seven-string", "four-string bass"] | None,
        Parameter(help="What it is begun as; a six-string when left out."),
    ] = None,
    loading: Annotated[
        Literal["through-body", "top-load"] | None,
        Parameter(help="Where its strings end: behind the body when left out, or in the plate."),
    ] = None,
    like: Annotated[
        str | None,
        Parameter(help="Begin it like one of our own examples instead, by its name; alone, lists them."),
    ] = None,
) -> int:
    """Start a job file, with every key explained, to fill in from your own parts."""
    from scribeline.cli.files import write_all
    from scribeline.job import starter_job

    if like is not None and (job is None or not like):
        sys.stdout.write(_examples())
        return OK
    if job is None:
        message = "name the file to make, such as mine.toml. Try: scribeline new --help"
        raise Unusable(message)
    if job.exists():
        message = f"{job} is there already and stays as it is. Choose another name."
        raise Unusable(message)
    if like is None:
        text = starter_job(
            name=job.stem,
            units=units or "mm",
            handed=hand or "right",
            instrument=instrument or "six-string",
            loading=loading or "through-body",
        )
    elif units or instrument or loading:
        message = "an example has its own unit, strings and bridge; with --like only --hand can be chosen"
        raise Unusable(message)
    else:
        text = _begun_like(like, job.stem, hand)
    write_all(job.parent, {job.name: text.encode()})
    sys.stdout.write(
        f"Made {job}. Measure your parts, write each number with its ±, then: scribeline check {job}\n"
    )
    return OK


def _begun_like(like: str, name: str, hand: str | None) -> str:
    from scribeline.lengths import quoted
    from scribeline.scenario import begun_like, examples

    if like not in examples():
        message = f"there is no example {quoted(like)}. There are:\n{_examples()}"
        raise Unusable(message.rstrip())
    return begun_like(examples()[like], name=name, handed=hand)


def _examples() -> str:
    from scribeline.scenario import examples

    wide = max(map(len, examples()))
    return "".join(f"{name:<{wide}}  {each.line}\n" for name, each in examples().items())


@app.command
def cavities(job: JobPath) -> int:
    """Write the cavities that a vibrato hangs in into its job, worked out from the bridge's own numbers."""
    from scribeline.bounds import Exceeded, within
    from scribeline.cli.files import write_all
    from scribeline.job import file_text
    from scribeline.plan.cavities import with_cavities
    from scribeline.plan.held import READING, too_long_to_read

    stands = file_text(job, missing=f"there is no file {job}; check the name")
    try:
        with within(READING):
            text, names = with_cavities(stands.text, job.parent)
    except Exceeded as cut:
        raise too_long_to_read(cut, str(job)) from None
    if not names:
        sys.stdout.write(f"{job} has every cavity that its bridge needs; nothing was changed.\n")
        return OK
    write_all(job.parent, {job.name: stands.encoded(text)})
    told = " and ".join(f'"{name}"' for name in names)
    sys.stdout.write(
        f"Wrote {told} into {job}. They are yours now: change what you like, then: scribeline check {job}\n"
    )
    return OK


@app.command
def check(job: JobPath, *, json: AsJson = False) -> int:
    """Say what stands in the way of cutting, and how to fix it."""
    from scribeline.cli import report

    planned = _planned(job)
    report.findings(planned, as_json=json)
    return _code(planned)


@app.command
def plan(
    job: JobPath,
    *,
    json: AsJson = False,
    out: Annotated[Path | None, Parameter(name=["--out", "-o"], help="Write plan.json to this file.")] = None,
) -> int:
    """Work out where everything goes; the numbers for the bench, or plan.json with --json."""
    from scribeline.cli import report
    from scribeline.plan.record import as_json

    planned = _planned(job)
    if out is not None:
        from scribeline.cli.files import write_all

        write_all(out.parent, {out.name: as_json(planned).encode()}, given=_given(job, planned))
    if json:
        sys.stdout.write(as_json(planned))
    else:
        report.numbers(planned)
    return _code(planned)


@app.command
def measure(
    job: JobPath,
    what: Annotated[
        str | None,
        Parameter(help="A number of the plan, such as body-thickness, or a part's, such as bridge.spacing."),
    ] = None,
    reading: Annotated[
        str | None, Parameter(help="The reading; with its ± where you know it, such as '10.6 +/- 0.05'.")
    ] = None,
    *,
    with_what: Annotated[
        str | None,
        Parameter(name="--with", help="What it was read with, such as rule, caliper or thread."),
    ] = None,
    note: Annotated[str, Parameter(help="Anything to remember about it.")] = "",
    anew: Annotated[
        bool,
        Parameter(
            negative="", help="Something was moved: what was read earlier to find the same counts no more."
        ),
    ] = False,
    sure: Annotated[bool, Parameter(negative="", help="Keep a reading far from what is expected.")] = False,
    strike: Annotated[
        int | None,
        Parameter(help="Strike the measurement of that number through; it stays, and counts no more."),
    ] = None,
    why: Annotated[str, Parameter(help="Why it is struck through.")] = "",
    by: Annotated[str | None, Parameter(help="Who measured; you, when left out.")] = None,
) -> int:
    """Keep what you measured, and show what it moves. Alone, list what can be measured and what was.

    A part's dimension goes into the job, comments kept; a number of the plan goes into the record, where it is never changed,
    only struck through. It says which. Nothing is written when the job could not be read with it.
    """
    from scribeline.cli import bench, report
    from scribeline.layout import Typed

    before = _planned(job)
    if strike is not None:
        return _struck(job, before, strike, why, by)
    if what is None:
        report.measurements(before)
        return OK
    if reading is None:
        message = f"say what {what} reads, such as: scribeline measure {job} {what} '44.1 +/- 0.05'"
        raise Unusable(message)
    if before.check(what) is None:
        return _measured_part(job, before, what, reading)
    typed = Typed(reading, bench.who(by), with_what or "", note, anew=anew, sure=sure)
    try:
        after, words = bench.measured(job, before, what, typed)
    except bench.Refused as fault:
        raise Unusable(str(fault)) from fault
    bench.say(words)
    report.change(before, after)
    return _code(after)


def _measured_part(job: Path, before: Plan, key: str, reading: str) -> int:
    """Write a part's dimension into the job."""
    from scribeline.cli import report
    from scribeline.cli.files import write_all
    from scribeline.job import file_text, parse_job, set_value
    from scribeline.plan import plan_held, read_held

    stands = file_text(job, missing=f"there is no file {job}; check the name")
    text, was = set_value(stands.text, key, reading)
    read = read_held(lambda: parse_job(text, source=str(job), folder=job.parent), str(job))
    after = plan_held(read, str(job))
    write_all(job.parent, {job.name: stands.encoded(text)})
    report.new_number(key, was, reading)
    report.change(before, after)
    return _code(after)


def _struck(job: Path, before: Plan, number: int, why: str, by: str | None) -> int:
    from scribeline.cli import bench, report

    try:
        after, words = bench.struck(job, before, number, why=why, by=bench.who(by))
    except bench.Refused as fault:
        raise Unusable(str(fault)) from fault
    bench.say(words)
    report.change(before, after)
    return _code(after)


@app.command
def done(
    job: JobPath,
    step: Annotated[str, Parameter(help="The step: its number, or its id in plan.json.")],
    *,
    read: Annotated[
        str | None,
        Parameter(
            help="What its gate reads, such as '44.4 mm'; yes or no where it asks for that; several as '44.4; 44.3'."
        ),
    ] = None,
    at_own_risk: Annotated[
        str | None, Parameter(help="Why the work goes on although its gate does not pass, in your own words.")
    ] = None,
    by: Annotated[str | None, Parameter(help="Who did it; you, when left out.")] = None,
) -> int:
    """Write a step done into the job file. What it cut stays where it was cut.

    Exit code 1, and no step done, while DO NOT CUT is about its cuts, an earlier step is not done, or its gate does not pass.
    A reading that was given is kept. Against a gate it is done only with your reason, which is kept.
    """
    from scribeline.cli import bench

    planned = _planned(job)
    try:
        standing = bench.step_called(planned, step)
    except bench.Refused as fault:
        raise Unusable(str(fault)) from fault
    try:
        bench.say(bench.call_done(job, planned, standing, read=read, by=bench.who(by), risk=at_own_risk))
    except bench.Refused as fault:
        _say_unusable(str(fault), as_json=False)
        return STOPPED
    return OK


@app.command
def override(
    job: JobPath,
    stop: Annotated[str, Parameter(help="Its code, as check gives it, such as wood.thin-floor.")],
    *,
    reason: Annotated[str, Parameter(help="Why you cut all the same, in your own words.")],
    cut: Annotated[
        str | None, Parameter(help="One of the cuts it is about, where several findings have that code.")
    ] = None,
    by: Annotated[str | None, Parameter(help="Who decides it; you, when left out.")] = None,
) -> int:
    """Cut although the checks say DO NOT CUT. Your reason goes into the job file, and the cards say so.

    It holds while the checks say the same, of the same cuts and no worse. Fix it if you can.
    """
    from scribeline.cli import bench

    planned = _planned(job)
    try:
        chosen = bench.stop_called(planned, stop, cut)
        bench.say(bench.go_on(job, planned, chosen, reason=reason, by=bench.who(by)))
    except bench.Refused as fault:
        raise Unusable(str(fault)) from fault
    return OK


@app.command
def rescue(
    job: JobPath,
    cut: Annotated[
        str | None,
        Parameter(
            help="The made cut, such as S3, string-hole-3 or neck-pocket; every one that is off when left out."
        ),
    ] = None,
    *,
    at: Annotated[
        str | None,
        Parameter(
            help="Where its middle was found, from the nut and from the centreline towards the treble: '640.2, -5.1'.",
            allow_leading_hyphen=True,
        ),
    ] = None,
    off: Annotated[
        str | None,
        Parameter(
            help="How far off it was found, towards the tail and towards the treble: '0.8, -0.3'.",
            allow_leading_hyphen=True,
        ),
    ] = None,
    depth: Annotated[str | None, Parameter(help="How deep it was found, from its face.")] = None,
    diameter: Annotated[str | None, Parameter(help="How wide a hole was found.")] = None,
    width: Annotated[
        str | None, Parameter(help="How wide a cavity was found, across the instrument.")
    ] = None,
    length: Annotated[str | None, Parameter(help="How long a cavity was found.")] = None,
    angle: Annotated[
        str | None,
        Parameter(
            help="How a cavity's floor was found to rise towards the tail, degrees.",
            allow_leading_hyphen=True,
        ),
    ] = None,
    stripped: Annotated[bool, Parameter(negative="", help="Its screw does not hold any more.")] = False,
    json: AsJson = False,
) -> int:
    """Ways out for a cut that is made and off: live with it, plug and redrill, a larger part, a cover; the best first.

    What is given on the line is looked at and not kept: nothing is written. Exit code 1 where no way keeps every limit.
    """
    from scribeline.cli import rescue_report
    from scribeline.lengths import SaidError

    found = rescue_report.Typed(at, off, depth, diameter, width, length, angle, stripped=stripped)
    planned = _planned(job)
    try:
        asked = rescue_report.asked(planned, cut, found)
    except SaidError as fault:
        raise Unusable(fault.told(planned.unit)) from fault
    except ValueError as fault:
        raise Unusable(str(fault)) from fault
    rescue_report.show(planned, asked, as_json=json)
    return OK if all(each.closing for each in asked) else STOPPED


@app.command
def tunnels(job: JobPath, *, json: AsJson = False) -> int:
    """Say how each wire hole is best drilled, what other ways there are, or which limit would have to give."""
    from scribeline.cli import tunnels_report

    planned = _planned(job)
    tunnels_report.show(planned, as_json=json)
    return STOPPED if any(tunnel.course is None for tunnel in planned.tunnels) else OK


@app.command
def explain(
    job: JobPath,
    what: Annotated[
        str | None,
        Parameter(
            help="An id, such as S3, ferrule-hole-3, F3-F4, string-6, fret-12, 12th-to-plate or bridge.spacing."
        ),
    ] = None,
    *,
    json: AsJson = False,
) -> int:
    """Say how a number came about: its formula, its inputs, and theirs, down to the job's lines and the tables.

    Takes whatever has a name on paper or on the screen: a hole or cavity, two of them, a string, a fret, a key of the job,
    a check's code, or the id of any number in plan.json. Without one it lists what there is.
    """
    from scribeline.cli import explain_report

    planned = _planned(job)
    if what is None:
        explain_report.everything(planned, as_json=json)
        return OK
    hint = explain_report.show(planned, what, as_json=json)
    if hint is not None:
        from scribeline.lengths import quoted

        message = f"nothing is called {quoted(what)} in this job; {hint}"
        raise Unusable(message)
    return OK


@app.command(name="print")
def print_(
    job: JobPath,
    *,
    out: Folder,
    paper: Annotated[
        str | None,
        Parameter(
            help="Paper for the templates: A4, Letter, another ISO or ANSI size, or a roll's width such as '610 mm'."
        ),
    ] = None,
) -> int:
    """Write the bench pack: full-size templates, drawing sheets, step cards, DXF, SVG and plan.json.

    Nothing is written while the checks say DO NOT CUT, unless you cut all the same (`scribeline override`) or what it is about is
    cut already. Nothing is ever left half written.
    """
    from scribeline.cli import report

    planned = _planned(job)
    if planned.forbidding:
        report.findings(planned)
        sys.stderr.write("Nothing was printed: the checks say DO NOT CUT.\n")
        return STOPPED
    report.pack(_write_pack(planned, out, paper, given=_given(job, planned)), out)
    report.findings(planned, brief=True)
    return OK


@app.command
def bars(
    job: JobPath,
    across: Annotated[
        str, Parameter(help="What the bar across the page measures, such as '197.4 mm' or '7 15/16 in'.")
    ],
    up: Annotated[str, Parameter(help="What the bar up the page measures.")],
    *,
    out: Folder,
    paper: Annotated[str | None, Parameter(help="The paper the templates were printed on.")] = None,
    json: AsJson = False,
) -> int:
    """Say what a full-size print may be used for, from its measuring bars, and make a corrected one.

    Exit code 0 when the print may be used (fully, or for short groups), 1 when it is void.
    """
    from scribeline.cli import report
    from scribeline.cli.files import write_all
    from scribeline.drawing import pack
    from scribeline.drawing.print_scale import print_verdict, ruling
    from scribeline.lengths import SaidError, read_length
    from scribeline.tables.paper import read_paper

    planned = _planned(job)
    document = planned.job.document
    try:
        on = read_paper(paper or document.print.paper, unit=document.units)
        measured_x, measured_y = (read_length(text, unit=document.units).mm for text in (across, up))
        verdict = print_verdict(measured_x, measured_y, ruling(on).bar)
        # Drawn before anything is said: a paper too small is told alone.
        corrected = (
            pack.corrected_templates(planned, verdict.factors, paper=paper)
            if verdict.verdict != "full" and not planned.forbidding
            else None
        )
    except SaidError as fault:
        raise Unusable(fault.told(document.units)) from fault
    except ValueError as fault:
        raise Unusable(str(fault)) from fault
    written = (
        [] if corrected is None else write_all(out, {pack.CORRECTED: corrected}, given=_given(job, planned))
    )
    report.verdict(verdict, written, document.units, as_json=json)
    return STOPPED if verdict.verdict == "void" else OK


@app.command
def heights(
    job: JobPath,
    *,
    saddle: Annotated[
        str | None,
        Parameter(
            help="Height over the body that the saddles should have in the middle, such as '11.5 mm'; the middle of their "
            "range when left out."
        ),
    ] = None,
    json: AsJson = False,
) -> int:
    """Heights from the pocket's floor to the saddles, and what would close them: depth, lean, shim, board or saddle."""
    from scribeline.cli import heights_report
    from scribeline.lengths import SaidError, read_length

    planned = _planned(job)
    if not planned.layout.stringing.is_placed:
        raise Unusable(planned.layout.stringing.refusal)
    try:
        at = None if saddle is None else read_length(saddle, unit=planned.unit).mm
    except SaidError as fault:
        raise Unusable(fault.told(planned.unit)) from fault
    except ValueError as fault:
        raise Unusable(str(fault)) from fault
    heights_report.show(planned, at=at, as_json=json)
    return _code(planned)


@app.command
def odds(
    job: JobPath,
    *,
    trials: Annotated[int, Parameter(help="How many builds to try.")] = 1_000_000,
    seed: Annotated[int, Parameter(help="Of their errors; the same one gives the same answer.")] = 1,
    out: Annotated[
        Path | None,
        Parameter(
            name=["--out", "-o"],
            help="Write odds.pdf and odds.svg, a picture of it, into this folder; made if missing.",
        ),
    ] = None,
    json: AsJson = False,
) -> int:
    """The chance that the instrument keeps its limits: what is likeliest to miss, what matters most, what helps.

    The chance is that of a first go: nothing is caught at a gate and done again.
    """
    from scribeline.cli import odds_report
    from scribeline.cli.files import write_all
    from scribeline.cli.report import working
    from scribeline.odds import OddsError
    from scribeline.odds import odds as work_out

    planned = _planned(job)
    accuracies = planned.job.accuracies
    try:
        with working("Trying builds"):
            found = work_out(planned, accuracies, trials=trials, seed=seed)
    except OddsError as fault:
        raise Unusable(str(fault)) from fault
    written: list[Path] = []
    if out is not None:
        from scribeline.drawing import pdf, svg
        from scribeline.drawing.odds_plot import odds_sheet

        picture = odds_sheet(planned, found, accuracies)
        page = pdf.write([picture], title=f"{planned.job.document.name}: odds")
        files = {"odds.pdf": page, "odds.svg": svg.write(picture)}
        written = write_all(out, files, given=_given(job, planned))
    odds_report.show(planned, found, accuracies, written=written, as_json=json)
    return _code(planned)


@app.command
def strings(
    job: JobPath,
    *,
    change: Annotated[
        str | None, Parameter(help="Name of a set under string_sets: what changing to it would do.")
    ] = None,
    vibrato: Annotated[
        str | None,
        Parameter(
            help="With --change: a sprung vibrato's lever to the strings, to the springs, and its springs: '12, 38, 3'."
        ),
    ] = None,
    studs: Annotated[
        str | None,
        Parameter(help="Stud to stud of a slanted one-piece bridge: say where its studs would stand."),
    ] = None,
    ridge: Annotated[
        str | None,
        Parameter(help="With --studs: how far the ridge lies behind the studs' centres; 0 when left out."),
    ] = None,
    bushing: Annotated[
        str | None,
        Parameter(help="With --studs: the bushings' diameter over the knurl, for the holes they press into."),
    ] = None,
    by: Annotated[
        Literal["12th fret", "all frets"],
        Parameter(
            help="Set the saddles by the 12th fret against its harmonic, or by the least error over all frets."
        ),
    ] = "12th fret",
    cents: Annotated[bool, Parameter(negative="", help="Also list the cents at every fret.")] = False,
    nut: Annotated[bool, Parameter(negative="", help="Place nut and saddle together instead.")] = False,
    plot: Annotated[Path | None, Parameter(help="Write the cents at every fret as an SVG picture.")] = None,
    json: AsJson = False,
) -> int:
    """Tension, pull and compensation of the strings, with their spread and what it comes from."""
    from scribeline.cli import strings_report
    from scribeline.cli.files import write_all

    planned = _planned(job)
    stringing = planned.layout.stringing
    if studs is not None and stringing.is_placed:
        units = planned.job.document.units
        strings_report.studs(
            planned,
            _positive_length(studs, units),
            ridge=0.0 if ridge is None else _length(ridge, units),
            bushing=None if bushing is None else _positive_length(bushing, units),
            as_json=json,
        )
        return _code(planned)
    if stringing.prediction is None:
        raise Unusable(stringing.refusal)
    if plot is not None:
        from scribeline.drawing import svg
        from scribeline.drawing.cents_plot import cents_sheet

        picture = svg.write(cents_sheet(planned, stringing.prediction))
        write_all(plot.parent, {plot.name: picture}, given=_given(job, planned))
    if change is not None:
        if change not in stringing.others:
            known = (
                ", ".join(f'"{name}"' for name in stringing.others) or "none; list one under [[string_sets]]"
            )
            from scribeline.lengths import quoted

            message = f"there is no string set called {quoted(change)}; the sets are: {known}"
            raise Unusable(message)
        strings_report.change(planned, change, vibrato=_vibrato(vibrato), as_json=json)
    elif nut:
        strings_report.nut(planned, as_json=json)
    else:
        strings_report.table(planned, criterion=by, cents=cents, as_json=json)
    return _code(planned)


def _length(stated: str, unit: JobUnit) -> float:
    """A length as typed, in mm."""
    from scribeline.lengths import LengthError, read_length

    try:
        return read_length(stated, unit=unit).mm
    except LengthError as fault:
        raise Unusable(str(fault)) from fault


def _positive_length(stated: str, unit: JobUnit) -> float:
    """A length as typed, over 0, in mm."""
    mm = _length(stated, unit)
    if mm <= 0:
        message = f"a distance of {stated} cannot be: give a length over 0"
        raise Unusable(message)
    return mm


def _vibrato(stated: str | None) -> Vibrato | None:
    """A sprung vibrato as typed: two levers and how many springs."""
    if stated is None:
        return None
    from scribeline.lengths import quoted, read_length
    from scribeline.strings import StringsError, Vibrato

    try:
        string_lever, spring_lever, springs = (part.strip() for part in stated.split(","))
        return Vibrato(read_length(string_lever).mm, read_length(spring_lever).mm, int(springs))
    except StringsError as fault:
        raise Unusable(f"{fault}; {quoted(stated)} was typed") from fault
    except ValueError as fault:
        message = (
            f"cannot read {quoted(stated)} as a vibrato: write its lever to the strings, its lever to the springs and how "
            "many springs, such as '12 mm, 38 mm, 3'"
        )
        raise Unusable(message) from fault


@app.command
def record(
    job: JobPath,
    records: Annotated[Path, Parameter(help="The shop's file of finished instruments; made if missing.")],
    *,
    saddles: Annotated[
        str,
        Parameter(
            help="Where the saddles ended up, past the scale length, treble first: '1.3 2.1 - 2.6 3.0 4.4'; - for one not noted.",
            allow_leading_hyphen=True,
        ),
    ],
    plus_minus: Annotated[str, Parameter(help="The ± of these measurements.")] = "0.25 mm",
    by: Annotated[str, Parameter(help="Whose hand set the saddles.")] = "",
    on: Annotated[
        str, Parameter(help="The day they were measured, such as 2026-03-14; today when left out.")
    ] = "",
    serial: Annotated[str, Parameter(help="Tells instruments that were built from one job apart.")] = "",
) -> int:
    """Add a finished instrument to the shop's records, which later predictions learn from.

    Bare saddle numbers are in the job's unit. Of an instrument recorded twice the latest record counts.
    """
    from datetime import date

    from scribeline.cli.files import write_all
    from scribeline.job import FileText, Measured, file_text, parse_records, recorded
    from scribeline.lengths import apart

    stated = _read(job).job
    stands = file_text(records, missing=f"there is no file {records}") if records.exists() else None
    today = date.today()  # noqa: DTZ011 - the shop's own day
    day = _day(on, today)
    text = recorded(
        stated.document,
        Measured(apart(saddles.replace(",", " ")), plus_minus, serial, by, day),
        before=None if stands is None else stands.text,
        today=today,
    )
    kept = parse_records(text, source=str(records))
    count = len(kept.counted)
    write_all(records.parent, {records.name: (stands or FileText(text)).encoded(text)}, given=(job,))
    again = [each.standing for each in kept.kept if each.again == len(kept.kept)]
    sys.stdout.write(
        f"{records} now holds {count} finished {'instrument' if count == 1 else 'instruments'}. "
        f"See what they teach: scribeline learn {records}\n" + "".join(f"{each}.\n" for each in again)
    )
    return OK


def _day(typed: str, today: date) -> date:
    """A day as typed; today when nothing was."""
    from datetime import date

    from scribeline.lengths import quoted

    try:
        return date.fromisoformat(typed) if typed else today
    except ValueError as fault:
        message = f"cannot read {quoted(typed)} as a day: write it as {today}"
        raise Unusable(message) from fault


@app.command
def learn(
    records: Annotated[Path, Parameter(help="The shop's file of finished instruments.")],
    *,
    json: AsJson = False,
) -> int:
    """Show what the shop's finished instruments teach: before and after, and which record is doubted."""
    from datetime import date

    from scribeline.cli import strings_report
    from scribeline.job import learnt_from, read_records

    kept = read_records(records, today=date.today())  # noqa: DTZ011 - the shop's own day
    strings_report.learnt(learnt_from(records), kept, as_json=json)
    return OK


@app.command
def shop(
    file: Annotated[
        Path | None, Parameter(help="The shop's file of tests; made if missing, with the first test.")
    ] = None,
    *,
    how: Annotated[
        str | None, Parameter(help="Say how a kind of test is done, such as table-square; all lists them.")
    ] = None,
    test: Annotated[str | None, Parameter(help="Add a test of this kind.")] = None,
    readings: Annotated[
        str,
        Parameter(
            help="With --test: what was read, in its order: '0.4, 0, 0.2, 0.2'. Bare numbers are in the file's unit.",
            allow_leading_hyphen=True,
        ),
    ] = "",
    method: Annotated[
        str,
        Parameter(
            help="With --test: what was tried, such as prick-awl; the usual one of its kind when left out."
        ),
    ] = "",
    at: Annotated[
        str,
        Parameter(help="With --test: the length its kind asks for beside the readings, such as '100 mm'."),
    ] = "",
    machine: Annotated[str, Parameter(help="With --test: which press, router, printer, bit or hand.")] = "",
    read_with: Annotated[
        str, Parameter(name="--with", help="With --test: what read it, such as feeler or caliper-wood.")
    ] = "",
    besides: Annotated[
        str | None,
        Parameter(
            help="With --test: what else is in each reading, such as 'mark-knife, prick-awl'; none for nothing."
        ),
    ] = None,
    by: Annotated[str, Parameter(help="With --test: who did it.")] = "",
    on: Annotated[str, Parameter(help="With --test: the day, such as 2026-03-14; today when left out.")] = "",
    note: Annotated[str, Parameter(help="With --test: anything else.")] = "",
    units: Annotated[
        JobUnit | None, Parameter(help="Unit of a file that is begun; mm when left out.")
    ] = None,
    strike: Annotated[
        int | None, Parameter(help="Strike this test through, by its number; it stays.")
    ] = None,
    why: Annotated[str, Parameter(help="With --strike: the reason, which stays with it.")] = "",
    count: Annotated[
        int | None, Parameter(help="Let a test that was struck through count again, by its number.")
    ] = None,
    json: AsJson = False,
) -> int:
    """Tests of the shop's machines and hands: what each says, what it changed, and what to test next.

    A job that names the file (bench.shop) takes its accuracies from it.
    """
    from datetime import date

    from scribeline.cli import shop_report
    from scribeline.cli.files import write_all
    from scribeline.job import FileText, NewTest, file_text, parse_shop_tests, read_shop_tests, strike_test

    if how is not None:
        return _how(how, method, as_json=json)
    if file is None:
        message = "name the shop's file of tests, such as shop.toml. Try: scribeline shop --how all"
        raise Unusable(message)
    today = date.today()  # noqa: DTZ011 - the shop's own day
    asked = sum(each is not None for each in (test, strike, count))
    if asked == 0:
        if readings:
            message = (
                "say which kind of test these readings are of, with --test. Try: scribeline shop --how all"
            )
            raise Unusable(message)
        shop_report.show(read_shop_tests(file, today=today), file, as_json=json)
        return OK
    if asked > 1:
        message = "add a test, strike one through or let one count again: one at a time"
        raise Unusable(message)
    there = test is None or file.exists()
    stands = file_text(file, missing=f"there is no file {file}") if there else None
    was = None if stands is None else parse_shop_tests(stands.text, source=str(file), today=today)
    if test is not None:
        others = None if besides is None else _besides(besides)
        new = NewTest(test, (), method, at, read_with, others, machine, by, _day(on, today), note)
        if was is not None and units not in (None, was.unit):
            message = (
                f"{file} is in {was.unit} already; write readings of another unit with it, such as '1/64 in'"
            )
            raise Unusable(message)
        text = _tested(new, readings, units or "mm", stands.text if stands else None, today)
    else:
        assert stands is not None
        if strike is not None and not why.strip():
            message = "say why, with --why: it stays with the test"
            raise Unusable(message)
        text = strike_test(stands.text, strike or count or 0, why.strip() if strike is not None else "")
    now = parse_shop_tests(text, source=str(file), today=today)
    write_all(file.parent, {file.name: (stands or FileText(text)).encoded(text)})
    shop_report.changed(was, now, now.tests[(strike or count or 0) - 1], file, as_json=json)
    return OK


def _besides(typed: str) -> tuple[str, ...]:
    return () if typed.strip() == "none" else tuple(typed.replace(",", " ").split())


def _tested(new: NewTest, readings: str, units: JobUnit, before: str | None, today: date) -> str:
    """The tests' text with one more, its readings as typed."""
    from dataclasses import replace

    from scribeline.job import with_test
    from scribeline.lengths import LengthError, in_a_row

    try:
        typed = replace(new, readings=in_a_row(readings))
    except LengthError as fault:
        raise Unusable(str(fault)) from fault
    return with_test(typed, before=before, unit=units, today=today)


def _how(kind: str, method: str, *, as_json: bool) -> int:
    """How one kind of test is done, or which there are."""
    from scribeline.cli import shop_report
    from scribeline.lengths import quoted
    from scribeline.proving import KINDS

    if kind not in (*KINDS, "all"):
        message = f"there is no kind of test {quoted(kind)}; there is {', '.join(KINDS)}"
        raise Unusable(message)
    kinds = tuple(KINDS.values()) if kind == "all" else (KINDS[kind],)
    shop_report.how(kinds, method=method, whole=kind != "all", as_json=as_json)
    return OK


@app.command
def parts(
    shelf: Annotated[str | None, Parameter(help="One shelf only.")] = None, *, json: AsJson = False
) -> int:
    """List the parts book: generic parts with typical dimensions. Measure yours."""
    from scribeline.cli import report
    from scribeline.job import parts_book

    book = parts_book()
    if shelf is not None and shelf not in book:
        from scribeline.lengths import quoted

        message = f"the parts book has no shelf {quoted(shelf)}; it has {', '.join(book)}"
        raise Unusable(message)
    report.parts({name: book[name] for name in book if shelf in (None, name)}, as_json=json)
    return OK


@app.command
def schema() -> int:
    """Write the JSON Schema of the job file, so that an editor can complete its keys."""
    import json

    from scribeline.job import JobTables

    described = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **JobTables.model_json_schema(),
        "title": "Scribeline job file",
    }
    sys.stdout.write(json.dumps(described, indent=1) + "\n")
    return OK


@app.command
def demo(*, out: Folder = Path("out/demo")) -> int:
    """Plan an instrument of our own invention and write its whole bench pack."""
    from scribeline.cli import report
    from scribeline.cli.files import differs, set_aside, write_all
    from scribeline.job import parse_job
    from scribeline.plan import plan as plan_job
    from scribeline.scenario import demo_jobs

    jobs = demo_jobs()
    kept = [set_aside(out / name) for name, text in jobs.items() if differs(out / name, text.encode())]
    written = write_all(out, {name: text.encode() for name, text in jobs.items()})
    planned = plan_job(*parse_job(jobs["marram.toml"], source="marram.toml"))
    written += _write_pack(planned, out, None)
    report.pack(written, out)
    report.kept(kept)
    report.findings(planned, brief=True)
    report.try_next(out)
    return _code(planned)


@app.command
def serve(
    *,
    port: Annotated[
        int | None, Parameter(help="Port to answer at; the first free one from 8437 on when left out.")
    ] = None,
    browser: Annotated[bool, Parameter(negative="--no-browser", help="Open the browser.")] = True,
    share: Annotated[
        bool,
        Parameter(negative="", help="Let paired devices of the shop's own network in, such as a tablet."),
    ] = False,
    https_port: Annotated[
        int | None,
        Parameter(
            help="With --share, port for tablets that trust the shop's certificate; "
            "the first free one after the other when left out."
        ),
    ] = None,
    data: Annotated[Path | None, Parameter(help="Folder of the shop's data; made if missing.")] = None,
    job: Annotated[Path | None, Parameter(help="A job file to bring in and open.")] = None,
    restore: Annotated[
        Path | None, Parameter(help="A backup to bring back first, where there is no data yet.")
    ] = None,
) -> int:
    """Run the shop app: plans, parts, checks and steps in a browser, on this PC or the shop's tablet."""
    from scribeline.store import StoreError
    from scribeline.web import serve as server

    folder = data or server.data_folder()
    if https_port is not None and not share:
        message = "--https-port needs --share: without it the app answers this PC alone, which needs no https"
        raise Unusable(message)
    try:
        if restore is not None:
            server.restore(restore, folder)
        return server.run(
            folder=folder, port=port, share=share, browser=browser, job=job, https_port=https_port
        )
    except StoreError as fault:
        raise Unusable(str(fault)) from fault


@app.command
def solid(
    job: JobPath,
    *,
    out: Folder,
    step: Annotated[
        bool,
        Parameter(negative="", help="Also write STEP, for CAD and CAM; needs the step extra (391 MB)."),
    ] = False,
    density: Annotated[
        float | None,
        Parameter(help="Your own board's density, kg/m³; otherwise the mean of the timber's kind."),
    ] = None,
    json: AsJson = False,
) -> int:
    """Write the finished body as a solid (STL, 3MF, GLB), and a neck carved here; say what they weigh and where it balances.

    Nothing is written while the checks say DO NOT CUT, unless you cut all the same (`scribeline override`) or what it is about is
    cut already, and nothing is ever written half.
    """
    from scribeline.cli import report, solid_report
    from scribeline.cli.files import write_all
    from scribeline.solid.body import make_body
    from scribeline.solid.faults import BodyError
    from scribeline.solid.weight import WeightError, layer_densities, weigh

    planned = _planned(job)
    if planned.forbidding:
        report.findings(planned, as_json=json)
        sys.stderr.write("No solid was made: the checks say DO NOT CUT.\n")
        return STOPPED
    layout = planned.layout
    try:
        densities = layer_densities(layout.body, weighed_kg_m3=density)
        with report.working("Cutting the solid"):
            body = make_body(layout.outline, layout.thickness, planned.features, form=layout.body)
            files = solid_report.files(planned, body, step=step)
    except (BodyError, WeightError) as fault:
        raise Unusable(str(fault)) from fault
    written = write_all(out, files, given=_given(job, planned))
    solid_report.told(planned, body, weigh(body, *densities), written, as_json=json)
    return OK


def _write_pack(planned: Plan, out: Path, paper: str | None, *, given: Sequence[Path] = ()) -> list[Path]:
    from scribeline.cli.files import write_all
    from scribeline.cli.report import working
    from scribeline.drawing import pack
    from scribeline.drawing.tiles import PaperError

    with working("Drawing the pack"):
        try:
            files = pack.draw(planned, paper=paper)
        except PaperError as fault:
            raise Unusable(fault.told(planned.unit)) from fault
    return write_all(out, files, given=given)


def run() -> None:
    """Entry point of the installed command; what it writes is UTF-8 wherever it goes."""
    from scribeline.bounds import SEARCHED_AFTER

    # A command makes little garbage and many things that stay: looking through them again and again took a tenth of its time.
    gc.set_threshold(*SEARCHED_AFTER)
    # Its matrices are small: starting threads for them costs more than they save.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(encoding="utf-8")
    code = main()
    # All that is left goes with the process: looking through it once more took a twelfth of a check.
    gc.freeze()
    sys.exit(code)


if __name__ == "__main__":
    run()
