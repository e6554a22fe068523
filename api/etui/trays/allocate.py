"""Who serves which step at one moment: every piece in use is another one.

A moment is a step together with the pieces that earlier steps still hold.  Each piece that is
asked for is a token; each way to serve it takes so many pieces of so many kinds.  A simple
assignment that serves every token is its own proof; where it does not, the largest number of
tokens that can be served is found exactly: as an assignment
(:func:`scipy.optimize.linear_sum_assignment`) where each takes one piece, else as an integer
programme (:func:`scipy.optimize.milp`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

from etui.knowledge.model import Reference, Step
from etui.trays.held import Contents, Held
from etui.trays.parts import Assembly, rank
from etui.trays.ways import StepCover, Way

Key = tuple[str, bool]
"""A kind of piece: its key, and whether it lies beside the tray."""

_MAX_CHOICES = 4


@dataclass(frozen=True, slots=True)
class Option:
    """One way to serve a token: pieces taken, by kind."""

    uses: tuple[tuple[Key, int], ...]
    way: Way | None = None


@dataclass(frozen=True, slots=True)
class Token:
    """One piece that must be in use at a moment; ``staying`` = held since an earlier step."""

    step: str
    number: int
    options: tuple[Option, ...]
    staying: bool


@dataclass(frozen=True, slots=True)
class Moment:
    """What is busy while one step is done.

    ``needed``/``free``: pieces that the step itself asks for, and how many it can have at once.
    ``held_by``: earlier steps that still hold a piece.  ``busy``: (step, pieces) in use.
    """

    step: str
    needed: int
    free: int
    held_by: tuple[str, ...]
    busy: tuple[tuple[str, tuple[str, ...]], ...]


def _key(piece: Held) -> Key:
    return (piece.key, piece.beside)


def _options(way: Way) -> list[Option]:
    """Every choice of pieces for one way (the lead with one piece kind for each part)."""
    if not way.assembly.parts:
        # most pieces work alone: nothing to choose
        return [Option(((_key(way.lead), 1),), way)]
    slots: list[list[tuple[Key, int]]] = []
    for part in way.assembly.parts:
        if part.fill in {"held", "stand-in"} and part.held:
            slots.append([(_key(h), min(part.count, h.count)) for h in part.held[:_MAX_CHOICES]])
    found = []
    for chosen in product(*slots):
        uses: dict[Key, int] = {_key(way.lead): 1}
        for key, count in chosen:
            uses[key] = max(uses.get(key, 0), count)
        found.append(Option(tuple(sorted(uses.items())), way))
    return found


def stock_of(contents: Contents) -> dict[Key, int]:
    """Pieces at hand by kind."""
    return {_key(h): h.count for h in contents.held}


def _fits(option: Option, left: dict[Key, int]) -> bool:
    return all(left.get(key, 0) >= count for key, count in option.uses)


def _take(option: Option, left: dict[Key, int]) -> None:
    for key, count in option.uses:
        left[key] -= count


def assign(tokens: Sequence[Token], stock: dict[Key, int]) -> list[Option | None]:
    """Serve as many tokens as possible, those that stay first; exact.

    Returns one option (or None) per token, in the order of *tokens*.
    """
    order = sorted(
        range(len(tokens)), key=lambda i: (not tokens[i].staying, len(tokens[i].options), i)
    )
    left = dict(stock)
    chosen: list[Option | None] = [None] * len(tokens)
    complete = True
    for index in order:
        options = tokens[index].options
        fit = next((o for o in options if _fits(o, left)), None)
        if fit is not None:
            _take(fit, left)
            chosen[index] = fit
        elif options:
            complete = False
    if complete or _cannot_be_bettered(tokens, stock, chosen):
        return chosen
    if all(len(o.uses) == 1 and o.uses[0][1] == 1 for t in tokens for o in t.options):
        return _matched(tokens, stock)
    return _exact(tokens, stock, chosen)


def _cannot_be_bettered(
    tokens: Sequence[Token], stock: dict[Key, int], chosen: list[Option | None]
) -> bool:
    """Whether one kind of piece alone proves that no more tokens can be served.

    If every option of some tokens takes a kind of which there are fewer, that many stay unserved
    whatever is chosen; when no more are unserved, and none of them stays, the choice is the best.
    """
    unserved = [t for t, c in zip(tokens, chosen, strict=True) if c is None and t.options]
    if any(t.staying for t in unserved):
        return False
    asked: dict[Key, list[int]] = {}
    for token in tokens:
        if not token.options:
            continue
        shared = set.intersection(*({k for k, _ in o.uses} for o in token.options))
        for key in shared:
            least = min(dict(o.uses)[key] for o in token.options)
            asked.setdefault(key, []).append(least)
    for key, counts in asked.items():
        left, served = stock.get(key, 0), 0
        for count in sorted(counts):
            left -= count
            served += left >= 0
        if len(counts) - served >= len(unserved):
            return True
    return False


def _worth(tokens: Sequence[Token], index: int) -> float:
    """A token that stays outweighs all tokens of the step itself."""
    return len(tokens) + 1.0 if tokens[index].staying else 1.0


def _matched(tokens: Sequence[Token], stock: dict[Key, int]) -> list[Option | None]:
    """The best assignment where every token takes one piece."""
    import numpy as np
    from scipy.optimize import linear_sum_assignment

    keys = sorted({o.uses[0][0] for t in tokens for o in t.options})
    pieces = [key for key in keys for _ in range(min(stock.get(key, 0), len(tokens)))]
    worth = np.zeros((len(tokens), len(pieces)))
    option_of: dict[tuple[int, Key], Option] = {}
    for row, token in enumerate(tokens):
        for place, option in enumerate(token.options):
            option_of.setdefault((row, option.uses[0][0]), option)
            for column, key in enumerate(pieces):
                if key == option.uses[0][0] and not worth[row, column]:
                    worth[row, column] = _worth(tokens, row) - 1e-6 * place
    out: list[Option | None] = [None] * len(tokens)
    for row, column in zip(*linear_sum_assignment(worth, maximize=True), strict=True):
        if worth[row, column] > 0:
            out[row] = option_of[int(row), pieces[column]]
    return out


def _exact(
    tokens: Sequence[Token], stock: dict[Key, int], fallback: list[Option | None]
) -> list[Option | None]:
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import lil_array

    columns = [(t, option) for t, token in enumerate(tokens) for option in token.options]
    keys = sorted({key for _, option in columns for key, _ in option.uses})
    row_of = {key: len(tokens) + n for n, key in enumerate(keys)}
    matrix = lil_array((len(tokens) + len(keys), len(columns)))
    for column, (token, option) in enumerate(columns):
        matrix[token, column] = 1
        for key, count in option.uses:
            matrix[row_of[key], column] = count
    upper = np.array([1.0] * len(tokens) + [float(stock.get(k, 0)) for k in keys])
    # ties go to earlier options
    worth = np.array([_worth(tokens, t) - 1e-6 * c for c, (t, _) in enumerate(columns)])
    solved = milp(
        -worth,
        constraints=LinearConstraint(matrix.tocsr(), -np.inf, upper),
        integrality=np.ones(len(columns)),
        bounds=Bounds(0, 1),
    )
    if solved.x is None:  # pragma: no cover - the empty assignment is always feasible
        return fallback
    out: list[Option | None] = [None] * len(tokens)
    for column, (token, option) in enumerate(columns):
        if solved.x[column] > 0.5:
            out[token] = option
    return out


class Allocator:
    """Moments of the paths of one tray."""

    def __init__(
        self, reference: Reference, covers: dict[str, StepCover], contents: Contents
    ) -> None:
        self.reference = reference
        self.covers = covers
        self.stock = stock_of(contents)
        self._ways: dict[tuple[str, bool], tuple[Option, ...]] = {}
        self._help: dict[str, tuple[Option, ...]] = {}

    def _way_options(self, step: str, staying: bool = False) -> tuple[Option, ...]:
        """Choices of pieces for a step; makeshifts only where there is nothing better."""
        key = (step, staying)
        if key not in self._ways:
            ways = self.covers[step].ways
            good = [w for w in ways if rank(w.grade) >= 3] or list(ways)
            found = [
                o
                for way in good
                for o in _options(self._what_stays(way) if staying else way)
            ]
            self._ways[key] = tuple(found)
        return self._ways[key]

    def _what_stays(self, way: Way) -> Way:
        """A way without the tools that are laid down again: a holder, a mallet.

        What is only a part (blade and handle, bit and brace) or a consumable stays with the lead.
        """
        patterns = self.reference.patterns
        parts = tuple(
            p
            for p in way.assembly.parts
            if not p.held or set(patterns[p.held[0].pattern].features.get("part", ())) - {"whole"}
        )
        return replace(way, assembly=Assembly(way.assembly.unit, parts))

    def _help_options(self, step: str) -> tuple[Option, ...]:
        if step not in self._help:
            helpers = [Option(((_key(h), 1),)) for h in self.covers[step].helpers]
            self._help[step] = (*self._way_options(step), *helpers)
        return self._help[step]

    def tokens(self, step: Step, staying: bool) -> list[Token]:
        """Pieces that a step must have from the tray at once; what a hand can do is left out."""
        cover = self.covers[step.id]
        if cover.hand is not None or not cover.ways:
            return []
        tokens = [Token(step.id, 0, self._way_options(step.id, staying), staying)]
        if step.pieces_together > 1 and not cover.duty.helping_hand and not step.partners:
            options = self._help_options(step.id)
            more = step.pieces_together - self._pieces_in_hand(step.id)
            tokens += [Token(step.id, n, options, staying) for n in range(1, more + 1)]
        return tokens

    def _pieces_in_hand(self, step: str) -> int:
        """Pieces that the fullest unit for a step puts to use at once: a wire and two handles."""
        options = self._way_options(step)
        return max((sum(count for _, count in o.uses) for o in options), default=1)

    def moment_tokens(self, step: Step, path: Sequence[Step]) -> list[Token]:
        """All tokens of the moment of a step: its own and those that earlier steps still hold."""
        tokens = self.tokens(step, staying=False)
        if not tokens:
            return []
        for earlier in path:
            if earlier.stays_in_until is None or earlier.order >= step.order:
                continue
            if earlier.need in {"optional", "closing"}:
                continue
            if not self._stays(earlier, step):
                continue
            if earlier.stays_in_until == step.stays_in_until and self._same_piece(earlier, step):
                continue
            tokens += self.tokens(earlier, staying=True)
        return tokens

    def _stays(self, earlier: Step, now: Step) -> bool:
        until = earlier.stays_in_until
        if until is None:
            return False
        end = self.reference.steps.get(until)
        return end is None or earlier.order < now.order <= end.order

    def _same_piece(self, earlier: Step, now: Step) -> bool:
        """Whether one piece does both: it stays in for the same time and serves both steps."""
        first = {w.lead.key for w in self.covers[earlier.id].ways}
        return any(w.lead.key in first for w in self.covers[now.id].ways)

    def moment(self, step: Step, path: Sequence[Step], beside: Sequence[Token] = ()) -> Moment:
        """The moment of one step; *beside*: tokens of another operator at the same time."""
        tokens = [*self.moment_tokens(step, path), *beside]
        chosen = assign(tokens, self.stock)
        own = [i for i, t in enumerate(tokens) if t.step == step.id and not t.staying]
        busy: dict[str, list[str]] = {}
        for token, option in zip(tokens, chosen, strict=True):
            if option is not None:
                names = [key for (key, _), count in option.uses for _ in range(count)]
                busy.setdefault(token.step, []).extend(names)
        return Moment(
            step=step.id,
            needed=len(own),
            free=sum(chosen[i] is not None for i in own),
            held_by=tuple(sorted({t.step for t in tokens if t.staying})),
            busy=tuple((s, tuple(sorted(names))) for s, names in sorted(busy.items())),
        )

    def moments(self, path: Sequence[Step]) -> tuple[Moment, ...]:
        """The moments of a path in order."""
        return tuple(self.moment(step, path) for step in path)

    def shared(self, path: Sequence[Step]) -> tuple[tuple[Token, ...], ...]:
        """What the needed moments of a path hold, each kind of moment once, as seen by others."""
        found: dict[tuple[tuple[str, int], ...], tuple[Token, ...]] = {}
        for step in path:
            tokens = self.moment_tokens(step, path) if step.need == "essential" else []
            if tokens:
                signature = tuple(sorted((t.step, t.number) for t in tokens))
                found[signature] = tuple(Token(t.step, t.number, t.options, True) for t in tokens)
        return tuple(found[key] for key in sorted(found))

    def at_once(
        self, others: Sequence[Sequence[Token]], path: Sequence[Step]
    ) -> dict[str, Moment]:
        """The tightest moment of each needed step of *path* beside the moments of another."""
        found: dict[str, Moment] = {}
        for step in path:
            if step.need != "essential":
                continue
            for tokens in others:
                moment = self.moment(step, path, tokens)
                tightest = found.get(step.id)
                if tightest is None or moment.free < tightest.free:
                    found[step.id] = moment
        return found

    def served_without(self, step: str, lost: Key) -> bool:
        """Whether a step can still be done when one piece of a kind is lost."""
        cover = self.covers[step]
        if cover.hand is not None:
            return True
        left = {**self.stock, lost: self.stock.get(lost, 0) - 1}
        return any(_fits(option, left) for option in self._way_options(step))

    def losses(self, path: Sequence[Step]) -> dict[Key, tuple[str, ...]]:
        """Kinds of pieces whose loss stops a needed step, with the steps; sorted."""
        stopped: dict[Key, list[str]] = {}
        for step in path:
            if step.need != "essential":
                continue
            options = self._way_options(step.id)
            if not options or self.covers[step.id].hand is not None:
                continue
            shared = set.intersection(*({k for k, _ in o.uses} for o in options))
            for key in shared:
                if not key[1] and not self.served_without(step.id, key):
                    stopped.setdefault(key, []).append(step.id)
        return {key: tuple(stopped[key]) for key in sorted(stopped)}

    def tested(self, path: Sequence[Step]) -> tuple[Key, ...]:
        """Kinds of pieces on the tray that some needed step can use."""
        used = {
            key
            for step in path
            if step.need == "essential"
            for option in self._way_options(step.id)
            for key, _ in option.uses
            if not key[1]
        }
        return tuple(sorted(used))
