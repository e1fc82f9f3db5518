"""What all tests share: laws draw the same examples on every machine, and Ctrl-C reaches what tests start."""

from __future__ import annotations

import os
import signal

# As in a job's process, and before anything loads numpy.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from hypothesis import settings

settings.register_profile("same_everywhere", derandomize=True)
settings.load_profile("same_everywhere")

# A shell that starts the tests in the background lets them ignore Ctrl-C, and so would every child of theirs.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
