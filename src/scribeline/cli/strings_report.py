"""What the string commands say, to a person or to a program."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np
from rich.console import Console
from rich.markup import escape
from rich.padding import Padding

from scribeline.cli.report import console_for_people, say
from scribeline.features import PRESS, bushing_hole
from scribeline.layout import OWN_SET, change_to, saddles_of
from scribeline.lengths import figure, in_unit, said, span
from scribeline.strings import Criterion, Vibrato, compensate_nut, place_studs, predict

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scribeline.features import BushingHole
    from scribeline.job import Records
    from scribeline.plan import Plan
    from scribeline.strings import Calibration, Prediction
    from scribeline.tables import Timber

NEWTON_PER_KILOGRAM_FORCE = 9.80665


def table(plan: Plan, *, criterion: Criterion, cents: bool, as_json: bool) -> None:
    """Every set's strings: tension, strength, setback with its spread, cents left; then the window.

    Args:
        plan: the job's plan; its window rests on the 12th fret whatever the criterion here.
        criterion: what the saddles are set by.
        cents: also list the cents at every fret.
        as_json: for a program.
    """
    stringing = plan.layout.stringing
    sets = {
        name: predict(specs, stringing.setup, stringing.shop, criterion)
        for name, specs in stringing.sets.items()
    }
    if as_json:
        _json(
            {
                "sets": [_set_record(name, found) for name, found in sets.items()],
                "bridge": _window_record(plan),
            }
        )
        return
    console = console_for_people()
    for name, found in sets.items():
        console.print(f"[bold]{escape(name[0].upper() + name[1:])}[/bold]")
        _set(console, plan, found, own=name == OWN_SET)
        if cents:
            _cents(console, found)
    layout, window, travel = plan.layout, plan.layout.window, plan.layout.travel
    past = layout.past("12th-fret", layout.scale)
    bridge = plan.job.document.bridge
    console.print("[bold]Bridge[/bold]")
    if layout.held is not None:
        say(
            console,
            plan,
            f"  {bridge.line} {said(layout.past('12th-fret', layout.bridge_line))} from the 12th fret, where its drilled "
            f"{layout.held.by} hold the {bridge.noun}; at least {said(travel.reserve)} of travel left there",
            soft_wrap=False,
        )
    elif window.is_empty:
        say(
            console,
            plan,
            f"  no place for the {bridge.noun}: {said(window.shortage)} of travel is missing; see scribeline check",
            soft_wrap=False,
        )
    else:
        say(
            console,
            plan,
            f"  {bridge.line} {span(past + window.low, past + window.high)} from the 12th fret, "
            f"target {said(past + window.aim)}; at least {said(window.reserve)} of travel left at the target",
            soft_wrap=False,
        )
    console.print(f"  greatest chance of a saddle running out of travel: {100 * travel.worst_miss:.2f} %")
    if stringing.shop.records:
        console.print(f"  These places rest on {escape(stringing.shop.rests_on)}")
    for words in stringing.shop.doubted:
        console.print(Padding(escape(in_unit(words, plan.unit)), (0, 0, 0, 4)))
    console.print(
        "These are estimates, and docs/strings.md says what they leave out. Set the saddles by ear and tuner."
    )


def _set(console: Console, plan: Plan, found: Prediction, *, own: bool) -> None:
    stringing = plan.layout.stringing
    setback = f"{'compensation (sd)':<{17 if plan.unit == 'mm' else 34}}"
    console.print(
        f"  [dim]   string                        tension   strength   {setback}   cents   spread mostly from[/dim]",
        soft_wrap=True,
    )
    for i, spec in enumerate(found.problem.specs):
        share = 100 * float(found.strength_share[1][i])
        worst = float(np.abs(found.cents[i]).max())
        key, part = found.dominant(i)[0]
        mostly = f"{key.replace('_', ' ')} {100 * part:.0f} %"
        stated = ""
        if own and stringing.stated[i]:
            stated = in_unit(f"; the job states {said(stringing.setback[i])}", plan.unit)
        console.print(
            f"  {i + 1:>2} {escape(spec.name):<28} {found.tension_n[i]:6.1f} N   {share:5.0f} %   "
            f"{_setback(plan, found, i)}   {worst:5.1f}   {mostly}{stated}",
            soft_wrap=True,
        )
    pull = found.pull_n
    console.print(
        f"  together they pull {pull:.0f} N, the weight of {pull / NEWTON_PER_KILOGRAM_FORCE:.1f} kg"
    )
    console.print(
        "  [dim]strength: stress as a share of the least the wire holds; cents: the worst note, saddle set back[/dim]\n",
        soft_wrap=True,
    )


def _setback(plan: Plan, found: Prediction, i: int) -> str:
    """A string's setback with its spread; in a shop of another unit that first, millimetres behind them."""
    mm = f"{found.setback[i]:6.2f} ({found.sd[i]:.2f}) mm"
    if plan.unit == "mm":
        return mm
    own = (figure(float(each), plan.unit) for each in (found.setback[i], found.sd[i]))
    return "{:>6} ({}) {}, ".format(*own, plan.unit) + mm


def _cents(console: Console, found: Prediction) -> None:
    """Cents each fretted note is sharp, with the saddle where it is wanted: a row a fret, a column a string."""
    console.print(
        "  [dim]fret" + "".join(f"{i + 1:>7}" for i in range(len(found.setback))) + "[/dim]", soft_wrap=True
    )
    for fret, row in enumerate(found.cents.T, start=1):
        console.print(f"  {fret:>4}" + "".join(f"{value:+7.1f}" for value in row), soft_wrap=True)
    console.print()


def nut(plan: Plan, *, as_json: bool) -> None:
    """Nut and saddle placed together: how far each nut slot's front would move, and what it gains."""
    stringing = plan.layout.stringing
    specs = stringing.sets[OWN_SET]
    found = compensate_nut(specs, stringing.setup, stringing.shop)
    rows = [
        {
            "no": i + 1,
            "string": spec.name,
            "nut_shift": float(found.nut_shift[i]),
            "setback": float(found.setback[i]),
            "worst_cents": float(np.abs(found.cents[i]).max()),
            "worst_cents_saddle_alone": float(np.abs(found.cents_saddle_alone[i]).max()),
        }
        for i, spec in enumerate(specs)
    ]
    if as_json:
        _json({"nut_compensation": rows})
        return
    console = console_for_people()
    console.print("[bold]Nut and saddle together[/bold], for the least error over all frets")
    for i, row in enumerate(rows):
        say(
            console,
            plan,
            f"  {row['no']} {escape(str(row['string'])):<28} nut {said(float(found.nut_shift[i]))} towards "
            f"the bridge, saddle {said(float(found.setback[i]))} past the scale line: worst note {row['worst_cents']:.1f} cents, "
            f"{row['worst_cents_saddle_alone']:.1f} with the saddle alone",
        )


def studs(plan: Plan, spread: float, *, ridge: float, bushing: float | None, as_json: bool) -> None:
    """Where the studs of a slanted one-piece bridge would stand, and the holes their bushings want.

    Args:
        plan: the job's plan; a setback that the job states wins over the one worked out, string by string.
        spread: stud to stud, mm.
        ridge: how far the bridge's ridge lies behind the studs' centres, mm.
        bushing: diameter over the knurl, mm; None where it is not known.
        as_json: for a program.
    """
    layout, document = plan.layout, plan.job.document
    found = place_studs(layout.stringing.along, saddles_of(document).y, spread, ridge=ridge)
    wood = layout.body.layers[0].timber
    hole = None if bushing is None else bushing_hole(document, wood, bushing)
    low, high = PRESS[wood.hardness_class]
    if as_json:
        _json(
            {
                "treble": found.treble,
                "bass": found.bass,
                "slant_deg": found.slant_deg,
                "behind": list(found.behind),
                "press": [low, high],
                "hole": None
                if hole is None
                else {
                    "diameter": hole.diameter,
                    "least": hole.least,
                    "most": hole.most,
                    "bit": hole.bit.name,
                },
            }
        )
        return
    console = console_for_people()
    say(
        console,
        plan,
        f"[bold]Studs {said(spread)} apart[/bold], for a one-piece bridge slanted by {found.slant_deg:.2f}°",
        soft_wrap=False,
    )
    where = f"  treble stud {_past(found.treble)}, bass stud {_past(found.bass)}"
    say(console, plan, where, soft_wrap=False)
    stands = (
        "The ridge is taken to stand over the studs' centres. Measure yours and give --ridge"
        if ridge == 0
        else f"The ridge stands {said(abs(ridge))} {'behind' if ridge > 0 else 'in front of'} the studs' centres"
    )
    say(console, plan, f"  {stands}.", soft_wrap=False)
    off = "; ".join(
        f"{string.note} {said(behind, signed=True)}"
        for string, behind in zip(layout.strings, found.behind, strict=True)
    )
    say(console, plan, f"  Left for the ridge's own steps, behind its line (+): {off}", soft_wrap=False)
    for line in _bushing_lines(wood, bushing, hole):
        say(console, plan, f"  {line}", soft_wrap=False)


def _bushing_lines(wood: Timber, bushing: float | None, hole: BushingHole | None) -> Iterator[str]:
    """The holes for the bushings, or what they depend on."""
    low, high = PRESS[wood.hardness_class]
    press = f"{span(low, high)} smaller than the bushing over its knurl"
    if bushing is None or hole is None:
        yield f"Their holes in {wood.in_words}: {press}. Measure the bushing and give --bushing."
        return
    film = f", {said(hole.film)} of it for the finish in the hole" if hole.film else ""
    bit = hole.bit.in_words if hole.bit.owned else "none in the box lies between: get one that does"
    yield f"Their holes in {wood.in_words}: {span(hole.least, hole.most)} for a {said(bushing)} bushing{film}."
    yield f"Bit: {bit}. Rule: {press} (common practice, no source). Press one in scrap first; no hammer on a finished top."


def _past(place: float) -> str:
    return f"{said(abs(place))} {'past' if place >= 0 else 'before'} the scale line"


def change(plan: Plan, name: str, *, vibrato: Vibrato | None, as_json: bool) -> None:
    """What changing to another set would do."""
    layout, stringing = plan.layout, plan.layout.stringing
    found = change_to(plan.job.document, stringing, name, bridge=layout.travel, vibrato=vibrato)
    forward, back = found.travel_forward, found.travel_back
    assert forward is not None
    assert back is not None
    if as_json:
        _json(
            {
                "to": name,
                "pull_change_n": found.pull_change_n,
                "relief": found.relief,
                "travel_suffices": bool(found.travel_suffices),
                "springs_n": None
                if found.balance is None
                else [found.balance.before_n, found.balance.after_n],
                "strings": [
                    {
                        "no": i + 1,
                        "tension_change_n": float(found.tension_change_n[i]),
                        "saddle_move": float(found.saddle_move[i]),
                        "saddle_move_sd": float(found.saddle_move_sd[i]),
                        "saddle_after": float(found.saddle_after[i]),
                        "slot_widening": float(found.slot_widening[i]),
                        "travel_forward": float(forward[i]),
                        "travel_back": float(back[i]),
                    }
                    for i in range(len(stringing.setback))
                ],
            }
        )
        return
    console = console_for_people()
    console.print(f"[bold]Changing to {escape(name)}[/bold], the action kept as it is")
    say(console, plan, f"  pull {found.pull_change_n:+.0f} N; {found.relief_advice}", soft_wrap=False)
    for i, spec in enumerate(stringing.sets[name]):
        slot = (
            f"; widen its nut slot by {said(found.slot_widening[i])}"
            if found.slot_widening[i] > 0.005
            else ""
        )
        say(
            console,
            plan,
            f"  {i + 1} {escape(spec.name):<28} {found.tension_change_n[i]:+6.1f} N   saddle "
            f"{said(found.saddle_move[i], signed=True)} "
            f"(sd {said(found.saddle_move_sd[i])}), travel left {said(forward[i])} forward, "
            f"{said(back[i])} back{slot}",
        )
    if found.balance is not None:
        say(console, plan, f"  Vibrato: {found.balance.advice}", soft_wrap=False)
    console.print(
        "  The saddles have travel enough."
        if found.travel_suffices
        else "  [bold]A saddle runs out of travel.[/bold]"
    )


def learnt(found: Calibration, records: Records, *, as_json: bool) -> None:
    """What the records teach, which is doubted, and which does not count."""
    left_out = [each.standing for each in records.kept if not each.counts]
    if as_json:
        _json(
            {
                "before": {"mean": found.prior.mean, "sd": found.prior.sd},
                "after": {"mean": found.posterior.mean, "sd": found.posterior.sd},
                "by_hand": [{"hand": each.hand, "mean": each.mean, "sd": each.sd} for each in found.by_hand],
                "scatter": None if found.scatter is None else asdict(found.scatter),
                "records": [
                    {"name": v.record, "doubt": v.doubt, "doubted_string": v.doubted_string, "words": v.words}
                    for v in found.verdicts
                ],
                "left_out": left_out,
            }
        )
        return
    console = console_for_people()
    if not found.verdicts:
        console.print("There are no finished instruments in it yet; predictions rest on the prior.")
    for line in (*found.lines(), *found.scatter_lines()):
        console.print(f"  {escape(in_unit(line, records.unit))}")
    for each in (*(verdict.words for verdict in found.verdicts), *left_out):
        console.print(Padding(escape(in_unit(each, records.unit)), (0, 0, 0, 2)))
    console.print('To use them, name the file in a job: bench.records = "…".')


def _set_record(name: str, found: Prediction) -> dict[str, Any]:
    greatest, least = found.strength_share
    return {
        "name": name,
        "pull_n": found.pull_n,
        "strings": [
            {
                "no": i + 1,
                "string": spec.name,
                "pitch_hz": spec.pitch_hz,
                "mass_g_m": 1000 * float(found.mass_kg_m[i]),
                "tension_n": float(found.tension_n[i]),
                "stress_mpa": float(found.stress_mpa[i]),
                "strength_share": [float(greatest[i]), float(least[i])],
                "inharmonicity": float(found.inharmonicity[i]),
                "setback": float(found.setback[i]),
                "setback_sd": float(found.sd[i]),
                "spread_from": [
                    {"input": key, "share": share} for key, share in found.dominant(i) if share >= 0.01
                ],
                "cents": found.cents[i].tolist(),
                "cents_without_setback": found.cents_uncompensated[i].tolist(),
                "why": list(found.why(i)),
            }
            for i, spec in enumerate(found.problem.specs)
        ],
    }


def _window_record(plan: Plan) -> dict[str, Any]:
    window, travel = plan.layout.window, plan.layout.travel
    return {
        "low": window.low,
        "aim": window.aim,
        "high": window.high,
        "front": travel.front,
        "reserve": travel.reserve,
        "short_by": window.shortage,
        "sets": list(window.sets),
        "out_of_travel": [list(chances) for chances in travel.misses],
    }


def _json(value: Any) -> None:
    sys.stdout.write(json.dumps(value, indent=1, ensure_ascii=False) + "\n")
