"""Hands and ways of doing: words matched with what the step itself states of them.

"Assistant's hands" or "finger swept round" is no instrument.  What a step states of work by hand
is compared with the words of the candidate: words that mean the same part of a hand count as one,
and so do words for the same action.  A stated technique ("clamp left on once the drain is in")
counts only when nearly all of its telling words are there and none contradicts, because a
technique outranks everything else that is known.
"""

from __future__ import annotations

import math
from collections import Counter
from functools import cached_property

from etui.judging.wording import NEGATIONS, STOP, all_stems, stem, stems, words
from etui.knowledge.model import GRADES, Record, Reference, Step

_GROUPS: dict[str, tuple[str, ...]] = {
    "finger": ("finger", "fingers", "fingertip", "fingertips", "thumb", "thumbs", "digit",
               "forefinger", "knuckle", "nail", "fingernail"),
    "hand": ("hand", "hands", "palm", "palms", "fist", "fists", "knee", "elbow", "heel",
             "forearm"),
    "helper": ("assistant", "assistants", "helper", "helpers", "colleague", "nurse", "someone",
               "somebody", "person", "people", "partner"),
}
"""Words for the same part of a hand, or for who lends one."""

_ALIKE: tuple[tuple[str, ...], ...] = (
    ("press", "pressed", "pressing", "pressure", "compress", "squeeze", "push", "lean"),
    ("lay", "laid", "put", "place", "placed", "rest", "left", "kept", "hold", "held", "on"),
    ("pull", "pulled", "pulling", "draw", "drawn", "tug", "retract", "part", "apart", "aside"),
    ("sweep", "swept", "round", "feel", "felt", "feeling", "explore", "run", "palpate"),
    ("tap", "tapping", "percuss"),
    ("tear", "tearing", "pull", "pulled", "split"),
    ("pinch", "pinched", "grip", "grab", "nip", "squeeze"),
    ("tear", "tore", "torn", "rip", "ripped", "split", "poke", "poked"),
    ("lift", "lifted", "raise", "raised", "hook", "hooked"),
    ("twist", "twisted", "turn", "turned", "roll", "rolled"),
    ("knot", "knotted", "tie", "tied", "tying"),
    ("glue", "glued", "stick", "stuck"),
    ("swab", "swabs", "gauze", "pad", "pads", "sponge"),
    ("water", "fluid", "saline"),
    ("scoop", "scooped", "cup", "cupped", "bail"),
    ("tape", "taped", "strap"),
    ("close", "closed", "shut", "sealed"),
    ("push", "pushed", "poke", "poked", "shove", "insert", "bore", "bored"),
    ("heart", "ventricle", "atrium", "cardiac"),
    ("hole", "wound", "stab", "opening", "leak"),
    ("womb", "uterus"),
    ("aorta", "artery", "vessel"),
)
"""Words near enough in meaning to be taken for each other in what is done by hand."""

_AGAINST: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...] = (
    (("closed", "shut", "sealed"), ("open", "opened", "cut", "slit", "vented")),
    (("through", "into", "deep"), ("laid", "lay", "on", "over")),
    (("tight", "hard"), ("loose", "loosely", "gently", "slack")),
    (("blind", "blindly", "unseen"), ("seen", "sight", "vision")),
    (("backwards", "reversed"), ("right", "correct")),
    (("on", "left"), ("off", "removed")),
    (("above", "lifted"), ("below", "low")),
    (("one",), ("two", "both")),
    (("without", "no"), ("with",)),
)
"""Words that contradict each other: a technique that says one is not what says the other."""

HAND_FROM = 0.42
"""Likeness from which words led by a hand are taken for a manoeuvre stated at the step."""

WORDS_FROM = 0.62
"""Likeness from which words without a hand are taken for one."""

TECHNIQUE_FROM = 0.78
"""Share of a technique's telling words that must be there."""

_SMALL_WORDS = frozenset(
    (
        "gloved", "bare", "clean", "operator", "operators", "other", "free", "flat", "cupped",
        "two", "three", "index", "middle", "left", "right", "open", "closed", "own", "single",
        "several",
    )
)
_SMALL = frozenset(stem(word) for word in _SMALL_WORDS)
_GRAMMAR = frozenset(
    stem(w)
    for w in (
        "a", "an", "the", "of", "in", "on", "to", "at", "for", "by", "with", "and", "or", "its",
        "it", "is", "are", "be", "as", "from", "that", "which", "when",
    )
)
"""Words that say little about which hand or finger is meant."""

NEAR_FROM = 0.16
"""Likeness from which words led by a hand are taken for the nearest one with the same part of
the hand, when nothing in the words adds a hazard."""


class HandMatch(Record, frozen=True):
    """A manoeuvre stated at a step, and how like the words are (0..1)."""

    id: str
    name: str
    score: float


class ByHand:
    """Matches words with the manoeuvres and techniques that steps state."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self._group = {stem(w): key for key, words in _GROUPS.items() for w in words}
        self._near: dict[str, set[str]] = {}
        for alike in _ALIKE:
            row = {stem(w) for w in alike}
            for word in row:
                self._near.setdefault(word, set()).update(row - {word})

    @cached_property
    def _idf(self) -> dict[str, float]:
        texts = [m.name for m in self.reference.manoeuvres.values()]
        texts += [t.technique for s in self.reference.steps.values() for t in s.techniques]
        seen: Counter[str] = Counter()
        for text in texts:
            seen.update(set(stems(text)))
        return {word: math.log((len(texts) + 1) / (n + 0.5)) for word, n in seen.items()}

    def led_by_hand(self, text: str) -> bool:
        """Whether the thing that works is a hand: it is the first thing named."""
        row = [w for w in words(text) if w not in STOP and w not in _SMALL_WORDS]
        return bool(row) and stem(row[0]) in self._group

    def is_hand(self, word: str) -> bool:
        """Whether the stem is of a word for a hand, or says no more than which hand."""
        return word in self._group or word in _SMALL

    def first_hand(self, text: str) -> str | None:
        """The stem of the first word for a hand or a part of one."""
        return next((s for s in stems(text) if s in self._group), None)

    def manoeuvres(self, step: Step, text: str) -> tuple[HandMatch, ...]:
        """Manoeuvres stated at *step* that the words may mean, best first."""
        out = []
        for judgement in step.judgements:
            known = self.reference.manoeuvres.get(judgement.subject)
            if known is None:
                continue
            score = max(self._likeness(text, name) for name in self._names(known.id))
            out.append((HandMatch(id=known.id, name=known.name, score=round(score, 3)),
                        GRADES.index(judgement.grade)))
        # Of two that fit alike the more careful grade goes first.
        return tuple(
            match for match, _ in sorted(out, key=lambda r: (-r[0].score, -r[1], r[0].id))
        )

    def best(self, step: Step, text: str) -> HandMatch | None:
        """The manoeuvre stated at *step* that the words mean, None when none is near enough."""
        rows = self.manoeuvres(step, text)
        if not rows:
            return None
        if self.led_by_hand(text):
            return rows[0] if rows[0].score >= HAND_FROM else None
        # One word in common is no likeness: hooks are no finger hooked under the bone.
        shared = set(stems(text)) & set(stems(rows[0].name))
        if rows[0].score < WORDS_FROM or (len(shared) < 2 and rows[0].score < 1.0):
            return None
        return rows[0]

    def nearest(self, step: Step, text: str) -> HandMatch | None:
        """The nearest manoeuvre of *step* done with the same part of a hand, however named."""
        part = {self._group[s] for s in stems(text) if s in self._group}
        for match in self.manoeuvres(step, text):
            used = {self._group[s] for s in stems(match.name) if s in self._group}
            if match.score >= NEAR_FROM and part & used:
                return match
        return None

    def techniques(
        self, step: Step, text: str, piece_names: tuple[str, ...] = ()
    ) -> tuple[str, ...]:
        """Ids of the techniques of *step* that the words describe.

        ``piece_names``: all names of the piece that the words name; a technique that calls it by
        another of them ("valve" for a maker's word) is about the same piece.
        """
        row = frozenset(all_stems(text))
        called = frozenset(s for name in piece_names for s in stems(name))
        found = []
        for technique in step.techniques:
            spoken = (technique.technique, *(n.text for n in technique.names))
            if any(self._describes(row, words, called) for words in spoken):
                found.append(technique.id)
        return tuple(sorted(found))

    def _names(self, id_: str) -> tuple[str, ...]:
        known = self.reference.manoeuvres[id_]
        return tuple(dict.fromkeys((known.name, *(n.text for n in known.names))))

    def _worth(self, word: str) -> float:
        return max(0.4, self._idf.get(word, 2.5)) * (0.4 if word in _SMALL else 1.0)

    def _met(self, word: str, row: frozenset[str]) -> float:
        """How well *word* is met by one of *row*: itself, same part of a hand, near meaning."""
        if word in row:
            return 1.0
        group = self._group.get(word)
        if group is not None and any(self._group.get(w) == group for w in row):
            return 0.85
        return 0.7 if self._near.get(word, frozenset()) & row else 0.0

    def _likeness(self, text: str, name: str) -> float:
        """Share of the words of each that the other meets, the asked-for side counting more."""
        asked, named = frozenset(stems(text)), frozenset(stems(name))
        if not asked or not named:
            return 0.0
        if asked == named:
            return 1.0
        recall = self._share(asked, named)
        precision = self._share(named, asked)
        if recall == 0.0:
            return 0.0
        # "Assistant's hands" is the manoeuvre even if its name goes on to say more.
        return 0.6 * recall + 0.4 * precision if precision else 0.0

    def _share(self, words: frozenset[str], row: frozenset[str]) -> float:
        total = sum(self._worth(w) for w in words)
        return sum(self._worth(w) * self._met(w, row) for w in words) / total

    def _describes(
        self, row: frozenset[str], technique: str, called: frozenset[str] = frozenset()
    ) -> bool:
        telling = frozenset(s for s in all_stems(technique) if s not in _GRAMMAR)
        rest = telling - called
        if len(rest) < len(telling) and any(
            self._group.get(s) is None and s not in _SMALL and s in row for s in rest
        ):
            telling = rest  # names of the piece itself are met; what is done with it must be said
        if len(telling) < 1 or self._contradicts(row, frozenset(all_stems(technique))):
            return False
        share = self._share(telling, row)
        own = frozenset(w for w in row if w in telling or self._met(w, telling) > 0)
        if len(telling) == 1:
            # A technique of one word ("fingers") is meant only when little else is said.
            return share == 1.0 and len(row) <= 3
        return share >= TECHNIQUE_FROM and len(own) >= 2

    @staticmethod
    def _contradicts(row: frozenset[str], technique: frozenset[str]) -> bool:
        negated = [bool(words & {stem(n) for n in NEGATIONS}) for words in (row, technique)]
        if negated[0] != negated[1]:
            return True
        for left, right in _AGAINST:
            one, other = ({stem(w) for w in side} for side in (left, right))
            for a, b in ((row, technique), (technique, row)):
                if a & one and b & other and not (a & other or b & one):
                    return True
        return False
