// Reads the two parts of a shapefile that are of use here: points and lines
// (.shp) and the table beside them (.dbf), and refuses files whose digest is not
// the one that is written down.

import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";

function readPinned(file, sha256) {
  const b = readFileSync(file);
  const got = createHash("sha256").update(b).digest("hex");
  if (got !== sha256) throw new Error(`${file}: sha256 ${got}: want ${sha256}`);
  return b;
}

// The rows of a table, each an object of trimmed texts by the column's name.
export function table(file, sha256) {
  const b = readPinned(file, sha256);
  const [rows, head, width] = [b.readUInt32LE(4), b.readUInt16LE(8), b.readUInt16LE(10)];
  const columns = [];
  for (let at = 32; b[at] !== 0x0d; at += 32) {
    columns.push({ name: b.toString("latin1", at, at + 11).replace(/\0.*$/s, ""), width: b[at + 16] });
  }
  return Array.from({ length: rows }, (_, k) => {
    let at = head + k * width + 1;
    return Object.fromEntries(columns.map((c) => [c.name, b.toString("utf8", at, (at += c.width)).trim()]));
  });
}

// The lines of each record: a list of parts, each a list of [longitude, latitude].
export function lines(file, sha256) {
  const b = readPinned(file, sha256);
  const records = [];
  for (let at = 100; at < b.length; at += 8 + 2 * b.readInt32BE(at + 4)) {
    const type = b.readInt32LE(at + 8);
    if (type !== 3) throw new Error(`${file}: shape of type ${type}: want 3, lines`);
    const [parts, points] = [b.readInt32LE(at + 44), b.readInt32LE(at + 48)];
    const starts = Array.from({ length: parts }, (_, k) => b.readInt32LE(at + 52 + 4 * k)).concat(points);
    const from = at + 52 + 4 * parts;
    const point = (k) => [b.readDoubleLE(from + 16 * k), b.readDoubleLE(from + 16 * k + 8)];
    records.push(starts.slice(1).map((end, k) => Array.from({ length: end - starts[k] }, (_, j) => point(starts[k] + j))));
  }
  return records;
}
