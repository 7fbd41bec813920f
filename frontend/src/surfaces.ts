// The page of a case's scans: bring them, turn and cut them, read values, tilt the path, set a unit's place.
import { BufferAttribute, BufferGeometry, Color, DoubleSide, Mesh, MeshBasicMaterial, MeshLambertMaterial, SphereGeometry, Vector3 } from "three";
import { startBringing } from "./bring";
import { written } from "./numbers";
import { Overlay } from "./overlay";
import { fetchBytes, unpack } from "./packed";
import { Pads } from "./pads";
import { say } from "./say";
import { Stage, type Hit } from "./stage";
import { ownHeaders } from "./tab";

const BANDS: [number, Color][] = [
  [1e-6, new Color("#e9e2d3")],
  [0.25, new Color("#b9cfe0")],
  [0.5, new Color("#7ea6cb")],
  [0.75, new Color("#4477aa")],
  [Infinity, new Color("#1f3d63")],
];
const SEED_RADIUS_MM = 4;

const WAX = "#8fb8aa";

interface Filled {
  volume_mm3: number;
  undercut_volume_mm3: number;
  taper_deg: number;
  n_solids: number;
  findings: string[];
}

interface Seed {
  tooth: number;
  at: [number, number, number];
  radius: number | null;
}

/** The case's occlusal plane in its reference's frame. */
interface Plane {
  scan: string;
  up: [number, number, number];
  left: [number, number, number];
  back: [number, number, number];
  how: string;
  u_deg: number;
}

startBringing();
const host = document.getElementById("surfaces");
if (host) start(host);

function start(host: HTMLElement): void {
  const code = encodeURIComponent(host.dataset["code"] ?? "");
  const under = byId("under");
  const stage = new Stage(host.querySelector("canvas") as HTMLCanvasElement);
  const material = new MeshLambertMaterial({ vertexColors: true, side: DoubleSide, clippingPlanes: [stage.clip] });
  const tell = (said: string): void => void (under.textContent = said);
  let mesh: Mesh<BufferGeometry> | undefined;
  let values: Float32Array | undefined;
  let isKept = false;
  let overlay: Overlay | undefined;

  const show = async (url: string, scan: string): Promise<void> => {
    host.hidden = false;
    tell(say("reading"));
    const bytes = await fetchBytes(url, tell);
    if (!bytes) return;
    leave();
    const { geometry, up } = unpack(bytes);
    geometry.setAttribute("color", new BufferAttribute(new Float32Array(3 * geometry.getAttribute("position").count), 3));
    const next = new Mesh(geometry, material);
    stage.swap(mesh, next);
    mesh = next;
    isKept = scan !== "";
    values = undefined;
    stage.up.copy(up);
    paint();
    stage.frame(geometry);
    cut();
    tell(say("triangles", { n: written((geometry.index?.count ?? 0) / 3, 0) }));
    host.dataset["shown"] = scan || "brought";
    tellOrigin();
    pads?.show(isReference());
    if (isKept && byId<HTMLInputElement>("undercuts").checked) void measure();
    void fill();
  };

  const showScan = (): void => {
    const scan = byId<HTMLSelectElement>("scan").value;
    if (scan) void show(`/cases/${code}/surfaces/${encodeURIComponent(scan)}/mesh`, scan);
  };

  const lay = async (): Promise<void> => {
    const poured = byId<HTMLSelectElement>("overlay").value;
    if (!poured) return showScan();
    tell(say("laying"));
    const laid = await Overlay.load(stage, `/cases/${code}/surfaces/overlay?poured=${encodeURIComponent(poured)}`, tell);
    if (!laid) return;
    leave();
    melt();
    stage.swap(mesh, undefined);
    byId<HTMLSelectElement>("overlay").value = poured;
    overlay = laid;
    mesh = laid.show();
    isKept = false;
    host.classList.add("laid");
    pads?.show(false);
    for (const ball of marks.values()) ball.visible = false;
    byId("overlay-legend").replaceChildren(laid.legend(), laid.list());
    byId("overlay-tools").hidden = false;
    grow();
    cut();
    tell(say("point"));
    host.dataset["shown"] = `overlay ${poured}`;
  };

  const grow = (): void => {
    overlay?.exaggerate(Number(byId<HTMLSelectElement>("factor").value));
    overlay?.parts({ reference: byId<HTMLInputElement>("see-reference").checked, poured: byId<HTMLInputElement>("see-poured").checked });
  };

  const leave = (): void => {
    if (!overlay) return;
    overlay.hide();
    overlay = mesh = undefined;
    host.classList.remove("laid");
    pads?.show(true);
    for (const ball of marks.values()) ball.visible = true;
    byId<HTMLSelectElement>("overlay").value = "";
    byId("overlay-tools").hidden = true;
  };

  const paint = (): void => {
    const colors = mesh?.geometry.getAttribute("color") as BufferAttribute | undefined;
    if (!colors) return;
    const plain = BANDS[0]?.[1] ?? new Color();
    for (let i = 0; i < colors.count; i++) {
      const value = values?.[i] ?? 0;
      const color = value < 0 ? BANDS[4]?.[1] : BANDS.find(([limit]) => value <= limit)?.[1];
      (color ?? plain).toArray(colors.array as Float32Array, 3 * i);
    }
    colors.needsUpdate = true;
    stage.draw();
  };

  const cut = (): void => {
    if (mesh) stage.section(mesh.geometry, byId<HTMLSelectElement>("axis").value, Number(byId<HTMLInputElement>("cut").value));
  };

  const isReference = (): boolean => isKept && host.dataset["shown"] === host.dataset["reference"];
  const pads = document.getElementById("pad") ? new Pads(stage, code, JSON.parse(host.dataset["pads"] ?? "[]")) : undefined;

  let busy = false;
  let again = false;
  const measure = async (): Promise<void> => {
    const seat = seatDirection();
    if (!isKept || !byId<HTMLInputElement>("undercuts").checked) {
      values = undefined;
      paint();
      return;
    }
    if (busy) {
      again = true;
      return;
    }
    busy = true;
    const scan = byId<HTMLSelectElement>("scan").value;
    const begun = performance.now();
    const bytes = await fetchBytes(`/cases/${code}/surfaces/${encodeURIComponent(scan)}/undercut`, tell, { seat_direction: seat });
    busy = false;
    if (bytes) {
      values = new Float32Array(bytes);
      paint();
      host.dataset["measuredMs"] = String(Math.round(performance.now() - begun));
    }
    if (again) {
      again = false;
      void measure();
    }
  };

  let wax: Mesh<BufferGeometry> | undefined;
  const melt = (): void => {
    stage.swap(wax, undefined);
    wax = undefined;
    byId("block-out-told").textContent = "";
  };

  let wish = 0;
  const fill = async (): Promise<void> => {
    melt();
    const taper = byId<HTMLSelectElement>("block-out").value;
    const mine = ++wish;
    if (!isKept || taper === "") return;
    const told = byId("block-out-told");
    told.textContent = say("filling");
    const scan = byId<HTMLSelectElement>("scan").value;
    const body = { seat_direction: seatDirection(), taper_deg: Number(taper) };
    const bytes = await fetchBytes(`/cases/${code}/surfaces/${encodeURIComponent(scan)}/block-out`, (said) => void (told.textContent = said), body);
    if (!bytes || mine !== wish) return;
    const [length = 0] = new Uint32Array(bytes, 0, 1);
    const words = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, length))) as Filled;
    if (words.n_solids) {
      const look = new MeshLambertMaterial({ color: WAX, transparent: true, opacity: 0.75, side: DoubleSide, depthWrite: false, clippingPlanes: [stage.clip] });
      wax = new Mesh(unpack(bytes, 4 + length).geometry, look);
      wax.renderOrder = 1;
      stage.swap(undefined, wax);
    }
    const noted = words.findings.map((one) => `${one}.`).join(" ");
    const walls = words.taper_deg ? say("walls_tapered", { taper: String(words.taper_deg) }) : say("walls_parallel");
    told.textContent = words.n_solids
      ? say("block_out", { volume: written(words.volume_mm3, 0), walls, alone: written(words.undercut_volume_mm3, 0), noted })
      : say("no_undercut", { noted });
    host.dataset["filled"] = taper;
  };

  /** The axes that a tilt is counted from: the case's occlusal plane on its reference, else the way the scan opens. */
  const axes = (): { up: Vector3; side: Vector3; back: Vector3 } => {
    const known = plane();
    if (known) return { up: new Vector3(...known.up), side: new Vector3(...known.left), back: new Vector3(...known.back) };
    const side = new Vector3(1, 0, 0).addScaledVector(stage.up, -stage.up.x);
    if (side.lengthSq() < 0.01) side.set(0, 1, 0).addScaledVector(stage.up, -stage.up.y);
    side.normalize();
    return { up: stage.up.clone(), side, back: new Vector3().crossVectors(stage.up, side) };
  };

  const plane = (): Plane | undefined => {
    const known = JSON.parse(host.dataset["plane"] ?? "null") as Plane | null;
    return known && isKept && host.dataset["shown"] === known.scan ? known : undefined;
  };

  const tellOrigin = (): void => {
    const known = plane();
    byId("tilt-from").textContent = known ? say("from_plane", { how: known.how, u: written(known.u_deg, 1) }) : say("from_scan");
  };

  /** The way the partial moves to seat, tilted from straight down on the arch. */
  const seatDirection = (): [number, number, number] => {
    const lateral = byId<HTMLInputElement>("lateral").valueAsNumber;
    const forward = byId<HTMLInputElement>("forward").valueAsNumber;
    byId("tilt").textContent = say("tilt", { lateral: written(lateral, lateral % 1 ? 1 : 0), forward: written(forward, forward % 1 ? 1 : 0) });
    const { up, side, back } = axes();
    const down = up.negate();
    down.addScaledVector(side, Math.tan((lateral * Math.PI) / 180)).addScaledVector(back, -Math.tan((forward * Math.PI) / 180));
    return down.normalize().toArray();
  };

  let waiting = false;
  stage.canvas.addEventListener("pointermove", (event) => {
    if (waiting || event.buttons) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      const found = mesh && stage.hit(event.clientX, event.clientY, mesh);
      if (found) read(found);
    });
  });

  const read = (found: Hit): void => {
    const place = found.at.toArray().map((part) => written(part, 2)).join("; ");
    if (overlay) return tell(overlay.read(found));
    const value = values?.[found.vertex];
    const said = value === undefined ? "" : value < 0 ? say("undercut_beyond") : say("undercut_here", { depth: written(value, 2) });
    tell(`${said}${place} mm`);
  };

  stage.canvas.addEventListener("click", (event) => {
    const tooth = byId<HTMLSelectElement>("seed").value;
    const found = mesh && isKept && stage.hit(event.clientX, event.clientY, mesh);
    if (found) put(tooth, found.at);
  });

  const put = (tooth: string, at: Vector3): void => {
    if (tooth) void place(Number(tooth), at);
    else if (pads?.isChosen && isReference()) pads.add(at);
    else if (pads?.isChosen) tell(say("pad_on_reference"));
  };

  stage.canvas.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault();
    const box = stage.canvas.getBoundingClientRect();
    const found = mesh && stage.hit(box.left + box.width / 2, box.top + box.height / 2, mesh);
    if (!found) return void tell(say("beside"));
    const tooth = byId<HTMLSelectElement>("seed").value;
    read(found);
    if (isKept && event.key === "Enter") put(tooth, found.at);
  });

  const place = async (tooth: number, at: Vector3): Promise<void> => {
    const page = await fetch(`/cases/${code}/mouth/part`);
    const revision = Number(/data-revision="(\d+)"/.exec(await page.text())?.[1] ?? "0");
    const item = { tooth, seed_mm: at.toArray().map((part) => Math.round(part * 100) / 100), radius_mm: SEED_RADIUS_MM };
    const answer = await fetch(`/cases/${code}/mouth/gestures`, {
      method: "POST",
      headers: { "Content-Type": "application/json", "HX-Request": "true", ...ownHeaders() },
      body: JSON.stringify({ revision, gestures: [{ gesture: "put_item", table: "region", item }] }),
    });
    byId("seeded").textContent = answer.ok ? say("is_there", { tooth: String(tooth) }) : say("not_put_in");
    if (answer.ok) {
      markSeeds([{ tooth, at: [at.x, at.y, at.z], radius: SEED_RADIUS_MM }]);
      document.getElementById("scan-draft")?.dispatchEvent(new CustomEvent("redraw"));
    }
  };

  const marks = new Map<number, Mesh>();
  const markSeeds = (seeds: Seed[]): void => {
    for (const seed of seeds) {
      const ball = new Mesh(new SphereGeometry(0.5), new MeshBasicMaterial({ color: "#a02c16", depthTest: false }));
      ball.position.set(...seed.at);
      ball.renderOrder = 2;
      stage.swap(marks.get(seed.tooth), ball);
      marks.set(seed.tooth, ball);
    }
  };

  byId("scan").addEventListener("change", showScan);
  if (document.getElementById("overlay")) {
    byId("overlay").addEventListener("change", () => void lay());
    for (const id of ["factor", "see-reference", "see-poured"]) byId(id).addEventListener("change", grow);
  }
  for (const id of ["axis", "cut"]) byId(id).addEventListener("input", cut);
  for (const id of ["undercuts", "lateral", "forward"]) byId(id).addEventListener("input", () => void measure());
  for (const id of ["lateral", "forward"]) byId(id).addEventListener("input", melt);
  for (const id of ["block-out", "lateral", "forward"]) byId(id).addEventListener("change", () => void fill());
  document.addEventListener("click", (event) => {
    const look = (event.target as Element | null)?.closest<HTMLElement>("button.look");
    if (look?.dataset["mesh"]) void show(look.dataset["mesh"], "").then(() => stage.canvas.scrollIntoView({ block: "nearest" }));
  });
  markSeeds(JSON.parse(host.dataset["seeds"] ?? "[]") as Seed[]);
  showScan();
}

function byId<T extends HTMLElement = HTMLElement>(id: string): T {
  return document.getElementById(id) as T;
}
