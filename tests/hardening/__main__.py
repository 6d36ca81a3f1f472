"""Print the corpus as a table: ``python -m tests.hardening > docs/hardening.md``; 1 if a case ends badly."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.hardening.corpus import CASES
from tests.hardening.run import play_all

HEAD = """# What bad input does
Made by `python -m tests.hardening > docs/hardening.md`. Every case is a good setup of two tiny stills with one
thing spoilt, matched (or drafted by `new`, or baked) by the real command in a process of its own. Seconds (by the
clock) and memory (peak resident size) include the loading of Python and its libraries, beside whatever else ran.

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
