"""Print the corpus as a table: ``python -m tests.hardening > docs/hardening.md``; 1 if a case ends badly."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.hardening.corpus import CASES
from tests.hardening.run import play_all

HEAD = """# What bad input does
## What is held
**Nothing of somebody's is written over, emptied or removed**, by any command, whatever is asked (`--out`,
`--overwrite`) and whatever lies there. A writer replaces a file only if an earlier run of huemend wrote it, and
only while it has the hash that was noted then: in the record, in the journal of a run that did not end, or in the
hidden `.huemend-written` beside baked media and a day's index. It is never a file of the setup (media, setup
file, tables, look, timeline), by whatever name, link or hard link it is reached. Below an output folder no part
of a path may be a link; the folder itself may be one, since somebody named it. Lock files are opened without
following links and are not changed before they are held. What cannot be written is told before the work begins,
with exit code 3, and nothing is changed.

**A record has nothing removed that it only claims**: files go only from inside the folder, under names that a
result has, if they are regular files with the hash that is listed. What a forged `report.json` or journal can
still do is to be replaced itself: who writes huemend's own mark into a file gives it away.

**A file is whole or absent**, after every kill. A bake that is run again goes on with the pictures that it noted
as its own, by their hashes, and clears away what was half-written under the names that it writes.

**A delivered LUT is used only as it was written**, from a run that came to its end, on media of the encoding and
range that were matched. **A folder is passed over for its results** by `day` only if huemend wrote them.

**Every file that is not media is read through one bounded reader** (`huemend.base.reading`), only where it is a
regular file, and never more of it than `huemend.options.FileOptions` says: a pipe, a device or a file without end
in the place of a setup file, table, EDL, timeline, LUT, look or record is told at once. What huemend wrote itself
is read so and through no link (`huemend.base.files`). Media must be regular files, too; a still's size and header
come before its pixels, and what was decoded is what was hashed. A clip that is a list of other files or addresses
is not opened. A record is held to its schema once, when it is read.

**No stream ends a match.** Closed streams are led to nowhere before a file could take their number. A word about
what was written elsewhere may be lost; what was asked for on stdout and lost is exit code 1, or 141 where its
reader left. stderr holds our own lines alone unless with `--debug`, and neither stream what would move a cursor.
Ctrl-C is one line and 130 from the moment that our own code runs. The first 0.04 s of a process are Python's: it
starts itself, reads the paths of installed packages and only then the entry point, so that no code of a package
can answer earlier. It shows a traceback then; nothing has begun.

**Text from outside has one function for each place that it goes to** (`huemend.base.text`): terminal, shell, JSON,
CSV, XML, TOML. What `new` drafts reads back as what was meant and nothing more.

**Memory**: one still of 120 megapixels is baked in 2.0 GB; a flat one is refused at 1.5 GB, and 400 GB of
nothing beside a sound one at 1.8 GB, before they are read. A turn and a crop are made while a still is read,
without a copy of it. Two that are matched take 1.9 GB with `--no-pictures`, and 2.2 GB where the report shows
them closely (measured on the peak resident size).

What is not held: somebody who can change a folder between a look and the write that follows it; and one who
forges huemend's own notes beside a file of another setup, with its right hash and under a name that is written
there (for a bake, with `--overwrite`), has it replaced. Either could do so himself with the rights that it takes.

`test_readers.py`, `test_records.py`, `test_streams.py`, `test_names.py`, `test_any_text.py` hold the latter, and
`tests/hardening/test_originals.py`, `test_delivered.py` and `test_bakes.py` hold this case by case; `python -m
tests.hardening.anything --draws 500` draws days, outputs, links and forgeries at random and looks at every byte
before and after; `python -m tests.bench.kill_bakes --kills 50` and `tests.bench.kills` kill runs.

## What bad files do
Made by `python -m tests.hardening > docs/hardening.md`. Every case is a good setup of two tiny stills with one
thing spoilt, matched (or drafted by `new`, or baked) by the real command in a process of its own, forked from
one that has the libraries loaded. Seconds (by the clock) leave that loading out, memory (peak resident size)
has it in.

| case | exit code | message | seconds | peak MB |
|:--|--:|:--|--:|--:|"""


def main() -> int:
    """Run all cases."""
    print(HEAD)
    bad = []
    with tempfile.TemporaryDirectory() as folder:
        # Resolved, so that every mention of the folder can be shortened.
        for name, played in play_all(CASES, Path(folder).resolve()).items():
            ended = played.ended
            message = ended.stderr.strip().replace(f"{played.folder}/setup/", "").replace(f"{played.folder}/", "")
            message = " ".join(message.removeprefix("huemend: ").replace("|", "\\|").split()) or "(none)"
            if len(message) > 160:
                message = f"{message[:100]} ... {message[-50:]}"
            print(f"| {name} | {ended.code} | {message} | {ended.seconds:.1f} | {ended.megabytes:.0f} |")
            bad += [f"{name}: {fault}" for fault in played.faults]
    print("\n".join(bad), file=sys.stderr)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
