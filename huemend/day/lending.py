"""Which setups of a day lend to which: the same two cameras, earlier in the day.

Every setup is first matched on its own, in any order and by any number of workers. What each learnt is kept beside
its results. Only then is lent, from those that could be trusted to those that could not, and these are matched
again: so a result depends on no other lent result, and on nothing that comes later in the day.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from huemend.day.state import RunState, read_state
from huemend.model import SetupResult, Verdict
from huemend.model.learnt import Carried, Learnt
from huemend.options import CarryOptions
from huemend.solve.lend import pool


def lessons(result: SetupResult) -> dict[str, Any]:
    """Return, as JSON, what a setup's own footage says of each angle's camera and the hero's.

    ``cameras`` names the two by their angles and encodings: on a day, an angle's name is taken to be a camera's.
    """
    hero = result.setup[result.setup.hero]
    out = {}
    for found in result.angles:
        angle = found.angle
        out[angle.name] = {
            "cameras": [hero.name, hero.encoding, angle.name, angle.encoding],
            # An angle that borrowed was not to be trusted by its own footage.
            "trusted": found.verdict is Verdict.MATCHED and found.carried is None,
            "learnt": None if found.learnt is None else found.learnt.as_json(),
        }
    return out


def lend(
    day: Sequence[tuple[str, Path]], options: CarryOptions
) -> Iterator[tuple[str, RunState, dict[str, Carried]]]:
    """Yield, for every setup of a day that has results, what the earlier ones lend to its angles.

    All setups come, as name and output folder, in the day's order.
    """
    earlier: dict[tuple[str, ...], list[tuple[str, Learnt]]] = {}
    for name, out in day:
        state = read_state(out)
        if state is None or not state.done:
            continue
        taught = dict(_taught(state))
        lent: dict[str, Carried] = {}
        for angle, lesson in taught.items():
            carried = None if lesson.trusted else pool(earlier.get(lesson.cameras, ()), options)
            if carried is not None:
                lent[angle] = carried
        yield name, state, lent
        for lesson in taught.values():
            if lesson.trusted and lesson.learnt is not None:
                earlier.setdefault(lesson.cameras, []).append((name, lesson.learnt))


@dataclass(frozen=True, kw_only=True)
class _Lesson:
    """What a setup says of one angle's camera and the hero's."""

    cameras: tuple[str, ...]
    #: That its own footage proved the match.
    trusted: bool
    learnt: Learnt | None


def _taught(state: RunState) -> Iterator[tuple[str, _Lesson]]:
    for angle, said in state.learnt.items():
        try:
            cameras = tuple(str(name) for name in said["cameras"])
            learnt = None if said["learnt"] is None else Learnt.from_json(said["learnt"])
            yield angle, _Lesson(cameras=cameras, trusted=bool(said["trusted"]), learnt=learnt)
        except (KeyError, TypeError, ValueError, OverflowError):
            continue  # somebody's edit of the file; what it says is not lent
