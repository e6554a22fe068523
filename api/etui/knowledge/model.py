"""The records that the rest of Etui works with, read from the graph and never changed.

Every record is a frozen :class:`msgspec.Struct`, so that one loaded :class:`Reference` can be
shared by threads, encoded to a cache and decoded again without loss.  Field names are the names
of the properties in ``ontology/core.ttl`` (``workingWidthMm`` there, ``working_width_mm`` here).

Unknown is ``None`` or an empty tuple, never a default: nothing here may be read as "no".
Lengths are millimetres.  ``strength`` is 0..5 (what an edge, jaw or frame can deal with; of a
target, what it takes).  Ids are short: ``haemostat-crile``, ``tube-thoracostomy/open-pleura``.
"""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

Grade = Literal["preferred", "acceptable", "improvised", "unsafe", "unable"]
"""How good an instrument is for one step, best first; the last two are never usable."""

GRADES: tuple[Grade, ...] = ("preferred", "acceptable", "improvised", "unsafe", "unable")
USABLE: frozenset[str] = frozenset(GRADES[:3])

HowKnown = Literal["read", "memory", "practice", "derived"]
"""A source was opened; recalled; common practice with no source; worked out by rules."""

Need = Literal["essential", "conditional", "optional", "closing"]


class Record(Struct, frozen=True, kw_only=True):
    """Base of all records: keyword-only and immutable."""


class Range(Record, frozen=True):
    """A range of a size over the sizes in which a pattern comes; one piece has one value in it."""

    low: float
    high: float

    def __contains__(self, value: float) -> bool:
        return self.low <= value <= self.high


class Name(Record, frozen=True):
    """One name of a pattern, step or procedure.

    ``kind``: preferred (one), preferred-us, preferred-uk (what such a place writes first), us, uk,
    trade (slang and abbreviations), also (any other name), hidden (misspellings; read, never
    written).
    """

    text: str
    kind: str


class Source(Record, frozen=True):
    """Where a statement comes from."""

    id: str
    title: str
    kind: str
    year: str | None = None
    address: str | None = None


class Citation(Record, frozen=True):
    """One source of one statement: how it is known and which part of the statement it covers."""

    how_known: HowKnown
    source: str | None = None
    covers: str | None = None


class Offer(Record, frozen=True):
    """What one pattern can do by one action, used as made.

    ``role``: main (made for it), also (serves for it), makeshift (an expedient).
    ``part_complete``: "yes", or the parts without which the offer does not exist.
    ``limits``: in words.  The row gives the form that harms more where a pattern comes in two.
    """

    action: str
    strength: int | None = None
    fineness: str | None = None
    trauma: str | None = None
    tip: str | None = None
    lock: str | None = None
    jaw_surface: str | None = None
    teeth: str | None = None
    handle: str | None = None
    length_mm: Range | None = None
    both_hands: bool | None = None
    part_complete: str | None = None
    role: str | None = None
    limits: str | None = None
    how_known: HowKnown = "practice"


class Form(Record, frozen=True):
    """Sizes and build of one form of a pattern; the form ``""`` stands for "not stated".

    ``measures``: working_width_mm, working_length_mm, tip_width_mm, opening_mm, bore_mm, gauge,
    french, id_mm, blade_depth_mm -> range.  ``words``: bulk, stiffness, closing_force, holds_by,
    starts_hole, guard, edge, point, protrudes, fixed_by, xray_visible, power, needs_two_hands,
    can_be_left_in, insulation -> word.  A missing key is unknown.
    """

    form: str
    measures: dict[str, Range] = {}
    words: dict[str, str] = {}
    how_known: HowKnown = "memory"
    source: str | None = None
    note: str | None = None


class Pattern(Record, frozen=True):
    """An instrument, part, consumable or household thing: one pattern of the trade.

    ``features`` maps a feature key to its value words; several words mean that the pattern comes
    in each of these forms and the piece in hand decides.  ``measures`` holds features that are
    numbers.  ``part``-hood, partners and fittings are features (part, fitting, needs_partner).
    """

    id: str
    name: str
    family: str
    definition: str
    names: tuple[Name, ...] = ()
    features: dict[str, tuple[str, ...]] = {}
    measures: dict[str, Range] = {}
    length_mm: Range | None = None
    used_for: tuple[str, ...] = ()
    never_for: tuple[str, ...] = ()
    confused_with: tuple[str, ...] = ()
    pairs_with: tuple[str, ...] = ()
    care: str | None = None
    made_for: tuple[str, ...] = ()
    not_for: tuple[str, ...] = ()
    belongs_to: tuple[str, ...] = ()
    patient: str | None = None
    whole_piece_size: str | None = None
    whole_span_mm: Range | None = None
    place: tuple[str, ...] = ()
    order_of_use: str | None = None
    skill: str | None = None
    purpose_note: str | None = None
    offers: tuple[Offer, ...] = ()
    forms: tuple[Form, ...] = ()
    citations: tuple[Citation, ...] = ()
    replaced_by: str | None = None
    near_twins: tuple[str, ...] = ()


class StandIn(Record, frozen=True):
    """What can take the place of one part of a unit, or of the whole unit.

    ``subject``: a pattern or unit id, or None when ``text`` names a household thing, a hand or a
    measure.  ``part``: name of the slot, "whole" for the unit.
    """

    part: str
    grade: Grade
    text: str
    subject: str | None = None
    count: int = 1
    note: str | None = None


class Slot(Record, frozen=True):
    """One place in a unit: any of ``alternatives`` (pattern or unit ids), ``count`` pieces.

    ``without``: the best grade that is left when this part is not there; None when the unit does
    nothing without it.
    """

    name: str
    alternatives: tuple[str, ...]
    count: int = 1
    without: Grade | None = None


class Unit(Record, frozen=True):
    """What works as one thing although it is several pieces (blade on handle, wire and handles)."""

    id: str
    name: str
    slots: tuple[Slot, ...]
    actions: tuple[str, ...]
    strength: int | None = None
    when_missing: str = ""
    stand_ins: tuple[StandIn, ...] = ()
    note: str | None = None
    how_known: HowKnown = "practice"


class Manoeuvre(Record, frozen=True):
    """Something done by hand or with an everyday thing instead of an instrument."""

    id: str
    name: str
    names: tuple[Name, ...] = ()


class Manner(Record, frozen=True):
    """How a thing is used, and what that changes about it.

    ``effects`` holds the rest in words: needs, limit, effect, actions.  Changes are in steps of
    the scale (+1 stronger, +1 finer).  ``cap``: the best grade that is left; ``cap_text`` says
    for what.  ``said_of`` and ``said_how``: words for a part and for what is wrong with it
    (ratchet; broken, slips); the two near each other mean this manner.  ``about_piece``: it is a
    state of the piece itself, so that a sentence on the step does not speak of it.
    """

    id: str
    name: str
    meaning: str
    names: tuple[Name, ...] = ()
    said_of: tuple[str, ...] = ()
    said_how: tuple[str, ...] = ()
    about_piece: bool = False
    hazards_add: tuple[str, ...] = ()
    hazards_remove: tuple[str, ...] = ()
    strength_change: int = 0
    fineness_change: int = 0
    trauma_becomes: str | None = None
    cap: Grade | None = None
    cap_text: str | None = None
    effects: dict[str, str] = {}


class AtRisk(Record, frozen=True):
    """A tissue that the step can hurt, how, and what guards it."""

    tissue: str
    how: str
    guard: str


class Demand(Record, frozen=True):
    """What a step asks of a piece (must, should) or forbids (never).

    ``compare``: is, not, one_of, any_of, at_least, at_most, between.  ``values``: the words or
    numbers compared with (two for between).  ``about``: instrument (can be read off the piece) or
    conduct (how the team works).  A demand with a ``condition`` holds only there: show it, never
    refuse on it unasked.
    """

    id: str
    level: Literal["must", "should", "never"]
    feature: str
    compare: str
    values: tuple[str, ...]
    because: str | None = None
    hazard: str | None = None
    condition: str | None = None
    about: str = "instrument"


class Judgement(Record, frozen=True):
    """A stated grade of one pattern or manoeuvre for one step.

    ``role``: driver, blade, handle, needle, thread, assist, guard, partner, alternative: it then
    does a side task.  ``as_action``: it does that other action in the step.  ``features_only``:
    the words only restate the pattern; with how_known practice nobody judged it: no evidence.
    """

    id: str
    step: str
    subject: str
    grade: Grade
    because: str | None = None
    hazard: str | None = None
    role: str | None = None
    as_action: str | None = None
    with_partner: tuple[str, ...] = ()
    features_only: bool = False
    condition: str | None = None
    how_known: HowKnown = "practice"
    source: str | None = None
    sources: tuple[str, ...] = ()
    """all of them; ``source`` is the first"""
    change_note: str | None = None


class Technique(Record, frozen=True):
    """A stated grade of a way of doing a step, whatever piece does it."""

    id: str
    step: str
    technique: str
    grade: Grade
    names: tuple[Name, ...] = ()
    manners: tuple[str, ...] = ()
    hazard: str | None = None
    because: str | None = None
    how_known: HowKnown = "practice"
    source: str | None = None


class Limit(Record, frozen=True):
    """What a step allows in numbers and words, for one approach, patient or site.

    ``measures``: opening_width_mm, widest_working_end_mm (above ``high`` it is out),
    narrowest_working_end_mm, longest_blade_mm, target_calibre_mm, reach_mm, opening_needed_mm.
    ``words``: force_needed, stiffness_needed, already_open, entry, left_in, must_be_counted,
    oxygen_or_alcohol_near, who_holds, hands_free_after, ordinary_state, hard_state.
    ``side_tasks``: (who, action).
    """

    id: str
    step: str
    approaches: tuple[str, ...] = ()
    patient: str | None = None
    site: str | None = None
    measures: dict[str, Range] = {}
    words: dict[str, str] = {}
    permitted_trauma: tuple[str, ...] = ()
    vital_near: tuple[str, ...] = ()
    guard_required: tuple[str, ...] = ()
    side_tasks: tuple[tuple[str, str], ...] = ()
    how_known: HowKnown = "practice"
    note: str | None = None


class Dispute(Record, frozen=True):
    """A question on which sources differ; ``sides`` in the words of each."""

    question: str
    sides: tuple[str, ...]
    source: str | None = None


class Partner(Record, frozen=True):
    """What must be in use together with the piece that does a step."""

    item: str
    step: str | None = None
    note: str | None = None
    subjects: tuple[str, ...] = ()


class Step(Record, frozen=True):
    """One thing that must be done to one tissue (or to equipment) in a procedure.

    ``approaches`` empty = all.  ``permitted_trauma``: kinds that may touch the target, from the
    procedure file (the eight-word list); the limit rows give the finer list.
    """

    id: str
    procedure: str
    order: int
    name: str
    action: str
    target: str
    fate: str
    need: Need
    names: tuple[Name, ...] = ()
    approaches: tuple[str, ...] = ()
    when: str | None = None
    target_state: tuple[str, ...] = ()
    at_risk: tuple[AtRisk, ...] = ()
    depth: str | None = None
    strength: int | None = None
    coarsest: str | None = None
    finest: str | None = None
    permitted_trauma: tuple[str, ...] = ()
    demands: tuple[Demand, ...] = ()
    pieces_together: int = 1
    stays_in_until: str | None = None
    drop_prone: bool = False
    note: str | None = None
    partners: tuple[Partner, ...] = ()
    consumables: tuple[str, ...] = ()
    disputes: tuple[Dispute, ...] = ()
    judgements: tuple[Judgement, ...] = ()
    techniques: tuple[Technique, ...] = ()
    limits: tuple[Limit, ...] = ()
    works_on: tuple[str, ...] = ()
    must_spare: tuple[str, ...] = ()
    set: str | None = None
    room_mm: Range | None = None
    patient: str | None = None
    order_word: str | None = None
    place: str | None = None
    family_first_line: str | None = None
    like_steps: tuple[str, ...] = ()
    like_same_procedure: tuple[str, ...] = ()
    akin_steps: tuple[str, ...] = ()
    other_is: str | None = None
    citations: tuple[Citation, ...] = ()


class Approach(Record, frozen=True):
    """One complete way of doing a procedure."""

    id: str
    name: str
    note: str | None = None


class Reason(Record, frozen=True):
    """A thing (pattern or step id) and why."""

    subject: str
    because: str


class Procedure(Record, frozen=True):
    """An operation: its ways, its steps in order, what lies beside it, what to beware of."""

    id: str
    name: str
    purpose: str
    names: tuple[Name, ...] = ()
    done_by: str | None = None
    cautions: tuple[str, ...] = ()
    approaches: tuple[Approach, ...] = ()
    kept_alongside: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    redundancy: tuple[Reason, ...] = ()
    order_of_use: str | None = None
    not_wanted: tuple[Reason, ...] = ()
    secondary_uses: tuple[str, ...] = ()
    disputes: tuple[Dispute, ...] = ()
    how_counted: tuple[str, ...] = ()
    citations: tuple[Citation, ...] = ()


class Contrast(Record, frozen=True):
    """Why one piece is graded on both sides of the safety line in two practically equal steps."""

    id: str
    piece: str
    step_a: str
    step_b: str
    difference: str
    because: str
    how_known: HowKnown = "practice"


class Term(Record, frozen=True):
    """A word of the vocabulary: an action, tissue, hazard, value, state or family.

    ``group``: action, tissue, hazard, value, state, family, role, need, grade, fate, set, ...
    ``numbers``: e.g. strength of a tissue, strength in a state ("strength:tense"), ranks on
    scales ("fineness", "depth", "trauma").  ``aliases``: other words that mean it.
    ``helped_by``: for an action, the actions whose offer helps it.
    """

    id: str
    group: str
    name: str
    definition: str = ""
    numbers: dict[str, float] = {}
    aliases: tuple[str, ...] = ()
    helped_by: tuple[str, ...] = ()
    strength_counts: bool = False


class Feature(Record, frozen=True):
    """A feature that a pattern carries and a demand can ask for.

    ``compared_as``: word, yes_no, number, scale, conduct (how the team works; never read off a
    piece).
    """

    id: str
    name: str
    compared_as: str
    definition: str = ""
    values: tuple[str, ...] = ()


class ClassName(Record, frozen=True):
    """A name that lines use for a class of pieces without naming a pattern ("artery forceps").

    ``stand_ins``: pattern ids to reckon with when nothing more is said, by region ("uk", "us" or
    ""); ``members``: every pattern that may be meant; ``note``: words that decide.
    """

    id: str
    names: tuple[str, ...]
    stand_ins: dict[str, str] = {}
    members: tuple[str, ...] = ()
    ask: str | None = None
    note: str | None = None


class Abbreviation(Record, frozen=True):
    """A written form and the word it stands for.

    ``group``: what kind of word it is (noun, curve, teeth, number, with, not-an-item ...), as
    ``ontology/lexicon.ttl`` says.  ``needs``: a word that must stand on the same line.
    ``families``: of a noun, the families it may mean.  ``short_form``: how a place that
    abbreviates writes the word.
    """

    text: str
    means: str
    group: str
    needs: str | None = None
    families: tuple[str, ...] = ()
    short_form: str | None = None


class TradeSize(Record, frozen=True):
    """A size of the trade in millimetres: ``kind`` gauge (needle tube) or thread.

    ``word`` is what the trade says ("18", "3-0"); ``rank`` orders threads from the finest.
    """

    id: str
    kind: Literal["gauge", "thread"]
    word: str
    outer_mm: Range
    inner_mm: float | None = None
    metric: float | None = None
    rank: float | None = None
    how_known: HowKnown = "read"
    source: str | None = None


class Match(Record, frozen=True):
    """A link from a term or pattern to a published id: relation (exact, close, broad) and id."""

    relation: str
    target: str
    name: str = ""


class Reference(Record, frozen=True):
    """Everything that the graph states, keyed by short id; built once by the loader."""

    version: str
    patterns: dict[str, Pattern]
    units: dict[str, Unit]
    manoeuvres: dict[str, Manoeuvre]
    manners: dict[str, Manner]
    procedures: dict[str, Procedure]
    steps: dict[str, Step]
    sources: dict[str, Source]
    features: dict[str, Feature]
    terms: dict[str, dict[str, Term]]
    """group -> id -> term"""
    contrasts: tuple[Contrast, ...] = ()
    class_names: dict[str, ClassName] = {}
    abbreviations: tuple[Abbreviation, ...] = ()
    sizes: dict[str, TradeSize] = {}
    matches: dict[str, tuple[Match, ...]] = {}
    """short id of a tissue, pattern or family -> published anatomy ids and device codes"""
    abilities: dict[str, tuple[str, ...]] = {}
    """ability id -> pattern ids, from ontology/inferred.ttl"""
