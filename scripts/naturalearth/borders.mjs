// Turns Natural Earth's countries (1:10m) into internal/ground/borders.bin.
// From scripts/: npm ci && node naturalearth/borders.mjs [FILE]
// The layout of the file is drawn in internal/ground/borders.go; README.md beside
// this script says where the data come from and under which terms.

import { writeFileSync } from "node:fs";
import { Writer, loadEach, read, target } from "./common.mjs";

// ISO 3166-1: the three digits that the source has to the two letters.
const letters = Object.fromEntries(read("i18n-iso-countries/codes.json").map(([two, , digits]) => [digits, two]));

const countries = loadEach("world-atlas/countries-10m.json", "countries");
const w = new Writer();

// A polygon behind its extent and its number of octets, so that readers can pass
// over it. One that is closed over a pole reaches beyond it.
function polygon(rings, grid) {
  const beyond = { 0: [], 1: [Math.floor((-91 - grid.translate[1]) / grid.scale[1])], 2: [Math.ceil((91 - grid.translate[1]) / grid.scale[1])] };
  const xs = rings.flatMap((r) => r.vertices.map(([x]) => x));
  const ys = rings.flatMap((r) => r.vertices.map(([, y]) => y).concat(beyond[r.closes]));
  const least = (all) => all.reduce((a, b) => Math.min(a, b));
  const most = (all) => all.reduce((a, b) => Math.max(a, b));
  for (const v of [least(xs), least(ys), most(xs), most(ys)]) w.signed(v);
  const body = new Writer();
  body.rings(rings);
  w.unsigned(body.octets.length);
  for (const o of body.octets) w.octets.push(o);
}

w.axes(countries[0].grid);
w.unsigned(countries.length);
for (const { id, properties, grid, polygons } of countries) {
  if (id !== undefined && !letters[id]) throw new Error(`${properties.name}: number ${id} has no letters`);
  w.text(id === undefined ? "" : letters[id]);
  w.text(properties.name);
  w.unsigned(polygons.length);
  for (const rings of polygons) polygon(rings, grid);
}
writeFileSync(target("borders.bin"), Buffer.from(w.octets));

const vertices = countries.flatMap((c) => c.polygons.flat()).reduce((n, r) => n + r.vertices.length, 0);
console.log(`${countries.length} countries, ${countries.flatMap((c) => c.polygons).length} polygons, ${vertices} vertices`);
console.log(`without letters: ${countries.filter((c) => c.id === undefined).map((c) => c.properties.name).join(", ")}`);
console.log(`${w.octets.length} octets`);
