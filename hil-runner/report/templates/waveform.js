"use strict";
// Draws each stretch of the line again at the zoom that is asked for. Without this script the whole stretch is there, drawn.
for (const svg of document.querySelectorAll("svg.wave")) {
  const number = name => Number(svg.dataset[name]);
  const [from, to, at] = [number("from"), number("to"), number("at")];
  const startsHigh = svg.dataset.high === "true";
  const changes = svg.dataset.changes ? svg.dataset.changes.split(" ").map(Number) : [];
  const [width, top, bottom, axis] = [900, 34, 104, 120];
  const out = svg.closest("figure").querySelector("output");
  let [left, right] = [from, to];
  const make = (name, attributes, text) => {
    const element = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    if (text !== undefined) element.textContent = text;
    return element;
  };
  const micro = ns => `${Number((ns / 1000).toFixed(3))} us`;
  const x = ns => (ns - left) / (right - left) * width;
  const step = span => {
    const power = 10 ** Math.floor(Math.log10(span));
    return [1, 2, 5, 10].map(digit => digit * power).find(size => size >= span);
  };
  const draw = () => {
    svg.replaceChildren();
    const tick = Math.max(1, step((right - left) / 8));
    for (let time = Math.ceil((left - at) / tick) * tick + at; time <= right; time += tick) {
      svg.append(make("line", { class: "tick", x1: x(time), x2: x(time), y1: 18, y2: axis }));
      svg.append(make("text", { x: x(time) + 3, y: axis + 14 }, micro(time - at)));
    }
    svg.append(make("line", { class: "mark", x1: x(at), x2: x(at), y1: 8, y2: axis }));
    let high = startsHigh, path = `M${x(Math.max(from, left)).toFixed(2)} ${high ? top : bottom}`, fell = null;
    for (const change of changes) {
      const px = Math.min(Math.max(x(change), -10), width + 10);
      if (change < left) { high = !high; path = `M0 ${high ? top : bottom}`; fell = high ? null : change; continue; }
      if (change > right && x(change) > width + 10) break;
      path += `H${px.toFixed(2)}V${high ? bottom : top}`;
      high = !high;
      if (!high) fell = change;
      else if (fell !== null && x(change) - x(fell) > 34)
        svg.append(make("text", { class: "long", x: (Math.max(x(fell), 0) + Math.min(x(change), width)) / 2, y: bottom - 6 }, micro(change - fell)));
    }
    svg.append(make("path", { class: "level", d: `${path}H${Math.min(x(to), width).toFixed(2)}` }));
    out.textContent = `${micro(right - left)} wide; times from the finding on`;
  };
  const show = (newLeft, newRight) => {
    const span = Math.min(Math.max(newRight - newLeft, 2000), to - from);
    left = Math.min(Math.max(newLeft, from), to - span);
    right = left + span;
    draw();
  };
  const zoom = (factor, centre) => show(centre - (centre - left) * factor, centre + (right - centre) * factor);
  const centre = () => at >= left && at <= right ? at : (left + right) / 2;
  const move = share => show(left + (right - left) * share, right + (right - left) * share);
  const actions = {
    in: () => zoom(0.5, centre()), out: () => zoom(2, centre()), left: () => move(-0.25), right: () => move(0.25),
    whole: () => show(from, to),
  };
  const keys = { "+": "in", "=": "in", "-": "out", ArrowLeft: "left", ArrowRight: "right", 0: "whole" };
  for (const button of svg.closest("figure").querySelectorAll("button")) button.onclick = () => actions[button.dataset.do]();
  svg.addEventListener("keydown", event => {
    const action = keys[event.key];
    if (action && !event.ctrlKey && !event.metaKey && !event.altKey) { actions[action](); event.preventDefault(); }
  });
  const timeAt = event => {
    const box = svg.getBoundingClientRect();
    return left + (event.clientX - box.left) / box.width * (right - left);
  };
  svg.addEventListener("wheel", event => {
    // The page scrolls as ever unless the drawing has been chosen.
    if (document.activeElement !== svg) return;
    zoom(event.deltaY > 0 ? 1.25 : 0.8, timeAt(event));
    event.preventDefault();
  }, { passive: false });
  let held = null;
  svg.addEventListener("pointerdown", event => { held = timeAt(event); svg.setPointerCapture(event.pointerId); });
  svg.addEventListener("pointermove", event => { if (held !== null) { const by = held - timeAt(event); show(left + by, right + by); } });
  for (const name of ["pointerup", "pointercancel"]) svg.addEventListener(name, () => { held = null; });
  draw();
}
