"""`python -m bouncesim` is the same as the command `bouncesim`."""

from bouncesim.cli.main import main

raise SystemExit(main())
