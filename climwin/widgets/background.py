"""Work that follows a move of the hand: the newest alone, never in the way of the next move."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from typing import Any

Step = Callable[[], Any]
"""Work that takes a while and touches nothing but what it is given."""

CALM_S = 0.12
"""How long the hand must rest before work begins. [s]"""


class Behind:
    """Does the steps of the newest move behind the scenes, or at once where nothing waits.

    Parameters
    ----------
    heard : callable
        Takes the name of a step and what it gave, or the ValueError that it raised.
    busy : callable
        Takes whether there is work to do.
    """

    def __init__(self, heard: Callable[[str, Any], None], busy: Callable[[bool], None]) -> None:
        self._heard, self._busy = heard, busy
        self._turn = 0
        self._tasks: set[asyncio.Task[None]] = set()

    def follow(self, steps: Sequence[tuple[str, Step]], *, at_once: bool = False) -> None:
        """Do these steps, in order, instead of any that are not done yet."""
        self._turn += 1
        loop = None if at_once else _running_loop()
        if loop is None:
            for name, step in steps:
                self._heard(name, _outcome(step))
        self._busy(bool(steps and loop))
        if steps and loop:
            task = loop.create_task(self._work(self._turn, steps))
            self._tasks.add(task)
            task.add_done_callback(self._tasks.discard)

    async def _work(self, turn: int, steps: Sequence[tuple[str, Step]]) -> None:
        await asyncio.sleep(CALM_S)
        for name, step in steps:
            if turn != self._turn:
                return
            found = await asyncio.to_thread(_outcome, step)
            if turn == self._turn:
                self._heard(name, found)
        if turn == self._turn:
            self._busy(False)


def _running_loop() -> asyncio.AbstractEventLoop | None:
    """The loop of a notebook's kernel; a plain script has none."""
    try:
        return asyncio.get_running_loop()
    except RuntimeError:
        return None


def _outcome(step: Step) -> Any:
    try:
        return step()
    except ValueError as error:
        return error
