"""Every option of every command: its variable, and that programs find what they need on each long command."""

from __future__ import annotations

import dataclasses
from typing import Any

import click
import pytest

from huemend.cli import huemend as group
from huemend.options import WriteOptions

# With the names of the help option, which a command keeps from the first context that asks.
_ROOT = click.Context(group, info_name="huemend", **group.context_settings)


def commands() -> dict[str, click.Command]:
    found = {name: group.get_command(_ROOT, name) for name in group.list_commands(_ROOT)}
    return {name: command for name, command in found.items() if command is not None}


COMMANDS = commands()
OPTIONS = [
    pytest.param(name, option, id=f"{name} {option.opts[-1]}")
    for name, command in COMMANDS.items()
    for option in command.params
    if isinstance(option, click.Option)
]


def told(option: click.Option) -> list[str]:
    """Return values that differ from the option's default."""
    match option.type:
        case click.types.BoolParamType():
            return []
        case click.Choice():
            return [next(choice for choice in option.type.choices if choice != option.default)]
        case click.IntRange():
            return [str(int(option.type.min or 0) + 1)]
        case _:
            return ["one", "two"] if option.multiple else ["one"]


def parsed(name: str, args: list[str]) -> click.Context:
    """Parse a command line, without running the command."""
    command = COMMANDS[name]
    places = [str(param.name) for param in command.params if isinstance(param, click.Argument)]
    with click.Context(group, info_name="huemend", obj={}, **group.context_settings) as root:
        return command.make_context(name, [*places, *args], parent=root)


@pytest.mark.parametrize(("name", "option"), OPTIONS)
def test_a_variable_says_what_the_option_says(
    name: str, option: click.Option, monkeypatch: pytest.MonkeyPatch
) -> None:
    flag = max(option.opts, key=len)
    values = told(option)
    args = [word for value in values for word in (flag, value)] or [flag]
    by_option = parsed(name, args)
    # Named after the flag that people see.
    variable = f"HUEMEND_{name}_{flag.removeprefix('--')}".replace("-", "_").upper()
    monkeypatch.setenv(variable, " ".join(values) or "1")
    by_variable = parsed(name, [])
    source = by_variable.get_parameter_source(str(option.name))
    assert source is click.core.ParameterSource.ENVIRONMENT
    assert by_variable.params == by_option.params and by_variable.obj == by_option.obj
    monkeypatch.delenv(variable)
    untold = parsed(name, [])
    assert (untold.params, untold.obj) != (by_option.params, by_option.obj)


def test_the_command_line_wins_over_a_variable(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HUEMEND_MATCH_FAIL_ON", "never")
    assert parsed("match", ["--fail-on", "unsolved"]).params["fail_on"] == "unsolved"


@pytest.mark.parametrize("name", ["match", "day"])
def test_a_default_is_that_of_the_options(name: str) -> None:
    """A flag has none to take from there: left away, it must be what the options say."""
    told = {field.name: field.default for field in dataclasses.fields(WriteOptions)}
    said = {key: value for key, value in parsed(name, []).params.items() if key in told}
    assert len(said) > 5 and said == {key: told[key] for key in said}


@pytest.mark.parametrize("name", ["match", "day"])
def test_what_a_farm_needs(name: str) -> None:
    flags = {flag for param in COMMANDS[name].params for flag in param.opts}
    assert {"--json", "--log-json", "--quiet", "--dry-run", "--threads", "--fail-on", "--out", "--debug"} <= flags


def test_a_variable_that_makes_no_sense_is_a_usage_error(run: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HUEMEND_DAY_JOBS", "many")
    code, out, err = run("day", "anywhere")
    assert (code, out) == (2, "") and "--jobs" in err and "Traceback" not in err
