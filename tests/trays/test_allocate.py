"""The assignment of pieces to what is needed at one moment is exact."""

from __future__ import annotations

from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from etui.trays.allocate import Key, Option, Token, assign

KEYS: list[Key] = [(name, False) for name in "abcd"]
uses = st.lists(st.sampled_from(KEYS), min_size=1, max_size=2, unique=True).map(
    lambda keys: Option(tuple(sorted((k, 1) for k in keys)))
)
tokens = st.lists(
    st.tuples(st.lists(uses, min_size=0, max_size=3), st.booleans()), min_size=1, max_size=5
)


def served(options: list[list[Option]], stock: dict[Key, int]) -> int:
    """The largest number of tokens that can be served, by trying everything."""
    best = 0
    for choice in product(*[[None, *o] for o in options]):
        left = dict(stock)
        for option in choice:
            for key, count in option.uses if option else ():
                left[key] = left.get(key, 0) - count
        if all(n >= 0 for n in left.values()):
            best = max(best, sum(o is not None for o in choice))
    return best


@settings(max_examples=200, deadline=None)
@given(tokens, st.lists(st.integers(0, 2), min_size=4, max_size=4))
def test_as_many_as_possible_are_served(
    asked: list[tuple[list[Option], bool]], counts: list[int]
) -> None:
    stock = dict(zip(KEYS, counts, strict=True))
    wanted = [Token(str(i), 0, tuple(o), False) for i, (o, _) in enumerate(asked)]
    chosen = assign(wanted, stock)
    used: dict[Key, int] = {}
    for token, option in zip(wanted, chosen, strict=True):
        assert option is None or option in token.options
        for key, count in option.uses if option else ():
            used[key] = used.get(key, 0) + count
    assert all(n <= stock[k] for k, n in used.items())
    assert sum(o is not None for o in chosen) == served([o for o, _ in asked], stock)


def test_a_greedy_choice_is_put_right() -> None:
    a, b = KEYS[:2]
    either = Token("either", 0, (Option(((a, 1),)), Option(((b, 1),))), False)
    same = Token("same", 0, (Option(((a, 1),)), Option(((b, 1),))), False)
    pair = Token("pair", 0, (Option(((a, 1), (b, 1))), Option(((a, 1),))), False)
    chosen = assign([pair, either], {a: 1, b: 1})
    assert all(chosen)
    assert sum(o is not None for o in assign([pair, either, same], {a: 1, b: 1})) == 2


def test_what_stays_is_served_first() -> None:
    key = KEYS[0]
    option = (Option(((key, 1),)),)
    now, before = Token("now", 0, option, False), Token("before", 0, option, True)
    chosen = assign([now, before], {key: 1})
    assert chosen == [None, option[0]]
