"""``python -m climwin``: the same as the command."""

from climwin.cli import main

raise SystemExit(main())
