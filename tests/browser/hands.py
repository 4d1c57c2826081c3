"""What a person does with the app, as taps and typing in a browser; nothing goes past the screen.

Everything waits for what it needs to see; nothing waits for a time.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from playwright.sync_api import Locator, Page, expect

from fairsmoke.trial.cook import Cooker, Piece
from fairsmoke.trial.probe import Probe
from fairsmoke.trial.protocol import Stage, StageChange
from fairsmoke.trial.question import Trial
from fairsmoke.trial.weighing import Scale, Weighing


def until_sent(page: Page) -> None:
    """Wait until nothing is kept on the phone any more."""
    # A page that was just opened shows no number until it has looked into what is kept.
    expect(page.locator("[data-queue-count]")).to_have_text("0", timeout=30_000)
    expect(page.locator("[data-queue]")).to_be_hidden()


UTC = ZoneInfo("UTC")


@dataclass
class Hands:
    """A page and the trial that it is about, once there is one."""

    page: Page
    trial: str = ""
    cook: str = ""
    zone: ZoneInfo = UTC

    def fill(self, values: dict[str, str], within: Locator | None = None) -> None:
        """Fill fields by their id, choosing where there is a choice."""
        for name, value in values.items():
            field = (within or self.page).locator(f"#{name}")
            if field.evaluate("(one) => one.tagName") == "SELECT":
                field.select_option(value)
            else:
                field.fill(value)

    # --- the kitchen -------------------------------------------------------------------------

    def add_cooker(self, cooker: Cooker) -> None:
        places = "\n".join(one.name for one in cooker.positions)
        self._add("cooker", {"name": cooker.name, "fuel": cooker.fuel, "positions": places})

    def add_probe(self, probe: Probe) -> None:
        written = probe.to_file()
        values = {"name": probe.name, "accuracy": written.get("accuracy", "")}
        self._add("probe", values | {"offset": written.get("offset", "")})

    def add_scale(self, scale: Scale) -> None:
        written = scale.to_file()
        values = {"name": scale.name, "resolution": written["resolution"]}
        values |= {"repeatability": written.get("repeatability", "")}
        self._add("scale", values | {"error": written.get("max_error", "")})

    def _add(self, kind: str, values: dict[str, str]) -> None:
        self.page.goto("/kitchen")
        box = self.page.locator("details", has=self.page.locator(f"#new-{kind}-name"))
        if box.get_attribute("open") is None:
            box.locator("summary").click()
        self.fill({f"new-{kind}-{name}": value for name, value in values.items()})
        box.get_by_role("button", name=re.compile("^Save")).click()
        expect(self.page.locator("summary", has_text=values["name"])).to_be_visible()

    # --- the trial ---------------------------------------------------------------------------

    def start_trial(self, trial: Trial) -> None:
        page = self.page
        page.goto("/new-trial")
        for row, wanted in (
            ("stage", len(trial.protocol.stages)),
            ("measure", len(trial.measures)),
        ):
            for number in range(wanted):
                if not page.locator(f"#{row}-{number}-name").count():
                    page.locator(f"button[name=more][value={row}]").click()
                    page.locator(f"#{row}-{number}-name").wait_for()
        self.fill({"title": trial.title, "question": trial.question, "differs": trial.differs})
        numbers = {}
        for n, stage in enumerate(trial.protocol.stages):
            numbers[stage.id] = str(n)
            self.fill(_row("stage", n, {"name": stage.name} | _of_stage(stage)))
        changes = 0
        for n, arm in enumerate(trial.arms):
            self.fill({f"arm-{n}-name": arm.name})
            for change in arm.changes:
                which = {"arm": str(n), "stage": numbers[change.stage], "how": "change"}
                # The choice of an arm shows its number; its name follows when it is saved.
                self.fill(_row("change", changes, which | _of_stage(change)))
                changes += 1
        for n, measure in enumerate(trial.measures):
            written = {key: str(value) for key, value in measure.to_file().items()}
            kept = ("name", "kind", "better", "worthwhile", "scale_low", "scale_high")
            self.fill(_row("measure", n, {key: written[key] for key in kept if key in written}))
            if measure.main:
                page.locator(f"input[name=main][value='{n}']").check()
        self.fill({"draw_how": trial.draw.how, "draw_within": trial.draw.within})
        page.get_by_role("button", name="Start the trial").click()
        page.wait_for_url("**/set-up")
        self.trial = page.url.split("/")[-2]

    def start_cook(self, name: str, lit: datetime, cookers: Iterable[str]) -> None:
        page = self.page
        page.goto(f"/trials/{self.trial}/new-cook")
        local = lit.astimezone(self.zone).strftime("%Y-%m-%dT%H:%M")
        self.fill({"cook-name": name, "cook-starts": local})
        for cooker in cookers:
            page.get_by_label(cooker, exact=True).check()
        page.get_by_role("button", name="Start the cook").click()
        page.wait_for_url(re.compile("/cooks/"))
        self.cook = page.url.split("/cooks/")[1].partition("/")[0]

    @property
    def at(self) -> str:
        return f"/trials/{self.trial}/cooks/{self.cook}"

    def add_piece(self, piece: Piece, arm: str, spot: str) -> None:
        page = self.page
        page.goto(f"{self.at}/set-up")
        box = page.locator("details", has=page.locator("#new-piece-name"))
        if box.get_attribute("open") is None:
            box.locator("summary").first.click()
        values = {"name": piece.name, "pair": "pair-1", "cut": piece.cut, "species": piece.species}
        self.fill({f"new-piece-{name}": value for name, value in values.items()})
        page.locator("#new-piece-arm").select_option(label=arm)
        page.locator("#new-piece-spot").select_option(label=spot)
        page.locator("form", has=page.locator("#new-piece-name")).get_by_role(
            "button", name=re.compile("^Save")
        ).click()
        expect(page.locator("summary", has_text=f"{piece.name}: {arm}")).to_be_visible()

    # --- at the pit --------------------------------------------------------------------------

    def go_to(self, path: str) -> None:
        """Open a page, unless it is open: what changes there has to come by itself."""
        if urlsplit(self.page.url).path != path:
            self.page.goto(path)

    def go_to_pit(self) -> None:
        self.go_to(self.at)

    def place_probe(self, probe: str, measures: str, where: str) -> None:
        """Say what a probe is in now, on the page of the probes: "core" of a piece, "pit" at…"""
        page = self.page
        self.go_to(f"{self.at}/probes")
        page.locator("#move-probe").select_option(label=probe)
        choice = page.locator(f"#move-place option[value^='{measures}:']", has_text=where)
        page.locator("#move-place").select_option(choice.get_attribute("value"))
        self.tap(page.get_by_role("button", name="Record the probe"), "Probe moved")

    def end_cook(self) -> None:
        """Say that the cook is over."""
        self.go_to_pit()
        self.tap(self.page.get_by_role("button", name="End this cook"), "Cook ended")

    def do(self, event: str, piece: str) -> None:
        """Tap what is done to a piece."""
        card = self.page.locator("article.piece", has=self.page.get_by_role("heading", name=piece))
        button = card.locator(f"button[name=event][value='{event}']")
        self.tap(button, button.get_attribute("data-says") or "")

    def do_unasked(self, event: str, piece: str) -> None:
        """Record what is done to a piece, though the app does not expect it now."""
        page = self.page
        box = page.locator("details", has=page.locator("#other-event"))
        box.locator("summary").first.click()
        page.locator("#other-event").select_option(event)
        box.get_by_label(piece, exact=True).check()
        self.tap(box.get_by_role("button", name="Record it"), "")

    def tend(self, event: str, cooker: str) -> None:
        """Tap what is done to a cooker."""
        pit = self.page.locator(
            "section.pit", has=self.page.get_by_role("heading", name=cooker, exact=True)
        )
        button = pit.locator(f"button[name=event][value='{event}']")
        self.tap(button, button.get_attribute("data-says") or "")

    def tap(self, button: Locator, says: str) -> None:
        """Tap a button and wait until the entry is on the phone, as its bar says."""
        button.click()
        expect(self.page.locator("[data-bar-what]")).to_contain_text(says)

    def weigh(self, weighing: Weighing, scale: str, piece: str, sums: Iterable[str]) -> None:
        """Record a weighing: the sum chosen as far as it is offered, the rest typed."""
        page, parts = self.page, [part.text for part in weighing.sum]
        self.go_to(f"{self.at}/weigh")
        page.get_by_role("group", name="Piece").get_by_label(piece, exact=True).check()
        self.choose_sum(parts[0] if parts[0] in sums else "")
        rest = parts[1:] if parts[0] in sums else parts
        grams = f"{weighing.reading_kg * 1000:.0f}"
        self.fill({"other": " + ".join(rest), "weight": grams})
        page.locator("#scale").select_option(label=scale)
        page.locator("[data-unit]").select_option("g")
        self.tap(page.get_by_role("button", name="Record the weighing"), "Weighing")

    def choose_sum(self, value: str) -> None:
        choice = self.page.locator("select[name=sum]")
        if choice.count():
            choice.select_option(value)
        else:
            self.page.locator(f"input[type=radio][name=sum][value='{value}']").check()


def _row(name: str, number: int, values: dict[str, str]) -> dict[str, str]:
    return {f"{name}-{number}-{key}": value for key, value in values.items()}


def _of_stage(stage: Stage | StageChange) -> dict[str, str]:
    content = stage.to_file()
    kept = ("place", "surround", "humidity")
    fields: dict[str, str] = {key: str(content[key]) for key in kept if key in content}
    if stage.wrap is not None:
        fields |= {"above": str(stage.wrap.above), "below": str(stage.wrap.below)}
    for end in stage.ends or ():
        fields |= {key: str(value) for key, value in end.to_file().items()}
    return fields
