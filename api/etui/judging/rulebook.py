"""The rules of judging, read from ``ontology/rules.ttl``: weights, thresholds, scales, word sets.

Nothing here is about one instrument or one step.  The graph says what each rule means, how many
points its finding moves the balance, and how words and numbers of a demand are compared; the code
in this package only carries that out.
"""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import pyoxigraph as ox
from msgspec.structs import replace

from etui.errors import BadRecord
from etui.knowledge.model import GRADES, Grade, Offer, Range, Record

if TYPE_CHECKING:
    from etui.reading.model import Attributes

_NS = "https://w3id.org/etui/ns#"
_ID = "https://w3id.org/etui/id/"
_SKOS = "http://www.w3.org/2004/02/skos/core#"
_TYPE = "http://www.w3.org/1999/02/22-rdf-syntax-ns#type"

Outcome = Literal["unsafe", "unable", "lower", "support", "note"]
"""What a rule speaks for when it fires: harm, inability, a lower grade, fitness, or nothing."""


class Rule(Record, frozen=True):
    """One rule of judging.

    ``weight``: points (natural log odds) by which one unit of its finding moves the balance
    between usable (negative) and not usable (positive).  ``cost``: by how many grades a usable
    piece falls per unit.  ``harm``: log odds per unit that a refused piece is unsafe, not unable.
    ``hazard``: named when the finding itself names none.  ``bars``: a stated grade does not
    survive this finding, the piece cannot do the step (otherwise it is improvised).  ``doubt``:
    it speaks against a good vote, so that more is asked of the balance before it counts as usable.
    ``makeshift``: a derived grade is improvised at best.
    """

    id: str
    name: str
    definition: str
    outcome: Outcome
    weight: float = 0.0
    cost: float = 0.0
    harm: float = 0.0
    hazard: str | None = None
    includes: str | None = None
    bars: bool = False
    doubt: bool = False
    makeshift: bool = False


class MannerRule(Record, frozen=True):
    """What a manner, or a hazard that it adds, does under conditions that must all hold.

    ``cap``: the best grade that is left; ``trauma``: the kind of trauma that it makes.
    """

    id: str
    trigger: str
    when: frozenset[str] = frozenset()
    cap: Grade | None = None
    hazard: str | None = None
    trauma: str | None = None
    note: str = ""


class RuleBook(Record, frozen=True):
    """All rules and scales.

    ``ranks``: scale -> word -> rank.  ``meets``: "feature word" -> words that also meet it.
    ``reads_size``: demand feature -> keys of sizes that answer it.  ``reads_word``: demand
    feature -> property keys that answer it.  ``forms``: form word -> features it settles.
    ``action_facts``: fact -> actions of which it holds, for the rules on manners.
    ``narrow``: feature -> largest miss that still counts as narrow (share for numbers, ranks for
    scales).  ``values``: named thresholds.
    """

    rules: dict[str, Rule]
    ranks: dict[str, dict[str, float]]
    meets: dict[str, frozenset[str]]
    reads_size: dict[str, tuple[str, ...]]
    reads_word: dict[str, tuple[str, ...]]
    forms: dict[str, tuple[str, ...]]
    near_words: dict[str, frozenset[str]]
    side_actions: dict[str, tuple[str, ...]]
    values: dict[str, float]
    opens: dict[str, tuple[str, ...]] = {}
    jaw_features: frozenset[str] = frozenset()
    unit_features: frozenset[str] = frozenset()
    entering: frozenset[str] = frozenset()
    undone_by: dict[str, dict[str, str]] = {}
    manner_rules: tuple[MannerRule, ...] = ()
    guard_manners: frozenset[str] = frozenset()
    advancing: frozenset[str] = frozenset()
    harsher_manners: frozenset[str] = frozenset()
    hazards_by_rule: frozenset[str] = frozenset()
    action_facts: dict[str, frozenset[str]] = {}
    fingerprint: str = ""

    def opened(self, words: tuple[str, ...]) -> frozenset[str]:
        """The words with those opened that stand for several forms ("either")."""
        out: set[str] = set()
        for word in words:
            out.update(self.opens.get(word, (word,)))
        return frozenset(out)

    def rank(self, scale: str, word: str | None) -> float | None:
        """Place of *word* on *scale*; None when the word or the scale is not there."""
        return None if word is None else self.ranks.get(scale, {}).get(word)

    def role_rank(self, offer: Offer) -> float:
        """0 for what a piece is made for, more for less; unknown counts as made for it."""
        return self.ranks["role"].get(offer.role or "", 0.0)

    def met_by(self, feature: str, word: str) -> frozenset[str]:
        """Every word that meets the demand "*feature* is *word*", itself included."""
        return self.meets.get(f"{feature} {word}") or frozenset((word,))

    def features_of_form(self, form: str) -> tuple[str, ...]:
        """Features that the form word settles ("blunt" settles the tip)."""
        return self.forms.get(form, ())

    def width_of(self, line: Attributes) -> Range | None:
        """Outer width in mm that the line states as French (a third of a millimetre each)."""
        if line.french is None:
            return None
        width = line.french / 3.0
        return Range(low=width, high=width)

    def value(self, key: str) -> float:
        """A named threshold."""
        return self.values[key]

    def weigh(
        self, weights: dict[str, float], costs: dict[str, float], harms: dict[str, float]
    ) -> RuleBook:
        """The same book with other weights (the evaluation fits its own on other procedures)."""
        changed = {
            key: replace(
                rule, weight=weights.get(key, rule.weight), cost=costs.get(key, rule.cost),
                harm=harms.get(key, rule.harm),
            )
            for key, rule in self.rules.items()
        }
        return replace(self, rules=changed, fingerprint="")


@lru_cache(maxsize=4)
def load_rulebook(path: Path | None = None) -> RuleBook:
    """Read the rules; *path* defaults to ``rules.ttl`` of the ontology in use.

    Raises:
        BadRecord: The file does not parse or lacks a scale that the engine needs.
    """
    if path is None:
        from etui.knowledge import ontology_dir

        path = ontology_dir() / "rules.ttl"
    return _Reader(path).book()


class _Reader:
    """Collects the statements of rules.ttl by subject."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.by_subject: dict[str, dict[str, list[str]]] = {}
        try:
            text = path.read_bytes()
            self.fingerprint = hashlib.sha256(text).hexdigest()
            for triple in ox.parse(text, format=ox.RdfFormat.TURTLE):
                if isinstance(triple.subject, ox.NamedNode):
                    row = self.by_subject.setdefault(triple.subject.value, {})
                    value = getattr(triple.object, "value", "")
                    row.setdefault(triple.predicate.value, []).append(str(value))
        except (OSError, SyntaxError, ValueError) as problem:
            raise BadRecord(
                f"the rules cannot be read ({problem}).", where=str(path.name),
                mend="Restore ontology/rules.ttl.",
            ) from problem

    def typed(self, name: str) -> list[tuple[str, dict[str, list[str]]]]:
        return [
            (subject, row) for subject, row in sorted(self.by_subject.items())
            if f"{_NS}{name}" in row.get(_TYPE, ())
        ]

    def text(self, row: dict[str, list[str]], key: str) -> str:
        values = row.get(f"{_NS}{key}") or row.get(f"{_SKOS}{key}")
        if not values:
            raise BadRecord(
                f"a rule record lacks {key}.", where=self.path.name, mend="State it."
            )
        return values[0]

    def optional(self, row: dict[str, list[str]], key: str) -> str | None:
        values = row.get(f"{_NS}{key}")
        return local(values[0]) if values else None

    def words(self, row: dict[str, list[str]], key: str) -> tuple[str, ...]:
        return tuple(sorted(local(v) for v in row.get(f"{_NS}{key}", ())))

    def book(self) -> RuleBook:
        rules = {}
        for subject, row in self.typed("Rule"):
            rule = self._rule(local(subject), row)
            rules[rule.id] = rule
        ranks: dict[str, dict[str, float]] = {}
        for _, row in self.typed("Rank"):
            scale = local(self.text(row, "onScale"))
            for word in self.words(row, "word"):
                ranks.setdefault(scale, {})[word] = float(self.text(row, "rank"))
        meets: dict[str, frozenset[str]] = {}
        near: dict[str, frozenset[str]] = {}
        for _, row in self.typed("WordMeeting"):
            feature = local(self.text(row, "feature"))
            for word in self.words(row, "word"):
                key = f"{feature} {word}"
                meets[key] = frozenset((word, *self.words(row, "metBy")))
                near[key] = frozenset(self.words(row, "narrowlyMissedBy"))
        sizes: dict[str, tuple[str, ...]] = {}
        props: dict[str, tuple[str, ...]] = {}
        for _, row in self.typed("FeatureReading"):
            feature = local(self.text(row, "feature"))
            sizes_here = self.words(row, "readsSize")
            sizes_here += self.words(row, "elseReadsSize")
            if sizes_here:
                sizes[feature] = sizes_here
            props_here = self.words(row, "readsProperty") + self.words(row, "elseReadsProperty")
            if props_here:
                props[feature] = props_here
        forms = {
            local(self.text(row, "word")): self.words(row, "settlesFeature")
            for _, row in self.typed("FormWord")
        }
        sides = {
            local(self.text(row, "entryRole")): self.words(row, "doesAction")
            for _, row in self.typed("SideRole")
        }
        values = {
            local(subject): float(self.text(row, "value"))
            for subject, row in self.typed("Threshold")
        }
        for scale in ("fineness", "trauma", "role", "force", "stiffness"):
            if scale not in ranks:
                raise BadRecord(
                    f"the scale {scale} has no ranks.", where=self.path.name, mend="Add them."
                )
        opens = {
            local(self.text(row, "word")): self.words(row, "standsFor")
            for _, row in self.typed("OpenWord")
        }
        groups = {
            local(subject): frozenset(self.words(row, "feature"))
            for subject, row in self.typed("FeatureGroup")
        }
        undone: dict[str, dict[str, str]] = {}
        for _, row in self.typed("OppositeActions"):
            here = undone.setdefault(local(self.text(row, "action")), {})
            for other in self.words(row, "undoneBy"):
                here[other] = self.optional(row, "hazard") or ""
        doing = {
            local(subject): frozenset(self.words(row, "action"))
            for subject, row in self.typed("ActionGroup")
        }
        facts: dict[str, frozenset[str]] = {}
        for _, row in self.typed("ActionGroup"):
            fact = self.optional(row, "asFact")
            if fact is not None:
                facts[fact] = facts.get(fact, frozenset()) | frozenset(self.words(row, "action"))
        handling = {
            local(subject): frozenset(self.words(row, "manner"))
            for subject, row in self.typed("MannerGroup")
        }
        manners = tuple(
            MannerRule(
                id=local(subject), trigger=local(self.text(row, "trigger")),
                when=frozenset(self.words(row, "when")), cap=self._cap(row),
                hazard=self.optional(row, "hazard"), trauma=self.optional(row, "traumaBecomes"),
                note=(row.get(f"{_SKOS}definition") or [""])[0],
            )
            for name in ("MannerRule", "MannerTrauma") for subject, row in self.typed(name)
        )
        return RuleBook(
            rules=rules, ranks=ranks, meets=meets, reads_size=sizes, reads_word=props,
            forms=forms, near_words=near, side_actions=sides, values=values, opens=opens,
            jaw_features=groups.get("jaw", frozenset()),
            unit_features=groups.get("unit", frozenset()), manner_rules=manners,
            entering=doing.get("entering", frozenset()), undone_by=undone,
            guard_manners=handling.get("guard", frozenset()),
            harsher_manners=handling.get("harsher", frozenset()),
            hazards_by_rule=handling.get("by-rule", frozenset()),
            advancing=doing.get("advancing", frozenset()), action_facts=facts,
            fingerprint=self.fingerprint,
        )

    def _cap(self, row: dict[str, list[str]]) -> Grade | None:
        word = self.optional(row, "capsAt")
        if word is None:
            return None
        if word not in GRADES:
            raise BadRecord(
                f"a manner rule caps at {word}.", where=self.path.name,
                mend=f"Use one of {', '.join(GRADES)}.",
            )
        return word

    def _rule(self, id_: str, row: dict[str, list[str]]) -> Rule:
        outcome = local(self.text(row, "outcome"))
        if outcome not in ("unsafe", "unable", "lower", "support", "note"):
            raise BadRecord(
                f"rule {id_} has the outcome {outcome}.", where=self.path.name,
                mend="Use unsafe, unable, lower, support or note.",
            )
        return Rule(
            id=id_, name=self.text(row, "prefLabel"), definition=self.text(row, "definition"),
            outcome=outcome,  # type: ignore[arg-type]
            weight=float(self.text(row, "weight")), cost=float(self.text(row, "cost")),
            harm=float(self.text(row, "harm")),
            hazard=self.optional(row, "hazard"), includes=self.optional(row, "includes"),
            bars=self.optional(row, "bars") == "true",
            doubt=self.optional(row, "doubt") == "true",
            makeshift=self.optional(row, "makeshift") == "true",
        )


def local(iri: str) -> str:
    """The short id behind an IRI of Etui; any other text unchanged."""
    for base in (_NS, _ID):
        if iri.startswith(base):
            return iri[len(base):].split("/", 1)[-1] if base == _ID else iri[len(base):]
    return iri

