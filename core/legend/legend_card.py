"""How large the legend's cut must be for a size of text."""

from __future__ import annotations

from .legend import Legend
from .section_layout import LEAST_HEIGHT, layout

_TRIAL = 1000.0


def card_size(key: Legend, text_size: float) -> tuple[float, float]:
    """Least width and height of `legend_section` with text of ``text_size``, in its unit.

    >>> from .legend_section import legend_section
    >>> from .legend import legend
    >>> width, height = card_size(legend(), 10.0)
    >>> drawing = legend_section(legend(), width, height, None, 10.0)
    >>> card_size(legend(), 0.0)
    (0.0, 0.0)
    """
    across = _TRIAL / layout(key, _TRIAL, _TRIAL, None).size
    return across * text_size, LEAST_HEIGHT * text_size
