"""Which words of a pack stand for which kind of number, and of which cuts: the rules by which it is read back."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from tests.pack_figures import Figure
from tests.pack_truth import PER_STEP, Truth

ANGLES = {
    "lean back",
    "lean",
    "lean now",
    "lean ±",
    "~turn",
    "slope",
    "upright",
    "heading",
    "tail heading",
    "cone",
    "fret lean",
    "head lean",
    "nut slope",
    "nut slope low",
    "nut slope high",
    "nut lean",
    "breaks",
    "kinks",
    "leans",
    "least break",
    "most break",
}

TRIMMED = {
    "screw thread",
    "screw length",
    "insert bolt",
    "insert long",
    "insert over",
    "insert screw",
    "diameter",
    "bit",
    "cutter",
    "corner",
    "a cutter",
    "a router",
    "a shaft",
}
"""Kinds that are printed without their last zeros."""

ANY_OF = {
    "side dot",
    "plate 12th",
    "plate end",
    "plate board",
    "plate nut",
    "plate near",
    "plate far",
    "mark off",
    "diagonal",
    "over all",
    "a layer",
    "a blank",
    "a fall",
    "an inset",
    "a corner end",
    "a corner off",
    "a drop",
    "a cutter",
    "a depth",
    "a router",
    "a shaft",
    "drawn",
    "a join",
    "a row",
    "claw moves",
    "insert hole",
    "a bushing",
    "aslant",
    "along",
    "out along",
    "neck side along",
    "tail side along",
}
"""Kinds of which there are several and the page does not say which."""

NUMBERS = r"\b[A-Z]\d*\b(?:(?:, | to |–)[A-Z]\d*\b)*"


@dataclass(frozen=True)
class Claim:
    """What a figure says: one number of one cut, or of the plan itself."""

    id: str
    kind: str
    value: float | None
    trimmed: bool = False
    step: int = 0

    def holds(self, figure: Figure) -> bool:
        return self.value is not None and figure.agrees(self.value, trimmed=self.trimmed)


@dataclass
class Text:
    """One page, or one paragraph of a report, being read."""

    truth: Truth
    where: str
    marked: str
    figures: list[Figure]
    claims: dict[int, list[Claim]] = field(default_factory=dict)
    exempt: dict[int, str] = field(default_factory=dict)
    steps: dict[str, int] = field(default_factory=dict)
    before: Sequence[str] = ()
    said: Sequence[str] = ()

    def may_be(self, number: int, kind: str) -> bool:
        """Whether a figure is still nobody's, and an angle where an angle is meant."""
        angle = self.figures[number].readings[0].text.endswith("°")
        return number not in self.claims and number not in self.exempt and angle == (kind in ANGLES)

    def claim(self, ids: Iterable[str], kind: str, number: int, *, negative: bool = False) -> None:
        """Say what a figure stands for."""
        figure, trimmed = self.figures[number], kind in TRIMMED
        least, _, plain = kind.partition(" ")
        if least in {"least", "most"} and ("", kind) not in self.truth.facts:
            every = [self.truth.facts[each, plain] for each in ids if (each, plain) in self.truth.facts]
            steps = [self.steps.get(each, 0) if plain in PER_STEP else 0 for each in ids]
            among = [values[step] for values, step in zip(every, steps, strict=False)]
            worst = (min if least == "least" else max)(among, default=None)
            self.claims.setdefault(number, []).append(Claim(" ".join(ids), kind, worst))
            return
        for each in ids:
            values = self.truth.facts.get((each, kind), self.truth.facts.get(("", kind), (None,)))
            if kind in {"diameter", "bit"} and values[0] is not None:
                off = [abs(value - figure.readings[0].value) for value in values]
                self.steps[each] = off.index(min(off))
            if kind in ANY_OF and values[0] is not None:
                read = abs(figure.readings[0].value)
                values = (min(values, key=lambda value: abs(abs(value) - read)),)
            step = self.steps.get(each, len(values) - 1) if kind in PER_STEP else 0
            value = values[step] if step < len(values) else None
            if value is not None and negative:
                value = -value
            self.claims.setdefault(number, []).append(Claim(each, kind, value, trimmed, step))

    @property
    def left_over(self) -> list[str]:
        """Figures that no rule knows."""
        return [
            f"{self.where}: nobody knows what {figure} is: …{self.around(n)}…"
            for n, figure in enumerate(self.figures)
            if n not in self.claims and n not in self.exempt
        ]

    @property
    def wrong(self) -> list[str]:
        """Figures that are not what plan.json has."""
        return [
            f"{self.where}: {claim.id or 'plan'}, {claim.kind}: {self.figures[n]} is printed, plan.json has {claim.value}"
            for n, claims in self.claims.items()
            for claim in claims
            if not claim.holds(self.figures[n])
        ]

    def around(self, number: int) -> str:
        at = self.marked.find(f"«{number}»")
        return self.marked[max(0, at - 60) : at + 60]


@dataclass(frozen=True)
class Rule:
    """Words with {kinds} in them, and whose numbers these are: those named in them, else the page's own."""

    pattern: re.Pattern[str]
    kinds: tuple[str, ...]


def rule(words: str) -> Rule:
    """A rule from words such as "Stop at {stop}": a kind in braces stands for a figure.

    A kind that begins with ~ is not about cuts; "(?P<ids>…)" names the cuts, and "(?P<role>…)" by what they are.
    """
    kinds: list[str] = []

    def figure(found: re.Match[str]) -> str:
        kinds.append(found[1])
        return rf"«(?P<f{len(kinds) - 1}>\d+)»"

    return Rule(re.compile(re.sub(r"\{([^{}]+)\}", figure, words)), tuple(kinds))


def apply(text: Text, rules: Iterable[Rule], scope: Sequence[str]) -> None:
    """Read a text by rules: the first that knows a figure has it.

    Args:
        text: what to read.
        rules: in order.
        scope: whose numbers they are where the words name nobody.
    """
    for each in rules:
        for found in each.pattern.finditer(text.marked):
            ids = _owners(text.truth, found.groupdict(), scope)
            for n, told in enumerate(each.kinds if ids is not None else ()):
                kind, colon, of = told.partition(":")
                number = -1 if found[f"f{n}"] is None else int(found[f"f{n}"])
                if number < 0 or not text.may_be(number, kind):
                    continue
                if kind.startswith("~"):
                    text.exempt[number] = kind[1:]
                    continue
                owners = text.before if of == "<" else [of] if colon else ids
                after = text.marked[found.end(f"f{n}") + 1 :].lstrip()
                text.claim(owners or (), kind, number, negative=_turned(kind, after))


def _owners(truth: Truth, named: dict[str, str | None], scope: Sequence[str]) -> Sequence[str] | None:
    """Ids of those whose numbers a rule's words tell; None where they name what the plan does not have."""
    ids = scope
    for group in ("string", "fret", "base"):
        if word := named.get(group):
            ids = [f"{group} {word.replace('nut', '0')}"]
    if named.get("ids") or named.get("role"):
        ids = truth.numbers(named.get("ids") or "") or truth.by_role(named.get("role") or "")
    if named.get("part"):
        ids = [truth.note_part(named["part"] or "", named["key"] or "")]
    if named.get("a"):
        ids = [truth.note_pair(named["a"] or "", named["b"] or "")]
    if named.get("other"):
        truth.note_web(ids, named["other"] or "")
    return ids if ids or not (named.get("ids") or named.get("role")) else None


def _turned(kind: str, after: str) -> bool:
    """Whether the words behind a figure say that it runs the other way than its kind."""
    other = {
        "treble": "bass",
        "bass": "treble",
        "across": "bass",
        "out across": "bass",
        "heading": "bass",
        "tail heading": "bass",
        "claw moves": "slacker",
        "line": "before",
    }.get(kind)
    return after.startswith("to the nut") or bool(other and re.match(rf"(?:to the )?{other}", after))


def without(text: str, sentences: Iterable[str]) -> tuple[str, list[str]]:
    """A page's text without what plan.json says in the same words, and what that was."""
    flat = re.sub(r"\s+", " ", text.replace("|", " "))
    said = []
    for sentence in sorted(sentences, key=len, reverse=True):
        for words in (sentence, sentence[:1].upper() + sentence[1:]):
            if len(words) > 20 and words in flat:
                flat = flat.replace(words, "…")
                said.append(words)
    return flat, said


def drawn(text: Text, ids: Iterable[str], kinds: Iterable[str]) -> None:
    """Have what is left on a drawing, where no word says what it is, be the nearest of these kinds of these cuts."""
    known = [
        (each, kind, value)
        for each in ids
        for kind in kinds
        for value in text.truth.facts.get((each, kind), ())
        if value is not None
    ]
    for n, figure in enumerate(text.figures):
        if n in text.claims or n in text.exempt or not known:
            continue
        side = -1.0 if re.match(r" bass", text.marked[text.marked.find(f"«{n}»") + len(f"«{n}»") :]) else 1.0
        each, kind, value = min(known, key=lambda one: abs(one[2] * side - figure.readings[0].value))
        text.claims[n] = [Claim(each, kind, value * side)]


CAUTIONS = (
    rule(r"Passes of (?:3|{~pass}) (?:to )?{~pass}"),
    rule(r"{~bar}(?: /)?(?: {~bar})? ?:? measure me(?: \({~bar} /? ?between)?"),
)

SIDE = r"(?: to the (?:treble|bass))"
MARK = "(?:(?:tailpiece's |tail's )?(?:treble|bass) (?:stud|post|screw)|set-out line)"
PLACE = rf"(?:{{across}}{SIDE}|on the centreline)"
NUT = r"(?: to the nut)?"
ID = r"\b[A-Z]\d*\b"

ASLANT = rule(r"laid aslant from it to the top, it reads {aslant:}")

_CAVITIES = ("bridge pickup", "middle pickup", "neck pickup")

GATES = (
    ASLANT,
    *(
        rule(rf"[Tt]emplate, {name}: treble side ?, expected {{{name.replace(' ', '-')}-treble-side value}}")
        for name in _CAVITIES
    ),
    rule(r"[Tt]emplate: nut side ?, expected {nut-side value}"),
    rule(r"[Tt]emplate: treble side ?, expected {treble-side value}"),
    *(
        rule(rf"[Dd]iagonal from the {side} [^«»,]*, expected {{diagonal-{side} value}}")
        for side in ("treble", "bass")
    ),
    *(
        rule(rf"[Tt]hread to the {side} edge, fret (?:\d+|{{~fret}}) ?, expected {{margin-{side} value}}")
        for side in ("treble", "bass")
    ),
    rule(r"[Tt]hread to the (?:treble|bass) edge, fret {~fret}"),
    rule(r"{low} to {high} (?:12th fret|Nut) to [^«».]*? (?:mm|in) (?:Diagonal|Thread)"),
    rule(r"within {wanted} is wanted, and a reading is good for {good for}"),
    rule(r"{low} to {high} End wall"),
    rule(r"[Mm]outh: {mouth low} to {mouth high}(?: ?, expected {mouth value})?"),
    rule(r"[Ff]ret 12: {at 12 low} to {at 12 high}(?: ?, expected {at 12 value})?"),
    rule(r"[Ll]ine to base (?P<base>\d+), expected {line}"),
    rule(r"{low} to {high} 12th fret to the line"),
    rule(r"Line to base {~box}"),
    rule(r"(?:SHOULD MEASURE) {value}"),
    rule(r"{value} nut's front face 12th fret measure here"),
    rule(r"where to measure for: Check the scale on the real neck {value} nut's"),
    rule(r"should read {value}"),
    rule(r"expected {value} (?:at least {low} )?at most {high}"),
    rule(r"(?:[A-Z]\d+|[A-Z][a-z -]+), expected {value}"),
    rule(r"AT MOST {high}"),
    rule(r"opposite gaps, {~sweep} apart; at the limit a hole {~lean} deep is {~lean} off"),
    rule(r"At most {high}"),
    rule(r"{low} to {high}(?: to)? Reading"),
    rule(r", expected {value}"),
    rule(r"{low} to {high}(?: to)? {~box} {~box} {~box} {~box} Initials"),
    rule(r"{low} to {high}(?: to)? [^«».]*? (?:mm|in) [^«».]*? (?:mm|in) Initials"),
)
"""What a card's gate takes: its scope is the card."""

BIT = (
    rule(r"BIT, countersink {bit}"),
    rule(r"BIT, [\w-]+ {diameter}"),
    rule(r"(?<!the )bit {bit} [a-z]"),
)
"""A card's bit, which says which diameter of its holes all else on it is about."""

ORDER = (
    rule(r"one bushing in {a bushing:}"),
    rule(r"{bit} countersink {stop}"),
    rule(r"{diameter} (?:twist|brad-point|flat-bottomed) {stop}"),
    rule(r"router {depth}"),
)
"""A row of the order of work: the tool and what it is set to."""

SECTION = (
    rule(r"{depth} full diameter"),
    rule(r"{point} the point"),
    rule(r"{under_point} left under point"),
    rule(r"{under} left under the rim"),
    rule(r"{to partner} left to [A-Z]"),
    rule(r"{under_point} left to the [a-z]"),
    rule(r"{partner opens} open: [A-Z]"),
    rule(r"{opens} open: (?:the )?[a-z]"),
    rule(r"{thickness} the (?:back|top) face"),
)
"""A card's section: its scope is the hole it is drawn at."""

FLOOR = (rule(r"{least under} left to the [a-z]"),)
"""A section through cavities that are routed together: the least wood under any of them."""

CARDS = (
    *CAUTIONS,
    rule(r"one bushing in {a bushing:}"),
    rule(r"{depth} floor, end wall {under} least wood left"),
    rule(r"Rout in passes to {depth} at the end wall"),
    rule(
        r"The floor leans {leans:} ?, to {mouth depth} at the mouth\. [^«»]*: {thin:} thick {~wedge} from its thin end, "
        r"{thick:} at {~wedge}"
    ),
    rule(r"The tilted bit leans the end wall {wall lean:} towards"),
    rule(r"Plane both edges square, {core half} from it at the board's end and {core half tail} at the tail"),
    rule(r"Square a line round the blank {board to} from the nut"),
    rule(r"at its end and {leans} off it, (?:lower|higher) towards the nut: {thin} in {~wedge}"),
    rule(r"At the body's neck edge it lies {board sunk} (?:below|over) the top"),
    rule(r"Leave it {thickness} thick there"),
    rule(r"Plane the wings \([a-z ]+\) {thickness} thick"),
    rule(r"to the board's underside at the board's end: {board stands}\."),
    rule(r"the saddles take up: {straightedge} is what the plan has"),
    rule(r"Set the wheels for the strings {wheels:} over the body"),
    rule(
        r"for the strings to leave it {tail height:} over the body at its studs\. They then break by {least break:} to "
        r"{most break:} over the saddles"
    ),
    rule(
        r"Plane the boards, from the top down: (?:[^«»]*\) {a layer:})(?:; [^«»]*\) {a layer:})(?:; [^«»]*\) {a layer:})?"
    ),
    rule(r"[Aa] {~feeler} feeler"),
    rule(
        r"{a corner end:} behind the (?:pocket's end wall|board's end), {a corner off:} to the (?:treble|bass)"
    ),
    rule(r"until its floor lies {a drop:} below the level"),
    rule("[Aa]t the edge: {a fall:}" + 3 * "(?:; {an inset:} in: {a fall:})?"),
    rule(r"{~wire} chuck bent wire"),
    rule(r"where to measure for: Check that the press table is square {~wire}"),
    rule(r"circle of {~wire} radius"),
    rule(r"for: Check the blank's thickness 1 {~box}"),
    rule(r"1 {~box} (?:2 )?{~box} (?:3 )?{~box} (?:4 )?{~box} (?:Seen f|F)rom the front"),
    rule(r"agree within {~margins}"),
    rule(r"(?:ROUTER BIT, at most|router bit of) {cutter}"),
    rule(r"DEPTH(?:, full diameter| along the hole)? {depth}"),
    rule(r"angle from the face {slope}"),
    rule(r"(?:SLOPE|ANGLE) from the face {slope}"),
    rule(r"DEPTH STOP {stop}"),
    rule(r"TAPE from the bit's point {stop}"),
    rule(r"Hole {depth} deep (?:at full diameter|along the hole)"),
    rule(r"Depth stop {stop}[,. ]*Zero it with the point on [^.«»]*\."),
    rule(r"Tape the bit {stop} from its point[,. ]*Drill until the tape is level with"),
    rule(r"Stop at {touching} ?,? zeroed with the point touching the wood"),
    rule(r"To the far wall: {to wall}"),
    rule(r"{depth} the floor"),
    rule(r"{under} wood left"),
    rule(
        rf"(?:opening|neck side) (?P<role>[a-z][^«»]*?) (?:{{neck side 12th}}{NUT} {{neck side board}}|{{neck side along}})"
        rf"{NUT} treble {{treble}}{SIDE}"
    ),
    rule(
        rf"tail side (?P<role>[a-z][^«»]*?) (?:{{tail side 12th}}{NUT} {{tail side board}}|{{tail side along}}){NUT} "
        rf"bass {{bass}}{SIDE}"
    ),
    rule(rf"(?:opening|mouth|neck side) {{neck side 12th}}{NUT} {{neck side board}}"),
    rule(r"(?:opening|mouth|neck side) {neck side along}"),
    rule(rf"tail side {{tail side 12th}}{NUT} {{tail side board}}"),
    rule(r"tail side {tail side along}"),
    rule(rf"treble {{treble}}{SIDE}"),
    rule(rf"bass {{bass}}{SIDE}"),
    rule(r"Corner radius {corner}"),
    rule(r"Rout in passes to {depth} from"),
    rule(
        rf"(?P<ids>{ID} «\d+» {ID}) «\d+» (?:{{12th}}{NUT} {{board}}|{{along}}){NUT} (?={ID} «|pocket|tail|12th)"
    ),
    rule(
        rf"(?P<ids>{ID}) in {{along}}{NUT} {PLACE}"
        r"(?: on the (?:top|back)| {below top} below top| {below back} below back)"
    ),
    *(
        rule(rf"below back's edge {before}(?P<ids>{ID}) {{along}}{NUT} {PLACE} {{below back}}")
        for before in ("", rf"{ID} «\d+»{NUT} (?:«\d+»{SIDE}|on the centreline) «\d+» ")
    ),
    rule(
        rf"(?P<ids>{ID}) out {{out along}}{NUT} (?:{{out across}}{SIDE}|on the centreline) "
        r"(?:{out below top} below top|{out below back} below back)"
    ),
    rule(rf"(?P<ids>{ID}) {{12th}}{NUT} {{board}}{NUT} {PLACE}"),
    rule(rf"(?P<ids>{ID}) {{along}}{NUT} {PLACE} {{below top}}"),
    rule(rf"below top's edge {{along}}{NUT} (?P<ids>{ID}) {PLACE} {{below top}}"),
    rule(rf"(?P<ids>{ID}) {{along}}{NUT} {PLACE}"),
    rule(
        rf"(?:{{12th}}{NUT} {{board}}|{{along}}){NUT} (?P<ids>{ID}(?: (?:«\d+»{SIDE}|on the centreline) {ID})+) "
        rf"(?:«\d+»{SIDE}|on the centreline)"
    ),
    rule(rf"(?<![A-Z]\d )(?:{{12th}}{NUT} {{board}}|{{along}}){NUT} (?P<ids>{ID}) {PLACE}"),
    rule(rf"(?P<ids>{ID} «\d+» {ID}) «\d+» {{12th}} {{board}}(?= BEFORE)"),
    rule(rf"(?P<ids>{ID}) {{across}}{SIDE}"),
    rule(rf"(?P<ids>{NUMBERS}) from 12th fret {NUMBERS} from board end [^«»]*{{12th}}{NUT} {{board}}"),
    rule(rf"(?P<ids>{NUMBERS}) from (?:pocket end wall|tail edge) [^«»]*{{along}}"),
    rule(r"from 12th fret from board end (?:No\. centreline to (?:treble|bass) )*{12th} {board}"),
    rule(r"from (?:pocket end wall|tail edge) (?:No\. centreline to (?:treble|bass) )*{along}"),
    rule(r"(?<=\. ){plate board:} {plate 12th:} 12th fret board end"),
    rule(r"{board} {12th} 12th fret board end"),
    rule(r"(?<![A-Z]\d )(?<![A-Z]\d\d ){along} (?:pocket end wall|tail edge)"),
    rule(r"front edge {plate board} from the board's end"),
    rule(r"centre {plate 12th} ?; slot {plate 12th} ?; nut side {plate near} ?; bridge side {plate far}"),
    rule(r"far front corner: {diagonal}"),
    rule(r"Square a line across the top {plate end} from the (?:pocket's end wall|board's end)"),
    rule(r"base (?P<base>\d+) {line} (?:before|behind)"),
    rule(r"base (?P<base>\d+) {across} (?:treble|bass)"),
    rule(r"far (?:stud|post|outer screw)'s centre: {diagonal:}\."),
    rule(r"far (?:stud|post|outer screw)'s centre: from the treble {diagonal:} ?, from the bass {diagonal:}"),
    rule(rf"Mark the {MARK} {{plate board:}} from the board's end, {{mark off:}} from the centreline"),
    rule(r"Clear it by hand to {a bushing:}(?: and {a bushing:})?"),
    rule(r"the strings {saddle height} over the body at the saddles"),
    rule(r"Bench rule for [a-z -]+: {heel rule}"),
    rule(r"take {heel thread} of thread and end {heel tip} below"),
    rule(r"Hole in [a-z -]+: {insert hole:}\. Wind one insert"),
    rule(
        r"screws of {insert screw:} take {insert thread:} of the insert and end {insert beyond:} before the hole does"
    ),
    rule(r"straight within {~tolerance}"),
    rule(r"slides in by hand: {glue room} across it are for the glue"),
    rule(r"slide in by hand, with {glue room} of room across it for the glue"),
    rule(r"its edge must stand {straightedge} over the body, {~tolerance} more or less: {~turn} of lean"),
    rule(r"bare wood to bare wood: {~tolerance} of it on the floor"),
    rule(r"allows for {film} of finish"),
    rule(r"The counterbore should still measure {diameter} ?and"),
    rule(r"the hole {diameter} ?, as cut"),
    rule(r"on a {partner diameter} pin"),
    rule(r"Drill the {a shaft:} (?:pot|switch) holes"),
    rule(r"Its middle is {below top} , below the top's edge"),
    rule(r"Wood beside it to the nearer face: {to_opposite}"),
    rule(rf"Mark (?P<ids>{ID}) with the awl, {{from corner}} straight from"),
    rule(r"{below top} below the top's edge"),
    rule(r"control cavity: {depth} at full diameter"),
    rule(r"drill {depth} deep with {diameter}"),
    rule(r"In scrap {thickness} thick drill {depth} from the top\. Flip it onto a {diameter} pin"),
    rule(r"is left: {under_point}|part-way: {under_point} is left"),
    rule(r"overlap by {overlap}"),
    rule(r"Angle block for {diameter} ?: {slope} from the (?:top|back)(?: \({upright} off upright)?"),
    rule(rf"Mark (?P<ids>{ID} and {ID}) on the lines with the awl, {{below back}} in from the back"),
    rule(r"Angle block: {slope} from the back\."),
    rule(
        r"each pulls \d+ N and is {spring length} long(?:, and the claw stands {claw ahead} from that wall)?"
    ),
    rule(r'For the set "[^"]+" it goes {claw moves:} (?:tighter|slacker)'),
    rule(r"until the plate is level, {underside} over the body, and the strings lie {saddle height} over it"),
    rule(r"Angle block: {slope} from the face, {upright} off upright"),
    rule(r"Full diameter ends at {depth}"),
    rule(r"{cone} countersink, slowly"),
    rule(r"the rim is {diameter} wide"),
    rule(r"towards the neck, turned {heading} to the (?:treble|bass)"),
    rule(r"towards the tail, turned {tail heading} to the (?:treble|bass)"),
    rule(r"an oval, {mouth long} × {mouth wide}"),
    rule(r"{bit length} of bit must stand out \(chuck of {chuck:} radius"),
    rule(r"At {leaves} it would come out"),
    rule(r"Wood beside it: {cover}"),
    rule(rf"(?P<ids>{ID}) {{off}}"),
)

TEMPLATES = (
    *CAUTIONS,
    rule(r"every page: {~bar}(?: /(?: {~bar})?)? each"),
    rule(r"Within ±?{~print} ?(?:\(±\))?: use the print in full\. Within ±?{~print}"),
    rule(r"crosses: they stand {~bar}(?: /(?: {~bar})?)? apart"),
    rule(r"distances over {~bar} by their numbers"),
    rule(r"x (?:[−\d]+|{~grid}) y {~grid}"),
    rule(r"x {~grid} y"),
    rule(r"nut 12th fret {crown nut} nut (?:pocket's end wall|board's end) {end nut} nut scale line {scale}"),
    rule(
        r"12th fret plate's front edge {plate 12th} (?:pocket's end wall|board's end) plate's front edge {plate end}"
    ),
    rule(r"(?:pocket's end wall|board's end) (?P<role>string holes|bridge screws|ferrule holes) {end}"),
    rule(r"to (?P<role>string holes|bridge screws|ferrule holes): {end}"),
    rule(r"(?:pocket's end wall|board's end) (?:set-out line|bridge posts) {plate end}"),
    rule(r"(?<!fret )to (?:set-out line|bridge posts): {plate end}"),
    rule(r"12th fret to plate's front edge: {plate 12th}"),
    rule(r"to plate's front edge: {plate end}"),
    rule(rf"12th fret (?:to )?{MARK}:? {{plate 12th}}"),
    rule(
        r"(?:pocket's end wall|board's end|to) "
        rf"(?:bridge studs|bridge posts|tailpiece studs|bushing holes) (?P<ids>{ID}):? {{end}}"
    ),
    rule(r"scale line: {scale} from the nut"),
    rule(r"over all: {over all}"),
    rule(rf"(?P<ids>{ID}): {{slope}} from the face"),
)


def names_of(truth: Truth) -> str:
    """A pattern of the names of a plan's pockets."""
    return "|".join(sorted((re.escape(p["role"]) for p in truth.pockets.values()), key=len, reverse=True))


def templates(truth: Truth) -> tuple[Rule, ...]:
    """Rules of the full-size templates."""
    name = rf"(?P<role>{names_of(truth)})"
    return (
        rule(rf"{name},? (?:\(in the (?:front|back)\) )?{{depth}} (?:to {{mouth depth}} )?deep"),
        *TEMPLATES,
    )


def sheets(truth: Truth, title: str) -> tuple[Rule, ...]:
    """Rules of the drawing sheet of a title."""
    roles = names_of(truth)
    name = rf"(?P<role>{roles})"
    words = "[a-z][a-z -]*?"
    one = rf"(?:{NUMBERS} [a-z][a-z -]*|{roles})"
    plans = (
        rule(
            r"(?<!\d )to {~legend} (?:10 |{~legend} )?to {~legend} (?:20 |{~legend} )?to {~legend} over {~legend}"
        ),
        rule(r"(?<!\d )to {~legend} {~legend} to {~legend} {~legend} to {~legend} over {~legend}"),
        rule(r"to the treble {body treble} to the bass {body bass}"),
        rule(r"to the bass {body bass} to the treble {body treble}"),
        rule(
            rf"{name}(?:, at its end wall)? {{depth}} deep(?: datum: (?:pocket end wall|board end))?(?: {{left}} left)?"
        ),
        rule(rf"(?P<ids>{NUMBERS}) {words} {{depth}} deep(?: {{least left}} left)?"),
    )
    setting = "{bit} [a-z-]+ {depth} {stop}"
    then = f"then on the same axis {setting}"
    bores = rf"(?P<ids>{NUMBERS}) {words},? ?(?:from|through) (?:the|a) \w+(?:, {{below top}} below the top(?:'s edge)?)?"
    return (
        *CAUTIONS,
        *{
            "Front plan, depths": plans,
            "Back plan, depths": plans,
            "Mark-out and drill list": (
                rule(r"12th fret {crown end} {crown 12th} {crown nut}"),
                rule(r"body's neck edge {neck edge end} {neck edge 12th} {neck edge nut}"),
                rule(r"(?:neck pocket's end wall|board's end) {end end} {end 12th} {end nut}"),
                rule(r"plate's front edge {plate end} {plate 12th} {plate nut}"),
                rule(r"scale line {scale end} {scale 12th} {scale}"),
                rule(rf"(?:(?:stud|post)(?: \d)?|{MARK}) {{plate end}} {{plate 12th}} {{plate nut}}"),
                rule(r"base (?P<base>\d+)'s front edge {end} {12th} {nut}"),
                rule(rf"string and ferrule holes (?P<ids>{NUMBERS}) {{end}} {{12th}} {{nut}}"),
                rule(r"tail edge, centreline {tail edge end} {tail edge 12th} {tail edge nut}"),
                rule(r"(?P<role>ground-wire) mouth {end} {12th} {nut}"),
                rule(r"(?P<role>string) and ferrule holes {end} {12th} {nut}"),
                rule(r"screw row {end:bridge-screw-1} {12th:bridge-screw-1} {nut:bridge-screw-1}"),
                rule(
                    rf"{name} from the (?:top|back), R (?:\d+|{{corner}})(?:; {{mouth depth}} deep at its mouth)? "
                    r"{neck side end} {neck side 12th} {length} "
                    r"{treble} (?:treble|bass) {bass} (?:treble|bass) {depth}"
                ),
                rule(rf"{bores} {setting} (?:depth stop|tape) [^«»]*? {then}"),
                rule(rf"{bores} {setting} (?:depth stop|tape)"),
                rule("Zeroed on " + then.replace("}", ":<}")),
                rule(
                    rf"\d+ (?P<ids>{ID}) {{end}} {{12th}} (?:{{across}} (?:treble|bass)|{{across}} on the centreline)"
                ),
                rule(r"Over {~bar} set out"),
            ),
            "Bridge set-out": (*SET_OUT,),
            "Saddle travel": (
                rule(r"(?P<string>\d+) \([A-G][#b]?\d\) {past}(?: ±{sd})? {slack front} {slack back}"),
                rule(r"low {low 12th} {low end} target {plate 12th} {plate end} high {high 12th} {high end}"),
                rule(r"Least travel in hand at the target: {reserve} ?; {~wanted} is wanted"),
                rule(r"the {~wanted} kept in hand"),
                rule(r"(?:crown \(this bench's mark\)|slot) {crown nut} nothing {plate 12th}"),
                rule(r"crown \(this bench's mark\) nothing {plate 12th} {plate 12th}"),
                rule(
                    r"slot nothing {plate 12th} {plate 12th} near edge {near add} {plate near} {plate near} "
                    r"far edge {far add} {plate far} {plate far}"
                ),
                rule(rf"{MARK} {{plate 12th}} {{plate near}} {{plate far}}"),
                rule(r"base (?P<base>\d+) {line} {line low} to {line high}"),
                rule(r"near edge {near nut} {near add} ?(?:\(\))? ?{plate near}"),
                rule(r"far edge {far nut} {far add} ?(?:\(\))? ?{plate far}"),
            ),
            "Section through the bridge": (
                rule(r"{saddle height} over the body"),
                rule(r"(?P<role>bridge-screw)s? pilots Ø {diameter} × {depth} deep"),
                rule(rf"(?P<ids>{ID}): Ø {{diameter}} ?, lip Ø {{diameter}} × {{depth}}"),
                rule(
                    rf"(?P<ids>{ID}): Ø {{diameter}} ?, {{slope}} from the face ?,? {{depth}} along the bit"
                ),
                rule(rf"(?P<ids>{ID}): Ø {{diameter}}"),
                rule(rf"through (?P<ids>{ID}), {{across}} to the (?:treble|bass) of the centreline"),
            ),
            "Heights": (
                rule(r"\bA {heel high}"),
                rule(r"\bD {pocket floor}"),
                rule(r"\bE {board's underside}"),
                rule(r"\bF {crowns}"),
                rule(r"\bG {straightedge}"),
                rule(r"\bK {thickness}"),
                rule(r"string (?P<string>\d+): {wanted}"),
                rule(r"lowest {lowest}"),
                rule(r"highest {highest}"),
                rule(r"leans back {lean back}"),
            ),
            "Height card": (
                rule(r"\bA heel with its board, at the heel's end {heel high}"),
                rule(r"\bA the same where the pocket's mouth comes {heel high}"),
                rule(r"\bB fingerboard in that, at the heel {board thick}"),
                rule(r"\bB fingerboard, at its end {board thick}"),
                rule(r"\bE board's underside over the body's top, at the board's end {board stands}"),
                rule(r"\bE the same at the body's neck edge; a minus lies below {board at edge}"),
                rule(r"\bF a fret's crown over the body's top, at the board's end {crowns}"),
                rule(r"\bK wing beside the core, at the board's end {joint body}"),
                rule(r"board {~more} further over the body {by stand}(?: \d+/\d+ in)? higher"),
                rule(r"board {~more} thicker {by heel}(?: \d+/\d+ in)? higher"),
                rule(r"\bC a fret's crown over the board {crown high}"),
                rule(r"\bK body beside the pocket, at its end wall {joint body}"),
                rule(r"\bK body under the bridge {thickness}"),
                rule(r"\bD pocket's floor below the top, at its end wall {pocket floor}"),
                rule(r"\bD the same at the pocket's mouth {pocket mouth}"),
                rule(r"\bG straightedge on the frets, over the body at the saddles {straightedge}"),
                rule(r"\bH string over the body with its saddle all the way down {lowest}"),
                rule(r"\bJ string over the body with its saddle all the way up {highest}"),
                rule(r"the job says {unknown} ±{unknown ±} ?(?:\(±\) )?{unknown is}"),
                rule(r"C _+ \+ {over frets}"),
                rule(r"keeps {room down} down and {room up} up"),
                rule(r"pocket {~more} deeper {by pocket}(?: \d+/\d+ in)? lower"),
                rule(r"heel {~more} thicker {by heel}(?: \d+/\d+ in)? higher"),
                rule(r"lean of the neck {~turn} more {by lean}(?: \d+/\d+ in)? higher"),
                rule(r"taper shim {~more} thicker {by shim}(?: \d+/\d+ in)? higher"),
                rule(r"action {~more} higher {by action}(?: \d+/\d+ in)? higher"),
                rule(r"relief {~more} more {by relief}(?: \d+/\d+ in)? lower"),
            ),
            "Story stick": (
                rule(r"fret (?P<fret>\d+) {at}"),
                rule(r"(?P<fret>nut) {at}"),
                rule(r"(?:end wall|board end) {end nut}"),
                rule(r"scale line {scale}"),
                rule(rf"(?:plate|(?:stud|post)(?: \d)?|{MARK}) {{plate nut}}"),
                rule(r"base (?P<base>\d+) {nut}"),
                rule(rf"string hole (?P<ids>{NUMBERS}) {{nut}}"),
                rule(r"(?:screw|string-hole|string)(?: row \d+)? {a row:}"),
                rule(r"tail {tail edge nut}"),
                rule(r"[A-Z], [a-z -]+(?:S?\d+)? to [a-z -]+(?:S?\d+)?: {a join:}"),
                rule(r"Over {~bar} set out"),
            ),
            "Frets, nut, checks": (
                rule(r"measure {diagonal} from the treble and {diagonal} from the bass"),
                *measured(truth),
                rule(r"third of the ±{~tolerance}"),
                rule(r"allowed, fret \d+ the most \({~rounding}"),
                rule(r"Smallest margin: string \d+ \(\S+\) at (?:the nut|fret \d+), {smallest margin} from"),
                rule(r"(?P<string>\d+) \([A-G][#b]?\d\) {gauge} {slot}(?: {slot})? {gap}"),
                rule(
                    r"\b(?P<fret>nut|\d+) {along it}(?: {along it})?(?: too coarse)? {width} {first margin} {last margin}"
                ),
                rule(r"nut {nut width} ?wide; slots"),
            ),
            "Heel from below": (
                rule(
                    rf"(?P<ids>{ID}) {{heel}} (?:{{across}} (?:treble|bass)|{{across}} on the centreline) "
                    r"{bit} [a-z-]+ {depth} {stop}"
                ),
            ),
            "What to get, parts, findings": (
                rule(r"Ferrule fits: film {film} a surface"),
                rule(r"Lip {lip} {lip wanted} {lip cut} \+?{lip loose}"),
                rule(r"Body {ferrule} {ferrule wanted} {ferrule cut} \+?{ferrule loose}"),
                rule(
                    r"Thickness [A-Z][a-z ]+(?:\([A-Z][a-z ]+\) )?(?:[a-z ]+)? ?{over all:} {over all:} {a blank:}"
                ),
                rule(
                    r"(?<=») [A-Z][a-z ]+(?:\([A-Z][a-z ]+\) )?(?:[a-z ]+)? ?{over all:} {over all:} {a blank:}"
                ),
                rule(r"inserts, {insert over:} over the thread, {insert long:} long, for"),
                rule(r"machine screws, thread {insert bolt:} ?, length {insert screw:} ?, for"),
                rule(
                    rf"screws?, thread {{screw thread}} ?, length {{screw length}} ?, for (?P<ids>{NUMBERS})"
                ),
                rule(r"string (?P<string>\d+) \([A-G][#b]?\d\), {gauge}"),
                rule(
                    rf"{{bit}} [a-z-]+(?: \(Forstner\))? (?P<ids>{NUMBERS}) {{bit_point}} {{most point}} \d+"
                ),
                rule(r"router, to {a cutter} [a-z ,]+ {a depth} {a router}"),
                rule(r"Wood between cuts, up to {~wanted}"),
                rule(rf"(?P<a>{one}), (?P<b>{one}) {{pair}}"),
                rule(
                    rf"(?P<ids>{NUMBERS}) {words} (?:{{least left}}|through|opens) (?:{{least to_edge}}|open at the edge)"
                ),
                rule(rf"{name} (?:{{left}}|through|opens) (?:{{to_edge}}|open at the edge)"),
                rule(r"(?:mm |in )?\b(?P<part>neck), (?P<key>board over body) {stated} 0 ±{given}"),
                rule(
                    r"(?:mm |in )?\b(?!neck, with)(?P<part>[a-z][a-z ]*), (?P<key>[a-z][a-z ]*) {stated}(?: \+?±{given})?"
                ),
            ),
        }.get(title, ()),
    )


def heights_page(truth: Truth) -> tuple[Rule, ...]:
    """Rules of the app's page of heights."""
    string = r"(?P<string>\d+) [A-G][#b]?\d {wanted} {height sd}"
    ways = (
        ("pocket depth at the end wall", "depth", "Try {depth:}"),
        ("board's underside over the body", "stands", "Try {stands:}"),
        ("lean of the neck", "lean", "Try {lean:}"),
        ("taper shim at the heel's end", "shim", "Try {shim:}"),
        ("fingerboard's thickness", "fingers", "Try {heel then:}"),
        ("string over the body at the saddle", "middle", "Try {middle:}"),
    )
    return (
        rule(r"go down by, the least {room down}"),
        rule(r"up by, the least {room up}"),
        rule(r"frets over the body at the (?:pocket’s end wall|board’s end) {crowns}"),
        rule(r"straightedge on the frets, over the body at the saddles {straightedge}"),
        rule(r"fingerboard’s underside over the body’s top {board's underside}"),
        rule(r"the neck leans back {lean back}"),
        rule(r"highest {highest}"),
        rule(r"lowest {lowest}"),
        rule(rf"{string} (?:{{left down}} {{left up}} )?Explain"),
        rule(r"middle lies {off by} (?:higher|lower) than [^«»]*, {middle now} over the body"),
        *(
            rule(rf"{words} {{{kind} now}} (?:{{{kind}}} {{{kind} ±}} {tries}|cannot close it)")
            for words, kind, tries in ways
        ),
        rule(rf"(?P<role>{names_of(truth)}) {{open first}} {{open last}} {{pressed first}} {{pressed last}}"),
    )


SET_OUT = (
    rule(
        r"(?:pocket end wall|board end) {mark off:} treble {mark off:} bass(?: {mark off:} treble {mark off:} bass)?"
    ),
    rule(r"plate's front {plate end} {plate 12th}"),
    rule(r"set-out line {plate end} {plate 12th}"),
    rule(rf"base (?P<base>\d+) \({NUMBERS}\) {{end}} {{12th}}"),
    rule(rf"(?P<ids>{ID}), its mouth (?:{{across}} (?:treble|bass) |on the centreline )?{{end}} {{12th}}"),
    rule(rf"(?P<ids>{NUMBERS}) {{end}} {{12th}}"),
)


def pictures(truth: Truth) -> tuple[Rule, ...]:
    """Rules of the app's drawings of the plan."""
    return (rule(rf"(?P<role>{names_of(truth)}) {{depth}}"),)


WINDOW_LINE = (
    rule(r"{~grid}(?=(?: «\d+»)* «\d+» not nearer, by string)"),
    rule(
        r"{low 12th:} not nearer, by string \d+ {high 12th:} not further, by string \d+ target {plate 12th:}"
    ),
    rule(r"Hatched: less than {~wanted} of its saddle's travel"),
    rule(r"Least travel in hand at the target: {reserve:} ?\."),
)
"""The number line of where the bridge may stand."""

AIM = (
    rule(
        r"target {plate 12th} ?, anywhere from {low 12th} ?(?:\(\))? to {high 12th} ?; from the nut {plate nut}"
    ),
    rule(
        r"(?P<string>\d+) [A-G][#b]?\d saddle {past}(?: \(sd {sd} ?\))? past the scale line; "
        r"travel left {slack front} ?forward, {slack back} ?back"
    ),
    rule(r"centre {plate 12th} ?, slot {plate 12th} ?, nut side {plate near} ?, bridge side {plate far}"),
)

PLAN = (
    *AIM,
    rule(r"{bit} [a-z-]+: {depth} at full diameter; (?:depth stop|tape) {stop} ?:"),
    rule(rf"(?P<ids>{ID}) from the 12th fret {{12th}} ?, from the (?:pocket|board)'s end {{end}} ?; {PLACE}"),
)
"""The text of `plan`: a block of holes is its own scope."""


def measured(truth: Truth) -> tuple[Rule, ...]:
    """The rows of what is to be measured, in any output that has them; how one is read may tell what it reads aslant."""
    asked = (
        (
            each["id"],
            r"it reads «\d+»".join(
                re.escape(part) for part in re.split(r"it reads [\d.]+ mm", each["how"][1:])
            ),
        )
        for each in truth.plan["measurables"]
    )
    rows = (rule(f"{how} {{value:{name}}} {{low:{name}}} to {{high:{name}}}") for name, how in asked)
    return (ASLANT, *rows)


SIDES = (
    r"(?:from the centreline, to the treble {across}|from the centreline, to the bass {across bass}|"
    r"(?:across 0 )?on the centreline(?: {off}(?= hole| counterbore))?)"
)
OUT = (
    r"(?: out: (?:from the centreline, to the treble {out across}|from the centreline, to the bass {out across bass}|"
    r"(?:across 0 )?on the centreline))?"
)

DRILLED = (
    rule(
        r"(?:from the pocket's end wall {end}|from the heel's end {heel}|"
        r"from the board's end(?: on the centreline)? {board} from the 12th fret {12th}) "
        rf"{SIDES}"
        r"(?: below the (?:top {below top}|back {below back}))?"
        r"(?: out: from the (?:pocket's end wall {out end}|board's end(?: on the centreline)? {out board}))?"
        + OUT
        + r"(?: out: below the (?:top {out below top}|back {out below back}))?"
    ),
)
"""Where a hole is, on a screen."""

ROUTED = (
    rule(r"from the board's end {middle board} from the 12th fret {middle 12th}"),
    rule(r"from the pocket's end wall {middle end}"),
    rule(r"from where the centreline meets the tail edge {middle tail}"),
    rule(r"from the centreline, to the (?:treble {middle across}|bass {middle across bass})"),
)
"""Where a pocket or the plate is, on a screen."""

SCREENS = (
    rule(r"full depth {depth}"),
    rule(r"(?:depth stop|tape): [^«»]* {stop} (?=where to|slope|angle|Do|section|from|should|across)"),
    rule(r"angle from the face {slope}"),
    rule(
        rf"where to measure for: (?:Set|Screw|Press|Mark the {MARK})[^«»]* {{plate board:}} {{plate 12th:}} 12th fret"
    ),
    rule(
        r"where to measure for: (?:[^«»]|the «\d+»)* "
        r"(?:{board}(?: to the nut)? {12th}(?: to the nut)? 12th fret|{along}(?: to the nut)? (?:pocket end wall|tail edge))"
    ),
)
"""A step on a screen; what it shares with its card is read by the card's rules."""

PICKED = (
    rule(
        r"target {plate 12th} not nearer than {low 12th} not further than {high 12th} "
        r"least saddle travel in hand at the target {reserve}"
    ),
    rule(r"Bit: {bit}"),
    rule(rf"12th fret to the (?:plate's front edge|{MARK}) {{plate 12th:}}"),
    rule(r"saddle travel in hand, the least {reserve:}"),
    rule(r"board beside string \d+, the least {smallest margin:}"),
    rule(r"wood between two cuts, the least {least web:}"),
    rule(rf"from the 12th fret {{12th}} from the (?:pocket's end wall|board's end) {{end}} {SIDES}"),
    rule(
        r"(?:counterbore|hole), diameter {diameter} (?:counterbore|hole), full depth along the bit {depth} "
        r"(?:counterbore|hole), (?:depth stop|tape): [^«»]* {stop}"
    ),
    rule(
        r"depth (?:at the end wall )?{depth}(?: depth at the mouth {mouth depth})? corner radius {corner} "
        r"neck end, from the 12th fret {neck side 12th} tail end, from the 12th fret "
        r"{tail side 12th} furthest to the treble {treble} furthest to the bass {bass}(?: wood under it, the least {left})?"
    ),
    rule(r"Keep {~stated}"),
    # What a check measured, by what it was held, and how far a cut is tried from there: its own message is tied to both.
    rule(r"black: what is missing\. {~stated} left, {~stated} asked for"),
    rule(r"Cut open where the wood is least\. {~stated} left, {~stated} asked for"),
    rule(r"Try moving [^«»]*? away by {~stated}"),
    rule(r"from (?:-?[\d.]+|{~turn}) to {~turn}"),
    # What a key may be: the schema says so, and test_app_forms holds it.
    rule(r"from (?:{~stated}|-?[\d.]+)? ?to {~stated}(?: \({~stated} to {~stated}\))?"),
    rule(r"±{~stated}"),
    rule(r"from (?:(?:-?\d+(?:\.\d+)?|{~stated}) )?to {~stated}(?: \({~stated} to {~stated}\))?"),
)
"""The numbers of the cut that is touched on the app's plan."""


LAYERS = (
    rule(r"pocket .* deep {depth}(?: to {mouth depth} at the mouth)?"),
    rule(r"(?:bore|counterbore) {diameter} deep {depth}(?: axis {below level} below top)?"),
    rule(r"{slope} (?:from face|up|down)"),
)
"""The names of the layers of the drawings of the cuts."""


def listed(card: dict[str, Any]) -> tuple[Rule, ...]:
    """A card's line in the app's list of steps, under the heading of its set-up where it is the first of it."""
    step = rf"{card['no']} Step {card['no']}:"
    return (
        rule(
            rf"{{bit}} [a-z-]+(?: \(Forstner\))?(?:, (?:top|back) face up)? (?:\d+ steps of one set-up )?{step}"
        ),
        rule(rf"\b{step} Scrap test: one bushing in {{a bushing:}}"),
        rule(rf"\b{step} Drill the {{a shaft}} (?:pot|switch) holes"),
    )
