/* Numbers as people type and read them. What a unit is comes with the snapshot: SI = typed × scale + offset. */
const NUMBER = /^([+-]?)(\d{1,12})(?:[.,](\d{0,12}))?$|^([+-]?)[.,](\d{1,12})$/;
const THOUSANDS = /^[+-]?\d{1,3}(,\d{3})+(\.\d*)?$/;

/* The number, or null where the text is none that can be read without guessing. */
export function readNumber(text) {
  const plain = text.trim().replace(/\u2212/g, "-");
  if (!plain || THOUSANDS.test(plain) || !NUMBER.test(plain)) return null;
  return Number(plain.replace(",", "."));
}

export const toSi = (value, unit) => round(value * unit.scale + unit.offset);
export const fromSi = (value, unit) => (value - unit.offset) / unit.scale;
const round = (value) => Number(value.toPrecision(12));

export function fixed(value, decimals) {
  const text = value.toFixed(decimals).replace("-", "\u2212");
  return text.replace(/^\u2212(0(?:\.0*)?)$/, "$1").replace(/\B(?=(\d{3})+(?!\d)(?=\.|$))/g, "\u202f");
}

export function shown(value, unit) {
  if (value === null || value === undefined) return "–";
  if (!unit || !unit.label) return String(value);
  const number = fixed(fromSi(value, unit), unit.decimals);
  return unit.label === "%" ? `${number}%` : `${number} ${unit.label}`;
}

const US_FIRST = { L: "ft3" };

/* The unit a person sees first: the one of storage, or the customary one where there is one. */
export function preferred(units, system) {
  if (!units?.length) return null;
  if (system !== "us" || units.length === 1) return units[0];
  return units.find((unit) => unit.key === US_FIRST[units[0].key]) ?? units[1];
}

export function inBoth(value, units) {
  const [metric, us] = [preferred(units, "metric"), preferred(units, "us")];
  const first = shown(value, metric);
  return metric === us ? first : `${first} = ${shown(value, us)}`;
}

export const METRIC = { c: { label: "°C", decimals: 1, scale: 1, offset: 0 }, l: { label: "L", decimals: 1, scale: 1, offset: 0 } };

/* Units of temperature and volume for sentences, taken from the slots that have them. */
export function unitsOf(snapshot, system) {
  const slot = (kind, name) => snapshot.kinds?.[kind]?.slots?.find((one) => one.name === name)?.units;
  return {
    c: preferred(slot("wetted_out", "grout_c"), system) ?? METRIC.c,
    l: preferred(slot("placed", "volume_l"), system) ?? METRIC.l,
  };
}
