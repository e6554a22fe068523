"""``etui drill``: practice in telling instruments and their uses apart."""

from __future__ import annotations

import random
from typing import Any

import click

from etui.commands import common
from etui.commands.cards import name_of
from etui.errors import BadInput
from etui.knowledge.model import USABLE, Reference, Step


@click.command("drill")
@click.option("--procedure", "-p", default=None, metavar="NAME", help="Questions on this one only.")
@click.option("--count", "-n", default=5, show_default=True, type=click.IntRange(1, 100))
@click.option("--seed", default=None, type=int, help="The same seed gives the same questions.")
@common.json_option
def command(procedure: str | None, count: int, seed: int | None, as_json: bool) -> int:
    """Practise: which piece serves this step, and which would harm?

    Asks on the terminal and tells reason and source after each answer; with --json the questions
    are printed with their answers.
    """
    reference = common.reference()
    only = None
    if procedure:
        from etui.exchange import resolve_procedures

        only = resolve_procedures([procedure], common.procedure_matcher())[0]
    made = questions(reference, count, seed=seed, procedure=only)
    if not made:
        raise BadInput("nothing is stated there from which to ask.", mend="Name another procedure.")
    if as_json:
        common.out(common.to_json(made))
        return 0
    right = 0
    for number, question in enumerate(made, 1):
        click.echo(f"\n{number}. {question['ask']}")
        for letter, option in zip("abcd", question["options"], strict=False):
            click.echo(f"   {letter}) {option['name']}")
        given = click.prompt("  ", type=click.Choice(list("abcd"[: len(question["options"])])),
                             show_choices=False, prompt_suffix="> ")
        chosen = question["options"]["abcd".index(given)]
        good = chosen["id"] == question["answer"]
        right += good
        click.echo("   Right." if good else f"   No: {question['answer_name']}.")
        for option in question["options"]:
            because = f" - {option['because']}" if option["because"] else ""
            click.echo(f"   {option['name']}: {option['grade']}{because} [{option['how_known']}]")
    click.echo(f"\n{right} of {len(made)} right")
    return 0


def questions(
    reference: Reference, count: int, *, seed: int | None = None, procedure: str | None = None
) -> list[dict[str, Any]]:
    """Questions made from stated grades: one usable piece among pieces that harm or cannot.

    The wrong ones are, where there are any, pieces that people confuse with the right one.
    """
    rng = random.Random(seed)
    steps = [s for s in reference.steps.values() if procedure in (None, s.procedure)]
    steps.sort(key=lambda s: s.id)
    rng.shuffle(steps)
    made = []
    for step in steps:
        question = _question(reference, step, rng)
        if question:
            made.append(question)
        if len(made) == count:
            break
    return made


def _question(reference: Reference, step: Step, rng: random.Random) -> dict[str, Any] | None:
    stated = {
        j.subject: j for j in step.judgements
        if j.subject in reference.patterns and j.role is None and not j.features_only
        and not j.condition
    }
    right = sorted(s for s, j in stated.items() if j.grade in ("preferred", "acceptable"))
    wrong = sorted(s for s, j in stated.items() if j.grade not in USABLE)
    if not right or len(wrong) < 2:
        return None
    answer = rng.choice(right)
    alike = set(reference.patterns[answer].confused_with)
    rng.shuffle(wrong)
    wrong.sort(key=lambda s: s not in alike)
    options = [answer, *wrong[:3]]
    rng.shuffle(options)
    return {
        "ask": f"{name_of(reference, step.procedure)}: {step.name}. Which would you take?",
        "step": step.id, "answer": answer, "answer_name": name_of(reference, answer),
        "options": [
            {"id": o, "name": name_of(reference, o), "grade": stated[o].grade,
             "because": stated[o].because or (
                 name_of(reference, stated[o].hazard or "") if stated[o].hazard else None),
             "how_known": stated[o].how_known}
            for o in options
        ],
    }
