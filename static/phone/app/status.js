/* The status line: one of five phrases, read from the store and from nothing else. */
export function phrase(counts, justSaved = false) {
  if (counts.help) return `Problem: ${counts.help} ${counts.help === 1 ? "entry needs" : "entries need"} help`;
  if (counts.sending) return `Sending ${counts.sending}...`;
  if (counts.unsent && justSaved) return "Saved on this phone";
  if (counts.unsent) return `Not sent yet: ${counts.unsent} - safe on this phone`;
  return `Sent - all ${counts.received} received`;
}

export const DAY_MS = 86400000;
export const isOverdue = (counts, now) => counts.oldest !== null && now - counts.oldest > DAY_MS;
