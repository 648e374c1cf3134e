"""What a column of a sheet may be called, in English, German, French, Spanish and Italian.

Words are folded: no accents, lower case, single blanks for other signs; "%" stays.  They are common usage in labs and
purchasing, no source.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from typing import Final

from formula_vcs.model.values import dataclass
from formula_vcs.words.late_pattern import late_pattern

# --- What a column of a sheet may be called, in English, German, French, Spanish and Italian


# role: words.  A role is what the column is to us; a header is looked up whole, then without its unit.
WORDS: Final[dict[str, str]] = {
    "name": """
        name|raw material|raw materials|material|ingredient|ingredients|trade name|tradename|component|item|
        raw material name|ingredient name|material name|product name|article|description|substance|product|
        rohstoff|rohstoffe|rohstoffname|rohstoffbezeichnung|handelsname|bezeichnung|zutat|zutaten|inhaltsstoff|
        inhaltsstoffe|komponente|einsatzstoff|bestandteil|artikel|artikelbezeichnung|produkt|stoff|rohware|
        matiere premiere|matieres premieres|matiere|mp|nom commercial|nom|designation|composant|produit|libelle|
        ingredients et matieres premieres|nom de la matiere premiere|
        materia prima|materias primas|nombre comercial|ingrediente|ingredientes|componente|componentes|denominacion|
        nombre|producto|descripcion|articulo|
        materie prime|nome commerciale|ingredienti|denominazione|nome|prodotto|descrizione|articolo|componenti""",
    "inci": """
        inci|inci name|inci names|inci designation|inci bezeichnung|inci-name|nom inci|denomination inci|nombre inci|
        denominacion inci|nome inci|denominazione inci|inci eu|inci ue|cosing name""",
    "id": "id|ingredient id|material id",
    "code": """
        code|item code|material code|article no|article number|item no|item number|product code|supplier code|
        supplier's code|sku|part no|material no|rm code|raw material code|
        artikelnummer|artikel nr|art nr|artnr|material nr|materialnummer|rohstoffnummer|rohstoff nr|bestellnummer|
        lieferanten artikelnummer|code article|code mp|reference|ref|code produit|reference fournisseur|
        codigo|codigo articulo|referencia|cod|codigo mp|codice|codice articolo|riferimento|cod articolo""",
    "pct": """
        %|% w/w|%w/w|w/w|w/w %|% m/m|m/m|percent|percentage|pct|wt %|wt%|weight %|amount %|content|concentration|
        % by weight|dosage|% in formula|formula %|
        anteil|gehalt|gew %|gewichtsprozent|gew prozent|prozent|massenanteil|konzentration|einsatzkonzentration|
        ma %|m %|masse %|anteil %|massen %|gewichtsanteil|einsatz|
        pourcentage|teneur|% massique|dose|% p/p|% m/m|taux|
        porcentaje|contenido|concentracion|% peso|dosis|
        percentuale|contenuto|concentrazione|dosaggio|% in peso""",
    "amount": """
        amount|quantity|qty|mass|weight|parts|parts by weight|batch|
        menge|masse|gewicht|teile|ansatz|ansatzmenge|einwaage soll|
        quantite|qte|poids|parties|cantidad|cant|masa|peso|partes|quantita|q ta|qta|massa|parti""",
    "unit": "unit|units|uom|einheit|me|mengeneinheit|unite|unidad|ud|unita|um|u m|unita di misura|unidad de medida",
    "phase": "phase|phases|phase #|phasen|ph|part|phase no|teilphase|fase|fases|fasi|partie|parte",
    "function": """
        function|functions|role|purpose|inci function|funktion|funktionen|verwendung|aufgabe|fonction|fonctions|
        funcion|funciones|funzione|funzioni""",
    "supplier": """
        supplier|suppliers|vendor|manufacturer|source|lieferant|hersteller|lieferanten|fournisseur|fabricant|
        proveedor|fabricante|fornitore|produttore""",
    "cas": "cas|cas no|cas number|cas nr|cas nummer|no cas|n cas|numero cas|n° cas|nº cas|num cas|cas n",
    "ec": "ec|ec no|ec number|einecs|einecs elincs|elincs|eg nr|eg nummer|no ce|numero ce|n ce|ce",
    "inci_pct": """
        inci %|% inci|% in raw material|% in material|% of material|composition %|composition|% in the raw material|
        share in raw material|% im rohstoff|anteil im rohstoff|gehalt im rohstoff|zusammensetzung|
        % dans la matiere premiere|% dans mp|% dans la mp|composition mp|% en materia prima|% en la materia prima|
        composicion|% nella materia prima|composizione|% in materia prima|active %""",
    "price": """
        price|unit price|cost|price per pack|price per drum|preis pro gebinde|preis gebinde|gebindepreis|
        prix par conditionnement|prix conditionnement|precio por envase|prezzo per confezione|price per kg|
        cost per kg|list price|new price|preis|einkaufspreis|ek preis|ek|kosten|
        listenpreis|kilopreis|neuer preis|preis pro kg|prix|prix unitaire|cout|tarif|prix au kg|prix kg|nouveau prix|
        precio|coste|precio unitario|costo|precio por kg|prezzo|prezzo unitario|prezzo al kg""",
    "pack": """
        pack size|package size|pack|package|container|gebinde|gebindegrosse|packgrosse|verpackungseinheit|
        conditionnement|emballage|envase|presentacion|formato|confezione|imballo""",
    "currency": "currency|waehrung|wahrung|devise|moneda|divisa|valuta",
    "per": "per|price unit|price basis|preiseinheit|pro|unite de prix|par|por|unidad de precio|unita di prezzo",
    "since": """
        since|valid from|from date|effective|effective date|effective from|price date|date|as of|
        gultig ab|ab datum|seit|datum|preisdatum|stand|valable a partir du|valable des|date d effet|a partir du|
        valido desde|fecha|desde|vigente desde|valido dal|data|in vigore dal|dal""",
    "least": """
        from quantity|min quantity|minimum quantity|price break|break|quantity from|from|moq|
        ab menge|mindestmenge|staffel|staffelmenge|ab|quantite min|quantite minimale|a partir de|
        cantidad minima|desde cantidad|quantita minima|da quantita""",
    "density": """
        density|densite a 20 °c|dichte bei 20 °c|density at 20 °c|
        specific gravity|sg|rel density|dichte|dichte 20 c|densite|masse volumique|densidad|densita|
        peso especifico|peso specifico""",
    "natural": "natural index|natural|ni|naturlichkeitsindex|indice naturel|indice natural|indice naturale",
    "natural_origin": """
        natural origin index|natural origin|noi|naturlicher ursprung|index naturlicher ursprung|noi iso 16128|
        indice d origine naturelle|origine naturelle|indice de origen natural|origen natural|
        indice di origine naturale|origine naturale""",
    "organic": "organic index|organic|oi|bio index|indice biologique|indice bio|indice ecologico|indice biologico",
    "organic_origin": """
        organic origin index|organic origin|ooi|index biologischer ursprung|bio ursprung|
        indice d origine biologique|indice de origen ecologico|indice di origine biologica""",
    "allergen": """
        allergen|allergens|fragrance allergen|allergen name|fragrance allergens|duftstoffallergen|allergene|
        allergenname|duftstoff|allergene de parfum|substance allergene|alergeno|alergenos|allergeni""",
    "recipe": """
        formula|recipe|formula name|recipe name|formulation|formula no|rezeptur|rezept|formel|rezepturname|
        formulierung|formule|recette|formulation|nom de la formule|formulacion|receta|formulazione|ricetta""",
    "recipe_id": "recipe id|formula id",
    "phase_title": "phase title|phase name",
    "step": "step",
    "note": """
        note|notes|remark|remarks|comment|comments|bemerkung|bemerkungen|kommentar|anmerkung|hinweis|remarque|
        remarques|commentaire|observaciones|nota|comentario|note e commenti|osservazioni|commento""",
    "position": "no|nr|pos|position|line|lfd nr|n|num|numero|linea|ligne|riga|#|n°|nº",
    "target": """
        target|target weight|target mass|to weigh|soll|sollwert|sollmenge|soll menge|cible|a peser|objetivo|teorico|
        teorica""",
    "weighed": """
        weighed|net|net weight|actual|actual weight|weighed mass|ist|istwert|istmenge|ist menge|eingewogen|einwaage|
        netto|pese|poids net|reel|quantite pesee|pesado|peso neto|real|cantidad pesada|pesato|peso netto|
        quantita pesata|effettivo|peso effettivo""",
    "lot": """
        lot|lot no|lot number|batch no|batch number|lot id|charge|chargennummer|chargen nr|charge nr|los|losnummer|
        lot n|numero de lot|no de lot|n lot|lote|numero de lote|n lote|lotto|numero lotto|n lotto""",
    "at": "time|weighed at|timestamp|date time|uhrzeit|zeit|heure|hora|ora",
    "by": """
        by|operator|weighed by|initials|bediener|gewogen von|operateur|pese par|operador|pesado por|
        operatore|pesato da""",
}
NUMBERS: Final = frozenset({
    "pct", "amount", "inci_pct", "price", "least", "density", "natural", "natural_origin", "organic", "organic_origin",
    "target", "weighed",
})  # fmt: skip
"""Roles whose cells are numbers."""

TOTALS: Final = frozenset(
    """total|totals|sum|subtotal|sub total|grand total|gesamt|summe|zwischensumme|gesamtsumme|insgesamt|somme|
    sous total|total general|total general|suma|total|totale|somma|subtotale|totali|total 100|total phase|
    summe phase|gesamtmenge|total formula|overall""".replace("\n", "")
    .replace("    ", "")
    .split("|")
)
TITLES: Final = frozenset(
    """formula|formula name|recipe|recipe name|product|product name|name|title|rezeptur|rezept|rezepturname|produkt|
    produktname|bezeichnung|formule|nom|produit|nom du produit|nom de la formule|recette|formula|producto|nombre|
    nombre del producto|receta|formulacion|prodotto|nome|nome prodotto|ricetta|formulation|titel|
    trial|versuch""".replace("\n", "")
    .replace("    ", "")
    .split("|")
)
NO_TITLES: Final = frozenset(
    """formulation sheet|formula sheet|recipe|recipe sheet|formula|formulation|rezeptur|rezepturblatt|rezept|formel|
    formule|fiche de formulation|fiche formule|formulacion|ficha de formulacion|hoja de formula|ficha tecnica|
    formulazione|scheda di formulazione|scheda formula|ricetta|laboratory|lab sheet|laborblatt|confidential|
    vertraulich|confidentiel|confidencial|riservato|legend|legende|leyenda|legenda|composition|zusammensetzung|
    composicion|composizione""".replace("\n    ", "").split("|")
)
"""Words above a table that name no formula."""
MATERIALS: Final = frozenset(
    """material|raw material|fragrance|perfume|parfum|fragrance name|trade name|rohstoff|handelsname|duftstoff|
    parfumol|parfumoel|produkt|product|matiere premiere|nom commercial|produit|materia prima|nombre comercial|
    producto|fragancia|profumo|fragranza|nome commerciale|prodotto|essential oil|atherisches ol|
    huile essentielle|aceite esencial|olio essenziale|name|artikel""".replace("\n", "")
    .replace("    ", "")
    .split("|")
)
DATES: Final = frozenset(
    """date|valid from|effective from|effective|as of|issued|price list of|datum|gultig ab|stand|preise ab|
    date d effet|valable a partir du|valable des|fecha|valido desde|vigente desde|valido dal|data|in vigore dal|
    en vigueur le|prices from""".replace("\n", "")
    .replace("    ", "")
    .split("|")
)
PER_PACK: Final = ("pack", "gebinde", "conditionnement", "envase", "confezione", "drum")
"""Words in the head of a price that say it is for a pack."""
BATCHES: Final = frozenset(
    [
        "batch",
        "batch no",
        "batch number",
        "batch id",
        "charge",
        "chargennummer",
        "chargen nr",
        "charge nr",
        "charge no",
        "batch nr",
        "ansatz",
        "lot de fabrication",
        "lot",
        "numero de lot",
        "lote",
        "lotto",
        "numero lotto",
        "lote de fabricacion",
    ]
)
PHASES: Final = frozenset({"phase", "fase", "teil", "part", "partie", "parte"})
_SIGNS: Final = late_pattern(r"[^\w%/#°º€$£]+")
_BRACKETS: Final = late_pattern(r"[(\[]([^)\]]*)[)\]]")
_IN: Final = late_pattern(r"\s+(?:in|en)\s+(\S+)\s*$", re.IGNORECASE)
_UNIT: Final = late_pattern(
    r"^(?:%|% ?\(?(?:w/w|m/m|p/p)\)?|w/w|m/m|ppm|mg/kg|kg|g|mg|lb|oz|g/kg|g/ml|g/cm3|g/cm³|kg/l|kg/m3|kg/m³"
    r"|(?:€|eur|\$|usd|£|gbp|chf)\s*(?:/|per|pro|par|por|al)\s*(?:100\s*)?(?:kg|g|lb|l)|€|eur|\$|usd|£|gbp|chf)$",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class ColumnHead:
    """One column head: what it is to us, and the unit that it states, if any."""

    role: str
    unit: str = ""


def fold(text: str) -> str:
    """Fold words so that spellings meet: no accents, lower case, single blanks between.

    >>> fold("Gültig ab:"), fold("Gew.-%")
    ('gultig ab', 'gew %')
    """
    plain = unicodedata.normalize("NFKD", text.replace("ß", "ss").replace("№", "no").replace("n.", "n "))
    bare = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return " ".join(_SIGNS.sub(" ", bare.casefold()).replace("_", " ").split())


@cache
def _by_word() -> dict[str, str]:
    found: dict[str, str] = {}
    for role, words in WORDS.items():
        for word in words.replace("\n", "").split("|"):
            found.setdefault(fold(word), role)
    return found


def header_of(text: str) -> ColumnHead | None:
    """Say what a column head means; None where no word of it is known.

    >>> header_of("Preis [EUR/kg]"), header_of("Anteil in %"), header_of("Sonstiges")
    (ColumnHead(role='price', unit='EUR/kg'), ColumnHead(role='pct', unit='%'), None)
    """
    if len(text) > 80:
        return None
    name, unit = _split(text)
    role = _by_word().get(fold(text)) or _by_word().get(fold(name))
    if role is None and name != text:
        role = _by_word().get(fold(name.split("/")[0]))
    if role is None and "/" in text:
        # two languages in one head: "Rohstoff / Raw material"; "Preis/kg" is no such head
        roles = {_by_word().get(fold(part)) for part in text.split("/")} - {None}
        role = roles.pop() if len(roles) == 1 and text.count("/") == 1 and " / " in text else None
    if role is None and not fold(name) and unit:
        role = "pct" if "%" in unit else None
    if role is None:
        role, unit = _price_by(text) or (None, unit)
    if role is None and fold(text) in _MASSES:
        role, unit = "amount", fold(text)
    role = role or _by_stem(text)
    if role is None:
        return None
    if role in ("lot", "amount") and fold(unit) in _MASSES:
        role = "amount"  # "Charge (g)" is how much goes into a batch, and no number of a lot
    if role == "amount" and "%" in text:
        role = "pct"
    return ColumnHead(role, "%" if role == "pct" and not unit else unit)


_MASSES: Final = ("g", "kg", "mg", "lb", "oz")
# Stems of words by role, for heads of several words: the first role of which a stem is in the head.
_STEMS: Final = (
    ("allergen", ("allerg", "alerg")),
    ("inci", ("inci",)),
    ("cas", (" cas ",)),
    ("natural_origin", (" noi ", "n o i", "natural origin", "origine naturelle", "origen natural")),
    ("price", ("preis", "price", "prix", "precio", "prezzo", " cost ", " kosten ")),
    ("supplier", ("lieferant", "supplier", "fournisseur", "proveedor", "fornitore", "hersteller", "vendor")),
    ("function", ("function", "funktion", "fonction", "funcion", "funzion")),
    ("density", ("density", "dichte", "densite", "densidad", "densita")),
    ("lot", (" lot ", " lote ", " lotto ", " lot no ", "chargennummer", "chargen nr")),
    ("name", (
        "rohstoff", "raw material", "materia prima", "materie prim", "matiere", "material", "ingredient",
        "inhaltsstoff",
        "trade name", "handelsname", "commercial", "bezeichnung", "denominacion", "denominazione", "designation",
        "chemical name",
    )),
)  # fmt: skip


# What may stand in a head of percentages besides the sign; a name of its own makes it a formula's column.
_OF_PERCENT: Final = frozenset(
    """%|w|m|p|g|wt|gew|gewicht|gewichts|en|in|of|by|de|im|la|le|the|dans|nella|masse|massen|mass|weight|peso|poids|
    anteil|menge|amount|qty|content|gehalt|conc|concentration|prozent|percent|percentage|prozentsatz|pourcentage|
    porcentaje|percentuale|formule|formula|rezeptur|produkt|product|fragrance|parfum|final""".replace(
        "\n    ", ""
    ).split("|")
)


def _by_stem(text: str) -> str | None:
    """Give the role of a head of several words by the stems in it, nothing where it has digits or is a sentence."""
    bare = _BRACKETS.sub(" ", text) if "inci" not in fold(text) else text
    if len(bare) > 40 or any(letter.isdigit() for letter in bare):
        return None
    words = f" {fold(bare).replace('/', ' ')} "
    percent = "%" in text or any(stem in words for stem in ("prozent", "percent", "porcent", "pourcent"))
    if percent and not set(words.split()) - _OF_PERCENT:
        return "pct"
    role = next((role for role, stems in _STEMS if any(stem in words for stem in stems)), None)
    if role == "inci" and "/" in text:
        return "name"  # "Trade name / INCI": whichever stands there
    if percent:
        return "inci_pct" if role in ("inci", "name") else None
    return role


_PRICE: Final = late_pattern(r"^(.*?)\s*/\s*((?:100\s*)?(?:kg|g|lb|l|t))\s*$", re.IGNORECASE)


def _price_by(text: str) -> tuple[str, str] | None:
    """Read "Preis/kg", "€/kg": a price whose unit stands in the head, with or without its currency."""
    if _UNIT.match(text.strip()) and any(
        sign in text.casefold() for sign in ("€", "eur", "$", "usd", "£", "gbp", "chf")
    ):
        return "price", text.strip()
    found = _PRICE.match(text)
    if found is not None and _by_word().get(fold(found[1])) == "price":
        return "price", f"/{found[2]}"
    return None


def _split(text: str) -> tuple[str, str]:
    """Take the unit off a head: in brackets, behind "in", or behind a blank or comma."""
    for found in _BRACKETS.finditer(text):
        if _UNIT.match(found[1].strip()):
            return (text[: found.start()] + " " + text[found.end() :]).strip(), found[1].strip()
    found_in = _IN.search(text)
    if found_in is not None and _UNIT.match(found_in[1]):
        return text[: found_in.start()], found_in[1]
    words = re.split(r"[\s,;]+", text.strip())
    for count in range(1, len(words)):  # the longest unit first: "Price EUR/100 kg"
        before, last = " ".join(words[:count]), " ".join(words[count:])
        if _UNIT.match(last):
            return before, last
    if text.strip().endswith("%") and len(text.strip()) > 1:
        return text.strip()[:-1].rstrip(" -."), "%"
    return _BRACKETS.sub(" ", text).strip(), ""


def unit_in(text: str) -> str:
    """Give the unit that a head states, nothing where it states none.

    >>> unit_in("Orange oil (%)"), unit_in("Orange oil")
    ('%', '')
    """
    return _split(text)[1]


def unit_alone(text: str) -> str:
    """Give the unit that a cell states and nothing else, as in a row of units below the heads."""
    bare = text.strip().strip("()[]").strip()
    return bare if _UNIT.match(bare) else ""


def is_known(text: str) -> bool:
    """Say whether a text is, as it stands, a word for a column."""
    return fold(text) in _by_word()


def is_total(text: str) -> bool:
    """Say whether a row's words are those of a sum: "Total", "Summe Phase A", "TOTALE:"."""
    words = fold(text)
    if words in TOTALS:
        return True
    first, _, rest = words.partition(" ")
    return first in ("total", "summe", "subtotal", "somme", "suma", "totale", "zwischensumme", "sum", "subtotale") and (
        not rest or rest.split()[0] in PHASES or rest.strip("0123456789 %")[:1] == "" or len(rest) <= 2
    )


# --- What materials do in a product, in the words of five languages, as the files of a workspace call it


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
