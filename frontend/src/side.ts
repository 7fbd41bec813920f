// Which side of a tooth was touched on the drawn arch: mesial and distal lie along it, facial and lingual across.

const MIDDLE = 0.35; // of half a tooth: a touch nearer to its middle means the tooth, and no side of it

interface Point {
  x: number;
  y: number;
}

export function sideTouched(place: SVGElement, touch: Point): string | undefined {
  const places = [...document.querySelectorAll<SVGElement>("#entry .place")].sort((a, b) => along(a) - along(b));
  const here = middle(place);
  const at = places.indexOf(place);
  const before = middle(places[Math.max(at - 1, 0)] ?? place);
  const after = middle(places[Math.min(at + 1, places.length - 1)] ?? place);
  const length = Math.hypot(after.x - before.x, after.y - before.y);
  if (!length) return undefined;
  const toLeft = { x: (after.x - before.x) / length, y: (after.y - before.y) / length };
  const inside = mean(places.map(middle));
  const across = { x: -toLeft.y, y: toLeft.x };
  const inward = dot(across, { x: inside.x - here.x, y: inside.y - here.y }) > 0 ? 1 : -1;
  const box = outline(place).getBoundingClientRect();
  const half = (box.width + box.height) / 4;
  const from = { x: (touch.x - here.x) / half, y: (touch.y - here.y) / half };
  const mesial = dot(from, toLeft) * (along(place) < 0 ? 1 : -1);
  const lingual = dot(from, across) * inward;
  if (Math.max(Math.abs(mesial), Math.abs(lingual)) < MIDDLE) return undefined;
  if (Math.abs(mesial) > Math.abs(lingual)) return mesial > 0 ? "mesial" : "distal";
  return lingual > 0 ? "lingual" : "facial";
}

// Place in the row from the patient's right to the left; ISO 3950 counts from the midline.
function along(place: SVGElement): number {
  const tooth = Number(place.dataset["tooth"]);
  const quadrant = Math.floor(tooth / 10);
  return quadrant === 1 || quadrant === 4 ? -(tooth % 10) : tooth % 10;
}

function outline(place: SVGElement): SVGElement {
  return place.querySelector<SVGElement>("path") ?? place;
}

function middle(place: SVGElement): Point {
  const box = outline(place).getBoundingClientRect();
  return { x: box.x + box.width / 2, y: box.y + box.height / 2 };
}

function mean(points: Point[]): Point {
  const n = points.length || 1;
  return { x: points.reduce((sum, one) => sum + one.x, 0) / n, y: points.reduce((sum, one) => sum + one.y, 0) / n };
}

function dot(a: Point, b: Point): number {
  return a.x * b.x + a.y * b.y;
}
