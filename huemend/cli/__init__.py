"""The command line: click and nothing else. One command a file; its module is imported when it is run.

What a command's help says is handed to click, and is no docstring: under PYTHONOPTIMIZE=2 there is none.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Mapping
from importlib import import_module
from typing import Any

import click

from huemend import __version__
from huemend.base.tasks import CALM_LIBRARIES
from huemend.base.text import printable
from huemend.cli.boundary import Interrupted, run
from huemend.cli.streams import fill_closed, hush_libraries

__all__ = ["huemend", "main"]

#: Command, and what `huemend --help` says of it; the order is that of a first day's work.
_COMMANDS: Mapping[str, str] = {
    "demo": "Write the demo setup into a folder.",
    "new": "Draft a setup file from a folder of stills or clips.",
    "match": "Match every angle of a setup to its hero.",
    "day": "Match every setup of a day, on one machine or a cluster.",
    "farm-template": "Write an Open Job Description template for a render farm.",
    "verify": "Measure an earlier match on other frames.",
    "bake": "Write an angle's media with the match in them.",
    "encodings": "List the camera encodings that are known.",
}


class _LazyGroup(click.Group):
    """A group that imports a command's module only when that command is run or asked for help.

    The picture and colour libraries take a second to load; `huemend --help` shall not.
    """

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _COMMANDS:
            return None
        module = import_module(f"huemend.cli.{cmd_name.replace('-', '_')}")
        command = next(value for value in vars(module).values() if isinstance(value, click.Command))
        if not any(param.name == "debug" for param in command.params):
            command.params.append(_debug_option())
        for param in command.params:
            if isinstance(param, click.Option):
                # Click would name it by the variable in our code: `--json` is `as_json` there.
                flag = max(param.opts, key=len).lstrip("-")
                param.envvar = f"HUEMEND_{cmd_name}_{flag}".replace("-", "_").upper()
        return command

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            raise Interrupted from None

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and not args[0].startswith("-") and args[0] not in _COMMANDS:
            from difflib import get_close_matches

            close = get_close_matches(args[0], list(_COMMANDS), n=1)
            hint = f"did you mean {close[0]}?" if close else f"there are {', '.join(_COMMANDS)}"
            raise click.UsageError(f"no such command '{printable(args[0])}'; {hint}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(_COMMANDS.items()))


def _set_debug(ctx: click.Context, param: click.Parameter, value: bool) -> bool:
    state: dict[str, Any] = ctx.find_root().ensure_object(dict)
    state["debug"] = bool(value) or state.get("debug", False)
    return value


def _debug_option() -> click.Option:
    return click.Option(
        ["--debug"],
        is_flag=True,
        expose_value=False,
        # Eager: it holds for a fault in reading the other options, too.
        is_eager=True,
        callback=_set_debug,
        help="Show where an error came from.",
    )


@click.group(
    cls=_LazyGroup,
    params=[_debug_option()],
    context_settings={
        "auto_envvar_prefix": "HUEMEND",
        "help_option_names": ["-h", "--help"],
        "max_content_width": 100,
    },
    help="Match the cameras of one multicam setup in scene-linear light, with proof.",
    epilog="Every option can be given as an environment variable, too: HUEMEND_MATCH_OUT for `match --out`.",
)
@click.version_option(__version__, message="huemend %(version)s")
def huemend() -> None:
    """All commands."""


def main() -> None:
    """Run the command line of this process and end it."""
    # Before numpy is loaded, which reads them once.
    os.environ.update(CALM_LIBRARIES)
    fill_closed()
    if "--debug" not in sys.argv and not os.environ.get("HUEMEND_DEBUG"):
        hush_libraries()
    code = run(huemend)
    # All is said and done: whoever interrupts now only ends the waiting.
    if signal.getsignal(signal.SIGINT) is not signal.SIG_IGN:
        signal.signal(signal.SIGINT, lambda *_: os._exit(code or 130))
    sys.exit(code)
