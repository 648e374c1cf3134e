"""What materials do in a product, in the words of five languages, as the files of a workspace call it."""

from __future__ import annotations

from functools import cache
from typing import Final

from formula_vcs.sheets.header_words import fold
from formula_vcs.words.late_pattern import late_pattern

# ours: English | German | French | Spanish | Italian.  Common usage of labs, no source.
_WORDS: Final = {
    "solvent": "solvent|losungsmittel|losemittel|solvant|disolvente|solvente",
    "humectant": "humectant|feuchthaltemittel|feuchthalter|moisturiser|moisturizer|humectant|hydratant|humectante|"
    "hidratante|umettante|idratante",
    "emollient": "emollient|emolliens|ol|olkomponente|emollient|emoliente|emolliente|lipid",
    "emulsifier": "emulsifier|emulgator|emulsifiant|emulsionnant|emulsionante|emulgente|emulsionante|emulsifying agent",
    "co-emulsifier": "co emulsifier|coemulsifier|co emulgator|coemulgator|co emulsifiant|coemulsionante|"
    "co emulsionante|co emulgente",
    "thickener": "thickener|verdicker|verdickungsmittel|epaississant|espesante|addensante|gelling agent|gelbildner|"
    "gelifiant|gelificante|gellante|rheology modifier",
    "preservative": "preservative|konservierungsmittel|konservierer|konservierung|conservateur|conservante|"
    "conservante|preservante",
    "antioxidant": "antioxidant|antioxidans|antioxydant|antioxidante|antiossidante",
    "chelating agent": "chelating agent|chelator|komplexbildner|chelatbildner|chelatant|sequestrant|quelante|"
    "secuestrante|chelante|sequestrante",
    "surfactant": "surfactant|tensid|tensioactif|tensioactivo|tensoattivo|waschaktive substanz|detergent",
    "co-surfactant": "co surfactant|cosurfactant|co tensid|co tensioactif|cotensioactivo|co tensoattivo",
    "fragrance": "fragrance|perfume|parfum|duftstoff|parfumol|duft|fragancia|perfume|profumo|fragranza",
    "colorant": "colorant|colour|color|dye|farbstoff|farbe|pigment|colorante|pigmento",
    "pH adjuster": "ph adjuster|ph adjustment|ph regulator|ph einstellung|ph regulierer|ph wert einstellung|"
    "regulateur de ph|ajusteur de ph|correcteur de ph|regulador de ph|ajustador de ph|regolatore di ph|"
    "correttore di ph",
    "structurant": "structurant|konsistenzgeber|facteur de consistance|agent de consistance|agente de consistencia|"
    "fattore di consistenza|consistency agent|wax|wachs|cire|cera",
    "abrasive": "abrasive|abrasivum|putzkorper|schleifmittel|abrasif|abrasivo|exfoliant|exfoliante|esfoliante|peeling",
    "active": "active|active ingredient|wirkstoff|actif|principe actif|activo|principio activo|attivo|principio attivo",
    "film former": "film former|filmbildner|filmogene|formador de pelicula|filmante|filmogeno",
    "absorbent": "absorbent|absorber|absorptionsmittel|absorbant|absorbente|assorbente",
    "filler": "filler|fullstoff|charge|carga|riempitivo|bulking agent",
    "UV filter": "uv filter|sunscreen|lichtschutzfilter|filtre uv|filtro uv|filtro solare",
    "sweetener": "sweetener|sussungsmittel|sussstoff|edulcorant|edulcorante|dolcificante",
    "flavour": "flavour|flavor|aroma|arome|aromatizante|aromastoff",
}
_APART: Final = late_pattern(r"\s*(?:,|;|/|\n|\+)\s*")


@cache
def _ours() -> dict[str, str]:
    return {fold(word): ours for ours, words in _WORDS.items() for word in words.split("|")}


def function_names(text: str) -> list[str]:
    """Take a list of functions apart; known words in our language, others in small letters as they are.

    >>> function_names("Feuchthaltemittel, Lösungsmittel / Pflegestoff")
    ['humectant', 'solvent', 'pflegestoff']
    """
    words = (part.strip() for part in _APART.split(text))
    return list(dict.fromkeys(_ours().get(fold(word), word.casefold()) for word in words if word))
