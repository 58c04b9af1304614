"""``python3 -m chassis_describe``."""
from __future__ import annotations

import sys

from chassis_describe.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
