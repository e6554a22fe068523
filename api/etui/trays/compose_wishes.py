"""Wishes and circumstances written in plain words beside a stock.

Only what fixed wordings settle is taken; everything else is handed back as not understood, so that
nobody believes a wish to have been heeded that was not.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence

import msgspec

from etui.knowledge.model import Record

Matcher = Callable[[str], tuple[int, ...]]
"""Finds the stock lines that a phrase names."""

_NUMBERS = {
    word: number
    for number, word in enumerate(
        [
            "one",
            "two",
            "three",
            "four",
            "five",
            "six",
            "seven",
            "eight",
            "nine",
            "ten",
            "eleven",
            "twelve",
            "thirteen",
            "fourteen",
            "fifteen",
            "sixteen",
            "seventeen",
            "eighteen",
            "nineteen",
            "twenty",
        ],
        start=1,
    )
}
_COUNT = rf"(\d+|{'|'.join(_NUMBERS)})"
_THINGS = r"(?:pieces?|items?|instruments?|things?|parts?)"

_CEILING = re.compile(
    rf"\b(?:at most|not more than|no more than|up to|maximum(?: of)?|max\.?|never more than|"
    rf"limit(?: of| is)?|ceiling(?: of| is)?)\s+{_COUNT}(?:\s+{_THINGS}|\s*$)|"
    rf"\b{_COUNT}\s+{_THINGS}\s+(?:at most|at the most|or fewer|or less|maximum|max\.?)(?!\w)",
    re.I,
)
_NOT_COUNTED = re.compile(
    r"^(?P<what>.+?)\s+(?:are |is )?(?:not counted|uncounted|do not count|does not count|"
    r"left out of the count|on top)\W*$|"
    r"^(?:not counting|without counting|excluding|apart from|besides)\s+(?P<what2>.+?)\W*$",
    re.I,
)
_BESIDE = re.compile(
    r"^(?P<what>.+?)\s+(?:(?:are|is|will be|stays?|lies?|stands?|comes?|hangs?)\s+)?(?:always\s+)?"
    r"(?:kept\s+)?(?:alongside|beside(?: the tray| it)?|next to (?:the tray|it)|"
    r"kept (?:apart|separately|nearby|at hand|on the (?:wall|trolley|car)))\W*$|"
    r"^(?:kept |keep )(?:alongside|beside(?: the tray)?)\s*:?\s*(?P<what2>.+?)\W*$",
    re.I,
)
_NO_STERILISER = re.compile(
    r"\bno (?:steriliser|sterilizer|autoclave)|cannot (?:be )?sterilised?|"
    r"\b(?:single[- ]use|disposables?)\b.*\b(?:choice|prefer\w*|where|if|only|please)\b|"
    r"\bprefer\w*\s+(?:single[- ]use|disposables?)\b|^(?:single[- ]use|disposables?)\W*$",
    re.I,
)
_SINGLE_USE_TAIL = re.compile(r"^(?:single[- ]use|disposables?)\b.*", re.I)
_ABSENT = re.compile(
    r"^(?:(?:there is|there are|we have|they have|the \w+ has)\s+)?(?:no|not any|no other)\s+"
    r"(?P<what>.+?)\s+(?:(?:is|are)\s+)?(?:in stock|in the (?:store|cupboard|house|hospital)|"
    r"to hand|at hand|here|available|of any (?:kind|sort)|left|on the \w+)\W*$|"
    r"^(?:the )?(?P<what2>.+?)\s+(?:is|are)\s+(?:broken|missing|lost|away|lent out|out of order|"
    r"blunt|at the (?:repairer|steriliser|menders?)|not (?:in stock|to hand|available|sterile|"
    r"here)|unavailable|unsterile)\W*$|"
    r"^(?:there is|there are|we have|they have)\s+no\s+(?P<what3>.+?)\W*$",
    re.I,
)
_MUST_NOT = re.compile(
    r"^(?:must not (?:have|include|contain|hold|carry)|must-not:?|do not (?:use|include|put in|"
    r"take)|don't (?:use|include)|never|leave out|leave (?:the )?\w+ out|avoid|exclude|without|"
    r"no|not)\s+(?:any\s+|the\s+|a\s+|an\s+)?(?P<what>.+?)(?:\s+(?:please|on (?:this|the) tray|"
    r"on it|in it|wanted|allowed))*\W*$|"
    r"^(?:the )?(?P<what2>.+?)\s+(?:must|should|may|is to|are to)\s+not\s+(?:be (?:on|in|used|"
    r"included)|go).*$|^(?:the )?(?P<what3>.+?)\s+(?:stays?|is|are)\s+(?:out|not wanted|banned|"
    r"withdrawn|forbidden)\W*$",
    re.I,
)
_MUST = re.compile(
    rf"^(?:must (?:have|include|contain|hold|carry)|must-have:?|always (?:include|have|with)|"
    rf"needs?(?: to have)?|include|has to (?:have|include|hold)|with|at least)\s+"
    rf"(?:(?P<n>{_COUNT})\s+|a\s+|an\s+|the\s+)?(?P<what>.+?)\W*$|"
    r"^(?:the |an? )?(?P<what2>.+?)\s+(?:must|has to|have to)\s+be\s+(?:on|in|included|there).*$",
    re.I,
)
_MISFIT = re.compile(
    r"^(?P<a>.+?)\s+(?:do(?:es)? not|will not|won't|cannot)\s+(?:fit|seat on|go on|take|accept|"
    r"match|screw on(?:to)?)\s+(?:on\s+|into\s+|in\s+)?(?:the\s+|a\s+|our\s+)?(?P<b>.+?)\W*$",
    re.I,
)
_LACKING = re.compile(
    r"(?:(?:made|meant|built) (?:for|to go (?:on|with|in))|needs?|works? (?:with|on)) "
    r"(?:a |an |the )?(?P<what>[^,]+?),?\s+which\s+"
    r"(?:the \w+|we|they|this \w+)\s+(?:do|does|has|have)\s*(?:not|no)\s*(?:have|own|possess)?\W*$",
    re.I,
)
_STATES = re.compile(
    r"^(?:(?:the|all|our|both|these)\s+)?(?P<what>.+?)\s+(?:are|is)\s+(?P<how>.+?)\W*$", re.I
)
_TOGETHER = re.compile(
    r"\b(?:at the same (?:time|moment)|simultaneous\w*|two (?:operators|teams|surgeons)|"
    r"side by side)\b",
    re.I,
)
_THREAD = re.compile(
    r"\b(?:thread|suture)s?\b.*\bsizes?\b|\bsizes?\b.*\b(?:thread|suture)s?\b", re.I
)
_ORDER = re.compile(r"\bin (?:the )?order of use\b", re.I)
_PRONOUNS = frozenset({"it", "they", "this", "these", "that"})


class Statement(Record, frozen=True):
    """One wish or circumstance as written and what was made of it; ``taken`` False = not heeded."""

    text: str
    taken: bool
    meaning: str


class Wishes(Record, frozen=True):
    """What the words beside a stock settle.

    ``described``: stock line -> words that describe it further ("No. 10", "blunt").
    ``misfits``: pairs of stock lines that do not go together.
    ``absent``: things that are not to hand, in the words used.
    """

    ceiling: int | None = None
    uncounted: tuple[int, ...] = ()
    required: dict[int, int] = msgspec.field(default_factory=dict)
    barred: dict[int, str] = msgspec.field(default_factory=dict)
    beside: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    described: dict[int, tuple[str, ...]] = msgspec.field(default_factory=dict)
    misfits: tuple[tuple[int, int], ...] = ()
    single_use: bool = False
    at_once: bool = False
    statements: tuple[Statement, ...] = ()


class _Listener:
    """Takes statements one by one; what it has taken is read off at the end."""

    def __init__(self, match: Matcher) -> None:
        self.match = match
        self.ceiling: int | None = None
        self.uncounted: set[int] = set()
        self.required: dict[int, int] = {}
        self.barred: dict[int, str] = {}
        self.beside: list[str] = []
        self.absent: list[str] = []
        self.described: dict[int, list[str]] = {}
        self.misfits: set[tuple[int, int]] = set()
        self.single_use = False
        self.at_once = False
        self.topic: tuple[int, ...] = ()

    def take(self, clause: str) -> str | None:
        """What was made of a clause, or None when its wording settles nothing."""
        for rule in (
            self._ceiling,
            self._uncounted,
            self._single_use,
            self._beside,
            self._misfit,
            self._lacking,
            self._absent,
            self._must_not,
            self._must,
            self._together,
            self._order,
            self._states,
        ):
            meaning = rule(clause)
            if meaning:
                return meaning
        return None

    def _named(self, phrase: str) -> tuple[int, ...]:
        if phrase.strip().lower() in _PRONOUNS:
            return self.topic
        found = self.match(phrase)
        if found:
            self.topic = found
        return found

    def _ceiling(self, clause: str) -> str | None:
        found = _CEILING.search(clause)
        if not found:
            return None
        word = next(g for g in found.groups() if g)
        number = int(word) if word.isdigit() else _NUMBERS[word.lower()]
        self.ceiling = number if self.ceiling is None else min(self.ceiling, number)
        return f"at most {number} pieces"

    def _uncounted(self, clause: str) -> str | None:
        found = _NOT_COUNTED.match(clause)
        if not found:
            return None
        lots = self._named(found["what"] or found["what2"])
        self.uncounted |= set(lots)
        return "left out of the count of pieces" if lots else None

    def _single_use(self, clause: str) -> str | None:
        if not _NO_STERILISER.search(clause):
            return None
        self.single_use = True
        return "single-use pieces are taken where there is a choice"

    def _beside(self, clause: str) -> str | None:
        found = _BESIDE.match(clause)
        if not found:
            return None
        things = [
            part.strip()
            for part in re.split(r",|;|\band\b(?! mask)", found["what"] or found["what2"])
            if part.strip()
        ]
        self.beside += things
        return "counts as present, kept alongside: " + ", ".join(things)

    def _misfit(self, clause: str) -> str | None:
        found = _MISFIT.match(clause)
        if not found:
            return None
        ours, others = self._named(found["a"]), self.match(found["b"])
        if not ours or not others:
            return None
        self.misfits |= {(min(a, b), max(a, b)) for a in ours for b in others}
        return "do not go together"

    def _lacking(self, clause: str) -> str | None:
        found = _LACKING.search(clause)
        if not found:
            return None
        head = re.split(r"\b(?:is|are|was|needs?)\b", clause, maxsplit=1)[0]
        self._named(re.sub(r"^(?:the|our)\s+", "", head.strip(), flags=re.I))
        self.absent.append(found["what"].strip())
        return f"not to hand: {found['what'].strip()}"

    def _absent(self, clause: str) -> str | None:
        found = _ABSENT.match(clause)
        if not found:
            return None
        what = next(g for g in found.groups() if g)
        what = re.sub(r"^other\s+", "", what, flags=re.I)
        lots = self.match(what)
        if clause.lower().startswith("no other"):
            return "nothing else of this kind is to hand"
        self.absent.append(what)
        self.barred |= dict.fromkeys(lots, f"said not to be to hand: {clause}")
        return f"not to hand: {what}"

    def _must_not(self, clause: str) -> str | None:
        found = _MUST_NOT.match(clause)
        if not found:
            return None
        lots = self._named(next(g for g in found.groups() if g))
        if not lots:
            return None
        self.barred |= dict.fromkeys(lots, f"asked to be left out: {clause}")
        return "left out"

    def _must(self, clause: str) -> str | None:
        found = _MUST.match(clause)
        if not found:
            return None
        lots = self._named(found["what"] or found["what2"])
        word = (found["n"] or "1").lower()
        number = int(word) if word.isdigit() else _NUMBERS[word]
        if len(lots) != 1:
            return None
        self.required[lots[0]] = max(number, self.required.get(lots[0], 0))
        return f"must be on the tray, {number}"

    def _together(self, clause: str) -> str | None:
        if not _TOGETHER.search(clause):
            return None
        self.at_once = True
        return "the procedures are done at the same time; no piece serves two of them"

    def _order(self, clause: str) -> str | None:
        return "listed in order of use" if _ORDER.search(clause) else None

    def _states(self, clause: str) -> str | None:
        if _THREAD.search(clause):
            lots = self.match("thread") or self.match("suture")
            sizes = re.sub(r"(?i)\b(?:thread|suture)s?\b|\bsizes?\b", "", clause).strip(" :,")
        else:
            found = _STATES.match(clause)
            if found:
                lots, sizes = self._named(found["what"]), found["how"]
            else:
                # "the iris scissors are sharp-pointed, the tenotomy scissors blunt"
                lots, sizes = self._trailing(clause)
        if not lots or not sizes:
            return None
        for lot in lots:
            self.described.setdefault(lot, []).append(sizes)
        return f"read as a description: {sizes}"

    def _trailing(self, clause: str) -> tuple[tuple[int, ...], str]:
        words = clause.split()
        if len(words) < 3 or words[0].lower() not in {"the", "all", "our", "both"}:
            return (), ""
        lots = self.match(" ".join(words[1:-1]))
        return (lots, words[-1]) if lots else ((), "")


def _clauses(text: str) -> Iterable[str]:
    """The parts of a sentence that may each be a statement of its own."""
    # the colon of "kept alongside: gloves, tape" belongs to the statement
    for part in re.split(r"(?<!alongside)(?<!beside)[;:]\s+|\.\s+(?=[A-Za-z])", text):
        if part.strip():
            yield part.strip().rstrip(".")


def _understood(clause: str, match: Matcher, listener: _Listener) -> tuple[str, bool]:
    """What a clause means and whether it was understood whole.

    A clause with commas is taken part by part when each part is a statement of its own, else as
    one, else for those parts that are understood.
    """
    parts = [
        re.sub(r"^(?:and|but)\s+", "", part.strip(), flags=re.I)
        for part in clause.split(",")
        if part.strip()
    ]
    if len(parts) > 1:
        trial = _Listener(match)
        trial.topic = listener.topic
        # every part is heard, also after one that is not understood
        heard = [trial.take(part) for part in parts]
        if None not in heard:
            return "; ".join(str(listener.take(part)) for part in parts), True
    meaning = listener.take(clause)
    if meaning is not None:
        return meaning, True
    if len(parts) > 1:
        some = [found for part in parts if (found := listener.take(part)) is not None]
        if some:
            return f"only in part: {'; '.join(some)}", False
    return "not understood as a rule for choosing: check it yourself", False


def hear(texts: Sequence[str], match: Matcher) -> Wishes:
    """Take down the wishes and circumstances in *texts*.

    Args:
        texts: sentences as written.
        match: finds the stock lines that a phrase names.
    """
    listener = _Listener(match)
    statements = []
    for text in texts:
        for clause in _clauses(text):
            meaning, taken = _understood(clause, match, listener)
            statements.append(Statement(text=clause, taken=taken, meaning=meaning))
    return Wishes(
        ceiling=listener.ceiling,
        uncounted=tuple(sorted(listener.uncounted)),
        required=dict(sorted(listener.required.items())),
        barred=dict(sorted(listener.barred.items())),
        beside=tuple(listener.beside),
        absent=tuple(listener.absent),
        described={lot: tuple(words) for lot, words in sorted(listener.described.items())},
        misfits=tuple(sorted(listener.misfits)),
        single_use=listener.single_use,
        at_once=listener.at_once,
        statements=tuple(statements),
    )


_SMALL = frozenset(
    {"the", "a", "an", "of", "for", "with", "or", "and", "any", "other", "no", "our"}
)


def stems(text: str) -> frozenset[str]:
    """Content words of a phrase without their plural ending, for comparing phrases with names."""
    # a hyphen between digits belongs to a size (4-0), any other only joins two words
    words = re.findall(r"\d+-\d+|[a-z0-9]+", text.lower())
    return frozenset(_stem(word) for word in words if word not in _SMALL)


def _stem(word: str) -> str:
    if len(word) > 4 and word.endswith("ies"):
        return word[:-3] + "y"
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word
