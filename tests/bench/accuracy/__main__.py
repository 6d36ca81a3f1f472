"""The accuracy bench: one command, one table.

``python -m tests.bench.accuracy --cache FOLDER --render`` makes the bench's setups in FOLDER (once) and
prints how far every angle ends from its truth, beside the baselines. See tests/bench/README.md.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import sys
import tempfile
from fnmatch import fnmatch
from pathlib import Path

from tests.bench.accuracy.bench import bench
from tests.bench.accuracy.cases import Case, find_cases
from tests.bench.accuracy.table import flags, markdown, record, summary


def main() -> int:
    options = _options()
    if options.cache and options.setups != "furnished":
        # Apart from the others, so that nothing is measured by chance.
        options.cache = options.cache / options.setups
    if options.render:
        from tests.bench.accuracy import bare_setups, hue_setups, new_setups, setups, talk_setups, wall_setups
        from tests.bench.accuracy.making import make

        recipes = {
            "furnished": {**setups.RECIPES, **hue_setups.RECIPES},
            "bare": bare_setups.TUNED,
            "bare-kept": bare_setups.KEPT,
            "talks": talk_setups.TUNED,
            "talks-kept": talk_setups.KEPT,
            "walls": wall_setups.TUNED,
            "walls-kept": wall_setups.KEPT,
            "new": new_setups.TUNED,
            "new-kept": new_setups.KEPT,
        }
        make(recipes[options.setups], options.cache, only=options.only)
    folders = list(options.cases)
    if not folders and options.cache:
        folders.append(options.cache / "cases")
    if not folders:
        print(
            "say where the cases are: --cases FOLDER or --cache FOLDER (with --render to make them)",
            file=sys.stderr,
        )
        return 2
    cases = [_blinded(case, options.blind) for case in find_cases(folders) if _wanted(case, options.only)]
    if not cases:
        print(f"no cases in {', '.join(map(str, folders))}", file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory() as temporary:
        scratch = options.cache / "runs" if options.cache else Path(temporary)
        rows = []
        for row in bench(cases, scratch, luts=options.luts, solve=not options.baselines_only):
            rows.append(row)
            got = "-" if row.huemend is None else f"{row.huemend.mean:.2f}"
            print(f"{row.label}: {row.as_shot.mean:.2f} -> {got} {row.verdict} {row.error}", file=sys.stderr)
    worries = flags(rows)
    if options.json:
        print(json.dumps(record(rows), indent=1))
    else:
        print(markdown(rows), "", *(f"- {line}" for line in summary(rows)), sep="\n")
        print("", "Flags:" if worries else "No flags.", *(f"- {line}" for line in worries), sep="\n")
    return 1 if worries else 0


def _wanted(case: Case, only: list[str]) -> bool:
    return not only or any(fnmatch(case.name, pattern) for pattern in only)


def _blinded(case: Case, blind: list[str]) -> Case:
    """Mark angles that the command line calls blind."""
    more = {label.partition("/")[2] for label in blind if label.partition("/")[0] == case.name}
    return dataclasses.replace(case, blind=case.blind | more)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.accuracy", description=__doc__)
    add = parser.add_argument
    add("--cases", nargs="+", type=Path, default=[], metavar="FOLDER", help="case folders, or folders of them")
    add("--cache", type=Path, metavar="FOLDER", help="keeps renders, cases and runs; not in the repository")
    add("--render", action="store_true", help="make the bench's setups that the cache lacks")
    add(
        "--setups",
        choices=(
            "furnished",
            "bare",
            "bare-kept",
            "talks",
            "talks-kept",
            "walls",
            "walls-kept",
            "new",
            "new-kept",
        ),
        default="furnished",
        help="which of the bench's own",
    )
    add("--only", nargs="+", default=[], metavar="NAME", help="only cases of these names (globs)")
    add("--blind", nargs="+", default=[], metavar="CASE/ANGLE", help="angles that share nothing with the hero")
    add("--luts", type=Path, metavar="FOLDER", help="score the match cubes in FOLDER/<case>/luts; run nothing")
    add("--baselines-only", action="store_true", help="leave huemend out")
    add("--json", action="store_true", help="print the record instead of the table")
    options = parser.parse_args()
    if options.render and not options.cache:
        parser.error("--render needs --cache FOLDER")
    return options


if __name__ == "__main__":
    sys.exit(main())
