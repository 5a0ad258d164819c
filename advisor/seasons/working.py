"""One job worked wherever it lands, and what comes of it: a result, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.errors import AdvisorError
from advisor.replay import Job, Result, work

AHEAD = 2  # jobs waiting for each worker, so that none is idle and few are held


@dataclass(frozen=True)
class Failed:
    """A job that cannot be worked, and why."""

    key: str
    why: str


Done = Result | Failed


def worked(job: Job) -> Done:
    """What comes of a job: an error is told in words, since words travel anywhere."""
    try:
        return work(job)
    except AdvisorError as error:
        return Failed(job.key, str(error))
