"""``python -m climwin``: the same as the command."""

from climwin.cli.main import main

raise SystemExit(main())
