"""Descriptions that others wrote are expanded with xacro, which no Debian package brings: there these tests are left out."""
from __future__ import annotations

import os
from importlib.util import find_spec

REQUIRED = os.environ.get("CHASSIS_DESCRIBE_JUDGES") == "required"
collect_ignore_glob = [] if REQUIRED or find_spec("xacro") else ["test_*.py"]
