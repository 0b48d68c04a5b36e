"""Numbers out of a file's text."""

from __future__ import annotations

import warnings

import numpy as np

from ..errors import InputError
from ..surface.surface import Floats


def numbers_in(text: bytes, where: str) -> Floats:
    """All numbers of ``text``, (n,), divided by spaces or line ends; ``nan`` and ``inf`` are let through.

    Anything that is no number raises an InputError, whose sentence begins with ``where``.

    >>> numbers_in(b"1 2.5\\n-3e2", "panel")
    array([   1. ,    2.5, -300. ])
    >>> numbers_in(b"  ", "panel")
    array([], dtype=float64)
    """
    if not text.strip():
        return np.empty(0)
    with warnings.catch_warnings():
        # numpy only warns where the text stops being numbers; later versions may raise
        warnings.filterwarnings("error", message="string or file could not be read")
        try:
            return np.fromstring(text, dtype=np.float64, sep=" ")
        except (DeprecationWarning, ValueError) as error:
            raise InputError(f"{where} holds something that is not a number where numbers are wanted; "
                             "export it again") from error
