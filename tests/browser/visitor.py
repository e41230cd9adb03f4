"""A person at a browser: finds controls by their words, and every page that is reached is checked as it is reached."""

import datetime as dt
import os
import re
import time
from dataclasses import dataclass
from email.utils import parsedate_to_datetime
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import Browser, ConsoleMessage, Download, Locator, Page, Response

from groutjobs.accounts.factor import AROUND, STEP_S, code_at

STEP_MS = 10_000
DESK, PHONE = 1280, 390
HEIGHT = {DESK: 900, PHONE: 844}
LEAST_CONTROL_PX = 76
# Controls that are seen and lower than this; a box inside its label is as large as the label.
SMALL_CONTROLS = """least => [...document.querySelectorAll("a, button, summary, textarea, select, input")]
  .filter(one => one.checkVisibility() && one.type !== "hidden" && !one.matches(".skip"))
  .map(one => [one, (one.closest("label") ?? one).getBoundingClientRect().height])
  .filter(([one, height]) => height < least)
  .map(([one, height]) => `${one.outerHTML.slice(0, 120)} is ${Math.round(height)} px high, under ${least} px`)"""
OVER_PX = "document.documentElement.scrollWidth - document.documentElement.clientWidth"

# What the phones of these people know: the secret of each, and the last step of which a code was used.
SECRETS: dict[str, str] = {}
LAST_STEP: dict[str, int] = {}

SHOTS = os.environ.get("GROUTJOBS_SHOTS", "")


def shot(page: Page, name: str) -> None:
    """Keep a picture of the whole page in the folder that GROUTJOBS_SHOTS names, if it names one."""
    if SHOTS:
        path = Path(SHOTS) / f"{name}.png"
        path.parent.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(path), full_page=True)


@dataclass(frozen=True)
class Person:
    """Somebody who signs in. All of them are invented."""

    name: str
    email: str
    role: str
    password: str


class Visitor:
    """One person at one device."""

    def __init__(self, browser: Browser, address: str, person: Person, *, width: int, at: dt.datetime) -> None:
        self.person, self.address, self.width = person, address, width
        self.is_phone = width == PHONE
        self.context = browser.new_context(
            base_url=address, viewport={"width": width, "height": HEIGHT[width]}, has_touch=self.is_phone,
            is_mobile=self.is_phone, accept_downloads=True,
        )  # fmt: skip
        self.context.set_default_timeout(STEP_MS)
        self.context.clock.install(time=at)
        self.page: Page = self.context.new_page()
        self.problems: list[str] = []
        self.faults: list[str] = []
        self.status = 0
        self.pages_seen: list[str] = []
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self.problems.append(f"script: {error}"))
        self.page.on("response", self._answered)

    def close(self) -> None:
        self.context.close()

    # going somewhere
    def open(self, place: str) -> None:
        self.page.goto(place)
        self.arrive()

    def follow(self, words: str | re.Pattern[str], *, within: Locator | None = None) -> None:
        """Press a link and arrive at its page; links with the same words must lead to the same page."""
        links = (within or self.page).get_by_role("link", name=words, exact=True)
        links.first.wait_for()
        places = links.evaluate_all("all => [...new Set(all.map(one => one.href))]")
        assert len(places) == 1, f"{self.page.url}: “{words}” leads to {places}"
        self._go(links.first)

    def press(self, words: str | re.Pattern[str], *, within: Locator | None = None) -> None:
        """Press a button that sends a form and arrive at the answer."""
        self._go(self._one((within or self.page).get_by_role("button", name=words, exact=True)))

    def touch(self, place: Locator) -> None:
        """Press something that stays on the page."""
        if self.is_phone:
            place.tap()
        else:
            place.click()

    def sign_in(self) -> None:
        self.open("/sign-in/")
        self.fill("E-mail address", self.person.email)
        self.fill("Password", self.person.password)
        self.press("Sign in")
        if self.heading() == "Your code":
            self.fill("Code of your second factor", self.next_code())
            self.press("Go on")
        self.set_up_second_factor()
        assert self.page.get_by_role("heading", level=1).count() == 1

    def set_up_second_factor(self) -> None:
        """Who is led to the second factor sets it up: reads the letters of the secret as a phone would."""
        if self.heading() != "Second factor":
            return
        self.press("Show me the secret to scan")
        SECRETS[self.person.email] = self.page.locator("#secret").inner_text().replace(" ", "")
        self.shot("second-factor")
        self.fill("Code of your second factor", self.next_code())
        self.press("It is in use from now on")
        self.follow("I have kept them")

    def next_code(self) -> str:
        """A code that was not used before, by the clock of the server; it takes that of the step ahead, too."""
        secret = SECRETS[self.person.email]
        step = max(self._server_step(), LAST_STEP.get(secret, 0) + 1)
        while step > self._server_step() + AROUND:
            time.sleep(1)
        LAST_STEP[secret] = step
        return code_at(secret, dt.datetime.fromtimestamp(step * STEP_S, dt.UTC))

    def _server_step(self) -> int:
        told = self.context.request.get("/sign-in/").headers["date"]
        return int(parsedate_to_datetime(told).timestamp()) // STEP_S

    # filling a form
    def field(self, label: str | re.Pattern[str]) -> Locator:
        """The control with this label; the words about leaving it empty do not count."""
        words = re.compile(rf"^{re.escape(label)}( \(may be empty\))?$") if isinstance(label, str) else label
        named = self.page.get_by_label(words)
        return self._one(named.and_(self.page.locator("input, select, textarea")))

    def fill(self, label: str | re.Pattern[str], text: str, unit: str = "") -> None:
        place = self.field(label)
        place.fill(text)
        if unit:
            box = self.page.locator(".quantity").filter(has=place)
            self._one(box.get_by_role("combobox", name="Unit")).select_option(label=unit)

    def fill_all(self, values: dict[str, str]) -> None:
        for label, text in values.items():
            self.fill(label, text)

    def choose(self, label: str, option: str) -> None:
        self.field(label).select_option(label=option)

    def tick(self, words: str) -> None:
        self._one(self.page.get_by_role("checkbox", name=words, exact=True)).check()

    def pick(self, words: str | re.Pattern[str], *, of: str) -> None:
        """One of the big buttons of a phone screen."""
        group = self._one(self.page.get_by_role("group", name=re.compile(rf"^{re.escape(of)}")))
        self._one(group.get_by_role("radio", name=words, exact=True)).check()

    # seeing
    def sees(self, words: str | re.Pattern[str]) -> None:
        self.page.get_by_text(words).first.wait_for()

    def heading(self) -> str:
        return self.page.get_by_role("heading", level=1).inner_text()

    def download(self, words: str) -> Download:
        with self.page.expect_download() as waiting:
            self.touch(self._one(self.page.get_by_role("link", name=words, exact=True)))
        return waiting.value

    def arrive(self) -> None:
        """Look at the page that was reached. An answer other than 200 ends the job; faults of looks are gathered."""
        self.page.wait_for_load_state("load")
        place = urlsplit(self.page.url).path
        self.pages_seen.append(place)
        assert self.status == 200, f"{place} answered {self.status} to {self.person.name}: {self._said()}"
        self.faults += [f"{place}: {problem}" for problem in self.problems]
        self.problems.clear()
        self._ask_width(place, self.width)
        if place.startswith("/phone/"):
            self.faults += [f"{place}: {control}" for control in self.page.evaluate(SMALL_CONTROLS, LEAST_CONTROL_PX)]
        elif not self.is_phone:
            self.page.set_viewport_size({"width": PHONE, "height": HEIGHT[PHONE]})
            self._ask_width(place, PHONE)
            self.page.set_viewport_size({"width": self.width, "height": HEIGHT[self.width]})

    def shot(self, name: str) -> None:
        shot(self.page, f"{name}-{self.width}")

    def _said(self) -> list[str]:
        """Headings and errors of the page, for the message of a failure."""
        return self.page.locator("h1, .errors li, .error, main p").all_inner_texts()

    def _ask_width(self, place: str, width: int) -> None:
        over_px = self.page.evaluate(OVER_PX)
        if over_px > 0:
            self.faults.append(f"{place} is {over_px} px wider than {width} px")
        if width == PHONE:
            shot(self.page, f"narrow/{self.person.role}-{len(self.pages_seen):03d}{place.replace('/', '_')}".lower())

    def _go(self, place: Locator) -> None:
        with self.page.expect_navigation():
            self.touch(place)
        self.arrive()

    def _one(self, place: Locator) -> Locator:
        place.first.wait_for(state="attached")
        assert place.count() == 1, f"{self.page.url}: {place.count()} controls answer to {place}"
        return place

    def _heard(self, message: ConsoleMessage) -> None:
        if message.type in {"error", "warning"}:
            self.problems.append(f"console {message.type}: {message.text}")

    def _answered(self, response: Response) -> None:
        if response.request.is_navigation_request():
            self.status = response.status
        elif response.status >= 400:
            self.problems.append(f"{response.url} answered {response.status}")
