"""Many workbooks: side by side in processes, or on the workers of a cluster.

Either way the same function does one job from reading to writing and gives back a few counts; what
it found is too big to travel. Results come in the order of the jobs, whatever order they end in.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import replace
from threading import Thread
from typing import TYPE_CHECKING

from .errors import UnusableCall, UnusableInput
from .files import sweep

if TYPE_CHECKING:
    from .run import Done, Job, Options

__all__ = ["Progress", "in_processes", "on_cluster"]

Progress = Callable[[int, int, str], None]
"""Called with the number done, the number in all, and the name of what is under way."""

_PATIENCE = 5.0  # seconds for a scheduler to answer


def in_processes(
    jobs: Sequence[Job], options: Options, workers: int, progress: Progress
) -> Iterator[Done]:
    """Do the jobs in `workers` processes on this machine.

    A process that is killed, by a lack of memory say, costs only the jobs under way: they are done
    again one by one, and one that ends its process again is given up.
    """
    from .run import do

    ended = _InOrder(jobs, progress)
    waiting = deque(range(len(jobs)))
    running: dict[Future[Done], int] = {}
    while waiting:
        try:
            with _pool(workers) as pool:
                while waiting or running:
                    while waiting and len(running) < workers:
                        future = pool.submit(do, jobs[waiting[0]], options)
                        running[future] = waiting.popleft()
                    ended.under_way(running.values())
                    for future in wait(running, return_when=FIRST_COMPLETED).done:
                        ended.add(running[future], future.result())
                        del running[future]
                    yield from ended.ready()
        except BrokenProcessPool:
            again = sorted(running.values())
            running.clear()
            for number in again:
                _sweep(jobs[number])
                ended.add(number, _alone(jobs[number], options))
                yield from ended.ready()
        finally:
            for number in running.values():
                _sweep(jobs[number])


def _alone(job: Job, options: Options) -> Done:
    """Do a job in a process that does nothing else; what it wrote before may be replaced."""
    from .run import Done, do

    try:
        with _pool(1) as pool:
            return pool.submit(do, job, replace(options, overwrite=True)).result()
    except BrokenProcessPool:
        _sweep(job)
        error = UnusableInput(
            str(job.source),
            "could not be checked: its process was stopped from outside, twice",
            "Close other programs, use fewer --workers, or split the workbook.",
        )
        return Done(job, error=error)


@contextmanager
def _pool(workers: int) -> Iterator[Executor]:
    """Start processes that end at once, with what they do, when their use ends by an error."""
    others = set(multiprocessing.active_children())
    # Started afresh, not forked: the same on every system, and nothing is inherited by chance.
    pool = ProcessPoolExecutor(
        workers, multiprocessing.get_context("spawn"), initializer=_serve_the_first
    )
    try:
        yield pool
    except BaseException:
        for process in set(multiprocessing.active_children()) - others:
            process.terminate()
        raise
    finally:
        pool.shutdown(cancel_futures=True)


def _serve_the_first() -> None:
    """Leave Ctrl-C, which reaches every process of a terminal, to the first; end with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    first = multiprocessing.parent_process()
    assert first is not None

    def end() -> None:
        first.join()
        os._exit(1)  # in the middle of a job, which nobody waits for any more

    Thread(target=end, daemon=True).start()


def _sweep(job: Job) -> None:
    """Remove the unfinished files of a job whose process is gone."""
    sweep({path.parent for path in (job.target, job.json, job.csv) if path is not None})


def on_cluster(
    jobs: Sequence[Job], options: Options, address: str, progress: Progress
) -> Iterator[Done]:
    """Do the jobs on the workers of an existing Dask scheduler.

    They read from and write to the same folders as this process. The scheduler gives a job whose
    worker has gone to another one, so a job may find what it wrote before: it may replace it,
    since `run.plan` has seen that nothing else was there. Raises UnusableCall where the package is
    not installed, or no scheduler answers.
    """
    from .run import Done, absolute, do

    client = _client(address)
    ended = _InOrder(jobs, progress)
    options = absolute(replace(options, overwrite=True))
    running: dict[Future[Done], int] = {}
    try:
        pool = client.get_executor(pure=False)
        for number, job in enumerate(jobs):
            running[pool.submit(do, absolute(job), options)] = number
        while running:
            ended.under_way(running.values())
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                number = running.pop(future)
                try:
                    done, job = future.result(), jobs[number]
                    apart = done.job.target != absolute(job).target
                    done.job = replace(job, target=job.apart) if apart else job
                except Exception as error:  # whatever a worker may meet before the job begins
                    done = Done(jobs[number], error=_lost(jobs[number], error))
                ended.add(number, done)
            yield from ended.ready()
    finally:
        client.close()
        for job in jobs:
            _sweep(job)


def _client(address: str):  # type: ignore[no-untyped-def]
    try:
        from distributed import Client
    except ImportError:
        raise UnusableCall(
            f"--scheduler {address}",
            "needs the package 'distributed', which is not installed",
            "Install it with: python -m pip install 'sheetcheck[cluster]'",
        ) from None
    try:
        return Client(address, timeout=_PATIENCE, set_as_default=False)  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as error:  # time-outs are OSErrors
        raise UnusableCall(
            f"--scheduler {address}",
            f"no Dask scheduler answers there ({' '.join(str(error).split())})",
            "Give the address that it shows when it starts, such as tcp://HOST:8786.",
        ) from None


def _lost(job: Job, error: Exception) -> UnusableInput:
    return UnusableInput(
        str(job.source),
        f"could not be checked on the cluster ({type(error).__name__}: "
        f"{' '.join(str(error).split())[:300]})",
        "See that its workers have this version of sheetcheck and enough memory.",
    )


class _InOrder:
    """Gives results in the order of the jobs, and tells of progress."""

    def __init__(self, jobs: Sequence[Job], progress: Progress) -> None:
        self._jobs, self._progress = jobs, progress
        self._done: dict[int, Done] = {}
        self._ended = self._given = 0

    def add(self, number: int, done: Done) -> None:
        self._done[number] = done
        self._ended += 1

    def under_way(self, numbers: Iterable[int]) -> None:
        first = min(numbers, default=None)
        name = "" if first is None else self._jobs[first].source.name
        self._progress(self._ended, len(self._jobs), name)

    def ready(self) -> Iterator[Done]:
        while self._given in self._done:
            # Counted before it is handed over: a consumer that stops must not see it again.
            done = self._done.pop(self._given)
            self._given += 1
            yield done
