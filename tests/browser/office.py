"""What is done at the desk before the pour: people, material, machine, plan, weather, pour hour."""

import datetime as dt

from tests.browser import story
from tests.browser.visitor import Person, Visitor


def join_as_administrator(administrator: Visitor, link: str) -> None:
    """The first person follows the link that the command printed, and corrects the site."""
    join(administrator, link)
    administrator.follow("Machines")
    administrator.follow("Sites")
    administrator.follow("Site to be named")
    administrator.follow("Change the site")
    administrator.fill_all(story.SITE)
    administrator.tick("Saturday")
    administrator.press("Save the site")
    assert administrator.heading() == story.SITE_NAME
    administrator.shot("site")


def join(visitor: Visitor, link: str) -> None:
    visitor.open(link)
    visitor.fill("New password", visitor.person.password)
    visitor.fill("Password again", visitor.person.password)
    visitor.press("Join the site")
    visitor.set_up_second_factor()
    visitor.shot("day-sheet-of-a-new-person")


def invite(administrator: Visitor, person: Person) -> str:
    """Returns the link that the page shows this once."""
    administrator.follow("People and devices")
    administrator.fill("E-mail address", person.email)
    administrator.fill("Full name", person.name)
    administrator.tick(person.role)
    administrator.press("Make invitation")
    administrator.shot("people")
    return administrator.page.get_by_text("/invitations/").inner_text()


def bring_material(engineer: Visitor) -> None:
    engineer.follow("Data sheets")
    engineer.follow("Add a grout system")
    engineer.fill("Name of the grout system", story.GROUT)
    engineer.choose("Kind", "Epoxy, three parts")
    engineer.fill("Supplier", "Invented Supplies")
    engineer.press("Add it")
    engineer.fill_all(story.DATA_SHEET)
    engineer.shot("data-sheet-form")
    engineer.press("Keep this data sheet")
    engineer.shot("data-sheet")
    engineer.follow("Data sheets", within=engineer.page.get_by_role("main"))
    engineer.follow("Add a lot")
    engineer.fill_all(story.LOT)
    engineer.press("Keep the lot")
    engineer.sees(story.LOT_NO)
    engineer.shot("data-sheets")


def add_machine(engineer: Visitor) -> None:
    """Machine, foundation with survey and bolts, plate from a rectangle with jackscrews and pads added."""
    engineer.follow("Machines")
    engineer.follow("Add a machine")
    engineer.fill_all(story.MACHINE)
    engineer.fill("Driver power", "75", unit="hp")
    engineer.choose("Kind", "Pump")
    engineer.choose("Level class", "ASME process pump or general baseplate")
    engineer.press("Save the machine")
    engineer.follow("Enter the foundation")
    engineer.fill_all(story.FOUNDATION)
    engineer.choose("Exposure", "In the open")
    engineer.shot("foundation-form")
    engineer.press("Save the foundation")
    engineer.follow("Start the plate from a rectangle")
    engineer.choose("Kind of plate", "Baseplate")
    engineer.fill_all(story.RECTANGLE)
    engineer.press("Draw the first plate")
    engineer.fill_all(story.PARTS)
    engineer.shot("plate-form")
    engineer.press("Save the plate")
    assert engineer.heading() == story.TAG
    engineer.sees("55.9 kW")  # 75 hp of 745.7 W [NIST SP 811, appendix B]
    engineer.shot("machine-sheet")


def make_and_approve_plan(engineer: Visitor) -> None:
    engineer.follow("Make a pour plan")
    engineer.choose("Grout, by data sheet", f"{story.GROUT} rev 2")
    engineer.choose("Lot to be used", f"{story.GROUT}, lot {story.LOT_NO}: 12 kits, expires 2028-06-30")
    engineer.fill_all(story.PLAN)
    engineer.choose("On the plate during the pour", "nothing: the plate alone")
    engineer.shot("plan-form")
    engineer.press("Compute the plan")
    engineer.shot("plan-drafted")
    engineer.press("Approve revision 1")
    engineer.sees("is approved and frozen")
    engineer.shot("plan-approved")


def bring_weather(engineer: Visitor) -> None:
    """The typical year of a real station, read for spring days."""
    engineer.follow("Find pour hours")
    engineer.follow("add a forecast or read a typical year")
    engineer.follow("Read a typical year")
    engineer.choose("Format", "TMY3 (NREL)")
    engineer.field("File of the typical year").set_input_files(story.TYPICAL_YEAR)
    engineer.fill("First day to plan for", story.FIRST_DAY.isoformat())
    engineer.shot("forecast-form")
    engineer.press("Keep")
    engineer.sees("A typical year is no forecast")
    engineer.shot("forecast")


def choose_pour_hour(engineer: Visitor) -> dt.datetime:
    """Search the hours of the plan, look at one that is refused, and take the best; returns it."""
    engineer.follow("Machines")
    engineer.follow(story.TAG)
    engineer.follow("Pour plan rev 1")
    engineer.follow("Find pour hours")
    engineer.follow("Search pour hours")
    engineer.shot("pour-hours-form")
    engineer.press("Search")
    engineer.shot("pour-hours")
    look_at_a_refused_hour(engineer)
    engineer.follow("Pour plan rev 1")
    engineer.follow("Find pour hours")
    engineer.follow("Choose this hour")
    engineer.shot("hour-choose")
    chosen = engineer.heading().removeprefix(f"Pour {story.TAG} at ")
    engineer.press("Choose this hour")
    engineer.sees("The hour is chosen.")
    return dt.datetime.strptime(chosen.replace("UTC−", "-"), "%Y-%m-%d %H:%M %z")


def look_at_a_refused_hour(engineer: Visitor) -> None:
    """The hour's findings come into the page without leaving it."""
    page = engineer.page
    hours = page.locator("details").filter(has_text="Every start hour by day")
    engineer.touch(hours.locator("summary"))
    engineer.touch(hours.get_by_role("link", name="02 h, not acceptable").first)
    page.locator("#hour-detail").get_by_text("not acceptable").wait_for()
    assert page.locator("#hour-detail .findings .blocker").count() > 0
    assert engineer.problems == []
    engineer.shot("pour-hours-refused-hour")
