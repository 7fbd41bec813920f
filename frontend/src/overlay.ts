// A poured cast over its reference: the movement drawn larger by a chosen factor, arrows, the deviation under the pointer.
import { ArrowHelper, BufferAttribute, BufferGeometry, Color, DoubleSide, Group, Mesh, MeshLambertMaterial, Vector3 } from "three";
import { fetchBytes, unpack } from "./packed";
import { say } from "./say";
import type { Hit, Stage } from "./stage";

interface Unit {
  tooth: string;
  at: [number, number, number];
  shift: [number, number, number] | null;
  told: string;
  word: string;
  moved: boolean;
}

interface Words {
  reference: string;
  poured: string;
  limit_um: number;
  tolerance_um: number;
  colors: string[];
  top: [number, number, number];
  up: [number, number, number];
  units: Unit[];
}

const UNKNOWN = new Color("#9e9c99");
const INK = "#1c1a17";
const POURED = "#4d463d"; // neither of the map's colors, nor the gray of what is not known
const LEAST_ARROW_MM = 0.4;

export class Overlay {
  private readonly group = new Group();
  private readonly arrows = new Group();
  private readonly notes: HTMLElement;
  private readonly signs: { sign: HTMLElement; at: Vector3 }[] = [];

  private constructor(
    private readonly stage: Stage,
    private readonly words: Words,
    readonly reference: Mesh<BufferGeometry>,
    private readonly poured: Mesh<BufferGeometry>,
    private readonly places: Float32Array,
    private readonly moved: Float32Array,
    private readonly deviation: Float32Array,
  ) {
    this.group.add(reference, poured, this.arrows);
    this.notes = document.createElement("div");
    this.notes.className = "notes";
    this.stage.canvas.parentElement?.append(this.notes);
    this.stage.onDraw = () => this.place();
  }

  static async load(stage: Stage, url: string, tell: (said: string) => void): Promise<Overlay | undefined> {
    const bytes = await fetchBytes(url, tell);
    if (!bytes) return undefined;
    const [length = 0] = new Uint32Array(bytes, 0, 1);
    const words = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, length))) as Words;
    const one = unpack(bytes, 4 + length);
    const other = unpack(bytes, one.end);
    const n = other.geometry.getAttribute("position").count;
    const moved = new Float32Array(bytes, other.end, 3 * n);
    const deviation = new Float32Array(bytes, other.end + 12 * n, one.geometry.getAttribute("position").count);
    one.geometry.setAttribute("color", new BufferAttribute(colorsOf(deviation, words), 3));
    const places = (other.geometry.getAttribute("position").array as Float32Array).slice();
    const look = { side: DoubleSide, clippingPlanes: [stage.clip] };
    const reference = new Mesh(one.geometry, new MeshLambertMaterial({ vertexColors: true, ...look }));
    const poured = new Mesh(other.geometry, new MeshLambertMaterial({ color: POURED, transparent: true, opacity: 0.55, depthWrite: false, polygonOffset: true, polygonOffsetFactor: 4, polygonOffsetUnits: 60, ...look }));
    poured.renderOrder = 1;
    return new Overlay(stage, words, reference, poured, places, moved, deviation);
  }

  show(): Mesh<BufferGeometry> {
    this.stage.scene.add(this.group);
    this.stage.up.set(...this.words.up);
    this.stage.frame(this.reference.geometry, new Vector3(...this.words.top));
    return this.reference;
  }

  hide(): void {
    this.stage.swap(this.group, undefined);
    this.notes.remove();
    this.stage.onDraw = undefined;
  }

  /** Draw every movement `factor` times as large, and say so on the picture. */
  exaggerate(factor: number): void {
    const positions = this.poured.geometry.getAttribute("position") as BufferAttribute;
    const array = positions.array as Float32Array;
    for (let i = 0; i < array.length; i++) array[i] = (this.places[i] ?? 0) + (factor - 1) * (this.moved[i] ?? 0);
    positions.needsUpdate = true;
    this.poured.geometry.computeVertexNormals();
    this.poured.geometry.computeBoundingSphere();
    this.drawArrows(factor);
    this.stage.draw();
  }

  parts(shown: { reference: boolean; poured: boolean }): void {
    this.reference.visible = shown.reference;
    this.poured.visible = shown.poured;
    this.stage.draw();
  }

  /** The deviation at a point, with what it means. */
  read(hit: Hit): string {
    const value = this.deviation[hit.vertex] ?? Number.NaN;
    if (Number.isNaN(value)) return say("not_known");
    const size = Math.abs(value).toFixed(0);
    const sign = value < 0 ? "−" : "+";
    const meaning = value < 0 ? say("means_short") : say("means_proud");
    return say("deviation", { size: `${sign}${size}`, meaning, allowed: String(this.words.tolerance_um) });
  }

  legend(): HTMLElement {
    const box = document.createElement("div");
    const { limit_um: limit, colors } = this.words;
    const bar = document.createElement("div");
    bar.className = "scale";
    for (const color of colors) {
      const step = document.createElement("span");
      step.style.backgroundColor = color;
      bar.append(step);
    }
    const ends = document.createElement("div");
    ends.className = "scale-ends";
    for (const said of [say("short", { limit: String(limit) }), "0", say("proud", { limit: String(limit) })]) ends.append(Object.assign(document.createElement("span"), { textContent: said }));
    const gray = Object.assign(document.createElement("p"), { className: "quiet", textContent: say("overlay_key") });
    box.append(bar, ends, gray);
    return box;
  }

  list(): HTMLElement {
    const list = document.createElement("ul");
    list.className = "units-told";
    for (const unit of this.words.units) {
      const middle = unit.shift ? say("at_middle", { shift: (1000 * Math.hypot(...unit.shift)).toFixed(0) }) : "";
      const row = document.createElement("li");
      row.append(Object.assign(document.createElement("strong"), { textContent: `${unit.tooth} ${unit.word}` }), say("judged", { told: unit.told, middle }));
      list.append(row);
    }
    return list;
  }

  private drawArrows(factor: number): void {
    this.arrows.clear();
    this.signs.length = 0;
    const said = document.createElement("p");
    said.className = "factor";
    said.textContent = factor === 1 ? say("true_scale") : say("times", { factor: String(factor) });
    this.notes.replaceChildren(said);
    for (const unit of this.words.units) {
      if (!unit.shift) continue;
      const at = new Vector3(...unit.at);
      const by = new Vector3(...unit.shift).multiplyScalar(factor);
      const length = by.length();
      if (length >= LEAST_ARROW_MM) {
        const arrow = new ArrowHelper(by.clone().normalize(), at, length, INK, Math.min(1.6, 0.5 * length), Math.min(0.9, 0.3 * length));
        for (const part of [arrow.line, arrow.cone]) {
          part.renderOrder = 3;
          (part.material as { depthTest: boolean }).depthTest = false;
        }
        this.arrows.add(arrow);
      }
      const sign = document.createElement("span");
      sign.textContent = unit.tooth;
      sign.className = "sign";
      sign.classList.toggle("moved", unit.moved);
      this.notes.append(sign);
      this.signs.push({ sign, at: at.clone().add(by) });
    }
  }

  private place(): void {
    const box = this.stage.canvas.getBoundingClientRect();
    for (const { sign, at } of this.signs) {
      const seen = this.stage.onScreen(at);
      sign.style.left = `${seen.x - box.left}px`;
      sign.style.top = `${seen.y - box.top}px`;
    }
  }
}

function colorsOf(deviation: Float32Array, words: Words): Float32Array {
  const steps = words.colors.map((color) => new Color(color));
  const middle = (steps.length - 1) / 2;
  const colors = new Float32Array(3 * deviation.length);
  deviation.forEach((value, i) => {
    const place = Math.round(middle + (middle * Math.max(-words.limit_um, Math.min(words.limit_um, value))) / words.limit_um);
    ((Number.isNaN(value) ? undefined : steps[place]) ?? UNKNOWN).toArray(colors, 3 * i);
  });
  return colors;
}
