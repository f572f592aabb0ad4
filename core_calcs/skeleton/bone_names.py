"""What the name of a file says: which bone, which number, which side."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from .element import Side
from .element_names import SIDE_WORDS

_GENERIC = ("bones", "bone", "scans", "scan", "mesh", "model", "object", "specimen", "element", "part")
_GLUED = ("bone", "scan", "mesh", "model")
_ROMAN = {"i": 1, "ii": 2, "iii": 3, "iv": 4, "v": 5, "vi": 6, "vii": 7, "viii": 8, "ix": 9, "x": 10}
_VERTEBRAE = {
    "cervical": r"cv?|cerv|cervical\w*|halswirbel",
    "thoracic": r"tv?|thv?|thor|thoracic\w*|toracic\w*|dv?|dors|dorsal\w*|brustwirbel",
    "lumbar": r"lv?|lum|lumb\w*|lendenwirbel",
    "sacral": r"sv?|sacral\w*|sacra|sakralwirbel",
    "caudal": r"cav?|cdv?|cau|caud\w*|cy|co|coccy\w*|coccig\w*|tail|schwanzwirbel",
}
_FILLING = r"(?:vertebrae?|vertebres?|vert|v|wirbel)"
# English, Latin, and what Spanish, German, French and Italian collections write, without accents.
# The first that fits is taken: joined words ("metacarpal", "femoral fabella") stand before their parts.
_WORDS: tuple[tuple[str, str], ...] = (
    ("tooth", r"tooth|teeth|dens|dentes|incisor\w*|canine|premolar\w*|molar\w*"),
    ("eye", r"eyes?|eyeballs?|bulbus"),
    ("hyoid", r"lingual\w*|tongue|\w*hyoid\w*|lingua"),
    ("rib cage", r"rib ?cage|thorax|ribs|costae|brustkorb|caja toracica|cage thoracique"),
    ("costal cartilage", r"costal cartilages?|cartilago costalis"),
    ("cartilage", r"cartilag\w*|xiphoid\w*|menisc\w*|ligament\w*|tendon\w*|intervertebral discs?|discs?"),
    ("fabella", r"fabel\w*"),
    ("patella", r"patell\w*|kneecap|rotula|rotule|kniescheibe"),
    ("sesamoid", r"sesamoid\w*"),
    ("metacarpal", r"metacarp\w*|mc"),
    ("metatarsal", r"metatars\w*|mt"),
    ("phalanx", r"phalan\w*|falange\w*|ungual\w*|claws?|hoof|digit(?!s?\b)\w*"),
    ("toe", r"digits?|toes?|fingers?|zehen?|dedos?|doigts?|orteils?"),
    (
        "carpal",
        r"carp\w*|scaphoid\w*|lunate|lunatum|triquetr\w*|pisiform\w*|trapezi\w*|capitat\w*|hamat\w*|radiale|ulnare",
    ),
    (
        "tarsal",
        r"tars\w*|calcan\w*|astragal\w*|talus|navicular\w*|cuboid\w*|cuneiform\w*|tibiale|fibulare",
    ),
    ("jaw", r"jaw|jawbone|mandib\w*|dentary|lower jaw|unterkiefer|mandibola|machoire"),
    ("skull", r"\w*skull|crani\w*|craneo|crane|calvari\w*|schadel|schaedel"),
    ("scapula", r"scapul\w*|escapula|omoplat\w*|shoulder ?blade|schulterblatt"),
    ("clavicle", r"clavic\w*|clavicule|schlusselbein|interclavic\w*|furcul\w*|wishbone"),
    ("coracoid", r"\w*coracoid\w*|\w*coracoide|rabenbein"),
    ("sternum", r"stern\w*|esternon|brustbein|manubri\w*|breastbone|gastral\w*"),
    ("chevron", r"chevrons?|ha?emal\w*"),
    ("humerus", r"humer\w*|omero|oberarm\w*"),
    ("radius", r"radius|radii|radio|speiche"),
    ("ulna", r"ulnae?|cubit\w*|elle"),
    (
        "pelvis",
        r"pelvi\w*|innominat\w*|cox\w*|ilium|ilia|ischi\w*|pubis|pubes|hip|hips|hipbone|"
        r"becken\w*|huftbein|darmbein|sitzbein|schambein|ilion|isquion",
    ),
    ("femur", r"femur|femora|femor\w*|thighbone|oberschenkel\w*"),
    ("tibia", r"tibiae?|shin|shinbone|schienbein|tibiotars\w*"),
    ("fibula", r"fibulae?|perone|perones|wadenbein"),
    ("sacrum", r"sacrum|synsacrum|sacri|sacro|kreuzbein"),
    ("rib", r"rib|costa|costal\w*|costillas?|costola|cote|cotes|rippen?"),
)


@dataclass(frozen=True)
class BoneName:
    """What was read from a name.

    kind : the bone in one word ("femur", "cervical" …); empty where no word is known
    number : the number named with it; None without one
    side : the side named; None where none is
    label : the name without side and generic words, fit to name the element by
    """

    kind: str
    number: int | None
    side: Side | None
    label: str


def read_bone_name(stem: str) -> BoneName:
    """Read a file's name without its suffix; common prefixes are best taken off first."""
    stem = unicodedata.normalize("NFC", stem)
    words = _split_words(_fold(stem))
    while words and words[0] in _GENERIC:
        words = words[1:]
    vertebra = _read_vertebra(words)
    if vertebra:
        return vertebra
    side, rest = _take_side(words)
    text = " ".join(rest)
    if re.search(r"\batlas\b", text):
        return BoneName("cervical", 1, side, "Atlas")
    if re.search(r"\baxis\b", text):
        return BoneName("cervical", 2, side, "Axis")
    kind = next((kind for kind, pattern in _WORDS if re.search(rf"\b(?:{pattern})\b", text)), "")
    numbers = [_ROMAN.get(word) or int(word) for word in rest if word in _ROMAN or word.isdigit()]
    label = "_".join(_find_case(stem, word) for word in rest if word not in ("os",)) or stem
    if not re.search("[^\\W\\d_]", label):
        label = stem
    return BoneName(kind, numbers[0] if numbers else None, side, label[:1].upper() + label[1:])


def strip_common_prefix(stems: list[str]) -> list[str]:
    """The names without what they all begin with, where that ends at a separator and leaves words in each."""
    if len(stems) < 3:
        return stems
    low, high = min(stems), max(stems)
    common = next((i for i, (a, b) in enumerate(zip(low, high, strict=False)) if a != b), min(len(low), len(high)))
    cut = max((low.rfind(mark, 0, common) for mark in "_- ."), default=-1) + 1
    rest = [stem[cut:] for stem in stems]
    return rest if all(re.search("[A-Za-z]", name) for name in rest) else stems


def _fold(text: str) -> str:
    """Letters without their accents, each in its place: Schädel, cráneo."""
    return "".join(unicodedata.normalize("NFD", letter)[0] for letter in text)


def _split_words(stem: str) -> list[str]:
    """Lower-case words and numbers: split at separators, before capitals, and between letters and digits."""
    for word in _GLUED:
        found = re.match(rf"(?i){word}(?=[A-Z_\W\d]|{word.upper()})", stem)
        if not found and stem[: len(word)].isupper() and stem.lower().startswith(word):
            found = re.match(rf"(?i){word}", stem)
        if found and len(stem) > len(word):
            stem = stem[len(word) :]
            break
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", stem)
    spaced = re.sub(r"(?<=[A-Z])(?=[A-Z][a-z])", " ", spaced)
    spaced = re.sub(r"(?<=[A-Za-z])(?=\d)|(?<=\d)(?=[A-Za-z])", " ", spaced)
    return [word.lower() for word in re.split(r"[\W_]+", spaced) if word]


def _read_vertebra(words: list[str]) -> BoneName | None:
    text = " ".join(words)
    for kind, pattern in _VERTEBRAE.items():
        found = re.fullmatch(rf"(?:{_FILLING} )?(?:{pattern})(?: {_FILLING})?(?: (?:no|nr))? (\d+|[ivx]+)", text)
        if found:
            number = _ROMAN.get(found[1]) or (int(found[1]) if found[1].isdigit() else None)
            if number is not None:
                letters = {"cervical": "C", "thoracic": "T", "lumbar": "L", "sacral": "S", "caudal": "Ca"}
                return BoneName(kind, number, "middle", f"{letters[kind]}{number}")
    return None


def _take_side(words: list[str]) -> tuple[Side | None, list[str]]:
    """The side that is named, and the other words; a lone letter counts only beside a longer word."""
    worded = any(len(word) > 1 and not word.isdigit() and word not in _ROMAN for word in words)
    for i in reversed(range(len(words))):
        if words[i] in SIDE_WORDS and (len(words[i]) > 1 or worded):
            return SIDE_WORDS[words[i]], words[:i] + words[i + 1 :]
    return None, words


def _find_case(stem: str, word: str) -> str:
    """A word as it was written, roman numbers in capitals."""
    if word in _ROMAN:
        return word.upper()
    at = _fold(stem).lower().rfind(word)
    return stem[at : at + len(word)] if at >= 0 else word
