"""What is said of a person's skin in two views."""

from __future__ import annotations

import re
from dataclasses import dataclass


def is_skin(label: str) -> bool:
    """Say whether the name of a surface speaks of skin, be it a found face's or one that somebody wrote.

    >>> [is_skin(name) for name in ("skin of person 2", "Anna's Skin", "his face", "table surface")]
    [True, True, True, False]
    """
    return "skin" in label.lower() or "face" in re.findall("[a-z]+", label.lower())


@dataclass(frozen=True, kw_only=True)
class SkinColour:
    """One skin in one view, in the measurement view."""

    #: Hue angle in CIELAB, 0..360: red is near 30, yellow near 90.
    hue_degrees: float
    #: Chroma in CIELAB.
    saturation: float
    #: Light against the same skin on the hero.
    exposure_stops: float
    #: CIEDE2000 against the same skin on the hero, light forgiven as far as it may differ between the views.
    error: float


@dataclass(frozen=True, kw_only=True)
class SkinCheck:
    """One person against themselves: on the hero, on the angle as shot, and after the match.

    ``name`` is the label of the pairs, ``skin`` or ``skin of person 2``, people being counted from the left of the
    hero's picture; ``samples`` says how many patches of skin were compared.
    """

    name: str
    samples: int
    hero: SkinColour
    before: SkinColour
    after: SkinColour
