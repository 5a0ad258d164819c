"""Jobs shared out over processes or a cluster; results as they come.

A job is self-contained and draws only from its own seed, so where it is worked changes nothing. Each worker
keeps to one thread: there are as many workers as there are cores already.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path

from advisor.errors import AdvisorError, CannotAdvise
from advisor.replay import Job, Result
from advisor.seasons.dask_cluster import cluster_worked, connected
from advisor.seasons.digest import digest_of
from advisor.seasons.kept import KeptResults
from advisor.seasons.working import AHEAD, Done, Failed, worked

THREADS = (
    "OMP_NUM_THREADS",
    "OPENBLAS_NUM_THREADS",
    "MKL_NUM_THREADS",
    "NUMEXPR_NUM_THREADS",
    "VECLIB_MAXIMUM_THREADS",
)
"""What the libraries under numpy read as they are loaded."""


class JobsFailed(AdvisorError):
    """Some jobs cannot be worked; `failed` has the key and the reason of each. All others were given before."""

    def __init__(self, failed: Sequence[tuple[str, str]]) -> None:
        self.failed = tuple(failed)
        super().__init__("\n".join(f"{key}: {why}" for key, why in self.failed))


def run_jobs(
    jobs: Iterable[Job],
    *,
    processes: int,
    kept: Path | None = None,
    cluster: str = "",
    told: Callable[[int, int], None] | None = None,
) -> Iterator[Result]:
    """The results of all jobs as they come, worked by so many `processes`; by one, in this process.

    With `kept` each is written there as it comes, and what is there already is not worked again. `cluster` is
    the address of a Dask scheduler that works in place of processes. `told` hears how many are done, of how
    many. After the last result JobsFailed tells what could not be worked. Leaving off early, also by Ctrl-C,
    stops all work.
    """
    wanted = list(jobs)
    failed: list[tuple[str, str]] = []
    done = 0
    with ExitStack() as stack:
        book = stack.enter_context(KeptResults(kept)) if kept is not None else None
        digests = [digest_of(job) for job in wanted] if book is not None else [""] * len(wanted)
        missing: list[tuple[str, Job]] = []
        if told is not None:
            told(done, len(wanted))
        for digest, job in zip(digests, wanted, strict=True):
            if book is None or digest not in book.found:
                missing.append((digest, job))
                continue
            done += 1
            if told is not None:
                told(done, len(wanted))
            yield replace(book.found[digest], key=job.key)
        for digest, result in _worked(missing, processes, cluster, stack):
            if isinstance(result, Failed):
                failed.append((result.key, result.why))
            elif book is not None:
                book.keep(digest, result)
            done += 1
            if told is not None:
                told(done, len(wanted))
            if isinstance(result, Result):
                yield result
    if failed:
        raise JobsFailed(sorted(failed))


def _worked(
    missing: Sequence[tuple[str, Job]], processes: int, cluster: str, stack: ExitStack
) -> Iterator[tuple[str, Done]]:
    """Every job's digest with what came of it."""
    if not missing:
        return
    if cluster:
        yield from cluster_worked(missing, stack.enter_context(connected(cluster)))
    elif processes <= 1 or len(missing) == 1:
        for digest, job in missing:
            yield digest, worked(job)
    else:
        with _processes(min(processes, len(missing))) as pool:
            yield from _shared_out(missing, pool, AHEAD * processes)


def _shared_out(
    missing: Sequence[tuple[str, Job]], pool: ProcessPoolExecutor, most: int
) -> Iterator[tuple[str, Done]]:
    """Hand out a few jobs at a time, the next as one is done."""
    waiting = list(reversed(missing))
    under_way: dict[Future[Done], str] = {}
    while waiting or under_way:
        while waiting and len(under_way) < most:
            digest, job = waiting.pop()
            with _one_thread_each():
                under_way[pool.submit(worked, job)] = digest
        finished, _ = wait(under_way, return_when=FIRST_COMPLETED)
        for future in finished:
            digest = under_way.pop(future)
            try:
                done = future.result()
            except BrokenProcessPool:
                raise CannotAdvise(
                    "a process ended without a word, perhaps for lack of memory; what was done before is kept where "
                    "that was asked for, and fewer processes need less"
                ) from None
            yield digest, done


@contextmanager
def _processes(count: int) -> Iterator[ProcessPoolExecutor]:
    """Fresh processes, ended at once where whoever asked leaves off."""
    others = set(multiprocessing.active_children())
    pool = ProcessPoolExecutor(
        count, mp_context=multiprocessing.get_context("spawn"), initializer=_leave_ctrl_c_to_the_first
    )
    try:
        yield pool
    except BaseException:
        for mine in set(multiprocessing.active_children()) - others:
            mine.terminate()
        raise
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _leave_ctrl_c_to_the_first() -> None:
    """In a worker: Ctrl-C reaches all processes of a terminal, and the first one ends the others."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Processes that are begun inside have one thread for arrays; what the owner set stays."""
    mine = [name for name in THREADS if name not in os.environ]
    os.environ.update(dict.fromkeys(mine, "1"))
    try:
        yield
    finally:
        for name in mine:
            os.environ.pop(name, None)
