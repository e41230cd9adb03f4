"""What can hurt at each step of a pour, in the words of the phone."""

from groutjobs.pours.models import EntryKind

RESIN = "Gloves, goggles, sleeves: resin and hardener burn and sensitise the skin. On skin or in eyes: rinse, get help."
CEMENT = "Gloves and goggles: wet cement burns skin and eyes. Do not breathe the dust."
MIXER = "Keep hands and tools out of the mixer; the guard stays on. Dust mask. Two people for bags over 23 kg (51 lb)."
PROBE = "Stop the mixer before you measure."
PLATE = "Never reach under a plate that rests on jackscrews alone. Gloves stay on."
LEFTOVER = "Left-over mix grows hot enough to smoke. Spread it thin, outdoors, away from what burns; not in a pail."
WASTE = "Wash water, rags and left-over resin go where the plant's environmental engineer says."
WASH = "Wash water is caustic: keep it out of drains; the environmental engineer says where it goes."
# kind of entry → what can hurt at this step, with an epoxy and with a cementitious grout
CAUTIONS: dict[str, tuple[str, str]] = {
    EntryKind.LIQUIDS_STARTED: (RESIN, CEMENT),
    EntryKind.AGGREGATE_IN: (MIXER, MIXER),
    EntryKind.WETTED_OUT: (PROBE, PROBE),
    EntryKind.PLACED: (PLATE, PLATE),
    EntryKind.DISCARDED: (LEFTOVER, WASH),
    EntryKind.DECLARED_COMPLETE: (WASTE, WASH),
}
CAUTION_END = "The safety data sheet, the supplier's instruction and the plant's rules decide."


def cautions_of(grout_kind: str) -> dict[str, str]:
    """The caution of each kind of entry that has one, with the sentence that defers to those who decide."""
    place = 0 if grout_kind == "epoxy" else 1
    return {str(kind): f"{words[place]} {CAUTION_END}" for kind, words in CAUTIONS.items()}
