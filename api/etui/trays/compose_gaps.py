"""What a composed tray lacks: steps not served or served less well, and what to obtain."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from etui.knowledge.model import GRADES, Need, Step
from etui.trays.compose_build import Setting
from etui.trays.compose_problem import RANK, Duty, Plan, Served
from etui.trays.compose_stock import Brief
from etui.trays.compose_ways import Fitter, first_hand

_OBTAIN_AT_MOST = 4
_FAIR = RANK["acceptable"]
_TOLD: tuple[Need, ...] = ("essential", "conditional", "closing")


class Gaps:
    """Tells what one plan lacks."""

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
            hand = first_hand(known, self.fitter.present, "preferred")
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
