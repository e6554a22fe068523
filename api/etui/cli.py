"""The command line: ``etui COMMAND``.

Data go to standard output, messages to standard error.  Exit codes: 0 done (``check``: fit), 1
findings, 2 could not run.  Whatever goes wrong is told in one line; no traceback is shown unless
the environment variable ETUI_DEBUG is set.

Commands are loaded only when called, so that ``etui --help`` and short questions start at once.
"""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Sequence
from typing import NoReturn

import click

from etui import __version__
from etui.errors import EtuiError

COMMANDS: dict[str, tuple[str, str]] = {
    "read": ("read", "Say what a line of a count sheet names."),
    "replace": ("replace", "Grade a stand-in for a missing item, or list what can stand in."),
    "check": ("check", "Say whether a tray does its procedures, and what mends each gap."),
    "compose": ("compose", "Choose the shortest fit tray from a stock."),
    "compare": ("compare", "Tell two instruments apart, and what happens if they are swapped."),
    "show": ("show", "Show one instrument, procedure, step, source or rule."),
    "list": ("listing", "List what is in the reference, or look-alikes on a tray."),
    "audit": ("audit", "Check all trays of a folder against all rules."),
    "diff": ("diff", "Say what a change of a tray does to its readiness."),
    "justify": ("justify", "Write the committee's document on a tray: why each item is there."),
    "drill": ("drill", "Practise telling instruments and their uses apart."),
    "evaluate": ("evaluate", "Measure derived grades against stated ones."),
    "serve": ("serve", "Serve pages and the JSON interface over HTTP."),
    "build": ("build", "Rebuild what is derived from the graph, or check that it is fresh."),
}
"""Command -> (module in etui.commands, one line of help)."""


class LazyGroup(click.Group):
    """A group that knows its commands by name and loads one only when it is run."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        del ctx
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        del ctx
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"etui.commands.{COMMANDS[cmd_name][0]}")
        command = module.command
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            import difflib

            near = difflib.get_close_matches(args[0], COMMANDS, n=2, cutoff=0.5)
            hint = f"Did you mean {' or '.join(near)}?" if near else f"Use {', '.join(COMMANDS)}."
            raise click.UsageError(f'there is no command "{args[0]}". {hint}')
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.group(
    cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]},
    epilog="A reference for planning and teaching. Local protocol, manufacturers' instructions, "
    "sterile-processing rules and licensed judgement prevail.",
)
@click.version_option(__version__, prog_name="etui")
def group() -> None:
    """Etui: what each surgical and emergency instrument is for, what can stand in for it, and
    whether a tray is complete."""


def run(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; every error becomes one line."""
    try:
        result = group.main(args=list(argv) if argv is not None else None, prog_name="etui",
                            standalone_mode=False)
        code = result if isinstance(result, int) else 0
        sys.stdout.flush()
        return code
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.ClickException as error:
        return _say(error.format_message())
    except EtuiError as error:
        return _say(error.line)
    except (click.Abort, KeyboardInterrupt):
        return _say("stopped.", 130)
    except BrokenPipeError:
        # The reader of our output has gone ("| head"): end quietly, and let nothing be flushed.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except MemoryError:
        return _say("the input needs more memory than there is. Split it.")
    except RecursionError:
        return _say("the input is nested too deep.")
    except UnicodeEncodeError as error:
        return _say(f"the terminal cannot show {error.object[error.start:error.end]!a}. "
                    "Set PYTHONIOENCODING=utf-8.")
    except Exception as error:
        if os.environ.get("ETUI_DEBUG"):
            raise
        return _say(_unexpected(error))


def _unexpected(error: Exception) -> str:
    where = "unknown place"
    trace = error.__traceback__
    while trace is not None:
        name = trace.tb_frame.f_globals.get("__name__", "")
        if name.startswith("etui"):
            where = f"{name}, line {trace.tb_lineno}"
        trace = trace.tb_next
    what = " ".join(f"{type(error).__name__}: {error}".split())[:200]
    return (f"Etui itself failed ({what}; {where}). This is a fault of the program: please report "
            "it with the command and the input. ETUI_DEBUG=1 shows more.")


def _say(message: str, code: int = 2) -> int:
    line = " ".join(message.split())
    sys.stderr.write(f"etui: {line}\n")
    return code


def main() -> NoReturn:
    """Entry point of the ``etui`` command."""
    sys.exit(run())


if __name__ == "__main__":
    main()
