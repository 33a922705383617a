// A chart as SVG: what moves lies over what stands still, and handles that mouse, finger and keys can move lie over both.
const SVG = "http://www.w3.org/2000/svg";
const FINGER = 44; // pixels that a finger needs, WCAG 2.2, target size (enhanced)
const DISC = 15; // pixels, radius of a drawn handle beside words of USUAL; beside larger ones it is larger by a third at most
const USUAL = 17; // pixels
const BESIDE = 8; // pixels between it and its words
const LEAST = 14; // pixels of these at least; where the chart's words are larger, they are as large
const TAPPED = 9; // pixels that a tap may slip
const REST = 150; // milliseconds without another width before it is told
const GLYPHS = { along: "M-7-4-11 0-7 4M7-4 11 0 7 4", up: "M-4-7 0-11 4-7M-4 7 0 11 4 7" };
GLYPHS.free = `${GLYPHS.along}${GLYPHS.up}`;
const CURSORS = { tap: "pointer", along: "ew-resize", up: "ns-resize", free: "move" };
const KEYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const EVEN = { even: true, from: Number, to: value => Number(value.toFixed(9)) }; // numbers of sliders, without what sums of shares err by
const STYLE = `
.vanpower-picture { display: flex; flex-wrap: wrap; align-items: flex-start; width: 100%; margin: 0; }
.vanpower-picture svg { display: block; height: auto; min-width: 0; overflow: hidden; }
.vanpower-picture text { user-select: none; -webkit-user-select: none; }
.vanpower-handle { outline: none; }
.vanpower-handle .area { fill: #000; fill-opacity: 0; stroke: none; }
.vanpower-handle:hover .area { fill-opacity: .06; }
.vanpower-handle:focus-visible .area { stroke: #16202A; stroke-width: 3; stroke-dasharray: 6 3; vector-effect: non-scaling-stroke; }
.vanpower-handle .disc { fill: #fff; stroke: #16202A; stroke-width: 2.5; }
.vanpower-handle .glyph { fill: none; stroke: #16202A; stroke-width: 2.2; stroke-linecap: round; stroke-linejoin: round; }
.vanpower-handle .level { fill: none; stroke: #9E1B45; stroke-width: 2; stroke-dasharray: 8 5; }
.vanpower-handle .verb { font-weight: 600; font-family: sans-serif; fill: #16202A; paint-order: stroke; stroke: #fff; stroke-width: 4; pointer-events: none; }
.vanpower-handle.used .verb { display: none; }
`;
const made = (kind, parent, attributes = {}) => {
  const node = parent.appendChild(document.createElementNS(SVG, kind));
  set(node, attributes);
  return node;
};
const set = (node, attributes) => Object.entries(attributes).forEach(([name, value]) => node.setAttribute(name, value));

const scrolls = node => ["auto", "scroll"].includes(getComputedStyle(node).overflowY) && node.scrollHeight > node.clientHeight;
function scrollerOf(node) {
  for (let one = node.parentElement; one && one !== document.body; one = one.parentElement) if (scrolls(one)) return one;
  return document.scrollingElement;
}

function render({ model, el }) {
  const own = `v${Math.random().toString(36).slice(2)}-`;
  // two pictures in a page may not share the names of their clip paths
  const renamed = text => text.replace(/(\bid="|url\(#|href="#)/g, `$1${own}`);
  const box = el.appendChild(document.createElement("div"));
  box.className = "vanpower-picture";
  box.appendChild(document.createElement("style")).textContent = STYLE;
  const parts = [0, 1].map(() => made("svg", box, { class: "vanpower-part" }));
  const whole = made("g", parts[0], { id: `${own}whole` });
  const still = made("g", whole), moving = made("g", whole);
  made("use", parts[1], { href: `#${own}whole` });
  const layers = parts.map(part => made("g", part));
  const nodes = new Map(), used = new Set();
  let size = [1, 1], flying = false, next = null, count = 0, held = null;

  const showStill = () => {
    const text = model.get("still"), head = text.slice(0, text.indexOf(">"));
    size = head.match(/viewBox="0 0 ([\d.]+) ([\d.]+)"/).slice(1).map(Number);
    still.innerHTML = renamed(text.slice(head.length + 1, text.lastIndexOf("</svg>")));
    const cut = model.get("cut") * size[0], top = model.get("top") * size[1], high = size[1] - top;
    const edges = cut ? [[0, cut], [cut, size[0]]] : [[0, size[0]], [0, 0]];
    parts.forEach((part, k) => {
      const [left, right] = edges[k], share = (right - left) / size[0];
      part.style.display = share ? "" : "none";
      part.style.flex = cut ? `${share.toFixed(4)} 1 ${(share * model.get("breaks")).toFixed(0)}px` : "0 0 auto";
      part.style.width = cut ? "" : "100%";
      if (share) set(part, { viewBox: `${left} ${top} ${right - left} ${high}` });
    });
    // as wide as the page, as long as its height leaves room for words and controls in the window; a page that is wider still has an end for it
    box.style.maxWidth = `min(var(--vp-widest, 100%), max(calc(var(--vp-tallest, ${model.get("tallest")}vh) * ${(size[0] / high).toFixed(3)}), min(var(--vp-whole, 100%), ${model.get("narrow")}px)))`;
  };
  const showMoving = () => { moving.innerHTML = renamed(model.get("moving")); };
  // a slider's handle has no name of its own for a screen reader; its label stands in the box beside it
  const scope = () => el.closest(".vp-live, .jp-Cell") || document.body;
  const nameOf = handle => handle.closest(".widget-vbox")?.querySelector(".widget-label")?.textContent || "";
  const nameSliders = () => {
    scope().querySelectorAll(".noUi-handle").forEach(one => set(one, { "aria-label": nameOf(one) }));
    // shares of a slider's length do not come out even: its box told 17.000000000000004
    scope().querySelectorAll(".noUi-target").forEach(({ noUiSlider }) => {
      if (noUiSlider && !noUiSlider.options.format.even) noUiSlider.updateOptions({ format: EVEN });
    });
  };
  const showWords = () => {
    const handles = model.get("handles").length > 0;
    parts.forEach((part, k) => set(part, k ? { "aria-hidden": !handles } : { role: handles ? "group" : "img", "aria-label": model.get("words") }));
  };
  const scale = part => (part.getBoundingClientRect().width || 1) / (part.viewBox.baseVal.width || 1);
  const partOf = handle => (model.get("cut") && handle.x > model.get("cut") * size[0] ? 1 : 0);

  const newNode = handle => {
    const group = made("g", layers[partOf(handle)], { class: "vanpower-handle", tabindex: 0 });
    group.dataset.key = handle.key;
    made("rect", group, { class: "area" });
    const sign = made("g", group);
    if (handle.mark === "level") made("path", sign, { class: "level" });
    if (handle.mark) {
      made("circle", sign, { class: "disc", r: DISC });
      made("path", sign, { class: "glyph", d: GLYPHS[handle.use] });
    }
    made("text", sign, { class: "verb" });
    listen(group);
    return group;
  };
  const place = (group, handle) => {
    const pixel = 1 / scale(group.ownerSVGElement), drags = handle.use !== "tap";
    const wide = Math.max(handle.wide, drags ? FINGER * pixel : 0), high = Math.max(handle.high, drags ? FINGER * pixel : 0);
    group.handle = handle;
    group.style.cursor = CURSORS[handle.use];
    // a group's own touch-action does not reach what is drawn in it
    [group, ...group.querySelectorAll("rect, circle, path")].forEach(one => { one.style.touchAction = drags ? "none" : "manipulation"; });
    group.classList.toggle("used", used.has(handle.key));
    set(group, { role: drags ? "slider" : "button", "aria-label": handle.label });
    if (drags) set(group, { "aria-valuetext": handle.now, "aria-valuenow": Math.round(handle.use === "up" ? size[1] - handle.y : handle.x), "aria-orientation": handle.use === "up" ? "vertical" : "horizontal" });
    else set(group, { "aria-pressed": handle.on });
    const [area, sign] = group.children, verb = sign.lastChild, letter = Math.max(LEAST, model.get("letters") / pixel);
    const grown = Math.min(Math.max(letter / USUAL, 1), 4 / 3), disc = DISC * grown;
    // beside an axis, whose figures stand on its other side
    const inside = handle.mark === "level" ? (disc + 2) * pixel : 0;
    set(area, { x: handle.x + inside - wide / 2, y: handle.y - high / 2, width: wide, height: high });
    set(sign, { transform: `translate(${handle.x + inside + handle.aside[0]} ${handle.y + handle.aside[1]}) scale(${pixel})` });
    verb.textContent = handle.verb;
    verb.style.fontSize = `${letter.toFixed(1)}px`;
    sign.querySelectorAll(".disc, .glyph").forEach(one => set(one, { transform: `scale(${grown.toFixed(2)})` }));
    const level = sign.querySelector(".level");
    if (level) set(level, { d: `M0 0H${((handle.reach - inside) / pixel).toFixed(0)}` });
    const view = group.ownerSVGElement.viewBox.baseVal, there = handle.verb_at, long = handle.verb ? verb.getComputedTextLength() : 0;
    const before = handle.x + inside + handle.aside[0] + (disc + BESIDE + long) * pixel > view.x + view.width;
    set(verb, there
      ? { x: (there[0] - handle.x) / pixel, y: (there[1] - handle.y) / pixel, "text-anchor": "end" }
      : handle.mark
        ? { x: (before ? -1 : 1) * (disc + BESIDE), y: 0.36 * letter, "text-anchor": before ? "end" : "start" }
        : { x: 0, y: disc + 6 + letter, "text-anchor": "middle" });
  };
  const showHandles = () => {
    const handles = model.get("handles"), keys = new Set(handles.map(handle => handle.key));
    for (const [key, group] of nodes) if (!keys.has(key) && key !== held?.key) { group.remove(); nodes.delete(key); }
    for (const handle of handles) {
      if (!nodes.has(handle.key)) nodes.set(handle.key, newNode(handle));
      const group = nodes.get(handle.key);
      // what a finger holds stays under it
      place(group, held?.key === handle.key ? { ...handle, x: held.at[0], y: held.at[1] } : handle);
    }
    showWords();
  };

  const send = message => {
    if (flying) { next = message; return; }
    flying = true;
    box.setAttribute("aria-busy", true);
    model.set("touched", { ...message, n: `${Date.now()}-${++count}` });
    model.save_changes();
  };
  const landed = () => {
    flying = false;
    if (held) stayUnderFinger();
    box.setAttribute("aria-busy", Boolean(next));
    if (next) { const message = next; next = null; send(message); }
    else if (held) keepHeights();
    else { freeHeights(); showHandles(); } // a touch that was refused leaves its handle where it was
  };
  // words that come or go above a picture, such as why a thing may not lie there, move the page and not the picture
  const downThePage = () => box.getBoundingClientRect().top + held.scroller.scrollTop;
  const stayUnderFinger = () => {
    const there = downThePage();
    held.scroller.scrollTop += there - held.there;
    held.there = there;
  };
  const at = event => {
    stayUnderFinger();
    const part = parts.find(one => one.style.display !== "none" && one.contains(held.group)), box = part.getBoundingClientRect();
    const view = part.viewBox.baseVal, pixel = view.width / box.width;
    return [view.x + (event.clientX - box.left) * pixel, view.y + (event.clientY - box.top) * pixel];
  };
  // while a handle is held, sentences keep the height they have had, so that the picture stays under the finger
  const sentences = () => [...scope().querySelectorAll("[role=status]")].map(one => one.closest(".jupyter-widgets") || one.parentElement);
  const keepHeights = () => sentences().forEach(one => { one.style.minHeight = `${one.getBoundingClientRect().height}px`; });
  const freeHeights = () => sentences().forEach(one => { one.style.minHeight = ""; });
  const dragged = event => {
    const [x, y] = at(event), { group, from, start } = held, handle = group.handle;
    held.at = [handle.use === "up" ? start[0] : start[0] + x - from[0], handle.use === "along" ? start[1] : start[1] + y - from[1]];
    place(group, { ...handle, x: held.at[0], y: held.at[1] });
  };
  const message = (key, [x, y], done = true) => ({ key, x, y, done });
  function listen(group) {
    const moved = event => held && Math.hypot(event.clientX - held.down[0], event.clientY - held.down[1]);
    group.addEventListener("pointerdown", event => {
      if (event.button || held) return;
      const handle = group.handle;
      held = { key: handle.key, group, handle, start: [handle.x, handle.y], at: [handle.x, handle.y], down: [event.clientX, event.clientY], id: event.pointerId };
      held.scroller = scrollerOf(box);
      held.there = downThePage();
      held.from = at(event);
      used.add(handle.key);
      if (handle.use !== "tap") { keepHeights(); group.setPointerCapture(event.pointerId); event.preventDefault(); }
    });
    group.addEventListener("pointermove", event => {
      if (held?.id !== event.pointerId || held.handle.use === "tap") return;
      dragged(event);
      if (!model.get("waits")) send(message(held.key, held.at, false));
    });
    const up = event => {
      if (held?.id !== event.pointerId) return;
      const { handle, key } = held;
      if (handle.use !== "tap") {
        if (event.type === "pointerup") dragged(event);
        send(message(key, held.at));
      } else if (event.type === "pointerup" && moved(event) < TAPPED) send(message(key, held.at));
      held = null;
    };
    group.addEventListener("pointerup", up);
    group.addEventListener("pointercancel", up);
    // where a browser does not heed touch-action inside SVG, this keeps the page from scrolling under a drag
    group.addEventListener("touchstart", event => { if (group.handle.use !== "tap") event.preventDefault(); }, { passive: false });
    group.addEventListener("keydown", event => {
      const handle = group.handle, way = KEYS[event.key], tap = handle.use === "tap";
      if (tap ? !["Enter", " "].includes(event.key) : !way) return;
      event.preventDefault();
      event.stopPropagation();
      used.add(handle.key);
      const [right, down] = tap ? [0, 0] : way, step = handle.step * (event.shiftKey ? 5 : 1);
      // a handle that goes one way only takes both pairs of arrows
      const along = handle.use === "along" ? right - down : right, across = handle.use === "up" ? down - right : down;
      send(message(handle.key, [handle.x + step * (handle.use === "up" ? 0 : along), handle.y + step * (handle.use === "along" ? 0 : across)]));
    });
  }

  const grown = new ResizeObserver(nameSliders);
  const watch = new ResizeObserver(() => {
    grown.observe(scope());
    model.get("handles").forEach(handle => nodes.has(handle.key) && place(nodes.get(handle.key), handle));
    clearTimeout(watch.rest);
    watch.rest = setTimeout(() => {
      const wide = Math.round(el.getBoundingClientRect().width);
      if (wide && wide !== model.get("wide")) { model.set("wide", wide); model.save_changes(); }
    }, model.get("wide") ? REST : 0);
  });
  watch.observe(el);
  const all = { cut: showStill, top: showStill, still: showStill, moving: showMoving, handles: showHandles, words: showWords, answered: landed };
  const on = Object.entries(all).map(([name, show]) => [`change:${name}`, show]);
  on.forEach(([name, show]) => model.on(name, show));
  showStill();
  showMoving();
  showHandles();
  return () => { watch.disconnect(); grown.disconnect(); on.forEach(([name, show]) => model.off(name, show)); };
}

export default { render };
