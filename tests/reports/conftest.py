"""Puts this folder on the path, for the sample that the tests of reports share."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
