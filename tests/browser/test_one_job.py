"""One grouting job from an empty installation to the signed PDF, through the pages alone, at the desk and on the phone.

Time goes by as on a real job: the plan is made in one week, the pour is done at the hour that was found, and three
weeks later the cured grout is inspected and turned over. Sources: the weather is the NREL typical year that story.py
names; the PDF is read by poppler and qpdf, not by the program that drew it.
"""

import datetime as dt
from pathlib import Path

from playwright.sync_api import Browser

from tests.browser import curing, office, pouring, story, turning_over
from tests.browser.server import Server, first_invitation
from tests.browser.visitor import DESK, PHONE, Person, Visitor

BEFORE_THE_POUR = dt.timedelta(minutes=20)
HOLD_POINTS_BEFORE, HOLD_POINTS_AFTER = 7, 2
LINES_OF_THE_INSPECTOR = 3


class Company:
    """Everybody at work on one day, each at a device."""

    def __init__(self, browser: Browser, server: Server) -> None:
        self.browser, self.server = browser, server
        self.at = story.OFFICE_AT
        self.present: list[Visitor] = []
        self.faults: list[str] = []

    def come(self, person: Person, width: int) -> Visitor:
        visitor = Visitor(self.browser, self.server.address, person, width=width, at=self.at)
        self.present.append(visitor)
        return visitor

    def begin(self, at: dt.datetime) -> None:
        """Another day: sessions have run out, and everybody who comes has to sign in."""
        self.end()
        self.at = at
        self.server.set_clock(at)

    def end(self) -> None:
        for visitor in self.present:
            self.faults += visitor.faults + visitor.problems
            visitor.close()
        self.present.clear()


def plan_the_job(company: Company, link: str) -> dt.datetime:
    """All at the desk; returns the hour that was chosen for the pour."""
    administrator, engineer = company.come(story.ADMINISTRATOR, DESK), company.come(story.ENGINEER, DESK)
    office.join_as_administrator(administrator, link)
    for person in story.INVITED:
        newcomer = engineer if person is story.ENGINEER else company.come(person, DESK)
        office.join(newcomer, office.invite(administrator, person))
    office.bring_material(engineer)
    office.add_machine(engineer)
    office.make_and_approve_plan(engineer)
    office.bring_weather(engineer)
    return office.choose_pour_hour(engineer)


def pour(company: Company) -> None:
    """All on phones, three of them, in three hands."""
    lead, crew, inspector = (company.come(one, PHONE) for one in (story.LEAD, story.CREW, story.INSPECTOR))
    pouring.open_pour(lead)
    assert pouring.answer_hold_points(lead) == HOLD_POINTS_BEFORE
    pouring.go_to_pour(inspector)
    answered = pouring.answer_listed_points(inspector, story.LEAD.name, until="Anchor bolts")
    assert answered == LINES_OF_THE_INSPECTOR
    pouring.use_us_units(crew)
    pouring.go_to_pour(crew)
    pouring.read_surfaces(crew)
    pouring.place_grout(lead)
    pouring.correct_a_reading(crew)
    pouring.cast_a_sample(lead)
    pouring.finish(lead)


def inspect(company: Company, pour_at: dt.datetime) -> None:
    crew, inspector, lead = (
        company.come(story.CREW, DESK),
        company.come(story.INSPECTOR, PHONE),
        company.come(story.LEAD, PHONE),
    )
    curing.bring_readings(crew, pour_at)
    curing.go_to_inspections(inspector)
    curing.sound_the_plate(inspector, ("A1.1",), "Not accepted", "")
    curing.sound_the_plate(inspector, (), "Accepted", "A1.1 filled through two ports by hand gun, tapped again: sound")
    curing.tighten_bolts(inspector)
    curing.survey_level(inspector)
    pouring.go_to_pour(lead)
    answered = pouring.answer_listed_points(
        lead, story.INSPECTOR.name, until="Final tension of the anchor bolts", only_hold_points=True
    )
    assert answered == HOLD_POINTS_AFTER


def turn_over(company: Company, folder: Path) -> Path:
    engineer, lead, approver = (
        company.come(story.ENGINEER, DESK),
        company.come(story.LEAD, PHONE),
        company.come(story.APPROVER, DESK),
    )
    turning_over.lock_the_record(lead, engineer)
    assert turning_over.freeze(engineer) == len(story.LEFT_TO_OTHERS)
    turning_over.sign(lead, "Performed")
    turning_over.sign(engineer, "Reviewed")
    turning_over.sign(approver, "Approved")
    pdf = turning_over.wait_for_the_pdf(approver, folder)
    address = turning_over.issue(engineer)
    turning_over.read_outside(company.come(story.OUTSIDER, PHONE), address, pdf)
    turning_over.find_in_register(engineer)
    return pdf


def test_one_job_goes_from_an_empty_installation_to_a_signed_pdf(
    server: Server, browser: Browser, tmp_path: Path
) -> None:
    company = Company(browser, server)
    link = first_invitation(server, story.OFFICE_AT)
    company.begin(story.OFFICE_AT)
    pour_at = plan_the_job(company, link)
    company.begin(pour_at - BEFORE_THE_POUR)
    pour(company)
    company.begin(pour_at + story.CURE)
    inspect(company, pour_at)
    pdf = turn_over(company, tmp_path)
    company.end()
    turning_over.check_pdf(pdf)
    assert company.faults == []
    assert "Traceback" not in server.log()
