"""What is laid, bought and filed off, in words: the same ones in summary, sidebar and picture. numpy only.

``need`` is what plan.json holds of a `Quantity` (`quantity_record`).
"""

from __future__ import annotations

from typing import Any

from ..bench.lay_up import LayUp
from ..bench.quantity import MUCH_FILED_SHARE, Quantity
from ..legend import shop_units as shop
from ..legend.legend import INCH_MM

LIMIT = "a limit and no aim: the less is filled, the better"
ONE_DAMAGE = "one damage, worked together"


def quantity_record(need: Quantity) -> dict[str, Any]:
    """A quantity as plain numbers; masses in g, what is tinned or keyed in mm2."""
    return {
        "finished_mass_g": need.finished_mass_g,
        "laid_mass_g": need.laid_mass_g,
        "laid_mass_steadier_g": need.steadier_mass_g,
        "laid_mass_unsteadier_g": need.unsteadier_mass_g,
        "filings_g": need.filings_g,
        "filed_share": need.filed_share,
        "hardener_g": need.hardener_g,
        "prepared_area_mm2": need.prepared_mm2,
        "paste_g": need.paste_g,
        "flux_g": need.flux_g,
        "packs": need.packs,
        "pack_word": need.pack_word,
        "pack_g": need.pack_g,
        "bought_g": need.bought_g,
    }


def lay_up_of(record: dict[str, Any]) -> LayUp:
    """How the material of a plan's ``record`` goes on; a file saved before kind and contraction were kept has a
    filler's passes and none.

    >>> lay_up_of({"material": {"pass_mm": 2.0, "kind": "solder"}, "overbuild": {"minimum_mm": 1.1}})
    LayUp(pass_mm=2.0, overbuild_mm=1.1, contraction=0.0, kind='solder')
    """
    material = record["material"]
    return LayUp(material["pass_mm"], record["overbuild"]["minimum_mm"], material.get("contraction", 0.0),
                 material.get("kind", "filler"))


def to_lay(need: dict[str, Any], unit: str) -> str:
    """What is laid, from a steadier to an unsteadier hand.

    >>> to_lay({"laid_mass_steadier_g": 244.0, "laid_mass_unsteadier_g": 1380.0}, "mm")
    '244 g to 1.38 kg'
    >>> to_lay({"laid_mass_steadier_g": 0.0, "laid_mass_unsteadier_g": 0.0}, "mm")
    '0 g'
    """
    least, most = (shop.mass(need[f"laid_mass_{hand}_g"], unit) for hand in ("steadier", "unsteadier"))
    if least == most:
        return least
    (figure, word), same = least.split(" "), least.split(" ")[1] == most.split(" ")[1]
    return f"{figure if same else f'{figure} {word}'} to {most}"


def to_buy(need: dict[str, Any], unit: str) -> str:
    """Packs, with their weight.

    >>> to_buy({"packs": 2, "pack_word": "stick", "pack_g": 454.0}, "mm")
    '2 sticks of 454 g'
    >>> to_buy({"packs": 0, "pack_word": "tin", "pack_g": 1000.0}, "mm")
    '0 tins of 1.00 kg'
    """
    count = need["packs"]
    return f"{count} {need['pack_word']}{'' if count == 1 else 's'} of {shop.mass(need['pack_g'], unit)}"


def to_prepare(need: dict[str, Any], unit: str) -> tuple[str, str, str]:
    """What is done to how much metal under and around the fill, and what that takes, which may be empty.

    >>> to_prepare({"prepared_area_mm2": 18e3, "paste_g": 18.0, "flux_g": 3.6}, "mm")
    ('To Tin', '180 cm²', 'about 18 g of paste, or 4 g of flux')
    >>> to_prepare({"prepared_area_mm2": 0.0, "paste_g": None, "flux_g": None}, "mm")
    ('To Key', '0.0 cm²', '')
    """
    metal = shop.area(need["prepared_area_mm2"], unit)
    taken = [f"{shop.mass(need[f'{what}_g'], unit)} of {what}" for what in ("paste", "flux")
             if need[f"{what}_g"] is not None]
    return ("To Tin", metal, f"about {', or '.join(taken)}") if taken else ("To Key", metal, "")


def filed_off(need: dict[str, Any]) -> tuple[str, str]:
    """The share that is filed off again, and where it is much, what lowers it.

    >>> filed_off({"filed_share": 0.43})
    ('about 43% of what is laid', 'offering a card up while it is hot lowers that')
    >>> filed_off({"filed_share": 0.0})
    ('about 0% of what is laid', '')
    """
    much = need["filed_share"] > MUCH_FILED_SHARE
    return f"about {need['filed_share']:.0%} of what is laid", (
        "offering a card up while it is hot lowers that" if much else ""
    )


def layers(count: int, kind: str) -> str:
    """Passes as they are laid: filler's are counted; solder is beads side by side, paddled together.

    >>> layers(3, "solder"), layers(1, "solder"), layers(3, "filler"), layers(1, "filler")
    ('about 3 layers', 'about 1 layer', '3 passes', '1 pass')
    """
    if kind == "solder":
        return f"about {count} layer{'' if count == 1 else 's'}"
    return f"{count} pass{'' if count == 1 else 'es'}"


def at_deepest(record: dict[str, Any], unit: str) -> tuple[str, str]:
    """The thickness to lay at the deepest place, overbuild and all, and in how many passes, as it is recommended.

    >>> area = {"kind": "low", "raised_to_lay_mm": 5.62, "raised_passes": 3}
    >>> at_deepest({"areas": [area], "material": {"kind": "solder"}, "raised": None}, "mm")
    ('5.6 mm to lay', 'about 3 layers')
    """
    lows = [(area["raised_to_lay_mm"], area["raised_passes"]) for area in record["areas"] if area["kind"] == "low"]
    thickness, count = max(lows, default=(0.0, 0))
    first = "" if record["raised"] is None else ", raised first"
    return f"{shop.length(thickness, unit)} to lay", layers(count, record["material"]["kind"]) + first


def size_across(length_mm: float, width_mm: float, unit: str) -> str:
    """Length and width of an area.

    >>> size_across(84.6, 30.2, "mm"), size_across(84.6, 30.2, "inch")
    ('85 × 30 mm', '3.3 × 1.2 in')
    """
    if unit == "inch":
        return f"{length_mm / INCH_MM:.1f} × {width_mm / INCH_MM:.1f} in"
    return f"{length_mm:.0f} × {width_mm:.0f} mm"
