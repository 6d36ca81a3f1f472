"""Run commands under limits, a process each, and say what each took: code, seconds and peak megabytes, as JSON.

``launch.py LIMITS PROGRAM ARGUMENT ...`` runs one command and stands between the tests and it because a process
begins with the peak memory of the one that it was forked from: from pytest itself every figure would be pytest's.
That form uses the standard library alone.

``launch.py --serve`` loads huemend once and then forks a process for every line that it reads, an order in JSON.
Nine tenths of the time of a command that refuses its input goes into loading; here that is done once.
"""

from __future__ import annotations

import ctypes
import importlib
import json
import os
import pkgutil
import resource
import signal
import sys
import time
import traceback
from collections.abc import Callable
from typing import Any

# linux/prctl.h and linux/capability.h: with these two gone, root is stopped by file modes like anybody.
_PR_CAPBSET_DROP, _CAP_DAC_OVERRIDE, _CAP_DAC_READ_SEARCH = 24, 1, 2
_CAPABILITY_VERSION_3 = 0x20080522
#: What commands load when they need it, beside huemend's own modules.
_LATER = ("PyOpenColorIO", "cv2", "scipy.optimize", "scipy.sparse", "skimage.feature")


def main() -> None:
    """Run ``argv[2:]`` under the limits in the JSON of ``argv[1]``, or serve."""
    if sys.argv[1] == "--serve":
        _serve()
        return
    limits = json.loads(sys.argv[1])
    took = _watched(limits, lambda: os.execv(sys.argv[2], sys.argv[2:]))
    with open(limits["report"], "w") as file:
        json.dump(took, file)


def _watched(limits: dict[str, int], work: Callable[[], object]) -> dict[str, float]:
    """Fork, work under the limits in the child, which never returns from here, and say what that took."""
    began = time.monotonic()
    child = os.fork()
    if child == 0:
        code = 99
        try:
            _become(limits)
            work()
            code = 0
        except SystemExit as error:
            code = error.code if isinstance(error.code, int) else 1
        except BaseException:
            traceback.print_exc()
        finally:
            for stream in (sys.stdout, sys.stderr):
                stream.flush()
            os._exit(code)
    signal.signal(signal.SIGALRM, lambda number, frame: os.kill(child, signal.SIGKILL))
    signal.alarm(limits["seconds"])
    _, status, usage = os.wait4(child, 0)
    signal.alarm(0)
    return {
        "code": os.waitstatus_to_exitcode(status),
        "seconds": time.monotonic() - began,
        "megabytes": usage.ru_maxrss / 1024,
    }


def _serve() -> None:
    """Answer every order on stdin with a line on stdout."""
    import huemend

    for module in pkgutil.walk_packages(huemend.__path__, "huemend."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    for name in _LATER:
        importlib.import_module(name)
    for line in sys.stdin:
        order = json.loads(line)
        took = _watched(order["limits"], lambda order=order: _command(order))  # type: ignore[misc]
        print(json.dumps(took), flush=True)


def _command(order: dict[str, Any]) -> None:
    """Become the command: its streams, its arguments."""
    from huemend.__main__ import main as run

    signal.signal(signal.SIGALRM, signal.SIG_DFL)
    for number, name in enumerate((os.devnull, order["stdout"], order["stderr"])):
        opened = os.open(name, os.O_RDWR | os.O_CREAT | os.O_TRUNC)
        os.dup2(opened, number)
        os.close(opened)
    sys.argv = ["huemend", *order["arguments"]]
    run()


def _become(limits: dict[str, int]) -> None:
    resource.setrlimit(resource.RLIMIT_AS, (limits["memory"],) * 2)
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if limits.get("file_size"):
        resource.setrlimit(resource.RLIMIT_FSIZE, (limits["file_size"],) * 2)
    if os.geteuid() == 0:
        _be_like_anybody()


def _be_like_anybody() -> None:
    """Let root be stopped by file modes: in this process, and after the next exec."""
    libc = ctypes.CDLL(None, use_errno=True)
    header = (ctypes.c_uint32 * 2)(_CAPABILITY_VERSION_3, 0)
    sets = (ctypes.c_uint32 * 6)()  # effective, permitted and inheritable, of capabilities 0 to 31 and 32 to 63
    failed = libc.capget(header, sets)
    for capability in (_CAP_DAC_OVERRIDE, _CAP_DAC_READ_SEARCH):
        failed = failed or libc.prctl(_PR_CAPBSET_DROP, capability, 0, 0, 0)
        for number in range(3):
            sets[number] &= ~(1 << capability)
    if failed or libc.capset(header, sets):
        raise OSError(ctypes.get_errno(), "cannot drop a capability")


if __name__ == "__main__":
    main()
