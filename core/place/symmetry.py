"""The plane about which a body is nearly its own mirror image, and how nearly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..depth.placing import Placing
from ..errors import InputError
from ..progress import Progress, report_progress, silent, within
from ..surface.nearest import Tree
from ..surface.rim_lines import rim_lines
from ..surface.surface import Floats, Ints, Mask, Surface, normalised
from .fit import InitialPose, Target
from .likeliest import SURE, likeliest, rims_apart
from .locate_by import Locating
from .motion import STILL, Motion
from .register import SURFACE_ALONE, Registered, register
from .rough import axes_of, off_target, settled_from

_REACH_SHARE, _LEAST_REACH_MM = 0.05, 20.0
_DOUBT_MM = 20.0
_POINTS = 1500
_UNLIKE_MM = 0.5  # how far the two sides of a sound body lie apart: common practice, no source
_TELLS_MM = 0.3  # ... so planes that leave them nearer than this are as good as one another
_LEAST_SOUND = 0.7


@dataclass(frozen=True, eq=False)
class Plane:
    """A plane: points x with ``normal`` . x = ``offset_mm``; normal (3,) unit."""

    normal: Floats
    offset_mm: float

    def mirrored(self, points: Floats) -> Floats:
        """``points`` (n, 3) mm on the other side.

        >>> Plane(np.array([1.0, 0, 0]), 2.0).mirrored(np.array([[5.0, 1, 1]]))
        array([[-1.,  1.,  1.]])
        """
        over = points @ self.normal - self.offset_mm
        image: Floats = points - 2 * over[:, None] * self.normal
        return image

    def surface(self, surface: Surface) -> Surface:
        """``surface`` mirrored, its outside still outside."""
        return Surface(self.mirrored(surface.vertices), surface.triangles[:, ::-1], surface.origin)


@dataclass(frozen=True, eq=False)
class Symmetry:
    """A symmetry: its ``plane``; ``fit``: the line-up of the mirror image with the body; ``apart_mm`` (n,): how far the
    mirror image of each of the body's vertices lies below the body, nan where not judged; ``off_mm``: 95 % of sound
    metal lies within this of its mirror image; ``held_mm`` (n,): standard uncertainty of where the mirror image of each
    vertex lies along its normal, from the plane; ``warnings``: plain sentences."""

    plane: Plane
    fit: Registered
    apart_mm: Floats
    off_mm: float
    held_mm: Floats
    warnings: tuple[str, ...]


def plane_through(points: Floats) -> Plane:
    """The plane through three or more ``points`` (k, 3) mm, by least squares; InputError where they lie on one line."""
    middle = points.mean(axis=0)
    _, spread, axes = np.linalg.svd(points - middle)
    if len(points) < 3 or spread[1] <= 0.02 * spread[0]:
        raise InputError("symmetry plane: three points that are not on one line are wanted; set them further apart")
    return Plane(axes[2], float(axes[2] @ middle))


def find_symmetry(
    body: Surface, start: Plane | None = None, partner: Surface | None = None, aside: Mask | None = None,
    locating: Locating = SURFACE_ALONE, progress: Progress = silent,
) -> Symmetry:
    """The plane that mirrors ``body`` onto itself, or onto its ``partner`` from the other side, damage left out.

    ``start``: a plane near it; None: the likeliest of the three through the middle along the body's own axes, and a
    warning where another is nearly as likely. For two panels a start is found between their middles. ``aside`` (n,):
    vertices of the body that take no part, nor does what lies opposite. ``locating``: holes and rims that hold the
    plane, which a nearly round body leaves loose.
    """
    other = _other(body, aside) if partner is None else partner
    target = Target(other, Tree(other), max(_LEAST_REACH_MM, _REACH_SHARE * body.diagonal))
    plane, sureness = start, float("inf")
    if plane is not None:
        plane, _ = _settled(plane, body, target)
    else:
        plane, sureness = (_between(body, other), sureness) if partner else _likeliest(body, target, progress)
    image = plane.surface(body)
    fit = register(
        image, target, InitialPose(STILL, _DOUBT_MM), aside, locating,
        within(progress, 0.1, 1), _UNLIKE_MM,
    )
    report_progress(progress, 1.0, "Found the plane")
    found = _composed(plane, fit.motion)
    image = found.surface(body)
    depth = target.depth(image.vertices, image.vertex_normals)
    apart = depth.depth_mm
    used = fit.sound & depth.judged
    off = float(np.percentile(np.abs(apart[used]), 95)) if used.any() else float("nan")
    held = _of_plane(fit.covariance.placing, found, twice=partner is None).of_depths(depth, other)
    return Symmetry(found, fit, apart, off, held, (*_doubt(sureness), *_unlike(fit)))


def _of_plane(placing: Placing, plane: Plane, twice: bool) -> Placing:
    """What of a mirror image's six freedoms its ``plane`` takes over: tilts about axes in it, and the way along its
    normal. ``twice``: a body held against itself shows each difference on both sides, so it knows half as much."""
    n = plane.normal
    to_plane = -(placing.centre @ n - plane.offset_mm) * n
    about = np.eye(6)
    about[3:, :3] = -np.array([[0, -to_plane[2], to_plane[1]], [to_plane[2], 0, -to_plane[0]],
                               [-to_plane[1], to_plane[0], 0]])
    kept = np.zeros((6, 6))
    kept[:3, :3], kept[3:, 3:] = np.eye(3) - np.outer(n, n), np.outer(n, n)
    change = kept @ about
    return Placing((2.0 if twice else 1.0) * change @ placing.covariance @ change.T, placing.centre + to_plane)


def _other(body: Surface, aside: Mask | None) -> Surface:
    return body if aside is None else body.part(~aside[body.triangles].any(axis=1))


def _doubt(sureness: float) -> tuple[str, ...]:
    if sureness >= SURE:
        return ()
    return (f"another plane mirrors it nearly as well ({sureness:.1f} times as far off): look whether the right one "
            "was taken, or set three points near it",)


def _unlike(fit: Registered) -> list[str]:
    """What the line-up says that matters for a plane, and how much of the body is not like its mirror image."""
    warnings = [text for text in fit.warnings if text != fit.covariance.advice]
    if fit.share < _LEAST_SOUND:
        warnings.append(f"only {fit.share:.0%} of it is like its mirror image: it is bent as a whole, or was never "
                        "built alike; the plane may be off, so set points or an object near it, or mark the bent parts")
    return warnings


def _likeliest(body: Surface, target: Target, progress: Progress) -> tuple[Plane, float]:
    axes, middle, _ = axes_of(body)
    off, planes, motions, images = [], [], [], []
    for k in range(3):
        report_progress(progress, k / 30, "Looking for the plane")
        plane = Plane(axes[:, k], float(axes[:, k] @ middle))
        image = plane.surface(body)
        settled, motion = _settled(plane, body, target)
        off.append(off_target(image, _some(body), target.coarse, motion))
        planes.append(settled)
        motions.append(motion)
        images.append(image)
    best, sureness = likeliest(off, lambda k: rims_apart(rim_lines(images[k]), target, motions[k]), _TELLS_MM)
    return planes[best], sureness


def _settled(plane: Plane, body: Surface, target: Target) -> tuple[Plane, Motion]:
    """The plane near ``plane`` that mirrors some points of the body best, and how its mirror image moved for that."""
    motion = settled_from(STILL, plane.surface(body), _some(body), target.coarse)
    return _composed(plane, motion), motion


def _some(body: Surface) -> Ints:
    return np.linspace(0, len(body.vertices) - 1, min(_POINTS, len(body.vertices))).astype(np.int64)


def _composed(plane: Plane, motion: Motion) -> Plane:
    """The plane that mirrors as ``plane`` and then ``motion`` do.

    The mirror image p -> S p + s, then the motion R, t: together p -> R S p + (R s + t), which turns the plane's normal
    over and shifts by twice the offset along it.
    """
    flip = np.eye(3) - 2 * np.outer(plane.normal, plane.normal)
    both = motion.rotation @ flip
    shift = motion.rotation @ (2 * plane.offset_mm * plane.normal) + motion.shift
    values, vectors = np.linalg.eigh(0.5 * (both + both.T))
    normal = vectors[:, int(np.argmin(values))]
    normal = normal * np.sign(normal @ plane.normal)
    return Plane(normal, float(normal @ shift) / 2)


def _between(body: Surface, partner: Surface) -> Plane:
    """The plane half-way between the middles of two panels, square to the line between them."""
    one, other = axes_of(body)[1], axes_of(partner)[1]
    if np.linalg.norm(other - one) < 1e-6 * body.diagonal:
        raise InputError("symmetry plane: the two panels lie in the same place; give the panels from both sides")
    normal = normalised((other - one)[None])[0]
    return Plane(normal, float(normal @ (one + other)) / 2)
