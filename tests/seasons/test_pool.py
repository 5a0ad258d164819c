"""Jobs shared out: the same results wherever they are worked, kept as they finish, found again."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from unittest.mock import patch

import pytest
from seasons.made_seasons import LAST, DeadlySky, NoSky, made_job, made_truth

from advisor.errors import CannotAdvise, InputError
from advisor.replay import RECIPES, RESULT, Job, Part, Result
from advisor.seasons import JobsFailed, dask_cluster, digest_of, pool, run_jobs, working
from advisor.seasons import digest as digest_room
from advisor.seasons import kept as kept_room
from advisor.seasons.dask_cluster import version_there
from advisor.seasons.digest import code_digest
from advisor.version import VERSION

ROOT = Path(__file__).resolve().parents[2]


def jobs(count: int = 3) -> list[Job]:
    return [made_job(f"seed {seed}", seed=seed) for seed in range(count)]


def by_key(results: Iterator[Result] | list[Result]) -> dict[str, str]:
    return {result.key: RESULT.dump_json(result).decode() for result in results}


@contextmanager
def worked_keys() -> Iterator[list[str]]:
    """The keys of the jobs that are worked in this process."""
    found: list[str] = []

    def work(job: Job) -> Result:
        found.append(job.key)
        return real(job)

    real = working.work
    with patch.object(working, "work", work):
        yield found


def test_processes_give_the_results_that_this_process_gives() -> None:
    heard: list[tuple[int, int]] = []
    before = dict(os.environ)
    shared = by_key(run_jobs(jobs(), processes=2, told=lambda done, of: heard.append((done, of))))
    assert shared == by_key(run_jobs(jobs(), processes=1))
    assert set(shared) == {"seed 0", "seed 1", "seed 2"}
    assert heard == [(0, 3), (1, 3), (2, 3), (3, 3)]
    assert dict(os.environ) == before


def test_a_result_kept_is_the_result(tmp_path: Path) -> None:
    file = tmp_path / "kept.jsonl"
    job = made_job(parts=tuple(Part), with_rounds=True)
    (worked,) = run_jobs([job], processes=1, kept=file)
    (again,) = run_jobs([job], processes=1, kept=file)
    assert again == worked
    assert worked.ours is not None
    assert len(worked.families) == 4


def test_only_what_is_missing_is_worked_and_a_torn_line_is_missing(tmp_path: Path) -> None:
    file = tmp_path / "kept.jsonl"
    wanted = jobs()
    whole = by_key(run_jobs(wanted, processes=1, kept=file))
    lines = file.read_bytes().splitlines(keepends=True)
    assert [json.loads(line)["digest"] for line in lines] == [digest_of(job) for job in wanted]
    file.write_bytes(lines[0] + lines[1] + lines[2][:90])
    with worked_keys() as worked:
        assert by_key(run_jobs(wanted, processes=1, kept=file)) == whole
    assert worked == ["seed 2"]
    assert file.read_bytes().splitlines(keepends=True) == lines
    with worked_keys() as worked:
        assert by_key(run_jobs(wanted, processes=1, kept=file)) == whole
    assert worked == []


def test_a_run_that_is_left_early_has_kept_what_was_done(tmp_path: Path) -> None:
    file = tmp_path / "kept.jsonl"
    running = run_jobs(jobs(), processes=1, kept=file)
    first = next(running)
    running.close()
    assert [json.loads(line)["key"] for line in file.read_text().splitlines()] == [first.key]


def changed() -> dict[str, Job]:
    job = made_job()
    truth = job.truth
    rain = truth.rain_mm.copy()
    rain[-1] += 0.1
    zone = job.site.zones[0]
    return {
        "seed": replace(job, seed=2),
        "recipe": replace(job, recipe=RECIPES["dry"]),
        "part": replace(job, parts=(Part.OURS,)),
        "last evening": replace(job, last=LAST.replace(day=3)),
        "an hour of rain": replace(job, truth=replace(truth, rain_mm=rain)),
        "an hour less": replace(job, truth=made_truth(ahead_days=7, rain={30: 3.0, 31: 2.0})),
        "a zone": replace(job, site=replace(job.site, zones=(replace(zone, area_m2=201.0),))),
        "the true lawn": replace(job, lawn=job.site),
        "rounds": replace(job, with_rounds=True),
        "a sky": replace(job, sky=NoSky()),
        "another sky": replace(job, sky=NoSky("it rained frogs")),
    }


@pytest.mark.parametrize("what", changed())
def test_a_job_that_is_changed_is_another(what: str) -> None:
    others = changed()
    mine = digest_of(others.pop(what))
    assert mine not in {digest_of(made_job()), *(digest_of(other) for other in others.values())}


def test_a_name_a_place_on_disk_or_an_origin_makes_no_other_job() -> None:
    job = made_job()
    site = replace(job.site, path=Path("elsewhere.yaml"), records_path=Path("other.db"))
    told = replace(job.truth, sources=made_truth().sources, notes=())
    assert digest_of(replace(job, key="two", site=site, truth=told)) == digest_of(job)
    with patch.object(sys.modules["advisor.seasons.digest"], "VERSION", "0.0.1"):
        assert digest_of(replace(job)) != digest_of(made_job(seed=2))
        older = digest_of(job)
    assert older != digest_of(job)


def code_in(folder: Path) -> str:
    """The digest of the code as it lies in a folder."""
    code_digest.cache_clear()
    try:
        with patch.object(digest_room, "PACKAGE", folder):
            return code_digest()
    finally:
        code_digest.cache_clear()


def test_a_line_of_code_that_steers_makes_another_digest_and_one_that_shows_does_not(tmp_path: Path) -> None:
    here = tmp_path / "advisor"
    shutil.copytree(ROOT / "advisor", here, ignore=shutil.ignore_patterns("__pycache__"))
    assert code_in(here) == code_digest()
    for name, steers in (
        ("faces/text/replay_text.py", False),
        ("science/balance.py", True),
        ("replay/season.py", True),
        ("seasons/digest.py", True),
    ):
        before = code_in(here)
        with (here / name).open("a") as file:
            file.write("# a line\n")
        assert (code_in(here) != before) is steers, name
    before = code_in(here)
    (here / "science" / "turf.py").rename(here / "science" / "sward.py")
    assert code_in(here) != before


def test_kept_seasons_of_changed_code_are_worked_anew(tmp_path: Path) -> None:
    file = tmp_path / "kept.jsonl"
    (first,) = run_jobs([made_job()], processes=1, kept=file)
    with patch.object(digest_room, "code_digest", return_value="changed"), worked_keys() as worked:
        (again,) = run_jobs([made_job()], processes=1, kept=file)
    assert worked == ["one"]
    assert again == first
    assert len(file.read_text().splitlines()) == 2


def test_a_cluster_whose_workers_have_other_code_is_refused() -> None:
    other = f"{VERSION} (code 0123456789ab)"
    client = SimpleNamespace(run=lambda _: {"tcp://192.0.2.7:1": version_there(), "tcp://192.0.2.7:2": other})
    with pytest.raises(InputError, match=r"another version of this program; found .*0123456789ab"):
        dask_cluster._fits(client, "tcp://192.0.2.7:8786")
    client.run = lambda _: {"tcp://192.0.2.7:1": version_there()}
    dask_cluster._fits(client, "tcp://192.0.2.7:8786")


def test_a_changed_job_is_worked_anew(tmp_path: Path) -> None:
    file = tmp_path / "kept.jsonl"
    list(run_jobs([made_job()], processes=1, kept=file))
    with worked_keys() as worked:
        list(run_jobs([made_job("same"), made_job("dry", recipe=RECIPES["dry"])], processes=1, kept=file))
    assert worked == ["dry"]


@pytest.mark.parametrize("processes", [1, 2])
def test_a_job_that_fails_is_told_and_the_others_are_given(processes: int, tmp_path: Path) -> None:
    short = made_job("short", last=LAST.replace(day=28))
    running = run_jobs(
        [made_job("a"), short, made_job("b", seed=5)], processes=processes, kept=tmp_path / "k.jsonl"
    )
    given: list[str] = []
    with pytest.raises(JobsFailed) as failed:
        given.extend(result.key for result in running)
    assert sorted(given) == ["a", "b"]
    assert failed.value.failed == (("short", "the weather ends before the evening after 2026-06-28"),)
    assert str(failed.value) == "short: the weather ends before the evening after 2026-06-28"


@pytest.mark.parametrize(
    "text",
    [
        "site:\n  name: mine\n",
        '{"key": "a"}\n',
        "not ended",
        '{"key": "a", "digest": 3, "result": {}}\nnoise\n',
    ],
)
def test_a_file_of_something_else_is_refused_and_left_alone(text: str, tmp_path: Path) -> None:
    file = tmp_path / "site.yaml"
    file.write_text(text)
    with pytest.raises(InputError, match="this is no file of kept seasons"):
        list(run_jobs([made_job()], processes=1, kept=file))
    assert file.read_text() == text


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be kept"):
        kept_room.KeptResults(tmp_path)


INTERRUPTED = """
import multiprocessing
import sys
from pathlib import Path
from seasons.made_seasons import made_job
from advisor.seasons import run_jobs

if __name__ == "__main__":
    many = [made_job(str(seed), seed=seed) for seed in range(500)]
    try:
        for _ in run_jobs(many, processes=2, kept=Path(sys.argv[1])):
            print("one", flush=True)
    except KeyboardInterrupt:
        print("workers left:", len(multiprocessing.active_children()))
        raise
"""


def test_ctrl_c_stops_everything_and_what_is_done_is_kept(tmp_path: Path) -> None:
    script, file = tmp_path / "many.py", tmp_path / "kept.jsonl"
    script.write_text(INTERRUPTED)
    path = os.pathsep.join([str(ROOT), str(ROOT / "tests")])
    with subprocess.Popen(
        [sys.executable, str(script), str(file)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": path},
        start_new_session=True,
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"one\n"
        os.killpg(process.pid, signal.SIGINT)  # as a terminal does, to all of them
        shown, errors = process.communicate(timeout=120)
    assert process.returncode != 0
    assert errors.count(b"KeyboardInterrupt") == 1, errors.decode()
    assert shown.splitlines()[-1] == b"workers left: 0"
    kept = [json.loads(line) for line in file.read_text().splitlines()]
    assert 1 <= len(kept) < 500


def test_a_process_that_dies_is_told_in_a_sentence() -> None:
    deadly = made_job("deadly", sky=DeadlySky())
    with pytest.raises(CannotAdvise, match="a process ended without a word"):
        list(run_jobs([deadly, made_job()], processes=2))


def test_a_cluster_gives_the_same_results() -> None:
    distributed: Any = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=1, processes=False, protocol="tcp", host="127.0.0.1",
            dashboard_address=None,
        ) as cluster,
    ):  # fmt: skip
        short = made_job("short", last=LAST.replace(day=28))
        given: list[Result] = []
        running = run_jobs([*jobs(4), short], processes=1, cluster=cluster.scheduler_address)
        with pytest.raises(JobsFailed, match="short: the weather ends"):
            given.extend(running)
    assert by_key(given) == by_key(run_jobs(jobs(4), processes=1))


def test_a_cluster_that_does_not_answer_is_told_in_a_sentence() -> None:
    pytest.importorskip("distributed")
    with (
        patch.object(sys.modules["advisor.seasons.dask_cluster"], "WAIT_S", 0.2),
        pytest.raises(InputError, match=r"--cluster: no scheduler answers .*tcp://127\.0\.0\.1:9; allowed:"),
    ):
        list(run_jobs([made_job()], processes=1, cluster="tcp://127.0.0.1:9"))


def test_without_the_extra_one_sentence_names_it() -> None:
    with (
        patch.dict(sys.modules, {"distributed": None}),
        pytest.raises(InputError, match=r"advisor\[cluster\]"),
    ):
        list(run_jobs([made_job()], processes=1, cluster="tcp://127.0.0.1:9"))


def test_workers_keep_to_one_thread_unless_the_owner_says_otherwise() -> None:
    with patch.dict(os.environ, {"OMP_NUM_THREADS": "7"}), pool._one_thread_each():
        assert os.environ["OMP_NUM_THREADS"] == "7"
        assert os.environ["OPENBLAS_NUM_THREADS"] == "1"
