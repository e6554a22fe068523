"""From a practitioner's sentence to the step that is meant.

The sentence is compared with everything the graph says about the steps of the procedure: their
names, what people call them, the words for their action and their tissue, when they are needed.
What is missing is evidence too: a question about a lost aortic clamp is about the step that the
clamp serves.  Weak evidence gives no step but the best guesses; a guess is never acted on.

Scores are shares of the evidence found, 0..1; the weights are those of :data:`WEIGHTS`.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from rapidfuzz import fuzz

from etui.judging.wording import STOP, Token, all_stems, stem, stems, tokens
from etui.knowledge.model import Record, Reference, Step, Term

WEIGHTS = {
    "words": 0.42,
    "name": 0.22,
    "action": 0.16,
    "target": 0.11,
    "missing": 0.28,
    "essential": 0.01,
    "candidate": 0.05,
    "state": 0.05,
}
"""How much each kind of evidence counts; set by trial on the project's own questions."""

SURE = 0.30
"""Below this the sentence names no step well enough."""

SURE_ELSEWISE = 0.40
"""The same when the sentence names an action that is not the step's."""

WORDS_NEEDED = 0.12
"""Evidence that the wording itself must give; the missing piece alone names no step."""

NEAR = 0.08
"""Steps that fit worse by less than this may be meant as well."""

LATER = 0.7
"""What a doing word counts that does not come first."""

UNKNOWN = 1.2
"""How telling a word is that no step of the procedure uses."""

ALIKE = 0.7
"""What a synonym counts beside the word itself."""

_SERVES = {"preferred": 1.0, "acceptable": 0.6, "improvised": 0.3, "unsafe": -0.3, "unable": -0.3}


class Guess(Record, frozen=True):
    """A step that may be meant, and how well the evidence fits (0..1)."""

    id: str
    name: str
    score: float


class StepMatch(Record, frozen=True):
    """The step that a sentence names, or the best guesses when it names none well enough.

    ``near``: other steps that fit nearly as well; an answer that would differ there is doubtful.
    """

    step: str | None
    score: float
    guesses: tuple[Guess, ...] = ()
    near: tuple[str, ...] = ()


def _thread_sizes(words: Iterable[str]) -> set[int]:
    """Thread sizes named: 4 of "4-0"."""
    return {int(w[:-2]) for w in words if w.endswith("-0") and w[:-2].isdigit()}


@dataclass(slots=True)
class _Doc:
    """What is known of one step, as stems."""

    step: Step
    names: tuple[dict[str, float], ...] = ()
    exact: frozenset[tuple[str, ...]] = frozenset()
    doing: frozenset[str] = frozenset()
    part: frozenset[str] = frozenset()
    whole: frozenset[str] = frozenset()
    alike: frozenset[str] = frozenset()
    beside: frozenset[str] = frozenset()
    states: frozenset[str] = frozenset()
    sizes: tuple[int, ...] = ()
    served: dict[str, float] = field(default_factory=dict)
    listed: frozenset[str] = frozenset()


_SMALL = frozenset(stem(w) for w in STOP)
_APART = frozenset(
    stem(w)
    for w in ["out", "off", "up", "down", "apart", "aside", "together", "back", "open", "away"]
)
"""Second words of doing words that may stand apart from the first."""


@dataclass(slots=True)
class _Found:
    """Terms named by a line: strength, and the words that name each."""

    strength: dict[str, float] = field(default_factory=dict)
    cover: dict[str, set[str]] = field(default_factory=dict)

    def add(self, terms: Sequence[str], weight: float, named_by: Iterable[str]) -> None:
        """Note the *terms* that the words *named_by* may mean."""
        if not terms:
            return
        words = set(named_by)
        share = weight / math.sqrt(len(terms))  # a word that may be many terms tells less
        for term in terms:
            self.strength[term] = max(self.strength.get(term, 0.0), share)
            self.cover.setdefault(term, set()).update(words)


class _Lexicon:
    """Words for actions and tissues, from the labels of the graph."""

    def __init__(self, group: dict[str, Term]) -> None:
        self.phrases: dict[tuple[str, ...], list[str]] = {}
        self.words: dict[str, set[str]] = {}
        for term in group.values():
            for text in (term.name, term.id.replace("_", " "), *term.aliases):
                key = all_stems(text)
                if not key:
                    continue
                self.phrases.setdefault(key, []).append(term.id)
                content = stems(text)
                if len(content) == 1:  # a word of a longer phrase means nothing alone
                    self.words.setdefault(term.id, set()).update(content)
        self.longest = max((len(key) for key in self.phrases), default=1)
        self.first = frozenset(key[0] for key in self.phrases)

    def found(self, line: Sequence[tuple[str, float]], among: frozenset[str]) -> _Found:
        """Terms of *among* that the line names, how strongly, and the words that name them."""
        out = _Found()
        for start, (head, weight) in enumerate(line):
            if head not in self.first:
                continue
            for end in range(start + 1, min(len(line), start + self.longest) + 1):
                part = line[start:end]
                terms = self.phrases.get(tuple(s for s, _ in part))
                if terms:
                    telling = weight * (1 + 0.3 * (len(part) - 1))
                    out.add([t for t in terms if t in among], telling, [s for s, _ in part])
            for last, _ in line[start + 2 : start + 6]:
                # "take the clips out" is "take out", "stop it from slipping" is "stop slipping"
                terms = self.phrases.get((head, last))
                if terms:
                    share = weight if last in _APART else 0.8 * weight
                    out.add([t for t in terms if t in among], share, [head, last])
        return out


class StepMatcher:
    """Finds steps by wording; built once for a reference and safe to share."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self.actions = _Lexicon(reference.terms.get("action", {}))
        self.tissues = _Lexicon(reference.terms.get("tissue", {}))
        self.doing = self.actions.first
        self._docs = {step.id: self._doc(step) for step in reference.steps.values()}
        self._known = frozenset().union(*(d.whole | d.beside for d in self._docs.values()))
        self._spoken: dict[str, frozenset[str]] = {}
        for doc in self._docs.values():
            before = self._spoken.get(doc.step.procedure, frozenset())
            self._spoken[doc.step.procedure] = before | doc.whole | doc.part | doc.beside
        self._all_actions = frozenset(reference.terms.get("action", {}))
        self._parts = frozenset().union(*self.tissues.words.values())
        self._idf: dict[str, dict[str, float]] = {}
        for procedure in reference.procedures.values():
            docs = [self._docs[s] for s in procedure.steps if s in self._docs]
            self._idf[procedure.id] = self._weights(docs)
        self._idf[""] = self._weights(self._docs.values())

    def match(
        self,
        procedure: str | None,
        text: str,
        *,
        missing: Iterable[str] = (),
        candidate: Iterable[str] = (),
        states: Iterable[str] = (),
    ) -> StepMatch:
        """The step that *text* means within *procedure* (an id; None = any procedure).

        ``missing``, ``candidate``: ids of the pieces that the question names; ``states``: states
        of the tissue that the question names.
        """
        direct = self._by_id(procedure, text)
        if direct is not None:
            return StepMatch(step=direct, score=1.0)
        pool = self._pool(procedure)
        line = tokens(text, self.doing)
        called = self._called(pool, text)
        if len(called) == 1:
            return StepMatch(step=called[0].step.id, score=1.0)
        pool = called or pool
        if not pool or not line:
            return StepMatch(step=None, score=0.0)
        lost, given, state = tuple(missing), tuple(candidate), frozenset(states)
        weighed = [(s.stem, s.weight) for s in self._phrase_line(text)]
        doing = self._first_counts(weighed)
        acts = self.actions.found(doing, frozenset(d.step.action for d in pool))
        parts = self.tissues.found(weighed, frozenset(d.step.target for d in pool))
        idf = self._idf[procedure or ""]
        # A piece that serves one step alone tells more than one that serves many.
        rare = {
            m: math.sqrt(max(1, sum(doc.served.get(m, 0.0) >= 1.0 for doc in pool))) for m in lost
        }
        rows = []
        for doc in pool:
            words, total = self._score(doc, line, idf, acts, parts, lost, rare, given, state)
            rows.append((total, words, doc.step))
        rows.sort(key=lambda r: (-r[0], r[2].order, r[2].id))
        guesses = tuple(Guess(id=s.id, name=s.name, score=round(t, 3)) for t, _, s in rows[:3])
        best, words, step = rows[0]
        # A sentence that names another doing must fit better in everything else.
        named = self.actions.found(doing, self._all_actions).strength
        need = SURE if not named or step.action in named else SURE_ELSEWISE
        served = max((self._docs[step.id].served.get(m, 0.0) / rare[m] for m in lost), default=0.0)
        enough = WORDS_NEEDED if served < 0.9 else 0.5 * WORDS_NEEDED
        if best < need or words < enough or self._beside_the_point(step.id, line, lost):
            return StepMatch(step=None, score=round(best, 3), guesses=guesses)
        near = tuple(
            s.id
            for t, _, s in rows[1:5]
            if t > best - NEAR or (t > 0.5 * best and self._says_more(s.id, step.id, line))
        )
        return StepMatch(step=step.id, score=round(best, 3), guesses=guesses, near=near)

    def _says_more(self, other: str, chosen: str, line: Sequence[Token]) -> bool:
        """Whether a twin of the chosen step has a word of the sentence that the chosen lacks.

        Twins do the same to the same tissue in another place: "of the lip" may mean the twin.
        """
        twin, doc = self._docs[other], self._docs[chosen]
        if (twin.step.action, twin.step.target) != (doc.step.action, doc.step.target):
            return False
        return any(
            t.weight >= 0.9 and t.stem in twin.whole and t.stem not in doc.whole
            for t in line
        )

    @staticmethod
    def _first_counts(line: Sequence[tuple[str, float]]) -> list[tuple[str, float]]:
        """The sentence with its later words weighing less: what is done is said first.

        "Dress the open leg" dresses; it opens nothing.
        """
        first = next((at for at, (s, _) in enumerate(line) if s not in _SMALL), 0)
        return [(s, w if at <= first else LATER * w) for at, (s, w) in enumerate(line)]

    def _beside_the_point(self, step: str, line: Sequence[Token], missing: Sequence[str]) -> bool:
        """Whether only the doing word fits and what it is done to does not.

        "Clamp the aorta" is no step of a procedure that clamps something else.
        """
        doc = self._docs[step]
        other = []
        for token in line:
            share = self._share(token.stem, doc)
            if share >= 0.7 and token.stem not in doc.doing:
                return False
            if share == 0.0 and token.weight >= 0.9 and token.stem not in self.doing:
                other.append(token.stem)
        if not other:
            return False
        own = self._spoken[doc.step.procedure]
        worth = max((doc.served.get(m, 0.0) for m in missing), default=0.0)
        if worth >= 1.0 and not any(w in self._parts and w not in own for w in other):
            return False  # a first-line piece of this step is missing: the word is a new one
        served = worth >= 0.6
        if not served:
            return not any(w in own for w in other)
        return any(w not in own and (w not in self._known or w in self._parts) for w in other)

    def _by_id(self, procedure: str | None, text: str) -> str | None:
        word = text.strip()
        if word in self._docs:
            return word
        if procedure and f"{procedure}/{word}" in self._docs:
            return f"{procedure}/{word}"
        return None

    @staticmethod
    def _called(pool: Sequence[_Doc], text: str) -> list[_Doc]:
        """Steps of which the text is a name, word for word; one name may be that of several."""
        level = all_stems(text)
        return [doc for doc in pool if level in doc.exact] if level else []

    def _pool(self, procedure: str | None) -> list[_Doc]:
        if procedure is None:
            return list(self._docs.values())
        found = self.reference.procedures.get(procedure)
        return [self._docs[s] for s in found.steps if s in self._docs] if found else []

    def _phrase_line(self, text: str) -> list[Token]:
        """Every word, small ones too, with the weight of its clause (phrases hold small words)."""
        weights = {t.stem: t.weight for t in tokens(text, self.doing)}
        return [Token(stem=s, word=s, weight=weights.get(s, 1.0)) for s in all_stems(text)]

    def _doc(self, step: Step) -> _Doc:
        spoken = (step.name, *(n.text for n in step.names))
        names = tuple(self._weighted(text) for text in spoken)
        doing = frozenset(self.actions.words.get(step.action, ()))
        part = frozenset(self.tissues.words.get(step.target, ()))
        beside: set[str] = set(stems(step.when or "")) | set(stems(step.note or ""))
        for risk in step.at_risk:
            beside |= self.tissues.words.get(risk.tissue, set())
        served: dict[str, float] = {}
        for judgement in step.judgements:
            worth = _SERVES[judgement.grade] * (0.7 if judgement.role else 1.0)
            served[judgement.subject] = max(served.get(judgement.subject, -1.0), worth)
        return _Doc(
            step=step,
            names=tuple(n for n in names if n),
            exact=frozenset(all_stems(text) for text in spoken),
            whole=frozenset().union(*(n.keys() for n in names)),
            doing=doing,
            part=part,
            alike=doing | part,
            beside=frozenset(beside),
            states=frozenset(step.target_state),
            sizes=tuple(sorted(_thread_sizes(t for n in names for t in n))),
            served=served,
            listed=frozenset(served),
        )

    def _weighted(self, name: str) -> dict[str, float]:
        """Words of a name; what follows "with", "for" and the like counts less."""
        out: dict[str, float] = {}
        for token in tokens(name, self.doing):
            out[token.stem] = max(out.get(token.stem, 0.0), token.weight)
        return out or dict.fromkeys(stems(name), 1.0)

    @staticmethod
    def _weights(docs: Iterable[_Doc]) -> dict[str, float]:
        """How telling each word is among these steps: rare words tell more."""
        rows = list(docs)
        seen: Counter[str] = Counter()
        for doc in rows:
            seen.update(doc.whole | doc.alike)
        return {word: math.log((len(rows) + 1) / (n + 0.5)) for word, n in seen.items()}

    def _score(
        self,
        doc: _Doc,
        line: Sequence[Token],
        idf: dict[str, float],
        acts: _Found,
        parts: _Found,
        missing: Sequence[str],
        rare: dict[str, float],
        candidate: Sequence[str],
        states: frozenset[str],
    ) -> tuple[float, float]:
        total = found = 0.0
        for token in line:
            worth = max(idf.get(token.stem, UNKNOWN), 0.15) * token.weight
            total += worth
            share = self._share(token.stem, doc)
            if share < 0.75 and (
                token.stem in acts.cover.get(doc.step.action, ())
                or token.stem in parts.cover.get(doc.step.target, ())
            ):
                share = 0.75
            found += worth * share
        words = found / total if total else 0.0
        name = max((self._overlap(n, line, doc, idf) for n in doc.names), default=0.0)
        action = self._concept(acts.strength, doc.step.action)
        target = self._concept(parts.strength, doc.step.target)
        lost = max((doc.served.get(m, 0.0) / rare[m] for m in missing), default=0.0)
        given = 1.0 if any(c in doc.listed for c in candidate) else 0.0
        state = self._state(states, doc) + self._size(line, doc)
        text = WEIGHTS["words"] * words + WEIGHTS["name"] * name
        score = (
            text
            + WEIGHTS["action"] * action
            + WEIGHTS["target"] * target
            + WEIGHTS["missing"] * lost
            + WEIGHTS["candidate"] * given
            + WEIGHTS["state"] * state
            + (WEIGHTS["essential"] if doc.step.need == "essential" else 0.0)
        )
        return text + 0.5 * (WEIGHTS["action"] * action + WEIGHTS["target"] * target), score

    @staticmethod
    def _share(word: str, doc: _Doc) -> float:
        if word in doc.whole:
            return 1.0
        if word in doc.alike:
            return 0.75
        if len(word) >= 5 and any(
            len(w) >= 5 and (word.startswith(w) or fuzz.ratio(word, w, score_cutoff=86))
            for w in doc.whole
        ):
            return 0.7
        return 0.35 if word in doc.beside else 0.0

    @staticmethod
    def _overlap(
        name: dict[str, float], line: Sequence[Token], doc: _Doc, idf: dict[str, float]
    ) -> float:
        """Likeness of the sentence and one name: harmonic mean of both shares.

        Two words for the step's own action, or for its own tissue, count as nearly the same.
        """
        ask = have = 0.0
        said = {token.stem for token in line}
        groups = [g for g in (doc.doing, doc.part) if g & said]
        for token in line:
            worth = max(idf.get(token.stem, UNKNOWN), 0.15) * token.weight
            ask += worth
            if token.stem in name:
                have += worth
            elif any(token.stem in group and group & name.keys() for group in groups):
                have += worth * ALIKE
        # A word of a side clause ("once the sac is open") speaks little for a name.
        heard = {t.stem: min(1.0, t.weight / 0.6) for t in line}
        met = {
            word: heard.get(word, ALIKE)
            for word in name
            if word in heard or any(word in group for group in groups)
        }
        if not met or not have:
            return 0.0
        full = sum(max(idf.get(w, 1.0), 0.15) * worth for w, worth in name.items())
        precision = sum(max(idf.get(w, 1.0), 0.15) * name[w] * m for w, m in met.items()) / full
        recall = have / ask
        score = 2 * recall * precision / (recall + precision)
        # A name of two words or more that stands whole in the sentence is named, whatever else;
        # a sentence of which every word stands in one name means it, whatever the name adds.
        if len(name) > 1 and precision == 1.0:
            return 1.0 if line[0].stem in name else 0.8
        return max(score, 0.8) if len(said) > 1 and said <= name.keys() else score

    @staticmethod
    def _concept(found: dict[str, float], own: str) -> float:
        """1 when the sentence names the step's own action or tissue best, below 0 when another."""
        if not found:
            return 0.0
        best = max(found.values())
        mine = found.get(own, 0.0)
        return mine / best if mine else -0.5

    @staticmethod
    def _size(line: Sequence[Token], doc: _Doc) -> float:
        """A thread size that the step's name includes speaks for it, another against it."""
        asked = _thread_sizes(t.stem for t in line)
        if not asked or not doc.sizes:
            return 0.0
        return 1.0 if any(doc.sizes[0] <= n <= doc.sizes[-1] for n in asked) else -2.5

    @staticmethod
    def _state(states: frozenset[str], doc: _Doc) -> float:
        if not states:
            return 0.0
        return 1.0 if states & doc.states else -0.3


def best_guess_line(guesses: Sequence[Guess]) -> str:
    """The guesses as one line to show, best first."""
    return "; ".join(f"{g.name} ({g.id}, {g.score:.2f})" for g in guesses)


__all__ = ["SURE", "Guess", "StepMatch", "StepMatcher", "best_guess_line", "stem"]
