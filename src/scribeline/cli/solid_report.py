"""What `scribeline solid` says: the body's weight, where it sits, and what each cut takes out."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.markup import escape
from rich.padding import Padding
from rich.table import Table

from scribeline.cli.report import WHAT, console_for_people, say
from scribeline.findings.wood import from_the_nut
from scribeline.lengths import in_unit, said

if TYPE_CHECKING:
    from scribeline.plan import Plan
    from scribeline.solid.body import Body, LayerPart
    from scribeline.solid.neck import NeckWood
    from scribeline.solid.weight import Balance, Density, LayerWeight, Weight

KG_PER_LB = 0.45359237
G_PER_KG = 1000.0


def files(plan: Plan, body: Body, *, step: bool) -> dict[str, bytes]:
    """The body's files and the neck's by name; STEP only when asked for, because its kernel is large and slow."""
    from scribeline.solid.meshfiles import mesh_files
    from scribeline.solid.neck import neck_meshes
    from scribeline.solid.neck_step import neck_steps
    from scribeline.solid.step import NO_DATE, step_file

    document, layout = plan.job.document, plan.layout
    made = mesh_files(body.mesh, document.name)
    for name, mesh in neck_meshes(document, layout, plan.head).items():
        made |= mesh_files(mesh, f"{document.name} {name}", stem=name)
    if step:
        date = NO_DATE if document.date is None else document.date.isoformat()
        made["body.step"] = step_file(
            layout.outline, layout.thickness, plan.features, form=layout.body, name=document.name, date=date
        )
        made |= neck_steps(document, layout, plan.head, date=date)
    return made


def record(plan: Plan, body: Body, weight: Weight, written: Sequence[Path]) -> dict[str, Any]:
    """The same as plain values: mm, mm³ and kg."""
    from scribeline.solid.neck import neck_mass, neck_wood
    from scribeline.solid.weight import on_strap

    wood = neck_wood(plan.job.document, plan.layout, plan.head)
    hangs = on_strap(weight, plan.layout, neck_mass(plan.job.document, plan.layout, plan.head))
    return {
        "job": plan.job.document.name,
        "timber": plan.job.document.body.timber.key,
        "volume_mm3": round(body.lump.volume_mm3, 1),
        "blank_mm3": round(body.blank.volume_mm3, 1),
        "pieces": body.pieces,
        "density": _density(weight.layers[0].density) if len(weight.layers) == 1 else None,
        "layers": [
            {
                "name": layer.name,
                "timber": part.layer.timber.key,
                "volume_mm3": 0.0 if part.lump is None else round(part.lump.volume_mm3, 1),
                "kg": round(layer.kg, 4),
                "density": _density(layer.density),
            }
            for layer, part in zip(weight.layers, body.layers, strict=True)
        ],
        "kg": round(weight.kg, 4),
        "kg_sd": round(weight.sd_kg, 4),
        "blank_kg": round(weight.blank_kg, 4),
        "removed_kg": round(weight.removed_kg, 4),
        "centre_of_mass": [round(part, 3) for part in weight.centre],
        "removed": [
            {"feature": r.feature, "mm3": round(v.volume_mm3, 1), "kg": round(r.kg, 6)}
            for r, v in zip(weight.removed, body.removed, strict=True)
        ],
        "carved": [{"what": r.role, "kg": round(r.kg, 6)} for r in weight.carved],
        **({} if wood is None else {"neck": _neck_record(wood)}),
        "balance": _balance_record(hangs),
        "written": [str(path) for path in written],
    }


def _density(density: Density) -> dict[str, Any]:
    return {
        "kg_m3": round(density.kg_m3, 1),
        "sd_share": round(density.sd_share, 4),
        "source": density.source,
    }


def _neck_record(wood: NeckWood) -> list[dict[str, Any]]:
    return [
        {
            "name": part.name,
            "volume_mm3": round(part.mm3, 1),
            "kg": round(part.kg, 4),
            "from_nut": round(part.along, 2),
            "density": _density(part.density),
        }
        for part in wood.parts
    ]


def _balance_record(hangs: Balance | None) -> dict[str, Any] | None:
    if hangs is None:
        return None
    return {
        "kg": round(hangs.kg, 4),
        "centre": [round(part, 2) for part in hangs.centre],
        "from_front_button": round(hangs.from_front, 2),
        "share": round(hangs.share, 4),
        "share_sd": round(hangs.share_sd, 4),
        "verdict": hangs.verdict,
    }


def told(plan: Plan, body: Body, weight: Weight, written: Sequence[Path], *, as_json: bool) -> None:
    """What the body weighs and what was made."""
    if as_json:
        text = json.dumps(record(plan, body, weight, written), indent=1, ensure_ascii=False, allow_nan=False)
        sys.stdout.write(text + "\n")
        return
    console = console_for_people()
    _weight(console, plan, body, weight)
    if body.pieces > 1:
        console.print(f"[bold]The cuts divide the body into {body.pieces} pieces.[/bold]")
    console.print(
        f"  blank {_mass(weight.blank_kg)}; all cuts{' and carving' if weight.carved else ''} together take out "
        f"{weight.removed_kg * G_PER_KG:.0f} g"
    )
    _neck(console, plan)
    _hangs(console, plan, weight)
    console.print(_removed(plan, body, weight))
    console.print(f"Made in {escape(str(written[0].parent))}:")
    for path in written:
        console.print(f"  {path.name:<12} {WHAT[path.name]}")


def _weight(console: Console, plan: Plan, body: Body, weight: Weight) -> None:
    console.print(
        f"[bold]{escape(plan.job.document.name)}[/bold]: body of bare wood {_mass(weight.kg)}, "
        f"give or take {weight.sd_kg:.2f} kg ({100 * weight.sd_kg / weight.kg:.0f} %, one standard deviation)"
    )
    of_a_kind = any(layer.density.of_a_kind for layer in weight.layers)
    several = len(weight.layers) > 1
    own = "each of yours" if several else "yours"
    give = "state kg_m3 in its layer" if several else "give that with --density"
    notes = [
        *(_layer(layer, part) for layer, part in zip(weight.layers, body.layers, strict=True)),
        f"Boards of one kind differ by 10 % and more. Weigh {own}, divide the kg by its volume in m³, and {give}."
        if of_a_kind
        else "",
        f"balance point: {from_the_nut(weight.centre, plan.layout)}",
    ]
    for note in filter(None, notes):
        console.print(Padding(in_unit(note, plan.unit), (0, 0, 0, 2)))


def _layer(layer: LayerWeight, part: LayerPart) -> str:
    name = f"{escape(layer.name)}: {_mass(layer.kg)}, " if layer.name else ""
    volume = 0.0 if part.lump is None else part.lump.volume_mm3
    density = layer.density
    return (
        f"{name}{volume / 1000:.0f} cm³ at {density.kg_m3:.0f} kg/m³ [dim]\\[{escape(density.source)}][/dim]"
    )


def _neck(console: Console, plan: Plan) -> None:
    """What the wood of a neck weighs that is carved here."""
    from scribeline.solid.neck import neck_wood

    wood = neck_wood(plan.job.document, plan.layout, plan.head)
    if wood is not None:
        parts = ", ".join(f"{part.name} {part.kg * G_PER_KG:.0f} g" for part in wood.parts)
        say(
            console,
            plan,
            f"  neck's wood: {_mass(wood.kg)} ({parts}), its weight {said(wood.along, 0)} from the nut; without rod, frets and "
            "tuners",
            soft_wrap=False,
        )


def _hangs(console: Console, plan: Plan, weight: Weight) -> None:
    """The balance on the strap, where the job says what hangs on the body and where the strap buttons are."""
    from scribeline.solid.neck import neck_mass
    from scribeline.solid.weight import on_strap

    layout = plan.layout
    hangs = on_strap(weight, layout, neck_mass(plan.job.document, layout, plan.head))
    if hangs is not None:
        say(
            console,
            plan,
            f"  on the strap: {_mass(hangs.kg)} in all, its weight {said(hangs.from_front, 0)} from the front button, "
            f"{100 * hangs.share:.0f} % of the way to the tail's, give or take {100 * hangs.share_sd:.0f} %: {hangs.verdict} "
            "[dim]\\[rule of thumb: common practice, no source][/dim]",
            soft_wrap=False,
        )
        for line in _moves(hangs):
            say(console, plan, f"    {line}", soft_wrap=False)
    elif layout.masses or len(layout.strap_buttons) >= 2:
        lack = "two [[strap_buttons]]" if layout.masses else "the hardware weights ([[masses]])"
        console.print(f"  for the balance on the strap, state {escape(lack)} in the job too")


def _moves(hangs: Balance) -> Iterator[str]:
    """What would bring the weight to where an instrument hangs well, where it does not."""
    from scribeline.solid.weight import FEELS_RIGHT

    low, high = FEELS_RIGHT
    if low <= hangs.share <= high:
        return
    share = low if hangs.share < low else high
    further = hangs.front.x - hangs.front_for(share)
    way = "towards" if further > 0 else "from"
    yield f"for {100 * share:.0f} %: the front button {said(abs(further), 0)} further {way} the nut"
    for part in hangs.parts:
        less = hangs.lighter_for(part, share)
        if less is not None and abs(less) <= part.kg / 2:
            yield f"or the {escape(part.name)} {abs(less) * G_PER_KG:.0f} g {'lighter' if less > 0 else 'heavier'}"


def _mass(kg: float) -> str:
    return f"{kg:.2f} kg ({kg / KG_PER_LB:.2f} lb)"


def _removed(plan: Plan, body: Body, weight: Weight) -> Table:
    """Pockets one by one; holes of a kind together."""
    kinds = {feature.id: feature.row for feature in plan.features}
    rows: dict[tuple[str, str], list[tuple[float, float]]] = {}
    for cut, lump in zip((*weight.carved, *weight.removed), (*body.carved, *body.removed), strict=True):
        rows.setdefault(kinds.get(cut.feature, ("", cut.role)), []).append((lump.volume_mm3, cut.kg))
    title = "Taken out, each cut by itself"
    table = Table(title=title, title_justify="left", box=None, pad_edge=False, padding=(0, 3, 0, 0))
    table.add_column("what")
    table.add_column("cm³", justify="right")
    table.add_column("g", justify="right")
    for (_, name), parts in rows.items():
        count = f"{len(parts)} " if len(parts) > 1 else ""
        table.add_row(
            escape(f"{count}{name}"),
            f"{sum(v for v, _ in parts) / 1000:.1f}",
            f"{sum(kg for _, kg in parts) * G_PER_KG:.1f}",
        )
    return table
