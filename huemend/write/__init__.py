"""The write stage: LUTs, the exact chain, CDLs, pictures, report and record of one setup.

It is handed everything that turns codes into light and back (``ColourTools``) and imports no other stage.
"""

from __future__ import annotations

from huemend.write.files import FolderState, OutputFolder, check_folder, read_record
from huemend.write.luts import LutFile
from huemend.write.protocols import EncodingLike, Rendering
from huemend.write.record import SCHEMA, make_record, match_of
from huemend.write.results import ColourTools, Report, write_results

__all__ = [
    "SCHEMA",
    "ColourTools",
    "EncodingLike",
    "FolderState",
    "LutFile",
    "OutputFolder",
    "Rendering",
    "Report",
    "check_folder",
    "make_record",
    "match_of",
    "read_record",
    "write_results",
]
