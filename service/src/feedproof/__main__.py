"""`python -m feedproof` is the command `feedproof`."""

import sys

from feedproof.cli import main

# A process that the service starts imports this module under another name.
if __name__ == "__main__":
    sys.exit(main())
