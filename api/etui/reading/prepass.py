"""Turns of phrase that span several marks, settled before a line is cut: sums, ranges, "no"."""

from __future__ import annotations

from etui.reading.text import Mark

__all__ = ["settle_marks"]


def settle_marks(found: list[Mark]) -> list[Mark]:
    """The marks with running sums, corrected counts and ranges as one mark each."""
    return _ranges(_ratios(_sums(_was_now(_no(found)))))


def _ratios(found: list[Mark]) -> list[Mark]:
    """ "1:2 teeth": the teeth of both jaws."""
    out: list[Mark] = []
    i = 0
    while i < len(found):
        four = found[i : i + 4]
        if (
            len(four) == 4
            and four[0].kind == four[2].kind == "num"
            and four[1].text == ":"
            and four[3].group == "teeth"
        ):
            out.append(Mark("dims", f"{four[0].text}x{four[2].text}"))
            i += 3
            continue
        out.append(found[i])
        i += 1
    return out


def _no(found: list[Mark]) -> list[Mark]:
    """ "no": before a number its mark, after one a count word, else "without"."""
    for at, mark in enumerate(found):
        if mark.group == "number-mark" and mark.text == "no":
            after = found[at + 1] if at + 1 < len(found) else None
            before = found[at - 1] if at else None
            if after is not None and after.kind == "num":
                continue
            if before is not None and before.kind == "num":
                mark.group = "count"
            else:
                mark.group = "without" if after is not None and after.kind == "word" else "count"
    return found


def _was_now(found: list[Mark]) -> list[Mark]:
    """ "was 4 now 3": the later figure holds."""
    out: list[Mark] = []
    i = 0
    while i < len(found):
        window = found[i : i + 5]
        if window[0].group == "was" and len(window) > 1 and window[1].kind == "num":
            rest = 2
            while rest < len(window) and window[rest].text in (",", "-", ";"):
                rest += 1
            if (
                rest + 1 < len(window)
                and window[rest].group == "now"
                and window[rest + 1].kind == "num"
            ):
                out.append(_count(window[rest + 1]))
                i += rest + 2
                continue
            i += 2
            continue
        if (
            len(window) > 2
            and window[0].kind == "num"
            and window[1].group == "now"
            and window[2].kind == "num"
        ):
            out.append(_count(window[2]))
            i += 3
            continue
        if window[0].group == "now" and len(window) > 1 and window[1].kind == "num":
            out.append(_count(window[1]))
            i += 2
            continue
        out.append(found[i])
        i += 1
    return out


def _count(mark: Mark) -> Mark:
    return Mark("counted", mark.text, mark.value)


def _sums(found: list[Mark]) -> list[Mark]:
    """ "10+10+5": running sums of a count sheet."""
    out: list[Mark] = []
    i = 0
    while i < len(found):
        if found[i].kind == "num" and i + 2 < len(found) and _plus(found[i + 1]):
            total, j, terms = found[i].value, i, 1
            while j + 2 < len(found) and _plus(found[j + 1]) and found[j + 2].kind == "num":
                after = found[j + 3] if j + 3 < len(found) else None
                if (
                    after is not None
                    and after.kind == "word"
                    and after.text != "+"
                    and after.group not in ("count", "filler")
                ):
                    break
                total += found[j + 2].value
                j, terms = j + 2, terms + 1
            before = out[-1] if out else None
            if terms > 1 and not (before and before.group == "number-mark"):
                out.append(Mark("counted", "sum", total))
                i = j + 1
                continue
        out.append(found[i])
        i += 1
    return out


def _ranges(found: list[Mark]) -> list[Mark]:
    """ "24 to 32 Fr": a range of sizes, neither a count nor one size."""
    out: list[Mark] = []
    i = 0
    while i < len(found):
        four = found[i : i + 4]
        if (
            len(four) == 4
            and four[0].kind == four[2].kind == "num"
            and four[1].text in ("to", "-", "or")
            and (
                four[3].group in ("unit", "french", "gauge", "volume", "degree")
                or (four[1].glued and four[2].glued and four[3].means == "set")
            )
        ):
            made = Mark("range", f"{four[0].text} to {four[2].text} {four[3].text}")
            out.append(made)
            i += 4
            continue
        out.append(found[i])
        i += 1
    return out


def _plus(mark: Mark) -> bool:
    return mark.text == "+"
