// What the scripts that make internal/ground's files share: reading TopoJSON,
// joining rings across the date line, and the octets of numbers.

import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

export const OPEN = 0; // ways of closing: on its own, or once round the Earth and over a pole
const SOUTH = 1;
const NORTH = 2;

const require = createRequire(import.meta.url);
export const read = (name) => JSON.parse(readFileSync(require.resolve(name), "utf8"));

// A topology is a list of arcs of delta-coded integers on a grid (scale and
// translate, in degrees); an object's rings are lists of arcs, ~i meaning arc i
// backwards, each arc starting where the last one ended. What comes back is a
// list of polygons for each of the object's geometries.
function geometries(topology, object) {
  const arcs = topology.arcs.map((arc) => {
    let [x, y] = [0, 0];
    return arc.map(([dx, dy]) => [(x += dx), (y += dy)]);
  });
  const line = (i) => (i >= 0 ? arcs[i] : arcs[~i].toReversed());
  const ring = (ids) => ids.flatMap((id, k) => line(id).slice(k === 0 ? 0 : 1));
  return topology.objects[object].geometries.map((g) => {
    if (g.type === "Polygon") return [g.arcs.map(ring)];
    if (g.type === "MultiPolygon") return g.arcs.map((p) => p.map(ring));
    throw new Error(`${object}: geometry type ${g.type}: want Polygon or MultiPolygon`);
  });
}

// The land's shapes are joined across the date line, so a ring may jump by a
// whole turn there. unwrap lets the longitude run on instead, leaves out
// repeated vertices and the closing one, and says how the ring closes.
function unwrap(ring, grid) {
  const turn = 360 / grid.scale[0]; // steps of longitude once round
  const [first, last] = [ring[0], ring.at(-1)];
  if (first[0] !== last[0] || first[1] !== last[1]) throw new Error("a ring is not closed");
  const vertices = [];
  let turns = 0;
  for (let i = 0; i < ring.length; i++) {
    if (i > 0) turns -= Math.round((ring[i][0] - ring[i - 1][0]) / turn);
    const x = ring[i][0] + turns * turn;
    if (Math.abs(x - Math.round(x)) > 1e-6) throw new Error("once round is no whole number of steps");
    const before = vertices.at(-1);
    if (before?.[0] !== Math.round(x) || before?.[1] !== ring[i][1]) vertices.push([Math.round(x), ring[i][1]]);
  }
  if (Math.abs(turns) > 1) throw new Error(`a ring goes round the Earth ${turns} times`);
  if (turns === 0) {
    vertices.pop();
    return { closes: OPEN, vertices };
  }
  const south = vertices.every(([, y]) => grid.translate[1] + y * grid.scale[1] < 0);
  return { closes: south ? SOUTH : NORTH, vertices };
}

export function bounds(ring, grid) {
  const b = { west: Infinity, south: Infinity, east: -Infinity, north: -Infinity };
  for (const [x, y] of ring.vertices) {
    const [lon, lat] = [grid.translate[0] + x * grid.scale[0], grid.translate[1] + y * grid.scale[1]];
    b.west = Math.min(b.west, lon);
    b.east = Math.max(b.east, lon);
    b.south = Math.min(b.south, lat);
    b.north = Math.max(b.north, lat);
  }
  return b;
}

// Each polygon is moved by whole turns so that its middle lies in -180..180,
// and each hole so that it lies within its outer ring.
function settle(rings, grid) {
  const turn = 360 / grid.scale[0];
  const unwrapped = rings.map((r) => unwrap(r, grid));
  const outer = unwrapped[0];
  if (outer.vertices.length < 3) return null; // rounded away to a line or a point
  const kept = unwrapped.filter((r) => r.vertices.length >= 3);
  const move = (r, n) => {
    if (n !== 0) for (const v of r.vertices) v[0] = Math.round(v[0] + n * turn);
  };
  const b = bounds(outer, grid);
  move(outer, -Math.floor(((b.west + b.east) / 2 + 180) / 360));
  const { west, east } = bounds(outer, grid);
  for (const hole of kept.slice(1)) {
    const h = bounds(hole, grid);
    move(hole, -Math.round(((h.west + h.east) / 2 - (west + east) / 2) / 360));
    const at = bounds(hole, grid);
    if (at.west < west || at.east > east) throw new Error("a hole reaches out of its outer ring");
  }
  return kept;
}

// All polygons of an object as one group.
export function load(name, object) {
  const topology = read(name);
  const grid = topology.transform;
  const all = geometries(topology, object).flat().map((p) => settle(p, grid));
  return { name, grid, polygons: all.filter((p) => p !== null) };
}

// A group for each geometry of an object, with its number and its properties.
export function loadEach(name, object) {
  const topology = read(name);
  const grid = topology.transform;
  return geometries(topology, object).map((polygons, k) => {
    const { id, properties } = topology.objects[object].geometries[k];
    return { id, properties, grid, polygons: polygons.map((p) => settle(p, grid)).filter((p) => p !== null) };
  });
}

// The path of a file of internal/ground, or the one that the command line names.
export const target = (name) => process.argv[2] ?? join(dirname(fileURLToPath(import.meta.url)), "../../internal/ground", name);

export class Writer {
  octets = [];
  float64(v) {
    const b = Buffer.alloc(8);
    b.writeDoubleLE(v);
    this.octets.push(...b);
  }
  unsigned(v) {
    for (; v >= 128; v = Math.floor(v / 128)) this.octets.push((v % 128) + 128);
    this.octets.push(v);
  }
  signed(v) {
    this.unsigned(v >= 0 ? 2 * v : -2 * v - 1);
  }
  text(s) {
    const b = Buffer.from(s, "utf8");
    this.unsigned(b.length);
    this.octets.push(...b);
  }
  axes({ scale, translate }) {
    for (const v of [scale[0], translate[0], scale[1], translate[1]]) this.float64(v);
  }
  group({ grid, polygons }) {
    this.axes(grid);
    this.polygons(polygons);
  }
  polygons(polygons) {
    this.unsigned(polygons.length);
    for (const rings of polygons) this.rings(rings);
  }
  rings(rings) {
    this.unsigned(rings.length);
    for (const r of rings) this.ring(r);
  }
  ring({ closes, vertices }) {
    this.unsigned(closes);
    this.deltas(vertices);
  }
  deltas(vertices) {
    this.unsigned(vertices.length);
    let [x, y] = [0, 0];
    for (const [u, v] of vertices) {
      this.signed(u - x);
      this.signed(v - y);
      [x, y] = [u, v];
    }
  }
}
