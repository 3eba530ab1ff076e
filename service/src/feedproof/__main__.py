"""`python -m feedproof` is the command `feedproof`."""

import sys

from feedproof.cli import main

sys.exit(main())
