"""How people look and how they hold themselves."""

from __future__ import annotations

from dataclasses import dataclass

Point = tuple[float, float, float]

__all__ = ["Look", "Point", "Pose"]


@dataclass(frozen=True, kw_only=True)
class Look:
    """How a person looks.

    Attributes
    ----------
    skin : (surface, gain)
    hair : (surface, gain)
    style : str
        ``short``, ``bob``, ``bun``, ``curly``, ``scarf`` or ``bald``.
    top : str
        Pattern of the garment: ``plain``, ``plaid``, ``stripes``, ``knit``, ``dots`` or ``leaves``.
    colours : three surfaces
        Ground, first and second colour of the pattern.
    apron : surface or None
    sleeves : float
        Share of the forearm that the sleeve covers.
    beard, glasses : bool
    iris : str
        Surface of the iris.
    height, girth : float
        Metres, and a factor on width.
    jaw, nose : float
        Factors that vary the face.
    lips : float
        How much redder than the skin the lips are, 0..1.
    eyes : float
        How wide open the eyes are, and how thin the brows, 0..1.
    scarf : two surfaces
        Ground and spots of the scarf.
    """

    skin: tuple[str, float] = ("skin light 2", 0.9)
    hair: tuple[str, float] = ("hair brown", 1.2)
    style: str = "short"
    top: str = "plain"
    colours: tuple[str, str, str] = ("cotton light grey", "jeans dark blue", "fabric white")
    apron: str | None = None
    apron_gain: float = 1.0
    sleeves: float = 0.1
    beard: bool = False
    glasses: bool = False
    iris: str = "leather brown"
    height: float = 1.74
    girth: float = 1.0
    jaw: float = 1.0
    nose: float = 1.0
    lips: float = 0.45
    eyes: float = 0.0
    scarf: tuple[str, str] = ("towel red", "yarn yellow")


@dataclass(frozen=True, kw_only=True)
class Pose:
    """How a person holds themselves, in metres and degrees before scaling to their height.

    ``left`` and ``right`` are the wrists' places (the person's right hand lies at negative x), ``curl`` closes the
    fingers 0..1, ``yaw`` turns the head to the person's left, ``nod`` bows it, ``lean`` bends the trunk forward.
    """

    right: Point = (-0.20, -0.36, 1.02)
    left: Point = (0.20, -0.36, 1.02)
    curl: tuple[float, float] = (0.35, 0.35)
    palm: tuple[float, float] = (0.0, 0.0)
    yaw: float = 0.0
    nod: float = 0.0
    roll: float = 0.0
    lean: float = 4.0
