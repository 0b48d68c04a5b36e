"""How many threads the libraries below numpy may take."""

from __future__ import annotations

import os


def one_for_matrices() -> None:
    """One thread for products of matrices, unless the user has said otherwise; to be called before numpy is loaded.

    The matrices here have six columns: threads wait for one another longer than they work (a line-up of a million
    triangles spent a third of its processor time so).
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
