"""Run a command and print its wall seconds and peak memory in MB: ``python timed.py COMMAND ...``.

A process of its own, because a child's peak memory is at least what its parent held when it was started.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time

start = time.perf_counter()
child = subprocess.Popen(sys.argv[1:])
_, status, used = os.wait4(child.pid, 0)
seconds = time.perf_counter() - start
child.returncode = os.waitstatus_to_exitcode(status)
sys.stdout.write(f"{seconds} {used.ru_maxrss / (1024**2 if sys.platform == 'darwin' else 1024)}\n")
sys.exit(child.returncode)
