"""Write docs/reasons.md anew from ``huemend.model.reasons``: ``python docs/make_reasons.py``."""

from __future__ import annotations

from pathlib import Path

from huemend.model.reasons import Code, Effect

_EFFECTS = {
    Effect.UNSOLVED: "no match",
    Effect.REVIEW: "review",
    Effect.NOTE: "told beside the verdict",
    Effect.PROOF: "speaks for the match",
}
_INTRO = """# Reasons
Every verdict comes with reasons: in the terminal, in the report, and in `report.json` with a code that scripts can
rely on. This is all of them, the gravest first, which is the order of the report. Figures stand in braces. What a
reason does is what it does by itself; `huemend/validate/decide.py` says how they overrule one another.

| code | what it does | what is said | what to do |
|:--|:--|:--|:--|
"""


def text() -> str:
    """Return the page."""
    rows = [
        f"| `{code}` | {_EFFECTS[code.effect]} | {said} | {todo} |"
        for code in Code
        for said, todo in code.said.values()
    ]
    return _INTRO + "\n".join(rows) + "\n"


if __name__ == "__main__":
    (Path(__file__).parent / "reasons.md").write_text(text(), encoding="utf-8")
