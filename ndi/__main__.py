"""``python -m ndi``."""

import sys

from ndi.cli.main import main

sys.exit(main())
