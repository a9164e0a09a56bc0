"""Folder check, month and learn on a Dask cluster of two workers that the test starts."""

from __future__ import annotations

import json
import os
import shutil
import signal
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from distributed import LocalCluster
from tests.command_line import run

from pourbook.archive import cluster, folder
from pourbook.errors import UsageError

pytestmark = [
    # What the cluster leaves open when it is closed is its own affair.
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::UserWarning"),
]


def _workers() -> Any:
    made: Any = LocalCluster
    return made(n_workers=2, threads_per_worker=1, dashboard_address=":0", silence_logs=50)


@pytest.fixture(scope="module")
def two() -> Iterator[Any]:
    """A cluster of two workers, each a process of its own."""
    with _workers() as made:
        yield made


@pytest.fixture
def jobs(tmp_path: Path, settled_us: Path) -> Path:
    made = tmp_path / "jobs"
    made.mkdir()
    for number in range(6):
        shutil.copy(settled_us, made / f"{number}.xlsx")
    (made / "broken.xlsx").write_bytes(b"PK\x03\x04")
    return made


def test_a_check_on_a_cluster_says_what_one_here_says(two: Any, jobs: Path, tmp_path: Path) -> None:
    here, there = tmp_path / "here.json", tmp_path / "there.json"
    assert run("check", jobs, "--report", here) == 3
    assert run("check", jobs, "--report", there, "--dask", two.scheduler_address) == 3
    assert json.loads(there.read_text()) == json.loads(here.read_text())


def test_month_and_learn_read_on_a_cluster(two: Any, jobs: Path, tmp_path: Path) -> None:
    here = folder.look(jobs)
    there = folder.look(jobs, dask=two.scheduler_address)
    assert there == here
    address = two.scheduler_address
    assert run("month", jobs, tmp_path / "month.xlsx", "--dask", address) == 1
    assert (tmp_path / "month.xlsx").exists()
    assert run("learn", jobs, "--dask", address) == 1


def _slow(path: Path) -> tuple[str, int]:
    time.sleep(0.2)
    return path.name, os.getpid()


def _lost(path: Path) -> tuple[str, int]:
    return path.name, 0


def _deadly(path: Path) -> tuple[str, int]:
    if path.name == "bad":
        os._exit(9)
    return path.name, os.getpid()


def test_a_worker_killed_midway_takes_no_file_with_it(tmp_path: Path) -> None:
    with _workers() as made:
        paths = [tmp_path / f"{number}" for number in range(30)]
        found: dict[str, int] = {}
        for name, process in cluster.each(made.scheduler_address, _slow, paths, _lost):
            if not found:
                os.kill(process, signal.SIGKILL)
            found[name] = process
    assert found.keys() == {path.name for path in paths}
    assert 0 not in found.values()
    assert len(set(found.values())) >= 2  # another one went on


def test_a_file_that_ends_every_worker_is_told(tmp_path: Path) -> None:
    with _workers() as made:
        paths = [tmp_path / name for name in ("one", "bad", "two")]
        found = dict(cluster.each(made.scheduler_address, _deadly, paths, _lost))
    assert found.keys() == {"one", "bad", "two"}
    assert [name for name, process in found.items() if process == 0] == ["bad"]


def test_no_cluster_is_one_clear_refusal(jobs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "SECONDS", 1)
    with pytest.raises(UsageError, match=r"no scheduler answers at tcp://127\.0\.0\.1:9"):
        folder.look(jobs, dask="tcp://127.0.0.1:9")
    assert run("check", jobs, "--dask", "nonsense") == 2
