"""The bench list as plain data; instants in UTC, `None` where a thing is not known."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.plain import FORMAT, eta_plain, instant

if TYPE_CHECKING:
    from curewatch.shop.bench_list import BenchList, Job
    from curewatch.shop.plain import Plain


def bench_list_plain(found: BenchList) -> Plain:
    """Return the order of work, group by group."""
    return {
        "format": FORMAT,
        "at": instant(found.at_ms),
        "due": [job_plain(job) for job in found.due],
        "ready": [job_plain(job) for job in found.ready],
        "coming": [job_plain(job) for job in found.coming],
        "waiting": [job_plain(job) for job in found.waiting],
        "held": [job_plain(job) for job in found.held],
    }


def job_plain(job: Job) -> Plain:
    """Return a piece's next job; `at` is by when, since when, or when surely, by its group."""
    return {
        "piece": job.tag,
        "title": job.title,
        "room": job.room,
        "job": job.job,
        "at": instant(job.at_ms),
        "expected": eta_plain(job.eta),
        "today": job.today,
        "reason": job.reason,
        "next_action": job.action,
    }
