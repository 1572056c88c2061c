"""Pilot holes of the screws that hold the bridge plate."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline import tables
from scribeline.features.bits import choose_bit, drill_box
from scribeline.features.cuts import DOWN, Bore, Reason, Screw, Step
from scribeline.features.pilots import BENCH_SOURCE, HANDBOOK_SOURCE, RELIEF, pilot_rule
from scribeline.job import Document
from scribeline.layout import Layout, Point3


def bridge_screws(document: Document, layout: Layout) -> Iterator[Bore]:
    """The pilots of the bridge plate's screws; none while the plate has no place."""
    if layout.plate is None:
        return
    screw, bits = document.bridge_screw, document.bits
    timber = tables.timber(document.body.timber)
    rule = pilot_rule(thread=screw.thread.mm, root=screw.root.mm, timber=timber)
    driver = Screw(
        thread=screw.thread.mm,
        root=screw.root.mm,
        length=screw.length.mm,
        under_head=document.bridge.plate_thickness.mm,
        key="bridge_screw.length",
        owned=screw.lengths_owned,
    )
    depth = driver.reach + RELIEF
    bit = choose_bit(
        drill_box(bits), rule.bench, ("twist", "brad-point"), reach=depth, point_angle_rad=bits.point_angle
    )
    why = (
        Reason(
            f"bench rule: pilot = root + k (thread − root) = {screw.root.mm:.2f} + {rule.share:.2f} × "
            f"({screw.thread.mm:.2f} − {screw.root.mm:.2f}) = {rule.bench:.2f} mm; k = {rule.share:.2f} because "
            f"{timber.label} is {rule.hardness}",
            BENCH_SOURCE,
        ),
        Reason(
            f"handbook rule: {'70' if timber.softwood else '90'} % of the root in "
            f"{'softwood' if timber.softwood else 'hardwood'} = {rule.handbook:.2f} mm",
            HANDBOOK_SOURCE,
        ),
        Reason(
            f"the bench rule is used; nearest bit in the box: {bit.name} ({bit.diameter - rule.bench:+.2f} mm)"
            if bit.owned
            else f"the box has no bit for it; get {bit.name}"
        ),
        Reason(
            f"depth = screw {screw.length.mm:.1f} − plate {document.bridge.plate_thickness.mm:.1f} + "
            f"{RELIEF:.1f} beyond the tip = {depth:.2f} mm at full diameter",
            BENCH_SOURCE,
        ),
    )
    for number, place in enumerate(layout.plate.screws, start=1):
        yield Bore(
            id=f"bridge-screw-{number}",
            role="bridge screw pilot",
            group="bridge screws",
            face="top",
            at=Point3(place.x, place.y, 0.0),
            axis=DOWN,
            steps=(Step(bit.diameter, depth, bit),),
            why=why,
            screw=driver,
        )
