"""The answer to a brief in words and lists."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from etui.knowledge.model import GRADES, Need, Step
from etui.trays.compose_build import Brief, Setting
from etui.trays.compose_problem import RANK, Duty, Plan, Problem, Served
from etui.trays.compose_ways import Fitter

_OBTAIN_AT_MOST = 4
_FAIR = RANK["acceptable"]
_TOLD: tuple[Need, ...] = ("essential", "conditional", "closing")

LIMITS = (
    "Reference for planning and teaching. Local protocol, manufacturers' instructions, "
    "sterile-processing rules and licensed judgement prevail. Improvised is not permission."
)


def fatal(problem: Problem, plan: Plan) -> tuple[Duty, ...]:
    """Essential steps that no fit tray can leave so.

    Nothing serves them; or only an expedient does, and the operation hinges on the step: a tray is
    not planned on an expedient there.
    """
    out = []
    for served in plan.served:
        duty = problem.duties[served.duty]
        poor = served.grade is None or (duty.hinge and RANK[served.grade] > _FAIR)
        if duty.need == "essential" and poor:
            out.append(duty)
    return tuple(out)


def verdict_of(problem: Problem, plan: Plan) -> str:
    """``fit``, ``fit-with-remarks`` or ``unfit``."""
    if not plan.feasible or fatal(problem, plan):
        return "unfit"
    for served in plan.served:
        duty = problem.duties[served.duty]
        if duty.elsewhere or duty.need not in ("essential", "conditional"):
            continue
        if served.grade is None or RANK[served.grade] > _FAIR:
            return "fit-with-remarks"
        if duty.need == "essential" and served.no_spare:
            return "fit-with-remarks"
    return "fit"


class Teller:
    """Tells one plan: what is on the tray and why, what is lacking, what was left out and why."""

    def __init__(
        self,
        brief: Brief,
        made: Setting,
        plan: Plan,
        fitter: Fitter,
        expected: tuple[str, ...] = (),
    ) -> None:
        self.brief = brief
        self.made = made
        self.problem = made.problem
        self.plan = plan
        self.fitter = fitter
        self.reference = fitter.reference
        self.expected = expected
        self.whole = [
            all(plan.pieces[lot] >= n for lot, n in a.needs) for a in self.problem.assemblies
        ]

    def answer(self) -> dict[str, Any]:
        """The machine contract: verdict, tray, gaps, proof, and everything said beside them."""
        verdict = verdict_of(self.problem, self.plan)
        out = self._frame(verdict)
        out["approaches"] = dict(self.plan.approaches)
        lines = self.lines()
        out["gaps"] = self.gaps()
        out["second_best"] = self.second_best()
        out["proof"] = self.proof()
        out["left_out"] = self.left_out()
        out["kept_alongside"] = self.kept_alongside()
        if verdict != "unfit":
            out["tray"] = lines
            out["pieces"] = sum(self.plan.pieces)
            return out
        lost = fatal(self.problem, self.plan)
        names = "; ".join(dict.fromkeys(self.reference.steps[d.step].name for d in lost))
        out["set_aside"] = lines
        out["why"] = (
            f"No fit tray can be made from this stock. Not served: {names}. Send for what is named "
            "first, or move the patient; what is whole may be set aside but is not a tray."
        )
        first = {d.step for d in lost}
        out["gaps"].sort(key=lambda g: g["step"] not in first)
        return out

    def contradiction(self) -> dict[str, Any]:
        """The answer when must-haves, must-nots and the ceiling cannot be met together."""
        asked = [
            f"{line.name} ({self.brief.wishes.required[i]} asked, {line.count} in stock)"
            for i, line in enumerate(self.brief.held)
            if i in self.brief.wishes.required
        ]
        if self.brief.wishes.ceiling is not None:
            asked.append(f"at most {self.brief.wishes.ceiling} pieces")
        out = self._frame("unfit")
        text = "The wishes cannot be met together: " + "; ".join(asked) + "."
        out["why"] = text
        out["gaps"] = [{"step": None, "text": text, "obtain": [], "by_hand": []}]
        out["proof"] = {"optimal": all(v.optimal for v in self.plan.levels), "bound": None}
        return out

    def _frame(self, verdict: str) -> dict[str, Any]:
        wishes = self.brief.wishes
        return {
            "verdict": verdict,
            "title": self.brief.title,
            "procedures": list(self.brief.procedures),
            "tray": [],
            "pieces": 0,
            "gaps": [],
            "proof": {},
            "understood": [
                {"text": s.text, "meaning": s.meaning} for s in wishes.statements if s.taken
            ],
            "unresolved": [
                *({"text": s.text, "why": s.meaning} for s in wishes.statements if not s.taken),
                *(
                    {"text": line.name, "why": line.ask}
                    for line in self.brief.held
                    if line.ask is not None and line.count
                ),
            ],
            "limits": LIMITS,
        }

    def proof(self) -> dict[str, Any]:
        """Whether the choice is proven best, and the proven least number of pieces."""
        pieces = next((v for v in self.plan.levels if v.aim == "fewest pieces"), None)
        return {
            "optimal": self.plan.optimal,
            "bound": None if pieces is None else round(pieces.bound),
            "aims": [
                {"aim": v.aim, "value": v.value, "bound": v.bound, "optimal": v.optimal}
                for v in self.plan.levels
            ],
        }

    # -- the lines ---------------------------------------------------------------------------------

    def lines(self) -> list[dict[str, Any]]:
        """What is on the tray, in order of use, and the steps that each line serves."""
        serves: dict[int, dict[str, int]] = {}
        backs: dict[int, dict[str, int]] = {}
        mates: dict[int, set[int]] = {}
        for place, served in enumerate(self.plan.served):
            duty = self.problem.duties[served.duty]
            ways = [w for w in duty.ways if self.whole[w.assembly]]
            best = min((RANK[w.grade] for w in ways), default=None)
            for way in ways:
                lots = self.problem.assemblies[way.assembly].lots
                if RANK[way.grade] == best:
                    target = serves
                elif duty.hinge and RANK[way.grade] <= _FAIR:
                    target = backs
                else:
                    continue
                for lot in lots:
                    target.setdefault(lot, {}).setdefault(duty.step, place)
                    mates.setdefault(lot, set()).update(lots - {lot})
            for helper in duty.helpers if duty.together > 1 else ():
                for lot in self.problem.assemblies[helper].lots:
                    if self.plan.pieces[lot]:
                        backs.setdefault(lot, {}).setdefault(duty.step, place)
        out = []
        for lot, count in enumerate(self.plan.pieces):
            if not count:
                continue
            line = self.brief.held[lot]
            main, reserve = serves.get(lot, {}), backs.get(lot, {})
            entry: dict[str, Any] = {
                "name": line.name,
                "count": count,
                "for": list(main),
                "id": line.pattern,
            }
            also = [s for s in reserve if s not in main]
            if also:
                entry["reserve_for"] = also
            with_ = sorted(
                self.brief.held[m].name for m in mates.get(lot, set()) if self.plan.pieces[m]
            )
            if with_ and self.fitter.part(lot):
                entry["goes_with"] = with_
            first = min([*main.values(), *reserve.values()], default=len(self.plan.served))
            out.append((first, line.name, entry))
        return [entry for _, _, entry in sorted(out, key=lambda item: item[:2])]

    # -- what is lacking ---------------------------------------------------------------------------

    def gaps(self) -> list[dict[str, Any]]:
        """Steps that are not served, or less well than they could be; what to obtain first."""
        out: list[dict[str, Any]] = []
        done: set[str] = set()
        for served in self.plan.served:
            duty = self.problem.duties[served.duty]
            if duty.step in done or duty.need not in _TOLD:
                continue
            text = self._shortfall(duty, served)
            if text is not None:
                done.add(duty.step)
                out.append(self._gap(duty, text))
        out += self._listed_only(done)
        out += self._idle()
        out += self._unsure()
        order = {need: place for place, need in enumerate(_TOLD)}
        return sorted(out, key=lambda g: order.get(g["need"], len(order)))

    def _gap(self, duty: Duty, text: str) -> dict[str, Any]:
        step = self.reference.steps[duty.step]
        return {
            "step": duty.step,
            "need": "conditional" if duty.elsewhere else duty.need,
            "text": text,
            "obtain": self.obtain(step),
            "by_hand": self.hands(step),
        }

    def _shortfall(self, duty: Duty, served: Served) -> str | None:
        step = self.reference.steps[duty.step]
        name = step.name
        if step.when and duty.need == "conditional":
            name = f"{name} (when {step.when})"
        tools = [w for w in duty.ways if self.whole[w.assembly]]
        if served.grade is None:
            return f"{name}: nothing on the tray does it."
        if RANK[served.grade] > _FAIR:
            by = "hands" if served.by_hand else self._by(served)
            return f"{name}: only improvised, with {by}."
        if duty.need == "closing" or duty.elsewhere:
            return None
        spare = ""
        if served.no_spare and duty.need == "essential":
            spare = " There is no reserve for it: one lost piece ends the step."
        known = self.fitter.duty(duty.step)
        if self.instruments(known.first_line) and duty.beside != "preferred":
            if not any(RANK[w.grade] <= _FAIR for w in tools) and duty.beside is None:
                return f"{name}: by hand; no instrument made for it is on the tray.{spare}"
            hand = known.hand("preferred")
            if hand is not None and not any(w.grade == "preferred" for w in tools):
                return (
                    f"{name}: by hand ({hand.name}); no first-line instrument is on the tray, "
                    f"{self._by(served)} is second best.{spare}"
                )
        if duty.step in self.made.assumed:
            ids = self.made.assumed[duty.step][:3]
            return (
                f"{name}: nothing in this stock; counted on being kept beside the tray "
                f"({', '.join(self._named(i) for i in ids)}). Make sure that it is.{spare}"
            )
        return f"{name}.{spare}" if spare else None

    def _by(self, served: Served) -> str:
        names = {
            " with ".join(
                self.brief.held[lot].name for lot in sorted(self.problem.assemblies[a].lots)
            )
            for a in served.by
        }
        return " or ".join(sorted(names)[:2])

    def obtain(self, step: Step) -> list[dict[str, str]]:
        """What would serve the step well and is not to hand, best first."""
        have = {p.id for line in self.brief.held if line.count for p in line.pieces}
        listed = {line.pattern for line in self.brief.held if line.count == 0}
        known = self.fitter.duty(step.id)
        found = [
            (id_ not in listed, GRADES.index(known.stated[id_].grade), self._named(id_), id_)
            for id_ in self.instruments(known.good)
            if id_ not in have
        ]
        return [
            {"id": id_, "name": name, "grade": GRADES[grade]}
            for _, grade, name, id_ in sorted(found)[:_OBTAIN_AT_MOST]
        ]

    def instruments(self, patterns: Iterable[str]) -> list[str]:
        """Those patterns that are things and not ways of using a hand."""
        return [
            id_
            for id_ in patterns
            if "manoeuvre" not in self.reference.patterns[id_].features.get("part", ())
        ]

    def second_best(self) -> list[dict[str, str]]:
        """Essential and conditional steps done well enough, but not by their first line."""
        out = []
        told: set[str] = set()
        for served in self.plan.served:
            duty = self.problem.duties[served.duty]
            ways = [w for w in duty.ways if self.whole[w.assembly]]
            if (
                duty.step in told
                or duty.need not in ("essential", "conditional")
                or served.grade != "acceptable"
                or not ways
                or not self.instruments(self.fitter.duty(duty.step).first_line)
            ):
                continue
            told.add(duty.step)
            step = self.reference.steps[duty.step]
            better = ", ".join(e["name"] for e in self.obtain(step) if e["grade"] == "preferred")
            out.append(
                {
                    "step": duty.step,
                    "text": f"{step.name}: {self._by(served)} will do"
                    + (f"; better: {better}." if better else "."),
                }
            )
        return out

    def hands(self, step: Step) -> list[dict[str, str]]:
        """What hands, or another measure, can do meanwhile, best first."""
        return [
            {"id": h.id, "name": h.name, "grade": h.grade} for h in self.fitter.duty(step.id).hands
        ]

    def _listed_only(self, done: set[str]) -> list[dict[str, Any]]:
        """Lines that are listed with nothing to hand and would have been of use."""
        out = []
        for line in self.brief.held:
            if line.count or line.pattern is None:
                continue
            for served in self.plan.served:
                duty = self.problem.duties[served.duty]
                known = self.fitter.duty(duty.step)
                if line.pattern not in known.good or duty.need == "optional":
                    continue
                if duty.step not in done:
                    by = "hands" if served.by_hand else self._by(served) or "what lies beside"
                    done.add(duty.step)
                    step = self.reference.steps[duty.step]
                    out.append(
                        self._gap(
                            duty,
                            f"{line.name}: listed, but none is to hand. {step.name}: "
                            f"{by} does it ({served.grade}).",
                        )
                    )
                break
        return out

    def _idle(self) -> list[dict[str, Any]]:
        """Parts that stay out because they cannot be put together."""
        out = []
        for lot, lacking in sorted(self.made.idle.items()):
            line = self.brief.held[lot]
            duty = next(
                (d for d in self.problem.duties if line.pattern in self.fitter.duty(d.step).good),
                None,
            )
            if duty is None or (lot in self.made.barred and lot not in self.brief.wishes.barred):
                continue
            names = ", ".join(self._named(i) for i in lacking)
            gap = self._gap(
                duty,
                f"{line.name} stays out: it cannot be put together"
                + (f" ({names} lacking)." if names else " with what is here."),
            )
            gap["obtain"] = [
                {"id": i, "name": self._named(i), "grade": "preferred"} for i in lacking
            ] or gap["obtain"]
            out.append(gap)
        return out

    def _unsure(self) -> list[dict[str, Any]]:
        """Lines on the tray that may or may not have a part of theirs on them."""
        out = []
        for lot, part in sorted(self.fitter.unsure.items()):
            line = self.brief.held[lot]
            duty = next(
                (d for d in self.problem.duties if line.pattern in self.fitter.duty(d.step).good),
                None,
            )
            if duty is None or not self.plan.pieces[lot]:
                continue
            names = " or ".join(self._named(i) for i in part[:2])
            gap = self._gap(
                duty, f"{line.name}: look whether that part is on it; else add {names}."
            )
            gap["obtain"] = [
                {"id": i, "name": self._named(i), "grade": "preferred"} for i in part[:2]
            ]
            out.append(gap)
        return out

    def _named(self, id_: str) -> str:
        thing = self.reference.patterns.get(id_) or self.reference.units.get(id_)
        return thing.name if thing is not None else id_

    # -- what was left out, what was assumed -------------------------------------------------------

    def left_out(self) -> list[dict[str, str]]:
        """Stock lines that are not on the tray, each with the reason."""
        clashing = {}
        for a, b, _ in self.problem.clashes:
            for one, other in ((a, b), (b, a)):
                if self.plan.pieces[other] and not self.plan.pieces[one]:
                    clashing[one] = other
        used = {
            lot
            for duty in self.problem.duties
            for way in duty.ways
            for lot in self.problem.assemblies[way.assembly].lots
        }
        out = []
        for lot, line in enumerate(self.brief.held):
            if self.plan.pieces[lot]:
                continue
            if lot in self.made.barred:
                why = self.made.barred[lot]
            elif lot in self.made.idle:
                names = ", ".join(self._named(i) for i in self.made.idle[lot])
                why = f"useless alone: {names or 'its partner'} is lacking"
            elif lot in clashing:
                why = f"taken for {self.brief.held[clashing[lot]].name} with harm"
            elif lot not in used:
                why = "serves no step of these procedures"
            else:
                why = "not needed: the tray does its steps with fewer or better pieces"
            out.append({"name": line.name, "why": why})
        return out

    def kept_alongside(self) -> dict[str, Any]:
        """What counts as present beside the tray: said so, taken for granted, and usual there."""
        return {
            "stated": list(self.brief.wishes.beside),
            "counted_on": [
                {"step": step, "any_of": [self._named(i) for i in ids]}
                for step, ids in sorted(self.made.assumed.items())
            ],
            "usual": list(dict.fromkeys(self.expected)),
        }
