"""A notebook run in a kernel of its own, which is shut down whatever happens."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator, AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from jupyter_client.kernelspec import KernelSpecManager
from jupyter_client.manager import AsyncKernelManager
from nbclient import NotebookClient
from nbclient.exceptions import DeadKernelError
from nbconvert.preprocessors.coalescestreams import CoalesceStreamsPreprocessor
from nbformat import NotebookNode


def execute(book: NotebookNode, folder: Path) -> None:
    """Execute a notebook in a folder, by the Python that runs this; its outputs come into it.

    Parameters
    ----------
    book : NotebookNode
        Of format 4.
    folder : Path
        Where its relative paths begin.

    Raises
    ------
    CellExecutionError
        If a cell fails; the text has the cell and the error.
    KeyboardInterrupt
        If someone stops it.
    """
    # zmq's sockets want a selector loop, which is not the default on Windows
    with asyncio.Runner(loop_factory=asyncio.SelectorEventLoop) as runner:
        runner.run(_execute(book, folder))
    join_lines: Any = CoalesceStreamsPreprocessor()  # type: ignore[no-untyped-call]
    join_lines.preprocess(book, {})  # lines printed one by one become one output


async def _execute(book: NotebookNode, folder: Path) -> None:
    """Run all cells in a kernel of their own; an interrupt is told from a kernel that died."""
    async with kernel_manager() as manager:
        client = _Client(
            book,
            km=manager,
            resources={"metadata": {"path": str(folder)}},
            extra_arguments=["--log-level=40"],  # a warning on TCP is none for a page's reader
            timeout=None,
        )
        try:
            await client.async_execute()
        except DeadKernelError as error:
            task = asyncio.current_task()
            if task and task.cancelling():  # by Ctrl-C; the client takes it for a dead kernel
                raise asyncio.CancelledError from error
            raise


@asynccontextmanager
async def kernel_manager() -> AsyncIterator[AsyncKernelManager]:
    """A manager for one kernel of this Python, shut down at the end, error or not.

    A notebook client shuts down the kernels that it makes itself, and leaves one running that it
    was given.
    """
    specs = KernelSpecManager(kernel_dirs=[])  # so that the kernel is this Python, no other
    manager = AsyncKernelManager(kernel_spec_manager=specs, kernel_name="python3")
    try:
        yield manager
    finally:
        await manager.shutdown_kernel(now=True)  # and its sockets; no matter if it has gone


class _Client(NotebookClient):
    """A client that leaves signals to the caller: its own handlers swallow Ctrl-C."""

    @asynccontextmanager
    async def async_setup_kernel(self, **options: Any) -> AsyncGenerator[None, None]:
        await self.async_start_new_kernel(**options)
        client = await self.async_start_new_kernel_client()
        try:
            yield
        finally:
            client.stop_channels()
