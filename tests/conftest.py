"""One thread for small matrices: as many as there are cores only wait for one another, and tests run side by side."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded; processes that tests start inherit it
