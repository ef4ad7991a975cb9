"""Which column of an old table says what: guessed from what stands above it, in English and Spanish, then chosen."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.paper.tables_read import Sheet
from service.words.old_words import Mark, Order, mark_of, order_of, plain
from service.words.units import KINDS, Units, offered, unit_meant


@dataclass(frozen=True)
class Field:
    """What a reading has: its name on the page, the kind of its quantity, and words that stand above such columns."""

    name: str
    words: tuple[str, ...]
    kind: str = ""
    needed: bool = False


FIELDS: dict[str, Field] = {
    "job": Field("Job", ("job", "project", "trabajo", "proyecto", "ensayo no", "job no"), needed=True),
    "customer": Field("Customer", ("customer", "client", "cliente")),
    "site": Field(
        "Site", ("site", "pit", "place", "location", "lugar", "sitio", "obra", "procedencia", "cantera", "banco")
    ),
    "recipe": Field("Recipe", ("recipe", "mix", "mix design", "receta", "mezcla", "dosificacion"), needed=True),
    "batch": Field("Batch", ("batch", "tanda", "lote", "amasada")),
    "block": Field("Block", ("block", "specimen", "sample", "label", "bloque", "probeta", "especimen", "muestra")),
    "condition": Field("Condition", ("condition", "state", "moisture state", "condicion", "estado"), needed=True),
    "soak_hours": Field(
        "Hours in water", ("in water", "soak", "soaked", "hours in water", "inmersion", "en agua", "remojo"), "hours"
    ),
    "age_days": Field("Age", ("age", "edad"), "days"),
    "pressed_on": Field("Pressed on", ("pressed", "pressed on", "made", "cast", "fabricacion", "prensado")),
    "crushed_on": Field(
        "Crushed on",
        ("crushed at", "crushed on", "tested", "test date", "date", "fecha", "fecha de ensayo", "ensayado el"),
    ),
    "outcome": Field("Outcome", ("outcome", "result", "resultado")),
    "stress_mpa": Field(
        "Stress", ("stress", "strength", "compressive strength", "resistencia", "esfuerzo"), "pressure"
    ),
    "force_kn": Field("Force", ("force", "load", "max load", "carga", "carga maxima", "fuerza"), "force"),
    "gauge_mpa": Field("Gauge", ("gauge", "gage", "gauge as read", "manometro", "lectura", "presion"), "pressure"),
    "length_mm": Field("Face length", ("face length", "length", "largo", "longitud", "largo de la cara"), "length"),
    "width_mm": Field("Face width", ("face width", "width", "breadth", "ancho", "ancho de la cara"), "length"),
    "height_mm": Field("Height", ("height", "thickness", "alto", "altura", "espesor"), "length"),
    "mass_kg": Field("Mass", ("mass", "weight", "masa", "peso"), "mass"),
    "crushed_by": Field("Crushed by", ("crushed by", "tested by", "operator", "ensayado por", "operador")),
    "remark": Field("Remark", ("remark", "remarks", "notes", "comment", "observacion", "observaciones", "notas")),
}
LOADS = ("stress_mpa", "force_kn", "gauge_mpa")
DAYS = ("pressed_on", "crushed_on")
BEHIND_HEAD = re.compile(r"^(.*?)[\s_]*(?:[(\[]\s*([^)\]]*)[)\]]|,\s*([^,]+))\s*$")


@dataclass(frozen=True)
class Choice:
    """Where one thing is read: in a column, or the same for all rows; ``unit`` counts where a cell names none."""

    column: int | None
    fixed: str = ""
    unit: str = ""


@dataclass(frozen=True)
class Choices:
    """How a whole table is read."""

    of: Mapping[str, Choice]
    mark: Mark
    order: Order
    # Which gauge of the shop the gauge column was read at.
    gauge: str = ""


def guessed(sheet: Sheet, *, units: Units) -> Choices:
    """Return how a table is most likely meant to be read."""
    parted = [_parted(head) for head in sheet.head]
    scores = sorted(
        (
            (score, -place, name)
            for place, (said, _) in enumerate(parted)
            for name, field in FIELDS.items()
            if (score := _alike(said, field.words))
        ),
        reverse=True,
    )
    taken: dict[str, int] = {}
    for _, place, name in scores:
        if name not in taken and -place not in taken.values():
            taken[name] = -place
    # A table that has the force as well as its stress says one thing twice.
    for name in [name for name in LOADS if name in taken][1:]:
        del taken[name]
    of = {
        name: Choice(taken.get(name), "", _unit(field, parted[taken[name]][1] if name in taken else "", units))
        for name, field in FIELDS.items()
    }
    numbers = [row[1][taken[name]] for row in sheet.rows[:2000] for name in taken if FIELDS[name].kind]
    days = [row[1][taken[name]] for row in sheet.rows for name in DAYS if name in taken]
    return Choices(of, mark_of(numbers), order_of(days, otherwise="month" if units == "imperial" else "day"))


def _parted(head: str) -> tuple[str, str]:
    """Return what a head names and the unit behind it: "Gauge (psi)", "gauge, psi", "gauge_psi", "Fuerza [kN]"."""
    found = BEHIND_HEAD.fullmatch(head.strip())
    if found:
        return plain(found[1].replace("_", " ")), (found[2] or found[3] or "").strip()
    words = head.replace("_", " ").split()
    known = {one.casefold() for kind in KINDS.values() for one in kind.metric}
    if len(words) > 1 and words[-1].casefold() in known - {"m", "in", "d", "h"}:
        return plain(" ".join(words[:-1])), words[-1]
    return plain(" ".join(words)), ""


def _alike(said: str, words: Sequence[str]) -> int:
    """Return how well a head names something: exactly, beginning with it, holding it, or not at all."""
    if said in words:
        return 3
    if any(said.startswith(f"{word} ") for word in words):
        return 2
    return 1 if any(re.search(rf"\b{re.escape(word)}\b", said) for word in words) else 0


def _unit(field: Field, spelled: str, units: Units) -> str:
    if not field.kind:
        return ""
    days = {"days": "d", "day": "d", "dias": "d", "dia": "d", "hours": "h", "horas": "h", "hrs": "h", "hr": "h"}
    spelled = days.get(plain(spelled), spelled)
    return (unit_meant(spelled, field.kind, units=units) if spelled else None) or offered(field.kind, units)[0]
