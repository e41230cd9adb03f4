/* The batch clock. The end instant stands in the page; minutes are worked out from the wall clock at each paint, so that
   a phone that slept, or changed its zone, shows the right time as soon as it is looked at. The server's time at loading
   corrects a phone whose clock is wrong. */
const SOON_MIN = 10;
const CLOCK_OFF_S = 60;
const offsets = new WeakMap();

function offsetMs(place) {
  const marked = place.closest("[data-now]");
  if (!marked) return 0;
  if (!offsets.has(marked)) offsets.set(marked, Date.parse(marked.dataset.now) - Date.now());
  return offsets.get(marked);
}

function words(minutes) {
  const whole = Math.ceil(minutes);
  return minutes > 0 ? `${whole} min` : `${Math.floor(-minutes)} min over`;
}

function paint() {
  for (const clock of document.querySelectorAll("[data-ends-at]")) {
    const ends = Date.parse(clock.dataset.endsAt);
    const left = clock.querySelector("[data-left]");
    if (!left || Number.isNaN(ends)) continue;
    const minutes = (ends - Date.now() - offsetMs(clock)) / 60000;
    const text = words(minutes);
    if (left.textContent !== text) left.textContent = text;
    clock.classList.toggle("over", minutes <= 0);
    clock.classList.toggle("soon", minutes > 0 && minutes < SOON_MIN);
  }
}

function tellClockOff() {
  const note = document.querySelector("[data-clock-off]");
  if (!note) return;
  const offS = Math.abs(offsetMs(note)) / 1000;
  if (offS < CLOCK_OFF_S) return;
  note.textContent = `The clock of this phone is wrong by ${Math.round(offS / 60)} min. The server's time is used here.`;
  note.hidden = false;
}

tellClockOff();
paint();
setInterval(paint, 1000);
document.addEventListener("visibilitychange", paint);
