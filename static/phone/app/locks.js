/* One tab writes in a pour. A tab that is closed or killed lets go by itself; another tab may take over on purpose. */
let held = null; // {id, release}
let asking = null; // {id, answer}: two screens that are drawn at once ask one question, not two that exclude each other
const lost = new Set();

function ask(id, options) {
  return new Promise((done) => {
    navigator.locks.request(`groutjobs-record-${id}`, options, (lock) => {
      if (!lock) return done(false);
      return new Promise((release) => {
        held = { id, release };
        done(true);
      });
    }).catch(() => {
      if (held?.id === id) held = null;
      lost.forEach((tell) => tell());
    });
  });
}

function once(id) {
  if (asking?.id === id) return asking.answer;
  const answer = ask(id, { ifAvailable: true }).finally(() => { if (asking?.answer === answer) asking = null; });
  asking = { id, answer };
  return answer;
}

export const recordLock = {
  onLost: (tell) => lost.add(tell),
  async take(id) {
    if (held && held.id !== id) {
      held.release();
      held = null;
    }
    const isMine = held?.id === id || (await once(id));
    return { isMine, steal: () => ask(id, { steal: true }) };
  },
};
