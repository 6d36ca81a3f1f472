"""What tests ask worker processes to do."""

from __future__ import annotations

import os
import signal
import time
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Call:
    name: str
    folder: Path
    what: str = ""


def act(call: Call) -> str:
    """Do what a task says, and leave a mark for every time it was begun."""
    mark = call.folder / f"{call.name}.begun"
    times = len(mark.read_text()) if mark.exists() else 0
    mark.write_text("x" * (times + 1))
    if call.what == "die" or (call.what == "die once" and times == 0):
        os.kill(os.getpid(), signal.SIGKILL)
    if call.what == "terminate once" and times == 0:
        # As an administrator or a farm would: the process has a chance to clear away.
        part = call.folder / f"{call.name}.part"
        part.write_text("half")
        try:
            os.kill(os.getpid(), signal.SIGTERM)
            time.sleep(60)
        finally:
            part.unlink()
    if call.what == "sleep":
        time.sleep(60)
    if call.what == "threads":
        import numpy as np
        from threadpoolctl import threadpool_info

        np.eye(3) @ np.eye(3)
        return ",".join(str(pool["num_threads"]) for pool in threadpool_info() if pool["user_api"] == "blas")
    if call.what == "environment":
        return os.environ.get("OPENBLAS_NUM_THREADS", "unset")
    return f"done {call.name}"
