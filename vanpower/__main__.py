"""`python -m vanpower` is the command line."""

import sys

from vanpower.cli import main

sys.exit(main())
