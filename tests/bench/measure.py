"""Measures what a user waits for and writes docs/explanation/benchmarks.md.

    python tests/bench/measure.py            # from the root of a clone, in its environment
    python tests/bench/measure.py --print    # only show

Every figure is the wall time of a new process, as a user sees it; "cold" is with an empty cache
folder, "warm" with the cache that the first run leaves.  Medians of several runs are given.
"""

from __future__ import annotations

import argparse
import os
import platform
import re
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
TRAY = """Procedure: wound repair; abscess drainage
Operator: nurse practitioner

Contents:
2 x scalpel handle No 3
2 x scalpel blade No. 15
2 x scalpel blade No. 11
2 Adson toothed 4 3/4"
1 dissecting forceps plain 5"
4 x Halsted mosquito curved 5 in
2 Crile curved 5 1/2"
1 Kelly forceps
1 needle holder Webster 5"
1 Mayo-Hegar needle holder 6"
1 iris scissors curved
1 Mayo scissors straight 6 3/4"
1 Metzenbaum scissors 7"
2 skin hooks
2 Senn retractors
1 syringe 20 ml
1 syringe 10 ml
1 irrigation cannula
2 hypodermic needles 21 G
1 sponge forceps Rampley 9 1/2"
2 nylon 4-0 on cutting needle
1 absorbable 4-0 on cutting needle
10 gauze swabs x-ray detectable
1 ribbon gauze packing
1 kidney dish
1 bandage scissors
1 blade remover
1 probe
1 splinter forceps
1 skin stapler
"""


def timed(arguments: list[str], *, times: int, env: dict[str, str]) -> float:
    """Median wall time of a command in seconds; a code above 1 ends the measurement."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        ran = subprocess.run(arguments, cwd=ROOT, env=env, capture_output=True, check=False)
        taken.append(time.perf_counter() - start)
        if ran.returncode > 1:
            sys.exit(f"{' '.join(arguments)}: {ran.stderr.decode()}")
    return statistics.median(taken)


def readme_command(clone: Path, env: dict[str, str]) -> list[tuple[str, str]]:
    """Wall time of the README's first command in a new clone: the first run and later ones."""
    subprocess.run(["git", "clone", "-q", str(ROOT), str(clone)], check=True)
    text = (clone / "README.md").read_text(encoding="utf-8")
    command = re.findall(r"```sh\n(.*?)```", text, re.S)[0]
    taken = []
    for _ in range(4):
        start = time.perf_counter()
        subprocess.run(["bash", "-euc", command], cwd=clone, env=env, check=True,
                       capture_output=True)
        taken.append(time.perf_counter() - start)
    return [
        ("README's first command in a new clone (packages in the installers' caches)",
         f"{taken[0]:.1f} s"),
        ("the same, run again", f"{statistics.median(taken[1:]):.1f} s"),
    ]


def in_process() -> dict[str, float]:
    """Milliseconds of a check inside one process that has loaded everything."""
    from etui.exchange import read_tray
    from etui.judging import Judge
    from etui.knowledge import load_reference
    from etui.reading import Reader
    from etui.trays import Tray, check, check_graph

    reference = load_reference()
    reader, judge = Reader(reference), Judge(reference)
    given = read_tray(TRAY.encode(), name="tray.txt")
    tray = Tray(title=given.title, procedures=("wound-repair", "abscess-drainage"),
                operator=given.operator, contents=given.contents)
    assert len(tray.contents) == 30

    def median(function: object) -> float:
        taken = []
        for _ in range(5):
            start = time.perf_counter()
            function(tray, reference=reference, reader=reader, judge=judge)  # type: ignore[operator]
            taken.append(1000 * (time.perf_counter() - start))
        return statistics.median(taken[1:])

    start = time.perf_counter()
    for line in tray.contents * 20:
        reader.read(line.text)
    lines = 600 / (time.perf_counter() - start)
    return {"report": median(check), "shacl": median(check_graph), "lines": lines}


def published() -> str:
    """How many lines of eight published lists are read right, asked about, or misread."""
    sys.path.insert(0, str(ROOT))
    from etui.knowledge import load_reference
    from etui.reading import Reader
    from tests.published.reading_share import shares

    right, silent, wrong = shares(Reader(load_reference()))
    total = len(right) + len(silent) + len(wrong)
    return (f"{len(right)} of {total} ({100 * len(right) / total:.0f} %); "
            f"{len(silent)} not taken, {len(wrong)} taken for something else")


def measure() -> list[tuple[str, str]]:
    """Names and figures, in the order of the page."""
    python, etui = sys.executable, str(Path(sys.executable).parent / "etui")
    rows: list[tuple[str, str]] = []
    with tempfile.TemporaryDirectory() as folder:
        tray = Path(folder) / "tray.txt"
        tray.write_text(TRAY, encoding="utf-8")
        cold_times = []
        for number in range(3):
            env = {**os.environ, "XDG_CACHE_HOME": str(Path(folder) / str(number))}
            cold_times.append(timed([etui, "check", str(tray)], times=1, env=env))
        warm = {**os.environ, "XDG_CACHE_HOME": str(Path(folder) / "0")}
        rows += readme_command(Path(folder) / "clone", warm)
        rows.append(("`etui check`, 30 lines, two procedures, cold (parses the graph)",
                     f"{statistics.median(cold_times):.2f} s"))
        rows.append(("the same, warm",
                     f"{timed([etui, 'check', str(tray)], times=5, env=warm):.2f} s"))
        for name, arguments in (
            ("`etui check --format turtle` (pySHACL), warm",
             ["check", str(tray), "--format", "turtle"]),
            ("`etui --help`", ["--help"]),
            ("`etui show haemostat-crile`", ["show", "haemostat-crile"]),
            ('`etui read "2 x Kelly"`', ["read", "2 x Kelly"]),
        ):
            rows.append((name, f"{timed([etui, *arguments], times=5, env=warm):.2f} s"))
        for module in ("etui", "etui.cli", "etui.exchange", "etui.reading", "etui.trays"):
            empty = timed([python, "-c", "pass"], times=5, env=warm)
            full = timed([python, "-c", f"import {module}"], times=5, env=warm)
            rows.append((f"`import {module}`, beyond starting Python",
                         f"{1000 * max(full - empty, 0):.0f} ms"))
    inside = in_process()
    rows.append(("check of the 30 lines inside a running process", f"{inside['report']:.0f} ms"))
    rows.append(("the same with the full SHACL report", f"{inside['shacl']:.0f} ms"))
    rows.append(("reading lines, one core", f"{inside['lines']:,.0f} lines a second"))
    rows.append(("lines of eight published lists read right (`tests/published`)", published()))
    return rows


def page(rows: list[tuple[str, str]]) -> str:
    """The page as Markdown."""
    machine = (f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores, "
               f"Python {platform.python_version()}")
    table = "\n".join(f"| {name} | {figure} |" for name, figure in rows)
    return f"""# Benchmarks

Measured by `tests/bench/measure.py` (wall time of new processes, medians), on
{machine}. Read ratios, not digits: other work on the
machine shows in them.

| what | measured |
|---|---|
{table}

Cold means an empty cache folder: the Turtle files are parsed and the records kept for the next
start. The cache is keyed by the contents of the files and of the code that reads them.

Further benchmarks run with `pytest tests/bench --benchmark-only`: questions about stand-ins, and
composition where it is tested. How well derived grades agree with stated ones is no matter of
speed: see [evaluation](../reference/evaluation.md).
"""


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--print", action="store_true", help="only show")
    text = page(measure())
    if parser.parse_args().print:
        print(text)
    else:
        (ROOT / "docs" / "explanation" / "benchmarks.md").write_text(text, encoding="utf-8")
