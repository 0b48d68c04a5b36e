"""From where a panel is looked at: square on, from either side, at each low. Any one unit; right-handed axes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

TURN, RAISE = math.radians(38.0), math.radians(14.0)  # of the view from a side
AROUND = 1.03  # how much more than the panel is seen
AROUND_LOW = 1.9
_NO_SIDE = 1e-3  # normals that add up to less have no common side: a closed body


@dataclass(frozen=True)
class View:
    """A look along minus ``toward``: unit axes ``right``, ``up``, ``toward`` (3,), from ``eye`` (3,).

    Without perspective ``half_width`` is half the width that is seen and the eye is the middle of it; with
    perspective it is the tangent of half the angle across. ``close``: only a part of the panel is looked at.
    """

    name: str
    title: str
    right: Floats
    up: Floats
    toward: Floats
    eye: Floats
    half_width: float
    perspective: bool = False
    close: bool = False

    def project(self, points: Floats, width: float, height: float) -> Floats:
        """Where points (k, 3) lie in a picture of this width and height, (k, 2): x right, y down, from its corner.

        nan for points that lie behind the eye of a view with perspective.
        """
        away = np.asarray(points, dtype=np.float64) - self.eye
        x, y = away @ self.right, away @ self.up
        if self.perspective:
            ahead = -(away @ self.toward)
            far = np.where(ahead > 0, ahead, np.nan)
            x, y = x / far, y / far
        scale = width / 2 / self.half_width
        return np.column_stack([width / 2 + scale * x, height / 2 - scale * y])


def square_on(points: Floats, normals: Floats, aspect: float) -> View:
    """The whole of points (k, 3) from the mean of ``normals`` (any length), ``aspect`` is width over height.

    A closed body, whose normals have no common side, is seen from minus y, Blender's front.

    >>> corners = np.array([[0.0, 0, 0], [4, 0, 0], [4, 2, 0], [0, 2, 0]])
    >>> view = square_on(corners, np.array([[0.0, 0, 1]] * 4), 2.0)
    >>> view.toward, view.up, view.eye
    (array([0., 0., 1.]), array([0., 1., 0.]), array([2., 1., 0.]))
    >>> square_on(corners, np.zeros((4, 3)), 2.0).toward
    array([ 0., -1.,  0.])
    """
    return framed(looking_at(normals), points, aspect)


def looking_at(normals: Floats) -> View:
    """The direction of `square_on` alone."""
    return _looking("square", "Square on", _side(normals))


def from_a_side(front: View, side: str, points: Floats, aspect: float) -> View:
    """``front`` turned to the ``side`` "left" or "right" and raised a little."""
    turn = -TURN if side == "left" else TURN
    level = math.cos(turn) * front.toward + math.sin(turn) * front.right
    toward = math.cos(RAISE) * level + math.sin(RAISE) * front.up
    right = np.cross(front.up, toward)
    right /= np.linalg.norm(right)
    view = replace(front, name=side, title=f"From the {side}", right=right, up=np.cross(toward, right), toward=toward)
    return framed(view, points, aspect)


def at_area(name: str, points: Floats, normals: Floats, aspect: float) -> View:
    """One area, points (k, 3), from the mean of its normals (k, 3), with what lies around it."""
    view = _looking(name.lower().replace(" ", "-"), name, _side(normals))
    return framed(replace(view, close=True), points, aspect, AROUND_LOW)


def framed(view: View, points: Floats, aspect: float, around: float = AROUND) -> View:
    """The view moved and widened until points (k, 3) fill a picture of width over height ``aspect``."""
    axes = np.column_stack([view.right, view.up, view.toward])
    seen = np.asarray(points, dtype=np.float64) @ axes
    low, high = seen.min(axis=0), seen.max(axis=0)
    size = high - low
    half = max(size[0], size[1] * aspect) / 2 * around
    return replace(view, eye=axes @ ((low + high) / 2), half_width=float(half) or 1.0, perspective=False)


def _side(normals: Floats) -> Floats:
    total = np.asarray(normals, dtype=np.float64).sum(axis=0)
    length = float(np.linalg.norm(total))
    if length <= _NO_SIDE * float(np.linalg.norm(normals, axis=1).sum()):
        return np.array([0.0, -1.0, 0.0])
    toward: Floats = total / length
    return toward


def _looking(name: str, title: str, toward: Floats) -> View:
    """A look at what faces ``toward``: z is up, or y where the panel lies flat."""
    upward = np.array([0.0, 1.0, 0.0]) if abs(toward[2]) > 0.9 else np.array([0.0, 0.0, 1.0])
    right = np.cross(upward, toward)
    right /= np.linalg.norm(right)
    return View(name, title, right, np.cross(toward, right), toward, np.zeros(3), 1.0)
