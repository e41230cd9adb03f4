"""Who may sign a report under which meaning, and the sentence that is signed. Nothing here writes."""

from collections.abc import Collection, Iterable

from groutjobs.accounts.models import Role
from groutjobs.signing.rules import Signer
from groutjobs.turnover.models import Meaning

ORDER = (Meaning.PERFORMED, Meaning.REVIEWED, Meaning.APPROVED)
SENTENCES = {
    Meaning.PERFORMED: "I carried out or led this work and recorded it; to my knowledge the record is true and whole.",
    Meaning.REVIEWED: "I read this record, its limits, deviations and change trail; I recorded none of it myself.",
    Meaning.APPROVED: "I approve this report for issue; I neither recorded nor reviewed it.",
}
ROLES_FOR = {
    Meaning.PERFORMED: frozenset({Role.CREW_LEAD, Role.CREW}),
    Meaning.REVIEWED: frozenset({Role.ENGINEER}),
    Meaning.APPROVED: frozenset({Role.ENGINEER, Role.ADMINISTRATOR}),
}
ROLES_THAT_SIGN = frozenset().union(*ROLES_FOR.values())


def next_meaning(signed: Iterable[str]) -> Meaning | None:
    """The meaning that is signed next, in the fixed order; None where all three names stand."""
    there = set(signed)
    return next((meaning for meaning in ORDER if meaning.value not in there), None)


def refusal(meaning: Meaning, signer: Signer, signed_by: Collection[int]) -> str:
    """Why this person may not sign under this meaning now, with who can; empty where the person may."""
    if signer.person_id in signed_by:
        return "You have signed this report already. Recorder, reviewer and approver are three different people."
    if not signer.roles & ROLES_FOR[meaning]:
        return f"“{meaning.label}” is signed by {role_words(ROLES_FOR[meaning])} of this site."
    if meaning is Meaning.PERFORMED and not signer.has_recorded:
        return "“Performed” is signed by somebody of the crew who made entries in this pour; you made none."
    if meaning is not Meaning.PERFORMED and signer.has_recorded:
        return (
            f"You recorded part of this pour, so “{meaning.label}” must be signed by somebody else: "
            "recorder, reviewer and approver are three different people."
        )
    return ""


def role_words(roles: Iterable[Role]) -> str:
    """Roles in print, in the order of the list of roles: "a crew lead or crew"."""
    wanted = set(roles)
    names = [role.label.lower() for role in Role if role in wanted]
    return " or ".join(names)
