"""How many taps, keys and pages one job takes: ``python -m tests.effort`` does it through its forms and counts.

The job is that of docs/seen.md: three recipes of six blocks in pounds and psi, in a new shop, from its settings to a
shared result, with one correction. A field that is filled in costs a tap and its keys, a choice a tap, a select two,
a fold that is opened one, a button or a link one; what the page had filled in already costs nothing. A page is
whatever is shown next. A block is measured at one corner: the count from before leaves room for no more. No browser:
what counts is what the forms ask.
"""

import re
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bs4 import Tag

from service.records.database import migrate
from tests.cast import Cast, open_cast
from tests.journeys.robot import Robot, shown_in

ID = "[0-9a-f-]{36}"
DOCS = Path(__file__).parents[1] / "docs" / "effort.md"
# As counted by somebody who used the product before: taps, keys, pages.
BEFORE = {
    "settings": (25, 156, 8), "press, mould, calibration": (52, 176, 12), "materials": (21, 148, 10),
    "begin": (14, 136, 5), "sacks": (14, 62, 4), "cans": (15, 56, 3), "soil tests": (53, 167, 10), "plan": (29, 23, 12),
    "mix": (26, 62, 15), "press": (85, 233, 29), "cover and soak": (14, 0, 12), "crush": (97, 107, 44),
    "correct": (10, 27, 4), "results, issue, share": (14, 156, 19),
}  # fmt: skip


@dataclass
class Effort:
    """What one part of the job took."""

    taps: int = 0
    keys: int = 0
    pages: int = 0


@dataclass
class Count:
    """The parts of the job in their order."""

    parts: dict[str, Effort] = field(default_factory=dict)
    now: Effort = field(default_factory=Effort)

    @contextmanager
    def part(self, name: str) -> Iterator[None]:
        """Count what follows under a name."""
        self.now = self.parts.setdefault(name, Effort())
        yield


class Hand(Robot):
    """A robot that counts what its hand does."""

    def __init__(self, cast: Cast, who: str, count: Count) -> None:
        super().__init__(cast.browser(who), htmx=True)
        self.count = count

    def open(self, path: str) -> "Hand":
        """Follow a link: one tap."""
        self.count.now.taps += 1
        super().open(path)
        return self

    def attempt(self, pattern: str, *, lists: dict[str, list[str]] | None = None, **fields: str) -> Any:
        """Fill in a form and press its button."""
        form = self.forms(pattern)[0]
        shown = shown_in(form)
        for fold in {id(one): one for name in fields for one in _folds(form, name.replace("__", "."))}.values():
            self.count.now.taps += not fold.has_attr("open")
        for name, value in ((name.replace("__", "."), value) for name, value in fields.items()):
            if shown.get(name) != value:
                self._entered(form, name, value)
        self.count.now.taps += 1
        return super().attempt(pattern, lists=lists, **fields)

    def _entered(self, form: Tag, name: str, value: str) -> None:
        entry = form.find(attrs={"name": name})
        is_typed = not isinstance(entry, Tag) or (
            entry.name != "select" and entry.get("type") not in ("radio", "checkbox")
        )
        self.count.now.taps += 2 if isinstance(entry, Tag) and entry.name == "select" else 1
        self.count.now.keys += len(value) if is_typed else 0

    def _read(self, answer: Any) -> "Hand":
        self.count.now.pages += 1
        super()._read(answer)
        return self


def _folds(form: Tag, name: str) -> list[Tag]:
    """Return the closed folds that a field of a form stands in."""
    entry = form.find(attrs={"name": name})
    return list(entry.find_parents("details")) if isinstance(entry, Tag) else []


def set_up(olu: Hand, count: Count) -> None:
    """Set the shop up: its settings, its presses and mould, its materials."""
    with count.part("settings"):
        olu.open("/settings").send("/settings", units_first="imperial", paper="Letter", comma_thousands="yes")
    with count.part("press, mould, calibration"):
        olu.open("/presses")
        ram = {"ram_diameter_mm": "2 3/4", "rams": "1"}
        limits = {"rating_kn": "36,000", "working_limit_kn": "31,500"}
        olu.send("/presses", name="Bench press", forms="yes", crushes="yes", **ram, **limits)
        dial = {"name": "dial", "graduation_mpa": "50", "full_scale_mpa": "6,000"}
        olu.send(f"/presses/{ID}/gauges", **dial)
        points = (("580", "3,305"), ("2,175", "12,340"), ("4,350", "24,680"), ("5,510", "31,270"))
        rows = {f"gauge_mpa.{row}": gauge for row, (gauge, _) in enumerate(points)}
        rows |= {f"force_kn.{row}": force for row, (_, force) in enumerate(points)}
        days = {"done_on": "2027-02-01", "valid_from": "2027-02-01", "valid_until": "2028-02-01"}
        olu.send(f"/presses/gauges/{ID}/calibrations", reference="load cell", **days, **rows)
        olu.send("/presses/moulds", name="Hand block", length_mm="6", width_mm="4", height_mm="3")
    with count.part("materials"):
        olu.open("/materials").send("/materials", kind="cement", name="Grey cement")
        bag = {"per_kg": "14.50", "per_kg_unit": "bag", "bag_kg": "94"}
        olu.send(f"/materials/{ID}/prices", valid_from="2027-01-01", source="the yard", **bag)
        olu.open("/materials").send("/materials", kind="sand", name="Pit sand")
        sand = {"per_kg": "38", "per_kg_unit": "short ton"}
        olu.send(f"/materials/{ID}/prices", valid_from="2027-01-01", source="the yard", **sand)


def take_in(tess: Hand, count: Count, customer: str) -> str:
    """Save job, take in two sacks, dry their cans and test the soil."""
    with count.part("begin"):
        tess.open("/").open("/jobs/new")
        built = {"wall_thickness_mm": "10", "wall_height_m": "8", "roof_line_load_kn_m": "340"}
        block = {"machine_length_mm": "10", "machine_width_mm": "7", "machine_height_mm": "3 1/2"}
        words = {"site": "Upper terrace", "question": "How little cement will do?"}
        tess.send("/jobs", customer_id=customer, question_kind="least stabiliser", **words, **built, **block,
                  **{"criteria.nmac-ceb": "yes"})  # fmt: skip
        job = tess.path.removesuffix("/intake")
    with count.part("sacks"):
        tess.send(f"{job}/intake", new_soil="Terrace clay", mass_kg="66 lb 6 oz", cost="dug")
        tess.open(f"{job}/intake").send(f"{job}/intake", mass_kg="64 lb 2 oz")
    with count.part("cans"):
        cans = {
            f"cans.{row}.{what}": mass for row in range(2) for what, mass in (("wet_kg", "160.4"), ("can_kg", "60.2"))
        }
        tess.open(f"{job}/intake").follow(f"/sacks/{ID}").send(f"/sacks/{ID}/cans", **cans,
            **{f"cans.{row}.dry_kg": "155.1" for row in range(2)})  # fmt: skip
    with count.part("soil tests"):
        soil = tess.open(f"{job}/intake").link(f"/soils/{ID}")
        tess.open(soil)
        sieves = {
            f"sieves.{row}.retained_g": mass
            for row, mass in enumerate(("0", "0", "12", "40", "88", "96", "60", "48", "30"))
        }
        tess.send(f"{soil}/sieves", dry_mass_g="500", washed_dry_mass_g="380", pan_g="6", **sieves)
        cup = {f"flow.{row}.{what}": text for row, blows in enumerate(("18", "25", "33"))
               for what, text in (("blows", blows), ("wet_g", "40.3"), ("dry_g", "33.8"), ("can_g", "15"))}  # fmt: skip
        tess.send(f"{soil}/flow", **cup)
        thread = {"threads.0.wet_g": "25.1", "threads.0.dry_g": "23.4", "threads.0.can_g": "14.2"}
        tess.send(f"{soil}/threads", **thread)
        box = {f"box_{side}_mm": size for side, size in (("length", "24"), ("width", "1.6"), ("depth", "1.6"))}
        tess.send(f"{soil}/shrinkage", **box, shrinkage_mm="3/4")
        tess.send(f"{soil}/signs", kind="organic", sign="smell", positive="no")
    return job


def plan(tess: Hand, count: Count, job: str) -> None:
    """Plan three recipes of six blocks."""
    with count.part("plan"):
        tess.open(f"{job}/plan").open(f"{job}/plan/new")
        cement = next(str(one["value"]) for one in tess.page.find_all("option") if "Grey cement" in one.get_text())
        groups = {"groups.0.blocks": "3", "groups.1.blocks": "3"}
        first = {"stabilisers.0.material_id": cement, "stabilisers.0.share": "4", "target_moisture": "10"}
        tess.send(f"{job}/plan", press_stress_mpa="870", batches="1", **first, **groups)
        for share in ("6", "8"):
            tess.open(f"{job}/plan/new").send(f"{job}/plan", **{"stabilisers.0.share": share})


def mix_and_press(tess: Hand, count: Count, job: str) -> None:
    """Weigh out, mix and press every recipe."""
    for number in range(3):
        with count.part("mix"):
            (tess if number else tess.open(f"{job}/mixing")).follow(f"/recipes/{ID}/mix")
            # From the second recipe on the scale, the mass of a block and its charge are known.
            first = {"scale_graduation_kg": "0.01", "dry_mass_per_block_kg": "4.6", "test_charges": "0"}
            tess.send(f"/recipes/{ID}/mix", **({} if number else first))
            batch = tess.path
            names = [str(one["name"]) for one in tess.forms(f"{batch}/weighed")[0].find_all("input")
                     if re.fullmatch(rf"weighed_kg\.{ID}|water_kg", str(one.get("name", "")))]  # fmt: skip
            masses = ("28.30", *(["1.12"] * (len(names) - 2)), "1.55")
            tess.send(f"{batch}/weighed", **dict(zip(names, masses, strict=True)))
        with count.part("press"):
            tess.open(f"{batch}/press")
            for block in range(6):
                once = {"pressed_gauge_mpa": "3,000", "charge_kg": "5.05"} if not block and not number else {}
                tess.send(f"{batch}/press", wet_mass_kg=f"5.0{block}", **once, **{"heights_mm.0": "2.96"})


def cure_and_crush(tess: Hand, cast: Cast, count: Count, job: str) -> None:
    """Cover and uncover the blocks, soak half of them, crush all, and correct one reading."""
    with count.part("cover and soak"):
        tess.open(f"{job}/curing").send("/curing/covers")
        cast.clock.forward(days=4)
    cast.clock.forward(hours=1)
    tess = Hand(cast, "tess", count)
    with count.part("cover and soak"):
        tess.open(f"{job}/curing").send("/curing/covers/end")
    cast.clock.forward(days=2, hours=16)
    tess = Hand(cast, "tess", count)
    with count.part("cover and soak"):
        tess.open(f"{job}/curing").send("/curing/soaks")
    cast.clock.forward(hours=6)
    with count.part("crush"):
        tess.open(f"{job}/crushing").send("/crushing/sessions")
        tess.follow(f"/blocks/{ID}")
        for block in range(18):
            tess.send(f"/blocks/{ID}/crushings", outcome="broke", gauge_mpa=f"1,{50 + block}0")
        crushed = tess.link(r"/crushing\?label=.+")
    with count.part("correct"):
        tess.open(crushed).send(f"/blocks/{ID}/crushings/{ID}/corrections", gauge_mpa="1,450", because="misread")


def publish(olu: Hand, count: Count, job: str) -> None:
    """Read the results, issue them and share them by a link."""
    with count.part("results, issue, share"):
        olu.open(job).open(f"{job}/results").open(f"{job}/issue")
        olu.send(f"{job}/issue", remark="Make full-size blocks and have them tested.")
        olu.open(f"{job}/results").send(f"{job}/issued/{ID}/shares")


def counted() -> Count:
    """Do the whole job in a new shop and return what it took."""
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/shop.sqlite"
        migrate(url)
        cast, count = open_cast(url, Path(folder)), Count()
        set_up(Hand(cast, "olu", count), count)
        tess = Hand(cast, "tess", count)
        job = take_in(tess, count, str(cast.customers["cy"]))
        plan(tess, count, job)
        mix_and_press(tess, count, job)
        cure_and_crush(tess, cast, count, job)
        publish(Hand(cast, "olu", count), count, job)
    return count


def table(count: Count) -> str:
    """Return the document: what each part took, before and now."""
    lines = [
        "# How much hand one job takes",
        "",
        *(__doc__ or "").strip().split("\n\n", 1)[1].splitlines(),
        "",
        "`before` was counted by a person at a browser, signing in and mistakes included; `now` by the script.",
        "Compare the parts that changed, not the last tap.",
        "",
        "| part | taps before | now | keys before | now | pages before | now |",
        "|---|---|---|---|---|---|---|",
    ]
    for name, was in BEFORE.items():
        now = count.parts[name]
        lines.append(f"| {name} | {was[0]} | {now.taps} | {was[1]} | {now.keys} | {was[2]} | {now.pages} |")
    whole = [sum(one) for one in zip(*BEFORE.values(), strict=True)]
    taps, keys, pages = (sum(getattr(one, what) for one in count.parts.values()) for what in ("taps", "keys", "pages"))
    lines.append(f"| **all** | {whole[0]} | {taps} | {whole[1]} | {keys} | {whole[2]} | {pages} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    written = table(counted())
    DOCS.write_text(written, "utf-8")
    sys.stdout.write(written)
