"""Where setups run: processes of this machine, or a cluster; both are executors of ``concurrent.futures``."""

from __future__ import annotations

import logging
import multiprocessing
import os
import re
import signal
import ssl
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, CancelledError, Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing.context import SpawnContext, SpawnProcess
from pathlib import Path
from types import FrameType
from typing import Any, Protocol

from huemend.base.reading import read_input
from huemend.base.tasks import CALM_LIBRARIES, watch
from huemend.errors import HuemendError, InputError, MissingLibraryError
from huemend.options import DayOptions, FileOptions


class Lane(Protocol):
    """An executor that can be replaced when it breaks.

    Attributes
    ----------
    slots : int
        Tasks that it is given at a time.
    """

    slots: int

    def submit(self, call: Callable[..., Any], *args: Any) -> Future[Any]:
        """Start a call in a worker."""

    def died(self, error: BaseException) -> bool:
        """Say whether an error tells of a worker's death rather than of the task itself."""

    def blames(self, error: BaseException) -> bool:
        """Say whether a death may be the work of the very task that it is reported for."""

    def rebuild(self) -> None:
        """Get ready for more after a death.

        Raises
        ------
        HuemendError
            There is nothing left to run on.
        """

    def hindrance(self) -> str:
        """Say in a few words what keeps every task from going on; empty if nothing does."""

    def close(self, *, now: bool = False) -> None:
        """End; ``now`` does not wait for what is running."""


# ------------------------------------------------------------------------------------------- this machine


class _Ended(BaseException):
    """SIGTERM in a worker, as an exception: blocks unwind and temporary files go."""


class _Busy:
    """Whether this worker works on a task, so that SIGTERM knows what there is to clear away."""

    now = False


def _start_worker() -> None:
    """Get a worker process ready to end cleanly: on SIGTERM, and when the process that started it is gone."""
    # Ctrl-C reaches the whole group of processes; the parent decides what becomes of its workers.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _end)
    watch(_follow_parent)


def _end(number: int, frame: FrameType | None) -> None:
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    if _Busy.now:
        raise _Ended
    os.kill(os.getpid(), signal.SIGTERM)


def _follow_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os.kill(os.getpid(), signal.SIGTERM)


def _guarded(call: Callable[..., Any], *args: Any) -> Any:
    _Busy.now = True
    try:
        return call(*args)
    except _Ended:
        # Everything is cleared away; the executor would hand this on as a result and keep the worker.
        os.kill(os.getpid(), signal.SIGTERM)
        raise
    finally:
        _Busy.now = False


class _Watched(SpawnContext):
    """Starts processes afresh, so that they load their libraries with one thread, and knows which it started."""

    def __init__(self) -> None:
        super().__init__()
        self.started: list[SpawnProcess] = []

    def Process(self, *args: Any, **kwargs: Any) -> SpawnProcess:  # type: ignore[override]
        process = SpawnProcess(*args, **kwargs)
        self.started.append(process)
        return process


@contextmanager
def _environment(values: dict[str, str]) -> Iterator[None]:
    before = {name: os.environ.get(name) for name in values}
    os.environ.update(values)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


class ProcessLane:
    """A process of this machine: a pool of one, so that a death is surely the work of the task it held."""

    slots = 1

    def __init__(self, options: DayOptions) -> None:
        self._grace = options.grace_seconds
        self._context = _Watched()
        self._pool: ProcessPoolExecutor | None = None

    def submit(self, call: Callable[..., Any], *args: Any) -> Future[Any]:
        """Start a call, and the process for it if there is none."""
        if self._pool is None:
            self._context = _Watched()
            self._pool = ProcessPoolExecutor(1, mp_context=self._context, initializer=_start_worker)
        # A pool starts its processes when it is given work.
        with _environment(CALM_LIBRARIES):
            return self._pool.submit(_guarded, call, *args)

    def died(self, error: BaseException) -> bool:
        """A broken pool lost its process."""
        return isinstance(error, BrokenExecutor)

    def blames(self, error: BaseException) -> bool:
        """Nothing else ran in this process."""
        return True

    def rebuild(self) -> None:
        """Drop the broken pool; the next call starts another."""
        self.close(now=True)

    def hindrance(self) -> str:
        """Nothing: a process that is gone breaks its pool, which is told at once."""
        return ""

    def close(self, *, now: bool = False) -> None:
        """End the process: with SIGTERM at once, or when its task is done."""
        pool, self._pool = self._pool, None
        if pool is None:
            return
        if now:
            for process in self._context.started:
                process.terminate()
            for process in self._context.started:
                process.join(self._grace)
                if process.is_alive():
                    process.kill()
        pool.shutdown(wait=True, cancel_futures=True)


def process_lanes(jobs: int, options: DayOptions | None = None) -> list[Lane]:
    """Return ``jobs`` processes of this machine to run setups in; they start when they are needed."""
    return [ProcessLane(options or DayOptions()) for _ in range(jobs)]


# ---------------------------------------------------------------------------------------------- a cluster


_ADDRESS = re.compile(r"(tcp|tls|ucx|ws|wss)://[^\s/]+:\d{1,5}")
_ENCRYPTED = ("tls://", "wss://")


@dataclass(frozen=True, kw_only=True)
class Certificates:
    """What proves to a cluster who we are, and to us who it is: files in PEM form."""

    #: Of the authority that signed the cluster's certificates and ours.
    ca: Path
    #: Our certificate, and its private key.
    own: Path
    key: Path

    def check(self) -> None:
        """Read each, so that one that is missing is told by its name.

        Raises
        ------
        InputError
        """
        for path, what in ((self.ca, "authority's certificate"), (self.own, "certificate"), (self.key, "key")):
            read_input(path, FileOptions().state, kind=InputError, what=what, todo="check the --tls options")


class ClusterLane:
    """A Dask cluster that is there already; its scheduler moves a task whose worker died to another worker.

    Tasks and results are pickled: who can speak for the scheduler can run anything here, and the other way round.
    """

    def __init__(self, address: str, options: DayOptions, certificates: Certificates | None = None) -> None:
        self.slots = options.queue
        self._address = address
        self._certificates = certificates
        self._timeout = options.connect_seconds
        self._client: Any = None
        self._executor: Executor | None = None
        self._connect()

    def _connect(self) -> None:
        try:
            from distributed import Client as connect
            from distributed.security import Security
        except ModuleNotFoundError as error:
            if (error.name or "").partition(".")[0] not in ("dask", "distributed"):
                raise
            raise MissingLibraryError(
                "a cluster needs dask and distributed", todo='install them: pip install "huemend[cluster]"'
            ) from error
        if not _ADDRESS.fullmatch(self._address):
            raise InputError("is no address of a scheduler", where=self._address, todo="write tcp://host:port")
        encrypted = self._address.startswith(_ENCRYPTED)
        security: Any = None
        if self._certificates is not None:
            if not encrypted:
                what = "certificates are given, and this connection would not use them"
                raise InputError(what, where=self._address, todo="write tls://host:port")
            self._certificates.check()
            names = {"tls_ca_file": "ca", "tls_client_cert": "own", "tls_client_key": "key"}
            files = {name: str(getattr(self._certificates, field)) for name, field in names.items()}
            security = Security(require_encryption=True, **files)
        elif encrypted and not Security().tls_client_cert:
            # Dask's own configuration may name certificates, too; here it does not.
            todo = "give --tls-ca, --tls-cert and --tls-key"
            raise InputError("an encrypted connection needs certificates", where=self._address, todo=todo)
        # What the library logs about connections that come and go is told by us, once and in one line.
        logging.getLogger("distributed").setLevel(logging.CRITICAL)
        try:
            self._client = connect(self._address, timeout=self._timeout, set_as_default=False, security=security)
        except ssl.SSLError as error:
            what = f"the certificates do not fit ({error.reason or error})"
            raise InputError(what, where=self._address, todo="check the --tls options") from error
        except OSError as error:
            raise HuemendError(
                "no scheduler answers", where=self._address, todo="check --scheduler and that the cluster runs"
            ) from error
        self._executor = self._client.get_executor(pure=False)

    def submit(self, call: Callable[..., Any], *args: Any) -> Future[Any]:
        """Hand a call to the scheduler."""
        if self._executor is None:
            raise CancelledError
        return self._executor.submit(call, *args)

    def died(self, error: BaseException) -> bool:
        """The scheduler gave a task up because its workers died, or was lost itself."""
        return self.blames(error) or isinstance(error, (CancelledError, BrokenExecutor, ConnectionError))

    def blames(self, error: BaseException) -> bool:
        """The scheduler gives up only what was running on each of the workers that died."""
        return type(error).__name__ == "KilledWorker"

    def rebuild(self) -> None:
        """Connect again if the scheduler was lost."""
        if self._client is None or self._client.status != "running":
            self.close(now=True)
            self._connect()

    def hindrance(self) -> str:
        """A cluster without workers keeps its tasks until one comes."""
        if self._client is None or self._client.status != "running":
            return ""
        try:
            workers = self._client.scheduler_info()["workers"]
        except OSError:  # lost between two heartbeats: its tasks will say so
            return ""
        return "" if workers else "the cluster has no workers"

    def close(self, *, now: bool = False) -> None:
        """Let go of the cluster; what has not begun there is called back."""
        executor, client = self._executor, self._client
        self._executor = self._client = None
        with suppress(Exception):  # a scheduler that is gone cannot be told good-bye
            if executor is not None:
                executor.shutdown(wait=not now, cancel_futures=now)
        with suppress(Exception):
            if client is not None:
                client.close(timeout=self._timeout)


def cluster_lanes(
    address: str, options: DayOptions | None = None, certificates: Certificates | None = None
) -> list[Lane]:
    """Return a cluster to run setups on.

    Parameters
    ----------
    address : str
        Of the scheduler: ``tcp://host:port``, or ``tls://host:port``.
    certificates : Certificates, optional
        For ``tls://``; those of Dask's own configuration if not given.

    Raises
    ------
    MissingLibraryError
        The extra ``cluster`` is not installed.
    InputError
        This is no address, or certificates are missing, or do not fit.
    HuemendError
        No scheduler answers there.
    """
    return [ClusterLane(address, options or DayOptions(), certificates)]
