// A canvas with a scene: light, camera, section plane; draws only when something changed.
import {
  AmbientLight,
  BufferGeometry,
  Color,
  DirectionalLight,
  Mesh,
  Object3D,
  PerspectiveCamera,
  Plane,
  Raycaster,
  Scene,
  Vector2,
  Vector3,
  WebGLRenderer,
} from "three";
import { OrbitControls } from "three/addons/controls/OrbitControls.js";

const FAR = 1e6;

export interface Hit {
  at: Vector3;
  vertex: number;
}

export class Stage {
  readonly scene = new Scene();
  readonly clip = new Plane(new Vector3(0, 0, -1), FAR);
  readonly up = new Vector3(0, 0, 1);
  private readonly camera = new PerspectiveCamera(30, 1, 1, 2000);
  private readonly renderer: WebGLRenderer;
  private readonly controls: OrbitControls;
  onDraw: (() => void) | undefined;
  private asked = false;

  constructor(readonly canvas: HTMLCanvasElement) {
    this.renderer = new WebGLRenderer({ canvas, antialias: true });
    this.renderer.localClippingEnabled = true;
    const sun = new DirectionalLight("#ffffff", 2.2);
    this.camera.add(sun);
    this.scene.add(this.camera, new AmbientLight("#ffffff", 0.9));
    this.controls = new OrbitControls(this.camera, canvas);
    this.controls.listenToKeyEvents(canvas);
    this.controls.addEventListener("change", () => this.draw());
    new ResizeObserver(() => this.resize()).observe(canvas);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.repaper());
    window.addEventListener("beforeprint", () => {
      this.scene.background = new Color("#ffffff");
      this.renderer.render(this.scene, this.camera);
    });
    window.addEventListener("afterprint", () => this.repaper());
    this.repaper();
  }

  draw(): void {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      this.renderer.render(this.scene, this.camera);
      this.onDraw?.();
    });
  }

  /** Look at all of a surface, from the side that it opens to; `top` is what is up on the screen. */
  frame(geometry: BufferGeometry, top?: Vector3): void {
    geometry.computeBoundingSphere();
    geometry.computeBoundingBox();
    const sphere = geometry.boundingSphere;
    if (!sphere) return;
    const side = new Vector3(1, 0, 0).addScaledVector(this.up, -this.up.x);
    if (side.lengthSq() < 0.01) side.set(0, 1, 0).addScaledVector(this.up, -this.up.y);
    const back = top ?? new Vector3().crossVectors(this.up, side.normalize());
    const from = this.up.clone().addScaledVector(back, -0.35).normalize();
    this.camera.up.copy(back);
    this.controls.target.copy(sphere.center);
    this.camera.position.copy(sphere.center).addScaledVector(from, sphere.radius * 3.1);
    this.camera.near = sphere.radius / 100;
    this.camera.far = sphere.radius * 20;
    this.camera.updateProjectionMatrix();
    this.controls.update();
    this.draw();
  }

  section(geometry: BufferGeometry, axis: string, percent: number): void {
    const box = geometry.boundingBox;
    if (axis === "" || !box) this.clip.constant = FAR;
    else {
      const index = Number(axis);
      const low = box.min.getComponent(index);
      const high = box.max.getComponent(index);
      this.clip.normal.set(0, 0, 0).setComponent(index, -1);
      this.clip.constant = low + ((high - low) * percent) / 100;
    }
    this.draw();
  }

  hit(x: number, y: number, mesh: Mesh<BufferGeometry>): Hit | undefined {
    const box = this.canvas.getBoundingClientRect();
    const place = new Vector2(((x - box.left) / box.width) * 2 - 1, 1 - ((y - box.top) / box.height) * 2);
    const ray = new Raycaster();
    this.camera.updateMatrixWorld(); // a touch may come before the first picture
    ray.setFromCamera(place, this.camera);
    const found = ray.intersectObject(mesh, false).find((one) => this.clip.distanceToPoint(one.point) >= 0);
    return found?.face ? { at: found.point, vertex: nearest(found.point, mesh, [found.face.a, found.face.b, found.face.c]) } : undefined;
  }

  /** Where a point of the scene is on the screen; for those who place by keys, and for what is written beside a point. */
  onScreen(at: Vector3): { x: number; y: number } {
    const box = this.canvas.getBoundingClientRect();
    const seen = at.clone().project(this.camera);
    return { x: box.left + ((seen.x + 1) / 2) * box.width, y: box.top + ((1 - seen.y) / 2) * box.height };
  }

  swap(before: Object3D | undefined, after: Object3D | undefined): void {
    if (before) {
      this.scene.remove(before);
      before.traverse((one) => (one instanceof Mesh ? (one.geometry as BufferGeometry).dispose() : undefined));
    }
    if (after) this.scene.add(after);
    this.draw();
  }

  private resize(): void {
    const { clientWidth, clientHeight } = this.canvas;
    this.renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    this.renderer.setSize(clientWidth, clientHeight, false);
    this.camera.aspect = clientWidth / Math.max(clientHeight, 1);
    this.camera.updateProjectionMatrix();
    this.draw();
  }

  private repaper(): void {
    const paper = getComputedStyle(document.body).backgroundColor;
    this.scene.background = new Color(paper && paper !== "rgba(0, 0, 0, 0)" ? paper : "#ffffff");
    this.draw();
  }
}

function nearest(at: Vector3, mesh: Mesh<BufferGeometry>, corners: number[]): number {
  const places = mesh.geometry.getAttribute("position");
  let best = corners[0] ?? 0;
  let least = Infinity;
  for (const corner of corners) {
    const away = at.distanceToSquared(new Vector3().fromBufferAttribute(places as never, corner));
    if (away < least) [best, least] = [corner, away];
  }
  return best;
}
