"""A day on a cluster: the same code, the same results, and workers that die."""

from __future__ import annotations

import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from huemend.day.cluster import cluster_lanes
from huemend.day.runner import run_tasks
from huemend.errors import HuemendError
from huemend.options import DayOptions
from tests.conftest import Run
from tests.day.calls import Call, act
from tests.day.conftest import Ran, huemend
from tests.day.test_day_command import results_of

distributed = pytest.importorskip("distributed", reason="needs dask and distributed")
# The library's own housekeeping when processes die under it is not judged here.
pytestmark = [
    pytest.mark.slow,
    pytest.mark.cluster,
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]


#: Whoever speaks to a scheduler can run anything: only this machine may.
LOOPBACK = {"host": "127.0.0.1", "dashboard_address": "127.0.0.1:0"}


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    """Two worker processes of one thread each."""
    import dask

    with (
        dask.config.set({"distributed.scheduler.allowed-failures": 1}),
        distributed.LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            dashboard_address="127.0.0.1:0",
            silence_logs=60,
        ) as found,
    ):
        yield found


def run_on(address: str, calls: list[Call], tries: int = 2) -> list[str]:
    lanes = cluster_lanes(address)
    try:
        return run_tasks(
            calls,
            act,
            lanes,
            options=DayOptions(tries=tries),
            give_up=lambda call, error: f"gave up {call.name}: {error}",
            on_done=lambda outcome: None,
        )
    finally:
        for lane in lanes:
            lane.close()


def test_results_are_those_of_processes(cluster: Any, matched_day: Ran, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = huemend("day", matched_day.folder, "--scheduler", cluster.scheduler_address, "--out", out, "--quiet")
    assert (done.returncode, done.stderr) == (3, "")
    assert done.stdout.replace(str(out), "OUT") == matched_day.stdout.replace(
        str(matched_day.folder / "match"), "OUT"
    )
    assert results_of(out) == results_of(matched_day.folder / "match")
    again = huemend("day", matched_day.folder, "--scheduler", cluster.scheduler_address, "--out", out, "--resume")
    assert again.stderr.count("(unchanged)") == 2


def test_workers_that_die(cluster: Any, tmp_path: Path) -> None:
    calls = [Call(f"{n}", tmp_path, what) for n, what in enumerate(["", "die", "", "die once", "", ""])]
    outcomes = run_on(cluster.scheduler_address, calls)
    assert [o for o in outcomes if o.startswith("done")] == ["done 0", "done 2", "done 3", "done 4", "done 5"]
    assert outcomes[1].startswith("gave up 1: the worker that ran it died")
    # The scheduler's own tries are bounded too: 2 begun by it, by each of our 2.
    assert len((tmp_path / "1.begun").read_text()) <= 4


def test_workers_keep_linear_algebra_to_one_thread(cluster: Any, tmp_path: Path) -> None:
    assert run_on(cluster.scheduler_address, [Call("a", tmp_path, "environment")]) == ["1"]


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def test_no_scheduler_answers() -> None:
    begun = time.monotonic()
    with pytest.raises(HuemendError, match="no scheduler answers") as caught:
        cluster_lanes(f"tcp://127.0.0.1:{free_port()}", DayOptions(connect_seconds=1))
    assert time.monotonic() - begun < 20 and "--scheduler" in str(caught.value)


@pytest.mark.parametrize("address", ["nonsense://x:1", "not an address", "tcp://host"])
def test_what_is_no_address_is_told_in_one_line(run: Run, matched_day: Ran, tmp_path: Path, address: str) -> None:
    said = run("day", matched_day.folder, "--scheduler", address, "--out", tmp_path / "out")
    assert said == (3, "", f"huemend: {address}: is no address of a scheduler; write tcp://host:port\n")
    assert not (tmp_path / "out").exists()


def test_a_cluster_without_workers_says_so_and_goes_on_when_one_comes(tmp_path: Path) -> None:
    with distributed.LocalCluster(
        n_workers=0,
        threads_per_worker=1,
        processes=True,
        host="127.0.0.1",
        dashboard_address="127.0.0.1:0",
        silence_logs=60,
    ) as empty:
        lanes = cluster_lanes(empty.scheduler_address)
        heard: list[str] = []

        def hear(hindrance: str) -> None:
            heard.append(hindrance)
            empty.scale(1)

        outcomes = run_tasks(
            [Call("0", tmp_path)],
            act,
            lanes,
            give_up=lambda call, error: f"gave up {call.name}: {error}",
            on_done=lambda outcome: None,
            on_wait=hear,
            options=DayOptions(tries=2, patience_seconds=0.5),
        )
        for lane in lanes:
            lane.close()
    assert (outcomes, heard) == (["done 0"], ["the cluster has no workers"])


def test_a_cluster_that_gets_no_workers_is_given_up(matched_day: Ran, tmp_path: Path) -> None:
    """Each setup says why it was not run; nothing of it is left with the scheduler."""
    with distributed.LocalCluster(n_workers=0, silence_logs=60, **LOOPBACK) as empty:
        lanes = cluster_lanes(empty.scheduler_address)
        heard: list[str] = []
        outcomes = run_tasks(
            [Call("0", tmp_path), Call("1", tmp_path)],
            act,
            lanes,
            give_up=lambda call, error: f"gave up {call.name}: {error}",
            on_done=lambda outcome: None,
            on_wait=heard.append,
            options=DayOptions(patience_seconds=0.1, workerless_seconds=0.5),
        )
    why = "the cluster has no workers, for 0.5 s now; start some, or let it wait longer (--await-workers), and run"
    assert [outcome.partition(" again")[0] for outcome in outcomes] == [f"gave up {n}: {why}" for n in "01"]
    assert heard == ["the cluster has no workers"] and not list(tmp_path.iterdir())


def test_a_scheduler_that_goes_away_ends_the_run(tmp_path: Path) -> None:
    """Every setup gets an outcome, in bounded time."""
    with distributed.LocalCluster(
        n_workers=1,
        threads_per_worker=1,
        processes=True,
        host="127.0.0.1",
        dashboard_address="127.0.0.1:0",
        silence_logs=60,
    ) as doomed:
        lanes = cluster_lanes(doomed.scheduler_address, DayOptions(connect_seconds=1))
        heard: list[str] = []

        def stop(outcome: str) -> None:
            heard.append(outcome)
            if len(heard) == 1:
                doomed.close()

        calls = [Call("0", tmp_path), Call("1", tmp_path, "sleep"), Call("2", tmp_path)]
        outcomes = run_tasks(calls, act, lanes, give_up=lambda c, e: f"gave up {c.name}: {e}", on_done=stop)
        for lane in lanes:
            lane.close(now=True)
    assert outcomes[0] == "done 0" and len(heard) == 3
    assert all("no scheduler answers" in outcome for outcome in outcomes[1:])


def make_certificates(folder: Path) -> dict[str, Path]:
    """Make an authority, a certificate that it signed, and one of another authority."""
    made: dict[str, Path] = {}
    for who in ("ours", "theirs"):
        ca, ca_key, key, cert = (folder / f"{who}-{part}.pem" for part in ("ca", "ca-key", "key", "cert"))
        new = ["openssl", "req", "-newkey", "rsa:2048", "-nodes", "-sha256", "-days", "2"]
        request = folder / f"{who}.csr"
        signed = ["-CA", ca, "-CAkey", ca_key]
        for command in (
            [*new, "-x509", "-subj", f"/CN={who}", "-keyout", ca_key, "-out", ca],
            [*new[:-2], "-subj", "/CN=node", "-keyout", key, "-out", request],
            [*"openssl x509 -req -days 2 -CAcreateserial -in".split(), request, *signed, "-out", cert],
        ):
            subprocess.run([str(word) for word in command], check=True, capture_output=True)
        made |= {f"{who} ca": ca, f"{who} key": key, f"{who} cert": cert}
    return made


def test_only_who_has_the_certificates_speaks_to_the_cluster(matched_day: Ran, tmp_path: Path) -> None:
    """Pickles from a stranger would run here; TLS keeps strangers out on both sides (RFC 8446, mutual)."""
    pem = make_certificates(tmp_path)
    own, key = pem["ours cert"], pem["ours key"]
    security = distributed.Security(
        require_encryption=True,
        tls_ca_file=str(pem["ours ca"]),
        **{f"tls_{role}_{what}": str(path) for role in ("scheduler", "worker", "client") for what, path in
           (("cert", own), ("key", key))},
    )  # fmt: skip
    with distributed.LocalCluster(
        n_workers=1,
        threads_per_worker=1,
        processes=True,
        host="tls://127.0.0.1",
        dashboard_address="127.0.0.1:0",
        silence_logs=60,
        security=security,
    ) as found:
        address = found.scheduler_address
        assert address.startswith("tls://")
        told = ["day", matched_day.folder, "--scheduler", address, "--only", "01", "--quiet"]
        given = ["--tls-ca", pem["ours ca"], "--tls-cert", own, "--tls-key", key]
        done = huemend(*told, *given, "--out", tmp_path / "out")
        assert (done.returncode, done.stderr) == (0, "")
        stranger = ["--tls-ca", pem["theirs ca"], "--tls-cert", pem["theirs cert"], "--tls-key", pem["theirs key"]]
        for args, code in ((stranger, (1, 3)), ([], (3,))):
            done = huemend(*told, *args, "--out", tmp_path / "other")
            assert done.returncode in code and done.stderr.count("\n") == 1, done.stderr
            assert address in done.stderr and "Traceback" not in done.stderr


FILES = ["--tls-ca", "a", "--tls-cert", "b", "--tls-key", "c"]


@pytest.mark.parametrize(
    ("args", "code", "said"),
    [
        (["--scheduler", "tcp://127.0.0.1:9", *FILES], 3, "would not use them"),
        (["--scheduler", "tls://127.0.0.1:9", *FILES], 3, "a: there is no such"),
        (["--scheduler", "tls://127.0.0.1:9", "--tls-ca", "a"], 2, "go together"),
        (["--scheduler", "tls://127.0.0.1:9"], 3, "needs certificates"),
        (FILES, 2, "need the --scheduler"),
    ],
)
def test_certificates_that_make_no_sense(
    run: Run, args: list[str], code: int, said: str, matched_day: Ran, tmp_path: Path
) -> None:
    got, _, err = run("day", matched_day.folder, "--out", tmp_path / "out", *args)
    assert got == code and said in err and "Traceback" not in err
