"""What is done on the phone, in gloves: hold points, readings, batches, a leak, a correction, the end of the pour."""

import io
import re

from PIL import Image, ImageDraw
from playwright.sync_api import FilePayload, Locator

from tests.browser import story
from tests.browser.visitor import Visitor

ROUNDING_L = 0.2
MEASURED_POINT = 5  # the depth of the chipped concrete
MOST_STEPS = 60
PHOTO_LABEL = "Photo (JPEG or PNG, up to 10 MB each)"


def open_pour(lead: Visitor) -> None:
    """From the Day sheet to the pour log, all of it on the phone."""
    lead.sign_in()
    lead.shot("day-sheet")
    lead.follow("Open the pour log")
    lead.follow("Open the pour log")
    lead.press("Open the pour log")
    lead.shot("pour-at-the-desk")
    lead.follow("Write in the pour log")
    lead.shot("pour-log-new")


def go_to_pour(visitor: Visitor) -> None:
    """Somebody of the crew takes up the open pour on another phone."""
    visitor.sign_in()
    visitor.follow("Pour log (phone)")
    visitor.shot("pours")
    visitor.follow(re.compile(rf"^{story.TAG} pour 1"))


def main_action(visitor: Visitor) -> Locator:
    """The one thing that the phone asks for next."""
    return visitor.page.locator(".main-action .press")


def next_words(visitor: Visitor) -> str:
    return main_action(visitor).inner_text()


def do_next(visitor: Visitor) -> None:
    visitor.follow(next_words(visitor))


def save(visitor: Visitor) -> None:
    visitor.press("Save")
    visitor.sees(re.compile(r"Sent - all \d+ received"))


def photo(words: str) -> FilePayload:
    """A small drawn stand-in for a photograph, labelled as such."""
    image = Image.new("RGB", (640, 480), (188, 184, 170))
    draw = ImageDraw.Draw(image)
    draw.rectangle([60, 180, 580, 300], fill=(92, 104, 116))
    draw.text((20, 20), f"Invented stand-in for a photograph: {words}", fill=(20, 20, 20), font_size=20)
    out = io.BytesIO()
    image.save(out, "JPEG")
    return {"name": "photo.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


def tap_number(visitor: Visitor, label: str, text: str) -> None:
    """Type a number on the keypad that the page puts under the field."""
    place = visitor.field(label)
    visitor.touch(place)
    pad = visitor.page.locator(".measure").filter(has=place)
    visitor.touch(pad.get_by_role("button", name="Clear"))
    for key in text:
        visitor.touch(pad.get_by_role("button", name="point" if key == "." else key, exact=True))
    assert place.input_value() == text


def answer(visitor: Visitor, witness: str, measured: str = "") -> None:
    """Answer the hold point on the screen; where photographs are to be recorded, add one."""
    visitor.pick("Accepted", of="Answer")
    visitor.pick(witness, of="Witness")
    if measured:
        visitor.fill("Measured, with unit and instrument", measured)
    told = " ".join(visitor.page.locator(".told").all_inner_texts())
    if "photographs" in told.lower():
        visitor.field(PHOTO_LABEL).set_input_files(photo(told[:40]))
    save(visitor)


def answer_hold_points(lead: Visitor) -> int:
    """Follow the main action until no hold point keeps the pour; returns how many there were."""
    for count in range(MOST_STEPS):
        asked = re.fullmatch(r"Answer hold point (\d+)", next_words(lead))
        if not asked:
            lead.shot("pour-log-released")
            return count
        do_next(lead)
        is_measured = int(asked[1]) == MEASURED_POINT
        if is_measured:
            lead.shot("hold-point")
        answer(lead, story.INSPECTOR.name, "15 mm, depth gauge 11" if is_measured else "")
    raise AssertionError("hold points do not end")


def answer_listed_points(visitor: Visitor, witness: str, *, until: str, only_hold_points: bool = False) -> int:
    """Answer the lines of the list that are still open, up to the line with this name; returns how many."""
    for count in range(MOST_STEPS):
        visitor.follow("Hold points")
        cards = visitor.page.get_by_role("link").filter(has_text=re.compile(r"^\d+\. "))
        words = [text.replace("\n", " ") for text in cards.all_inner_texts()]
        last = next(number for number, text in enumerate(words) if until in text)
        due = [text for text in words[: last + 1] if "not answered" in text and ("(H)" in text or not only_hold_points)]
        if not due:
            visitor.shot(f"hold-points-{count}")
            visitor.follow(re.compile("^Back to "))
            return count
        visitor.follow(re.compile(re.escape(due[0].split(" (")[0])))
        answer(visitor, witness)
    raise AssertionError("hold points do not end")


def read_surfaces(crew: Visitor) -> None:
    """Readings in US units, by somebody who set them so."""
    for what, temp_f in (("Concrete", "62.4"), ("Plate", "64"), ("Material before mixing", "70.7"), ("Air", "63.5")):
        crew.follow("Reading")
        crew.pick(what, of="Read on")
        tap_number(crew, "Temperature", temp_f)
        if what == "Air":
            crew.fill("Relative humidity", "55")
            crew.shot("reading")
        save(crew)


def use_us_units(visitor: Visitor) -> None:
    visitor.sign_in()
    visitor.follow(visitor.person.name)
    visitor.choose("Units shown", "US customary (in, °F, psi)")
    visitor.press("Keep settings")
    visitor.shot("my-settings")


def place_grout(lead: Visitor) -> None:
    """Do what the phone asks for, batch after batch, until it asks for samples or for the end."""
    placed = 0
    for _ in range(MOST_STEPS):
        words = next_words(lead)
        if words in {"Enter a sample", "Check and finish"}:
            return
        if words.endswith("placed"):
            lead.shot("batch-clock")
            place_batch(lead)
            placed += 1
            if placed == 1:
                find_and_close_leak(lead)
        else:
            take_step(lead, words)
    raise AssertionError("batches do not end")


def take_step(lead: Visitor, words: str) -> None:
    """A step that needs no thought: a batch started, its aggregate, its temperature, a compartment seen full."""
    do_next(lead)
    if words.endswith("aggregate in"):
        tap_number(lead, "Bags in the mixer", "2")
    elif words.endswith("wetted out"):
        tap_number(lead, "Temperature of the mixed grout", "22.4")
        lead.shot("wetted-out")
    save(lead)


def place_batch(lead: Visitor) -> None:
    """Place the open batch: as much as its compartment still takes; what no compartment takes is discarded."""
    name, room_l = compartment_in_hand(lead)
    if room_l < ROUNDING_L:
        lead.follow(re.compile("^Discard batch"))
        lead.fill("Why it was discarded", "rest of the last kit, spread thin outdoors to cure")
        save(lead)
        return
    do_next(lead)
    in_mixer_l = float(lead.field("Volume placed").input_value())
    tap_number(lead, "Volume placed", f"{min(in_mixer_l, room_l):.1f}")
    lead.pick(name, of="Compartment")
    lead.pick("Some left to place" if in_mixer_l > room_l + ROUNDING_L else "Nothing left", of="Left in the mixer")
    lead.shot("placed")
    save(lead)


def compartment_in_hand(visitor: Visitor) -> tuple[str, float]:
    """Where the page says that the batch goes, and what that compartment still takes by the picture of the page."""
    asked = re.search(r"in compartment (\w+)\.", visitor.page.locator(".next").inner_text())
    assert asked
    picture = visitor.page.locator("main svg").inner_html()
    room = re.search(rf"\b{asked[1]}: ([\d.]+) L of ([\d.]+) L", picture)
    assert room, picture
    return asked[1], float(room[2]) - float(room[1])


def find_and_close_leak(lead: Visitor) -> None:
    lead.follow("Leak")
    lead.pick("A", of="Compartment")
    lead.fill("Where it leaks", "foot of the form, north side")
    lead.field(PHOTO_LABEL).set_input_files(photo("leak at the foot of the form"))
    save(lead)
    lead.shot("leak-open")
    assert next_words(lead) == "Leak closed"
    do_next(lead)
    lead.fill("How it was closed", "rags and putty packed, brace added")
    save(lead)


def correct_a_reading(crew: Visitor) -> None:
    """A slip of the pen; the correction takes its place and the first entry stays, struck through."""
    crew.open("/phone/")
    crew.follow(re.compile(rf"^{story.TAG} pour 1"))
    crew.follow("Reading")
    crew.pick("Grout in place", of="Read on")
    crew.fill("Temperature", "107.4")
    save(crew)
    crew.follow(re.compile("^All entries"))
    crew.follow("Correct", within=crew.page.locator("article", has_text="107.4"))
    crew.fill("Temperature", "74.1")
    crew.fill("Reason for the correction", "digits swapped; read again on the probe")
    save(crew)
    crew.follow(re.compile("^All entries"))
    assert crew.page.locator("article s", has_text="107.4").count() == 1
    crew.shot("entries-with-a-correction")


def cast_a_sample(lead: Visitor) -> None:
    lead.follow("Sample")
    lead.fill("Where it cures", "beside the plate")
    save(lead)


def finish(lead: Visitor) -> None:
    """Check what was entered and declare the pour complete."""
    assert next_words(lead) == "Check and finish"
    do_next(lead)
    lead.shot("check-and-finish")
    lead.tick("I have read this, and it is right")
    lead.press("Declare the pour complete")
    lead.sees("Record complete")
    lead.shot("pour-log-complete")
