"""What befalls a phone in the field: two tabs, a camera that takes the browser's place, a tag without signal, odd photos."""

# ruff: noqa: E501  lines of JavaScript in strings

import base64
import io
import re
from collections.abc import Iterator

import pytest
from PIL import Image
from playwright.sync_api import Page, Playwright

from groutjobs.faults.browsing import BrowserPhone
from tests.browser.phonebook import Site, enrolled
from tests.browser.server import ROOT

pytestmark = pytest.mark.page_alone
KEEP = """
const photos = await load("photos.js");
const file = new File([Uint8Array.from(atob(given.base64), (one) => one.charCodeAt(0))], "a", { type: given.type });
try { return { id: await photos.keep(file) }; } catch (error) { return { error: error.message, kind: error.constructor.name }; }
"""
SIZE = """
const shot = await (await load("store.js")).get("blobs", given);
const picture = await createImageBitmap(new Blob([shot.bytes], { type: shot.type }));
return [shot.bytes.byteLength, picture.width, picture.height, shot.bytes instanceof ArrayBuffer];
"""

NEWS = """() => {
  document.querySelector(".main-action a").dataset.old = "yes";
  new BroadcastChannel("groutjobs-pull").postMessage("new");
}"""


@pytest.fixture(scope="module")
def phone(driver: Playwright, site: Site) -> Iterator[BrowserPhone]:
    made = enrolled(driver, site, workers="allow")
    assert made.page
    made.page.wait_for_timeout(1_500)  # the shell is being kept by its worker
    yield made
    made.close()


@pytest.fixture
def page(phone: BrowserPhone, site: Site) -> Iterator[Page]:
    phone.go_online(False)
    yield phone.page if phone.page and not phone.page.is_closed() else phone.open()
    phone.go_online(True)


def image(width: int, height: int, kind: str = "JPEG", turned: bool = False) -> str:
    out = io.BytesIO()
    picture = Image.effect_noise((width, height), 60).convert("RGB")
    exif = Image.Exif()
    if turned:
        exif[0x0112] = 6
    picture.save(out, kind, **({"exif": exif} if kind == "JPEG" else {}))
    return base64.b64encode(out.getvalue()).decode()


def test_a_second_tab_reads_until_it_takes_over(page: Page, phone: BrowserPhone, site: Site) -> None:
    place = f"{site.url}/phone/app/#pour/{site.pour_id}"
    page.goto(place)
    page.locator(".main-action").wait_for()
    second = page.context.new_page()
    second.goto(place)
    second.get_by_text("open for writing in another tab").wait_for()
    assert second.locator(".main-action").count() == 0
    second.get_by_role("button", name="Write here instead").click()
    second.locator(".main-action").wait_for()
    page.get_by_text("open for writing in another tab").wait_for()
    second.close()
    page.goto(f"{site.url}/phone/app/#")
    page.goto(place)
    page.locator(".main-action").wait_for()


def test_a_tap_is_not_lost_when_news_come_under_the_finger(page: Page, site: Site) -> None:
    page.goto(f"{site.url}/phone/app/#pour/{site.pour_id}")
    link = page.locator(".main-action a")
    link.hover()
    page.mouse.down()
    page.evaluate(NEWS)
    page.wait_for_timeout(1_000)
    assert page.locator("[data-old]").count() == 1  # still the one under the finger
    page.mouse.up()
    page.locator(".main-action button").wait_for()
    page.goto(f"{site.url}/phone/app/#pour/{site.pour_id}")
    link.wait_for()
    page.evaluate(NEWS)
    page.locator("[data-old]").wait_for(state="detached")  # without a finger the news are drawn
    link.wait_for()


def test_a_photo_that_did_not_come_back_is_said_aloud(page: Page, phone: BrowserPhone, site: Site) -> None:
    place = f"#pour/{site.pour_id}/enter/leak?"
    page.goto(f"{site.url}/phone/app/{place}")
    page.get_by_label("Where it leaks").fill("flange of the sleeve, east")
    with page.expect_file_chooser():
        page.locator("#photo").click()
    page.wait_for_timeout(1_500)
    phone.kill()
    phone.is_online = False
    again = phone.open(place)
    again.get_by_text("The photo did not arrive. Take it again.").wait_for()
    assert again.get_by_label("Where it leaks").input_value() == "flange of the sleeve, east"


def test_the_tag_of_a_machine_opens_without_signal(page: Page, site: Site) -> None:
    page.goto(f"{site.url}/machines/{site.told['machine_id']}/")
    page.get_by_role("heading", name="P-101").wait_for()
    page.get_by_role("link", name=re.compile("P-101 pour 1")).click()
    page.get_by_role("heading", name="P-101 pour 1").wait_for()
    assert page.locator("#status").is_visible()


def test_a_new_build_waits_while_entries_wait(page: Page, phone: BrowserPhone, site: Site) -> None:
    page.goto(f"{site.url}/phone/app/#pour/{site.pour_id}/enter/note?")
    page.get_by_label("Note").fill("dry")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("Saved on this phone:").wait_for()
    assert phone.run('return (await load("update.js")).whyNot();') == "Entries still wait to be sent."
    worker = (ROOT / "static" / "phone" / "app" / "worker.js").read_text(encoding="utf-8")
    assert worker.count("skipWaiting") == 1
    assert re.search(r'addEventListener\("message".*\n\s*if \(event\.data === "take over"\) self\.skipWaiting', worker)


def test_a_tab_that_forgets_after_a_week_says_so(page: Page, phone: BrowserPhone) -> None:
    said = phone.run(
        """const { tabBanner } = await load("otherscreens.js");
        const here = await tabBanner();
        Object.defineProperty(navigator, "userAgent", { value: "Mozilla/5.0 (iPhone; CPU iPhone OS 18_4 like Mac OS X)", configurable: true });
        const tab = (await tabBanner())?.textContent;
        Object.defineProperty(navigator, "standalone", { value: true, configurable: true });
        return [here, tab, await tabBanner()];"""
    )
    assert said[0] is None
    assert "Not safe without signal in this tab." in said[1]
    assert said[2] is None


@pytest.mark.parametrize(
    ("width", "height", "kind", "turned", "size"),
    [
        (3000, 2000, "JPEG", False, (1600, 1067)),
        (2000, 1500, "JPEG", True, (1200, 1600)),
        (1, 1, "PNG", False, (1, 1)),
        (640, 480, "PNG", False, (640, 480)),
    ],
)
def test_photos_are_made_small_upright_and_kept_as_bytes(
    page: Page, phone: BrowserPhone, width: int, height: int, kind: str, turned: bool, size: tuple[int, int]
) -> None:
    kept = phone.run(KEEP, {"base64": image(width, height, kind, turned), "type": f"image/{kind.lower()}"})
    byte_count, *told = phone.run(SIZE, kept["id"])
    assert told == [*size, True]
    assert byte_count <= 1_572_864


@pytest.mark.parametrize("content", [b"", b"\x01\x02\x03", b"<svg xmlns='http://www.w3.org/2000/svg'/>"])
def test_a_file_that_is_no_picture_is_refused_with_a_sentence(page: Page, phone: BrowserPhone, content: bytes) -> None:
    said = phone.run(KEEP, {"base64": base64.b64encode(content).decode(), "type": "image/jpeg"})
    assert said["kind"] == "NoPhoto"
    assert "Take it again." in said["error"]


def test_a_photo_that_cannot_be_read_back_is_not_called_saved(page: Page, phone: BrowserPhone) -> None:
    said = phone.run(
        """const real = IDBObjectStore.prototype.get;
        let reads = 0;
        IDBObjectStore.prototype.get = function (key) { return this.name === "blobs" && (reads += 1) > 1 ? real.call(this, "nothing") : real.call(this, key); };
        try {"""
        + KEEP.replace("return { error", "IDBObjectStore.prototype.get = real; return { error")
        + "} finally { IDBObjectStore.prototype.get = real; }",
        {"base64": image(50, 40), "type": "image/jpeg"},
    )
    assert said["error"] == "The photo did not arrive in the store. Take it again."
