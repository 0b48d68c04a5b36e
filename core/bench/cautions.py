"""What to mind with each kind of material, by the moment of the work that it belongs to, never a limit of exposure.

No exposure to lead is known to be safe, so a figure on a workshop sheet would only mislead.
Sources: 29 CFR 1910.1025 (lead), 1910.253 (gas gear), 1910.133 (filter shade), NFPA 51B (fire watch, from memory),
40 CFR 261.24 (waste); the rest is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

CLOSING = "Follow local law and codes, and take competent, licensed advice; this list replaces neither."

# In the order of the job. What a user's own material says stands between what always holds and the first moment.
ALWAYS, OWN, STRIPPING, FLAME, SPREADING, FILING, AFTER, LAW = (
    "always", "material", "before_stripping", "before_flame", "before_spreading", "filing", "after", "law",
)
TITLES = {
    ALWAYS: "All the Time", OWN: "This Material", STRIPPING: "Before Stripping", FLAME: "Before the Flame",
    SPREADING: "Before Spreading", FILING: "Filing and Sanding", AFTER: "After", LAW: "Law",
}

ALL: Mapping[str, tuple[str, ...]] = {
    ALWAYS: (
        "It only fills and shapes: never rely on it for strength, and never bridge a rust hole or a tear with it.",
    ),
    STRIPPING: ("Old paint may hold lead or chromate: test it before you strip it.",),
    AFTER: ("Two-pack primer holds isocyanates: spray it only with supplied air.",),
    LAW: (CLOSING,),
}

LEAD: Mapping[str, tuple[str, ...]] = {
    ALWAYS: (
        "This solder contains lead, and no exposure to lead is known to be safe.",
        "Wear a fitted mask with a particle filter, and ventilate.",
        "Don't eat, drink or smoke at the work; wash hands and face; leave work clothes there and wash them apart.",
        "Keep children and pregnant people away; have your blood tested if you do this regularly.",
    ),
    FILING: (
        "Never power-sand or power-grind it: file it, then block it by hand.",
        "Pick up dust with a HEPA vacuum or a wet wipe; never sweep it dry or blow it with compressed air.",
    ),
    AFTER: (
        "Collect filings and scrap and have them reclaimed; they are hazardous waste, not rubbish.",
        "Leave a record of where the lead lies: no dry or power sanding and no welding there, ever.",
    ),
}

SOLDER: Mapping[str, tuple[str, ...]] = {
    FLAME: (
        "Before you light the torch: disconnect the battery, mind airbags and gas struts, clear trim, fuel lines "
        "and tank.",
        "Open and vent closed sections first: cavity wax, sealer, underseal and foam burn or burst.",
        "Keep an extinguisher in reach, and watch for fire for an hour after the flame is out.",
        "Cylinders upright and chained, flashback arrestors fitted, joints leak-tested, no oil or grease on oxygen "
        "gear.",
        "Acetylene never above 15 psi (103 kPa) on the gauge.",
        "Wear a face shield with filter shade 2, leather gloves and clothes, closed leather shoes.",
        "No water on molten metal.",
        "Never scan with the torch lit; keep computer, batteries and scan spray away from the flame.",
        "Wipe scan spray off before you heat the panel, and tin that metal again.",
        "No chlorinated cleaner anywhere near the flame: it turns into poison gas.",
        "Zinc-coated sheet and zinc flux give off fumes that make you ill: ventilate.",
        "Flux is acid: goggles, gloves, eyewash in reach; neutralise, rinse and dry before you file and paint.",
    ),
}

FILLER: Mapping[str, tuple[str, ...]] = {
    SPREADING: (
        "Mix no more than you can spread before it stiffens.",
        "Over solder only when the solder has been neutralised and sealed.",
    ),
    FILING: ("Sand with dust extraction and a mask.",),
}


@dataclass(frozen=True)
class Moment:
    """A moment of the work: its ``name``, a key of TITLES, and its ``sentences``, the gravest first."""

    name: str
    sentences: tuple[str, ...]

    @property
    def title(self) -> str:
        """As on screen and paper."""
        return TITLES[self.name]


def cautions_for(kind: str, holds_lead: bool, own: Iterable[str] = ()) -> tuple[Moment, ...]:
    """All cautions of a material by moment, in the order of the job, deferring to law and advice at the end.

    ``kind`` is "solder" or "filler"; ``own``: the material's own. A material with lead gets lead's cautions whatever
    its file says. Moments of which nothing is said are left out.

    >>> cautions_for("solder", True)[0].sentences[0]
    'This solder contains lead, and no exposure to lead is known to be safe.'
    >>> [moment.title for moment in cautions_for("filler", False)]
    ['All the Time', 'Before Stripping', 'Before Spreading', 'Filing and Sanding', 'After', 'Law']
    """
    parts: list[Mapping[str, tuple[str, ...]]] = [LEAD] if holds_lead else []
    parts += [{OWN: tuple(own)}, SOLDER if kind == "solder" else FILLER, ALL]
    said = {name: [text for part in parts for text in part.get(name, ())] for name in TITLES}
    return tuple(
        Moment(name, tuple(text.replace("This solder", f"This {kind}") for text in sentences))
        for name, sentences in said.items() if sentences
    )
