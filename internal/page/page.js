"use strict";
// What a page does beside being read: one launch time of several is shown, the map
// moves, light and dark change over. Without it the first launch time stands there.
(() => {
  const all = (query, from = document) => [...from.querySelectorAll(query)];
  const one = (query, from = document) => from.querySelector(query);
  const svgMap = one("svg.map");

  // A map whose view is a place in the middle, in units of the chart, and how many
  // units of the drawing's viewBox one of those is.
  const map = svgMap && (() => {
    const data = svgMap.dataset;
    const wide = +data.wide, high = +data.high, equator = +data.equator, perRadian = +data.perRadian;
    const { width: viewWide, height: viewHigh } = svgMap.viewBox.baseVal;
    const least = viewWide / wide, most = 64 * least;
    const world = one(".world", svgMap), ruler = one(".ruler", svgMap), said = one("[data-map-said]");
    const pins = all(".pin", svgMap).map((element) => ({
      element, x: +element.dataset.x, y: +element.dataset.y, text: one("text", element), box: null,
    }));
    const patterns = all("pattern[id^=p-]", svgMap);
    const view = { x: wide / 2, y: high / 2, k: least };
    let pixel = 1; // units of the viewBox in one of the screen's
    const printed = 491; // of the screen's, how wide the style sheet prints it: 130 mm

    const clamp = (v, low, high) => Math.min(Math.max(v, low), high);
    const latitude = (y) => Math.atan(Math.sinh((equator - y) / perRadian));
    const metres = () => 6371008.8 * Math.cos(latitude(view.y)) / perRadian; // one unit of the chart, on a sphere

    // The units of lengths on the ground, the longer first, in metres.
    const units = data.units === "us" ? [["mi", 1609.344], ["ft", 0.3048]] : [["km", 1000], ["m", 1]];
    const unitOf = (m) => units.find(([, size]) => m >= size) ?? units[1];
    function length(m) {
      const [name, size] = unitOf(m);
      return `${+(m / size).toPrecision(3)} ${name}`;
    }
    // The greatest of 1, 2 and 5 tens of a unit that is no more than some metres.
    function roundBelow(m) {
      const size = unitOf(m)[1];
      const ten = 10 ** Math.floor(Math.log10(m / size));
      return size * ten * (m / size >= 5 * ten ? 5 : m / size >= 2 * ten ? 2 : 1);
    }

    // Words stand where there is room for them, the earlier ones first.
    const beside = [["start", 10, 4], ["end", -10, 4], ["middle", 0, -11], ["middle", 0, 20]];
    const over = [["middle", 0, 4], ["middle", 0, -14], ["middle", 0, 22]];
    function label() {
      const taken = [];
      // The ruler's place is taken, and so are the marks themselves.
      taken.push([0, viewHigh - 44 * pixel, 200 * pixel, viewHigh]);
      const shown = pins.filter((p) => !p.element.closest("[hidden]"));
      const at = (p) => [viewWide / 2 + (p.x - view.x) * view.k, viewHigh / 2 + (p.y - view.y) * view.k];
      for (const p of shown) {
        const [x, y] = at(p);
        if (p.element.childElementCount > 1) taken.push([x - 7 * pixel, y - 7 * pixel, x + 7 * pixel, y + 7 * pixel, p]);
      }
      for (const p of shown) {
        const [x, y] = at(p);
        p.element.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)}) scale(${pixel.toFixed(4)})`);
        p.text.removeAttribute("visibility");
        if (!p.box) {
          p.text.setAttribute("text-anchor", "start");
          p.text.setAttribute("x", 0);
          p.text.setAttribute("y", 0);
          p.box = p.text.getBBox();
        }
        const w = p.box.width * pixel, h = p.box.height * pixel;
        const free = (p.element.childElementCount > 1 ? beside : over).find(([anchor, dx, dy]) => {
          const left = x + dx * pixel - (anchor === "end" ? w : anchor === "middle" ? w / 2 : 0);
          const top = y + (dy + p.box.y) * pixel;
          const box = [left, top, left + w, top + h];
          if (left < 2 || top < 2 || box[2] > viewWide - 2 || box[3] > viewHigh - 2) return false;
          if (taken.some((t) => t[4] !== p && box[0] < t[2] && t[0] < box[2] && box[1] < t[3] && t[1] < box[3])) return false;
          taken.push(box);
          p.text.setAttribute("text-anchor", anchor);
          p.text.setAttribute("x", dx);
          p.text.setAttribute("y", dy);
          return true;
        });
        if (!free) p.text.setAttribute("visibility", "hidden");
      }
    }

    function measure() {
      const perPixel = metres() / view.k * pixel;
      const long = roundBelow(130 * perPixel), w = long / perPixel;
      ruler.setAttribute("transform", `translate(${14 * pixel} ${viewHigh - 14 * pixel}) scale(${pixel})`);
      for (const line of all("path", ruler)) line.setAttribute("d", `M0 -6V0H${w}V-6`);
      const words = one("text", ruler);
      words.textContent = length(long);
      words.setAttribute("x", 4);
      words.setAttribute("y", -8);
      const lat = latitude(view.y) * 180 / Math.PI;
      said.textContent = `The map shows ${length(metres() * viewWide / view.k)} from west to east, at latitude ${Math.abs(lat).toFixed(2)}° ${lat < 0 ? "south" : "north"}.`;
    }

    function draw(printing) {
      const frame = svgMap.getBoundingClientRect();
      if (printing === true) pixel = viewWide / printed;
      else if (frame.width > 0) pixel = Math.max(viewWide / frame.width, viewHigh / frame.height);
      view.k = clamp(view.k, least, most);
      const halfX = viewWide / 2 / view.k, halfY = viewHigh / 2 / view.k;
      view.x = clamp(view.x, Math.min(halfX, wide / 2), Math.max(wide - halfX, wide / 2));
      view.y = clamp(view.y, Math.min(halfY, high / 2), Math.max(high - halfY, high / 2));
      world.setAttribute("transform", `translate(${viewWide / 2 - view.x * view.k} ${viewHigh / 2 - view.y * view.k}) scale(${view.k})`);
      for (const p of patterns) p.setAttribute("patternTransform", `scale(${pixel / view.k})`);
      svgMap.dataset.view = `${view.x.toFixed(1)} ${view.y.toFixed(1)} ${view.k.toFixed(6)}`;
      label();
      measure();
    }

    // Zoom so that a place of the viewBox stays where it is.
    function zoom(times, x = viewWide / 2, y = viewHigh / 2) {
      const before = view.k;
      view.k = clamp(view.k * times, least, most);
      view.x += (x - viewWide / 2) * (1 / before - 1 / view.k);
      view.y += (y - viewHigh / 2) * (1 / before - 1 / view.k);
      draw();
    }
    function move(x, y) { // in parts of the view
      view.x += x * viewWide / view.k;
      view.y += y * viewHigh / view.k;
      draw();
    }
    function fit(box) {
      const group = one("g[data-box]:not([hidden])", world);
      if (!group) return;
      const [left, top, right, bottom] = group.dataset[box].split(" ").map(Number);
      view.x = (left + right) / 2;
      view.y = (top + bottom) / 2;
      view.k = 0.8 * Math.min(viewWide / Math.max(right - left, 1), viewHigh / Math.max(bottom - top, 1));
      draw();
    }
    const steps = {
      in: () => zoom(1.5), out: () => zoom(1 / 1.5), left: () => move(-0.2, 0), right: () => move(0.2, 0),
      up: () => move(0, -0.2), down: () => move(0, 0.2), whole: () => fit("box"), landing: () => fit("landing"),
    };
    const keys = {
      "+": "in", "=": "in", "-": "out", "−": "out", ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down",
      0: "whole", Home: "whole", End: "landing",
    };
    svgMap.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || !(event.key in keys)) return;
      event.preventDefault();
      steps[keys[event.key]]();
    });
    for (const button of all("[data-map]")) button.addEventListener("click", () => steps[button.dataset.map]());
    one(".keys").hidden = false;

    function place(event) {
      const frame = svgMap.getBoundingClientRect();
      return {
        x: viewWide / 2 + (event.clientX - frame.left - frame.width / 2) * pixel,
        y: viewHigh / 2 + (event.clientY - frame.top - frame.height / 2) * pixel,
      };
    }
    // A wheel turns the page, unless the map has the focus or a pinch comes as one.
    svgMap.addEventListener("wheel", (event) => {
      if (!event.ctrlKey && document.activeElement !== svgMap) return;
      event.preventDefault();
      const at = place(event);
      zoom(Math.exp(-clamp(event.deltaY, -200, 200) / 300), at.x, at.y);
    }, { passive: false });

    const fingers = new Map();
    svgMap.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      svgMap.setPointerCapture(event.pointerId);
      fingers.set(event.pointerId, place(event));
    });
    svgMap.addEventListener("pointermove", (event) => {
      const was = fingers.get(event.pointerId);
      if (!was) return;
      const is = place(event);
      const other = [...fingers].find(([id]) => id !== event.pointerId)?.[1];
      fingers.set(event.pointerId, is);
      if (!other) {
        move((was.x - is.x) / viewWide, (was.y - is.y) / viewHigh);
        return;
      }
      const apart = (a) => Math.hypot(a.x - other.x, a.y - other.y);
      move((was.x - is.x) / 2 / viewWide, (was.y - is.y) / 2 / viewHigh);
      if (apart(was) > 1) zoom(apart(is) / apart(was), (is.x + other.x) / 2, (is.y + other.y) / 2);
    });
    for (const end of ["pointerup", "pointercancel"]) svgMap.addEventListener(end, (event) => fingers.delete(event.pointerId));

    new ResizeObserver(() => draw()).observe(svgMap);
    addEventListener("beforeprint", () => draw(true));
    addEventListener("afterprint", () => draw());
    return { whole: steps.whole };
  })();

  function show(number) {
    for (const part of all("[data-window]")) part.toggleAttribute("hidden", part.dataset.window !== number);
    if (map) map.whole();
  }
  const choices = all("input[name=window]");
  for (const input of choices) {
    input.addEventListener("change", () => {
      show(input.value);
      one("[data-said]").textContent = `Shown: ${input.getAttribute("aria-label")}`;
    });
  }
  const chosen = choices.find((input) => input.checked);
  if (chosen) {
    show(chosen.value); // a browser may have kept another choice
    const tile = chosen.closest(".tile"), row = tile.parentElement;
    row.scrollLeft = tile.offsetLeft - row.offsetLeft - (row.clientWidth - tile.offsetWidth) / 2;
  }

  addEventListener("afterprint", () => delete document.documentElement.dataset.print);

  const themes = [["", "as the device"], ["light", "light"], ["dark", "dark"]];
  let theme = 0;
  for (const button of all("[data-do]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      if (button.dataset.do === "print") {
        document.documentElement.dataset.print = "crew";
        print();
        return;
      }
      theme = (theme + 1) % themes.length;
      const [name, words] = themes[theme];
      if (name) document.documentElement.dataset.theme = name;
      else delete document.documentElement.dataset.theme;
      one("[data-theme-name]").textContent = words;
    });
  }
})();
