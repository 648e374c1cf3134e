"""The classes that a substance may be counted in: by the charge that it carries, or by what it is to others.

They are the words of pairs that do not go together, of roles, and of `class` in an ingredient's file.  Which
substance is in which class stands in `chemistry/data/classes.toml`.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

# Each class with the wider ones that it is a part of.
CLASSES: Final[dict[str, tuple[str, ...]]] = {
    # by charge, at the usual pH of the product
    "anionic": (),
    "cationic": (),
    "amphoteric": (),
    "non-ionic": (),
    "anionic surfactant": ("anionic",),
    "sulfate surfactant": ("anionic surfactant",),
    "sulfonate surfactant": ("anionic surfactant",),
    "carboxylate surfactant": ("anionic surfactant",),
    "soap": ("anionic surfactant",),
    "phosphate surfactant": ("anionic surfactant",),
    "anionic polymer": ("anionic",),
    "carboxyvinyl polymer": ("anionic polymer",),
    "anionic gum": ("anionic polymer",),
    "clay": ("anionic",),
    "cationic surfactant": ("cationic",),
    "cationic polymer": ("cationic",),
    "cationic biocide": ("cationic",),
    "chlorhexidine": ("cationic biocide",),
    "amphoteric surfactant": ("amphoteric",),
    "protein": ("amphoteric",),
    "non-ionic surfactant": ("non-ionic",),
    "ethoxylate": ("non-ionic surfactant",),
    "W/O emulsifier": ("non-ionic surfactant",),
    "non-ionic polymer": ("non-ionic",),
    # salts
    "electrolyte": (),
    "monovalent salt": ("electrolyte",),
    "polyvalent salt": ("electrolyte",),
    "calcium salt": ("polyvalent salt",),
    # what a substance is to others
    "acid": (),
    "fruit acid": ("acid",),
    "fatty acid": (),
    "base": (),
    "primary amine": (),
    "secondary amine": (),
    "tertiary amine": (),
    "carbonate": (),
    "ascorbate": (),
    "retinoid": (),
    "copper compound": (),
    "iron compound": (),
    "iron oxide": ("iron compound",),
    "silver compound": (),
    "metal oxide": (),
    "peroxide": (),
    "sulfite": (),
    "thiol": (),
    "tannin": (),
    "phenol": (),
    "alcohol": (),
    "self-tanner": (),
    "soluble fluoride": (),
    "fluoride-binding abrasive": (),
    "sulfonic UV filter": (),
    "UV filter": (),
    "unsaturated oil": (),
    "insoluble solid": (),
    # preservatives
    "preservative": (),
    "weak-acid preservative": ("preservative",),
    "weak-acid preservative salt": ("weak-acid preservative",),
    "paraben": ("preservative",),
    "formaldehyde donor": ("preservative",),
    "nitrosating preservative": ("preservative",),
    "isothiazolinone": ("preservative",),
    # what protects, holds and carries
    "chelator": (),
    "antioxidant of oils": (),
    "antioxidant of water": (),
    "photostabiliser": (),
    "suspending agent": (),
}


@lru_cache(maxsize=512)
def with_wider(name: str) -> frozenset[str]:
    """A class with all the wider ones; of a name that is no class, nothing.

    >>> sorted(with_wider("sulfate surfactant"))
    ['anionic', 'anionic surfactant', 'sulfate surfactant']
    """
    if name not in CLASSES:
        return frozenset()
    return frozenset({name}).union(*(with_wider(wider) for wider in CLASSES[name]))


CHARGES: Final = frozenset({"anionic", "cationic", "amphoteric", "non-ionic"})
