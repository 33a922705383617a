// Draws the form from `shape`, fills it from `state`, shows `answer`; sends what is typed, one message in flight.
const REST_MS = 120, LOST_MS = 15000;
// [ms] without a key before a value is sent; after which an answer is no longer waited for
let views = 0;

const make = (tag, attributes = {}, ...inside) => {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== "" && value !== null && value !== false) node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...inside.filter(part => part !== null && part !== ""));
  return node;
};

function render({ model, el }) {
  const view = ++views, id = key => `my-van-${view}-${key.replaceAll(".", "-") || "rig"}`;
  const boxes = new Map(), pending = {}, queue = [];
  let timer = null, flying = null, at = "";

  const finding = make("p", { class: "find", role: "status" });
  const elsewhere = make("div", { class: "notice", role: "alert" }), trouble = make("div", { class: "notice", role: "alert" });
  const form = make("form", { "aria-label": "My van", novalidate: true, autocomplete: "off" });
  const stale = make("p", { class: "stale", role: "status" });
  const ways = make("div", { class: "ways-box" }), chart = make("div", { class: "chart" });
  const doubt = make("p", { class: "cap" }), checks = make("div", { class: "checks-box" });
  const checksHead = make("h2", { id: id("checks"), tabindex: "-1" });
  const results = make("section", { class: "res", "aria-label": "What it comes to" }, stale, ways, chart, doubt, checksHead, checks);
  const saved = make("span", { role: "status" });
  const undo = make("button", { type: "button", class: "btn" }, "Undo"), redo = make("button", { type: "button", class: "btn" }, "Redo");
  const save = make("p", { class: "save" }, saved, undo, redo);
  const signs = make("span", { class: "signs" });
  const why = make("button", { type: "button", class: "link" }, "see why");
  const dock = make("div", { class: "dock" }, signs, why);
  const page = make("div", { class: "page" }, finding, elsewhere, trouble, make("div", { class: "cols" },
    make("div", {}, form, save), results), dock);
  el.classList.add("vp-van");
  el.replaceChildren(page);

  // What goes to the kernel

  const next = () => {
    if (flying || !queue.length) return;
    model.send(queue.shift());
    flying = setTimeout(() => { flying = null; next(); }, LOST_MS);
  };
  const send = message => { queue.push(message); next(); };
  const flush = () => {
    clearTimeout(timer);
    timer = null;
    if (!Object.keys(pending).length) return;
    const waiting = queue.at(-1);
    if (waiting?.texts && !waiting.set) Object.assign(waiting.texts, pending, {}) && (waiting.key = at);
    else send({ texts: { ...pending }, key: at });
    for (const key of Object.keys(pending)) delete pending[key];
  };
  const typed = (key, text, rest) => {
    pending[key] = text;
    at = key;
    clearTimeout(timer);
    timer = setTimeout(flush, rest);
  };
  const press = (what, part = "", arg = "") => { flush(); send({ do: what, part, arg }); };
  const set = (texts, key) => { flush(); send({ texts, key, set: true }); };
  undo.addEventListener("click", () => press("undo"));
  redo.addEventListener("click", () => press("redo"));
  why.addEventListener("click", () => { checksHead.scrollIntoView({ block: "start" }); checksHead.focus({ preventScroll: true }); });
  form.addEventListener("submit", event => event.preventDefault());
  form.addEventListener("keydown", event => { if (event.key === "Enter" && event.target.matches("input")) { event.preventDefault(); flush(); } });

  // Boxes

  const input = box => {
    const own = id(box.key), told = `${own}-help ${own}-note ${own}-slip`;
    if (box.choices.length && box.choices.length <= 4) {
      const radios = box.choices.map(([value, words]) => {
        const radio = make("input", { type: "radio", name: own, value });
        radio.addEventListener("change", () => typed(box.key, value, 0));
        return [radio, make("label", {}, radio, make("span", {}, words))];
      });
      const node = make("div", { class: "pick", role: "radiogroup", id: own, "aria-labelledby": `${own}-label`, "aria-describedby": told }, ...radios.map(([, label]) => label));
      return { node, set: text => radios.forEach(([radio]) => { radio.checked = radio.value === text; }), focus: () => (radios.find(([radio]) => radio.checked) || radios[0])[0].focus() };
    }
    if (box.choices.length) {
      const options = box.choices.map(([value, words]) => make("option", { value: value || false }, words));
      options.forEach((option, k) => { option.value = box.choices[k][0]; });
      if (!box.choices.some(([value]) => value === "")) options.unshift(Object.assign(make("option", {}, "choose"), { value: "" }));
      const node = make("select", { id: own, "aria-describedby": told }, ...options);
      node.addEventListener("change", () => typed(box.key, node.value, 0));
      return { node, set: text => { node.value = text; }, focus: () => node.focus() };
    }
    const field = make("input", { id: own, type: "text", inputmode: box.mode, "aria-describedby": told, spellcheck: "false", autocapitalize: "off" });
    field.addEventListener("input", () => typed(box.key, field.value, REST_MS));
    field.addEventListener("change", flush);
    const node = make("span", { class: "in" }, field, make("i", { "aria-hidden": "true" }, box.unit));
    return { node, field, set: text => { field.value = text; }, focus: () => field.focus() };
  };
  const row = box => {
    const own = id(box.key), control = input(box), radios = control.node.matches(".pick");
    const unit = box.unit ? make("span", { class: "hidden" }, ` in ${box.unit}`) : "";
    const label = make(radios ? "span" : "label", radios ? { id: `${own}-label`, class: "label" } : { for: own }, box.label, unit);
    const note = make("small", { id: `${own}-note`, class: "note" }), slip = make("div", { id: `${own}-slip`, class: "msg", "aria-live": "polite" });
    const help = make("small", { id: `${own}-help`, class: "help" }, box.help);
    const node = make("div", { class: `f${radios ? " wide" : ""}${box.mode === "text" ? " text" : ""}`, "data-key": box.key }, label, control.node, note, help, slip);
    boxes.set(box.key, { ...control, node, note, slip, state: null });
    return node;
  };
  const fold = (name, title, inside) => make("details", { "data-fold": name, open: open.has(name) }, make("summary", {}, title), ...inside);
  const button = (words, act, kind = "add") => {
    const node = make("button", { type: "button", class: kind }, words);
    node.addEventListener("click", act);
    return node;
  };
  const open = new Set();
  const part = piece => {
    if (piece.add) return button(piece.label, () => press("add", piece.add, piece.arg));
    if (piece.fold) return fold(piece.fold, piece.title, piece.parts.map(part));
    const inside = piece.boxes.map(row);
    if (piece.folded.length) inside.push(fold(piece.group, piece.more, piece.folded.map(row)));
    if (piece.less) inside.push(button(piece.less.label, () => press("remove", piece.less.part, piece.less.arg), "add less"));
    return make("fieldset", { "data-group": piece.group }, make("legend", {}, piece.title), ...inside);
  };
  const drawShape = () => {
    const held = el.getRootNode().activeElement?.closest?.("[data-key]")?.dataset.key;
    open.clear();
    form.querySelectorAll("details[open]").forEach(node => open.add(node.dataset.fold));
    boxes.clear();
    form.replaceChildren(...model.get("shape").map(part));
    if (held && boxes.has(held)) boxes.get(held).focus();
  };
  const drawState = () => {
    const state = model.get("state"), active = el.getRootNode().activeElement;
    for (const [key, box] of boxes) {
      const told = state.boxes?.[key];
      if (!told) continue;
      const typing = box.field && box.field === active && !state.moved;
      if (!typing && !(key in pending)) box.set(told.text);
      const empty = (typing ? box.field.value : told.text) === "";
      if (box.field) box.field.placeholder = told.offer || (told.open ? "?" : "");
      box.node.classList.toggle("typ", empty && !!told.offer && !told.slip);
      box.node.classList.toggle("open", told.open);
      box.node.classList.toggle("bad", !!told.slip);
      box.note.textContent = told.offer && empty ? told.note : told.open ? "not stated" : "";
      box.note.classList.toggle("long", box.note.textContent.length > 24);
      const target = box.field || box.node.querySelector("select, .pick");
      told.slip ? target.setAttribute("aria-invalid", "true") : target.removeAttribute("aria-invalid");
      const words = told.slip + told.cure + JSON.stringify(told.sets);
      if (box.said !== words) {
        box.said = words;
        box.slip.replaceChildren(...(told.slip ? [told.slip] : []));
        if (told.cure) box.slip.append(" ", button(told.cure, () => { set(told.sets, key); box.focus(); }, "btn"));
      }
    }
    stale.textContent = state.stale || "";
    saved.textContent = [...(state.general || []), state.saved || ""].join(" ");
    saved.title = state.file || "";
    undo.disabled = !state.back;
    redo.disabled = !state.forth;
    const choices = (node, words, ...buttons) => {
      if (node.dataset.words === words) return;
      node.dataset.words = words;
      node.replaceChildren(...(words ? [make("span", {}, words), ...buttons] : []));
    };
    choices(elsewhere, state.elsewhere || "", button("Use it", () => press("use"), "btn"), button("Keep what stands here", () => press("keep"), "btn"));
    choices(trouble, state.trouble || "", button("Look again", () => press("use"), "btn"), button("Start anew; Undo brings the file back", () => press("anew"), "btn"));
  };

  // Answers

  const drawAnswer = () => {
    const answer = model.get("answer"), root = el.getRootNode();
    const way = root.activeElement?.dataset?.wire;
    const opened = [...checks.querySelectorAll("details[open]")].map(node => node.dataset.fold);
    const put = (node, text) => { if (node.textContent !== text) node.textContent = text; };
    const fill = (node, text) => { if (node.told !== text) { node.told = text; node.innerHTML = text; } };
    put(finding, answer.finding || "");
    put(doubt, answer.doubt || "");
    put(checksHead, answer.name ? `Checks for ${answer.name}` : "");
    fill(ways, answer.ways || "");
    fill(chart, answer.chart || "");
    fill(checks, answer.checks || "");
    fill(signs, answer.dock || "");
    dock.hidden = !answer.dock;
    for (const name of opened) checks.querySelector(`details[data-fold="${name}"]`)?.setAttribute("open", "");
    if (way) [...ways.querySelectorAll("[data-wire]")].find(node => node.dataset.wire === way)?.focus();
    clearTimeout(flying);
    flying = null;
    next();
  };
  ways.addEventListener("change", event => {
    const wire = event.target.dataset?.wire, first = [...boxes.keys()].find(key => key.endsWith(".wiring"));
    if (wire && first) set({ [first]: wire }, first);
  });
  checks.addEventListener("click", event => {
    const box = boxes.get(event.target.dataset?.goto);
    if (!box) return;
    for (let node = box.node.parentElement; node && node !== form; node = node.parentElement) if (node.matches("details")) node.open = true;
    box.node.scrollIntoView({ block: "center" });
    box.focus();
  });

  let told = 0, measured = null;
  const watch = new ResizeObserver(() => {
    clearTimeout(measured);
    measured = setTimeout(() => {
      const wide = Math.round(chart.clientWidth);
      if (wide && Math.abs(wide - told) > 20) send({ wide: told = wide });
    }, REST_MS);
  });
  watch.observe(chart);
  const onShape = () => { drawShape(); drawState(); };
  model.on("change:shape", onShape);
  model.on("change:state", drawState);
  model.on("change:answer", drawAnswer);
  drawShape();
  drawState();
  drawAnswer();
  return () => {
    flush();
    watch.disconnect();
    model.off("change:shape", onShape);
    model.off("change:state", drawState);
    model.off("change:answer", drawAnswer);
  };
}
export default { render };
