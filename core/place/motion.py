"""Rigid motions, and the best one between matching points."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from ..errors import InputError
from ..surface.surface import Floats, Surface

# A mirrored fit this many times closer than the proper one is no accident.
_MIRROR_CLOSER = 3.0


@dataclass(frozen=True, eq=False)
class Motion:
    """A turn and a shift, x -> ``rotation`` x + ``shift``; (3, 3) and (3,) mm. Never mirrors, never scales.

    >>> quarter = Motion(np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 1]]), np.array([5.0, 0, 0]))
    >>> quarter.of(np.array([[1.0, 0, 0]]))
    array([[5., 1., 0.]])
    >>> (quarter @ quarter.inverse()).shift
    array([0., 0., 0.])
    """

    rotation: Floats
    shift: Floats

    def of(self, points: Floats) -> Floats:
        """``points`` (n, 3) mm moved."""
        moved: Floats = points @ self.rotation.T + self.shift
        return moved

    def __matmul__(self, first: Motion) -> Motion:
        """This motion after ``first``."""
        return Motion(self.rotation @ first.rotation, self.rotation @ first.shift + self.shift)

    def inverse(self) -> Motion:
        """The way back."""
        back = self.rotation.T
        return Motion(back, -(back @ self.shift))

    def surface(self, surface: Surface) -> Surface:
        """``surface`` moved; both counted from its origin."""
        return replace(surface, vertices=self.of(surface.vertices))

    def vector(self) -> Floats:
        """The turn as a rotation vector (3,): its axis times its angle in radians."""
        vector: Floats = Rotation.from_matrix(self.rotation).as_rotvec()
        return vector

    @property
    def degrees(self) -> float:
        """Angle of the turn, 0 to 180 degrees."""
        return float(np.degrees(np.linalg.norm(self.vector())))

    def matrix(self) -> Floats:
        """The same as (4, 4), for files."""
        matrix = np.eye(4)
        matrix[:3, :3], matrix[:3, 3] = self.rotation, self.shift
        return matrix


STILL = Motion(np.eye(3), np.zeros(3))


def small(turn: Floats, shift: Floats) -> Motion:
    """The motion by the rotation vector ``turn`` (3,), radians, and ``shift`` (3,) mm."""
    return Motion(Rotation.from_rotvec(turn).as_matrix(), np.asarray(shift, dtype=np.float64))


def from_pairs(points: Floats, partners: Floats) -> Motion:
    """The motion that brings ``points`` (k, 3) closest to their ``partners`` (k, 3), by least squares.

    Raises InputError for fewer than three pairs, for points on one line, and where the pairs match only
    as a mirror image. Source: Kabsch 1976, doi:10.1107/S0567739476001873; Umeyama 1991, doi:10.1109/34.88573.

    >>> corner = np.array([[0.0, 0, 0], [1, 0, 0], [0, 2, 0], [0, 0, 3]])
    >>> from_pairs(corner, corner + [5, 0, 0]).shift.round(9) + 0.0
    array([5., 0., 0.])
    >>> from_pairs(corner, corner * [-1, 1, 1])
    Traceback (most recent call last):
    ...
    core.errors.InputError: landmarks: they match only as a mirror image; check left and right, or the scan's axes
    """
    points, partners = np.asarray(points, dtype=np.float64), np.asarray(partners, dtype=np.float64)
    if points.shape != partners.shape or len(points) < 3:
        raise InputError(f"landmarks: {len(points)} and {len(partners)} points came; three or more pairs are wanted")
    _check_spread(points)
    _check_spread(partners)
    proper, misfit = _least_squares(points, partners, mirrored=False)
    if len(points) > 3:
        _, mirror_misfit = _least_squares(points, partners, mirrored=True)
        if misfit > _MIRROR_CLOSER * mirror_misfit and misfit > 1e-6 * np.ptp(partners, axis=0).max():
            raise InputError(
                "landmarks: they match only as a mirror image; check left and right, or the scan's axes"
            )
    return proper


def _check_spread(points: Floats) -> None:
    _, spread, _ = np.linalg.svd(points - points.mean(axis=0))
    if spread[1] < 0.02 * spread[0] or spread[0] == 0:
        raise InputError("landmarks: the points lie on one line; add one well to the side of it")


def _least_squares(points: Floats, partners: Floats, mirrored: bool) -> tuple[Motion, float]:
    """Best proper (or mirroring) orthogonal fit and its root mean square misfit."""
    middle, other = points.mean(axis=0), partners.mean(axis=0)
    left, _, right = np.linalg.svd((partners - other).T @ (points - middle))
    sign = np.array([1.0, 1.0, np.sign(np.linalg.det(left @ right)) * (-1.0 if mirrored else 1.0)])
    rotation = (left * sign) @ right
    motion = Motion(rotation, other - rotation @ middle)
    return motion, float(np.sqrt(np.mean(np.sum((motion.of(points) - partners) ** 2, axis=1))))
