"""``python -m demo.generator``: see make.py."""

from .make import main

raise SystemExit(main())
