"""What runs that are killed or drawn at random add up to, and how it is reported."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

__all__ = ["Tally"]


@dataclass
class Tally:
    """What was seen, and what went wrong."""

    seen: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)

    def check(self, good: bool, what: str) -> None:
        """Note what is not as it must be."""
        if not good:
            self.wrong.append(what)

    def report(self) -> int:
        """Print all of it, and return the exit code that it asks for."""
        for what, count in sorted(self.seen.items()):
            print(f"{what}: {count}")
        print("nothing wrong" if not self.wrong else "\n".join(["wrong:", *self.wrong]))
        return 1 if self.wrong else 0
