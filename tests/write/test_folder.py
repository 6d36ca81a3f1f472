"""The output folder: whole files, the record last, one run at a time, nothing of others lost."""

from __future__ import annotations

import errno
import hashlib
import json
import multiprocessing
import os
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from huemend.base import lock
from huemend.base.files import new_part
from huemend.base.originals import Guard
from huemend.errors import OutputError
from huemend.write.folder import OutputFolder
from huemend.write.outputs import file_name
from huemend.write.record_reading import JOURNAL, RECORD, is_whole, read_record

RECORD_OF_OURS = {"schema": "huemend-record/2", "setup": "bench"}


def finished(out: Path, contents: dict[str, bytes]) -> dict[str, object]:
    with OutputFolder(out, Guard()) as folder:
        for path, data in contents.items():
            folder.write_bytes(path, data)
        return folder.finish(RECORD_OF_OURS)


def names(out: Path) -> list[str]:
    return sorted(path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file())


def test_a_finished_folder_is_complete_and_lists_every_file(tmp_path: Path) -> None:
    out = tmp_path / "deep" / "out"
    assert not is_whole(out)
    record = finished(out, {"luts/a.cube": b"one", "report.html": b"two"})
    assert names(out) == ["luts/a.cube", "report.html", RECORD]
    assert read_record(out, strict=False) == record
    for entry in record["files"]:
        data = (out / entry["path"]).read_bytes()
        assert entry["sha256"] == hashlib.sha256(data).hexdigest()
        assert entry["bytes"] == len(data)
    assert is_whole(out)


@pytest.mark.parametrize("harm", ["changed", "removed", "record removed", "record cut", "record empty"])
def test_a_harmed_folder_is_not_complete(tmp_path: Path, harm: str) -> None:
    finished(tmp_path, {"luts/a.cube": b"one"})
    record = tmp_path / RECORD
    if harm == "changed":
        (tmp_path / "luts/a.cube").write_bytes(b"two")
    elif harm == "removed":
        (tmp_path / "luts/a.cube").unlink()
    elif harm == "record removed":
        record.unlink()
    elif harm == "record cut":
        record.write_bytes(record.read_bytes()[:-20])
    else:
        record.write_bytes(b"")
    assert not is_whole(tmp_path)


def test_an_interrupted_run_leaves_whole_files_and_an_incomplete_folder(tmp_path: Path) -> None:
    finished(tmp_path, {"luts/a.cube": b"old", "luts/b.cube": b"old"})
    with pytest.raises(KeyboardInterrupt), OutputFolder(tmp_path, Guard()) as folder:
        folder.write_bytes("luts/a.cube", b"new")
        raise KeyboardInterrupt
    assert not is_whole(tmp_path)
    assert (tmp_path / "luts/a.cube").read_bytes() == b"new"
    assert (tmp_path / "luts/b.cube").read_bytes() == b"old"
    # The next run puts it right, and still knows what the first one had left behind.
    finished(tmp_path, {"luts/c.cube": b"newer"})
    assert names(tmp_path) == ["luts/c.cube", RECORD]
    assert is_whole(tmp_path)


def test_what_an_earlier_run_left_may_be_kept_without_writing_it_again(tmp_path: Path) -> None:
    contents = {f"luts/{name}.cube": name.encode() for name in ("kept", "dropped", "other")}
    record = finished(tmp_path, contents)
    hashes = {path: hashlib.sha256(data).hexdigest() for path, data in contents.items()}
    before = (tmp_path / "luts/kept.cube").stat()  # reading it changes its time of access
    with OutputFolder(tmp_path, Guard()) as folder:
        assert folder.take_over("luts/kept.cube", hashes["luts/kept.cube"])
        assert folder.take_over("luts/other.cube", hashes["luts/other.cube"])
        # What is not there as it was cannot be.
        (tmp_path / "luts/dropped.cube").write_bytes(b"somebody's work")
        for path, digest in (("luts/dropped.cube", hashes["luts/dropped.cube"]), ("luts/new.cube", "0" * 64)):
            assert not folder.take_over(path, digest)
        assert not folder.take_over("luts/kept.cube", hashes["luts/other.cube"]) and not folder.take_over(
            "luts/kept.cube", None
        )
        again = folder.finish(RECORD_OF_OURS)
    assert again["files"] == [entry for entry in record["files"] if "dropped" not in entry["path"]]
    after = (tmp_path / "luts/kept.cube").stat()
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    assert (tmp_path / "luts/dropped.cube").read_bytes() == b"somebody's work"
    assert is_whole(tmp_path)


def test_a_run_that_fails_before_it_writes_leaves_the_earlier_result(tmp_path: Path) -> None:
    finished(tmp_path, {"luts/a.cube": b"old"})
    with pytest.raises(OutputError, match="hero"), OutputFolder(tmp_path, Guard()):
        raise OutputError("the hero's media is missing")
    assert is_whole(tmp_path)


def test_files_that_this_run_did_not_write_again_go_but_changed_ones_stay(tmp_path: Path) -> None:
    listed = ("luts/a.cube", "luts/gone.cube", "luts/hand.cube", "luts/p.clf", "notes.md")
    finished(tmp_path, {name: b"1" for name in listed})
    (tmp_path / "luts/hand.cube").write_bytes(b"somebody's work")
    (tmp_path / "notes.txt").write_text("not ours")
    finished(tmp_path, {"luts/a.cube": b"1"})
    # Nor is what no result holds ever cleared away, whatever a record lists.
    assert names(tmp_path) == ["luts/a.cube", "luts/hand.cube", "notes.md", "notes.txt", RECORD]


@pytest.mark.parametrize("path", ["../x", "/x", "a/../../x", "..", "", "a\\..\\x", "a\nb"])
def test_no_path_leaves_the_folder(tmp_path: Path, path: str) -> None:
    out = tmp_path / "out"
    with OutputFolder(out, Guard()) as folder, pytest.raises(OutputError):
        folder.write_bytes(path, b"x")
    assert names(tmp_path) == []


def test_a_hostile_record_cannot_make_us_remove_what_is_outside(tmp_path: Path) -> None:
    precious = tmp_path / "precious"
    precious.write_bytes(b"x")
    out = tmp_path / "out"
    out.mkdir()
    digest = hashlib.sha256(b"x").hexdigest()
    hostile = [{"path": path, "sha256": digest} for path in ("../precious", str(precious), "link")]
    (out / "link").symlink_to(precious)
    (out / RECORD).write_text(json.dumps(RECORD_OF_OURS | {"files": [*hostile, 7, {"path": 3}, {}]}))
    finished(out, {"a": b"1"})
    assert precious.read_bytes() == b"x"
    assert (out / "link").is_symlink()


@pytest.mark.parametrize("text", ['{"schema": "other/1"}', "[]", "not json", "[" * 100_000, "\0"])
def test_a_report_that_is_not_ours_is_never_replaced(tmp_path: Path, text: str) -> None:
    (tmp_path / RECORD).write_text(text)
    with pytest.raises(OutputError, match=r"not written by huemend|damaged, or from another program"):
        OutputFolder(tmp_path, Guard()).prepare()
    assert (tmp_path / RECORD).read_text() == text
    assert names(tmp_path) == [RECORD]
    assert not is_whole(tmp_path)


def test_a_write_that_fails_half_way_leaves_the_earlier_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(handle: int) -> None:
        raise RuntimeError("gave up")

    with OutputFolder(tmp_path, Guard()) as folder:
        folder.write_bytes("p.png", b"whole")
        monkeypatch.setattr(os, "fsync", fail)
        with pytest.raises(RuntimeError):
            folder.write_bytes("p.png", b"another")
    assert (tmp_path / "p.png").read_bytes() == b"whole"
    assert names(tmp_path) == [JOURNAL, "p.png"]


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "disk is full"),
        (errno.EDQUOT, "quota"),
        (errno.EACCES, "no permission"),
        (errno.EROFS, "read-only"),
        (errno.ENOTDIR, "a file stands where a folder is needed"),
        (errno.EIO, "cannot be written"),
    ],
)
def test_what_the_disk_says_becomes_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, words: str
) -> None:
    with OutputFolder(tmp_path, Guard()) as folder:
        folder.write_bytes("a", b"1")

        def replace(*_: object) -> None:
            raise OSError(number, os.strerror(number))

        monkeypatch.setattr(os, "replace", replace)
        with pytest.raises(OutputError, match=words) as caught:
            folder.write_bytes("b", b"2")
    assert "\n" not in str(caught.value)
    assert caught.value.exit_code == 3
    assert names(tmp_path) == [JOURNAL, "a"]


def test_a_file_in_the_way_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    for out in (tmp_path / "out", tmp_path / "out" / "below"):
        with pytest.raises(OutputError, match="a file stands where a folder is needed"):
            OutputFolder(out, Guard()).prepare()


@pytest.mark.skipif(sys.platform != "linux", reason="needs a small file system limit of Linux")
def test_a_full_disk(tmp_path: Path) -> None:
    # A limit on the size of files stands in for a full disk: the kernel refuses to write on (setrlimit(2)).
    script = (
        "import resource, signal, sys; from pathlib import Path\n"
        "from huemend.base.originals import Guard\n"
        "from huemend.write.folder import OutputFolder\nfrom huemend.errors import OutputError\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
        "with OutputFolder(Path(sys.argv[1]), Guard()) as folder:\n"
        "    folder.write_bytes('small', b'x' * 10)\n"
        "    try:\n        folder.write_bytes('large', b'x' * 5000)\n"
        "    except OutputError as error:\n        print(error)\n"
    )
    done = subprocess.run([sys.executable, "-c", script, tmp_path], capture_output=True, text=True, check=True)
    assert "large: cannot be written (file too large)" in done.stdout
    assert names(tmp_path) == [JOURNAL, "small"]


def test_files_are_readable_as_the_umask_says(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        finished(tmp_path, {"a": b"1"})
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "a").stat().st_mode) == 0o640


def test_a_run_that_writes_nothing_leaves_no_empty_folder(tmp_path: Path) -> None:
    with pytest.raises(OutputError), OutputFolder(tmp_path / "deep" / "out", Guard()):
        raise OutputError("the hero's media is missing")
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "mine").mkdir()
    with OutputFolder(tmp_path / "mine", Guard()):
        pass
    assert (tmp_path / "mine").is_dir()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_a_pipe_in_a_file_s_place_does_not_hang(tmp_path: Path) -> None:
    finished(tmp_path, {"a": b"1"})
    (tmp_path / "a").unlink()
    os.mkfifo(tmp_path / "a")
    assert not is_whole(tmp_path)
    (tmp_path / RECORD).unlink()
    os.mkfifo(tmp_path / RECORD)
    assert not is_whole(tmp_path)
    with pytest.raises(OutputError, match="not as huemend left it"):
        OutputFolder(tmp_path, Guard()).prepare()


# ------------------------------------------------------------------------------------------------- lock


def hold(out: Path, ready: object, wait: float) -> None:
    with OutputFolder(out, Guard()) as folder:
        folder.write_bytes("a", b"1")
        ready.set()  # type: ignore[attr-defined]
        time.sleep(wait)


def holder(out: Path, wait: float) -> multiprocessing.Process:
    context = multiprocessing.get_context("spawn")
    ready = context.Event()
    process = context.Process(target=hold, args=(out, ready, wait))
    process.start()
    assert ready.wait(30)
    return process


def test_a_second_run_in_the_same_folder_is_told_whose_it_is(tmp_path: Path) -> None:
    process = holder(tmp_path, 60)
    try:
        with pytest.raises(OutputError, match=f"another run works in this folder .process {process.pid} on "):
            OutputFolder(tmp_path, Guard()).prepare()
    finally:
        process.kill()
        process.join()


def test_a_killed_run_locks_nobody_out_and_is_seen_as_incomplete(tmp_path: Path) -> None:
    process = holder(tmp_path, 60)
    os.kill(process.pid, signal.SIGKILL)
    process.join()
    assert (tmp_path / lock.LOCK).exists()
    assert not is_whole(tmp_path)
    left = new_part(tmp_path / "a")
    left.write_bytes(b"what a killed run leaves")
    finished(tmp_path, {"b": b"2"})
    assert is_whole(tmp_path)
    assert "b" in names(tmp_path) and not (tmp_path / lock.LOCK).exists()
    assert not left.exists()


def test_two_threads_of_one_process_do_not_share_a_folder(tmp_path: Path) -> None:
    with OutputFolder(tmp_path, Guard()), pytest.raises(OutputError, match="another run"):
        OutputFolder(tmp_path, Guard()).prepare()


def test_where_the_disk_offers_no_locks_a_file_stands_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr(lock.fcntl, "flock", refuse)
    owner = tmp_path / f"{lock.LOCK}-owner"
    with OutputFolder(tmp_path, Guard()):
        assert owner.exists()
        with pytest.raises(OutputError, match="another run"):
            OutputFolder(tmp_path, Guard()).prepare()
    assert not owner.exists()
    # What a dead process of this machine left is taken over, what another machine left is not.
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    machine = lock.platform.node() or "-"
    owner.write_text(f"{machine} {dead.pid}\n")
    with OutputFolder(tmp_path, Guard()):
        pass
    owner.write_text(f"elsewhere {dead.pid}\n")
    with pytest.raises(OutputError, match="on elsewhere"):
        OutputFolder(tmp_path, Guard()).prepare()


@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        (("glaze", "wide"), "glaze_wide"),
        (("../../etc", "passwd"), "_.._etc_passwd"),
        (("a:b*c?", 'd"e'), "a_b_c__d_e"),
        (("szene 1", "büro"), "szene_1_büro"),
        (("CON",), "_CON"),
        (("x\ny", "\0"), "x_y__"),
    ],
)
def test_names_become_file_names(parts: tuple[str, ...], expected: str) -> None:
    assert file_name(*parts) == expected


def test_a_long_name_fits_every_disk() -> None:
    assert len(f"{file_name('舞' * 200, 'a')}_working.cube".encode()) < 255
