"""The answer to a brief in words and lists."""

from __future__ import annotations

from typing import Any

from etui.trays.compose_gaps import Gaps
from etui.trays.compose_problem import RANK, Duty, Plan, Problem

_FAIR = RANK["acceptable"]

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


class Teller(Gaps):
    """Tells one plan: what is on the tray and why, what is lacking, what was left out and why."""

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
