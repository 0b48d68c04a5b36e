"""The smooth bend that a panel has on the whole, through sound metal, creases and damage as they come."""

from __future__ import annotations

from itertools import product
from math import factorial

import numpy as np

from ..surface.surface import Floats, Mask, Surface
from .bend import Bend

TO_SIGMA = 1.482602  # of the median of what is left over, for a bell
_DEGREE, _WEAK = 3, 0.03
_ROUNDS, _TUKEY = 25, 4.685


def polynomials(sheet: Surface) -> Floats:
    """Polynomials over space, orthogonal over the sheet, (n, t): the same ones however it is turned or shifted.

    Those that hardly vary over the sheet (powers of the height of a flat one) are left out: they would follow dents.
    """
    areas = sheet.vertex_areas / sheet.area
    place = sheet.vertices - areas @ sheet.vertices
    place /= np.sqrt(areas @ (place * place).sum(axis=1))
    powers = [p for p in product(range(_DEGREE + 1), repeat=3) if sum(p) <= _DEGREE]
    # With the multinomial's root each degree's terms turn into one another by a rotation.
    terms = np.stack([
        np.sqrt(factorial(sum(p)) / np.prod([factorial(k) for k in p])) * (place ** np.array(p)).prod(axis=1)
        for p in powers
    ], axis=1)
    value, way = np.linalg.eigh(terms.T @ (terms * areas[:, None]))
    strong = value > _WEAK**2 * value.max()
    orthogonal: Floats = terms @ (way[:, strong] / np.sqrt(value[strong]))
    return orthogonal


def background(bend: Bend, terms: Floats, plain: Mask, areas: Floats) -> Floats:
    """A smooth bend (n, 3, 3) through most of the ``plain`` vertices, whatever the others do.

    Tukey's biweight on the mean curvature, begun at its median (Beaton & Tukey 1974, from memory).
    """
    aim, term, area = bend.doubled_mean[plain], terms[plain], areas[plain]
    if len(aim) <= term.shape[1]:
        return np.zeros_like(bend.tensor)
    fitted = np.full(len(aim), np.median(aim))
    for _ in range(_ROUNDS):
        off = np.abs(aim - fitted)
        sigma = TO_SIGMA * float(np.median(off)) + 1e-12
        weight = area * np.maximum(1 - (off / (_TUKEY * sigma)) ** 2, 0.0) ** 2
        square = term.T @ (term * weight[:, None])
        before, fitted = fitted, term @ np.linalg.lstsq(square, term.T @ (weight * aim), rcond=1e-10)[0]
        if np.abs(fitted - before).max() < 1e-2 * sigma:
            break
    every = bend.tensor.reshape(-1, 9)[plain]
    found = np.linalg.lstsq(square, term.T @ (weight[:, None] * every), rcond=1e-10)[0]
    smooth: Floats = (terms @ found).reshape(-1, 3, 3)
    return smooth
