"""What is said of an angle: its verdict, and every reason with the place where it shows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Verdict(StrEnum):
    """What the evidence says of one angle."""

    MATCHED = "matched"
    REVIEW = "review"
    UNSOLVED = "unsolved"


WORST_FIRST = (Verdict.UNSOLVED, Verdict.REVIEW, Verdict.MATCHED)


@dataclass(frozen=True, kw_only=True)
class Place:
    """A spot on one picture of an angle, upright and cropped.

    Attributes
    ----------
    moment : int
        Which of the angle's pictures.
    x, y : float
        Its middle, in fractions of the picture's width and height.
    radius : float
        In fractions of the picture's width.
    """

    moment: int
    x: float
    y: float
    radius: float


@dataclass(frozen=True, kw_only=True)
class Reason:
    """Why something is as it is: a stable code for scripts, a sentence for people.

    ``text`` is one sentence in a colorist's words; ``todo`` says what to do about it (may be empty); ``place`` is
    where on the angle's picture it shows most, if it was found there, and ``reference_place`` where on the picture
    of what the angle is matched to, if it takes both to see it; ``label`` is that of the pairs it is about, if
    they have one.
    """

    code: str
    text: str
    todo: str = ""
    place: Place | None = None
    reference_place: Place | None = None
    label: str = ""
