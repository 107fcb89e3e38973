"""`python -m monitor` is `vermistat`."""

import sys

from monitor.cli import main

sys.exit(main())
