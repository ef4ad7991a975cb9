"""The group names of ASTM D2487 in the reader's language.

They are put together in English where a soil is classified. In Spanish an adjective follows its noun and has its
gender, so each noun is translated with its adjectives. The words are those of soil laboratories in Latin America, from
memory.
"""

FEMALE, MALE = "a", "o"
# A noun, its gender, and what stands behind its adjectives.
NOUNS = {
    "gravel": ("grava", FEMALE, ""),
    "sand": ("arena", FEMALE, ""),
    "lean clay": ("arcilla", FEMALE, "de baja plasticidad"),
    "fat clay": ("arcilla", FEMALE, "de alta plasticidad"),
    "silty clay": ("arcilla limosa", FEMALE, ""),
    "clay": ("arcilla", FEMALE, ""),
    "silt": ("limo", MALE, ""),
    "elastic silt": ("limo", MALE, "de alta plasticidad"),
    "organic clay": ("arcilla orgánica", FEMALE, ""),
    "organic silt": ("limo orgánico", MALE, ""),
    "organic fines": ("finos orgánicos", MALE, ""),
    "cobbles": ("bolones", MALE, ""),
    "boulders": ("bloques de roca", MALE, ""),
}
ADJECTIVES = {
    "sandy": "arenos",
    "gravelly": "gravos",
    "silty, clayey": "limo-arcillos",
    "silty": "limos",
    "clayey": "arcillos",
    "well-graded": "bien graduad",
    "poorly graded": "mal graduad",
}


def soil_name(name: str, *, language: str = "en") -> str:
    """Return the name of a soil's group; what is no such name stays as it is."""
    if language != "es":
        return name
    head, _, added = (name[:1].lower() + name[1:]).partition(" with ")
    said = [_said(part) for part in (head, *(added.split(" and ") if added else ()))]
    if None in said:
        return name
    first, *more = [one for one in said if one]
    spoken = f"{first} con {' y '.join(more)}" if more else first
    return spoken[0].upper() + spoken[1:]


def _said(part: str) -> str | None:
    if part in NOUNS:
        return " ".join(word for word in (NOUNS[part][0], NOUNS[part][2]) if word)
    for english, spanish in ADJECTIVES.items():
        noun = part.removeprefix(f"{english} ")
        if noun != part and noun in NOUNS:
            said, gender, behind = NOUNS[noun]
            return " ".join(word for word in (said, spanish + gender, behind) if word)
    return None
