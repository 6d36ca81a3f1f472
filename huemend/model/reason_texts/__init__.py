"""What is said for each reason, and what to do about it, in a colorist's words; figures stand in braces.

One text for each code of `huemend.model.reasons`, and for each case of those that know several; a module for each
that finds them.
"""

from __future__ import annotations

from collections.abc import Mapping

from huemend.model.reason_texts.pairs import PAIRS
from huemend.model.reason_texts.pictures import PICTURES
from huemend.model.reason_texts.proof import PROOF
from huemend.model.reason_texts.said import Said
from huemend.model.reason_texts.setup_file import SETUP_FILE

#: Of each code: what is said, or what is said in each case.
TEXTS: Mapping[str, Said | Mapping[str, Said]] = {**PAIRS, **PROOF, **PICTURES, **SETUP_FILE}
