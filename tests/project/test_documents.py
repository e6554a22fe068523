"""What is documented is what there is: commands, files at the top, public names."""

from __future__ import annotations

import importlib
import inspect
import re
import shlex
import subprocess
from pathlib import Path

import click
import pytest

from etui import cli

TOP = re.compile(
    r"README\.md|DEVELOPERS\.md|pyproject\.toml|ontology|shapes|api|tests|docs|demo_graph|"
    r"LICENSE|CHANGELOG\.md|uv\.lock|\..+"
)


def pages(root: Path) -> list[Path]:
    return [root / "README.md", root / "DEVELOPERS.md", root / "demo_graph" / "README.md",
            *sorted((root / "docs").rglob("*.md"))]


def commands_in(text: str) -> list[str]:
    """Every call of etui in the code of a page: blocks and words in back quotes."""
    code = re.findall(r"```(?:sh|console|bash)\n(.*?)```", text, re.S)
    found = [line for block in code for line in block.replace("\\\n", " ").splitlines()]
    found += re.findall(r"`(etui [^`]+)`", text)
    calls = []
    for line in found:
        for part in re.split(r"&&|\|\||[;|{}]", line):
            match = re.match(r"\s*(?:\$ )?(?:\.venv/bin/)?etui (.+)", part)
            if match:
                calls.append(match[1].strip())
    return calls


def test_top_level_is_exact(root: Path) -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=root, capture_output=True, text=True,
                            check=False)
    if listed.returncode:
        pytest.skip("not a git clone")
    names = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert not [n for n in names if not TOP.fullmatch(n)]
    assert {"README.md", "DEVELOPERS.md", "ontology", "shapes", "api", "tests", "docs",
            "demo_graph", "LICENSE", "CHANGELOG.md", "uv.lock", "pyproject.toml"} <= names


def test_documented_commands_are_the_real_ones(root: Path) -> None:
    seen = set()
    for page in pages(root):
        for call in commands_in(page.read_text(encoding="utf-8")):
            words = shlex.split(call, comments=True)
            if not words or words[0] in ("COMMAND", "--help", "--version"):
                continue
            assert words[0] in cli.COMMANDS, f"{page.name}: etui {call}"
            command = cli.group.get_command(click.Context(cli.group), words[0])
            assert command is not None
            known = {o for p in command.params for o in (*p.opts, *p.secondary_opts)}
            known |= {"--help", "-h"}
            for word in words[1:]:
                if re.match(r"--?[a-z]", word):
                    assert word.split("=")[0] in known, f"{page.name}: etui {call}"
            seen.add(words[0])
    assert seen >= {"read", "check", "show", "list", "compare", "serve"}


def test_every_command_is_documented(root: Path) -> None:
    text = (root / "README.md").read_text(encoding="utf-8")
    for name in cli.COMMANDS:
        assert f"etui {name}" in text, name


def test_links_between_pages_lead_somewhere(root: Path) -> None:
    for page in pages(root):
        for target in re.findall(r"\]\(([^)#]+)", page.read_text(encoding="utf-8")):
            if "://" not in target:
                assert (page.parent / target).exists(), f"{page}: {target}"


def test_the_readme_opens_with_the_job_and_two_commands(root: Path) -> None:
    text = (root / "README.md").read_text(encoding="utf-8")
    opening = text.split("\n\n")[1]
    for word in ("does not replace", "stand-ins", "list"):
        assert word in opening
    blocks = re.findall(r"```sh\n(.*?)```", text, re.S)
    assert len(blocks) == 2
    assert all(b.startswith("python3 -m venv") and "uv sync" in b and "--locked" in b
               for b in blocks)
    assert "etui check" in blocks[0]
    assert "pytest" in blocks[1]
    assert "README.md" in (root / ".ci" / "run").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["etui", "etui.knowledge", "etui.exchange", "etui.reading",
                                  "etui.judging", "etui.trays", "etui.web"])
def test_public_names_exist_and_say_what_they_are(name: str) -> None:
    module = importlib.import_module(name)
    assert module.__all__
    assert len(set(module.__all__)) == len(module.__all__)
    for member in module.__all__:
        assert hasattr(module, member), member
        one = getattr(module, member)
        if inspect.isclass(one) or inspect.isfunction(one):
            assert one.__doc__, f"{name}.{member} has no docstring"


def test_nothing_points_at_one_machine(root: Path) -> None:
    bad = re.compile(r"(?<![\w./])/(?:root|home/\w+|tmp|work)/")
    for folder in ("api", "ontology", "shapes", "docs", "demo_graph"):
        for path in sorted((root / folder).rglob("*")):
            if path.suffix in (".py", ".ttl", ".md", ".csv", ".txt", ".html", ".js", ".css"):
                found = bad.search(path.read_text(encoding="utf-8"))
                assert not found, f"{path}: {found[0] if found else ''}"
