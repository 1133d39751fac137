"use strict";
const live = document.getElementById("live"), texts = live.dataset;
const net = document.getElementById("net"), waiting = document.getElementById("waiting");
const KEY = "hayweather-waiting";
document.documentElement.classList.add("scripted");

// What was typed waits here until the server has said that it has it.
let inMemory = [], unkept = false;
const kept = () => {
  try { return JSON.parse(localStorage.getItem(KEY) || "[]"); } catch { return inMemory; }
};
const keep = items => {
  inMemory = items;
  try { localStorage.setItem(KEY, JSON.stringify(items)); unkept = false; } catch { unkept = true; }
  list();
};
const change = (id, values) =>
  keep(kept().map(item => item.id === id ? Object.assign(item, values) : item));
const newId = () => {
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = b[6] & 15 | 64;
  b[8] = b[8] & 63 | 128;
  const h = [...b].map(n => n.toString(16).padStart(2, "0")).join("");
  return [h.slice(0, 8), h.slice(8, 12), h.slice(12, 16), h.slice(16, 20), h.slice(20)].join("-");
};

let online = true, shut = false;
const list = () => {
  const items = kept();
  const waits = items.filter(item => !item.refused).length;
  net.textContent = [
    online ? "" : texts.offline,
    shut ? texts.closed : "",
    waits ? (online && !shut ? texts.sending : texts.waits) + " " + waits : "",
    unkept ? texts.unkept : "",
  ].filter(Boolean).join(" ");
  waiting.replaceChildren(...items.map(item => {
    const line = document.createElement("li"), v = item.values;
    const told = [v.field, v.moisture || v.event || "", v.note || ""].filter(Boolean).join(", ");
    line.append(item.refused ? `${told}: ${texts.refused} ${item.refused} ` : told);
    const button = (text, act) => {
      const made = document.createElement("button");
      made.textContent = text;
      made.addEventListener("click", act);
      line.append(" ", made);
    };
    if (item.refused) {
      if (item.ask === "sure") button(texts.sure, () => {
        change(item.id, {refused: "", ask: "", values: Object.assign({}, v, {sure: "yes"})});
        send();
      });
      button(texts.discard, () => keep(kept().filter(other => other.id !== item.id)));
    }
    return line;
  }));
};

let sending = false;
const send = async () => {
  if (sending) return;
  sending = true;
  try {
    for (const item of kept().filter(one => !one.refused)) {
      const age = Math.max(0, Math.round((Date.now() - item.made) / 1000));
      const body = new URLSearchParams(Object.assign({}, item.values, {id: item.id, age}));
      let answer, said = {};
      try {
        answer = await fetch("entry", {method: "POST", body, headers: {Accept: "application/json"}});
        said = await answer.json();
      } catch {
        if (!answer) { online = false; break; }
      }
      online = true;
      shut = answer.status === 403;
      if (answer.ok && said.ok) keep(kept().filter(other => other.id !== item.id));
      else if (answer.status === 400 || answer.status === 409)
        change(item.id, {refused: said.said || String(answer.status), ask: said.ask || ""});
      else break;
    }
  } finally {
    sending = false;
    list();
  }
};

for (const form of document.querySelectorAll("#forms form")) {
  form.addEventListener("submit", event => {
    event.preventDefault();
    const values = Object.fromEntries(new FormData(form));
    keep([...kept(), {id: newId(), made: Date.now(), values}]);
    const field = values.field;
    form.reset();
    for (const select of document.querySelectorAll("select[name=field]")) select.value = field;
    form.classList.remove("open");
    scrollTo({top: 0});
    send();
  });
}
for (const opener of document.querySelectorAll("#open a")) {
  opener.addEventListener("click", event => {
    event.preventDefault();
    const wanted = document.querySelector(opener.getAttribute("href"));
    const opens = !wanted.classList.contains("open");
    for (const form of document.querySelectorAll("#forms form")) form.classList.remove("open");
    wanted.classList.toggle("open", opens);
    if (opens) {
      wanted.scrollIntoView();
      wanted.querySelector("input:not([type=hidden]), textarea").focus();
    }
  });
}

// A new version: what the page says is exchanged in place; what is being typed stays.
let shown = Number(texts.version), looking = false, missed = false;
const look = async () => {
  if (looking) { missed = true; return; }
  looking = true;
  try {
    const answer = await fetch(location.pathname, {cache: "no-store"});
    shut = answer.status === 403;
    if (!answer.ok) return;
    online = true;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = page.getElementById("live");
    if (!fresh) return;
    shown = Number(fresh.dataset.version);
    const open = [...document.querySelectorAll("#page details")].map(each => each.open);
    for (const id of ["page", "told"])
      document.getElementById(id).replaceWith(document.adoptNode(page.getElementById(id)));
    document.querySelectorAll("#page details").forEach((each, n) => { each.open = open[n] ?? each.open; });
    document.documentElement.classList.toggle("night", page.documentElement.classList.contains("night"));
    texts.version = shown;
    const typing = document.querySelector("#forms form.open");
    if (document.querySelector("#page script") && !typing) location.reload();
  } catch {
    online = false;
  } finally {
    looking = false;
    list();
    if (missed) { missed = false; look(); }
  }
};

let news = null, poll = null;
const listen = () => {
  if (!("EventSource" in window)) { poll = poll || setInterval(look, 30000); return; }
  news = new EventSource("events");
  news.addEventListener("version", event => {
    online = true;
    clearInterval(poll);
    poll = null;
    if (Number(event.data) !== shown) look();
    send();
    list();
  });
  news.onerror = () => {
    online = navigator.onLine && news.readyState !== EventSource.CONNECTING;
    list();
    poll = poll || setInterval(look, 30000);
    if (news.readyState === EventSource.CLOSED) setTimeout(listen, 10000);
  };
};
addEventListener("online", () => { look(); send(); });
addEventListener("offline", () => { online = false; list(); });
document.addEventListener("visibilitychange", () => { if (!document.hidden) { look(); send(); } });
setInterval(() => { if (kept().some(item => !item.refused)) send(); }, 5000);
if (isSecureContext && "serviceWorker" in navigator)
  navigator.serviceWorker.register("worker.js").catch(() => {});
list();
send();
listen();
