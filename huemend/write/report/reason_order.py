"""Which reason comes first: what speaks most against using a match, before what is only worth knowing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from operator import attrgetter
from typing import TypeVar

from huemend.model.reasons import Code

_One = TypeVar("_One")

#: The gravest first; a code that is not known is of middling gravity, before what only limits where a match holds.
_ORDER = tuple(Code)
_MIDDLING = _ORDER.index(Code.UNCOVERED)


def gravity(code: str) -> int:
    """Return the place of a reason's code among all, the gravest first.

    >>> gravity("nothing-shared") < gravity("of-next-year") < gravity("proven")
    True
    """
    return next((place for place, known in enumerate(_ORDER) if known == code), _MIDDLING)


def by_gravity(reasons: Sequence[_One], code: Callable[[_One], str] = attrgetter("code")) -> list[_One]:
    """Return reasons, the gravest first; equals keep their order. ``code`` reads the code of one."""
    return sorted(reasons, key=lambda reason: gravity(code(reason)))
