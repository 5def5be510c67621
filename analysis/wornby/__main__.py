"""`python -m wornby`: the same as `wornby`, where Python's scripts are not on the path."""

import sys

from wornby.cli import main

sys.exit(main())
