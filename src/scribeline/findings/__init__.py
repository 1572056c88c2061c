"""What is wrong, and the cure: one rule per finding."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

from scribeline.findings import (
    air,
    as_built,
    board,
    bridge,
    carve,
    carved,
    controls,
    covers,
    drilled,
    edge,
    head,
    heights,
    holding,
    holes,
    inserts,
    missing,
    neck,
    numbers,
    nut,
    plate,
    posts,
    screws,
    singles,
    stringing,
    studs,
    tunnels,
    vibrato,
    wood,
)
from scribeline.findings.finding import TAGS, Facts, Finding, Limit, Severity, Tag, limit_in
from scribeline.findings.named import name_findings
from scribeline.findings.overriding import holds, may_happen, overridden, told_alike
from scribeline.lengths import JobUnit, Try, in_unit, tries_in

Rule = Callable[[Facts], Iterator[Finding]]

RULES: tuple[Rule, ...] = (
    stringing.cannot_be,
    stringing.frets_between,
    stringing.octave_elsewhere,
    board.slots_leave_wood,
    board.frets_end_on_the_board,
    board.frets_hold,
    board.wire_is_long_enough,
    nut.nut_can_be_made,
    nut.slots_fit_their_strings,
    nut.other_sets_fit,
    nut.strings_over_first_fret,
    nut.guide_breaks,
    head.strings_have_tuners,
    head.strings_over_the_nut,
    head.tuners_have_room,
    head.trees_hold_down,
    head.stock_is_one,
    head.stock_holds_the_head,
    heights.heights_close,
    heights.board_over_body,
    drilled.would_move,
    drilled.begun_otherwise,
    drilled.measured_far_off,
    as_built.holes_under_bridge,
    as_built.held_off,
    as_built.ferrules_behind,
    bridge.saddle_window,
    bridge.window_can_be_hit,
    plate.saddles_on_plate,
    bridge.string_holes_behind,
    plate.screws_beside_the_middle,
    studs.wood_before_studs,
    studs.studs_lifted,
    studs.strings_clear_the_bridge,
    studs.stud_slant,
    posts.breaks_over_saddles,
    posts.strings_over_the_edge,
    posts.saddles_arch,
    posts.tailpiece_lifted,
    vibrato.block_clears,
    vibrato.plate_clears,
    vibrato.springs_in_their_cavity,
    vibrato.springs_hold,
    vibrato.claw_screws,
    vibrato.claw_pilots,
    singles.bases_apart,
    singles.saddles_on_base,
    singles.one_screw_a_base,
    singles.knobs_clear_wood,
    singles.knobs_have_room,
    singles.tuners_reach,
    stringing.pull,
    stringing.setup_of_a_bass,
    stringing.stated_setbacks,
    stringing.rests_on_records,
    stringing.assumed_making,
    bridge.strings_from_treble,
    bridge.frets_on_board,
    bridge.edge_margins,
    plate.plate_guides,
    bridge.over_pockets,
    holes.meeting_bores,
    holes.ferrule_row,
    holes.ferrule_fits,
    tunnels.tunnels,
    holes.pilots,
    holes.missing_bits,
    holes.bits_long_enough,
    holes.long_mouths,
    screws.screw_tips,
    holding.screws_hold,
    edge.places,
    edge.jack,
    edge.access,
    edge.faces,
    edge.edges,
    edge.seats,
    edge.rounded_rims,
    neck.heel_engagement,
    neck.heel_sides,
    neck.between_pilots,
    neck.under_the_board,
    neck.clearance_holes,
    neck.tenon,
    inserts.inserts_hold,
    inserts.inserts_under_the_board,
    inserts.clear_of_the_rod,
    carve.deep_enough,
    carve.wood_round_channels,
    carve.between_channels,
    carve.rod_can_be_turned,
    carve.into_the_heel,
    carve.volute,
    carve.blank_holds_the_neck,
    controls.over_their_cavity,
    controls.beside_each_other,
    controls.beside_the_jack,
    controls.thread_through_the_wood,
    covers.cover_screws,
    covers.cover_flush,
    wood.neck_in_the_body,
    wood.open_mouth,
    wood.cheeks,
    air.cuts_nothing,
    wood.edges,
    wood.floors,
    wood.counterbores,
    carved.wood_left,
    carved.surfaces,
    carved.glue_lines,
    carved.thread_in_one_layer,
    carved.bridge_ground,
    carved.ferrule_ground,
    wood.webs,
    wood.router_passes,
    wood.router_corners,
    numbers.travel_rests_on,
    numbers.typical_numbers,
    numbers.imported_outline,
    numbers.inch_rounding,
    numbers.own_limits,
    missing.not_covered,
)
"""Every rule, in the order a builder would want to hear of them."""

_ORDER: dict[Severity, int] = {"stop": 0, "caution": 1, "note": 2}


def find(facts: Facts) -> tuple[Finding, ...]:
    """Everything the rules have to say, in the job's unit, stops first."""
    said = [in_job_unit(finding, facts.document.units) for rule in RULES for finding in rule(facts)]
    return stops_first(said)


def stops_first(said: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings by how serious they are, each kind in the order it is in."""
    return tuple(sorted(said, key=lambda finding: _ORDER[finding.severity]))


def in_job_unit(finding: Finding, unit: JobUnit) -> Finding:
    """A finding with its lengths said in a job's unit."""
    message, cure, source = (
        in_unit(words, unit) for words in (finding.message, finding.cure, finding.source)
    )
    return replace(finding, message=message, cure=cure, source=source, tries=tries_in(finding.cure, unit))


__all__ = [
    "RULES",
    "TAGS",
    "Facts",
    "Finding",
    "Limit",
    "Rule",
    "Severity",
    "Tag",
    "Try",
    "find",
    "holds",
    "in_job_unit",
    "limit_in",
    "may_happen",
    "name_findings",
    "overridden",
    "stops_first",
    "told_alike",
]
