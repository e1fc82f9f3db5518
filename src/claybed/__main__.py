"""`python -m claybed`, the same as the `claybed` command."""

import sys

from claybed.cli.app import main

if __name__ == "__main__":
    sys.exit(main())
