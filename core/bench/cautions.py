"""What to mind with each kind of material: plain sentences for the print-out, never a limit of exposure.

No exposure to lead is known to be safe, so a figure on a workshop sheet would only mislead.
Sources: 29 CFR 1910.1025 (lead), 1910.253 (gas gear), 1910.133 (filter shade), NFPA 51B (fire watch, from memory),
40 CFR 261.24 (waste); the rest is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable

CLOSING = "Follow local law and codes, and take competent, licensed advice; this list replaces neither."

ALL = (
    "It only fills and shapes: never rely on it for strength, and never bridge a rust hole or a tear with it.",
    "Old paint may hold lead or chromate: test it before you strip it.",
    "Two-pack primer holds isocyanates: spray it only with supplied air.",
)

LEAD = (
    "This solder contains lead, and no exposure to lead is known to be safe.",
    "Never power-sand or power-grind it: file it, then block it by hand.",
    "Wear a fitted mask with a particle filter, and ventilate.",
    "Don't eat, drink or smoke at the work; wash hands and face; leave work clothes there and wash them apart.",
    "Keep children and pregnant people away; have your blood tested if you do this regularly.",
    "Pick up dust with a HEPA vacuum or a wet wipe; never sweep it dry or blow it with compressed air.",
    "Collect filings and scrap and have them reclaimed; they are hazardous waste, not rubbish.",
    "Leave a record of where the lead lies: no dry or power sanding and no welding there, ever.",
)

SOLDER = (
    "Before you light the torch: disconnect the battery, mind airbags and gas struts, clear trim, fuel lines and tank.",
    "Open and vent closed sections first: cavity wax, sealer, underseal and foam burn or burst.",
    "Keep an extinguisher in reach, and watch for fire for an hour after the flame is out.",
    "Cylinders upright and chained, flashback arrestors fitted, joints leak-tested, no oil or grease on oxygen gear.",
    "Acetylene never above 15 psi (103 kPa) on the gauge.",
    "Wear a face shield with filter shade 2, leather gloves and clothes, closed leather shoes.",
    "No water on molten metal.",
    "Never scan with the torch lit; keep computer, batteries and scan spray away from the flame.",
    "Wipe scan spray off before you heat the panel, and tin that metal again.",
    "No chlorinated cleaner anywhere near the flame: it turns into poison gas.",
    "Flux is acid: goggles, gloves, eyewash in reach; neutralise, rinse and dry before you file and paint.",
    "Zinc-coated sheet and zinc flux give off fumes that make you ill: ventilate.",
)

FILLER = (
    "Sand with dust extraction and a mask.",
    "Mix no more than you can spread before it stiffens.",
    "Over solder only when the solder has been neutralised and sealed.",
)


def cautions_for(kind: str, holds_lead: bool, own: Iterable[str] = ()) -> tuple[str, ...]:
    """All cautions of a material, the gravest first, its ``own`` next, deferring to law and advice at the end.

    ``kind`` is "solder" or "filler". A material with lead gets lead's cautions whatever its file says.

    >>> cautions_for("solder", True)[0]
    'This solder contains lead, and no exposure to lead is known to be safe.'
    >>> cautions_for("filler", False)[-1] == CLOSING
    True
    """
    lead = tuple(text.replace("This solder", f"This {kind}") for text in LEAD) if holds_lead else ()
    of_kind = SOLDER if kind == "solder" else FILLER
    return (*lead, *own, *of_kind, *ALL, CLOSING)
