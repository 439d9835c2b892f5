// Turns Natural Earth's centre lines of rivers and lakes (1:10m) into
// internal/ground/rivers.bin. From scripts/:
//   node naturalearth/rivers.mjs FILE FOLDER
// FOLDER holds the shapefile; README.md beside this script says where it comes
// from. The layout of the file is drawn in internal/ground/rivers.go.

import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { Writer, target } from "./common.mjs";
import { lines, table } from "./shapefile.mjs";

const STEP = 0.001; // degrees
const LAST = 6; // rank of the smallest rivers that are taken

const folder = process.argv[3];
if (!folder) throw new Error("want the file to write and the folder with the shapefile");
const base = join(folder, "ne_10m_rivers_lake_centerlines");
const ranks = table(base + ".dbf", "76fa4d4873071cefa4a2e6de02d3d6d8420c0b74257eca6848fdfbaa523df078").map((r) => Number(r.scalerank));
const shapes = lines(base + ".shp", "2a390e30626d145e967ac31eaaa8e5418c7992f599759e2be56c038f179cd7df");
if (shapes.length !== ranks.length) throw new Error(`${shapes.length} shapes: want ${ranks.length}`);

// Rounded to whole steps, repeated vertices left out.
function rounded(part) {
  const vertices = part.map(([lon, lat]) => [Math.round(lon / STEP), Math.round(lat / STEP)]);
  return vertices.filter(([x, y], k) => k === 0 || x !== vertices[k - 1][0] || y !== vertices[k - 1][1]);
}

const all = shapes.flatMap((parts, k) => parts.map((p) => ({ rank: ranks[k], vertices: rounded(p) })))
  .filter(({ rank, vertices }) => rank <= LAST && vertices.length >= 2);

const w = new Writer();
w.axes({ scale: [STEP, STEP], translate: [0, 0] });
w.unsigned(all.length);
for (const { rank, vertices } of all) {
  w.unsigned(rank);
  w.deltas(vertices);
}
writeFileSync(target("rivers.bin"), Buffer.from(w.octets));
console.log(`${all.length} lines, ${all.reduce((n, l) => n + l.vertices.length, 0)} vertices, ${w.octets.length} octets`);
