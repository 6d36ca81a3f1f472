"""Days and outputs drawn at random: whatever lies where, no file of somebody's changes a byte.

``python -m tests.hardening.anything --draws 500`` makes so many worlds. Each holds one or two tiny setups, some
with the results of an earlier match and bake; then files, links, hard links, pipes, folders and forged records are
put in places that a run would write to, and one to three commands are run with outputs and options drawn from the
same places. It returns 1 if a file that was there and is not huemend's own has changed or is gone, or if a command
ends with a fault of ours or does not end.

What is huemend's own: a file that one of its runs wrote in this world and nobody changed since, unless a setup
names it as a medium; and the few files of its machinery that carry its mark, whoever wrote them.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import shutil
import signal
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from huemend.base.kept import LEDGER
from huemend.base.lock import LOCK
from huemend.day.state import STATE
from huemend.errors import HuemendError
from huemend.sample.setupfile import load_setup
from huemend.write.record_reading import JOURNAL, RECORD
from tests.hardening.places import QUICK, Said, changes, command, made, snapshot
from tests.tally import Tally

#: Seconds that a command may take on a busy machine.
PATIENCE = 240

#: Names that huemend writes, and that an original may bear.
NAMES = (
    *("contact.png", "report.html", "summary.html", RECORD, "wall.ccc", "index.html", "day.csv", "day.toml"),
    *("luts", "luts/wall_B_match.cube", "luts/wall_A_view.cube", "luts/wall_B_match.clf", "B.tif", "B.exr"),
    *(JOURNAL, LOCK, LEDGER, STATE, "setup.toml", "job.json", "wall_clips.csv", "notes.txt", "baked", "0000"),
)
#: Folders below a world in which things are put and into which is written.
FOLDERS = (
    "",
    "0000",
    "0001",
    "0000/match",
    "0000/baked/wall_B_matched",
    "out",
    "out/0000",
    "elsewhere",
    "match",
    "match/0000",
)

MARKED = (RECORD, JOURNAL, LOCK, LEDGER, STATE)


class World:
    """A folder with a day in it, and what is huemend's own there."""

    def __init__(self, root: Path, template: Path, draw: random.Random) -> None:
        self.root = root
        self.draw = draw
        self.done: list[str] = []
        self.own: dict[str, str] = {}
        for name in ("0000", "0001")[: draw.choice((1, 1, 2))]:
            shutil.copytree(template / name, root / name)
            if draw.random() < 0.5:
                for part in ("match", "baked"):
                    shutil.rmtree(root / name / part, ignore_errors=True)
        (root / "elsewhere").mkdir()
        (root / "elsewhere" / "keep.png").write_bytes((template / "0001" / "A.png").read_bytes())
        for name, (kind, digest) in snapshot(root).items():
            if kind == "file" and ("/match/" in name or "/baked/" in name):
                self.own[name] = digest

    # ---------------------------------------------------------------------------------------- what lies there

    def place(self) -> Path:
        """Draw a place."""
        return self.root / self.draw.choice(FOLDERS) / self.draw.choice(NAMES)

    def folder(self) -> Path:
        """Draw a folder that may be there or not."""
        return self.root / self.draw.choice((*FOLDERS, "new", "new/deep", "link"))

    def original(self) -> Path:
        """Draw a file of somebody's."""
        files = [path for path in self.root.rglob("*.png") if path.is_file()]
        return self.draw.choice([*files, self.root / "0000" / "setup.toml"])

    def put(self) -> None:
        """Put something somewhere, or change what is there."""
        path = self.place()
        doing = self.draw.choice(
            (
                self._file,
                self._link,
                self._hard_link,
                self._folder,
                self._pipe,
                self._forge,
                self._edit,
                self._medium,
            )
        )
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            doing(path)
        except OSError:
            return  # something stands there already
        self.done.append(f"{doing.__name__[1:]} {path.relative_to(self.root)}")

    def _file(self, path: Path) -> None:
        data = self.draw.choice((b"", b"somebody's work", self.original().read_bytes(), b"{}", b'{"schema": "x"}'))
        with open(path, "xb") as file:
            file.write(data)

    def _link(self, path: Path) -> None:
        path.symlink_to(self.draw.choice((self.original(), self.folder(), Path("nowhere"), path)))

    def _hard_link(self, path: Path) -> None:
        os.link(self.original(), path)

    def _folder(self, path: Path) -> None:
        path.mkdir()
        (path / "inside").write_bytes(b"somebody's work")

    def _pipe(self, path: Path) -> None:
        os.mkfifo(path)

    def _forge(self, path: Path) -> None:
        """Write a record, journal or ledger that lists somebody's files, with their hashes."""
        listed = [self.original() for _ in range(3)]
        listed.append(path.parent / self.draw.choice(NAMES))
        files = []
        for each in listed:
            data = each.read_bytes() if each.is_file() else b""
            name = os.path.relpath(each, path.parent)
            files.append({"path": name, "sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)})
        if self.draw.random() < 0.5:
            found = next(iter(self.root.rglob(f"match/{RECORD}")), None)
            record = json.loads(found.read_text()) if found is not None and found.is_file() else {"schema": "x"}
            path.with_name(RECORD).write_text(json.dumps({**record, "files": files}))
        else:
            name = self.draw.choice((JOURNAL, LEDGER))
            lines = [json.dumps([each["sha256"], "", each["path"]]) for each in files]
            path.with_name(name).write_text("\n".join(["huemend-written/1", *lines, ""]))

    def _edit(self, path: Path) -> None:
        """Change a file of huemend's."""
        own = [name for name in self.own if (self.root / name).is_file()]
        if own:
            with open(self.root / self.draw.choice(own), "ab") as file:
                file.write(b"\n")

    def _medium(self, path: Path) -> None:
        """Let a setup name another medium for B, which may be a file of huemend's."""
        setup = self.root / "0000" / "setup.toml"
        choices = (
            "match/contact.png",
            "*.png",
            "../elsewhere/keep.png",
            "baked/wall_B_matched/B.tif",
            "contact.png",
        )
        setup.write_text(setup.read_text().replace('"B.png"', f'"{self.draw.choice(choices)}"'))

    # --------------------------------------------------------------------------------------------- what is run

    def arguments(self) -> list[object]:
        """Draw a command."""
        draw, setup = self.draw, self.root / self.draw.choice(("0000", "0000", "0001")) / "setup.toml"
        out = draw.choice((self.folder, self.folder, self.place))()
        told: list[object]
        kind = draw.choices(
            ("match", "bake", "farm-template", "new", "demo", "verify", "index", "day"), (8, 8, 3, 2, 1, 1, 3, 1)
        )[0]
        if kind == "match":
            told = ["match", setup, "--out", out, *QUICK]
            told += draw.choice(([], ["--no-pictures"], ["--segments"], ["--edl", self.original()]))
        elif kind == "bake":
            told = ["bake", setup, draw.choice(("B", "B", "A")), "--quiet", "--out", out]
            told += draw.choice(([], ["--overwrite"], ["--overwrite"]))
            told += draw.choice(([], ["--format", "exr"], ["--format", "prores-4444"]))
            told += draw.choice(([], [], ["--match", self.root / "0000" / "match"]))
        elif kind == "farm-template":
            told = ["farm-template", self.root, "--out", draw.choice((out, self.original()))]
        elif kind == "new":
            told = ["new", draw.choice((out, self.root / "0001")), "--encoding", "ACEScct"]
        elif kind == "demo":
            told = ["demo", out]
        elif kind == "verify":
            told = ["verify", setup, "--quiet", "--match", out]
        elif kind == "index":
            told = ["day", self.root, "--index-only", "--quiet", "--out", out]
        else:
            told = ["day", self.root, "--quiet", "--jobs", 1, "--no-pictures", "--lut-size", 5, "--out", out]
        return told

    def exempt(self, before: dict[str, tuple[str, str]], setups: tuple[Path, ...]) -> Iterator[str]:
        """Yield what huemend may change: its own files as it left them, no medium of a setup among them."""
        media = {os.path.realpath(path) for setup in setups for path in _media(setup)}
        for name, (kind, digest) in before.items():
            path = self.root / name
            own = self.own.get(name) == digest or (kind == "file" and path.name in MARKED and _marked(path))
            if own and os.path.realpath(path) not in media:
                yield name

    def run(self, tally: Tally) -> None:
        """Run a command, and look at everything afterwards."""
        told = self.arguments()
        before = snapshot(self.root)
        own = set(self.exempt(before, tuple(self.root / name / "setup.toml" for name in ("0000", "0001"))))
        said = _patiently(lambda: command(*told))
        after = snapshot(self.root)
        shown = " ".join(str(each).replace(f"{self.root}/", "") for each in told)
        self.done.append(f"{shown} -> {said.code}")
        tally.seen[f"{told[0]}: exit code {said.code}"] += 1
        harm = changes(before, after, own)
        # A day of which a setup could not be written ends with 1, so that a farm notices.
        good = (0, 1, 2, 3, 4, 5) if told[0] == "day" else (0, 2, 3, 4, 5)
        if said.code not in good or "Traceback" in said.stderr or "fault in huemend" in said.stderr:
            harm.append(f"ends with {said.code}: {said.stderr[-400:]}")
        tally.wrong += [f"{line}  [{'; '.join(self.done)}]" for line in harm]
        for name, (kind, digest) in after.items():
            if kind == "file" and before.get(name) != (kind, digest):
                self.own[name] = digest


def _media(setup: Path) -> tuple[Path, ...]:
    try:
        return load_setup(setup).files
    except (HuemendError, OSError):
        return ()


def _marked(path: Path) -> bool:
    """Say whether a file of the machinery carries huemend's mark."""
    data = path.read_bytes()
    return not data.strip() or b"huemend-" in data[:200] or (path.name == LOCK and len(data.split()) == 2)


class _Late(Exception):
    pass


def _patiently(work: Callable[[], Said]) -> Said:
    """Run a command in this process, and end it if it does not end."""

    def late(number: int, frame: object) -> None:
        raise _Late

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(PATIENCE)
    try:
        return work()
    except _Late:
        return Said(99, "", "does not end")
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


@contextmanager
def _unmoved() -> Iterator[None]:
    """Leave signals as they were: the command line takes SIGTERM for itself."""
    before = signal.getsignal(signal.SIGTERM)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def draw_worlds(
    place: Path, count: int, *, seed: int = 1, say: Callable[[str], None] = lambda text: None
) -> Tally:
    """Make so many worlds below a folder, run commands in each, and return what was seen."""
    template = made(place / "made")
    tally = Tally()
    with _unmoved():
        for number in range(count):
            draw = random.Random(f"{seed} {number}")
            root = place / f"world{number}"
            root.mkdir()
            world = World(root, template, draw)
            if draw.random() < 0.3:
                (root / "link").symlink_to(draw.choice(("0000", "elsewhere", "nowhere")))
            for _ in range(draw.randint(1, 7)):
                world.put()
            for _ in range(draw.randint(1, 3)):
                world.run(tally)
            shutil.rmtree(root, ignore_errors=True)
            if number % 20 == 19:
                say(f"{number + 1} worlds, {sum(tally.seen.values())} commands, wrong: {len(tally.wrong)}")
    return tally


def main() -> int:
    """Draw worlds and print what was seen."""
    parser = argparse.ArgumentParser(prog="python -m tests.hardening.anything", description=__doc__)
    parser.add_argument("--draws", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        tally = draw_worlds(
            Path(folder).resolve(),
            options.draws,
            seed=options.seed,
            say=lambda text: print(text, file=sys.stderr, flush=True),
        )
    return tally.report()


if __name__ == "__main__":
    raise SystemExit(main())
