"""Run one command under limits and say what it took: a JSON line of code, seconds and peak megabytes.

Stands between the tests and the command because a process begins with the peak memory of the one that it was
forked from: from pytest itself every figure would be pytest's. Uses the standard library alone.
"""

from __future__ import annotations

import ctypes
import json
import os
import resource
import signal
import sys
import time

# linux/prctl.h and linux/capability.h: with these two gone, root is stopped by file modes like anybody.
_PR_CAPBSET_DROP, _CAP_DAC_OVERRIDE, _CAP_DAC_READ_SEARCH = 24, 1, 2


def main() -> None:
    """Run ``argv[2:]`` under the limits in the JSON of ``argv[1]``."""
    limits = json.loads(sys.argv[1])
    began = time.monotonic()
    child = os.fork()
    if child == 0:
        try:
            _become(limits)
            os.execv(sys.argv[2], sys.argv[2:])
        finally:
            os._exit(99)
    signal.signal(signal.SIGALRM, lambda number, frame: os.kill(child, signal.SIGKILL))
    signal.alarm(limits["seconds"])
    _, status, usage = os.wait4(child, 0)
    signal.alarm(0)
    took = {
        "code": os.waitstatus_to_exitcode(status),
        "seconds": time.monotonic() - began,
        "megabytes": usage.ru_maxrss / 1024,
    }
    with open(limits["report"], "w") as file:
        json.dump(took, file)


def _become(limits: dict[str, int]) -> None:
    resource.setrlimit(resource.RLIMIT_AS, (limits["memory"],) * 2)
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if limits.get("file_size"):
        resource.setrlimit(resource.RLIMIT_FSIZE, (limits["file_size"],) * 2)
    if os.geteuid() == 0:
        libc = ctypes.CDLL(None, use_errno=True)
        for capability in (_CAP_DAC_OVERRIDE, _CAP_DAC_READ_SEARCH):
            if libc.prctl(_PR_CAPBSET_DROP, capability, 0, 0, 0):
                raise OSError(ctypes.get_errno(), "cannot drop a capability")


if __name__ == "__main__":
    main()
