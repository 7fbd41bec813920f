// Surfaces as the server packs them: counts of vertices and faces, the way it opens, positions, corners.
import { BufferAttribute, BufferGeometry, Vector3 } from "three";
import { say } from "./say";
import { ownHeaders } from "./tab";

const HEAD = 20;

export interface Packed {
  geometry: BufferGeometry;
  up: Vector3;
  end: number;
}

export function unpack(bytes: ArrayBuffer, start = 0): Packed {
  const [nVertices = 0, nFaces = 0] = new Uint32Array(bytes, start, 2);
  const up = new Vector3(...new Float32Array(bytes, start + 8, 3));
  const geometry = new BufferGeometry();
  const corners = start + HEAD + 12 * nVertices;
  geometry.setAttribute("position", new BufferAttribute(new Float32Array(bytes, start + HEAD, 3 * nVertices), 3));
  geometry.setIndex(new BufferAttribute(new Uint32Array(bytes, corners, 3 * nFaces), 1));
  geometry.computeVertexNormals();
  return { geometry, up, end: corners + 12 * nFaces };
}

/** Ask for bytes; what the server refuses is told by `tell`. */
export async function fetchBytes(url: string, tell: (said: string) => void, body?: object): Promise<ArrayBuffer | undefined> {
  try {
    const answer = await fetch(url, body && { method: "POST", headers: { "Content-Type": "application/json", ...ownHeaders() }, body: JSON.stringify(body) });
    if (answer.ok) return await answer.arrayBuffer();
    const told = (await answer.json()) as { error?: { message: string; hint: string } };
    tell(told.error ? `${told.error.message}. ${told.error.hint}` : say("silent"));
  } catch {
    tell(say("silent_yet"));
  }
  return undefined;
}
