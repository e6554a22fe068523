"""Words of a practitioner's sentence, made comparable.

British and American spelling, endings and hyphens are levelled, so that "haemostasis" and
"hemostasis", "tied" and "tie" count as one word.  A sentence is cut into clauses: what is done
counts in full, what it is done for, with or before counts less.  Nothing here knows an
instrument or a step; the vocabulary comes from the labels of the graph.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import pairwise

from etui.knowledge.model import Record

_WORD = re.compile(r"[0-9]+-0\b|[a-z0-9]+(?:[./][0-9]+)?")
_ROW = re.compile(_WORD.pattern + r"|[,;:.()]")
_HYPHEN = re.compile(r"(?<=[a-z])-(?=[a-z])")
_APOSTROPHE = re.compile(r"['\u2019]s?\b")

# fmt: off
STOP = frozenset((
    "a", "an", "the", "of", "in", "on", "at", "to", "for", "by", "with", "and", "or", "its",
    "it", "is", "are", "be", "been", "being", "was", "were", "this", "that", "these", "those",
    "there", "then", "as", "into", "onto", "from", "his", "her", "their", "my", "our", "your",
    "one", "some", "any", "each", "both", "up", "out", "off", "down", "through", "very", "just",
    "so", "still", "now", "where", "which", "who", "whom", "what", "has", "have", "had", "do",
    "does", "did", "can", "may", "will", "would", "should", "must", "i", "we", "you", "he",
    "she", "they", "them", "make", "made", "making", "take", "taking", "took", "get", "getting",
    "put", "putting", "go", "going", "let", "use", "using", "used", "give", "need", "want",
    "along", "over", "across", "between",
))
# fmt: on
"""Words that carry no meaning for the choice of a step."""

NEGATIONS = frozenset(["no", "not", "without", "never", "lacking", "minus"])

_SPELLING = (
    ("haem", "hem"),
    ("oesoph", "esoph"),
    ("oedem", "edem"),
    ("foet", "fet"),
    ("anaesth", "anesth"),
    ("caesar", "cesar"),
    ("gynaec", "gynec"),
    ("orthop", "orthop"),
    ("paed", "ped"),
    ("diarrhoe", "diarrhe"),
    ("trache", "trache"),
    ("colour", "color"),
    ("fibre", "fiber"),
    ("centre", "center"),
    ("metre", "meter"),
    ("gauze", "gauze"),
    ("faec", "fec"),
    ("manoeuv", "maneuv"),
    ("grey", "gray"),
    ("mould", "mold"),
    ("aluminium", "aluminum"),
    ("sulph", "sulf"),
    ("aeroplane", "airplane"),
)

# Weight of the words after a marker, until the next one.  What is done weighs 1.
_MARKERS: dict[str, float] = {
    "before": 0.3,
    "until": 0.3,
    "till": 0.3,
    "while": 0.3,
    "whilst": 0.3,
    "after": 0.3,
    "instead": 0.2,
    "because": 0.3,
    "without": 0.3,
    "unless": 0.3,
    "although": 0.3,
    "over": 0.75,
    "along": 0.75,
    "between": 0.75,
    "near": 0.75,
    "beside": 0.75,
    "above": 0.75,
    "below": 0.75,
    "across": 0.8,
    "for": 0.6,
    "with": 0.6,
    "using": 0.6,
    "so": 0.4,
    "when": 0.5,
    "once": 0.25,
    "if": 0.5,
}
_PURPOSE = 0.55  # "to" and a doing word: what it is done for


class Token(Record, frozen=True):
    """One word of a sentence: its stem, as written, and how much its clause counts (0..1)."""

    stem: str
    word: str
    weight: float = 1.0


def plain(text: str) -> str:
    """Lower case, no accents, hyphens between letters opened, possessives dropped."""
    flat = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return _HYPHEN.sub(" ", _APOSTROPHE.sub("", flat))


@lru_cache(maxsize=20_000)
def stem(word: str) -> str:
    """Level spelling and take off a plain English ending.

    >>> stem("haemostats"), stem("tied"), stem("clamping")
    ('hemostat', 'ti', 'clamp')
    """
    for british, american in _SPELLING:
        word = word.replace(british, american)
    if len(word) <= 3 or not word.isalpha():
        return word
    if word.endswith("isation"):
        word = word[:-7] + "ization"
    for ending, keep in (
        ("ise", "iz"),
        ("ised", "iz"),
        ("ising", "iz"),
        ("ize", "iz"),
        ("ized", "iz"),
        ("izing", "iz"),
    ):
        if word.endswith(ending) and len(word) > len(ending) + 2:
            return word[: -len(ending)] + keep
    if word.endswith("ies") and len(word) > 4:
        word = word[:-3] + "y"
    elif word.endswith(("sses", "shes", "ches", "xes")):
        word = word[:-2]
    elif word.endswith("s") and not word.endswith(("ss", "us", "is")):
        word = word[:-1]
    for ending in ("ing", "ed"):
        if word.endswith(ending) and len(word) - len(ending) >= 2:
            rest = word[: -len(ending)]
            if any(v in rest for v in "aeiouy"):
                word = rest
                if len(word) > 3 and word[-1] == word[-2] and word[-1] not in "ls":
                    word = word[:-1]
                break
    if word.endswith("ly") and len(word) > 5:
        word = word[:-2]
    if word.endswith("e") and len(word) > 3:
        word = word[:-1]
    if word.endswith("y") and len(word) > 3:
        word = word[:-1] + "i"
    return word


def words(text: str) -> list[str]:
    """All words of a text, plain, in order."""
    return _WORD.findall(plain(text))


def stems(text: str) -> tuple[str, ...]:
    """Stems of the words that carry meaning, in order."""
    return tuple(stem(w) for w in words(text) if w not in STOP)


def all_stems(text: str) -> tuple[str, ...]:
    """Stems of every word, small words included; for phrases."""
    return tuple(stem(w) for w in words(text))


def tokens(text: str, doing: frozenset[str] = frozenset()) -> tuple[Token, ...]:
    """Words that carry meaning, each with the weight of its clause.

    ``doing``: stems of words of action; "to" before one of them opens a clause of purpose.
    """
    out: list[Token] = []
    weight = 1.0
    row = _ROW.findall(plain(text))
    for at, word in enumerate(row):
        if word in ",;:.()":
            continue
        if word in _MARKERS and out:
            weight = _MARKERS[word]
        elif word == "to" and out and at + 1 < len(row) and stem(row[at + 1]) in doing:
            weight = min(weight, _PURPOSE)
        if word in STOP or word in _MARKERS:
            continue
        negated = at > 0 and row[at - 1] in NEGATIONS
        out.append(Token(stem=stem(word), word=word, weight=0.2 if negated else weight))
    return tuple(out)


class Span(Record, frozen=True):
    """One word of a text with its place: plain word, stem, start and end."""

    word: str
    stem: str
    start: int
    end: int


_PLACED = re.compile(r"[0-9]+-0\b|[A-Za-z0-9]+(?:[./][0-9]+)?")


def spans(text: str) -> tuple[Span, ...]:
    """Every word with its place in the text as written, for cutting phrases out of it."""
    out = []
    for match in _PLACED.finditer(text):
        word = plain(match.group())
        if word in ("s", "t") and match.start() and text[match.start() - 1] in "'\u2019":
            continue
        out.append(Span(word=word, stem=stem(word), start=match.start(), end=match.end()))
    return tuple(out)


class Phrases:
    """Spoken phrases and what each stands for; longer phrases win.

    ``exact``: words count as they are ("padded" is a manner, "pad" is a thing), not by stem.
    """

    def __init__(self, rows: Iterable[tuple[str, str]], *, exact: bool = False) -> None:
        self.exact = exact
        self._by_key: dict[tuple[str, ...], list[str]] = {}
        for text, meaning in rows:
            key = tuple(words(text)) if exact else all_stems(text)
            if key and meaning not in self._by_key.setdefault(key, []):
                self._by_key[key].append(meaning)
        self._longest = max((len(key) for key in self._by_key), default=0)

    def find(self, text: str) -> tuple[tuple[str, int, int], ...]:
        """(meaning, start, end) of every phrase in *text*, left to right, none overlapping."""
        row = spans(text)
        out: list[tuple[str, int, int]] = []
        at = 0
        while at < len(row):
            for size in range(min(self._longest, len(row) - at), 0, -1):
                part = row[at : at + size]
                key = tuple(s.word if self.exact else s.stem for s in part)
                found = self._by_key.get(key)
                if found is not None and not _broken(text, row[at : at + size]):
                    out += [(m, row[at].start, row[at + size - 1].end) for m in found]
                    at += size
                    break
            else:
                at += 1
        return tuple(out)


def _broken(text: str, row: Sequence[Span]) -> bool:
    """Whether a comma or a stop parts the words of what looks like a phrase."""
    return any(
        set(text[a.end : b.start]) & set(",;.") for a, b in pairwise(row)
    )


def cut(text: str, holes: Iterable[tuple[int, int]]) -> str:
    """*text* without the given pieces, loose commas and small words at the ends dropped."""
    out = text
    for start, end in sorted(holes, reverse=True):
        out = f"{out[:start]} {out[end:]}"
    out = re.sub(r"\s*([,;])(\s*[,;])+", r"\1", out)
    out = re.sub(r"^[\s,;.]+|[\s,;]+$", "", out)
    return " ".join(out.split())
