"""The KiCad side and the command line: reads files into a Drawing and a Drawing into a Harness."""

import os

# Matrices here are small: threads of the linear algebra cost two to three times the processor time of the work
# itself while they wait for each other. They read this when numpy is first imported, so it stands before that.
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

from loadloom.plugin.own_modules import prefer_own_modules  # noqa: E402  # the settings above come first

prefer_own_modules()
