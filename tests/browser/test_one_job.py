"""One grouting job from an empty installation to the signed PDF, through the pages alone, at desk and on the phone."""

from playwright.sync_api import Browser

from tests.browser import office, story
from tests.browser.server import Server, first_invitation
from tests.browser.visitor import DESK, Person, Visitor


def test_one_job_goes_from_a_new_machine_to_a_signed_pdf(server: Server, browser: Browser) -> None:
    link = first_invitation(server, story.OFFICE_AT)
    server.set_clock(story.OFFICE_AT)
    at_desk = lambda person: Visitor(browser, server.address, person, width=DESK, at=story.OFFICE_AT)
    administrator, engineer = at_desk(story.ADMINISTRATOR), at_desk(story.ENGINEER)
    office.join_as_administrator(administrator, link)
    for person in story.INVITED:
        visitor = engineer if person is story.ENGINEER else at_desk(person)
        office.join(visitor, office.invite(administrator, person))
    office.bring_material(engineer)
    office.add_machine(engineer)
    office.make_and_approve_plan(engineer)
    office.bring_weather(engineer)
    pour_at = office.choose_pour_hour(engineer)
    print(pour_at)
    assert administrator.faults + engineer.faults == []
