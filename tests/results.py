"""Tables of results as Markdown, and the files beside the scripts that they are written into."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path


def table_row(*cells: object) -> str:
    """One line of a Markdown table."""
    return f"| {' | '.join(map(str, cells))} |"


def table_head(*names: object) -> list[str]:
    """The two lines that begin a Markdown table: its headings, and the rule below them."""
    return [table_row(*names), table_row(*["---"] * len(names))]


def write_block(path: Path, name: str, text: str | Iterable[str]) -> None:
    """Put a text, or its lines, between the marks of its name in a file.

    What else stands in the file is left. A file without such marks gets the block at its end.
    """
    begin, end = f"<!-- {name}: begin -->", f"<!-- {name}: end -->"
    lines = text if isinstance(text, str) else "\n".join(text)
    before, _, rest = path.read_text("utf-8").partition(begin)
    after = rest.partition(end)[2]
    parts = [before.strip(), f"{begin}\n{lines.strip()}\n{end}", after.strip()]
    path.write_text("\n\n".join(part for part in parts if part) + "\n", "utf-8")


def read_block(path: Path, name: str) -> str:
    """What stands between the marks of that name in a file."""
    after = path.read_text("utf-8").partition(f"<!-- {name}: begin -->")[2]
    return after.partition(f"<!-- {name}: end -->")[0]
