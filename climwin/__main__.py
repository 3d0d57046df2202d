"""``python -m climwin``: the same as the command."""

from climwin.cli.entry import run

raise SystemExit(run())
