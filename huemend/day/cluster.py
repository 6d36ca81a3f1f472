"""A cluster that setups run on, an executor of ``concurrent.futures``."""

from __future__ import annotations

import logging
import re
import ssl
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, CancelledError, Executor, Future
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from huemend.base.reading import read_input
from huemend.day.runner import Lane
from huemend.errors import HuemendError, InputError, MissingLibraryError
from huemend.options import DayOptions, FileOptions

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
        """Read each, so that one that is missing is told by its name, as an InputError."""
        for path, what in ((self.ca, "authority's certificate"), (self.own, "certificate"), (self.key, "key")):
            read_input(path, FileOptions().state, kind=InputError, what=what, todo="check the --tls options")


class ClusterLane:
    """A Dask cluster that is there already; its scheduler moves a task whose worker died to another worker.

    Tasks and results are pickled: who can speak for the scheduler can run anything here, and the other way round.
    """

    #: Given ahead of its workers.
    slots = 5_000

    def __init__(self, address: str, options: DayOptions, certificates: Certificates | None = None) -> None:
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
    """Return a cluster, by the address of its scheduler, to run setups on.

    Without ``certificates``, for ``tls://``, those of Dask's own configuration serve. Raises MissingLibraryError
    where the extra ``cluster`` is not installed, InputError where this is no address, or certificates are missing
    or do not fit, and HuemendError where no scheduler answers.
    """
    return [ClusterLane(address, options or DayOptions(), certificates)]
