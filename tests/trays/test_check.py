"""Whole trays through the check: verdicts, all kinds of findings, ways, hands, stock."""

from __future__ import annotations

from typing import Any

import pytest

from etui.errors import BadInput, UnknownTerm
from etui.knowledge.model import Reference
from etui.trays.check import check_fully
from etui.trays.model import Finding, Line, Stock, Tray
from tests.trays.conftest import Check
from tests.trays.generate import all_first_line

DRAIN = """
Disposable scalpel No. 10
2 x Kelly forceps curved 8 in
Chest drain 28 Fr
Needle holder, Mayo-Hegar 7 in
Toothed forceps 6 in
Silk 0 on a cutting needle
Mayo scissors straight
2 x Tubing clamp
10 x Gauze swabs
"""
BESIDE = (
    "underwater-seal bottle with tubing",
    "local anaesthetic, syringe and needles",
    "dressings",
)
NECK = """
Disposable scalpel No. 10
Bougie
Cuffed tracheal tube 6.0
Syringe 10 mL
"""
NECK_BESIDE = ("suction", "bag and mask", "capnograph", "tube tie")


def found(checked: Any, kind: str) -> list[Finding]:
    return [f for f in checked.report.findings if f.kind == kind]


def items(findings: list[Finding]) -> set[str]:
    return {i for f in findings for i in f.items}


def test_a_whole_set_is_fit(check: Check) -> None:
    done = check("tube-thoracostomy", DRAIN, beside=BESIDE)
    assert done.report.verdict == "fit", [f.text for f in done.report.findings]
    assert not [f for f in done.report.findings if f.severity != "info"]
    neck = check("scalpel-bougie-cricothyroidotomy", NECK, beside=NECK_BESIDE)
    assert neck.report.verdict == "fit"


def test_an_essential_step_without_a_way(check: Check) -> None:
    lines = "\n".join(x for x in NECK.splitlines() if "Bougie" not in x)
    done = check("scalpel-bougie-cricothyroidotomy", lines, beside=NECK_BESIDE)
    assert done.report.verdict == "unfit"
    (gap,) = [f for f in found(done, "missing_step") if f.severity == "violation"]
    assert gap.steps == ("scalpel-bougie-cricothyroidotomy/pass-bougie",)
    assert "bougie-tracheal" in gap.items
    assert gap.suggestions[0].id == "bougie-tracheal"
    assert gap.suggestions[0].origin == "reference"
    assert gap.why


def test_a_blade_that_does_not_seat(check: Check) -> None:
    lines = DRAIN.replace("Disposable scalpel No. 10", "Scalpel handle No. 4\n2 x Blade No. 11")
    done = check("tube-thoracostomy", lines, beside=BESIDE)
    (fault,) = found(done, "assembly_fault")
    assert done.report.verdict == "unfit"
    assert fault.severity == "violation"
    assert {"scalpel-handle-4", "scalpel-blade-11"} <= set(fault.items)
    assert "do not fit each other" in fault.text


def test_a_second_knife_that_lacks_its_handle_is_a_remark_only(check: Check) -> None:
    done = check("tube-thoracostomy", DRAIN + "Blade No. 22", beside=BESIDE)
    (fault,) = found(done, "assembly_fault")
    assert fault.severity == "warning"
    assert done.report.verdict == "fit-with-remarks"


def test_parts_that_fit_work_as_one(check: Check) -> None:
    lines = DRAIN.replace("Disposable scalpel No. 10", "Scalpel handle No. 3\nBlade No. 10")
    done = check("tube-thoracostomy", lines, beside=BESIDE)
    assert done.report.verdict == "fit"
    cut = next(c for c in done.report.coverage if c.step == "tube-thoracostomy/incise-skin")
    assert cut.by == ("scalpel-blade-10", "scalpel-handle-3")


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ("Gigli wire\nGigli handle", "Gigli saw handle"),
        ("Lebsche knife", "mallet"),
        ("Finochietto rib spreader, crank missing", "Crank"),
        ("Balfour frame without centre blade", "Centre blade"),
        ("Diathermy pencil", "Return electrode"),
        ("Hudson brace\nCranial burr", "perforator"),
    ],
)
def test_what_a_part_lacks_is_named(check: Check, line: str, text: str) -> None:
    done = check("wound-repair", line)
    assert any(text.lower() in f.text.lower() for f in found(done, "assembly_fault"))


@pytest.mark.parametrize("line", ["Scalpel with blade 10", "Scalpel, blade 10"])
def test_a_scalpel_named_with_its_blade_is_whole(check: Check, line: str) -> None:
    done = check("tube-thoracostomy", DRAIN.replace("Disposable scalpel No. 10", line),
                 beside=BESIDE)
    assert not found(done, "assembly_fault")
    assert done.report.verdict == "fit"


@pytest.mark.parametrize(
    "line", ["Scalpel blade 10", "Lebsche sternal knife", "Gigli saw wire", "Wire saw, Gigli wire"]
)
def test_the_name_of_a_unit_in_a_part_does_not_make_it_whole(check: Check, line: str) -> None:
    lines = DRAIN.replace("Disposable scalpel No. 10", line)
    assert found(check("tube-thoracostomy", lines, beside=BESIDE), "assembly_fault")


def test_a_harmful_piece_that_somebody_would_reach_for(check: Check) -> None:
    lines = DRAIN.replace("Chest drain 28 Fr", "Chest drain 28 Fr on a sharp trocar")
    done = check("tube-thoracostomy", lines, beside=(*BESIDE, "chest drains 24 to 32 Fr"))
    assert "drain-chest-trocar" in items(found(done, "unsafe_item"))
    assert done.report.verdict == "fit-with-remarks"


def test_only_a_harmful_piece_makes_a_tray_unfit(check: Check) -> None:
    lines = NECK.replace("tube 6.0", "tube 8.0")
    done = check("scalpel-bougie-cricothyroidotomy", lines, beside=NECK_BESIDE)
    assert done.report.verdict == "unfit"
    (harm,) = found(done, "unsafe_item")
    assert harm.severity == "violation"
    assert harm.items == ("tube-tracheal-80",)


def test_too_few_at_one_moment(check: Check) -> None:
    done = check(
        "precipitous-birth",
        "1 x Cord clamp\nCord scissors\nLarge bowl\n5 x Swabs",
        beside=("newborn bag and mask", "towels"),
    )
    short = [f for f in found(done, "too_few") if "precipitous-birth/clamp-cord" in f.steps]
    assert any(f.rule == "pieces-at-once" for f in short)


def test_superfluous_and_unread_lines(check: Check) -> None:
    done = check(
        "tube-thoracostomy", DRAIN + "Deaver retractor\nGrommel's widget", beside=BESIDE
    )
    assert "retractor-deaver" in items(found(done, "superfluous"))
    assert "widget" in found(done, "unresolved_line")[0].text.lower()
    assert done.report.verdict == "fit"


def test_not_ready(check: Check) -> None:
    done = check("resuscitative-thoracotomy", "Finochietto rib spreader, assembled reversed")
    assert found(done, "not_ready")[0].items == ("retractor-finochietto",)


def test_a_kit_without_contents_is_asked_about(check: Check) -> None:
    lines = "\n".join(
        x for x in DRAIN.splitlines() if "holder" not in x and "Silk" not in x
    )
    done = check("tube-thoracostomy", lines + "\nSuture kit", beside=BESIDE)
    assert any("suture kit" in f.text.lower() for f in found(done, "unresolved_line"))
    assert done.report.verdict == "fit-with-remarks"


def test_what_usually_lies_beside_is_asked_for_and_not_called_missing(check: Check) -> None:
    done = check("tube-thoracostomy", DRAIN, beside=BESIDE[1:])
    assert done.report.verdict == "fit-with-remarks"
    assert "essential-step-is-listed" in {f.rule for f in done.report.findings}


def test_one_complete_way_is_enough_and_the_advised_one_is_named(check: Check) -> None:
    done = check("tube-thoracostomy", DRAIN, beside=BESIDE)
    routes = {r.approach: r for r in done.report.routes}
    assert routes["open"].complete
    assert routes["open"].advised
    assert routes["open"].because
    assert not routes["seldinger"].complete


def test_hands_decide_which_way_is_advised(check: Check) -> None:
    lines = """
    2 x Disposable scalpel No. 22
    Heavy scissors for sternum
    Mayo scissors curved 9 in
    Metzenbaum scissors 9 in
    2 x Roberts forceps 9 in
    4 x Spencer Wells forceps 8 in
    Toothed dissecting forceps 10 in
    Finochietto rib spreader
    Mayo-Hegar needle holder 10 in
    Mayo scissors straight 9 in
    2 x 3-0 suture on round-bodied needle
    5 x Large swabs
    """
    rare = check("resuscitative-thoracotomy", lines, operator="emergency nurse and a rural doctor")
    practised = check("resuscitative-thoracotomy", lines, operator="cardiothoracic surgeon")
    assert rare.report.rare_hands
    assert not practised.report.rare_hands
    assert rare.report.approaches["resuscitative-thoracotomy"] == "clamshell"
    assert practised.report.approaches["resuscitative-thoracotomy"] == "left-anterolateral"


def test_substitutes_come_from_the_stock_first(check: Check) -> None:
    lines = "\n".join(x for x in DRAIN.splitlines() if "Kelly" not in x)
    stock = Stock(title="store", lines=(Line(text="Spencer Wells forceps 8 in", qty=4),))
    done = check("tube-thoracostomy", lines, beside=BESIDE, stock=stock)
    gap = next(
        f for f in found(done, "missing_step") if "tube-thoracostomy/dissect-muscle" in f.steps
    )
    assert (gap.suggestions[0].id, gap.suggestions[0].origin) == (
        "haemostat-spencer-wells",
        "stock",
    )


def test_several_procedures_on_one_tray(check: Check) -> None:
    done = check(
        ("tube-thoracostomy", "scalpel-bougie-cricothyroidotomy"),
        DRAIN + NECK,
        beside=(*BESIDE, *NECK_BESIDE),
    )
    assert done.report.verdict == "fit"
    assert done.report.procedures == ("tube-thoracostomy", "scalpel-bougie-cricothyroidotomy")


def test_two_operators_at_one_moment_need_a_knife_each(check: Check) -> None:
    both = ("tube-thoracostomy", "scalpel-bougie-cricothyroidotomy")
    beside = (*BESIDE, *NECK_BESIDE)
    one_knife = DRAIN + NECK.replace("Disposable scalpel No. 10", "")
    alone = check(both, one_knife, beside=beside)
    together = check(both, one_knife, beside=beside, operator="two operators at the same moment")
    assert not [f for f in alone.report.findings if f.rule == "pieces-at-once"]
    assert [f for f in together.report.findings if f.rule == "pieces-at-once"]
    enough = check(both, DRAIN + NECK, beside=beside, operator="two operators")
    assert not [f for f in enough.report.findings if f.rule == "pieces-at-once"]


def test_losses_and_timeline(check: Check) -> None:
    done = check("scalpel-bougie-cricothyroidotomy", NECK, beside=NECK_BESIDE)
    lost = {p.piece.partition("~")[0]: p for p in done.report.single_points}
    assert lost["bougie-tracheal"].drop_prone
    assert lost["bougie-tracheal"].saved_by
    spare = check("scalpel-bougie-cricothyroidotomy", NECK + "Bougie", beside=NECK_BESIDE)
    assert "bougie-tracheal" not in {
        p.piece.partition("~")[0] for p in spare.report.single_points
    }
    steps = [b.step for b in done.report.timeline]
    order = [done.situation.reference.steps[s].order for s in steps]
    assert order == sorted(order)
    tube = next(b for b in done.report.timeline if b.step.endswith("railroad-tube"))
    assert any(s.endswith("pass-bougie") for s, _ in tube.held)


def test_every_rule_says_how_many_nodes_it_looked_at(check: Check) -> None:
    done = check("tube-thoracostomy", DRAIN, beside=BESIDE)
    assert set(done.report.checked) == {r.id for r in done.policy.rules}
    assert done.report.checked["essential-step-has-a-way"] == 10


def test_bad_input(kit: dict[str, Any]) -> None:
    with pytest.raises(BadInput, match="what it is for"):
        check_fully(Tray(title="Nameless"), **kit)
    with pytest.raises(UnknownTerm) as error:
        check_fully(Tray(title="T", procedures=("tube thoracostmy of the moon",)), **kit)
    assert error.value.nearest or error.value.line


def test_a_tray_with_swabs_alone_is_unfit(check: Check) -> None:
    assert check("tube-thoracostomy", "Gauze swabs").report.verdict == "unfit"


def test_no_gap_is_invented_where_every_first_line_piece_lies(
    reference: Reference, kit: dict[str, Any]
) -> None:
    for procedure in sorted(reference.procedures):
        report = check_fully(all_first_line(reference, procedure), **kit).report
        grave = [f for f in report.findings if f.severity == "violation"]
        gaps = [
            f
            for f in report.findings
            if f.severity == "warning" and f.kind in {"missing_step", "too_few", "unsafe_item"}
        ]
        assert not grave + gaps, (procedure, [f.text for f in grave + gaps])
