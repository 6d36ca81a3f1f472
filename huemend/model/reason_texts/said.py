"""What texts of several kinds of reasons share."""

from __future__ import annotations

#: The sentence, and what to do about it (may be empty).
Said = tuple[str, str]

OTHER_MOMENT = "choose another moment where both see the same things"
