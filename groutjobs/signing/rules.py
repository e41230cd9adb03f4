"""Who may sign a pour record under which meaning, and the sentence that is signed. Nothing here writes."""

from dataclasses import dataclass

from groutjobs.accounts.models import Role
from groutjobs.signing.models import RecordMeaning, RecordState

SENTENCES = {
    RecordMeaning.PERFORMED: "I led this pour; to my knowledge its log is true and whole.",
    RecordMeaning.REVIEWED: "I read this log, its limits and its change trail; I recorded none of it myself.",
    RecordMeaning.STATED: "I state that the locked record is to be read with this addendum.",
    RecordMeaning.AGREED: "I saw the evidence and agree with this addendum.",
}
ROLES_FOR = {
    RecordMeaning.PERFORMED: frozenset({Role.CREW_LEAD}),
    RecordMeaning.REVIEWED: frozenset({Role.ENGINEER}),
    RecordMeaning.STATED: frozenset({Role.ENGINEER}),
    RecordMeaning.AGREED: frozenset({Role.ENGINEER, Role.CREW_LEAD}),
}
MAKERS = frozenset({Role.CREW_LEAD, Role.ENGINEER})
"""Who asks whether a record is ready, and who declares one void; the latter are two of them."""
ENGINEERS = frozenset({Role.ENGINEER})
STATE_BEFORE = {RecordMeaning.PERFORMED: RecordState.READY, RecordMeaning.REVIEWED: RecordState.PERFORMED}


@dataclass(frozen=True, kw_only=True)
class Signer:
    """What the rules need to know about a person: the roles at the site and the part taken in this pour."""

    person_id: int
    roles: frozenset[Role]
    has_recorded: bool


def refusal(meaning: RecordMeaning, signer: Signer, signed_by: set[int]) -> str:
    """Why this person may not sign under this meaning, with who can; empty where the person may."""
    if not signer.roles & ROLES_FOR[meaning]:
        return f"“{meaning.label}” is signed by {role_words(ROLES_FOR[meaning])} of this site."
    if signer.person_id in signed_by:
        return "You have signed already. The other name is that of another person."
    if meaning is RecordMeaning.REVIEWED and signer.has_recorded:
        return "You recorded part of this pour, so an engineer who recorded none of it reviews it."
    return ""


def role_words(roles: frozenset[Role]) -> str:
    """Roles in print, in the order of the list of roles."""
    names = [role.label.lower() for role in Role if role in roles]
    return "a " + " or ".join(names) if names[0][0] not in "aeiou" else "an " + " or ".join(names)
