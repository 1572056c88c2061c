"""Rules for the strings themselves: what cannot be strung, and setbacks that the physics doubts."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from scribeline.findings.bridge import PREDICTED
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, STATED, Facts, Finding, Limit
from scribeline.findings.named import ratio
from scribeline.layout import OWN_SET, fret_cents, fret_lines
from scribeline.lengths import give_or_take, said
from scribeline.strings import Prediction, note_below, octave_fret

DOUBTED = Limit.of("setback_doubt")
STRESS = Limit.of("string_stress")
GIVE = Limit.of("string_give")

BASS_BELOW_HZ = 150.0
"""An instrument whose first string sounds lower is a bass (common practice, no source: a bass's first is G2, 98 Hz, or C3)."""

_BASS_ACTION = (2.0, 2.6)
"""Usual action of a bass, first and last string, mm (common practice, no source)."""

_ONLY_CAUTION = {"strings.action-too-low", "strings.finger-below-board"}
"""Faults of the set-up: the holes go where they go all the same."""


def cannot_be(facts: Facts) -> Iterator[Finding]:
    """Can these strings be tuned and played on this scale?"""
    stringing = facts.layout.stringing
    for fault in stringing.faults:
        yield Finding(
            code=fault.code,
            severity="caution" if fault.code in _ONLY_CAUTION else "stop",
            features=(),
            value=fault.value,
            limit=fault.limit,
            message=fault.message,
            cure=fault.cure,
            source=PREDICTED,
        )
    if stringing.refusal and not stringing.faults:
        yield Finding(
            code="strings.not-predicted",
            severity="caution" if stringing.is_placed else "stop",
            features=(),
            value=None,
            limit=None,
            message=f"nothing can be worked out for these strings: {stringing.refusal}",
            cure="correct the strings in the job, or state every string's compensation (setback) yourself",
            source=PREDICTED,
        )


def pull(facts: Facts) -> Iterator[Finding]:
    """Does a string nearly break, or hardly pull?"""
    stringing = facts.layout.stringing
    predictions = {OWN_SET: stringing.prediction, **stringing.others}
    for name, prediction in predictions.items():
        if prediction is not None:
            yield from _nearly_breaks(facts, name, prediction)
            yield from _hardly_pulls(facts, name, prediction)


def _nearly_breaks(facts: Facts, name: str, found: Prediction) -> Iterator[Finding]:
    limit, shares = facts.limit(STRESS), found.strength_share[1].tolist()
    number = shares.index(max(shares))
    # What reaches the least strength of its wire is told as a string that breaks.
    if not shares[number] < 1 or limit.severity(shares[number]) is None:
        return
    spec = found.problem.specs[number]
    lower = spec.pitch_hz * (limit.caution / shares[number]) ** 0.5
    yield Finding(
        code="strings.near-breaking",
        severity="caution",
        held_to=limit.level_id("caution"),
        features=(),
        value=shares[number],
        works=(
            ratio,
            {"one": float(found.stress_mpa[number]), "other": float(found.strength_mpa[0][number])},
        ),
        limit=limit.caution,
        message=f"{_which(name, number, spec.name)} nearly breaks: tuned to pitch it pulls {found.stress_mpa[number]:.0f} MPa, "
        f"{100 * shares[number]:.0f} % of the least its wire holds ({found.strength_mpa[0][number]:.0f} MPa)",
        cure=f"tune it to {note_below(lower)} or lower, or shorten the scale"
        + (": another plain gauge would pull much the same" if spec.is_plain else ", or take a thicker core"),
        source=limit.source,
    )


def _hardly_pulls(facts: Facts, name: str, found: Prediction) -> Iterator[Finding]:
    """A force F at the middle of a string of length L pushes it aside by F L / 4 T, as long as that is little."""
    limit, scale = facts.limit(GIVE), facts.layout.scale
    gives = [scale / (4 * tension) if tension > 0 else 0.0 for tension in found.tension_n.tolist()]
    number = gives.index(max(gives))
    if limit.severity(gives[number]) is None:
        return
    spec, tension = found.problem.specs[number], float(found.tension_n[number])
    wanted = scale / (4 * limit.caution)
    yield Finding(
        code="strings.hardly-pulls",
        severity="caution",
        held_to=limit.level_id("caution"),
        features=(),
        value=gives[number],
        limit=limit.caution,
        message=f"{_which(name, number, spec.name)} hardly pulls: {tension:.1f} N at pitch, so that 1 N at its middle pushes it "
        f"{said(gives[number], 1)} aside",
        cure=f"check its note and gauge; {wanted:.0f} N or more is wanted: {(wanted / tension) ** 0.5:.2f} times its gauge "
        "does it",
        source=limit.source,
    )


def _which(name: str, number: int, string: str) -> str:
    words = f"string {number + 1} ({string})"
    return words if name == OWN_SET else f"{words} of {name}"


def setup_of_a_bass(facts: Facts) -> Iterator[Finding]:
    """Does a bass rest on a guitar's set-up, because none is stated?"""
    specs, setup = facts.layout.stringing.sets[OWN_SET], facts.document.setup
    if specs[0].pitch_hz >= BASS_BELOW_HZ:
        return
    assumed = [key for key in ("action_treble", "action_bass", "relief") if key not in setup.model_fields_set]
    if not assumed:
        return
    usual = ", ".join(f"{key.replace('_', ' ')} {said(getattr(setup, key).mm)}" for key in assumed)
    treble, bass = _BASS_ACTION
    yield Finding(
        code="setup.not-stated",
        severity="caution",
        features=(),
        value=float(len(assumed)),
        limit=0.0,
        message=f"no set-up is stated for a bass, and a guitar's is used: {usual}. Saddle places and heights rest on it",
        cure=f"state {', '.join(f'setup.{key}' for key in assumed)} as you will set them; {treble:.1f} to {said(bass, 1)} at the "
        "12th fret are usual on a bass",
        source=COMMON_PRACTICE,
    )


def stated_setbacks(facts: Facts) -> Iterator[Finding]:
    """Does a stated compensation agree with what the strings' physics expects?"""
    stringing = facts.layout.stringing
    if stringing.prediction is None:
        return
    limit = facts.limit(DOUBTED)
    for i, string in enumerate(facts.layout.strings):
        expected, sd = float(stringing.prediction.setback[i]), float(stringing.prediction.sd[i])
        if stringing.stated[i] and limit.severity(abs(string.setback - expected) / max(sd, 1e-9)):
            yield Finding(
                code="strings.setback-doubted",
                severity="caution",
                features=(),
                value=string.setback,
                limit=expected,
                message=f"string {string.no} ({string.note}): the job states a compensation of {said(string.setback)}, and its "
                f"physics expects {said(expected)} {give_or_take(sd, 2)} (standard deviation). The stated one is used",
                cure="measure again from the centre of the 12th fret, or leave setback out to use the expected one",
                source=PREDICTED if limit is DOUBTED else limit.source,
            )


def rests_on_records(facts: Facts) -> Iterator[Finding]:
    """Do saddle places rest on what the shop's finished instruments taught?"""
    stringing, bench = facts.layout.stringing, facts.document.bench
    shop = stringing.shop
    if not shop.records or stringing.prediction is None:
        return
    unknown = bench.set_up_by is not None and shop.hand != bench.set_up_by
    whose = (
        f". No record is by {bench.set_up_by}, so all hands of the shop stand for that one" if unknown else ""
    )
    if not all(stringing.stated):
        yield Finding(
            code="strings.rest-on-records",
            severity="note",
            features=(),
            concerns=(),
            value=float(shop.records),
            limit=None,
            message=f"the saddle places rest on {shop.rests_on} ({bench.records}){whose}",
            cure=f"see what they teach: scribeline learn {bench.records}, or the app's page of finished instruments",
            source=RECORDS,
        )
    for words in shop.doubted:
        yield Finding(
            code="strings.record-doubted",
            severity="caution",
            features=(),
            concerns=(),
            value=None,
            limit=None,
            message=words,
            cure="where it cannot be measured again, strike it through: it stays on record and counts no more",
            source=RECORDS,
        )


RECORDS = "the shop's own records, weighed against one another (docs/strings.md)"


def frets_between(facts: Facts) -> Iterator[Finding]:
    """On a fan: how far do the frets under the inner strings stand off these strings' own series?"""
    document = facts.document
    lines = fret_lines(document)
    off = lines.off_series(fret_cents(document))
    string, fret = np.unravel_index(np.abs(off).argmax(), off.shape)
    worst = float(off[string, fret])
    if abs(worst) < _HEARD_BY_NOBODY:
        return
    path = facts.layout.strings[int(string)]
    yield Finding(
        code="frets.between-series",
        severity="note",
        features=(),
        value=worst,
        limit=None,
        message=f"the frets are straight, so under string {path.no} ({path.note}) fret {fret + 1} stands {abs(worst):.1f} cents "
        f"{'sharp' if worst > 0 else 'flat'} of that string's own series, the most of any; the outer strings' are true",
        cure='leave it, or space the nut by "equal centres" (nut.spacing), which makes every string\'s true',
        source=GEOMETRY,
    )


def octave_elsewhere(facts: Facts) -> Iterator[Finding]:
    """Where the octave is not divided by twelve: which fret is the octave, by which the action is counted?"""
    document = facts.document
    board = facts.layout.stringing.setup.board(len(document.strings))
    octave = octave_fret(board) + 1
    if octave == TWELFTH:
        return
    yield Finding(
        code="frets.octave-elsewhere",
        severity="note",
        features=(),
        concerns=(),
        value=float(octave),
        limit=None,
        message=f"the octave lies at fret {octave}: actions are over its crown, and saddles are set by it. Distances from "
        f"the 12th fret are from the 12th fret of this board, {board.cents[TWELFTH - 1]:.0f} cents over the open string",
        cure="set the action at the octave's fret, and lay out by the 12th as the cards say",
        source=GEOMETRY,
    )


TWELFTH = 12

_HEARD_BY_NOBODY = 0.1
"""Cents that nobody hears and no saw cuts."""


def assumed_making(facts: Facts) -> Iterator[Finding]:
    """Is a string taken as plain or wound although both are sold?"""
    doubtful = [
        (n, string)
        for n, string in enumerate(facts.document.strings, start=1)
        if string.construction is None and 0.45 < string.gauge < 0.53  # .018 to .0205 in: both are sold
    ]
    own = facts.layout.stringing.sets[OWN_SET]
    for number, string in doubtful:
        yield Finding(
            code="strings.making-assumed",
            severity="caution",
            features=(),
            value=string.gauge,
            limit=None,
            message=f"string {number} ({string.note}) is taken as {own[number - 1].construction}: "
            "this gauge is sold plain and wound, and their saddles stand far apart",
            cure='say construction = "plain" or "round-wound"',
            source=STATED,
        )
