// Numbers that the browser writes by itself, with the decimal sign of this device; the server writes all others.

const SIGN = document.documentElement.dataset["decimal"] ?? ".";

export function written(value: number, digits: number): string {
  const rounded = value.toFixed(digits);
  // what rounds to zero has no sign
  const [whole = "", part] = (Number(rounded) === 0 ? rounded.replace("-", "") : rounded.replace("-", "\u2212")).split(".");
  const grouped = whole.replace(/\B(?=(\d{3})+$)/g, SIGN === "," ? "\u202f" : ",");
  return part === undefined ? grouped : `${grouped}${SIGN}${part}`;
}
