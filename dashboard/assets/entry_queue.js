/* Entries wait here until the server has them: kept by the browser (IndexedDB), sent by themselves
   while any page is open, each under an id of its own so that it counts once however often it is
   sent. `window.orchardQueue` is what the page of the log talks to. */
(function () {
  const AGAIN_MS = 10000;
  const PATIENCE_MS = 20000;
  const STORE = "entries";
  const hearers = new Set();
  const flying = new Set();
  let opened = null;
  let busy = false;

  /** The path that the app lives under, as the server wrote it into the page. */
  function prefix() {
    const config = document.getElementById("_dash-config");
    return config ? JSON.parse(config.textContent).requests_pathname_prefix || "/" : "/";
  }

  function database() {
    opened =
      opened ||
      new Promise((resolve, reject) => {
        const asked = indexedDB.open("orchard-log:" + prefix(), 1);
        asked.onupgradeneeded = () => asked.result.createObjectStore(STORE, { keyPath: "id" });
        asked.onsuccess = () => resolve(asked.result);
        asked.onerror = () => reject(asked.error);
      });
    return opened;
  }

  async function inStore(mode, act) {
    const held = (await database()).transaction(STORE, mode);
    const asked = act(held.objectStore(STORE));
    return new Promise((resolve, reject) => {
      held.oncomplete = () => resolve(asked.result);
      held.onerror = held.onabort = () => reject(held.error);
    });
  }

  async function list() {
    const all = await inStore("readonly", (store) => store.getAll());
    return all.sort((one, other) => one.order - other.order);
  }

  async function tell(news) {
    const all = await list().catch(() => []);
    const root = document.documentElement;
    root.style.setProperty("--waiting", all.length ? `" (${all.length})"` : '""');
    hearers.forEach((hear) => hear(all, news));
  }

  const put = async (item) => inStore("readwrite", (store) => store.put(item));
  /** Change an entry that still waits; one that was thrown away meanwhile stays away. */
  const change = async (id, changes) =>
    inStore("readwrite", (store) => {
      const asked = store.get(id);
      asked.onsuccess = () => asked.result && store.put({ ...asked.result, ...changes });
      return asked;
    });
  const forget = async (id) => inStore("readwrite", (store) => store.delete(id));

  /** Post something to the server: its answer, or null where there is none to be had. */
  async function post(path, body) {
    const patience = new AbortController();
    const timer = setTimeout(() => patience.abort(), PATIENCE_MS);
    try {
      const answer = await fetch(prefix() + path, {
        method: "POST",
        credentials: "same-origin",
        headers: { "Content-Type": "application/json", Accept: "application/json" },
        body: JSON.stringify(body),
        signal: patience.signal,
      });
      const read = (answer.headers.get("Content-Type") || "").includes("json");
      const said = read ? await answer.json() : {};
      if (said && said.status) return said;
      const out = answer.redirected || answer.status === 401 || answer.status === 403;
      return { status: out ? "signed out" : "no answer" };
    } catch {
      return { status: "no answer" };
    } finally {
      clearTimeout(timer);
    }
  }

  const asText = (photo) =>
    new Promise((resolve, reject) => {
      const reader = new FileReader();
      reader.onload = () => resolve(String(reader.result).replace(/^[^,]*,/, ""));
      reader.onerror = () => reject(reader.error);
      reader.readAsDataURL(photo);
    });

  /** Send one entry; what the server said of it. It leaves the queue only when it is kept. */
  async function send(item) {
    flying.add(item.id);
    try {
      const entry = { ...item.entry, id: item.id };
      if (item.photo) entry.photo = { name: item.photoName, data: await asText(item.photo) };
      const said = await post("entries", entry);
      if (said.status === "kept") await forget(item.id).catch(() => {});
      else {
        const state = said.status === "no answer" ? "waiting" : said.status;
        await change(item.id, { state, said }).catch(() => {});
      }
      return said;
    } finally {
      flying.delete(item.id);
    }
  }

  /** Send all that waits, one after the other, until the server does not answer. */
  async function sendAll() {
    if (busy) return;
    busy = true;
    try {
      for (const item of await list()) {
        if (!waits(item.state) || flying.has(item.id)) continue;
        const said = await send(item);
        await tell({ item, said });
        if (said.status === "no answer" || said.status === "signed out") break;
      }
    } catch {
      /* a browser that keeps nothing has nothing to send */
    } finally {
      busy = false;
    }
  }

  /** Whether an entry is sent by itself later: nothing is wrong with it. */
  const waits = (state) => ["waiting", "no answer", "signed out", "another person"].includes(state);

  /** An id that no other device gives. */
  function newId() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  window.orchardQueue = {
    prefix, post, list, put, forget, send, sendAll, waits, newId, tell,
    hear: (hear) => hearers.add(hear),
  };

  addEventListener("online", sendAll);
  document.addEventListener("visibilitychange", () => document.hidden || sendAll());
  addEventListener("load", () => tell().then(sendAll));
  setInterval(async () => {
    if ((await list().catch(() => [])).length) sendAll();
  }, AGAIN_MS);
})();
