// The line of links over a page, and what the browser does between two of them. One kernel serves all pages of a tab.
const HOME = "00-start.ipynb", MINE = "my-van.ipynb", RENDER = "/voila/render/";
const ASK_MS = 5000, ANSWER_MS = 20000, FOLLOW_MS = 8000, REST_MS = 400, LAY_MS = 20, LAY_TIMES = 150;
const DOWN = ".vanpower-asks button"; // shows the answers on a page that asks a class first

const base = location.pathname.slice(0, location.pathname.indexOf(RENDER)) + RENDER;
const nameIn = url => url.pathname.startsWith(base) ? decodeURIComponent(url.pathname.slice(base.length)) : "";
const addressOf = (name, hash = "") => base + name.split("/").map(encodeURIComponent).join("/") + hash;
const config = () => JSON.parse(document.getElementById("jupyter-config-data").textContent);
const keep = more => history.replaceState({ ...history.state, ...more }, "", location.href);
const scroller = () => document.scrollingElement;
const parts = () => [...(document.querySelector(".vp-page")?.children || [])];
// this line and the page below it are drawn one by one, and a part that is still to be drawn stands there without content
const laid = () => parts().length > 0 && parts().every(one => one.childElementCount);
// where a reader is: in which part of the page, and how far down it, whatever height those above come to have
const place = () => {
  const part = parts().findIndex(one => one.getBoundingClientRect().bottom > 0);
  return { part, past: -(parts()[part]?.getBoundingClientRect().top ?? 0) };
};

function link(text, href, title = "") {
  const a = document.createElement("a");
  Object.assign(a, { textContent: text, href, title });
  return a;
}

// a picture keeps itself under the finger while words come or go above it; the browser would scroll by as much once more
const anchored = (kind, way) => addEventListener(kind, event => {
  if (event.target.closest?.(".vanpower-picture")) scroller().style.overflowAnchor = way;
}, true);
anchored("pointerdown", "none");
anchored("pointerup", "");
anchored("pointercancel", "");

function render({ model, el }) {
  let turn = 0, following = null, shownName = "", laying = 0, looked = 0;
  const line = document.createElement("nav"), state = document.createElement("span");
  line.setAttribute("aria-label", "Pages");
  state.setAttribute("role", "status");
  const lab = link("Open as notebook", "#", "The same page in JupyterLab, with its code");
  lab.target = "_blank";
  line.append(link("All pages", addressOf(HOME)), link("My van", addressOf(MINE)), state);
  if (model.get("lab")) line.append(lab);
  document.documentElement.classList.toggle("vp-big", model.get("big"));
  el.classList.add("vp-bar");
  el.append(line);

  // to a heading, or where one was, until somebody scrolls: pages are laid out late
  const follow = (hash, { part, past } = {}) => {
    following?.stop();
    let at = 0;
    const named = () => document.getElementById(decodeURIComponent(hash.slice(1)));
    const go = () => {
      const goal = named(), top = parts()[part];
      if (goal) goal.scrollIntoView();
      else scroller().scrollTop = top ? scroller().scrollTop + top.getBoundingClientRect().top + past : 0;
      at = scroller().scrollTop;
    };
    const watch = new ResizeObserver(go);
    // who is led to a heading among answers that wait for guesses is shown them
    const reveal = () => {
      const down = named()?.closest(".vp-until ~ *") && document.querySelector(DOWN);
      if (down) { waits.disconnect(); down.click(); }
    };
    const waits = new MutationObserver(reveal);
    // a bar that is drawn, a word that is looked for and a screen reader scroll without a key or a pointer
    // and so does a page that becomes shorter than it was seen: nobody has scrolled then
    const elsewhere = () => {
      const { scrollTop, scrollHeight, clientHeight } = scroller();
      if (Math.abs(scrollTop - Math.min(at, scrollHeight - clientHeight)) > 1) stop();
    };
    const stop = () => {
      watch.disconnect();
      waits.disconnect();
      document.documentElement.style.overflowAnchor = "";
      clearTimeout(late);
      removeEventListener("scroll", elsewhere, true);
      for (const kind of ["wheel", "keydown", "pointerdown", "touchstart"]) removeEventListener(kind, stop, true);
      following = null;
    };
    let late;
    const wait = () => { late = setTimeout(() => (document.documentElement.dataset.whole ? stop() : wait()), FOLLOW_MS); };
    wait();
    for (const kind of ["wheel", "keydown", "pointerdown", "touchstart"]) addEventListener(kind, stop, true);
    addEventListener("scroll", elsewhere, true);
    const page = document.querySelector(".vp-page") || document.body;
    // a browser that holds still what is in sight scrolls as well
    document.documentElement.style.overflowAnchor = "none";
    watch.observe(page);
    if (hash) waits.observe(page, { childList: true, subtree: true });
    following = { stop };
    reveal();
    go();
  };

  // how wide a page is, so that its charts are drawn once; the server is told with the next page that it is asked for
  const wide = () => {
    // as it says that it has arrived, the line is not in the page yet, which is then as wide as what holds its parts
    const there = line.getBoundingClientRect().width ? line : document.getElementById("rendered_cells") || document.body;
    const { paddingLeft, paddingRight } = getComputedStyle(there);
    const now = Math.round(there.clientWidth - parseFloat(paddingLeft) - parseFloat(paddingRight));
    document.cookie = `vanpower_wide=${now}; path=/; SameSite=Strict`;
    return now;
  };
  const ask = (name, settings) => {
    turn += 1;
    following?.stop();
    document.documentElement.classList.add("vp-opening");
    state.textContent = "Opening …";
    model.send({ what: "open", name, settings, turn, wide: wide() });
  };
  const open = url => {
    keep(place());
    const name = nameIn(url);
    history.pushState({}, "", url.href);
    if (name === shownName) follow(url.hash);
    else ask(name, []);
  };
  // the button goes with its question: who pressed it goes on at what was found
  const answered = button => {
    const found = button.parentElement.nextElementSibling;
    const shown = new ResizeObserver(() => {
      if (!found.getClientRects().length) return;
      shown.disconnect();
      found.tabIndex = -1;
      found.focus({ preventScroll: true });
    });
    shown.observe(found);
  };
  const clicked = event => {
    const down = event.isTrusted && event.target.closest?.(DOWN);
    if (down) answered(down);
    const a = event.target.closest?.("a[href]");
    if (!a || a.target || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
    const url = new URL(a.href, location.href);
    if (url.origin !== location.origin || !nameIn(url).endsWith(".ipynb")) return;
    event.preventDefault();
    event.stopPropagation();
    open(url);
  };
  const returned = () => {
    const name = nameIn(new URL(location.href));
    if (name !== shownName) ask(name, history.state?.settings || []);
    else follow(location.hash, history.state || {});
  };

  const show = () => {
    const shown = model.get("shown");
    clearTimeout(laying);
    if (!shown.name || shown.turn < turn) return;
    // the words that came first stay until those of the page are there, for three seconds at most
    if (!laid() && looked < LAY_TIMES) { looked += 1; laying = setTimeout(show, LAY_MS); return; }
    looked = 0;
    if (shown.name !== shownName) follow(location.hash, history.state || {});
    shownName = shown.name;
    document.title = shown.title;
    lab.href = addressOf(shown.name).replace(RENDER, "/doc/tree/");
    document.documentElement.classList.remove("vp-opening");
    state.textContent = "";
    document.documentElement.dataset.whole = shown.whole ? `${shown.turn} ${shown.name}` : "";
    document.getElementById("loading")?.remove();
  };
  const remember = () => {
    const settings = model.get("settings");
    if (settings.name === nameIn(new URL(location.href))) keep({ settings: settings.values });
  };

  // a kernel that has ended is said, and a tap brings another one; a server that does not answer is said until it does,
  // and a tap looks again: a page that is left for a server that refuses it does not come back
  const cover = document.createElement("button");
  cover.className = "vp-cover";
  cover.onclick = () => (cover.textContent === SLEPT ? location.reload() : look());
  const say = words => {
    cover.textContent = words;
    if (!words) cover.remove(); else if (!cover.isConnected) { document.body.append(cover); cover.focus(); }
  };
  const SLEPT = "This page went to sleep. Tap to wake it; your settings are kept.";
  const AWAY = "The program that serves this page does not answer. Start it again, or wait: this goes away by itself.";
  const OVER = "The program that served this page was started anew. Open the page from the address that it gave.";
  const SAID = { 401: OVER, 403: OVER, 404: SLEPT };
  let looking = false;
  const look = async () => {
    if (looking || document.visibilityState !== "visible") return;
    looking = true;
    const { baseUrl, kernelId } = config(), signal = AbortSignal.timeout(ANSWER_MS);
    try {
      const answer = await fetch(`${baseUrl}api/kernels/${kernelId}`, { cache: "no-store", signal });
      say(answer.ok ? "" : SAID[answer.status] || AWAY);
    } catch { say(AWAY); }
    looking = false;
  };
  const clock = setInterval(look, ASK_MS);
  let resting = 0;
  const scrolled = () => {
    clearTimeout(resting);
    resting = setTimeout(() => { if (!following) keep(place()); }, REST_MS);
  };

  // a page that is left takes its kernel with it; the one event comes when a tab is closed, others not on every system
  const gone = () => {
    const form = new FormData(), { baseUrl, kernelId } = config();
    form.append("_xsrf", document.cookie.match("\\b_xsrf=([^;]*)\\b")?.[1] || "");
    navigator.sendBeacon(`${baseUrl}voila/api/shutdown/${kernelId}`, form);
  };
  const woken = event => { if (event.persisted) location.reload(); };
  history.scrollRestoration = "manual";
  addEventListener("click", clicked, true);
  addEventListener("popstate", returned);
  addEventListener("pageshow", woken);
  addEventListener("pagehide", gone);
  addEventListener("online", look);
  addEventListener("scroll", scrolled, true);
  document.addEventListener("visibilitychange", look);
  model.on("change:shown", show);
  model.on("change:settings", remember);
  const here = new URL(location.href);
  if (here.searchParams.has("token")) {
    here.searchParams.delete("token");
    history.replaceState(history.state, "", here.href);
  }
  model.send({ what: "arrived", name: nameIn(here), settings: history.state?.settings || [], turn, wide: wide() });
  show();
  return () => {
    clearInterval(clock);
    clearTimeout(laying);
    removeEventListener("click", clicked, true);
    removeEventListener("popstate", returned);
    removeEventListener("pageshow", woken);
    removeEventListener("pagehide", gone);
    removeEventListener("online", look);
    removeEventListener("scroll", scrolled, true);
    document.removeEventListener("visibilitychange", look);
  };
}

export default { render };
