// The arch as a place to enter: touch a tooth, sweep over several, then say once what they are.

import htmx from "htmx.org";
import { say } from "./say";
import { sideTouched } from "./side";
import { ownHeaders } from "./tab";

type Gesture = Record<string, unknown>;

const WITH_TEETH = new Set(["set_teeth", "set_units", "set_margins", "copy_unit", "make_bridge", "join_units", "remove_units"]);

let chosen: string[] = [];
let swept: string[] | undefined;
let touched = { x: 0, y: 0 };
let hangSide: string | undefined;
let section: HTMLElement | undefined;

export function startEntry(): void {
  document.addEventListener("pointerdown", begin);
  document.addEventListener("pointermove", sweep);
  document.addEventListener("pointerup", end);
  document.addEventListener("pointercancel", () => (swept = undefined));
  document.addEventListener("keydown", byKey);
  document.addEventListener("click", press);
  document.addEventListener("change", typed);
  document.addEventListener("htmx:afterSwap", show);
  show();
}

function entry(): HTMLElement | undefined {
  return document.getElementById("entry") ?? undefined;
}

function toothAt(event: PointerEvent): string | undefined {
  const place = document.elementFromPoint(event.clientX, event.clientY)?.closest<SVGElement>("#entry .place");
  return place?.dataset["tooth"];
}

function begin(event: PointerEvent): void {
  const tooth = toothAt(event);
  if (!tooth) return;
  event.preventDefault();
  swept = [tooth];
  touched = { x: event.clientX, y: event.clientY };
}

function sweep(event: PointerEvent): void {
  if (!swept) return;
  const tooth = toothAt(event);
  if (tooth && !swept.includes(tooth)) {
    swept.push(tooth);
    mark(swept);
  }
}

function end(): void {
  if (!swept) return;
  const [first] = swept;
  if (swept.length > 1) chosen = swept;
  else if (first) chosen = chosen.includes(first) ? chosen.filter((tooth) => tooth !== first) : [...chosen, first];
  const [only] = chosen;
  const place = document.querySelector<SVGElement>(`#entry .place[data-tooth="${only ?? ""}"]`);
  hangSide = chosen.length === 1 && only === first && place ? sideTouched(place, touched) : undefined; // never another tooth's
  swept = undefined;
  show();
}

function byKey(event: KeyboardEvent): void {
  const place = (event.target as Element | null)?.closest<SVGElement>("#entry .place");
  if (!place) return;
  const tooth = place.dataset["tooth"] ?? "";
  if (event.key === " " || event.key === "Enter") {
    event.preventDefault();
    chosen = chosen.includes(tooth) ? chosen.filter((other) => other !== tooth) : [...chosen, tooth];
    show();
  }
  if (event.key === "ArrowLeft" || event.key === "ArrowRight") {
    event.preventDefault();
    const places = [...document.querySelectorAll<SVGElement>("#entry .place")];
    places[places.indexOf(place) + (event.key === "ArrowRight" ? 1 : -1)]?.focus();
  }
}

function mark(teeth: string[]): void {
  for (const place of document.querySelectorAll<SVGElement>("#entry .place")) {
    place.setAttribute("aria-pressed", String(teeth.includes(place.dataset["tooth"] ?? "")));
  }
}

function show(): void {
  const here = entry();
  if (!here) return;
  if (here !== section) section = here;
  mark(chosen);
  const said = document.getElementById("chosen");
  const rows = document.getElementById("rows");
  const none = document.getElementById("choose-none");
  if (said) said.textContent = chosen.length ? chosen.map(nameOf).join(" ") : say("touch_teeth");
  if (rows) rows.hidden = chosen.length === 0;
  if (none) none.hidden = chosen.length === 0;
  showHangs(here);
  filterItems(here);
  for (const set of here.querySelectorAll<HTMLFieldSetElement>("fieldset[data-needs]")) {
    set.disabled = chosen.length < Number(set.dataset["needs"]);
  }
}

// A rest, clasp, guide plane or attachment hangs on one tooth, at one side.
function showHangs(here: HTMLElement): void {
  const set = here.querySelector<HTMLFieldSetElement>("#hangs");
  const said = here.querySelector("#hang-side");
  if (!set || !said) return;
  set.disabled = chosen.length !== 1;
  said.textContent = hangSide ?? "…";
  for (const side of set.querySelectorAll<HTMLElement>(".hang-side")) {
    side.setAttribute("aria-pressed", String(side.dataset["side"] === hangSide));
  }
  for (const kind of set.querySelectorAll<HTMLButtonElement>(".hang")) kind.disabled = hangSide === undefined;
}

// The table shows what hangs on the chosen teeth; all of it while none is chosen, or nothing hangs on them.
function filterItems(here: HTMLElement): void {
  const groups = [...here.querySelectorAll<HTMLElement>(".items-table tbody")];
  const theirs = groups.filter((group) => chosen.includes(group.dataset["tooth"] ?? ""));
  for (const group of groups) group.hidden = theirs.length > 0 && !theirs.includes(group);
  const said = here.querySelector<HTMLElement>("#items-shown");
  if (!said) return;
  said.hidden = theirs.length === 0;
  said.textContent = theirs.length ? say("items_of", { teeth: chosen.map(nameOf).join(" ") }) : "";
}

function hang(button: HTMLButtonElement): Gesture {
  const tooth = Number(chosen[0]);
  const table = button.dataset["table"] ?? "";
  const taken = [...document.querySelectorAll("#entry .items-table .quiet")].map((one) => one.textContent);
  const name = `${table.replace("_", "-")}-${tooth}-${hangSide ?? ""}`;
  const id = taken.includes(name) ? `${name}-${taken.filter((one) => one?.startsWith(name)).length + 1}` : name;
  return { gesture: "put_item", table, item: { id, tooth, surface: hangSide, ...(JSON.parse(button.dataset["item"] ?? "{}") as object) } };
}

function press(event: MouseEvent): void {
  const button = (event.target as Element | null)?.closest<HTMLButtonElement>("#entry button");
  if (!button || button.disabled) return;
  if (button.id === "choose-none") {
    chosen = [];
    show();
  } else if (button.classList.contains("side")) {
    button.setAttribute("aria-pressed", String(button.getAttribute("aria-pressed") !== "true"));
  } else if (button.classList.contains("hang-side")) {
    hangSide = button.dataset["side"];
    show();
  } else if (button.classList.contains("hang")) {
    void send([hang(button)]);
  } else if (button.classList.contains("edge")) {
    void send([edge(button)]);
  } else if (button.id === "same-as-last") {
    void send([{ gesture: "copy_unit", like: Number(entry()?.dataset["last"]) }]);
  } else if (button.id === "undo" || button.id === "keep") {
    void post(button.id, {});
  } else if (button.dataset["gestures"] && button.type === "button") {
    const gestures = JSON.parse(button.dataset["gestures"]) as Gesture[];
    void (button.classList.contains("again") ? post("gestures", { gestures }) : send(gestures));
  }
}

function edge(button: HTMLButtonElement): Gesture {
  const thickness = document.querySelector<HTMLInputElement>("#edge-thickness")?.value;
  const sides = [...document.querySelectorAll<HTMLElement>("#entry .side[aria-pressed=true]")].map((side) => side.dataset["side"]);
  return {
    gesture: "set_margins",
    surfaces: sides,
    kind: button.dataset["kind"],
    thickness_mm: numberOf(thickness || button.dataset["thickness"]),
    subgingival_mm: numberOf(document.querySelector<HTMLInputElement>("#edge-below")?.value),
  };
}

function typed(event: Event): void {
  const input = (event.target as Element | null)?.closest<HTMLInputElement>("#entry input.number");
  if (!input?.value || !input.dataset["field"]) return;
  const number = numberOf(input.value);
  const told = document.getElementById("told");
  if (Number.isNaN(number) && told) told.textContent = say("no_number", { text: input.value });
  else void send([{ gesture: "set_units", [input.dataset["field"]]: number }]);
}

// A tooth's name in the notation of this device, as its place on the arch says it.
function nameOf(tooth: string): string {
  const said = document.querySelector(`#entry .place[data-tooth="${tooth}"]`)?.getAttribute("aria-label");
  return said?.split(",")[0] ?? tooth;
}

// Both decimal signs are read.
function numberOf(text: string | undefined): number {
  return Number((text ?? "").trim().replace(",", "."));
}

const FOCUSED = "#entry button, #entry input, #entry .place";

// What tells a control from the others when the page is drawn again, so that the focus stays on it.
function markOf(element: Element | null): string | undefined {
  if (!element?.matches(FOCUSED)) return undefined;
  const { tooth, gestures, field, kind, side } = (element as HTMLElement).dataset;
  return [element.id, element.getAttribute("name"), tooth, gestures, field, kind, side].join("|");
}

async function send(gestures: Gesture[]): Promise<void> {
  const teeth = chosen.map(Number);
  await post("gestures", {
    gestures: gestures.map((one) => (WITH_TEETH.has(String(one["gesture"])) ? { ...one, teeth } : one)),
  });
}

async function post(action: string, body: Record<string, unknown>): Promise<void> {
  const here = entry();
  const told = document.getElementById("told");
  if (!here) return;
  try {
    const answer = await fetch(`/cases/${encodeURIComponent(here.dataset["code"] ?? "")}/mouth/${action}`, {
      method: "POST",
      headers: { "Content-Type": "application/json", "HX-Request": "true", ...ownHeaders() },
      body: JSON.stringify({ revision: Number(here.dataset["revision"]), ...body }),
    });
    const text = await answer.text();
    if (answer.ok || answer.status === 409) {
      const held = markOf(document.activeElement);
      here.outerHTML = text;
      const drawn = entry();
      if (drawn) htmx.process(drawn);
      told?.replaceChildren();
      show();
      if (held) [...document.querySelectorAll<HTMLElement>(FOCUSED)].find((one) => markOf(one) === held)?.focus();
    } else if (told) {
      told.innerHTML = text;
    }
  } catch {
    if (told) told.textContent = say("not_done");
  }
}
