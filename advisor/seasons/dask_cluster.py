"""The same jobs on a cluster of Dask workers. Here alone `distributed` is loaded."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from importlib import import_module
from typing import TYPE_CHECKING, Any

from advisor.errors import InputError
from advisor.seasons.digest import code_digest
from advisor.seasons.working import AHEAD, worked
from advisor.version import VERSION

if TYPE_CHECKING:
    from advisor.replay import Job
    from advisor.seasons.working import Done

WAIT_S = 10
OPTION = "--cluster"


def version_there() -> str:
    """The version of the program where this runs, with the beginning of its code's digest."""
    return f"{VERSION} (code {code_digest()[:12]})"


@contextmanager
def connected(address: str) -> Iterator[Any]:
    """A client of the scheduler at an address; InputError where that cannot be had or used."""
    try:
        distributed: Any = import_module("distributed")
    except ImportError:
        raise InputError(
            "work on a cluster needs the package 'distributed', which is not installed",
            where=OPTION,
            allowed="pip install 'advisor[cluster]', or --jobs N for processes on this computer",
        ) from None
    try:
        client = distributed.Client(address, timeout=WAIT_S, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        raise InputError(
            f"no scheduler answers ({type(error).__name__})",
            where=OPTION,
            found=address,
            allowed="the address of a Dask scheduler, such as tcp://192.0.2.7:8786",
        ) from None
    try:
        _fits(client, address)
        yield client
    finally:
        client.close()


def _fits(client: Any, address: str) -> None:
    """Refuse a cluster without workers, or with another version of the program."""
    try:
        there = client.run(version_there)
    except ImportError:
        raise InputError(
            "the workers do not have this program", where=OPTION, found=address, allowed=f"advisor {VERSION}"
        ) from None
    if not there:
        raise InputError("the cluster has no workers", where=OPTION, found=address, allowed="one or more")
    others = sorted(set(there.values()) - {version_there()})
    if others:
        raise InputError(
            "the workers have another version of this program",
            where=OPTION,
            found=", ".join(others),
            allowed=version_there(),
        )


def cluster_worked(missing: Sequence[tuple[str, Job]], client: Any) -> Iterator[tuple[str, Done]]:
    """Every job's digest with what came of it, a few jobs for each worker under way at a time."""
    waiting = list(reversed(missing))
    digests: dict[str, str] = {}
    distributed: Any = import_module("distributed")
    running = distributed.as_completed(loop=client.loop)

    def hand_out() -> None:
        digest, job = waiting.pop()
        future = client.submit(worked, job, pure=False)
        digests[future.key] = digest
        running.add(future)

    threads = sum(client.nthreads().values())
    for _ in range(min(len(waiting), AHEAD * threads)):
        hand_out()
    try:
        for future in running:
            if waiting:
                hand_out()
            yield digests.pop(future.key), future.result()
    finally:
        client.cancel(list(running.futures), force=True)
