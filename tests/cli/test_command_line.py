"""The command line: answers, exit codes, one line for every error."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from etui import cli


class Ran:
    """What one call gave."""

    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err

    def json(self) -> object:
        return json.loads(self.out)


@pytest.fixture
def etui(capsys: pytest.CaptureFixture[str]) -> object:
    """Runs the command line in this process."""
    def call(*args: str) -> Ran:
        code = cli.run(args)
        got = capsys.readouterr()
        return Ran(code, got.out, got.err)

    return call


def is_one_line(text: str) -> bool:
    return text.startswith("etui: ") and text.count("\n") == 1 and "Traceback" not in text


def test_help_names_every_command(etui) -> None:  # type: ignore[no-untyped-def]
    told = etui("--help").out
    for name in ("read", "replace", "check", "compose", "compare", "show", "list", "audit", "diff",
                 "justify", "drill", "evaluate", "serve", "build"):
        assert f"  {name} " in told
    assert "licensed judgement prevail" in told.replace("\n  ", " ")


def test_every_command_has_help(etui) -> None:  # type: ignore[no-untyped-def]
    for name in cli.COMMANDS:
        ran = etui(name, "--help")
        assert ran.code == 0, ran.err
        assert ran.out.startswith(f"Usage: etui {name}")


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys; from etui import cli; cli.run(['--help']); "
        "heavy = {'rdflib', 'pyshacl', 'fastapi', 'scipy', 'numpy', 'rapidfuzz', 'openpyxl', "
        "'pyoxigraph', 'python_calamine', 'rich'} & set(sys.modules); "
        "assert not heavy, heavy"
    )
    subprocess.run([sys.executable, "-c", code], check=True, stdout=subprocess.DEVNULL)


@pytest.mark.parametrize(("args", "not_loaded"), [
    (["show", "haemostat-crile"], "rdflib pyshacl fastapi scipy numpy"),
    (["list", "hazards"], "rdflib pyshacl fastapi scipy numpy"),
    (["read", "Kelly forceps"], "rdflib pyshacl fastapi scipy"),
    (["check", "demo_graph/trays/suprapubic-set.xlsx"], "rdflib pyshacl fastapi"),
])
def test_commands_load_only_what_they_need(args: list[str], not_loaded: str, root: Path) -> None:
    code = (
        f"import sys; from etui import cli; cli.run({args!r}); "
        f"heavy = set({not_loaded.split()!r}) & set(sys.modules); assert not heavy, heavy"
    )
    subprocess.run([sys.executable, "-c", code], check=True, stdout=subprocess.DEVNULL,
                   stderr=subprocess.DEVNULL, cwd=root)


@pytest.mark.parametrize("args", [
    [], ["raed"], ["--nonsense"], ["read"], ["read", "x", "--batch", "y"], ["read", ""],
    ["read", "x" * 5_000], ["check"], ["check", "no-such-file.csv"], ["check", "."],
    ["show", "no such thing at all"], ["list"], ["list", "nothing"], ["compare", "Kelly"],
    ["replace"], ["compose", "no.json"], ["list", "instruments", "--family", "zebra"],
    ["read", "--file", "x.csv", "--column", "item"], ["serve", "--port", "0"],
])
def test_what_cannot_run_is_one_line_and_exit_2(etui, args: list[str]) -> None:  # type: ignore[no-untyped-def]
    ran = etui(*args)
    if not args:
        assert ran.code in (0, 2)
        return
    assert ran.code == 2
    assert is_one_line(ran.err), ran.err
    assert ran.out == ""


def test_a_fault_of_the_program_is_one_line(etui, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    import etui.commands.show as show

    monkeypatch.delenv("ETUI_DEBUG", raising=False)

    def broken(_: str) -> None:
        raise KeyError("inside")

    monkeypatch.setattr(show, "find_rule", broken)
    ran = etui("show", "haemostat-crile")
    assert ran.code == 2
    assert is_one_line(ran.err)
    assert "please report" in ran.err


def test_unknown_names_offer_the_nearest(etui) -> None:  # type: ignore[no-untyped-def]
    assert "haemostat-crile" in etui("show", "Crile forcep").err
    ran = etui("list", "steps", "--procedure", "wound mending")
    assert ran.code == 2
    assert "wound-repair" in ran.err


def test_read_by_the_contract(etui) -> None:  # type: ignore[no-untyped-def]
    data = etui("read", "2 x curved Kelly 5 1/2 in", "--json").json()
    assert {"text", "kind", "quantity", "instrument", "parts", "attributes", "alternatives",
            "why"} <= set(data)
    assert data["quantity"] == 2
    assert data["instrument"]["id"] == "haemostat-kelly"
    assert data["attributes"]["length_mm"] == pytest.approx(140, abs=2)


def test_batch_answers_every_line_in_order(etui, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    file = tmp_path / "q.jsonl"
    file.write_text('{"text": "Kelly forceps"}\nnot json\n{"text": 7}\n\n[1]\n{"text": ""}\n'
                    '{"text": "Adson tissue forceps"}\n\n\n')
    ran = etui("read", "--batch", str(file))
    answers = [json.loads(line) for line in ran.out.splitlines()]
    assert ran.code == 0
    assert len(answers) == 7
    assert answers[0]["instrument"]["id"] == "haemostat-kelly"
    assert [bool(a.get("error")) for a in answers] == [False, True, True, True, True, True, False]
    assert answers[1]["error"]["detail"].startswith(f"{file}:2")
    assert answers[1]["error"]["status"] == 422


def test_batch_replace_and_compare(etui, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    file = tmp_path / "q.jsonl"
    file.write_text(json.dumps({
        "procedure": "wound repair", "step": "drive the needle through the skin",
        "missing": "needle holder", "candidate": "Kocher forceps"}) + '\n{"step": 3}\n')
    first, second = (json.loads(x) for x in etui("replace", "--batch", str(file)).out.splitlines())
    assert {"step", "candidate", "grade", "stated", "reasons", "hazards", "better",
            "unresolved"} <= set(first)
    assert second["error"]["detail"]
    file.write_text('{"a": "Kelly forceps", "b": "Kocher forceps"}\n{"a": "Kelly forceps"}\n')
    first, second = (json.loads(x) for x in etui("compare", "--batch", str(file)).out.splitlines())
    assert {"resemblance", "tells", "differences", "harm_if_swapped"} <= set(first)
    assert "error" in second


def test_batch_from_standard_input() -> None:
    ran = subprocess.run([sys.executable, "-m", "etui.cli", "read", "--batch", "-"],
                         input=b'{"text": "Kelly forceps"}\n', capture_output=True, check=True)
    assert json.loads(ran.stdout)["instrument"]["id"] == "haemostat-kelly"


def test_check_from_standard_input_and_exit_codes(root: Path) -> None:
    def check(text: str, *more: str) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run([sys.executable, "-m", "etui.cli", "check", "-", "--json", *more],
                              input=text.encode(), capture_output=True, check=False, cwd=root)

    unfit = check("Kelly forceps\n", "--procedure", "wound repair")
    assert unfit.returncode == 1
    data = json.loads(unfit.stdout)
    assert {"verdict", "procedures", "findings", "coverage", "checked"} <= set(data)
    assert data["verdict"] == "unfit"
    missing = check("Kelly forceps\n")
    assert missing.returncode == 2
    assert b"which procedure" in missing.stderr
    unknown = check("Kelly forceps\n", "--procedure", "zebra polishing")
    assert unknown.returncode == 2
    assert unknown.stdout == b""
    assert check("", "--procedure", "wound repair").returncode == 2


def test_read_a_file_and_save_without_formulas(etui, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    source = tmp_path / "list.csv"
    source.write_text("Item,Qty\nKelly forceps,2\n=1+1,1\n")
    target = tmp_path / "out.csv"
    assert etui("read", "--file", str(source), "--save", str(target)).code == 0
    text = target.read_text("utf-8-sig")
    assert "'=1+1" in text
    assert etui("read", "--file", str(source), "--save", str(target)).code == 2


def test_output_is_wrapped_and_without_colour_when_piped() -> None:
    ran = subprocess.run([sys.executable, "-m", "etui.cli", "show", "haemostat-crile", "--why"],
                         capture_output=True, check=True, env={
                             **os.environ, "COLUMNS": "60"})
    text = ran.stdout.decode()
    assert "\x1b" not in text
    assert max(map(len, text.splitlines())) <= 60 or all(
        " " not in line.strip() for line in text.splitlines() if len(line) > 60)


def test_lists(etui) -> None:  # type: ignore[no-untyped-def]
    for kind in ("instruments", "procedures", "steps", "families", "hazards", "actions", "tissues",
                 "abilities", "units", "manoeuvres", "manners", "sources", "rules"):
        rows = etui("list", kind, "--json").json()
        assert rows, kind
        assert all(r["id"] and r["name"] for r in rows)
    families = etui("list", "instruments", "--family", "haemostat", "--json").json()
    assert {r["family"] for r in families} == {"haemostat"}
    steps = etui("list", "steps", "--procedure", "wound repair", "--json").json()
    assert all(r["id"].startswith("wound-repair/") for r in steps)


def test_show_knows_every_kind(etui) -> None:  # type: ignore[no-untyped-def]
    for thing, kind in (("haemostat-crile", "instrument"), ("wound-repair", "procedure"),
                        ("wound-repair/drive-needle", "step"), ("u-scalpel-small", "unit"),
                        ("haemostat", "family"), ("plunges", "hazard"),
                        ("essential-step-has-a-way", "rule")):
        assert etui("show", thing, "--json").json()["kind"] == kind
        assert etui("show", thing, "--why").code == 0
    source = etui("list", "sources", "--json").json()[0]["id"]
    assert etui("show", source, "--json").json()["kind"] == "source"


def test_audit_of_the_demo_hospital(etui, demo: Path, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    ran = etui("audit", str(demo / "trays"), "--uses", "Gigli saw wire", "--json")
    data = ran.json()
    assert ran.code == 1
    assert len(data["trays"]) == 3
    assert data["trays"][0]["verdict"] == "unfit"
    assert [u for t in data["trays"] for u in t["uses"]] == [
        f"{demo / 'trays' / 'harbour-bag.txt'}:13: Gigli wire x 2"]
    (tmp_path / "broken.csv").write_bytes(b"%PDF")
    (tmp_path / "a.txt").write_text("Procedure: wound repair\nKelly forceps\n")
    data = etui("audit", str(tmp_path), "--json").json()
    assert len(data["trays"]) == 1
    assert "broken.csv" in data["not_checked"][0]["problem"]
    (tmp_path / "a.txt").unlink()
    ran = etui("audit", str(tmp_path))
    assert ran.code == 2
    assert is_one_line(ran.err)


def test_diff_tells_what_a_change_does(etui, demo: Path, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    old = demo / "trays" / "wounds-and-abscesses.csv"
    new = tmp_path / "new.csv"
    lines = old.read_text().splitlines()
    new.write_text("\n".join(x for x in lines if "eedle holder" not in x) + "\n")
    same = etui("diff", str(old), str(old), "--json")
    assert same.code == 0
    assert same.json()["steps"] == same.json()["pieces"] == []
    worse = etui("diff", str(old), str(new), "--json")
    assert worse.code == 1
    changed = {s["step"]: s for s in worse.json()["steps"]}
    assert changed["wound-repair/drive-needle"]["worse"]
    better = etui("diff", str(new), str(old), "--json").json()
    assert not better["worse"]
    assert {p["id"] for p in better["pieces"]} == {
        "needle-holder-webster", "needle-holder-mayo-hegar"}


def test_drill_is_the_same_for_the_same_seed_and_tells_why(etui) -> None:  # type: ignore[no-untyped-def]
    first = etui("drill", "--seed", "7", "-n", "4", "--json").json()
    assert first == etui("drill", "--seed", "7", "-n", "4", "--json").json()
    assert first != etui("drill", "--seed", "8", "-n", "4", "--json").json()
    for question in first:
        grades = {o["id"]: o["grade"] for o in question["options"]}
        assert grades.pop(question["answer"]) in ("preferred", "acceptable")
        assert set(grades.values()) <= {"unsafe", "unable"}
    only = etui("drill", "-p", "wound repair", "--json").json()
    assert all(q["step"].startswith("wound-repair/") for q in only)


def test_justify_writes_documents(etui, demo: Path, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    import docx

    tray = str(demo / "trays" / "suprapubic-set.xlsx")
    data = etui("justify", tray, "--json").json()
    catheter = next(i for i in data["items"] if i["line"].startswith("Foley"))
    assert any(s["step"] == "suprapubic-catheter/pass-catheter" for s in catheter["serves"])
    assert not any(i["line"] in ("Total", "Packed by:") for i in data["items"])
    assert "drainage bag" in data["kept_alongside"]
    assert data["sources"]
    for ending, start in ((".html", b"<!doctype html>"), (".pdf", b"%PDF"), (".docx", b"PK"),
                          (".md", b"# ")):
        path = tmp_path / f"out{ending}"
        assert etui("justify", tray, "--save", str(path)).code == 0
        assert path.read_bytes().startswith(start)
        assert etui("justify", tray, "--save", str(path)).code == 2
    document = docx.Document(str(tmp_path / "out.docx"))
    assert any("Foley catheter" in c.text for t in document.tables for r in t.rows
               for c in r.cells)
    assert etui("justify", tray, "--save", str(tmp_path / "out.odd")).code == 2


def test_compose_from_the_store_room(etui, demo: Path, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    stock = str(demo / "stock" / "store-room.csv")
    target = tmp_path / "tray.csv"
    ran = etui("compose", stock, "-p", "lateral canthotomy", "--alongside",
               "local anaesthetic, syringe and needle", "--save", str(target), "--json")
    data = ran.json()
    assert ran.code in (0, 1)
    assert {"verdict", "tray", "gaps", "proof"} <= set(data)
    assert target.exists() == bool(data["tray"])
    assert etui("compose", stock).code == 2
