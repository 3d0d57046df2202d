"""A runner for work that follows a user's input: debounced, and only the newest request counts."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Hashable, Sequence
from concurrent.futures import Future
from typing import Any

Task = Callable[[], Any]
"""Work that takes a while and touches nothing but what it was given."""

DELAY_S = 0.12
"""How long the input must rest before work begins. [s]"""


class DebouncedTasks:
    """Runs the newest list of tasks in the background, or at once where no event loop runs.

    A list waits until no newer one has come for `DELAY_S`. Then its tasks run one after the other,
    each in a thread. A newer list replaces it: tasks that have not begun are dropped, and the
    result of the one that runs is ignored.

    Parameters
    ----------
    on_result : callable
        Takes the name of a task and what it returned, or the ValueError that it raised.
    on_busy : callable
        Takes whether tasks are waiting or running.
    """

    def __init__(
        self, on_result: Callable[[str, Any], None], on_busy: Callable[[bool], None]
    ) -> None:
        self._on_result, self._on_busy = on_result, on_busy
        self._newest = 0
        self._running: set[asyncio.Task[None]] = set()  # the loop itself holds no reference

    def submit(self, tasks: Sequence[tuple[str, Task]], *, at_once: bool = False) -> None:
        """Run these named tasks, in order, instead of any that are not finished."""
        self._newest += 1
        loop = None if at_once else _running_loop()
        if loop is None:
            for name, task in tasks:
                self._on_result(name, _result_of(task))
            self._on_busy(False)
            return
        self._on_busy(bool(tasks))
        if tasks:
            running = loop.create_task(self._run(self._newest, tasks))
            self._running.add(running)
            running.add_done_callback(self._running.discard)

    async def _run(self, number: int, tasks: Sequence[tuple[str, Task]]) -> None:
        """Run one list of tasks for as long as it is the newest."""
        await asyncio.sleep(DELAY_S)
        for name, task in tasks:
            if number != self._newest:
                return
            result = await asyncio.to_thread(_result_of, task)
            if number == self._newest:
                self._on_result(name, result)
        if number == self._newest:
            self._on_busy(False)


class SharedRuns:
    """Runs a task once where several threads want the same result at the same time.

    A list of tasks that is replaced leaves its running task to end by itself. Where the next list
    has the same task, it waits for that end rather than begin again.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._running: dict[Hashable, Future[Any]] = {}

    def result(self, key: Hashable, task: Task) -> Any:
        """What the task returns, or raises; equal keys mean equal results."""
        with self._lock:
            running = self._running.get(key)
            is_first = running is None
            if running is None:
                running = self._running[key] = Future()
        if not is_first:
            return running.result()
        try:
            running.set_result(task())
        except BaseException as error:
            running.set_exception(error)
        finally:
            with self._lock:
                del self._running[key]
        return running.result()


def _running_loop() -> asyncio.AbstractEventLoop | None:
    """The event loop of a notebook's kernel; a plain script has none."""
    try:
        return asyncio.get_running_loop()
    except RuntimeError:
        return None


def _result_of(task: Task) -> Any:
    try:
        return task()
    except ValueError as error:
        return error
