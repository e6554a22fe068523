"""Which pattern the words of one item mean, how surely, and what else they may mean."""

from __future__ import annotations

from dataclasses import dataclass, field

from etui.knowledge.model import ClassName, Pattern, Reference
from etui.reading.chunks import Chunk
from etui.reading.index import UNKNOWN, Index, Token, tokens
from etui.reading.lexicon import Lexicon
from etui.reading.text import Mark, fold

__all__ = ["Facts", "Match", "Matcher", "Scored"]

CONFIDENT = 0.62
"""Least score at which a single reading is believed."""

STRANGE = 0.74
"""The same when a word of the line means nothing."""

EXPLAINED = 0.84
"""Share of the line taken as explained when a whole eponym and its noun are there."""

MARGIN = 0.07
"""Least lead over the next pattern."""

POSSIBLE = 0.4
"""Least score of a reading that is worth asking about."""

OUT_OF_RANGE = 0.15
"""Share by which a stated length may miss the recalled range of a pattern."""


@dataclass(frozen=True, slots=True)
class Facts:
    """What the line states about the piece, as far as it speaks for or against a pattern."""

    length_mm: float | None = None
    curve: str | None = None
    teeth: str | None = None
    forms: tuple[str, ...] = ()
    nouns: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """Nouns of the heading above the line: (noun, families)."""


@dataclass(frozen=True, slots=True)
class Scored:
    """One reading: pattern id and score 0..1, with the label that spoke for it."""

    id: str
    score: float
    label: str = ""


@dataclass(frozen=True, slots=True)
class Match:
    """The outcome for one item.

    ``pattern`` is None when nothing is sure: ``asks`` then says whether ``ranked`` holds
    candidates to choose from.  ``named``: at least one word names something.
    """

    pattern: str | None
    score: float
    ranked: tuple[Scored, ...] = ()
    ask: str | None = None
    why: str = ""
    named: bool = False
    assumed: bool = False
    class_id: str | None = None
    explained: float = 0.0
    exact: bool = False
    bag: frozenset[str] = frozenset()
    """Tokens of the label or class name that spoke for the reading."""


    joins: frozenset[str] = frozenset()
    spelt: tuple[tuple[str, str], ...] = ()

    def mended(self, found: list[Token]) -> list[Token]:
        """Tokens with the spelling that this match read them in."""
        fixed = dict(self.spelt)
        return [
            Token(fixed[t.text], t.cls) if t.text in fixed else t for t in found
        ]


@dataclass(slots=True)
class Query:
    """The words of one item with what each may mean."""

    tokens: list[Token]
    alts: list[tuple[tuple[str, float], ...]] = field(default_factory=list)
    spelt: list[str] = field(default_factory=list)
    fixed: dict[str, str] = field(default_factory=dict)


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

    # -- words of the line -------------------------------------------------------------------

    def query(self, found: list[Token]) -> Query:
        """Mend spelling: each word with the tokens it may stand for."""
        mended: list[Token] = []
        alts: list[tuple[tuple[str, float], ...]] = []
        spelt: list[str] = []
        fixed: dict[str, str] = {}
        idf = self.index.idf
        known = [
            t.cls not in ("core", "weak") or t.text in idf or t.text in self.class_words
            for t in found
        ]
        i = 0
        while i < len(found):
            token = found[i]
            joined = self._joined(found, known, i)
            if joined:
                size, parts, like = joined
                fixed.update((t.text, parts[0]) for t in found[i : i + size])
                spelt.append(
                    f'"{" ".join(t.text for t in found[i : i + size])}" read as "{" ".join(parts)}"'
                )
                for part in parts:
                    families = self.lexicon.families.get(part, ())
                    mended.append(Token(part, "noun" if families else "core", 0, False, families))
                    alts.append(((part, like),))
                i += size
                continue
            if token.cls in ("attr", "num", "noun"):
                mended.append(token)
                alts.append(((token.text, 1.0),))
            else:
                aliased = self.index.aliases.get(token.text)
                if (token.text in idf and not aliased) or token.text in self.class_words:
                    mended.append(token)
                    alts.append(((token.text, 1.0),))
                else:
                    self._mend(token, mended, alts, spelt)
                    if alts[-1] and alts[-1][0][0] != token.text:
                        fixed[token.text] = alts[-1][0][0]
            i += 1
        return Query(mended, alts, spelt, fixed)

    def _mend(
        self,
        token: Token,
        mended: list[Token],
        alts: list[tuple[tuple[str, float], ...]],
        spelt: list[str],
    ) -> None:
        near = self.index.near(token.text)
        options: list[tuple[str, float]] = []
        if token.text in self.index.idf:
            options.append((token.text, 1.0))
        pair: tuple[str, ...] = ()
        for meant, like in near:
            if len(meant) == 1:
                if meant[0] != token.text:
                    options.append((meant[0], like))
            elif not options and not pair:
                pair = meant
                for part in meant:
                    families = self.lexicon.families.get(part, ())
                    mended.append(Token(part, "noun" if families else "core", 0, False, families))
                    alts.append(((part, like),))
        if pair:
            spelt.append(f'"{token.text}" read as "{" ".join(pair)}"')
            return
        if options and options[0][0] != token.text:
            spelt.append(f'"{token.text}" read as "{options[0][0]}"')
        top = options[0][0] if options else token.text
        tied = [o for o, like in options if like > options[0][1] - 0.03]
        nouns = all(o in self.lexicon.families for o in tied)
        families = self.lexicon.families.get(top, ()) if options and nouns else ()
        cls = "noun" if families and token.text not in self.index.idf else token.cls
        mended.append(Token(top, cls, token.unit, token.plural, families))
        alts.append(tuple(options))

    def rejoin(self, found: list[Mark]) -> list[Mark]:
        """Marks with names put together that dictation tore apart across little words.

        "long and back" is Langenbeck, "fee no ketty" Finochietto: only windows with a word that
        means nothing are tried, and only a likeness that no part has alone counts.
        """
        out: list[Mark] = []
        i = 0
        while i < len(found):
            made = self._rejoined(found, i)
            if made:
                size, parts = made
                for part in parts:
                    families = self.lexicon.families.get(part, ())
                    mark = Mark("word", part)
                    mark.group, mark.families = ("noun", families) if families else ("", ())
                    mark.unit = 1000 + i
                    out.append(mark)
                i += size
                continue
            out.append(found[i])
            i += 1
        return out

    def _unknown(self, mark: Mark) -> bool:
        return (
            mark.kind == "word"
            and not mark.group
            and mark.means not in self.index.solid
        )

    def _rejoined(self, found: list[Mark], at: int) -> tuple[int, tuple[str, ...]] | None:
        for size in (3, 2):
            part = found[at : at + size]
            if len(part) < size or any(m.kind != "word" or not m.text.isalpha() for m in part):
                continue
            little = bool(part[1].group) if size == 3 else any(m.group for m in part)
            if size == 2 and not any(self._unknown(m) for m in part):
                continue
            if not little or any(m.means in self.index.proper for m in part):
                continue
            if any(m.group in ("noun", "not-an-item", "thread", "material") for m in part):
                continue
            word = "".join(m.text for m in part)
            if len(word) < 7:
                continue
            near = self.index.near(word, joined=True)
            alone = max(
                (n[0][1] for m in part if self._unknown(m) for n in [self.index.near(m.means)] if n),
                default=0.0,
            )
            if (
                near
                and near[0][1] >= 0.68
                and near[0][1] > alone + 0.02
                and near[0][0][0] in self.index.proper
            ):
                return size, near[0][0]
        return None

    def _joined(
        self, found: list[Token], known: list[bool], at: int
    ) -> tuple[int, tuple[str, ...], float] | None:
        """Words that dictation tore apart ("de bakey", "wheat lander"), put together again."""
        idf = self.index.idf
        for size in (3, 2):
            part = found[at : at + size]
            if len(part) < size or any(t.cls not in ("core", "weak") for t in part):
                continue
            if all(known[at : at + size]):
                continue
            word = "".join(t.text for t in part)
            if len(word) < 6 and not (word in self.index.proper and word in idf):
                continue
            alone = [self.index.near(t.text) for t, k in zip(part, known[at:], strict=False) if not k]
            sure = max((a[0][1] for a in alone if a), default=0.0)
            near = self.index.near(word, joined=True)
            if near and near[0][1] > max(sure + 0.02, 0.66) and all(
                len(t.text) > 1 or near[0][1] > 0.9 for t in part
            ):
                return size, near[0][0], near[0][1]
        return None

    # -- numbers that are names --------------------------------------------------------------

    def is_designator(self, found: list[Token], number: str) -> bool:
        """Whether *number* is part of a name that the other words fit ("handle 3")."""
        words = {t.text for t in found if t.cls in ("core", "noun")}
        nouns = {t.text for t in found if t.cls == "noun"}
        if not nouns and not words:
            return False
        for at, _ in self.index.postings.get(number, ()):
            lab = self.index.labels[at]
            if words <= self.index.of_pattern[lab.pattern] and (
                nouns & lab.bag or (not nouns and words == lab.core)
            ):
                return True
        return False

    def designates(self, found: list[Token], mark: Mark) -> bool:
        return mark.kind == "num" and self.is_designator(found, f"{mark.value:g}")

    def by_number(self, numbers: list[str]) -> tuple[Scored, ...]:
        """Patterns that go by a number alone or with a noun ("15"): what to ask about."""
        out: dict[str, Scored] = {}
        for number in numbers:
            for at, _ in self.index.postings.get(number, ()):
                lab = self.index.labels[at]
                if len(lab.tokens) <= 2 and not lab.core:
                    out.setdefault(lab.pattern, Scored(lab.pattern, 0.5, lab.text))
        return tuple(out[p] for p in sorted(out))

    def settle_numbers(
        self, chunks: list[Chunk], nouns: tuple[tuple[str, tuple[str, ...]], ...]
    ) -> None:
        """Which numbers standing alone are part of a name ("22 blade ii", "Blade 10")."""
        above = [Token(n, "noun", 0, False, f) for n, f in nouns]
        for at, chunk in enumerate(chunks):
            if not chunk.bare and not any(c.kind == "explicit" for c in chunk.counts):
                continue
            names = chunk.plain_names
            has_noun = any(t.cls == "noun" for t in names)
            if not names:
                # a bracket or a number after the colon belongs to the words before it
                before = chunks[at - 1].plain_names if at and chunk.joiner in ("(", ":", "-", ",") else []
                names = before or above
                if before and any(t.cls == "num" for t in before):
                    continue
                if not names:
                    continue
            elif not has_noun and above:
                names = [*names, *above]
            if any(t.cls == "num" for t in names):
                continue
            fits = [b for b in chunk.bare if self.designates(names, b[1])]
            if not fits and chunk.joiner == "(" and at and not chunk.bare:
                continue
            if not fits:
                continue
            counted = any(c.kind in ("explicit", "pair") for c in chunk.counts) or any(
                c.counts for c in chunks[at + 1 : at + 2] if not c.has_name
            )
            pick = self._pick(chunk, fits, counted)
            if pick is None:
                continue
            chunk.bare.remove(pick)
            text = f"{pick[1].value:g}"
            if pick[1].means != "spelt":
                chunk.written[text] = pick[1].text
            chunk.designators.append(text)
            token = Token(text, "num")
            chunk.flow = [f for f in chunk.flow if f != ("bare", "", int(pick[1].value))]
            if chunk.plain_names or not above:
                chunk.names.append(token)
                chunk.plain_names = [*chunk.plain_names, token] if chunk.plain_names is not chunk.names else chunk.names
            else:
                chunk.names.extend([*above, token])
                chunk.plain_names = list(chunk.names)

    @staticmethod
    def _pick(
        chunk: Chunk, fits: list[tuple[int, Mark, str]], counted: bool
    ) -> tuple[int, Mark, str] | None:
        def beside(bare: tuple[int, Mark, str]) -> int:
            i = bare[0]
            after = chunk.marks[i + 1] if i + 1 < len(chunk.marks) else None
            before = chunk.marks[i - 1] if i else None
            if after is not None and after.group == "noun":
                return 0
            if before is not None and before.group == "noun":
                return 1
            return 2

        best = min(fits, key=lambda b: (beside(b), b[0]))
        return best

    # -- scoring -----------------------------------------------------------------------------

    def match(self, found: list[Token], facts: Facts) -> Match:
        """The reading of *found* under *facts*."""
        query = self.query(found)
        names = [
            (t, a) for t, a in zip(query.tokens, query.alts, strict=True) if t.cls not in ("attr", "num")
        ]
        why = list(query.spelt)
        direct = self._ranked(query, facts)
        named = any(a for t, a in names) or bool(direct and direct[0][4])
        klass, bag = self._class(query)
        fixed = tuple(query.fixed.items())
        top = direct[0] if direct else None
        if klass is not None and not self._says_more(query, top, bag, klass):
            return _with(self._of_class(klass, bag, facts, direct, why), spelt=fixed)
        if top is None or top[1] < POSSIBLE:
            ranked = tuple(Scored(p, round(s, 3), lab) for p, s, lab, _, _ in direct[:5] if s >= 0.25)
            return Match(None, top[1] if top else 0.0, ranked, why="; ".join(why), named=named)
        ranked = tuple(
            Scored(p, round(s, 3), lab) for p, s, lab, _, _ in direct[:6] if s >= POSSIBLE * 0.9
        )
        why.append(f'"{top[2]}" fits best ({top[1]:.2f})')
        numbers = {t.text for t in query.tokens if t.cls == "num"}
        bags = self.index.of_pattern
        rivals = [
            d for d in direct[1:]
            if d[1] > top[1] - MARGIN
            and (d[4] or not top[4])
            and not (numbers & bags[top[0]] and not numbers & bags[d[0]])
        ]
        base = Match(
            None, top[1], ranked, why="; ".join(why), named=True, spelt=fixed, explained=top[3], exact=top[4],
            bag=next((lab.bag for lab in self.index.labels_of[top[0]] if lab.text == top[2]), frozenset()),
            joins=next((lab.joins for lab in self.index.labels_of[top[0]] if lab.text == top[2]), frozenset()),
        )
        shared = self._shared(query, facts, direct)
        if shared:
            ids = tuple(Scored(p, round(s, 3), lab) for p, s, lab in shared)
            names_ = ", ".join(self.index.names[s.id] for s in ids)
            return _with(base, ranked=ids, ask=f"Which is meant: {names_}?",
                         why="; ".join([*why, "the name is borne by pieces of several kinds"]))
        if rivals:
            close = (top, *rivals)
            names_ = ", ".join(self.index.names[d[0]] for d in close)
            return _with(base, ask=f"Which is meant: {names_}?",
                         why="; ".join([*why, "others fit as well"]))
        strange = any(t.cls == "core" and not a for t, a in names)
        if top[1] < (STRANGE if strange else CONFIDENT):
            return base
        if not top[4] and self._half_named(query, top):
            return _with(base, ask=f"Is {self.index.names[top[0]]} meant?",
                         why="; ".join([*why, "only half of the name is there"]))
        return _with(base, pattern=top[0])

    def _says_more(
        self, query: Query, top: tuple[str, float, str, float, bool] | None, bag: frozenset[str],
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

    def _ranked(
        self, query: Query, facts: Facts
    ) -> list[tuple[str, float, str, float, bool]]:
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
                    index.weight(t) for t in lab.tokens if t.cls == "noun" and t.text not in
                    {q.text for q in query.tokens}
                )
                whole = lab.weight - 0.15 * soft
            recall = min(1.0, weight / whole) if whole else 0.0
            if recall < 0.2:
                continue
            share = cover.get(lab.pattern)
            if share is None:
                share = cover[lab.pattern] = self._covered(line_words, lab.pattern) / total
            here = sum(
                w * max((like for text, like in a if text in lab.bag), default=0.0)
                for _, a, w in line_words
            ) / total
            nouns_said = not has_noun or all(
                t.text in said for t in lab.tokens if t.cls == "noun"
            )
            bag = index.of_pattern[lab.pattern]
            told = 0.08 * len(attrs & bag) + 0.12 * len(numbers & bag)
            if recall > 0.95 and share < EXPLAINED and lab.core & index.proper and (
                self._vouched(query, lab.pattern)
            ):
                share = EXPLAINED  # eponym and noun are whole; a word of praise beside them is not
            score = share * (0.35 + 0.65 * recall) * (0.82 + 0.18 * here) * (1 + told)
            if lab.hidden:
                score *= 0.97
            known = best.get(lab.pattern)
            if known is None or score > known[0]:
                best[lab.pattern] = (score, lab.text, share, recall > 0.96 and here > 0.95 and nouns_said)
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
            t for t, a in zip(query.tokens, query.alts, strict=True)
            if t.cls in ("core", "weak") and not any(o in bag for o, _ in a)
        ]
        return (
            bool(nouns)
            and len(left) <= 2
            and not any(t.text in self.index.proper for t in left)
            and not any(t.text in self.lexicon.known_words for t in left)
            and all(self._admits(pattern, t.text, t.families) for t in nouns)
        )

    def _half_named(
        self, query: Query, top: tuple[str, float, str, float, bool]
    ) -> bool:
        """Whether everyday words cover only part of the best label and no noun supports it."""
        index = self.index
        if any(t.cls == "noun" and self._admits(top[0], t.text, t.families) for t in query.tokens):
            return False
        said = {o for a in query.alts for o, _ in a}
        if any(w in index.proper for w in said & index.of_pattern[top[0]]):
            return False
        best = 0.0
        for lab in index.labels_of[top[0]]:
            firm = [t for t in lab.tokens if t.cls in ("core", "weak", "num")]
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
            (t, a) for t, a in zip(query.tokens, query.alts, strict=True) if t.cls in ("core", "weak") and a
        ]
        if not core or len(core) > 3:
            return []
        words = {a[0][0] for _, a in core}
        plural = any(t.plural for t, _ in core)
        told = {t.text for t in query.tokens if t.cls in ("attr", "num")}
        if any(
            words <= lab.core and told & lab.bag for lab in index.labels_of[top[0]] if not lab.hidden
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
            if self._fits(lab.pattern, facts, query) < 0.8:
                continue
            carriers.setdefault(lab.pattern, lab.text)
            if lab.bare and lab.core == words and (plural or not lab.plural):
                claims.add(lab.pattern)
        kinds = {index.families[p] for p in carriers}
        if top[0] not in carriers or len(kinds) < 2:
            return []
        if any(t.cls == "noun" for t in query.tokens):
            sure = [
                p for p in carriers
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
            if d[4] and d[0] in patterns
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
            None, 0.5, ranked, ask, "; ".join(why), named=True, class_id=klass.id, explained=1.0, exact=True, bag=bag,
        )
        if good:
            text = f"read as {self.index.names[good[0]]}, the usual one of its class"
            return _with(
                base, pattern=good[0], score=0.8, why="; ".join([*why, text]), assumed=len(known) > 1,
            )
        if len(ranked) == 1 and stands:
            return _with(base, pattern=ranked[0].id, score=0.7, assumed=True)
        return base


def with_ranked(match: Match, ranked: tuple[Scored, ...]) -> Match:
    """The match with other candidates to ask about."""
    return _with(match, ranked=ranked)


def _with(match: Match, **changes: object) -> Match:
    values = {name: getattr(match, name) for name in Match.__slots__}
    values.update(changes)
    return Match(**values)


def attribute_factor(record: Pattern, facts: Facts) -> float:
    """How well a pattern agrees with stated length, curve, teeth and form; 1 when nothing speaks."""
    factor = 1.0
    if facts.length_mm and record.length_mm:
        slack = OUT_OF_RANGE * facts.length_mm
        low, high = record.length_mm.low - slack, record.length_mm.high + slack
        if not low <= facts.length_mm <= high:
            factor *= 0.75
        elif not record.length_mm.low - 8 <= facts.length_mm <= record.length_mm.high + 8:
            factor *= 0.93
    if facts.curve:
        curves = record.features.get("curve", ())
        if curves and not _curve_agrees(facts.curve, curves):
            factor *= 0.68
        elif facts.curve == "angled" and ("angle" in record.features or "angled" in curves):
            factor *= 1.05
    if facts.teeth:
        factor *= _teeth_factor(facts.teeth, record)
    for form in facts.forms:
        factor *= _form_factor(form, record)
    return factor


def _curve_agrees(stated: str, curves: tuple[str, ...]) -> bool:
    if "either" in curves or stated in curves:
        return True
    if stated in ("curved", "angled"):
        return any(c not in ("straight", "none") for c in curves)
    return False


def _teeth_factor(stated: str, record: Pattern) -> float:
    teeth = record.features.get("teeth", ())
    if not teeth:
        blades = record.features.get("blades", ())
        return 1.0 if blades or stated in ("none", "prongs") else 0.97
    has = [t for t in teeth if t != "none"]
    if stated == "none":
        return 1.0 if "none" in teeth else 0.55
    if not has:
        return 0.55
    if stated in ("toothed", "prongs"):
        return 1.0
    exact = any(stated in t for t in has)
    vague = any(not any(c.isdigit() for c in t) for t in has)
    return 1.03 if exact else 0.97 if vague else 0.8


def _form_factor(form: str, record: Pattern) -> float:
    tip = record.features.get("tip", ())
    if form in ("sharp", "blunt") and tip:
        both = any("or" in t or form in t for t in tip)
        against = "blunt" if form == "sharp" else "sharp"
        if not both and any(against in t for t in tip) and len(tip) == 1:
            return 0.9
    if form in ("delicate", "heavy"):
        weight = record.features.get("weight", ())
        if weight:
            if form in weight:
                return 1.02
            if form == "delicate" and "heavy" in weight or form == "heavy" and "delicate" in weight:
                return 0.85
    return 1.0
