"""For scripts and notebooks: what ``huemend match`` does, as calls that take plain paths."""

from __future__ import annotations

import os
from pathlib import Path

from huemend.encodings.registry import find_working_encoding
from huemend.flow.deliver import default_out, output_folder, write_setup
from huemend.flow.deliver import match_and_write as _match_and_write
from huemend.model import OnEvent, Setup, SetupResult
from huemend.options import MatchOptions


def match_and_write(
    setup: Setup,
    out: str | os.PathLike[str] | None = None,
    options: MatchOptions | None = None,
    on_event: OnEvent | None = None,
) -> SetupResult:
    """Match every angle of a setup to its hero, and write LUTs, report and record.

    Parameters
    ----------
    out : path, optional
        Output folder; ``match`` beside the setup file if not given.
    on_event : callable, optional
        Is told of progress.

    Raises
    ------
    InputError
        A medium or an encoding cannot be read or understood, or the folder cannot be written.
    """
    options = options or MatchOptions()
    find_working_encoding(options.write.working_encoding)
    with output_folder(setup, default_out(setup) if out is None else Path(out), options) as folder:
        result, _ = _match_and_write(setup, folder, options, on_event=on_event)
    return result


def write_match(
    result: SetupResult,
    out: str | os.PathLike[str] | None = None,
    options: MatchOptions | None = None,
    on_event: OnEvent | None = None,
) -> Path:
    """Write LUTs, report and record of a result; return the folder.

    Parameters
    ----------
    result : SetupResult
        Of `match_setup`.
    out : path, optional
        Output folder; ``match`` beside the setup file if not given.
    options : MatchOptions, optional
        Those that the setup was matched with.
    on_event : callable, optional
        Is told of progress.

    Raises
    ------
    InputError
        The folder cannot be written.
    """
    options = options or MatchOptions()
    find_working_encoding(options.write.working_encoding)
    where = default_out(result.setup) if out is None else Path(out)
    with output_folder(result.setup, where, options) as folder:
        write_setup(result, folder, options, on_event=on_event)
    return where
