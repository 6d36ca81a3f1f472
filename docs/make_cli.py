"""Write docs/cli.md from the commands themselves: ``python docs/make_cli.py``."""

from __future__ import annotations

from pathlib import Path

import click

from huemend.cli import huemend

TARGET = Path(__file__).with_name("cli.md")


def cli_markdown() -> str:
    """Return the reference of every command as Markdown."""
    root = click.Context(huemend, info_name="huemend", terminal_width=100, **huemend.context_settings)
    parts = [
        "# The command line",
        "Made from the commands by `python docs/make_cli.py`; do not edit.",
        'For completion in your shell, put `eval "$(_HUEMEND_COMPLETE=bash_source huemend)"` into `~/.bashrc` '
        "(`zsh_source` and `~/.zshrc`, or `_HUEMEND_COMPLETE=fish_source huemend | source` for fish).",
        _block(huemend, root),
    ]
    for name in huemend.list_commands(root):
        command = huemend.get_command(root, name)
        if command is None:
            raise SystemExit(f"there is no module for the command {name}")
        context = click.Context(command, info_name=name, parent=root, terminal_width=100)
        parts += [f"## huemend {name}", _block(command, context)]
    return "\n\n".join(parts) + "\n"


def _block(command: click.Command, context: click.Context) -> str:
    lines = [line.rstrip() for line in command.get_help(context).splitlines()]
    return "```text\n" + "\n".join(lines) + "\n```"


if __name__ == "__main__":
    TARGET.write_text(cli_markdown(), encoding="utf-8")
