"""Which pattern the words of one item mean, how surely, and what else they may mean."""

from __future__ import annotations

from etui.knowledge.model import ClassName, Reference
from etui.reading.fit import Facts, attribute_factor
from etui.reading.index import UNKNOWN, Index, Token, tokens
from etui.reading.lexicon import Lexicon
from etui.reading.mending import Mender, Query
from etui.reading.numbers import Numbers
from etui.reading.outcome import Match, Scored
from etui.reading.text import fold

__all__ = ["Matcher"]


CONFIDENT = 0.62
"""Least score at which a single reading is believed."""

STRANGE = 0.74
"""The same when a word of the line means nothing."""

EXPLAINED = 0.84
"""Share of the line taken as explained when a whole eponym and its noun are there."""

HANDS = frozenset(("manoeuvre", "hand_manoeuvre"))

MARGIN = 0.07
"""Least lead over the next pattern."""

POSSIBLE = 0.4
"""Least score of a reading that is worth asking about."""


class Matcher:
    """Matches tokens against the index; deterministic, explains itself."""

    def __init__(self, reference: Reference, lexicon: Lexicon, index: Index) -> None:
        self.reference, self.lexicon, self.index = reference, lexicon, index
        self.classes: dict[frozenset[str], ClassName] = {}
        for name in reference.class_names.values():
            for text in name.names:
                bag = frozenset(t.text for t in tokens(lexicon.read(fold(text))))
                if bag:
                    self.classes.setdefault(bag, name)
        self.class_words = frozenset(w for bag in self.classes for w in bag) | lexicon.known_words
        self.longest_class = max((len(b) for b in self.classes), default=0)
        self.mender = Mender(lexicon, index, self.class_words)
        self.numbers = Numbers(index)

    # -- scoring -----------------------------------------------------------------------------

    def match(self, found: list[Token], facts: Facts) -> Match:
        """The reading of *found* under *facts*."""
        query = self.mender.query(found)
        names = [
            (t, a)
            for t, a in zip(query.tokens, query.alts, strict=True)
            if t.cls not in ("attr", "num")
        ]
        why = list(query.spelt)
        direct = self._ranked(query, facts)
        named = any(a for t, a in names) or bool(direct and direct[0][4])
        klass, bag = self._class(query)
        fixed = tuple(query.fixed.items())
        top = direct[0] if direct else None
        if klass is not None and not self._says_more(query, top, bag, klass):
            return self._of_class(klass, bag, facts, direct, why).changed(spelt=fixed)
        if top is None or top[1] < POSSIBLE:
            ranked = tuple(
                Scored(p, round(s, 3), lab) for p, s, lab, _, _ in direct[:5] if s >= 0.25
            )
            return Match(None, top[1] if top else 0.0, ranked, why="; ".join(why), named=named)
        ranked = tuple(
            Scored(p, round(s, 3), lab) for p, s, lab, _, _ in direct[:6] if s >= POSSIBLE * 0.9
        )
        why.append(f'"{top[2]}" fits best ({top[1]:.2f})')
        numbers = {t.text for t in query.tokens if t.cls == "num"}
        bags = self.index.of_pattern
        rivals = [
            d
            for d in direct[1:]
            if d[1] > top[1] - MARGIN
            and (d[4] or not top[4])
            and not (numbers & bags[top[0]] and not numbers & bags[d[0]])
        ]
        base = Match(
            None,
            top[1],
            ranked,
            why="; ".join(why),
            named=True,
            spelt=fixed,
            explained=top[3],
            exact=top[4],
            bag=next(
                (lab.bag for lab in self.index.labels_of[top[0]] if lab.text == top[2]), frozenset()
            ),
            joins=next(
                (lab.joins for lab in self.index.labels_of[top[0]] if lab.text == top[2]),
                frozenset(),
            ),
        )
        shared = self._shared(query, facts, direct)
        if shared:
            ids = tuple(Scored(p, round(s, 3), lab) for p, s, lab in shared)
            names_ = ", ".join(self.index.names[s.id] for s in ids)
            return base.changed(
                ranked=ids,
                ask=f"Which is meant: {names_}?",
                why="; ".join([*why, "the name is borne by pieces of several kinds"]),
            )
        if rivals:
            close = (top, *rivals)
            names_ = ", ".join(self.index.names[d[0]] for d in close)
            return base.changed(
                ask=f"Which is meant: {names_}?", why="; ".join([*why, "others fit as well"])
            )
        bag = self.index.of_pattern[top[0]]
        strange = any(
            not any(o in bag for o, _ in a)
            and not (t.cls == "noun" and self._admits(top[0], t.text, t.families))
            for t, a in names
        )
        # notes on what hands did are prose; there is nothing to count in them
        prose = self.index.families[top[0]] in HANDS
        if top[1] < (STRANGE if strange and not prose else CONFIDENT):
            return base
        sizes = {n for n in numbers if "x" not in n}  # teeth are weighed with the facts
        numbered = [
            d
            for d in direct[1:]
            if sizes & bags[d[0]] and not sizes & bag and d[1] > POSSIBLE and not top[4]
        ]
        if numbered:
            # "blade size 22 box": the number is another's, and the name is not whole
            close = (top, *numbered[:2])
            names_ = ", ".join(self.index.names[d[0]] for d in close)
            return base.changed(ask=f"Which is meant: {names_}?")
        if not top[4] and self._half_named(query, top):
            return base.changed(
                ask=f"Is {self.index.names[top[0]]} meant?",
                why="; ".join([*why, "only half of the name is there"]),
            )
        return base.changed(pattern=top[0])

    def _says_more(
        self,
        query: Query,
        top: tuple[str, float, str, float, bool] | None,
        bag: frozenset[str],
        klass: ClassName,
    ) -> bool:
        """Whether a pattern's label accounts for more of the line than the class name does."""
        if top is None or top[1] < 0.8:
            return False
        said = {t.text for t in query.tokens}
        numbers = {t.text for t in query.tokens if t.cls == "num"}
        most = max(
            len(said & lab.bag) + len(numbers & lab.bag)
            for lab in self.index.labels_of[top[0]]
            if lab.text == top[2]
        )
        least = len(said & bag) + len(numbers & bag)
        same = any(lab.bag == bag for lab in self.index.labels_of[top[0]])
        return most > least or (most == least and top[4] and not klass.stand_ins and not same)

    def _ranked(self, query: Query, facts: Facts) -> list[tuple[str, float, str, float, bool]]:
        """(pattern, score, label, share of the line explained, exact), best first."""
        index = self.index
        got: dict[int, float] = {}
        firm = False
        counted: set[str] = set()
        for token, options in zip(query.tokens, query.alts, strict=True):
            for text, like in options:
                cls = index.kinds.get(text)
                if cls is None or text in counted:
                    continue
                counted.add(text)
                firm = firm or token.cls != "attr"
                for at, weight in index.postings[text]:
                    got[at] = got.get(at, 0.0) + weight * like
        if not firm:
            return []
        said = {q.text for q in query.tokens}
        attrs = {q.text for q in query.tokens if q.cls == "attr"}
        numbers = {q.text for q in query.tokens if q.cls == "num"}
        has_noun = any(t.cls == "noun" for t in query.tokens)
        best: dict[str, tuple[float, str, float, bool]] = {}
        line_words = [
            (t, a, self._line_weight(t, a))
            for t, a in zip(query.tokens, query.alts, strict=True)
            if t.cls not in ("attr", "num")
        ]
        total = sum(w for _, _, w in line_words)
        if not total:
            # a swab named by its size alone ("4x4s")
            line_words = [
                (t, a, index.weight(t))
                for t, a in zip(query.tokens, query.alts, strict=True)
                if t.cls == "num" and "x" in t.text
            ]
            total = sum(w for _, _, w in line_words) or 1e-9
        cover: dict[str, float] = {}
        for at, weight in got.items():
            lab = index.labels[at]
            whole = lab.weight
            if lab.core and not has_noun:
                # nouns left unsaid are hardly missed
                soft = lab.weight - lab.firm
                whole = lab.firm + 0.6 * soft
            elif lab.core:
                soft = sum(
                    index.weight(t)
                    for t in lab.tokens
                    if t.cls == "noun" and t.text not in {q.text for q in query.tokens}
                )
                whole = lab.weight - 0.15 * soft
            recall = min(1.0, weight / whole) if whole else 0.0
            if recall < 0.2:
                continue
            share = cover.get(lab.pattern)
            if share is None:
                share = cover[lab.pattern] = self._covered(line_words, lab.pattern) / total
            here = (
                sum(
                    w * max((like for text, like in a if text in lab.bag), default=0.0)
                    for _, a, w in line_words
                )
                / total
            )
            nouns_said = not has_noun or all(t.text in said for t in lab.tokens if t.cls == "noun")
            bag = index.of_pattern[lab.pattern]
            told = 0.08 * len(attrs & bag) + 0.12 * len(numbers & bag)
            if (
                recall > 0.95
                and share < EXPLAINED
                and lab.core & index.proper
                and (self._vouched(query, lab.pattern))
            ):
                share = EXPLAINED  # eponym and noun are whole; a word of praise beside them is not
            score = share * (0.35 + 0.65 * recall) * (0.82 + 0.18 * here) * (1 + told)
            if lab.hidden:
                score *= 0.97
            known = best.get(lab.pattern)
            if known is None or score > known[0]:
                best[lab.pattern] = (
                    score,
                    lab.text,
                    share,
                    recall > 0.96 and here > 0.95 and nouns_said,
                )
        ranked = []
        for pattern, (score, text, share, exact) in best.items():
            factor = self._fits(pattern, facts, query)
            if pattern not in self.index.patterns:
                factor *= 0.9  # a phrase for a hand, behind the patterns
            ranked.append((pattern, score * factor, text, share, exact and factor >= 0.9))
        ranked.sort(key=lambda r: (-r[1], r[0]))
        return ranked

    def _line_weight(self, token: Token, options: tuple[tuple[str, float], ...]) -> float:
        if not options:
            return UNKNOWN if token.cls != "weak" else 0.25
        return self.index.weight(Token(options[0][0], token.cls))

    def _covered(
        self,
        words: list[tuple[Token, tuple[tuple[str, float], ...], float]],
        pattern: str,
    ) -> float:
        bag = self.index.of_pattern[pattern]
        family = self.index.families[pattern]
        out = 0.0
        for token, options, weight in words:
            part = max((like for text, like in options if text in bag), default=0.0)
            if part:
                part = min(1.0, 0.5 + part / 2) if part < 1 else part
            elif token.cls == "noun" and family in token.families:
                part = 0.88
            out += weight * part
        return out

    def _fits(self, pattern: str, facts: Facts, query: Query) -> float:
        """Factor by what the line states about the piece."""
        record = self.index.patterns.get(pattern)
        factor = 1.0
        for token in query.tokens:
            if token.cls == "noun" and not self._admits(pattern, token.text, token.families):
                factor *= 0.5
        for noun, families in facts.nouns:
            if not self._admits(pattern, noun, families):
                factor *= 0.7
        if record is None:
            return factor
        return factor * attribute_factor(record, facts)

    def _admits(self, pattern: str, noun: str, families: tuple[str, ...]) -> bool:
        return noun in self.index.of_pattern[pattern] or self.index.families[pattern] in families

    def _vouched(self, query: Query, pattern: str) -> bool:
        """Whether a noun that the pattern admits is there, and few words are left over."""
        bag = self.index.of_pattern[pattern]
        nouns = [t for t in query.tokens if t.cls == "noun"]
        left = [
            t
            for t, a in zip(query.tokens, query.alts, strict=True)
            if t.cls in ("core", "weak") and not any(o in bag for o, _ in a)
        ]
        return (
            bool(nouns)
            and len(left) <= 2
            and not any(t.text in self.index.proper for t in left)
            and not any(t.text in self.lexicon.known_words for t in left)
            and all(self._admits(pattern, t.text, t.families) for t in nouns)
        )

    def _half_named(self, query: Query, top: tuple[str, float, str, float, bool]) -> bool:
        """Whether everyday words cover only part of the best label and no noun supports it."""
        index = self.index
        if any(t.cls == "noun" and t.text in index.of_pattern[top[0]] for t in query.tokens):
            return False
        said = {o for a in query.alts for o, _ in a}
        if any(w in index.proper for w in said & index.of_pattern[top[0]]):
            return False
        best = 0.0
        for lab in index.labels_of[top[0]]:
            firm = [t for t in lab.tokens if t.cls != "attr"]
            whole = sum(index.weight(t) for t in firm)
            if whole:
                best = max(best, sum(index.weight(t) for t in firm if t.text in said) / whole)
        return best < 0.7

    # -- names shared by several kinds -------------------------------------------------------

    def _shared(
        self, query: Query, facts: Facts, direct: list[tuple[str, float, str, float, bool]]
    ) -> list[tuple[str, float, str]]:
        """Carriers of the same bare name in other kinds, when nothing on the line decides."""
        index = self.index
        top = direct[0]
        core = [
            (t, a)
            for t, a in zip(query.tokens, query.alts, strict=True)
            if t.cls in ("core", "weak") and a
        ]
        if not core or len(core) > 3:
            return []
        words = {a[0][0] for _, a in core}
        plural = any(t.plural for t, _ in core)
        told = {t.text for t in query.tokens if t.cls in ("attr", "num")}
        if any(
            words <= lab.core and told & lab.bag
            for lab in index.labels_of[top[0]]
            if not lab.hidden
        ):
            return []  # the label itself says what tells it apart ("Mayo curved")
        scores = {d[0]: d for d in direct}
        claims: set[str] = set()
        carriers: dict[str, str] = {}
        for at, _ in index.postings.get(min(words), ()):
            lab = index.labels[at]
            if lab.hidden or not words <= lab.core or lab.pattern not in index.patterns:
                continue
            units = {t.unit for t in lab.tokens if t.text in words and t.unit}
            if any(t.unit in units and t.text not in words for t in lab.tokens):
                continue  # part of a double name is another name
            found = scores.get(lab.pattern)
            if found is None or found[1] < POSSIBLE * 0.75:
                continue
            if self._fits(lab.pattern, facts, query) < 0.8 and not (
                facts.teeth and self._toothless(top[0]) and not self._toothless(lab.pattern)
            ):
                continue  # (teeth are said of a bearer that can have them, though not these)
            carriers.setdefault(lab.pattern, lab.text)
            if lab.bare and lab.core == words and (plural or not lab.plural):
                claims.add(lab.pattern)
        kinds = {index.families[p] for p in carriers}
        if top[0] not in carriers or len(kinds) < 2:
            return []
        if any(t.cls == "noun" for t in query.tokens):
            sure = [
                p
                for p in carriers
                if scores[p][1] > top[1] - MARGIN and (scores[p][4] or not top[4])
            ]
            if len({index.families[p] for p in sure}) < 2:
                return []
        claimed = {index.families[p] for p in claims}
        if top[0] in claims and len(claimed) == 1:
            return []
        return [
            (p, scores[p][1], text)
            for p, text in sorted(carriers.items(), key=lambda kv: (-scores[kv[0]][1], kv[0]))
        ]

    def _toothless(self, pattern: str) -> bool:
        """Whether the record says nothing of teeth."""
        record = self.index.patterns.get(pattern)
        return record is None or "teeth" not in record.features

    # -- class names -------------------------------------------------------------------------

    def _class(self, query: Query) -> tuple[ClassName | None, frozenset[str]]:
        """The class name whose words are all that the line says by way of a name."""
        must = set()
        attrs = set()
        for token, options in zip(query.tokens, query.alts, strict=True):
            if token.cls == "attr":
                attrs.add(token.text)
            elif token.cls == "num":
                continue
            elif not options:
                return None, frozenset()
            elif len(options) > 1 and options[0][1] < 1 and options[1][1] > options[0][1] - 0.03:
                return None, frozenset()  # two right words are as near
            else:
                must.add(options[0][0])
        if len(must) > self.longest_class:
            return None, frozenset()
        best: ClassName | None = None
        chosen: frozenset[str] = frozenset()
        most = -1
        options_ = sorted(attrs)
        for picked in range(1 << min(len(options_), 4)):
            some = {options_[k] for k in range(min(len(options_), 4)) if picked >> k & 1}
            bag = frozenset(must | some)
            if bag and bag in self.classes and len(bag) > most:
                best, most, chosen = self.classes[bag], len(bag), bag
        return best, chosen

    def _of_class(
        self,
        klass: ClassName,
        bag: frozenset[str],
        facts: Facts,
        direct: list[tuple[str, float, str, float, bool]],
        why: list[str],
    ) -> Match:
        scores = {d[0]: d[1] for d in direct}
        patterns = self.index.patterns
        stands = list(dict.fromkeys(klass.stand_ins.get(k, "") for k in ("", "uk", "us")))
        stands = [s for s in stands if s in patterns]
        known = [m for m in klass.members if m in patterns]
        fit = {m: attribute_factor(patterns[m], facts) for m in dict.fromkeys([*stands, *known])}
        ranked = tuple(
            Scored(m, round(max(scores.get(m, 0.5), 0.5) * fit[m], 3), klass.names[0])
            for m in dict.fromkeys([*stands, *known])
            if fit[m] > 0.75 or len(fit) == 1
        )
        why = [*why, f'"{klass.names[0]}" names a class of pieces']
        ask = klass.ask or (
            "Which is meant: " + ", ".join(self.index.names[s.id] for s in ranked) + "?"
            if ranked
            else None
        )
        good = [s for s in stands if fit[s] > 0.75]
        named = [
            d[0]
            for d in direct
            if d[4]
            and d[0] in patterns
            and any(lab.bag == bag and not lab.hidden for lab in self.index.labels_of[d[0]])
        ]
        if klass.stand_ins and named:
            # of several usual ones, that which bears the very name; else the one that bears it
            borne = [s for s in good if s in named]
            good = borne or (named[:1] if len(named) == 1 else good)
        extra = tuple(
            Scored(d[0], round(d[1], 3), d[2]) for d in direct if d[4] and d[0] not in fit
        )
        ranked += extra[:4]
        base = Match(
            None,
            0.5,
            ranked,
            ask,
            "; ".join(why),
            named=True,
            class_id=klass.id,
            explained=1.0,
            exact=True,
            bag=bag,
        )
        if good:
            text = f"read as {self.index.names[good[0]]}, the usual one of its class"
            return base.changed(
                pattern=good[0],
                score=0.8,
                why="; ".join([*why, text]),
                assumed=len(known) > 1,
            )
        if len(ranked) == 1 and stands:
            return base.changed(pattern=ranked[0].id, score=0.7, assumed=True)
        return base
