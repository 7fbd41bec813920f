// Relief pads drawn on the reference scan: touch after touch along a pad's middle, put into the plan's draft by a word.
import { BufferGeometry, Group, Line, LineBasicMaterial, Mesh, MeshBasicMaterial, SphereGeometry, Vector3 } from "three";
import { written } from "./numbers";
import { say } from "./say";
import type { Stage } from "./stage";
import { ownHeaders } from "./tab";

const INK = "#8a4b00";

interface Pad {
  id: string;
  gauge: number;
  reach_mm: number;
  line_mm: [number, number, number][];
}

export class Pads {
  private drawn: Group | undefined;
  private places: Vector3[] = [];
  private readonly chooser = byId<HTMLSelectElement>("pad");
  private readonly told = byId("pad-told");

  constructor(private readonly stage: Stage, private readonly code: string, private readonly kept: Pad[]) {
    this.chooser.addEventListener("change", () => this.choose());
    byId("pad-back").addEventListener("click", () => {
      this.places.pop();
      this.redraw();
    });
    byId("pad-put").addEventListener("click", () => void this.put());
    this.redraw();
  }

  get isChosen(): boolean {
    return this.chooser.value !== "";
  }

  add(at: Vector3): void {
    this.places.push(at.clone());
    this.redraw();
  }

  show(isShown: boolean): void {
    if (this.drawn) this.drawn.visible = isShown;
    this.stage.draw();
  }

  private choose(): void {
    const pad = this.kept.find((one) => one.id === this.chooser.value);
    this.places = (pad?.line_mm ?? []).map((at) => new Vector3(...at));
    if (pad) {
      byId<HTMLSelectElement>("pad-gauge").value = String(pad.gauge);
      byId<HTMLInputElement>("pad-reach").value = String(pad.reach_mm);
    }
    byId<HTMLSelectElement>("seed").value = "";
    byId("pad-tools").hidden = !this.isChosen;
    this.redraw();
  }

  private redraw(): void {
    const group = new Group();
    for (const pad of this.kept) if (pad.id !== this.chooser.value) lineOf(pad.line_mm.map((at) => new Vector3(...at)), group);
    lineOf(this.places, group);
    this.stage.swap(this.drawn, group);
    this.drawn = group;
    byId<HTMLButtonElement>("pad-back").disabled = byId<HTMLButtonElement>("pad-put").disabled = !this.places.length;
    const long = this.places.slice(1).reduce((sum, at, k) => sum + at.distanceTo(this.places[k] ?? at), 0);
    this.told.textContent = say("pad_places", { n: String(this.places.length), long: written(long, 1) });
  }

  private async put(): Promise<void> {
    const item = {
      id: this.chooser.value,
      gauge: Number(byId<HTMLSelectElement>("pad-gauge").value),
      reach_mm: Number(byId<HTMLInputElement>("pad-reach").value.replace(",", ".")),
      line_mm: this.places.map((at) => at.toArray().map((part) => Math.round(part * 100) / 100)),
    };
    const page = await fetch(`/cases/${this.code}/mouth/part`);
    const revision = Number(/data-revision="(\d+)"/.exec(await page.text())?.[1] ?? "0");
    const answer = await fetch(`/cases/${this.code}/mouth/gestures`, {
      method: "POST",
      headers: { "Content-Type": "application/json", "HX-Request": "true", ...ownHeaders() },
      body: JSON.stringify({ revision, gestures: [{ gesture: "put_item", table: "relief", item }] }),
    });
    this.told.textContent = answer.ok ? say("pad_is_there", { name: item.id }) : say("not_put_in");
    if (answer.ok) document.getElementById("scan-draft")?.dispatchEvent(new CustomEvent("redraw"));
  }
}

function lineOf(places: Vector3[], group: Group): void {
  const ink = new MeshBasicMaterial({ color: INK, depthTest: false });
  for (const at of places) {
    const ball = new Mesh(new SphereGeometry(0.5), ink);
    ball.position.copy(at);
    group.add(ball);
  }
  if (places.length > 1) group.add(new Line(new BufferGeometry().setFromPoints(places), new LineBasicMaterial({ color: INK, depthTest: false })));
  group.traverse((one) => (one.renderOrder = 2));
}

function byId<T extends HTMLElement = HTMLElement>(id: string): T {
  return document.getElementById(id) as T;
}
