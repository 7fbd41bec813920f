// Scans in three dimensions: turn, cut, read the value under the pointer, tilt the path, set a unit's place.
import {
  AmbientLight,
  BufferAttribute,
  BufferGeometry,
  Color,
  DirectionalLight,
  DoubleSide,
  Mesh,
  MeshBasicMaterial,
  MeshLambertMaterial,
  PerspectiveCamera,
  Plane,
  Raycaster,
  Scene,
  SphereGeometry,
  Vector2,
  Vector3,
  WebGLRenderer,
} from "three";
import { OrbitControls } from "three/addons/controls/OrbitControls.js";
import { ownHeaders } from "./tab";

const BANDS: [number, Color][] = [
  [1e-6, new Color("#e9e2d3")],
  [0.25, new Color("#b9cfe0")],
  [0.5, new Color("#7ea6cb")],
  [0.75, new Color("#4477aa")],
  [Infinity, new Color("#1f3d63")],
];

interface Seed {
  tooth: number;
  at: [number, number, number];
  radius: number | null;
}

const host = document.getElementById("surfaces");
if (host) start(host);

function start(host: HTMLElement): void {
  const canvas = host.querySelector("canvas") as HTMLCanvasElement;
  const code = encodeURIComponent(host.dataset["code"] ?? "");
  const under = byId<HTMLElement>("under");
  const renderer = new WebGLRenderer({ canvas, antialias: true });
  renderer.localClippingEnabled = true;
  const scene = new Scene();
  const paper = getComputedStyle(document.documentElement).getPropertyValue("--paper").trim();
  scene.background = new Color(paper || "#ffffff");
  const camera = new PerspectiveCamera(30, 1, 1, 2000);
  const sun = new DirectionalLight("#ffffff", 2.2);
  scene.add(camera, new AmbientLight("#ffffff", 0.9));
  camera.add(sun);
  const controls = new OrbitControls(camera, canvas);
  const clip = new Plane(new Vector3(0, 0, -1), 1e6);
  const material = new MeshLambertMaterial({ vertexColors: true, side: DoubleSide, clippingPlanes: [clip] });
  let mesh: Mesh<BufferGeometry> | undefined;
  let values: Float32Array | undefined;
  let marks: Mesh[] = [];

  const draw = (): void => renderer.render(scene, camera);
  controls.addEventListener("change", draw);
  new ResizeObserver(() => {
    const { clientWidth, clientHeight } = canvas;
    renderer.setSize(clientWidth, clientHeight, false);
    renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    camera.aspect = clientWidth / Math.max(clientHeight, 1);
    camera.updateProjectionMatrix();
    draw();
  }).observe(canvas);

  const show = async (): Promise<void> => {
    const scan = byId<HTMLSelectElement>("scan").value;
    under.textContent = "Reading the scan …";
    const bytes = await fetchBytes(`/cases/${code}/surfaces/${encodeURIComponent(scan)}/mesh`);
    if (!bytes) return;
    const [nVertices = 0, nFaces = 0] = new Uint32Array(bytes, 0, 2);
    const geometry = new BufferGeometry();
    geometry.setAttribute("position", new BufferAttribute(new Float32Array(bytes, 8, 3 * nVertices), 3));
    geometry.setIndex(new BufferAttribute(new Uint32Array(bytes, 8 + 12 * nVertices, 3 * nFaces), 1));
    geometry.setAttribute("color", new BufferAttribute(new Float32Array(3 * nVertices), 3));
    geometry.computeVertexNormals();
    geometry.computeBoundingSphere();
    if (mesh) scene.remove(mesh);
    mesh = new Mesh(geometry, material);
    scene.add(mesh);
    values = undefined;
    paint();
    frame();
    under.textContent = `${nFaces.toLocaleString("en")} triangles. Point at the surface`;
    if (byId<HTMLInputElement>("undercuts").checked) void measure();
    host.dataset["shown"] = scan;
  };

  const frame = (): void => {
    const sphere = mesh?.geometry.boundingSphere;
    if (!sphere) return;
    controls.target.copy(sphere.center);
    camera.position.copy(sphere.center).add(new Vector3(0, 0.6, 1).normalize().multiplyScalar(sphere.radius * 3.6));
    camera.near = sphere.radius / 100;
    camera.far = sphere.radius * 20;
    camera.updateProjectionMatrix();
    controls.update();
    cut();
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
    draw();
  };

  const cut = (): void => {
    const box = mesh?.geometry;
    const axis = byId<HTMLSelectElement>("axis").value;
    box?.computeBoundingBox();
    if (axis === "" || !box?.boundingBox) clip.constant = 1e6;
    else {
      const index = Number(axis);
      const low = box.boundingBox.min.getComponent(index);
      const high = box.boundingBox.max.getComponent(index);
      clip.normal.set(0, 0, 0).setComponent(index, -1);
      clip.constant = low + ((high - low) * Number(byId<HTMLInputElement>("cut").value)) / 100;
    }
    draw();
  };

  let busy = false;
  let again = false;
  const measure = async (): Promise<void> => {
    if (!byId<HTMLInputElement>("undercuts").checked) {
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
    const bytes = await fetchBytes(`/cases/${code}/surfaces/${encodeURIComponent(scan)}/undercut`, { seat_direction: seatDirection() });
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

  const seatDirection = (): [number, number, number] => {
    const lateral = (Number(byId<HTMLInputElement>("lateral").value) * Math.PI) / 180;
    const forward = (Number(byId<HTMLInputElement>("forward").value) * Math.PI) / 180;
    byId("tilt").textContent = `${byId<HTMLInputElement>("lateral").value}° sideways, ${byId<HTMLInputElement>("forward").value}° forwards`;
    const down = new Vector3(Math.tan(lateral), -Math.tan(forward), -1).normalize();
    return [down.x, down.y, down.z];
  };

  const hit = (event: PointerEvent): { at: Vector3; vertex: number } | undefined => {
    if (!mesh) return undefined;
    const box = canvas.getBoundingClientRect();
    const place = new Vector2(((event.clientX - box.left) / box.width) * 2 - 1, 1 - ((event.clientY - box.top) / box.height) * 2);
    const ray = new Raycaster();
    ray.setFromCamera(place, camera);
    const found = ray.intersectObject(mesh, false).find((one) => clip.distanceToPoint(one.point) >= 0);
    return found?.face ? { at: found.point, vertex: found.face.a } : undefined;
  };

  let waiting = false;
  canvas.addEventListener("pointermove", (event) => {
    if (waiting || event.buttons) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      const found = hit(event);
      if (!found) return;
      const place = found.at.toArray().map((part) => part.toFixed(2)).join(", ");
      const value = values?.[found.vertex];
      const said = value === undefined ? "" : value < 0 ? "undercut beyond 2 mm; " : `undercut ${value.toFixed(2)} mm; `;
      under.textContent = `${said}${place} mm`;
    });
  });

  canvas.addEventListener("click", (event) => {
    const tooth = byId<HTMLSelectElement>("seed").value;
    const found = hit(event as PointerEvent);
    if (tooth && found) void place(Number(tooth), found.at);
  });

  const place = async (tooth: number, at: Vector3): Promise<void> => {
    const page = await fetch(`/cases/${code}/mouth/part`);
    const revision = Number(/data-revision="(\d+)"/.exec(await page.text())?.[1] ?? "0");
    const item = { tooth, seed_mm: at.toArray().map((part) => Math.round(part * 100) / 100), radius_mm: 4 };
    const answer = await fetch(`/cases/${code}/mouth/gestures`, {
      method: "POST",
      headers: { "Content-Type": "application/json", "HX-Request": "true", ...ownHeaders() },
      body: JSON.stringify({ revision, gestures: [{ gesture: "put_item", table: "region", item }] }),
    });
    byId("seeded").textContent = answer.ok ? `${tooth} is there now, in the draft of the plan.` : "This could not be put in; look at the mouth.";
    if (answer.ok) markSeeds([{ tooth, at: [at.x, at.y, at.z], radius: 4 }]);
  };

  const markSeeds = (seeds: Seed[]): void => {
    for (const seed of seeds) {
      const ball = new Mesh(new SphereGeometry(0.5), new MeshBasicMaterial({ color: "#a02c16", depthTest: false }));
      ball.position.set(...seed.at);
      ball.renderOrder = 2;
      marks = [...marks, ball];
      scene.add(ball);
    }
    draw();
  };

  byId("scan").addEventListener("change", () => void show());
  for (const id of ["axis", "cut"]) byId(id).addEventListener("input", cut);
  for (const id of ["undercuts", "lateral", "forward"]) byId(id).addEventListener("input", () => void measure());
  markSeeds(JSON.parse(host.dataset["seeds"] ?? "[]") as Seed[]);
  void show();

  async function fetchBytes(url: string, body?: object): Promise<ArrayBuffer | undefined> {
    const answer = await fetch(url, body && { method: "POST", headers: { "Content-Type": "application/json", ...ownHeaders() }, body: JSON.stringify(body) });
    if (answer.ok) return answer.arrayBuffer();
    const told = (await answer.json()) as { error?: { message: string; hint: string } };
    under.textContent = told.error ? `${told.error.message}. ${told.error.hint}` : "The server does not answer.";
    return undefined;
  }
}

function byId<T extends HTMLElement = HTMLElement>(id: string): T {
  return document.getElementById(id) as T;
}
