"""An Open Job Description template: one task a setup, then one that makes the index of the day.

The form is that of the Open Job Description specification, revision 2023-09. A template is JSON, which the
specification allows beside YAML, and needs no library to write.
"""

from __future__ import annotations

import glob
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from huemend.base.files import read_regular
from huemend.errors import InputError

_REVISION = "jobtemplate-2023-09"
_OPENING = "{{"
_LARGEST = 64 * 1024 * 1024
_LONGEST_VALUE = 1024
#: Values that a parameter, which is what setups are in a step, may have.
_MOST_SETUPS = 1024
_LONGEST_NAME = 64
#: Seconds between the notice and the end, which is what a task needs to clear away after itself.
_NOTICE = 30


def farm_template(
    title: str,
    names: Sequence[str],
    *,
    arguments: Sequence[str] = (),
    carry: bool = False,
    beside: bool = False,
) -> dict[str, Any]:
    """Return the template of a day's job, ready for JSON; ``names`` are those of its setups.

    Its parameters ``Day`` and ``Out`` are the folders, ``Huemend`` the program, ``Threads`` those of one task;
    ``arguments`` are further options of ``huemend day`` for every task. With ``carry`` it has a step that lends
    poor setups what earlier ones learnt; ``beside`` one another, template and day need no paths to be given.
    Raises InputError where a setup's name or an option cannot stand in a template.
    """
    for name in names:
        if _OPENING in name or len(glob.escape(name)) > _LONGEST_VALUE:
            raise InputError("this name cannot stand in a template", where=name, todo="rename the setup's folder")
    for argument in arguments:
        if _OPENING in argument:
            raise InputError("this cannot stand in a template", where=argument, todo="rename the file")
    parts = [names[i : i + _MOST_SETUPS] for i in range(0, len(names), _MOST_SETUPS)]
    match = [_tasks(_numbered("Match", i, parts), part, [*arguments], after=[]) for i, part in enumerate(parts)]
    steps, last = list(match), [step["name"] for step in match]
    if carry:
        carrying = [*arguments, "--carry", "--resume"]
        lend = [_tasks(_numbered("Carry", i, parts), part, carrying, after=last) for i, part in enumerate(parts)]
        steps, last = [*steps, *lend], [step["name"] for step in lend]
    index = _step("Index", ["--index-only"], after=last)
    return {
        "specificationVersion": _REVISION,
        "name": f"huemend: {title.replace(_OPENING, '{')}"[:_LONGEST_NAME],
        "description": f"Match {len(names)} setups, then make the index of the day.",
        "parameterDefinitions": [
            _folder("Day", "Folder of the day", "IN", "." if beside else None),
            _folder("Out", "Folder for the results", "OUT", "match" if beside else None),
            {"name": "Huemend", "type": "STRING", "default": "huemend", "description": "The program."},
            {"name": "Threads", "type": "INT", "default": 2, "minValue": 1, "description": "Threads of one task."},
        ],
        "steps": [*steps, index],
    }


def is_template(path: Path) -> bool:
    """Say whether a file is a template that huemend wrote, which another may replace."""
    try:
        said = json.loads(read_regular(path, _LARGEST) or b"")
    except (ValueError, RecursionError):
        return False
    keys = {"specificationVersion", "name", "description", "parameterDefinitions", "steps"}
    return isinstance(said, dict) and set(said) == keys and str(said["name"]).startswith("huemend: ")


def _numbered(name: str, index: int, parts: Sequence[Any]) -> str:
    return name if len(parts) == 1 else f"{name} {index + 1}"


def _folder(name: str, label: str, flow: str, default: str | None) -> dict[str, Any]:
    found = {
        "name": name,
        "type": "PATH",
        "objectType": "DIRECTORY",
        "dataFlow": flow,
        "userInterface": {"control": "CHOOSE_DIRECTORY", "label": label},
    }
    return found if default is None else found | {"default": default}


def _tasks(name: str, setups: Sequence[str], arguments: Sequence[str], *, after: Sequence[str]) -> dict[str, Any]:
    step = _step(name, ["--only", "{{Task.Param.Setup}}", "--jobs", "1", *arguments], after=after)
    # --only takes patterns; a bracket in a folder's name is none.
    values = [glob.escape(setup) for setup in setups]
    space = {"taskParameterDefinitions": [{"name": "Setup", "type": "STRING", "range": values}]}
    return step | {"parameterSpace": space}


def _step(name: str, arguments: Sequence[str], *, after: Sequence[str]) -> dict[str, Any]:
    # A verdict, or footage that cannot be read, is a result and stands in the index; a task that fails would
    # keep the index from being made. A failure of the machine still fails the task, so that the farm tries again.
    command = ["day", "{{Param.Day}}", "--out", "{{Param.Out}}", "--fail-on", "never", "--quiet"]
    run = {
        "command": "{{Param.Huemend}}",
        "args": [*command, "--threads", "{{Param.Threads}}", *arguments],
        "cancelation": {"mode": "NOTIFY_THEN_TERMINATE", "notifyPeriodInSeconds": _NOTICE},
    }
    step: dict[str, Any] = {"name": name, "script": {"actions": {"onRun": run}}}
    if after:
        step["dependencies"] = [{"dependsOn": other} for other in after]
    return step
