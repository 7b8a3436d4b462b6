"""Puts this folder on the path, for the generators and the judge."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
