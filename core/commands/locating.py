"""What locates a panel along itself, as arguments of the commands that line up."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from ..place.locate_by import Locating


def add_locating(parser: ArgumentParser) -> None:
    """Holes and rims as arguments."""
    parser.add_argument("--locate", metavar="BY", action="append", choices=("holes", "edges", "rims"), default=[],
                        help="hold it along itself by its holes or by its edges (give it twice for both), where they "
                             "are undamaged and on both meshes: what is near flat or round slides otherwise")
    parser.add_argument("--locate-mm", metavar="MM", type=float, default=Locating.sure_mm,
                        help="how closely a hole, or 100 mm of edge, is known on both meshes: two times in three it is "
                             f"better ({Locating.sure_mm:g})")


def locating_of(arguments: Namespace) -> Locating:
    """What the arguments say."""
    by_rims = not {"edges", "rims"}.isdisjoint(arguments.locate)
    return Locating("holes" in arguments.locate, by_rims, arguments.locate_mm)
