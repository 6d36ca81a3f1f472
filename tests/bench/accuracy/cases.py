"""Case folders: pictures of one setup, with the truth beside them.

A case folder holds a 16-bit PNG per camera and

- ``case.json``: ``hero``; ``encoding`` and optional ``file``, ``range`` and ``rotate``, each by camera name;
  optional ``blind`` (angles that share nothing with the hero: the right answer is no answer), ``settled``
  (angles that match as shot), ``people`` (names for the numbers in the truth's ``person``) and ``about``;
- ``truth_<angle>.npz``: ``shot`` and ``truth`` (height, width, 3), scene-linear ACEScg: the angle as shot
  without its noise, and what the hero's camera would have recorded from there; ``cls`` (height, width): what
  each pixel shows; optional ``person`` (height, width): whose skin, cloth or hair it is, 0 for nobody's;
- optional ``surfaces_<angle>.npz``: ``hero_xy`` and ``angle_xy`` (n, 2), pixels of the upright pictures that
  show the same point, and ``scale``, pixels of the angle to one of the hero. ``electrons`` in case.json then
  says how many a pixel collects from a mid-grey, by camera name.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.bench.accuracy import codes

#: What the numbers in ``cls`` mean.
CLASSES = ("set", "skin", "cloth", "hair", "leaf", "none")
SKIN = CLASSES.index("skin")


@dataclass(frozen=True, kw_only=True)
class Camera:
    """One camera of a case: where its picture is and how it is encoded."""

    name: str
    picture: Path
    encoding: str
    range: str = "full"
    rotate: int = 0

    def linear(self, *, largest: int = 640) -> NDArray[np.float64]:
        """The upright picture as (height, width, 3) scene-linear ACEScg, at most ``largest`` pixels wide.

        The baselines work on whole-frame statistics; averaging down first spares them the noise.
        """
        bgr = cv2.imread(str(self.picture), cv2.IMREAD_UNCHANGED)
        if bgr is None:
            raise SystemExit(f"{self.picture}: cannot be read")
        values = bgr[..., ::-1] / np.iinfo(bgr.dtype).max
        rgb = codes.decode(values, self.encoding, legal=self.range == "legal")
        rgb = np.rot90(rgb, -self.rotate // 90)
        if rgb.shape[1] > largest:
            size = (largest, round(rgb.shape[0] * largest / rgb.shape[1]))
            rgb = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA).astype(float)
        return rgb


@dataclass(frozen=True, kw_only=True, eq=False)
class Truth:
    """What an angle should look like after a perfect match; arrays as in the module's docstring."""

    shot: NDArray[np.float64]
    truth: NDArray[np.float64]
    cls: NDArray[np.uint8]
    person: NDArray[np.uint8]


@dataclass(frozen=True, kw_only=True)
class Case:
    """One setup with a known answer."""

    name: str
    folder: Path
    hero: str
    cameras: tuple[Camera, ...]
    blind: frozenset[str] = frozenset()
    settled: frozenset[str] = frozenset()
    people: tuple[str, ...] = ()
    about: str = ""
    electrons: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def read(cls, folder: Path) -> Case:
        """Read ``folder/case.json``."""
        spec = json.loads((folder / "case.json").read_text("utf-8"))
        shared_range = spec.get("range", "full")
        cameras = []
        for name, encoding in spec["encoding"].items():
            cameras.append(
                Camera(
                    name=name,
                    picture=(folder / spec.get("file", {}).get(name, f"{name}.png")).resolve(),
                    encoding=encoding,
                    range=shared_range if isinstance(shared_range, str) else shared_range.get(name, "full"),
                    rotate=spec.get("rotate", {}).get(name, 0),
                )
            )
        return cls(
            name=folder.name,
            folder=folder,
            hero=spec["hero"],
            cameras=tuple(cameras),
            blind=frozenset(spec.get("blind", ())),
            settled=frozenset(spec.get("settled", ())),
            people=tuple(spec.get("people", ())),
            about=spec.get("about", ""),
            electrons=spec.get("electrons", {}),
        )

    def __getitem__(self, name: str) -> Camera:
        return next(camera for camera in self.cameras if camera.name == name)

    @cached_property
    def angles(self) -> tuple[Camera, ...]:
        """The cameras that are to be matched: those with a truth, without the hero."""
        return tuple(c for c in self.cameras if c.name != self.hero and self.truth_file(c.name).exists())

    def truth_file(self, angle: str) -> Path:
        return self.folder / f"truth_{angle}.npz"

    def truth(self, angle: str) -> Truth:
        """The truth of one angle; pixels that are not finite are left out of the returned class map."""
        with np.load(self.truth_file(angle)) as data:
            shot, truth = data["shot"].astype(float), data["truth"].astype(float)
            kinds = data["cls"].astype(np.uint8)
            person = data["person"].astype(np.uint8) if "person" in data else np.zeros_like(kinds)
        if not (np.isfinite(shot).all() and np.isfinite(truth).all()):
            raise SystemExit(f"{self.truth_file(angle)}: holds values that are not finite")
        return Truth(shot=shot, truth=truth, cls=kinds, person=person)

    def surfaces(self, angle: str) -> Path:
        return self.folder / f"surfaces_{angle}.npz"

    def setup_file(self, folder: Path) -> Path:
        """The case's own setup.toml, or one written into ``folder`` from case.json."""
        own = self.folder / "setup.toml"
        if own.exists():
            return own
        lines = ["[setup]", f"name = {json.dumps(self.name)}", f"hero = {json.dumps(self.hero)}"]
        for camera in self.cameras:
            lines += [
                "",
                f"[angle.{json.dumps(camera.name)}]",
                f"media = [{json.dumps(str(camera.picture))}]",
                f"encoding = {json.dumps(camera.encoding)}",
                f"range = {json.dumps(camera.range)}",
            ]
            if camera.rotate:
                lines.append(f"rotate = {camera.rotate}")
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / "setup.toml"
        path.write_text("\n".join(lines) + "\n", "utf-8")
        return path


def find_cases(folders: list[Path]) -> list[Case]:
    """Every case in the given folders: each is a case itself or holds cases, sorted by name."""
    found = []
    for folder in folders:
        if (folder / "case.json").exists():
            found.append(Case.read(folder))
        else:
            found += [Case.read(path.parent) for path in sorted(folder.glob("*/case.json"))]
    return found
