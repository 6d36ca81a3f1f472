"""Write docs/reasons.md anew from ``huemend.model.reasons``: ``python docs/make_reasons.py``."""

from __future__ import annotations

from pathlib import Path

from huemend.model.reasons import Code

_INTRO = """# Reasons
Every verdict comes with reasons: in the terminal, in the report, and in `report.json` with a code that scripts can
rely on. This is all of them, the gravest first, which is the order of the report. Figures stand in braces.

The verdict is the gravest that any of an angle's reasons asks for, and `matched` takes one that speaks for the
match; only a guess by colours is `review` beside the reasons why there is no match. Which reasons are given, and
which overrule others, `huemend/validate/decide.py` says.

| code | what it does | what is said | what to do |
|:--|:--|:--|:--|
"""


def text() -> str:
    """Return the page."""
    rows = [
        f"| `{code}` | {code.effect} | {said} | {todo} |" for code in Code for said, todo in code.said.values()
    ]
    return _INTRO + "\n".join(rows) + "\n"


if __name__ == "__main__":
    (Path(__file__).parent / "reasons.md").write_text(text(), encoding="utf-8")
